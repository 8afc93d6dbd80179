"""What a user does in the survey: see a job, answer, add and take out cards, begin, copy, bring in and take out jobs."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any

from slackwater.actions.firm import the_firm
from slackwater.actions.office import Office
from slackwater.actions.own_rows import catalog_folder, catalog_mark
from slackwater.book import clients, jobs, people, photos, sites, tanks
from slackwater.book.jobs import EditConflict, JobRow, Version
from slackwater.book.photos import PhotoRow
from slackwater.errors import BadInput, Conflict, NotFound
from slackwater.finding import Finding
from slackwater.job.answers import Clash, Deed, changes_of, done, merged
from slackwater.job.beside import places_of
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.load import Fault, read_as_far
from slackwater.job.model import Job
from slackwater.job.positions import Path
from slackwater.job.text import MOST_CHARACTERS, clear_all, read_once, set_value, value_at
from slackwater.lacking import lacking
from slackwater.wording.render import say

TRIES = 8
"""So often a save is begun anew when somebody else saved in the same moment."""

OF_ONE_DAY: tuple[str, ...] = (
    *("reference", "surveyed", "client_informed", "animals_ill", "tank.seam_damage", "site.windows", "site.quiet"),
    *(
        "site.client_here",
        "site.key_holder_leaves",
        "site.closed_days",
        "site.lift.out_of_order",
        "contract.taken_days",
    ),
    *("preparation.ro.may_run_from", "preparation.ro.may_run_until", "price.offer_date", "price.client_budget"),
)
"""What is true of one day only, or must be looked at anew before each."""
OF_ONE_TANK: tuple[str, ...] = (
    *("tank", "filters", "heaters", "light", "co2", "old", "water.tank", "target", "livestock", "holding", "bed"),
    *("stones", "wood", "plants", "brief", "site.name", "site.floor", "contract"),
)
"""What another tank in the same house has of its own."""


@dataclass(frozen=True)
class Seen:
    """A job as the survey shows it.

    Attributes
    ----------
    row : JobRow
    version : int
        Number of the version that is shown.
    text : str
        As saved.
    plain : mapping
        What stands in it.
    faults : tuple of Fault
        What in it cannot be used.
    findings : tuple of (Path, Finding)
        What is to be said beside a question, a card or a list: what waits for it, what contradicts.
    catalog : Catalog
    """

    row: JobRow
    version: int
    text: str
    plain: Mapping[str, Any]
    faults: tuple[Fault, ...]
    findings: tuple[tuple[Path, Finding], ...]
    catalog: Catalog


@dataclass(frozen=True)
class Saved:
    """What became of answers: the job as it stands, and what somebody else had answered otherwise meanwhile."""

    seen: Seen
    clashes: tuple[Clash, ...]
    changed: bool


@lru_cache(maxsize=4)
def _catalog(folder: FilePath | None, _mark: str) -> Catalog:
    return load_catalog(folder)


def catalog_of(office: Office) -> Catalog:
    """The catalog with the firm's own rows, read anew when they change."""
    return _catalog(catalog_folder(office.settings), catalog_mark(office.settings))


def see(office: Office, job_id: str) -> Seen:
    """The newest version of a job with what is to be said of it.

    Raises
    ------
    NotFound
        If there is no such job.
    """
    return _seen(office, jobs.get(office.book, job_id), jobs.newest(office.book, job_id))


def see_version(office: Office, job_id: str, n: int) -> Seen:
    """A version of a job by its number, as `see`."""
    return _seen(office, jobs.get(office.book, job_id), jobs.version(office.book, job_id, n))


def _seen(office: Office, row: JobRow, version: Version) -> Seen:
    catalog = catalog_of(office)
    plain, faults, findings = _looked_at(version.text, catalog_mark(office.settings), catalog_folder(office.settings))
    return Seen(
        row=row,
        version=version.n,
        text=version.text,
        plain=plain,
        faults=faults,
        findings=findings,
        catalog=catalog,
    )


@lru_cache(maxsize=1024)
def _looked_at(
    text: str, mark: str, folder: FilePath | None
) -> tuple[Mapping[str, Any], tuple[Fault, ...], tuple[tuple[Path, Finding], ...]]:
    """A version never changes, and every page of a survey looks at all of it."""
    plain = read_once(text)
    found = read_as_far(text)
    catalog = _catalog(folder, mark)
    told = lacking(found.job, catalog)
    faults = (*found.faults, *_unknown_work(found.job, catalog))
    return plain, faults, tuple((path, finding) for finding in told for path in places_of(finding, plain))


def _unknown_work(job: Job, catalog: Catalog) -> list[Fault]:
    """Work that may be left out and stands in no table: nobody would notice on the day that it was never left out."""
    names, found = catalog.names("activities"), []
    for entry in job.brief.may_be_left_out:
        if entry not in catalog.activities:
            near = "; ".join(f"{row} ({names[row]})" for row in catalog.near(entry, "activities"))
            message = say("survey.page.no_work_near" if near else "survey.page.no_work", {"entry": entry, "near": near})
            found.append(Fault(path=("brief", "may_be_left_out", entry), missing=False, message=message))
    return found


def save(
    office: Office,
    job_id: str,
    *,
    based_on: int,
    posted: Mapping[str, str],
    deed: tuple[Deed, Path] | None = None,
    by: str = "",
) -> Saved:
    """Save answers, then do what was asked with a card; nothing that somebody else said meanwhile is overwritten.

    The same form sent twice, by a button that was touched twice, does its work once.

    Parameters
    ----------
    based_on : int
        Number of the version that the page showed.
    posted : mapping of str to str
        Answers as typed, by field name.
    deed : (Deed, Path) or None
        What to do with which card.

    Raises
    ------
    NotFound, BadInput
        If there is no such job, version or card; if something cannot be kept.
    """
    base = jobs.version(office.book, job_id, based_on).text
    changes = changes_of(base, posted, catalog_of(office))
    again = ""
    if deed is not None:
        as_sent = merged(base, base, changes, catalog_of(office)).text
        again = done(base, base, as_sent, *deed)
    for _ in range(TRIES):
        newest = jobs.newest(office.book, job_id)
        if newest.text == again:
            return Saved(seen=_seen(office, jobs.get(office.book, job_id), newest), clashes=(), changed=False)
        made = merged(base, newest.text, changes, catalog_of(office))
        text = made.text
        if deed is not None and not made.clashes:
            text = done(base, newest.text, text, *deed)
        try:
            version = newest
            if text != newest.text:
                version = jobs.save_version(office.book, job_id, text, parent=newest.n, at=office.clock(), by=by)
        except EditConflict:
            continue
        seen = _seen(office, jobs.get(office.book, job_id), version)
        return Saved(seen=seen, clashes=made.clashes, changed=version is not newest)
    raise Conflict("Many people are saving this job at once; wait a moment, then save again")


def cards_at(seen: Seen, path: Path) -> list[Any]:
    """The cards of a list as they stand."""
    found = value_at(seen.plain, path)
    return found if isinstance(found, list) else []


# ---------------------------------------------------------------- jobs


def begin(office: Office, *, name: str, by: str = "") -> JobRow:
    """A job of which nothing is known but its name, and what all jobs of the firm begin with.

    Raises
    ------
    BadInput
        If it has no name.
    """
    text, (firm, _) = set_value("format = 1\n", ("name",), _named(name)), the_firm(office)
    begun = {
        ("papers", "language"): firm.look.language,
        ("papers", "size"): firm.look.size,
        ("price", "currency"): firm.currency,
    }
    for key, value in begun.items():
        text = set_value(text, key, value) if value else text
    return jobs.create(office.book, text=text, at=office.clock(), by=by)


def _named(name: str) -> str:
    plain = " ".join(name.split())
    if not plain:
        raise BadInput("A job needs a name, such as the name of the house or of the tank")
    if not all(sign.isprintable() or unicodedata.category(sign) == "Cf" for sign in plain):
        raise BadInput("The name holds a character that cannot be shown; type it again")
    if len(plain) > 200:
        raise BadInput(f"The name has {len(plain)} characters, expected at most 200; shorten it")
    return plain


def bring_in(office: Office, content: bytes, *, by: str = "") -> JobRow:
    """A job from a job file, kept as it is, comments included.

    Raises
    ------
    BadInput
        If it is no text, no TOML, or no job.
    """
    if len(content) > 4 * MOST_CHARACTERS:
        raise BadInput(f"The file has {len(content):,} bytes; a job file has some tens of thousands. It was not read")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput("The file is no text in UTF-8; choose a job file (.toml)") from error
    plain = read_once(text)
    if plain.get("format") != 1 or not isinstance(plain.get("name"), str):
        raise BadInput('The file is no job file: one begins with the lines format = 1 and name = "..."')
    return jobs.create(office.book, text=text, at=office.clock(), by=by)


def take_out(office: Office, job_id: str) -> tuple[str, str]:
    """The newest job text as it stands, and a name for its file."""
    version = jobs.newest(office.book, job_id)
    name = re.sub(r"[^a-z0-9]+", "-", jobs.get(office.book, job_id).name.lower()).strip("-")[:60]
    return version.text, f"{name or 'job'}.toml"


def copy(office: Office, job_id: str, *, name: str, by: str = "") -> JobRow:
    """The same tank once more: everything but what is true of one day only."""
    row = jobs.get(office.book, job_id)
    text = _without(jobs.newest(office.book, job_id).text, OF_ONE_DAY)
    return jobs.create(
        office.book,
        text=set_value(text, ("name",), _named(name)),
        at=office.clock(),
        by=by,
        site_id=row.site_id,
        tank_id=row.tank_id,
        copied_from=job_id,
    )


def another_tank(office: Office, job_id: str, *, name: str, by: str = "") -> JobRow:
    """A job for another tank in the same house: the house, the crew, the tap and the rates stay."""
    row = jobs.get(office.book, job_id)
    text = _without(jobs.newest(office.book, job_id).text, (*OF_ONE_DAY, *OF_ONE_TANK))
    named = _named(name)
    tank = None if row.site_id is None else tanks.add(office.book, row.site_id, name=named, at=office.clock())
    return jobs.create(
        office.book,
        text=set_value(text, ("name",), named),
        at=office.clock(),
        by=by,
        site_id=row.site_id,
        tank_id=None if tank is None else tank.id,
        copied_from=job_id,
    )


def _without(text: str, keys: tuple[str, ...]) -> str:
    plain = read_once(text)
    people = value_at(plain, ("people",))
    numbers = range(len(people) if isinstance(people, list) else 0)
    paths = [
        *(tuple(key.split(".")) for key in keys),
        *(("people", at, key) for at in numbers for key in ("from", "until")),
    ]
    return clear_all(text, paths)


@dataclass(frozen=True)
class Neighbours:
    """Where a job is: the site, and other jobs there."""

    site: str
    others: tuple[JobRow, ...]


def neighbours(office: Office, job_id: str) -> Neighbours:
    """The site of a job and its other jobs; without a site, jobs that were copied from it or that it was copied from."""
    row = jobs.get(office.book, job_id)
    if row.site_id is not None:
        others = jobs.at_site(office.book, row.site_id)
        return Neighbours(
            site=sites.get(office.book, row.site_id).name, others=tuple(other for other in others if other.id != job_id)
        )
    others = [jobs.get(office.book, row.copied_from)] if row.copied_from else []
    return Neighbours(site="", others=tuple(others))


@dataclass(frozen=True)
class House:
    """A site that a job may be at: its id, and what to call it and its client."""

    site_id: str
    name: str


def houses(office: Office, *, limit: int = 100) -> list[House]:
    """Sites of the newest clients; a client that was erased has no name any more."""
    found = []
    known = clients.listed(office.book, limit=limit)
    names = people.several(office.book, [client.person_id for client in known if client.person_id])
    places = sites.of_clients(office.book, [client.id for client in known])
    for client in known:
        row = names.get(client.person_id or "")
        called = row.person.name if row is not None and row.person is not None else ""
        for site in places.get(client.id, ()):
            found.append(House(site_id=site.id, name=" · ".join(part for part in (called, site.name) if part)))
    return found


def put_at(office: Office, job_id: str, *, site_id: str, client: str = "", site: str = "") -> JobRow:
    """Say in which house a job is: one that is known, or a new one of a new client.

    Parameters
    ----------
    site_id : str
        Of a house that is known; "" for a new one.
    client, site : str
        What the new client and the house are called. The client's name is kept with the people, sealed where a key is set.

    Raises
    ------
    NotFound, Conflict, BadInput
        If the job or the house is not there; if the job was placed meanwhile; if a name is missing.
    """
    row = jobs.get(office.book, job_id)
    at = office.clock()
    if not site_id:
        called = _named(site)
        person = people.add(office.book, people.Person(name=_named(client)), at=at)
        owner = clients.add(office.book, person_id=person.id, at=at)
        site_id = sites.add(office.book, owner.id, name=called, at=at).id
    tank = tanks.add(office.book, site_id, name=row.name or "tank", at=at)
    return jobs.place(office.book, job_id, site_id=site_id, tank_id=tank.id, revision=row.revision)


def all_jobs(office: Office, *, after: str | None = None, limit: int = 50) -> list[JobRow]:
    """Jobs, the newest first."""
    return jobs.listed(office.book, limit=limit, after=after)


# ---------------------------------------------------------------- photos


def keep_photo(
    office: Office, job_id: str, content: bytes, *, caption: str = "", without_place: bool = False, by: str = ""
) -> PhotoRow:
    """Keep a photo of a job as it came; its place is taken out where that is asked.

    Raises
    ------
    NotFound, BadInput
        If there is no such job, or it is no picture.
    """
    kept = photos.add(office.book, content, at=office.clock(), by=by, job_id=job_id, caption=caption)
    return photos.take_place_out(office.book, kept.id) if without_place and kept.has_place else kept


def photos_of(office: Office, job_id: str) -> list[PhotoRow]:
    """Photos of a job that are there to be seen."""
    return [photo for photo in photos.of_job(office.book, job_id) if photo.sha256 is not None]


def thumbnail(office: Office, job_id: str, photo_id: str) -> bytes:
    """A small picture of a photo of this job.

    Raises
    ------
    NotFound
        If this job has no such photo.
    """
    _of_this_job(office, job_id, photo_id)
    return photos.thumbnail(office.book, photo_id)


def original(office: Office, job_id: str, photo_id: str) -> tuple[bytes, str]:
    """A photo of this job as it came, and its media type."""
    row = _of_this_job(office, job_id, photo_id)
    return photos.original(office.book, photo_id), row.media_type


def _of_this_job(office: Office, job_id: str, photo_id: str) -> PhotoRow:
    jobs.get(office.book, job_id)
    for row in photos.of_job(office.book, job_id):
        if row.id == photo_id:
            return row
    raise NotFound("This job has no such photo")
