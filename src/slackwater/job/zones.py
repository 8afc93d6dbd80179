"""Names of time zones: which are known, and which are meant by a country, a town or a saying."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

_SAID: Mapping[str, tuple[str, ...]] = {
    "middle europe": ("Europe/Berlin", "Europe/Vienna", "Europe/Zurich"),
    "central europe": ("Europe/Berlin", "Europe/Vienna", "Europe/Zurich"),
    "central european time": ("Europe/Berlin", "Europe/Vienna", "Europe/Zurich"),
    "mez": ("Europe/Berlin", "Europe/Vienna", "Europe/Zurich"),
    "uk": ("Europe/London",),
    "england": ("Europe/London",),
    "scotland": ("Europe/London",),
    "wales": ("Europe/London",),
    "usa": ("America/New_York", "America/Chicago", "America/Los_Angeles"),
    "eastern time": ("America/New_York", "America/Toronto"),
    "central time": ("America/Chicago", "America/Winnipeg"),
    "mountain time": ("America/Denver", "America/Phoenix"),
    "pacific time": ("America/Los_Angeles", "America/Vancouver"),
    "holland": ("Europe/Amsterdam",),
}
"""What people say for a zone and no table holds; from memory."""


@cache
def zone_names() -> frozenset[str]:
    """Every name of the time zone database that comes with the program."""
    return frozenset(files("tzdata").joinpath("zones").read_text(encoding="ascii").split())


@cache
def _countries() -> tuple[tuple[str, str], ...]:
    """Country, in small letters, and each of its zones, the most used one first, as the database lists them.

    References
    ----------
    The tables iso3166.tab and zone.tab of the IANA time zone database.
    """
    table = files("tzdata").joinpath("zoneinfo")
    names = dict(row[:2] for row in _rows(table.joinpath("iso3166.tab").read_text(encoding="utf-8")))
    zones = _rows(table.joinpath("zone.tab").read_text(encoding="utf-8"))
    return tuple((names.get(row[0], row[0]).lower(), row[2]) for row in zones)


def _rows(text: str) -> list[list[str]]:
    return [line.split("\t") for line in text.splitlines() if line and not line.startswith("#")]


@cache
def places() -> tuple[tuple[str, str], ...]:
    """Zones to choose from, by name, each with its country."""
    return tuple(sorted((zone, country.title()) for country, zone in _countries()))


def near_zones(name: str) -> tuple[str, ...]:
    """Up to three zones that a country, a town, a saying or a misspelled name may mean.

    Examples
    --------
    >>> near_zones("Berlin"), near_zones("germany"), near_zones("europe/berlin")
    (('Europe/Berlin',), ('Europe/Berlin', 'Europe/Busingen'), ('Europe/Berlin',))
    """
    said = " ".join(name.replace("_", " ").replace("/", " ").lower().split())
    if not said:
        return ()
    spelled = {zone.replace("_", " ").replace("/", " ").lower(): zone for zone in sorted(zone_names())}
    exact = spelled.get(said)
    if exact is not None:
        return (exact,)
    found = [
        *_SAID.get(said, ()),
        *(zone for country, zone in _countries() if country == said),
        *(zone for _, zone in _countries() if zone.rpartition("/")[2].replace("_", " ").lower() == said),
    ]
    if not found:
        towns = {zone.rpartition("/")[2].replace("_", " ").lower(): zone for _, zone in _countries()}
        close = difflib.get_close_matches(said, spelled, n=3, cutoff=0.75)
        found = [spelled[text] for text in close]
        found += [towns[text] for text in difflib.get_close_matches(said, towns, n=3, cutoff=0.75)]
        found += [zone for country, zone in _countries() if said in country or country in said]
    return tuple(dict.fromkeys(found))[:3]
