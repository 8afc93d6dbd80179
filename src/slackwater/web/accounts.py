"""Pages of people who may come in: sign in and out, people and their roles, links for clients, the trail."""

from __future__ import annotations

from ipaddress import ip_address
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import accounts, looking, recording
from slackwater.actions.accounts import DAY, Asker, NotLetIn
from slackwater.actions.firm import the_firm
from slackwater.actions.office import Office
from slackwater.web.forms import Sent, Sheet, fresh, tried, typed_in
from slackwater.web.gate import address_of, cookie_name
from slackwater.web.here import Here
from slackwater.web.pages import inside, render, units_of

router = APIRouter(include_in_schema=False)
TRAIL_PAGE = 100


def _asker(request: Request) -> Asker:
    asker: Asker = request.state.asker
    return asker


@router.get("/health")
def health() -> Response:
    """Whether the office answers; for whoever watches it, without a look at the book."""
    return Response("open\n", media_type="text/plain")


# ---------------------------------------------------------------- in and out


@router.get("/sign-in")
def sign_in(request: Request, office: Here, back: Annotated[str, Query(max_length=2000)] = "/") -> Response:
    """The door; whoever is in already goes on."""
    if _asker(request).role is not None:
        return RedirectResponse(inside(back), 303)
    return render(request, "sign_in.html", back=inside(back), typed="", fault="", open=accounts.has_owner(office))


@router.post("/sign-in")
def let_in(request: Request, office: Here, form: Sent) -> Response:
    """Let somebody in, or say why not; what was typed as the name stays."""
    typed = typed_in(form)
    back = inside(typed.get("back", "/"))
    try:
        token = accounts.sign_in(office, typed, address=address_of(request.scope))
    except NotLetIn as error:
        page = render(
            request,
            "sign_in.html",
            status_code=429 if error.wait_s else 401,
            back=back,
            typed=typed.get("sign_in", ""),
            fault=str(error),
            open=True,
        )
        if error.wait_s:
            page.headers["retry-after"] = str(error.wait_s)
        return page
    answer = RedirectResponse(back, 303)
    answer.set_cookie(
        cookie_name(request.scope),
        token,
        max_age=int(DAY.total_seconds()),
        path="/",
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return answer


@router.post("/sign-out")
def sign_out(request: Request, office: Here) -> Response:
    """End this session, here and in the book."""
    if _asker(request).account_id:
        accounts.sign_out(office, _asker(request))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(
        cookie_name(request.scope), path="/", httponly=True, samesite="lax", secure=request.url.scheme == "https"
    )
    return answer


@router.get("/password")
def password(request: Request, office: Here) -> Response:
    """One's own password, to be changed."""
    return _password(request, fresh(office))


def _password(request: Request, sheet: Sheet, *, done: bool = False) -> Response:
    # Passwords are not sent back into the page.
    return render(
        request, "password.html", status_code=sheet.status, sheet=Sheet(sheet.once, {}, sheet.faults), done=done
    )


@router.post("/password")
def change_password(request: Request, office: Here, form: Sent) -> Response:
    """Change one's own password; one's other devices sign in anew."""
    if not _asker(request).account_id:
        return RedirectResponse("/people", 303)
    typed = typed_in(form)
    sheet = tried(
        lambda: accounts.change_own_password(office, _asker(request), typed, address=address_of(request.scope)), typed
    )
    return _password(request, sheet or fresh(office), done=sheet is None)


# ---------------------------------------------------------------- people


@router.get("/people")
def people(request: Request, office: Here) -> Response:
    """Everybody who may come in."""
    return _people(request, office, fresh(office, {"role": "crew"}))


def _people(
    request: Request, office: Office, sheet: Sheet, *, name: str = "", made: str = "", status: int = 0
) -> Response:
    typed = {key: value for key, value in sheet.typed.items() if key != "new_password"}
    members = accounts.members(office)
    return render(
        request,
        "people.html",
        status_code=status or sheet.status,
        members=members,
        roles=[role.value for role in (accounts.Role if members else (accounts.Role.OWNER,))],
        sheet=Sheet(sheet.once, typed, sheet.faults),
        name=name,
        made=made,
    )


@router.post("/people")
def add(request: Request, office: Here, form: Sent) -> Response:
    """Let somebody in from now on; a password that was made up is told once, on the page that answers."""
    typed, made = typed_in(form), list[tuple[accounts.AccountRow, str]]()
    sheet = tried(lambda: made.append(accounts.add(office, typed, by=_asker(request).account_id)), typed)
    if sheet:
        return _people(request, office, sheet)
    row, told = made[0]
    if told:
        return _people(request, office, fresh(office, {"role": "crew"}), name=row.name, made=told)
    return RedirectResponse("/people", 303)


@router.get("/people/{account_id}")
def member(request: Request, office: Here, account_id: str) -> Response:
    """Somebody who may come in: role, password, devices."""
    return _member(request, office, account_id, fresh(office))


def _member(request: Request, office: Office, account_id: str, sheet: Sheet, made: str = "") -> Response:
    return render(
        request,
        "person.html",
        status_code=sheet.status,
        row=accounts.member(office, account_id),
        roles=[role.value for role in accounts.Role],
        sheet=Sheet(sheet.once, {}, sheet.faults),
        made=made,
        own=account_id == _asker(request).account_id,
    )


@router.post("/people/{account_id}/role")
def set_role(request: Request, office: Here, account_id: str, form: Sent) -> Response:
    """Give somebody another role."""
    accounts.set_role(office, account_id, typed_in(form).get("role", ""), by=_asker(request).account_id)
    return RedirectResponse("/people", 303)


@router.post("/people/{account_id}/password")
def set_password(request: Request, office: Here, account_id: str, form: Sent) -> Response:
    """Give somebody a new password; one that was made up is told once, on the page that answers."""
    typed, made = typed_in(form), list[str]()
    sheet = tried(
        lambda: made.append(accounts.set_password(office, account_id, typed, by=_asker(request).account_id)), typed
    )
    if sheet or made[0]:
        return _member(request, office, account_id, sheet or fresh(office), made[0] if made else "")
    return RedirectResponse("/people", 303)


@router.post("/people/{account_id}/end-sessions")
def end_sessions(request: Request, office: Here, account_id: str) -> Response:
    """Sign somebody out everywhere."""
    accounts.end_sessions(office, account_id, by=_asker(request).account_id)
    return RedirectResponse("/people", 303)


@router.post("/people/{account_id}/close")
def close(request: Request, office: Here, account_id: str) -> Response:
    """Close somebody's account for good."""
    accounts.close(office, account_id, by=_asker(request).account_id)
    return RedirectResponse("/people", 303)


@router.get("/trail")
def trail(request: Request, office: Here, before: Annotated[str | None, Query(max_length=60)] = None) -> Response:
    """Who came in, failed to, changed a role, made a link, erased something."""
    found = accounts.told(office, before=before, limit=TRAIL_PAGE + 1)
    more = found[TRAIL_PAGE - 1].entry.id if len(found) > TRAIL_PAGE else ""
    return render(request, "trail.html", told=found[:TRAIL_PAGE], more=more)


# ---------------------------------------------------------------- links for clients


@router.get("/jobs/{job_id}/links")
def links(request: Request, office: Here, job_id: str) -> Response:
    """Links by which a client looks at this job."""
    return _links(request, office, job_id, fresh(office, {"days": "30"}))


def _links(request: Request, office: Office, job_id: str, sheet: Sheet, token: str = "") -> Response:
    reached = _reached_at(request, office)
    return render(
        request,
        "links.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        links=looking.links_of(office, job_id),
        now=office.clock(),
        sheet=sheet,
        address=f"{reached or str(request.base_url).rstrip('/')}/look/{token}" if token else "",
        alone=request.app.state.alone,
        unreached=not reached,
    )


def _reached_at(request: Request, office: Office) -> str:
    """Where others reach the office: as the firm has told, else as it was called just now; empty for a name of this machine."""
    told = the_firm(office)[0].look.address or str(request.base_url).rstrip("/")
    host = urlsplit(told).hostname or ""
    try:
        own = ip_address(host).is_loopback
    except ValueError:
        own = host == "localhost"
    return "" if own else told


@router.post("/jobs/{job_id}/links")
def make_link(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Make a link; its address is told once, on the page that answers."""
    typed, made = typed_in(form), list[str]()
    sheet = tried(lambda: made.append(looking.make(office, job_id, typed, by=_asker(request).account_id)[1]), typed)
    return _links(request, office, job_id, sheet or fresh(office, {"days": "30"}), made[0] if made else "")


@router.post("/jobs/{job_id}/links/{link_id}/end")
def end_link(request: Request, office: Here, job_id: str, link_id: str) -> Response:
    """End a link."""
    looking.end(office, job_id, link_id, by=_asker(request).account_id)
    return RedirectResponse(f"/jobs/{job_id}/links", 303)


@router.get("/look/{token}")
def look(request: Request, office: Here, token: str) -> Response:
    """What a client sees of a job."""
    return render(request, "look.html", seen=looking.look(office, token, units_of(request)), token=token)


@router.get("/look/{token}/offer.pdf")
def offer(request: Request, office: Here, token: str) -> Response:
    """The offer as a paper."""
    content = looking.offer_paper(office, token, units_of(request))
    headers = {"content-disposition": 'attachment; filename="offer.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)


@router.get("/look/{token}/handover.pdf")
def handover(request: Request, office: Here, token: str) -> Response:
    """The handover sheet for the client's staff."""
    content = looking.handover_paper(office, token, units_of(request))
    headers = {"content-disposition": 'attachment; filename="handover.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)
