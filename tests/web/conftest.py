from __future__ import annotations

from datetime import UTC, datetime

import pytest

from slackwater.actions.settings import read_settings
from slackwater.web.app import create_app
from tests.web.client import Caller

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)


@pytest.fixture
def app(tmp_path):
    return create_app(read_settings({"SLACKWATER_HOME": str(tmp_path)}), clock=lambda: NOW)


@pytest.fixture
def call(app):
    return Caller(app)
