"""Who waits in which box: an exact small packing of the animals into the boxes on hand, with one left free."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

SHARING_BELOW_G = 1.5
"""Shoaling fish lighter than this share a box; common practice, no source."""
EATS_FROM_RATIO = 8.0
"""A fish so many times as heavy as another may eat it; common practice, no source."""
SPLIT_COST, BOX_COST, POORNESS_COST = 0.3, 1.0, 0.01
"""A box more is worse than a kind split over two; how well a box holds only breaks ties."""
SMALLNESS_W_L_K = 10.0
"""A box that loses little heat and holds much water is the better one; weighs one against the other."""


@dataclass(frozen=True)
class Kind:
    """Animals of one species.

    Attributes
    ----------
    id : str
    count : int
        The most there may be.
    mass_g : float
        Of one.
    group : str
        fish, shrimp or snail.
    least_together : int
        A shoal is not split below this.
    jumps : bool
    depth_cm : float
        Water that it needs; 0 for any.
    leaves : bool
        Boarded: its box leaves and holds nobody who stays.
    """

    id: str
    count: int
    mass_g: float
    group: str
    least_together: int = 1
    jumps: bool = False
    depth_cm: float = 0.0
    leaves: bool = False


@dataclass(frozen=True)
class Holder:
    """One container on hand.

    Attributes
    ----------
    id : str
    usable_l, depth_cm : float
    lid : bool
    load_g_l : mapping
        What it may carry by kind of stock, ``fish`` and ``shrimp`` [g/L].
    loss_w_per_k : float
        Heat that it loses with its lid on.
    for_fish : bool
        False for small boxes to count shrimp in.
    """

    id: str
    usable_l: float
    depth_cm: float
    lid: bool
    load_g_l: Mapping[str, float]
    loss_w_per_k: float = 1.0
    for_fish: bool = True

    @property
    def poorness(self) -> float:
        """How badly it holds animals over hours, against other boxes."""
        return self.loss_w_per_k + SMALLNESS_W_L_K / self.usable_l


@dataclass(frozen=True)
class Packed:
    """Who goes where.

    Attributes
    ----------
    boxes : tuple of (int, mapping)
        Place of the holder in the list given, and animals of each kind in it.
    spare : int or None
        Place of the box that is left for the sick and the unplanned; None where every box is needed.
    proven : bool
        Whether no packing needs fewer boxes.
    """

    boxes: tuple[tuple[int, Mapping[str, int]], ...]
    spare: int | None
    proven: bool


def may_share(first: Kind, second: Kind) -> bool:
    """Whether two kinds may wait together."""
    if first.leaves != second.leaves:
        return False
    groups = {first.group, second.group}
    if groups == {"fish"}:
        light = max(first.mass_g, second.mass_g) < SHARING_BELOW_G
        return light and max(first.mass_g, second.mass_g) < EATS_FROM_RATIO * min(first.mass_g, second.mass_g)
    return groups <= {"shrimp", "snail"}


def suits(kind: Kind, holder: Holder) -> bool:
    """Whether a kind may go into a container at all."""
    return (
        (holder.lid or not kind.jumps)
        and holder.depth_cm >= kind.depth_cm
        and (holder.for_fish or kind.group != "fish")
    )


def _load_of(kind: Kind, holder: Holder) -> float:
    return holder.load_g_l["fish" if kind.group == "fish" else "shrimp"]


def pack(kinds: Sequence[Kind], holders: Sequence[Holder]) -> Packed | None:
    """The packing with the fewest boxes, then the fewest split kinds, then the boxes that hold best.

    Parameters
    ----------
    kinds : sequence of Kind
        Each with a count; those with none are left out.
    holders : sequence of Holder
        Every container on hand, one entry each.

    Returns
    -------
    Packed or None
        None where the animals do not fit into all containers together by these rules.

    Notes
    -----
    Mixed-integer programme (HiGHS): whole animals of each kind in each box, kinds that must not meet apart, mass per
    litre, lids and depth, shoals not split below their least number. One box is left free if that is possible.
    """
    there = [kind for kind in kinds if kind.count > 0]
    if not there:
        return Packed(boxes=(), spare=0 if holders else None, proven=True)
    for spare in (1, 0):
        if len(holders) - spare < 1:
            continue
        found = _packed(there, holders, most=len(holders) - spare)
        if found is not None:
            used = {place for place, _ in found.boxes}
            free = [place for place in range(len(holders)) if place not in used]
            # The largest of those left serves best.
            return Packed(
                boxes=found.boxes,
                spare=max(free, key=lambda place: holders[place].usable_l) if free else None,
                proven=found.proven,
            )
    return None


def _packed(kinds: Sequence[Kind], holders: Sequence[Holder], *, most: int) -> Packed | None:
    number, boxes = len(kinds), len(holders)
    pairs = number * boxes
    size = 2 * pairs + boxes

    def animals(kind: int, box: int) -> int:
        return kind * boxes + box

    def present(kind: int, box: int) -> int:
        return pairs + kind * boxes + box

    def used(box: int) -> int:
        return 2 * pairs + box

    rows: list[np.ndarray] = []
    low: list[float] = []
    high: list[float] = []

    def add(terms: Mapping[int, float], least: float, greatest: float) -> None:
        row = np.zeros(size)
        for at, value in terms.items():
            row[at] += value
        rows.append(row)
        low.append(least)
        high.append(greatest)

    upper = np.ones(size)
    for place, kind in enumerate(kinds):
        add({animals(place, box): 1.0 for box in range(boxes)}, kind.count, kind.count)
        together = min(kind.least_together, kind.count)
        for box, holder in enumerate(holders):
            upper[animals(place, box)] = kind.count if suits(kind, holder) else 0
            upper[present(place, box)] = 1 if suits(kind, holder) else 0
            add({animals(place, box): 1.0, present(place, box): -kind.count}, -np.inf, 0)
            add({animals(place, box): 1.0, present(place, box): -together}, 0, np.inf)
            add({present(place, box): 1.0, used(box): -1.0}, -np.inf, 0)
    for (one, first), (two, second) in combinations(enumerate(kinds), 2):
        if not may_share(first, second):
            for box in range(boxes):
                add({present(one, box): 1.0, present(two, box): 1.0}, -np.inf, 1)
    for box, holder in enumerate(holders):
        add(
            {animals(place, box): kind.mass_g / _load_of(kind, holder) for place, kind in enumerate(kinds)}
            | {used(box): -holder.usable_l},
            -np.inf,
            0,
        )
    add({used(box): 1.0 for box in range(boxes)}, 0, most)
    cost = np.zeros(size)
    cost[pairs : 2 * pairs] = SPLIT_COST
    for box, holder in enumerate(holders):
        cost[used(box)] = BOX_COST + POORNESS_COST * holder.poorness
    answer = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), np.array(low), np.array(high)),
        bounds=Bounds(np.zeros(size), upper),
        integrality=np.ones(size, dtype=np.int64),
        options={"mip_rel_gap": 1e-6, "time_limit": 20.0},
    )
    if answer.x is None:
        return None
    whole = np.round(np.asarray(answer.x)).astype(int)
    filled = []
    for box in range(boxes):
        content = {kind.id: int(whole[animals(place, box)]) for place, kind in enumerate(kinds)}
        content = {name: count for name, count in content.items() if count > 0}
        if content:
            filled.append((box, content))
    return Packed(boxes=tuple(filled), spare=None, proven=answer.status == 0)
