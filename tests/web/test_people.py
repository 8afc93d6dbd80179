"""Signing in and out, people, links and the trail as pages and commands; and the door that others can reach, over TLS."""

from __future__ import annotations

import io
import re
import socket
import ssl
import threading
import time
import urllib.error
import urllib.request
from dataclasses import replace
from datetime import timedelta

import pytest
import uvicorn

from slackwater.actions import accounts
from slackwater.actions.accounts import FREE, LONGEST_WAIT_S, wait_s
from slackwater.actions.office import open_desk, open_office
from slackwater.actions.passwords import Passwords
from slackwater.actions.settings import HashCost
from slackwater.book import jobs
from slackwater.cli.main import main
from slackwater.errors import CannotRun
from slackwater.web.app import create_app
from slackwater.web.serve import door_of, names_of
from tests.web.client import Caller
from tests.web.conftest import NOW
from tests.web.doors import CHEAP, PASSWORD, add_people, certificate, cheap, sign_in


class Clock:
    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def office(settings, clock):
    with open_office(cheap(settings), clock=clock, workers=1) as opened:
        yield opened


def attempt(call, password="wrong", name="owner"):
    return call.post("/sign-in", data={"sign_in": name, "password": password})


def test_without_an_account_the_office_is_open_and_the_first_account_is_an_owners(call, office):
    assert call.get("/people").status_code == 200
    sent = {"name": "Bo", "sign_in": "bo", "role": "crew", "new_password": PASSWORD}
    refused = call.post("/people", data=sent)
    assert refused.status_code == 422 and "The first account is that of an owner" in refused.text
    assert PASSWORD not in refused.text
    made = call.post("/people", data={**sent, "role": "owner", "new_password": ""})
    password = re.search(r"<code>([a-z2-9-]{23})</code>", made.text)[1]
    assert call.get("/jobs").headers["location"] == "/sign-in?back=%2Fjobs"
    assert call.get("/jobs", headers=sign_in(call, " BO ", password)).status_code == 200


def test_who_signs_in_comes_to_where_they_wanted_and_nowhere_else(call, office):
    add_people(office)
    sent = {"sign_in": "owner", "password": PASSWORD}
    assert call.post("/sign-in", data={**sent, "back": "/jobs?after=3"}).headers["location"] == "/jobs?after=3"
    for back in ("//evil.example", "http://evil.example", "/\\evil.example", "/a\r\nx: y"):
        assert call.post("/sign-in", data={**sent, "back": back}).headers["location"] == "/"
    assert call.post("/sign-in", data=sent, headers={"origin": "http://evil.example"}).status_code == 403


def test_a_session_ends_with_the_day_with_signing_out_and_with_a_change(call, office, clock):
    people = add_people(office)
    owner, crew = sign_in(call, "owner"), sign_in(call, "crew")
    assert call.get("/", headers={"cookie": crew["cookie"] + "x"}).status_code == 303
    gone = call.post("/sign-out", headers=crew)
    assert 'session=""' in gone.headers["set-cookie"]
    assert call.get("/", headers=crew).status_code == 303
    crew = sign_in(call, "crew")
    address = f"/people/{people['crew'].id}"
    assert call.post(f"{address}/role", headers=owner, data={"role": "owner"}).status_code == 303
    # A form that was open meanwhile: a sentence, nothing done, nothing lost.
    job = jobs.create(office.book, text='name = "x"\n', at=NOW, by="").id
    late = call.post(f"/jobs/{job}/survey/tank", headers=crew, data={"based_on": "1", "tank.length": "1 m"})
    assert late.status_code == 401 and "what you typed is still there" in late.text
    assert jobs.get(office.book, job).newest_n == 1
    api = call.post(f"/api/jobs/{job}/events", headers={**crew, "accept": "application/json"}, json=[])
    assert (api.status_code, api.json()["status"]) == (401, 401)
    for end in ("password", "end-sessions", "close"):
        crew = sign_in(call, "crew")
        sent = {"new_password": PASSWORD} if end == "password" else {}
        assert call.post(f"{address}/{end}", headers=owner, data=sent).status_code == 303
        assert call.get("/", headers=crew).status_code == 303
    assert attempt(call, PASSWORD, "crew").status_code == 401
    clock.now += timedelta(hours=16)
    assert call.get("/", headers=owner).status_code == 303


def test_ones_own_password_changes_here_and_signs_out_elsewhere(call, office):
    add_people(office)
    here, elsewhere = sign_in(call, "crew"), sign_in(call, "crew")
    new = "a longer one for the van"
    for present, wanted, fault in (
        ("wrong", new, "not your present password"),
        (PASSWORD, "short", "12 to 256 signs"),
        (PASSWORD, "aaaaaaaaaaaaaaaa", "too easy"),
        (PASSWORD, "Passwordpassword", "too easy"),
        (PASSWORD, "teapotteapotteapot", "too easy"),
        (PASSWORD, "the crew of five", "too easy"),
        (PASSWORD, "", "needed"),
    ):
        refused = call.post("/password", headers=here, data={"password": present, "new_password": wanted})
        assert refused.status_code == 422 and fault in refused.text
    done = call.post("/password", headers=here, data={"password": PASSWORD, "new_password": new})
    assert done.status_code == 200 and "other devices are signed out" in done.text
    assert call.get("/", headers=here).status_code == 200
    assert call.get("/", headers=elsewhere).status_code == 303
    assert attempt(call, PASSWORD, "crew").status_code == 401 and sign_in(call, "crew", new)


def test_the_only_owner_stays_one(call, office):
    people = add_people(office)
    owner = sign_in(call, "owner")
    for end, sent in (("role", {"role": "crew"}), ("close", {})):
        refused = call.post(f"/people/{people['owner'].id}/{end}", headers=owner, data=sent)
        assert refused.status_code == 409 and "only owner" in refused.text
    assert call.get("/people", headers=owner).status_code == 200


# ---------------------------------------------------------------- guessing


def test_waits_double_from_the_first_refused_attempt_and_are_bounded():
    # By hand: 2, 4, 8 ... s; 2^10 = 1,024 would be above a quarter of an hour.
    assert [wait_s(failed, free=5) for failed in (0, 4, 5, 6, 7, 13, 14, 10**6)] == [0, 0, 2, 4, 8, 512, 900, 900]


def test_guesses_are_held_back_a_restart_forgives_nothing_and_nobody_is_locked_out_for_ever(settings, clock):
    wanted = cheap(settings)
    with open_office(wanted, clock=clock, workers=1) as office:
        add_people(office)
        call = caller(office, wanted, clock)
        assert [attempt(call).status_code for _ in range(FREE["name"])] == [401] * FREE["name"]
    with open_office(wanted, clock=clock, workers=1) as office:
        call = caller(office, wanted, clock)
        held = attempt(call, PASSWORD)
        assert (held.status_code, held.headers["retry-after"]) == (429, "2") and "Try again in 2 s" in held.text
        # A name that nobody has is held back alike: who asks does not learn which there are.
        unknown = [attempt(call, name="nobody").status_code for _ in range(FREE["name"] + 1)]
        assert unknown == [401] * FREE["name"] + [429]
        for _ in range(20):
            clock.now += timedelta(seconds=LONGEST_WAIT_S)
            assert attempt(call).status_code == 401
        clock.now += timedelta(seconds=LONGEST_WAIT_S)
        assert attempt(call, PASSWORD).status_code == 303
        # And it begins anew.
        assert attempt(call).status_code == 401 and attempt(call, PASSWORD).status_code == 303


def caller(office, settings, clock):
    app = create_app(settings, clock=clock)
    app.state.office = office
    return Caller(app)


def test_at_the_machine_itself_nobody_elsewhere_can_use_up_the_attempts(office):
    add_people(office)
    typed = {"sign_in": "owner", "password": "wrong"}
    for number in range(FREE["name"]):
        with pytest.raises(accounts.NotLetIn, match="do not fit"):
            accounts.sign_in(office, typed, address=f"192.0.2.{number}")
    with pytest.raises(accounts.NotLetIn, match="2 s"):
        accounts.sign_in(office, {**typed, "password": PASSWORD}, address="192.0.2.99")
    assert accounts.sign_in(office, {**typed, "password": PASSWORD}, address="127.0.0.1")


def test_one_address_that_tries_many_names_is_held_back(office):
    add_people(office)
    for number in range(FREE["address"]):
        with pytest.raises(accounts.NotLetIn, match="do not fit"):
            accounts.sign_in(office, {"sign_in": f"n{number}", "password": "x"}, address="192.0.2.1")
    with pytest.raises(accounts.NotLetIn, match="Try again"):
        accounts.sign_in(office, {"sign_in": "owner", "password": PASSWORD}, address="192.0.2.1")


def test_a_hash_is_of_argon2id_at_no_less_than_owasp_asks_and_is_renewed_when_the_cost_grows(office):
    # OWASP Password Storage Cheat Sheet: Argon2id with 19 MiB, 2 passes, 1 lane at least.
    least = HashCost()
    assert (least.memory_kib, least.passes) >= (19 * 1024, 2) and least.passes >= 2 and least.lanes >= 1
    kept = Passwords(CHEAP).hashed(PASSWORD)
    assert kept.startswith("$argon2id$v=19$m=8,t=1,p=1$") and Passwords(CHEAP).hashed(PASSWORD) != kept
    dearer = replace(office, passwords=Passwords(replace(CHEAP, passes=2)))
    add_people(office)
    accounts.sign_in(dearer, {"sign_in": "crew", "password": PASSWORD}, address="127.0.0.1")
    row = accounts.called(office, "crew")
    assert "t=2" in accounts.accounts.hash_of(office.book, row.id)


def test_more_sign_ins_at_once_than_there_is_memory_for_are_told_to_wait():
    full = Passwords(CHEAP)
    taken = [full._door.acquire(blocking=False) for _ in range(20)]
    assert True in taken and False in taken
    with pytest.raises(CannotRun, match="in a few seconds"):
        full.fits("x", None)


# ---------------------------------------------------------------- the trail


def test_the_trail_tells_who_did_what_and_holds_no_password(call, office):
    people = add_people(office)
    attempt(call, "my secret typed into the wrong place", "my other secret")
    owner = sign_in(call, "owner")
    job = jobs.create(office.book, text='name = "x"\n', at=NOW, by="").id
    made = call.post(f"/jobs/{job}/links", headers=owner, data={"days": "30"})
    token = re.search(r"/look/([\w-]{43})</code>", made.text)[1]
    call.post(f"/people/{people['crew'].id}/role", headers=owner, data={"role": "owner"})
    call.post(f"/jobs/{job}/house", headers=owner, data={"client": "Ada", "site": "lobby"})
    client = call.get(f"/jobs/{job}/client", headers=owner).headers["location"].rpartition("/")[2]
    call.post(f"/erase/client/{client}", headers=owner, data={"client": client})
    page = call.get("/trail", headers=owner).text
    for told in ("opened an account", "gave a wrong password", "signed in", "made a link", "changed a role", "erased"):
        assert told in page
    assert "secret" not in page and token not in page
    by = {one.entry.deed.value: one.by for one in accounts.told(office)}
    assert by["erased"] == by["role_changed"] == by["link_made"] == by["changed"] == "owner" and by["failed"] == ""
    # Whatever else was sent and taken is there by its address, once; what was refused or only read is not.
    call.post(f"/jobs/{job}/house", headers=owner, data={"client": "", "site": ""})
    changed = [one.entry.note for one in accounts.told(office) if one.entry.deed.value == "changed"]
    assert changed == [f"/jobs/{job}/house"]


@pytest.mark.parametrize("days", ["0", "367", "x", "", "1e9", "nan"])
def test_days_of_a_link_that_cannot_be_used_are_told(call, job_id, days):
    refused = call.post(f"/jobs/{job_id}/links", data={"days": days})
    assert refused.status_code == 422 and "<code>" not in refused.text


# ---------------------------------------------------------------- the door


def test_the_office_opens_to_others_only_with_an_owner_and_a_certificate(office, tmp_path, clock):
    file, key, _ = certificate(tmp_path, days=400)

    def door(host="0.0.0.0", certificate=None, key=None):
        return door_of(office, host=host, port=0, certificate=certificate, key=key, called="slackwater")

    for host in ("127.0.0.1", "::1", "localhost", "127.8.8.8"):
        assert door(host).is_for_this_machine
    with pytest.raises(CannotRun, match="people add NAME --role owner"):
        door(certificate=file, key=key)
    add_people(office)
    with pytest.raises(CannotRun, match="--certificate FILE --key FILE"):
        door("192.0.2.7")
    with pytest.raises(CannotRun, match="give both"):
        door(certificate=file)
    with pytest.raises(CannotRun, match="no address of this machine"):
        door("office.example")
    opened = door(certificate=file, key=key)
    assert names_of(opened) == {"office.example", "127.0.0.1"}
    with pytest.raises(CannotRun, match="no certificate and its key"):
        door(certificate=file, key=file)
    with pytest.raises(CannotRun, match="cannot be read"):
        door(certificate=tmp_path / "none.pem", key=key)
    clock.now = NOW + timedelta(days=40_000)
    with pytest.raises(CannotRun, match="was good until"):
        door(certificate=file, key=key)
    clock.now = NOW
    nameless = certificate(tmp_path, days=400, names=(), addresses=())
    with pytest.raises(CannotRun, match="names no machine"):
        door(certificate=nameless[0], key=nameless[1])


def test_somebody_signs_in_over_tls_and_the_cookie_stays_with_it(settings, tmp_path):
    """As if beyond loopback: an office that is never open to whoever comes, behind a certificate of our own authority."""
    file, key, root = certificate(tmp_path)
    with open_office(cheap(settings), clock=lambda: NOW, workers=1) as office, socket.socket() as listening:
        app = create_app(office.settings, clock=lambda: NOW, hosts=["127.0.0.1"], alone=False)
        app.state.office = office
        listening.bind(("127.0.0.1", 0))
        address = f"https://127.0.0.1:{listening.getsockname()[1]}"
        config = uvicorn.Config(
            app, log_level="error", proxy_headers=False, ssl_certfile=str(file), ssl_keyfile=str(key)
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        opener = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=ssl.create_default_context(cafile=str(root))), _Stay()
        )

        def ask(path, data=None, **headers):
            sent = urllib.request.Request(address + path, data, {"origin": address, **headers})
            try:
                return opener.open(sent, timeout=60)
            except urllib.error.HTTPError as error:
                return error

        try:
            # Nobody has an account, and nobody comes in for it.
            assert ask("/people").status == 303
            add_people(office)
            answer = ask("/sign-in", f"sign_in=crew&password={PASSWORD.replace(' ', '+')}".encode())
            cookie = answer.headers["set-cookie"]
            assert answer.status == 303 and cookie.startswith("__Host-session=")
            assert {"HttpOnly", "Path=/", "SameSite=lax", "Secure"} <= set(
                cookie.split("; ")
            ) and "Domain" not in cookie
            pair = cookie.partition(";")[0]
            assert ask("/jobs", cookie=pair).status == 200
            # A cookie that a page without TLS could have set is not looked at.
            assert ask("/jobs", cookie=pair.replace("__Host-", "")).status == 303
            assert ask("/health").read() == b"open\n"
            with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
                urllib.request.urlopen(address, timeout=60)
        finally:
            server.should_exit = True
            thread.join(30)


class _Stay(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args, **more):
        return None


def test_people_are_added_and_led_at_the_machine_itself(settings, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_HOME", str(settings.home))
    for name in ("SLACKWATER_DATABASE", "SLACKWATER_KEY_FILE"):
        monkeypatch.delenv(name, raising=False)

    def run(*args, typed=""):
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        code = main(["people", *args])
        told = capsys.readouterr()
        return code, told.out + told.err

    assert "The first is an owner" in run("list")[1]
    assert run("add", "bo", "--role", "crew", typed=f"{PASSWORD}\n") == (2, "The first account is that of an owner; add the owner, then the others\n")  # fmt: skip
    assert run("add", "ada", "--role", "owner", typed="\n")[0] == 2
    code, told = run("add", "ada", "--role", "owner", "--name", "Ada Harbour", "--make-up")
    made = re.search(r"this once: (\S{23})", told)[1]
    assert code == 0
    assert run("add", "bo", "--role", "crew", typed=f"{PASSWORD}\n")[0] == 0
    assert re.search(r"ada +owner +not signed in +Ada Harbour\nbo +crew", run("list")[1])
    assert "only owner" in run("remove", "ada")[1]
    assert run("role", "bo", "owner")[0] == run("end-sessions", "bo")[0] == run("remove", "ada")[0] == 0
    assert "Nobody signs in as ada" in run("password", "ada", "--make-up")[1]
    with open_desk(settings, clock=lambda: NOW) as desk:
        with pytest.raises(accounts.NotLetIn):
            accounts.sign_in(desk, {"sign_in": "ada", "password": made}, address="127.0.0.1")
        assert accounts.sign_in(desk, {"sign_in": "bo", "password": PASSWORD}, address="127.0.0.1")
