"""Reference rows: every one passes, every input counts, a wrong row is caught, a broken table is named."""

from __future__ import annotations

import json
import math

import pytest

from slackwater.actions.reference_rows import COMPUTED, CONSERVED, CONSTANT, NO_EFFECT, SELECTORS
from slackwater.actions.verify import Outcome, Row, check_row, read_rows, shipped_tables, verify
from slackwater.errors import BadInput

ROWS = [row for name, text in shipped_tables() for row in read_rows(text, file_name=name)]
COMPUTED_ROWS = [row for row in ROWS if (row.topic, row.inputs["quantity"]) in COMPUTED]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_a_reference_row_is_met(row):
    line = check_row(row)
    assert line.outcome in (Outcome.PASS, Outcome.WARNING), line.text()


# Another value of each input that is not a number, for which the answer must differ.
OTHER = {
    "coupling": {"good": "poor", "fair": "poor", "poor": "good"},
    "duration": {"<=1h": "2-8h", "1-2h": "<=1h", "2-8h": "<=1h"},
    "V_at_or_above_75cm": {True: True, False: True},
    "top_edge": {"free": "simply supported (braced)", "simply supported (braced)": "free"},
    "salt": {"CaSO4.2H2O": "CaCl2", "KNO3": "NaNO3", "MgSO4.7H2O": "MgSO4", "KHCO3": "K2CO3"},
    "ion": {"NO3": "K", "Mg": "SO4", "Ca": "SO4"},
    "delta": {"1 dGH": "2 dGH", "1 dKH": "2 dKH"},
    "at": {"maximum": "mid-point of free edge", "centre": "mid-point of free edge", "mid-point of free edge": "centre"},
}


def nudged(key, value):
    """A neighbouring value of an input, or None where there is none to try."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return 1.37 * value + (0.05 if value == 0 else 0)
    if key == "water_changes_day_fraction":
        return [*value, [0.5, 0.2]]
    if isinstance(value, list):
        return [1.37 * item for item in value]
    if isinstance(value, dict):
        return {name: nudged(name, item) for name, item in value.items()}
    if key == "conversion":
        return "degfH_to_degdH" if value != "degfH_to_degdH" else "degfH_to_mgL_CaCO3"
    if key == "edges":
        return "all simply supported" if "free" in value else "bottom and both sides simply supported, top free"
    if key == "load":
        return "uniform" if value.startswith("triangular") else "triangular, zero at top edge, q0 at bottom"
    found = OTHER[key].get(value)
    return (
        {
            "CaCl2.2H2O": "CaCl2",
            "CaCl2": "CaCO3",
            "CaCO3": "MgCO3",
            "MgCO3": "CaCO3",
            "MgSO4": "CaCO3",
            "K2CO3": "KHCO3",
            "Na2CO3": "KHCO3",
            "Ca(HCO3)2": "KHCO3",
        }.get(value, found)
        if key == "salt"
        else found
    )


def answer(row: Row, inputs):
    return COMPUTED[row.topic, str(row.inputs["quantity"])](inputs)


def test_no_input_of_any_row_is_ignored():
    moved = set()
    tried = set()
    for row in COMPUTED_ROWS:
        before = answer(row, row.inputs)
        for key, value in row.inputs.items():
            if key in SELECTORS or key in NO_EFFECT:
                continue
            name = (row.topic, row.inputs["quantity"], key)
            tried.add(name)
            try:
                after = answer(row, {**row.inputs, key: nudged(key, value)})
                if name in CONSERVED:
                    assert math.isclose(after, before, rel_tol=1e-6) or key == "alkalinity_meq_per_kgw"
                    moved.add(name)
            except Exception:  # refused as out of range: then the input is read
                moved.add(name)
                continue
            if not math.isclose(after, before, rel_tol=1e-9, abs_tol=1e-12) or matters_elsewhere(row, key, value):
                moved.add(name)
    # An input may rest in one row (a body turned by zero degrees) but must count in some other.
    assert tried - moved == set()
    assert tried >= CONSERVED


def matters_elsewhere(row, key, value):
    """Whether an input counts once the row's other numbers are three times as large."""
    far = {
        other: 3 * number
        for other, number in row.inputs.items()
        if other != key and isinstance(number, int | float) and not isinstance(number, bool)
    }
    try:
        return answer(row, {**row.inputs, **far}) != answer(row, {**row.inputs, **far, key: nudged(key, value)})
    except Exception:
        return False


def test_a_missed_row_fails_and_a_missed_row_from_memory_warns(tmp_path):
    good = ROWS[0]
    for kind, outcome, passed in (("published", Outcome.MISS, False), ("from-memory", Outcome.WARNING, True)):
        row = Row(**{**good.__dict__, "value": good.value * 2, "kind": kind})
        assert check_row(row).outcome is outcome
        table = tmp_path / f"{kind}.csv"
        table.write_text(
            "id,topic,inputs_json,value,unit,rel_tol,abs_tol,source,kind\n"
            f'x-1,{good.topic},"{json.dumps(good.inputs).replace(chr(34), chr(34) * 2)}",{good.value * 2},u,0.001,0,s,{kind}\n'
        )
        assert verify([table], strict=False).passed is passed


def test_rows_without_a_function_are_listed_and_fail_only_when_strict(tmp_path):
    table = tmp_path / "new.csv"
    table.write_text(
        'id,topic,inputs_json,value,unit,rel_tol,abs_tol,source,kind\nm-1,moon,"{""quantity"": ""phase""}",1,u,0,0,s,published\n'
    )
    assert verify([table], strict=False).passed and not verify([table], strict=True).passed
    assert "not implemented: 1" in verify([table], strict=False).totals()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("id,topic\n", "line 1: column inputs_json is missing"),
        (
            "id,topic,inputs_json,value,unit,rel_tol,abs_tol,source,kind\nx,t,{},one,u,0,0,s,k\n",
            'line 2: value: "one" is not a number',
        ),
        ("id,topic,inputs_json,value,unit,rel_tol,abs_tol,source,kind\nx,t,{,1,u,0,0,s,k\n", "line 2"),
        ("id,topic,inputs_json,value,unit,rel_tol,abs_tol,source,kind\nx,t,{},1,u,0,0,s,k\n", "names its quantity"),
    ],
)
def test_a_broken_table_is_named(text, says):
    with pytest.raises(BadInput, match=says):
        read_rows(text, file_name="t.csv")


def test_computed_and_constant_rows_are_counted_apart():
    report = verify(None, strict=True)
    assert report.passed
    computed, constant, _ = report.totals()
    assert computed.startswith(f"computed: {len(COMPUTED_ROWS)} pass")
    assert constant.startswith(f"constant: {len(ROWS) - len(COMPUTED_ROWS)} pass")
    assert not set(COMPUTED) & set(CONSTANT)
