"""Public scheduling instances: published makespans, proved. Our own tiny ones always run, the others where they are."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from bench.instances import from_sch, from_sm, load_folder
from bench.scheduling import THOROUGH, main
from slackwater.day.check import broken_rules
from slackwater.day.model import Status
from slackwater.day.solve import solve

OWN = Path(__file__).parent / "instances"
ROOT = Path(__file__).resolve().parents[2]
SHARED = Path(os.environ.get("SLACKWATER_INSTANCES", ROOT.parent / "shared" / "bench" / "scheduling"))
PUBLISHED = 12
"""Instances of the public sets that we keep beside the project."""


def as_published(instance):
    answer = solve(instance.problem, effort=THOROUGH)
    if instance.best_known is None:
        assert answer.status is Status.IMPOSSIBLE
        return
    assert (answer.status, answer.finish_min) == (Status.PROVED, instance.best_known)
    assert broken_rules(instance.problem, answer) == ()
    assert answer.doubts == ()


@pytest.mark.parametrize("instance", load_folder(OWN), ids=lambda instance: instance.name)
def test_our_own_instances_have_the_value_that_was_argued(instance):
    as_published(instance)


def test_the_published_instances_have_the_published_value(record_property, subtests):
    if not SHARED.is_dir():
        record_property("shown", f"{PUBLISHED} instances not run: they are not beside the project")
        pytest.skip("the published instances are not beside the project")
    instances = load_folder(SHARED)
    assert len(instances) == PUBLISHED
    for instance in instances:
        with subtests.test(instance.name):
            as_published(instance)


def test_a_single_mode_file_is_read_whole():
    problem = from_sm((OWN / "tank.sm").read_text(encoding="utf-8"))
    assert [(a.id, a.after, a.modes[0].minutes, dict(a.modes[0].resources)) for a in problem.activities] == [
        ("j1", (), 0, {}),
        ("j2", ("j1",), 4, {"r0": 2}),
        ("j3", ("j1",), 3, {"r0": 2}),
        ("j4", ("j1",), 5, {"r0": 3}),
        ("j5", ("j2", "j3"), 2, {"r0": 1}),
        ("j6", ("j4", "j5"), 0, {}),
    ]
    assert [resource.capacity for resource in problem.resources] == [4]


def test_a_lag_is_a_wait_and_a_negative_one_a_hard_clock_the_other_way_round():
    problem = from_sch((OWN / "glue.sch").read_text(encoding="utf-8"))
    waits = {(str(lag.a), str(lag.b)): lag.minimum for lag in problem.lags}
    assert waits["j2.start", "j3.start"] == 20 and waits["j1.start", "j4.start"] == 12 and len(waits) == 8
    (clock,) = problem.clocks
    assert (str(clock.starts), str(clock.ends), clock.limit_min, clock.hard) == ("j1.start", "j3.start", 7, True)


@pytest.mark.parametrize(("claimed", "code"), [("9", 0), ("8", 1), ("10", 1), ("infeasible", 1)])
def test_the_bench_fails_where_a_value_is_not_the_published_one(claimed, code, tmp_path, capsys):
    shutil.copy(OWN / "tank.sm", tmp_path)
    (tmp_path / "best_known.csv").write_text(f"file,best_known\ntank.sm,{claimed}\n", encoding="utf-8")
    assert main([str(tmp_path)]) == code
    assert ("tank.sm" in capsys.readouterr().out.splitlines()[-1]) == bool(code)
