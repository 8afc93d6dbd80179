"""Pages of the saved versions of a job: all of them, one, and taking one back."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import planning, surveying, versions
from slackwater.actions.office import Office
from slackwater.errors import BadInput
from slackwater.job.answers import shown
from slackwater.job.form import question_at
from slackwater.job.positions import Path
from slackwater.web.here import LARGEST_NUMBER, Here, Number
from slackwater.web.pages import render
from slackwater.web.survey_view import label_of
from slackwater.wording.render import sentence_list

router = APIRouter(include_in_schema=False)


def local(moment: datetime) -> datetime:
    """As the clock of this machine on the wall shows it."""
    return moment.astimezone()


def _shown(office: Office, path: Path, text: str) -> str:
    question = question_at(path)
    return text if question is None else shown(question, text, surveying.catalog_of(office))


def _words(office: Office) -> dict[str, Any]:
    return {"label": label_of, "shown": partial(_shown, office), "local": local}


@router.get("/jobs/{job_id}/versions")
def all_versions(
    request: Request, office: Here, job_id: str, before: Annotated[int | None, Query(ge=1, le=LARGEST_NUMBER)] = None
) -> Response:
    """Every saved version of a job, when it was saved and what it changed."""
    found = versions.listed(office, job_id, before=before)
    return render(request, "versions.html", job=found.row, found=found, **_words(office))


@router.get("/jobs/{job_id}/versions/{n}")
def version(request: Request, office: Here, job_id: str, n: Number) -> Response:
    """One version, and what taking it back would change."""
    seen = versions.look(office, job_id, n)
    return render(request, "version.html", job=seen.row, seen=seen, parts=_answers(office, job_id, n), **_words(office))


def _answers(office: Office, job_id: str, n: int) -> dict[str, list[tuple[str, str]]]:
    """What a version says, by part of the survey; nothing where it cannot be read."""
    try:
        known = planning.facts(office, job_id, n)
    except BadInput:
        return {}
    found: dict[str, list[tuple[str, str]]] = {}
    for part, answer in known:
        if answer.text:
            title = sentence_list(f"survey.part.{part.id}")[0]
            found.setdefault(title, []).append((label_of(answer.path), _shown(office, answer.path, answer.text)))
    return found


@router.get("/jobs/{job_id}/versions/{n}/job.toml")
def text(office: Here, job_id: str, n: Number) -> Response:
    """A version as a job file."""
    headers = {"content-disposition": f'attachment; filename="version-{n}.toml"'}
    return Response(
        versions.look(office, job_id, n).text, media_type="application/toml; charset=utf-8", headers=headers
    )


@router.post("/jobs/{job_id}/versions/{n}/back")
def take_back(
    office: Here, job_id: str, n: Number, based_on: Annotated[int, Form(ge=1, le=LARGEST_NUMBER)]
) -> Response:
    """Take a version back as a new one."""
    return RedirectResponse(f"/jobs/{job_id}/versions/{versions.take_back(office, job_id, n, based_on=based_on)}", 303)
