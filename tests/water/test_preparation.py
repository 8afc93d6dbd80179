"""What the making of new water asks of the job before anything is reckoned."""

from __future__ import annotations

import pytest

from slackwater.water.preparation import unit_of
from tests.jobs import job_from
from tests.plans import catalog


def _unit(**told):
    ro = {"rated_flow": "60 L/day", "measured_flow": "62 L/day", **told}
    job = job_from(
        "blue-corridor", **{"preparation.ro": {key: value for key, value in ro.items() if value is not None}}
    )
    return unit_of(job.preparation.ro, catalog(), tap_conductivity_us_cm=None)


def test_a_measured_output_does_without_that_of_the_label():
    unit, _ = _unit(rated_flow=None)
    assert unit is not None and unit.middle_l_day == 62
    assert _unit(rated_flow=None, measured_flow=None)[1][0] == "preparation.ro.rated_flow"


@pytest.mark.parametrize(("told", "lacking"), [("may_run_from", "may_run_until"), ("may_run_until", "may_run_from")])
def test_one_end_of_a_run_asks_for_the_other(told, lacking):
    assert _unit(**{told: "2027-02-08 16:00"}) == (None, (f"preparation.ro.{lacking}",))
