"""Why a day cannot be done: the smallest set of rules that cannot be kept together."""

from __future__ import annotations

from slackwater.day.model import DayProblem, Status
from slackwater.day.solve import Relaxed, can_fit
from slackwater.frozen import Frozen

CLOSING = "closing"


class Conflict(Frozen):
    """Rules that cannot all be kept; leaving out any one of them lets a day fit.

    Attributes
    ----------
    rules : tuple of str
        ``closing``, ``clock:<id>``, ``quiet:<reason>``, ``break:<person>``, ``away:<person>``.
    proved : bool
        Whether each step of the search was decided by proof, none by running out of effort.
    """

    rules: tuple[str, ...]
    proved: bool


def _relaxed(rules: frozenset[str]) -> Relaxed:
    def of(kind: str) -> frozenset[str]:
        return frozenset(rule.partition(":")[2] for rule in rules if rule.startswith(f"{kind}:"))

    return Relaxed(
        closing=CLOSING in rules, clocks=of("clock"), blackouts=of("quiet"), breaks=of("break"), absences=of("away")
    )


def relaxable_rules(problem: DayProblem) -> tuple[str, ...]:
    """The rules that people could change; order, places and one-thing-at-a-time are physics and stay."""
    return (
        *(f"quiet:{blackout.reason}" for blackout in problem.blackouts),
        *(f"break:{person.id}" for person in problem.people if person.rests or person.longest_stretch_min),
        *(f"away:{person.id}" for person in problem.people if person.windows != ((0, problem.horizon_min),)),
        *(f"clock:{clock.id}" for clock in problem.clocks),
        CLOSING,
    )


def smallest_conflict(problem: DayProblem, *, seconds: float, seed: int) -> Conflict:
    """A minimal set of rules that cannot be kept together, found by leaving out one rule after the other.

    Parameters
    ----------
    problem : DayProblem
        A day that does not fit.
    seconds : float
        Deterministic effort for each question to the solver.
    seed : int
        Seed of the solver.

    Notes
    -----
    Closing is tried last, because people ask first whether the day can stay as long as it is. Running out of effort
    counts as "does not fit", and then `proved` is False.
    """
    proved = True

    def fits_without(left_out: frozenset[str]) -> bool:
        nonlocal proved
        status = can_fit(problem, seconds=seconds, seed=seed, relaxed=_relaxed(left_out))
        proved = proved and status is not Status.UNKNOWN
        return status is Status.BEST_FOUND

    rules = relaxable_rules(problem)
    others = frozenset(rules) - {CLOSING}
    if not fits_without(others):
        return Conflict(rules=(CLOSING,), proved=proved)
    left_out: frozenset[str] = frozenset()
    for rule in rules:
        if not fits_without(left_out | {rule}):
            left_out |= {rule}
    return Conflict(rules=tuple(rule for rule in rules if rule not in left_out), proved=proved)
