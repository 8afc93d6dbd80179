"""What a finished day cost by the rules that priced it: hours as the log has them, goods as they came or were used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import ceil

from slackwater.frozen import Frozen
from slackwater.job.model import Job
from slackwater.supply.asked import terms_of
from slackwater.supply.money import rounded
from slackwater.supply.price import drive_h, labour_of
from slackwater.supply.result import DirectCost, OrderLine

LABOUR = "labour:"
MATERIALS = "materials"


class CostLine(Frozen):
    """One line of the direct cost, as planned and as it was; `from_log` False: nothing is known, so it is as planned."""

    id: str
    planned: Decimal
    actual: Decimal
    from_log: bool


class Afterwards(Frozen):
    """What a day was offered at and what it cost.

    Attributes
    ----------
    currency : str
    offered : Decimal or None
        Price before tax; None where the plan had none.
    planned, actual : Decimal
        Direct cost.
    cost : Decimal or None
        Actual cost with overhead; None where the overhead is not known.
    lines : tuple of CostLine
    unpriced : tuple of str
        Goods that came and have no price: not in it.
    """

    currency: str
    offered: Decimal | None
    planned: Decimal
    actual: Decimal
    cost: Decimal | None
    lines: tuple[CostLine, ...]
    unpriced: tuple[str, ...] = ()

    @property
    def left(self) -> Decimal | None:
        """What the offer left over its cost; less than nothing where money was lost."""
        return None if self.offered is None or self.cost is None else self.offered - self.cost


def packs_taken(line: OrderLine, *, received: float | None, used: float | None) -> float:
    """Packs of a line that are paid: those that came, or were ordered; more where more was used than there was.

    Parameters
    ----------
    line : OrderLine
    received : float or None
        Packs that came, less those that went back; None: nothing was noted.
    used : float or None
        In the line's unit; None: nothing was noted.
    """
    packs = float(line.packs) if received is None else max(0.0, received)
    if used is not None:
        packs = max(packs, float(ceil((used - line.on_hand) / line.pack_size - 1e-9)))
    return packs


def cost_afterwards(
    job: Job,
    direct: DirectCost,
    order: Sequence[OrderLine],
    *,
    offered: Decimal | None,
    crew_minutes: Mapping[str, int],
    crew_night_minutes: Mapping[str, int],
    received: Mapping[str, float],
    used: Mapping[str, float],
    unpriced: Sequence[str] = (),
) -> Afterwards | None:
    """What a day cost, line by line as `direct_cost_of` has them.

    Parameters
    ----------
    job : Job
        With people and their rates.
    direct, order : DirectCost, sequence of OrderLine
        Of the plan that was followed.
    offered : Decimal or None
    crew_minutes, crew_night_minutes : mapping
        As the log has them, by person.
    received, used : mapping
        By item: packs that came, and amounts in the unit of its line. What is not in them is as planned.
    unpriced : sequence of str
        Goods that came without a line.

    Returns
    -------
    Afterwards or None
        None where somebody who was there has no rate.
    """
    people = {person.id: person for person in job.people or ()}
    if any(name not in people or people[name].hourly_rate is None for name in crew_minutes):
        return None
    planned = {line.id: line.amount for line in direct.lines}
    actual, known = dict(planned), set()
    for name, minutes in crew_minutes.items():
        night = crew_night_minutes.get(name, 0)
        amount, _ = labour_of(people[name], on_site_min=minutes, night_min=night, drive_h=drive_h(job))
        actual[LABOUR + name] = amount
        known.add(LABOUR + name)
    if received or used:
        actual[MATERIALS] = sum(
            (
                rounded(line.unit_price * Decimal(str(taken)))
                if line.unit_price is not None
                # Lines that were put together at several prices have only their sum.
                else rounded(line.price * Decimal(str(taken / line.packs)))
                for line in order
                if line.price is not None and line.packs > 0
                for taken in (packs_taken(line, received=received.get(line.item), used=used.get(line.item)),)
            ),
            Decimal(0),
        )
        known.add(MATERIALS)
    lines = tuple(
        CostLine(
            id=name, planned=planned.get(name, Decimal(0)), actual=actual.get(name, Decimal(0)), from_log=name in known
        )
        for name in {**planned, **actual}
    )
    total, terms = sum((line.actual for line in lines), Decimal(0)), terms_of(job)
    return Afterwards(
        currency=direct.currency,
        offered=offered,
        planned=direct.total,
        actual=total,
        cost=None if terms is None else terms.cost(total),
        lines=lines,
        unpriced=tuple(unpriced),
    )
