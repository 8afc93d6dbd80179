"""The start page and the calendar feed."""

from __future__ import annotations

import json
import re
import shutil
from datetime import UTC, datetime, timedelta

from slackwater.actions.demo import DEMO, lay_in_demo
from slackwater.actions.plan_work import Wanted, forget_computed, place_of
from slackwater.book import erasing, jobs, tasks
from slackwater.book.places import TextPlace
from slackwater.web.app import create_app
from tests.web.client import Caller
from tests.web.conftest import EXAMPLE, NOW


def job_on(office, day, name="Corner tank"):
    text = f'name = "{name}"\n[[site.windows]]\nkind = "day"\nstart = "{day} 08:00"\nend = "{day} 18:00"\n'
    return jobs.create(office.book, text=text, at=NOW, by="").id


def test_an_empty_book_says_how_to_begin(call):
    page = call.get("/").text
    assert "The book holds no job yet" in page
    assert 'href="/jobs/new"' in page


def test_jobs_stand_in_the_order_of_their_days(call, office):
    later, sooner = job_on(office, "2027-03-20", "Later"), job_on(office, "2027-02-20", "Sooner")
    page = call.get("/").text
    assert page.index(f"/jobs/{sooner}") < page.index(f"/jobs/{later}")


def test_a_job_that_is_near_and_has_no_plan_is_an_alarm(call, office):
    near, far = job_on(office, "2027-02-10"), job_on(office, "2027-04-10")
    alarms = call.get("/").text.split('id="alarms"')[1].split("</section>")[0]
    assert f"/jobs/{near}/plan" in alarms
    assert f"/jobs/{far}/plan" not in alarms


def test_work_in_hand_is_told_with_the_name_of_its_job(call, office):
    job = job_on(office, "2027-03-01", "Corner tank")
    tasks.add(office.book, kind="plan", arguments={"version": 1}, at=NOW, by="", job_id=job)
    working = call.get("/").text.split('id="working"')[1].split("</section>")[0]
    assert "Corner tank" in working and "Waiting for its turn" in working


def test_a_job_without_a_day_is_not_lost(call, office):
    undated = jobs.create(office.book, text='name = "First call"\n', at=NOW, by="").id
    page = call.get("/").text
    assert "Jobs without a day" in page
    assert f"/jobs/{undated}" in page


def test_a_job_whose_text_another_program_reworded_is_found_planned(call, office, planned, computed):
    object.__setattr__(office, "clock", lambda: datetime(2027, 10, 1, 8, 0, tzinfo=UTC))
    assert "Does not fit." in call.get("/").text
    reworded = EXAMPLE.replace('name = "', 'name = "Other ', 1)
    erasing.replace_text(office.book, TextPlace("version", f"{planned}/1", "text"), reworded, at=NOW, by="")
    forget_computed(office.settings)
    assert "Does not fit." not in call.get("/").text
    place = place_of(office.settings, office.book, Wanted(planned, 1, "metric"), on=NOW.date())
    shutil.copytree(computed, place.folder)
    assert "Does not fit." in call.get("/").text


def test_a_planned_job_shows_its_verdict_and_brings_its_dates(app, call, planned, office, computed):
    # Light well is on 23 October 2027; its order and preparation dates lie in the weeks before.
    object.__setattr__(office, "clock", lambda: datetime(2027, 10, 1, 8, 0, tzinfo=UTC))
    page = call.get("/").text
    assert "Does not fit." in page
    due = page.split('id="due"')[1].split("</section>")[0]
    # Soil and dry goods two weeks before, plants one week before: each date once, whatever is to be ordered by it.
    assert due.count(">order by<") == 2
    assert "lines)" not in due
    told = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    assert len(told["orders"]) > 10
    # Wood is ordered six weeks before, for it soaks: that date is past on 1 October, and a date that is past is none of the next.
    for on, name in told["orders"]:
        assert (name in due) == (on >= "2027-10-01"), (on, name)
    assert "visit" in due
    days = [datetime.strptime(f"{day} 2027", "%d %b %Y") for day in re.findall(r"<strong>\w{3} (\d\d \w{3})", due)]
    assert len(days) > 5
    assert days == sorted(days)


def test_a_full_book_shows_the_next_jobs_and_the_way_to_the_others(call, office):
    first = job_on(office, "2027-02-02")
    assert "There are more" not in call.get("/").text
    for number in range(60):
        job_on(office, "2027-03-01", f"Job {number}")
    page = call.get("/").text
    assert "There are more" in page
    assert f"/jobs/{first}" in page


def test_jobs_of_the_last_weeks_take_no_room_from_those_to_come(call, office):
    for number in range(61):
        job_on(office, "2027-01-20", f"Past {number}")
    assert f"/jobs/{job_on(office, '2027-02-20', 'To come')}" in call.get("/").text


def test_script_in_a_name_is_text(call, office):
    job_on(office, "2027-03-01", "<script>alert(1)</script>")
    page = call.get("/").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_work_that_was_cut_off_is_told_until_it_is_begun_again(call, office, job_id):
    task = tasks.add(
        office.book,
        kind="plan",
        arguments={"version": 1, "units": "metric", "changes": []},
        at=NOW,
        by="",
        job_id=job_id,
    )
    tasks.start(office.book, task.id, at=NOW)
    assert tasks.mark_broken(office.book, at=NOW) == 1
    assert f"/tasks/{task.id}" in call.get("/").text
    assert "Begin it again" in call.get(f"/tasks/{task.id}").text
    again = call.post(f"/tasks/{task.id}/restart").headers["location"]
    assert f'href="/tasks/{task.id}"' not in call.get("/").text
    call.post(f"{again}/cancel")


def test_work_that_was_cut_off_is_told_no_more_once_the_same_is_done(call, office, job_id):
    def begun(at):
        task = tasks.add(office.book, kind="plan", arguments={"version": 1}, at=at, by="", job_id=job_id)
        tasks.start(office.book, task.id, at=at)
        return task.id

    cut_off = begun(NOW)
    assert tasks.mark_broken(office.book, at=NOW) == 1
    assert f"/tasks/{cut_off}" in call.get("/").text
    later = NOW + timedelta(minutes=1)
    tasks.finish(office.book, begun(later), result="x", at=later)
    assert f"/tasks/{cut_off}" not in call.get("/").text


def events(text):
    return text.split("BEGIN:VEVENT")[1:]


def test_the_feed_holds_the_day_of_a_job_without_plan(call, office):
    job_on(office, "2027-03-20", "Corner, upstairs")
    answer = call.get("/calendar.ics")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    (event,) = events(answer.text)
    assert "DTSTART;VALUE=DATE:20270320\r\n" in event
    assert "DTEND;VALUE=DATE:20270321\r\n" in event
    assert "SUMMARY:Corner\\, upstairs\r\n" in event
    assert answer.text.endswith("END:VCALENDAR\r\n")


def test_the_feed_holds_every_date_of_a_planned_job(call, planned, computed):
    own = (computed / "calendar.ics").read_text(encoding="utf-8")
    assert len(events(call.get("/calendar.ics").text)) == len(events(own)) > 5


def test_a_change_of_the_job_keeps_the_dates_of_its_last_plan_and_says_so(call, planned, office, computed):
    object.__setattr__(office, "clock", lambda: datetime(2027, 10, 1, 8, 0, tzinfo=UTC))
    before = len(events(call.get("/calendar.ics").text))
    row = jobs.newest(office.book, planned)
    jobs.save_version(office.book, planned, row.text + "\n# a word\n", parent=1, at=NOW, by="")
    page = call.get("/").text
    assert "changed since; dates are those of version 1" in page
    assert "order by" in page.split('id="due"')[1].split("</section>")[0]
    assert len(events(call.get("/calendar.ics").text)) == before > 5


def test_visits_of_a_contract_go_on_long_after_the_day(call, planned, office):
    # The day was 23 October 2027. Nine weeks after 6 December a Monday comes again, 7 February 2028.
    object.__setattr__(office, "clock", lambda: datetime(2028, 2, 7, 8, 0, tzinfo=UTC))
    assert events(call.get("/calendar.ics").text) == []
    page = place_of(office.settings, office.book, Wanted(planned, 1, "metric"), on=NOW.date()).folder / "page.json"
    told = json.loads(page.read_text(encoding="utf-8"))
    told["steps"].append(
        {"id": "visits_open", "on": "2027-12-06", "at": "", "text": "Weekly visit", "every": 7, "until": "", "except": ["2028-02-14"]}
    )  # fmt: skip
    page.unlink()
    page.write_text(json.dumps(told), encoding="utf-8")
    due = call.get("/").text.split('id="due"')[1].split("</section>")[0]
    assert due.count("Weekly visit") == 8
    assert "07 Feb" in due and "21 Feb" in due and "14 Feb" not in due
    assert len(events(call.get("/calendar.ics").text)) > 5


def test_a_feed_that_did_not_change_is_not_sent_again(call, office):
    job_on(office, "2027-03-20")
    first = call.get("/calendar.ics")
    again = call.get("/calendar.ics", headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    job_on(office, "2027-03-21")
    assert call.get("/calendar.ics", headers={"if-none-match": first.headers["etag"]}).status_code == 200


def test_the_examples_are_laid_in_once(office):
    assert lay_in_demo(office) == 3
    assert lay_in_demo(office) == 0
    assert jobs.version(office.book, DEMO["light-well"], 1).text == EXAMPLE


def test_before_it_is_opened_the_office_says_so(settings):
    answer = Caller(create_app(settings)).get("/")
    assert answer.status_code == 503
    assert "slackwater serve" in answer.text
