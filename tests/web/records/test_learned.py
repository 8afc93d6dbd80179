"""From the log of a finished day to the next plan: the page, what is left out, and what the inputs of a plan are."""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest

from slackwater.actions.experience import experience_before, finished_days
from slackwater.actions.from_book import with_book
from slackwater.actions.learned import learned_of
from slackwater.actions.plan_work import Wanted, place_of, plan_kind
from slackwater.actions.rest_work import rest_kind
from slackwater.book import events, jobs, left_out, plans, receipts, tasks
from slackwater.cli.show_learned import print_learned
from slackwater.job.event import Event
from slackwater.job.load import read_job
from tests.plans import HARDLY, catalog, plan_of
from tests.web.records.conftest import body, once

EXAMPLE = Path("examples/light-well.toml").read_text(encoding="utf-8")
DAY, SPLIT = date(2027, 10, 26), date(2027, 10, 27)
ON = date(2027, 12, 1)
"""The tests look back from here; the office's own clock stands in the February before, so jobs are moved to before that."""
OWN = date(2027, 1, 5)


@pytest.fixture(scope="module")
def plan_json():
    return plan_of("light-well", effort=HARDLY).model_dump_json()


def moved(text, day):
    """A job or a plan with its day moved to another."""
    for old, number in ((SPLIT, 1), (DAY, 0)):
        text = text.replace(old.isoformat(), (day + timedelta(days=number)).isoformat())
    # In winter and in summer the clocks of Berlin differ from universal time by one hour and by two.
    return text.replace("+02:00", "+01:00")


class Firm:
    """A book with finished jobs: each log says that all work took so many times its plan."""

    def __init__(self, office, plan_json):
        self.office, self.plan_json, self.number = office, plan_json, 0

    def job(self, day=OWN, *, ratio=1.0, but=(), plan=True, said=(), late_days=0):
        text, planned = moved(EXAMPLE, day), json.loads(moved(self.plan_json, day))
        before = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(days=3)
        row = jobs.create(self.office.book, text=text, at=before, by="")
        if plan:
            plans.keep(self.office.book, row.id, 1, plan_json=json.dumps(planned), inputs_hash="h", at=before)
        entries = [one for one in planned["day"]["entries"] if not one["activity"].startswith("break:")]
        opens = datetime.fromisoformat(planned["day"]["opens"]).replace(tzinfo=None) + timedelta(days=late_days)
        # One piece of work after the other, a quarter of an hour apart: nobody is at two, and breaks are noted at night.
        at, log = opens, []
        for person in {who for one in entries for who in one["crew"]}:
            log += [
                (f"break:{person}", "started", opens - timedelta(hours=2)),
                (f"break:{person}", "finished", opens - timedelta(hours=1)),
            ]
        for one in entries:
            if one["activity"] in but:
                continue
            took = timedelta(minutes=max(1, round(ratio * (one["end_min"] - one["start_min"]))))
            log += [(one["activity"], "started", at), (one["activity"], "finished", at + took)]
            at += took + timedelta(minutes=15)
        self.note(
            row.id,
            [*log, *[(name, kind, opens + timedelta(minutes=minute), *more) for name, kind, minute, *more in said]],
        )
        return row.id

    def note(self, job_id, log):
        made = []
        for name, kind, at, *more in log:
            self.number += 1
            made.append(
                Event(id=UUID(int=self.number), at=at, kind=kind, job="LW", subject=name, body=more[0] if more else {})
            )
        for first in range(0, len(made), 100):
            events.append(self.office.book, job_id, made[first : first + 100])

    def known(self, day=None, on=ON):
        return experience_before(self.office.settings, self.office.book, on=on, day=day)


@pytest.fixture
def firm(office, plan_json):
    return Firm(office, plan_json)


def test_without_a_job_the_page_says_how_it_begins(call, office):
    page = call.get("/learned")
    assert page.status_code == 200 and "Nothing is learned yet" in page.text
    assert learned_of(office).jobs == 0
    assert experience_before(office.settings, office.book, on=ON, day=None).mark == ""


def test_a_finished_day_becomes_experience_with_what_was_passed_over(firm, office):
    job = firm.job(ratio=1.5, but=("E13",), said=[("gypsum", "used", 700, {"amount": "much"})])
    (one,) = finished_days(office.settings, office.book, on=ON)
    known = firm.known()
    assert {row.job for row in known.work} == {job} and known.jobs == 1
    assert all(row.actual_min == pytest.approx(1.5 * row.planned_min, abs=0.51) for row in known.work)
    told = {skipped.what: skipped.reason for skipped in one.told.skipped}
    assert told["E13"] == "not_noted" and told["gypsum"].startswith("goods_")
    assert told.get("E27", "goes_on_alone") == "goes_on_alone"
    planned = len([entry for entry in json.loads(firm.plan_json)["day"]["entries"] if entry["activity"][0] != "b"])
    assert len(known.work) + len([what for what in told if what != "gypsum"]) == planned


def test_only_days_before_that_of_the_job_count_and_only_once_they_are_over(firm):
    firm.job(date(2027, 1, 5))
    firm.job(date(2027, 1, 20))
    assert [firm.known(day).jobs for day in (date(2027, 1, 5), date(2027, 1, 6), date(2027, 1, 21), None)] == [
        0,
        1,
        2,
        2,
    ]
    # On the day itself, and on the one between.
    assert [firm.known(on=day).jobs for day in (date(2027, 1, 5), date(2027, 1, 20), date(2027, 1, 21))] == [0, 1, 2]


def test_a_new_log_changes_the_inputs_of_later_plans_and_of_no_earlier_one(firm, office):
    early, late = (
        jobs.create(office.book, text=moved(EXAMPLE, day), at=office.clock(), by="").id
        for day in (date(2027, 1, 4), ON)
    )

    def places():
        return [place_of(office.settings, office.book, Wanted(job, 1, "metric"), on=ON).hash for job in (early, late)]

    before = places()
    job = firm.job(ratio=1.2)
    after = places()
    assert before[0] == after[0] and before[1] != after[1]
    left_out.leave_out(office.book, job, reason="flood", at=office.clock(), by="")
    assert places() == before


def test_a_worker_is_handed_what_was_learned_for_a_plan_and_for_the_rest_of_a_day(firm, office):
    firm.job(ratio=1.2)
    late = jobs.create(office.book, text=moved(EXAMPLE, ON), at=office.clock(), by="").id
    task = tasks.add(
        office.book, kind="plan", arguments=Wanted(late, 1, "metric").arguments(), at=office.clock(), by="", job_id=late
    )
    given = plan_kind(office.settings, office.book, office.clock).given(task)
    known = experience_before(office.settings, office.book, on=office.clock().date(), day=ON)
    assert known.jobs == 1
    assert given["experience"] == known.model_dump_json()
    assert (
        given["hash"]
        == place_of(office.settings, office.book, Wanted(late, 1, "metric"), on=office.clock().date()).hash
    )
    rest = tasks.add(
        office.book,
        kind="rest",
        arguments={"version": 1, "at": f"{ON}T10:00", "units": "metric"},
        at=office.clock(),
        by="",
        job_id=late,
    )
    assert rest_kind(office.settings, office.book).given(rest)["experience"] == known.model_dump_json()


def test_a_job_file_is_planned_with_the_book_as_the_office_would(firm, office):
    firm.job(ratio=1.2)
    text, on = moved(EXAMPLE, ON), datetime(2027, 11, 1, 9, tzinfo=UTC)
    found = with_book(catalog(), read_job(text, file_name="job"), text, office.settings, at=on)
    assert found.experience == firm.known(ON, on=on.date()) and found.experience.jobs == 1
    early = moved(EXAMPLE, date(2027, 1, 4))
    assert with_book(catalog(), read_job(early, file_name="job"), early, office.settings, at=on).experience.jobs == 0


def test_the_page_shows_ratio_bias_and_drift_by_activity_with_a_drawing_and_its_table(firm, call, capsys, office):
    for number, ratio in enumerate((1.1, 1.2, 1.3, 1.4, 1.5)):
        firm.job(OWN - timedelta(days=10 * (5 - number)), ratio=ratio)
    page = body(call.get("/learned"))
    assert "Learned from 5 finished jobs" in page and "What stands out" in page
    assert page.count("<svg") == len(re.findall(r'<details id="l-', page)) > 20
    found = learned_of(office)
    planting = next(line for line in found.work if line.key == "E22")
    assert planting.jobs == 5 and len(planting.rows) == 5
    assert [row.ratio for row in planting.rows] == ["1.50", "1.40", "1.30", "1.20", "1.10"]
    assert planting.drift.startswith("up, about") and "2 in 100" in planting.drift
    assert planting.bias.endswith("more than planned")
    assert "1.10, 1.20, 1.30, 1.40, 1.50" in planting.described
    print_learned(found, with_jobs=True)
    told = capsys.readouterr().out
    assert "Minutes by activity" in told and "drift: up, about" in told and max(map(len, told.splitlines())) <= 96


def test_one_absurd_entry_wrecks_nothing(firm, office):
    for number in range(3):
        firm.job(OWN - timedelta(days=10 * (number + 1)), ratio=1.2)
    before = learned_of(office)
    firm.job(ratio=1.2, but=("E22",), said=[("E22", "started", 0), ("E22", "finished", 20 * 60 * 24)])
    after = learned_of(office)
    lines = [next(line for line in found.work if line.key == "E22") for found in (before, after)]
    assert (lines[0].jobs, lines[0].ratio) == (lines[1].jobs, lines[1].ratio)
    assert "is a slip of the pen" in " ".join(after.days[0].skipped)


def test_a_job_is_left_out_with_a_reason_and_taken_back(firm, call, office):
    job = firm.job(ratio=1.2)
    page = call.get("/learned").text
    refused = call.post(f"/learned/{job}/out", data={"once": once(page), "reason": " "})
    assert refused.status_code == 422 and "Learn from it again" not in refused.text
    sent = {"once": once(page), "reason": "burst pipe <b>at noon</b>"}
    for _ in range(2):
        assert call.post(f"/learned/{job}/out", data=sent).status_code == 303
    page = body(call.get("/learned"))
    assert "burst pipe &lt;b&gt;at noon&lt;/b&gt;" in page and "Learn from it again" in page
    assert firm.known().jobs == 0 and len(left_out.of_job(office.book, job)) == 1
    assert call.post(f"/learned/{job}/in").status_code == 303
    assert firm.known().jobs == 1
    for path in (f"/learned/{UUID(int=7)}/out", f"/learned/{UUID(int=7)}/in"):
        assert call.post(path, data=sent).status_code == 404


NOTHING = (*(f"E{number}" for number in range(40)), "E8B", "E14B", "R1", "R2")


@pytest.mark.parametrize(("plan_there", "said"), [(False, "No plan was ever made"), (True, "Nothing on its log tells")])
def test_a_day_that_says_nothing_says_why(firm, call, office, plan_there, said):
    job = firm.job(plan=plan_there, but=NOTHING)
    if plan_there:
        assert "0 pieces of work" not in body(call.get("/learned"))
    assert said in body(call.get("/learned"))
    assert job and firm.known().jobs == 0


def test_the_plan_that_was_there_when_work_began_is_the_one_that_was_followed(firm, office):
    job = firm.job(ratio=1.2)
    # Made the day after: it does not move what was planned.
    changed = json.loads(moved(firm.plan_json, OWN))
    for entry in changed["day"]["entries"]:
        entry["catalog_min"] = (entry["catalog_min"] or 0) * 2
    before = firm.known().work
    late = datetime(2027, 1, 6, 12, tzinfo=UTC)
    plans.keep(office.book, job, 1, plan_json=json.dumps(changed), inputs_hash="h2", at=late)
    assert firm.known().work == before
    assert not finished_days(office.settings, office.book, on=ON)[0].told.planned_after


def test_a_job_that_was_moved_is_dated_by_the_day_on_which_it_was_done(firm, call, office):
    # Put off by a week, and nobody told the job; one noted weeks later as well, and made ready the day before.
    late = firm.job(OWN, late_days=7, said=[("F8", "started", 21 * 24 * 60), ("A2", "started", -24 * 60)])
    assert [firm.known(day).jobs for day in (date(2027, 1, 8), date(2027, 1, 12), date(2027, 1, 13))] == [0, 0, 1]
    assert [firm.known(on=day).jobs for day in (date(2027, 1, 8), date(2027, 1, 12), date(2027, 1, 13))] == [0, 0, 1]
    assert {row.on for row in firm.known().work} == {date(2027, 1, 12)}
    # Its text was given another day afterwards.
    done = firm.job(OWN)
    jobs.save_version(office.book, done, moved(EXAMPLE, date(2027, 1, 25)), parent=1, at=office.clock(), by="")
    assert {row.on for row in firm.known().work if row.job == done} == {OWN}
    assert [one.job.job_id for one in finished_days(office.settings, office.book, on=ON)] == [done, late]
    page = body(call.get("/learned"))
    assert "12 Jan 2027" in page and "the job itself names 05 Jan 2027" in page
    assert "05 Jan 2027" in page and "the job itself names 25 Jan 2027" in page
    assert 'value="2027-01-12"' in body(
        call.get(
            call.post(
                f"/jobs/{late}/invoices", data={"offer": "none", "once": once(call.get(f"/jobs/{late}/invoices").text)}
            ).headers["location"]
        )
    )


def test_the_cost_of_the_day_is_told_beside_its_offer(firm, call, office):
    job = firm.job(ratio=1.3)
    (one,) = finished_days(office.settings, office.book, on=ON)
    price = one.told.price
    assert price is not None and price.actual > price.planned
    assert {line.id for line in price.lines if line.from_log} >= {"labour:lead"}
    assert "Direct cost of the job" in body(call.get("/learned"))
    soil = next(line for line in json.loads(firm.plan_json)["supply"]["order"] if line["kind"] == "soil")
    receipts.add(
        office.book, job, line=soil["item"], received=soil["packs"] + 2, unit=soil["unit"], at=office.clock(), by=""
    )
    (again,) = finished_days(office.settings, office.book, on=ON)
    more = next(line for line in again.told.price.lines if line.id == "materials")
    assert float(more.actual - more.planned) == pytest.approx(2 * float(soil["unit_price"]))


def test_goods_used_are_noted_on_the_log_and_counted(firm, call, office):
    job = firm.job(OWN, ratio=1.0)
    at = f"/jobs/{job}/log"
    page = call.get(at).text
    assert "Goods used" in page
    soil = next(line for line in json.loads(firm.plan_json)["supply"]["order"] if line["kind"] == "soil")
    good = {"once": once(page), "kind": "used", "subject": soil["item"], "amount": "3,5", "at": "20:10"}
    assert call.post(at, data=good).status_code == 303
    for fault in ({"subject": "unobtainium"}, {"amount": "much"}, {"amount": "-1"}, {"amount": ""}):
        refused = call.post(at, data={**good, "once": str(UUID(int=3)), **fault})
        assert refused.status_code == 422, fault
    kept = [row.event for row in events.all_of(office.book, job) if row.event.kind == "used"]
    assert [(event.subject, event.body) for event in kept] == [(soil["item"], {"amount": 3.5, "unit": soil["unit"]})]
    assert f"3.5 {soil['unit']}" in body(call.get(at))
    assert [(row.sort, row.used) for row in firm.known().goods] == [("soil", 3.5)]
