"""The planting stage: the job's plants into zones and checked, or a proposal where it names none or too few."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil, floor

import numpy as np

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog, Plant
from slackwater.job.model import Job, Planting
from slackwater.layout.result import BedResult, LayoutResult
from slackwater.planting.choose import Area, Asked, Care, Choice, Pair, Sort, choose, spares_of, spent_cents
from slackwater.planting.ground import READING_ERROR, LightMap, ground_of, light_of_reading
from slackwater.planting.growth import Stand, growth_of
from slackwater.planting.lists import country_at, may_be_proposed
from slackwater.planting.needs import Fit, Tank, fit, positions, shortfall
from slackwater.planting.order import buckets_of
from slackwater.planting.result import (
    LightSource,
    Place,
    Placed,
    PlantingResult,
    Reason,
    Ring,
    Substitute,
    Unplaced,
    Zone,
)
from slackwater.planting.zones import zones_of
from slackwater.stage import Stage
from slackwater.tank.result import TankShape

WANTED: Mapping[Place, float] = {
    "carpet": 0.65,
    "foreground": 0.65,
    "middle": 0.65,
    "background": 0.75,
    "wood": 0.5,
    "stone": 0.3,
    "surface": 0.05,
}
"""Share of a zone that a full planting takes up on the first day; common practice, no source."""
MOST: Mapping[Place, float] = {"surface": 0.20, "wood": 2.0, "stone": 2.0}
"""Share that is planted at most, 1 where it is not named: what floats leaves light for the rest, and leaves of epiphytes
reach over what they hold on to. Common practice, no source."""
DENSE, TOO_MANY, CROWDED = 1.25, 2.0, 1.5
"""Units that cover more of all the bed than the first are planted closer than usual, more than the second find no room;
the third is for one zone. Common practice, no source."""
FAST = frozenset({"fast", "very fast"})
FAST_SHARE = 0.30
"""Fast growers at the start, as a share of what is planted, where the job does not say; common practice, no source."""
MOST_SPECIES, MOST_PER_ZONE = 10, 2
"""Of a proposal where the job does not say: more than these read as a collection; common practice, no source."""
GROUP_PORTIONS, GROUP_SHARE = 8, 0.25
"""A group has so many portions, and so much of what its zone wants; common practice, no source."""
TOO_FEW = 0.4
"""Of the planting that is usual, less than this leaves the bed open to algae; common practice, no source."""
ARM_M = 0.6
"""How far a hand reaches from a rim; common practice, no source."""
SEED_STREAM = 17
TASTE = 8
"""Marks that a seed adds at most, so that proposals of several seeds differ."""
FALLS_SHORT = 0.05
"""Fast growers that lack less than this share of the planting are not told."""
NEAR_ENOUGH = 0.05
"""Which of two zones takes a pot more decides little: the stated plants are placed to within this share of the best."""
FILLS = 0.6
"""Of the box round a piece, what is seen of it from above; common practice, no source."""
BRANCHES = 4.0
"""Branching wood shows so many times the side of the cube of its volume; common practice, no source."""
MOST_NODES = 400
"""Branches of the search for a choice; measured in `bench/planting.py`."""
OnProgress = Callable[[str], None]


@dataclass(frozen=True)
class Known:
    """What is told of the light: a map, or what stands for one."""

    map: LightMap | None
    source: LightSource


def planting_lacks(job: Job) -> tuple[str, ...]:
    """Facts without which nothing can be planted; the plants themselves can be proposed."""
    return tuple(name for name, known in (("bed.shape", job.bed.shape), ("bed.soil", job.bed.soil)) if known is None)


def assess_planting(
    job: Job,
    catalog: Catalog,
    shape: TankShape,
    bed: BedResult,
    *,
    layout: LayoutResult | None = None,
    light: LightMap | None = None,
    propose: bool = True,
    on_progress: OnProgress = lambda _: None,
) -> Stage[PlantingResult]:
    """Zones of the job's bed, what is planted in each, and what speaks against it.

    Parameters
    ----------
    job, catalog
    shape : TankShape
    bed : BedResult
        As laid, where there is a layout.
    layout : LayoutResult or None
        Where stones and wood stand; None: their area is estimated from their masses.
    light : LightMap or None
        None: the job's reading stands for it, or nothing is known of the light.
    propose : bool
        Whether to search for what the job does not name.

    Returns
    -------
    Stage of PlantingResult
    """
    sides = job.tank.public_sides or ("front",)
    ground = ground_of(bed, shape, public_sides=sides, layout=layout)
    assumed = []
    if not job.tank.public_sides:
        assumed.append(Assumption(field="tank.public_sides", value="front", source="common practice, no source"))
    reading = None if job.light is None else job.light.reading_umol_m2_s
    known = Known(map=light, source="map") if light is not None else Known(map=None, source="unknown")
    if light is None and reading is not None:
        known = Known(map=light_of_reading(ground, reading), source="reading")
        assumed.append(
            Assumption(
                field="light",
                value=f"{reading:.0f} umol/(m2 s) all over the bed, give or take {100 * READING_ERROR:.0f} %",
                source="the reading in the middle of the bottom; its error is common practice, no source",
            )
        )
    seen = (
        None
        if layout is not None
        else {"wood": _seen_m2(job, catalog, "wood"), "stone": _seen_m2(job, catalog, "stone")}
    )
    zones = zones_of(ground, known.map, seen_m2=seen)  # type: ignore[arg-type]
    country = country_at(job)
    if country is None:
        assumed.append(
            Assumption(
                field="site.time_zone",
                value="the lists of regulated species of every country",
                source="no list of the site's own country is in the catalog",
            )
        )
    work = _Work(job, catalog, zones, Tank(temp_c=job.target.temp_c, co2=job.co2 is not None), country, known)
    made = work.result(shape.corners_m, sides, propose=propose, on_progress=on_progress)
    return Stage(
        result=made,
        figures=_figures(made),
        findings=tuple(work.findings) + _zone_findings(made, work),
        assumed=tuple(assumed),
    )


def planted(job: Job, found: PlantingResult) -> Job:
    """The job with what is planted: proposals and substitutes in the place of what it leaves open."""
    if found.source == "proposed":
        counts: dict[str, int] = {}
        for item in found.placed:
            counts[item.plant] = counts.get(item.plant, 0) + item.units
        plants = tuple(Planting(plant=name, units=units) for name, units in counts.items())
        return job.model_copy(update={"plants": plants}) if plants else job
    if not found.substitutes:
        return job
    by = {item.plant: item.by for item in found.substitutes}
    return job.model_copy(
        update={
            "plants": tuple(
                item.model_copy(update={"plant": by[item.plant], "undeliverable": False, "unit_price": None})
                if item.plant in by and item.undeliverable
                else item
                for item in job.plants or ()
            )
        }
    )


def _seen_m2(job: Job, catalog: Catalog, kind: str) -> float:
    """Area from above of pieces that stand nowhere yet: of their size where it was taken, else of the cube of their volume."""
    pieces = [
        *(
            (stone.material, mass, stone.sizes[at : at + 1])
            for stone in job.stones or ()
            for at, mass in enumerate(stone.pieces_kg)
        ),
    ]
    if kind == "wood":
        pieces = [(wood.material, wood.mass_kg, () if wood.size is None else (wood.size,)) for wood in job.wood or ()]
    total = 0.0
    for material, mass, sizes in pieces:
        row = catalog.materials.get(material)
        if sizes:
            total += FILLS * sizes[0].length_m * sizes[0].width_m
        elif row is not None:
            total += (BRANCHES if kind == "wood" else 1.0) * (mass / row.solid_density_kg_per_l / 1000) ** (2 / 3)
    return total


class _Work:
    """One job on its way to a result; gathers findings."""

    def __init__(
        self, job: Job, catalog: Catalog, zones: tuple[Zone, ...], tank: Tank, country: str | None, known: Known
    ) -> None:
        self.job, self.catalog, self.zones, self.tank, self.country, self.known = (
            job,
            catalog,
            zones,
            tank,
            country,
            known,
        )
        self.by_number = {zone.number: zone for zone in zones}
        self.findings: list[Finding] = []
        self.unavailable = self.named_unavailable()
        self.fits: dict[tuple[str, int], Fit] = {}

    def fit(self, plant: str, zone: int) -> Fit:
        key = plant, zone
        if key not in self.fits:
            self.fits[key] = fit(self.catalog.plants[plant], self.by_number[zone], self.tank)
        return self.fits[key]

    # ------------------------------------------------------------ the whole

    def result(
        self, corners_m: Ring, public_sides: tuple[str, ...], *, propose: bool, on_progress: OnProgress
    ) -> PlantingResult:
        named = self.job.plants is not None
        substitutes = self.substitutes()
        stated = self.stated(substitutes)
        on_progress("placing the plants")
        choice, unplaced = self.place(stated)
        placed = self.placed(choice)
        proposal = Choice()
        cover = sum(item.cover_m2 for item in placed if self.by_number[item.zone].place != "surface")
        wanted = sum(WANTED[zone.place] * zone.area_m2 for zone in self.zones if zone.soil_m is not None)
        few = cover < TOO_FEW * wanted
        if propose and self.zones and (not named or few):
            on_progress("choosing plants")
            asked = self.asked_of(choice)
            proposal = choose(asked, care=Care(nodes=MOST_NODES))
            self.tell_proposal(asked, proposal, named=named)
        extra = self.placed(proposal)
        source = "given" if named else "proposed"
        whole = placed if named else extra
        taken = choice if named else proposal
        growth = growth_of(
            self.stands(whole), co2_mg_l=None if self.job.co2 is None else self.job.co2.set_point_mg_l or 20.0
        )
        price = ""
        if named and extra:
            price = self.priced(proposal)
        if named and few and not extra:
            self.findings.append(
                Finding(
                    id="planting.bare",
                    severity=Severity.NOTE,
                    values={"share_pct": round(100 * cover / wanted) if wanted else 0},
                )
            )
        self.tell_unplaced(unplaced)
        self.tell_crowded(choice)
        return PlantingResult(
            source=source,  # type: ignore[arg-type]
            corners_m=corners_m,
            public_sides=public_sides,
            zones=self.zones,
            placed=whole,
            unplaced=unplaced,
            suggested=extra if named else (),
            suggested_price=price,
            substitutes=substitutes,
            buckets=buckets_of(self.zones, whole),
            growth=growth,
            light=self.known.source,
            country=self.country,
            proven=taken.proven and proposal.proven,
            gap=round(max(taken.gap, proposal.gap), 4),
            fast_share=_fast_share(whole, self.catalog),
        )

    # ------------------------------------------------------------ what the job names

    def named_unavailable(self) -> frozenset[str]:
        """Rows of the plants that are named as not to be had, by any of their names."""
        found = set()
        for name in self.job.planting.unavailable:
            row = self.catalog.id_of(name, "plants")
            if row is not None:
                found.add(row)
                continue
            near = ", ".join(self.catalog.plants[one].common_name for one in self.catalog.near(name, "plants"))
            self.findings.append(
                Finding(
                    id="planting.unavailable_unknown",
                    severity=Severity.NOTE,
                    about=name,
                    values={"name": name, "near": near or "none close"},
                )
            )
        return frozenset(found)

    def substitutes(self) -> tuple[Substitute, ...]:
        """For each plant that cannot be had and may be replaced, the likest one that can be had and is on no list."""
        found = []
        named = {item.plant for item in self.job.plants or ()}
        for item in self.job.plants or ():
            plant = self.catalog.plants.get(item.plant)
            if plant is None or not (item.undeliverable and item.substitute_allowed):
                continue
            others = [
                row
                for row in self.catalog.plants.values()
                if row.id not in named and self.obtainable(row) and set(positions(row)) & set(positions(plant))
            ]
            others = [row for row in others if any(self.fit(row.id, zone.number).stands for zone in self.zones)]
            if not others:
                continue
            by = min(others, key=lambda row, plant=plant: (unlike(plant, row), row.id))  # type: ignore[misc]
            units = max(1, round(item.units * plant.cover_cm2_per_unit_at_planting / by.cover_cm2_per_unit_at_planting))
            found.append(Substitute(plant=item.plant, by=by.id, units=item.units))
            self.findings.append(
                Finding(
                    id="planting.substitute",
                    severity=Severity.CONDITION,
                    about=item.plant,
                    values={"plant": plant.common_name, "by": by.common_name, "units": item.units, "same_area": units},
                )
            )
        return tuple(found)

    def obtainable(self, plant: Plant) -> bool:
        """Whether a plant may be proposed: on no list, and not among those that cannot be had."""
        cannot = {item.plant for item in self.job.plants or () if item.undeliverable}
        return plant.id not in cannot | self.unavailable and may_be_proposed(plant, self.catalog, self.country)

    def stated(self, substitutes: Sequence[Substitute]) -> dict[str, int]:
        """Units of each plant that the job names and that can be had, substitutes in their stead."""
        by = {item.plant: item.by for item in substitutes}
        counts: dict[str, int] = {}
        for item in self.job.plants or ():
            name = by.get(item.plant, item.plant) if item.undeliverable else item.plant
            if name not in self.catalog.plants or not item.units or (item.undeliverable and item.plant not in by):
                continue
            counts[name] = counts.get(name, 0) + item.units
        return counts

    def place(self, stated: Mapping[str, int]) -> tuple[Choice, tuple[Unplaced, ...]]:
        """The stated units over the zones that they fit; those that fit none, with the nearest."""
        pairs, unplaced = [], []
        for name, units in stated.items():
            fits = {zone.number: self.fit(name, zone.number) for zone in self.zones}
            stands = {number: found for number, found in fits.items() if found.stands}
            pairs += [Pair(plant=name, zone=number, marks=found.marks) for number, found in stands.items()]
            if not stands:
                nearest = min(fits, key=lambda number, fits=fits: (shortfall(fits[number]), number), default=None)  # type: ignore[misc]
                unplaced.append(
                    Unplaced(
                        plant=name,
                        units=units,
                        nearest=nearest,
                        reasons=fits[nearest].reasons if nearest is not None else (),
                    )
                )
        asked = Asked(
            areas=self.areas({}),
            sorts={
                name: replace(self.sort(name), stated=units, price_cents=0, spares=False)
                for name, units in stated.items()
                if any(pair.plant == name for pair in pairs)
            },
            pairs=pairs,
        )
        return choose(asked, care=Care(nodes=MOST_NODES, gap=NEAR_ENOUGH)), tuple(unplaced)

    # ------------------------------------------------------------ a proposal

    def areas(self, covered: Mapping[int, int]) -> dict[int, Area]:
        found = {}
        for zone in self.zones:
            whole = 1e4 * zone.area_m2
            taken = covered.get(zone.number, 0)
            found[zone.number] = Area(
                wanted_cm2=max(0, round(WANTED[zone.place] * whole) - taken),
                most_cm2=max(0, floor(MOST.get(zone.place, 1.0) * whole) - taken),
            )
        return found

    def sort(self, name: str) -> Sort:
        plant = self.catalog.plants[name]
        told = [item.unit_price for item in self.job.plants or () if item.plant == name and item.unit_price is not None]
        price = told[0] if told else Decimal(str(self.catalog.prices[plant.price_item].typical_cr))
        return Sort(
            cover_cm2=max(1, round(plant.cover_cm2_per_unit_at_planting)),
            price_cents=int((100 * price).to_integral_value()),
            fast=plant.growth_rate in FAST,
            spares=plant.position == "carpet",
        )

    def asked_of(self, before: Choice) -> Asked:
        """The question of what to plant beside what is stated already."""
        covered: dict[int, int] = {}
        for (plant, number), units in before.units.items():
            covered[number] = covered.get(number, 0) + units * self.sort(plant).cover_cm2
        areas = self.areas(covered)
        rng = np.random.default_rng((self.job.seed, SEED_STREAM))
        pairs = []
        names = [row.id for row in sorted(self.catalog.plants.values(), key=lambda row: row.id) if self.obtainable(row)]
        for name in names:
            for zone in self.zones:
                taste = int(rng.integers(0, TASTE + 1))
                found = self.fit(name, zone.number)
                if not found.stands or areas[zone.number].wanted_cm2 <= 0:
                    continue
                pairs.append(
                    Pair(
                        plant=name,
                        zone=zone.number,
                        marks=min(100, found.marks + taste),
                        least=self.least(name, areas[zone.number]),
                    )
                )
        used = {pair.plant for pair in pairs}
        wish = self.job.planting
        spent = sum(
            self.sort(plant).price_cents * (units + spares_of(self.sort(plant), units))
            for plant, units in _by_plant(before.units).items()
        )
        budget = None if wish.budget is None else max(0, int(100 * wish.budget) - spent)
        return Asked(
            areas=areas,
            sorts={name: self.sort(name) for name in names if name in used},
            pairs=pairs,
            budget_cents=budget,
            fast_percent=round(100 * (FAST_SHARE if wish.fast_share is None else wish.fast_share)),
            most_species=max(0, (wish.most_species or MOST_SPECIES) - len(_by_plant(before.units))),
            most_per_zone=MOST_PER_ZONE,
        )

    def least(self, name: str, area: Area) -> int:
        """Units that read as a group: eight portions, a quarter of what the zone wants; one of what is planted singly."""
        plant = self.catalog.plants[name]
        if plant.portions_per_unit <= 1:
            return 1
        return max(
            1,
            min(
                ceil(GROUP_PORTIONS / plant.portions_per_unit),
                ceil(area.wanted_cm2 / plant.cover_cm2_per_unit_at_planting),
            ),
            ceil(GROUP_SHARE * area.wanted_cm2 / plant.cover_cm2_per_unit_at_planting),
        )

    # ------------------------------------------------------------ what is told

    def placed(self, choice: Choice) -> tuple[Placed, ...]:
        found = []
        for (name, zone), units in sorted(choice.units.items(), key=lambda item: (item[0][1], item[0][0])):
            plant = self.catalog.plants[name]
            hard = self.by_number[zone].place in ("wood", "stone")
            found.append(
                Placed(
                    plant=name,
                    zone=zone,
                    units=units,
                    portions=units * (1 if hard else plant.portions_per_unit),
                    spacing_cm=plant.spacing_cm,
                    cover_m2=units * plant.cover_cm2_per_unit_at_planting / 1e4,
                    reasons=self.fit(name, zone).reasons,
                )
            )
        return tuple(found)

    def stands(self, placed: Sequence[Placed]) -> list[Stand]:
        found = []
        for item in placed:
            plant, zone = self.catalog.plants[item.plant], self.by_number[item.zone]
            found.append(
                Stand(
                    zone=item.zone,
                    area_m2=zone.area_m2,
                    cover_m2=item.cover_m2,
                    rate=plant.growth_rate,
                    floating=zone.place == "surface",
                    need_umol=plant.par_min_umol_m2_s,
                    par_umol_m2_s=zone.par_umol_m2_s,
                )
            )
        return found

    def priced(self, choice: Choice) -> str:
        names = {plant for plant, _ in choice.units}
        asked = Asked(areas=self.areas({}), sorts={name: self.sort(name) for name in sorted(names)}, pairs=())
        return f"{Decimal(spent_cents(asked, choice.units)) / 100:.2f} {self.job.price.currency}"

    def tell_proposal(self, asked: Asked, choice: Choice, *, named: bool) -> None:
        wish = self.job.planting
        if choice.units:
            told: dict[str, float | str] = {
                "units": sum(choice.units.values()),
                "species": len(_by_plant(choice.units)),
                "price": self.priced(choice),
            }
            self.findings.append(
                Finding(id="planting.suggested", severity=Severity.NOTE, values=told)
                if named
                else Finding(id="planting.proposed", severity=Severity.CONDITION, values=told)
            )
        wanted = sum(area.wanted_cm2 for area in asked.areas.values())
        covered = sum(asked.sorts[plant].cover_cm2 * units for (plant, _), units in choice.units.items())
        tight = wish.budget is not None and covered < 0.8 * wanted
        if tight:
            self.findings.append(
                Finding(
                    id="planting.budget_short",
                    severity=Severity.CONDITION,
                    values={
                        "budget": f"{wish.budget:.2f} {self.job.price.currency}",
                        "share_pct": round(100 * covered / wanted) if wanted else 100,
                    },
                )
            )
        elif not choice.units and wanted:
            self.findings.append(Finding(id="planting.nothing_fits", severity=Severity.CONDITION))
        if choice.units and not choice.proven:
            self.findings.append(
                Finding(id="planting.best_so_far", severity=Severity.NOTE, values={"gap_pct": ceil(100 * choice.gap)})
            )

    def tell_unplaced(self, unplaced: Sequence[Unplaced]) -> None:
        for item in unplaced:
            zone = None if item.nearest is None else self.by_number[item.nearest]
            reason = item.reasons[0] if item.reasons else Reason(id="place")
            self.findings.append(
                Finding(
                    id="planting.fits_nowhere",
                    severity=Severity.CONDITION,
                    about=item.plant,
                    values={
                        "plant": self.catalog.plants[item.plant].common_name,
                        "units": item.units,
                        "zone": 0 if zone is None else zone.number,
                        "place": "" if zone is None else f"@planting.place.{zone.place}",
                        "reason": f"@planting.reason.{reason.id}",
                        **reason.values,
                    },
                )
            )

    def tell_crowded(self, choice: Choice) -> None:
        """Too many units for the whole bed, or else for single zones whose place is known."""
        covered: dict[int, float] = {}
        for (plant, number), units in choice.units.items():
            covered[number] = covered.get(number, 0.0) + units * self.sort(plant).cover_cm2 / 1e4
        bed = [zone for zone in self.zones if zone.soil_m is not None]
        on_bed, room = sum(covered.get(zone.number, 0.0) for zone in bed), sum(zone.area_m2 for zone in bed)
        if on_bed > DENSE * room:
            self.findings.append(
                Finding(
                    id="planting.too_many",
                    severity=Severity.CONDITION if on_bed > TOO_MANY * room else Severity.NOTE,
                    values={"cover_m2": on_bed, "room_m2": room},
                )
            )
            return
        for number, cover in sorted(covered.items()):
            here = self.by_number[number]
            most = MOST.get(here.place, 1.0) * here.area_m2
            if here.outline_m and cover > CROWDED * most:
                self.findings.append(
                    Finding(
                        id="planting.crowded",
                        severity=Severity.NOTE,
                        about=str(number),
                        values={
                            "zone": number,
                            "place": f"@planting.place.{here.place}",
                            "cover_m2": cover,
                            "room_m2": most,
                        },
                    )
                )


def unlike(one: Plant, other: Plant) -> float:
    """How unlike two plants are in height, light, growth and carbon dioxide; 0 for the same."""
    height = abs(one.height_max_cm - other.height_max_cm) / max(one.height_max_cm, other.height_max_cm)
    light = abs(one.par_min_umol_m2_s - other.par_min_umol_m2_s) / 50
    rates = ("very slow", "slow", "medium", "fast", "very fast")
    growth = abs(rates.index(one.growth_rate) - rates.index(other.growth_rate)) / 4
    gas = ("none", "helpful", "needed")
    carbon = max(0, gas.index(other.co2_need) - gas.index(one.co2_need))
    genus = one.scientific_name.split()[0] != other.scientific_name.split()[0]
    return height + light + growth + carbon + 0.3 * genus


def _by_plant(units: Mapping[tuple[str, int], int]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for (plant, _), number in units.items():
        counts[plant] = counts.get(plant, 0) + number
    return counts


def _fast_share(placed: Sequence[Placed], catalog: Catalog) -> float:
    whole = sum(item.cover_m2 for item in placed)
    fast = sum(item.cover_m2 for item in placed if catalog.plants[item.plant].growth_rate in FAST)
    return fast / whole if whole else 0.0


def _zone_findings(found: PlantingResult, work: _Work) -> tuple[Finding, ...]:
    """What holds for zones as a whole: far to reach, light not measured, few fast growers."""
    told = []
    far = [zone for zone in found.zones if (zone.reach_m or 0.0) > ARM_M and _has(found, zone)]
    if far:
        told.append(
            Finding(
                id="planting.out_of_reach",
                severity=Severity.NOTE,
                values={
                    "zones": ", ".join(str(zone.number) for zone in far),
                    "reach_m": max(zone.reach_m or 0.0 for zone in far),
                    "arm_m": ARM_M,
                },
            )
        )
    if found.light == "unknown" and found.placed:
        told.append(Finding(id="planting.light_unknown", severity=Severity.NOTE))
    unsure = sorted({item.plant for item in found.placed if any(one.id == "light_unsure" for one in item.reasons)})
    if unsure:
        told.append(
            Finding(
                id="planting.light_unsure",
                severity=Severity.NOTE,
                values={"plants": ", ".join(work.catalog.plants[name].common_name for name in unsure)},
            )
        )
    wanted = FAST_SHARE if work.job.planting.fast_share is None else work.job.planting.fast_share
    if found.placed and found.fast_share < wanted - FALLS_SHORT:
        told.append(
            Finding(
                id="planting.few_fast",
                severity=Severity.NOTE,
                values={"share_pct": round(100 * found.fast_share), "wanted_pct": round(100 * wanted)},
            )
        )
    return tuple(told)


def _has(found: PlantingResult, zone: Zone) -> bool:
    return any(item.zone == zone.number for item in found.placed)


def _figures(found: PlantingResult) -> tuple[Figure, ...]:
    bed = [zone for zone in found.zones if zone.soil_m is not None]
    free = sum(zone.area_m2 for zone in bed)
    cover = sum(item.cover_m2 for item in found.placed)
    low, typical, high = found.growth.nitrogen_mg_d[4]
    return (
        Figure(
            id="planting.free_m2",
            value=free,
            unit="m2",
            formula="cells of the bed within the glass that no stone and no wood takes",
            source="by counting cells",
            inputs={"zones": len(bed)},
        ),
        Figure(
            id="planting.cover_m2",
            value=cover,
            unit="m2",
            formula="sum of units times the area of a unit on the first day",
            source="catalog: common practice, no source",
            inputs={"units": sum(item.units for item in found.placed)},
        ),
        Figure(
            id="planting.nitrogen_week_4_mg_d",
            value=typical,
            unit="mg/d",
            low=low,
            high=high,
            formula="relative growth times dry mass times nitrogen of dry mass, four weeks after planting",
            source="logistic growth; rates from memory",
            inputs={"cover_m2": cover},
        ),
    )
