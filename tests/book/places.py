"""Where a book of a test lies, and things to put into it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from slackwater.book import Book, clients, jobs, people, sites, tanks
from slackwater.book.ids import new_id
from slackwater.job.event import Event

NOON = datetime(2027, 2, 10, 12, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Place:
    """The address of a book: a folder, or a database with a folder beside it."""

    where: Path | str
    folder: Path

    @property
    def is_sqlite(self) -> bool:
        return isinstance(self.where, Path)


def on_sqlite(folder: Path) -> Place:
    return Place(folder, folder)


def on_postgresql(address: str, folder: Path) -> Place:
    return Place(address, folder)


@dataclass(frozen=True)
class Known:
    """Ids of one of everything."""

    person: str
    client: str
    site: str
    tank: str
    job: str


TEXT = '# what we saw\nname = "Lobby"\nreference = "L-1"\n'


def one_of_each(book: Book, *, name: str = "Ada Harbour", text: str = TEXT) -> Known:
    person = people.add(book, people.Person(name=name, access="door 4711"), at=NOON)
    client = clients.add(book, person_id=person.id, at=NOON)
    site = sites.add(book, client.id, name="lobby", person_id=person.id, at=NOON)
    tank = tanks.add(book, site.id, name="long tank", at=NOON)
    job = jobs.create(book, text=text, at=NOON, by="me", site_id=site.id, tank_id=tank.id)
    return Known(person.id, client.id, site.id, tank.id, job.id)


def event(*, event_id: str | None = None, device: str = "", seq: int = 0, **body: object) -> Event:
    return Event.model_validate(
        {
            "id": event_id or new_id(NOON),
            "at": "2027-02-10T08:05:00",
            "kind": "noted",
            "job": "L-1",
            "device": device,
            "seq": seq,
            "body": body,
        }
    )
