"""Which barrel holds what: old and new water apart, in the barrels on hand."""

from __future__ import annotations

from slackwater.finding import Remedy, Severity
from slackwater.job.catalog import Catalog, Container
from slackwater.job.model import Job
from slackwater.water.notes import Notes
from slackwater.water.result import BarrelFill


def stock(job: Job, catalog: Catalog) -> list[Container]:
    """Barrels on hand, smallest first."""
    return sorted(
        (
            container
            for owned in job.containers or ()
            if (container := catalog.containers.get(owned.container)) is not None
            and container.id.startswith(("barrel", "ibc", "fold"))
            for _ in range(owned.count)
        ),
        key=lambda container: container.usable_l,
    )


def barrel_fills(
    job: Job, catalog: Catalog, notes: Notes, *, old_l: float, new_l: float
) -> tuple[tuple[BarrelFill, ...], float]:
    """The fewest litres of barrel that hold old and new water apart; what no barrel holds is short."""
    left_over = stock(job, catalog)
    fills: list[BarrelFill] = []
    short = 0.0
    for holds, litres in (("new", new_l), ("old", old_l)):
        left = litres
        while left > 0.01 and left_over:
            barrel = next((item for item in left_over if item.usable_l >= left), left_over[-1])
            left_over.remove(barrel)
            amount = min(left, barrel.usable_l)
            fills.append(
                BarrelFill(
                    container=barrel.id, holds=holds, litres=round(amount, 1), mass_kg=amount + barrel.empty_mass_kg
                )
            )
            left -= amount
        if left > 0.01:
            short += left
    if short > 0:
        notes.miss(
            "barrels_short",
            Severity.MISFIT,
            margin=-short,
            unit="L",
            remedies=(Remedy(id="water.more_barrels", values={"short_l": short}), Remedy(id="water.keep_less")),
            short_l=short,
            need_l=old_l + new_l,
        )
    return tuple(fills), short
