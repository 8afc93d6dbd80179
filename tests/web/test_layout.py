"""The layout of a job in the office: acts on the draft, what is refused, versions, and who may do what. No settling, no search."""

from __future__ import annotations

from typing import get_args

import pytest

from slackwater.actions import editing_layout
from slackwater.actions.drafts import MOST_JOBS, OpenDraft
from slackwater.actions.layout_work import make_pieces, pieces_folder
from slackwater.actions.plan_work import Wanted, laid_with, place_of, saved_scene
from slackwater.book import jobs, layouts, tasks
from slackwater.book.ids import new_id
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.job.model import Intent
from slackwater.layout.arrange import Reason
from slackwater.layout.gltf import from_glb
from slackwater.layout.plain import from_plain, to_plain
from slackwater.layout.score import INTENTS
from slackwater.web.layout import reasons_of
from tests.web.conftest import NOW
from tests.web.doors import add_people, sign_in

TANK = """
format = 1
name = "Two stones"
[tank]
length = "100 cm"
width = "40 cm"
height = "40 cm"
water_line = "36 cm"
public_sides = ["front", "rear"]
[bed.shape]
form = "edges"
front = "5 cm"
rear = "5 cm"
[bed.soil]
material = "soil_active_granular"
[[stones]]
material = "stone_granite"
pieces = ["4 kg", "2 kg"]
"""
BED_L = 100 * 40 * 5 / 1000
WATER_L = 100 * 40 * 31 / 1000


@pytest.fixture
def job(office):
    make_pieces({"text": TANK, "catalog": "", "pieces": str(pieces_folder(office.settings))}, lambda _: None)
    return jobs.create(office.book, text=TANK, at=NOW, by="").id


@pytest.fixture
def ask(call, job):
    """Ask the API of this job's layout."""

    def asked(path="", body=None, **more):
        address = f"/api/jobs/{job}/layout{path}"
        return call.get(address, **more) if body is None else call.post(address, json=body, **more)

    return asked


def placed(ask, x=0.3, y=0.2, revision=0, n=0):
    key = ask().json()["pieces"][n]["key"]
    return ask("/edits", {"revision": revision, "edits": [{"act": "place", "piece": key, "x_m": x, "y_m": y}]})


def litres(ask):
    return {line["id"]: line["value"] for line in ask("/figures").json()["lines"]}


def test_an_empty_layout_is_the_bed_of_the_survey(ask):
    scene = ask().json()
    assert scene["glass"]["public_sides"] == ["front", "rear"]
    assert [round(piece["mass_kg"], 6) for piece in scene["pieces"]] == [4, 2]
    assert scene["state"]["placements"] == [] and scene["state"]["revision"] == 0
    assert litres(ask)["soil"] == f"{BED_L:g} L" and litres(ask)["water"] == f"{WATER_L:g} L"


def test_a_placed_piece_is_pressed_into_the_soil_and_undone(ask):
    state = placed(ask).json()
    (item,) = state["placements"]
    assert item["centre_m"][:2] == pytest.approx([0.3, 0.2]) and item["number"] == 1
    # Soil 5 cm deep, pressed in by 12 % of its height.
    assert item["low_m"] == pytest.approx(0.05 - 0.12 * (item["high_m"] - item["low_m"]), abs=0.001)
    assert litres(ask)["mass"] == "4 kg"
    assert state["can_undo"] and not state["can_redo"]
    undone = ask("/undo", {"revision": state["revision"]}).json()
    assert undone["placements"] == [] and undone["can_redo"] and not undone["can_undo"]
    again = ask("/redo", {"revision": undone["revision"]}).json()
    assert again["placements"] == state["placements"]
    assert ask("/redo", {"revision": again["revision"]}).status_code == 422


@pytest.mark.parametrize(
    ("edit", "status", "said"),
    [
        ({"act": "place", "piece": "of nobody", "x_m": 0.5, "y_m": 0.2}, 404, "not on hand"),
        ({"act": "put", "number": 1, "position_m": [0, 0.2, 0.1], "turn": [1, 0, 0, 0]}, 422, "through the glass"),
        ({"act": "put", "number": 1, "position_m": [0.3, 0.2, -0.05], "turn": [1, 0, 0, 0]}, 422, "bottom glass"),
        ({"act": "put", "number": 1, "position_m": [0.3, 0.2, 0.1], "turn": [0, 0, 0, 0]}, 422, "no direction"),
        ({"act": "take_out", "number": 7}, 404, "number 7"),
        ({"act": "shape", "stroke": "raise", "line_m": [[0.5, 0.2]], "height_m": 0.9}, 422, "over the rim"),
    ],
    ids=["unknown", "glass", "bottom", "no turn", "no number", "rim"],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_changes_nothing(ask, edit, status, said):
    state = placed(ask).json()
    before = ask().json()["state"]
    harmless = {"act": "lock", "number": 1}
    answer = ask("/edits", {"revision": state["revision"], "edits": [harmless, edit]})
    assert answer.status_code == status and said in answer.json()["message"]
    assert ask().json()["state"] == before


def test_who_comes_second_is_told_and_keeps_nothing(ask):
    state = placed(ask).json()
    late = ask("/edits", {"revision": state["revision"] - 1, "edits": [{"act": "clear"}]})
    assert late.status_code == 409
    assert len(ask().json()["state"]["placements"]) == 1


def test_a_bed_comes_along_only_where_it_is_another(ask):
    mark = ask().json()["state"]["bed"]["mark"]
    edit = {"act": "shape", "stroke": "mound", "line_m": [[0.5, 0.2]], "radius_m": 0.1, "height_m": 0.12}
    state = ask("/edits", {"revision": 0, "bed": mark, "edits": [edit]}).json()
    assert state["bed"]["mark"] != mark
    # A cone of 12 cm on soil of 5 cm: what rises over 5 cm is a cone 7 cm high, as wide as the slope leaves it.
    cone_l = 3.14159 / 3 * (0.1 * 7 / 12) ** 2 * 0.07 * 1000
    assert float(litres(ask)["soil"].split()[0]) == pytest.approx(BED_L + cone_l, abs=0.06)
    locked = ask("/edits", {"revision": state["revision"], "bed": state["bed"]["mark"], "edits": [{"act": "rest"}]})
    assert locked.status_code == 200


def test_a_draft_outlives_the_office_and_versions_are_never_overwritten(office, ask, job):
    state = placed(ask).json()
    saved = ask("/versions", {"revision": state["revision"], "title": "  First   try "}).json()
    assert saved["based_on"] == 1
    moved = placed(ask, x=0.7, revision=saved["revision"], n=1).json()
    kept = layouts.draft(office.book, job)
    # Another office on the same book: nothing in memory.
    assert office.drafts.get(job, kept.revision)
    for _ in range(MOST_JOBS):
        office.drafts.put(new_id(NOW), OpenDraft(0, 0, []))
    assert office.drafts.get(job, kept.revision) is None
    assert ask().json()["state"]["placements"] == moved["placements"]
    again = ask("/versions", {"revision": moved["revision"]}).json()
    assert [(row["number"], row["title"]) for row in ask("/versions").json()] == [(2, ""), (1, "First try")]
    first = from_glb(layouts.scene(office.book, job, 1))
    assert len(first.placements) == 1 and len(from_glb(layouts.scene(office.book, job, 2)).placements) == 2
    back = ask("/versions/1/back", {"revision": again["revision"]}).json()
    assert back["placements"] == state["placements"] and len(layouts.versions(office.book, job)) == 2


def test_a_plan_takes_the_newest_saved_layout(office, ask, job):
    def inputs():
        return place_of(office.settings, office.book, Wanted(job, 1, "metric"), on=NOW.date()).hash

    before = inputs()
    state = placed(ask).json()
    assert inputs() == before and not saved_scene(office.book, job)  # a draft is nobody's word yet
    ask("/versions", {"revision": state["revision"]})
    scene = saved_scene(office.book, job)
    assert inputs() != before and len(from_glb(scene).placements) == 1
    # Both stones are asked for and one is placed: only that one's litres stand in the water and the soil.
    text = TANK.replace("[tank]", "wood = []\n[tank]", 1)
    stage = laid_with(
        read_job(text, file_name="job"), load_catalog(None), scene, office.settings.layouts, lambda _: None
    )
    assert stage.stage.result.source == "given"
    assert [piece.number for piece in stage.stage.result.pieces] == [1]


def test_places_and_heights_come_back_bit_by_bit(office, ask, job):
    placed(ask)
    layout = editing_layout.see(office, job).layout
    told, gone = from_plain(to_plain(layout), layout)
    assert told.placements == layout.placements and gone == ()
    assert (told.bed.top_m == layout.bed.top_m).all() and (told.bed.x_m == layout.bed.x_m).all()


def test_a_page_without_script_does_the_same(call, ask, job):
    key = ask().json()["pieces"][0]["key"]
    form = {"act": "place", "revision": "0", "piece": key, "x": "30,0", "y": "20"}
    assert call.post(f"/jobs/{job}/layout", data=form).status_code == 303
    (item,) = ask().json()["state"]["placements"]
    put = {"act": "put", "revision": "1", "number": "1", "x": "40", "y": "20", "low": "6", "turn": "90", "lean": "0", "tip": "0"}  # fmt: skip
    assert call.post(f"/jobs/{job}/layout", data=put).status_code == 303
    (item,) = ask().json()["state"]["placements"]
    assert item["centre_m"][:2] == pytest.approx([0.4, 0.2]) and item["low_m"] == pytest.approx(0.06)
    assert item["angles_deg"] == pytest.approx([90, 0, 0], abs=1e-6)
    page = call.get(f"/jobs/{job}/layout").text
    assert 'value="40.0"' in page and 'value="90"' in page
    wrong = call.post(f"/jobs/{job}/layout", data={**put, "revision": "2", "x": "far"})
    assert wrong.status_code == 422 and "is no number: far" in wrong.text
    through = call.post(f"/jobs/{job}/layout", data={**put, "revision": "2", "x": "1"})
    assert through.status_code == 422 and "through the glass" in through.text


def test_pieces_are_made_as_long_work_before_a_layout_opens(office, call):
    new = jobs.create(office.book, text=TANK, at=NOW, by="").id
    early = call.get(f"/api/jobs/{new}/layout")
    assert early.status_code == 409 and "being made" in early.json()["message"]
    page = call.get(f"/jobs/{new}/layout")
    (task,) = tasks.of_job(office.book, new)
    assert page.status_code == 303 and page.headers["location"] == f"/tasks/{task.id}"


def test_a_job_that_tells_no_tank_says_what_it_lacks(office, call):
    bare = jobs.create(office.book, text='format = 1\nname = "x"\n', at=NOW, by="").id
    page = call.get(f"/jobs/{bare}/layout")
    assert page.status_code == 200 and "size of the tank" in page.text


def test_the_crew_looks_and_owners_change(office, call, ask, job):
    placed(ask)
    add_people(office)
    crew, owner = sign_in(call, "crew"), sign_in(call, "owner")
    assert ask(headers=crew).status_code == 200 and ask("/figures", headers=crew).status_code == 200
    edits = {"revision": 1, "edits": [{"act": "lock", "number": 1}]}
    assert ask("/edits", edits, headers=crew).status_code == 403
    assert ask("/edits", edits, headers=owner).status_code == 200


@pytest.mark.parametrize("reason", get_args(Reason))
def test_what_a_proposal_leaves_out_is_told_by_its_name(reason):
    left = {"name": "the long root", "mass_kg": 1.6, "reason": reason}
    (told,) = reasons_of({"parts": [], "left_out": [left]}, "metric")
    assert told.startswith("the long root (1.6 kg) ") and told.endswith(".")


@pytest.mark.parametrize("intent", get_args(Intent))
def test_every_intent_that_the_page_offers_is_one_that_can_be_scored(ask, call, job, intent):
    assert f'<option value="{intent}">' in call.get(f"/jobs/{job}/layout").text
    assert intent in INTENTS
    assert (
        ask("/proposals", {"revision": 99, "intent": intent}).status_code == 409
    )  # known; of a draft that is not there


def test_drawings_are_of_the_draft_as_it_is(call, ask, job):
    empty = call.get(f"/jobs/{job}/layout/drawings/plan.svg")
    assert empty.headers["content-type"] == "image/svg+xml"
    placed(ask)
    for name in ("plan", "front", "rear", "left", "right", "long", "cross"):
        drawn = call.get(f"/jobs/{job}/layout/drawings/{name}.svg")
        assert drawn.status_code == 200 and drawn.text.startswith("<svg ")
    number = ">1</text>"
    assert number in call.get(f"/jobs/{job}/layout/drawings/plan.svg").text and number not in empty.text
    answer = call.get(f"/jobs/{job}/layout/drawings/below.svg")
    assert answer.status_code == 404 and "There are: plan, front" in answer.text
    assert call.get(f"/jobs/{job}/layout/drawings/plan.svg", params={"came": new_id(NOW)}).status_code == 404
