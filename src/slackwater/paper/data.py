"""From a plan to what the papers print: every number as text in the reader's units, every id as its sentence."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from slackwater.day.result import ClockSpan, DayResult, Entry, WhatIf
from slackwater.day.when import clock_time
from slackwater.finding import Finding, Severity, Verdict
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.layout.result import LayoutResult
from slackwater.paper.amounts import amount_of
from slackwater.paper.card_page import card_data
from slackwater.paper.day_page import (
    day_pages,
    goods_behind,
    jobs_behind,
    latest_told,
    second_day_steps,
    split_told,
    stop_points,
    too_late,
)
from slackwater.paper.fact_names import assumed_name, finding_told
from slackwater.paper.handover_page import handover_data
from slackwater.paper.hour_list import piece_names, piece_told
from slackwater.paper.job_lines import job_lines
from slackwater.paper.layout_page import ScoredPart, layout_data, proposals_data
from slackwater.paper.light_page import light_data
from slackwater.paper.living_page import living_data
from slackwater.paper.money import money as money
from slackwater.paper.offer_page import option_data, visit_data
from slackwater.paper.planting_page import planting_data
from slackwater.paper.van_card import van_data
from slackwater.paper.water_page import salt_name, water_data
from slackwater.plan import LivingPlan, Plan, PlantingPlan, WaterPlan, animals_back, as_planted, job_hash
from slackwater.reader import SOURCE_LANGUAGE, Reader, Typed, right_to_left
from slackwater.supply.calendar import LAST_DAY, priced_visits, valid_until
from slackwater.supply.result import PriceResult, Step
from slackwater.units import show, spoken
from slackwater.wording.catalogs import translated
from slackwater.wording.render import named, remedy_sentence, say, say_count, sentence_list, sentences, verdict_sentence

PAGES: Sequence[tuple[str, tuple[str, ...]]] = (
    ("arrive", ("arrive",)),
    ("water_out", ("water out",)),
    ("catch", ("catch",)),
    ("filter", ("filter",)),
    ("strip", ("strip",)),
    ("clean", ("clean",)),
    ("build", ("build",)),
    ("plant", ("plant",)),
    ("fill", ("fill",)),
    ("return", ("return", "close")),
)
"""Pages of the day sheet, by the end of the id of their title, with the phases that stand on them."""
FOR_THE_CLIENT = frozenset(
    {
        "job.care_setting",
        "job.client_not_informed",
        "job.drain_unknown",
        "job.seams_not_looked_at",
        "job.wide_count",
        "layout.slope_near_repose",
        "supply.regulated_in_tank",
        "supply.return_visit",
        "supply.return_visit_unpriced",
        "supply.visit_gap_in_peak",
        "supply.visit_over_hours",
        "tank.floor_unknown",
        "tank.stand_near_limit",
        "tank.stand_over_floor",
        "tank.stand_over_limit",
        "tank.stand_unjudged",
        "tank.water_line_raised",
        "water.begun_before_access",
        "water.species_outside_target",
        "water.stone_hardens",
    }
)
"""Conditions that a client must agree to or do something about; the rest is the crew's own business."""
ON_THE_DAY = frozenset(
    {
        "day.filter_damp",
        "day.filter_on_barrel",
        "day.quiet_mode",
        "day.refresh_boxes",
        "day.stands_away",
        "day.tool_over_circuit",
        "day.unplug_for_tools",
        "living.air_watch",
        "living.box_on_the_day",
        "living.heat_boxes",
        "living.not_today",
        "living.peroxide",
        "living.wrap_boxes",
        "water.chloramine",
        "water.copper_first_draw",
        "water.old_nitrate_high",
    }
)
"""Conditions that are kept while the work goes on."""
AFTERWARDS = frozenset(
    {
        *("living.changes", "living.kh_falls", "living.ph_falls"),
        *("supply.return_visit", "supply.return_visit_unpriced"),
        *("supply.visit_gap_in_peak", "supply.visit_over_hours"),
    }
)
"""Conditions of the weeks after; all that stand in neither list are for the time before the day."""
OFFER_WORDS = (
    "options", "choose", "accepted", "option_chosen", "name", "signature", "date", "before_tax", "tax",
)  # fmt: skip
"""Words of the offer's template."""
_UNITS: Mapping[str, str] = {"L": "L", "kg": "kg", "m2": "m2"}


def _hm(moment: Any, plan_day: Any) -> str:
    return "" if moment is None else clock_time(moment, plan_day)


def finding_texts(finding: Finding, reader: Reader) -> dict[str, Any]:
    """What a finding says and what would help."""
    return {
        "text": finding_told(finding, reader),
        "remedies": [remedy_sentence(remedy, reader) for remedy in finding.remedies],
    }


def _settled(finding: Finding, plan: Plan, job: Job) -> bool:
    """Whether the plan itself has in it already what a condition asks for."""
    if finding.id == "day.filter_on_barrel":
        return plan.day is not None and any(entry.activity == "E8B" for entry in plan.day.entries)
    kept = [animals for animals in job.livestock or () if animals.keep]
    return finding.id == "living.not_today" and bool(kept) and all(animals.boarded for animals in kept)


DECIDING = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING)
"""Of these each one decides by itself, the heaviest first."""
WEIGHTY = (
    *("job.seams_not_looked_at", "tank.stand_over_floor", "tank.extra_near_tank", "living.not_today"),
    *("tank.circuit_overload", "tank.co2_cabinet", "job.drain_unknown", "day.odds", "supply.over_budget"),
)
"""Conditions that may turn a job away: glass and floor, animals, what can be kept by care, then hours and money."""
AT_ONCE = 5
"""As many as are taken in at one look; common practice, no source."""


def deciding(plan: Plan, job: Job) -> tuple[Finding, ...]:
    """What is read first on screen: all findings that decide, filled up to a handful with the weightiest conditions.

    On paper these conditions stand on the next page, for the first one is to be read in the van.
    """
    heavy = [finding for severity in DECIDING for finding in plan.findings if finding.severity is severity]
    weighty = [
        finding
        for weight in WEIGHTY
        for finding in plan.findings
        if finding.id == weight and finding.severity is Severity.CONDITION and not _settled(finding, plan, job)
    ]
    return (*heavy, *weighty[: max(0, AT_ONCE - len(heavy))])


def condition_groups(plan: Plan, job: Job, reader: Reader) -> list[dict[str, Any]]:
    """Conditions that are not settled, by when they are due: before the day, on it, after it."""
    groups: dict[str, list[dict[str, Any]]] = {"before": [], "on_the_day": [], "after": []}
    for finding in plan.findings:
        if finding.severity is Severity.CONDITION and not _settled(finding, plan, job):
            when = "on_the_day" if finding.id in ON_THE_DAY else "after" if finding.id in AFTERWARDS else "before"
            line = {"line": condition_line(finding, reader), "room": finding.id.partition(".")[0]}
            groups[when].append(finding_texts(finding, reader) | line)
    return [
        {"title": say(f"conditions.{when}", {}, reader), "items": items, "rooms": _by_room(items, reader)}
        for when, items in groups.items()
        if items
    ]


LONGEST_LINE = 60
"""Letters that stand in one line of a phone, or nearly; common practice, no source."""


def condition_line(finding: Finding, reader: Reader) -> str:
    """A condition in a few words; where it has none of its own, the beginning of its sentence."""
    known = f"condition.{finding.id}"
    if known in sentences():
        return say(known, {}, reader)
    return textwrap.shorten(re.split(r"[.:;]", finding_told(finding, reader))[0], LONGEST_LINE, placeholder=" …")


def _by_room(items: Sequence[Mapping[str, Any]], reader: Reader) -> list[dict[str, Any]]:
    """Conditions by what they are about, those with the same line together."""
    rooms: dict[str, dict[str, list[Mapping[str, Any]]]] = {}
    for item in items:
        rooms.setdefault(item["room"], {}).setdefault(item["line"], []).append(item)
    return [
        {
            "room": say(f"conditions.about.{room}", {}, reader),
            "lines": [{"line": line, "items": same} for line, same in of.items()],
        }
        for room, of in rooms.items()
    ]


EFFORTS = ("fish", "animal")
"""Counts weighed by how hard they are to catch: they set the minutes, and would be read as heads."""


def _quantity(entry: Entry, reader: Reader) -> str:
    if entry.quantity is None:
        return ""
    unit = _UNITS.get(entry.quantity_unit)
    if unit:
        return show(entry.quantity, unit, reader)
    if entry.quantity_unit in EFFORTS:
        return ""
    return say_count(entry.quantity_unit, round(entry.quantity, 1), reader)


def _entry(entry: Entry, day: DayResult, reader: Reader) -> dict[str, Any]:
    first = day.opens.date()
    note = []
    if entry.spray_every_min:
        note.append(say("sheet.day.spray", {"min": entry.spray_every_min}, reader))
    if "quiet mode" in entry.tags:
        note.append(say("sheet.day.quiet", {}, reader))
    if "wet-vac" in entry.tags:
        note.append(say("sheet.day.loud", {}, reader))
    if entry.runs_on_until is not None:
        note.append(say("sheet.day.runs_on", {"time": _hm(entry.runs_on_until, first)}, reader))
    return {
        "id": entry.activity,
        "label": entry.label,
        "start": _hm(entry.start, first),
        "end": _hm(entry.end, first),
        "latest": latest_told(entry, day, none=""),
        "crew": Typed(", ".join(entry.crew)),
        "quantity": _quantity(entry, reader),
        "minutes": entry.end_min - entry.start_min,
        "range": "" if entry.minutes_low is None else f"{entry.minutes_low}-{entry.minutes_high}",
        "jobs": jobs_behind(entry.past_jobs, reader, entry.learned_factor),
        "wrong": entry.can_go_wrong,
        "record": entry.record,
        "stop": entry.hold_point,
        "note": "; ".join(note),
    }


def _clock(span: ClockSpan, name: str, day: DayResult, reader: Reader) -> dict[str, Any]:
    return {
        **piece_told(span, name, day, reader),
        "latest": _hm(span.latest, day.opens.date()),
        "used": f"{span.used_min} min",
        "limit": f"{span.limit_min} min",
        "needs": span.needs,
        "over": span.excess_min > 0,
    }


def _clocks(day: DayResult, reader: Reader, *, start_min: int, end_min: int) -> list[dict[str, Any]]:
    """The pieces of clocks that run within some hours of the day, each with what starts and stops it."""
    return [
        _clock(span, name, day, reader)
        for span, name in zip(day.clocks, piece_names(day.clocks, reader), strict=True)
        if span.start_min < end_min and span.end_min > start_min
    ]


def _pages(day: DayResult, reader: Reader) -> list[dict[str, Any]]:
    pages = []
    for name, phases in PAGES:
        entries = [entry for entry in day.entries if entry.phase in phases]
        if not entries:
            continue
        start, end = min(entry.start_min for entry in entries), max(entry.end_min for entry in entries)
        pages.append(
            {
                "title": say(f"sheet.phase.{name}", {}, reader),
                "hours": f"{_hm(entries[0].start, day.opens.date())} – {_hm(max(item.end for item in entries), day.opens.date())}",
                "begins": min(item.start for item in entries).isoformat(),
                "ends": max(item.end for item in entries).isoformat(),
                "entries": [_entry(entry, day, reader) for entry in entries],
                "clocks": _clocks(day, reader, start_min=start, end_min=end),
                "cautions": [text for phase in phases for text in sentence_list(f"caution.{phase}", reader)],
                "last": "close" in phases,
            }
        )
    return pages


def _cost(item: WhatIf, currency: str, reader: Reader) -> str:
    """What a change costs in work and money, in brackets; empty where nothing is known."""
    parts = []
    if item.work_min:
        parts.append(say("what_if_cost.work", {"work_min": item.work_min}, reader))
    if item.price:
        name = "price" if item.price > 0 else "saves"
        parts.append(say(f"what_if_cost.{name}", {"price": abs(round(item.price)), "currency": currency}, reader))
    if item.price_lacks:
        parts.append(say("what_if_cost.lacks", {"names": ", ".join(item.price_lacks)}, reader))
    parts += [
        say(f"what_if_size.{name}", {"by": abs(by), "way": "more" if by > 0 else "less"}, reader)
        for name, by in item.sizes.items()
    ]
    return f" ({'; '.join(parts)})" if parts else ""


def _what_ifs(day: DayResult, job: Job, reader: Reader) -> list[dict[str, Any]]:
    """Changes to the day with their cost; what a variant of the job brings with it is said once."""
    found, said, currency = [], set[str](), job.price.currency
    for item in day.what_ifs:
        text = say(f"what_if.{item.id}", item.values, reader) + _cost(item, currency, reader)
        brought = [finding_told(finding, reader) for finding in item.adds]
        news = [sentence for sentence in brought if sentence not in said]
        said |= set(brought)
        change = text
        if news:
            text = say("what_if_adds.adds", {"change": text, "findings": " ".join(news)}, reader)
        found.append(
            {
                "text": text,
                "change": change,
                "brings": news,
                "finish": _hm(item.finish, day.opens.date()),
                "fits": item.fits,
                "lines": [Typed(line) for line in job_lines(item, job, day, reader)],
            }
        )
    return found


def _day(plan: Plan, job: Job, reader: Reader) -> dict[str, Any] | None:
    day = plan.day
    if day is None or day.finish is None or day.margin_min is None:
        return None
    first = day.opens.date()
    return {
        "opens": f"{day.opens:%a %d %b %Y, %H:%M}",
        "closes": _hm(day.closes, first),
        "finish": _hm(day.finish, first),
        "expected": _hm(day.risk.as_planned.finish_mean, first),
        "safe": _hm(day.safe_planned, first),
        "late": day.margin_min < 0,
        "margin": f"{abs(day.margin_min)} min",
        "proof": say("day_proof.proved", {}, reader)
        if day.status == "proved" or day.bound_min is None
        else say("day_proof.may_be_shorter", {"least": spoken(day.bound_min)}, reader),
        "stops": stop_points(day, reader),
        "too_late": too_late(day, reader),
        "split": split_told(plan, job, day, reader),
        "clocks": [
            _clock(span, name, day, reader)
            for span, name in zip(day.clocks, piece_names(day.clocks, reader), strict=True)
        ],
        "pages": _pages(day, reader),
        "breaks": [
            {"who": Typed(entry.crew[0]), "start": _hm(entry.start, first), "end": _hm(entry.end, first)}
            for entry in day.entries
            if entry.phase == "break"
        ],
        "into_job": say("what_if_lines.how", {}, reader),
        "what_ifs": _what_ifs(day, job, reader),
        **day_pages(plan, job, day, reader),
        "conflict": [say(f"conflict.{rule.id}", rule.values, reader) for rule in day.conflict],
    }


def step_text(step: Step, reader: Reader) -> str:
    """What a step of the calendar asks for, with the hours in which it may be done."""
    text = say(f"step.{step.id}", step.values, reader)
    if step.within is None:
        return text
    start, end = step.within
    return say("step.within", {"step": text, "from": start, "until": end}, reader)


def _offer(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    supply = plan.supply
    price = supply.price if supply else None
    valid = valid_until(job, supply.order if supply else ())
    included = [say("sheet.offer.catching", {}, reader)] if job.livestock else []
    included.append(say("sheet.offer.clearing", {}, reader))
    if plan.bed is not None:
        included.append(say("sheet.offer.new_bed", {"bulk_l": plan.bed.bulk_l}, reader))
    if job.stones:
        count = sum(len(stone.pieces_kg) for stone in job.stones)
        included.append(say_count("stone_set", count, reader))
    if job.wood:
        included.append(say_count("wood", len(job.wood), reader))
    if job.plants:
        count = sum(planting.units for planting in job.plants)
        included.append(say_count("planting", count, reader))
    # The price has those of the weeks that the plan follows.
    visits = priced_visits(job) if supply and supply.calendar else ()
    if visits:
        weeks = (job.contract.priced_to_day or LAST_DAY) / 7
        included.append(
            say("offer_paper.visits", {"visits": say_count("visit", len(visits), reader), "weeks": weeks}, reader)
        )
    back = animals_back(plan, job)
    if back is not None and back.day:
        name = "back_at_visit" if back.at_visit else "back_beside"
        included.append(say(f"offer_paper.{name}", {"date": f"{back.on:%a %d %b}", "day": back.day}, reader))
    feeding = [] if back is None else [say("offer_paper.fed_from", {"date": f"{back.fed_from:%a %d %b}"}, reader)]
    return {
        "numbered": say(
            "sheet.offer.number"
            if job.price.offer_date is None
            else "sheet.offer.dated"
            if valid is None
            else "sheet.offer.dated_valid",
            {"number": Typed(plan.reference), "date": f"{job.price.offer_date}", "valid": f"{valid}"},
            reader,
        ),
        "included": included,
        "excluded": sentence_list("paper.exclusions", reader),
        "client": [*sentence_list("paper.client_does", reader), *feeding],
        "price": money(price.price, price.currency) if price else "",
        "tax": money(price.tax, price.currency) if price else "",
        "tax_rate": "" if job.price.tax_share is None else f" ({100 * job.price.tax_share:g}\u00a0%)",
        "total": money(price.total, price.currency) if price else "",
        # With options each has its own.
        "deposit": "" if plan.options else _deposit(job, price, reader),
        "terms": typed(job.price.terms),
        "options": [
            {**told, "deposit": _deposit(job, option.price, reader)}
            for told, option in zip(option_data(plan, reader), plan.options, strict=True)
        ],
        "visit": visit_data(price.visit, reader) if price and price.visit else None,
        "further_visit": say("offer_paper.further_visit", visit_data(price.visit, reader), reader)
        if price and price.visit
        else "",
        "words": {name: say(f"offer_paper.{name}", {}, reader) for name in OFFER_WORDS},
        # With options it is each of them that can be sent or cannot; one is enough for a sheet to choose from.
        "ready": (plan.verdict in (Verdict.FITS, Verdict.FITS_IF) and price is not None)
        if not plan.options
        else any(option["ready"] for option in option_data(plan, reader)),
        "conditions": [client_told(finding, reader) for finding in plan.findings if finding.id in FOR_THE_CLIENT],
        "wishes": typed(job.brief.wishes),
        "plants": [
            {
                "name": catalog.plants[planting.plant].common_name
                if planting.plant in catalog.plants
                else planting.plant,
                "latin": catalog.plants[planting.plant].scientific_name if planting.plant in catalog.plants else "",
                "units": planting.units,
            }
            for planting in job.plants or ()
        ],
    }


def client_told(finding: Finding, reader: Reader) -> str:
    """A condition as the client reads it: what the finding says is a word to the firm."""
    return say(f"client.{finding.id}", finding.values, reader)


def _deposit(job: Job, price: PriceResult | None, reader: Reader) -> str:
    """What is paid before the day; "" where nothing was agreed or there is no price."""
    share = job.price.deposit_share
    if price is None or not share:
        return ""
    amount = (price.total * Decimal(str(share))).quantize(Decimal("0.01"))
    return say("paper.deposit", {"percent": f"{100 * share:g}", "amount": money(amount, price.currency)}, reader)


def item_name(item: str, catalog: Catalog, reader: Reader) -> str:
    """What people call a thing that is ordered: plants and salts by both their names, for shops sell by the second."""
    if item in catalog.plants:
        plant = catalog.plants[item]
        return say("order_name.both", {"name": plant.common_name, "other": plant.scientific_name}, reader)
    if item in catalog.salts:
        name, other = named(salt_name(item), reader), named(catalog.salts[item].substance, reader)
        return other if other.startswith(name) else say("order_name.both", {"name": name, "other": other}, reader)
    if item in catalog.consumables:
        return named(catalog.consumables[item].item, reader)
    names = (catalog.names(table).get(item) for table in ("materials", "containers"))
    return named(next((name for name in names if name), item.replace("_", " ")), reader)


def named_in(text: str, catalog: Catalog, reader: Reader) -> str:
    """A text with the names of things in place of their ids, which stand out by their underscores."""
    return re.sub(r"\b[a-z]+(?:_[a-z0-9]+)+\b", lambda match: item_name(match[0], catalog, reader), text)


def _packing(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any] | None:
    supply = plan.supply
    if supply is None:
        return None
    groups: dict[str, list[dict[str, Any]]] = {}
    for item in supply.packing:
        groups.setdefault(item.category, []).append(
            {
                "item": named(item.item, reader),
                "quantity": amount_of(item.quantity, item.unit, reader),
                "mass": "" if item.mass_kg is None else show(item.mass_kg, "kg", reader),
                "check": named(item.check, reader),
            }
        )
    return {
        "groups": [{"name": named(name, reader), "items": items} for name, items in groups.items()],
        "total": show(supply.packed_mass_kg, "kg", reader),
        "payload": "" if supply.payload_kg is None else show(supply.payload_kg, "kg", reader),
        "waste": [
            {
                "what": named(line.what, reader),
                "amount": " · ".join(
                    text
                    for text in (
                        "" if line.litres is None else show(line.litres, "L", reader),
                        "" if line.mass_kg is None else show(line.mass_kg, "kg", reader),
                        "" if line.bags is None else say_count("bag", line.bags, reader),
                    )
                    if text
                ),
                "to": say(f"waste.{line.goes_to}", {}, reader),
            }
            for line in supply.waste
        ],
        "order": [
            {
                "item": item_name(line.item, catalog, reader),
                "need": amount_of(line.need, line.unit, reader),
                "packs": amount_of(line.packs, line.unit, reader)
                if line.pack_size == 1
                else f"{line.packs} x {amount_of(line.pack_size, line.unit, reader)}",
                "spare": "; ".join(
                    text for text in (named(line.spare_reason, reader), goods_behind(line, reader)) if text
                ),
                "by": "" if line.order_by is None else f"{line.order_by:%d %b}",
            }
            for line in supply.order
            if line.packs > 0
        ],
        "steps": [
            {
                "when": f"{step.at:%a %d %b %H:%M}" if step.at else f"{step.on:%a %d %b}" if step.on else "",
                "text": step_text(step, reader),
            }
            for step in (*supply.calendar, *(second_day_steps(plan, job, plan.day) if plan.day is not None else ()))
        ],
    }


def _assumed(field: str, catalog: Catalog, reader: Reader) -> str:
    """What a default is of: the question of the survey, or what waits on a clock and how it is kept."""
    row = catalog.clocks.get(field.removeprefix("clocks.")) if field.startswith("clocks.") else None
    if row is not None:
        return say("assumed.clock", {"what": row.what, "state": row.state.replace("_", ", ")}, reader)
    return say(f"assumed.{field}", {}, reader) if f"assumed.{field}" in sentences() else assumed_name(field)


def typed(lines: Sequence[str]) -> list[str]:
    """Somebody's own words, which no paper translates."""
    return [Typed(line) for line in lines]


def words_of(reader: Reader) -> dict[str, Any]:
    """What the templates say themselves, by the parts of their ids after ``sheet``."""
    found: dict[str, Any] = {}
    for name, text in sentences().items():
        room, *way = name.split(".")
        if room == "sheet":
            table = found
            for part in way[:-1]:
                table = table.setdefault(part, {})
            table[way[-1]] = translated(name, str(text), reader)
    return found


PAPER_SIZES: Mapping[str | None, str] = {None: "a4", "a4": "a4", "letter": "us-letter"}


def layout_sheet_data(
    job: Job,
    *,
    version: str,
    layouts: Sequence[tuple[LayoutResult, Sequence[ScoredPart]]],
    findings: Sequence[Finding],
    reader: Reader,
) -> dict[str, Any]:
    """What the sheet of layouts prints."""
    return {
        **_headed(job, title=job.name, reference=job.reference, version=version, mark=job_hash(job), reader=reader),
        "layouts": proposals_data(layouts, reader),
        "conditions": [finding_told(finding, reader) for finding in findings],
    }


def _head(plan: Plan | WaterPlan | PlantingPlan, job: Job, reader: Reader) -> dict[str, Any]:
    """What every paper reads: what it is of, and how it is set."""
    return _headed(
        job,
        title=plan.job_name,
        reference=plan.reference,
        version=plan.version,
        mark=plan.job_hash,
        reader=reader,
    )


def _headed(job: Job, *, title: str, reference: str, version: str, mark: str, reader: Reader) -> dict[str, Any]:
    return {
        "words": words_of(reader),
        "alts": {name: say(f"figure.{name}.description", {}, reader) for name in ("gantt", "water_flow")},
        "language": Typed(reader.language.partition("-")[0]),
        "right_to_left": right_to_left(reader),
        "paper": PAPER_SIZES[job.papers.size],
        "title": title,
        "job": Typed(title),
        "reference": Typed(reference),
        "version": Typed(version),
        "hash": Typed(mark[:8]),
        "site": Typed(job.site.name),
        "client": Typed(job.client),
    }


def _chosen(job: Job, reader: Reader) -> list[dict[str, str]]:
    """Language and size of the papers, where the job leaves them open."""
    nobody = say("sheet.papers.not_chosen", {}, reader)
    open_ = []
    if job.papers.language is None and reader.language == SOURCE_LANGUAGE:
        open_.append(("language", say("sheet.papers.english", {}, reader)))
    if job.papers.size is None:
        open_.append(("size", "A4"))
    return [
        {"field": say(f"sheet.papers.{name}", {}, reader), "value": value, "source": nobody} for name, value in open_
    ]


def paper_data(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """Everything the templates read, as plain texts and lists."""
    job = as_planted(job, plan)

    def of(*severities: Severity) -> list[dict[str, Any]]:
        return [finding_texts(finding, reader) for finding in plan.findings if finding.severity in severities]

    return {
        **_head(plan, job, reader),
        "verdict": verdict_sentence(plan.verdict, plan.findings, reader),
        "deciding": of(*DECIDING),
        "conditions": of(Severity.CONDITION),
        "condition_groups": condition_groups(plan, job, reader),
        "notes": of(Severity.NOTE),
        "assumed": [
            {
                "field": _assumed(item.field, catalog, reader),
                "value": named(item.value, reader),
                "source": named(named_in(item.source, catalog, reader), reader),
            }
            for item in plan.assumed
        ]
        + _chosen(job, reader),
        "rules": typed(job.site.rules),
        "crew_notes": typed(job.brief.crew_notes),
        "go_no_go": sentence_list("paper.go_no_go", reader),
        "put_back": sentence_list("paper.put_back", reader),
        "not_an_offer": say("paper.not_an_offer", {}, reader),
        "day": _day(plan, job, reader),
        "water": None if plan.water is None else water_data(plan.water, catalog, reader),
        "living": None
        if plan.living is None
        else living_data(plan.living, plan.water, catalog, reader, currency=job.price.currency, day=plan.day),
        "offer": _offer(plan, job, catalog, reader),
        "packing": _packing(plan, job, catalog, reader),
        "van": van_data(plan, job, reader),
        "cards": card_data(plan, job, catalog, reader),
        "handover": handover_data(plan, job, reader),
        "dated": [
            {
                "id": Typed(step.id),
                "on": Typed(f"{step.at.date() if step.at else step.on}"),
                "text": step_text(step, reader),
            }
            for step in (plan.supply.calendar if plan.supply else ())
            if step.at or step.on
        ],
        "lifts": [
            {
                "what": named(lift.what, reader),
                "mass": show(lift.mass_kg, "kg", reader),
                "index": f"{lift.lifting_index:.1f}",
                "people": lift.people,
            }
            for lift in (plan.loads.lifts if plan.loads else ())
        ],
        "layout": layout_data(plan.layout, reader),
        "light": light_data(plan.light, plan.layout, reader),
        "planting": planting_data(plan.planting, plan.layout, catalog, reader),
        "has_bed": plan.bed is not None and plan.tank is not None,
        "has_water": plan.water is not None,
        "has_gantt": plan.day is not None,
    }


SETTLE = (*DECIDING, Severity.CONDITION)


def water_sheet_data(plan: WaterPlan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """What the water page by itself reads."""
    return {
        **_head(plan, job, reader),
        "water": None if plan.water is None else water_data(plan.water, catalog, reader),
        "water_findings": [finding_texts(finding, reader) for finding in plan.findings if finding.severity in SETTLE],
    }


def planting_sheet_data(plan: PlantingPlan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """What the planting sheet by itself reads."""
    return {
        **_head(plan, job, reader),
        "planting": planting_data(plan.planting, plan.layout, catalog, reader),
        "planting_findings": [finding_texts(finding, reader) for finding in plan.findings],
    }


def living_sheet_data(plan: LivingPlan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """What the living page by itself reads."""
    return {
        **_head(plan, job, reader),
        "living": None
        if plan.living is None
        else living_data(plan.living, plan.water, catalog, reader, currency=job.price.currency),
        "living_findings": [finding_texts(finding, reader) for finding in plan.findings if finding.severity in SETTLE],
    }
