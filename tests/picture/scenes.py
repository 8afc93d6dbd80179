"""A small planted tank that tests of the picture look at."""

from __future__ import annotations

from functools import cache

from slackwater.job.catalog import load_catalog
from slackwater.picture.compose import still_of
from slackwater.picture.forms import habit_of
from slackwater.picture.places import Kind, usual_sizes
from tests.layout.scenes import BOX, flat, glass, layout_of
from tests.layout.shapes import pebble

PLANTS = {
    "micranthemum_tweediei": 30,
    "cryptocoryne_wendtii": 8,
    "vallisneria_nana": 8,
    "rotala_rotundifolia": 12,
    "microsorum_pteropus": 3,
    "taxiphyllum_barbieri": 4,
    "limnobium_laevigatum": 5,
    "ceratopteris_thalictroides": 2,
}
"""Portions of plants of each form."""


@cache
def catalog():
    return load_catalog()


def kind(plant: str, portions: int) -> Kind:
    row = catalog().plants[plant]
    return Kind(
        plant=plant,
        position=row.position,
        attach=row.attach_to,
        portions=portions,
        spacing_m=row.spacing_cm / 100,
        sizes=usual_sizes(
            height_min_m=row.height_min_cm / 100,
            height_max_m=row.height_max_cm / 100,
            growth=row.growth_rate,
            spacing_m=row.spacing_cm / 100,
            cover_m2=row.cover_cm2_per_unit_at_planting / 10_000 / row.portions_per_unit,
            form=habit_of(plant, row.position).form,
        ),
    )


@cache
def kinds() -> tuple[Kind, ...]:
    return tuple(kind(plant, portions) for plant, portions in PLANTS.items())


@cache
def tank(corners=BOX):
    stone = pebble(3, 0.16, 0.12, 0.11)
    return layout_of(glass(corners), flat(0.05, corners), (stone, (0.35, 0.2, 0.03)))


@cache
def still(corners=BOX):
    return still_of(tank(corners), kinds(), catalog(), seed=5)
