"""Each test of the record book's pages runs over SQLite and over a real PostgreSQL."""

from __future__ import annotations

import re
from itertools import count

import pytest

from slackwater.actions.office import open_office
from slackwater.actions.settings import read_settings
from slackwater.book import jobs
from slackwater.web.app import create_app
from tests.book import postgresql
from tests.book.conftest import server as server
from tests.web.client import Caller
from tests.web.conftest import NOW

NONE = "01900000-0000-7000-8000-000000000000"
SCRIPT = "<script>alert('x')</script>"
AT = "2027-02-01T08:30"
NUMBERS = count()


@pytest.fixture(params=["sqlite", "postgresql"])
def office(request, tmp_path):
    found = {"SLACKWATER_HOME": str(tmp_path / "home")}
    if request.param == "postgresql":
        address = request.getfixturevalue("server")
        with postgresql.schema(address, f"web_{next(NUMBERS)}") as place:
            yield from _opened(read_settings({**found, "SLACKWATER_DATABASE": place}))
    else:
        yield from _opened(read_settings(found))


def _opened(settings):
    with open_office(settings, clock=lambda: NOW, workers=1) as opened:
        yield opened


@pytest.fixture
def call(office):
    app = create_app(office.settings, clock=lambda: NOW)
    app.state.office = office
    return Caller(app)


@pytest.fixture
def other(office):
    return jobs.create(office.book, text='name = "other"\n', at=NOW, by="").id


def once(page):
    return re.search(r'name="once" value="([^"]+)"', page)[1]


def body(answer):
    return answer.text.partition("<footer")[0]
