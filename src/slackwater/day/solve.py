"""The adapter to the CP-SAT solver, and the only importer of it: a problem goes in, a schedule comes out.

Stages, each fixed as a bound for the next: clocks kept (or least finish and excess together where they cannot be),
then the earliest finish, then clocks opened as late as possible, then few idle gaps and few hand-overs. A re-plan stays
near the day before it instead. Effort is counted in the solver's deterministic time, so the same problem and seed give
the same day on the same machine and lock.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from slackwater.day.constraints import RESERVE_WEIGHT, DayModel
from slackwater.day.constraints import Relaxed as Relaxed
from slackwater.day.model import (
    ClockPiece,
    DayProblem,
    Mode,
    Placed,
    PlacedBreak,
    Schedule,
    Status,
)
from slackwater.day.pieces import clock_pieces

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

OnProgress = Callable[[str], None]
Cancelled = Callable[[], bool]
"""Asked while the solver works, several times a second and from another thread; True calls the search off."""
POLL_S = 0.1
RESERVE_SHARE = 0.4
"""Share of a clock's limit that a day leaves unused where that costs no minute: work runs late, and a clock planned to its
last minute is one that most days break. Common practice, no source; what it brings is measured in docs/reference/risk.md."""
SOLVED = ("OPTIMAL", "FEASIBLE")


@dataclass(frozen=True)
class Effort:
    """How hard to try, in deterministic time for each stage (about seconds on one core), and the seed."""

    excess: float = 0.5
    finish: float = 1.2
    exposure: float = 0.2
    """Also for staying near the day before, in a re-plan."""
    tidy: float = 0.03
    why: float = 0.3
    """For each question of why a day does not fit and what would make it fit; 0 asks none."""
    seed: int = 1


def _quiet(_: str) -> None:
    pass


def _never() -> bool:
    return False


@dataclass
class _Stop:
    """Whether the search was called off; once it was, it stays so."""

    cancelled: Cancelled
    called: bool = False

    def asked(self) -> bool:
        self.called = self.called or self.cancelled()
        return self.called


@contextmanager
def _watched(solver: cp_model.CpSolver, stop: _Stop) -> Iterator[None]:
    """Ask from a thread of its own whether to stop: the solver may be silent for seconds between its callbacks."""
    if stop.cancelled is _never:
        yield
        return
    over = threading.Event()

    def watch() -> None:
        while not over.wait(POLL_S):
            if stop.asked():
                solver.stop_search()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()


def solve(
    problem: DayProblem,
    *,
    effort: Effort | None = None,
    relaxed: Relaxed | None = None,
    near: Schedule | None = None,
    on_progress: OnProgress = _quiet,
    cancelled: Cancelled = _never,
) -> Schedule:
    """The best day found: fewest minutes over clocks, earliest finish, clocks opened late, few gaps and hand-overs.

    Parameters
    ----------
    problem : DayProblem
        What is to be done, by whom, under which rules.
    effort : Effort or None
        Deterministic time for each stage, and the seed.
    relaxed : Relaxed or None
        Rules that are not asked for.
    near : Schedule or None
        A day of a similar problem to start the search from.
    on_progress : callable
        Told in a few words about each better day that is found, and how much better one could be.
    cancelled : callable
        Asked while the solver works; once it says True, the best day so far is the answer.

    Returns
    -------
    Schedule
        Status IMPOSSIBLE only when proved; UNKNOWN when the effort ran out with nothing found.
    """
    return solve_each(
        problem,
        (RESERVE_SHARE,),
        effort=effort,
        relaxed=relaxed,
        near=near,
        on_progress=on_progress,
        cancelled=cancelled,
    )[0]


def solve_each(
    problem: DayProblem,
    reserves: Sequence[float],
    *,
    effort: Effort | None = None,
    relaxed: Relaxed | None = None,
    near: Schedule | None = None,
    on_progress: OnProgress = _quiet,
    cancelled: Cancelled = _never,
) -> tuple[Schedule, ...]:
    """Days that finish equally early, one for each share of the clocks' limits to be left unused where it can be.

    Parameters
    ----------
    problem, effort, relaxed, near, on_progress, cancelled
        As for `solve`.
    reserves : sequence of float
        Shares [0 to 1]; at least one.

    Returns
    -------
    tuple of Schedule
        In the order of the shares; one alone where no day was found.
    """
    effort = effort or Effort()
    search = _earliest(problem, relaxed or Relaxed(), effort, near, near, on_progress, _Stop(cancelled))
    if isinstance(search, Schedule):
        return (search,)
    found: list[Schedule] = []
    for twin in (search, *(search.again() for _ in reserves[1:])):
        twin.open_clocks_late(reserves[len(found)])
        twin.tidy()
        found.append(twin.answer())
    return tuple(found)


def replan_near(
    problem: DayProblem,
    before: Schedule,
    *,
    effort: Effort | None = None,
    relaxed: Relaxed | None = None,
    on_progress: OnProgress = _quiet,
    cancelled: Cancelled = _never,
) -> Schedule:
    """The rest of a day, planned again: fewest minutes over clocks, earliest finish, little change for the crew.

    Change is the sum of minutes by which open activities start earlier or later than before, plus 20 for each person
    swapped, and for each activity that is added or left out.

    Parameters
    ----------
    problem : DayProblem
        With work done and started as `fixed`, the minute as `now_min`, and clocks soft: of some the limit may have
        been spent already.
    before : Schedule
        The day as the crew knows it.
    effort, relaxed, on_progress, cancelled
        As for `solve`; the effort for exposure goes into staying near.

    Returns
    -------
    Schedule
        As of `solve`.
    """
    effort = effort or Effort()
    # What was planned before seldom is a day of this problem; searching from it beyond the first question costs more than it gives.
    search = _earliest(problem, relaxed or Relaxed(), effort, before, None, on_progress, _Stop(cancelled))
    if isinstance(search, Schedule):
        return search
    search.stay_near(before)
    return search.answer()


@dataclass(frozen=True)
class Prices:
    """What a minute is weighed at when not everything can be kept: late after closing, and over each clock.

    Attributes
    ----------
    late : int
        Weight of a minute after closing.
    clocks : mapping of str to int
        Clock id to the weight of a minute over it; 1 where it is not named.
    """

    late: int = 1
    clocks: Mapping[str, int] = field(default_factory=dict)


def least_relaxation(
    problem: DayProblem,
    *,
    prices: Prices | None = None,
    effort: Effort | None = None,
    on_progress: OnProgress = _quiet,
    cancelled: Cancelled = _never,
) -> Schedule:
    """The day with the least weighted total of minutes after closing and minutes over clocks, hard ones too.

    It answers wherever order, places, people's hours and quiet hours leave any day before the horizon. Within the least
    total the day finishes as early as possible, and then as in `solve`.

    Parameters
    ----------
    problem : DayProblem
        A day that does not fit.
    prices : Prices or None
        Weights; 1 for each minute by default.
    effort, on_progress, cancelled
        As for `solve`.

    Returns
    -------
    Schedule
        PROVED when the total is proved to be the least; no bound on the finish is given. Minutes late are `finish_min`
        less the problem's `closes_min`, minutes over stand in `pieces`.
    """
    effort, prices, stop = effort or Effort(), prices or Prices(), _Stop(cancelled)
    soft = problem.model_copy(
        update={"clocks": tuple(clock.model_copy(update={"hard": False}) for clock in problem.clocks)}
    )
    search = _Search(_model(soft, Relaxed(closing=True)), effort, on_progress, stop)
    status = search.any_day()
    if status not in SOLVED:
        return _nothing(status, stop)
    model = search.model
    late = model.cp.new_int_var(0, model.far, "late")
    model.cp.add(late >= model.finish - problem.closes_min)
    total = prices.late * late + sum(prices.clocks.get(name, 1) * sum(overs) for name, overs in model.excess_of.items())
    status = search.run(total, effort.finish, "total")
    proved = status == "OPTIMAL"
    if status in SOLVED:
        model.cp.add(total <= search.last.value(total))
        search.earliest_finish()
        search.open_clocks_late(RESERVE_SHARE)
        search.tidy()
    search.proved, search.bound = proved, None
    return search.answer()


def _nothing(status: str, stop: _Stop) -> Schedule:
    return Schedule(status=Status.IMPOSSIBLE if status == "INFEASIBLE" else Status.UNKNOWN, cancelled=stop.called)


def _earliest(
    problem: DayProblem,
    relaxed: Relaxed,
    effort: Effort,
    near: Schedule | None,
    begin: Schedule | None,
    on_progress: OnProgress,
    stop: _Stop,
) -> _Search | Schedule:
    """Clocks kept and the earliest finish, or the least of finish and excess together; a schedule if there is none.

    The search that keeps clocks starts from `near`, the one that cannot keep them all from `begin`.
    """

    # Most days can keep all clocks, and a day that does is soon found. Where none is, a minute over a clock counts as
    # much as a minute of the day: keeping a clock at any price would give days that nobody would work.
    def keeping_clocks() -> _Search | None:
        kept = _Search(_model(problem, relaxed), effort, on_progress, stop)
        if near is not None:
            kept.begin_near(near)
        kept.model.cp.add(sum(kept.model.excess) == 0)
        return kept if kept.any_day() in SOLVED else None

    kept = None if near is None else keeping_clocks()
    if kept is None:
        # Some day first, whatever its clocks: it is found at once, and where there is none, no other question is needed.
        first = _Search(_model(problem, relaxed), effort, on_progress, stop)
        status = first.any_day()
        if status not in SOLVED:
            return _nothing(status, stop)
        if not first.model.excess:
            kept = first
        elif near is None:
            kept = keeping_clocks()
    if kept is not None:
        kept.earliest_finish()
        return kept
    # Afresh, not from the first day: a poor day to start from holds the search back longer than none.
    search = _Search(_model(problem, relaxed), effort, on_progress, stop)
    if begin is not None:
        search.begin_near(begin)
    scale = search.model.scale
    status = search.run(search.model.value() + scale * sum(search.model.excess), effort.finish, "finish")
    if status not in SOLVED:
        search = first
    search.model.cp.add(sum(search.model.excess) <= sum(search.last.value(over) for over in search.model.excess))
    if status in SOLVED:
        search.bound = search.bound_min()
    return search


class _Search:
    """One model searched in stages; each starts from the answer of the one before."""

    def __init__(self, model: DayModel, effort: Effort, on_progress: OnProgress, stop: _Stop) -> None:
        self.model = model
        self.effort = effort
        self.on_progress = on_progress
        self.stop = stop
        self.last: Any = None
        self.bound: int | None = 0
        self.proved = False
        self.doubts: list[str] = []
        self.exposed: Any = None

    def run(self, objective: Any, seconds: float, name: str) -> str:
        if self.stop.asked():
            return "CANCELLED"
        cp = self.model.cp
        cp.minimize(objective)
        solver = _solver(seed=self.effort.seed, seconds=seconds)
        teller = _Teller(self.on_progress if name == "finish" else _quiet, self.model.scale, self.stop)
        solver.best_bound_callback = teller.bound_rose
        with _watched(solver, self.stop):
            status = solver.status_name(solver.solve(cp, teller))
        if status in SOLVED:
            value, bound = solver.objective_value, solver.best_objective_bound
            if bound > value + 1e-6:
                self.doubts.append(f"{name}: bound {bound:g} above value {value:g}")
            self.last = solver
            self.hint()
        return status

    def bound_min(self) -> int:
        """What the last stage proved the day to need at least [min]."""
        return int(-(-self.last.best_objective_bound // 1)) // self.model.scale

    def begin_near(self, schedule: Schedule) -> None:
        """Hint the times and modes of another day, where this one has them too."""
        model = self.model
        modes = {(item.activity, item.mode) for item in schedule.placed}
        for item in schedule.placed:
            if item.activity in model.start and item.activity not in model.fixed:
                model.cp.add_hint(model.start[item.activity], min(item.start, model.last))
        for key, taken in model.mode.items():
            if key[0] not in model.fixed:
                model.cp.add_hint(taken, key in modes)
        for (choice, option), taken in model.option.items():
            model.cp.add_hint(taken, schedule.options.get(choice) == option)

    def any_day(self) -> str:
        status = self.run(0, self.effort.excess, "any day")
        if status in SOLVED:
            self.on_progress(f"day of {self.finish()} min found")
        return status

    def earliest_finish(self) -> None:
        status = self.run(self.model.value(), self.effort.finish, "finish")
        if status in SOLVED:
            self.bound = self.bound_min()
        self.proved = status == "OPTIMAL"

    def finish(self) -> int:
        """End of what is done last [min]."""
        ends = [
            self.last.value(end) for name, end in self.model.end.items() if self.last.value(self.model.present[name])
        ]
        return max(ends, default=0)

    def keep_what_was_found(self) -> None:
        """No later stage finishes later or leaves out more of worth; where effort runs out, the day before it stands."""
        model = self.model
        model.cp.add(model.finish <= self.finish())
        worth = sum(a.worth * model.present[a.id] for a in model.problem.activities if a.worth)
        if not isinstance(worth, int):
            model.cp.add(worth >= self.last.value(worth))

    def again(self) -> _Search:
        """The same question with the answer so far; variables of a model built the same way carry the same numbers."""
        twin = _Search(_model(self.model.problem, self.model.relaxed), self.effort, self.on_progress, self.stop)
        twin.last, twin.bound, twin.proved = self.last, self.bound, self.proved
        twin.doubts = list(self.doubts)
        twin.hint()
        twin.model.cp.add(sum(twin.model.excess) <= sum(self.last.value(over) for over in self.model.excess))
        return twin

    def hint(self) -> None:
        """Begin where the last answer stands."""
        self.model.cp.clear_hints()
        for variable in _all_variables(self.model):
            self.model.cp.add_hint(variable, self.last.value(variable))

    def open_clocks_late(self, reserve_share: float) -> None:
        self.keep_what_was_found()
        if self.effort.exposure > 0:
            self.exposed = self.model.exposed() + RESERVE_WEIGHT * self.model.reserves_used(reserve_share)
            self.run(self.exposed, self.effort.exposure, "exposure")

    def tidy(self) -> None:
        if self.effort.tidy > 0 and not self.stop.asked():
            exposed = self.model.exposed() if self.exposed is None else self.exposed
            self.model.cp.add(exposed <= self.last.value(exposed))
            self.run(self.model.untidiness(self.last), self.effort.tidy, "tidy")

    def stay_near(self, before: Schedule) -> None:
        self.keep_what_was_found()
        if self.effort.exposure > 0:
            self.run(self.model.changes_from(before), self.effort.exposure, "stability")

    def answer(self) -> Schedule:
        status = Status.PROVED if self.proved else Status.BEST_FOUND
        return _schedule(self, status)


def can_fit(problem: DayProblem, *, seconds: float, seed: int, relaxed: Relaxed) -> Status:
    """Whether any day keeps all rules that are asked for, clocks without excess.

    Returns
    -------
    Status
        BEST_FOUND if there is such a day, IMPOSSIBLE if proved that there is none, else UNKNOWN.
    """
    model = _model(problem, relaxed)
    model.cp.add(sum(model.excess) == 0)
    solver = _solver(seed=seed, seconds=seconds)
    status = solver.status_name(solver.solve(model.cp))
    if status in SOLVED:
        return Status.BEST_FOUND
    return Status.IMPOSSIBLE if status == "INFEASIBLE" else Status.UNKNOWN


def _model(problem: DayProblem, relaxed: Relaxed) -> DayModel:
    from ortools.sat.python import cp_model

    return DayModel(problem, relaxed, cp_model.CpModel(), cp_model.Domain.from_values)


def _solver(*, seed: int, seconds: float) -> cp_model.CpSolver:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.random_seed = seed
    # One worker: the answer then depends on the problem and the seed alone.
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = seconds
    # The linear relaxation of a day is weak and dear: without it the proof came in half the time.
    solver.parameters.linearization_level = 0
    return solver


def _all_variables(model: DayModel) -> list[Any]:
    times = [variable for pair in (model.start, model.end, model.size, model.present) for variable in pair.values()]
    rests = [start for start, _ in model.breaks.values()]
    every = [*times, *model.mode.values(), *model.option.values(), *rests, *model.excess, model.finish]
    # Facts of one value share one constant, and a variable may be hinted once.
    return list({variable.index: variable for variable in every}.values())


def _Teller(on_progress: OnProgress, scale: int, stop: _Stop) -> Any:  # noqa: N802 - a class that needs the lazy import
    from ortools.sat.python import cp_model

    class Teller(cp_model.CpSolverSolutionCallback):
        def __init__(self) -> None:
            super().__init__()
            self.best: float | None = None

        def on_solution_callback(self) -> None:
            self.best = self.objective_value / scale
            self.tell(self.best_objective_bound)
            if stop.asked():
                self.stop_search()

        def bound_rose(self, bound: float) -> None:
            if self.best is not None:
                self.tell(bound)

        def tell(self, bound: float) -> None:
            least, best = bound / scale, self.best or 0.0
            gap = 100 * (best - least) / best if best else 0.0
            on_progress(f"day of {best:.0f} min found, {least:.0f} at least, gap {gap:.1f} %")

    return Teller()


def _schedule(search: _Search, status: Status) -> Schedule:
    model, solver = search.model, search.last
    placed = []
    for activity in model.problem.activities:
        for mode in activity.modes:
            if solver.value(model.mode[activity.id, mode.id]):
                placed.append(_placed(model, solver, activity.id, mode))
    placed.sort(key=lambda item: (item.start, item.end, item.activity))
    options = {choice: option for (choice, option), literal in model.option.items() if solver.value(literal)}
    pieces: tuple[ClockPiece, ...] = clock_pieces(model.problem, placed, options)
    hard = {clock.id for clock in model.problem.clocks if clock.hard}
    finish = search.finish()
    return Schedule(
        status=status,
        placed=tuple(placed),
        breaks=tuple(
            PlacedBreak(person=person, start=solver.value(start), end=solver.value(start) + minutes)
            for (person, _), (start, minutes) in model.breaks.items()
        ),
        options=options,
        pieces=pieces,
        finish_min=finish,
        bound_min=None if search.bound is None else min(search.bound, finish),
        excess_min=sum(piece.excess_min for piece in pieces if piece.clock not in model.relaxed.clocks | hard),
        doubts=tuple(search.doubts),
        cancelled=search.stop.called,
    )


def _placed(model: DayModel, solver: Any, name: str, mode: Mode) -> Placed:
    crew = model.crew_of(model.fixed[name]) if name in model.fixed else mode.crew
    return Placed(
        activity=name, mode=mode.id, start=solver.value(model.start[name]), end=solver.value(model.end[name]), crew=crew
    )
