"""Forms of the record book: what was sent, and the same form again with what was typed, what is wrong, what others wrote."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import FormData, UploadFile

from slackwater.actions.entering import Overtaken, Unusable
from slackwater.actions.office import Office
from slackwater.book.ids import new_id

MOST_FILES = 10
MOST_FIELDS = 2000


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form(max_fields=MOST_FIELDS, max_files=MOST_FILES) as form:
        yield form


Sent = Annotated[FormData, Depends(_form)]


def typed_in(form: FormData) -> dict[str, str]:
    """The texts of a form by name."""
    return {name: value for name, value in form.multi_items() if isinstance(value, str)}


def files_in(form: FormData, name: str = "file") -> list[tuple[str, bytes]]:
    """Names and contents of the files that were chosen."""
    found = [value for key, value in form.multi_items() if key == name and isinstance(value, UploadFile)]
    return [(file.filename or "", file.file.read()) for file in found if file.size]


@dataclass(frozen=True)
class Sheet:
    """A form as it is shown.

    Attributes
    ----------
    once : str
        Id of what the form makes, so that one that is sent twice makes one entry.
    typed : mapping of str to str
    faults : mapping of str to str
        What is wrong with a field.
    theirs : mapping of str to str
        What somebody else wrote there meanwhile.
    """

    once: str
    typed: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)
    theirs: Mapping[str, str] = field(default_factory=dict)

    @property
    def status(self) -> int:
        """Of the page that shows it."""
        return 422 if self.faults else 409 if self.theirs else 200

    @property
    def refused(self) -> bool:
        """Whether it was sent and not taken."""
        return bool(self.faults or self.theirs)


def fresh(office: Office, typed: Mapping[str, str] | None = None) -> Sheet:
    """A form that was not sent yet."""
    return Sheet(once=new_id(office.clock()), typed=typed or {})


def tried(act: Callable[[], object], typed: Mapping[str, str]) -> Sheet | None:
    """Do what a form asks for; the form to show again if it was not taken, with nothing lost that was typed."""
    try:
        act()
    except Unusable as error:
        return Sheet(once=typed.get("once", ""), typed=typed, faults=error.faults)
    except Overtaken as error:
        theirs = {
            name: text for name, text in error.theirs.items() if text != typed.get(name, "").replace("\r\n", "\n")
        }
        return Sheet(
            once=typed.get("once", ""),
            typed={**typed, "revision": str(error.revision)},
            theirs=theirs or dict(error.theirs),
        )
    return None
