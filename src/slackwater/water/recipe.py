"""Which litres and which whole grams: an exact mixed-integer optimum on conserved totals, checked by speciation."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from slackwater.errors import BadInput
from slackwater.water.composition import FloatArray, Water, ion_mg_l, mix, with_salt
from slackwater.water.salts import molar_mass_g_mol
from slackwater.water.speciation import (
    LIMITING_CONDUCTIVITY,
    Speciation,
    conductivity_25c_us_cm,
    speciate,
)

CLOSE_ENOUGH_STEPS = 0.05
"""A twentieth of a step that animals bear is not worth carrying more for."""
ROUNDS = 5
"""Solved and speciated again at most so often."""
MISS_SLACK = 0.02
"""Tenths of a tenth of a limit: what rounding to whole litres and grams may cost."""
UNREADABLE = 0.5
"""In the same unit: a twentieth of a limit, where it is missed anyway."""
PROVEN_WITHIN = 1e-4
"""Relative gap at which an optimum counts as proven."""
LEAST_PRICE = 1e-4
"""A gram costs at least so much, so that no salt is used for nothing."""
SPARE_L = 1.0
"""Litres are whole, so a litre of slack in carrying is no difference."""


@dataclass(frozen=True)
class Source:
    """A water that may be mixed in.

    Attributes
    ----------
    name : str
    water : Water
        One water.
    available_l : float
        What there is of it [L].
    carried : bool
        Whether each litre is carried in.
    price_per_l : float
    """

    name: str
    water: Water
    available_l: float
    carried: bool = False
    price_per_l: float = 0.0


@dataclass(frozen=True)
class Salt:
    """A salt on hand; `purity` is the share of the salt in what is weighed."""

    name: str
    formula: str
    available_g: float
    purity: float = 1.0
    price_per_g: float = 0.0


@dataclass(frozen=True)
class Limit:
    """What the refilled tank must keep; None where nothing was agreed. `about` is a key of ``QUANTITIES``."""

    about: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Barrels:
    """Barrels on hand: each holds either the water that is kept apart or the mixture of all others.

    Attributes
    ----------
    sizes_l : tuple of float
        Usable litres of each.
    apart : str
        Name of the source that is kept in barrels of its own.
    beside_l : float
        More of that water that needs a barrel but is not mixed in [L].
    """

    sizes_l: tuple[float, ...]
    apart: str = "old"
    beside_l: float = 0.0


def _charge_conductivity(water: Water) -> float:
    """Conductivity of the totals as free ions at infinite dilution [uS/cm]."""
    limit = LIMITING_CONDUCTIVITY
    shares = {
        "ca": water.calcium_mmol_l,
        "mg": water.magnesium_mmol_l,
        "na": water.sodium_mmol_l,
        "k": water.potassium_mmol_l,
        "cl": water.chloride_mmol_l,
        "so4": water.sulfate_mmol_l,
        "no3": water.nitrate_mmol_l,
        "nh4": water.ammonia_mmol_l,
        "hco3": water.alkalinity_meq_l,
        "h2po4": water.phosphate_mmol_l,
    }
    return float(np.asarray(sum(limit[name] * amount for name, amount in shares.items())))


QUANTITIES: Mapping[str, Callable[[Water], float]] = {
    "hardness_dgh": lambda water: float(np.asarray(water.hardness_dgh)),
    "alkalinity_dkh": lambda water: float(np.asarray(water.alkalinity_dkh)),
    "nitrate_mg_l": lambda water: float(np.asarray(ion_mg_l(water, "nitrate_mmol_l"))),
    "sodium_mg_l": lambda water: float(np.asarray(ion_mg_l(water, "sodium_mmol_l"))),
    "potassium_mg_l": lambda water: float(np.asarray(ion_mg_l(water, "potassium_mmol_l"))),
    "temp_c": lambda water: float(np.asarray(water.temp_c)),
    "conductivity_us_cm": _charge_conductivity,
}
"""Everything that mixes in proportion; the conductivity is scaled to the speciated one between rounds."""
RATIO = "calcium_per_magnesium"
STEP_BORNE: Mapping[str, float] = {"hardness_dgh": 2.0, "alkalinity_dkh": 2.0}
"""A step that animals bear within half an hour; limits table of the catalog for hardness, common practice, no source."""
STEP_BORNE_CONDUCTIVITY = 0.25
"""The same of the conductivity, as a share of the old water's; from memory."""


@dataclass(frozen=True)
class Missed:
    """A limit that no recipe can keep: how far the nearest one stays off, in the limit's own unit."""

    about: str
    limit: float
    value: float
    by: float


@dataclass(frozen=True)
class Binding:
    """A limit that shapes the recipe: what one unit more room would gain."""

    about: str
    limit: float
    room: float
    """How far it was relaxed to see the gain."""
    fewer_steps: float
    """Steps for the animals that would be saved."""


@dataclass(frozen=True)
class Recipe:
    """The best recipe.

    Attributes
    ----------
    litres, grams : mapping
        By name; whole numbers; what is not used is left out.
    water : Water
        The mixture, closed to the air.
    result : Speciation
        The same, speciated.
    steps : float
        The step for the animals in units that they bear in half an hour, summed over hardness, alkalinity and
        conductivity.
    missed : tuple of Missed
    binding : tuple of Binding
    rounds : int
        How often it was solved and speciated.
    proven : bool
        Whether the solver proved each optimum.
    """

    litres: Mapping[str, int]
    grams: Mapping[str, int]
    water: Water
    result: Speciation
    steps: float
    missed: tuple[Missed, ...]
    binding: tuple[Binding, ...]
    rounds: int
    proven: bool


@dataclass(frozen=True)
class _Row:
    """One limit as a linear row over litres and grams: coefficients, bounds, and the unit that a miss counts in."""

    about: str
    coefficients: FloatArray
    low: float
    high: float
    unit: float
    shown: float | None = None
    """The limit as a user knows it, where the row's bounds are another form of it."""


class _Problem:
    """Litres, grams, misses and steps as one vector; solved in passes, each keeping what the last one reached."""

    def __init__(
        self,
        sources: Sequence[Source],
        salts: Sequence[Salt],
        *,
        total_l: int,
        limits: Sequence[Limit],
        animals_from: Water,
        conductivity_factor: float,
        barrels: Barrels | None,
    ) -> None:
        self.sources, self.salts, self.total_l = sources, salts, total_l
        self.barrels = barrels
        self.mixed = len(sources) + len(salts)
        self.factor = conductivity_factor
        self.rows = [row for limit in limits for row in self._rows_of(limit)]
        self.steps = self._steps_from(animals_from)

    def _coefficients(self, about: str) -> FloatArray:
        value = QUANTITIES[about]
        scale = self.factor if about == "conductivity_us_cm" else 1.0
        per_litre = [scale * value(source.water) / self.total_l for source in self.sources]
        per_gram = []
        for salt in self.salts:
            one = with_salt(
                Water(temp_c=0.0), formula=salt.formula, mmol_l=1000 * salt.purity / molar_mass_g_mol(salt.formula)
            )
            per_gram.append(scale * value(one) / self.total_l)
        return np.array(per_litre + per_gram)

    def _rows_of(self, limit: Limit) -> list[_Row]:
        if limit.about == RATIO:
            return self._ratio_rows(limit)
        low = -np.inf if limit.low is None else limit.low
        high = np.inf if limit.high is None else limit.high
        # A miss counts in tenths of the limit, so that degrees and milligrams can be added up.
        unit = 0.1 * max(abs(bound) for bound in (limit.low, limit.high, 1.0) if bound is not None)
        return [_Row(limit.about, self._coefficients(limit.about), low, high, unit)]

    def _ratio_rows(self, limit: Limit) -> list[_Row]:
        """Calcium less r times magnesium on the right side of zero [mmol/L]."""

        def part(field: str) -> FloatArray:
            per_litre = [getattr(source.water, field) / self.total_l for source in self.sources]
            per_gram = [
                getattr(
                    with_salt(
                        Water(), formula=salt.formula, mmol_l=1000 * salt.purity / molar_mass_g_mol(salt.formula)
                    ),
                    field,
                )
                / self.total_l
                for salt in self.salts
            ]
            return np.array(per_litre + per_gram)

        calcium, magnesium = part("calcium_mmol_l"), part("magnesium_mmol_l")
        rows = []
        if limit.low is not None:
            rows.append(_Row(RATIO, calcium - limit.low * magnesium, 0.0, np.inf, 0.1, limit.low))
        if limit.high is not None:
            rows.append(_Row(RATIO, calcium - limit.high * magnesium, -np.inf, 0.0, 0.1, limit.high))
        return rows

    def _steps_from(self, old: Water) -> list[tuple[FloatArray, float, float]]:
        """Coefficients, the animals' own value, and the step they bear; for each quantity that counts."""
        found = [(self._coefficients(about), QUANTITIES[about](old), borne) for about, borne in STEP_BORNE.items()]
        own = self.factor * _charge_conductivity(old)
        if own > 0:
            found.append((self._coefficients("conductivity_us_cm"), own, STEP_BORNE_CONDUCTIVITY * own))
        return found

    def solve(
        self, *, whole: bool, relaxed: Mapping[int, float] | None = None
    ) -> tuple[FloatArray, float, bool] | None:
        """Amounts, steps and whether proven; with `relaxed` room on single rows. None where the litres do not fill."""
        rows, steps = self.rows, self.steps
        sizes = np.array(self.barrels.sizes_l if self.barrels is not None else ())
        misses, moves = self.mixed, self.mixed + len(rows)
        holds = moves + len(steps)
        size = holds + sizes.size
        upper = np.full(size, np.inf)
        upper[holds:] = 1
        upper[: len(self.sources)] = [np.floor(source.available_l + 1e-6) for source in self.sources]
        upper[len(self.sources) : self.mixed] = [np.floor(salt.available_g + 1e-6) for salt in self.salts]
        matrix, low, high = [], [], []

        def add(row: FloatArray, least: float, most: float) -> None:
            matrix.append(row)
            low.append(least)
            high.append(most)

        fill = np.zeros(size)
        fill[: len(self.sources)] = 1
        add(fill, self.total_l, self.total_l)
        for number, limit in enumerate(rows):
            room = (relaxed or {}).get(number, 0.0)
            for sign, bound in ((1.0, limit.high), (-1.0, -limit.low)):
                if np.isfinite(bound):
                    row = np.zeros(size)
                    row[: self.mixed] = sign * limit.coefficients
                    row[misses + number] = -limit.unit
                    add(row, -np.inf, bound + room)
        for number, (coefficients, own, borne) in enumerate(steps):
            for sign in (1.0, -1.0):
                row = np.zeros(size)
                row[: self.mixed] = sign * coefficients / borne
                row[moves + number] = -1
                add(row, -np.inf, sign * own / borne)
        if self.barrels is not None:
            # A barrel is counted 1 when it holds the mixture, 0 when it holds what is kept apart.
            apart = np.array([float(source.name == self.barrels.apart) for source in self.sources])
            for kept, sign in ((1 - apart, -1.0), (apart, 1.0)):
                row = np.zeros(size)
                row[: len(self.sources)] = kept
                row[holds:] = sign * sizes
                room = 0.0 if sign < 0 else float(sizes.sum()) - self.barrels.beside_l
                add(row, -np.inf, room)
        miss, step = np.zeros(size), np.zeros(size)
        miss[misses:moves], step[moves:holds] = 1, 1
        carry, cost = np.zeros(size), np.zeros(size)
        carry[: len(self.sources)] = [float(source.carried) for source in self.sources]
        cost[: len(self.sources)] = [source.price_per_l for source in self.sources]
        cost[len(self.sources) : self.mixed] = [salt.price_per_g + LEAST_PRICE for salt in self.salts]

        most = upper.copy()

        def optimum(goal: FloatArray, integral: bool) -> tuple[FloatArray, float, bool] | None:
            kinds = np.zeros(size, dtype=np.int64)
            kinds[: self.mixed] = integral
            kinds[holds:] = integral
            found = milp(
                goal,
                constraints=LinearConstraint(np.array(matrix), np.array(low), np.array(high)),
                bounds=Bounds(np.zeros(size), most),
                integrality=kinds,
                options={"mip_rel_gap": PROVEN_WITHIN, "time_limit": 20.0},
            )
            return None if found.x is None else (np.asarray(found.x), float(found.fun), found.status == 0)

        def in_turn(passes: Sequence[tuple[FloatArray, bool, float]]) -> tuple[FloatArray, bool] | None:
            proven, answer = True, np.zeros(size)
            for goal, integral, slack in passes:
                best = optimum(goal, integral)
                if best is None:
                    return None
                answer, reached, sure = best
                proven &= sure
                add(goal, -np.inf, reached + slack + 1e-7)
                if goal is miss:
                    # A limit that can be kept is kept; of one that cannot, no test tells a twentieth apart.
                    out = answer[misses:moves] > MISS_SLACK
                    high[-1] += UNREADABLE * float(np.sum(out))
                    most[misses:moves] = np.where(out, answer[misses:moves] + UNREADABLE, MISS_SLACK)
            return answer, proven

        # First what is possible at all, were litres and grams divisible; then whole ones as near to that as can be.
        ideal: list[tuple[FloatArray, bool, float]] = [(miss, False, MISS_SLACK), (step, False, CLOSE_ENOUGH_STEPS)]
        last: list[tuple[FloatArray, bool, float]] = [(carry, True, SPARE_L)] if carry.any() else []
        last.append((cost, True, 0.0))
        limits = len(matrix)
        done = in_turn(ideal)
        if done is None:
            return None
        if whole:
            ended = in_turn(last)
            if ended is None:
                # A gram or a litre is a large step in so little water: then the best of the whole ones.
                del matrix[limits:], low[limits:], high[limits:]
                most[:] = upper
                ended = in_turn([(miss, True, 0.0), (step, True, 0.0), *last])
            if ended is None:
                return None
            done = ended[0], done[1] and ended[1]
            done[0][: self.mixed] = np.round(done[0][: self.mixed])
        return done[0], float(step @ done[0]), done[1]


def _mixture(sources: Sequence[Source], salts: Sequence[Salt], amounts: FloatArray, total_l: int) -> Water:
    water = mix([(float(litres), source.water) for litres, source in zip(amounts, sources, strict=False)])
    for grams, salt in zip(amounts[len(sources) :], salts, strict=False):
        if grams > 0:
            mmol = 1000 * float(grams) * salt.purity / molar_mass_g_mol(salt.formula)
            water = with_salt(water, formula=salt.formula, mmol_l=mmol / total_l)
    return water


def best_recipe(
    sources: Sequence[Source],
    salts: Sequence[Salt],
    *,
    total_l: int,
    limits: Sequence[Limit],
    animals_from: Water,
    barrels: Barrels | None = None,
) -> Recipe | None:
    """The recipe with the least step for the animals, then the least carrying, then the least cost.

    Parameters
    ----------
    sources, salts : sequences
        What is on hand.
    total_l : int
        Litres of the mixture, all sources together.
    limits : sequence of Limit
        What it must keep; where not all can be kept, the smallest sum of misses is taken first, each counted in tenths
        of its limit, and reported.
    animals_from : Water
        The water that the animals are in.
    barrels : Barrels or None
        What the water must fit into; None: as many as it takes.

    Returns
    -------
    Recipe or None
        None if the sources together do not fill the litres, or the barrels do not hold them.

    Raises
    ------
    BadInput
        If a limit is about something unknown, or a salt is not one of ordinary ions.

    Notes
    -----
    Mixed-integer programme (HiGHS). The least misses and the least step are those of divisible litres and grams; among
    whole ones within ``CLOSE_ENOUGH_STEPS`` of that, the least carrying and then the least cost are proven optima.
    Conductivity is not quite additive: its factor is taken from the speciated mixture, and solved again until the
    speciated result keeps its limit too.
    """
    for limit in limits:
        if limit.about not in QUANTITIES and limit.about != RATIO:
            raise BadInput(f'"{limit.about}" is no quantity of a recipe; known are {", ".join(QUANTITIES)}, {RATIO}')
    if sum(np.floor(source.available_l + 1e-6) for source in sources) < total_l:
        return None
    if total_l < 1:
        raise BadInput(f"total_l is {total_l}, expected 1 or more")
    factor = 0.92
    for rounds in range(1, ROUNDS + 1):
        problem = _Problem(
            sources,
            salts,
            total_l=total_l,
            limits=limits,
            animals_from=animals_from,
            conductivity_factor=factor,
            barrels=barrels,
        )
        solved = problem.solve(whole=True)
        if solved is None:
            return None
        amounts, steps, proven = solved
        water = _mixture(sources, salts, amounts, total_l)
        real = float(np.asarray(conductivity_25c_us_cm(water)))
        lone = _charge_conductivity(water)
        new = real / lone if lone > 0 else factor
        kept = all(
            limit.about != "conductivity_us_cm" or limit.high is None or real <= limit.high * 1.0005 for limit in limits
        )
        settled = abs(new / factor - 1) < 2e-3
        factor = new
        if settled and (kept or rounds > 1):
            break
    return Recipe(
        litres=_named(sources, amounts),
        grams=_named(salts, amounts[len(sources) :]),
        water=water,
        result=speciate(water),
        steps=steps,
        missed=_missed(limits, water, real),
        binding=_binding(problem),
        rounds=rounds,
        proven=proven,
    )


def _named(things: Sequence[Source] | Sequence[Salt], amounts: FloatArray) -> dict[str, int]:
    names = [thing.name for thing in things]
    return {name: round(amount) for name, amount in zip(names, amounts, strict=False) if round(amount) > 0}


def value_of(about: str, water: Water, conductivity_us_cm: float) -> float:
    """What a limit is held against, of a finished mixture."""
    if about == "conductivity_us_cm":
        return conductivity_us_cm
    if about == RATIO:
        magnesium = float(np.asarray(water.magnesium_mmol_l))
        return float(np.asarray(water.calcium_mmol_l)) / magnesium if magnesium > 0 else np.inf
    return QUANTITIES[about](water)


def _missed(limits: Sequence[Limit], water: Water, conductivity_us_cm: float) -> tuple[Missed, ...]:
    found = []
    for limit in limits:
        value = value_of(limit.about, water, conductivity_us_cm)
        for bound, by in ((limit.high, value - (limit.high or 0)), (limit.low, (limit.low or 0) - value)):
            # What whole grams and litres cost is no miss.
            if bound is not None and by > 2 * MISS_SLACK * 0.1 * max(abs(bound), 1.0):
                found.append(Missed(limit.about, bound, value, by))
    return tuple(found)


def _binding(problem: _Problem) -> tuple[Binding, ...]:
    """Limits that, given a tenth more room, would spare the animals some of the step; without whole numbers."""
    base = problem.solve(whole=False)
    if base is None:
        return ()
    found = []
    for number, row in enumerate(problem.rows):
        freed = problem.solve(whole=False, relaxed={number: row.unit})
        if freed is not None and base[1] - freed[1] > 1e-3:
            bound = row.high if np.isfinite(row.high) else row.low
            if np.isfinite(row.high) and np.isfinite(row.low):
                value = float(row.coefficients @ base[0][: problem.mixed])
                bound = row.high if abs(value - row.high) < abs(value - row.low) else row.low
            shown = float(bound) if row.shown is None else row.shown
            found.append(Binding(row.about, shown, row.unit, base[1] - freed[1]))
    return tuple(sorted(found, key=lambda item: -item.fewer_steps))


def draws_of_recipe(
    recipe: Recipe,
    sources: Sequence[Source],
    salts: Sequence[Salt],
    *,
    draws: Mapping[str, Water],
    rng: np.random.Generator,
    purity_low: Mapping[str, float],
) -> Water:
    """The mixture for every draw of its uncertain parts: readings, litres to 2 %, grams to 0.5 g, purity of salts.

    Parameters
    ----------
    draws : mapping
        For each source's name, arrays of as many waters as every other.
    purity_low : mapping
        Least purity of each salt; drawn evenly up to 1.
    """
    number = next(np.size(water.alkalinity_meq_l) for water in draws.values())
    parts = []
    total: FloatArray = np.zeros(number)
    for source in sources:
        if source.name in recipe.litres:
            litres = recipe.litres[source.name] * (1 + rng.uniform(-0.02, 0.02, number))
            parts.append((litres, draws[source.name]))
            total = total + litres
    water = Water(
        **{
            name: sum((litres * getattr(part, name) for litres, part in parts), np.zeros(number)) / total
            for name in Water.__dataclass_fields__
        }
    )
    for salt in salts:
        if salt.name in recipe.grams:
            grams = np.maximum(recipe.grams[salt.name] + rng.uniform(-0.5, 0.5, number), 0)
            pure = rng.uniform(purity_low[salt.name], 1.0, number)
            water = with_salt(
                water, formula=salt.formula, mmol_l=1000 * grams * pure / molar_mass_g_mol(salt.formula) / total
            )
    return water
