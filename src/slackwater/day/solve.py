"""The adapter to the CP-SAT solver, and the only importer of it: a problem goes in, a schedule comes out.

Stages, each fixed as a bound for the next: clocks kept (or least finish and excess together where they cannot be),
then the earliest finish, then clocks opened as late as possible. Effort is counted in the solver's deterministic time, so the same problem and seed give
the same day on the same machine and lock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from slackwater.day.model import (
    Activity,
    Choice,
    Clock,
    ClockPiece,
    DayProblem,
    Event,
    Person,
    Placed,
    PlacedBreak,
    Schedule,
    Status,
)
from slackwater.day.pieces import clock_pieces

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

OnProgress = Callable[[str], None]
EXPOSURE_SCALE = 1000
SOLVED = ("OPTIMAL", "FEASIBLE")
OPTIONAL_COST = 200
"""What an activity that nobody asked for must save in exposure to be worth doing (thousandths of a clock's limit)."""


@dataclass(frozen=True)
class Effort:
    """How hard to try, in deterministic time for each stage (about seconds on one core), and the seed."""

    excess: float = 0.5
    finish: float = 1.2
    exposure: float = 0.2
    seed: int = 1


@dataclass(frozen=True)
class Relaxed:
    """Rules that are not asked for: the closing time, and named clocks, blackouts, breaks and absences."""

    closing: bool = False
    clocks: frozenset[str] = frozenset()
    blackouts: frozenset[str] = frozenset()
    breaks: frozenset[str] = frozenset()
    absences: frozenset[str] = frozenset()


class _Model:
    """The constraint model of one problem; one short method for each rule.

    An activity has one start, one end and one interval for its places, and one optional interval for each person who
    may do it, whatever the number of modes. This shape matters: with one optional interval for each mode, all sharing
    the activity's start and end, the solver (releases 9.12 to 9.15) called different finish times "optimal" for one
    unchanged problem, as if what it learns about two modes held for their siblings; with separate copies of the times
    the answers agree but the proof takes a hundred times longer. Here they agree and are proved at once;
    tests/day/test_solve.py holds that.
    """

    def __init__(self, problem: DayProblem, relaxed: Relaxed) -> None:
        from ortools.sat.python import cp_model

        self.problem = problem
        self.relaxed = relaxed
        self.cp = cp_model.CpModel()
        self.last = problem.horizon_min if relaxed.closing else min(problem.closes_min, problem.horizon_min)
        self.start: dict[str, cp_model.IntVar] = {}
        self.end: dict[str, cp_model.IntVar] = {}
        self.size: dict[str, cp_model.IntVar] = {}
        self.present: dict[str, cp_model.IntVar] = {}
        self.mode: dict[tuple[str, str], cp_model.IntVar] = {}
        self.place: dict[str, cp_model.IntervalVar] = {}
        self.works: dict[tuple[str, str], tuple[cp_model.IntVar, cp_model.IntervalVar]] = {}
        self.breaks: dict[str, tuple[Any, int]] = {}
        self.option: dict[tuple[str, str], cp_model.IntVar] = {}
        self.excess: list[cp_model.IntVar] = []
        self.exposure: list[Any] = []
        for activity in problem.activities:
            self._add_activity(activity)
        for choice in problem.choices:
            self._add_choice(choice)
        self._order()
        self._lags()
        for person in problem.people:
            self._one_thing_at_a_time(person)
            if person.id not in relaxed.absences:
                self._only_while_here(person)
        self._resources()
        self._blackouts()
        for clock in problem.clocks:
            if clock.id not in relaxed.clocks:
                self._add_clock(clock)
        self.finish = self.cp.new_int_var(0, self.last, "finish")
        for activity in problem.activities:
            self.cp.add(self.finish >= self.end[activity.id])

    def _add_activity(self, activity: Activity) -> None:
        from ortools.sat.python import cp_model

        name = activity.id
        self.start[name] = self.cp.new_int_var(0, self.last, f"start {name}")
        self.end[name] = self.cp.new_int_var(0, self.last, f"end {name}")
        self.present[name] = self.cp.new_bool_var(f"present {name}")
        if not activity.optional:
            self.cp.add(self.present[name] == 1)
        sizes = {mode.minutes for mode in activity.modes} | ({0} if activity.optional else set())
        self.size[name] = self.cp.new_int_var_from_domain(cp_model.Domain.from_values(sorted(sizes)), f"size {name}")
        for mode in activity.modes:
            self.mode[name, mode.id] = self.cp.new_bool_var(f"{name} by {mode.id}")
        taken = [self.mode[name, mode.id] for mode in activity.modes]
        self.cp.add(sum(taken) == self.present[name])
        self.cp.add(self.size[name] == sum(mode.minutes * self.mode[name, mode.id] for mode in activity.modes))
        self.place[name] = self.cp.new_optional_interval_var(
            self.start[name], self.size[name], self.end[name], self.present[name], f"place {name}"
        )
        # What is left out still has a time, of no length, so that order runs through it.
        self.cp.add(self.end[name] == self.start[name] + self.size[name])
        for person in sorted({who for mode in activity.modes for who in mode.crew}):
            does = self.cp.new_bool_var(f"{name} with {person}")
            self.cp.add(sum(self.mode[name, mode.id] for mode in activity.modes if person in mode.crew) == does)
            interval = self.cp.new_optional_interval_var(
                self.start[name], self.size[name], self.end[name], does, f"{person} at {name}"
            )
            self.works[name, person] = (does, interval)

    def _add_choice(self, choice: Choice) -> None:
        taken = {option.id: self.cp.new_bool_var(f"{choice.id} {option.id}") for option in choice.options}
        for option_id, literal in taken.items():
            self.option[choice.id, option_id] = literal
        self.cp.add_exactly_one(taken.values())
        for name in sorted({name for option in choice.options for name in option.activities}):
            asking = [taken[option.id] for option in choice.options if name in option.activities]
            self.cp.add(self.present[name] == sum(asking))

    def _order(self) -> None:
        for activity in self.problem.activities:
            for before in activity.after:
                self.cp.add(self.start[activity.id] >= self.end[before])

    def _lags(self) -> None:
        for lag in self.problem.lags:
            self.cp.add(self._at(lag.b) - self._at(lag.a) >= lag.minimum).only_enforce_if(
                [self.present[lag.a.activity], self.present[lag.b.activity]]
            )

    def _at(self, event: Event) -> Any:
        return self.start[event.activity] if event.side == "start" else self.end[event.activity]

    def _one_thing_at_a_time(self, person: Person) -> None:
        busy = [interval for (_, who), (_, interval) in self.works.items() if who == person.id]
        if person.rest is not None and person.id not in self.relaxed.breaks:
            rest = person.rest
            start = self.cp.new_int_var(rest.earliest, rest.latest_end - rest.minutes, f"break {person.id}")
            self.breaks[person.id] = (start, rest.minutes)
            busy.append(self.cp.new_fixed_size_interval_var(start, rest.minutes, f"break {person.id}"))
        self.cp.add_no_overlap(busy)

    def _only_while_here(self, person: Person) -> None:
        for left, right in _gaps(person.windows, self.problem.horizon_min):
            for (name, who), (does, _) in self.works.items():
                if who == person.id:
                    self._keep_out(name, [does], left, right)

    def _keep_out(self, name: str, conditions: list[Any], left: int, right: int) -> None:
        """An activity lies wholly before or wholly after a span, where the conditions hold."""
        before = self.cp.new_bool_var(f"{name} before {left}")
        self.cp.add(self.end[name] <= left).only_enforce_if([*conditions, before])
        self.cp.add(self.start[name] >= right).only_enforce_if([*conditions, before.negated()])

    def _resources(self) -> None:
        for resource in self.problem.resources:
            places, amounts = [], []
            for activity in self.problem.activities:
                used = {mode.id: mode.resources.get(resource.id, 0) for mode in activity.modes}
                if any(used.values()):
                    amount = self.cp.new_int_var(0, max(used.values()), f"{resource.id} for {activity.id}")
                    self.cp.add(
                        amount == sum(used[mode.id] * self.mode[activity.id, mode.id] for mode in activity.modes)
                    )
                    places.append(self.place[activity.id])
                    amounts.append(amount)
            if places:
                self.cp.add_cumulative(places, amounts, resource.capacity)

    def _blackouts(self) -> None:
        for blackout in self.problem.blackouts:
            if blackout.reason in self.relaxed.blackouts:
                continue
            for activity in self.problem.activities:
                for mode in activity.modes:
                    if blackout.tag in mode.tags:
                        for left, right in blackout.spans:
                            self._keep_out(activity.id, [self.mode[activity.id, mode.id]], left, right)

    def _add_clock(self, clock: Clock) -> None:
        runs: list[Any] = [self.present[clock.starts.activity], self.present[clock.ends.activity]]
        for choice in self.problem.choices:
            runs += [
                self.option[choice.id, option.id]
                for option in choice.options
                if f"{choice.id}.{option.id}" == clock.only_if
            ]
        restarts = clock.restarts
        for before, after in pairwise(restarts):
            self.cp.add_implication(self.present[after], self.present[before])
        for count in range(len(restarts) + 1):
            taken = [self.present[name] for name in restarts[:count]]
            left_out = [self.present[name].negated() for name in restarts[count : count + 1]]
            marks = [clock.starts]
            for name in restarts[:count]:
                marks += [Event(activity=name, side="start"), Event(activity=name, side="end")]
            marks.append(clock.ends)
            for a, b in zip(marks[::2], marks[1::2], strict=True):
                over = self.cp.new_int_var(0, self.problem.horizon_min, f"over {clock.id} {a}")
                self.cp.add(self._at(b) - self._at(a) <= clock.piece_limit_min(count) + over).only_enforce_if(
                    [*runs, *taken, *left_out]
                )
                self.excess.append(over)
            for name in restarts[:count]:
                conditions = [*runs, *taken, *left_out]
                self.cp.add(self.start[name] >= self._at(clock.starts)).only_enforce_if(conditions)
                self.cp.add(self.end[name] <= self._at(clock.ends)).only_enforce_if(conditions)
        weight = max(1, EXPOSURE_SCALE // max(1, clock.limit_min))
        exposed = self.cp.new_int_var(0, self.problem.horizon_min, f"exposed {clock.id}")
        self.cp.add(exposed >= self._at(clock.ends) - self._at(clock.starts)).only_enforce_if(runs)
        self.exposure.append(exposed * weight)


def _gaps(windows: tuple[tuple[int, int], ...], horizon_min: int) -> list[tuple[int, int]]:
    """The spans between windows, from the start of access to the horizon."""
    gaps = []
    at = 0
    for start, end in sorted(windows):
        if start > at:
            gaps.append((at, start))
        at = max(at, end)
    if at < horizon_min:
        gaps.append((at, horizon_min))
    return gaps


def _quiet(_: str) -> None:
    pass


def solve(
    problem: DayProblem,
    *,
    effort: Effort | None = None,
    relaxed: Relaxed | None = None,
    near: Schedule | None = None,
    on_progress: OnProgress = _quiet,
) -> Schedule:
    """The best day found: fewest minutes over clocks, earliest finish, clocks opened late.

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
        Told in a few words about each better day that is found.

    Returns
    -------
    Schedule
        Status IMPOSSIBLE only when proved; UNKNOWN when the effort ran out with nothing found.
    """
    effort = effort or Effort()
    relaxed = relaxed or Relaxed()
    # Some day first, whatever its clocks: it is found at once, and where there is none, no other question is needed.
    first = _Search(_Model(problem, relaxed), effort, on_progress)
    status = first.any_day()
    if status not in SOLVED:
        return Schedule(status=Status.IMPOSSIBLE if status == "INFEASIBLE" else Status.UNKNOWN)
    # Most days can keep all clocks, and a day that does is soon found. Where none is, a minute over a clock counts as
    # much as a minute of the day: keeping a clock at any price would give days that nobody would work.
    kept = _Search(_Model(problem, relaxed), effort, on_progress)
    if near is not None:
        kept.begin_near(near)
    kept.model.cp.add(sum(kept.model.excess) == 0)
    if kept.any_day() in SOLVED:
        kept.earliest_finish()
        return kept.answer()
    # Afresh, not from the first day: a poor day to start from holds the search back longer than none.
    search = _Search(_Model(problem, relaxed), effort, on_progress)
    status = search.run(search.model.finish + sum(search.model.excess), effort.finish, "finish")
    if status not in SOLVED:
        search = first
    search.model.cp.add(sum(search.model.excess) <= sum(search.last.value(over) for over in search.model.excess))
    if status in SOLVED:
        search.bound = int(-(-search.last.best_objective_bound // 1))
    return search.answer()


class _Search:
    """One model searched in stages; each starts from the answer of the one before."""

    def __init__(self, model: _Model, effort: Effort, on_progress: OnProgress) -> None:
        self.model = model
        self.effort = effort
        self.on_progress = on_progress
        self.last: Any = None
        self.bound = 0
        self.proved = False
        self.doubts: list[str] = []

    def run(self, objective: Any, seconds: float, name: str) -> str:
        cp = self.model.cp
        cp.minimize(objective)
        solver = _solver(seed=self.effort.seed, seconds=seconds)
        status = solver.status_name(solver.solve(cp, _Teller(name, self.on_progress)))
        if status in SOLVED:
            value, bound = solver.objective_value, solver.best_objective_bound
            if bound > value + 1e-6:
                self.doubts.append(f"{name}: bound {bound:g} above value {value:g}")
            self.last = solver
            cp.clear_hints()  # type: ignore[no-untyped-call]
            for variable in _all_variables(self.model):
                cp.add_hint(variable, solver.value(variable))
        return status

    def begin_near(self, schedule: Schedule) -> None:
        """Hint the times and modes of another day, where this one has them too."""
        model = self.model
        modes = {(item.activity, item.mode) for item in schedule.placed}
        for item in schedule.placed:
            if item.activity in model.start:
                model.cp.add_hint(model.start[item.activity], min(item.start, model.last))
        for key, taken in model.mode.items():
            model.cp.add_hint(taken, key in modes)
        for (choice, option), taken in model.option.items():
            model.cp.add_hint(taken, schedule.options.get(choice) == option)

    def any_day(self) -> str:
        status = self.run(0, self.effort.excess, "any day")
        if status in SOLVED:
            self.on_progress(f"day of {max(self.last.value(end) for end in self.model.end.values())} min found")
        return status

    def earliest_finish(self) -> None:
        status = self.run(self.model.finish, self.effort.finish, "finish")
        if status in SOLVED:
            self.bound = int(-(-self.last.best_objective_bound // 1))
        self.proved = status == "OPTIMAL"

    def answer(self) -> Schedule:
        """Clocks opened late within the finish found; where effort ran out, the answer of the stage before stands."""
        model = self.model
        finish = max(self.last.value(end) for end in model.end.values())
        model.cp.add(model.finish <= finish)
        choices = model.problem.choices
        chosen = {name for choice in choices for option in choice.options for name in option.activities}
        unasked = [model.present[a.id] for a in model.problem.activities if a.optional and a.id not in chosen]
        if self.effort.exposure > 0:
            self.run(sum(model.exposure) + OPTIONAL_COST * sum(unasked), self.effort.exposure, "exposure")
        status = Status.PROVED if self.proved else Status.BEST_FOUND
        return _schedule(model, self.last, status, finish, self.bound, tuple(self.doubts))


def can_fit(problem: DayProblem, *, seconds: float, seed: int, relaxed: Relaxed) -> Status:
    """Whether any day keeps all rules that are asked for, clocks without excess.

    Returns
    -------
    Status
        BEST_FOUND if there is such a day, IMPOSSIBLE if proved that there is none, else UNKNOWN.
    """
    model = _Model(problem, relaxed)
    model.cp.add(sum(model.excess) == 0)
    solver = _solver(seed=seed, seconds=seconds)
    status = solver.status_name(solver.solve(model.cp))
    if status in SOLVED:
        return Status.BEST_FOUND
    return Status.IMPOSSIBLE if status == "INFEASIBLE" else Status.UNKNOWN


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


def _all_variables(model: _Model) -> list[Any]:
    times = [variable for pair in (model.start, model.end, model.size, model.present) for variable in pair.values()]
    rests = [start for start, _ in model.breaks.values()]
    return [*times, *model.mode.values(), *model.option.values(), *rests, *model.excess, model.finish]


def _Teller(name: str, on_progress: OnProgress) -> Any:  # noqa: N802 - builds a class that needs the lazy import
    from ortools.sat.python import cp_model

    class Teller(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            if name == "finish":
                on_progress(f"day of {self.objective_value:.0f} min found, {self.best_objective_bound:.0f} at least")

    return Teller()


def _schedule(model: _Model, solver: Any, status: Status, finish: int, bound: int, doubts: tuple[str, ...]) -> Schedule:
    placed = []
    for activity in model.problem.activities:
        for mode in activity.modes:
            if solver.value(model.mode[activity.id, mode.id]):
                placed.append(
                    Placed(
                        activity=activity.id,
                        mode=mode.id,
                        start=solver.value(model.start[activity.id]),
                        end=solver.value(model.end[activity.id]),
                        crew=mode.crew,
                    )
                )
    placed.sort(key=lambda item: (item.start, item.end, item.activity))
    options = {choice: option for (choice, option), literal in model.option.items() if solver.value(literal)}
    pieces: tuple[ClockPiece, ...] = clock_pieces(model.problem, placed, options)
    return Schedule(
        status=status,
        placed=tuple(placed),
        breaks=tuple(
            PlacedBreak(person=person, start=solver.value(start), end=solver.value(start) + minutes)
            for person, (start, minutes) in model.breaks.items()
        ),
        options=options,
        pieces=pieces,
        finish_min=finish,
        bound_min=min(bound, finish),
        excess_min=sum(piece.excess_min for piece in pieces if piece.clock not in model.relaxed.clocks),
        doubts=doubts,
    )
