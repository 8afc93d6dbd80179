"""Tables of a library beside ours in the same database, brought there by the library's own scripts; PostgreSQL only.

What they hold passes: it is in no backup, a restore brings none of it, and a check does not look at it.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import delete, insert, select, text

from slackwater.book.faults import told
from slackwater.book.handle import Book
from slackwater.book.tables import fact
from slackwater.errors import CannotRun

LOCK = 0x51AC_BA7F
"""Any fixed number: two programs that bring the scripts at once take turns on it."""


def address(book: Book) -> str:
    """The address of the book's database as PostgreSQL's own tools read it, with all that it holds: never to be shown."""
    return book.engine.url.set(drivername="postgresql").render_as_string(hide_password=False)


def is_shared(book: Book) -> bool:
    """Whether machines can share the book: it is in PostgreSQL."""
    return book.engine.dialect.name == "postgresql"


def bring(book: Book, name: str, first: str, steps: Sequence[tuple[str, str]]) -> None:
    """Bring the tables of a library to the form that this program's library has, all or nothing.

    Parameters
    ----------
    name : str
        Under which the book notes how far it is.
    first : str
        The script that makes everything in today's form.
    steps : sequence of (str, str)
        Every step that the library ever took, in their order: name and script. Where the tables are older, those since are
        taken.

    Raises
    ------
    CannotRun
        If the tables are newer than this program's library.
    """
    newest = steps[-1][0]
    with told(), book.engine.connect() as connection, connection.begin():
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
        noted = connection.scalar(select(fact.c.value).where(fact.c.name == name))
        if noted == newest:
            return
        known = [step for step, _ in steps]
        if noted is not None and noted not in known:
            raise CannotRun(
                "The queue of long work in this database was set up by a newer Slackwater. Nothing was touched; use the newer "
                "program on this machine too"
            )
        wanted = [first] if noted is None else [script for _, script in steps[known.index(noted) + 1 :]]
        plain = connection.connection.driver_connection
        assert plain is not None
        for script in wanted:
            # By the driver itself: these scripts hold several statements, and signs that would be read as places for values.
            plain.execute(script)
        connection.execute(delete(fact).where(fact.c.name == name))
        connection.execute(insert(fact).values(name=name, value=newest))
