"""The page of what finished jobs took: ratios by activity, goods and cost, and which jobs are left out."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import learned
from slackwater.actions.office import Office
from slackwater.web.forms import Sent, Sheet, fresh, tried, typed_in
from slackwater.web.here import Here
from slackwater.web.pages import render

router = APIRouter(include_in_schema=False)


@router.get("/learned")
def see(request: Request, office: Here) -> Response:
    """What was learned so far."""
    return _learned(request, office)


def _learned(request: Request, office: Office, job_id: str = "", sheet: Sheet | None = None) -> Response:
    shown = sheet or fresh(office)
    found = learned.learned_of(office)
    return render(
        request,
        "learned.html",
        status_code=shown.status,
        found=found,
        parts=list(learned.lines_of(found)),
        standing=[line for _, lines in learned.lines_of(found) for line in lines if line.out_of_line],
        most=found.most,
        today=office.clock().date(),
        asked=job_id,
        sheet=shown,
        # Each job has its own form, and so its own entry.
        sheets={day.job_id: fresh(office) for day in found.days},
    )


@router.post("/learned/{job_id}/out")
def leave_out(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Leave a job out, with a reason."""
    typed = typed_in(form)
    sheet = tried(lambda: learned.leave_out(office, job_id, typed), typed)
    return _learned(request, office, job_id, sheet) if sheet else RedirectResponse(f"/learned#j-{job_id}", 303)


@router.post("/learned/{job_id}/in")
def take_in(office: Here, job_id: str) -> Response:
    """Learn from a job again."""
    learned.take_in(office, job_id)
    return RedirectResponse(f"/learned#j-{job_id}", 303)
