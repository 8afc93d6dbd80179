"""The van card: what is loaded in which order, what it weighs, and what the van may carry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from slackwater.day.when import clock_time
from slackwater.job.model import Job
from slackwater.paper.amounts import amount_of
from slackwater.plan import Plan
from slackwater.reader import Reader
from slackwater.supply.result import PackItem, Supply
from slackwater.units import show
from slackwater.wording.render import named, say, say_count, sentence_list

NEEDED: Sequence[tuple[str, tuple[str, ...]]] = (
    ("arrive", ("access", "site", "electric", "record")),
    ("water_out", ("boxes and barrels", "water")),
    ("catch", ("livestock", "measure")),
    ("filter", ("filter",)),
    ("clean", ("cleaning", "biosecurity")),
    ("build", ("soil", "stones", "wood", "hardscape")),
    ("plant", ("plants", "planting")),
    ("fill", ("co2",)),
)
"""Phases of the day in their order, with the groups of the packing list that each needs first: hoses and pumps empty the
tank in the morning, long before they fill it."""
STAYS = frozenset({"soil", "stones", "wood", "plants", "water"})
"""Groups that are used up at the client's, apart from their tools."""
HEAVY_KG = 5.0
"""From here on a thing is named on the card; what is lighter stands on the packing list. Common practice, no source."""


def loading_steps(items: Sequence[PackItem]) -> list[tuple[str, tuple[PackItem, ...]]]:
    """Everything that is packed, in the order of loading: what is needed first is loaded last.

    Returns
    -------
    list of (str, tuple of PackItem)
        Phase that needs it first, and its things, the heaviest first. A group that no phase names is needed on arrival, so
        nothing is left behind.
    """
    phase_of = {category: phase for phase, categories in NEEDED for category in categories}
    found: dict[str, list[PackItem]] = {phase: [] for phase, _ in reversed(NEEDED)}
    for item in items:
        found[phase_of.get(item.category, NEEDED[0][0])].append(item)
    return [
        (phase, tuple(sorted(group, key=lambda item: -(item.mass_kg or 0.0))))
        for phase, group in found.items()
        if group
    ]


def way_home_kg(supply: Supply) -> float:
    """What the van carries home: what was packed, less what stays, and the waste [kg]."""
    stays = sum(item.mass_kg or 0.0 for item in supply.packing if _stays(item))
    return supply.packed_mass_kg - stays + supply.waste_mass_kg


def _stays(item: PackItem) -> bool:
    return (item.category in STAYS and item.unit != "piece") or item.category in ("stones", "wood")


def van_data(plan: Plan, job: Job, reader: Reader) -> dict[str, Any] | None:
    """Everything the van card reads; None without a packing list."""
    supply = plan.supply
    if supply is None:
        return None
    times = _times(plan)
    steps = []
    for number, (phase, items) in enumerate(loading_steps(supply.packing), start=1):
        heavy = [item for item in items if (item.mass_kg or 0.0) >= HEAVY_KG]
        light = [item for item in items if item not in heavy]
        mass = sum(item.mass_kg or 0.0 for item in items)
        steps.append(
            {
                "number": str(number),
                "phase": say(f"sheet.phase.{phase}", {}, reader),
                "time": times.get(phase, ""),
                "groups": ", ".join(named(name, reader) for name in dict.fromkeys(item.category for item in items)),
                "heavy": [_heavy(item, reader) for item in heavy],
                "light": ""
                if not light
                else say(
                    "van.light_too" if heavy else "van.light",
                    {
                        "things": say_count("thing", len(light), reader),
                        "mass": show(sum(item.mass_kg or 0.0 for item in light), "kg", reader),
                    },
                    reader,
                ),
                "mass": show(mass, "kg", reader),
            }
        )
    return {
        "steps": steps,
        **_sums(supply, job, reader),
        "cautions": sentence_list("van.cautions", reader),
    }


def _heavy(item: PackItem, reader: Reader) -> dict[str, str]:
    return {
        "what": packed_name(item, reader),
        "quantity": amount_of(item.quantity, item.unit, reader),
        "mass": show(item.mass_kg or 0.0, "kg", reader),
    }


def packed_name(item: PackItem, reader: Reader) -> str:
    """What a packed thing is called; a container has its size in brackets behind its name."""
    name, bracket, size = item.item.partition(" (")
    return (
        f"{named(name, reader)}{bracket}{size}" if named(item.item, reader) == item.item else named(item.item, reader)
    )


def _times(plan: Plan) -> Mapping[str, str]:
    """When each phase begins on the planned day."""
    if plan.day is None:
        return {}
    first, found = plan.day.opens.date(), dict[str, str]()
    for entry in sorted(plan.day.entries, key=lambda entry: entry.start_min):
        found.setdefault(entry.phase.replace(" ", "_"), clock_time(entry.start, first))
    return found


def _sums(supply: Supply, job: Job, reader: Reader) -> dict[str, Any]:
    """What the van carries out and home against what it may, and what nobody has told."""
    payload, crew = job.van.payload_kg, job.van.crew_mass_kg
    home = way_home_kg(supply)
    unknown = sum(1 for item in supply.packing if item.mass_kg is None)
    rows = [
        [
            say("van.load", {}, reader),
            show(supply.packed_mass_kg, "kg", reader),
            show(home, "kg", reader),
        ],
        [
            say("van.crew", {}, reader),
            *([say("van.not_told", {}, reader) if crew is None else show(crew, "kg", reader)] * 2),
        ],
        [
            say("van.payload", {}, reader),
            *([say("van.not_told", {}, reader) if payload is None else show(payload, "kg", reader)] * 2),
        ],
    ]
    missing = [
        say(f"van.lacks_{name}", {}, reader) for name, fact in (("payload", payload), ("crew", crew)) if fact is None
    ]
    if unknown:
        missing.append(say("van.lacks_mass", {"things": say_count("thing", unknown, reader)}, reader))
    missing.append(say("van.lacks_axles", {}, reader))
    over = False
    if payload is not None:
        left = [payload - (crew or 0.0) - load for load in (supply.packed_mass_kg, home)]
        over = min(left) < 0
        rows.append([say("van.left", {}, reader), *(_left(room, reader) for room in left)])
    return {
        "sums": rows,
        "waste": say("van.home", {"waste_kg": supply.waste_mass_kg}, reader),
        "over": say("van.over", {}, reader) if over else "",
        "missing": missing,
    }


def _left(room_kg: float, reader: Reader) -> str:
    told = show(abs(room_kg), "kg", reader)
    return told if room_kg >= 0 else say("van.too_much", {"mass": told}, reader)
