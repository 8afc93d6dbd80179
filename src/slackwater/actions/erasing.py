"""What a user does to forget: look through what may tell of a client, erase a person, client, photo or document, reword a text."""

from __future__ import annotations

import json
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from slackwater.actions.clientele import client_of_job, client_of_tank, see_person
from slackwater.actions.entering import Unusable, nothing_there
from slackwater.actions.files import read_text
from slackwater.actions.office import Desk
from slackwater.actions.plan_work import PLAN, forget_computed
from slackwater.actions.rest_work import REST, forget_rests
from slackwater.book import clients, documents, erasing, links, parcels, people, photos, review, trail
from slackwater.book.documents import DocumentRow
from slackwater.book.erasing import Erased as Erased
from slackwater.book.photos import PhotoRow
from slackwater.book.places import AS_JSON, TextPlace, check_fits
from slackwater.book.review import FreeText
from slackwater.book.trail import Deed
from slackwater.errors import BadInput, NotFound

MADE = frozenset({"plan", "plan_summary", "task"})
"""Tables whose texts the program made: they are taken out whole, and can be made again."""
SHOWN_CHARACTERS = 600


class Target(StrEnum):
    """What can be erased by its id."""

    CLIENT = "client"
    PERSON = "person"
    PHOTO = "photo"
    DOCUMENT = "document"


@dataclass(frozen=True)
class Text:
    """A free text on the page of review.

    Attributes
    ----------
    told : str
        Where it stands, as the list of erasures tells it.
    table, field : str
    text : str
        Whole.
    made : bool
        The program made it; it is taken out whole.
    """

    told: str
    table: str
    field: str
    text: str
    made: bool

    @property
    def start(self) -> str:
        """As much of it as a list shows."""
        return self.text if len(self.text) <= SHOWN_CHARACTERS else f"{self.text[:SHOWN_CHARACTERS]} …"


@dataclass(frozen=True)
class Review:
    """What may still tell of a client."""

    photos: tuple[PhotoRow, ...]
    documents: tuple[DocumentRow, ...]
    texts: tuple[Text, ...]


@dataclass(frozen=True)
class Asked:
    """What is to be erased.

    Attributes
    ----------
    target : Target
    id : str
    name : str
        What it is called; empty where it has no name or was erased.
    gone : bool
        It was erased before.
    client_id, job_id : str or None
        Where to go back to.
    """

    target: Target
    id: str
    name: str
    gone: bool
    client_id: str | None = None
    job_id: str | None = None


def review_of(office: Desk, client_id: str) -> Review:
    """Photos, documents and texts of a client that only a reader can judge.

    Raises
    ------
    NotFound
    """
    try:
        found = review.of_client(office.book, client_id)
    except NotFound:
        raise nothing_there() from None
    return Review(
        photos=tuple(photos.get(office.book, photo_id) for photo_id in found.photo_ids),
        documents=tuple(documents.get(office.book, document_id) for document_id in found.document_ids),
        texts=tuple(_text(text) for text in found.texts),
    )


def _text(found: FreeText) -> Text:
    place = found.place
    return Text(place.told(), place.table, place.field, found.text, made=place.table in MADE)


def text_at(office: Desk, client_id: str, told: str) -> Text:
    """One text of a client.

    Raises
    ------
    NotFound
        If this client has no text there.
    """
    text = next((text for text in review_of(office, client_id).texts if text.told == told), None)
    if text is None:
        raise nothing_there()
    return text


def asked(office: Desk, target: str, record_id: str, *, client_id: str = "") -> Asked:
    """What is to be erased, to be shown before it is.

    Parameters
    ----------
    client_id : str
        For a person, the client that they speak for, where the page knows it.

    Raises
    ------
    NotFound
    """
    try:
        match target:
            case Target.CLIENT:
                client = clients.get(office.book, record_id)
                known = people.several(office.book, [person_id for _, person_id in client.people])
                itself = known[client.person_id].person if client.person_id else None
                gone = all(row.person is None for row in known.values())
                return Asked(Target.CLIENT, record_id, itself.name if itself else "", gone, client_id=record_id)
            case Target.PERSON:
                person = people.get(office.book, record_id).person
                if client_id:
                    see_person(office, client_id, record_id)
                name = person.name if person else ""
                return Asked(Target.PERSON, record_id, name, person is None, client_id=client_id or None)
            case Target.PHOTO:
                photo = photos.get(office.book, record_id)
                owner = _client_of(office, photo.job_id, photo.tank_id)
                return Asked(Target.PHOTO, record_id, photo.caption, photo.sha256 is None, owner, photo.job_id)
            case Target.DOCUMENT:
                row = documents.get(office.book, record_id)
                owner = _client_of(office, row.job_id, None)
                return Asked(Target.DOCUMENT, record_id, row.title, row.sha256 is None, owner, row.job_id)
    except NotFound:
        pass
    raise nothing_there()


def _client_of(office: Desk, job_id: str | None, tank_id: str | None) -> str | None:
    if job_id is not None:
        return client_of_job(office, job_id)
    return None if tank_id is None else client_of_tank(office, tank_id)[1]


def erase(office: Desk, what: Asked, *, by: str = "") -> Erased:
    """Erase it for good.

    Raises
    ------
    NotFound, CannotRun
        If it is not there; if the list of erasures cannot be written, and nothing was erased.
    """
    act = {
        Target.CLIENT: erasing.erase_client,
        Target.PERSON: erasing.erase_person,
        Target.PHOTO: erasing.erase_photo,
        Target.DOCUMENT: erasing.erase_document,
    }[what.target]
    if what.target is Target.CLIENT:
        links.end_of_client(office.book, what.id, at=office.clock())
    done = act(office.book, what.id, at=office.clock(), by=by)
    trail.note(office.book, Deed.ERASED, at=office.clock(), by=by, about=what.id, note=what.target.value)
    return done


def reword(office: Desk, client_id: str, told: str, becomes: str, *, by: str = "") -> Erased:
    """Let a text of this client read otherwise; what stood there is gone. Checked first by `check_words`.

    Raises
    ------
    NotFound, Unusable, CannotRun
    """
    text = text_at(office, client_id, told)
    check_words(text, becomes)
    if text.table in ("version", "plan", "plan_summary", "event"):
        # What was laid out for other machines repeats the words too; it goes first, so that its traces are cleared with theirs.
        for kind in (REST,) if text.table == "event" else (PLAN, REST):
            parcels.forget(office.book, kind)
    done = erasing.replace_text(office.book, TextPlace.from_told(told), becomes, at=office.clock(), by=by)
    trail.note(office.book, Deed.ERASED, at=office.clock(), by=by, about=client_id, note=f"text {text.table}")
    if text.table in ("version", "plan", "plan_summary"):
        # Plans made for the screen repeat the words of the job; they may be thrown away at any time.
        forget_computed(office.settings)
    elif text.table == "event":
        forget_rests(office.settings)
    return done


def without(text: Text) -> str:
    """What stands in place of a text that is taken out whole; of a task the page still finds which version it was of."""
    if (text.table, text.field) == ("task", "arguments"):
        return json.dumps({**json.loads(text.text), "changes": []}, sort_keys=True)
    return "{}" if (text.table, text.field) in AS_JSON else ""


def becoming(text: Text, file: Path | None) -> str:
    """How a text will read: as a file says, or as it does where it is taken out whole.

    Raises
    ------
    BadInput, CannotRun, Unusable
        If a file is asked for and none was named, or it cannot be read; if the words cannot stand there.
    """
    if text.made:
        return without(text)
    if file is None:
        raise BadInput("How should it read? Write the text without the name to a file, and name that with --becomes")
    try:
        becomes = read_text(file)
    except NotFound as error:
        raise BadInput(f"{file}: there is no such file; write the text without the name to it") from error
    check_words(text, becomes)
    return becomes


def check_words(text: Text, becomes: str) -> None:
    """Refuse words that cannot stand there.

    Raises
    ------
    Unusable
    """
    try:
        check_fits(TextPlace.from_told(text.told), becomes)
    except BadInput as error:
        raise Unusable({"becomes": str(error)}) from None
