"""Goods as they come in, held against the order list of a job's newest plan."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from slackwater.actions.entering import Entered
from slackwater.actions.office import Office
from slackwater.actions.recording import job_of
from slackwater.actions.surveying import catalog_of
from slackwater.book import plans, receipts
from slackwater.book.receipts import Receipt
from slackwater.errors import Conflict
from slackwater.job.catalog import Catalog
from slackwater.paper.data import item_name
from slackwater.reader import ENGLISH

MOST_PACKS = 100_000.0


@dataclass(frozen=True)
class Line:
    """One line of the order, or something that came without standing in it.

    Attributes
    ----------
    key : str
        Item; with a number behind it where an item stands in the list more than once.
    ordered : float or None
        None for what is not in the order.
    received : float
    unit : str
        What is counted.
    by : str
        Date to order by; empty where there is none.
    name : str
        The item as people call it.
    """

    key: str
    ordered: float | None
    received: float
    unit: str
    by: str = ""
    name: str = ""

    @property
    def missing(self) -> float:
        """What is still to come; less than nothing where too much came."""
        return (self.ordered or 0.0) - self.received


@dataclass(frozen=True)
class Goods:
    """What was ordered and what came; `lines` with those that lack most first, `plan_version` None without a plan.

    `names` holds what people call each item of the receipts.
    """

    lines: tuple[Line, ...]
    extra: tuple[Line, ...]
    receipts: tuple[Receipt, ...]
    plan_version: int | None
    names: Mapping[str, str]


def goods(office: Office, job_id: str) -> Goods:
    """The order of the newest plan, and what has come of it.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    plan = plans.newest(office.book, job_id)
    totals = receipts.totals(office.book, job_id)
    catalog = catalog_of(office)
    came = tuple(receipts.of_job(office.book, job_id))
    lines = [] if plan is None else list(_ordered(json.loads(plan.plan_json), totals, catalog))
    known = {(line.key, line.unit) for line in lines}
    return Goods(
        lines=tuple(sorted(lines, key=lambda line: (line.missing <= 0, line.by, line.name))),
        extra=tuple(
            Line(key=key, ordered=None, received=total, unit=unit, name=_name(key, catalog))
            for (key, unit), total in sorted(totals.items())
            if (key, unit) not in known
        ),
        receipts=came,
        plan_version=None if plan is None else plan.version_n,
        names={entry.line: _name(entry.line, catalog) for entry in came},
    )


def _name(key: str, catalog: Catalog) -> str:
    """What people call an item, with its number where it stands in the list more than once."""
    item, _, number = key.rpartition(" ")
    return (
        f"{item_name(item, catalog, ENGLISH)} {number}"
        if item and number.isdecimal()
        else item_name(key, catalog, ENGLISH)
    )


def _ordered(plan: Mapping[str, Any], totals: Mapping[tuple[str, str], float], catalog: Catalog) -> Iterator[Line]:
    seen: dict[str, int] = {}
    for line in (plan.get("supply") or {}).get("order") or ():
        if line["packs"] <= 0:
            continue
        seen[line["item"]] = number = seen.get(line["item"], 0) + 1
        key = line["item"] if number == 1 else f"{line['item']} {number}"
        unit = line["unit"] if line["pack_size"] == 1 else f"pack of {line['pack_size']:g} {line['unit']}"
        yield Line(
            key=key,
            ordered=float(line["packs"]),
            received=totals.get((key, unit), 0.0),
            unit=unit,
            by=line["order_by"] or "",
            name=_name(key, catalog),
        )


def receive(office: Office, job_id: str, typed: Mapping[str, str], *, by: str = "") -> None:
    """Note what came: fields ``got:KEY`` for lines of the order, ``what`` with ``amount`` for something else.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if an amount is no number, or nothing was entered.
    """
    entered = Entered(typed)
    now = goods(office, job_id)
    at = entered.moment("at")
    note = entered.text("note")
    came: list[tuple[Line, float]] = []
    for line in now.lines:
        name = f"got:{line.key}"
        if typed.get(name, "").strip():
            came.append((line, entered.number(name, -MOST_PACKS, MOST_PACKS)))
    if typed.get("what", "").strip():
        amount = entered.number("amount", -MOST_PACKS, MOST_PACKS)
        other = Line(key=entered.text("what"), ordered=None, received=0, unit=entered.text("unit") or "piece")
        came.append((other, amount))
    if not came and not entered.faults:
        entered.fault("what", "nothing_came")
    entered.done()
    for number, (line, amount) in enumerate(came):
        try:
            receipts.add(
                office.book,
                job_id,
                line=line.key,
                ordered=line.ordered,
                received=amount,
                unit=line.unit,
                at=at,
                by=by,
                note=note,
                receipt_id=entered.own_id(number),
            )
        except Conflict:
            # The form was sent twice.
            continue
