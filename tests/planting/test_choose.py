"""The choice of plants is the best there is: against every choice counted out, on cases small enough for that."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.planting.choose import Area, Asked, Care, Pair, Sort, choose, cost_of, spent_cents

ZONES, PLANTS = (1, 2), ("a", "b", "c")


def price_of(asked, units):
    """Cost by the words of the page on planting, reckoned apart from the room's own code."""
    total = 0
    for zone, area in asked.areas.items():
        cover = sum(n * asked.sorts[p].cover_cm2 for (p, z), n in units.items() if z == zone)
        total += 1000 * max(area.wanted_cm2 - cover, 0)
        total += 3000 * max(cover - area.most_cm2, 0)
    for pair in asked.pairs:
        n = units.get((pair.plant, pair.zone), 0)
        total += n * asked.sorts[pair.plant].cover_cm2 * (pair.marks + 1) + (3000 if n else 0)
    everything = sum(n * asked.sorts[p].cover_cm2 for (p, _), n in units.items())
    fast = sum(n * asked.sorts[p].cover_cm2 for (p, _), n in units.items() if asked.sorts[p].fast)
    need = asked.fast_percent * everything - 100 * fast
    total += 200 * (0 if need <= 0 else (need + 99) // 100)
    return total + bill(asked, units)


def bill(asked, units):
    total = 0
    for name, sort in asked.sorts.items():
        n = sum(count for (p, _), count in units.items() if p == name)
        total += sort.price_cents * (n + ((n + 9) // 10 if sort.spares else 0))
    return total


def allowed(asked, units):
    for pair in asked.pairs:
        n = units.get((pair.plant, pair.zone), 0)
        sort = asked.sorts[pair.plant]
        if 0 < n < pair.least:
            return False
        if sort.stated is None:
            alone = -(-asked.areas[pair.zone].wanted_cm2 // sort.cover_cm2)
            if n > max(pair.least, alone):
                return False
    for name, sort in asked.sorts.items():
        n = sum(count for (p, _), count in units.items() if p == name)
        if sort.stated is not None and n != sort.stated and any(pair.plant == name for pair in asked.pairs):
            return False
        if sort.stated is None and sort.stock is not None and n > sort.stock:
            return False
    free = {p for (p, _), n in units.items() if n and asked.sorts[p].stated is None}
    if asked.most_species is not None and len(free) > asked.most_species:
        return False
    for zone, area in asked.areas.items():
        here = [p for (p, z), n in units.items() if n and z == zone and asked.sorts[p].stated is None]
        if asked.most_per_zone is not None and len(here) > asked.most_per_zone:
            return False
        stated_here = any(asked.sorts[pair.plant].stated is not None for pair in asked.pairs if pair.zone == zone)
        cover = sum(n * asked.sorts[p].cover_cm2 for (p, z), n in units.items() if z == zone)
        if not stated_here and cover > area.most_cm2:
            return False
    return asked.budget_cents is None or bill(asked, units) <= asked.budget_cents


def best_by_counting(asked, most=4):
    keys = [(pair.plant, pair.zone) for pair in asked.pairs]
    found = None
    for counts in product(range(most + 1), repeat=len(keys)):
        units = {key: n for key, n in zip(keys, counts, strict=True) if n}
        if allowed(asked, units):
            price = price_of(asked, units)
            found = price if found is None else min(found, price)
    return found


@st.composite
def small_questions(draw):
    areas = {zone: Area(wanted_cm2=draw(st.integers(0, 300)), most_cm2=0) for zone in ZONES}
    areas = {zone: Area(area.wanted_cm2, area.wanted_cm2 + draw(st.integers(0, 150))) for zone, area in areas.items()}
    sorts = {
        name: Sort(
            # Large enough that four units of one fill any zone.
            cover_cm2=draw(st.integers(75, 200)),
            price_cents=draw(st.integers(0, 900)),
            fast=draw(st.booleans()),
            spares=draw(st.booleans()),
            stock=draw(st.none() | st.integers(0, 5)),
        )
        for name in PLANTS
    }
    chosen = draw(st.lists(st.sampled_from(list(product(PLANTS, ZONES))), unique=True, min_size=1, max_size=4))
    pairs = [
        Pair(plant=p, zone=z, marks=draw(st.integers(0, 100)), least=draw(st.integers(1, 3))) for p, z in sorted(chosen)
    ]
    return Asked(
        areas=areas,
        sorts=sorts,
        pairs=pairs,
        budget_cents=draw(st.none() | st.integers(0, 4000)),
        fast_percent=draw(st.sampled_from([0, 0, 30, 100])),
        most_species=draw(st.none() | st.integers(0, 3)),
        most_per_zone=draw(st.none() | st.integers(1, 2)),
    )


@settings(max_examples=60, deadline=None)
@given(small_questions())
def test_no_choice_is_better_than_the_one_that_is_called_best(asked):
    found = choose(asked)
    assert found.proven
    assert allowed(asked, found.units)
    assert found.cost == price_of(asked, found.units) == cost_of(asked, found.units)
    assert found.cost == best_by_counting(asked)
    assert spent_cents(asked, found.units) == bill(asked, found.units)


@settings(max_examples=30, deadline=None)
@given(small_questions(), st.integers(1, 3))
def test_what_is_stated_is_planted_whole_whatever_it_costs(asked, stated):
    name = asked.pairs[0].plant
    own = Sort(asked.sorts[name].cover_cm2, asked.sorts[name].price_cents, stated=stated)
    sorts = {name: own} | {other: sort for other, sort in asked.sorts.items() if other != name}
    pairs = [Pair(p.plant, p.zone, p.marks, 1 if p.plant == name else p.least) for p in asked.pairs]
    asked = Asked(areas=asked.areas, sorts=sorts, pairs=pairs)
    found = choose(asked)
    assert sum(n for (plant, _), n in found.units.items() if plant == name) == stated
    assert found.cost == price_of(asked, found.units) == best_by_counting(asked)


def one_zone(**changes):
    known = {
        "areas": {1: Area(wanted_cm2=300, most_cm2=400)},
        "sorts": {"a": Sort(cover_cm2=100, price_cents=500), "b": Sort(cover_cm2=100, price_cents=600)},
        "pairs": [Pair("a", 1, marks=0), Pair("b", 1, marks=0)],
    }
    return Asked(**(known | changes))


def test_the_cheaper_of_two_alike_fills_the_zone():
    # Three pots at 5.00 cover 300 cm2: 3 x 100 x 1 for the place, one group 3000, 1500 of money.
    found = choose(one_zone())
    assert found.units == {("a", 1): 3}
    assert found.cost == 300 + 3000 + 1500


def test_a_budget_of_zero_plants_nothing_and_leaves_all_bare():
    found = choose(one_zone(budget_cents=0))
    assert found.units == {}
    assert found.cost == 300 * 1000


def test_a_budget_for_two_pots_buys_two():
    found = choose(one_zone(budget_cents=1499))
    assert found.units == {("a", 1): 2}


def test_a_spare_in_ten_counts_against_the_budget():
    # Three cups at 5.00 and a spare are 20.00: one cent less buys two and a spare.
    sorts = {"a": Sort(cover_cm2=100, price_cents=500, spares=True)}
    asked = {"sorts": sorts, "pairs": [Pair("a", 1, marks=0)]}
    assert choose(one_zone(budget_cents=2000, **asked)).units == {("a", 1): 3}
    assert choose(one_zone(budget_cents=1999, **asked)).units == {("a", 1): 2}


def test_what_cannot_be_had_gives_way_to_the_dearer():
    sorts = {"a": Sort(cover_cm2=100, price_cents=500, stock=0), "b": Sort(cover_cm2=100, price_cents=600)}
    assert choose(one_zone(sorts=sorts)).units == {("b", 1): 3}


def test_fast_growers_are_taken_where_a_share_is_asked_for():
    sorts = {"a": Sort(cover_cm2=100, price_cents=500), "b": Sort(cover_cm2=100, price_cents=600, fast=True)}
    found = choose(one_zone(sorts=sorts, fast_percent=30))
    assert found.units == {("b", 1): 3}  # A pot more of money costs less than a second group.


def test_no_group_is_smaller_than_it_reads():
    # Two of a pot that wants company of three do not stand; 300 cm2 stay bare rather.
    asked = one_zone(pairs=[Pair("a", 1, marks=0, least=3)], budget_cents=1000)
    assert choose(asked).units == {}


def test_the_same_question_has_the_same_answer():
    asked = one_zone()
    assert choose(asked) == choose(asked)


def test_a_search_that_is_cut_short_says_so_and_keeps_the_rules():
    areas = {zone: Area(wanted_cm2=317 + 13 * zone, most_cm2=420 + 13 * zone) for zone in range(1, 9)}
    sorts = {f"p{n}": Sort(cover_cm2=61 + 7 * n, price_cents=431 + 17 * n, fast=n % 3 == 0, stock=5) for n in range(12)}
    pairs = [Pair(name, zone, marks=(7 * n + 5 * zone) % 40, least=2) for n, name in enumerate(sorts) for zone in areas]
    asked = Asked(
        areas=areas, sorts=sorts, pairs=pairs, budget_cents=9000, fast_percent=40, most_species=5, most_per_zone=2
    )
    cut = choose(asked, care=Care(nodes=1))
    assert not cut.proven
    assert 0 < cut.gap <= 1
    assert cut.bound <= cut.cost == cost_of(asked, cut.units)
    assert spent_cents(asked, cut.units) <= 9000
    assert len({plant for plant, _ in cut.units}) <= 5


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"pairs": [Pair("z", 1, marks=0)]}, "z in zone 1"),
        ({"pairs": [Pair("a", 9, marks=0)]}, "a in zone 9"),
        ({"sorts": {"a": Sort(cover_cm2=0, price_cents=1)}, "pairs": []}, "a covers 0 cm2"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(changes, named):
    with pytest.raises(BadInput, match=named):
        one_zone(**changes)
