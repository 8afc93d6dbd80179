"""Which water changes keep the limits: calendars tried on telling members, the least work proven on all of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, product
from math import comb, log

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange, check_range
from slackwater.living.acidity import Acidity
from slackwater.living.nitrogen import DISSOLVED
from slackwater.living.restart import (
    STEP_D,
    USUAL_LEVERS,
    Changes,
    Levers,
    Option,
    Outcome,
    Ready,
    Tank,
    Visit,
    followed,
    made_ready,
)

FloatArray = NDArray[np.float64]
Calendars = NDArray[np.int8]
"""One row for each calendar, one column for each visit day: 0 for nothing, else the number of the choice, from 1 on."""
WANTED = 0.95
MOST_CALENDARS = 10_000
ALL_OF_FEW = 0.25
"""Share of the calendars to be drawn up to which all with a number of changes are taken."""
VISIT_WORK = 1.0
SHARE_WORK = 0.4
"""Carrying half of a tank's water against coming at all; common practice, no source."""
SPARING = Levers(feed_share=0.25)
"""Feeding that animals in good flesh bear for weeks; common practice, no source."""

EARLY_DAY, FIRST_DAYS = 14, (1, 2, 3)
"""To here a test the day before a limit is reached is asked for; and the days of which one is tested on active soil."""
SCREEN_STEP_D = 1 / 2
COARSE_STEP_D = 1 / 4
"""Six hours: the probability that all limits are kept comes out within a hundredth, measured on five tanks."""
COARSE_OFF = 0.005
"""By how much a calendar may miss the wanted probability by coarse steps and still be worth full ones."""
REFERENCES = 12
"""Calendars that the whole ensemble goes through first, to find out which members tell most."""
TELLING = 6
"""References nearest to the wanted probability, or the best where none is near: who is open on these matters."""
OPEN, MOST_OPEN, FEW = 1.3, 150, 8
"""A member is open that comes within that factor of a limit, on either side, or keeps the limits on some and not on others;
how many are tried at most; and on how many of them, those nearest to the limits, all calendars are tried."""
LEAST_SLACK, SLACK_TIMES = 0.02, 2.0
"""By how much a probability by these few may be off: so many times what it was off on the telling references."""
ROUND = 1000
"""Calendars screened before it is looked whether one of them keeps the limits."""
PATIENCE, HURRY, AT_ONCE = 24.0, 1.2, 20
"""Looks at calendars that all but keep the limits, counted in coarse looks at the whole ensemble, before some are passed over,
ever more with each look; how many are tried together."""
BEST_FEW, BEST_OPEN, BEST_ALL, BEST_OFF = 100, 12, 4, 0.01
"""If none keeps the limits: the best by few members, by those open, by the whole ensemble; and how near to the best of these
one must come by coarse steps to be looked at by full ones."""
COLUMNS_AT_ONCE = 4000
"""Their arrays stay in the processor's cache."""


@dataclass(frozen=True)
class Limits:
    """What the animals bear after the restart.

    Total ammonia is held down too: soft sour water keeps it harmless until something lifts the pH.
    """

    uia_mg_l: float = 0.05
    nitrite_mg_l: float = 0.3
    tan_mg_l: float = np.inf


@dataclass(frozen=True)
class Choice:
    """What can be done on a visit.

    Attributes
    ----------
    share : float
        Of the tank's water, more than 0 and at most 1.
    water : str
        The new water's name.
    new : mapping
        What is dissolved in it, by the names of ``nitrogen.DISSOLVED``.
    work : float or None
        Against a visit without carrying, which is 1; None for the usual work of that share.
    """

    share: float
    water: str
    new: Mapping[str, float]
    work: float | None = None

    def __post_init__(self) -> None:
        """Refuse shares that are none."""
        check_range("share", self.share, 1e-6, 1.0, unit="")

    @property
    def effort(self) -> float:
        """Its work."""
        return VISIT_WORK + SHARE_WORK * self.share if self.work is None else self.work


@dataclass(frozen=True)
class Found:
    """The least work that keeps the limits, or how near the best comes.

    Attributes
    ----------
    visits : tuple
        Days with what is done on them.
    work : float
    probability : float
        That all limits are kept while animals are in the tank, by the whole ensemble.
    binding_limit : str
        ``ammonia`` (un-ionised), ``nitrite`` or ``total ammonia``: whose upper end of the band first passes its limit, or
        comes nearest to it,
    binding_day : int
        and when.
    sampling_days : tuple of int
        See ``sampling_days``.
    tried : int
        Calendars screened.
    levers : Levers
        Feeding and light that this goes with.
    """

    visits: tuple[tuple[int, Choice], ...]
    work: float
    probability: float
    binding_limit: str
    binding_day: int
    sampling_days: tuple[int, ...]
    tried: int
    levers: Levers

    @property
    def kept(self) -> bool:
        """Whether the limits are kept with the probability wanted."""
        return self.probability >= WANTED

    @property
    def changes(self) -> Changes:
        """The same as ``restart.run`` takes it."""
        return _changes(self.visits)


def _changes(visits: Iterable[tuple[int, Choice]]) -> Changes:
    known = tuple(visits)
    return Changes(
        days=tuple(float(day) for day, _ in known),
        shares=tuple(choice.share for _, choice in known),
        new=tuple(choice.new for _, choice in known),
    )


def calendars_of(
    visit_days: Sequence[int], choices: Sequence[Choice], *, number: int, rng: np.random.Generator
) -> Calendars:
    """Calendars, least work first; all of them where there are not too many.

    Parameters
    ----------
    visit_days : sequence of int
        Days on which somebody can come.
    choices : sequence of Choice
        For each of them.
    number : int
        At most so many, and not many fewer: all with few changes, and as many of each larger number of changes.
    """
    days, kinds = len(visit_days), len(choices)
    if (kinds + 1) ** days <= number:
        found = np.array(list(product(range(kinds + 1), repeat=days)), dtype=np.int8).reshape((kinds + 1) ** days, days)
    else:
        # The same choice on every day, so that the most that can be done is always among them.
        parts = [np.repeat(np.arange(1, kinds + 1, dtype=np.int8)[:, np.newaxis], days, axis=1)]
        left = number - kinds
        for count in range(days + 1):
            all_of_them = comb(days, count) * kinds**count
            share = all_of_them if all_of_them <= left * ALL_OF_FEW else left // (days + 1 - count)
            part = _with_so_many_changes(days, kinds, count, number=share, rng=rng)
            parts.append(part)
            left -= len(part)
        found = np.unique(np.vstack(parts), axis=0)
    order = np.lexsort((*found.T[::-1], work_of(found, choices)))
    return np.asarray(found[order])


def _with_so_many_changes(days: int, kinds: int, count: int, *, number: int, rng: np.random.Generator) -> Calendars:
    """Calendars with that number of changes: all, or as many as wanted, changes on early days being more often drawn."""
    if comb(days, count) * kinds**count <= number:
        found = np.zeros((comb(days, count) * kinds**count, days), dtype=np.int8)
        for row, (on, picked) in enumerate(
            product(combinations(range(days), count), product(range(kinds), repeat=count))
        ):
            found[row, list(on)] = np.array(picked, dtype=np.int8) + 1
        return found
    # The soil gives off most in the beginning.
    early = -np.arange(days) / max(1.0, days / 2)
    drawn = 2 * number
    when = np.argsort(-(early + rng.gumbel(size=(drawn, days))), axis=1, kind="stable")[:, :count]
    what = rng.integers(1, kinds + 1, size=(drawn, count))
    # Half of them always do the same, as people like to.
    what = np.where(rng.uniform(size=(drawn, 1)) < 0.5, what[:, :1], what)
    found = np.zeros((drawn, days), dtype=np.int8)
    np.put_along_axis(found, when, what.astype(np.int8), axis=1)
    _, first = np.unique(found, axis=0, return_index=True)
    return np.asarray(found[np.sort(first)[:number]])


def work_of(calendars: Calendars, choices: Sequence[Choice]) -> FloatArray:
    """Work of each calendar, all its visits with a change together."""
    effort = np.array([0.0, *(choice.effort for choice in choices)])
    # Sums that differ only by the order of their terms are equal.
    total: FloatArray = effort[calendars].sum(axis=1)
    return total.round(9)


def _over_limits(outcome: Outcome, limits: Limits, *, from_day: float) -> tuple[FloatArray, ...]:
    """Un-ionised ammonia, nitrite and total ammonia as shares of their limits, from a day on."""
    late = outcome.days >= from_day
    return (
        outcome.uia_mg_l[late] / limits.uia_mg_l,
        outcome.nitrite_mg_l[late] / limits.nitrite_mg_l,
        outcome.tan_mg_l[late] / limits.tan_mg_l,
    )


def worst_of(outcome: Outcome, limits: Limits, *, from_day: float) -> FloatArray:
    """Largest share of a limit that each member reaches while animals are in; over 1 is a limit passed."""
    shares = [values.max(axis=0) for values in _over_limits(outcome, limits, from_day=from_day)]
    return np.asarray(np.max(shares, axis=0))


def probability_kept(outcome: Outcome, limits: Limits, *, from_day: float) -> float:
    """Share of members that keep every limit from a day on."""
    return float(np.mean(worst_of(outcome, limits, from_day=from_day) <= 1.0))


@dataclass(frozen=True)
class Asked:
    """All that a search needs to know.

    Attributes
    ----------
    tank, option, acidity, drawn, oxygen_use_mg_d, protein_g_d
        As for ``restart.run``.
    visit_days : tuple of int
        Days on which somebody can come, rising.
    choices : tuple of Choice
        What can be done on each of them.
    limits : Limits
    last_day : int
        Until when the limits are to be kept.
    """

    tank: Tank
    option: Option
    visit_days: tuple[int, ...]
    choices: tuple[Choice, ...]
    acidity: Acidity
    drawn: Mapping[str, FloatArray]
    oxygen_use_mg_d: float
    protein_g_d: float
    limits: Limits
    last_day: int = 42

    def __post_init__(self) -> None:
        """Refuse days that do not come one after the other, or come too late to matter."""
        days = (0, *self.visit_days, self.last_day + 1)
        if any(later <= earlier for earlier, later in pairwise(days)):
            raise OutOfRange(f"visit_days are {self.visit_days}, expected rising days from 1 to {self.last_day}")


@dataclass(frozen=True)
class Problem:
    """Members made ready, and what the numbers in a calendar mean to them; see ``Asked``."""

    ready: Ready
    visit_days: tuple[int, ...]
    choices: tuple[Choice, ...]
    limits: Limits
    from_day: float
    last_day: int

    def of(self, members: NDArray[np.intp]) -> Problem:
        """The same with some of the members."""
        return replace(self, ready=self.ready.of(members))

    def worst(self, calendars: Calendars, *, longest_step_d: float) -> FloatArray:
        """Largest share of a limit: (members, calendars) array. Each is reckoned for itself, in whatever company."""
        members, count = self.ready.state.shape[1], len(calendars)
        # Numpy is fast along the last axis, so that is the longer one.
        along_members = members > count
        share = np.array([0.0, *(choice.share for choice in self.choices)])
        new = {name: np.array([0.0, *(choice.new.get(name, 0.0) for choice in self.choices)]) for name in DISSOLVED}
        columns = calendars.T[:, :, np.newaxis] if along_members else calendars.T
        outcome = followed(
            self.ready.repeated(count) if along_members else self.ready.side_by_side(count),
            [
                Visit(float(day), share[what], {name: values[what] for name, values in new.items()})
                for day, what in zip(self.visit_days, columns, strict=True)
                if what.any()
            ],
            last_day=self.last_day,
            longest_step_d=longest_step_d,
        )
        found = worst_of(outcome, self.limits, from_day=self.from_day)
        return found.T if along_members else found


Task = tuple[Problem, Calendars, float]
"""Some members, some calendars, the longest step [d]."""
Worst = Callable[[Task], FloatArray]
MapBatches = Callable[[Worst, Sequence[Task]], Iterable[FloatArray]]


def worst(task: Task) -> FloatArray:
    """``Problem.worst`` of a batch, as a function that can be sent to another process."""
    problem, calendars, step_d = task
    return problem.worst(calendars, longest_step_d=step_d)


@dataclass(frozen=True)
class Workers:
    """Who does the work; it does not change what is found.

    Attributes
    ----------
    map_batches : callable
        As the built-in map, or that of a pool of processes.
    columns_at_once : int
        Members times calendars in one batch.
    """

    map_batches: MapBatches = map
    columns_at_once: int = COLUMNS_AT_ONCE


ALONE = Workers()


@dataclass(frozen=True)
class _Trial:
    """How calendars are tried: in batches of bounded size, by whoever maps them."""

    problem: Problem
    workers: Workers

    @property
    def members(self) -> int:
        return int(self.problem.ready.state.shape[1])

    def of(self, calendars: Calendars, *, step_d: float, members: NDArray[np.intp] | None = None) -> FloatArray:
        """``worst`` of all members or some: (members, calendars) array."""
        if not len(calendars):
            return np.empty((self.members if members is None else members.size, 0))
        problem = self.problem if members is None else self.problem.of(members)
        count = int(problem.ready.state.shape[1])
        at_once = max(1, self.workers.columns_at_once // count)
        tasks = [(problem, calendars[first : first + at_once], step_d) for first in range(0, len(calendars), at_once)]
        # In one order of memory whatever the batches, so that sums come out the same to the last digit.
        return np.ascontiguousarray(np.hstack(list(self.workers.map_batches(worst, tasks))))


class _Search:
    """One search: the members who tell most, what has been looked at, and the stages that a calendar goes through.

    Notes
    -----
    Members that are hard without changes may be easy with them, and the other way round. So it is asked over several
    references who is open: the probability of a calendar turns on these members, the others keep the limits on all of them or
    on none.
    """

    def __init__(self, trial: _Trial, calendars: Calendars) -> None:
        self.trial, self.calendars = trial, calendars
        self.spent = 0.0
        self.coarse: dict[int, float] = {}
        self.full: dict[int, float] = {}
        number = len(calendars)
        same = np.flatnonzero((calendars == calendars[:, :1]).all(axis=1))
        spread = np.linspace(0, number - 1, max(2, REFERENCES - same.size)).astype(int)
        references = np.unique(np.concatenate([same, spread]))
        trouble = np.log(trial.of(calendars[references], step_d=COARSE_STEP_D) + 1e-9)
        chances = np.mean(trouble <= 0, axis=0)
        self.coarse.update(zip(references.tolist(), chances.tolist(), strict=True))
        telling = np.argsort(np.abs(chances - WANTED), kind="stable")[:TELLING]
        trouble, chances = trouble[:, telling], chances[telling]
        middle = trouble.mean(axis=1)
        is_open = (trouble.min(axis=1) < log(OPEN)) & (trouble.max(axis=1) > -log(OPEN))
        nearest = np.flatnonzero(is_open)[np.argsort(np.abs(middle[is_open]), kind="stable")[:MOST_OPEN]]
        if not nearest.size:
            nearest = np.argsort(np.abs(middle), kind="stable")[:FEW]
        settled = np.ones(trial.members, dtype=bool)
        settled[nearest] = False
        self.few, self.open = nearest[:FEW], nearest
        self.kept_besides = int((middle[settled] <= 0).sum())
        # A straight line from their trouble to the probability, which must not rise with trouble.
        eased = self.ease(calendars[references[telling]])
        spread_sq = float(((eased - eased.mean()) ** 2).sum())
        slope = max(0.0, float(((eased - eased.mean()) * chances).sum()) / max(spread_sq, 1e-12))
        self.line = (float(chances.mean()) - slope * float(eased.mean()), slope)
        missed = float(np.abs(self.line[0] + slope * eased - chances).max())
        self.slack = max(LEAST_SLACK, SLACK_TIMES * missed)

    def ease(self, calendars: Calendars) -> FloatArray:
        """How far below the limits the few members stay on average, in the logarithm; who is far off counts no more."""
        few = self.trial.of(calendars, step_d=SCREEN_STEP_D, members=self.few)
        return np.asarray(-np.clip(np.log(few + 1e-9), -1.0, 1.0).mean(axis=0))

    def by_open(self, calendars: Calendars) -> FloatArray:
        """Probability, with settled members taken for settled."""
        kept = (self.trial.of(calendars, step_d=COARSE_STEP_D, members=self.open) <= 1.0).sum(axis=0)
        return np.asarray((kept + self.kept_besides) / self.trial.members)

    def by_all(self, places: Sequence[int]) -> list[float]:
        """Probability by the whole ensemble, with coarse steps."""
        new = [place for place in places if place not in self.coarse]
        chances = np.mean(self.trial.of(self.calendars[new], step_d=COARSE_STEP_D) <= 1.0, axis=0)
        self.coarse.update(zip(new, chances.tolist(), strict=True))
        return [self.coarse[place] for place in places]

    def by_full_steps(self, places: Sequence[int]) -> list[float]:
        """Probability by the whole ensemble."""
        new = [place for place in places if place not in self.full]
        chances = np.mean(self.trial.of(self.calendars[new], step_d=STEP_D) <= 1.0, axis=0)
        self.full.update(zip(new, chances.tolist(), strict=True))
        return [self.full[place] for place in places]

    def first_kept(self, places: Sequence[int]) -> int | None:
        """The first of some calendars that keeps the limits."""
        open_share = self.open.size / self.trial.members
        left = list(places)
        while left:
            # Where very many all but keep the limits, not all of them can be looked at.
            every = int(HURRY ** max(0.0, self.spent - PATIENCE))
            some, left = left[: every * AT_ONCE : every], left[every * AT_ONCE :]
            for place, chance in zip(some, self.by_open(self.calendars[some]), strict=True):
                self.spent += open_share
                if chance < WANTED - COARSE_OFF:
                    continue
                self.spent += 1
                if self.by_all([place])[0] < WANTED - COARSE_OFF:
                    continue
                self.spent += COARSE_STEP_D / STEP_D
                if self.by_full_steps([place])[0] >= WANTED:
                    return place
        return None

    def most_probable(self, ease: FloatArray) -> int:
        """The most probable of all calendars, by how much the few are at ease."""
        best = np.sort(np.argsort(-ease, kind="stable")[:BEST_FEW])
        best = best[np.argsort(-self.by_open(self.calendars[best]), kind="stable")[:BEST_OPEN]]
        self.by_all(np.sort(best).tolist())
        highest = max(self.coarse.values())
        near = [place for place, chance in self.coarse.items() if chance >= highest - BEST_OFF]
        self.by_full_steps(sorted(near, key=lambda place: (-self.coarse[place], place))[:BEST_ALL])
        return min(self.full, key=lambda place: (-self.full[place], place))

    def answer(self, on_progress: Callable[[str], None]) -> tuple[int, int]:
        """Number of the calendar found, and how many were screened."""
        number = len(self.calendars)
        ease = np.empty(number)
        for first in range(0, number, ROUND):
            stop = min(first + ROUND, number)
            ease[first:stop] = self.ease(self.calendars[first:stop])
            on_progress(f"change plans: {stop} of {number}")
            promising = self.line[0] + self.line[1] * ease[first:stop] >= WANTED - self.slack
            kept = self.first_kept((first + np.flatnonzero(promising)).tolist())
            if kept is not None:
                return kept, stop
        return self.most_probable(ease), number


def least_work(
    asked: Asked,
    *,
    rng: np.random.Generator,
    levers: Sequence[Levers] = (USUAL_LEVERS,),
    number: int = MOST_CALENDARS,
    workers: Workers = ALONE,
    on_progress: Callable[[str], None] = lambda _: None,
) -> Found:
    """The calendar with the least work that keeps every limit with 95 % probability; if none does, the most probable.

    Parameters
    ----------
    rng : numpy.random.Generator
        Draws the calendars, where there are more than `number`.
    levers : sequence of Levers
        Tried one after the other, until one lets the limits be kept.
    number : int
        Calendars tried with each.

    Notes
    -----
    Calendars are gone through with rising work, so that the first that keeps the limits is the answer. Each is tried on a few
    telling members by coarse steps; those that may do on all on whom it turns; what is left on the whole ensemble, at last by
    full steps: only that decides. If very many come within a hundredth of the wanted probability, not all of them are looked
    at, and there may be one with a little less work. If none keeps the limits, the most probable is looked for among those
    that the few bear best.

    The answer is the same for any batches and any number of processes: what a calendar scores hangs on its own columns only,
    since every operation on them is done element by element; and what is tried next hangs on scores, never on who
    reckoned them. The number of calendars between two looks at the scores is fixed for the same reason.
    """
    calendars = calendars_of(asked.visit_days, asked.choices, number=number, rng=rng)
    tried, best = 0, None
    for lever in levers:
        ready = made_ready(
            asked.tank,
            asked.option,
            acidity=asked.acidity,
            drawn=asked.drawn,
            oxygen_use_mg_d=asked.oxygen_use_mg_d,
            protein_g_d=asked.protein_g_d,
            levers=lever,
        )
        problem = Problem(
            ready=ready,
            visit_days=asked.visit_days,
            choices=asked.choices,
            limits=asked.limits,
            from_day=asked.option.return_day,
            last_day=asked.last_day,
        )
        search = _Search(_Trial(problem, workers), calendars)
        place, screened = search.answer(on_progress)
        probability = search.by_full_steps([place])[0]
        tried += screened
        if best is None or probability > best[1]:
            best = place, probability, lever, ready
        if probability >= WANTED:
            break
    if best is None:
        raise OutOfRange("no levers to try, expected one at least")
    place, probability, lever, ready = best
    visits = tuple(
        (day, asked.choices[what - 1]) for day, what in zip(asked.visit_days, calendars[place], strict=True) if what
    )
    outcome = followed(ready, _changes(visits).visits(), last_day=asked.last_day)
    limit, day = binding(outcome, asked.limits, from_day=asked.option.return_day)
    return Found(
        visits=visits,
        work=float(work_of(calendars[place : place + 1], asked.choices)[0]),
        probability=probability,
        binding_limit=limit,
        binding_day=day,
        sampling_days=sampling_days(outcome, binding_day=day, active_soil=asked.tank.soil_kind == "active"),
        tried=tried,
        levers=lever,
    )


def least_work_with_levers(
    asked: Asked,
    *,
    rng: np.random.Generator,
    number: int = MOST_CALENDARS,
    workers: Workers = ALONE,
    on_progress: Callable[[str], None] = lambda _: None,
) -> Found:
    """``least_work`` with usual feeding and light; only if that cannot keep the limits, with sparing feeding."""
    levers = (USUAL_LEVERS, SPARING)
    return least_work(asked, rng=rng, levers=levers, number=number, workers=workers, on_progress=on_progress)


def binding(outcome: Outcome, limits: Limits, *, from_day: float) -> tuple[str, int]:
    """Whose upper end of the band first passes its limit, and when; where none does, comes nearest to it."""
    high = np.stack([np.percentile(values, 95, axis=1) for values in _over_limits(outcome, limits, from_day=from_day)])
    over = (high > 1.0).any(axis=0)
    if over.any():
        day = int(np.argmax(over))
        limit = int(np.argmax(high[:, day]))
    else:
        limit, day = (int(place) for place in np.unravel_index(int(np.argmax(high)), high.shape))
    days = outcome.days[outcome.days >= from_day]
    return ("ammonia", "nitrite", "total ammonia")[limit], int(days[day])


def sampling_days(
    outcome: Outcome, *, number: int = 4, apart: int = 3, binding_day: int | None = None, active_soil: bool = False
) -> tuple[int, ...]:
    """Days on which a test tells most: the bands of ammonium or nitrite are widest there, some days apart.

    Parameters
    ----------
    number, apart : int
        Of the days that are not asked for in any case, and between all of them.
    binding_day : int or None
        Day on which a limit is first passed or nearest: where it is early, it and the day before are tested.
    active_soil : bool
        Soil that gives off ammonium from the first day on: one of the first three days is tested; common practice, no
        source.
    """
    width = np.maximum(
        np.subtract(*np.percentile(outcome.tan_mg_l, (95, 5), axis=1)) / max(float(outcome.tan_mg_l.max()), 1e-9),
        np.subtract(*np.percentile(outcome.nitrite_mg_l, (95, 5), axis=1))
        / max(float(outcome.nitrite_mg_l.max()), 1e-9),
    )
    chosen: list[int] = []
    if binding_day is not None and binding_day <= EARLY_DAY:
        chosen = [day for day in (binding_day - 1, binding_day) if day > 0] or [1]
    if active_soil and not any(day in FIRST_DAYS for day in chosen):
        chosen.append(FIRST_DAYS[1])
    for day in np.argsort(-width, kind="stable"):
        if len(chosen) >= number:
            break
        if day > 0 and all(abs(int(day) - other) >= apart for other in chosen):
            chosen.append(int(day))
    return tuple(sorted(chosen))
