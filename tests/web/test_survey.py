"""The survey through the app: answers are kept as typed, told where they cannot be used, and never overwritten silently."""

from __future__ import annotations

import gzip
import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from slackwater.book import jobs
from slackwater.job.form import parts
from slackwater.job.text import read_text, set_value
from tests.web.conftest import EXAMPLE, NOW

BLUE = Path("examples/blue-corridor.toml").read_text(encoding="utf-8")
PARTS = [part.id for part in parts()]


class Form(HTMLParser):
    """The first survey form of a page, filled in as it came: what a browser would send."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: list[tuple[str, str]] = []
        self.ids: list[str] = []
        self.labels: set[str] = set()
        self._inside = self._done = False
        self._area = self._select = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "label" and "for" in given:
            self.labels.add(given["for"])
        if tag == "form" and "survey" in given.get("class", ""):
            self._inside = True
        if not self._inside:
            return
        name = given.get("name", "")
        if tag == "input" and name:
            if given.get("type") not in ("radio", "checkbox") or "checked" in given:
                self.fields.append((name, given.get("value", "")))
        elif tag == "textarea":
            self._area = name
            self.fields.append((name, ""))
        elif tag == "select":
            self._select = name
            self.fields.append((name, ""))
        elif tag == "option" and self._select and "selected" in given:
            self.fields[-1] = (self._select, given.get("value", ""))

    def handle_endtag(self, tag):
        if tag == "form":
            self._inside = False
        if tag == "textarea":
            name, text = self.fields[-1]
            self.fields[-1] = (name, text.removeprefix("\n").replace("\n", "\r\n"))
            self._area = ""
        if tag == "select":
            self._select = ""

    def handle_data(self, data):
        if self._area:
            name, text = self.fields[-1]
            self.fields[-1] = (name, text + data)

    def sent(self, **changed):
        """What is sent when these fields were changed."""
        changed = {name.replace("__", "."): value for name, value in changed.items()}
        found: dict[str, list[str]] = {}
        for name, value in self.fields:
            found.setdefault(name, []).append(value)
        for name, value in changed.items():
            assert name in found or name in ("do", "then", "take"), name
            found[name] = value if isinstance(value, list) else [value]
        return found


@pytest.fixture
def blue(office):
    return jobs.create(office.book, text=BLUE, at=NOW, by="").id


def page(call, job_id, part, query=""):
    answer = call.get(f"/jobs/{job_id}/survey/{part}{query}")
    assert answer.status_code == 200, answer.text
    return answer.text


def text_of(office, job_id):
    return jobs.newest(office.book, job_id).text


def post(call, job_id, part, data, **headers):
    return call.post(f"/jobs/{job_id}/survey/{part}", data=data, headers=headers)


@pytest.mark.parametrize("part", PARTS)
def test_a_part_sent_back_untouched_makes_no_version(call, office, blue, part):
    form = Form(page(call, blue, part))
    assert len(form.ids) == len(set(form.ids))
    assert post(call, blue, part, form.sent()).status_code == 303
    assert jobs.get(office.book, blue).newest_n == 1


@pytest.mark.parametrize("part", PARTS)
def test_each_part_is_small_says_its_words_and_labels_each_field(call, blue, part):
    shown = page(call, blue, part)
    assert len(shown.encode()) < 100_000
    form = Form(shown)
    single = {name for name in form.ids if name.startswith("f-")}
    assert single <= form.labels
    assert "survey." not in re.sub(r'"[^"]*"', "", re.sub(r"survey\.css", "", shown))
    assert "{" not in re.sub(r"<meta[^>]*>", "", shown).replace("{ ", "")


def test_answers_are_kept_as_typed_with_all_comments_and_the_next_part_comes(call, office, blue):
    form = Form(page(call, blue, "tank"))
    answer = post(call, blue, "tank", form.sent(tank__length='46 1/2"', tank__braced="no", then="next"))
    assert answer.status_code == 303 and answer.headers["location"].endswith("/survey/running")
    text = text_of(office, blue)
    assert 'length = "46 1/2\\""' in text and "# the fixed lid parts hold the top edge" in text
    assert text.count("\n") == BLUE.count("\n")


def test_what_cannot_be_read_is_kept_and_told_beside_its_field(call, office, blue):
    form = Form(page(call, blue, "tank"))
    post(call, blue, "tank", form.sent(tank__length="118 elephants"))
    assert read_text(text_of(office, blue))["tank"]["length"] == "118 elephants"
    shown = page(call, blue, "tank")
    assert 'value="118 elephants"' in shown
    assert '"elephants" is not a unit known here for a length; write for instance "42 cm"' in unescape(shown)
    assert "1 answer cannot be used" in call.get(f"/jobs/{blue}").text


def test_what_waits_for_a_fact_is_told_beside_it_and_in_the_list_of_parts(call, office, blue):
    form = Form(page(call, blue, "tank"))
    post(call, blue, "tank", form.sent(tank__height=""))
    assert "height" not in read_text(text_of(office, blue))["tank"]
    assert "Waits for this: the tank" in page(call, blue, "tank")
    assert "Waiting for answers here: the tank" in call.get(f"/jobs/{blue}").text


def test_cards_are_added_moved_taken_out_and_said_to_be_none(call, office, blue):
    form = Form(page(call, blue, "animals"))
    answer = post(call, blue, "animals", form.sent(do="add:livestock"))
    assert answer.headers["location"].endswith("#livestock-7")
    assert "This is needed." not in call.get(answer.headers["location"]).text
    shown = page(call, blue, "animals")
    assert shown.count("This is needed.") == 2
    form = Form(shown)
    fields = {"livestock__7__species": "Neon Tetra", "livestock__7__count": "uncounted", "do": "up:livestock.7"}
    assert post(call, blue, "animals", form.sent(**fields)).headers["location"].endswith("#livestock-6")
    assert read_text(text_of(office, blue))["livestock"][6]["species"] == "paracheirodon_innesi"
    for number in range(7, -1, -1):
        form = Form(page(call, blue, "animals"))
        post(call, blue, "animals", form.sent(do=f"remove:livestock.{number}"))
    assert "livestock" not in read_text(text_of(office, blue))
    form = Form(page(call, blue, "animals"))
    post(call, blue, "animals", form.sent(livestock="none"))
    assert read_text(text_of(office, blue))["livestock"] == []
    assert Form(page(call, blue, "animals")).sent()["livestock"] == ["none"]


def test_a_species_nearly_right_is_told_with_its_name(call, office, blue):
    form = Form(page(call, blue, "animals"))
    post(call, blue, "animals", form.sent(livestock__0__species="harlequin rasbra"))
    assert read_text(text_of(office, blue))["livestock"][0]["species"] == "harlequin rasbra"
    shown = page(call, blue, "animals")
    assert "“harlequin rasbra” is not in the catalog." in shown
    assert ">harlequin rasbora, Trigonostigma heteromorpha</button>" in shown
    post(call, blue, "animals", Form(shown).sent(take="livestock.0.species=harlequin rasbora"))
    assert "In the catalog: harlequin rasbora, Trigonostigma heteromorpha." in page(call, blue, "animals")
    assert read_text(text_of(office, blue))["livestock"][0]["species"] == "trigonostigma_heteromorpha"


def test_a_bare_number_is_refused_with_the_reading_that_one_touch_takes(call, office, blue):
    form = Form(page(call, blue, "tank"))
    post(call, blue, "tank", form.sent(tank__length="120"))
    shown = page(call, blue, "tank")
    assert "1 answer cannot be used" in call.get(f"/jobs/{blue}").text
    assert 'value="tank.length=120 cm">120 cm</button>' in shown
    answer = post(call, blue, "tank", Form(shown).sent(take="tank.length=120 cm"))
    assert answer.headers["location"].endswith("#field-tank-length")
    assert read_text(text_of(office, blue))["tank"]["length"] == "120 cm"


def test_a_fact_named_beside_a_question_is_a_link_to_its_own(call, blue):
    form = Form(page(call, blue, "hours"))
    post(call, blue, "hours", form.sent(site__key_holder_leaves="2027-02-10 18:10+01:00"))
    shown = page(call, blue, "hours")
    linked = f'<a href="/jobs/{blue}/survey/place#field-site-time_zone">"Time zone" (Place)</a>'
    assert linked in unescape(shown)
    assert "site.time_zone" not in shown


def test_what_was_read_otherwise_than_typed_is_told(call, blue):
    form = Form(page(call, blue, "office"))
    sent = form.sent(price__client_budget="cr 6,20", price__margin_share="12,5 %")
    told = post(call, blue, "office", sent, **{"hx-request": "true"}).text
    assert "Read as 6.20." in told and "Read as" not in page(call, blue, "office")
    sent = Form(page(call, blue, "plants")).sent(plants__0__plant="frogbit")
    told = post(call, blue, "plants", sent, **{"hx-request": "true"}).text
    assert "You typed “frogbit”; the catalog calls it smooth frogbit." in told
    assert "In the catalog: smooth frogbit, Limnobium laevigatum." in told
    form = Form(page(call, blue, "tank"))
    post(call, blue, "tank", form.sent(tank__length="46,5 in"))
    assert "Read as 46.5 in." in page(call, blue, "tank")


@pytest.mark.parametrize("deed", ["add:livestock", "remove:livestock.2", "up:livestock.3", "down:livestock.3"])
def test_a_button_touched_twice_does_its_work_once(call, office, blue, deed):
    sent = Form(page(call, blue, "animals")).sent(livestock__0__count="11", do=deed)
    first = post(call, blue, "animals", sent).headers["location"]
    once = text_of(office, blue)
    assert post(call, blue, "animals", sent).headers["location"] == first
    assert text_of(office, blue) == once != BLUE


def test_two_cards_asked_for_on_two_pages_are_two(call, office, blue):
    for _ in range(2):
        post(call, blue, "animals", Form(page(call, blue, "animals")).sent(do="add:livestock"))
    assert read_text(text_of(office, blue))["livestock"][7:] == [{}, {}]


def test_two_people_on_different_fields_are_both_kept(call, office, blue):
    first, second = Form(page(call, blue, "tank")), Form(page(call, blue, "tank"))
    post(call, blue, "tank", first.sent(tank__length="120 cm"))
    assert post(call, blue, "tank", second.sent(tank__width="45 cm")).status_code == 303
    tank = read_text(text_of(office, blue))["tank"]
    assert (tank["length"], tank["width"]) == ("120 cm", "45 cm")


def test_two_people_on_one_field_choose_and_nothing_is_lost(call, office, blue):
    first, second = Form(page(call, blue, "tank")), Form(page(call, blue, "tank"))
    post(call, blue, "tank", first.sent(tank__length="120 cm"))
    answer = post(call, blue, "tank", second.sent(tank__length="117 cm", tank__width="45 cm"))
    assert answer.status_code == 409
    assert "120 cm" in answer.text and "117 cm" in answer.text
    tank = read_text(text_of(office, blue))["tank"]
    assert (tank["length"], tank["width"]) == ("120 cm", "45 cm")
    based_on = re.search(r'name="based_on" value="(\d+)"', answer.text)[1]
    post(call, blue, "tank", {"based_on": based_on, "tank.length": "117 cm"})
    assert read_text(text_of(office, blue))["tank"]["length"] == "117 cm"


def test_with_script_only_what_changed_comes_back(call, office, blue):
    form = Form(page(call, blue, "tank"))
    answer = post(call, blue, "tank", form.sent(tank__length="118"), **{"hx-request": "true"})
    assert answer.status_code == 200 and "<html" not in answer.text
    assert 'id="based_on" value="2"' in answer.text and "Saved as version 2." in answer.text
    assert 'id="n-tank-length" hx-swap-oob="true"' in answer.text and 'id="n-tank-width"' not in answer.text


def test_with_script_a_clash_shows_both_and_puts_theirs_into_the_field(call, office, blue):
    first, second = Form(page(call, blue, "tank")), Form(page(call, blue, "tank"))
    post(call, blue, "tank", first.sent(tank__length="120 cm"))
    answer = post(call, blue, "tank", second.sent(tank__length="117 cm"), **{"hx-request": "true"})
    assert answer.status_code == 409
    assert 'id="clash"' in answer.text and 'value="117 cm"' in answer.text
    assert 'id="field-tank-length" hx-swap-oob="true"' in answer.text and 'value="120 cm"' in answer.text


def test_two_hundred_plants_come_in_pages_and_each_is_reached(call, office, blue):
    text = BLUE + "".join(f'[[plants]]\nplant = "plant number {number}"\nunits = {number}\n' for number in range(191))
    jobs.save_version(office.book, blue, text, parent=1, at=NOW, by="")
    shown = page(call, blue, "plants", "?plants=10")
    assert "181 to 200 of 200" in shown and "plant number 190" in shown
    assert len(shown.encode()) < 100_000
    form = Form(shown)
    post(call, blue, "plants?plants=10", form.sent(plants__199__units="7"))
    assert read_text(text_of(office, blue))["plants"][199]["units"] == 7
    assert len(gzip.compress(call.get(f"/jobs/{blue}").content)) < 20_000


def test_an_empty_job_shows_every_part_and_what_to_begin_with(call, office):
    answer = call.post("/jobs/new", data={"name": "  Lobby,  north  wall "})
    job_id = answer.headers["location"].rpartition("/")[2]
    assert jobs.get(office.book, job_id).name == "Lobby, north wall"
    assert "0 of" in call.get(f"/jobs/{job_id}").text
    for part in PARTS:
        shown = page(call, job_id, part)
        assert post(call, job_id, part, Form(shown).sent()).status_code == 303
    assert jobs.get(office.book, job_id).newest_n == 1


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "æ" * 200, "שלום", "a\u202eb"])
def test_a_name_is_a_name(call, office, name):
    job_id = call.post("/jobs/new", data={"name": name}).headers["location"].rpartition("/")[2]
    assert jobs.get(office.book, job_id).name == name
    assert "<script>alert" not in call.get(f"/jobs/{job_id}").text + call.get("/jobs").text
    form = Form(page(call, job_id, "place"))
    post(call, job_id, "place", form.sent(site__rules='"><script>alert(2)</script>'))
    assert "<script>alert" not in page(call, job_id, "place")


def test_a_name_is_refused_with_a_sentence_or_kept_whole_and_never_cut_unsaid(call, office, blue):
    answer = call.post("/jobs/new", data={"name": "north wall " * 30})
    assert answer.status_code == 422 and "expected at most 200; shorten it" in answer.text
    assert f'value="{"north wall " * 30}"' in answer.text and "maxlength" not in answer.text
    long = "north wall " * 29 + "end"
    post(call, blue, "place", Form(page(call, blue, "place")).sent(name=long))
    assert read_text(text_of(office, blue))["name"] == long
    assert f"{long[:199]}…" in call.get("/jobs").text
    assert "maxlength" not in call.get(f"/jobs/{blue}").text.partition('id="photos"')[2]


def test_a_job_file_comes_in_and_goes_out_byte_for_byte(call, office):
    text = EXAMPLE + "\n# Grüße: my own note\n"
    sent = b"\xef\xbb\xbf" + text.encode()
    answer = call.post("/jobs/bring-in", files={"file": ("../../x.toml", sent, "image/png")})
    job_id = answer.headers["location"].rpartition("/")[2]
    out = call.get(f"/jobs/{job_id}/job.toml")
    assert out.content == text.encode() and "light-well" in out.headers["content-disposition"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "No file was chosen"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"name = ", "not a readable job file"),
        (b"[tank]\nlength = '1 m'\n", "is no job file"),
        (b"a=1\n" * 600_000, "was not read"),
        ("".join(f"k{number}=1\n" for number in range(30_000)).encode(), "probably not a job file"),
        (b"a = " + b"[" * 50_000, "probably not a job file"),
    ],
)
def test_what_is_no_job_file_is_refused_with_a_sentence(call, content, says):
    answer = call.post("/jobs/bring-in", files={"file": ("x.toml", content)})
    assert answer.status_code == 422 and says in answer.text


@pytest.mark.parametrize(
    ("data", "status"),
    [
        ({}, 422),
        ({"based_on": "9"}, 404),
        ({"based_on": "x"}, 422),
        ({"based_on": "1", "nonsense": "1"}, 422),
        ({"based_on": "1", "tank.length.deep": "1"}, 422),
        ({"based_on": "1", "livestock.99.count": "1"}, 404),
        ({"based_on": "1", "do": "burn:livestock.0"}, 422),
        ({"based_on": "1", "do": "remove:livestock.99"}, 404),
        ({"based_on": "1", "do": "add:tank"}, 422),
        ({"based_on": "1", "tank.length": "x" * 20_000}, 422),
    ],
)
def test_what_no_page_sends_is_refused_and_changes_nothing(call, office, blue, data, status):
    assert post(call, blue, "tank", data).status_code == status
    assert text_of(office, blue) == BLUE


def test_somebody_elses_ids_lead_nowhere(call, blue):
    for path in (
        "/jobs/nothing",
        "/jobs/nothing/survey/tank",
        f"/jobs/{blue}/survey/nothing",
        f"/jobs/{blue}/photos/x",
    ):
        assert call.get(path).status_code == 404


def test_a_copy_leaves_out_what_is_true_of_one_day_and_another_tank_what_is_its_own(call, office, blue):
    again = call.post(f"/jobs/{blue}/copy", data={"name": "Next year", "what": "again"}).headers["location"]
    plain = read_text(text_of(office, again.rpartition("/")[2]))
    assert plain["name"] == "Next year" and "windows" not in plain["site"] and "seam_damage" not in plain["tank"]
    assert plain["tank"]["length"] == "118 cm" and "from" not in plain["people"][2]
    other = call.post(f"/jobs/{blue}/copy", data={"name": "Office", "what": "other"}).headers["location"]
    plain = read_text(text_of(office, other.rpartition("/")[2]))
    assert "tank" not in plain and "livestock" not in plain and "tank" not in plain["water"]
    assert plain["people"][0]["id"] == "lead" and plain["water"]["tap"]["gh"] == "14 dGH"
    assert "Blue corridor" in call.get(other).text


def test_several_tanks_of_a_house_are_listed_together_and_its_client_is_not_in_the_job(call, office, blue):
    answer = call.post(f"/jobs/{blue}/house", data={"client": "Ada <i>Ames</i>", "site": "Clinic, Harbour Street"})
    assert answer.status_code == 303
    assert "Ames" not in text_of(office, blue) and "At Clinic, Harbour Street" in call.get(f"/jobs/{blue}").text
    other = call.post(f"/jobs/{blue}/copy", data={"name": "Office tank", "what": "other"}).headers["location"]
    assert "Office tank" in call.get(f"/jobs/{blue}").text and "Blue corridor" in call.get(other).text
    third = call.post("/jobs/new", data={"name": "Hall"}).headers["location"]
    shown = call.get(third).text
    assert "Ada &lt;i&gt;Ames&lt;/i&gt; · Clinic, Harbour Street" in shown
    site_id = re.search(r'<option value="([^"]+)">Ada', shown)[1]
    assert call.post(f"{third}/house", data={"site_id": site_id}).status_code == 303
    assert "Office tank" in call.get(third).text and "Blue corridor" in call.get(third).text
    assert len({jobs.get(office.book, at.rpartition("/")[2]).tank_id for at in (f"/{blue}", other, third)}) == 3
    assert call.post(f"{third}/house", data={"site_id": "nothing"}).status_code == 404
    assert call.post(f"{third}/house", data={"client": "x", "site": " "}).status_code == 422


def test_a_photo_is_kept_and_shown_and_something_else_refused(call, blue):
    from io import BytesIO

    from PIL import Image

    picture = BytesIO()
    Image.new("RGB", (40, 30), "teal").save(picture, "JPEG")
    sent = {"file": ("../<b>.svg", picture.getvalue(), "image/svg+xml")}
    answer = call.post(f"/jobs/{blue}/photos", files=sent, data={"caption": "<b>seam</b>"})
    assert answer.status_code == 303
    shown = call.get(f"/jobs/{blue}").text
    assert "&lt;b&gt;seam&lt;/b&gt;" in shown and 'capture="environment"' in shown
    address = re.search(rf"/jobs/{blue}/photos/[^\"/]+", shown)[0]
    assert call.get(address).content == picture.getvalue()
    assert call.get(address + "/small").headers["content-type"] == "image/jpeg"
    for wrong in (b"<svg onload='alert(1)'/>", b"", b"GIF89a"):
        assert call.post(f"/jobs/{blue}/photos", files={"file": ("x.jpg", wrong, "image/jpeg")}).status_code == 422


def test_a_reader_of_us_units_sees_examples_and_ranges_in_them(call, blue):
    shown = call.get(f"/jobs/{blue}/survey/tank", headers={"cookie": "units=us"}).text
    assert "16.5 in" in shown and "0.472 in" in shown and "328.084 ft" in shown


def test_a_set_value_of_another_kind_is_shown_as_it_is(call, office, blue):
    text = set_value(set_value(BLUE, ("tank", "braced"), "perhaps"), ("surveyed",), "last week")
    text = set_value(text, ("tank", "material"), "wood")
    jobs.save_version(office.book, blue, text, parent=1, at=NOW, by="")
    for part in ("tank", "place"):
        form = Form(page(call, blue, part))
        assert post(call, blue, part, {**form.sent(), "based_on": "2"}).status_code == 303
    assert text_of(office, blue) == text


@pytest.mark.parametrize(
    ("part", "field", "typed"), [("bed", "bed.soil.bag_price", "-5"), ("office", "price.currency", "XYZ")]
)
@pytest.mark.parametrize("then", ["next", "parts"])
def test_an_amount_that_cannot_be_is_told_at_its_field_before_anything_else(
    call, office, blue, part, field, typed, then
):
    sent = Form(page(call, blue, part)).sent(**{field: typed, "then": then})
    answer = post(call, blue, part, sent)
    assert answer.status_code == 303 and f"/survey/{part}?" in answer.headers["location"]
    shown = call.get(answer.headers["location"].partition("#")[0]).text
    assert f"{typed}" in shown and "expected" in shown and typed in text_of(office, blue)
    # Told once, it hinders nobody who goes on.
    again = post(call, blue, part, {**Form(shown).sent(then=then)})
    assert f"/survey/{part}?" not in again.headers["location"]


def test_a_sign_of_a_currency_is_offered_as_its_code(call, blue):
    form = Form(page(call, blue, "office"))
    answer = post(call, blue, "office", form.sent(**{"price.currency": "€"}), **{"HX-Request": "true"})
    assert 'value="price.currency=EUR"' in answer.text
