"""What a user keeps beside a job: photos, the condition before work, documents."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from slackwater.actions.entering import LONGEST_TEXT, Entered, nothing_there
from slackwater.actions.office import Desk, Office
from slackwater.book import conditions, documents, jobs, photos
from slackwater.book.conditions import Condition
from slackwater.book.conditions import Part as Part
from slackwater.book.documents import LARGEST_BYTES, DocumentRow
from slackwater.book.jobs import JobRow
from slackwater.book.layouts import MEDIA_TYPE as LAYOUT
from slackwater.book.photos import PhotoRow
from slackwater.book.pictures import look_at
from slackwater.errors import BadInput, Conflict, NotFound

KINDS: Mapping[str, str] = {
    "pdf": "application/pdf",
    "jpg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "odt": "application/vnd.oasis.opendocument.text",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
    "zip": "application/zip",
    "csv": "text/csv",
    "txt": "text/plain",
    "glb": LAYOUT,
}
"""Kinds of documents that are kept, by the ending that they are handed out with."""
STARTS: Mapping[str, bytes] = {"pdf": b"%PDF-", "jpg": b"\xff\xd8\xff", "png": b"\x89PNG\r\n\x1a\n", "webp": b"RIFF"}
IN_ZIP = ("docx", "xlsx", "odt", "ods")
LONGEST_FILE_NAME = 120


def job_of(office: Desk, job_id: str) -> JobRow:
    """A job.

    Raises
    ------
    NotFound
        With the one sentence for what is not there.
    """
    try:
        return jobs.get(office.book, job_id)
    except NotFound:
        raise nothing_there() from None


# ---------------------------------------------------------------- photos


def photos_of(office: Office, job_id: str) -> list[PhotoRow]:
    """Photos of a job that were not erased.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return [photo for photo in photos.of_job(office.book, job_id) if photo.sha256 is not None]


def keep_photos(
    office: Office, job_id: str, typed: Mapping[str, str], files: Sequence[bytes], *, by: str = ""
) -> list[PhotoRow]:
    """Keep photos of a job: all of them, or none where one is no picture.

    Raises
    ------
    NotFound, Unusable
    """
    job_of(office, job_id)
    entered = Entered(typed)
    caption = entered.text("caption", most=500)
    if not files:
        entered.fault("file", "no_file")
    _looked_at(entered, files)
    entered.done()
    return _kept(office, job_id, files, caption=caption, placeless=typed.get("without_place") == "yes", by=by)


def _looked_at(entered: Entered, files: Sequence[bytes]) -> None:
    """Refuse what is no picture before any is kept."""
    for number, content in enumerate(files, start=1):
        try:
            look_at(content)
        except BadInput as error:
            entered.fault("file", "photo", number=str(number), why=str(error))


def _kept(
    office: Office, job_id: str, files: Sequence[bytes], *, caption: str, placeless: bool, by: str
) -> list[PhotoRow]:
    kept = [
        photos.add(office.book, content, at=office.clock(), by=by, job_id=job_id, caption=caption) for content in files
    ]
    return [photos.take_place_out(office.book, row.id) if placeless and row.has_place else row for row in kept]


def take_place_out(office: Office, job_id: str, photo_id: str) -> PhotoRow:
    """Take the place out of a photo of this job.

    Raises
    ------
    NotFound
        If this job has no such photo, or it was erased.
    """
    if photo_id not in {photo.id for photo in photos_of(office, job_id)}:
        raise nothing_there()
    return photos.take_place_out(office.book, photo_id)


# ---------------------------------------------------------------- condition before work


def condition_of(office: Office, job_id: str) -> list[Condition]:
    """What was seen before the work on a job began, in the order of entry.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return conditions.of_job(office.book, job_id)


def note_condition(
    office: Office, job_id: str, typed: Mapping[str, str], files: Sequence[bytes] = (), *, by: str = ""
) -> Condition:
    """Note what was seen, with its photos.

    Raises
    ------
    NotFound, Unusable
    """
    job_of(office, job_id)
    entered = Entered(typed)
    part = entered.one_of("part", frozenset(Part))
    place, seen = entered.text("place"), entered.needed("seen", most=LONGEST_TEXT)
    at, own = entered.moment("at"), entered.own_id()
    _looked_at(entered, files)
    entered.done()
    if own is not None:
        try:
            return conditions.get(office.book, own)
        except NotFound:
            pass
    kept = _kept(office, job_id, files, caption="", placeless=typed.get("without_place") == "yes", by=by)
    return conditions.add(
        office.book,
        job_id,
        part=Part(part),
        place=place,
        seen=seen,
        at=at,
        by=by,
        photo_ids=[photo.id for photo in kept],
        condition_id=own,
    )


def add_condition_photos(
    office: Office, job_id: str, condition_id: str, typed: Mapping[str, str], files: Sequence[bytes], *, by: str = ""
) -> Condition:
    """Put photos to what was seen.

    Raises
    ------
    NotFound, Unusable
        If this job has no such entry; if one is no picture.
    """
    if condition_id not in {entry.id for entry in condition_of(office, job_id)}:
        raise nothing_there()
    for photo in keep_photos(office, job_id, typed, files, by=by):
        conditions.add_photo(office.book, condition_id, photo.id)
    return conditions.get(office.book, condition_id)


# ---------------------------------------------------------------- documents


@dataclass(frozen=True)
class Handed:
    """A document as it is handed out.

    Attributes
    ----------
    content : bytes
    media_type : str
    file_name : str
        What to save it as: no folder, no sign that turns or hides what follows, an ending that fits its kind.
    """

    content: bytes
    media_type: str
    file_name: str


def documents_of(office: Office, job_id: str) -> list[DocumentRow]:
    """Documents of a job that were not erased.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return [row for row in documents.of_job(office.book, job_id) if row.sha256 is not None]


def keep_document(
    office: Office, job_id: str, typed: Mapping[str, str], file: tuple[str, bytes] | None, *, by: str = ""
) -> DocumentRow:
    """Keep a document of a job.

    Parameters
    ----------
    file : tuple of str and bytes, or None
        Its name as the browser told it, and its content.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if it is too large, or of a kind that is not kept.
    """
    job_of(office, job_id)
    entered = Entered(typed)
    title, kind = entered.text("title"), ""
    if file is None:
        entered.fault("file", "no_file")
    elif len(file[1]) > LARGEST_BYTES:
        entered.fault("file", "too_large", has=f"{len(file[1]) / 1e6:.0f}", most=f"{LARGEST_BYTES / 1e6:.0f}")
    else:
        kind = kind_of(*file)
        if not kind:
            entered.fault("file", "kind")
    entered.done()
    assert file is not None
    own = entered.own_id()
    try:
        return documents.add(
            office.book,
            job_id,
            file[1],
            title=title or stem_of(file[0]),
            media_type=KINDS[kind],
            at=office.clock(),
            by=by,
            document_id=own,
        )
    except Conflict:
        return documents.get(office.book, own or "")


def kind_of(name: str, content: bytes) -> str:
    """What a document is, by what stands in it; its name only tells kinds apart that look alike inside. Empty if not kept.

    A page or a drawing of the web is a text here: it is never shown, only handed out, and then as plain text.
    """
    ending = PurePosixPath(name.lower()).suffix.removeprefix(".")
    for kind, start in STARTS.items():
        if content.startswith(start) and (kind != "webp" or content[8:12] == b"WEBP"):
            return kind
    if content.startswith(b"PK\x03\x04"):
        return ending if ending in IN_ZIP else "zip"
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return ""
    if not text or any(ord(sign) < 32 and sign not in "\t\n\r\f" for sign in text):
        return ""
    return "csv" if ending == "csv" else "txt"


def stem_of(name: str) -> str:
    """What a file is called, without folders and ending, of signs that stay where they are."""
    last = re.split(r"[/\\]", name)[-1]
    stem = last.rpartition(".")[0] or last
    plain = "".join(sign for sign in stem if sign.isprintable() and sign not in '<>:"|?*')
    return plain.strip(" .")[:LONGEST_FILE_NAME]


def document(office: Office, job_id: str, document_id: str) -> Handed:
    """A document of this job, to be handed out.

    Raises
    ------
    NotFound, CorruptBook
        If this job has no such document, or it was erased; if its file is damaged.
    """
    row = next((row for row in documents_of(office, job_id) if row.id == document_id), None)
    if row is None:
        raise nothing_there()
    ending = next((kind for kind, media_type in KINDS.items() if media_type == row.media_type), "bin")
    name = stem_of(f"{row.title}.{ending}") or "document"
    return Handed(documents.content(office.book, document_id), row.media_type, f"{name}.{ending}")
