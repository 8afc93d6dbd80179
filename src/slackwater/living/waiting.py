"""How long the boxes of a job hold: aired as planned, without air, with a pump that fails, and what would buy time.

All boxes, ways and members are columns of one simulation.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.living.acidity import acidity_of
from slackwater.living.box import cooled_c
from slackwater.living.holding import (
    ROW,
    Box,
    BoxWater,
    Held,
    Limits,
    air_stops,
    box_water,
    drawn_parameters,
    half_changed,
    hold,
    start_of,
)
from slackwater.living.machine import Event
from slackwater.living.result import BoxCourse, BoxHours, Hours, Stay, Way
from slackwater.living.setup import FISH_OXYGEN_MG_L, ROOM_C, SHRIMP_OXYGEN_MG_L, resting_oxygen_mg_h
from slackwater.water.assess import REFRESH_SHARE
from slackwater.water.composition import Water
from slackwater.water.gas import oxygen_saturation_mg_l, pressure_at_altitude_atm
from slackwater.water.result import BoxUse

FloatArray = NDArray[np.float64]
MEMBERS = 200
LAST_H = 14.0
"""Nobody plans to hold animals longer on site; common practice."""
LONG_H = 10.0
"""A box that holds so long at the low end needs no more warmth; common practice, no source."""
WRAPPED_SHARE = 0.4
"""Heat loss of a box wrapped in foam or blankets against bare, 0.3 to 0.6; from memory."""
LOSSES: Mapping[str, float] = {"bare": 1.0, "wrapped": WRAPPED_SHARE, "heated": 0.0}
FASTEST_COOLING_K_H = 1.0
"""Science limits table; from memory."""
IN_BY_H = 1.0
"""Hours over which a box is filled with its animals; activities E5 and E6."""
FAILS_AT_H = 3.0
"""Hour at which the air is taken to stop, for telling how much time is left then."""
CLOSENESS_H = 0.25
MOST_STONES = 2
"""Air stones in one box; each adds the same transfer; from memory."""
REFRESHED_SHARES = (2 / 3, 4 / 7)
"""How long each stretch may be, against one without any change, when half of the box is changed once or twice: what has
built up evenly is at its limit then. Exact for a steady rise, on the careful side for one that slows down."""


@dataclass(frozen=True)
class _Way:
    """One way of keeping one box; shares against the box as it is."""

    id: str
    loss: float = 1.0
    litres: float | None = None
    animals: float = 1.0
    stones: int = 1
    shut: bool = False
    fails_h: float | None = None
    changed_h: tuple[float, ...] = ()
    in_by_h: float = IN_BY_H
    out_from_h: float = np.inf
    out_over_h: float = 0.5


@dataclass(frozen=True)
class _Site:
    water: Water
    table: BoxWater
    temp_c: float
    room_c: float
    pressure_atm: float
    drawn: Mapping[str, FloatArray]
    spare_c: float
    """Of kept old water after some hours in its barrel."""


def _resting(use: BoxUse, catalog: Catalog, site: _Site, *, litres: float, share: float) -> FloatArray:
    found = site.drawn["debris_oxygen_mg_h"] * litres / 20
    for name, count in use.counts.items():
        species = catalog.species[name]
        found = found + resting_oxygen_mg_h(species, count=share * count, temp_c=site.temp_c, drawn=site.drawn)
    return found


def _oxygen_limit(use: BoxUse, catalog: Catalog) -> float:
    fish = any(catalog.species[name].group == "fish" for name in use.counts)
    return FISH_OXYGEN_MG_L if fish else SHRIMP_OXYGEN_MG_L


def _followed(
    pairs: Sequence[tuple[BoxUse, _Way]], catalog: Catalog, site: _Site, *, last_h: float = LAST_H
) -> list[Held]:
    """Every box and way through all hours, in one simulation."""
    members = MEMBERS
    boxes, transfers, limits = [], [], []
    for use, way in pairs:
        container = catalog.containers[use.container]
        litres = use.water_l if way.litres is None else way.litres
        bare = container.heat_loss_w_per_k_lidded or container.heat_loss_w_per_k_open
        boxes.append(
            Box(
                litres=np.full(members, litres),
                head_l=np.full(members, max(0.1, container.nominal_l - litres) if way.shut else 0.0),
                resting_mg_h=_resting(use, catalog, site, litres=litres, share=way.animals),
                in_by_h=np.full(members, way.in_by_h),
                out_from_h=np.full(members, way.out_from_h),
                out_over_h=np.full(members, way.out_over_h),
                routine=site.drawn["routine_factor"],
                capture=site.drawn["capture_factor"],
                decay_h=site.drawn["capture_decay_h"],
                ammonia_quotient=site.drawn["ammonia_quotient"],
                respiratory_quotient=site.drawn["respiratory_quotient"],
                loss_w_per_k=way.loss * bare * site.drawn["heat_loss_share"],
                room_c=np.full(members, site.room_c),
            )
        )
        aired = way.stones * site.drawn["transfer_aired_per_h"]
        transfers.append(aired if way.stones else site.drawn["transfer_still_per_h"])
        limits.append(np.full(members, _oxygen_limit(use, catalog)))

    def joined(name: str) -> FloatArray:
        return np.concatenate([np.asarray(getattr(box, name), dtype=float) for box in boxes])

    whole = Box(
        litres=joined("litres"),
        head_l=joined("head_l"),
        resting_mg_h=joined("resting_mg_h"),
        in_by_h=joined("in_by_h"),
        out_from_h=joined("out_from_h"),
        out_over_h=joined("out_over_h"),
        routine=joined("routine"),
        capture=joined("capture"),
        decay_h=joined("decay_h"),
        ammonia_quotient=joined("ammonia_quotient"),
        respiratory_quotient=joined("respiratory_quotient"),
        loss_w_per_k=joined("loss_w_per_k"),
        room_c=joined("room_c"),
        pressure_atm=site.pressure_atm,
    )
    start = start_of(
        whole,
        water=site.water,
        carbon_mmol_l=float(np.asarray(site.water.carbon_mmol_l)),
        temp_c=site.temp_c,
        transfer_per_h=np.concatenate(transfers),
        members=members * len(pairs),
    )
    saturated = float(np.asarray(oxygen_saturation_mg_l(temp_c=site.spare_c, pressure_atm=site.pressure_atm)))
    fresh = {
        "oxygen_mg_l": saturated,
        "carbon_mmol_l": float(np.asarray(site.water.carbon_mmol_l)),
        "alkalinity_meq_l": float(np.asarray(site.water.alkalinity_meq_l)),
        "tan_mg_l": float(start[ROW["tan_mg_l"]][0]),
        "temp_c": site.spare_c,
    }
    events = []
    for place, (_, way) in enumerate(pairs):
        columns = slice(place * members, (place + 1) * members)
        if way.fails_h is not None:
            events.append(
                Event(way.fails_h, partial(air_stops, columns=columns, still_per_h=site.drawn["transfer_still_per_h"]))
            )
        events += [
            Event(hour, partial(half_changed, columns=columns, share=REFRESH_SHARE, fresh=fresh))
            for hour in way.changed_h
        ]
    held = hold(
        whole, site.table, start, limits=Limits(oxygen_mg_l=np.concatenate(limits)), last_h=last_h, events=events
    )
    return [_columns(held, slice(place * members, (place + 1) * members)) for place in range(len(pairs))]


def _columns(held: Held, columns: slice) -> Held:
    return Held(
        times_h=held.times_h,
        oxygen_mg_l=held.oxygen_mg_l[:, columns],
        co2_mg_l=held.co2_mg_l[:, columns],
        ph=held.ph[:, columns],
        tan_mg_l=held.tan_mg_l[:, columns],
        uia_mg_l=held.uia_mg_l[:, columns],
        temp_c=held.temp_c[:, columns],
        hours=held.hours[columns],
        binds=held.binds[columns],
    )


def _quantile(hours: FloatArray, share: float) -> float | None:
    """Of hours of which some may be endless: by rank, so that nothing is made up between a number and none."""
    found = float(np.sort(hours)[min(hours.size - 1, int(share * hours.size))])
    return None if found == np.inf else found


def hours_of(hours: FloatArray) -> Hours:
    """Low, middle and high of members' hours."""
    return Hours(low=_quantile(hours, 0.05), middle=_quantile(hours, 0.5), high=_quantile(hours, 0.95))


def _binding(held: Held) -> str:
    """What binds most often among the members that fail first."""
    early = np.argsort(held.hours, kind="stable")[: max(1, held.hours.size // 5)]
    names = [held.binds[member] for member in early if held.binds[member]]
    return max(sorted(set(names)), key=names.count) if names else ""


def _capped(hours: Hours) -> float:
    return LAST_H if hours.low is None else hours.low


def _course(held: Held) -> BoxCourse:
    half_hours = slice(0, None, 3)

    def bands(values: FloatArray, digits: int) -> tuple[tuple[float, float, float], ...]:
        points = np.percentile(values[half_hours], (5, 50, 95), axis=1).T
        return tuple((round(low, digits), round(middle, digits), round(high, digits)) for low, middle, high in points)

    return BoxCourse(
        hours=tuple(float(hour) for hour in held.times_h[half_hours]),
        oxygen_mg_l=bands(held.oxygen_mg_l, 2),
        co2_mg_l=bands(held.co2_mg_l, 2),
        ph=bands(held.ph, 3),
        tan_mg_l=bands(held.tan_mg_l, 4),
        uia_mg_l=bands(held.uia_mg_l, 5),
        temp_c=bands(held.temp_c, 2),
    )


def _site(job: Job, catalog: Catalog, *, old: Water, temp_c: float, rng: np.random.Generator) -> _Site:
    room_c = ROOM_C if job.site.room_temp_c is None else job.site.room_temp_c
    barrel = catalog.containers["barrel_120"]
    return _Site(
        water=old,
        table=box_water(old, acidity_of(old)),
        temp_c=temp_c,
        room_c=room_c,
        pressure_atm=pressure_at_altitude_atm(altitude_m=job.site.altitude_m or 0.0),
        drawn=drawn_parameters(MEMBERS, rng),
        # Old water waits in a lidded barrel until the first refresh.
        spare_c=cooled_c(
            start_c=temp_c,
            room_c=room_c,
            loss_w_per_k=barrel.heat_loss_w_per_k_lidded or barrel.heat_loss_w_per_k_open,
            water_kg=barrel.usable_l,
            hours=LAST_H / 3,
        ),
    )


def box_hours(
    boxes: tuple[BoxUse, ...],
    job: Job,
    catalog: Catalog,
    *,
    old: Water,
    temp_c: float,
    failed: Mapping[str, float],
    rng: np.random.Generator,
) -> tuple[BoxHours, ...]:
    """Hours to the first limit of every box, and what changes them.

    Parameters
    ----------
    old : Water
        The tank's water, with its carbon, that the boxes are filled with.
    temp_c : float
        Of the tank.
    failed : mapping
        Boxes whose air pump is known to have stopped, and at which hour.
    rng : Generator
        Of the job's seed.
    """
    if not boxes:
        return ()
    site = _site(job, catalog, old=old, temp_c=temp_c, rng=rng)
    warmth = [_Way(name, loss=LOSSES[name]) for name in ("bare", "wrapped")]
    if site.room_c < temp_c:
        warmth.append(_Way("heated", loss=LOSSES["heated"]))
    keeping = [replace(way, stones=stones) for way in warmth for stones in (1, MOST_STONES)]
    tried = _followed([(use, way) for use in boxes for way in keeping], catalog, site)
    chosen: list[tuple[_Way, Held]] = []
    for place, use in enumerate(boxes):
        mine = tried[place * len(keeping) : (place + 1) * len(keeping)]
        chosen.append(_kept_warm(use, catalog, site, list(zip(keeping, mine, strict=True))))
    pairs: list[tuple[BoxUse, _Way]] = []
    for use, (way, held) in zip(boxes, chosen, strict=True):
        pairs += [(use, item) for item in _ways(use, catalog, way, held, failed.get(use.label, FAILS_AT_H))]
    followed = iter(zip(pairs, _followed(pairs, catalog, site), strict=True))
    found = []
    for use, (way, held) in zip(boxes, chosen, strict=True):
        mine_too = [next(followed) for _ in _ways(use, catalog, way, held, FAILS_AT_H)]
        found.append(_told(use, catalog, site, way, held, {item.id: answer for (_, item), answer in mine_too}, failed))
    return tuple(found)


def _kept_warm(use: BoxUse, catalog: Catalog, site: _Site, tried: list[tuple[_Way, Held]]) -> tuple[_Way, Held]:
    """The least that keeps the box long enough: a second air stone, wrapped, heated."""
    best = max(_capped(hours_of(held.hours)) for _, held in tried)
    container = catalog.containers[use.container]
    for way, held in tried:
        loss = way.loss * (container.heat_loss_w_per_k_lidded or container.heat_loss_w_per_k_open)
        cooling_k_h = 3.6 * loss * abs(site.temp_c - site.room_c) / (use.water_l * 4.18)
        enough = min(best, LONG_H) - CLOSENESS_H
        if _capped(hours_of(held.hours)) >= enough and cooling_k_h <= FASTEST_COOLING_K_H:
            return way, held
    return max(tried, key=lambda pair: (_capped(hours_of(pair[1].hours)), -tried.index(pair)))


def _ways(use: BoxUse, catalog: Catalog, way: _Way, held: Held, fails_h: float) -> list[_Way]:
    usable = catalog.containers[use.container].usable_l
    found = [
        replace(way, id="still", stones=0, shut=True),
        replace(way, id="fails", fails_h=fails_h),
        replace(way, id="change", changed_h=(_change_h(held),)),
    ]
    if usable > 1.1 * use.water_l:
        found.append(replace(way, id="fuller", litres=usable))
    if sum(use.counts.values()) > 1:
        found.append(replace(way, id="split", animals=0.5))
    return found


def _change_h(held: Held) -> float:
    return round(12 * REFRESHED_SHARES[0] * min(LAST_H, _capped(hours_of(held.hours)))) / 12


def _told(
    use: BoxUse,
    catalog: Catalog,
    site: _Site,
    way: _Way,
    held: Held,
    ways: Mapping[str, Held],
    failed: Mapping[str, float],
) -> BoxHours:
    container = catalog.containers[use.container]
    bare = container.heat_loss_w_per_k_lidded or container.heat_loss_w_per_k_open
    fails_h = failed.get(use.label, FAILS_AT_H)
    left = np.maximum(0.0, ways["fails"].hours - fails_h)
    shown = ways["fails"] if use.label in failed else held
    buys = [Way(id="change", hours=hours_of(ways["change"].hours), values={"at_h": _change_h(held)})]
    if "fuller" in ways:
        buys.append(Way(id="fuller", hours=hours_of(ways["fuller"].hours), values={"litres_l": container.usable_l}))
    if "split" in ways:
        buys.append(Way(id="split", hours=hours_of(ways["split"].hours)))
    hours = hours_of(shown.hours)
    return BoxHours(
        label=use.label,
        leaves=use.leaves,
        container=use.container,
        water_l=use.water_l,
        counts=use.counts,
        shrimp=use.for_shrimp,
        keeping=way.id,
        stones=way.stones,
        heat_w=max(0.0, bare * (site.temp_c - site.room_c)),
        hours=hours,
        binds=_binding(shown),
        refreshed_h=tuple(share * _capped(hours) for share in REFRESHED_SHARES),
        still=hours_of(ways["still"].hours),
        still_binds=_binding(ways["still"]),
        air_failed=use.label in failed,
        failure_at_h=fails_h,
        after_failure=hours_of(left),
        ways=tuple(sorted(buys, key=lambda item: -(LAST_H + 1 if item.hours.low is None else item.hours.low))),
        course=_course(shown),
    )


def on_the_day(
    told: tuple[BoxHours, ...],
    boxes: tuple[BoxUse, ...],
    stays: Mapping[str, Stay],
    job: Job,
    catalog: Catalog,
    *,
    old: Water,
    temp_c: float,
    rng: np.random.Generator,
) -> tuple[BoxHours, ...]:
    """The boxes followed through the day that was planned: caught, refreshed and let go gradually, at its hours.

    Parameters
    ----------
    told, boxes : tuple of BoxHours, tuple of BoxUse
        As `box_hours` answered, in its order, and what it was asked about.
    stays : mapping of str to Stay
        By label; boxes without one stay as they are.
    """
    uses = {use.label: use for use in boxes}
    asked = [box for box in told if box.label in stays and box.label in uses and not box.air_failed]
    if not asked:
        return told
    pairs = [(uses[box.label], _planned(box, stays[box.label])) for box in asked]
    last_h = max(stays[box.label].hours for box in asked) + CLOSENESS_H
    site = _site(job, catalog, old=old, temp_c=temp_c, rng=rng)
    followed = {
        box.label: held for box, held in zip(asked, _followed(pairs, catalog, site, last_h=last_h), strict=True)
    }
    found = []
    for box in told:
        held, stay = followed.get(box.label), stays.get(box.label)
        if held is None or stay is None:
            found.append(box)
            continue
        kept = float(np.mean(held.hours > stay.hours))
        found.append(box.model_copy(update={"stay": stay, "kept_share": kept, "course": _course(held)}))
    return tuple(found)


def _planned(box: BoxHours, stay: Stay) -> _Way:
    def hours_in(minute: int) -> float:
        return (minute - stay.caught_from_min) / 60

    return _Way(
        "planned",
        loss=LOSSES[box.keeping],
        stones=box.stones,
        changed_h=tuple(hours_in(minute) for minute in stay.changed_min),
        in_by_h=hours_in(stay.caught_by_min),
        out_from_h=hours_in(stay.let_go_from_min),
        out_over_h=max(1, stay.let_go_by_min - stay.let_go_from_min) / 60,
    )
