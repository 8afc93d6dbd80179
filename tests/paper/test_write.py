"""Papers come whole or not at all, the same each time, tagged, and bear whatever a user has typed."""

from __future__ import annotations

import json
import shutil

import pytest
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from slackwater.errors import Conflict
from slackwater.paper import write
from slackwater.paper.data import item_name, named_in
from slackwater.paper.sender import NOBODY
from slackwater.paper.write import figures_of, paper_of, papers_data, write_papers
from slackwater.plan import Plan, plan
from slackwater.reader import ENGLISH, Reader
from tests.jobs import job_from
from tests.plans import HARDLY, ROUGH, catalog, plan_of

JOB = job_from("blue-corridor")


@pytest.fixture(scope="module")
def papers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("papers") / "one"
    write_papers(plan_of("blue-corridor"), JOB, catalog(), folder, reader=ENGLISH)
    return folder


def text_of(path):
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_all_papers_are_there_and_tagged_for_screen_readers(papers):
    assert {path.name for path in papers.iterdir()} == {
        "plan.json",
        "calendar.ics",
        "day-sheet.pdf",
        "offer.pdf",
        "packing-list.pdf",
        "van-card.pdf",
        "cards.pdf",
        "handover.pdf",
        "gantt.svg",
        "places.svg",
        "critical.svg",
        "water-flow.svg",
        "water-making.svg",
        "living-boxes-1.svg",
        "living-weeks.svg",
        "living-changes.svg",
        "bed-plan.svg",
        "bed-section.svg",
        "planting-plan.svg",
    }
    for path in papers.glob("*.pdf"):
        root = PdfReader(path).trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root and root["/Lang"].startswith("en")


def test_the_day_sheet_holds_what_the_crew_needs(papers):
    text = text_of(papers / "day-sheet.pdf")
    for needed in (
        "Does not fit",
        "Stop and decide",
        "Clocks of the day",
        "Go or no-go",
        "latest start",
        "Put back as found",
        "spray the leaves at least every 5 min",
        "Peroxide 3 % only",
        "Cyanoacrylate",
        "30 mA",
        "harlequin",
        "34.7 L",
        "31 kg",
        "new-water barrel 1",
        "adjust, else stop",
        "Dust it in slowly",
        "Bringing them over",
        "What holds the recipe",
        "16 Japanese swamp shrimp",
        "careful end",
        "The boxes over the hours",
        "Peroxide on the bare glass",
        "The weeks after the restart",
    ):
        assert needed in text, needed
    for entry in plan_of("blue-corridor").day.entries:
        assert f"{entry.start:%H:%M}" in text


def test_an_offer_that_must_not_be_sent_says_so_and_hides_the_firms_costs(papers):
    text = text_of(papers / "offer.pdf")
    assert "Not an offer yet" in text and "Accepted" in text
    assert "overhead" not in text and "margin" not in text and "budget" not in text


def test_the_same_plan_gives_the_same_bytes(papers, tmp_path):
    again = tmp_path / "two"
    write_papers(plan_of("blue-corridor"), JOB, catalog(), again, reader=ENGLISH)
    for path in papers.iterdir():
        assert path.read_bytes() == (again / path.name).read_bytes(), path.name


def test_plan_json_follows_its_published_schema_and_comes_back(papers):
    raw = json.loads((papers / "plan.json").read_text(encoding="utf-8"))
    Draft202012Validator(Plan.model_json_schema(mode="serialization")).validate(raw)
    assert Plan.model_validate(raw) == plan_of("blue-corridor")


def test_us_units_on_request(tmp_path):
    plan, reader = plan_of("blue-corridor"), Reader("us")
    data, figures = papers_data(plan, JOB, catalog(), reader), figures_of(plan, catalog(), reader)
    (tmp_path / "us.pdf").write_bytes(paper_of("day-sheet", data, figures, NOBODY))
    text = text_of(tmp_path / "us.pdf")
    assert "9.16 gal" in text and "68.3 lb" in text  # 34.7 L of old soil, 31 kg of stone


def test_a_failure_half_way_leaves_what_was_there(papers, tmp_path, monkeypatch):
    out = shutil.copytree(papers, tmp_path / "plan")
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def fail(name, workshop, fonts):
        raise RuntimeError("the typesetter fell over")

    monkeypatch.setattr(write, "_typeset", fail)
    with pytest.raises(RuntimeError):
        write_papers(plan_of("blue-corridor"), JOB, catalog(), out, reader=Reader("us"))
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "cat.jpg").write_text("x")
    with pytest.raises(Conflict, match="holds other things"):
        write_papers(plan_of("blue-corridor"), JOB, catalog(), tmp_path / "photos", reader=ENGLISH)
    assert (tmp_path / "photos" / "cat.jpg").read_text() == "x"


def test_what_a_user_typed_is_never_read_as_markup(tmp_path):
    nasty = '#panic("no") $x^2$ *bold* <b> @ref \\ " ' + "very" * 60 + " حوض مائي"
    typed = {"site.rules": [nasty], "brief.wishes": [nasty], "brief.crew_notes": [f"sill {nasty}"]}
    agreed = {"price.terms": [f"loss {nasty}"], "price.deposit_share": "30 %"}
    job = job_from("blue-corridor", name=nasty, reference="[x](y)", **typed, **agreed)
    found = plan(job, catalog(), version="test", effort=HARDLY, thoroughness=ROUGH)
    write_papers(found, job, catalog(), tmp_path / "p", reader=ENGLISH)
    offer = text_of(tmp_path / "p" / "offer.pdf")
    assert '#panic("no")' in offer and 'loss #panic("no")' in offer
    assert 'sill #panic("no")' in text_of(tmp_path / "p" / "day-sheet.pdf")
    share = f"{found.supply.price.total * 3 / 10:,.2f}".replace(",", "\u202f")
    assert f"Of the total 30 %, {share}" in offer


def test_a_job_of_which_nothing_is_known_still_gets_its_papers(tmp_path):
    from slackwater.job.load import read_job
    from slackwater.job.starter import starter_text

    job = read_job(starter_text("empty"), file_name="x")
    found = plan(job, catalog(), version="test", effort=HARDLY, thoroughness=ROUGH)
    write_papers(found, job, catalog(), tmp_path / "p", reader=ENGLISH)
    assert "Cannot say yet" in text_of(tmp_path / "p" / "day-sheet.pdf")


@pytest.mark.parametrize(
    ("item", "name"),
    [
        ("cryptocoryne_wendtii", "brown or green water trumpet, Cryptocoryne wendtii"),
        ("epsom_salt", "Epsom salt, magnesium sulfate heptahydrate"),
        ("sodium_thiosulfate", "sodium thiosulfate pentahydrate"),
        ("quartz_sand_fine", "washed quartz sand, fine"),
        ("gloves_nitrile", "nitrile gloves"),
        ("pot_13_mm", "pot 13 mm"),
    ],
)
def test_what_is_ordered_is_called_by_its_names_in_the_tables_and_never_by_an_id(item, name):
    assert item_name(item, catalog(), ENGLISH) == name
    assert named_in(f"left out: {item}, towel", catalog(), ENGLISH) == f"left out: {name}, towel"
