"""The scene beside a job is what its plan is made with; without one a proposal is, and each says so."""

from dataclasses import replace

import pytest

from slackwater.actions.laying import beside, lay_job
from slackwater.job.catalog import load_catalog
from slackwater.layout.asked import Beside, Care
from slackwater.layout.compose import Anew, empty_layout, numbered_as_placed
from slackwater.layout.gltf import to_glb
from slackwater.layout.scene import Placement
from slackwater.plan import water_plan
from slackwater.tank.assess import assess_tank
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from

CATALOG = load_catalog()
STONE = {
    "stones": [{"material": "stone_granite", "pieces": ["4 kg"], "sizes": ["16 x 14 x 12 cm"]}],
    "wood": [],
}
ONE_STONE = job_from("light-well", **STONE)
BRIEF = Care(runs=1, tries=200, settle=False)


@pytest.fixture(scope="module")
def scene():
    """The one stone of the job on the middle of the bed, held up clear of it; 4 kg at 2.65 kg/L."""
    shape = assess_tank(ONE_STONE, CATALOG).result
    empty, (stone,), findings = empty_layout(ONE_STONE, CATALOG, shape, Beside(), Anew())
    assert not findings
    lowest = stone.vertices_m[:, 2].min()
    return replace(empty, placements=(Placement(number=1, piece=stone.key, position_m=(0.3, 0.3, 0.3 - lowest)),))


def laid(job, tmp_path, files=None, care=BRIEF):
    return lay_job(job, CATALOG, files=Beside(files or {}), cache=tmp_path, care=care)


def ids(found):
    return [finding.id for finding in found.stage.stage.findings]


def with_scene(**changes):
    return job_from("light-well", **STONE, layout={"scene": "a.glb"}, **changes)


def test_the_scene_beside_a_job_is_its_layout_and_its_litres_those_of_the_tank(tmp_path, scene):
    found = laid(with_scene(), tmp_path, {"a.glb": to_glb(scene)})
    result = found.stage.stage.result
    assert (result.source, [piece.number for piece in result.pieces]) == ("given", [1])
    assert not [name for name in ids(found) if name.startswith("layout.proposed")]
    # Nothing is buried and nothing out of the water, so the stone displaces all it has: 4 / 2.65 L.
    assert result.displaced.value_l == pytest.approx(4 / 2.65, rel=1e-5)
    assert result.buried.value_l == pytest.approx(0, abs=1e-9)
    plan = water_plan(with_scene(), CATALOG, version="test", laid=found.stage)
    net = next(figure for figure in plan.figures if figure.id == "tank.net_l")
    assert net.inputs["hardscape_l"] == pytest.approx(4 / 2.65, rel=1e-5)
    figure = next(figure for figure in plan.figures if figure.id == "layout.displaced_l")
    assert figure.inputs["columns_l"] == pytest.approx(figure.value, rel=1e-3)


# The job lists a stone whose scan is missing, then a smaller one without a scan; the larger is placed second here.
def test_findings_of_pieces_bear_the_numbers_of_the_drawings():
    job = job_from(
        "light-well",
        stones=[{"material": "stone_granite", "pieces": ["4 kg", "2 kg"], "mesh": "gone.stl"}],
        wood=[],
    )
    empty, pieces, findings = empty_layout(job, CATALOG, assess_tank(job, CATALOG).result, Beside(), Anew())
    (told,) = findings
    assert (told.id, told.about) == ("layout.scan_not_there", "1")
    placed = replace(
        empty,
        placements=(
            Placement(number=1, piece=pieces[1].key, position_m=(0.2, 0.3, 0.1)),
            Placement(number=2, piece=pieces[0].key, position_m=(0.4, 0.3, 0.1)),
        ),
    )
    (now,) = numbered_as_placed(findings, pieces, placed)
    assert (now.about, now.values["number"]) == ("2", 2)
    (nowhere,) = numbered_as_placed(findings, pieces, empty)
    assert nowhere.values["number"] == "–" and "4 kg" in finding_sentence(nowhere)


def test_the_public_looks_from_where_the_job_says_and_a_default_is_told(tmp_path, scene):
    files = {"a.glb": to_glb(scene)}

    def looked(**layout):
        job = job_from("light-well", **STONE, layout={"scene": "a.glb", **layout}, **{"tank.rim_height": "1.4 m"})
        stage = laid(job, tmp_path, files).stage.stage
        told = {item.field for item in stage.assumed}
        return stage.result.sights, told & {"layout.seated_eye", "layout.standing_eye", "layout.viewing_distance"}

    sights, told = looked(seated_eye="1.1 m", viewing_distance="3 m")
    height = job_from("light-well").tank.height_m
    assert {(one.posture, one.distance_m) for one in sights} == {("seated", 3.0), ("standing", 3.0)}
    assert sights[0].eye_m == pytest.approx(1.1 - (1.4 - height)) and 0 < sights[0].hidden_share < 1
    assert told == {"layout.standing_eye"}
    usual, told = looked()
    assert told == {"layout.seated_eye", "layout.standing_eye", "layout.viewing_distance"}
    assert {one.distance_m for one in usual} == {1.0, 2.0}


def test_half_a_stone_in_the_soil_is_soil_that_is_not_poured(tmp_path, scene):
    # Lowered until its whole height is below the surface at the middle: all that is buried counts once.
    (placement,) = scene.placements
    low = replace(scene, placements=(replace(placement, position_m=(0.3, 0.3, placement.position_m[2] - 0.25)),))
    found = laid(with_scene(), tmp_path, {"a.glb": to_glb(low)})
    result = found.stage.stage.result
    assert 0 < result.buried.value_l < 4 / 2.65
    assert result.buried.value_l + result.displaced.value_l == pytest.approx(4 / 2.65, rel=1e-5)
    plan = water_plan(with_scene(), CATALOG, version="test", laid=found.stage)
    order = next(figure for figure in plan.figures if figure.id == "layout.order_l")
    assert order.inputs["bedding_l"] == pytest.approx(result.buried.value_l)


def test_what_was_laid_once_is_read_again_bit_by_bit(tmp_path, scene):
    files = {"a.glb": to_glb(scene)}
    first, second = (laid(with_scene(), tmp_path, files) for _ in range(2))
    assert first.stage.stage == second.stage.stage
    assert first.scene == second.scene
    assert list(tmp_path.glob("*.json"))


def test_a_damaged_cache_is_no_error(tmp_path, scene):
    files = {"a.glb": to_glb(scene)}
    first = laid(with_scene(), tmp_path, files)
    next(tmp_path.glob("*.json")).write_text("{", encoding="utf-8")
    assert laid(with_scene(), tmp_path, files).stage.stage == first.stage.stage


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({}, "layout.scene_not_there"),
        ({"a.glb": b"no scene"}, "layout.scene_unusable"),
    ],
)
def test_a_scene_that_cannot_be_used_gives_way_to_a_proposal_and_is_told(tmp_path, files, told):
    found = laid(with_scene(), tmp_path, files)
    assert told in ids(found)
    assert "layout.proposed_not_settled" in ids(found)
    assert found.stage.stage.result.source == "proposed"


def test_a_scene_of_another_tank_is_not_taken(tmp_path, scene):
    found = laid(with_scene(**{"tank.length": "70 cm"}), tmp_path, {"a.glb": to_glb(scene)})
    assert "layout.scene_of_another_tank" in ids(found)


def test_pieces_that_the_job_does_not_list_are_told(tmp_path, scene):
    job = job_from(
        "light-well",
        **{**STONE, "stones": [{"material": "stone_granite", "pieces": ["9 kg"]}]},
        layout={"scene": "a.glb"},
    )
    assert "layout.scene_other_pieces" in ids(laid(job, tmp_path, {"a.glb": to_glb(scene)}))


def test_without_stone_and_wood_there_is_nothing_to_propose(tmp_path):
    found = laid(job_from("light-well", stones=[], wood=[]), tmp_path)
    assert found.stage.stage.result.pieces == ()
    assert found.stage.stage.result.displaced.value_l == 0
    assert not ids(found)


def test_a_job_that_lacks_the_stones_waits_for_them(tmp_path):
    assert laid(job_from("light-well", stones=None), tmp_path).stage is None


def test_size_against_mass_takes_the_mass_and_says_so(tmp_path, scene):
    stones = [{"material": "stone_granite", "pieces": ["4 kg"], "sizes": ["40 x 40 x 40 cm"]}]
    job = job_from("light-well", stones=stones, wood=[], layout={"scene": "a.glb"})
    found = laid(job, tmp_path)
    assert "layout.size_and_mass" in ids(found)


def test_files_outside_the_folder_of_the_job_are_not_read(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "out.glb").write_bytes(b"x")
    (tmp_path / "in" / "a.glb").write_bytes(b"y")
    for name, found in (("../out.glb", {}), (str(tmp_path / "out.glb"), {}), ("a.glb", {"a.glb": b"y"})):
        job = job_from("light-well", layout={"scene": name})
        assert beside(job, tmp_path / "in").files == found
