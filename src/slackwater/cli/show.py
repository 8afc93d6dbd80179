"""What the terminal shows: the verdict first, the findings that decide it, then where the papers are."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from slackwater.actions.check_job import Checked
from slackwater.actions.day_job import DayShown, Move, Replanned, clock_time
from slackwater.actions.living_job import LivingShown
from slackwater.actions.plan_job import Written
from slackwater.actions.telling import finding_line
from slackwater.actions.verify import VerifyReport
from slackwater.actions.water_job import WaterShown
from slackwater.cli.name import called
from slackwater.finding import Finding, Severity
from slackwater.plan import Plan
from slackwater.units import UnitSystem
from slackwater.wording.render import remedy_sentence, say, verdict_sentence

WIDTH = 96
FEW_HANDS = "few hands"
_HEADINGS = {
    Severity.REFUSE: "Why not",
    Severity.MISFIT: "What does not fit",
    Severity.MISSING: "Facts that are missing or contradict each other",
    Severity.CONDITION: "Conditions",
    Severity.NOTE: "Worth knowing",
}


def wrapped(text: str, first: str, rest: str) -> str:
    """A text in lines of the terminal's width, the first indented in another way than the rest."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def print_findings(findings: Iterable[Finding], units: UnitSystem, severities: Sequence[Severity]) -> None:
    """Findings under a heading for each severity, heaviest first, each with its remedies."""
    found = list(findings)
    for severity in severities:
        here = [finding for finding in found if finding.severity is severity]
        if not here:
            continue
        print(f"\n{_HEADINGS[severity]}")
        for finding in here:
            print(wrapped(finding_line(finding, units), "  - ", "    "))
            for remedy in finding.remedies:
                print(wrapped(remedy_sentence(remedy, units), "      > ", "        "))


def print_plan(written: Written, units: UnitSystem) -> None:
    """The answer of ``slackwater plan``."""
    plan = written.plan
    print(f"{plan.job_name}: {verdict_sentence(plan.verdict, plan.findings)}")
    _print_day(plan)
    print_findings(plan.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING, Severity.CONDITION))
    _print_price(written)
    notes = sum(finding.severity is Severity.NOTE for finding in plan.findings)
    if notes or plan.assumed:
        print(f"\nNotes: {notes}. Defaults used: {len(plan.assumed)}. Both stand in the day sheet and in plan.json.")
    print(f"\nPapers in {written.folder}:")
    for paper in written.papers:
        print(f"  {paper.name}")
    _print_changed(written)


def _print_price(written: Written) -> None:
    """What the price carries, and the options of the offer."""
    odds = written.carried["odds"] if written.carried else None
    if odds:
        print(f"\n{say('price_page.title', {})}")
        print(wrapped(f"{say('price_page.floor', {})}: {odds['floor']}.", "  ", "  "))
        for text in odds["words"]:
            print(wrapped(text, "  ", "  "))
        heads = [say(f"price_page.{name}", {}) for name in ("risk", "carries", "before_tax", "total", "then")]
        print_rows([heads, *odds["prices"]])
    if written.carried and written.carried["visit"]:
        visit = written.carried["visit"]
        value = say("price_page.visit_value", {"each": visit["each"], "total": visit["total"]})
        print(wrapped(f"{say('price_page.visit', {})}: {value} {visit['words']} {visit['unvisited']}", "  ", "  "))
    if written.options:
        print(f"\n{say('price_page.options', {})}")
    for item in written.options:
        print(
            wrapped(
                f"{item['name']}: {item['total'] or say('price_page.no_price', {})}, {item['verdict']}", "  ", "    "
            )
        )
        print(wrapped("; ".join([*item["what"], *item["idle"], *item["counts"]]), "    ", "    "))


def _print_changed(written: Written) -> None:
    """What changed since the offer that was in the folder."""
    changed = written.changed
    if changed is None:
        return
    print(f"\n{say('offer_change.since', {'folder': str(written.folder)})}")
    heads = [say(f"offer_change.{name}", {}) for name in ("what", "before", "after", "difference")]
    for name in ("amounts", "counts"):
        if changed[name]:
            print_rows([heads, *changed[name]])
    for name in ("gone", "new"):
        if changed[name]:
            print(f"  {say(f'offer_change.{name}', {})}")
        for text in changed[name]:
            print(wrapped(text, "  - ", "    "))


def _print_day(plan: Plan) -> None:
    day = plan.day
    if day is None or day.finish is None or day.margin_min is None:
        return
    values: dict[str, float | str] = {
        "opens": f"{day.opens:%a %d %b %H:%M}",
        "closes": f"{day.closes:%H:%M}",
        "finish": f"{day.finish:%H:%M}",
        "margin_min": abs(day.margin_min),
    }
    print(wrapped(say("plan.day_in_time" if day.margin_min >= 0 else "plan.day_late", values), "", ""))


def print_water(shown: WaterShown, units: UnitSystem) -> None:
    """The answer of ``slackwater water``."""
    page = shown.page
    print(f"{shown.plan.job_name}: water")
    # What puts the recipe in doubt comes before it.
    print_findings(shown.plan.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING))
    if page is not None:
        print()
        print_rows([(what, value) for what, value in page["lines"]])
        print("\nThe refilled tank, with its 90 % band")
        print_rows([(what, value, band) for what, value, band in page["refill"]])
        for item in page["limits"]:
            print(wrapped(item, "  - ", "    "))
        for line in page["making"]:
            print(wrapped(line, "  - ", "    "))
        for card in page["cards"]:
            print(f"\n{card['title']}, {card['container']}: {card['litres']}")
            for number, step in enumerate(card["steps"], start=1):
                print(wrapped(step, f"  {number}. ", "     "))
            print_rows(
                [("test", "expect", "go on", "adjust, else stop")]
                + [(row["what"], row["value"], row["go"], row["adjust"]) for row in card["readings"]]
            )
            if card["adjust"]:
                print(wrapped(card["adjust"], "  ", "  "))
        if page["returns"]:
            print("\nBringing them over")
            print_rows(
                [(f"box {item['label']}", item["who"], item["minutes"], item["why"]) for item in page["returns"]]
            )
    print_findings(shown.plan.findings, units, (Severity.CONDITION, Severity.NOTE))
    if shown.file is not None:
        print(f"\nWrote {shown.file}.")


def print_living(shown: LivingShown, units: UnitSystem) -> None:
    """The answer of ``slackwater living``."""
    page = shown.page
    print(f"{shown.plan.job_name}: everything alive")
    # What keeps the animals from going back comes before the hours.
    print_findings(shown.plan.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING))
    if page is not None:
        _print_boxes(page)
        _print_weeks(page)
    print_findings(shown.plan.findings, units, (Severity.CONDITION, Severity.NOTE))
    if shown.file is not None:
        print(f"\nWrote {shown.file}.")


def _print_boxes(page: Mapping[str, Any]) -> None:
    print("\nBoxes")
    if page["boxes"]:
        print_rows(
            [("box", "careful end", "as a rule", "first", "heater fails", "who")]
            + [
                (
                    box["label"],
                    box["low"],
                    box["rule"],
                    box["binds"],
                    box["unheated"],
                    ", ".join(f"{kind['count']} {kind['name']}" for kind in box["who"]),
                )
                for box in page["boxes"]
            ]
        )
        print(wrapped(" ".join(page["box_words"]), "  ", "  "))
    else:
        print(f"  {page['nobody']}")
    print("\nFilter")
    if page["filter"] is None:
        print(wrapped(page["no_filter"], "  ", "  "))
    else:
        print_rows(page["filter"]["rows"])
    if page["catches"]:
        print("\nCatching")
        for item in page["catches"]:
            print(wrapped(f"{item['who']}, passes {item['passes']}: {item['left']}. {item['advice']}", "  - ", "    "))


def _print_weeks(page: Mapping[str, Any]) -> None:
    weeks = page["weeks"]
    print("\nThe weeks after")
    if weeks is None:
        print(wrapped(page["no_weeks"], "  ", "  "))
        return
    if weeks["lead"]:
        print(wrapped(weeks["lead"], "  ", "  "))
    print(wrapped(f"{weeks['limits']} {weeks['sensitive']}", "  ", "  "))
    if weeks["options"]:
        print_rows(
            [("enough", "kept", "ammonia over", "nitrite over", "cost", "way")]
            + [
                (
                    "yes" if item["passes"] else "no",
                    item["kept"],
                    item["ammonia"],
                    item["nitrite"],
                    item["cost"],
                    item["what"],
                )
                for item in weeks["options"]
            ]
        )
    print(f"\n{weeks['title']}")
    if weeks["plan"] is None:
        print(wrapped(weeks["no_plan"], "  ", "  "))
        return
    if weeks["plan"]["rows"]:
        print_rows(
            [("day", "date", "amount", "of the tank", "water")]
            + [(row["day"], row["date"], row["amount"], row["share"], row["water"]) for row in weeks["plan"]["rows"]]
        )
    for text in weeks["plan"]["words"]:
        print(wrapped(text, "  - ", "    "))


def print_rows(rows: Sequence[Sequence[str]]) -> None:
    """Columns as wide as their longest text."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        print("  " + "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip())


def print_day(shown: DayShown, units: UnitSystem) -> None:
    """The answer of ``slackwater day``: what to do first on top, then the hours, the clocks and the other ways."""
    day = shown.day
    if day is None:
        print(f"{shown.job_name}: no day can be planned")
    elif shown.is_plan:
        print(f"{shown.job_name}: the day as planned")
    else:
        print(f"{shown.job_name}, {day.now:%a %H:%M}")
        for move in day.urgent:
            print(wrapped(say(f"move.{move.id}", move.values, units), "! ", "  "))
        if not any(move.fits for move in day.moves):
            print(say("move.none_fits", {}, units))
        print(wrapped(say(f"move.{day.advised.id}", day.advised.values, units), "> ", "  "))
    heavy = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING)
    print_findings(shown.findings, units, heavy)
    if day is not None:
        way = next((move for move in day.moves if move.id == "keep"), day.advised) if shown.is_plan else day.advised
        _print_hours(day, way, is_plan=shown.is_plan)
        _print_clocks(day, way)
        if not shown.is_plan:
            _print_moves(day, units)
        if day.broken_rules:
            print(wrapped(say("finding.day.check_failed", {"rules": "; ".join(day.broken_rules)}), "\n", ""))
    print_findings(shown.findings, units, (Severity.CONDITION, Severity.NOTE))


def _print_hours(day: Replanned, way: Move, *, is_plan: bool) -> None:
    if way.finish is None:
        return
    first = day.opens.date()
    late = way.margin_min is not None and way.margin_min < 0
    margin = (
        f"{abs(way.margin_min or 0)} min {'after' if late else 'before'} closing at {clock_time(day.closes, first)}"
    )
    ends = clock_time(way.finish, first)
    if way.way == FEW_HANDS:
        print(f"\nFrom now on: what can be done without help, up to about {ends}")
    else:
        print(f"\n{'The day' if is_plan else 'From now on'}: done about {ends}, {margin}")
    was = {item.activity: item.old for item in way.hours.moved}
    rows = [("from", "to", "who", "", "what", "" if is_plan else "planned")]
    for entry in way.hours.entries:
        if entry.state == "done" and not is_plan:
            continue
        old = was.get(entry.activity)
        moved = clock_time(old, first) if old is not None else "not planned" if entry.activity in was else ""
        what = entry.label if entry.activity.startswith("break:") else f"{entry.activity} {entry.label}"
        rows.append(
            (
                clock_time(entry.start, first),
                clock_time(entry.end, first),
                ", ".join(entry.crew) or "nobody",
                "STOP" if entry.hold_point else "runs" if entry.state == "running" and not is_plan else "",
                textwrap.shorten(what, 52, placeholder=" …"),
                moved,
            )
        )
    print_rows(rows)
    left_out = [item.label for item in way.hours.moved if item.new is None]
    if left_out:
        print(wrapped(f"Not in these hours: {'; '.join(left_out)}.", "  ", "  "))


def _print_clocks(day: Replanned, way: Move) -> None:
    if not way.hours.clocks:
        return
    print("\nClocks")
    first = day.opens.date()
    rows: list[tuple[str, ...]] = [("what", "from", "latest", "stops", "margin", "left now")]
    for clock in way.hours.clocks:
        margin = f"{clock.excess_min} min over" if clock.excess_min else f"{clock.margin_min} min"
        left = "" if clock.left_min is None else f"{clock.left_min} min"
        stops = "runs on" if clock.end is None else clock_time(clock.end, first)
        margin = "" if clock.margin_min is None else margin
        rows.append((clock.what, clock_time(clock.start, first), clock_time(clock.latest, first), stops, margin, left))
    print_rows(rows)


def _print_moves(day: Replanned, units: UnitSystem) -> None:
    print("\nWhat can be done, best first; the hours above are those of the first way")
    rows = [("fits", "done", "to closing", "first clock to break", "way")]
    ways = [move for move in day.moves if move not in day.urgent]
    for move in ways:
        if move.finish is None:
            continue
        in_part = move.way == FEW_HANDS
        rows.append(
            (
                "yes" if move.fits else "no",
                "in part" if in_part else clock_time(move.finish, day.opens.date()),
                "" if move.margin_min is None or in_part else f"{move.margin_min} min",
                move.first_clock or "none",
                say(f"move_name.{move.id}", move.values, units),
            )
        )
    print_rows(rows)
    none = [say(f"move_name.{move.id}", move.values, units) for move in ways if move.finish is None]
    if none:
        print(wrapped(f"No day was found with: {'; '.join(none)}.", "  ", "  "))


def print_check(checked: Checked, path: Path, units: UnitSystem) -> None:
    """The answer of ``slackwater check``."""
    print(f"{checked.job_name}: {checked.facts_known} of {checked.facts_asked} parts of the plan can be computed.")
    if checked.parts_missing:
        print(f"Not yet: {', '.join(checked.parts_missing)}.")
    print_findings(
        checked.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING, Severity.CONDITION, Severity.NOTE)
    )
    if not checked.findings:
        print("Nothing is missing and nothing contradicts.")
    print(f"\nNext: {called()} plan {path}")


def print_verify(report: VerifyReport) -> None:
    """The answer of ``slackwater verify``: a line for each row, then the totals."""
    for line in report.lines:
        print(line.text())
    print()
    for total in report.totals():
        print(total)
