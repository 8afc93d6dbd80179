"""Who waits in which box, with the containers on hand and by a plain rule; the practitioner's own wish goes first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog, Container, Species
from slackwater.job.model import Job
from slackwater.water.result import BoxUse

SHARING_BELOW_G = 1.5
"""Shoaling fish lighter than this share a box; common practice, no source."""
TALL_FISH = frozenset({"pterophyllum_scalare", "symphysodon_aequifasciatus"})
TALL_FISH_DEPTH_CM = 25.0
"""Water that tall-bodied fish need; common practice, no source."""


@dataclass(frozen=True)
class _Group:
    """Animals that may wait together."""

    species: tuple[Species, ...]
    low: int
    high: int
    mass_g: float

    @property
    def for_shrimp(self) -> bool:
        """Whether the shrimp clock counts."""
        return any(item.group == "shrimp" for item in self.species)

    @property
    def jumps(self) -> bool:
        """Whether an open tub is out of the question."""
        return any(item.jump_risk in ("medium", "high") for item in self.species)


def _groups(job: Job, catalog: Catalog) -> list[_Group]:
    """Small shoalers together; every other kind by itself; snails with the first shrimp, or by themselves."""
    small: list[_Group] = []
    others: list[_Group] = []
    shrimp: list[_Group] = []
    snails: list[_Group] = []
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is None or not animals.keep or animals.count.high is None or animals.count.high == 0:
            continue
        group = _Group(
            (species,), animals.count.low or 0, animals.count.high, animals.count.high * species.typical_mass_g
        )
        if species.group == "shrimp":
            shrimp.append(group)
        elif species.group == "snail":
            snails.append(group)
        elif species.typical_mass_g < SHARING_BELOW_G:
            small.append(group)
        else:
            others.append(group)
    return [*([_joined(small)] if small else []), *others, *shrimp, *([_joined(snails)] if snails else [])]


def _joined(groups: Sequence[_Group]) -> _Group:
    return _Group(
        species=tuple(species for group in groups for species in group.species),
        low=sum(group.low for group in groups),
        high=sum(group.high for group in groups),
        mass_g=sum(group.mass_g for group in groups),
    )


def _wished(job: Job, catalog: Catalog) -> list[tuple[str, _Group]]:
    """The practitioner's own boxes."""
    found = []
    for wish in job.holding:
        members = []
        for animals in job.livestock or ():
            species = catalog.species.get(animals.species)
            if species and animals.species in wish.species and animals.count.high is not None:
                members.append(
                    _Group(
                        (species,),
                        animals.count.low or 0,
                        animals.count.high,
                        animals.count.high * species.typical_mass_g,
                    )
                )
        if members:
            found.append((wish.container, _joined(members)))
    return found


def _suits(container: Container, group: _Group) -> bool:
    if container.lid == "none" and (group.jumps or group.for_shrimp):
        return False
    tall = any(species.id in TALL_FISH for species in group.species)
    return not tall or container.height_cm >= TALL_FISH_DEPTH_CM


def _is_box(container: Container) -> bool:
    return not container.id.startswith(("barrel", "ibc", "fold", "media", "bag", "tub"))


def assign_boxes(job: Job, catalog: Catalog) -> tuple[tuple[BoxUse, ...], list[Finding]]:
    """Boxes for all animals that stay, or the finding that there are too few.

    Returns
    -------
    boxes : tuple of BoxUse
        Lettered A, B, C …; water by mass of the animals, at least a share of the box.
    findings : list
        Too few boxes; no box to spare for the sick and the unplanned.
    """
    load = catalog.parameter("box_load").typical
    shrimp_load = catalog.parameter("shrimp_box_load").typical
    least = catalog.parameter("box_least_fill").typical
    stock: list[Container] = []
    for owned in job.containers or ():
        container = catalog.containers.get(owned.container)
        if container is not None and _is_box(container):
            stock += [container] * owned.count
    stock.sort(key=lambda container: container.usable_l)
    boxes: list[BoxUse] = []
    findings: list[Finding] = []

    def use(container: Container, group: _Group, share: float) -> None:
        density = shrimp_load if group.for_shrimp else load
        water = min(container.usable_l, max(least * container.usable_l, group.mass_g * share / density))
        if group.for_shrimp and container.id.startswith("shrimp"):
            water = container.usable_l
        boxes.append(
            BoxUse(
                label=chr(ord("A") + len(boxes) % 26),
                container=container.id,
                water_l=round(water, 1),
                species=tuple(species.id for species in group.species),
                animals_low=round(group.low * share),
                animals_high=ceil(group.high * share),
                animal_mass_kg=group.mass_g * share / 1000,
                for_shrimp=group.for_shrimp,
            )
        )

    placed: set[str] = set()
    for container_id, group in _wished(job, catalog):
        match = next((container for container in stock if container.id == container_id), None)
        if match is not None:
            stock.remove(match)
            use(match, group, 1.0)
            placed |= {species.id for species in group.species}
    unhoused = []
    # The heaviest choose first: small boxes are then left for small animals.
    for group in sorted(_groups(job, catalog), key=lambda item: -item.mass_g):
        if {species.id for species in group.species} <= placed:
            continue
        density = shrimp_load if group.for_shrimp else load
        small_first = [c for c in stock if _suits(c, group) and (group.for_shrimp or not c.id.startswith("shrimp"))]
        whole = next((c for c in small_first if c.usable_l * density >= group.mass_g), None)
        if whole is not None and not (group.for_shrimp and not whole.id.startswith("shrimp")):
            stock.remove(whole)
            use(whole, group, 1.0)
            continue
        # No single box holds them: several of the largest that suit, shrimp boxes for shrimp.
        order = sorted(small_first, key=lambda c: (not (group.for_shrimp and c.id.startswith("shrimp")), -c.usable_l))
        chosen: list[Container] = []
        room = 0.0
        for container in order:
            if room >= group.mass_g:
                break
            chosen.append(container)
            room += container.usable_l * density
        if room < group.mass_g:
            unhoused.append(group)
            continue
        for container in chosen:
            stock.remove(container)
            use(container, group, container.usable_l * density / room)
    if unhoused:
        findings.append(
            Finding(
                id="water.boxes_short",
                severity=Severity.MISFIT,
                values={
                    "animals": ", ".join(species.common_name for group in unhoused for species in group.species),
                    "mass_g": sum(group.mass_g for group in unhoused),
                },
                margin=-float(len(unhoused)),
                margin_unit="groups",
            )
        )
    elif boxes and not stock:
        findings.append(Finding(id="water.no_spare_box", severity=Severity.CONDITION))
    return tuple(sorted(boxes, key=lambda box: box.label)), findings
