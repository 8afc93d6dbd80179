"""Drawings of a layout are to scale, number every piece, and mirror what is seen from behind."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.layout.compose import laid_of
from slackwater.layout.scene import Placement
from slackwater.paper.layout_figures import APART_MM, apart, contour, layout_drawings
from slackwater.paper.layout_page import layout_data, piece_rows
from slackwater.reader import Reader
from tests.layout.test_gltf import ONE, scene

SVG = "{http://www.w3.org/2000/svg}"
TWO = Placement(number=2, piece="spare", position_m=(0.4, -0.2, -0.25))


@pytest.fixture(scope="module")
def laid():
    """A tank of 100 x 40 x 40 cm, 10 cm of soil, and two blocks of 20 x 10 x 15 cm that touch nothing."""
    layout = replace(scene((ONE, TWO)), joints=(), ballast_kg={})
    return laid_of(layout, source="given", settled=True, intent="", seed=1).result


def test_litres_of_a_block_on_the_soil_are_its_own(laid):
    # One block of 3 L stands on the soil; the corner of the other lies a third further: 0.733, 0.133, 0.083 m, so
    # 0.2 x 0.1 x 0.0167 m of it are in the soil and the rest above.
    buried = 1000 * 0.2 * 0.1 * (0.1 - (1 / 3 - 0.25))
    assert laid.buried.value_l == pytest.approx(buried, rel=1e-6)
    assert laid.displaced.value_l == pytest.approx(6 - buried, rel=1e-6)
    assert laid.soil.value_l == pytest.approx(40 - buried, rel=1e-6)
    assert laid.water.value_l == pytest.approx(1000 * 0.4 * 0.27 - (6 - buried), rel=1e-6)
    for litres in (laid.buried, laid.displaced, laid.soil, laid.water):
        assert litres.fast_l == pytest.approx(litres.value_l, rel=1e-3)
    # To the water line: water, soil and pieces fill the tank.
    whole = laid.water.value_l + laid.soil.value_l + laid.buried.value_l + laid.displaced.value_l
    assert whole == pytest.approx(1000 * 0.4 * 0.37, rel=1e-9)


def drawn(laid, units="metric"):
    return {drawing.file: drawing for drawing in layout_drawings(laid, Reader(units))}


def test_there_is_a_plan_a_view_for_each_public_side_and_two_sections(laid):
    assert list(drawn(laid)) == [
        "layout-plan.svg",
        "layout-front.svg",
        "layout-rear.svg",
        "layout-long.svg",
        "layout-cross.svg",
    ]


def test_a_drawing_is_as_large_on_paper_as_its_scale_says(laid):
    plan = drawn(laid)["layout-plan.svg"]
    root = ElementTree.fromstring(plan.svg)
    assert root.get("width") == f"{plan.width_mm:.1f}mm"
    # The inside of the glass is the third outline: 100 cm by 40 cm at 1 : 10 is 100 mm by 40 mm.
    outline = root.findall(f"{SVG}path")[2].get("d")
    points = [tuple(map(float, pair)) for pair in re.findall(r"([\d.]+),([\d.]+)", outline)]
    xs, ys = zip(*points, strict=True)
    assert plan.scale == 10
    assert (max(xs) - min(xs), max(ys) - min(ys)) == pytest.approx((100, 40), abs=0.02)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_piece_has_its_number_in_the_plan_and_in_every_view(laid, units):
    for name, drawing in drawn(laid, units).items():
        told = [text.text for text in ElementTree.fromstring(drawing.svg).iter(f"{SVG}text")]
        if name in ("layout-plan.svg", "layout-front.svg", "layout-rear.svg"):
            assert {"1", "2"} <= set(told), name


def test_what_is_right_from_the_front_is_left_from_the_rear(laid):
    def place(svg, number):
        texts = ElementTree.fromstring(svg).iter(f"{SVG}text")
        return next(float(text.get("x")) for text in texts if text.text == number and text.get("font-weight") == "bold")

    front, rear = (drawn(laid)[f"layout-{side}.svg"].svg for side in ("front", "rear"))
    assert place(front, "1") < place(front, "2")
    assert place(rear, "1") > place(rear, "2")


def test_rows_are_in_the_order_of_placing_and_tell_where_each_stands(laid):
    rows = piece_rows(laid, Reader("metric"))
    assert [row[0] for row in rows] == ["1", "2"]
    # 3 L at 2.7 kg/L; the middle of the first lies at 0.3 + 0.1 and 0.2 + 0.05 m; it stands on the soil.
    assert rows[0][2:] == ("8.1 kg", "20 × 10 × 15 cm", "40 cm", "25 cm", "0 cm", "25 cm")


def test_paper_says_whether_it_was_given_or_proposed(laid):
    given_, proposed = (
        layout_data(laid.model_copy(update={"source": source}), Reader("metric"))["told"]
        for source in ("given", "proposed")
    )
    assert "proposal" in proposed and "proposal" not in given_
    # The client has no editor: what the crew is told to do with it is not said to the client.
    client = layout_data(laid.model_copy(update={"source": "proposed"}), Reader("metric"))["told_client"]
    assert "proposal" in client.lower() and "editor" not in client and "client" not in client


def test_a_contour_of_a_plane_is_straight_and_at_its_height():
    # Height is a tenth of x, so 0.05 m lies at x = 0.5 m.
    x, y = (0.0, 0.4, 0.8), (0.0, 0.2, 0.4)
    found = contour(x, y, [[0.1 * at for at in x]] * 3, 0.05)
    assert found
    assert all(point[0] == pytest.approx(0.5) for ends in found for point in ends)


@given(st.lists(st.tuples(st.floats(0, 150), st.floats(0, 90)), max_size=12))
def test_numbers_stay_on_the_sheet_and_do_not_cover_each_other(wanted):
    places = apart(wanted, (0.0, 0.0), (150.0, 90.0))
    assert all(0 <= x <= 150 and 0 <= y <= 90 for x, y in places)
    gaps = [((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for place, a in enumerate(places) for b in places[:place]]
    # Circles have a diameter of 6.2 mm; in a crowd at an edge a little less than the wanted distance may be left.
    assert all(gap > 0.8 * APART_MM for gap in gaps)
