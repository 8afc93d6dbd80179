"""What passes between machines through the book: whole or not at all, for a while, and nothing that leads out of a folder."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import text, update

from slackwater.book import parcels, traces
from slackwater.book.blobs import content_hash
from slackwater.book.tables import parcel
from slackwater.errors import BadInput
from tests.book.places import NOON

FILES = {"page.json": b"{}", "offer.pdf": bytes(range(256)), "empty": b""}


def test_what_is_laid_comes_back_byte_by_byte_and_the_newer_replaces_the_older(book):
    parcels.lay(book, "plan/a", FILES)
    assert parcels.fetch(book, "plan/a") == FILES
    parcels.lay(book, "plan/a", {"page.json": b"[]"})
    assert parcels.fetch(book, "plan/a") == {"page.json": b"[]"}
    assert parcels.fetch(book, "plan/b") is None
    assert parcels.laid(book, ["plan/a", "plan/b"]) == {"plan/a"}


def test_the_same_files_are_the_same_bytes_whatever_their_order(book):
    parcels.lay(book, "plan/a", FILES)
    parcels.lay(book, "plan/b", dict(reversed(FILES.items())))
    with book.reading() as connection:
        assert len(set(connection.scalars(text("SELECT sha256 FROM parcel")))) == 1


def test_what_has_lain_too_long_is_thrown_away_when_something_new_is_laid(book):
    times = iter([NOON, NOON + parcels.KEPT, NOON + parcels.KEPT + timedelta(seconds=1)])
    later = replace(book, clock=lambda: next(times))
    for mark in ("plan/old", "plan/new", "plan/newest"):
        parcels.lay(later, mark, FILES)
    assert parcels.laid(book, ["plan/old", "plan/new", "plan/newest"]) == {"plan/new", "plan/newest"}


def test_one_kind_is_forgotten_and_its_traces_are_noted(book):
    for mark in ("plan/a", "rest/a", "plans/a"):
        parcels.lay(book, mark, FILES)
    parcels.forget(book, "plan")
    assert parcels.laid(book, ["plan/a", "rest/a", "plans/a"]) == {"rest/a", "plans/a"}
    assert traces.are_left(book)
    assert traces.clear(book)


def test_what_is_damaged_or_leads_out_of_its_folder_is_not_there(book):
    for name in ("../key", "/key", ".hidden", "a\\b", "c:d"):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as bundle:
            bundle.writestr(name, b"x")
        parcels.lay(book, "plan/a", FILES)
        content = packed.getvalue()
        with book.writing() as connection:
            connection.execute(update(parcel).values(content=content, sha256=content_hash(content)))
        assert parcels.fetch(book, "plan/a") is None, name
    with book.writing() as connection:
        connection.execute(update(parcel).values(content=b"no zip"))
    assert parcels.fetch(book, "plan/a") is None


def test_what_is_far_too_large_is_refused(book, monkeypatch):
    monkeypatch.setattr(parcels, "LARGEST", 10)
    with pytest.raises(BadInput, match="too large"):
        parcels.lay(book, "plan/a", FILES)
