"""Templates: one environment, every sentence by its id, every address of a static file with its content's mark."""

from __future__ import annotations

import hashlib
import re
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import cache, lru_cache
from html import escape
from pathlib import Path as File
from threading import Lock
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from jinja2.filters import do_mark_safe

from slackwater import __version__
from slackwater.actions.accounts import NOBODY, Asker
from slackwater.job.form import field_name, question_at
from slackwater.job.positions import Path
from slackwater.paper.fact_names import FactName, in_pieces
from slackwater.units import UnitSystem
from slackwater.wording.render import say, sentence_list, sentences

HERE = File(__file__).parent
STATIC = HERE / "static"
UNITS_COOKIE = "units"


def asset(name: str) -> str:
    """Address of a static file, marked with its content so that browsers keep it; empty where it was not built."""
    file = STATIC / name
    if not file.is_file():
        return ""
    return f"/static/{name}?v={_mark(file, file.stat().st_mtime_ns)}"


@cache
def _mark(file: File, _changed: int) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()[:12]


def units_of(request: Request) -> UnitSystem:
    """The reader's units, metric unless chosen."""
    return "us" if request.cookies.get(UNITS_COOKIE) == "us" else "metric"


@cache
def environment() -> Environment:
    """The templates; a name that a template lacks is a defect, not an empty place."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(
        asset=asset, version=__version__, t=_text, has_text=lambda key: key in sentences(), words=sentence_list
    )
    made.filters.update(facts=with_links)
    return made


def asker_of(request: Request) -> Asker:
    """Who asks; nobody where the gate was not reached."""
    asker: Asker = getattr(request.state, "asker", NOBODY)
    return asker


def inside(back: str) -> str:
    """Where a form leads back to: an address of ours, or the start page."""
    return back if back.startswith("/") and not back.startswith(("//", "/\\")) and back.isprintable() else "/"


def _text(sentence_id: str, **values: float | str) -> str:
    return say(sentence_id, values)


@lru_cache(maxsize=8192)
def with_links(text: str, job_id: str = "") -> str:
    """A sentence with the words of the survey in place of keys, each a link to its question where a job is named."""
    return do_mark_safe(
        "".join(_linked(piece, job_id) if isinstance(piece, FactName) else escape(piece) for piece in in_pieces(text))
    )


def _linked(fact: FactName, job_id: str) -> str:
    told = escape(fact.quoted)
    return f'<a href="/jobs/{job_id}/survey/{fact.part}#{question_mark(fact.path)}">{told}</a>' if job_id else told


def dom_id(name: str) -> str:
    """A field's name as an id of the page."""
    return re.sub(r"[^A-Za-z0-9_]", "-", name)


def question_mark(path: Path) -> str:
    """Where a question or a group stands on its page of the survey."""
    return dom_id(field_name(path)) if question_at(path) is None else f"field-{dom_id(field_name(path))}"


class Kept:
    """Pages that are written out, as long as everything that they show is the same: the last ones that were asked for.

    Parameters
    ----------
    most : int
        So many are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._pages: OrderedDict[Hashable, bytes] = OrderedDict()
        self._lock = Lock()

    def page(self, key: Hashable, write: Callable[[], bytes]) -> bytes:
        """The page of a key, written now if it is not kept."""
        with self._lock:
            if key in self._pages:
                self._pages.move_to_end(key)
                return self._pages[key]
        # Two readers of a new page write it twice rather than wait for each other.
        page = write()
        with self._lock:
            self._pages[key] = page
            while len(self._pages) > self._most:
                self._pages.popitem(last=False)
        return page


def render_once(request: Request, template: str, key: Hashable, **values: Any) -> HTMLResponse:
    """As `render`, of a page that is the same whenever `key`, the address and the units are."""
    kept: Kept = request.app.state.kept
    whole = (template, key, str(request.url.path), request.url.query, units_of(request), asker_of(request).role)
    return HTMLResponse(kept.page(whole, lambda: bytes(render(request, template, **values).body)))


def render(request: Request, template: str, *, status_code: int = 200, **values: Any) -> HTMLResponse:
    """A page, or a part of one, from its template.

    Templates get `request`, `units`, `asker`, and `t("web.some.id", name=value)` for sentences.
    """
    text = (
        environment()
        .get_template(template)
        .render(request=request, units=units_of(request), asker=asker_of(request), **values)
    )
    return HTMLResponse(text, status_code=status_code)
