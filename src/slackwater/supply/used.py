"""What the log of a finished day says about goods: what was used, held against what the plan needed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from slackwater.frozen import Frozen
from slackwater.job.event import Event, EventKind
from slackwater.shrinkage import is_absurd
from slackwater.supply.learned import BOX, sort_of
from slackwater.supply.result import OrderLine

MOST_AMOUNT = 1e6
LEAST_BEYOND = 1e-9
"""Less is what is left of adding numbers."""
LITRES_OF_BAG = re.compile(r"bag of ([\d.]+) L")


class GoodsSkipped(Frozen):
    """Goods that are not learned from, and why; the sentence is ``learned.skipped.<reason>`` of the wording."""

    what: str
    reason: str
    values: Mapping[str, float | str] = {}


class SortUsed(Frozen):
    """One sort of goods on one job: sums over its items, each as a share of what was planned of it where units differ."""

    sort: str
    planned: float
    used: float
    unit: str = ""
    """Of both; empty where they are shares."""


class GoodsSeen(Frozen):
    """What a log says about goods.

    Attributes
    ----------
    sorts : tuple of SortUsed
    amounts : mapping
        Used, by item, in the unit of its line.
    skipped : tuple of GoodsSkipped
    """

    sorts: tuple[SortUsed, ...] = ()
    amounts: Mapping[str, float] = {}
    skipped: tuple[GoodsSkipped, ...] = ()


def in_unit_of(line: OrderLine, amount: float, unit: str) -> float | None:
    """An amount in the unit of an order line; None where its unit cannot be turned into that."""
    told, own = unit.strip().casefold(), line.unit.casefold()
    if told in ("", own):
        return amount
    bag = LITRES_OF_BAG.fullmatch(line.unit)
    if bag is not None and told in ("l", "litre", "litres", "liter", "liters"):
        return amount / float(bag[1])
    grams = {("kg", "g"): 1000.0, ("g", "kg"): 0.001}
    return amount * grams[told, own] if (told, own) in grams else None


def goods_seen(events: Sequence[Event], order: Sequence[OrderLine], containers: Mapping[str, int]) -> GoodsSeen:
    """Hold what was noted as used against the plan that was followed.

    Parameters
    ----------
    events : sequence of Event
        Those that stand, in any order; entries of one item add up.
    order : sequence of OrderLine
        Of the plan. What past jobs had made of its need is taken out again: otherwise it would count twice.
    containers : mapping
        Boxes and barrels of the plan by catalog id.
    """
    lines = {line.item: line for line in order}
    amounts: dict[str, float] = {}
    skipped: dict[str, GoodsSkipped] = {}
    for event in events:
        if event.kind is not EventKind.USED:
            continue
        item, told = event.subject, event.body.get("amount")
        if item not in lines and item not in containers:
            skipped[item] = GoodsSkipped(what=item, reason="goods_unplanned")
            continue
        if isinstance(told, bool) or not isinstance(told, int | float) or not 0 <= told <= MOST_AMOUNT:
            skipped[item] = GoodsSkipped(what=item, reason="goods_amount", values={"value": str(told)})
            continue
        unit = str(event.body.get("unit", ""))
        amount = in_unit_of(lines[item], float(told), unit) if item in lines else float(told)
        if amount is None:
            values = {"unit": unit, "own": lines[item].unit}
            skipped[item] = GoodsSkipped(what=item, reason="goods_unit", values=values)
            continue
        amounts[item] = amounts.get(item, 0.0) + amount
    shares: dict[str, list[tuple[float, float, str]]] = {}
    for item, used in amounts.items():
        line = lines.get(item)
        sort = BOX if line is None else sort_of(line.kind, item)
        planned = float(containers[item]) if line is None else line.need if line.plan_need is None else line.plan_need
        if item in skipped or sort is None or planned <= 0:
            continue
        if used == 0:
            skipped[item] = GoodsSkipped(what=item, reason="goods_none")
        elif is_absurd(used, planned):
            values = {"used": f"{used:g}", "planned": f"{planned:g}"}
            skipped[item] = GoodsSkipped(what=item, reason="goods_absurd", values=values)
        else:
            shares.setdefault(sort, []).append((planned, used, "piece" if line is None else line.unit))
    return GoodsSeen(
        sorts=tuple(_sum(sort, rows) for sort, rows in sorted(shares.items())),
        amounts=amounts,
        skipped=tuple(skipped.values()),
    )


class Beyond(Frozen):
    """Goods that were used and stand in no order, or more of them than was ordered or came."""

    item: str
    amount: float
    unit: str


def beyond_order(
    events: Sequence[Event],
    order: Sequence[OrderLine],
    containers: Mapping[str, int],
    received: Mapping[tuple[str, str], float],
) -> tuple[Beyond, ...]:
    """What was noted as used beyond what was ordered, by item.

    Parameters
    ----------
    events : sequence of Event
        Those that stand, in any order; entries of one item add up.
    order : sequence of OrderLine
        Whole packs count, spare and all, and what was on hand.
    containers : mapping
        Boxes and barrels of the plan by catalog id.
    received : mapping
        What came, by item and unit as the list of goods counts it. What came beyond the order is told by that list, and counts
        as ordered here, so that nothing is told twice.

    Notes
    -----
    Boxes and barrels are the firm's and used up by nobody. An amount in a unit that cannot be turned into that of the order is
    held against nothing; `goods_seen` tells it.
    """
    lines: dict[str, list[OrderLine]] = {}
    for line in order:
        lines.setdefault(line.item, []).append(line)
    used = {(item, lines[item][-1].unit): amount for item, amount in goods_seen(events, order, {}).amounts.items()}
    for event in events:
        told, item = event.body.get("amount"), event.subject
        if event.kind is not EventKind.USED or not item or item in lines or item in containers:
            continue
        if isinstance(told, int | float) and not isinstance(told, bool) and 0 <= told <= MOST_AMOUNT:
            key = item, str(event.body.get("unit", ""))
            used[key] = used.get(key, 0.0) + told
    more = [
        Beyond(item=item, unit=unit, amount=amount - _there(item, unit, lines.get(item, ()), received))
        for (item, unit), amount in sorted(used.items())
    ]
    return tuple(row for row in more if row.amount > LEAST_BEYOND)


def _there(item: str, unit: str, lines: Sequence[OrderLine], received: Mapping[tuple[str, str], float]) -> float:
    """How much of an item was ordered or, where more came than that, came."""
    there, number = 0.0 if lines else received.get((item, unit), 0.0), 0
    for line in lines:
        packs = float(line.packs)
        if packs > 0:
            number += 1
            key = item if number == 1 else f"{item} {number}"
            packed = line.unit if line.pack_size == 1 else f"pack of {line.pack_size:g} {line.unit}"
            packs = max(packs, received.get((key, packed), 0.0))
        there += in_unit_of(lines[-1], packs * line.pack_size + line.on_hand, line.unit) or 0.0
    return there


def _sum(sort: str, rows: Sequence[tuple[float, float, str]]) -> SortUsed:
    units = {unit for _, _, unit in rows}
    if len(units) == 1:
        planned, used = sum(row[0] for row in rows), sum(row[1] for row in rows)
    else:
        planned, used = float(len(rows)), sum(row[1] / row[0] for row in rows)
    unit = next(iter(units)) if len(units) == 1 else ""
    return SortUsed(sort=sort, planned=round(planned, 4), used=round(used, 4), unit=unit)
