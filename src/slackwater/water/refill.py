"""The refill of a job: its limits, the recipe that keeps them, what it will read, and a card for each barrel."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np

from slackwater.finding import Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.catalog import Salt as SaltRow
from slackwater.job.model import Job
from slackwater.water.composition import FloatArray, Water, ion_mg_l, mix, with_salt
from slackwater.water.dissolving import gypsum_minutes
from slackwater.water.gas import ROOM_CO2_ATM
from slackwater.water.notes import Notes
from slackwater.water.reading import band
from slackwater.water.recipe import (
    RATIO,
    Barrels,
    Limit,
    Recipe,
    Salt,
    Source,
    best_recipe,
    draws_of_recipe,
)
from slackwater.water.result import BarrelCard, BarrelFill, Expected, Reading, SaltDose
from slackwater.water.salts import MMOL_L_PER_DGH, molar_mass_g_mol, totals_per_mol
from slackwater.water.speciation import Speciation, conductivity_25c_us_cm, speciate, speciate_at_pco2
from slackwater.water.waters import Waters

USUAL_SALTS = ("gypsum", "epsom_salt")
"""What is ordered when the job names no salts; common practice, no source."""
SPARE_SALT = "potassium_bicarbonate"
"""Added to them where carbonate hardness cannot be reached otherwise."""
RECIPE_SALTS = frozenset(
    {
        "gypsum",
        "calcium_chloride_dihydrate",
        "epsom_salt",
        "magnesium_chloride_hexahydrate",
        "potassium_bicarbonate",
        "sodium_bicarbonate",
        "potassium_carbonate",
        "potassium_sulfate",
    }
)
"""Salts that a recipe may use; common salt is medicine here, nitrate and phosphate are fed later."""
ORDER_OF_ADDING = (
    "gypsum",
    "epsom_salt",
    "magnesium_chloride_hexahydrate",
    "calcium_chloride_dihydrate",
    "potassium_sulfate",
    "potassium_bicarbonate",
    "sodium_bicarbonate",
    "potassium_carbonate",
)
"""Slow ones first; carbonates last, into water in which the calcium is already spread, or they cloud it."""
GUARD = 0.1
"""Recipes aim so far inside a range, as a share of it: readings are not exact."""
USUAL_RATIO = (2.0, 5.0)
"""Calcium to magnesium by mol, around 3; common practice, no source."""
UNTOLD_PURITY = 0.9
"""Least purity of a salt of which nobody told it; from memory."""
PLENTY_G = 5000.0
USUAL_PRICE: Mapping[str, float] = {"permeate": 0.02, "tap": 0.01}
"""Water, waste and warming of a litre, in any money; enough to prefer old water where all else is equal."""
CARD_READINGS = ("temp_c", "hardness_dgh", "alkalinity_dkh", "conductivity_us_cm", "ph_aired")
INSTRUMENT: Mapping[str, float] = {
    "hardness_dgh": 0.5,
    "alkalinity_dkh": 0.5,
    "conductivity_us_cm": 10.0,
    "ph": 0.2,
    "ph_aired": 0.2,
    "temp_c": 0.5,
}
"""What a drop test or a meter cannot tell apart, each way; common practice, no source."""
OVER = {
    "hardness_dgh": ("hardness", "dgh", "dGH"),
    "alkalinity_dkh": ("alkalinity", "dkh", "dKH"),
    "nitrate_mg_l": ("nitrate", "mg_l", "mg/L"),
    "sodium_mg_l": ("sodium", "mg_l", "mg/L"),
    "potassium_mg_l": ("potassium", "mg_l", "mg/L"),
    "conductivity_us_cm": ("conductivity", "us_cm", "uS/cm"),
    RATIO: ("ratio", "ratio", ""),
}
"""Name in a finding's id, ending of its values, and the unit of its margin."""


@dataclass(frozen=True)
class Refill:
    """The recipe with what is drawn around it."""

    recipe: Recipe
    sources: tuple[Source, ...]
    salts: tuple[Salt, ...]
    draws: Water
    """The refilled tank."""
    new: Water | None
    """The new water alone, before it is warmed; None when all is old."""
    new_draws: Water | None

    @property
    def old_l(self) -> float:
        """Litres of old water that go back."""
        return float(self.recipe.litres.get("old", 0))

    @property
    def new_l(self) -> float:
        """Litres of all other waters."""
        return float(sum(self.recipe.litres.values())) - self.old_l


def limits_of(job: Job, catalog: Catalog, notes: Notes, *, with_salts: bool) -> list[Limit]:
    """What the refilled tank must keep: the agreed ranges, aimed at a little inside."""
    target = job.target
    nitrate = target.nitrate_high_mg_l
    if nitrate is None:
        row = catalog.limits["nitrate"]
        nitrate = row.target_high
        notes.assume("target.nitrate_high", f"{nitrate:g} mg/L", f"limits table: {row.source_kind}")
    found = [
        _inside("hardness_dgh", target.hardness_low_dgh, target.hardness_high_dgh),
        _inside("alkalinity_dkh", target.alkalinity_low_dkh, target.alkalinity_high_dkh),
        Limit("nitrate_mg_l", None, nitrate),
        Limit("sodium_mg_l", None, target.sodium_high_mg_l),
        Limit("potassium_mg_l", None, target.potassium_high_mg_l),
        Limit("conductivity_us_cm", None, target.conductivity_high_us_cm),
    ]
    low, high = target.calcium_per_magnesium_low, target.calcium_per_magnesium_high
    if low is None and high is None and with_salts:
        low, high = USUAL_RATIO
        notes.assume("target.calcium_per_magnesium_low", f"{low:g} to {high:g} by mol", "common practice, no source")
    found.append(Limit(RATIO, low, high))
    return [limit for limit in found if limit.low is not None or limit.high is not None]


def _inside(about: str, low: float | None, high: float | None) -> Limit:
    if low is None or high is None:
        return Limit(about, low, high)
    return Limit(about, low + GUARD * (high - low), high - GUARD * (high - low))


def _as_read(limit: Limit) -> Limit:
    """A limit as far out as its test can tell."""
    room = INSTRUMENT.get(limit.about, 0.0)
    low = None if limit.low is None else max(0.0, limit.low - room)
    return Limit(limit.about, low, None if limit.high is None else limit.high + room)


def salts_of(job: Job, catalog: Catalog, notes: Notes, *, spare: bool) -> tuple[tuple[Salt, ...], dict[str, float]]:
    """Salts that the recipe may use, and the least purity of each."""
    told = job.preparation.salts
    if told is None:
        notes.assume("preparation.salts", "gypsum and Epsom salt, ordered", "common practice, no source")
        names = (*USUAL_SALTS, SPARE_SALT) if spare else USUAL_SALTS
        rows = [(catalog.salts[name], PLENTY_G, catalog.salts[name].typical_purity) for name in names]
    else:
        rows = []
        for item in told:
            row = catalog.salts.get(item.salt)
            if row is None or row.formula is None:
                asked, suited = item.salt.lower().replace(" ", "_"), sorted(RECIPE_SALTS)
                close = difflib.get_close_matches(asked, suited, n=2, cutoff=0.5)
                notes.say(
                    "salt_unknown",
                    Severity.CONDITION,
                    about=item.salt,
                    salt=item.salt,
                    near=" or ".join(close or suited),
                )
                continue
            if row.id not in RECIPE_SALTS:
                notes.say("salt_not_for_recipe", Severity.NOTE, about=item.salt, salt=row.substance)
                continue
            if item.purity is None:
                notes.say("salt_purity_untold", Severity.NOTE, about=item.salt, salt=row.substance, low=UNTOLD_PURITY)
            grams = PLENTY_G if item.mass_kg is None else 1000 * item.mass_kg
            rows.append((row, grams, item.purity))
    salts: list[Salt] = []
    least: dict[str, float] = {}
    for row, grams, purity in rows:
        salts.append(_salt(row, grams, purity))
        least[row.id] = UNTOLD_PURITY if purity is None else min(1.0, max(0.8, 2 * purity - 1))
    return tuple(salts), least


def _salt(row: SaltRow, grams: float, purity: float | None) -> Salt:
    taken = purity if purity is not None else (1 + UNTOLD_PURITY) / 2
    return Salt(name=row.id, formula=row.formula or "", available_g=grams, purity=taken, price_per_g=0.002)


def refill_of(
    job: Job,
    catalog: Catalog,
    notes: Notes,
    waters: Waters,
    *,
    total_l: int,
    most_l: Mapping[str, float],
    barrels_l: Sequence[float],
    refresh_l: float,
    rng: np.random.Generator,
) -> Refill | None:
    """The recipe of the job; None where its waters do not fill the tank.

    Parameters
    ----------
    total_l : int
        Water of the finished tank [L].
    most_l : mapping
        What there is of each water [L].
    barrels_l : sequence of float
        Usable litres of each barrel on hand; where they do not hold the water, more are reckoned with.
    refresh_l : float
        Old water that is kept in a barrel for the boxes [L].
    """
    workshop = job.preparation.ro is not None and job.preparation.ro.place == "workshop"
    carried = {other.name for other in job.water.other if other.place == "workshop"} | (
        {"permeate"} if workshop else set()
    )
    price = dict(USUAL_PRICE) | {other.name: float(other.price_per_l or 0) for other in job.water.other}
    sources = tuple(
        Source(
            name=name,
            water=waters.central[name],
            available_l=most_l.get(name, 0.0),
            carried=name in carried,
            price_per_l=price.get(name, 0.0),
        )
        for name in sorted(waters.central, key=lambda name: (name != "old", name != "permeate", name != "tap", name))
        if floor(most_l.get(name, 0.0) + 1e-6) > 0
    )
    salts, least = salts_of(job, catalog, notes, spare=False)
    limits = limits_of(job, catalog, notes, with_salts=bool(salts))

    def solved(with_salts: Sequence[Salt], within: Sequence[Limit]) -> Recipe | None:
        held = Barrels(sizes_l=tuple(barrels_l), beside_l=refresh_l)

        def within_barrels(barrels: Barrels | None) -> Recipe | None:
            return best_recipe(
                sources,
                with_salts,
                total_l=total_l,
                limits=within,
                animals_from=waters.central["old"],
                barrels=barrels,
            )

        return within_barrels(held) or within_barrels(None)

    recipe = solved(salts, limits)
    if recipe is None:
        return None
    if job.preparation.salts is None and any(
        miss.about == "alkalinity_dkh" and miss.value < miss.limit for miss in recipe.missed
    ):
        salts, least = salts_of(job, catalog, notes, spare=True)
        recipe = solved(salts, limits) or recipe
    if recipe.missed:
        # Where not all can be kept, no water is poured away for a difference that no test can show.
        recipe = solved(salts, [_as_read(limit) for limit in limits]) or recipe
    _say_missed(job, notes, recipe, total_l)
    draws = draws_of_recipe(recipe, sources, salts, draws=waters.draws, rng=rng, purity_low=least)
    new = _new_alone(recipe, sources, salts)
    new_draws = None
    if new is not None:
        apart = replace(recipe, litres={name: value for name, value in recipe.litres.items() if name != "old"})
        new_draws = draws_of_recipe(apart, sources, salts, draws=waters.draws, rng=rng, purity_low=least)
    return Refill(recipe=recipe, sources=sources, salts=salts, draws=draws, new=new, new_draws=new_draws)


def _new_alone(recipe: Recipe, sources: Sequence[Source], salts: Sequence[Salt]) -> Water | None:
    parts = [
        (float(recipe.litres[source.name]), source.water)
        for source in sources
        if source.name != "old" and source.name in recipe.litres
    ]
    if not parts:
        return None
    total = sum(litres for litres, _ in parts)
    water = mix(parts)
    for salt in salts:
        grams = recipe.grams.get(salt.name, 0)
        if grams:
            mmol = 1000 * grams * salt.purity / molar_mass_g_mol(salt.formula) / total
            water = with_salt(water, formula=salt.formula, mmol_l=mmol)
    return water


def _permeate_for(*, value: float, limit: float, total_l: int) -> tuple[Remedy, ...]:
    """About how much permeate in place of other water would bring a value down to its limit."""
    if value <= limit:
        return ()
    return (Remedy(id="water.get_ro", values={"litres_l": total_l * (1 - limit / value)}),)


def _say_missed(job: Job, notes: Notes, recipe: Recipe, total_l: int) -> None:
    """Each limit that no recipe keeps, with how near it comes."""
    told_ratio = job.target.calcium_per_magnesium_low, job.target.calcium_per_magnesium_high
    agreed = {
        "hardness_dgh": (job.target.hardness_low_dgh, job.target.hardness_high_dgh),
        "alkalinity_dkh": (job.target.alkalinity_low_dkh, job.target.alkalinity_high_dkh),
    }
    for miss in recipe.missed:
        if miss.about == RATIO and told_ratio == (None, None):
            continue
        low, high = agreed.get(miss.about, (None, miss.limit))
        over = miss.value > miss.limit
        limit = high if over else low
        if limit is None:
            limit = miss.limit
        by = miss.value - limit if over else limit - miss.value
        # Inside what was agreed, or no farther out than a test can tell.
        if by <= INSTRUMENT.get(miss.about, 0.02 * limit):
            continue
        name, ending, unit = OVER[miss.about]
        remedies = (
            (Remedy(id="water.run_longer"),)
            if job.preparation.ro is not None
            else _permeate_for(value=miss.value, limit=limit, total_l=total_l)
        )
        if not over:
            remedies = (Remedy(id="water.get_salts"),)
        notes.miss(
            f"{name}_{'over' if over else 'under'}_target",
            Severity.CONDITION,
            margin=-by,
            unit=unit,
            remedies=remedies,
            about="",
            **{f"{'over' if over else 'under'}_{ending}": by, f"limit_{ending}": limit, f"value_{ending}": miss.value},
        )


def reading_of(water: Water, draws: Water) -> Reading:
    """What a water is predicted to read, with the bands of its draws."""
    found, aired = speciate(water), speciate_at_pco2(water, pco2_atm=ROOM_CO2_ATM)
    many, many_aired = speciate(draws), speciate_at_pco2(draws, pco2_atm=ROOM_CO2_ATM)
    values = _values(water, found, aired)
    spread = _values(draws, many, many_aired)
    return Reading(
        **{name: float(np.asarray(value)) for name, value in values.items()},
        bands={name: band(np.asarray(value)) for name, value in spread.items() if np.ndim(value)},
    )


def _values(water: Water, found: Speciation, aired: Speciation) -> dict[str, float | FloatArray]:
    return {
        "temp_c": water.temp_c,
        "ph": found.ph,
        "ph_aired": aired.ph,
        "co2_mg_l": found.co2_mg_l,
        "hardness_dgh": water.hardness_dgh,
        "alkalinity_dkh": water.alkalinity_dkh,
        "calcium_mg_l": ion_mg_l(water, "calcium_mmol_l"),
        "magnesium_mg_l": ion_mg_l(water, "magnesium_mmol_l"),
        "sodium_mg_l": ion_mg_l(water, "sodium_mmol_l"),
        "potassium_mg_l": ion_mg_l(water, "potassium_mmol_l"),
        "nitrate_mg_l": ion_mg_l(water, "nitrate_mmol_l"),
        "chloride_mg_l": ion_mg_l(water, "chloride_mmol_l"),
        "sulfate_mg_l": ion_mg_l(water, "sulfate_mmol_l"),
        "tan_mg_l": ion_mg_l(water, "ammonia_mmol_l"),
        "ammonia_n_mg_l": found.ammonia_n_mg_l,
        "conductivity_us_cm": conductivity_25c_us_cm(found.water),
        "si_calcite": aired.si_calcite,
    }


def expected(reading: Reading, names: Sequence[str]) -> tuple[Expected, ...]:
    """What to read at a barrel: go on within the band widened by the instrument, adjust as far again, else stop."""
    found = []
    for name in names:
        value = float(getattr(reading, name))
        low, high = reading.bands.get(name, (value, value))
        instrument = INSTRUMENT[name]
        low, high = min(low, value) - instrument, max(high, value) + instrument
        low, stop_low = max(low, 0.0), max(2 * low - value, 0.0)
        found.append(
            Expected(what=name, value=value, low=low, high=high, stop_low=stop_low, stop_high=2 * high - value)
        )
    return tuple(found)


def doses(refill: Refill, catalog: Catalog, *, litres: float, temp_c: float) -> tuple[SaltDose, ...]:
    """The salts of the whole new water in the order of adding, and what each raises in so many litres."""
    found = []
    for name in sorted(refill.recipe.grams, key=ORDER_OF_ADDING.index):
        salt = next(item for item in refill.salts if item.name == name)
        grams = refill.recipe.grams[name]
        mmol_l = 1000 * grams * salt.purity / molar_mass_g_mol(salt.formula) / litres
        given = totals_per_mol(salt.formula)
        parts = []
        if given["Ca"] + given["Mg"]:
            parts.append(f"GH by {mmol_l * (given['Ca'] + given['Mg']) / MMOL_L_PER_DGH:.1f} dGH")
        if given["alkalinity"]:
            parts.append(f"KH by {mmol_l * given['alkalinity'] / (2 * MMOL_L_PER_DGH):.1f} dKH")
        if given["K"]:
            parts.append(f"potassium by {mmol_l * given['K'] * 39.098:.1f} mg/L")
        found.append(
            SaltDose(
                salt=name,
                grams=grams,
                raises=", ".join(parts),
                minutes=_dissolving_min(name, grams / litres, refill.new, temp_c),
            )
        )
    return tuple(found)


def _dissolving_min(name: str, dose_g_l: float, new: Water | None, temp_c: float) -> float | None:
    if name != "gypsum" or new is None:
        return None
    minutes = gypsum_minutes(temp_c=temp_c, dose_g_l=dose_g_l)
    return None if minutes is None else minutes[2]


def cards(
    refill: Refill,
    fills: Sequence[BarrelFill],
    reading: Reading,
    catalog: Catalog,
    *,
    conditioner_g: float,
    temp_c: float,
) -> tuple[BarrelCard, ...]:
    """One card for each barrel of new water; grams are shared out whole, none lost."""
    new = [fill for fill in fills if fill.holds == "new"]
    total = refill.new_l
    if not new or total <= 0:
        return ()
    shares = [fill.litres / total for fill in new]
    names = [name for name in ("permeate", "tap") if name in refill.recipe.litres]
    names += [name for name in refill.recipe.litres if name not in ("old", "permeate", "tap")]
    per_barrel = {name: shared_out(grams, shares) for name, grams in refill.recipe.grams.items()}
    found = []
    for number, (fill, share) in enumerate(zip(new, shares, strict=True)):
        salts = tuple(
            dose.model_copy(update={"grams": per_barrel[dose.salt][number]})
            for dose in doses(refill, catalog, litres=total, temp_c=temp_c)
            if per_barrel[dose.salt][number] > 0
        )
        found.append(
            BarrelCard(
                container=fill.container,
                holds="new",
                number=number + 1,
                litres=fill.litres,
                parts=tuple((name, refill.recipe.litres[name] * share) for name in names),
                salts=salts,
                conditioner_g=conditioner_g * share,
                expected=expected(reading, CARD_READINGS),
                per_dgh_g=_per_dgh(refill, fill.litres),
                softer=_softer(refill, reading, fill.litres),
                per_dkh_g=fill.litres * BICARBONATE_G_PER_DKH_L,
            )
        )
    return tuple(found)


def old_cards(fills: Sequence[BarrelFill], reading: Reading) -> tuple[BarrelCard, ...]:
    """One card for each barrel of old water: what it should read while it waits."""
    return tuple(
        BarrelCard(
            container=fill.container,
            holds="old",
            number=number + 1,
            litres=fill.litres,
            parts=(("old water", fill.litres),),
            salts=(),
            conditioner_g=0.0,
            expected=expected(reading, CARD_READINGS[:4]),
            per_dgh_g=(),
            softer=None,
            per_dkh_g=0.0,
        )
        for number, fill in enumerate(fill for fill in fills if fill.holds == "old")
    )


def shared_out(whole: int, shares: Sequence[float]) -> list[int]:
    """Whole grams in proportion, the largest remainders rounded up, so that the sum stays.

    Examples
    --------
    >>> shared_out(10, [0.5, 0.3, 0.2])
    [5, 3, 2]
    """
    scale = whole / sum(shares)
    found = [floor(share * scale + 1e-9) for share in shares]
    by_rest = sorted(range(len(shares)), key=lambda item: found[item] - shares[item] * scale)
    for item in by_rest[: whole - sum(found)]:
        found[item] += 1
    return found


BICARBONATE_G_PER_DKH_L = 2 * MMOL_L_PER_DGH * molar_mass_g_mol("KHCO3") / 1000
"""Potassium hydrogen carbonate for a degree of carbonate hardness in a litre."""


def _softer(refill: Refill, reading: Reading, litres: float) -> tuple[str, float] | None:
    """The softest water of the job, and the litres of a barrel that it replaces to take one degree of GH off."""
    waters = {source.name: float(np.asarray(source.water.hardness_dgh)) for source in refill.sources}
    waters.pop("old", None)
    if not waters:
        return None
    name = min(waters, key=lambda item: waters[item])
    room = reading.hardness_dgh - waters[name]
    return (name, litres / room) if room > 1 else None


def _per_dgh(refill: Refill, litres: float) -> tuple[tuple[str, float], ...]:
    """Grams of each hardening salt on hand that lift a barrel by one degree."""
    found = []
    for salt in refill.salts:
        given = totals_per_mol(salt.formula)
        if given["Ca"] + given["Mg"]:
            per_mol = given["Ca"] + given["Mg"]
            found.append(
                (salt.name, MMOL_L_PER_DGH / per_mol * molar_mass_g_mol(salt.formula) / 1000 * litres / salt.purity)
            )
    return tuple(found)
