"""Pages of water tests and of prices: what is entered again and again."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import pricing, testing
from slackwater.actions.office import Office
from slackwater.actions.testing import Place
from slackwater.job.event import READABLE
from slackwater.web.forms import Sent, Sheet, fresh, tried, typed_in
from slackwater.web.here import Here
from slackwater.web.pages import render, units_of
from slackwater.web.records import at_now, now_here

router = APIRouter(include_in_schema=False)


def _place(office: Office, kind: str, record_id: str) -> Place:
    return (testing.place_of_tank if kind == "tanks" else testing.place_of_job)(office, record_id)


def _tests(request: Request, office: Office, place: Place, sheet: Sheet) -> Response:
    units, found = units_of(request), testing.tests_at(office, place)
    return render(
        request,
        "water_tests.html",
        status_code=sheet.status,
        place=place,
        tests=testing.shown(found, units),
        figure=testing.figure(found, units),
        usual=testing.USUAL,
        rare=[name for name in READABLE if name not in testing.USUAL],
        rare_used=any(sheet.typed.get(name) for name in READABLE if name not in testing.USUAL),
        sheet=sheet,
    )


@router.get("/jobs/{job_id}/tests")
def tests_of_job(
    request: Request, office: Here, job_id: str, corrects: Annotated[str, Query(max_length=60)] = ""
) -> Response:
    """Water tests of a job's tank."""
    return _tests(
        request, office, _place(office, "jobs", job_id), fresh(office, {**at_now(office), "corrects": corrects})
    )


@router.get("/tanks/{tank_id}/tests")
def tests_of_tank(
    request: Request, office: Here, tank_id: str, corrects: Annotated[str, Query(max_length=60)] = ""
) -> Response:
    """Water tests of a tank."""
    return _tests(
        request, office, _place(office, "tanks", tank_id), fresh(office, {**at_now(office), "corrects": corrects})
    )


def _enter(request: Request, office: Office, place: Place, typed: dict[str, str]) -> Response:
    units = units_of(request)
    sheet = tried(lambda: testing.enter_test(office, place, typed, units), typed)
    return _tests(request, office, place, sheet) if sheet else RedirectResponse(place.address, 303)


@router.post("/jobs/{job_id}/tests")
def enter_for_job(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Keep a water test of a job's tank."""
    return _enter(request, office, _place(office, "jobs", job_id), typed_in(form))


@router.post("/tanks/{tank_id}/tests")
def enter_for_tank(request: Request, office: Here, tank_id: str, form: Sent) -> Response:
    """Keep a water test of a tank."""
    return _enter(request, office, _place(office, "tanks", tank_id), typed_in(form))


def _drawing(request: Request, office: Office, place: Place) -> Response:
    svg = testing.drawing(testing.tests_at(office, place), units_of(request))
    return Response(
        svg,
        media_type="image/svg+xml",
        headers={"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"},
    )


@router.get("/jobs/{job_id}/tests/over-time.svg")
def drawing_of_job(request: Request, office: Here, job_id: str) -> Response:
    """The tests of a job's tank, drawn."""
    return _drawing(request, office, _place(office, "jobs", job_id))


@router.get("/tanks/{tank_id}/tests/over-time.svg")
def drawing_of_tank(request: Request, office: Here, tank_id: str) -> Response:
    """The tests of a tank, drawn."""
    return _drawing(request, office, _place(office, "tanks", tank_id))


# ---------------------------------------------------------------- prices


@router.get("/prices")
def prices(request: Request, office: Here, item: Annotated[str, Query(max_length=300)] = "") -> Response:
    """All prices that hold; with an item, how it changed."""
    return _prices(request, office, fresh(office, {"valid_from": f"{now_here(office):%Y-%m-%d}", "item": item}), item)


def _prices(request: Request, office: Office, sheet: Sheet, item: str = "") -> Response:
    return render(
        request,
        "prices.html",
        status_code=sheet.status,
        held=pricing.held(office),
        amount=pricing.amount,
        known=pricing.known_items(office),
        item=item,
        history=pricing.history(office, item) if item else (),
        sheet=sheet,
    )


@router.post("/prices")
def set_price(request: Request, office: Here, form: Sent) -> Response:
    """Tell a price from a day on."""
    typed = typed_in(form)
    sheet = tried(lambda: pricing.set_price(office, typed), typed)
    return _prices(request, office, sheet) if sheet else RedirectResponse("/prices", 303)
