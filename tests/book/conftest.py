"""Each test of the book runs over SQLite and over a real PostgreSQL."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import pytest

from slackwater.book import Book, open_book
from tests.book import postgresql
from tests.book.places import Place, on_postgresql, on_sqlite

NUMBERS = count()


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    if postgresql.programs() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("PostgreSQL is missing, and in continuous integration it must be there")
        pytest.skip("PostgreSQL is not on this machine: the book was tested with SQLite only")
    with postgresql.server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def new_place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Place]]:
    """Makes places for books, each empty."""
    with ExitStack() as stack:

        def make() -> Place:
            number = next(NUMBERS)
            folder = tmp_path / f"home-{number}"
            if request.param == "sqlite":
                return on_sqlite(folder)
            address = request.getfixturevalue("server")
            return on_postgresql(stack.enter_context(postgresql.schema(address, f"book_{number}")), folder)

        yield make


@pytest.fixture
def place(new_place: Callable[[], Place]) -> Place:
    """Where a book can be begun."""
    return new_place()


@pytest.fixture
def book(place: Place) -> Iterator[Book]:
    """A new book without a key."""
    with open_book(place.where, folder=place.folder) as opened:
        yield opened
