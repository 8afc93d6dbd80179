"""A layer that was named never leaves the plan in silence."""

from __future__ import annotations

import pytest

from slackwater.finding import Severity
from slackwater.job.catalog import load_catalog
from slackwater.layout.assess import assess_bed
from slackwater.tank.assess import assess_tank
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from


def bed_of(**changes):
    job = job_from("harbour-line", **changes)
    shape = assess_tank(job, load_catalog()).result
    return assess_bed(job, load_catalog(), shape)


# The example has a base layer of 3 cm and two sand bays of 10 x 10 cm in a bed from 3 cm to 12 cm: 2 x 10 x 10 x 3 cm
# of sand are 0.6 L.
def test_every_layer_named_is_laid():
    stage = bed_of()
    laid = {layer.role: layer for layer in stage.result.layers}
    assert laid["base"].bags > 0 and laid["bay"].bulk_l == pytest.approx(0.6)
    assert "layout.layer_not_counted" not in {finding.id for finding in stage.findings}


@pytest.mark.parametrize(
    ("changes", "layer", "severity", "said"),
    [
        ({"bed.base_depth": None}, "base_lava", Severity.MISSING, "its depth is not known"),
        # With 6 cm everywhere nothing is deeper than the lowest glass, which the base keeps free.
        (
            {"bed.shape": {"form": "edges", "front": "6 cm", "rear": "6 cm"}},
            "base_lava",
            Severity.CONDITION,
            "nowhere deep enough",
        ),
        (
            {"bed.shape": {"form": "edges", "front": "0 cm", "rear": "12 cm"}},
            "quartz_sand_fine",
            Severity.CONDITION,
            "lowest glass, and that is 0",
        ),
    ],
)
def test_a_layer_of_which_nothing_is_laid_is_told(changes, layer, severity, said):
    told = [finding for finding in bed_of(**changes).findings if finding.id == "layout.layer_not_counted"]
    assert [(finding.about, finding.severity) for finding in told] == [(layer, severity)]
    assert said in finding_sentence(told[0])


def test_a_base_without_its_depth_keeps_the_bed_from_being_reckoned():
    stage = bed_of(**{"bed.base_depth": None})
    assert stage.result is None and stage.lacks == ("bed.base_depth",)


def test_a_base_of_no_depth_by_intent_is_no_finding():
    stage = bed_of(**{"bed.base_depth": "0 cm"})
    assert stage.result is not None and not stage.findings
