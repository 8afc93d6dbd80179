from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from slackwater.actions.office import open_office
from slackwater.actions.plan_work import PLAN, Wanted, place_of
from slackwater.actions.settings import read_settings
from slackwater.book import jobs, plans, tasks
from slackwater.job.load import read_job
from slackwater.paper.shown import write_shown
from slackwater.reader import ENGLISH
from slackwater.web.app import create_app
from tests.plans import HARDLY, catalog, plan_of
from tests.web.client import Caller

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
EXAMPLE = Path("examples/light-well.toml").read_text(encoding="utf-8")


@pytest.fixture
def settings(tmp_path):
    return read_settings({"SLACKWATER_HOME": str(tmp_path / "home")})


@pytest.fixture
def office(settings):
    with open_office(settings, clock=lambda: NOW, workers=1) as opened:
        yield opened


@pytest.fixture
def app(settings, office):
    made = create_app(settings, clock=lambda: NOW)
    made.state.office = office
    return made


@pytest.fixture
def call(app):
    return Caller(app)


@pytest.fixture(scope="session")
def computed(tmp_path_factory):
    """What the screen reads of one example, made once: planning takes the time of all other tests together."""
    folder = tmp_path_factory.mktemp("computed") / "metric"
    plan = plan_of("light-well", effort=HARDLY)
    write_shown(plan, read_job(EXAMPLE, file_name="job"), catalog(), folder, reader=ENGLISH)
    return folder


@pytest.fixture
def job_id(office):
    return jobs.create(office.book, text=EXAMPLE, at=NOW, by="").id


def put_plan(office, computed, wanted):
    """Lay a computed plan where the office looks for the one that is wanted, as if a task had made it."""
    place = place_of(office.settings, office.book, wanted, on=NOW.date())
    shutil.copytree(computed, place.folder)
    plan_json = (computed / "plan.json").read_text(encoding="utf-8")
    if not wanted.changes:
        plans.keep(office.book, wanted.job_id, wanted.version, plan_json=plan_json, inputs_hash=place.hash, at=NOW)
    task = tasks.add(office.book, kind=PLAN, arguments=wanted.arguments(), at=NOW, by="", job_id=wanted.job_id)
    tasks.start(office.book, task.id, at=NOW)
    tasks.finish(office.book, task.id, result=place.hash, at=NOW)
    return task


@pytest.fixture
def planned(office, computed, job_id):
    """A job with a plan."""
    put_plan(office, computed, Wanted(job_id, 1, "metric"))
    return job_id
