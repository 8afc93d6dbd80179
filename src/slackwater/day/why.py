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
    """A minimal set of rules that cannot be kept together, found by halving.

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
    Of several such sets, it is the one that would be left if rules were given up one after the other, hours of quiet first
    and closing last, because people ask first whether the day can stay as long as it is. Conflicts are small: with k of n
    rules in them, halving asks about 2 k log2(n / k) questions, one after the other n. Running out of effort counts as
    "does not fit", and then `proved` is False.

    References
    ----------
    Junker (2004), QuickXplain: preferred explanations and relaxations for over-constrained problems, AAAI 2004, 167-172.
    """
    proved = True
    every = frozenset(relaxable_rules(problem))

    def fits(kept: frozenset[str]) -> bool:
        nonlocal proved
        status = can_fit(problem, seconds=seconds, seed=seed, relaxed=_relaxed(every - kept))
        proved = proved and status is not Status.UNKNOWN
        return status is Status.BEST_FOUND

    def needed(kept: frozenset[str], rules: tuple[str, ...], *, asked: bool) -> frozenset[str]:
        """Which of some rules it takes, beside those kept, for the day not to fit; `asked`: that they alone do fit."""
        if not asked and not fits(kept):
            return frozenset()
        if len(rules) == 1:
            return frozenset(rules)
        first, last = rules[: len(rules) // 2], rules[len(rules) // 2 :]
        of_last = needed(kept | set(first), last, asked=False)
        return of_last | needed(kept | of_last, first, asked=not of_last)

    if not fits(frozenset({CLOSING})):
        return Conflict(rules=(CLOSING,), proved=proved)
    found = needed(frozenset(), tuple(reversed(relaxable_rules(problem))), asked=True)
    return Conflict(rules=tuple(rule for rule in relaxable_rules(problem) if rule in found), proved=proved)
