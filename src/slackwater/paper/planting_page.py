"""The planting on paper: the plan of zones for the wall, and for each bucket what is in it."""

from __future__ import annotations

from typing import Any

from slackwater.job.catalog import Catalog
from slackwater.layout.result import LayoutResult
from slackwater.paper.planting_figures import planting_drawing
from slackwater.planting.result import Placed, PlantingResult, Zone
from slackwater.reader import Reader
from slackwater.units import show
from slackwater.wording.render import named, say

COLUMNS = ("zone", "plant", "units", "portions", "spacing", "remark")


def place_told(zone: Zone, reader: Reader) -> str:
    """Where a zone lies, in words: its place, and the part of the tank or the side it belongs to."""
    told = [say(f"planting.place.{zone.place}", {}, reader)]
    if zone.part:
        told.append(say(f"planting.part.{zone.part}", {}, reader))
    if zone.face and zone.face != "front":
        told.append(say(f"planting.face.{zone.face}", {}, reader))
    return ", ".join(told)


def remark_told(placed: Placed, reader: Reader) -> str:
    """What is doubtful about a plant in its zone; the gravest of it. A neighbouring place is for who chooses, not for who plants."""
    grave = ("light_unsure", "hides", "soil_shallow", "grows_out", "bright", "co2_helps")
    found = sorted((one for one in placed.reasons if one.id in grave), key=lambda reason: grave.index(reason.id))
    return say(f"planting.remark.{found[0].id}", found[0].values, reader) if found else ""


def planting_columns(reader: Reader) -> tuple[str, ...]:
    """Heads of the table."""
    return tuple(say(f"sheet.planting.{name}", {}, reader) for name in COLUMNS)


def planting_rows(planting: PlantingResult, catalog: Catalog, reader: Reader) -> list[tuple[str, ...]]:
    """A row for each plant of each zone, in the order of planting."""
    return [
        (str(bucket.zone), *row[1:])
        for bucket in planting.buckets
        for row in _bucket_rows(bucket.contents, catalog, reader)
    ]


def _bucket_rows(contents: tuple[Placed, ...], catalog: Catalog, reader: Reader) -> list[tuple[str, ...]]:
    return [
        (
            "",
            f"{named(row.common_name, reader)} ({row.scientific_name})",
            f"{item.units} × {named(row.unit_sold, reader)}",
            str(item.portions),
            show(item.spacing_cm / 100, "m", reader) if item.spacing_cm else say("sheet.planting.loose", {}, reader),
            remark_told(item, reader),
        )
        for item in contents
        for row in (catalog.plants[item.plant],)
    ]


def planting_data(
    planting: PlantingResult | None, layout: LayoutResult | None, catalog: Catalog, reader: Reader
) -> dict[str, Any] | None:
    """What the planting sheet prints; None where nothing is planted."""
    if planting is None or not planting.placed:
        return None
    drawing = planting_drawing(planting, layout, reader)
    return {
        "told": say(f"sheet.planting.{planting.source}", {}, reader),
        "columns": list(planting_columns(reader)[1:]),
        "buckets": [
            {
                "zone": bucket.zone,
                "place": place_told(planting.zone(bucket.zone), reader),
                "portions": say("sheet.planting.together", {"portions": bucket.portions}, reader),
                "rows": [list(row[1:]) for row in _bucket_rows(bucket.contents, catalog, reader)],
            }
            for bucket in planting.buckets
        ],
        "drawing": {
            "file": drawing.file,
            "title": say("figure.planting_plan.title", {}, reader),
            "alt": say("figure.planting_plan.description", {}, reader),
            "width_mm": drawing.width_mm,
        },
    }
