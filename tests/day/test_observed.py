"""What of a log is an observation of minutes, one rule a row; and what past jobs then do to the next day."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.day.activities import team_factor
from slackwater.day.assess import ALL_ROOMS, past_jobs, version_of
from slackwater.day.observed import observed, planned_today
from slackwater.day.result import Entry
from slackwater.day.version import member_of
from slackwater.day.when import Clockface
from slackwater.job.event import Event
from slackwater.job.experience import DoneWork, Experience, in_order
from slackwater.job.model import Job
from slackwater.plan import plan
from slackwater.wording.render import finding_sentence, say
from tests.jobs import job_from
from tests.plans import catalog

FACE = Clockface(datetime(2027, 2, 10, 8), "Europe/Berlin")
JOB = job_from("blue-corridor")
PEOPLE = [member_of(person, FACE, 600) for person in JOB.people]
LEAD, HELPER = (person.id for person in PEOPLE[:2])


def entry(name, start, end, crew=(LEAD,), **more):
    return Entry.model_validate(
        {
            "activity": name,
            "label": name,
            "phase": "",
            "start": FACE.moment(start),
            "end": FACE.moment(end),
            "start_min": start,
            "end_min": end,
            "crew": crew,
            "zone": "",
            "quantity": None,
            "quantity_unit": "",
            "minutes_low": None,
            "minutes_high": None,
            "hold_point": False,
            "tags": (),
            "record": "",
            "can_go_wrong": "",
            "latest_start": None,
            "catalog_min": float(end - start),
            "catalog_typical_min": float(end - start),
            **more,
        }
    )


PLAN = (
    entry("E10", 0, 60),
    entry("E11", 60, 90),
    entry("E13", 60, 120, (HELPER,)),
    entry(f"break:{LEAD}", 120, 150),
    entry("E15", 150, 180),
    entry("E27", 180, 190),
)


REST = f"break:{LEAD}"
TWICE_AT_ONCE = (("E10", "started", 0), ("E10", "finished", 60), ("E11", "started", 50), ("E11", "finished", 85))


def events(*said):
    """``E10 started 60`` or with a body: minutes after eight o'clock."""
    found = []
    for number, (name, kind, minute, *body) in enumerate(said):
        at = FACE.moment(minute).replace(tzinfo=None)
        event_id = UUID(int=number + 1)
        found.append(Event(id=event_id, at=at, kind=kind, job="x", subject=name, body=body[0] if body else {}))
    return found


def seen(*said, entries=PLAN):
    return observed(events(*said), entries, face=FACE, catalog=catalog(), people=PEOPLE)


def reasons(found, *, but="not_noted"):
    return {skipped.what: skipped.reason for skipped in found.skipped if skipped.reason != but}


def test_a_start_and_an_end_are_an_observation():
    found = seen(("E10", "started", 5), ("E10", "finished", 80))
    assert [(row.activity, row.planned_min, row.actual_min) for row in found.work] == [("E10", 60, 75)]
    assert {skipped.what for skipped in found.skipped} == {"E11", "E13", "E15", "E27"}
    assert found.spans == {"E10": (5, 80)}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ([("E10", "finished", 80)], {"E10": "no_start"}),
        ([("E10", "started", 0)], {"E10": "no_end"}),
        ([("E10", "started", 0), ("E10", "slipped", 50, {"remaining_min": 30})], {"E10": "no_end"}),
        ([("E10", "dropped", 0)], {"E10": "left_out"}),
        ([("E10", "started", 0), ("E10", "dropped", 30)], {"E10": "left_out"}),
        ([("E10", "started", 90), ("E10", "finished", 20)], {"E10": "backwards"}),
        ([("E10", "started", 20), ("E10", "finished", 20)], {"E10": "at_once"}),
        ([("E10", "started", 0), ("E10", "started", 30), ("E10", "finished", 60)], {"E10": "twice"}),
        ([("E10", "started", 0), ("E10", "finished", 1)], {"E10": "absurd"}),
        ([("E10", "started", 0), ("E10", "finished", 1200)], {"E10": "absurd"}),
        # The lead at two things at once for longer than a late tap; the helper beside them does not matter.
        (
            [*TWICE_AT_ONCE, ("E13", "started", 0), ("E13", "finished", 70)],
            {"E10": "overlap", "E11": "overlap"},
        ),
        # A break that was noted within it; one that was planned in the middle and not noted.
        (
            [("E15", "started", 100), ("E15", "finished", 150), (REST, "started", 120), (REST, "finished", 130)],
            {"E15": "split"},
        ),
        ([("E15", "started", 110), ("E15", "finished", 160)], {"E15": "perhaps_split"}),
        (
            [("E10", "started", 0), (LEAD, "unavailable", 20, {"until": "08:40"}), ("E10", "finished", 80)],
            {"E10": "away"},
        ),
        ([("E27", "started", 180), ("E27", "finished", 230)], {"E27": "goes_on_alone"}),
        ([("E10", "started", 0, {"crew": ["nobody"]}), ("E10", "finished", 50)], {"E10": "crew_unknown"}),
        ([("A1", "started", 0), ("A1", "finished", 50)], {"A1": "not_planned"}),
    ],
)
def test_what_is_no_observation_is_passed_over_and_told(said, told):
    found = seen(*said)
    assert reasons(found) == told
    assert not {row.activity for row in found.work} & set(told)
    for skipped in found.skipped:
        assert say(f"learned.skipped.{skipped.reason}", {"what": "it", **skipped.values})


@pytest.mark.parametrize(
    "said",
    [
        # Taps a little late, two phones, a break noted elsewhere, somebody away before.
        [("E10", "started", 0), ("E10", "finished", 64), ("E11", "started", 60), ("E11", "finished", 90)],
        [("E10", "started", 0), ("E10", "started", 2), ("E10", "finished", 60), ("E10", "finished", 61)],
        [("E15", "started", 110), ("E15", "finished", 160), (REST, "started", 60), (REST, "finished", 90)],
        [(LEAD, "unavailable", 0, {"until": "08:30"}), ("E10", "started", 40), ("E10", "finished", 90)],
    ],
)
def test_small_slips_leave_an_observation(said):
    found = seen(*said)
    assert reasons(found) == {} and found.work


def test_an_entry_that_was_taken_back_is_not_there():
    log = events(("E10", "started", 0), ("E10", "started", 30), ("E10", "finished", 90))
    wrong = Event(id=UUID(int=99), at=log[0].at, kind="corrected", job="x", body={"event": str(log[0].id)})
    found = observed([*log, wrong], PLAN, face=FACE, catalog=catalog(), people=PEOPLE)
    assert [row.actual_min for row in found.work] == [60]


def test_a_slip_of_the_pen_does_not_throw_doubt_on_what_was_done_meanwhile():
    found = seen(("E10", "started", 0), ("E10", "finished", 1500), ("E11", "started", 60), ("E11", "finished", 92))
    assert reasons(found) == {"E10": "absurd"}
    assert [row.activity for row in found.work] == ["E11"]
    assert "E10" not in found.spans


def test_another_crew_is_held_against_the_minutes_of_that_crew():
    row = catalog().activities["E11"]
    told = seen(("E11", "started", 0, {"crew": [LEAD, HELPER]}), ("E11", "finished", 30))
    both = 30 * team_factor(row, PEOPLE[:2]) / team_factor(row, PEOPLE[:1])
    assert both != 30
    assert [work.planned_min for work in told.work] == [pytest.approx(both, abs=0.01)]


def test_an_older_plan_without_past_jobs_has_the_tables_minutes_and_one_with_them_tells_none():
    plain, moved = (entry("E10", 0, 60, catalog_min=None, catalog_typical_min=None, past_jobs=jobs) for jobs in (0, 3))
    said = ("E10", "started", 0), ("E10", "finished", 66)
    assert [row.planned_min for row in seen(*said, entries=(plain,)).work] == [60]
    assert reasons(seen(*said, entries=(moved,))) == {"E10": "older_plan"}


# ---------------------------------------------------------------- into the next plan


def done(actual, planned=100.0, *, on=date(2027, 1, 5), job="a", activity="E22", **more):
    return DoneWork(activity=activity, planned_min=planned, actual_min=actual, on=on, job=job, **more)


def day_with(*rows, job=JOB):
    rooms = ALL_ROOMS.model_copy(update={"boxes": 4})
    return version_of(job, catalog().with_experience(in_order(list(rows), [])), rooms, work_places=2).day


def test_four_finished_jobs_that_took_double_stretch_the_next_plan_by_the_root_of_two():
    # As four `[[past_jobs]]` of the job file do: log 2 against the catalog, which counts as four jobs.
    before, after = day_with(), day_with(*(done(200.0, job=name) for name in "abcd"))
    assert before.factors == {}
    assert after.factors["E22"] == pytest.approx(2**0.5)
    assert after.minutes["E22"].typical == pytest.approx(before.minutes["E22"].typical * 2**0.5)
    assert {name for name in after.minutes if after.minutes[name] != before.minutes[name]} == {"E22"}


ROWS = (done(90.0, job="a"), done(130.0, job="b"), done(170.0, on=date(2027, 1, 9), job="c"))


@given(st.permutations(ROWS))
def test_experience_is_the_same_whatever_order_its_jobs_are_found_in(rows):
    again = in_order(rows, [])
    assert again.work == ROWS
    assert again.mark == in_order(list(ROWS), []).mark
    assert again.jobs == 3


def test_a_job_told_in_the_file_and_in_the_book_counts_once():
    told = job_from(
        "blue-corridor",
        past_jobs=[{"activity": "E22", "planned": "100 min", "actual": "150 min", "date": "2027-01-05"}],
    )
    known = catalog().with_experience(Experience(work=(done(150.0), done(150.0, on=date(2027, 1, 6), job="b"))))
    assert len(past_jobs(told, known)["E22"]) == 2


def test_a_row_of_the_table_that_was_put_right_is_not_put_right_twice():
    # Then: 100 min planned where the row gave 80 for its usual crew and that quantity. Now the row gives half as much again.
    row = catalog().activities["E22"]
    quantity = (120 - row.fixed_typ) / row.per_unit_typ
    past = done(150.0, quantity=quantity, catalog_min=80.0)
    assert planned_today(past, catalog()) == pytest.approx(100 * 120 / 80)
    assert planned_today(done(150.0), catalog()) == 100
    assert planned_today(done(150.0, activity="E99"), catalog()) is None


def test_an_absurd_past_job_of_the_file_is_told_and_not_used():
    row = {"activity": "E22", "planned": "180 min", "actual": "1 min"}
    day = version_of(job_from("blue-corridor", past_jobs=[row]), catalog(), ALL_ROOMS, work_places=2)
    assert "E22" not in day.day.past
    found = [finding for finding in day.findings if finding.id == "day.past_job_absurd"]
    assert len(found) == 1 and "1 min for 180 min" in finding_sentence(found[0])


def test_a_plan_records_what_it_learned_from_and_the_same_experience_gives_the_same_plan():
    job = Job(format=1, name="nearly empty")
    known = catalog().with_experience(Experience(work=(done(150.0),)))
    with_it, again, without = (plan(job, tables, version="t") for tables in (known, known, catalog()))
    assert with_it == again
    assert with_it.experience.work == (done(150.0),)
    assert with_it.experience_hash == known.experience.mark != without.experience_hash == ""
    assert with_it.job_hash == without.job_hash
