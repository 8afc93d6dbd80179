"""A finished plan made ready for the screen: texts, figures with their tables, and every number that can be asked "why?"."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from slackwater.figure import Figure
from slackwater.finding import Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.paper.data import deciding, finding_texts, item_name, paper_data
from slackwater.paper.described import described
from slackwater.paper.fact_names import finding_told, marked
from slackwater.paper.write import write_papers
from slackwater.plan import Plan
from slackwater.units import UnitSystem, show
from slackwater.wording.render import say, sentences

PAGE = "page.json"
"""Everything the screen reads of a plan."""
ROOMS = ("tank", "layout", "water", "living", "day", "supply")


def write_shown(
    plan: Plan,
    job: Job,
    catalog: Catalog,
    folder: Path,
    *,
    units: UnitSystem,
    on_progress: Callable[[str], None] = lambda _: None,
) -> None:
    """Write papers, figures and what the screen reads into a folder, whole or not at all.

    Raises
    ------
    Conflict, CannotRun
        As `write_papers`.
    """
    beside = folder.with_name(f".{folder.name}.part")
    write_papers(plan, job, catalog, beside, units=units, on_progress=on_progress)
    page = json.dumps(shown(plan, job, catalog, units), ensure_ascii=False, sort_keys=True)
    (beside / PAGE).write_text(page, encoding="utf-8", newline="\n")
    for drawing in beside.glob("*.svg"):
        drawing.write_text(
            for_a_page(drawing.read_text(encoding="utf-8"), drawing.stem), encoding="utf-8", newline="\n"
        )
    if not folder.exists():
        beside.rename(folder)


def for_a_page(svg: str, name: str) -> str:
    """A drawing whose inner marks carry its name, so that several can stand on one page; its text is told beside it."""
    svg = re.sub(r'\bid="', f'id="{name}-', svg)
    svg = re.sub(r"url\(#", f"url(#{name}-", svg)
    svg = re.sub(r"<title>.*?</title>", "", svg)
    return svg.replace("<svg ", '<svg aria-hidden="true" focusable="false" ', 1)


def shown(plan: Plan, job: Job, catalog: Catalog, units: UnitSystem) -> dict[str, Any]:
    """Everything the screen reads of a plan, as plain texts and lists."""
    supply = plan.supply
    return {
        **paper_data(plan, job, catalog, units),
        "deciding": [finding_texts(finding, units) for finding in deciding(plan, job)],
        "outcome": str(plan.verdict),
        "missing": [
            str(marked(finding.values)["fields"])
            for finding in plan.findings
            if finding.id == "job.fact_missing" and "fields" in finding.values
        ],
        "told": [
            [f"{finding.id} {finding.about}".strip(), finding_told(finding, units)]
            for finding in plan.findings
            if finding.severity is not Severity.NOTE
        ],
        "whys": {room: [why(figure, units) for figure in plan.figures if room_of(figure) == room] for room in ROOMS},
        "figures": {item.file: item.model_dump(mode="json") for item in described(plan, catalog, units)},
        "orders": sorted(
            {
                (line.order_by.isoformat(), item_name(line.item, catalog))
                for line in (supply.order if supply else ())
                if line.order_by is not None and line.packs > 0
            }
        ),
        "steps": [
            {
                "id": step.id,
                "on": step.at.date().isoformat() if step.at else step.on.isoformat() if step.on else "",
                "at": f"{step.at:%H:%M}" if step.at else "",
                "text": say(f"step.{step.id}", step.values, units),
                "every": step.every_days,
                "until": step.until.isoformat() if step.until else "",
                "except": [off.isoformat() for off in step.except_on],
            }
            for step in (supply.calendar if supply else ())
        ],
        "direct": [finding_told(finding, units) for finding in plan.findings if finding.id == "supply.direct_cost"],
        "job_hash": plan.job_hash,
        "currency": job.price.currency,
    }


MASK = "…"
"""In place of an amount of money that a reader is not shown."""


def without_money(page: Mapping[str, Any]) -> dict[str, Any]:
    """The same plan for somebody who is to see no prices: every amount in the money of the job is masked, wherever it stands."""
    offer = page["offer"]
    currency = str(page.get("currency") or offer["total"].rpartition("\u202f")[2].rpartition(" ")[2])
    amount = re.compile(rf"-?\d[\d., \u00a0\u202f]*{re.escape(currency)}(?!\w)") if currency else re.compile(r"(?!)")
    shown = {name: value for name, value in page.items() if name not in ("price", "direct")}
    masked: dict[str, Any] = _masked(
        {**shown, "direct": [], "offer": {**offer, "price": "", "tax": "", "total": ""}}, amount
    )
    masked["whys"] = {
        room: [{**why, "inputs": [told for told in why["inputs"] if "money" not in told[0]]} for why in whys]
        for room, whys in masked["whys"].items()
    }
    return masked


def _masked(told: Any, amount: re.Pattern[str]) -> Any:
    if isinstance(told, str):
        return amount.sub(MASK, told)
    if isinstance(told, Mapping):
        return {name: _masked(value, amount) for name, value in told.items()}
    return [_masked(value, amount) for value in told] if isinstance(told, list) else told


def room_of(figure: Figure) -> str:
    """The part of the plan that a figure belongs to."""
    return figure.id.partition(".")[0]


def why(figure: Figure, units: UnitSystem) -> dict[str, Any]:
    """A figure with what is needed to ask it "why?", as texts."""
    return {
        "id": figure.id,
        "name": figure_name(figure.id),
        "number": figure.value,
        "value": _amount(figure, figure.value, units),
        "band": ""
        if figure.low is None or figure.high is None or figure.low == figure.high
        else f"{_amount(figure, figure.low, units)} to {_amount(figure, figure.high, units)}",
        "formula": figure.formula.replace("_", " "),
        "source": figure.source,
        "inputs": [[plain_name(name), _input(name, value, units)] for name, value in figure.inputs.items()],
    }


SHARES = ("day.odds", "living.filter_surviving")
SUFFIXES: Mapping[str, str] = {
    "_l": "L", "_kg": "kg", "_m": "m", "_h": "h", "_min": "min", "_w": "W", "_m2": "m2", "_m3": "m3", "_c": "°C",
    "_mg_l": "mg/L", "_g": "g", "_mm": "mm", "_kn": "kN",
}  # fmt: skip
"""How the name of an input tells its unit."""


def _amount(figure: Figure, value: float, units: UnitSystem) -> str:
    """A share of days as people say it, anything else with its unit."""
    return f"{100 * value:.3g} %" if figure.id.startswith(SHARES) else show(value, figure.unit, units)


def figure_name(figure_id: str) -> str:
    """What a figure is called: its own sentence, or that of its group with the rest of its id, or the id in words."""
    known = sentences()
    parts = figure_id.split(".")
    for count in range(len(parts), 1, -1):
        key = "figure_name." + ".".join(parts[:count])
        if isinstance(known.get(key), str):
            rest = ", ".join(parts[count:]).replace("_", " ").replace(":", " ")
            return f"{known[key]} {rest}".strip()
    return plain_name(".".join(parts[1:]))


def plain_name(name: str) -> str:
    """A name of the code as words: its unit, which stands behind the number, is left out."""
    for suffix in sorted(SUFFIXES, key=len, reverse=True):
        if name.endswith(suffix):
            name = name.removesuffix(suffix)
            break
    return name.replace("_", " ").replace(".", ", ")


def _input(name: str, value: float | str, units: UnitSystem) -> str:
    if isinstance(value, str):
        return value.replace("_", " ")
    unit = next((SUFFIXES[end] for end in sorted(SUFFIXES, key=len, reverse=True) if name.endswith(end)), "")
    return show(float(value), unit, units)
