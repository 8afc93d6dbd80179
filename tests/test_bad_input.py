"""Jobs that cannot be: a clear finding each, never a traceback, and everything else is still computed."""

from __future__ import annotations

import pytest

from slackwater.finding import Severity, Verdict
from slackwater.plan import plan
from tests.jobs import job_from
from tests.plans import QUICK, ROUGH, UNASKED, catalog

FAR = [{"kind": "day", "start": "2027-02-10 06:30", "end": "2027-02-10 06:30"}]


@pytest.mark.parametrize(
    ("change", "finding", "severity"),
    [
        ({"tank.water_line": "50 cm"}, "tank.water_line_above_rim", Severity.MISFIT),
        ({"tank.water_line": "44 cm"}, "tank.water_line_raised", Severity.CONDITION),
        ({"bed.shape.top": "45 cm", "bed.retainers": True}, "layout.soil_above_water", Severity.MISFIT),
        ({"bed.shape.top": "22 cm"}, "layout.slope_over_repose", Severity.MISFIT),
        (
            {"stones.0.largest_length": "60 cm", "stones.0.largest_width": "50 cm"},
            "tank.piece_too_large",
            Severity.MISFIT,
        ),
        ({"stones.0.material": "stone_clay_piited"}, "tank.material_unknown", Severity.MISSING),
        ({"livestock.0.species": "trigonostigma_heteromorfa"}, "job.species_unknown", Severity.MISSING),
        ({"livestock.0.count": "uncounted"}, "job.uncounted", Severity.MISSING),
        ({"plants.0.plant": "cryptocorine_wendti"}, "job.plant_unknown", Severity.MISSING),
        ({"containers.0.container": "box_46"}, "job.container_unknown", Severity.MISSING),
        ({"plants": []}, "job.no_plants", Severity.NOTE),
        ({"stones": [], "wood": []}, "job.no_hardscape", Severity.NOTE),
        ({"livestock": []}, "job.no_animals", Severity.NOTE),
        ({"site.windows": FAR}, "day.window_empty", Severity.MISFIT),
        ({"site.windows": FAR}, "job.window_backwards", Severity.MISFIT),
        ({"people": [{"id": "lead", "hourly_rate": 48}]}, "day.needs_two", Severity.MISFIT),
        ({"people.1.until": "2027-02-10 06:00"}, "day.person_never_here", Severity.MISFIT),
        ({"tank.work_places": 1}, "day.needs_two_places", Severity.MISFIT),
        ({"preparation.ro.feed_pressure": "0 bar"}, "water.ro_never_fills", Severity.MISFIT),
        (
            {"preparation.tap_allowed": False, "preparation.ro.rated_flow": "20 L/day"},
            "water.cannot_fill",
            Severity.MISFIT,
        ),
        ({"preparation.heater": "10 W", "site.room_temperature": "12 C"}, "water.heater_too_weak", Severity.MISFIT),
        ({"preparation.keep_old": "900 L"}, "water.keep_old_too_much", Severity.CONDITION),
        ({"containers": []}, "living.boxes_short", Severity.MISFIT),
        ({"containers": []}, "water.barrels_short", Severity.MISFIT),
        ({"animals_ill": True}, "job.animals_ill", Severity.REFUSE),
        ({"tank.seam_damage": True}, "job.seam_damage", Severity.REFUSE),
        ({"site.drain.permitted": False}, "job.drain_not_permitted", Severity.MISFIT),
        ({"water.tap.date": "2026-08-01"}, "job.test_other_season", Severity.CONDITION),
        ({"water.tank.date": "2027-01-01"}, "job.test_old", Severity.CONDITION),
        ({"water.tap.date": None}, "job.test_undated", Severity.CONDITION),
        ({"price.offer_valid_days": 3}, "job.offer_expired", Severity.CONDITION),
        ({"water.tap": None}, "job.fact_missing", Severity.MISSING),
        ({"tank.length": None}, "job.fact_missing", Severity.MISSING),
        ({"site.circuits.0.rcd_tested": False}, "tank.rcd_untested", Severity.CONDITION),
        ({"co2": {"cylinder": "6 kg"}, "site.room_volume": "40 m3"}, "tank.co2_room", Severity.CONDITION),
        ({"tank.wall": "4 mm", "tank.braced": False}, "tank.glass_stress", Severity.CONDITION),
        ({"stones.0.pieces": ["31 kg"]}, "tank.heavy_piece", Severity.CONDITION),
        ({"site.tap.softener": True}, "water.softener", Severity.CONDITION),
        ({"site.floor.stated_load": None}, "tank.floor_unknown", Severity.CONDITION),
    ],
)
def test_a_fact_that_cannot_stand_gives_its_finding(change, finding, severity):
    found = plan(job_from("blue-corridor", **change), catalog(), version="test", effort=UNASKED, thoroughness=ROUGH)
    mine = [item for item in found.findings if item.id == finding]
    assert mine and mine[0].severity is severity, sorted({item.id for item in found.findings})
    assert severity not in (Severity.MISFIT, Severity.REFUSE) or found.verdict in (
        Verdict.DOES_NOT_FIT,
        Verdict.DO_NOT_TAKE,
    )


def test_an_unknown_species_brings_near_matches():
    found = plan(
        job_from("blue-corridor", **{"livestock.0.species": "trigonostigma_heteromorfa"}),
        catalog(),
        version="t",
        effort=UNASKED,
    )
    near = next(item for item in found.findings if item.id == "job.species_unknown").values["near"]
    assert "trigonostigma_heteromorpha" in near


def test_a_helper_who_leaves_midway_is_named():
    change = {"people.1.until": "2027-02-10 10:00"}
    found = plan(job_from("blue-corridor", **change), catalog(), version="t", effort=UNASKED, thoroughness=ROUGH)
    assert [item.about for item in found.findings if item.id == "day.person_leaves_too_early"] == ["helper"]


def test_nobody_works_after_leaving():
    change = {"people.1.until": "2027-02-10 16:30"}
    found = plan(job_from("blue-corridor", **change), catalog(), version="t", effort=UNASKED, thoroughness=ROUGH)
    day = found.day
    if day is None:
        assert "day.person_leaves_too_early" in {item.id for item in found.findings}
        return
    assert day.broken_rules == ()
    assert all(entry.end_min <= 600 for entry in day.entries if "helper" in entry.crew)


def test_no_fish_means_no_boxes_and_no_catching():
    found = plan(job_from("blue-corridor", livestock=[]), catalog(), version="t", effort=UNASKED, thoroughness=ROUGH)
    assert found.water.boxes == ()
    assert not {"E5", "E6", "E7", "E27", "E28"} & {entry.activity for entry in found.day.entries}


def test_ill_animals_outweigh_everything_else():
    found = plan(
        job_from("blue-corridor", animals_ill=True, **{"tank.length": None}),
        catalog(),
        version="t",
        effort=UNASKED,
        thoroughness=ROUGH,
    )
    assert found.verdict is Verdict.DO_NOT_TAKE


def test_a_window_over_the_clock_change_has_its_real_length():
    # Europe/Berlin leaves summer time on 2027-10-31 at 03:00: 22:30 to 11:30 is fourteen hours that night.
    change = {
        "site.windows": [{"kind": "day", "start": "2027-10-30 22:30", "end": "2027-10-31 11:30"}],
        "site.quiet": [],
        "site.key_holder_leaves": None,
        "site.seen_from": "2027-10-31 02:00",
        "people": [{"id": "lead", "hourly_rate": 48}, {"id": "helper", "speed": 0.8, "hourly_rate": 30}],
    }
    found = plan(job_from("blue-corridor", **change), catalog(), version="t", effort=UNASKED, thoroughness=ROUGH)
    day = found.day
    assert "day.seen_before_done" in {item.id for item in found.findings}
    assert (day.closes - day.opens).total_seconds() / 3600 == 13 or day.closes.utcoffset() != day.opens.utcoffset()
    finish_min = max(entry.end_min for entry in day.entries)
    assert day.margin_min == 14 * 60 - finish_min


def test_a_price_that_cannot_be_told_yet_does_not_keep_a_day_from_fitting():
    change = {"people.2.on_call": False, "people.0.hourly_rate": None, "site.windows.1.end": "2027-02-10 23:00"}
    change["site.key_holder_leaves"] = None
    found = plan(job_from("blue-corridor", **change), catalog(), version="t", effort=QUICK, thoroughness=ROUGH)
    assert found.verdict is Verdict.FITS_IF and found.supply.price is None
    missing = next(item for item in found.findings if item.id == "job.fact_missing")
    assert missing.about == "the price" and "people.lead.hourly_rate" in missing.values["fields"]


def test_each_missing_part_names_the_facts_it_waits_for():
    found = plan(job_from("blue-corridor", people=None), catalog(), version="t", effort=UNASKED, thoroughness=ROUGH)
    missing = next(item for item in found.findings if item.id == "job.fact_missing" and item.about == "the day")
    assert "people" in missing.values["fields"]
    assert found.water is not None and found.bed is not None
