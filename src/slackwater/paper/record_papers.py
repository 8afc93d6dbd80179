"""Papers from the record book: the condition before work, to be signed, and the care report of a period."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from slackwater.paper.data import PAPER_SIZES, words_of
from slackwater.paper.sender import Sender
from slackwater.paper.tested_figures import Tested, tests_svg
from slackwater.paper.write import for_templates, paper_with_pictures
from slackwater.reader import Reader, Typed, localised, right_to_left
from slackwater.wording.render import say, say_count, sentence_list

PARTS = ("scratches", "seams", "hoses", "floor", "animals", "other")
MOST_PICTURES = 24
"""Of a report; a record shows all that it has up to this number for each part. More make a file that no mail takes."""
MOST_COLUMNS = 7
"""Readings beside each other in a table; further ones follow in another."""
TESTS = "tests.svg"


@dataclass(frozen=True)
class About:
    """What a paper of the record book is of.

    Attributes
    ----------
    job, reference, site, client : str
    size : str or None
        a4 or letter.
    """

    job: str
    reference: str
    site: str = ""
    client: str = ""
    size: str | None = None


@dataclass(frozen=True)
class Picture:
    """A picture as it is shown: JPEG, upright, small."""

    content: bytes
    caption: str


@dataclass(frozen=True)
class Seen:
    """One thing that was seen before the work: `part` is one of `PARTS`, `at` local time."""

    part: str
    place: str
    seen: str
    at: datetime
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True)
class Done:
    """One thing that was done or noted: what it is called, and somebody's own words about it."""

    at: datetime | date
    """A date where the time is in doubt."""
    kind: str
    """finished, dropped, added, counted, noted or decided."""
    what: str
    words: str = ""
    caught: int | None = None


@dataclass(frozen=True)
class Care:
    """A period of care.

    Attributes
    ----------
    first, last : date
    done : tuple of Done
        In the order of time.
    tested : tuple of Tested
        Readings with their names in the reader's language.
    pictures : tuple of Picture
    next : tuple of (date, str)
        What comes, in the reader's language.
    """

    first: date
    last: date
    done: tuple[Done, ...] = ()
    tested: tuple[Tested, ...] = ()
    pictures: tuple[Picture, ...] = ()
    next: tuple[tuple[date, str], ...] = ()


def _head(about: About, title: str, reader: Reader) -> dict[str, Any]:
    return {
        "words": words_of(reader),
        "language": Typed(reader.language.partition("-")[0]),
        "right_to_left": right_to_left(reader),
        "paper": PAPER_SIZES[about.size],
        "title": Typed(about.job or title),
        "job": Typed(about.job),
        "reference": Typed(about.reference),
        "site": Typed(about.site),
        "client": Typed(about.client),
        "version": "",
        "hash": "",
    }


def condition_data(about: About, seen: Sequence[Seen], reader: Reader) -> dict[str, Any]:
    """Everything the condition record reads; a part that nobody looked at has a line to write on."""
    return {
        **_head(about, say("sheet.record.title", {}, reader), reader),
        "parts": [_part(part, [one for one in seen if one.part == part], reader) for part in PARTS],
        "sentences": sentence_list("record.sentences", reader),
    }


def _part(part: str, seen: Sequence[Seen], reader: Reader) -> dict[str, Any]:
    pictures = [picture for one in seen for picture in one.pictures]
    shown = pictures[:MOST_PICTURES]
    left = len(pictures) - len(shown)
    return {
        "name": say(f"record.part_{part}", {}, reader),
        "rows": [
            {"place": Typed(one.place), "seen": Typed(one.seen), "at": f"{one.at:%d %b %Y} {one.at:%H:%M}"}
            for one in seen
        ],
        "pictures": [
            {"file": Typed(f"{part}-{number}.jpg"), "caption": Typed(picture.caption)}
            for number, picture in enumerate(shown)
        ],
        "more": say("record.more", {"pictures": say_count("picture", left, reader)}, reader) if left else "",
    }


def condition_record(about: About, seen: Sequence[Seen], reader: Reader, sender: Sender) -> bytes:
    """What was there before the work began, for both sides to sign, as PDF."""
    pictures = {
        f"{part}-{number}.jpg": picture.content
        for part in PARTS
        for number, picture in enumerate([p for one in seen if one.part == part for p in one.pictures][:MOST_PICTURES])
    }
    data = for_templates(condition_data(about, seen, reader), reader)
    return paper_with_pictures("condition-record", data, {}, pictures, sender)


def care_data(about: About, care: Care, reader: Reader) -> dict[str, Any]:
    """Everything the care report reads."""
    return {
        **_head(about, say("sheet.care.title", {}, reader), reader),
        "first": f"{care.first:%d %b %Y}",
        "last": f"{care.last:%d %b %Y}",
        "done": [_done(one, reader) for one in care.done],
        "has_plot": any(len(reading.values) > 1 for reading in care.tested),
        "plot_alt": "; ".join(_spread(reading, reader) for reading in care.tested),
        "tables": [_table(care.tested[at : at + MOST_COLUMNS]) for at in range(0, len(care.tested), MOST_COLUMNS)],
        "pictures": [
            {"file": Typed(f"care-{number}.jpg"), "caption": Typed(picture.caption)}
            for number, picture in enumerate(care.pictures[:MOST_PICTURES])
        ],
        "more": say(
            "record.more", {"pictures": say_count("picture", len(care.pictures) - MOST_PICTURES, reader)}, reader
        )
        if len(care.pictures) > MOST_PICTURES
        else "",
        "next": [[f"{on:%a %d %b %Y}", text] for on, text in care.next],
    }


def _done(one: Done, reader: Reader) -> dict[str, str]:
    told = say(f"care.{one.kind}", {}, reader)
    if one.caught is not None:
        told = say("care.caught", {"count": str(one.caught)}, reader)
    clock = f" {one.at:%H:%M}" if isinstance(one.at, datetime) else ""
    return {"at": f"{one.at:%a %d %b}{clock}", "kind": told, "what": one.what, "words": Typed(one.words)}


def _spread(reading: Tested, reader: Reader) -> str:
    low, high = (reading.told(value) for value in (min(reading.values), max(reading.values)))
    return say("care.spread", {"name": reading.name, "low": low, "high": high}, reader)


def _table(tested: Sequence[Tested]) -> dict[str, Any]:
    """One row for each moment, the oldest first."""
    known: list[Mapping[datetime, float]] = [dict(zip(one.at, one.values, strict=True)) for one in tested]
    return {
        "columns": [reading.name for reading in tested],
        "rows": [
            [
                f"{at:%d %b %Y} {at:%H:%M}",
                *(
                    reading.told(values[at]) if at in values else ""
                    for reading, values in zip(tested, known, strict=True)
                ),
            ]
            for at in sorted({at for reading in tested for at in reading.at})
        ],
    }


def care_report(about: About, care: Care, reader: Reader, sender: Sender) -> bytes:
    """What was done in a period, how the water went, how it looks and what comes, as PDF."""
    plotted = [reading for reading in care.tested if len(reading.values) > 1]
    figures = {TESTS: tests_svg(plotted, say=lambda text: localised(text, reader))} if plotted else {}
    pictures = {f"care-{number}.jpg": one.content for number, one in enumerate(care.pictures[:MOST_PICTURES])}
    return paper_with_pictures(
        "care-report", for_templates(care_data(about, care, reader), reader), figures, pictures, sender
    )
