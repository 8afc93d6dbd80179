"""Pages of invoices: the firm's settings, drafts of a job, what was issued and its papers."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import firm as firms
from slackwater.actions import invoicing, recording
from slackwater.actions.invoicing import DraftSeen, NotReady
from slackwater.actions.office import Office
from slackwater.actions.recording import Handed
from slackwater.errors import NotFound
from slackwater.invoice.codes import UNITS
from slackwater.invoice.model import Firm
from slackwater.reader import languages
from slackwater.web.forms import Sent, Sheet, files_in, fresh, tried, typed_in
from slackwater.web.here import Here, Number
from slackwater.web.pages import render
from slackwater.wording.render import say

router = APIRouter(include_in_schema=False)
Year = Annotated[int, Path(ge=1970, le=9999)]


def handed(found: Handed) -> Response:
    """A file to be saved; its name is of plain signs."""
    headers = {
        "content-disposition": f'attachment; filename="{found.file_name}"',
        "content-security-policy": "default-src 'none'; sandbox",
    }
    return Response(found.content, media_type=found.media_type, headers=headers)


# ---------------------------------------------------------------- the firm


@router.get("/firm")
def firm(request: Request, office: Here) -> Response:
    """The firm's settings."""
    found, revision = firms.the_firm(office)
    return _firm(request, office, fresh(office, firms.firm_fields(found, revision)))


def _firm(request: Request, office: Office, sheet: Sheet) -> Response:
    found, revision = firms.the_firm(office)
    return render(
        request,
        "firm.html",
        status_code=sheet.status,
        sheet=sheet,
        lacks=firms.lacks(found) if revision else (),
        begun=bool(revision),
        categories=[(name, say(f"invoice.category.{name}", {})) for name in firms.CATEGORIES],
        rows=range(1, firms.TAXES + 1),
        has_logo=bool(found.look.logo),
        accent_note=firms.accent_note(found),
        accent_faint=firms.accent_faint(found),
        languages=[(tag, say(f"records.firm.language_{tag}", {})) for tag in languages()],
    )


@router.post("/firm")
def save_firm(request: Request, office: Here, form: Sent) -> Response:
    """Replace the firm's settings."""
    typed = typed_in(form)
    pictures = [content for _, content in files_in(form, "logo")]
    sheet = tried(lambda: firms.save_firm(office, typed, picture=pictures[0] if pictures else None), typed)
    return _firm(request, office, sheet) if sheet else RedirectResponse("/firm", 303)


@router.get("/firm/logo.png")
def logo(office: Here) -> Response:
    """The logo as papers show it."""
    found = firms.logo(office)
    if found is None:
        raise NotFound(say("records.firm.no_logo", {}))
    return Response(found, media_type="image/png")


# ---------------------------------------------------------------- all invoices


@router.get("/invoices")
def all_invoices(request: Request, office: Here) -> Response:
    """What was issued, by year."""
    found = [(year, invoicing.of_year(office, year)[::-1]) for year in invoicing.years(office)]
    return render(request, "invoices_all.html", years=found)


@router.get("/invoices/{year}.csv")
def year_csv(office: Here, year: Year) -> Response:
    """Everything of a year for bookkeeping."""
    return handed(invoicing.year_csv(office, year))


# ---------------------------------------------------------------- invoices of a job


@router.get("/jobs/{job_id}/invoices")
def of_job(request: Request, office: Here, job_id: str) -> Response:
    """Invoices of a job, and a new one."""
    return _of_job(request, office, job_id, fresh(office))


def _told(offer: invoicing.Offer) -> str:
    values = {"version": str(offer.version), "price": f"{offer.price:f}", "currency": offer.currency}
    if not offer.option:
        return say("invoice.page.offer", values)
    return say("invoice.page.offer_option", {**values, "option": offer.option})


def _of_job(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    found = invoicing.offers(office, job_id)
    options = [(offer.key, _told(offer)) for offer in found]
    return render(
        request,
        "invoices_job.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        invoices=invoicing.of_job(office, job_id),
        options=[*options, ("none", say("invoice.page.no_offer", {}))],
        sheet=sheet,
    )


@router.post("/jobs/{job_id}/invoices")
def begin(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Begin an invoice."""
    typed, made = typed_in(form), list[str]()
    sheet = tried(lambda: made.append(invoicing.begin(office, job_id, typed).id), typed)
    return _of_job(request, office, job_id, sheet) if sheet else _to(job_id, made[0])


def _to(job_id: str, invoice_id: str, place: str = "") -> Response:
    return RedirectResponse(f"/jobs/{job_id}/invoices/{invoice_id}{place}", 303)


@router.get("/jobs/{job_id}/invoices/{invoice_id}")
def invoice(request: Request, office: Here, job_id: str, invoice_id: str) -> Response:
    """A draft with everything that is to be confirmed, or what was issued."""
    return _invoice(request, office, job_id, invoice_id)


def _invoice(
    request: Request, office: Office, job_id: str, invoice_id: str, *, head: Sheet | None = None,
    line: Sheet | None = None, found: Sheet | None = None, taxes: Sheet | None = None, status: int = 200,
) -> Response:  # fmt: skip
    seen, job = invoicing.see(office, job_id, invoice_id), recording.job_of(office, job_id)
    if not isinstance(seen, DraftSeen):
        return render(request, "invoice_issued.html", job=job, seen=seen, sheet=fresh(office))
    sheets = {one.source: fresh(office, invoicing.suggested_fields(one)) for one in seen.suggestions}
    if found is not None:
        sheets[found.typed.get("source", "")] = found
    asked = next((sheet for sheet in (head, line, found, taxes) if sheet is not None), None)
    return render(
        request,
        "invoice_draft.html",
        status_code=asked.status if asked else status,
        job=job,
        seen=seen,
        head=head or fresh(office, invoicing.head_fields(seen)),
        line=line or fresh(office, {"quantity": "1", "unit": "H87", "tax": "1"}),
        sheets=sheets,
        taxes=taxes or fresh(office, {"tax": "1"}),
        refused=status != 200,
        **_choices(seen.firm),
    )


def _choices(firm: Firm) -> dict[str, list[tuple[str, str]]]:
    return {
        "measures": [(code, say(f"invoice.unit.{name}", {})) for code, name in UNITS.items()],
        "firm_taxes": [(str(number), f"{tax.label}: {tax.short}") for number, tax in enumerate(firm.taxes, start=1)],
    }


@router.post("/jobs/{job_id}/invoices/{invoice_id}/head")
def change_head(request: Request, office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Change buyer, dates and what was paid before."""
    typed = typed_in(form)
    sheet = tried(lambda: invoicing.change_head(office, job_id, invoice_id, typed), typed)
    return _invoice(request, office, job_id, invoice_id, head=sheet) if sheet else _to(job_id, invoice_id)


@router.post("/jobs/{job_id}/invoices/{invoice_id}/lines")
def add_line(request: Request, office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Add a line, typed or confirmed."""
    typed = typed_in(form)
    sheet = tried(lambda: invoicing.add_line(office, job_id, invoice_id, typed), typed)
    if sheet and typed.get("source"):
        return _invoice(request, office, job_id, invoice_id, found=sheet)
    return _invoice(request, office, job_id, invoice_id, line=sheet) if sheet else _to(job_id, invoice_id, "#lines")


@router.post("/jobs/{job_id}/invoices/{invoice_id}/leave")
def leave_out(office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Leave something of the day out."""
    invoicing.leave_out(office, job_id, invoice_id, typed_in(form).get("source", ""))
    return _to(job_id, invoice_id, "#day")


@router.post("/jobs/{job_id}/invoices/{invoice_id}/taxes")
def tax_all(request: Request, office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Give all lines one tax."""
    typed = typed_in(form)
    sheet = tried(lambda: invoicing.tax_all(office, job_id, invoice_id, typed), typed)
    return _invoice(request, office, job_id, invoice_id, taxes=sheet) if sheet else _to(job_id, invoice_id, "#lines")


@router.get("/jobs/{job_id}/invoices/{invoice_id}/lines/{number}")
def line(request: Request, office: Here, job_id: str, invoice_id: str, number: Number) -> Response:
    """One line to be changed."""
    seen = invoicing.see(office, job_id, invoice_id)
    if not isinstance(seen, DraftSeen):
        return _to(job_id, invoice_id)
    return _line(request, office, job_id, seen, number, fresh(office, invoicing.line_fields(seen, number)))


def _line(request: Request, office: Office, job_id: str, seen: DraftSeen, place: int, sheet: Sheet) -> Response:
    job = recording.job_of(office, job_id)
    choices = _choices(seen.firm)
    return render(
        request, "invoice_line.html", status_code=sheet.status, job=job, seen=seen, place=place, sheet=sheet, **choices
    )


@router.post("/jobs/{job_id}/invoices/{invoice_id}/lines/{number}")
def change_line(request: Request, office: Here, job_id: str, invoice_id: str, number: Number, form: Sent) -> Response:
    """Change a line, or take it out."""
    typed = typed_in(form)
    sheet = tried(lambda: invoicing.change_line(office, job_id, invoice_id, number, typed), typed)
    seen = invoicing.see(office, job_id, invoice_id) if sheet else None
    if sheet and isinstance(seen, DraftSeen):
        return _line(request, office, job_id, seen, number, sheet)
    return _to(job_id, invoice_id, "#lines")


@router.post("/jobs/{job_id}/invoices/{invoice_id}/drop")
def drop(office: Here, job_id: str, invoice_id: str) -> Response:
    """Throw a draft away."""
    invoicing.drop(office, job_id, invoice_id)
    return RedirectResponse(f"/jobs/{job_id}/invoices", 303)


@router.post("/jobs/{job_id}/invoices/{invoice_id}/issue")
def issue(request: Request, office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Issue a draft."""
    try:
        invoicing.issue(office, job_id, invoice_id, typed_in(form))
    except NotReady:
        return _invoice(request, office, job_id, invoice_id, status=422)
    return _to(job_id, invoice_id)


@router.post("/jobs/{job_id}/invoices/{invoice_id}/credit")
def credit(office: Here, job_id: str, invoice_id: str, form: Sent) -> Response:
    """Begin a credit note."""
    return _to(job_id, invoicing.credit(office, job_id, invoice_id, typed_in(form)).id)


@router.get("/jobs/{job_id}/invoices/{invoice_id}/invoice.{form}")
def paper(office: Here, job_id: str, invoice_id: str, form: str) -> Response:
    """An issued invoice as PDF, XML or table."""
    return handed(invoicing.paper(office, job_id, invoice_id, form))
