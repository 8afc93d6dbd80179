"""What a user does with clients: enter them, the people to ring, the houses and the tanks in them; and correct all of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from slackwater.actions.entering import LONGEST_TEXT, Entered, Overtaken, nothing_there
from slackwater.actions.office import Desk, Office
from slackwater.book import clients, jobs, people, sites, tanks
from slackwater.book.clients import THE_CLIENT
from slackwater.book.clients import ClientRow as ClientRow
from slackwater.book.jobs import JobRow
from slackwater.book.people import Contact, Person, PersonRow
from slackwater.book.sites import SiteRow
from slackwater.book.tanks import TankRow
from slackwater.errors import Conflict, NotFound


@dataclass(frozen=True)
class Spoken:
    """Somebody of a client: in which role, and the entry."""

    role: str
    row: PersonRow

    @property
    def person(self) -> Person | None:
        """What is known; None once erased."""
        return self.row.person

    @property
    def is_client(self) -> bool:
        """Whether this is the client itself."""
        return self.role == THE_CLIENT


@dataclass(frozen=True)
class SiteSeen:
    """A house: its tanks, its jobs, whom to ring there."""

    row: SiteRow
    tanks: tuple[TankRow, ...]
    jobs: tuple[JobRow, ...]
    who: Person | None

    def jobs_of(self, tank_id: str | None) -> tuple[JobRow, ...]:
        """Jobs of one tank; of None those whose tank is not named."""
        return tuple(job for job in self.jobs if job.tank_id == tank_id)


@dataclass(frozen=True)
class ClientSeen:
    """A client with everything that hangs on it; `name` is empty once erased."""

    row: ClientRow
    name: str
    people: tuple[Spoken, ...]
    sites: tuple[SiteSeen, ...]


def sealed(office: Office) -> bool:
    """Whether names, contacts and door codes are sealed with a key."""
    return office.settings.key_file is not None


def all_clients(office: Desk, *, after: str | None = None, limit: int = 50) -> list[tuple[ClientRow, str]]:
    """Clients with their names, the newest first; the name is empty once erased."""
    rows = clients.listed(office.book, limit=limit, after=after)
    known = people.several(office.book, [row.person_id for row in rows if row.person_id])
    return [(row, _name(known.get(row.person_id or ""))) for row in rows]


def every_client(office: Desk) -> Iterator[tuple[ClientRow, str]]:
    """As `all_clients`, however many there are."""
    after: str | None = None
    while found := all_clients(office, after=after):
        yield from found
        after = found[-1][0].id


def _name(row: PersonRow | None) -> str:
    return row.person.name if row is not None and row.person is not None else ""


def see_client(office: Desk, client_id: str) -> ClientSeen:
    """A client.

    Raises
    ------
    NotFound
    """
    row = _client(office, client_id)
    houses = sites.of_client(office.book, client_id)
    ids = [person_id for _, person_id in row.people] + [house.person_id for house in houses if house.person_id]
    known = people.several(office.book, ids)
    return ClientSeen(
        row=row,
        name=_name(known.get(row.person_id or "")),
        people=tuple(
            Spoken(role, known[person_id])
            for role, person_id in sorted(row.people, key=lambda entry: entry[0] != THE_CLIENT)
        ),
        sites=tuple(
            SiteSeen(
                row=house,
                tanks=tuple(tanks.at_site(office.book, house.id)),
                jobs=tuple(jobs.at_site(office.book, house.id)),
                who=known[house.person_id].person if house.person_id else None,
            )
            for house in houses
        ),
    )


@dataclass(frozen=True)
class ToRing:
    """Where a job is and whom to ring there: who stands with the house, then everybody of its client, each once."""

    site: SiteRow
    client_id: str
    people: tuple[Spoken, ...]


def whom_to_ring(office: Desk, job: JobRow) -> ToRing | None:
    """The people of a job's house; None while it was not said where the job is."""
    if job.site_id is None:
        return None
    site = sites.get(office.book, job.site_id)
    roles = {person_id: role for role, person_id in clients.get(office.book, site.client_id).people}
    ids = dict.fromkeys([*([site.person_id] if site.person_id else []), *roles])
    known = people.several(office.book, list(ids))
    spoken = [Spoken(roles.get(person_id, ""), known[person_id]) for person_id in ids]
    return ToRing(site, site.client_id, tuple(one for one in spoken if one.person is not None))


def find(office: Desk, words: str, *, most: int = 50) -> list[tuple[ClientRow, str, tuple[str, ...]]]:
    """Clients of whom a name, a contact, an address or a house holds these words; each with what of theirs does.

    Names may be sealed, so all are opened and looked through here; the database cannot search them.
    """
    wanted = " ".join(words.lower().split())
    found: list[tuple[ClientRow, str, tuple[str, ...]]] = []
    after: str | None = None
    while wanted and len(found) < most:
        rows = clients.listed(office.book, limit=500, after=after)
        if not rows:
            break
        after = rows[-1].id
        houses = sites.of_clients(office.book, [row.id for row in rows])
        ids = {person_id for row in rows for _, person_id in row.people}
        ids |= {house.person_id for some in houses.values() for house in some if house.person_id}
        known = people.several(office.book, list(ids))
        for row in rows:
            mine = dict.fromkeys(
                [*(person_id for _, person_id in row.people), *(house.person_id for house in houses.get(row.id, ()))]
            )
            here = [known[person_id].person for person_id in mine if person_id]
            told = [_line(person) for person in here if person is not None and wanted in _all_words(person)]
            told += [house.name for house in houses.get(row.id, ()) if wanted in house.name.lower()]
            if told:
                found.append((row, _name(known.get(row.person_id or "")), tuple(told)))
    return found[:most]


def _line(person: Person) -> str:
    return ", ".join([person.name, *(contact.value for contact in person.contacts)])


def _all_words(person: Person) -> str:
    return " ".join([_line(person), person.address]).lower()


def client_of_job(office: Desk, job_id: str) -> str | None:
    """Id of the client in whose house a job is; None while that was not said.

    Raises
    ------
    NotFound
    """
    row = jobs.get(office.book, job_id)
    return None if row.site_id is None else sites.get(office.book, row.site_id).client_id


def client_of_tank(office: Desk, tank_id: str) -> tuple[TankRow, str]:
    """A tank, and the id of the client in whose house it stands.

    Raises
    ------
    NotFound
    """
    try:
        row = tanks.get(office.book, tank_id)
    except NotFound:
        raise nothing_there() from None
    return row, sites.get(office.book, row.site_id).client_id


def add_client(office: Office, typed: Mapping[str, str]) -> ClientRow:
    """Enter a client: a person or a firm.

    Raises
    ------
    Unusable
        If a field cannot be used.
    """
    known, entered = _person(typed)
    at, own = office.clock(), entered.own_id()
    if own is not None:
        try:
            return clients.get(office.book, own)
        except NotFound:
            pass
    person = people.add(office.book, known, at=at)
    return clients.add(office.book, person_id=person.id, at=at, client_id=own)


def add_person(office: Office, client_id: str, typed: Mapping[str, str]) -> PersonRow:
    """Enter somebody who speaks for a client.

    Raises
    ------
    NotFound, Unusable
    """
    _client(office, client_id)
    known, entered = _person(typed, role=True)
    role, own, at = entered.text("role"), entered.own_id(), office.clock()
    try:
        row = people.add(office.book, known, at=at, person_id=own)
    except Conflict:
        # The form was sent twice.
        return see_person(office, client_id, own or "").row
    clients.add_person(office.book, client_id, person_id=row.id, role=role, at=at)
    return row


def see_person(office: Desk, client_id: str, person_id: str) -> Spoken:
    """Somebody of this client.

    Raises
    ------
    NotFound
        If this client has no such person.
    """
    for role, known in _client(office, client_id).people:
        if known == person_id:
            return Spoken(role, people.get(office.book, person_id))
    raise nothing_there()


def change_person(office: Office, client_id: str, person_id: str, typed: Mapping[str, str]) -> PersonRow:
    """Correct an entry of somebody of this client.

    Raises
    ------
    NotFound, Unusable, Conflict
        Overtaken where somebody else has changed it meanwhile, Conflict where it was erased.
    """
    see_person(office, client_id, person_id)
    known, entered = _person(typed)
    try:
        return people.change(office.book, person_id, known, revision=entered.revision())
    except Conflict:
        now = people.get(office.book, person_id)
        if now.person is None:
            raise
        raise Overtaken(person_fields(now.person), now.revision) from None


def person_fields(person: Person) -> dict[str, str]:
    """An entry as a form shows it."""
    return {
        "name": person.name,
        "contacts": "\n".join(f"{contact.kind}: {contact.value}" for contact in person.contacts),
        "address": person.address,
        "access": person.access,
        "note": person.note,
    }


def _person(typed: Mapping[str, str], *, role: bool = False) -> tuple[Person, Entered]:
    entered = Entered(typed)
    name = entered.needed("name")
    lines = entered.text("contacts", most=LONGEST_TEXT).split("\n")
    if role and entered.needed("role") == THE_CLIENT:
        entered.fault("role", "role")
    known = Person(
        name=name,
        contacts=tuple(_contact(line) for line in lines if line.strip()),
        address=entered.text("address", most=LONGEST_TEXT),
        access=entered.text("access", most=LONGEST_TEXT),
        note=entered.text("note", most=LONGEST_TEXT),
    )
    entered.done()
    return known, entered


def _contact(line: str) -> Contact:
    """A line such as "phone: 0123 456"; without its kind, a line with an @ is a mail address and any other a number."""
    kind, colon, value = (part.strip() for part in line.partition(":"))
    if colon and kind and value:
        return Contact(kind=kind, value=value)
    return Contact(kind="mail" if "@" in line else "phone", value=line.strip())


def add_site(office: Office, client_id: str, typed: Mapping[str, str]) -> SiteRow:
    """Enter a house of a client.

    Raises
    ------
    NotFound, Unusable
    """
    entered = Entered(typed)
    name, who = entered.needed("site_name"), _who(_client(office, client_id), typed)
    entered.done()
    own = entered.own_id()
    try:
        return sites.add(office.book, client_id, name=name, at=office.clock(), person_id=who, site_id=own)
    except Conflict:
        return see_site(office, client_id, own or "").row


def see_site(office: Office, client_id: str, site_id: str) -> SiteSeen:
    """A house of this client.

    Raises
    ------
    NotFound
    """
    for house in see_client(office, client_id).sites:
        if house.row.id == site_id:
            return house
    raise nothing_there()


def change_site(office: Office, client_id: str, site_id: str, typed: Mapping[str, str]) -> SiteRow:
    """Call a house otherwise, or name another person there.

    Raises
    ------
    NotFound, Unusable, Overtaken
    """
    see_site(office, client_id, site_id)
    entered = Entered(typed)
    name, who = entered.needed("site_name"), _who(_client(office, client_id), typed)
    entered.done()
    try:
        return sites.change(office.book, site_id, name=name, person_id=who, revision=entered.revision())
    except Conflict:
        now = see_site(office, client_id, site_id)
        raise Overtaken(site_fields(now), now.row.revision) from None


def site_fields(house: SiteSeen) -> dict[str, str]:
    """A house as a form shows it."""
    return {"site_name": house.row.name, "who": house.row.person_id or ""}


def _who(client: ClientRow, typed: Mapping[str, str]) -> str | None:
    who = typed.get("who", "")
    if who and who not in {person_id for _, person_id in client.people}:
        raise nothing_there()
    return who or None


def add_tank(office: Office, client_id: str, site_id: str, typed: Mapping[str, str]) -> TankRow:
    """Enter a tank in a house of this client.

    Raises
    ------
    NotFound, Unusable
    """
    see_site(office, client_id, site_id)
    entered = Entered(typed)
    name = entered.needed("tank_name")
    entered.done()
    own = entered.own_id()
    try:
        return tanks.add(office.book, site_id, name=name, at=office.clock(), tank_id=own)
    except Conflict:
        return see_tank(office, client_id, site_id, own or "")


def see_tank(office: Office, client_id: str, site_id: str, tank_id: str) -> TankRow:
    """A tank in a house of this client.

    Raises
    ------
    NotFound
    """
    for tank in see_site(office, client_id, site_id).tanks:
        if tank.id == tank_id:
            return tank
    raise nothing_there()


def change_tank(office: Office, client_id: str, site_id: str, tank_id: str, typed: Mapping[str, str]) -> TankRow:
    """Call a tank otherwise.

    Raises
    ------
    NotFound, Unusable, Overtaken
    """
    see_tank(office, client_id, site_id, tank_id)
    entered = Entered(typed)
    name = entered.needed("tank_name")
    entered.done()
    try:
        return tanks.change(office.book, tank_id, name=name, revision=entered.revision())
    except Conflict:
        now = tanks.get(office.book, tank_id)
        raise Overtaken({"tank_name": now.name}, now.revision) from None


def _client(office: Desk, client_id: str) -> ClientRow:
    try:
        return clients.get(office.book, client_id)
    except NotFound:
        raise nothing_there() from None
