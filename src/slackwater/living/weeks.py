"""The weeks after the restart: whether animals may go back today, what else would do, and which changes keep the limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog, Species
from slackwater.job.event import Event
from slackwater.job.model import Job
from slackwater.living.acidity import Acidity, acidity_of
from slackwater.living.changing import Asked, Choice, Found, Limits, least_work_with_levers, probability_kept
from slackwater.living.nitrogen import first_step_share
from slackwater.living.priors import median
from slackwater.living.respiration import N_G_MOL, O2_G_MOL
from slackwater.living.restart import (
    BALANCE_CO2_MG_L,
    LAST_DAY,
    MEMBERS,
    SOIL_SHARE,
    USUAL_LEVERS,
    Changes,
    Levers,
    Option,
    Outcome,
    Tank,
    band,
    drawn_parameters,
    drivers,
    followed,
    made_ready,
    run,
)
from slackwater.living.result import ChangePlan, Fan, OptionOutcome, Weeks
from slackwater.living.settled import DRAWN_FOR_EACH, fitting, left_by_filter_mg_l
from slackwater.living.setup import (
    PLANTS_TAKE,
    live_mass_g,
    protein_g_d,
    refilled_on,
    routine_oxygen_mg_d,
    tank_of,
    unsettled,
    water_of,
)
from slackwater.stage import Stage
from slackwater.water.ammonia import acute_2013_mg_l
from slackwater.water.assess import MIX
from slackwater.water.chlorine import thiosulfate_g
from slackwater.water.composition import Water
from slackwater.water.result import WaterBudget
from slackwater.water.salts import ATOMIC_WEIGHT, MEQ_L_PER_DKH, molar_mass_g_mol
from slackwater.water.speciation import speciate_at_co2
from slackwater.water.step import SENSITIVE_FROM

FloatArray = NDArray[np.float64]
OnProgress = Callable[[str], None]
WANTED = 0.95
AIRED_PH = 8.0
"""What a change with aired tap water may lift the pH to; from memory."""
HOLD_DAYS = (3, 7, 14, 21, 28)
REST_DAYS = (14, 21, 28)
LARGEST_SHARE = 0.5
"""Of the tank in one change, where the contract names no litres; common practice, no source."""
MOST_SHARE = 0.7
"""More at once is a new tank, not a change; common practice, no source."""
TOO_HARD_DKH = 2.0
"""Water harder than what was agreed by more than this is no water to change with; common practice, no source."""
ZEOLITE_G_N_KG = 0.5
"""Ammonium nitrogen that a kilogram binds in soft water, low end of 0.5 to 2; catalog row media_zeolite, from memory."""
ZEOLITE_KG = (0.5, 1.0, 1.5, 2.0)
SEEDED_SHARE = 0.5
"""Media from another running filter, as a share of this one's own."""
VISIT_H = 1.0
SHORT_LIGHT = 0.7
"""Six hours of light in place of eight or nine, against algae: plants then take less; light ramp, common practice."""
STARTING_DAYS: Mapping[str, tuple[int, ...]] = {
    "active": (1, 2, 3, 5, 7, 9, 12, 15, 19, 23, 28, 35, 42),
    "lean": (2, 4, 7, 10, 14, 21, 28, 35, 42),
    "inert": (7, 14, 21, 28, 35, 42),
}
"""Days of changes where no contract names visits; trade's starting calendars, common practice, no source."""
SEARCH_TO_DAY = 28
"""Every day to here may be a visit when the contract's are not enough."""
PLAN_TO_DAY = 42
NITRATE_TO_N = ATOMIC_WEIGHT["N"] / molar_mass_g_mol("NO3")
FALLS_BELOW: Mapping[str, float] = {"alkalinity_dkh": 1.0, "ph": 6.0}
"""KH and pH under which the filter works badly and pH falls on; common practice, no source."""
NO2_PER_N = 46.005 / ATOMIC_WEIGHT["N"]
NH4_PER_N = 18.039 / ATOMIC_WEIGHT["N"]
"""What strips and drops show of nitrite and of ammonium against nitrogen."""
FAN_POINTS = (5, 25, 50, 75, 95)


@dataclass(frozen=True)
class Thoroughness:
    """How many members the ensemble has, how many calendars of changes are looked at, and by what step options are compared.

    With three hours the odds of the examples' options are within 0.002 of those with three quarters of an hour, far below
    what the priors leave open.
    """

    members: int = MEMBERS
    calendars: int = 2000
    step_d: float = 1 / 8


USUAL = Thoroughness()
"""Beside the day of a whole plan."""
EVERY_CALENDAR = Thoroughness(calendars=10_000)
"""Where the weeks are asked for by themselves."""


@dataclass(frozen=True)
class _Herd:
    """Kept animals by what they bear; limits in mg N/L."""

    hardy: tuple[Species, ...]
    sensitive: tuple[Species, ...]
    hardy_limits: Limits
    sensitive_limits: Limits
    hardy_share: float
    heads: float

    @property
    def lowest(self) -> Limits:
        return self.sensitive_limits if self.sensitive else self.hardy_limits


@dataclass(frozen=True)
class _Model:
    """What every option is run on."""

    tank: Tank
    acidity: Acidity
    drawn: Mapping[str, FloatArray]
    oxygen_use_mg_d: float
    protein_g_d: float
    changes: Changes
    step_d: float

    def outcome(
        self,
        option: Option,
        *,
        tank: Tank | None = None,
        changes: Changes | None = None,
        levers: Levers = USUAL_LEVERS,
    ) -> Outcome:
        ready = made_ready(
            self.tank if tank is None else tank,
            option,
            acidity=self.acidity,
            drawn=self.drawn,
            oxygen_use_mg_d=self.oxygen_use_mg_d,
            protein_g_d=self.protein_g_d,
            levers=levers,
        )
        visits = (self.changes if changes is None else changes).visits()
        return followed(ready, visits, last_day=LAST_DAY, longest_step_d=self.step_d)


def nitrite_limits_mg_l(catalog: Catalog, *, chloride_mg_l: float) -> tuple[float, float]:
    """Nitrite that hardy and sensitive animals bear for weeks, by the chloride that is there [mg N/L].

    Notes
    -----
    Limits table: its stop and caution values below 10 and above 40 mg/L chloride, a straight line between; Lewis and Morris
    (1986) for the kind of effect.
    """
    soft, salty = catalog.limits["nitrite_soft"], catalog.limits["nitrite_chloride"]
    share = min(1.0, max(0.0, (chloride_mg_l - 10) / 30))

    def between(low: float | None, high: float | None) -> float:
        return (1 - share) * (low or 0.0) + share * (high or 0.0)

    return between(soft.stop_above, salty.stop_above), between(soft.caution_above, salty.caution_above)


def _herd(job: Job, catalog: Catalog, *, chloride_mg_l: float, temp_c: float) -> _Herd:
    kept = [
        (catalog.species[item.species], item.count.middle or 0.0)
        for item in job.livestock or ()
        if item.keep and item.species in catalog.species and item.count.high
    ]
    sensitive = [s for s, _ in kept if s.group != "fish" or s.sensitivity_1_5 >= SENSITIVE_FROM]
    hardy = [s for s, _ in kept if s not in sensitive]
    mass = {s.id: count * s.typical_mass_g for s, count in kept}
    uia = catalog.limits["uia"]
    # Should anything lift the pH to that of aired tap water, it must not kill within hours.
    tan = float(np.asarray(acute_2013_mg_l(ph=AIRED_PH, temp_c=temp_c)))
    for_hardy, for_sensitive = nitrite_limits_mg_l(catalog, chloride_mg_l=chloride_mg_l)
    return _Herd(
        hardy=tuple(hardy),
        sensitive=tuple(sensitive),
        hardy_limits=Limits(uia_mg_l=uia.stop_above or 0.05, nitrite_mg_l=for_hardy, tan_mg_l=tan),
        sensitive_limits=Limits(uia_mg_l=uia.caution_above or 0.02, nitrite_mg_l=for_sensitive, tan_mg_l=tan),
        heads=sum(count for _, count in kept),
        hardy_share=sum(mass[s.id] for s in hardy) / max(sum(mass.values()), 1e-9),
    )


def _over(outcome: Outcome, limits: Limits, from_day: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    late = outcome.days >= from_day
    ammonia = (outcome.uia_mg_l[late] > limits.uia_mg_l) | (outcome.tan_mg_l[late] > limits.tan_mg_l)
    return np.asarray(ammonia.any(axis=0)), np.asarray((outcome.nitrite_mg_l[late] > limits.nitrite_mg_l).any(axis=0))


def _judged(
    name: str,
    outcome: Outcome,
    herd: _Herd,
    *,
    hardy_from: float,
    sensitive_from: float,
    cost: float,
    **values: float | str,
) -> OptionOutcome:
    members = outcome.tan_mg_l.shape[1]
    ammonia, nitrite = np.zeros(members, dtype=bool), np.zeros(members, dtype=bool)
    by_species: dict[str, float] = {}
    for kinds, limits, from_day in (
        (herd.hardy, herd.hardy_limits, hardy_from),
        (herd.sensitive, herd.sensitive_limits, sensitive_from),
    ):
        if not kinds:
            continue
        mine = _over(outcome, limits, from_day)
        ammonia |= mine[0]
        nitrite |= mine[1]
        by_species |= {kind.id: float(np.mean(mine[0] | mine[1])) for kind in kinds}
    kept = 1.0 - float(np.mean(ammonia | nitrite))
    return OptionOutcome(
        id=name,
        return_day=hardy_from,
        kept=kept,
        over_ammonia=float(np.mean(ammonia)),
        over_nitrite=float(np.mean(nitrite)),
        by_species=by_species,
        cost=round(cost, 2),
        passes=kept >= WANTED,
        values=values,
    )


def _visits(job: Job, soil: str) -> tuple[tuple[int, ...], tuple[int, ...], bool]:
    """Days with a visit, all open days, and whether they are the contract's."""
    day = refilled_on(job)
    closed = set() if day is None else {(closed - day).days for closed in job.days_without_visit}
    booked = job.contract.visit_days(last_day=LAST_DAY)
    wanted = booked or STARTING_DAYS[soil]
    # What a contract does not name any more goes on as care does.
    wanted = (*wanted, *range(wanted[-1] + 7, LAST_DAY + 1, 7))
    visits = tuple(number for number in wanted if number > 0 and number not in closed)
    every = tuple(number for number in range(1, SEARCH_TO_DAY + 1) if number not in closed)
    return visits, every, bool(booked)


def _choices(job: Job, water: WaterBudget) -> tuple[Choice, ...]:
    """What can be changed on one visit: each water that a tank can live on, whole and half of what litres allow.

    The mix of the day comes first. Permeate alone is none: it would leave the tank without hardness to live on.
    """
    largest_l = job.contract.largest_change_l or LARGEST_SHARE * water.net_l
    found = []
    mix = next((item.alkalinity_dkh for item in water.changes if item.name == MIX), 0.0)
    hardest_dkh = max(mix, job.target.alkalinity_high_dkh or 0.0) + TOO_HARD_DKH
    for item in sorted(water.changes, key=lambda change: change.name != MIX):
        if item.name == "permeate" or (item.name == "tap" and job.preparation.tap_allowed is False):
            continue
        if item.alkalinity_dkh > hardest_dkh:
            continue
        litres = min(largest_l, MOST_SHARE * water.net_l)
        if item.permeate_share > 0 and job.contract.ro_on_van_l is not None:
            litres = min(litres, job.contract.ro_on_van_l / item.permeate_share)
        if litres < 0.05 * water.net_l:
            continue
        new = {
            "alkalinity_meq_l": item.alkalinity_dkh * MEQ_L_PER_DKH,
            "nitrate_mg_l": item.nitrate_mg_l * NITRATE_TO_N,
            "tan_mg_l": item.tan_mg_l,
        }
        found += [Choice(share=part * litres / water.net_l, water=item.name, new=new) for part in (0.5, 1.0)]
    return tuple(found)


def _booked_changes(choices: Sequence[Choice], visits: Sequence[int]) -> Changes:
    """The largest change with the mix of the day at every visit: what the contract can do at most."""
    if not choices:
        return Changes((), (), ())
    best = choices[1]
    return Changes(
        days=tuple(float(day) for day in visits),
        shares=(best.share,) * len(visits),
        new=(best.new,) * len(visits),
    )


def _gone_on(changes: Changes, choices: Sequence[Choice], days: Sequence[int]) -> Changes:
    """The changes of the plan, and after it a half one with the mix on each visit: care goes on."""
    first = choices[0]
    new = changes.new if isinstance(changes.new, tuple) else (changes.new,) * len(changes.days)
    return Changes(
        days=(*changes.days, *(float(day) for day in days)),
        shares=(*changes.shares, *(first.share,) * len(days)),
        new=(*new, *(first.new,) * len(days)),
    )


def _zeolite_kg(tank: Tank, drawn: Mapping[str, FloatArray], soil_share: float) -> float:
    """A bag that holds what nearly any soil of the kind gives off, within what a filter takes."""
    released_g = float(np.percentile(drawn["soil_nitrogen_mg_l"], 75)) * tank.soil_l * soil_share / 1000
    return next((kg for kg in ZEOLITE_KG if kg * ZEOLITE_G_N_KG >= released_g), ZEOLITE_KG[-1])


def _thiosulfate_mg(job: Job, catalog: Catalog, water: WaterBudget, visit: tuple[int, Choice]) -> float | None:
    """What binds the chlorine of the tap water in a change; None where it has not been tested [mg]."""
    _, choice = visit
    option = next(item for item in water.changes if item.name == choice.water)
    share = 1.0 if choice.water == "tap" else water.tap_l / max(water.new_l, 1.0) if choice.water == MIX else 0.0
    tap = job.water.tap
    if share * choice.share == 0 or option.permeate_share == 1:
        return 0.0
    if tap is None or (tap.free_chlorine_mg_l is None and tap.combined_chlorine_mg_l is None):
        return None
    # Below detection counts as none, as on the water page.
    chlorine = sum(
        getattr(tap, name) or 0.0
        for name in ("free_chlorine_mg_l", "combined_chlorine_mg_l")
        if name not in tap.below_detection
    )
    dose = catalog.parameter("conditioner_thiosulfate").typical
    litres = share * choice.share * water.net_l
    return round(1000 * thiosulfate_g(chlorine_mg_l=chlorine, litres=litres, mg_per_mg=dose), 1)


def permeate_short(
    days: Sequence[int], permeate_l: Sequence[float], rate_l_day: float
) -> tuple[tuple[int, float, float], ...]:
    """Changes whose permeate cannot be made since the one before: day, litres needed, litres that can be made.

    Parameters
    ----------
    days : sequence of int
        Rising, counted from the refill, when making begins.
    permeate_l : sequence of float
        For each of them.
    rate_l_day : float
        What the unit makes.
    """
    found, before = [], 0
    for day, need in zip(days, permeate_l, strict=True):
        made = rate_l_day * (day - before)
        if need > made:
            found.append((day, need, made))
        before = day
    return tuple(found)


def _permeate_findings(plan: ChangePlan | None, water: WaterBudget) -> list[Finding]:
    if plan is None or water.osmosis is None:
        return []
    share = {item.name: item.permeate_share for item in water.changes}
    need = [litres * share.get(name, 0.0) for litres, name in zip(plan.litres, plan.waters, strict=True)]
    short = permeate_short(plan.days, need, water.osmosis.rate_l_day)
    if not short:
        return []
    day, litres, made = max(short, key=lambda item: item[1] - item[2])
    return [
        Finding(
            id="living.permeate_short",
            severity=Severity.CONDITION,
            values={
                "days": ", ".join(str(item[0]) for item in short),
                "rate_l": water.osmosis.rate_l_day,
                "day": day,
                "need_l": litres,
                "made_l": made,
            },
            margin=made - litres,
            margin_unit="L",
        )
    ]


def falling_findings(weeks: Weeks) -> list[Finding]:
    """Whether the careful end of KH or pH falls below what the filter needs, and from which day on."""
    found = []
    for name, least in FALLS_BELOW.items():
        fan = weeks.fans[name]
        below = [day for day, band in zip(fan.days, fan.bands, strict=True) if band[0] < least]
        if below:
            found.append(
                Finding(
                    id="living.ph_falls" if name == "ph" else "living.kh_falls",
                    severity=Severity.CONDITION,
                    values={"day": f"{below[0]:.0f}", "least": least, "lowest": f"{min(b[0] for b in fan.bands):.1f}"},
                    margin=min(band[0] for band in fan.bands) - least,
                    margin_unit="" if name == "ph" else "dKH",
                )
            )
    return found


def _options(
    job: Job, catalog: Catalog, water: WaterBudget, model: _Model, herd: _Herd, on_progress: OnProgress
) -> tuple[list[OptionOutcome], dict[str, tuple[Option, Tank]]]:
    """Every option with its odds, and how each is run."""
    price = {name: row.typical_cr for name, row in catalog.prices.items()}
    boxes = max(1, len(water.boxes))
    found: list[OptionOutcome] = []
    ways: dict[str, tuple[Option, Tank]] = {}

    def boarding(days: float, share: float = 1.0) -> float:
        trips = 2 * (price["lead_hour"] + price["travel_hour"])
        return trips + price["boarding_box_day"] * days * max(1, ceil(share * boxes))

    def tried(option: Option, cost: float, tank: Tank | None = None, **values: float | str) -> OptionOutcome:
        on_progress(f"the weeks after: {option.id.replace('_', ' ')}")
        outcome = model.outcome(option, tank=tank)
        judged = _judged(
            option.id,
            outcome,
            herd,
            hardy_from=option.return_day,
            sensitive_from=option.return_day,
            cost=cost,
            **values,
        )
        ways[option.id] = (option, model.tank if tank is None else tank)
        found.append(judged)
        return judged

    on_progress("the weeks after: today")
    found.append(_judged_today(model, herd))
    ways["today"] = (Option("today"), model.tank)
    if not (herd.hardy or herd.sensitive):
        return found, ways
    for days in HOLD_DAYS:
        option = Option("hold", return_day=float(days))
        outcome = model.outcome(option)
        judged = _judged("hold", outcome, herd, hardy_from=days, sensitive_from=days, cost=boarding(days), days=days)
        if judged.passes or days == HOLD_DAYS[-1]:
            found.append(judged)
            ways["hold"] = (option, model.tank)
            break
    _part(model, herd, boarding, found, ways)
    kg = _zeolite_kg(model.tank, model.drawn, SOIL_SHARE[model.tank.soil_kind])
    if model.tank.soil_kind != "inert":
        binding = kg * ZEOLITE_G_N_KG * 1000
        tried(Option("binder", binder_mg=binding), kg * price["zeolite_kg"], kg=kg)
        both = tried(
            Option("binder_and_hold", return_day=7.0, binder_mg=binding),
            kg * price["zeolite_kg"] + boarding(7),
            kg=kg,
            days=7,
        )
        if not both.passes:
            found.remove(both)
            tried(
                Option("binder_and_hold", return_day=14.0, binder_mg=binding),
                kg * price["zeolite_kg"] + boarding(14),
                kg=kg,
                days=14,
            )
    if model.tank.soil_kind == "active":
        tried(Option("lean_soil"), 0.0, replace(model.tank, soil_kind="lean"))
    if model.tank.soil_kind != "inert":
        tried(Option("inert_soil"), 0.0, replace(model.tank, soil_kind="inert"))
    media_l = sum(item.media_l or 0.0 for item in job.filters or ())
    litres = max(1.0, SEEDED_SHARE * media_l)
    seeding = litres * price["seeded_media_l"]
    tried(Option("seeded", seeded_share=SEEDED_SHARE), seeding, litres_l=litres)
    # Two things at once cost more trouble than one: looked at where nothing alone will do, cheapest first.
    lean, inert = (replace(model.tank, soil_kind=kind) for kind in ("lean", "inert"))
    lean_kg = _zeolite_kg(model.tank, model.drawn, SOIL_SHARE["lean"])
    if model.tank.soil_kind == "active" and not _any_passes(found):
        bag = Option("lean_soil_and_binder", binder_mg=lean_kg * ZEOLITE_G_N_KG * 1000)
        tried(bag, lean_kg * price["zeolite_kg"], lean, kg=lean_kg)
    if model.tank.soil_kind != "inert" and not _any_passes(found):
        tried(Option("inert_soil_and_seeded", seeded_share=SEEDED_SHARE), seeding, inert, litres_l=litres)
    if not _any_passes(found):
        both_ways = Option("seeded_and_hold", return_day=14.0, seeded_share=SEEDED_SHARE)
        tried(both_ways, seeding + boarding(14), litres_l=litres, days=14)
    if model.tank.soil_kind != "inert" and not _any_passes(found):
        tried(Option("inert_soil_and_hold", return_day=28.0), boarding(28), inert, days=28)
    return found, ways


def _any_passes(options: Sequence[OptionOutcome]) -> bool:
    return any(item.passes for item in options)


def _part(
    model: _Model,
    herd: _Herd,
    boarding: Callable[..., float],
    found: list[OptionOutcome],
    ways: dict[str, tuple[Option, Tank]],
) -> None:
    """Hardy animals today and the sensitive ones later, or half of the stock where all are alike."""
    if herd.heads < 2:
        return
    mixed = bool(herd.hardy and herd.sensitive)
    share = herd.hardy_share if mixed else 0.5
    option = Option("part", stock_share=share)
    outcome = model.outcome(option)
    for days in REST_DAYS:
        judged = _judged(
            "part" if mixed else "part_half",
            outcome,
            herd,
            hardy_from=0.0,
            sensitive_from=float(days) if mixed else 0.0,
            cost=boarding(days, 1 - share),
            days=days,
        )
        if judged.passes or not mixed or days == REST_DAYS[-1]:
            found.append(judged)
            ways[judged.id] = (option, model.tank)
            return


def _fan(days: FloatArray, values: FloatArray, digits: int) -> Fan:
    return Fan(
        days=tuple(float(day) for day in days),
        bands=tuple(
            (round(a, digits), round(b, digits), round(c, digits), round(d, digits), round(e, digits))
            for a, b, c, d, e in band(values, FAN_POINTS)
        ),
    )


def _fans(outcome: Outcome) -> dict[str, Fan]:
    return {
        "tan_mg_l": _fan(outcome.days, outcome.tan_mg_l, 4),
        "uia_mg_l": _fan(outcome.days, outcome.uia_mg_l, 6),
        "nitrite_mg_l": _fan(outcome.days, outcome.nitrite_mg_l, 4),
        "nitrate_mg_l": _fan(outcome.days, outcome.nitrate_mg_l / NITRATE_TO_N, 3),
        "alkalinity_dkh": _fan(outcome.days, outcome.alkalinity_meq_l / MEQ_L_PER_DKH, 3),
        "ph": _fan(outcome.days, outcome.ph, 3),
    }


def table_errors(water: Water, tank: Tank, outcome: Outcome) -> tuple[float, float]:
    """How far the table is off along the middle course: pH, and un-ionised ammonia as a share of its peak."""
    alkalinity = np.median(outcome.alkalinity_meq_l, axis=1)
    co2 = BALANCE_CO2_MG_L * median("co2_room_share") if tank.co2_mg_l is None else tank.co2_mg_l
    tan = np.median(outcome.tan_mg_l, axis=1)
    table = acidity_of(water).held(co2)
    plain = replace(
        water,
        alkalinity_meq_l=alkalinity,
        carbon_mmol_l=0.0,
        ammonia_mmol_l=np.maximum(tan, 1e-6) / ATOMIC_WEIGHT["N"],
        sodium_mmol_l=np.maximum(
            np.asarray(water.sodium_mmol_l) + alkalinity - np.asarray(water.alkalinity_meq_l), 0.0
        ),
    )
    full = speciate_at_co2(plain, co2_mg_l=np.full(alkalinity.shape, co2))
    free = table.without_ammonia(alkalinity, tan_mg_l=tan)
    by_table = tan * table.unionised_fraction(free)
    whole = tan * np.asarray(full.ammonia_fraction)
    off = float(np.max(np.abs(table.ph(free) - np.asarray(full.ph))))
    return off, float(np.max(np.abs(by_table - whole)) / max(float(whole.max()), 1e-12))


def _plan_of(found: Found, water: WaterBudget, *, by_contract: bool, kept_short_light: float) -> ChangePlan:
    return ChangePlan(
        days=tuple(day for day, _ in found.visits),
        litres=tuple(round(choice.share * water.net_l, 1) for _, choice in found.visits),
        waters=tuple(choice.water for _, choice in found.visits),
        probability=found.probability,
        keeps=found.kept,
        binding_day=found.binding_day,
        binding_limit=found.binding_limit,
        sampling_days=found.sampling_days,
        tried=found.tried,
        feed_share=found.levers.feed_share,
        kept_short_light=kept_short_light,
        by_contract=by_contract,
        until_day=PLAN_TO_DAY,
    )


def weeks_lack(job: Job, catalog: Catalog) -> tuple[str, ...]:
    """Facts that the weeks after wait for, apart from those of the rooms before them."""
    return (*(("filters",) if job.filters is None else ()), *unsettled(job, catalog))


@dataclass(frozen=True)
class _Start:
    """What every option of going on starts from."""

    tank: Tank
    model: _Model
    herd: _Herd
    fit_share: float | None
    visits: tuple[int, ...]
    every: tuple[int, ...]
    booked: bool
    choices: tuple[Choice, ...]


def _start(
    job: Job,
    catalog: Catalog,
    water: WaterBudget,
    *,
    soil_l: float,
    footprint_m2: float,
    thoroughness: Thoroughness,
) -> _Start:
    rng = np.random.default_rng(job.seed)
    tank = tank_of(
        job,
        catalog,
        water,
        soil_l=soil_l,
        footprint_m2=footprint_m2,
        media_kept=1.0 if job.filters else 0.0,
    )
    drawn, fit_share = _members(job, water, tank, rng, thoroughness.members)
    excreted = drawn["ammonia_quotient"] * N_G_MOL / O2_G_MOL * routine_oxygen_mg_d(job, catalog, temp_c=tank.temp_c)
    fed = drawn["feed_excretion"] * protein_g_d(job, catalog) * 1000
    # The filter was settled on what these animals gave off before, less what plants took: member by member.
    tank = replace(tank, load_before_mg_d=(1 - PLANTS_TAKE) * np.maximum(excreted, fed))
    herd = _herd(job, catalog, chloride_mg_l=water.refill.chloride_mg_l, temp_c=tank.temp_c)
    visits, every, booked = _visits(job, tank.soil_kind)
    choices = _choices(job, water)
    model = _Model(
        tank=tank,
        acidity=acidity_of(water_of(water.refill)),
        drawn=drawn,
        oxygen_use_mg_d=routine_oxygen_mg_d(job, catalog, temp_c=tank.temp_c),
        protein_g_d=protein_g_d(job, catalog),
        changes=_booked_changes(choices, visits),
        step_d=thoroughness.step_d,
    )
    return _Start(tank, model, herd, fit_share, visits, every, booked, choices)


def return_on_the_day(
    job: Job,
    catalog: Catalog,
    water: WaterBudget,
    *,
    soil_l: float,
    footprint_m2: float,
    thoroughness: Thoroughness = USUAL,
) -> OptionOutcome | None:
    """The odds of the animals that go back on the day, as `assess_weeks` reckons them, without every other option.

    None where facts are missing. Parameters as of `assess_weeks`.
    """
    if weeks_lack(job, catalog):
        return None
    start = _start(job, catalog, water, soil_l=soil_l, footprint_m2=footprint_m2, thoroughness=thoroughness)
    return _judged_today(start.model, start.herd)


def _judged_today(model: _Model, herd: _Herd) -> OptionOutcome:
    outcome = model.outcome(Option("today"))
    return _judged("today", outcome, herd, hardy_from=0.0, sensitive_from=0.0, cost=0.0)


def assess_weeks(
    job: Job,
    catalog: Catalog,
    water: WaterBudget,
    *,
    soil_l: float,
    footprint_m2: float,
    on_progress: OnProgress = lambda _: None,
    thoroughness: Thoroughness = USUAL,
) -> Stage[Weeks]:
    """Odds of every option, the cheapest that passes, and the least work of water changes for it.

    Parameters
    ----------
    soil_l : float
        Active soil as laid.
    footprint_m2 : float
    thoroughness : Thoroughness
    """
    lacks = weeks_lack(job, catalog)
    if lacks:
        return Stage(result=None, lacks=lacks)
    refill = water_of(water.refill)
    start = _start(job, catalog, water, soil_l=soil_l, footprint_m2=footprint_m2, thoroughness=thoroughness)
    tank, model, herd, fit_share = start.tank, start.model, start.herd, start.fit_share
    visits, every, booked, choices = start.visits, start.every, start.booked, start.choices
    options, ways = _options(job, catalog, water, model, herd, on_progress)
    kept_animals = bool(herd.hardy or herd.sensitive)
    today = options[0]

    def searched(name: str, days: Sequence[int]) -> Found:
        option, its_tank = ways[name]
        asked = Asked(
            tank=its_tank,
            option=option,
            visit_days=tuple(day for day in days if day <= PLAN_TO_DAY),
            choices=choices,
            acidity=model.acidity,
            drawn=model.drawn,
            oxygen_use_mg_d=model.oxygen_use_mg_d,
            protein_g_d=model.protein_g_d,
            limits=_limits_of(name, herd),
            last_day=PLAN_TO_DAY,
        )
        return least_work_with_levers(
            asked, rng=np.random.default_rng(job.seed), number=thoroughness.calendars, on_progress=on_progress
        )

    daily = None
    if kept_animals and not today.passes and choices:
        later = [day for day in visits if day > SEARCH_TO_DAY]
        most = _booked_changes(choices, every)
        more = _more_changes(model, herd, catalog, _gone_on(most, choices, later), visits)
        if more.passes:
            daily = searched("today", every)
            more = _more_changes(model, herd, catalog, _gone_on(daily.changes, choices, later), visits)
        options.append(more)
        ways["more_changes"] = ways["today"]
    options.sort(key=lambda item: (not item.passes, item.cost if item.passes else -item.kept, item.id))
    chosen = options[0].id if options[0].passes else "today"
    plan, outcome = None, None
    if choices and kept_animals:
        by_contract = daily is None or chosen != "more_changes"
        best = searched(chosen, visits) if by_contract or daily is None else daily
        option, its_tank = ways[chosen]
        dimmed = model.outcome(
            option, tank=its_tank, changes=best.changes, levers=replace(best.levers, light_share=SHORT_LIGHT)
        )
        kept_dimmed = probability_kept(dimmed.to_day(PLAN_TO_DAY), _limits_of(chosen, herd), from_day=option.return_day)
        later = [day for day in visits if day > PLAN_TO_DAY]
        plan = _plan_of(best, water, by_contract=by_contract and booked, kept_short_light=kept_dimmed).model_copy(
            update={
                "gone_on_days": tuple(later),
                "gone_on_l": round(choices[0].share * water.net_l, 1),
                "thiosulfate_mg": tuple(_thiosulfate_mg(job, catalog, water, item) for item in best.visits),
            }
        )
        outcome = run(
            its_tank,
            option,
            _gone_on(best.changes, choices, later),
            acidity=model.acidity,
            drawn=model.drawn,
            oxygen_use_mg_d=model.oxygen_use_mg_d,
            protein_g_d=model.protein_g_d,
            levers=best.levers,
        )
    if outcome is None:
        outcome = model.outcome(ways["today"][0])
    off_ph, off_uia = table_errors(refill, tank, outcome)
    weeks = Weeks(
        members=thoroughness.members,
        fit_share=fit_share,
        soil=tank.soil_kind,
        sensitive=tuple(kind.id for kind in herd.sensitive),
        uia_limit_mg_l=herd.lowest.uia_mg_l,
        nitrite_limit_mg_l=herd.lowest.nitrite_mg_l,
        tan_limit_mg_l=herd.lowest.tan_mg_l,
        options=tuple(options),
        chosen=chosen,
        fans=_fans(outcome),
        drivers=drivers(outcome, outcome.tan_mg_l)[:6],
        plan=plan,
        refilled=refilled_on(job),
        ph_table_error=off_ph,
        uia_table_error=off_uia,
    )
    return Stage(
        result=weeks,
        figures=tuple(_figures(weeks, live_mass_g(job, catalog))),
        findings=(
            *_findings(weeks, job, kept_animals=kept_animals, visits=visits),
            *(_readings_carry(job, weeks) if kept_animals else ()),
            *(_permeate_findings(plan, water) if kept_animals else ()),
            *(falling_findings(weeks) if kept_animals else ()),
        ),
        assumed=tuple(_assumed(job, weeks, booked, visits)),
    )


def _members(
    job: Job, water: WaterBudget, tank: Tank, rng: np.random.Generator, number: int
) -> tuple[dict[str, FloatArray], float | None]:
    """Members of the ensemble, and the share that fits the tank's readings; None where nothing of it was told."""
    if not job.filters or job.water.tank is None:
        return drawn_parameters(number, rng), None
    many = drawn_parameters(DRAWN_FOR_EACH * number, rng)
    old = water.old_water
    left = left_by_filter_mg_l(
        many,
        temp_c=old.temp_c,
        oxygen_mg_l=tank.oxygen_mg_l,
        alkalinity_meq_l=old.alkalinity_dkh * MEQ_L_PER_DKH,
        ph_factor=float(np.asarray(first_step_share(np.array([old.ph])))[0]),
    )
    return fitting(
        many, left, wanted=number, tan_mg_l=job.water.tank.tan_mg_l, nitrite_mg_l=job.water.tank.nitrite_n_mg_l
    )


def _more_changes(
    model: _Model, herd: _Herd, catalog: Catalog, changes: Changes, visits: Sequence[int]
) -> OptionOutcome:
    """Animals back today, with changes on more days than are booked."""
    price = {name: row.typical_cr for name, row in catalog.prices.items()}
    extra = [day for day in changes.days if int(day) not in visits]
    return _judged(
        "more_changes",
        model.outcome(Option("today"), changes=changes),
        herd,
        hardy_from=0.0,
        sensitive_from=0.0,
        cost=len(extra) * (price["visit_fixed"] + VISIT_H * price["lead_hour"]),
        changes=len(changes.days),
        extra=len(extra),
    )


def _limits_of(name: str, herd: _Herd) -> Limits:
    """Where only hardy animals go back at first, theirs decide; the others' are kept on their day by the option's odds."""
    return herd.hardy_limits if name == "part" else herd.lowest


def _assumed(job: Job, weeks: Weeks, booked: bool, visits: Sequence[int]) -> list[Assumption]:
    found = [
        Assumption(
            field="contract.largest_change",
            value=f"{LARGEST_SHARE:.0%} of the tank",
            source="common practice, no source",
        )
    ]
    if job.contract.largest_change_l is not None:
        found.clear()
    if not booked:
        found.append(
            Assumption(
                field="contract.visits",
                value="water changes on days " + ", ".join(str(day) for day in visits),
                source=f"starting calendar for {weeks.soil} soil; common practice, no source",
            )
        )
    return found


def _figures(weeks: Weeks, live_g: float) -> list[Figure]:
    source = "two-step nitrification (Henze et al. 2000; Vannecke and Volcke 2015) over frozen priors (priors.csv); soil release from memory and wide"
    found = []
    for name, unit in (("tan_mg_l", "mg/L"), ("uia_mg_l", "mg/L"), ("nitrite_mg_l", "mg/L")):
        fan = weeks.fans[name]
        peak = max(range(len(fan.days)), key=lambda place: fan.bands[place][2])
        found.append(
            Figure(
                id=f"living.peak_{name}",
                value=fan.bands[peak][2],
                unit=unit,
                low=fan.bands[peak][0],
                high=fan.bands[peak][4],
                formula=f"middle of {weeks.members} courses played through, on its highest day, with the water changes planned",
                source=source,
                inputs={"day": fan.days[peak], "option": weeks.chosen, "live_mass_g": round(live_g, 1)},
            )
        )
    for item in weeks.options:
        found.append(
            Figure(
                id=f"living.kept.{item.id}",
                value=100 * item.kept,
                unit="%",
                formula=f"share of {weeks.members} courses played through that keep un-ionised ammonia and nitrite within the animals' limits to day {LAST_DAY}",
                source=source,
                inputs=dict(item.values) | {"cost": item.cost, "return_day": item.return_day},
            )
        )
    return found


def _readings_carry(job: Job, weeks: Weeks) -> list[Finding]:
    """That the odds hang on readings of the running tank, where the survey has any."""
    tank = job.water.tank
    if weeks.fit_share is None or tank is None or (tank.tan_mg_l is None and tank.nitrite_n_mg_l is None):
        return []

    def told(value: float | None) -> str:
        return "not read" if value is None else f"{value:g} mg/L"

    values: dict[str, float | str] = {
        "tan": told(tank.tan_mg_l),
        "nitrite": told(tank.nitrite_n_mg_l),
        "fit": f"{100 * weeks.fit_share:.0f}",
    }
    return [Finding(id="living.readings_carry", severity=Severity.CONDITION, values=values)]


def with_gain(passing: Sequence[OptionOutcome]) -> tuple[OptionOutcome, ...]:
    """Ways that pass, without those of two parts that are no better than one of the two alone.

    Parameters
    ----------
    passing : sequence of OptionOutcome

    Returns
    -------
    tuple of OptionOutcome
        In their order. No better: the animals go back no sooner, and no more cases in a hundred keep their limits.
    """
    alone = {item.id: item for item in passing}

    def gains(item: OptionOutcome) -> bool:
        parts = [alone[part] for part in item.id.split("_and_") if part in alone and part != item.id]
        return not any(
            part.return_day <= item.return_day and round(100 * part.kept) >= round(100 * item.kept) for part in parts
        )

    return tuple(item for item in passing if gains(item))


def _findings(weeks: Weeks, job: Job, *, kept_animals: bool, visits: Sequence[int]) -> list[Finding]:
    if not kept_animals:
        return []
    found: list[Finding] = []
    today = next(item for item in weeks.options if item.id == "today")
    passing = [item for item in weeks.options if item.passes]
    values: dict[str, float | str] = {
        "kept": f"{100 * today.kept:.0f}",
        "ammonia": f"{100 * today.over_ammonia:.0f}",
        "nitrite": f"{100 * today.over_nitrite:.0f}",
        "uia_mg_l": weeks.uia_limit_mg_l,
        "nitrite_mg_l": weeks.nitrite_limit_mg_l,
        "no2_mg_l": NO2_PER_N * weeks.nitrite_limit_mg_l,
    }
    if today.passes:
        found.append(Finding(id="living.return_today", severity=Severity.NOTE, values=values))
    elif job.all_boarded:
        # What would be asked for is done already.
        found.append(Finding(id="living.boarded_wait", severity=Severity.NOTE, values=values))
    else:
        found.append(
            Finding(
                id="living.not_today" if passing else "living.not_at_all",
                severity=Severity.CONDITION if passing else Severity.MISFIT,
                values=values,
                margin=100 * (today.kept - WANTED),
                margin_unit="%",
                remedies=tuple(
                    Remedy(id=f"living.{item.id}", values={**item.values, "kept": f"{100 * item.kept:.0f}"})
                    for item in with_gain(passing)
                ),
            )
        )
    plan = weeks.plan
    if plan is not None:
        about: dict[str, float | str] = {
            "changes": len(plan.days),
            "until": plan.until_day,
            "days": ", ".join(str(day) for day in plan.days) or "none",
            "kept": f"{100 * plan.probability:.0f}",
            "limit": plan.binding_limit,
            "day": plan.binding_day,
            "tests": ", ".join(str(day) for day in plan.sampling_days),
        }
        missed = [day for day in plan.days if day not in visits]
        if not plan.keeps:
            found.append(Finding(id="living.changes_fall_short", severity=Severity.CONDITION, values=about))
        elif missed:
            found.append(
                Finding(
                    id="living.visits_missing",
                    severity=Severity.CONDITION,
                    values={**about, "missed": ", ".join(str(day) for day in missed)},
                )
            )
        else:
            found.append(Finding(id="living.changes", severity=Severity.CONDITION, values=about))
        if plan.feed_share < 1:
            found.append(
                Finding(
                    id="living.feed_sparingly",
                    severity=Severity.CONDITION,
                    values={"percent": f"{100 * plan.feed_share:.0f}"},
                )
            )
    return found


def reading_findings(weeks: Weeks | None, readings: Sequence[Event], job: Job, water: WaterBudget) -> list[Finding]:
    """Readings of the tank after the rebuild against the limits and against the bands of the way shown."""
    first = refilled_on(job)
    if weeks is None or first is None or not readings:
        return []
    limits = {
        "tan_mg_l": ("TAN", weeks.tan_limit_mg_l, "tan_mg_l", NH4_PER_N),
        "nitrite_n_mg_l": ("nitrite nitrogen", weeks.nitrite_limit_mg_l, "nitrite_mg_l", NO2_PER_N),
    }
    chosen = next(item for item in weeks.options if item.id == weeks.chosen)
    found = []
    for event in readings:
        day = (event.at.date() - first).days
        for name, (what, limit, course, as_read) in limits.items():
            value = event.body.get(name)
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            fan = weeks.fans[course]
            low, *_, high = fan.bands[min(max(day, 0), len(fan.bands) - 1)]
            if value <= min(limit, high):
                continue
            over = value > limit
            found.append(
                Finding(
                    id="living.reading_over" if over else "living.reading_high",
                    severity=Severity.MISFIT if over else Severity.CONDITION,
                    about=f"{name} {event.at.date()}",
                    values={
                        **chosen.values,
                        "course": f"@option.{chosen.id}",
                        "day": day,
                        "what": what,
                        "value_mg_l": float(value),
                        "limit_mg_l": limit,
                        "read_mg_l": as_read * limit,
                        "low_mg_l": low,
                        "high_mg_l": high,
                    },
                    margin=limit - float(value),
                    margin_unit="mg/L",
                    remedies=_now(job, water, over=over),
                )
            )
    if not found:
        found.append(Finding(id="living.readings_not_used", severity=Severity.NOTE, values={"count": len(readings)}))
    return found


def _now(job: Job, water: WaterBudget, *, over: bool) -> tuple[Remedy, ...]:
    """What to do on a reading that is over a limit, or higher than expected: litres, feed, the next test."""
    choices = _choices(job, water)
    if not choices:
        change = Remedy(id="living.change_none")
    elif over:
        # For one change it is the un-ionised ammonia right after that counts, by which the waters are ranked.
        best = next(item.name for item in water.changes if item.name in {choice.water for choice in choices})
        change = Remedy(id="living.change_half_now", values={"litres_l": 0.5 * water.net_l, "water": best})
    else:
        change = Remedy(
            id="living.change_now", values={"litres_l": choices[1].share * water.net_l, "water": choices[1].water}
        )
    return change, Remedy(id="living.no_feed"), Remedy(id="living.test_tomorrow")
