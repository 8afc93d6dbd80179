"""A finished plan made ready for the screen: texts, figures with their tables, and every number that can be asked "why?"."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from slackwater.figure import Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.paper.data import FOR_THE_CLIENT, deciding, finding_texts, item_name, paper_data, step_text
from slackwater.paper.described import described
from slackwater.paper.fact_names import finding_told, marked
from slackwater.paper.figure_names import things_of, why
from slackwater.paper.offer_page import offer_facts, risk_data
from slackwater.paper.price_page import price_data
from slackwater.paper.write import papers_data, write_papers
from slackwater.plan import Plan
from slackwater.reader import SOURCE_LANGUAGE, Reader, money_sign

PAGE = "page.json"
"""Everything the screen reads of a plan."""
SHEETS = "sheets.json"
"""Everything the papers print, so that an office can set them with its own letterhead in no time."""
FORMAT = 6
"""Raised when a page holds other things than before: one of another number is set anew from the kept plan."""
ROOMS = ("tank", "layout", "light", "planting", "water", "living", "day", "supply")


def write_shown(
    plan: Plan,
    job: Job,
    catalog: Catalog,
    folder: Path,
    *,
    reader: Reader,
    on_progress: Callable[[str], None] = lambda _: None,
) -> None:
    """Write papers, figures and what the screen reads into a folder, whole or not at all.

    Raises
    ------
    Conflict, CannotRun
        As `write_papers`.
    """
    beside = folder.with_name(f".{folder.name}.part")
    data = papers_data(plan, job, catalog, reader)
    write_papers(plan, job, catalog, beside, reader=reader, on_progress=on_progress, data=data)
    (beside / SHEETS).write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8", newline="\n")
    page = json.dumps(shown(plan, job, catalog, Reader(reader.units)), ensure_ascii=False, sort_keys=True)
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


WAITING: Mapping[str, str] = {
    "water": "the water",
    "living": "the weeks after",
    "day": "the day",
    "order": "the bed",
}
"""Part of a plan, as a missing fact names it, by the section of the screen that stays empty without it."""


def waits_of(findings: Sequence[Finding], reader: Reader) -> dict[str, list[str]]:
    """What each section of the screen waits for, said where it would stand."""
    missing = [finding for finding in findings if finding.id == "job.fact_missing"]
    return {
        section: [
            finding_told(finding, reader)
            for finding in missing
            if part in re.split(r", | and (?=the )", str(finding.values["part"]))
        ]
        for section, part in WAITING.items()
    }


def shown(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """Everything the screen reads of a plan, as plain texts and lists."""
    supply, things = plan.supply, things_of(plan, catalog, reader)
    return {
        "format": FORMAT,
        **paper_data(plan, job, catalog, reader),
        "deciding": [finding_texts(finding, reader) for finding in deciding(plan, job)],
        "outcome": str(plan.verdict),
        "missing": [
            str(marked(finding.values)["fields"])
            for finding in plan.findings
            if finding.id == "job.fact_missing" and "fields" in finding.values
        ],
        "waits": waits_of(plan.findings, reader),
        "told": [
            [f"{finding.id} {finding.about}".strip(), finding_told(finding, reader)]
            for finding in plan.findings
            if finding.severity is not Severity.NOTE
        ],
        "whys": {
            room: [why(figure, things, reader) for figure in plan.figures if room_of(figure) == room] for room in ROOMS
        },
        "figures": {item.file: item.model_dump(mode="json") for item in described(plan, catalog, reader)},
        # By date, so that the start page tells each date once.
        "orders": sorted(
            {
                (line.order_by.isoformat(), item_name(line.item, catalog, reader))
                for line in (supply.order if supply else ())
                if line.order_by is not None and line.packs > 0
            }
        ),
        "steps": [
            {
                "id": step.id,
                "on": step.at.date().isoformat() if step.at else step.on.isoformat() if step.on else "",
                "at": f"{step.at:%H:%M}" if step.at else "",
                "text": step_text(step, reader),
                "every": step.every_days,
                "until": step.until.isoformat() if step.until else "",
                "except": [off.isoformat() for off in step.except_on],
            }
            for step in (supply.calendar if supply else ())
        ],
        "price": price_data(plan, job, catalog, reader),
        "direct": [finding_told(finding, reader) for finding in plan.findings if finding.id == "supply.direct_cost"],
        "job_hash": plan.job_hash,
        "carried": risk_data(plan, reader),
        "offered": offer_facts(plan, reader, FOR_THE_CLIENT),
        "currency": job.price.currency,
    }


MASK = "…"
"""In place of an amount of money that a reader is not shown."""

OF_THE_PRICE = ("price", "direct", "carried", "offered")
"""Parts of the page that are about nothing but money."""
PRICE_FIGURES = ("supply.cost_", "supply.floor", "supply.price_", "supply.visit_price")
"""Figures whose inputs are amounts without a currency beside them, or shares of the firm's own reckoning."""


def without_money(page: Mapping[str, Any]) -> dict[str, Any]:
    """The same plan for somebody who is to see no prices: every amount in the money of the job is masked, wherever it stands."""
    offer = page["offer"]
    currency = str(page.get("currency") or offer["total"].rpartition("\u202f")[2].rpartition(" ")[2])
    shown = {name: None if name in OF_THE_PRICE else value for name, value in page.items()}
    unpriced = {**offer, "price": "", "tax": "", "total": "", "deposit": "", "further_visit": "", "options": []}
    masked: dict[str, Any] = without_amounts({**shown, "direct": [], "offer": unpriced}, currency)
    masked["whys"] = {
        room: [
            {**why, "inputs": [told for told in why["inputs"] if "money" not in told[0]]}
            for why in whys
            if not why["id"].startswith(PRICE_FIGURES)
        ]
        for room, whys in masked["whys"].items()
    }
    return masked


def without_amounts(told: Any, currency: str, language: str = SOURCE_LANGUAGE) -> Any:
    """The same with every amount of a currency masked, wherever it stands in a text, as a language writes it."""
    if not currency:
        # A job may name none: whatever is written like money is masked then, rather too much than too little.
        return _masked(told, re.compile(r"-?\d[\d., \u00a0\u202f]*[.,]\d\d(?!\d)"))
    known = "|".join(re.escape(name) for name in sorted({currency, money_sign(currency, language)}))
    number = r"-?\d(?:[\d., \u00a0\u202f]*\d)?"
    return _masked(
        told, re.compile(rf"{number}[ \u00a0\u202f]?(?:{known})(?!\w)|(?<!\w)(?:{known})[ \u00a0\u202f]?{number}")
    )


def _masked(told: Any, amount: re.Pattern[str]) -> Any:
    if isinstance(told, str):
        return amount.sub(MASK, told)
    if isinstance(told, Mapping):
        return {name: _masked(value, amount) for name, value in told.items()}
    return [_masked(value, amount) for value in told] if isinstance(told, list) else told


def room_of(figure: Figure) -> str:
    """The part of the plan that a figure belongs to."""
    return figure.id.partition(".")[0]
