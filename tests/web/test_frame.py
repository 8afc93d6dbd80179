"""The frame of all pages: who may call, what a page may load, what a refusal looks like."""

from __future__ import annotations

import inspect

import pytest
from fastapi import Request
from fastapi.routing import APIRoute

from slackwater.web import accounts, api, clients, erase, plans, records, start, survey, tests_prices, versions
from slackwater.web.security import LARGEST_FORM, LARGEST_UPLOAD, host_name


def test_a_page_may_load_nothing_from_elsewhere_and_run_nothing_written_into_it(call):
    policy = call.get("/").headers["content-security-policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'self'"
    assert rules["frame-ancestors"] == rules["object-src"] == rules["base-uri"] == "'none'"
    assert "script-src" not in rules
    assert "style-src" not in rules
    assert "unsafe" not in policy


@pytest.mark.parametrize("path", ["/", "/nowhere", "/api/nowhere", "/static/style.css"])
def test_every_answer_carries_the_same_protection(call, path):
    headers = call.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["x-frame-options"] == "DENY"


def test_pages_hold_no_script_and_no_style_of_their_own(call):
    page = call.get("/").text
    assert "<style" not in page
    assert " style=" not in page
    assert " onclick" not in page
    assert all(" src=" in tag.split(">")[0] for tag in page.split("<script")[1:])


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "", "[::2]"])
def test_a_foreign_name_for_this_machine_is_refused(call, host):
    assert call("GET", "/", headers={"host": host or " "}).status_code == 421


@pytest.mark.parametrize(
    ("host", "name"),
    [("localhost:8765", "localhost"), ("127.0.0.1", "127.0.0.1"), ("[::1]:80", "[::1]"), ("LocalHost", "localhost")],
)
def test_the_name_of_a_host_stands_before_its_port(host, name):
    assert host_name(host) == name


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://localhost:9999", ""])
def test_a_form_from_elsewhere_changes_nothing(call, origin):
    answer = call.post("/units", data={"units": "us"}, headers={"origin": origin})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_a_form_of_ours_is_taken_and_leads_back(call):
    answer = call.post("/units", data={"units": "us", "back": "/jobs?after=3"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs?after=3")
    assert "units=us" in answer.headers["set-cookie"]


@pytest.mark.parametrize("back", ["http://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)"])
def test_a_form_leads_nowhere_else(call, back):
    assert call.post("/units", data={"units": "us", "back": back}).headers["location"] == "/"


@pytest.mark.parametrize("kind", ["page", "json"])
def test_what_is_not_there_is_said_in_one_sentence(call, kind):
    path = "/nowhere" if kind == "page" else "/api/nowhere"
    answer = call.get(path)
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.text
    assert answer.headers["content-type"].startswith("text/html" if kind == "page" else "application/json")
    if kind == "json":
        assert set(answer.json()) == {"status", "message"}


@pytest.mark.parametrize("announced", [True, False])
def test_too_much_is_refused_whether_it_says_so_or_not(app, call, announced):
    @app.post("/read")
    async def read(request: Request):
        return len(await request.body())

    async def pieces():
        for _ in range(3):
            yield b"x" * 1_000_000

    answer = call.post("/read", content=b"x" * (LARGEST_FORM + 1) if announced else pieces())
    assert answer.status_code == 413
    assert "Nothing was changed" in answer.text


def test_a_form_with_one_huge_field_is_refused(call):
    answer = call.post("/units", data={"units": "x" * 1_500_000})
    assert answer.status_code == 400
    assert "could not be read" in answer.text


def test_an_upload_of_fifty_megabytes_is_refused(call):
    headers = {"content-type": "multipart/form-data; boundary=x", "content-length": "50000000"}
    assert LARGEST_UPLOAD < 50_000_000
    assert call.post("/units", content=b"--x", headers=headers).status_code == 413


def test_an_unforeseen_error_shows_no_inside(app, call):
    @app.get("/break")
    def broken():
        raise RuntimeError("secret inside")

    answer = call.get("/break")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "Something went wrong" in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_only_marked_static_files_are_kept(call):
    page = call.get("/").text
    marked = page.split('rel="stylesheet" href="')[1].split('"')[0]
    assert "immutable" in call.get(marked).headers["cache-control"]
    assert call.get("/static/style.css").headers["cache-control"] == "no-cache"
    assert call.get("/").headers["cache-control"] == "no-store"


@pytest.mark.parametrize("path", ["/static/../pages.py", "/static/%2e%2e/pages.py", "/static/..%2fpages.py"])
def test_nothing_beside_the_static_files_is_given_out(call, path):
    assert call.get(path).status_code == 404


def test_a_method_that_an_address_does_not_take_is_told_with_those_it_takes(call):
    answer = call("DELETE", "/api/jobs/0190a000-0000-7000-8000-000000000000/events")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, POST")
    assert call("PUT", "/").headers["allow"] == "GET"


@pytest.mark.parametrize("room", [accounts, api, clients, erase, plans, records, start, survey, tests_prices, versions])
def test_nothing_that_asks_the_book_runs_in_the_thread_that_serves_everybody(room):
    routes = [route for route in room.router.routes if isinstance(route, APIRoute)]
    assert routes
    waiting = {route.endpoint.__name__ for route in routes if inspect.iscoroutinefunction(route.endpoint)}
    assert waiting <= {"units"}, "one write that waits for the disk would hold up every page"


@pytest.mark.parametrize("path", ["/", "/firm", "/clients", "/prices", "/no-such-page"])
def test_head_is_answered_as_get_without_its_body(call, path):
    got, head = call.get(path), call("HEAD", path)
    assert head.status_code == got.status_code and head.content == b""
    assert head.headers["content-type"] == got.headers["content-type"]
