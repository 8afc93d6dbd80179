"""Every id that the program can say has a sentence, and no sentence is left without a speaker."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from slackwater.finding import Finding, Severity, Verdict
from slackwater.reader import Reader
from slackwater.wording.render import finding_sentence, named, remedy_sentence, say, sentences, verdict_sentence
from tests.plans import plan_of

SOURCE = Path(__file__).parents[2] / "src" / "slackwater"


def spoken() -> set[str]:
    """Finding ids as the source builds them: written whole, or by the room's own short helper."""
    ids = set()
    for path in SOURCE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        room = path.parent.name
        ids |= set(
            re.findall(
                r'(?:Finding|Remedy)\(\s*id="((?:job|tank|layout|water|living|day|supply|planting|light)\.[a-z0-9_]+)"',
                text,
            )
        )
        ids |= {
            f"{room}.{name}"
            for name in re.findall(
                r'(?:_finding|notes\.say|notes\.miss|self\.say|self\.tell|log\.tell|Doubt)\(\s*"([a-z0-9_]+)"', text
            )
        }
        if room == "living":
            ids |= {f"living.{name}" for name in re.findall(r'\bsay\(\s*"([a-z0-9_]+)"', text)}
    return ids


def test_every_finding_and_remedy_has_a_sentence_and_every_sentence_a_finding():
    known = {name.partition(".")[2] for name in sentences() if name.startswith(("finding.", "remedy."))}
    # Ids put together from a list of names in the code are not seen by the search above.
    built = {
        *(
            f"water.{what}_{side}_target"
            for what, sides in (
                ("hardness", ("over", "under")),
                ("alkalinity", ("over", "under")),
                ("nitrate", ("over",)),
                ("sodium", ("over",)),
                ("potassium", ("over",)),
                ("conductivity", ("over",)),
                ("ratio", ("over", "under")),
            )
            for side in sides
        ),
        *(
            f"day.replan_{way}"
            for way in ("over_hard_limits", "without_breaks", "less_planting", "safe_state_only", "none")
        ),
        *(f"day.log_read_as_{which}" for which in ("first", "second")),
        *(f"day.missing_{where}" for where in ("in_tank", "soil_leaving", "in_waste")),
        *(f"day.log_{name}" for name in ("no_such_thing", "ended_by_then", "overdue")),
        "water.conductivity_too_low",
        "water.conductivity_too_high",
        "water.ph_too_low",
        "water.ph_too_high",
        "job.test_old",
        "job.test_other_season",
        *(f"living.catch_{name}" for name in ("not_yet", "endless", "stop", "go_on", "all_in")),
        *(f"living.peroxide_{name}" for name in ("expired", "opened_long_ago")),
        "living.not_at_all",
        "living.reading_high",
        "living.kh_falls",
        "living.ph_falls",
        *(
            f"living.{option}"
            for option in (
                "hold",
                "part",
                "part_half",
                "binder",
                "binder_and_hold",
                "lean_soil",
                "inert_soil",
                "seeded",
                "more_changes",
                "lean_soil_and_binder",
                "inert_soil_and_seeded",
                "seeded_and_hold",
                "inert_soil_and_hold",
            )
        ),
        *(
            f"day.{name}"
            for name in (
                "epiphytes_at_bench",
                "carpet_later",
                "one_more_person",
                "person_and_carpet",
                "later_end",
                "reserve_day_fits",
                "second_day",
                "hardscape_ready",
                "planting_later",
                "filter_on_barrel",
                "board_shrimp",
                "boarding",
                "part_rebuild",
                "earlier_start",
                "more_places",
                "carpet_and_hardscape",
                "earlier_and_carpet",
                "person_and_hardscape",
                "person_and_boarding",
                "person_and_part",
                "planting_and_boarding",
                "least_late",
                "least_clocks",
                "least_both",
                "tool_over_circuit",
                "unplug_for_tools",
                "stands_away",
            )
        ),
    }
    assert (spoken() | built) - known == set()
    assert known - spoken() - built == set()


def test_a_condition_in_a_few_words_asks_for_no_value():
    # Conditions with the same few words stand together, and nothing is filled in there.
    short = {name: text for name, text in sentences().items() if name.startswith("condition.")}
    assert len(short) > 50 and [name for name, text in short.items() if "{" in str(text)] == []


@pytest.mark.parametrize("units", ["metric", "us"])
def test_all_findings_of_the_examples_can_be_said(units):
    for example in ("blue-corridor", "harbour-line", "light-well"):
        for finding in plan_of(example).findings:
            text = finding_sentence(finding, units)
            assert text and "{" not in text and "_" not in text, text
            for remedy in finding.remedies:
                assert "{" not in remedy_sentence(remedy, units)


def test_numbers_follow_the_readers_units():
    values = {"needed_l": 200.0, "gross_l": 100.0}
    assert "200 L" in say("finding.tank.no_room_for_water", values)
    assert "52.8 gal" in say("finding.tank.no_room_for_water", values, "us")


@pytest.mark.parametrize(("closing", "rare"), [(0.49, True), (0.5, False), (0.9, False)])
def test_a_day_that_fits_says_at_once_where_most_days_would_not(closing, rare):
    odds = Finding(id="day.odds", severity=Severity.CONDITION, values={"closing": closing})
    told = verdict_sentence(Verdict.FITS_IF, [odds])
    assert told.startswith("Fits, with conditions.")
    assert ("played through" in told) is rare
    assert "played through" not in verdict_sentence(Verdict.DOES_NOT_FIT, [odds])


@pytest.mark.parametrize(
    ("over", "told"),
    [
        ("plants out of water 21 min over", "Pflanzen außerhalb des Wassers 21 min zu lang"),
        (
            "fish in holding boxes 179 min over, shrimp in a small box 188 min over, plants out of water 21 min over",
            "Fische in Hälterungsboxen 179 min zu lang, Garnelen in einer kleinen Box 188 min zu lang, "
            "Pflanzen außerhalb des Wassers 21 min zu lang",
        ),
        # What somebody named stays, beside what has a name in the catalog.
        (
            "her own clock 5 min over, plants out of water 21 min over",
            "her own clock 5 min zu lang, Pflanzen außerhalb des Wassers 21 min zu lang",
        ),
    ],
)
def test_each_of_a_list_of_what_is_over_is_told_in_german(over, told):
    assert named(over, Reader(language="de")) == told
    assert named(over, Reader()) == over
