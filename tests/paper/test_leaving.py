"""Van card, cards and handover sheet: what goes out with the van, and what stays with the client's staff."""

from __future__ import annotations

import json
from datetime import date, timedelta
from importlib.resources import as_file, files

import pytest
import segno
import typst
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from slackwater.living.holding import Limits
from slackwater.paper.card_page import card_data
from slackwater.paper.contrast import bears_text, contrast_on_white
from slackwater.paper.handover_page import handover_data
from slackwater.paper.sender import NOBODY, Sender, code_rows, sender_data
from slackwater.paper.van_card import loading_steps, van_data, way_home_kg
from slackwater.paper.write import paper_of, papers_data
from slackwater.reader import ENGLISH, Reader
from slackwater.supply.result import PackItem
from tests.jobs import job_from
from tests.plans import HARDLY, catalog, plan_of

NAME = "light-well"
JOB = job_from(NAME)
LONG = "x" * 300
CATEGORIES = ("soil", "stones", "livestock", "access", "co2", "something new", "plants", "boxes and barrels")
FIRM = Sender(
    name="*Still* #water", lines=("1 Quay", "Harbour"), phone="+49 40 1234", mail="a@example.org", accent="#ffee00"
)


def found():
    return plan_of(NAME, effort=HARDLY)


def set_(name, sender=NOBODY, *, job=JOB, plan=None, reader=ENGLISH):
    data = papers_data(found() if plan is None else plan, job, catalog(), reader)
    return paper_of(name, data, {}, sender)


def pages(pdf, tmp_path):
    (tmp_path / "p.pdf").write_bytes(pdf)
    return [" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "p.pdf").pages]


# ---------------------------------------------------------------- van card


@given(
    st.lists(
        st.builds(
            PackItem,
            item=st.text(max_size=3),
            category=st.sampled_from(CATEGORIES),
            quantity=st.just(1.0),
            unit=st.just("piece"),
            mass_kg=st.none() | st.floats(0, 100),
            check=st.just(""),
        ),
        max_size=20,
    )
)
def test_everything_packed_is_loaded_once_and_what_is_needed_first_comes_last(items):
    steps = loading_steps(items)
    assert sorted(item.model_dump_json() for _, group in steps for item in group) == sorted(
        item.model_dump_json() for item in items
    )
    order = [phase for phase, _ in steps]
    day = ("arrive", "water_out", "catch", "filter", "clean", "build", "plant", "fill")
    assert order == sorted(order, key=day.index, reverse=True)
    for _, group in steps:
        masses = [item.mass_kg or 0 for item in group]
        assert masses == sorted(masses, reverse=True)


def test_the_way_home_has_the_waste_and_not_what_stays():
    def item(category, mass_kg, unit="piece"):
        return PackItem(item="a", category=category, quantity=1, unit=unit, mass_kg=mass_kg, check="")

    # 100 kg of soil and 20 of stones stay, a barrel of 12 and a pump of 2 come home, with 60 of waste: 74.
    packing = (
        item("soil", 100.0, "bag of 9 L"),
        item("stones", 20.0),
        item("boxes and barrels", 12.0),
        item("water", 2.0),
    )
    supply = found().supply.model_copy(update={"packing": packing, "packed_mass_kg": 134.0, "waste_mass_kg": 60.0})
    assert way_home_kg(supply) == 74.0


def test_the_van_card_takes_the_crew_off_the_payload_and_says_what_is_not_told(tmp_path):
    plan = found()
    told = van_data(plan, JOB, ENGLISH)
    room = 800.0 - 160.0 - plan.supply.packed_mass_kg
    assert told["sums"][-1][1] == f"{room:.0f} kg" and not told["over"]
    text = " ".join(pages(set_("van-card"), tmp_path))
    for needed in ("Van card", "left over", "front axle", "Axle loads cannot be reckoned", "local law"):
        assert needed in text, needed
    open_ = van_data(plan, job_from(NAME, **{"van.payload": None, "van.crew_mass": None}), ENGLISH)
    assert len(open_["missing"]) == len(told["missing"]) + 2 and len(open_["sums"]) == 3
    heavy = van_data(plan, job_from(NAME, **{"van.payload": "170 kg"}), ENGLISH)
    assert heavy["over"] and "too much" in heavy["sums"][-1][1]


# ---------------------------------------------------------------- cards


def test_there_is_a_card_for_each_barrel_and_box_two_on_a_page(tmp_path):
    plan = found()
    cards = card_data(plan, JOB, catalog(), ENGLISH)
    assert len(cards) == len(plan.water.cards) + len(plan.water.boxes)
    text = pages(set_("cards"), tmp_path)
    assert len(text) == (len(cards) + 1) // 2
    for card in cards:
        assert any(card["litres"] in page and card["kind"] in page for page in text)
    assert f"{Limits.drift_k:g} K either way" in " ".join(text)
    assert "holds only the words" in text[0] and "box-A" in " ".join(text)


def test_a_card_leads_to_the_page_of_the_job_once_the_address_is_known(tmp_path):
    told = sender_data(Sender(page="https://desk.example/jobs/7"), ["box-A"], "ref")
    assert told["codes"]["box-A"]["text"] == "https://desk.example/jobs/7"
    # Without it, in the words that people use for the job: its number in the book says nothing to anybody.
    assert sender_data(Sender(job="7"), ["box-A"], "ref")["codes"]["box-A"]["text"] == "ref box-A"
    assert sender_data(Sender(job="7"), ["box-A"], "")["codes"]["box-A"]["text"] == "7 box-A"
    assert sender_data(NOBODY, ["box-A"], "ref")["codes"]["box-A"]["text"] == "ref box-A"
    text = pages(set_("cards", Sender(page="https://desk.example/jobs/7")), tmp_path)
    assert "page of the job" in text[0] and "holds only" not in text[0]


def test_the_drawn_code_has_the_fields_of_the_code(tmp_path):
    """Looked at field by field in the rendered drawing, against the matrix of the encoder."""
    content = "https://desk.example/jobs/0192"
    (tmp_path / "sender.json").write_text("{}")
    (tmp_path / "data.json").write_text(json.dumps({"words": {}, "paper": "a4", "right_to_left": False}))
    with as_file(files("slackwater.paper")) as here:
        (tmp_path / "common.typ").write_text((here / "templates" / "common.typ").read_text())
    (tmp_path / "code.json").write_text(json.dumps(code_rows(content)))
    (tmp_path / "a.typ").write_text(
        '#import "common.typ": qr\n#set page(width: 100pt, height: 100pt, margin: 0pt)\n#qr(json("code.json"), 100pt)'
    )
    (tmp_path / "a.png").write_bytes(typst.compile(str(tmp_path / "a.typ"), format="png", ppi=576.0))
    fields = segno.make(content, error="q", micro=False, boost_error=False).matrix
    image = Image.open(tmp_path / "a.png").convert("L")
    across = image.width / (len(fields) + 8)
    for y, row in enumerate(fields):
        for x, field in enumerate(row):
            dark = image.getpixel((int((x + 4.5) * across), int((y + 4.5) * across))) < 128
            assert dark == bool(field), (x, y)


# ---------------------------------------------------------------- handover


def test_the_handover_sheet_is_one_page_with_dates_and_the_phone(tmp_path):
    text = pages(set_("handover", FIRM), tmp_path)
    assert len(text) == 1 and "+49 40 1234" in text[0] and "*Still* #water" in text[0]
    for needed in ("Call us at once", "Normal in the coming weeks", "fuse box", "emergency number", "When we come"):
        assert needed in text[0], needed
    assert "*Still*" not in " ".join(pages(set_("handover"), tmp_path))


def test_nobody_feeds_before_the_day_after_the_first_one():
    plan = found()
    # Boarding passes after 7 days; the contract has visits on days 1, 3, 6, 9 and 13, so they come back on the ninth.
    back = plan.living.weeks.refilled + timedelta(days=9)
    first = back + timedelta(days=2)
    papers = papers_data(plan, JOB, catalog(), ENGLISH)
    assert any(f"{back:%a %d %b}" in line for line in papers["offer"]["included"])
    assert any(f"{first:%a %d %b}" in line for line in papers["offer"]["client"])
    assert [step.on for step in plan.supply.calendar if step.id == "animals_back"] == [back]
    assert any(f"{back:%a %d %b}" in line for line in handover_data(plan, JOB, ENGLISH)["please"])
    told = handover_data(plan, JOB, ENGLISH)
    assert any(f"{first:%a %d %b}" in line for line in told["please"])
    unknown = plan.model_copy(update={"living": None})
    assert any("until we tell you" in line for line in handover_data(unknown, JOB, ENGLISH)["please"])


def test_each_change_of_the_plan_and_each_visit_has_its_date():
    plan = found()
    days = sorted(set(JOB.contract.visit_days(last_day=42)) | set(plan.living.weeks.plan.days))
    rows = [row for row in handover_data(plan, JOB, ENGLISH)["visits"] if row[1]]
    assert [int(row[1]) for row in rows] == days[:12]
    assert [row[0] for row in rows] == [
        f"{plan.living.weeks.refilled + timedelta(days=day):%a %d %b}" for day in days[:12]
    ]
    assert isinstance(plan.living.weeks.refilled, date)


# ---------------------------------------------------------------- all of them


@pytest.mark.parametrize("name", ["van-card", "cards", "handover"])
def test_it_is_tagged_has_a_title_and_bears_long_names_and_us_letter(name, tmp_path):
    job = job_from(NAME, **{"papers.size": "letter", "name": LONG, "site.name": LONG, "reference": LONG})
    plan = found().model_copy(update={"job_name": LONG, "reference": LONG})
    pdf = set_(name, Sender(name=LONG, lines=(LONG,), phone=LONG, mail=LONG), job=job, plan=plan, reader=Reader("us"))
    (tmp_path / "p.pdf").write_bytes(pdf)
    read = PdfReader(tmp_path / "p.pdf")
    root = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"].startswith("en") and LONG in read.metadata.title
    for page in read.pages:
        assert (round(page.mediabox.width), round(page.mediabox.height)) == (612, 792)
        # At no size that a page could be read at does a line of it hold as many signs as the name has.
        assert max(map(len, page.extract_text().splitlines())) < 200
    assert pdf == set_(
        name, Sender(name=LONG, lines=(LONG,), phone=LONG, mail=LONG), job=job, plan=plan, reader=Reader("us")
    )


def test_nothing_known_still_makes_papers(tmp_path):
    empty = found().model_copy(update={"supply": None, "water": None, "living": None, "day": None})
    for name in ("van-card", "cards", "handover"):
        assert pages(set_(name, plan=empty), tmp_path)


# ---------------------------------------------------------------- colours


def test_contrast_is_that_of_the_guideline():
    # Worked by hand from the formula: grey 119 has (119/255 + 0.055)/1.055 to the power of 2.4 = 0.18448.
    assert contrast_on_white("#777777") == pytest.approx(1.05 / (0.18448 + 0.05), abs=2e-3)
    assert contrast_on_white("#ffffff") == 1.0 and contrast_on_white("#000000") == 21.0
    # Greys on either side of 4.5 to 1.
    assert bears_text("#767676") and not bears_text("#777777")
    told = sender_data(Sender(name="a", accent="#ffee00"), (), "")
    assert told["accent"] == "#ffee00" and told["accent_text"] == "#000000"


def test_a_card_tells_the_whole_range_of_a_wide_count_and_what_its_number_is_for():
    # The job counts 80 ± 40 shrimp and 30 ember tetras; one box takes all of a kind.
    cards = card_data(found(), JOB, catalog(), ENGLISH)
    told = {one["name"]: (one["count"], card["notes"]) for card in cards for one in card["who"]}
    assert told["cherry shrimp"][0] == "40 to 120" and any("high number" in note for note in told["cherry shrimp"][1])
    assert told["ember tetra"][0] == "30" and not any("high number" in note for note in told["ember tetra"][1])


def test_an_order_is_told_in_the_unit_of_its_pack():
    order = papers_data(found(), JOB, catalog(), ENGLISH)["packing"]["order"]
    packs = {line["item"].split(",")[0].split(" (")[0]: line["packs"] for line in order}
    assert packs["sodium thiosulfate pentahydrate"] == "1 x 10 g"
    assert packs["dark lava rock"].endswith(" kg") and packs["absorbent towels"].endswith(" pieces")
    assert not any(packs_.strip().isdigit() for packs_ in packs.values())
