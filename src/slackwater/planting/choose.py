"""Units of each plant in each zone as a small integer problem, handed to the solver; what a choice costs, apart from it.

The cost of a choice is a whole number: what it leaves bare, what stands where it does not belong, how many groups there are,
and money. `cost_of` reckons it without the solver.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import numpy as np

from slackwater.errors import BadInput, Contradiction

BARE, FAST, OVER, GROUP = 1000, 200, 3000, 3000
"""Cost of a cm2 left bare, of a cm2 of fast growers that lacks, of a cm2 that stands on another, of one more group."""
SPARE_EACH = 10
"""One spare unit for each so many of a carpet, or part of them: as they are ordered."""
ROUNDS = 1e-6
"""The solver reckons bounds in floating point: so much of a cost is put down to rounding."""


@dataclass(frozen=True)
class Pair:
    """A plant that can stand in a zone.

    Attributes
    ----------
    plant : str
    zone : int
    marks : int
        Against the place [0 to 100].
    least : int
        Fewest units that read as a group there; 1 where one does.
    """

    plant: str
    zone: int
    marks: int
    least: int = 1


@dataclass(frozen=True)
class Sort:
    """A plant as it is bought.

    Attributes
    ----------
    cover_cm2 : int
        What a unit takes up [above 0].
    price_cents : int
        Of a unit.
    fast : bool
        Counts as a fast grower.
    spares : bool
        One in ten more is ordered.
    stock : int or None
        No more units can be had.
    stated : int or None
        Exactly so many units are planted.
    """

    cover_cm2: int
    price_cents: int
    fast: bool = False
    spares: bool = False
    stock: int | None = None
    stated: int | None = None


@dataclass(frozen=True)
class Area:
    """A zone as the choice sees it: wanted and possible cover [cm2]."""

    wanted_cm2: int
    most_cm2: int


@dataclass(frozen=True)
class Asked:
    """The whole question.

    Attributes
    ----------
    areas : mapping of int to Area
        By number of the zone.
    sorts : mapping of str to Sort
    pairs : sequence of Pair
    budget_cents : int or None
        For all units and spares; None: no limit.
    fast_percent : int
        Of all that is planted, so much is to be fast growers [0 to 100].
    most_species : int or None
    most_per_zone : int or None
        Species; what is stated does not count.
    """

    areas: Mapping[int, Area]
    sorts: Mapping[str, Sort]
    pairs: Sequence[Pair]
    budget_cents: int | None = None
    fast_percent: int = 0
    most_species: int | None = None
    most_per_zone: int | None = None

    def __post_init__(self) -> None:
        for pair in self.pairs:
            if pair.plant not in self.sorts or pair.zone not in self.areas:
                raise BadInput(f"{pair.plant} in zone {pair.zone}: no such plant or zone is asked about")
        for name, sort in self.sorts.items():
            if sort.cover_cm2 < 1:
                raise BadInput(f"{name} covers {sort.cover_cm2} cm2, expected 1 or more; correct its row")


@dataclass(frozen=True)
class Choice:
    """Units by plant and zone, none that is 0.

    Attributes
    ----------
    units : mapping of (str, int) to int
    cost : int
    bound : int
        No choice costs less.
    proven : bool
        Whether this one costs no more than that.
    """

    units: Mapping[tuple[str, int], int] = field(default_factory=dict)
    cost: int = 0
    bound: int = 0
    proven: bool = True

    @property
    def gap(self) -> float:
        """How much of the cost a better choice could spare, at most [0..1]."""
        return 0.0 if self.cost <= 0 else max(0.0, (self.cost - self.bound) / self.cost)


@dataclass(frozen=True)
class Care:
    """How long to search: branches that are looked at, at most. A count and no clock, so that the answer is the same anywhere."""

    nodes: int = 400
    gap: float = 0.0
    """A choice that could still be better by this share is taken."""


def spares_of(sort: Sort, units: int) -> int:
    """Units that are ordered over those that are planted."""
    return -(-units // SPARE_EACH) if sort.spares else 0


def spent_cents(asked: Asked, units: Mapping[tuple[str, int], int]) -> int:
    """Money for all units with their spares."""
    total = 0
    for name, sort in asked.sorts.items():
        count = sum(number for (plant, _), number in units.items() if plant == name)
        total += sort.price_cents * (count + spares_of(sort, count))
    return total


def cost_of(asked: Asked, units: Mapping[tuple[str, int], int]) -> int:
    """What a choice costs; the less the better."""
    marks = {(pair.plant, pair.zone): pair.marks for pair in asked.pairs}
    covered = dict.fromkeys(asked.areas, 0)
    fast = planted = groups = misplaced = 0
    for (plant, zone), number in units.items():
        area = asked.sorts[plant].cover_cm2 * number
        covered[zone] += area
        planted += area
        fast += area if asked.sorts[plant].fast else 0
        groups += number > 0
        misplaced += (1 + marks[plant, zone]) * area
    bare = sum(max(0, area.wanted_cm2 - covered[zone]) for zone, area in asked.areas.items())
    over = sum(max(0, covered[zone] - area.most_cm2) for zone, area in asked.areas.items())
    lacks_fast = max(0, -(-(asked.fast_percent * planted - 100 * fast) // 100))
    return BARE * bare + OVER * over + FAST * lacks_fast + GROUP * groups + misplaced + spent_cents(asked, units)


def choose(asked: Asked, *, care: Care | None = None) -> Choice:
    """The cheapest choice by `cost_of` that keeps to budget, stock, groups and numbers of species.

    Parameters
    ----------
    asked : Asked
    care : Care or None

    Returns
    -------
    Choice
        Proven the best, or the best found with a bound. The same question gives the same answer.

    Notes
    -----
    Branch and cut over whole units, by HiGHS: Huangfu and Hall (2018), Mathematical Programming Computation 10, 119-142.
    """
    care = care or Care()
    stated = any(sort.stated is not None for sort in asked.sorts.values())
    rows = _Rows(asked)
    if not rows.units:
        return Choice(cost=cost_of(asked, {}), bound=cost_of(asked, {}))
    from scipy.optimize import Bounds, LinearConstraint, milp

    found = milp(
        c=np.array(rows.cost),
        integrality=np.ones(len(rows.cost), dtype=np.int64),
        bounds=Bounds(np.zeros(len(rows.cost)), np.array(rows.most)),
        constraints=LinearConstraint(rows.matrix(), np.array(rows.low), np.array(rows.high)),
        options={"mip_rel_gap": care.gap, "node_limit": care.nodes},
    )
    if found.x is None:
        if stated:
            raise Contradiction("the stated plants cannot be placed within stock; take fewer of one of them")
        return Choice(cost=cost_of(asked, {}), bound=0, proven=False)
    units = {key: count for key, column in rows.units.items() if (count := round(found.x[column]))}
    cost = cost_of(asked, units)
    bound = min(cost, ceil(found.mip_dual_bound - ROUNDS * max(1.0, cost)))
    proven = found.status == 0 and (care.gap == 0.0 or bound >= cost)
    return Choice(units=units, cost=cost, bound=cost if proven else bound, proven=proven)


def most_units(asked: Asked, pair: Pair) -> int:
    """Units of a pair at most: what alone fills the zone, and no less than a group; all that is stated."""
    sort, area = asked.sorts[pair.plant], asked.areas[pair.zone]
    if sort.stated is not None:
        return sort.stated
    most = min(max(pair.least, -(-area.wanted_cm2 // sort.cover_cm2)), area.most_cm2 // sort.cover_cm2)
    if sort.stock is not None:
        most = min(most, sort.stock)
    if asked.budget_cents is not None and sort.price_cents:
        most = min(most, asked.budget_cents // sort.price_cents)
    return max(0, most)


class _Rows:
    """The question as rows and columns of whole numbers."""

    def __init__(self, asked: Asked) -> None:
        self.cost: list[float] = []
        self.most: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.entries: list[tuple[int, int, float]] = []
        self.units: dict[tuple[str, int], int] = {}
        self.used: dict[tuple[str, int], int] = {}
        self._place(asked)
        if self.units:
            self._species(asked)
            self._areas(asked)
            self._fast(asked)
            self._money(asked)

    def matrix(self) -> Any:
        from scipy.sparse import csr_matrix

        rows, columns, values = zip(*self.entries, strict=True)
        return csr_matrix((values, (rows, columns)), shape=(len(self.low), len(self.cost)))

    def column(self, *, cost: float, most: float) -> int:
        self.cost.append(cost)
        self.most.append(most)
        return len(self.cost) - 1

    def row(self, terms: Iterable[tuple[int, float]], *, low: float = -np.inf, high: float = np.inf) -> None:
        self.entries += [(len(self.low), column, value) for column, value in terms]
        self.low.append(low)
        self.high.append(high)

    def of(self, *, plant: str | None = None, zone: int | None = None) -> list[tuple[tuple[str, int], int]]:
        return [
            (key, column)
            for key, column in self.units.items()
            if (plant is None or key[0] == plant) and (zone is None or key[1] == zone)
        ]

    def _place(self, asked: Asked) -> None:
        """Units of a pair: none, or a group."""
        for pair in asked.pairs:
            most, sort = most_units(asked, pair), asked.sorts[pair.plant]
            if most < pair.least:
                continue
            key = pair.plant, pair.zone
            units = self.units[key] = self.column(cost=(1 + pair.marks) * sort.cover_cm2 + sort.price_cents, most=most)
            used = self.used[key] = self.column(cost=GROUP, most=1)
            self.row([(units, 1), (used, -pair.least)], low=0)
            self.row([(units, 1), (used, -most)], high=0)

    def _species(self, asked: Asked) -> None:
        species = []
        for name, sort in asked.sorts.items():
            mine = self.of(plant=name)
            if not mine:
                continue
            if sort.stated is not None:
                self.row([(column, 1) for _, column in mine], low=sort.stated, high=sort.stated)
                continue
            if sort.stock is not None:
                self.row([(column, 1) for _, column in mine], high=sort.stock)
            if asked.most_species is not None:
                any_of_it = self.column(cost=0, most=1)
                for key, _ in mine:
                    self.row([(self.used[key], 1), (any_of_it, -1)], high=0)
                species.append(any_of_it)
        if species and asked.most_species is not None:
            self.row([(column, 1) for column in species], high=asked.most_species)

    def _areas(self, asked: Asked) -> None:
        for zone, area in asked.areas.items():
            covers = [(column, asked.sorts[key[0]].cover_cm2) for key, column in self.of(zone=zone)]
            bare = self.column(cost=BARE, most=area.wanted_cm2)
            self.row([*covers, (bare, 1)], low=area.wanted_cm2)
            free = [key for key, _ in self.of(zone=zone) if asked.sorts[key[0]].stated is None]
            if asked.most_per_zone is not None and free:
                self.row([(self.used[key], 1) for key in free], high=asked.most_per_zone)
            if len(free) < len(covers):
                over = self.column(cost=OVER, most=np.inf)
                self.row([*covers, (over, -1)], high=area.most_cm2)
            elif covers:
                self.row(covers, high=area.most_cm2)

    def _fast(self, asked: Asked) -> None:
        if not asked.fast_percent:
            return
        lacks = self.column(cost=FAST, most=np.inf)
        self.row(
            [
                *(
                    (column, asked.sorts[key[0]].cover_cm2 * (100 * asked.sorts[key[0]].fast - asked.fast_percent))
                    for key, column in self.units.items()
                ),
                (lacks, 100),
            ],
            low=0,
        )

    def _money(self, asked: Asked) -> None:
        money = []
        for name, sort in asked.sorts.items():
            mine = self.of(plant=name)
            if not mine or not sort.price_cents:
                continue
            money += [(column, sort.price_cents) for _, column in mine]
            if sort.spares:
                spare = self.column(cost=sort.price_cents, most=np.inf)
                self.row([(spare, SPARE_EACH), *((column, -1) for _, column in mine)], low=0)
                money.append((spare, sort.price_cents))
        if asked.budget_cents is not None and money:
            self.row(money, high=asked.budget_cents)
