"""Boxes: every animal once, none with what eats it, no box overloaded, as few boxes as trying everything finds."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.living.packing import Holder, Kind, may_share, pack, suits

LOAD = {"fish": 3.0, "shrimp": 6.0}
BOX = Holder("box_30", 22, 20, True, LOAD)
TUB = Holder("tub_45", 34, 30, False, LOAD)
SMALL = Holder("shrimp_5", 3.5, 15, True, LOAD)
TETRA = Kind("tetra", 24, 0.7, "fish", least_together=6)
RASBORA = Kind("rasbora", 20, 0.6, "fish", least_together=6, jumps=True)
ANGEL = Kind("angel", 4, 28, "fish", depth_cm=25, jumps=False)
SHRIMP = Kind("shrimp", 60, 0.2, "shrimp")
SNAIL = Kind("snail", 5, 1.0, "snail")


def check(packed, kinds, holders):
    placed = {kind.id: 0 for kind in kinds}
    by_id = {kind.id: kind for kind in kinds}
    for place, content in packed.boxes:
        holder = holders[place]
        for name, count in content.items():
            placed[name] += count
            assert suits(by_id[name], holder)
            assert count >= min(by_id[name].least_together, by_id[name].count)
        for one, two in itertools.combinations(content, 2):
            assert may_share(by_id[one], by_id[two])
        litres = sum(
            count * by_id[name].mass_g / holder.load_g_l["fish" if by_id[name].group == "fish" else "shrimp"]
            for name, count in content.items()
        )
        assert litres <= holder.usable_l + 1e-6
    assert placed == {kind.id: kind.count for kind in kinds}
    assert packed.spare not in {place for place, _ in packed.boxes}


def test_small_shoals_share_and_others_stay_apart():
    holders = [BOX, BOX, TUB, SMALL, SMALL]
    packed = pack([TETRA, RASBORA, SHRIMP, SNAIL], holders)
    check(packed, [TETRA, RASBORA, SHRIMP, SNAIL], holders)
    # Two light shoals in one box, shrimp with snails in another.
    assert len(packed.boxes) == 2 and packed.spare is not None and packed.proven


def test_animals_that_are_boarded_share_a_box_with_nobody_who_stays():
    leaving = replace(RASBORA, leaves=True)
    holders = [BOX, BOX, BOX]
    packed = pack([TETRA, leaving], holders)
    check(packed, [TETRA, leaving], holders)
    assert may_share(TETRA, RASBORA) and not may_share(TETRA, leaving)
    assert len(packed.boxes) == 2 and len(pack([TETRA, RASBORA], holders).boxes) == 1


def test_tall_fish_get_depth_and_jumpers_a_lid():
    holders = [BOX, TUB, TUB, TUB, TUB]
    kinds = [ANGEL, RASBORA]
    packed = pack(kinds, holders)
    check(packed, kinds, holders)
    assert pack([RASBORA], [TUB]) is None
    assert pack([ANGEL], [BOX, BOX]) is None


def test_the_last_box_is_used_before_anything_is_given_up():
    packed = pack([TETRA, SHRIMP], [BOX, SMALL, SMALL])
    assert packed is not None
    tight = pack([TETRA], [BOX])
    assert tight.spare is None and len(tight.boxes) == 1


def test_no_animals_and_no_boxes():
    assert pack([], [BOX]).boxes == () and pack([], [BOX]).spare == 0
    assert pack([TETRA], []) is None


def test_five_hundred_shrimp_are_spread():
    many = Kind("shrimp", 500, 0.2, "shrimp")
    holders = [SMALL] * 4 + [BOX] * 2
    packed = pack([many], holders)
    check(packed, [many], holders)
    assert len(packed.boxes) == 1  # 100 g at 6 g/L fit one box of 22 L


kinds_drawn = st.lists(
    st.builds(
        Kind,
        id=st.sampled_from("abc"),
        count=st.integers(1, 12),
        mass_g=st.sampled_from([0.3, 0.7, 1.2, 6.0]),
        group=st.sampled_from(["fish", "fish", "shrimp", "snail"]),
        least_together=st.sampled_from([1, 4]),
        jumps=st.booleans(),
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda kind: kind.id,
)


@settings(max_examples=40)
@given(kinds_drawn, st.lists(st.sampled_from([BOX, TUB, SMALL]), min_size=1, max_size=4))
def test_as_few_boxes_as_trying_every_whole_placement(kinds, holders):
    packed = pack(kinds, holders)
    # Every way to put each kind whole into one box; splitting may do with as many boxes, never needs to do worse.
    fewest = None
    for places in itertools.product(range(len(holders)), repeat=len(kinds)):
        good = all(suits(kind, holders[place]) for kind, place in zip(kinds, places, strict=True))
        for one, two in itertools.combinations(range(len(kinds)), 2):
            good &= places[one] != places[two] or may_share(kinds[one], kinds[two])
        for box in set(places):
            litres = sum(
                kind.count * kind.mass_g / LOAD["fish" if kind.group == "fish" else "shrimp"]
                for kind, place in zip(kinds, places, strict=True)
                if place == box
            )
            good &= litres <= holders[box].usable_l
        if good and (fewest is None or len(set(places)) < fewest):
            fewest = len(set(places))
    if packed is not None:
        check(packed, kinds, holders)
    if fewest is not None:
        assert packed is not None and packed.proven
        assert len(packed.boxes) <= fewest


@pytest.mark.parametrize(("one", "two", "together"), [(TETRA, RASBORA, True), (TETRA, ANGEL, False), (SHRIMP, SNAIL, True), (TETRA, SHRIMP, False)])  # fmt: skip
def test_who_may_share(one, two, together):
    assert may_share(one, two) is may_share(two, one) is together
