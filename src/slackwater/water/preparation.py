"""Making the new water: how much permeate there can be, when it must start, how long it takes to warm."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from slackwater.figure import Assumption
from slackwater.job.catalog import Catalog
from slackwater.job.model import ReverseOsmosis
from slackwater.water.osmosis import osmotic_pressure_nacl_bar, permeate_l_day
from slackwater.water.production import Unit, outlook
from slackwater.water.result import OsmosisRun

LONGEST_H = 10_000.0
"""More than a year: a unit that makes next to nothing."""


def real_hours(start: datetime, end: datetime, zone: ZoneInfo) -> float:
    """Elapsed hours between two local times, clock changes included."""
    gap = end.replace(tzinfo=zone).astimezone(UTC) - start.replace(tzinfo=zone).astimezone(UTC)
    return gap.total_seconds() / 3600


def hours_before(moment: datetime, hours: float, zone: ZoneInfo) -> datetime:
    """The local time so many real hours earlier, without its offset."""
    return (moment.replace(tzinfo=zone).astimezone(UTC) - timedelta(hours=hours)).astimezone(zone).replace(tzinfo=None)


def unattended_hours(ro: ReverseOsmosis, zone: ZoneInfo) -> float:
    """Hours of the run in which nobody is there; all of them when attendance is not told."""
    if ro.may_run_from is None or ro.may_run_until is None:
        return 0.0
    if ro.attended_from is None or ro.attended_until is None:
        return real_hours(ro.may_run_from, ro.may_run_until, zone)
    attended = 0.0
    day = ro.may_run_from.replace(hour=0, minute=0)
    while day < ro.may_run_until:
        start = max(ro.may_run_from, day + timedelta(minutes=ro.attended_from))
        end = min(ro.may_run_until, day + timedelta(minutes=ro.attended_until))
        if end > start:
            attended += real_hours(start, end, zone)
        day += timedelta(days=1)
    return real_hours(ro.may_run_from, ro.may_run_until, zone) - attended


def unit_of(
    ro: ReverseOsmosis, catalog: Catalog, *, tap_conductivity_us_cm: float | None
) -> tuple[Unit, tuple[Assumption, ...]] | tuple[None, tuple[str, ...]]:
    """The unit as it runs, with the defaults used; or the facts that are missing.

    A measured rate wins over the label; its band is that of a day's mains.
    """
    # A time from which it may run and none until which, or the other way round, would count as no time at all.
    untold = [key for key in ("may_run_from", "may_run_until") if getattr(ro, key) is None]
    if len(untold) == 1:
        return None, (f"preparation.ro.{untold[0]}",)
    spread = catalog.parameter("ro_tcf_spread")
    factor_spread = (spread.low or 1.0, spread.high or 1.0)
    if ro.measured_l_day is not None:
        return Unit(ro.measured_l_day, 0.0, 0.0, None, (1.0, 1.0, 1.0), factor_spread), ()
    lacks = tuple(
        f"preparation.ro.{name}"
        for name, value in (
            ("rated_flow", ro.rated_l_day),
            ("rated_pressure", ro.rated_pressure_bar),
            ("feed_pressure", ro.feed_pressure_bar),
            ("feed_temperature", ro.feed_temp_c),
        )
        if value is None
    )
    if (
        ro.rated_l_day is None
        or ro.rated_pressure_bar is None
        or ro.feed_pressure_bar is None
        or ro.feed_temp_c is None
    ):
        return None, lacks
    assumed: list[Assumption] = []
    age = catalog.parameter("ro_age_factor")
    if ro.age_factor is None:
        condition = (age.low or age.typical, age.typical, age.high or age.typical)
        assumed.append(Assumption(field="preparation.ro.age_factor", value=f"{age.typical:g}", source=age.source_kind))
    else:
        condition = (ro.age_factor, ro.age_factor, ro.age_factor)
    osmotic = 0.0
    if tap_conductivity_us_cm is not None:
        solids_mg_l = tap_conductivity_us_cm * catalog.parameter("tds_per_conductivity").typical
        osmotic = osmotic_pressure_nacl_bar(nacl_mg_l=solids_mg_l, temp_c=ro.feed_temp_c)
    middle = permeate_l_day(
        rated_l_day=ro.rated_l_day,
        rated_pressure_bar=ro.rated_pressure_bar,
        feed_pressure_bar=ro.feed_pressure_bar,
        feed_temp_c=ro.feed_temp_c,
        osmotic_pressure_bar=osmotic,
        # The label's test water is not known: taken like the feed, as the source advises.
        rated_osmotic_pressure_bar=osmotic,
        condition=condition[1],
    )
    unit = Unit(
        middle_l_day=middle,
        rated_net_bar=ro.rated_pressure_bar - osmotic,
        net_bar=max(0.0, ro.feed_pressure_bar - osmotic),
        feed_temp_c=ro.feed_temp_c,
        condition=condition,
        factor_spread=factor_spread,
    )
    return unit, tuple(assumed)


def hours_allowed(ro: ReverseOsmosis, zone: ZoneInfo) -> float | None:
    """Hours in which the unit may run; None where they were not told."""
    if ro.may_run_from is None or ro.may_run_until is None:
        return None
    return max(0.0, real_hours(ro.may_run_from, ro.may_run_until, zone))


def run_of(
    ro: ReverseOsmosis,
    unit: Unit,
    *,
    need_l: float,
    ready_by: datetime | None,
    after_hours: float,
    waste_ratio: float,
    zone: ZoneInfo,
    rng: np.random.Generator,
) -> OsmosisRun:
    """The run for a need; what must be in time is reckoned for 95 of 100 cases.

    Parameters
    ----------
    need_l : float
        Permeate needed [L].
    ready_by : datetime or None
        Local time by which the water must be made and warm.
    after_hours : float
        Hours between the end of the run and that time, for warming and minerals.
    """
    rates = unit.rates_l_day(rng)
    low, high = (float(value) for value in np.percentile(rates, (5, 95)))
    allowed = hours_allowed(ro, zone)
    ahead = outlook(unit, need_l=need_l, hours=allowed or 0.0, rng=rng)
    needed = ahead.hours_for_95 if need_l > 0 else 0.0
    latest = None
    if ready_by is not None and np.isfinite(needed) and needed < LONGEST_H:
        ends = ready_by if ro.may_run_until is None else min(ready_by, ro.may_run_until)
        latest = hours_before(min(ends, hours_before(ready_by, after_hours, zone)), needed, zone)
    return OsmosisRun(
        rate_l_day=unit.middle_l_day,
        rate_low_l_day=low,
        rate_high_l_day=high,
        need_l=need_l,
        hours_needed=min(needed, LONGEST_H),
        hours_allowed=allowed or 0.0,
        possible_l=ahead.middle_l,
        waste_l=need_l * waste_ratio,
        start_latest=latest,
        unattended_hours=unattended_hours(ro, zone),
        probability_short=None if allowed is None else (ahead.probability_short if need_l > 0 else 0.0),
        hours_for_95=min(needed, LONGEST_H),
    )
