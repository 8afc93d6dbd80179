"""Boxes for all animals that stay: who waits with whom, in which container, in how much of the old water."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog, Container
from slackwater.job.model import Job
from slackwater.living.packing import Holder, Kind, pack
from slackwater.living.priors import median
from slackwater.living.setup import OXYGEN_PRIORS, resting_oxygen_mg_h
from slackwater.stage import Stage
from slackwater.water.assess import REFRESH_SHARE
from slackwater.water.result import BoxUse

TALL_FISH_CM: Mapping[str, float] = {"pterophyllum_scalare": 25.0, "symphysodon_aequifasciatus": 25.0}
"""Water that tall-bodied fish need; common practice, no source."""
BOXES_SHARE = 0.75
"""Boxes and their refresh take at most this of the old water that can be kept, as long as the animals' load allows;
the rest goes back into the tank; common practice, no source."""
MOST_L_H_MG = 1.3
"""Litres for each milligram of oxygen that the animals of a box use in an hour at rest: aired, that holds them for some
ten hours at the careful end by the boxes' own simulation; more would be taken from the tank for nothing."""
WARM_C = 24.0
"""Boxes are compared at one temperature, for their order does not hang on it; also where the tank's is not known."""
LIGHTNESS = (0.33, 0.5, 0.7, 1.0)
"""Loads against the usual one, lightest first: animals wait longer in more water, as far as boxes and old water go."""


def kinds_of(job: Job, catalog: Catalog) -> tuple[Kind, ...]:
    """Animals that are kept, by the most there may be; uncounted ones cannot be packed and are left out."""
    found = []
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is None or not animals.keep or not animals.count.high:
            continue
        found.append(
            Kind(
                id=species.id,
                count=animals.count.high,
                mass_g=species.typical_mass_g,
                group=species.group,
                least_together=min(species.min_group, animals.count.high),
                jumps=species.jump_risk in ("medium", "high"),
                depth_cm=TALL_FISH_CM.get(species.id, 0.0),
                leaves=animals.boarded,
            )
        )
    return tuple(found)


def is_box(container: Container) -> bool:
    """Whether animals may wait in it; barrels hold water, media boxes media, open tubs plants and the catch."""
    return not container.id.startswith(("barrel", "ibc", "fold", "media", "bag", "tub"))


def holders_of(job: Job, catalog: Catalog, *, lightness: float = 1.0) -> tuple[Holder, ...]:
    """Boxes on hand, one entry each; `lightness` is their load against the usual one."""
    load = tuple(lightness * catalog.parameter(name).typical for name in ("box_load", "shrimp_box_load"))
    found = []
    for owned in job.containers or ():
        container = catalog.containers.get(owned.container)
        if container is None or not is_box(container):
            continue
        found += [
            Holder(
                id=container.id,
                usable_l=container.usable_l,
                depth_cm=container.height_cm,
                lid=container.lid not in ("none", "no", ""),
                load_g_l={"fish": load[0], "shrimp": load[1]},
                loss_w_per_k=container.heat_loss_w_per_k_lidded or container.heat_loss_w_per_k_open,
                for_fish=not container.id.startswith("shrimp"),
            )
        ] * owned.count
    return tuple(found)


def _resting_mg_h(content: Mapping[str, int], catalog: Catalog, *, temp_c: float) -> float:
    medians = {name: np.array([median(name)]) for name in OXYGEN_PRIORS}
    return sum(
        float(resting_oxygen_mg_h(catalog.species[name], count=count, temp_c=temp_c, drawn=medians)[0])
        for name, count in content.items()
    )


def breathing_mg_h(content: Mapping[str, int], job: Job, catalog: Catalog) -> float:
    """Oxygen that the animals of a box use moving about, by the medians of the priors [mg/h]."""
    tank = job.water.tank
    temp_c = WARM_C if tank is None or tank.temp_c is None else tank.temp_c
    return median("routine_factor") * _resting_mg_h(content, catalog, temp_c=temp_c)


def _filled_l(
    contents: list[tuple[Holder, dict[str, int]]],
    needs: list[float],
    catalog: Catalog,
    *,
    least: float,
    most_l: float,
) -> list[float]:
    """Litres of each box: what the load asks for, and beyond it by what its animals breathe, as far as old water goes."""
    breathing = [_resting_mg_h(content, catalog, temp_c=WARM_C) for _, content in contents]

    def at(l_h_mg: float) -> list[float]:
        return [
            min(box.usable_l, max(least * box.usable_l, need, l_h_mg * oxygen))
            for (box, _), need, oxygen in zip(contents, needs, breathing, strict=True)
        ]

    low, high = 0.0, MOST_L_H_MG
    if sum(at(high)) <= most_l:
        return at(high)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if sum(at(middle)) <= most_l else (low, middle)
    return at(low)


@dataclass(frozen=True)
class _Placing:
    """Who is where, the litres that the load asks for in each, whether a box is left, and who found none."""

    placed: list[tuple[Holder, dict[str, int]]]
    needs_l: list[float]
    spare: bool
    unhoused: tuple[Kind, ...] | None


def _placed(job: Job, catalog: Catalog, lightness: float) -> _Placing:
    """The practitioner's own wishes, then the exact packing of the rest at one load."""
    holders, every = list(holders_of(job, catalog, lightness=lightness)), kinds_of(job, catalog)
    kinds = {kind.id: kind for kind in every}
    placed: list[tuple[Holder, dict[str, int]]] = []
    for wish in job.holding:
        match = next((holder for holder in holders if holder.id == wish.container), None)
        mine = {name: kinds[name].count for name in wish.species if name in kinds}
        if match is not None and mine:
            holders.remove(match)
            placed.append((match, mine))
            for name in mine:
                del kinds[name]
    packed = pack(tuple(kinds.values()), holders)
    if packed is not None:
        placed += [(holders[place], dict(content)) for place, content in packed.boxes]
    by_id = {kind.id: kind for kind in every}
    needs = [
        sum(
            count * by_id[name].mass_g / holder.load_g_l["fish" if by_id[name].group == "fish" else "shrimp"]
            for name, count in content.items()
        )
        for holder, content in placed
    ]
    return _Placing(
        placed=placed,
        needs_l=needs,
        spare=packed is not None and packed.spare is not None,
        unhoused=None if packed is not None else tuple(kinds.values()),
    )


def boxes_lack(job: Job) -> tuple[str, ...]:
    """Facts without which nobody can be put into a box."""
    if job.livestock is None:
        return ("livestock",)
    return ("containers",) if job.containers is None and any(item.keep for item in job.livestock) else ()


def house(job: Job, catalog: Catalog, *, gross_l: float) -> Stage[tuple[BoxUse, ...]]:
    """Boxes lettered A, B, C …, the practitioner's own wishes first, the rest by the exact packing.

    Parameters
    ----------
    gross_l : float
        Water of the old tank up to its line.
    """
    lacks = boxes_lack(job)
    if lacks or job.livestock is None:
        return Stage(result=None, lacks=lacks)
    most_l = BOXES_SHARE * (1 - catalog.parameter("clean_water_left").typical) * gross_l / (1 + REFRESH_SHARE)
    findings: list[Finding] = []
    placed, needs = [], []
    for lightness in LIGHTNESS:
        found = _placed(job, catalog, lightness)
        placed, needs = found.placed, found.needs_l
        if found.unhoused is None and found.spare and sum(needs) <= most_l:
            break
    if found.unhoused is not None:
        findings.append(
            Finding(
                id="living.boxes_short",
                severity=Severity.MISFIT,
                values={
                    "animals": ", ".join(catalog.species[kind.id].common_name for kind in found.unhoused),
                    "mass_g": sum(kind.count * kind.mass_g for kind in found.unhoused),
                },
                margin=-float(len(found.unhoused)),
                margin_unit="kinds",
            )
        )
    elif placed and not found.spare:
        findings.append(Finding(id="living.no_spare_box", severity=Severity.CONDITION))
    every = {kind.id: kind for kind in kinds_of(job, catalog)}
    litres = _filled_l(placed, needs, catalog, least=catalog.parameter("box_least_fill").typical, most_l=most_l)
    low = {item.species: item.count.low or 0 for item in job.livestock}
    boxes = tuple(
        BoxUse(
            label=chr(ord("A") + number % 26),
            container=holder.id,
            water_l=round(water, 1),
            species=tuple(content),
            counts=content,
            animals_low=sum(round(low.get(name, 0) * count / every[name].count) for name, count in content.items()),
            animals_high=sum(content.values()),
            animal_mass_kg=sum(ceil(count) * every[name].mass_g for name, count in content.items()) / 1000,
            for_shrimp=all(every[name].group != "fish" for name in content)
            and any(every[name].group == "shrimp" for name in content),
            oxygen_mg_h=breathing_mg_h(content, job, catalog),
            leaves=all(every[name].leaves for name in content),
        )
        for number, ((holder, content), water) in enumerate(zip(placed, litres, strict=True))
    )
    return Stage(result=boxes, findings=tuple(findings))
