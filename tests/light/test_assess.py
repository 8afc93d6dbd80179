"""Lamps of a job, the weeks ahead, and the stage with its findings."""

from __future__ import annotations

from itertools import pairwise
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import OutOfRange
from slackwater.finding import Severity
from slackwater.job.catalog import load_catalog
from slackwater.job.model import Job, Lamp, Light, Planting, Skylight
from slackwater.light.ahead import LARGEST_LEAF_AREA, below_canopy, leaf_area_after
from slackwater.light.assess import assess_light
from slackwater.light.hung import hung
from slackwater.light.lamps import lobe_power
from slackwater.light.photons import Effort
from slackwater.light.ramp import ramp
from tests.light.scenes import tank

QUICK = Effort(samples=4, photons=40_000, noise=0.0)
TOLD = {"above_water": "20 cm", "beam_angle": 120, "length": "30 cm", "width": "10 cm", "spectrum": "white"}


@pytest.fixture(scope="module")
def catalog():
    return load_catalog(None)


def job(light=None, **more):
    return Job.model_validate({"format": 1, "name": "test", "light": light, **more})


def stage(catalog, light, *, effort=QUICK, unread=None, **more):
    return assess_light(job(light, **more), catalog, tank(), effort=effort, unread=unread)


def ids(found):
    return {finding.id for finding in found.findings}


def test_a_beam_of_120_degrees_is_the_even_face():
    # cos 60 degrees is a half, so intensity is halved where the cosine is: m = 1.
    assert lobe_power(beam_deg=120) == pytest.approx(1)
    with pytest.raises(OutOfRange, match="beam_deg"):
        lobe_power(beam_deg=3)


def test_a_told_flux_counts_and_what_is_not_told_is_said():
    glass = tank().glass
    told = hung(Light(lamps=(Lamp.model_validate({"power": "60 W", "photon_flux": "150 umol/s", **TOLD}),)), glass, {})
    assert [lamp.flux_umol_s for lamp in told.lamps] == [150] and told.assumed == ()
    bare = hung(Light(lamps=(Lamp.model_validate({"power": "60 W", "count": 2}),)), glass, {})
    assert {item.field.partition("]")[2] for item in bare.assumed} == {
        ".efficacy", ".length", ".width", ".above_water", ".spectrum", ".beam_angle",
    }  # fmt: skip
    assert sum(lamp.flux_umol_s for lamp in bare.lamps) == pytest.approx(2 * 60 * 1.8)
    assert [lamp.y_m for lamp in bare.lamps] == pytest.approx([0.075, 0.225])
    assert bare.low < told.low < 1 < told.high < bare.high


def test_dimmer_and_cover_take_their_share():
    light = Light.model_validate(
        {"lamps": [{"power": "60 W", "efficacy": "2 umol/J", "dimmed_to": 0.5, **TOLD}], "cover_lets_through": 0.8}
    )
    assert hung(light, tank().glass, {}).lamps[0].flux_umol_s == pytest.approx(60 * 2 * 0.5 * 0.8)


def test_without_a_lamp_it_is_said_and_nothing_is_missing(catalog):
    for light in (None, {"lamps": []}):
        found = stage(catalog, light)
        assert found.result is None and found.lacks == () and ids(found) == {"light.no_lamp"}
        assert found.findings[0].severity is Severity.NOTE


@pytest.mark.parametrize(
    "lamp", [{"power": "0 W"}, {"power": "60 W", "dimmed_to": 0.0}, {"power": "60 W", "photon_flux": "0 umol/s"}]
)
def test_a_lamp_of_nothing_is_a_condition(catalog, lamp):
    found = stage(catalog, {"lamps": [lamp]})
    assert found.result is None and ids(found) == {"light.lamp_zero"}


def test_a_lamp_that_hangs_beside_the_tank_is_a_condition(catalog):
    found = stage(catalog, {"lamps": [{"power": "60 W", **TOLD, "beam_angle": 10, "from_left": "9 m"}]})
    assert ids(found) == {"light.none_arrives"}


def test_dark_water_is_told_and_clear_water_is_not(catalog):
    lamps = [{"power": "60 W", **TOLD}]
    dark, clear = (stage(catalog, {"lamps": lamps, "water_colour": colour}) for colour in ("dark", "clear"))
    assert "light.dark_water" in ids(dark) and "light.dark_water" not in ids(clear)
    assert dark.result.mean_umol_m2_s < 0.5 * clear.result.mean_umol_m2_s


def test_a_reading_far_off_is_told_and_one_within_is_not(catalog):
    lamps = [{"power": "60 W", **TOLD}]
    middle = stage(catalog, {"lamps": lamps}).result.mean_umol_m2_s
    far = stage(catalog, {"lamps": lamps, "bottom_centre": f"{10 * middle:.0f} umol/m2/s"})
    near = stage(catalog, {"lamps": lamps, "bottom_centre": f"{1.2 * middle:.0f} umol/m2/s"})
    assert "light.reading_differs" in ids(far) and "light.reading_differs" not in ids(near)


def test_a_plant_that_finds_no_light_is_named(catalog):
    needy = next(row for row in catalog.plants.values() if row.par_min_umol_m2_s >= 80)
    planted = {"plants": [Planting(plant=needy.id, units=3).model_dump()]}
    weak = stage(catalog, {"lamps": [{"power": "3 W", **TOLD}]}, **planted)
    strong = stage(catalog, {"lamps": [{"power": "200 W", **TOLD}]}, **planted)
    assert [finding.about for finding in weak.findings if finding.id == "light.too_dark_for"] == [needy.id]
    assert not ids(strong) & {"light.too_dark_for", "light.dark_for"}


def test_a_file_that_cannot_be_read_is_told_and_the_lamp_still_shines(catalog):
    found = stage(catalog, {"lamps": [{"power": "60 W", "file": "x.ies", **TOLD}]}, unread={"x.ies": "it is cut off"})
    assert "light.file_unread" in ids(found) and found.result is not None


def test_a_skylight_alone_lights_the_bed_and_beside_lamps_is_told_apart(catalog):
    sky = Skylight.model_validate({"length": "1 m", "width": "1 m", "above_water": "1 m", "daylight": "500 umol/m2/s"})
    alone = stage(catalog, {"skylight": sky.model_dump(by_alias=True, exclude_none=True)})
    assert alone.result.mean_umol_m2_s > 1 and alone.result.skylight == ()
    both = stage(
        catalog, {"lamps": [{"power": "60 W", **TOLD}], "skylight": sky.model_dump(by_alias=True, exclude_none=True)}
    )
    mean = [value for row in both.result.skylight for value in row if value is not None]
    assert sum(mean) / len(mean) == pytest.approx(alone.result.mean_umol_m2_s, rel=0.05)


def test_figures_carry_band_formula_and_source(catalog):
    found = stage(catalog, {"lamps": [{"power": "60 W"}]})
    bed = next(figure for figure in found.figures if figure.id == "light.bed_umol")
    assert bed.low < bed.value < bed.high and "Fresnel" in bed.source and bed.formula
    grid = found.result.low
    assert len(grid) == len(found.result.y_m) and len(grid[0]) == len(found.result.x_m)


# ---------------------------------------------------------------- the weeks ahead


def test_a_leaf_area_of_one_leaves_half_of_the_light():
    # Beer's law: exp(-0.7) = 0.4966.
    assert below_canopy(light=100, leaf_area=1) == pytest.approx(100 * exp(-0.7))


def test_nothing_grows_in_the_first_days_or_in_the_dark():
    start = leaf_area_after(days=0, growth_per_d=0.03, light_umol_m2_s=100)
    assert leaf_area_after(days=7, growth_per_d=0.03, light_umol_m2_s=100) == pytest.approx(start)
    assert leaf_area_after(days=100, growth_per_d=0.03, light_umol_m2_s=0) == pytest.approx(start)
    assert start < leaf_area_after(days=40, growth_per_d=0.03, light_umol_m2_s=100) < LARGEST_LEAF_AREA


@given(areas=st.lists(st.floats(0.01, 4), min_size=1, max_size=20).map(sorted), hours=st.floats(0, 24))
def test_the_ramp_never_jumps_never_falls_and_never_passes_the_timer(areas, hours):
    steps = ramp(areas, hours=hours)
    assert steps[0].hours <= min(6, hours) and steps[0].share == 0.65
    assert all(step.hours <= hours and step.share <= 1 for step in steps)
    for one, other in pairwise(steps):
        # A quarter of an hour and five per cent are the marks of timer and dimmer.
        assert 0 <= other.hours - one.hours <= 1.25 and -1e-9 <= other.share - one.share <= 0.15 + 1e-9


def test_bare_soil_stays_at_the_first_light():
    assert {(step.hours, step.share) for step in ramp([0.0] * 8, hours=9)} == {(6.0, 0.65)}
