"""The rest of a day planned from the log of a job: asked for on its page, and what to do first on the page that comes of it."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta

import pytest

from slackwater.actions.day_job import ClockNow, DayShown, Move, Replanned
from slackwater.actions.rest_work import REST, rest_file, rest_page
from slackwater.book import jobs, tasks
from slackwater.book.tasks import State
from slackwater.day.moves import EntryNow, Hours, Moved
from tests.web.conftest import NOW
from tests.web.test_plans import NOBODY, wait_for

OPENS = datetime(2027, 2, 10, 8, 0)


def at(minute):
    return OPENS + timedelta(minutes=minute)


def entry(activity, start, end, *, state="open", stop=False):
    return EntryNow(
        activity=activity,
        label=f"work {activity}",
        start=at(start),
        end=at(end),
        start_min=start,
        end_min=end,
        crew=("lead",),
        hold_point=stop,
        state=state,
    )


HOURS = Hours(
    entries=(
        entry("E1", 0, 60, state="done"),
        entry("E2", 240, 300, state="running"),
        entry("E3", 300, 330, stop=True),
    ),
    clocks=(
        ClockNow(
            clock="C1",
            what="fish in holding boxes",
            start=at(200),
            latest=at(320),
            end=at(330),
            runs=True,
            left_min=40,
            margin_min=-10,
            excess_min=10,
        ),
    ),
    moved=(
        Moved(activity="E3", label="work E3", old=at(240), new=at(300)),
        Moved(activity="E4", label="work E4", old=at(400), new=None),
    ),
)


VALUES = {"finish": "17:40", "margin_min": 20, "closes": "18:00"}


def way(move, *, finish, margin, fits):
    return Move(
        id=move,
        way="",
        values=VALUES,
        finish=finish,
        margin_min=margin,
        first_clock="",
        over_min=0,
        fits=fits,
        hours=HOURS,
    )


@pytest.fixture
def job_id(office):
    text = 'format = 1\nname = "Lobby"\n[[site.windows]]\nstart = "2027-02-10 08:00"\nend = "2027-02-10 18:00"\n'
    return jobs.create(office.book, text=text, at=NOW, by="").id


@pytest.fixture
def shown(office, job_id):
    """The address of a page as a worker process would have left it; the day is made up: it ends 20 min before closing."""
    moves = (way("keep", finish=at(580), margin=20, fits=True), way("later_end", finish=None, margin=None, fits=False))
    day = Replanned(now=at(280), opens=OPENS, closes=at(600), moves=moves, findings=())
    found = DayShown("Lobby", day, (), False)
    arguments = {"version": 1, "units": "metric", "changes": [], "at": at(280).isoformat(), "events": 0}
    task = tasks.add(office.book, kind=REST, arguments=arguments, at=NOW, by="", job_id=job_id)
    tasks.start(office.book, task.id, at=NOW)
    tasks.finish(office.book, task.id, result=task.id, at=NOW)
    file = rest_file(office.settings, task.id)
    file.parent.mkdir(parents=True)
    file.write_text(json.dumps(rest_page(found, "metric")), encoding="utf-8")
    return f"/jobs/{job_id}/rest/{task.id}"


def told(page):
    return " ".join(re.sub("<[^>]+>", " ", page.text).split())


def test_the_way_to_go_stands_first_then_its_hours_and_clocks(call, shown):
    page = told(call.get(shown))
    found = [
        page.index(words)
        for words in (
            "The rest of the day from Wed 12:40",
            "The way to go",
            "Done about 17:40, 20 min before closing at 18:00.",
            "12:00 – 13:00 lead runs work E2",
            "13:00 – 13:30 lead stop and decide work E3 (E3) Planned before: 12:00",
            "Not in these hours: work E4.",
            "fish in holding boxes: at the latest 13:20 10 min over From 11:20, stops at 13:30. 40 min left now.",
            "Every way out",
            "No day was found with:",
        )
    ]
    assert found == sorted(found)
    assert "work E1" not in page, "what is done is not planned again"
    assert "Local codes come first" in page


def test_what_is_done_leads_on_to_its_page_and_the_log_names_it(call, shown, job_id):
    task = shown.rpartition("/")[2]
    assert call.get(f"/tasks/{task}").headers["location"] == shown
    assert call.get(f"/tasks/{task}/line").headers["hx-redirect"] == shown
    assert f'href="{shown}"' in call.get(f"/jobs/{job_id}/log").text


def test_a_plan_of_the_rest_says_when_more_was_noted_since(call, shown, job_id):
    assert "More has been noted" not in call.get(shown).text
    call.post(f"/jobs/{job_id}/log", data={"kind": "noted", "at": "2027-02-10T12:50", "text": "lift stuck"})
    assert "More has been noted" in call.get(shown).text


def test_a_time_that_is_none_is_told_at_its_field(call, job_id):
    answer = call.post(f"/jobs/{job_id}/rest", data={"rest_at": "soon"})
    assert answer.status_code == 422
    assert 'id="e-log-rest_at"' in answer.text


def test_of_another_job_or_thrown_away_it_is_not_there(call, office, shown):
    other = jobs.create(office.book, text='name = "x"\n', at=NOW, by="").id
    task = shown.rpartition("/")[2]
    assert call.get(f"/jobs/{other}/rest/{task}").status_code == 404
    assert call.get(shown.replace(task, NOBODY)).status_code == 404
    rest_file(office.settings, task).unlink()
    assert call.get(shown).status_code == 404


def test_a_job_that_lacks_its_facts_ends_as_a_page_that_says_which(call, office, job_id):
    asked = call.post(f"/jobs/{job_id}/rest", data={"rest_at": "2027-02-10T12:40"})
    assert asked.status_code == 303
    ended = wait_for(office, asked.headers["location"].rpartition("/")[2])
    assert (ended.state, ended.fault) == (State.DONE, None)
    page = told(call.get(f"/jobs/{job_id}/rest/{ended.id}"))
    assert "No day can be planned for this job" in page
    assert "tank" in page
