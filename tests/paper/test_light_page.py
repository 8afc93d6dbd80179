"""The light on paper: the picture is to scale and pales with the light, tables tell places, weeks and plants."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from slackwater.layout.compose import laid_of
from slackwater.light.result import LightResult, LightWeek, PlantLight
from slackwater.paper.light_figures import SHADES, STEPS, light_drawing, shade_of
from slackwater.paper.light_page import light_data, zone_rows
from slackwater.reader import Reader
from tests.layout.test_gltf import ONE, scene


@pytest.fixture(scope="module")
def laid():
    return laid_of(
        replace(scene((ONE,)), joints=(), ballast_kg={}), source="given", settled=True, intent="", seed=1
    ).result


def light(laid, value=lambda x, y: 100.0):
    left, front = min(x for x, _ in laid.corners_m), min(y for _, y in laid.corners_m)
    xs, ys = tuple(left + 0.01 + 0.02 * n for n in range(50)), tuple(front + 0.01 + 0.02 * n for n in range(20))
    low = tuple(tuple(value(x - left, y - front) for x in xs) for y in ys)
    return LightResult(
        x_m=xs,
        y_m=ys,
        leaves_m=0.10,
        on_soil=low,
        low=low,
        low_error=low,
        high=low,
        skylight=(),
        mean_umol_m2_s=123.4,
        dark_umol_m2_s=45.6,
        bright_umol_m2_s=210.0,
        range_low=0.5,
        range_high=1.6,
        sent_umol_s=200.0,
        sinks={},
        bands=(),
        noise=0.03,
        photons=1000,
        attenuation_per_m=0.5,
        weeks=tuple(
            LightWeek(week=n, hours=6, share=0.65, leaf_area=0.6, below_umol_m2_s=50, daily_mol_m2=2)
            for n in range(1, 13)
        ),
        plants=(
            PlantLight(plant="a", name="Alpha", needs_umol_m2_s=20, has_share=1, needs_m2=0.1, has_m2=0.3),
            PlantLight(plant="b", name="Beta", needs_umol_m2_s=80, has_share=0.25, needs_m2=0.1, has_m2=0.1),
        ),
    )


def test_a_shade_for_each_step_from_dark_to_pale():
    assert [shade_of(bound - 0.1) for bound in STEPS] == list(range(len(STEPS)))
    assert shade_of(STEPS[-1]) == len(SHADES) - 1
    # Luma by ITU-R BT.601: a copy without colours keeps the order.
    luma = [sum(w * int(s[k : k + 2], 16) for w, k in ((0.299, 1), (0.587, 3), (0.114, 5))) for s in SHADES]
    assert luma == sorted(luma) and min(b - a for a, b in pairwise(luma)) > 15


def test_the_picture_is_to_scale_and_brighter_where_the_light_is(laid):
    found = light_drawing(light(laid, lambda x, y: 10.0 if x < 0.5 else 300.0), laid, Reader("metric"))
    root = ElementTree.fromstring(found.svg)
    rects = [item for item in root.iter() if item.tag.endswith("rect") and item.get("fill") in (SHADES[0], SHADES[-1])]
    dark = [item for item in rects if item.get("fill") == SHADES[0] and float(item.get("height")) > 0]
    wide = sum(float(item.get("width")) * float(item.get("height")) for item in dark if float(item.get("height")) < 2.5)
    # Half of 100 x 40 cm at its scale; strips are 0.05 mm wider than their cells.
    side = 1000 / found.scale
    assert wide == pytest.approx(0.5 * side * 0.4 * side, rel=0.08)


def test_numbers_stand_beside_the_pieces_and_in_two_figures(laid):
    found = light_drawing(light(laid, lambda x, y: 123.4), laid, Reader("metric"))
    numbers = re.findall(r'font-size="3.2"[^>]*>([^<]+)<', found.svg)
    assert numbers and set(numbers) == {"120"}


def test_places_are_told_from_the_front_and_a_covered_one_by_its_cover(laid):
    found = zone_rows(
        light(laid, lambda x, y: None if x > 0.65 and y > 0.25 else 40.0 if y < 0.13 else 90.0), Reader("metric")
    )
    assert [row[0] for row in found[:3]] == ["front left", "front middle", "front right"]
    assert found[0][1] == "40" and found[4][1] == "90" and found[8][1] == "stone or wood"


def test_the_page_puts_the_neediest_plant_first_and_rounds(laid):
    data = light_data(light(laid), laid, Reader("metric"))
    assert [row[0] for row in data["plants"]] == ["Beta", "Alpha"] and data["plants"][0][2] == "25 %"
    assert "120 umol/m2/s" in data["told"][0] and "50 % to 160 %" in data["told"][1]
    assert light_data(None, laid, Reader("metric")) is None
