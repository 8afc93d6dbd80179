"""The living room's stages: how long boxes, filter and peroxide take, and whether the animals may go back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil

import numpy as np

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Goods, Job
from slackwater.living.box import hours_to_drift
from slackwater.living.canister import hours_to_oxygen
from slackwater.living.catching import minutes_to_share, removal
from slackwater.living.holding import DRIFT_K
from slackwater.living.peroxide import residual_mg_l, spray_l
from slackwater.living.priors import ensemble, priors
from slackwater.living.result import (
    Band,
    BoxHours,
    Catch,
    Clock,
    FilterState,
    Hours,
    PeroxideUse,
)
from slackwater.living.setup import ROOM_C, live_mass_g, unsettled, water_of
from slackwater.living.waiting import FAILS_AT_H, LAST_H, MEMBERS, box_hours
from slackwater.stage import Stage
from slackwater.tank.result import TankShape
from slackwater.water.gas import oxygen_saturation_mg_l, pressure_at_altitude_atm
from slackwater.water.result import WaterBudget
from slackwater.water.rinse import FILM_L_PER_M2, rinses_needed

LONGEST_CLOCK_MIN = 720
"""No box waits longer by plan, whatever the simulation says; clocks table, common practice."""
MATURE_FROM_G_L = 0.3
"""Live mass per litre of tank from which its filter counts as mature; from memory."""
STARTS_AT = 0.9
"""Oxygen of the filter's water when it is shut, against saturation; from memory."""
OUT_OF_OXYGEN_MG_L = 0.3
"""Where both steps have slowed to a third; half-saturations of the priors."""
SHRIMP_PEROXIDE_MG_L = 0.3
"""Peroxide in water that shrimp return to; from memory."""
RINSE_SHARE = 0.06
"""Water of one rinse as a share of the tank; common practice, no source."""
RINSE_ROOM = 0.2
"""Where less than this share of the limit is left as room, glass is rinsed once more; common practice, no source."""
COLD_ROOM_C = 16.0
"""Below it filter media, refill and plants suffer on the day; common practice, no source."""
HEATERS_W = (25, 50, 100, 150, 200, 300)
HEATER_ROOM = 1.2
"""Sizes sold, and what a heater should have over the loss; common practice, no source."""
WORKING_PERCENT = 3.0
PEROXIDE_KG_L = 1.01
KEPT_SHARE = 0.95
"""Of the draws, in which a box must keep its limits through the day."""
STOP_LEFT = 1.0
"""Fewer animals than this left by the estimate: the search may stop."""


def heater_sold_w(loss_w: float) -> int:
    """The smallest heater sold that makes up for a loss with room to spare, more than one from 300 W on [W]."""
    wanted = HEATER_ROOM * loss_w
    return next((size for size in HEATERS_W if size >= wanted), 100 * ceil(wanted / 100))


def _figure(name: str, band: Band, unit: str, formula: str, source: str, **inputs: float | str) -> Figure:
    return Figure(
        id=f"living.{name}",
        value=band.middle,
        unit=unit,
        low=band.low,
        high=band.high,
        formula=formula,
        source=source,
        inputs=inputs,
    )


def _of_prior(name: str) -> Band:
    prior = priors()[name]
    return Band(low=prior.low, middle=prior.median, high=prior.high)


def _clocks(boxes: tuple[BoxHours, ...], filter_state: FilterState | None) -> tuple[Clock, ...]:
    """The day's clocks: the box that holds least decides for its kind."""
    found = []
    stay = [box for box in boxes if not box.leaves]
    for clock, mine in (
        ("holding.aired_lidded", [box for box in stay if not box.shrimp]),
        ("shrimp_box.aired_moss", [box for box in stay if box.shrimp]),
    ):
        if not mine:
            continue
        worst = min(mine, key=lambda box: (LAST_H if box.hours.low is None else box.hours.low, box.label))
        found.append(
            Clock(
                id=clock,
                low_min=_minutes(worst.hours.low),
                typical_min=_minutes(worst.hours.middle),
                high_min=_minutes(worst.hours.high),
                restarted_low_min=tuple(_minutes(hours) for hours in worst.refreshed_h),
                about=worst.label,
                binds=worst.binds,
            )
        )
    if filter_state is not None:
        shut = filter_state.shut_min
        found.append(
            Clock(
                id="media.closed_filled",
                low_min=int(shut.low),
                typical_min=int(shut.middle),
                high_min=int(shut.high),
                restarted_low_min=(),
                about="filter",
                binds="oxygen",
            )
        )
    return tuple(found)


def _minutes(hours: float | None) -> int:
    return LONGEST_CLOCK_MIN if hours is None else min(LONGEST_CLOCK_MIN, int(60 * hours))


def _without_heater(box: BoxHours, catalog: Catalog, job: Job, *, temp_c: float) -> BoxHours:
    """The box with the hours until it has drifted too far should its heater fail; as it is where it has none."""
    if box.keeping != "heated":
        return box
    container = catalog.containers[box.container]
    bare = container.heat_loss_w_per_k_lidded or container.heat_loss_w_per_k_open
    room_c = ROOM_C if job.site.room_temp_c is None else job.site.room_temp_c

    def hours(share: float) -> float | None:
        found = hours_to_drift(
            start_c=temp_c, room_c=room_c, loss_w_per_k=share * bare, water_kg=box.water_l, drift_k=DRIFT_K
        )
        return None if found > LAST_H else found

    loss = _of_prior("heat_loss_share")
    return box.model_copy(
        update={"unheated_h": Hours(low=hours(loss.high), middle=hours(loss.middle), high=hours(loss.low))}
    )


def _filter_state(job: Job, catalog: Catalog, water: WaterBudget, rng: np.random.Generator) -> FilterState | None:
    """What shutting, waiting and peroxide do to the filter; None without one."""
    if not job.filters:
        return None
    mature = live_mass_g(job, catalog) / water.net_l >= MATURE_FROM_G_L
    uptake = "canister_uptake_mature_mg_l_h" if mature else "canister_uptake_light_mg_l_h"
    drawn = ensemble((uptake, "canister_half_mg_l"), members=1000, rng=rng)
    pressure = pressure_at_altitude_atm(altitude_m=job.site.altitude_m or 0.0)
    start = STARTS_AT * float(np.asarray(oxygen_saturation_mg_l(temp_c=water.old_water.temp_c, pressure_atm=pressure)))
    minutes = 60 * np.asarray(
        hours_to_oxygen(
            start_mg_l=start,
            end_mg_l=OUT_OF_OXYGEN_MG_L,
            uptake_mg_l_h=drawn[uptake],
            half_mg_l=drawn["canister_half_mg_l"],
        )
    )
    low, middle, high = (float(value) for value in np.percentile(minutes, (5, 50, 95)))
    return FilterState(
        shut_min=Band(low=low, middle=middle, high=high),
        mature=mature,
        surviving=_of_prior("surviving_share"),
        loss_per_day=_of_prior("activity_loss_aerobic_per_d"),
        lag_first_h=_of_prior("lag_first_h"),
        lag_second_h=_of_prior("lag_second_h"),
        peroxide_loss=_of_prior("peroxide_touch_loss"),
    )


def _bottle(job: Job) -> Goods | None:
    return next((goods for goods in job.goods if "peroxide" in goods.item), None)


def _doubt(bottle: Goods | None, day: date | None, months: float) -> str:
    if bottle is None or day is None:
        return ""
    if bottle.expires is not None and bottle.expires < day:
        return "expired"
    if bottle.opened is not None and (day - bottle.opened).days > months * 30.4:
        return "opened_long_ago"
    return ""


def _peroxide(job: Job, catalog: Catalog, water: WaterBudget, shape: TankShape, day: date | None) -> PeroxideUse:
    """How much for the drained glass, how long it stays strong, what is left of it after the rinses."""
    area = shape.drained_glass_m2
    litres = spray_l(area_m2=area)
    wait_min = catalog.clocks["peroxide_wait.wet"].low_min or 0
    bottle = _bottle(job)
    stated = WORKING_PERCENT if bottle is None or bottle.strength_percent is None else bottle.strength_percent
    working = min(WORKING_PERCENT, stated)
    thin = stated > WORKING_PERCENT
    limit = catalog.limits["peroxide_rest"]
    goal = SHRIMP_PEROXIDE_MG_L if limit.target_high is None else min(SHRIMP_PEROXIDE_MG_L, limit.target_high)
    rinse_l = max(5.0, RINSE_SHARE * shape.gross_l)
    rinse = rinses_needed(
        wetted_m2=area,
        rinse_l=rinse_l,
        net_l=water.net_l,
        limit_mg_l=(1 - RINSE_ROOM) * goal,
        flow_l_min=job.site.tap.flow_l_min,
    )
    unrinsed = FILM_L_PER_M2 * area * 10_000 * working * PEROXIDE_KG_L / water.net_l
    wet, bulk = _of_prior("peroxide_half_life_wet_min"), _of_prior("peroxide_half_life_bulk_h")

    def left(half_life_min: float) -> float:
        return residual_mg_l(start_mg_l=1.0, decay_per_h=60 * np.log(2) / half_life_min, hours=wait_min / 60)

    def gone_h(half_life_h: float) -> float:
        return half_life_h * float(np.log2(max(1.0, unrinsed / goal)))

    return PeroxideUse(
        area_m2=area,
        litres=litres,
        grams=litres * PEROXIDE_KG_L * 1000 * working / 100,
        strength_percent=working,
        dilute_from_percent=stated if thin else None,
        stock_l=litres * working / stated if thin else None,
        doubtful=_doubt(bottle, day, catalog.parameter("goods_open_months").typical),
        wait_min=wait_min,
        left_after_wait=Band(low=left(wet.low), middle=left(wet.middle), high=left(wet.high)),
        rinses=rinse.rinses,
        rinse_l=rinse.litres_each,
        refill_mg_l=rinse.left_mg_l,
        unrinsed_mg_l=unrinsed,
        unrinsed_h=Band(low=gone_h(bulk.low), middle=gone_h(bulk.middle), high=gone_h(bulk.high)),
        limit_mg_l=goal,
    )


def catches_of(
    passes: Mapping[str, Sequence[int]],
    minutes: Mapping[str, float],
    counted_before: Mapping[str, int] | None = None,
) -> tuple[Catch, ...]:
    """Whether to go on catching, for every species that was counted; `counted_before` are exact counts of the survey."""
    exact = counted_before or {}
    found = []
    for species, counts in sorted(passes.items()):
        if len(counts) < 2:
            found.append(
                Catch(
                    species=species,
                    passes=tuple(counts),
                    caught=sum(counts),
                    left=None,
                    left_low=0.0,
                    left_high=None,
                    minutes_to_90=None,
                    advice="all_in" if sum(counts) == exact.get(species) else "not_yet",
                    from_passes=False,
                )
            )
            continue
        estimate = removal(tuple(counts))
        ends = np.isfinite(estimate.total)
        high = estimate.high - estimate.caught if np.isfinite(estimate.high) else None
        more = minutes_to_share(estimate, share=0.9, minutes_per_pass=minutes.get(species, 20.0)) if ends else None
        done = ends and estimate.left < STOP_LEFT and high is not None
        found.append(
            Catch(
                species=species,
                passes=tuple(counts),
                caught=estimate.caught,
                left=estimate.left if ends else None,
                left_low=max(0.0, estimate.low - estimate.caught),
                left_high=high,
                minutes_to_90=more,
                advice="stop" if done else "go_on",
                from_passes=True,
            )
        )
    return tuple(found)


def catching_findings(catches: Sequence[Catch], catalog: Catalog) -> list[Finding]:
    """What the counts say: stop, go on, or another pass first."""
    found = []
    for item in catches:
        values: dict[str, float | str] = {
            "species": catalog.species[item.species].common_name,
            "passes": ", ".join(str(count) for count in item.passes),
            "caught": item.caught,
        }
        name = f"catch_{item.advice}" if not item.from_passes else "catch_go_on"
        if item.from_passes and item.left is None:
            name = "catch_endless"
        elif item.from_passes and item.left is not None:
            name = "catch_stop" if item.advice == "stop" else "catch_go_on"
            values |= {
                "left": f"{item.left:.0f}",
                "low": f"{item.left_low:.0f}",
                "high": "no upper end" if item.left_high is None else f"{item.left_high:.0f}",
                "more_min": item.minutes_to_90 or 0.0,
            }
        severity = Severity.NOTE if name == "catch_stop" else Severity.CONDITION
        found.append(Finding(id=f"living.{name}", severity=severity, about=item.species, values=values))
    return found


@dataclass(frozen=True)
class Waiting:
    """What waits on the day, and the clocks that follow."""

    boxes: tuple[BoxHours, ...]
    clocks: tuple[Clock, ...]
    filter_state: FilterState | None
    peroxide: PeroxideUse


def assess_waiting(
    job: Job,
    catalog: Catalog,
    water: WaterBudget,
    shape: TankShape,
    *,
    failed: Mapping[str, float] | None = None,
) -> Stage[Waiting]:
    """Hours of boxes and filter, and the peroxide; `failed` are boxes without air, by label, from which hour on."""
    rng = np.random.default_rng(job.seed)
    day = next((window.start.date() for window in job.site.windows or () if window.kind == "day"), None)
    lacks = unsettled(job, catalog)
    boxes = box_hours(
        () if lacks else water.boxes,
        job,
        catalog,
        old=water_of(water.old_water),
        temp_c=water.old_water.temp_c,
        failed=failed or {},
        rng=rng,
    )
    boxes = tuple(_without_heater(box, catalog, job, temp_c=water.old_water.temp_c) for box in boxes)
    state = _filter_state(job, catalog, water, rng)
    peroxide = _peroxide(job, catalog, water, shape, day)
    waiting = Waiting(boxes=boxes, clocks=_clocks(boxes, state), filter_state=state, peroxide=peroxide)
    assumed = []
    if job.site.room_temp_c is None:
        assumed.append(
            Assumption(
                field="site.room_temperature",
                value=f"{ROOM_C:g} °C",
                source="a heated room; measure it: boxes cool or warm towards it",
            )
        )
    return Stage(
        result=waiting,
        figures=tuple(_waiting_figures(waiting)),
        findings=tuple(_waiting_findings(waiting, job, catalog, failed or {})),
        assumed=tuple(assumed),
        lacks=lacks,
    )


def _waiting_figures(waiting: Waiting) -> list[Figure]:
    found = []
    for box in waiting.boxes:
        found.append(
            Figure(
                id=f"living.box_hours.{box.label}",
                value=LAST_H if box.hours.middle is None else box.hours.middle,
                unit="h",
                low=LAST_H if box.hours.low is None else box.hours.low,
                high=LAST_H if box.hours.high is None else box.hours.high,
                formula=f"oxygen, carbon dioxide, ammonia and heat balance of the box to the first limit, {MEMBERS} draws over the priors; {LAST_H:g} h is as far as it looks",
                source="respiration: Clarke and Johnston 1999, Liu et al. 2010; limits: Berka 1986, US EPA 822-R-13-001; spreads from memory (priors.csv)",
                inputs={"water_l": box.water_l, "keeping": box.keeping, "air_stones": box.stones, "binds": box.binds},
            )
        )
    state = waiting.filter_state
    if state is not None:
        found.append(
            _figure(
                "filter_shut_min",
                state.shut_min,
                "min",
                "((C0 - C1) + K ln(C0/C1)) / R, 1,000 draws",
                "Monod uptake of oxygen; uptake from memory (priors.csv)",
                filter="mature" if state.mature else "lightly loaded",
            )
        )
        found.append(
            _figure(
                "filter_surviving",
                state.surviving,
                "",
                "share of the first step's activity after a day of damp media",
                "Siegrist et al. 1999; Manser et al. 2006; spread from memory (priors.csv)",
            )
        )
    use = waiting.peroxide
    found.append(
        Figure(
            id="living.peroxide_l",
            value=use.litres,
            unit="L",
            formula="area x 0.1 L/m2 of working strength",
            source="common practice, no source",
            inputs={"area_m2": use.area_m2, "strength_percent": use.strength_percent},
        )
    )
    found.append(
        Figure(
            id="living.peroxide_rinses",
            value=float(use.rinses),
            unit="",
            formula="repeated dilution of the film left on wetted glass, decay not counted",
            source="film 0.2 to 0.5 L/m2 (from memory); limit 0.3 mg/L for shrimp (from memory)",
            inputs={"rinse_l": use.rinse_l, "left_mg_l": use.refill_mg_l},
        )
    )
    return found


def _named(boxes: Sequence[BoxHours]) -> str:
    return ", ".join(box.label for box in boxes)


def _waiting_findings(waiting: Waiting, job: Job, catalog: Catalog, failed: Mapping[str, float]) -> list[Finding]:
    found: list[Finding] = []

    def say(
        name: str, severity: Severity, about: str = "", remedies: tuple[Remedy, ...] = (), **values: float | str
    ) -> None:
        found.append(Finding(id=f"living.{name}", severity=severity, about=about, values=values, remedies=remedies))

    boxes = waiting.boxes
    leaving = [box for box in boxes if box.leaves]
    if leaving:
        say(
            "boarded",
            Severity.CONDITION,
            boxes=_named(leaving),
            hold_h=min(_or_last(box.hours.low) for box in leaving),
        )
    wrapped, heated, stones = (
        [box for box in boxes if box.keeping == "wrapped"],
        [box for box in boxes if box.keeping == "heated"],
        [box for box in boxes if box.stones > 1],
    )
    if wrapped:
        say(
            "wrap_boxes",
            Severity.CONDITION,
            boxes=_named(wrapped),
            one="box" if len(wrapped) == 1 else "boxes",
            drift_k=DRIFT_K,
        )
    if heated:
        say(
            "heat_boxes",
            Severity.CONDITION,
            boxes=_named(heated),
            one="box" if len(heated) == 1 else "boxes",
            heat_w=max(box.heat_w for box in heated),
            sold_w=heater_sold_w(max(box.heat_w for box in heated)),
        )
    room_c = job.site.room_temp_c
    if room_c is not None and room_c < COLD_ROOM_C:
        say("cold_room", Severity.CONDITION, room_c=room_c)
    if stones:
        say("second_stone", Severity.CONDITION, boxes=_named(stones), one="box" if len(stones) == 1 else "boxes")
    for label, hour in failed.items():
        box = next((item for item in boxes if item.label == label), None)
        if box is None:
            say("unknown_box", Severity.CONDITION, about=label, box=label, known=_named(boxes))
            continue
        left = box.after_failure
        say(
            "air_stopped",
            Severity.CONDITION,
            about=label,
            box=label,
            since="an hour nobody knows" if hour == 0 else f"hour {hour:.1f}",
            low_min=60 * _or_last(left.low),
            middle_min=60 * _or_last(left.middle),
        )
    if boxes and not failed:
        shortest = min(boxes, key=lambda box: (_or_last(box.after_failure.low), box.label))
        say(
            "air_watch",
            Severity.CONDITION,
            box=shortest.label,
            hour_h=FAILS_AT_H,
            low_min=60 * _or_last(shortest.after_failure.low),
            middle_min=60 * _or_last(shortest.after_failure.middle),
        )
    if job.filters is not None and not job.filters:
        say("no_filter", Severity.CONDITION)
    if waiting.filter_state is not None:
        shut = waiting.filter_state.shut_min
        say("filter_shut", Severity.NOTE, low_min=shut.low, middle_min=shut.middle, high_min=shut.high)
    use = waiting.peroxide
    say(
        "peroxide",
        Severity.CONDITION,
        litres_l=use.litres,
        percent=use.strength_percent,
        wait_min=use.wait_min,
        rinses=use.rinses,
        rinse_l=use.rinse_l,
        limit_mg_l=use.limit_mg_l,
    )
    if use.doubtful:
        say(f"peroxide_{use.doubtful}", Severity.CONDITION)
    if use.dilute_from_percent is not None and use.stock_l is not None:
        say(
            "peroxide_thin",
            Severity.CONDITION,
            percent=use.dilute_from_percent,
            stock_l=use.stock_l,
            water_l=use.litres - use.stock_l,
        )
    return found


def stay_findings(boxes: Sequence[BoxHours]) -> list[Finding]:
    """Boxes that the planned day asks too much of, refreshes counted."""
    return [
        Finding(
            id="living.box_on_the_day",
            severity=Severity.CONDITION,
            about=box.label,
            values={
                "box": box.label,
                "hours": box.stay.hours,
                "kept": round(100 * box.kept_share),
                "refreshes": len(box.stay.changed_min),
            },
        )
        for box in boxes
        if box.stay is not None and box.kept_share is not None and box.kept_share < KEPT_SHARE
    ]


def _or_last(hours: float | None) -> float:
    return LAST_H if hours is None else hours


def with_clocks(catalog: Catalog, clocks: Sequence[Clock]) -> Catalog:
    """The catalog with the clocks that were reckoned in place of those of common practice."""
    rows = dict(catalog.clocks)
    for clock in clocks:
        row = rows.get(clock.id)
        if row is not None:
            rows[clock.id] = row.model_copy(
                update={
                    "low_min": clock.low_min,
                    "typical_min": clock.typical_min,
                    "high_min": clock.high_min,
                    "restarted_low_min": clock.restarted_low_min,
                    "source": f"reckoned: {clock.about}, {clock.binds or 'no limit'} first",
                }
            )
    return catalog.model_copy(update={"clocks": rows})
