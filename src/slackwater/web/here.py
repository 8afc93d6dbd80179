"""What a handler needs of its request: the open office, and who asks."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Path, Request

from slackwater.actions.office import Office
from slackwater.errors import CannotRun

LARGEST_NUMBER = 2**31 - 1
"""Of a version or an event; larger ones fit no column of the book."""
Number = Annotated[int, Path(ge=1, le=LARGEST_NUMBER)]
"""Of a version, in an address."""


async def office_of(request: Request) -> Office:
    """The open office; asked for in the server's own thread, for it takes no time.

    Raises
    ------
    CannotRun
        If the app was not started.
    """
    office: Office | None = getattr(request.app.state, "office", None)
    if office is None:
        raise CannotRun("The office is not open; start it with: slackwater serve")
    return office


Here = Annotated[Office, Depends(office_of)]
