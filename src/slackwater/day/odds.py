"""The odds of the day in local times: what simulated days say of it, what to leave out when it runs late."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from slackwater.day.activities import Minutes
from slackwater.day.model import DayProblem, Schedule
from slackwater.day.policy import Policy, order_among, policy_of
from slackwater.day.problem import SAFE_STATE
from slackwater.day.replay import Floats, replay
from slackwater.day.result import (
    ClockOdds,
    Critical,
    DayHours,
    DayOdds,
    DayRisk,
    Drop,
    LatestStart,
    Odds,
    ProgressGate,
)
from slackwater.day.risk import Chance, Outcome, Risk, simulate
from slackwater.day.when import Clockface
from slackwater.figure import Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog, Mishap
from slackwater.job.model import Job

LIKELY = 0.8
"""A day that closes in time less often than this is only to be begun with a fallback agreed; common practice, no source."""
OFTEN_CRITICAL = 0.2
"""Critical on fewer days than this, an activity is left out of the picture of what decides."""
ROUNDED_MIN = 5
"""Simulated finishes are told to this: planned minutes are no better."""
BAND = 1.645
"""Standard errors to the 5 and 95 % ends of a band, of the normal distribution."""
CARRIED_BY_LIFT, TAKES_TWO = "lift_out", "helper_late"
"""Mishaps that need a lift on the way, and more than one person."""
CARPET, EPIPHYTES, HARDSCAPE, CLEARED_AWAY = "E22", "E21", ("E17", "E18", "E19"), "E29"
SOURCE = "simulated days: three-point minutes of the activity table, table of mishaps, pace of the day; docs/reference/risk.md"


def mishaps_of(job: Job, catalog: Catalog, *, people: int) -> tuple[Mishap, ...]:
    """The mishaps that can strike this job.

    Parameters
    ----------
    job, catalog : Job, Catalog
        What is known; without a lift on the way none can be out.
    people : int
        Who is booked; one person alone waits for no helper.
    """
    return tuple(
        row
        for row in catalog.mishaps.values()
        if row.probability > 0
        and not (row.id == CARRIED_BY_LIFT and job.site.lift is None)
        and not (row.id == TAKES_TWO and people < 2)
    )


def day_risk(
    problem: DayProblem,
    schedule: Schedule,
    *,
    spans: Mapping[str, Minutes],
    mishaps: Sequence[Mishap],
    catalog: Catalog,
    face: Clockface,
    seed: int,
) -> DayRisk:
    """The odds of a planned day, as people read them.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer.
    spans : mapping of str to Minutes
        Three-point minutes by activity.
    mishaps : sequence of Mishap
        What may befall activities.
    catalog, face : Catalog, Clockface
        Words of clocks, and local times.
    seed : int
        Same seed, same days.
    """
    points = [item.activity for item in schedule.placed if catalog.activities[item.activity].hold_point]
    risk = simulate(problem, schedule, spans, mishaps, np.random.default_rng(seed), hold_points=points)
    critical = sorted(
        (Critical(activity=name, share=share) for name, share in risk.critical_shares.items() if share > 0),
        key=lambda item: (-item.share, item.activity),
    )
    often = {item.activity for item in critical if item.share >= OFTEN_CRITICAL}
    return DayRisk(
        days=risk.days,
        seed=seed,
        as_planned=_odds(risk.as_planned, catalog, face),
        with_gates=_odds(risk.with_gates, catalog, face),
        gates=tuple(
            ProgressGate(
                clock=gate.clock,
                what=_clock_words(gate.clock, catalog),
                opener=gate.opener,
                after=gate.after,
                adds_a_wait=gate.adds_a_wait,
            )
            for gate in risk.gates
        ),
        critical=tuple(critical),
        waits=order_among(policy_of(problem, schedule), often),
        latest_starts=_latest(risk, points, face),
        mishaps=tuple(row.id for row in mishaps),
        hours=tuple(DayHours(**group.model_dump()) for group in risk.groups),
    )


def _clock_words(clock: str, catalog: Catalog) -> str:
    # The two spans of a filter on the barrel are no rows of their own: off the pump its media lie damp.
    return (catalog.clocks.get(clock) or catalog.clocks["media.drained_damp"]).what


def _share(chance: Chance) -> Odds:
    return Odds(share=chance.share, standard_error=chance.standard_error)


def _odds(outcome: Outcome, catalog: Catalog, face: Clockface) -> DayOdds:
    return DayOdds(
        done_by_closing=_share(outcome.done_by_closing),
        hours_kept=_share(outcome.hours_kept),
        clocks_kept=_share(outcome.clocks_kept),
        everything_holds=_share(outcome.everything_holds),
        clocks=tuple(
            ClockOdds(
                clock=item.clock,
                what=_clock_words(item.clock, catalog),
                kept=_share(item.kept),
                over_p95_min=round(item.excess_p95_min),
            )
            for item in outcome.clocks
        ),
        finish_mean_min=round(outcome.finish_mean_min),
        finish_p50_min=round(outcome.finish_p50_min),
        finish_p80_min=round(outcome.finish_p80_min),
        finish_p95_min=round(outcome.finish_p95_min),
        finish_mean=face.moment(round(outcome.finish_mean_min)),
        finish_p50=face.moment(round(outcome.finish_p50_min)),
        finish_p80=face.moment(round(outcome.finish_p80_min)),
        finish_p95=face.moment(round(outcome.finish_p95_min)),
    )


def _latest(risk: Risk, points: Sequence[str], face: Clockface) -> tuple[LatestStart, ...]:
    found = []
    for name in points:
        minute = risk.latest_start_min.get(name)
        found.append(LatestStart(activity=name, at=None if minute is None else face.moment(minute)))
    return tuple(found)


def drops_of(
    problem: DayProblem, schedule: Schedule, *, carpet_share: float, spans: Mapping[str, Minutes]
) -> tuple[Drop, ...]:
    """What to leave out when the day runs late, and how much earlier it then ends.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer.
    carpet_share : float
        Share of the planting minutes that carpet and foreground take [0..1].
    spans : mapping of str to Minutes
        Three-point minutes: simpler hardscape takes the low ones.

    Returns
    -------
    tuple of Drop
        In the order in which to leave them out, each on top of those before it. One that then saves nothing is not told.

    Notes
    -----
    The order of people and places is kept. A late day has run past the planned times of all that starts a clock, so
    these hold nothing back.
    """
    policy = policy_of(problem, schedule)
    placed = set(policy.activities)
    simpler = {
        name: spans[name].low / spans[name].typical for name in HARDSCAPE if name in spans and spans[name].typical > 0
    }
    left_out: Mapping[str, Mapping[str, float]] = {
        "carpet_later": {CARPET: 1 - carpet_share},
        "epiphytes_later": {EPIPHYTES: 0.0},
        "simpler_hardscape": simpler,
        "overnight": dict.fromkeys(placed - SAFE_STATE - {CLEARED_AWAY}, 0.0),
    }
    free = replace(policy, not_before=tuple(min(0, start) for start in policy.not_before))
    planned = np.array(policy.planned_min[: len(policy.activities)], dtype=float)
    minutes, finish = planned, _finish(free, planned)
    found = []
    for name, shares in left_out.items():
        minutes = np.minimum(minutes, planned * [shares.get(activity, 1.0) for activity in policy.activities])
        earlier = _finish(free, minutes)
        if round(finish - earlier) > 0:
            found.append(Drop(id=name, saves_min=round(finish - earlier)))
            finish = earlier
    return tuple(found)


def _finish(policy: Policy, minutes: Floats) -> float:
    return float(replay(policy, minutes).finish[0])


def odds_findings(risk: DayRisk, *, finish_min: int, closes_min: int, face: Clockface) -> list[Finding]:
    """How likely the day is to hold, and whether it must be expected to end late.

    Parameters
    ----------
    risk : DayRisk
        What the simulated days say.
    finish_min, closes_min : int
        Planned end, and end of access [min].
    face : Clockface
        Local times.
    """
    planned, closes = risk.as_planned, face.shown(closes_min)
    found = []
    late_min = planned.finish_mean_min - closes_min
    if late_min > 0:
        found.append(
            Finding(
                id="day.expected_ends_late",
                severity=Severity.CONDITION,
                values={
                    "expected": face.shown(_rounded(planned.finish_mean_min)),
                    "finish": face.shown(finish_min),
                    "closes": closes,
                    "late_min": late_min,
                },
                margin=-late_min,
                margin_unit="min",
            )
        )
    closing = planned.done_by_closing
    # A share that the count cannot tell from the threshold is taken as below it.
    unlikely = closing.share - 2 * closing.standard_error < LIKELY
    found.append(
        Finding(
            id="day.odds",
            severity=Severity.CONDITION if unlikely else Severity.NOTE,
            values={
                "closing": closing.share,
                "closes": closes,
                "clocks": planned.clocks_kept.share,
                "everything": planned.everything_holds.share,
                "p80": face.shown(_rounded(planned.finish_p80_min)),
                "days": risk.days,
            },
            margin=closing.share - LIKELY,
        )
    )
    return found


def _rounded(minute: int) -> int:
    return ROUNDED_MIN * round(minute / ROUNDED_MIN)


def odds_figures(risk: DayRisk) -> list[Figure]:
    """The shares with the band of the count, and the simulated finish, each with what it was reckoned from."""
    inputs: Mapping[str, float | str] = {
        "days": risk.days,
        "seed": risk.seed,
        "mishaps": ", ".join(risk.mishaps) or "none",
    }
    figures = []
    for rule, odds in (("", risk.as_planned), ("_with_gates", risk.with_gates)):
        shares = {
            "done_by_closing": (
                odds.done_by_closing,
                "share of simulated days on which the last activity ends by closing",
            ),
            "hours_kept": (odds.hours_kept, "share of simulated days on which absences and quiet hours are kept"),
            "clocks_kept": (odds.clocks_kept, "share of simulated days on which every clock is kept"),
            "everything_holds": (odds.everything_holds, "share of simulated days on which all of these hold"),
        }
        shares |= {
            f"clock_kept.{item.clock}": (item.kept, "share of simulated days on which this clock is kept")
            for item in odds.clocks
        }
        for name, (chance, formula) in shares.items():
            reach = BAND * chance.standard_error
            figures.append(
                Figure(
                    id=f"day.odds{rule}.{name}",
                    value=round(chance.share, 4),
                    unit="",
                    low=round(max(0.0, chance.share - reach), 4),
                    high=round(min(1.0, chance.share + reach), 4),
                    formula=f"{formula}; band: of the count, 1.645 sqrt(p (1 - p) / n)",
                    source=SOURCE,
                    inputs=inputs,
                )
            )
        figures.append(
            Figure(
                id=f"day.finish_simulated{rule}_min",
                value=float(odds.finish_mean_min),
                unit="min",
                high=float(odds.finish_p95_min),
                formula="mean of the last end over all simulated days; high: 95 of 100 days are done by then",
                source=SOURCE,
                inputs={**inputs, "finish_p50_min": odds.finish_p50_min, "finish_p80_min": odds.finish_p80_min},
            )
        )
    return figures
