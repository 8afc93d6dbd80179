"""Names of time zones: which are known, and which are meant by a country, a town or a saying."""

from __future__ import annotations

import difflib
import unicodedata
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

_IN_ZONE: Mapping[str, str] = {
    "Europe/Berlin": (
        "deutschland, hamburg, munich, muenchen, munchen, cologne, koeln, koln, frankfurt, stuttgart, dusseldorf, "
        "duesseldorf, leipzig, dresden, bremen, hanover, hannover, nuremberg, nurnberg, nuernberg, essen, dortmund"
    ),
    "Europe/Vienna": "osterreich, oesterreich, wien, graz, linz, salzburg, innsbruck",
    "Europe/Zurich": "schweiz, suisse, svizzera, geneva, geneve, genf, basel, bern, lausanne, winterthur",
    "Europe/Amsterdam": "nederland, rotterdam, the hague, den haag, utrecht, eindhoven, groningen",
    "Europe/Brussels": "belgie, belgique, antwerp, antwerpen, ghent, gent, liege, bruges, bruxelles",
    "Europe/Paris": "lyon, marseille, toulouse, nice, nantes, strasbourg, bordeaux, lille, rennes",
    "Europe/London": (
        "manchester, birmingham, liverpool, leeds, sheffield, bristol, newcastle, nottingham, glasgow, edinburgh, "
        "cardiff, belfast, great britain, northern ireland"
    ),
    "Europe/Dublin": "cork, galway, limerick",
    "Europe/Copenhagen": "danmark, aarhus, odense, aalborg",
    "Europe/Stockholm": "sverige, gothenburg, goteborg, malmo, uppsala",
    "Europe/Oslo": "norge, bergen, trondheim, stavanger",
    "Europe/Helsinki": "suomi, tampere, turku, espoo, oulu",
    "Europe/Warsaw": "polska, krakow, cracow, gdansk, wroclaw, poznan, lodz, katowice",
    "Europe/Prague": "cesko, czechia, praha, brno, ostrava",
    "Europe/Madrid": "espana, barcelona, valencia, seville, sevilla, malaga, bilbao, zaragoza",
    "Europe/Lisbon": "porto, lisboa, braga, faro",
    "Europe/Rome": "italia, milan, milano, naples, napoli, turin, torino, florence, firenze, venice, bologna, genoa, roma",
    "Europe/Athens": "thessaloniki, patras",
    "America/New_York": (
        "boston, philadelphia, washington, baltimore, atlanta, miami, orlando, tampa, charlotte, pittsburgh, cleveland, "
        "columbus, cincinnati, buffalo, raleigh"
    ),
    "America/Chicago": (
        "houston, dallas, austin, san antonio, new orleans, minneapolis, milwaukee, st louis, kansas city, memphis, nashville"
    ),
    "America/Denver": "salt lake city, albuquerque, colorado springs",
    "America/Los_Angeles": "san francisco, san diego, seattle, portland, sacramento, las vegas, san jose, oakland",
    "America/Toronto": "ottawa, montreal, quebec",
    "America/Edmonton": "calgary",
    "Asia/Kolkata": "mumbai, delhi, new delhi, bangalore, bengaluru, chennai, hyderabad",
    "Asia/Shanghai": "beijing, shenzhen, guangzhou",
    "Asia/Tokyo": "osaka, kyoto, yokohama, nagoya, sapporo",
    "Australia/Sydney": "canberra",
}
"""Large towns, and countries in their own language, that are in no table; from memory."""


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


def _plain(name: str) -> str:
    """A name as names are compared: small letters, no accents, single spaces."""
    letters = unicodedata.normalize("NFKD", name.replace("_", " ").lower())
    return " ".join("".join(sign for sign in letters if not unicodedata.combining(sign)).split())


@cache
def _zone_of_town() -> Mapping[str, str]:
    return {town: zone for zone, towns in _IN_ZONE.items() for town in towns.split(", ")}


def near_zones(name: str) -> tuple[str, ...]:
    """Up to three zones that a country, a town, a saying or a misspelled name may mean.

    Examples
    --------
    >>> near_zones("Hamburg"), near_zones("germany"), near_zones("europe/berlin")
    (('Europe/Berlin',), ('Europe/Berlin', 'Europe/Busingen'), ('Europe/Berlin',))
    """
    said = _plain(name.replace("/", " "))
    if not said:
        return ()
    spelled = {zone.replace("_", " ").replace("/", " ").lower(): zone for zone in sorted(zone_names())}
    exact = spelled.get(said)
    if exact is not None:
        return (exact,)
    found = [
        *_SAID.get(said, ()),
        *([_zone_of_town()[said]] if said in _zone_of_town() else []),
        *(zone for country, zone in _countries() if country == said),
        *(zone for _, zone in _countries() if zone.rpartition("/")[2].replace("_", " ").lower() == said),
    ]
    if not found and "," in name:
        # "Hamburg, Germany": the nearer place first.
        found = [zone for part in name.split(",") for zone in near_zones(part)]
    if not found:
        towns = {**_zone_of_town()} | {
            zone.rpartition("/")[2].replace("_", " ").lower(): zone for _, zone in _countries()
        }
        close = difflib.get_close_matches(said, spelled, n=3, cutoff=0.75)
        found = [spelled[text] for text in close]
        found += [towns[text] for text in difflib.get_close_matches(said, towns, n=3, cutoff=0.75)]
        found += [zone for country, zone in _countries() if said in country or country in said]
    return tuple(dict.fromkeys(found))[:3]


def country_of(zone: str) -> str | None:
    """The country of a time zone (ISO 3166-1), None for a zone of none or of an old name.

    Examples
    --------
    >>> country_of("Europe/Vienna"), country_of("UTC")
    ('AT', None)

    References
    ----------
    The table zone.tab of the IANA time zone database.
    """
    table = files("tzdata").joinpath("zoneinfo", "zone.tab").read_text(encoding="utf-8")
    return next((row[0] for row in _rows(table) if row[2] == zone), None)
