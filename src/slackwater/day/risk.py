"""The odds of a planned day: thousands of days replayed with uncertain minutes, a pace of the day and mishaps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from slackwater.day.activities import Minutes
from slackwater.day.model import DayProblem, Schedule
from slackwater.day.policy import Gate, Policy, gated, policy_of, progress_gates, waits_of
from slackwater.day.replay import SAME_MIN, Bools, Floats, Replayed, critical_shares, latest_starts, replay
from slackwater.frozen import Frozen
from slackwater.job.catalog import Mishap

DAYS = 10_000
GROUPS = 100
"""Into so many groups the days are cut for those who reckon with hours: one for each hundredth of the days."""
PERT_SHAPE = 4.0
"""Weight of the likeliest value against the two ends (Malcolm et al. 1959)."""
PACE_SIGMA = 0.08
"""Spread of the pace that all work of one day shares, on the log scale; from memory."""
STILL_LIKELY = 0.9
"""Odds of closing in time that a hold point's latest start leaves; common practice, no source."""


class Chance(Frozen):
    """A probability counted on simulated days."""

    share: float
    """[0..1]"""
    standard_error: float
    """Of the count, sqrt(p (1 - p) / n). With none or all of n days it is zero, and up to 3 / n is still possible."""


class ClockRisk(Frozen):
    """One clock over all days."""

    clock: str
    kept: Chance
    excess_p95_min: float
    """Minutes over the limit, all pieces together, that 95 of 100 days do not exceed."""


class Outcome(Frozen):
    """What becomes of the days under one policy."""

    done_by_closing: Chance
    hours_kept: Chance
    """Nobody works while they should be away, and nothing noisy in quiet hours."""
    clocks: tuple[ClockRisk, ...]
    clocks_kept: Chance
    """All clocks on the same day; 1 where none runs."""
    everything_holds: Chance
    """Done by closing, hours kept, and every clock kept, on the same day. A break that comes late is not counted."""
    finish_mean_min: float
    finish_p50_min: float
    finish_p80_min: float
    finish_p95_min: float


class DayGroup(Frozen):
    """Equally many simulated days, of those that end at about the same minute."""

    ends_min: Mapping[str, float]
    """By person: mean of the end of their last work, from the start of access."""
    finish_min: float
    """Mean of the end of the last activity."""
    closed_kept: int
    """Days done by closing on which every clock is kept."""
    closed_broken: int
    late_kept: int
    late_broken: int


class Risk(Frozen):
    """The odds of a planned day."""

    days: int
    as_planned: Outcome
    gates: tuple[Gate, ...]
    with_gates: Outcome
    """The same days when clock openers also wait for their gates."""
    critical_shares: Mapping[str, float]
    """By activity: share of the days on which one minute more of it ends the day later."""
    latest_start_min: Mapping[str, int | None]
    """By hold point: the latest start after which all that follows ends by closing on 90 of 100 days; None if no start does."""
    groups: tuple[DayGroup, ...] = ()
    """The days as planned in groups of equally many, from the earliest finish to the latest."""


class RobustChoice(Frozen):
    """The plan of several that holds most often."""

    chosen: int
    """Its place among the candidates."""
    ranked: tuple[Chance, ...]
    """Odds that everything holds on the days that the candidates were ranked by."""
    reported: Chance
    """The same odds of the chosen one on fresh days: what may be told."""

    @property
    def optimism(self) -> float:
        """How much better the chosen one looked on the days that it was chosen by."""
        return self.ranked[self.chosen].share - self.reported.share


def pert(span: Minutes, rng: np.random.Generator, size: int) -> Floats:
    """Minutes drawn from the PERT distribution, a beta distribution between low and high with its mode at typical.

    Parameters
    ----------
    span : Minutes
        Three points [min]; must run upwards.
    rng : numpy.random.Generator
        Source of the draws; nothing is drawn where there is no spread.
    size : int
        How many.

    Returns
    -------
    (size,) float
        Draws with mean (low + 4 typical + high) / 6 [min].

    Raises
    ------
    ValueError
        If the three points do not run upwards.

    References
    ----------
    Malcolm, Roseboom, Clark and Fazar (1959), Operations Research 7(5), 646-669.
    """
    if not span.low <= span.typical <= span.high:
        raise ValueError(f"minutes {span.low}, {span.typical}, {span.high} must run upwards")
    width = span.high - span.low
    if width == 0:
        return np.full(size, float(span.typical))
    draws = rng.beta(
        1 + PERT_SHAPE * (span.typical - span.low) / width, 1 + PERT_SHAPE * (span.high - span.typical) / width, size
    )
    draws *= width
    draws += span.low
    return draws


def draw_minutes(
    problem: DayProblem,
    schedule: Schedule,
    spans: Mapping[str, Minutes],
    mishaps: Sequence[Mishap],
    rng: np.random.Generator,
    *,
    days: int = DAYS,
    pace_sigma: float = PACE_SIGMA,
) -> Floats:
    """Minutes of every placed activity on every day.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer.
    spans : mapping of str to Minutes
        Three points of activities in any one unit: they are scaled so that the likeliest value is the planned minutes.
        An activity that is not named takes its planned minutes on every day, such as what is done already. One without
        crew, a wait, does not follow the day's pace.
    mishaps : sequence of Mishap
        What may befall activities; each strikes on its own.
    rng : numpy.random.Generator
        Source of all draws. They come in the order of the problem and not of the schedule, so that two schedules of
        one problem meet the same days from the same seed.
    days : int
        How many days.
    pace_sigma : float
        Spread of the day's pace on the log scale [0 and up].

    Returns
    -------
    (days, activities) float
        [min], in the order of the schedule; an activity's days lie side by side in memory.
    """
    column = {item.activity: place for place, item in enumerate(schedule.placed)}
    planned = {item.activity: item.end - item.start for item in schedule.placed}
    minutes = np.empty((len(column), days))
    for name, place in column.items():
        minutes[place].fill(planned[name])
    pace = np.exp(pace_sigma * rng.standard_normal(days))
    for activity in problem.activities:
        span = spans.get(activity.id)
        if span is None or span.typical <= 0:
            continue
        drawn = pert(span, rng, days)
        if activity.id in column:
            place = column[activity.id]
            np.multiply(drawn, planned[activity.id] / span.typical, out=minutes[place])
            if schedule.placed[place].crew:
                minutes[place] *= pace
    known = {activity.id for activity in problem.activities}
    for mishap in mishaps:
        if mishap.activity not in known:
            continue
        struck = np.flatnonzero(rng.random(days) < mishap.probability)
        extra = pert(Minutes(mishap.extra_low_min, mishap.extra_typical_min, mishap.extra_high_min), rng, len(struck))
        if mishap.activity in column:
            minutes[column[mishap.activity], struck] += extra
    return minutes.T


def draw_waits(problem: DayProblem, rng: np.random.Generator, *, days: int = DAYS) -> Floats:
    """Minutes of every wait that is not kept by the watch, on every day.

    Parameters
    ----------
    problem : DayProblem
        Its lags with a spread, each wait once.
    rng : numpy.random.Generator
        Source of the draws, which are PERT with the planned minutes as the likeliest. Nobody works, so the pace of the
        day is not theirs.
    days : int
        How many days.

    Returns
    -------
    (days, waits) float
        [min], in the order of the problem and so of each of its policies.
    """
    waits = [pert(Minutes(low, planned, high), rng, days) for _, planned, (low, high) in waits_of(problem)]
    return np.array(waits).reshape(len(waits), days).T


def simulate(
    problem: DayProblem,
    schedule: Schedule,
    spans: Mapping[str, Minutes],
    mishaps: Sequence[Mishap],
    rng: np.random.Generator,
    *,
    days: int = DAYS,
    hold_points: Sequence[str] = (),
) -> Risk:
    """The odds of a planned day.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer.
    spans : mapping of str to Minutes
        Three-point minutes by activity, see ``draw_minutes``.
    mishaps : sequence of Mishap
        What may befall activities.
    rng : numpy.random.Generator
        Source of all draws.
    days : int
        How many days to replay.
    hold_points : sequence of str
        Activities whose latest start is asked for; one that is not placed is left out.

    Returns
    -------
    Risk
        Odds as planned and with gates, on the same days.
    """
    policy = policy_of(problem, schedule)
    minutes = draw_minutes(problem, schedule, spans, mishaps, rng, days=days)
    waits = draw_waits(problem, rng, days=days)
    replayed = replay(policy, minutes, waits)
    as_planned = _outcome(policy, replayed, problem.closes_min)
    gates = progress_gates(policy, problem)
    with_gates = as_planned
    if any(gate.adds_a_wait for gate in gates):
        waiting = gated(policy, gates)
        with_gates = _outcome(waiting, replay(waiting, minutes, waits), problem.closes_min)
    placed_points = tuple(name for name in dict.fromkeys(hold_points) if name in policy.activities)
    return Risk(
        days=days,
        as_planned=as_planned,
        gates=gates,
        with_gates=with_gates,
        critical_shares=critical_shares(policy, minutes, replayed, waits),
        latest_start_min=_still_likely(policy, minutes, waits, problem.closes_min, placed_points),
        groups=_groups(policy, schedule, replayed, problem.closes_min),
    )


def _groups(policy: Policy, schedule: Schedule, replayed: Replayed, closes_min: int) -> tuple[DayGroup, ...]:
    finish = replayed.finish
    kept = np.ones(finish.shape, dtype=np.bool_)
    for excess in _over(policy, replayed).values():
        kept &= excess <= SAME_MIN
    closed = finish <= closes_min + SAME_MIN
    columns: dict[str, list[int]] = {}
    for column, item in enumerate(schedule.placed):
        for person in item.crew:
            columns.setdefault(person, []).append(column)
    ends = {person: replayed.end[:, mine].max(axis=1) for person, mine in sorted(columns.items())}
    return tuple(
        DayGroup(
            ends_min={person: round(float(last[days].mean()), 1) for person, last in ends.items()},
            finish_min=round(float(finish[days].mean()), 1),
            closed_kept=int(np.count_nonzero(closed[days] & kept[days])),
            closed_broken=int(np.count_nonzero(closed[days] & ~kept[days])),
            late_kept=int(np.count_nonzero(~closed[days] & kept[days])),
            late_broken=int(np.count_nonzero(~closed[days] & ~kept[days])),
        )
        for days in np.array_split(np.argsort(finish, kind="stable"), min(GROUPS, finish.size))
    )


def _over(policy: Policy, replayed: Replayed) -> dict[str, Floats]:
    """Minutes of each clock over its limit, all pieces together, on every day."""
    over: dict[str, Floats] = {}
    for piece in policy.pieces:
        ran = replayed.at[policy.event(piece.ends)] - replayed.at[policy.event(piece.starts)]
        excess = np.maximum(ran - piece.limit_min, 0.0)
        over[piece.clock] = over[piece.clock] + excess if piece.clock in over else excess
    return over


def choose_robust(
    problem: DayProblem,
    candidates: Sequence[Schedule],
    spans: Mapping[str, Minutes],
    mishaps: Sequence[Mishap],
    *,
    rank_seed: int,
    report_seed: int,
    days: int = DAYS,
) -> RobustChoice:
    """The candidate for which everything holds most often, and what that is worth on days it was not chosen by.

    Parameters
    ----------
    problem : DayProblem
        The question that all candidates answer.
    candidates : sequence of Schedule
        At least one. Where everything holds equally often, the one that keeps all clocks more often is taken, and of
        equals the first.
    spans, mishaps
        As in ``simulate``.
    rank_seed, report_seed : int
        Seeds of the days to rank by, the same for each candidate, and of fresh days to report on; must differ.
    days : int
        How many days for each.

    Raises
    ------
    ValueError
        If there is no candidate, or the two seeds are one: the best of several always looks better than it is on the
        days that made it the best.
    """
    if not candidates:
        raise ValueError("no candidates to choose from")
    if rank_seed == report_seed:
        raise ValueError("rank on one seed and report on another")

    def outcome(schedule: Schedule, seed: int) -> Outcome:
        rng = np.random.default_rng(seed)
        minutes = draw_minutes(problem, schedule, spans, mishaps, rng, days=days)
        waits = draw_waits(problem, rng, days=days)
        policy = policy_of(problem, schedule)
        return _outcome(policy, replay(policy, minutes, waits), problem.closes_min)

    ranked = [outcome(schedule, rank_seed) for schedule in candidates]
    chosen = max(range(len(ranked)), key=lambda n: (ranked[n].everything_holds.share, ranked[n].clocks_kept.share))
    reported = outcome(candidates[chosen], report_seed)
    return RobustChoice(
        chosen=chosen,
        ranked=tuple(one.everything_holds for one in ranked),
        reported=reported.everything_holds,
    )


def _chance(hits: Bools) -> Chance:
    share = float(np.count_nonzero(hits)) / hits.size
    return Chance(share=share, standard_error=(share * (1 - share) / hits.size) ** 0.5)


def _outcome(policy: Policy, replayed: Replayed, closes_min: int) -> Outcome:
    finish = replayed.finish
    closed = finish <= closes_min + SAME_MIN
    hours = np.ones(finish.shape, dtype=np.bool_)
    for element, spans in enumerate(policy.shut):
        start, end = replayed.at[2 * element], replayed.at[2 * element + 1]
        for left, right in spans:
            hours &= (end <= left + SAME_MIN) | (start >= right - SAME_MIN)
    all_clocks = np.ones(finish.shape, dtype=np.bool_)
    clocks = []
    for name, excess in _over(policy, replayed).items():
        kept = excess <= SAME_MIN
        all_clocks &= kept
        p95 = float(np.quantile(excess, 0.95)) if np.count_nonzero(kept) < kept.size else 0.0
        clocks.append(ClockRisk(clock=name, kept=_chance(kept), excess_p95_min=p95))
    p50, p80, p95 = np.quantile(finish, (0.5, 0.8, 0.95))
    return Outcome(
        done_by_closing=_chance(closed),
        hours_kept=_chance(hours),
        clocks=tuple(clocks),
        clocks_kept=_chance(all_clocks),
        everything_holds=_chance(closed & hours & all_clocks),
        finish_mean_min=float(finish.mean()),
        finish_p50_min=float(p50),
        finish_p80_min=float(p80),
        finish_p95_min=float(p95),
    )


def _still_likely(
    policy: Policy, minutes: Floats, waits: Floats, closes_min: int, hold_points: Sequence[str]
) -> dict[str, int | None]:
    """The latest whole minute from which enough of the days still close in time."""
    if not hold_points:
        return {}
    latest = latest_starts(policy, minutes, waits, closes_min=closes_min)
    allowed = int((1 - STILL_LIKELY) * len(latest) + SAME_MIN)
    found: dict[str, int | None] = {}
    for name in hold_points:
        value = np.partition(latest[:, policy.activities.index(name)], allowed)[allowed]
        found[name] = int(np.floor(value + SAME_MIN)) if value >= 0 else None
    return found
