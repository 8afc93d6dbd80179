"""Proposals keep every hard rule, whatever stones there are; each rule is checked on meshes, not on the search's maps."""

from __future__ import annotations

from dataclasses import dataclass, replace

import manifold3d
import numpy as np
import pytest
from scipy.spatial import KDTree

from slackwater.errors import NotFound, OutOfRange
from slackwater.layout.arrange import Breach, Effort, apart, breaches, height_map, propose, resting_turn
from slackwater.layout.scene import Placement, rotation, stood
from slackwater.layout.score import INTENTS
from slackwater.layout.settle import settled
from slackwater.layout.stamps import stood_points
from slackwater.wording.render import say
from tests.layout.shapes import bed, box, glass, layout, pebble

TANK = glass(0.6, 0.3, 0.3, water=0.26)
GROUND = bed(TANK, depth=0.05)
QUICK = Effort(runs=3, steps=300, settled=3)


def stones(random, count):
    """Boxes of many forms."""
    return [
        box(*(float(size) for size in random.uniform((0.03, 0.03, 0.03), (0.2, 0.15, 0.2))), name=f"stone {k}")
        for k in range(count)
    ]


def shared_l(one, other):
    """Volume that two placed convex meshes share, by a library of solids."""
    solids = [
        manifold3d.Manifold(manifold3d.Mesh(np.asarray(points, dtype=np.float32), np.asarray(faces, dtype=np.uint32)))
        for points, faces in (one, other)
    ]
    return 1000 * (solids[0] ^ solids[1]).volume()


def broken(found, *, hand_m=0.04):
    """Hard rules that a layout in a box breaks, by corners of meshes and by solids."""
    left, front, right, rear = found.glass.box_m
    told, meshes = [], {}
    for item in found.placements:
        piece = found.pieces[item.piece]
        corners = stood(piece.vertices_m, item)
        meshes[item.number] = corners, piece.faces
        x, y, z = corners.T
        gap = min(x.min() - left, right - x.max(), y.min() - front, rear - y.max())
        rules = {"pane": gap < hand_m, "water": z.max() > found.glass.water_line_m, "floor": z.min() < -1e-9}
        told += [name for name, is_broken in rules.items() if is_broken]
    numbers = sorted(meshes)
    for k, one in enumerate(numbers):
        told += [f"{one} in {other}" for other in numbers[k + 1 :] if shared_l(meshes[one], meshes[other]) > 1e-9]
    return told


# The full thousand is run by bench/layout_arrange.py.
def test_no_hard_rule_is_broken_by_twelve_random_sets_of_stones():
    random = np.random.default_rng(8)
    placed = 0
    for number in range(12):
        tank = glass(
            float(random.uniform(0.2, 1.2)),
            float(random.uniform(0.2, 0.5)),
            0.4,
            water=float(random.uniform(0.15, 0.36)),
        )
        on_hand = stones(random, int(random.integers(1, 13)))
        ground = bed(tank, depth=0.04, cell=0.02)
        for found in propose(tank, ground, on_hand, count=3, seed=number, effort=QUICK, intent=INTENTS[number % 5]):
            assert broken(found.layout) == [] and breaches(found.layout) == ()
            assert len(found.layout.placements) + len(found.left_out) == len(on_hand)
            placed += len(found.layout.placements)
    assert placed > 40


def test_the_check_of_the_test_sees_each_breach():
    cube = box(0.1, 0.1, 0.1)
    assert broken(layout(TANK, GROUND, (cube, (0.3, 0.085, 0.1)))) == ["pane"]
    assert broken(layout(TANK, GROUND, (cube, (0.3, 0.15, 0.22)))) == ["water"]
    assert broken(layout(TANK, GROUND, (cube, (0.3, 0.15, 0.1)), (cube, (0.35, 0.15, 0.1)))) == ["1 in 2"]


# Two cubes of 10 cm, 5 cm apart from middle to middle, share a floor of 5 x 10 cm.
def test_breaches_tell_rule_and_amount():
    cube = box(0.1, 0.1, 0.1)
    (pane,) = breaches(layout(TANK, GROUND, (cube, (0.3, 0.085, 0.1))))
    assert (pane.rule, pane.numbers, pane.by) == ("pane", (1,), pytest.approx(0.005))
    (water,) = breaches(layout(TANK, GROUND, (cube, (0.3, 0.15, 0.22))))
    assert (water.rule, water.by) == ("water", pytest.approx(0.01))
    assert breaches(layout(TANK, GROUND, (cube, (0.3, 0.15, 0.22))), emergent=frozenset({cube.key})) == ()
    both = layout(TANK, GROUND, (cube, (0.3, 0.15, 0.1)), (cube, (0.35, 0.15, 0.1)))
    (overlap,) = breaches(both)
    assert (overlap.rule, overlap.numbers) == ("overlap", (1, 2)) and overlap.by == pytest.approx(
        0.005, rel=0.2
    )  # a border of cells of 2.5 mm
    assert breaches(both, numbers=frozenset()) == ()
    assert isinstance(overlap, Breach)


def test_six_proposals_differ_and_the_same_seed_gives_the_same():
    on_hand = stones(np.random.default_rng(1), 4)
    effort = Effort(runs=9, steps=500)
    found = propose(TANK, GROUND, on_hand, seed=4, effort=effort)
    assert len(found) == 6 and all(not item.was_settled for item in found)
    maps = [height_map(item.layout) for item in found]
    assert all(apart(maps[a], maps[b]) >= 0.02 for a in range(6) for b in range(a))
    again = propose(TANK, GROUND, on_hand, seed=4, effort=effort)
    assert [item.layout.placements for item in again] == [item.layout.placements for item in found]
    other = propose(TANK, GROUND, on_hand, seed=5, effort=effort)
    assert [item.layout.placements for item in other] != [item.layout.placements for item in found]


@pytest.mark.parametrize(
    ("intent", "part", "least"), [("one_end", "one_end", 0.8), ("island", "island", 0.95), ("path", "path", 0.95)]
)
def test_an_intent_is_met(intent, part, least):
    on_hand = [box(0.08, 0.08, 0.12, name=str(k)) for k in range(3)]
    found = propose(TANK, GROUND, on_hand, intent=intent, count=1, effort=Effort(runs=6, steps=4000))
    assert found[0].score.part(part).value >= least


def test_a_locked_piece_stays_and_the_others_go_round_it():
    wall = box(0.3, 0.1, 0.1)
    start = layout(TANK, GROUND, (wall, (0.3, 0.1, 0.09)), (box(0.05, 0.05, 0.05, name="loose"), (0.3, 0.25, 0.07)))
    locked = replace(start.placement(1), locked=True)
    found = propose(
        TANK, GROUND, stones(np.random.default_rng(2), 3), count=2, effort=QUICK, start=start.with_placement(locked)
    )
    assert found
    for item in found:
        assert item.layout.placement(1) == locked and broken(item.layout) == []
        assert start.placements[1].piece not in {one.piece for one in item.layout.placements}


def test_what_cannot_be_used_is_left_on_the_shelf_and_told():
    tank = glass(0.6, 0.3, 0.3, water=0.26, openings=((0.2, 0.2),))
    fits, tall = box(0.1, 0.1, 0.1, name="fits"), box(0.1, 0.1, 0.25, name="tall")
    found = propose(tank, GROUND, [fits, tall, box(0.25, 0.22, 0.21, name="wide")], count=1, effort=QUICK)
    assert {(one.name, one.reason) for one in found[0].left_out} == {("wide", "opening"), ("tall", "no_place")}
    assert [found[0].layout.pieces[item.piece].name for item in found[0].layout.placements] == ["fits"]
    for one in found[0].left_out:
        assert one.name in say(f"layout_left.{one.reason}", {"piece": one.name, "mass_kg": one.mass_kg})
    above = propose(tank, GROUND, [tall], count=1, effort=QUICK, emergent=frozenset({tall.key}))
    assert len(above[0].layout.placements) == 1


def table_of_wood():
    """A board 30 cm long on four feet, 12 cm of room under it: a stand-in for a branch."""
    parts = [((-0.15, 0.15), (-0.06, 0.06), (0.12, 0.14))]
    parts += [((x - 0.01, x + 0.01), (y - 0.01, y + 0.01), (0.0, 0.12)) for x in (-0.14, 0.14) for y in (-0.05, 0.05)]
    whole = manifold3d.Manifold()
    corners = []
    for (x0, x1), (y0, y1), (z0, z1) in parts:
        cube = manifold3d.Manifold.cube((x1 - x0, y1 - y0, z1 - z0)).translate((x0, y0, z0))
        whole += cube
        corners.append(np.array([(x, y, z) for x in (x0, x1) for y in (y0, y1) for z in (z0, z1)]))
    mesh = whole.to_mesh()
    points, faces = np.asarray(mesh.vert_properties, dtype=np.float64), np.asarray(mesh.tri_verts, dtype=np.int32)
    like = box(0.3, 0.12, 0.14, name="branch", kind="wood")
    return replace(
        like,
        key="branch",
        vertices_m=points,
        faces=faces,
        closed_vertices_m=points,
        closed_faces=faces,
        convex_m=tuple(corners),
        volume_l=1000 * whole.volume(),
    )


# The middle is 51 cm long and 21 cm deep within a hand's room of all panes. The board takes 30 x 12 cm of it; of two stones of
# 13 x 13 cm one finds room beside it, the other only where the board passes over it.
def test_wood_passes_over_stones_and_shares_no_room_with_them():
    low = [box(0.13, 0.13, 0.07, name=str(k)) for k in range(2)]
    found = propose(TANK, GROUND, [*low, table_of_wood()], count=1, effort=Effort(runs=6, steps=4000))
    (best,) = found
    assert best.left_out == () and len(best.layout.placements) == 3 and breaches(best.layout) == ()
    (wood,) = [one for one in best.layout.placements if best.layout.pieces[one.piece].kind == "wood"]
    # It is placed after what it passes over.
    assert wood.number == 3


def test_small_stones_stand_up_to_large_ones():
    on_hand = [box(0.12, 0.12, 0.12, name="large"), *(box(0.05, 0.05, 0.05, name=str(k)) for k in range(3))]
    found = propose(TANK, GROUND, on_hand, count=1, effort=Effort(runs=4, steps=4000))[0]
    points = {number: KDTree(at[:, :2]) for number, at in stood_points(found.layout).items()}
    large = points.pop(1)
    # Points of a skin lie 4 mm apart. The nearest touches; another may have it between itself and the large one.
    gaps = sorted(float(large.query(tree.data)[0].min()) for tree in points.values())
    assert gaps[0] < 0.01 and gaps[1] < 0.06


@pytest.mark.parametrize("count", [0, 1, 40])
def test_none_one_and_forty_pieces_in_a_tank_of_20_cm(count):
    small = glass(0.2, 0.2, 0.2, water=0.18)
    on_hand = [box(0.03, 0.03, 0.04, name=str(k), kind="wood" if k % 2 else "stone") for k in range(count)]
    found = propose(small, bed(small, depth=0.03), on_hand, effort=QUICK)
    assert (found == ()) == (count == 0)
    for item in found:
        assert broken(item.layout) == [] and 1 <= len(item.layout.placements) <= count


def test_a_tank_of_3_m_is_no_trouble():
    long = glass(3.0, 0.6, 0.5, water=0.45)
    found = propose(long, bed(long, cell=0.02), [box(0.3, 0.2, 0.2), box(0.1, 0.1, 0.1)], count=1, effort=QUICK)
    assert broken(found[0].layout) == []


@dataclass(frozen=True)
class Rested:
    layout: object
    accepted: bool


def test_what_moves_or_breaks_a_rule_when_it_is_let_go_is_dropped():
    on_hand = stones(np.random.default_rng(1), 2)
    asked = {"count": 2, "effort": Effort(runs=4, steps=300, settled=3)}
    kept = propose(TANK, GROUND, on_hand, settle=lambda item: Rested(item, True), **asked)
    assert kept and all(item.was_settled for item in kept)
    assert propose(TANK, GROUND, on_hand, settle=lambda item: Rested(item, False), **asked) == ()

    def pushed(item):
        first = item.placements[0]
        x, y, z = first.position_m
        return Rested(item.with_placement(Placement(first.number, first.piece, (x - 1, y, z))), True)

    assert propose(TANK, GROUND, on_hand, settle=pushed, **asked) == ()


# A plate whose scan stands on a corner lies down on one of its two broad faces.
def test_a_piece_is_laid_the_way_up_it_rests():
    plate = box(0.12, 0.1, 0.02)
    on_edge = np.asarray(rotation((np.cos(0.4), np.sin(0.4), 0.0, 0.0)))
    turned = plate.closed_vertices_m @ on_edge.T
    scanned = replace(
        plate,
        key="scan",
        vertices_m=turned,
        closed_vertices_m=turned,
        convex_m=(turned,),
        inertia_kg_m2=on_edge @ plate.inertia_kg_m2 @ on_edge.T,
    )
    found = rotation(resting_turn(scanned, GROUND, settled, 0.12)) @ on_edge
    assert abs(found[2, 2]) > np.cos(np.radians(10))


def test_what_was_let_go_stays_when_it_is_let_go_again():
    on_hand = [pebble(k, 0.12 - 0.02 * k, 0.08, 0.06) for k in range(3)]
    found = propose(TANK, GROUND, on_hand, count=2, effort=Effort(runs=3, steps=500, settled=3), settle=settled)
    assert len(found) == 2
    for item in found:
        assert item.was_settled and settled(item.layout).accepted and breaches(item.layout) == ()
        assert all(placed.position_m[2] < 0.05 + 0.06 for placed in item.layout.placements)


def test_progress_is_told_and_a_stop_gives_the_best_so_far():
    told = []

    def twice(progress):
        told.append(progress)
        return len(told) < 2

    found = propose(TANK, GROUND, stones(np.random.default_rng(1), 2), effort=QUICK, on_progress=twice)
    assert [(item.stage, item.done, item.of) for item in told] == [("search", 1, 3), ("search", 2, 3)]
    assert len(found) >= 1 and told[1].best is not None


def test_on_a_slope_every_piece_stands_where_soil_bears_it_all_round():
    tank = glass(0.6, 0.3, 0.3, water=0.28)
    ground = bed(tank, depth=0.05)
    sloped = replace(ground, top_m=np.broadcast_to(0.03 + 0.1 * ground.y_m[:, None] / 0.3, ground.top_m.shape).copy())
    found = propose(tank, sloped, [box(0.06, 0.05, 0.05, name=str(k)) for k in range(3)], count=3, effort=QUICK)
    assert found
    for item in found:
        for one in item.layout.placements:
            _, y, z = stood(item.layout.pieces[one.piece].vertices_m, one).T
            # The soil rises by 1 in 3 to the rear. A sixth of the piece's depth before its middle there is soil under it,
            # within a cell of the search and what a turn to and fro closes.
            assert 0.03 + (one.position_m[1] - np.ptp(y) / 6) / 3 >= z.min() - 0.009


@pytest.mark.parametrize("asked", [{"count": 0}, {"seed": -1}, {"hand_m": float("nan")}, {"burial_share": 1.0}])
def test_numbers_outside_their_range_are_refused(asked):
    with pytest.raises(OutOfRange, match=next(iter(asked))):
        propose(TANK, GROUND, [box(0.1, 0.1, 0.1)], **asked)
    with pytest.raises(NotFound, match="maze"):
        propose(TANK, GROUND, [], intent="maze")
