"""Where a finding belongs in the survey: the questions that it is about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from slackwater.finding import Finding
from slackwater.job.form import group_at, question_at
from slackwater.job.positions import Path
from slackwater.job.text import value_at

_ABOUT: Mapping[str, str] = {
    "job.animals_ill": "animals_ill",
    "job.seam_damage": "tank.seam_damage",
    "job.seams_not_looked_at": "tank.seam_damage",
    "job.care_setting": "site.care_setting",
    "job.drain_not_permitted": "site.drain.permitted",
    "job.drain_unknown": "site.drain.permitted",
    "job.circuits_unknown": "site.circuits",
    "job.client_not_informed": "client_informed",
    "job.acrylic": "tank.material",
    "job.offer_expired": "price.offer_valid_days",
    "job.no_animals": "livestock",
    "job.no_plants": "plants",
    "job.no_hardscape": "stones",
    "job.test_undated": "water.{about}.date",
    "job.test_after_day": "water.{about}.date",
    "job.test_old": "water.{about}.date",
    "job.test_other_season": "water.{about}.date",
}
"""Findings about one key; `about` is the water."""

_IN_CARDS: Mapping[str, tuple[tuple[str, str, str], ...]] = {
    "job.species_unknown": (("livestock", "species", "species"),),
    "job.uncounted": (("livestock", "species", "count"),),
    "job.wide_count": (("livestock", "species", "count"),),
    "job.plant_unknown": (("plants", "plant", "plant"),),
    "job.container_unknown": (("containers", "container", "container"),),
    "tank.material_unknown": (("stones", "material", "material"), ("wood", "material", "material")),
}
"""Findings about a card of a list, named by one of its entries: the list, that entry, and the question meant."""


def places_of(finding: Finding, plain: Any) -> tuple[Path, ...]:
    """Paths of the questions, cards or lists that a finding is about; empty where it is about none of them.

    Parameters
    ----------
    finding : Finding
        Of the screening, or of a fact that is missing.
    plain : mapping
        The job text as it was read, cards that cannot be used included.
    """
    if finding.id == "job.fact_missing":
        keys = str(finding.values["fields"]).split(", ")
        return tuple(path for key in keys for path in _places_of_key(key, plain))
    if finding.id == "job.window_backwards":
        return (("site", "windows", int(finding.about) - 1, "end"),)
    if finding.id in _IN_CARDS:
        return tuple(
            (name, number, asked)
            for name, called, asked in _IN_CARDS[finding.id]
            for number in _cards(plain, name, called, finding.about)
        )
    key = _ABOUT.get(finding.id)
    return () if key is None else (tuple(key.format(about=finding.about).split(".")),)


def _cards(plain: Any, name: str, key: str, value: str) -> list[int]:
    cards = value_at(plain, (name,))
    if not isinstance(cards, list):
        return []
    return [number for number, card in enumerate(cards) if isinstance(card, dict) and card.get(key) == value]


def _places_of_key(key: str, plain: Any) -> tuple[Path, ...]:
    """Where a key of a missing fact is asked for; a card is named there by its person or species."""
    path: Path = tuple(key.split("."))
    if question_at(path) is not None and not _through_cards(path):
        return (path,)
    if group_at(path) is not None:
        return (path,)
    for name, called in (("people", "id"), ("livestock", "species")):
        if path[0] == name and len(path) == 3:
            return tuple((name, number, path[2]) for number in _cards(plain, name, called, str(path[1])))
    if key == "filters.media":
        cards = value_at(plain, ("filters",)) or []
        return tuple(("filters", number, "media") for number, card in enumerate(cards) if not card.get("media"))
    return ()


def _through_cards(path: Path) -> bool:
    return any((group := group_at(path[:length])) is not None and group.cards for length in range(1, len(path)))
