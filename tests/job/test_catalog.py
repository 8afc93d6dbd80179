"""The tables: sources, ranges, references between them; own rows on top; near matches."""

from __future__ import annotations

import difflib
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from slackwater.day.activities import PHASE_OF
from slackwater.errors import BadInput, NotFound
from slackwater.job.catalog import TABLES, load_catalog, read_table, shipped_table
from slackwater.water.salts import MEQ_L_PER_DKH, MMOL_L_PER_DGH, alkalinity_eq_per_mol, molar_mass_g_mol

CATALOG = load_catalog()


def test_every_row_says_where_it_comes_from():
    for table in TABLES:
        for row in getattr(CATALOG, table).values():
            assert re.search(r"common practice|published|from memory", row.source_kind), (table, row.id)


def test_ranges_run_upwards():
    for row in CATALOG.species.values():
        for low, high in (
            ("temp_min_c", "temp_max_c"),
            ("ph_min", "ph_max"),
            ("gh_min_dgh", "gh_max_dgh"),
            ("kh_min_dkh", "kh_max_dkh"),
        ):
            assert getattr(row, low) < getattr(row, high), row.id
    for row in CATALOG.parameters.values():
        numbers = [number for number in (row.low, row.typical, row.high) if number is not None]
        assert numbers == sorted(numbers), row.id
    for row in CATALOG.clocks.values():
        numbers = [number for number in (row.low_min, row.typical_min, row.high_min) if number is not None]
        assert numbers == sorted(numbers), row.id
    for row in CATALOG.activities.values():
        assert row.fixed_low <= row.fixed_typ <= row.fixed_high, row.id
        assert row.per_unit_low <= row.per_unit_typ <= row.per_unit_high, row.id
        assert row.people_min <= row.people_max, row.id


def test_what_comes_before_is_there_and_nothing_waits_in_a_circle():
    left = {row.id: set(row.after) for row in CATALOG.activities.values()}
    assert {name for after in left.values() for name in after} <= set(left)
    while left:
        free = {name for name, after in left.items() if not after & set(left)}
        assert free
        left = {name: after for name, after in left.items() if name not in free}


def test_every_activity_has_a_phase():
    assert set(CATALOG.activities) == set(PHASE_OF)


def test_clocks_start_and_end_with_activities():
    known = set(CATALOG.activities) | set(CATALOG.office_activities)
    for row in CATALOG.clocks.values():
        for text in (row.starts, row.ends):
            activity, _, side = text.partition(".")
            assert activity in known and side in ("start", "end"), row.id


# Minutes of the 200 L tank as the trade's table of activities prints them: low, typical, high.
PRINTED = {
    "E1": (20, 30, 50),
    "E5": (20, 30, 80),
    "E6": (20, 35, 130),
    "E10": (20, 30, 80),
    "E12": (25, 35, 90),
    "E17": (25, 45, 120),
    "E22": (45, 65, 150),
    "E24": (20, 30, 60),
    "E27": (20, 40, 90),
    "E29": (20, 30, 60),
}


@pytest.mark.parametrize(("name", "minutes"), PRINTED.items())
def test_rates_give_the_printed_minutes_for_the_reference_tank(name, minutes):
    row = CATALOG.activities[name]
    got = [
        fixed + rate * row.reference_quantity
        for fixed, rate in (
            (row.fixed_low, row.per_unit_low),
            (row.fixed_typ, row.per_unit_typ),
            (row.fixed_high, row.per_unit_high),
        )
    ]
    assert got == pytest.approx(minutes, abs=0.6)


def test_porosity_is_what_the_densities_leave():
    for row in CATALOG.materials.values():
        if row.id != "old_soil_wet":  # a wet bulk density
            assert row.porosity == pytest.approx(
                1 - row.bulk_density_kg_per_l / row.solid_density_kg_per_l, abs=0.021
            ), row.id


def test_salt_rows_agree_with_atomic_weights():
    for row in CATALOG.salts.values():
        if row.formula is None:
            continue
        mass = molar_mass_g_mol(row.formula) if row.formula not in ("C6H8O6",) else 176.12
        assert row.molar_mass_g_mol == pytest.approx(mass, abs=0.06), row.id
        if row.mg_per_l_for_1_dgh:
            assert row.mg_per_l_for_1_dgh == pytest.approx(mass * MMOL_L_PER_DGH, rel=0.005), row.id
        if row.mg_per_l_for_1_dkh:
            assert row.mg_per_l_for_1_dkh == pytest.approx(
                mass * MEQ_L_PER_DKH / alkalinity_eq_per_mol(row.formula), rel=0.005
            ), row.id


def test_an_empty_cell_is_unknown_and_not_zero():
    assert CATALOG.clocks["media.running_on_barrel"].low_min is None
    assert CATALOG.containers["tub_90"].heat_loss_w_per_k_lidded is None


def test_near_matches_help_with_a_slip():
    assert CATALOG.near("neon tetre", "species")[0] == "paracheirodon_innesi"
    assert CATALOG.near("anubias barteri", "plants")[0].startswith("anubias_barteri")


@pytest.mark.parametrize(
    ("said", "table", "rows"),
    [
        ("panda cory", "species", ("corydoras_panda",)),
        ("cardinal tetra", "species", ("paracheirodon_axelrodi",)),
        ("angelfish", "species", ("pterophyllum_scalare",)),
        ("Amano shrimp", "species", ("caridina_multidentata",)),
        ("cherry shrimp", "species", ("neocaridina_davidi",)),
        ("Petitella bleheri", "species", ("petitella_bleheri",)),
        ("Hemigrammus bleheri", "species", ("petitella_bleheri",)),
        ("rummy nose", "species", ("petitella_bleheri",)),
        ("cory", "species", ("corydoras_aeneus", "corydoras_panda", "corydoras_pygmaeus")),
        ("Amazon frogbit", "plants", ("limnobium_laevigatum",)),
    ],
)
def test_names_of_the_trade_lead_to_their_row_and_a_part_of_one_to_all_that_have_it(said, table, rows):
    assert CATALOG.near(said, table) == rows


def test_every_name_of_the_trade_means_one_row():
    assert [name.id for name in CATALOG.common_names.values() if CATALOG.id_of(name.id, name.table) != name.row] == []


def test_regulated_lists_know_synonyms_and_whole_genera():
    assert CATALOG.regulated("Pistia stratiotes")
    assert CATALOG.regulated("Pontederia crassipes")
    assert CATALOG.regulated("Pomacea bridgesii")
    assert not CATALOG.regulated("Anubias barteri")


def test_own_rows_override_and_add(tmp_path):
    head, neon = (
        shipped_table("species").splitlines()[0],
        next(line for line in shipped_table("species").splitlines() if line.startswith("paracheirodon_innesi")),
    )
    own = neon.replace(",0.4,", ",0.5,", 1)
    new = own.replace("paracheirodon_innesi", "my_tetra", 1)
    (tmp_path / "species.csv").write_text("\n".join([head, own, new]) + "\n")
    catalog = load_catalog(tmp_path)
    assert catalog.species["paracheirodon_innesi"].typical_mass_g == 0.5
    assert "my_tetra" in catalog.species and len(catalog.species) == len(CATALOG.species) + 1


def test_mishaps_befall_activities_of_the_day():
    assert len(CATALOG.mishaps) >= 6
    assert {row.activity for row in CATALOG.mishaps.values()} <= set(CATALOG.activities)


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        (
            "species.csv",
            "id,colour\nx,red\n",
            "species.csv, line 1: column colour is not known: leave it out; known are adult_length_mm, ",
        ),
        (
            "clocks.csv",
            shipped_table("clocks").replace("restarts_with", "restart_with", 1),
            "clocks.csv, line 1: column restart_with is not known: rename it to restarts_with; known are clock, ends, ",
        ),
        (
            "clocks.csv",
            shipped_table("clocks").replace(",high_min,", ",", 1),
            "clocks.csv, line 1: column high_min is missing: add it, .*; known are clock, ends, ",
        ),
        (
            "clocks.csv",
            shipped_table("clocks").replace("kind,restarts_with", "kind,restarted_low_min,restarts_with", 1),
            "clocks.csv, line 1: column restarted_low_min is reckoned for each job and never read; leave it out",
        ),
        (
            "mishaps.csv",
            "id,activity,what,probability,extra_low_min,extra_typical_min,extra_high_min,source_kind\nx,E5,w,0.1,9,5,20,k\n",
            "run upwards",
        ),
        (
            "mishaps.csv",
            "id,activity,what,probability,extra_low_min,extra_typical_min,extra_high_min,source_kind\nx,E5,w,1.1,1,5,20,k\n",
            'probability: "1.1"',
        ),
        (
            "parameters.csv",
            "id,quantity,unit,low,typical,high,distribution,formula_or_use,source,source_kind\nx,q,u,1,many,3,d,f,s,k\n",
            'line 2: typical: "many"',
        ),
        ("fish.csv", "id\nx\n", "no table of that name"),
        ("common_names.csv", "id,table,row,source_kind\nnemo,species,nemo,k\n", "nemo: no row nemo in species"),
    ],
)
def test_a_bad_own_table_is_named(tmp_path, name, text, says):
    (tmp_path / name).write_text(text)
    with pytest.raises(BadInput, match=says):
        load_catalog(tmp_path)


def test_a_table_headed_as_before_restarts_were_reckoned_is_read(tmp_path):
    (tmp_path / "clocks.csv").write_text(shipped_table("clocks"))
    assert "restarted_low_min" not in shipped_table("clocks")
    assert load_catalog(tmp_path) == CATALOG


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(NotFound, match="no such catalog folder"):
        load_catalog(tmp_path / "nowhere")


def test_the_same_row_twice_is_refused():
    head, first = shipped_table("prices").splitlines()[:2]
    with pytest.raises(BadInput, match="stands twice"):
        read_table("\n".join([head, first, first]), TABLES["prices"], file_name="prices.csv")


@given(st.sampled_from(sorted(CATALOG.plants)), st.text("abcdeilnorst 1", max_size=6), st.integers(0, 20))
def test_near_names_are_those_of_comparing_with_every_row(name, typed, at):
    said = " ".join(f"{name[:at]}{typed}{name[at + 2 :]}".replace("_", " ").split())
    assume(CATALOG.id_of(said, "plants") is None)
    texts = CATALOG._texts["plants"]
    begun = [
        text
        for text, _ in texts
        if len(said) >= 3 and all(any(word.startswith(part) for word in text.split()) for part in said.split())
    ]
    close = difflib.get_close_matches(said, [text for text, _ in texts], n=6, cutoff=0.6)
    rows = dict.fromkeys(row for near in (*begun, *close) for text, row in texts if text == near)
    assert CATALOG.near(said, "plants") == tuple(rows)[:3]
