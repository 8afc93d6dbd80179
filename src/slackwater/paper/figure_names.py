"""What a figure and what went into it are called where people read them, each with its unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from slackwater.figure import Figure
from slackwater.job.catalog import Catalog
from slackwater.paper.hour_list import clause
from slackwater.paper.water_page import salt_name
from slackwater.plan import Plan
from slackwater.reader import Reader
from slackwater.units import show
from slackwater.wording.render import say, sentence_list, sentences

SHARES = ("day.odds", "living.filter_surviving", "water.ro_short_probability", "water.spare_tap_share")
"""Figures that are a share of the whole, told in per cent."""
SUFFIXES: Mapping[str, str] = {
    "_l": "L", "_kg": "kg", "_m": "m", "_h": "h", "_min": "min", "_w": "W", "_m2": "m2", "_m3": "m3", "_c": "°C",
    "_mg_l": "mg/L", "_g": "g", "_mm": "mm", "_kn": "kN", "_dkh": "dKH", "_percent": "%", "_deg": "degrees",
    "_l_day": "L/day", "_w_per_k": "W/K",
}  # fmt: skip
"""How the name of an input tells its unit; where it does not, the unit stands beside its label."""
NEVER = frozenset({"seed"})
"""Inputs that are of use to a program only; they stay in the plan as data."""


@dataclass(frozen=True)
class Things:
    """What single figures of a group are about, by the rest of their id: work, clocks, barrels, ways of going on.

    Attributes
    ----------
    names : mapping of str to str
    options : mapping of str to str
        Ways of going on, which inputs name as well.
    """

    names: Mapping[str, str]
    options: Mapping[str, str]


def things_of(plan: Plan, catalog: Catalog, reader: Reader) -> Things:
    """All that figures of a plan name by an id, in words."""
    work = {name: clause(row.activity) for name, row in catalog.activities.items()}
    clocks: dict[str, str] = {}
    if plan.day is not None:
        work |= {entry.activity: clause(entry.label) for entry in plan.day.entries}
        clocks = {item.clock: item.what for item in plan.day.risk.as_planned.clocks}
    weeks = plan.living.weeks if plan.living is not None else None
    options = {item.id: say(f"option.{item.id}", item.values, reader) for item in (weeks.options if weeks else ())}
    barrels = {
        f"barrel:{name}": f"{row.container} {show(row.nominal_l, 'L', reader)}"
        for name, row in catalog.containers.items()
    }
    salts = {f"{name}_g": salt_name(name) for name in catalog.salts}
    return Things(names={**work, **barrels, **clocks, **options, **salts}, options=options)


def figure_name(figure_id: str, things: Things, reader: Reader) -> str | None:
    """What a figure is called; None where nothing is said of it.

    Parameters
    ----------
    figure_id : str
        Room, group and the rest, ``day.minutes.E22``: the longest part that has a sentence is taken, and the rest is
        what it is about.
    things : Things
    """
    known = sentences()
    parts = figure_id.split(".")
    for count in range(len(parts), 1, -1):
        key = "figure_name." + ".".join(parts[:count])
        if isinstance(known.get(key), str):
            rest = ".".join(parts[count:])
            return say(key, {"thing": _thing(rest, things, reader)}, reader) if rest else str(known[key])
    # Salts stand beside the litres, without a group of their own.
    rest = figure_id.partition(".")[2]
    return say("figure_name.weighed", {"thing": things.names[rest]}, reader) if rest in things.names else None


def _thing(rest: str, things: Things, reader: Reader) -> str:
    if (named := f"figure_thing.{rest}") in sentences():
        return say(named, {}, reader)
    # What is named by people, such as a circuit or a box, is called as they call it.
    return things.names.get(rest, rest)


def plain_name(name: str) -> str:
    """A name of the code as words, for what was named without a sentence: its unit, which stands behind, is left out."""
    for suffix in sorted(SUFFIXES, key=len, reverse=True):
        if name.endswith(suffix):
            name = name.removesuffix(suffix)
            break
    return name.replace("_", " ").replace(".", ", ")


def input_label(figure_id: str, name: str, reader: Reader) -> tuple[str, str] | None:
    """What an input is called and its unit; None where nothing is said of it."""
    room = figure_id.partition(".")[0]
    told = sentence_list(f"figure_input_{room}.{name}", reader) or sentence_list(f"figure_input.{name}", reader)
    if not told:
        return None
    unit = next((SUFFIXES[end] for end in sorted(SUFFIXES, key=len, reverse=True) if name.endswith(end)), "")
    return told[0], told[1] if len(told) > 1 else unit


def why(figure: Figure, things: Things, reader: Reader) -> dict[str, object]:
    """A figure with what is needed to ask it "why?", as texts."""
    return {
        "id": figure.id,
        "name": figure_name(figure.id, things, reader) or plain_name(figure.id.partition(".")[2]),
        "number": figure.value,
        "value": _amount(figure, figure.value, reader),
        "band": ""
        if figure.low is None or figure.high is None or figure.low == figure.high
        else f"{_amount(figure, figure.low, reader)} to {_amount(figure, figure.high, reader)}",
        "formula": figure.formula.replace("_", " "),
        "source": figure.source,
        "inputs": [
            _input(figure.id, name, value, things, reader) for name, value in figure.inputs.items() if name not in NEVER
        ],
    }


def _amount(figure: Figure, value: float, reader: Reader) -> str:
    """A share in per cent, anything else with its unit."""
    return f"{100 * value:.3g} %" if figure.id.startswith(SHARES) else show(value, figure.unit, reader)


def _input(figure_id: str, name: str, value: float | str, things: Things, reader: Reader) -> list[str]:
    label, unit = input_label(figure_id, name, reader) or (plain_name(name), "")
    if isinstance(value, str):
        told = things.options.get(value) if name == "option" else None
        return [label, told or value.replace("_", " ")]
    return [label, show(float(value), unit, reader)]
