"""What the terminal shows: the verdict first, the findings that decide it, then where the papers are."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from slackwater.actions.check_job import Checked
from slackwater.actions.day_job import DayShown, Replanned, clock_time
from slackwater.actions.living_job import LivingShown
from slackwater.actions.plan_job import Written
from slackwater.actions.verify import VerifyReport
from slackwater.actions.water_job import WaterShown
from slackwater.cli.name import called
from slackwater.finding import Finding, Severity
from slackwater.plan import Plan
from slackwater.units import UnitSystem
from slackwater.wording.render import finding_sentence, remedy_sentence, say

WIDTH = 96
_HEADINGS = {
    Severity.REFUSE: "Why not",
    Severity.MISFIT: "What does not fit",
    Severity.MISSING: "Facts that are missing or contradict each other",
    Severity.CONDITION: "Conditions",
    Severity.NOTE: "Worth knowing",
}


def _wrapped(text: str, first: str, rest: str) -> str:
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
            print(_wrapped(finding_sentence(finding, units), "  - ", "    "))
            for remedy in finding.remedies:
                print(_wrapped(remedy_sentence(remedy, units), "      > ", "        "))


def print_plan(written: Written, units: UnitSystem) -> None:
    """The answer of ``slackwater plan``."""
    plan = written.plan
    print(f"{plan.job_name}: {say(f'verdict.{plan.verdict}', {})}")
    _print_day(plan)
    print_findings(plan.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING, Severity.CONDITION))
    notes = sum(finding.severity is Severity.NOTE for finding in plan.findings)
    if notes or plan.assumed:
        print(f"\nNotes: {notes}. Defaults used: {len(plan.assumed)}. Both stand in the day sheet and in plan.json.")
    print(f"\nPapers in {written.folder}:")
    for paper in written.papers:
        print(f"  {paper.name}")


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
    print(_wrapped(say("plan.day_in_time" if day.margin_min >= 0 else "plan.day_late", values), "", ""))


def print_water(shown: WaterShown, units: UnitSystem) -> None:
    """The answer of ``slackwater water``."""
    page = shown.page
    print(f"{shown.plan.job_name}: water")
    # What puts the recipe in doubt comes before it.
    print_findings(shown.plan.findings, units, (Severity.REFUSE, Severity.MISFIT, Severity.MISSING))
    if page is not None:
        print()
        _print_rows([(what, value) for what, value in page["lines"]])
        print("\nThe refilled tank, with its 90 % band")
        _print_rows([(what, value, band) for what, value, band in page["refill"]])
        for item in page["limits"]:
            print(_wrapped(item, "  - ", "    "))
        for line in page["making"]:
            print(_wrapped(line, "  - ", "    "))
        for card in page["cards"]:
            print(f"\n{card['title']}, {card['container']}: {card['litres']}")
            for number, step in enumerate(card["steps"], start=1):
                print(_wrapped(step, f"  {number}. ", "     "))
            _print_rows(
                [("test", "expect", "go on", "adjust, else stop")]
                + [(row["what"], row["value"], row["go"], row["adjust"]) for row in card["readings"]]
            )
            if card["adjust"]:
                print(_wrapped(card["adjust"], "  ", "  "))
        if page["returns"]:
            print("\nBringing them over")
            _print_rows(
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
        _print_rows(
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
        print(_wrapped(" ".join(page["box_words"]), "  ", "  "))
    else:
        print(f"  {page['nobody']}")
    print("\nFilter")
    if page["filter"] is None:
        print(_wrapped(page["no_filter"], "  ", "  "))
    else:
        _print_rows(page["filter"]["rows"])
    if page["catches"]:
        print("\nCatching")
        for item in page["catches"]:
            print(_wrapped(f"{item['who']}, passes {item['passes']}: {item['left']}. {item['advice']}", "  - ", "    "))


def _print_weeks(page: Mapping[str, Any]) -> None:
    weeks = page["weeks"]
    print("\nThe weeks after")
    if weeks is None:
        print(_wrapped(page["no_weeks"], "  ", "  "))
        return
    if weeks["lead"]:
        print(_wrapped(weeks["lead"], "  ", "  "))
    print(_wrapped(f"{weeks['limits']} {weeks['sensitive']}", "  ", "  "))
    if weeks["options"]:
        _print_rows(
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
        print(_wrapped(weeks["no_plan"], "  ", "  "))
        return
    if weeks["plan"]["rows"]:
        _print_rows(
            [("day", "date", "amount", "of the tank", "water")]
            + [(row["day"], row["date"], row["amount"], row["share"], row["water"]) for row in weeks["plan"]["rows"]]
        )
    for text in weeks["plan"]["words"]:
        print(_wrapped(text, "  - ", "    "))


def _print_rows(rows: Sequence[Sequence[str]]) -> None:
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
        first = day.moves[0]
        print(f"{shown.job_name}, {day.now:%a %H:%M}")
        if not any(move.fits for move in day.moves):
            print(say("move.none_fits", {}, units))
        print(_wrapped(say(f"move.{first.id}", first.values, units), "> ", "  "))
    heavy = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING)
    print_findings(shown.findings, units, heavy)
    if day is not None:
        _print_hours(day, is_plan=shown.is_plan)
        _print_clocks(day)
        if not shown.is_plan:
            _print_moves(day, units)
        if day.broken_rules:
            print(_wrapped(say("finding.day.check_failed", {"rules": "; ".join(day.broken_rules)}), "\n", ""))
    print_findings(shown.findings, units, (Severity.CONDITION, Severity.NOTE))


def _print_hours(day: Replanned, *, is_plan: bool) -> None:
    if day.finish is None:
        return
    first = day.opens.date()
    late = day.margin_min is not None and day.margin_min < 0
    closes = clock_time(day.closes, first)
    margin = f"{abs(day.margin_min or 0)} min {'after' if late else 'before'} closing at {closes}"
    print(f"\n{'The day' if is_plan else 'From now on'}: done about {clock_time(day.finish, first)}, {margin}")
    was = {item.activity: item.old for item in day.moved}
    rows = [("from", "to", "who", "", "what", "" if is_plan else "planned")]
    for entry in day.entries:
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
    _print_rows(rows)
    left_out = [f"{item.activity} {item.label}" for item in day.moved if item.new is None]
    if left_out:
        print(_wrapped(f"Not done any more: {'; '.join(left_out)}.", "  ", "  "))


def _print_clocks(day: Replanned) -> None:
    if not day.clocks:
        return
    print("\nClocks")
    rows: list[tuple[str, ...]] = [("what", "from", "latest", "stops", "margin", "left now")]
    for clock in day.clocks:
        margin = f"{clock.excess_min} min over" if clock.excess_min else f"{clock.margin_min} min"
        left = "" if clock.left_min is None else f"{clock.left_min} min"
        times = (clock_time(moment, day.opens.date()) for moment in (clock.start, clock.latest, clock.end))
        rows.append((clock.what, *times, margin, left))
    _print_rows(rows)


def _print_moves(day: Replanned, units: UnitSystem) -> None:
    print("\nWhat can be done, best first")
    rows = [("fits", "done", "to closing", "first clock to break", "way")]
    for move in day.moves:
        rows.append(
            (
                "yes" if move.fits else "no",
                "no day" if move.finish is None else clock_time(move.finish, day.opens.date()),
                "" if move.margin_min is None else f"{move.margin_min} min",
                move.first_clock or "none",
                say(f"move_name.{move.id}", move.values, units),
            )
        )
    _print_rows(rows)


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
