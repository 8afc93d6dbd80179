"""The typed API."""

from __future__ import annotations

from uuid import uuid4

import pytest

from tests.web.conftest import EXAMPLE
from tools.openapi import HERE, description

NOBODY = "0190a000-0000-7000-8000-000000000000"


def test_the_written_description_is_the_one_of_this_program():
    assert (HERE / "web" / "openapi.json").read_text(encoding="utf-8") == description(), "run: python -m tools.openapi"


def test_the_description_covers_the_api_and_no_page(call):
    described = call.get("/api/openapi.json").json()
    assert described["paths"]
    assert all(path.startswith("/api/") for path in described["paths"])
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            assert operation["description"], (path, method)
            assert {"404", "422"} <= set(operation["responses"]), (path, method)


def test_a_job_and_its_text_come_as_they_stand(call, job_id):
    (item,) = call.get("/api/jobs").json()["jobs"]
    assert (item["id"], item["name"], item["newest_version"]) == (job_id, "Light well", 1)
    assert call.get(f"/api/jobs/{job_id}").json() == item
    assert call.get(f"/api/jobs/{job_id}/versions/1").json()["text"] == EXAMPLE
    assert [line["number"] for line in call.get(f"/api/jobs/{job_id}/versions").json()] == [1]


def test_a_plan_says_the_same_as_its_page(call, planned, computed):
    import json

    page = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    plan = call.get(f"/api/jobs/{planned}/versions/1/plan").json()
    assert plan["outcome"] == page["outcome"]
    assert [item["text"] for item in plan["deciding"]] == [item["text"] for item in page["deciding"]]
    assert sum(map(len, plan["figures"].values())) == sum(map(len, page["whys"].values()))
    drawing = call.get(f"/api/jobs/{planned}/versions/1/drawings/{plan['drawings'][0]}")
    assert drawing.headers["content-type"] == "image/svg+xml"
    assert drawing.text.startswith("<svg")


@pytest.mark.parametrize("name", ["page.json", "..%2Fplan.json", "none.svg"])
def test_only_drawings_are_given_out_as_drawings(call, planned, name):
    assert call.get(f"/api/jobs/{planned}/versions/1/drawings/{name}").status_code == 404


@pytest.mark.parametrize(
    ("path", "status"),
    [
        (f"jobs/{NOBODY}", 404),
        (f"jobs/{NOBODY}/versions", 404),
        (f"jobs/{NOBODY}/events", 404),
        (f"tasks/{NOBODY}", 404),
        ("jobs/nobody", 422),
        ("jobs?limit=0", 422),
        ("jobs?after=x", 422),
        (f"jobs/{NOBODY}/versions/99999999999999999999", 422),
    ],
)
def test_what_is_not_there_or_cannot_be_is_one_sentence(call, path, status):
    answer = call.get(f"/api/{path}")
    assert answer.status_code == status
    assert set(answer.json()) == {"status", "message"}
    assert answer.json()["message"].rstrip(".")


def event(**values):
    return {"id": str(uuid4()), "at": "2027-10-26T08:05:00", "kind": "noted", "job": "LW-2027-10", **values}


def test_events_are_appended_once_in_order_and_a_refused_one_hinders_no_other(call, job_id):
    where = f"/api/jobs/{job_id}/events"
    first, second = event(body={"text": "leak"}), event(body={"text": "dry"})
    assert [item["n"] for item in call.post(where, json=[first]).json()["accepted"]] == [1]
    done = call.post(where, json=[{**first, "body": {"text": "other"}}, first, second]).json()
    assert [item["id"] for item in done["refused"]] == [first["id"]]
    assert done["refused"][0]["message"]
    assert [(item["id"], item["n"]) for item in done["accepted"]] == [(first["id"], 1), (second["id"], 2)]
    (after,) = call.get(f"{where}?after=1").json()["events"]
    assert (after["n"], after["event"]["body"]) == (2, {"text": "dry"})


def test_an_event_that_contradicts_another_is_kept_and_told(call, job_id):
    where = f"/api/jobs/{job_id}/events"
    begun = event(kind="started", subject="E4", at="2027-10-26T12:10:00")
    over = event(kind="finished", subject="E4", at="2027-10-26T10:25:00")
    (first,) = call.post(where, json=[begun]).json()["accepted"]
    (second,) = call.post(where, json=[over]).json()["accepted"]
    assert first["contradicts"] == "" and "both cannot be right" in second["contradicts"]
    assert [item["event"]["id"] for item in call.get(where).json()["events"]] == [begun["id"], over["id"]]


def test_too_many_events_at_once_are_refused(call, job_id):
    answer = call.post(f"/api/jobs/{job_id}/events", json=[event() for _ in range(101)])
    assert answer.status_code == 422
    assert call.get(f"/api/jobs/{job_id}/events").json() == {"events": []}


def test_a_page_of_jobs_says_where_the_next_begins(call, office, job_id):
    from slackwater.book import jobs
    from tests.web.conftest import NOW

    other = jobs.create(office.book, text='name = "b"\n', at=NOW, by="").id
    first = call.get("/api/jobs?limit=1").json()
    second = call.get(f"/api/jobs?limit=1&after={first['next']}").json()
    assert {first["jobs"][0]["id"], second["jobs"][0]["id"]} == {job_id, other}
    assert call.get(f"/api/jobs?limit=1&after={second['next']}").json() == {"jobs": [], "next": None}


def test_a_plan_is_asked_for_followed_and_stopped(call, job_id):
    task = call.post(f"/api/jobs/{job_id}/versions/1/plan")
    assert task.status_code == 202
    where = f"/api/tasks/{task.json()['id']}"
    assert call.get(where).json()["state"] in ("waiting", "running")
    stopped = call.post(f"{where}/cancel").json()
    assert stopped["stopping"] or stopped["state"] == "cancelled"


def test_work_from_another_page_of_the_net_is_not_begun(call, job_id):
    answer = call.post(f"/api/jobs/{job_id}/versions/1/plan", headers={"origin": "http://evil.example"})
    assert answer.status_code == 403
    assert set(answer.json()) == {"status", "message"}
