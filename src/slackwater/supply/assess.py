"""The supply stage of the pipeline: order, calendar, packing, disposal and price."""

from __future__ import annotations

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.stage import Stage
from slackwater.supply.asked import price_of
from slackwater.supply.calendar import calendar_steps, order_findings, peak_gap, visit_over_hours, visits_without_end
from slackwater.supply.disposal import waste_lines
from slackwater.supply.learned import BOX, goods_figures, sort_of
from slackwater.supply.order import goods_findings, order_lines, regulated_in_tank, wood_findings
from slackwater.supply.packing import packed_mass_kg, packing_items
from slackwater.supply.price import direct_cost_of, working_people
from slackwater.supply.result import Quantities, Supply
from slackwater.supply.told import price_figures, price_findings


def assess_supply(job: Job, catalog: Catalog, quantities: Quantities) -> Stage[Supply]:
    """What to have, bring, throw away and charge; what cannot be computed is named."""
    day = quantities.day
    order, findings = order_lines(job, catalog, quantities, quantities.prepared_by)
    findings = [
        *findings,
        *goods_findings(job, catalog, day),
        *wood_findings(job, catalog),
        *regulated_in_tank(job, catalog),
        *order_findings(job, order),
    ]
    if day is not None and (gap := peak_gap(job, day)) is not None:
        findings.append(gap)
    if day is not None and (endless := visits_without_end(job, day)) is not None:
        findings.append(endless)
    if (too_long := visit_over_hours(job)) is not None:
        findings.append(too_long)
    packing = packing_items(job, catalog, quantities)
    packed = packed_mass_kg(packing)
    payload = job.van.payload_kg
    if payload is not None:
        room = payload - (job.van.crew_mass_kg or 0.0)
        if packed > room:
            findings.append(
                Finding(
                    id="supply.van_overloaded",
                    severity=Severity.MISFIT,
                    values={"packed_kg": packed, "room_kg": room},
                    margin=room - packed,
                    margin_unit="kg",
                )
            )
    waste, waste_findings = waste_lines(job, catalog, quantities)
    findings += waste_findings
    direct, lacks, assumed = direct_cost_of(job, catalog, quantities, order, waste)
    price = None
    if direct is not None:
        price, more = price_of(job, catalog, quantities, direct)
        assumed = (*assumed, *more)
        if direct.lacks:
            findings.append(
                Finding(
                    id="supply.direct_cost",
                    severity=Severity.CONDITION,
                    values={
                        "direct": f"{direct.total:.2f} {direct.currency}",
                        "lines": ", ".join(f"{line.id.replace(':', ' ')} {line.amount:.2f}" for line in direct.lines),
                        "lacks": " and ".join(direct.lacks),
                    },
                )
            )
    if price is not None:
        findings += price_findings(price, chosen=job.price.risk_share)
    unpriced = [line.item for line in order if line.price is None and line.packs > 0]
    if price is not None and price.budget is not None and price.total > price.budget:
        findings.append(
            Finding(
                id="supply.over_budget",
                severity=Severity.CONDITION,
                values={
                    "total": f"{price.total:.2f} {price.currency}",
                    "budget": f"{price.budget:.2f} {price.currency}",
                    "over": f"{price.total - price.budget:.2f} {price.currency}",
                },
                margin=float(price.budget - price.total),
                margin_unit=price.currency,
            )
        )
    free = [line.item for line in order if line.unit_price == 0 and line.packs > 0]
    free += [person.id for person in working_people(job, quantities) if person.hourly_rate == 0]
    if free:
        findings.append(
            Finding(id="supply.priced_at_nothing", severity=Severity.NOTE, values={"items": ", ".join(free)})
        )
    if unpriced:
        assumed = (
            *assumed,
            Assumption(
                field="prices",
                value=f"{len(unpriced)} lines without a price",
                source="left out of the materials: " + ", ".join(unpriced),
            ),
        )
    if catalog.unused_prices:
        assumed = (
            *assumed,
            Assumption(
                field="prices",
                value=f"{len(catalog.unused_prices)} prices of the record book left out",
                source="item unknown, or not in the currency of the job and for the unit of the table: "
                + ", ".join(
                    f"{price.item} {price.amount} {price.currency} / {price.unit}" for price in catalog.unused_prices
                ),
            ),
        )
    figures = [
        *(price_figures(price) if price is not None else ()),
        *goods_figures(catalog.experience, [*filter(None, (sort_of(line.kind, line.item) for line in order)), BOX]),
        Figure(
            id="supply.packed_kg",
            value=packed,
            unit="kg",
            formula="sum of the packing list",
            source="kit table, densities and container masses of the catalog (from memory)",
        ),
    ]
    return Stage(
        result=Supply(
            order=order,
            calendar=calendar_steps(job, order, quantities),
            packing=packing,
            packed_mass_kg=packed,
            payload_kg=payload,
            waste=waste,
            waste_mass_kg=sum(line.mass_kg or 0.0 for line in waste),
            direct=direct,
            price=price,
        ),
        figures=tuple(figures),
        findings=tuple(findings),
        assumed=tuple(assumed),
        lacks=lacks,
    )
