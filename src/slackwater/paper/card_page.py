"""Cards for barrels and boxes: read at arm's length, written on with a waterproof pen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from slackwater.day.when import clock_time
from slackwater.job.catalog import Catalog
from slackwater.job.model import Animals, Job
from slackwater.living.holding import Limits
from slackwater.living.result import BoxHours
from slackwater.paper.living_page import box_latest, change_times, duration, planned_at_most
from slackwater.plan import Plan
from slackwater.reader import Reader
from slackwater.units import show
from slackwater.water.result import BarrelCard, BoxUse, WaterBudget
from slackwater.wording.render import named, say


def card_data(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> list[dict[str, Any]]:
    """Everything the cards read: barrels in the order of the water page, then boxes; none without a water budget."""
    water = plan.water
    if water is None:
        return []
    hours = {} if plan.living is None else {box.label: box for box in plan.living.boxes}
    return [
        *(_barrel(card, water, catalog, reader) for card in water.cards),
        *(_box(box, hours.get(box.label), plan, job, catalog, reader) for box in water.boxes),
    ]


def _barrel(card: BarrelCard, water: WaterBudget, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    target = next((item.value for item in card.expected if item.what == "temp_c"), None)
    if target is None and card.holds == "old":
        target = water.old_water.temp_c
    return {
        "id": f"{card.holds}-{card.number}",
        "kind": say(f"card.barrel_{card.holds}", {}, reader),
        "tag": say(f"card.tag_{card.holds}", {}, reader),
        "mark": str(card.number),
        "litres": show(card.litres, "L", reader),
        "container": _container(card.container, catalog, reader),
        "who": [],
        "rows": [] if target is None else [[say("card.temp", {}, reader), show(target, "°C", reader)]],
        "notes": [say(f"card.note_{card.holds}", {}, reader)],
    }


def _box(box: BoxUse, hours: BoxHours | None, plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    drift = show(Limits.drift_k, "K", reader)
    rows = [] if plan.water is None else [
        [say("card.temp_kept", {"drift": drift}, reader), show(plan.water.old_water.temp_c, "°C", reader)]
    ]  # fmt: skip
    rows += [] if hours is None else _clocks(hours, plan, reader)
    return {
        "id": f"box-{box.label}",
        "kind": say("card.box_leaves" if box.leaves else "card.box", {}, reader),
        "tag": "",
        "mark": box.label,
        "litres": show(box.water_l, "L", reader),
        "container": _container(box.container, catalog, reader),
        "who": [
            {
                "name": catalog.species[name].common_name if name in catalog.species else name.replace("_", " "),
                "count": _count(name, count, job, reader),
            }
            for name, count in box.counts.items()
        ],
        "rows": rows,
        "notes": [
            *([say("card.note_wide", {}, reader)] if any(_wide(name, job) for name in box.counts) else []),
            say("card.note_box", {}, reader),
        ],
    }


def _wide(species: str, job: Job) -> Animals | None:
    """A kind of which nobody knows how many there are."""
    for animals in job.livestock or ():
        count = animals.count
        if animals.species == species and count.high is not None and count.low != count.high:
            return animals
    return None


def _count(species: str, planned: int, job: Job, reader: Reader) -> str:
    """How many a box is for: of a wide count the whole range, or the box's share of it where several boxes take it."""
    wide = _wide(species, job)
    if wide is None:
        return str(planned)
    if wide.count.low is None or wide.count.high is None or planned < wide.count.high:
        return say("card.up_to", {"count": str(planned)}, reader)
    return say("card.range", {"low": f"{wide.count.low:g}", "high": f"{wide.count.high:g}"}, reader)


def _clocks(hours: BoxHours, plan: Plan, reader: Reader) -> list[list[str]]:
    """Until when, by the clock of the planned day; without one, for how long."""
    day = plan.day
    latest = box_latest(hours, day)
    if day is None or latest is None:
        return [[say("card.holds", {}, reader), duration(planned_at_most(hours.hours.low), reader)]]
    first = day.opens.date()
    changes = [clock_time(moment, first) for moment in change_times(hours, day)]
    return [
        *([[say("card.change", {}, reader), ", ".join(changes)]] if changes else []),
        [say("card.out", {}, reader), clock_time(latest, first)],
    ]


def _container(container: str, catalog: Catalog, reader: Reader) -> str:
    found = catalog.containers[container]
    return f"{named(found.container, reader)} {show(found.nominal_l, 'L', reader)}"


def card_names(cards: Sequence[dict[str, Any]]) -> list[str]:
    """What each card is called in its code."""
    return [str(card["id"]) for card in cards]
