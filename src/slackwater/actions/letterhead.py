"""The firm on its papers: letterhead, and the way to the page of a job."""

from __future__ import annotations

from slackwater.actions.clientele import client_of_job, see_client
from slackwater.actions.office import Desk
from slackwater.book import firm as book_firm
from slackwater.invoice.model import Firm
from slackwater.paper.sender import Sender


def sender_of(office: Desk, job_id: str) -> Sender:
    """Whose the papers of a job are, by the settings of the firm.

    Raises
    ------
    CorruptBook
        If the logo is lost or damaged.
    """
    firm = Firm.model_validate_json(book_firm.get(office.book).facts)
    seller, look = firm.seller, firm.look
    place = seller.address
    town = f"{place.postcode} {place.city}".strip()
    return Sender(
        name=seller.name,
        lines=tuple(line for line in (place.line_one, place.line_two, town, place.country) if line),
        phone=seller.phone,
        mail=seller.mail,
        accent=look.accent,
        logo=book_firm.logo(office.book, look.logo) if look.logo else b"",
        page=f"{look.address}/jobs/{job_id}" if look.address else "",
        job=job_id,
        client=_client(office, job_id),
    )


def _client(office: Desk, job_id: str) -> str:
    found = client_of_job(office, job_id)
    people = () if found is None else see_client(office, found).people
    return next((one.person.name for one in people if one.is_client and one.person is not None), "")
