"""Pages of clients: people to ring with their door codes, houses, tanks."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import clientele
from slackwater.actions.entering import LONGEST_TEXT
from slackwater.actions.office import Office
from slackwater.web.forms import Sent, Sheet, fresh, tried, typed_in
from slackwater.web.here import Here
from slackwater.web.pages import render

router = APIRouter(include_in_schema=False)
PAGE = 50


@router.get("/clients")
def all_clients(
    request: Request,
    office: Here,
    after: Annotated[str | None, Query(max_length=60)] = None,
    find: Annotated[str, Query(max_length=LONGEST_TEXT)] = "",
) -> Response:
    """All clients, the newest first; or those who are called so."""
    return _all(request, office, fresh(office), after, find)


def _all(request: Request, office: Office, sheet: Sheet, after: str | None = None, words: str = "") -> Response:
    found = clientele.all_clients(office, after=after, limit=PAGE + 1)
    return render(
        request,
        "clients.html",
        status_code=sheet.status,
        clients=found[:PAGE],
        more=found[PAGE - 1][0].id if len(found) > PAGE else "",
        sealed=clientele.sealed(office),
        words=words.strip(),
        found=clientele.find(office, words),
        sheet=sheet,
    )


@router.post("/clients")
def add_client(request: Request, office: Here, form: Sent) -> Response:
    """Enter a client."""
    typed, made = typed_in(form), []
    sheet = tried(lambda: made.append(clientele.add_client(office, typed).id), typed)
    return _all(request, office, sheet) if sheet else RedirectResponse(f"/clients/{made[0]}", 303)


@router.get("/clients/{client_id}")
def client(request: Request, office: Here, client_id: str) -> Response:
    """A client: people, houses, tanks, jobs."""
    return _client(request, office, client_id)


def _client(
    request: Request, office: Office, client_id: str, *, person: Sheet | None = None, site: Sheet | None = None
) -> Response:
    refused = person or site
    return render(
        request,
        "client.html",
        status_code=refused.status if refused else 200,
        seen=clientele.see_client(office, client_id),
        sealed=clientele.sealed(office),
        person_sheet=person or fresh(office),
        site_sheet=site or fresh(office),
    )


@router.post("/clients/{client_id}/people")
def add_person(request: Request, office: Here, client_id: str, form: Sent) -> Response:
    """Enter somebody who speaks for a client."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.add_person(office, client_id, typed), typed)
    if sheet:
        return _client(request, office, client_id, person=sheet)
    return RedirectResponse(f"/clients/{client_id}#people", 303)


@router.get("/clients/{client_id}/people/{person_id}")
def person(request: Request, office: Here, client_id: str, person_id: str) -> Response:
    """Somebody's entry, to be corrected."""
    spoken = clientele.see_person(office, client_id, person_id)
    known = clientele.person_fields(spoken.person) if spoken.person else {}
    return _person(
        request, office, client_id, person_id, fresh(office, {**known, "revision": str(spoken.row.revision)})
    )


def _person(request: Request, office: Office, client_id: str, person_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "client_person.html",
        status_code=sheet.status,
        seen=clientele.see_client(office, client_id),
        spoken=clientele.see_person(office, client_id, person_id),
        sealed=clientele.sealed(office),
        sheet=sheet,
    )


@router.post("/clients/{client_id}/people/{person_id}")
def change_person(request: Request, office: Here, client_id: str, person_id: str, form: Sent) -> Response:
    """Correct somebody's entry."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.change_person(office, client_id, person_id, typed), typed)
    if sheet:
        return _person(request, office, client_id, person_id, sheet)
    return RedirectResponse(f"/clients/{client_id}#people", 303)


@router.post("/clients/{client_id}/sites")
def add_site(request: Request, office: Here, client_id: str, form: Sent) -> Response:
    """Enter a house."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.add_site(office, client_id, typed), typed)
    if sheet:
        return _client(request, office, client_id, site=sheet)
    return RedirectResponse(f"/clients/{client_id}#sites", 303)


@router.get("/clients/{client_id}/sites/{site_id}")
def site(request: Request, office: Here, client_id: str, site_id: str) -> Response:
    """A house: its tanks, and its name to be corrected."""
    return _site(request, office, client_id, site_id)


def _site(
    request: Request,
    office: Office,
    client_id: str,
    site_id: str,
    *,
    site: Sheet | None = None,
    tank: Sheet | None = None,
) -> Response:
    house, refused = clientele.see_site(office, client_id, site_id), site or tank
    known = {**clientele.site_fields(house), "revision": str(house.row.revision)}
    return render(
        request,
        "client_site.html",
        status_code=refused.status if refused else 200,
        seen=clientele.see_client(office, client_id),
        house=house,
        site_sheet=site or fresh(office, known),
        tank_sheet=tank or fresh(office),
    )


@router.post("/clients/{client_id}/sites/{site_id}")
def change_site(request: Request, office: Here, client_id: str, site_id: str, form: Sent) -> Response:
    """Correct a house."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.change_site(office, client_id, site_id, typed), typed)
    if sheet:
        return _site(request, office, client_id, site_id, site=sheet)
    return RedirectResponse(f"/clients/{client_id}/sites/{site_id}", 303)


@router.post("/clients/{client_id}/sites/{site_id}/tanks")
def add_tank(request: Request, office: Here, client_id: str, site_id: str, form: Sent) -> Response:
    """Enter a tank."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.add_tank(office, client_id, site_id, typed), typed)
    if sheet:
        return _site(request, office, client_id, site_id, tank=sheet)
    return RedirectResponse(f"/clients/{client_id}/sites/{site_id}#tanks", 303)


@router.get("/clients/{client_id}/sites/{site_id}/tanks/{tank_id}")
def tank(request: Request, office: Here, client_id: str, site_id: str, tank_id: str) -> Response:
    """A tank: its jobs, its water tests, its name to be corrected."""
    known = clientele.see_tank(office, client_id, site_id, tank_id)
    sheet = fresh(office, {"tank_name": known.name, "revision": str(known.revision)})
    return _tank(request, office, client_id, site_id, tank_id, sheet)


def _tank(request: Request, office: Office, client_id: str, site_id: str, tank_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "client_tank.html",
        status_code=sheet.status,
        seen=clientele.see_client(office, client_id),
        house=clientele.see_site(office, client_id, site_id),
        tank=clientele.see_tank(office, client_id, site_id, tank_id),
        sheet=sheet,
    )


@router.post("/clients/{client_id}/sites/{site_id}/tanks/{tank_id}")
def change_tank(request: Request, office: Here, client_id: str, site_id: str, tank_id: str, form: Sent) -> Response:
    """Correct the name of a tank."""
    typed = typed_in(form)
    sheet = tried(lambda: clientele.change_tank(office, client_id, site_id, tank_id, typed), typed)
    if sheet:
        return _tank(request, office, client_id, site_id, tank_id, sheet)
    return RedirectResponse(f"/clients/{client_id}/sites/{site_id}/tanks/{tank_id}", 303)


@router.get("/jobs/{job_id}/client")
def client_of_job(office: Here, job_id: str) -> Response:
    """To the client of a job; to the job, where one can be named, while there is none."""
    client_id = clientele.client_of_job(office, job_id)
    return RedirectResponse(f"/clients/{client_id}" if client_id else f"/jobs/{job_id}", 303)
