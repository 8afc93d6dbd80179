"""Clients through the app: people with their door codes, houses and tanks; wrong input, other clients' ids, two editors."""

from __future__ import annotations

import re

import pytest

from slackwater.actions.clientele import all_clients, see_client
from slackwater.actions.office import open_office
from slackwater.actions.settings import read_settings
from slackwater.book import people
from slackwater.book.safe import new_key_file
from slackwater.web.app import create_app
from tests.web.client import Caller
from tests.web.conftest import NOW

LONG = "Aquarienhaus-Verwaltungsgesellschaft " * 8 + "ends"
ARABIC = "حوض السمك الكبير"
SCRIPT = "<script>alert('x')</script>"


def fields_of(page):
    """Hidden values of the first form that has them: what a browser would send along."""
    return {name: re.search(rf'name="{name}" value="([^"]*)"', page)[1] for name in ("once",)}


@pytest.fixture
def client(call, office):
    answer = call.post("/clients", data={"name": "Ada Harbour", "contacts": "phone: 0123 456", "access": "door 4711"})
    assert answer.status_code == 303
    return answer.headers["location"].rpartition("/")[2]


def test_an_empty_book_says_how_to_begin(call):
    page = call.get("/clients").text
    assert "No client yet" in page
    assert 'action="/clients"' in page


def test_a_client_is_entered_and_shown_with_door_code(call, client):
    page = call.get(f"/clients/{client}").text
    assert "Ada Harbour" in page
    assert "door 4711" in page
    assert "0123 456" in page


@pytest.mark.parametrize("name", [LONG[:300], ARABIC, "x" * 300, SCRIPT])
def test_any_name_is_shown_as_text(call, name):
    at = call.post("/clients", data={"name": name}).headers["location"]
    page = call.get(at).text
    assert "<script>alert" not in page
    assert name.replace("<", "&lt;").replace(">", "&gt;").replace("'", "&#39;") in page
    assert f"<bdi>{name[:5].replace('<', '&lt;')}" in page


@pytest.mark.parametrize(
    ("name", "said"), [("", "This is needed"), ("n" * 301, "at most 300"), ("a\x00b", "a sign that no page can show")]
)
def test_a_name_that_cannot_be_kept_is_told_beside_its_field_and_nothing_is_lost(call, office, name, said):
    answer = call.post("/clients", data={"name": name, "address": "Harbour Road 1", "contacts": "mail: a@b.example"})
    assert answer.status_code == 422
    assert said in answer.text
    assert "Harbour Road 1" in answer.text
    assert "mail: a@b.example" in answer.text
    assert "maxlength" not in answer.text  # a browser would cut what is pasted, and say nothing
    assert all_clients(office) == []


def test_a_form_that_is_sent_twice_makes_one_client(call, office):
    sent = {"name": "Ada", **fields_of(call.get("/clients").text)}
    first, second = call.post("/clients", data=sent), call.post("/clients", data=sent)
    assert first.headers["location"] == second.headers["location"]
    assert len(all_clients(office)) == 1


def test_somebody_to_ring_a_house_and_a_tank_are_added_and_changed(call, office, client):
    at = f"/clients/{client}"
    assert (
        call.post(
            f"{at}/people", data={"name": "Ben", "role": "caretaker", "contacts": "0777\nb@x.example"}
        ).status_code
        == 303
    )
    caretaker = see_client(office, client).people[1]
    assert [(c.kind, c.value) for c in caretaker.person.contacts] == [("phone", "0777"), ("mail", "b@x.example")]
    assert call.post(f"{at}/sites", data={"site_name": "lobby", "who": caretaker.row.id}).status_code == 303
    house = see_client(office, client).sites[0]
    assert house.who.name == "Ben"
    here = f"{at}/sites/{house.row.id}"
    assert call.post(f"{here}/tanks", data={"tank_name": "long tank"}).status_code == 303
    tank = see_client(office, client).sites[0].tanks[0]
    assert call.post(f"{here}/tanks/{tank.id}", data={"tank_name": "wide tank", "revision": "1"}).status_code == 303
    assert call.post(here, data={"site_name": "hall", "who": "", "revision": "1"}).status_code == 303
    page = call.get(at).text
    assert "hall" in page
    assert "wide tank" in page
    assert "wide tank" in call.get(f"{here}/tanks/{tank.id}").text


def test_of_two_corrections_the_second_sees_both_values(call, office, client):
    person = see_client(office, client).people[0].row.id
    at = f"/clients/{client}/people/{person}"
    assert call.post(at, data={"name": "Ada Brown", "access": "door 4711", "revision": "1"}).status_code == 303
    answer = call.post(at, data={"name": "Ada Green", "access": "door 4711", "revision": "1"})
    assert answer.status_code == 409
    assert "Ada Brown" in answer.text
    assert 'value="Ada Green"' in answer.text
    assert 'name="revision" value="2"' in answer.text
    assert people.get(office.book, person).person.name == "Ada Brown"
    assert call.post(at, data={"name": "Ada Green", "revision": "2"}).status_code == 303
    assert people.get(office.book, person).person.name == "Ada Green"


@pytest.mark.parametrize("what", ["sites", "tanks"])
def test_of_two_new_names_the_second_is_told(call, office, client, what):
    call.post(f"/clients/{client}/sites", data={"site_name": "lobby"})
    house = see_client(office, client).sites[0].row.id
    call.post(f"/clients/{client}/sites/{house}/tanks", data={"tank_name": "long"})
    tank = see_client(office, client).sites[0].tanks[0].id
    at, name = f"/clients/{client}/sites/{house}", "site_name"
    if what == "tanks":
        at, name = f"{at}/tanks/{tank}", "tank_name"
    assert call.post(at, data={name: "first", "revision": "1"}).status_code == 303
    answer = call.post(at, data={name: "second", "revision": "1"})
    assert answer.status_code == 409
    assert "first" in answer.text
    assert 'value="second"' in answer.text


def test_what_is_not_there_and_what_is_another_clients_read_the_same(call, office, client):
    other = call.post("/clients", data={"name": "Other"}).headers["location"].rpartition("/")[2]
    call.post(f"/clients/{other}/sites", data={"site_name": "theirs"})
    seen = see_client(office, other)
    theirs, house = seen.people[0].row.id, seen.sites[0].row.id
    none = "01900000-0000-7000-8000-000000000000"
    answers = [
        call.get(f"/clients/{client}/people/{theirs}"),
        call.get(f"/clients/{client}/people/{none}"),
        call.get(f"/clients/{client}/sites/{house}"),
        call.get(f"/clients/{none}"),
        call.get("/clients/%3Cscript%3E"),
        call.post(f"/clients/{client}/sites/{house}/tanks", data={"tank_name": "x"}),
        call.post(f"/clients/{client}/sites", data={"site_name": "x", "who": theirs}),
        call.post(f"/clients/{client}/people/{theirs}", data={"name": "x", "revision": "1"}),
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.text.partition("<footer")[0] for answer in answers}) == 1
    assert people.get(office.book, theirs).person.name == "Other"


def test_a_form_from_elsewhere_is_refused(call, office):
    assert call.post("/clients", data={"name": "x"}, headers={"origin": "https://example.org"}).status_code == 403
    assert all_clients(office) == []


@pytest.mark.parametrize("with_key", [True, False])
def test_the_page_says_whether_names_are_sealed(tmp_path, with_key):
    found = {"SLACKWATER_HOME": str(tmp_path / "home")}
    if with_key:
        new_key_file(tmp_path / "key")
        found["SLACKWATER_KEY_FILE"] = str(tmp_path / "key")
    settings = read_settings(found)
    with open_office(settings, clock=lambda: NOW, workers=1) as office:
        app = create_app(settings, clock=lambda: NOW)
        app.state.office = office
        page = Caller(app).get("/clients").text
    assert ("are sealed with your key" in page) is with_key
    assert ("are not sealed" in page) is not with_key


def test_a_job_leads_to_its_client_once_its_house_is_known(call, office, job_id):
    assert call.get(f"/jobs/{job_id}/client").headers["location"] == f"/jobs/{job_id}"
    call.post(f"/jobs/{job_id}/house", data={"client": "Ada", "site": "lobby"})
    client = all_clients(office)[0][0].id
    assert call.get(f"/jobs/{job_id}/client").headers["location"] == f"/clients/{client}"
    page = call.get(f"/clients/{client}").text
    assert f'href="/jobs/{job_id}"' in page
    assert f'href="/jobs/{job_id}/client"' in call.get(f"/jobs/{job_id}").text


def test_a_forged_id_joins_nobody_elses_person(call, office, client):
    other = call.post("/clients", data={"name": "Other"}).headers["location"].rpartition("/")[2]
    theirs = see_client(office, other).people[0].row.id
    sent = {"name": "Ben", "role": "caretaker", "once": theirs}
    assert call.post(f"/clients/{client}/people", data=sent).status_code == 404
    assert len(see_client(office, client).people) == 1


def test_fifty_clients_fill_a_page_and_the_rest_is_on_the_next(call):
    for number in range(51):
        call.post("/clients", data={"name": f"client {number:02}"})
    first = call.get("/clients").text
    assert first.count("<bdi>client ") == 50
    after = re.search(r'href="/clients\?after=([^"]+)"', first)[1]
    assert call.get(f"/clients?after={after}").text.count("<bdi>client ") == 1


def test_people_and_houses_are_found_by_what_is_known_of_them(call, office):
    ada = call.post("/clients", data={"name": "Ada Harbour", "contacts": "phone: +49 30 901820"}).headers["location"]
    call.post(f"{ada}/people", data={"role": "caretaker", "name": "Ben Ropemaker", "address": "Quay 7"})
    call.post(f"{ada}/sites", data={"site_name": "Lobby of the customs house"})
    call.post("/clients", data={"name": "Cleo"})

    def found(words):
        page = call.get("/clients", params={"find": words}).text
        return re.findall(r'href="(/clients/[^"#?]+)"', page)

    for words in ("ada", "901820", "ropemaker", "quay 7", "customs  HOUSE"):
        assert found(words) == [ada], words
    assert found("nobody at all") == []
    call.post(f"/erase/client/{ada.rpartition('/')[2]}")
    assert found("ada") == []
    assert found("customs") == [ada]


def test_the_page_of_a_job_names_whom_to_ring_in_its_house(call, office, other):
    assert 'id="ring"' not in call.get(f"/jobs/{other}").text
    call.post(f"/jobs/{other}/house", data={"client": "Ada Harbour", "site": "Lobby"})
    at = call.get(f"/jobs/{other}/client").headers["location"]
    call.post(f"{at}/people", data={"role": "caretaker", "name": "Ben Ropemaker", "contacts": "phone: +49 30 901820"})
    page = call.get(f"/jobs/{other}").text.partition('id="ring"')[2].partition('id="records"')[0]
    assert "Ada Harbour" in page
    assert "Ben Ropemaker" in page
    assert 'href="tel:' in page
    call.post(f"/erase/client/{at.rpartition('/')[2]}")
    assert "Nobody is entered" in call.get(f"/jobs/{other}").text
