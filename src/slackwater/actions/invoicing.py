"""What a user does with invoices: begin one from the accepted offer, confirm what the day added, issue it, credit it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from slackwater.actions.arriving import goods
from slackwater.actions.book_papers import about_of
from slackwater.actions.book_prices import told_prices
from slackwater.actions.clientele import client_of_job, see_client
from slackwater.actions.entering import LONGEST_TEXT, Entered, Overtaken, nothing_there
from slackwater.actions.experience import containers_in, order_in, worked_on_in
from slackwater.actions.firm import PLACE, the_firm, told_fault
from slackwater.actions.happening import log_of
from slackwater.actions.letterhead import sender_of
from slackwater.actions.office import Office
from slackwater.actions.recording import Handed, job_of
from slackwater.actions.surveying import catalog_of
from slackwater.book import events, invoices, plans, receipts
from slackwater.book.invoices import InvoiceLine, InvoiceRow, Made, Papers
from slackwater.day.progress import corrected
from slackwater.errors import BadInput, Conflict, NotFound
from slackwater.finding import Verdict
from slackwater.invoice.account import compact
from slackwater.invoice.codes import UNITS, Category, Kind, unit_code
from slackwater.invoice.issuing import issued, number_of
from slackwater.invoice.model import Address, Buyer, Corrected, Draft, Firm, Invoice, Line, Tax
from slackwater.invoice.offered import GROUPS, offered_parts
from slackwater.invoice.rules import Fault, faults_of, over_credited
from slackwater.invoice.totals import TaxGroup, Totals, line_net, tax_groups, totals_of
from slackwater.job.event import EventKind
from slackwater.paper.bookkeeping import bookkeeping_csv
from slackwater.paper.data import item_name
from slackwater.paper.invoice import invoice_papers
from slackwater.reader import Reader, Typed, currencies
from slackwater.supply.used import beyond_order
from slackwater.wording.render import say

MOST = Decimal(1_000_000)
HIGHEST_PRICE = Decimal(1_000_000_000)
TRIES = 5
OFFERED = "offer:"
"""What the source of a line begins with that was taken from the offer."""
NO_OFFER = frozenset({Verdict.DOES_NOT_FIT, Verdict.CANNOT_SAY, Verdict.DO_NOT_TAKE})
"""Of such a plan the paper says that it is not an offer yet: nobody can have accepted it."""
NO_TAX = Tax(label="", category=Category.STANDARD)
"""Of a line while the firm has told none; the rules refuse it."""
TOWN = re.compile(r"(?P<postcode>(?:[A-Z]{1,2}[- ])?\d{3,6}(?:[- ]\d{2,4})?) +(?P<city>\D.*)")
Prices = Mapping[tuple[str, str], Decimal]
"""By item and unit, in the currency of a draft."""
PAPERS: Mapping[str, str] = {"pdf": "application/pdf", "xml": "application/xml", "csv": "text/csv"}


@dataclass(frozen=True)
class Offer:
    """An offered price of a job: that of the last plan of a version, or of one of its options.

    Attributes
    ----------
    key : str
        What a form names it by: the version, and for an option its place on the offer behind a point.
    option : str
        Name of the option; empty for an offer without options.
    price : Decimal
        Before tax, in `currency`.
    costs : mapping of str to Decimal
        Lines of its calculation by id.
    """

    key: str
    version: int
    option: str
    price: Decimal
    currency: str
    costs: Mapping[str, Decimal]


@dataclass(frozen=True)
class Suggestion:
    """Something of the day that may be charged, or taken off, once somebody says so.

    Attributes
    ----------
    kind : str
        "added", "dropped", "noted", "goods" for what came beyond the order, "used" for what was used beyond it.
    price : Decimal or None
        Of one, where the book knows one in the currency of the draft.
    """

    source: str
    kind: str
    text: str
    quantity: Decimal
    unit: str
    price: Decimal | None


@dataclass(frozen=True)
class DraftSeen:
    """A draft with its sums and everything that is to be said of it; `faults` are sentences with where they are put right."""

    line: InvoiceLine
    draft: Draft
    firm: Firm
    nets: tuple[Decimal, ...]
    groups: tuple[TaxGroup, ...]
    totals: Totals
    faults: tuple[tuple[str, str], ...]
    ahead: bool
    """Whether the day of the work is still to come: it can be issued, but hardly as an invoice for work done."""
    other_currency: bool
    """Whether numbers of the offer stand in it in a currency that is not the offer's: nothing is ever converted."""
    suggestions: tuple[Suggestion, ...]


@dataclass(frozen=True)
class IssuedSeen:
    """An invoice that was issued, its sums, and the credit notes to it."""

    line: InvoiceLine
    invoice: Invoice
    nets: tuple[Decimal, ...]
    groups: tuple[TaxGroup, ...]
    totals: Totals
    credits: tuple[InvoiceLine, ...]


class NotReady(BadInput):
    """An invoice that cannot be issued yet; the page tells why, each by itself."""


# ---------------------------------------------------------------- beginning


def offers(office: Office, job_id: str) -> list[Offer]:
    """Prices that were reckoned for a job, the newest version first; versions without a price, and those whose plan is no offer, are left out.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    found = (_offers(row.version_n, json.loads(row.plan_json)) for row in plans.of_versions(office.book, job_id))
    return [offer for of_version in found for offer in of_version]


def _offers(version: int, plan: Mapping[str, Any]) -> list[Offer]:
    """Where an offer has options, it is one of these that was accepted."""
    if plan.get("verdict") in NO_OFFER:
        return []
    options = plan.get("options") or ()
    if not options:
        alone = _offer(f"{version}", version, "", (plan.get("supply") or {}).get("price"))
        return [] if alone is None else [alone]
    found = (
        _offer(f"{version}.{place}", version, option["name"], option["price"])
        for place, option in enumerate(options, start=1)
    )
    return [offer for offer in found if offer is not None]


def _offer(key: str, version: int, option: str, price: Mapping[str, Any] | None) -> Offer | None:
    if not price or Decimal(price["price"]) < 0:
        return None
    costs = {line["id"]: Decimal(line["amount"]) for line in price["lines"]}
    return Offer(key, version, option, Decimal(price["price"]), price["currency"], costs)


def begin(office: Office, job_id: str, typed: Mapping[str, str], *, by: str = "") -> InvoiceLine:
    """Begin an invoice from an offer that was accepted (``offer``: its key), or without one (``none``).

    Raises
    ------
    NotFound, Unusable
    """
    job, firm = job_of(office, job_id), the_firm(office)[0]
    known = {offer.key: offer for offer in offers(office, job_id)}
    entered = Entered(typed)
    chosen = entered.one_of("offer", frozenset({*known, "none"}))
    entered.done()
    offer = known.get(chosen)
    _, reader = about_of(office, job_id, "metric")
    draft = Draft(
        buyer=_buyer(office, job_id, firm),
        lines=() if offer is None else _offered_lines(offer, firm, job.name, reader),
        currency=offer.currency if offer is not None and offer.currency in currencies() else firm.currency,
        delivered_on=worked_on_in(office.book, job_id) or job.day,
        note="" if offer is None else _accepted(offer, job.name, reader),
        offered_in="" if offer is None else offer.currency,
    )
    return _added(office, job_id, draft, entered, by=by).line


def _accepted(offer: Offer, name: str, reader: Reader) -> str:
    what = "option" if offer.option else "note"
    values = {"version": str(offer.version), "job": Typed(name), "option": Typed(offer.option)}
    return say(f"invoice.offered.{what}", values, reader)


def _added(
    office: Office, job_id: str, draft: Draft, entered: Entered, *, by: str, corrects: str | None = None
) -> InvoiceRow:
    own = entered.own_id()
    try:
        return invoices.add_draft(
            office.book,
            job_id,
            draft.model_dump_json(),
            kind=draft.kind.value,
            at=office.clock(),
            by=by,
            corrects=corrects,
            invoice_id=own,
        )
    except Conflict:
        # The form was sent twice.
        row = _of_job(office, job_id, own or "")
        return row


def _offered_lines(offer: Offer, firm: Firm, name: str, reader: Reader) -> tuple[Line, ...]:
    parts = offered_parts(offer.price, offer.costs)
    tax = firm.taxes[0] if firm.taxes else NO_TAX
    return tuple(
        Line(
            text=say(f"invoice.offered.{group}", {"job": Typed(name)}, reader),
            quantity=Decimal(1),
            unit="C62",
            price=parts[group],
            tax=tax,
            source=f"{OFFERED}{group}",
        )
        for group in dict.fromkeys(GROUPS.values())
        if group in parts
    )


def _buyer(office: Office, job_id: str, firm: Firm) -> Buyer:
    """The client of the job's house, as far as the book knows it; the address is read from its lines, to be looked through."""
    client_id = client_of_job(office, job_id)
    person = None
    if client_id is not None:
        person = next((one.person for one in see_client(office, client_id).people if one.is_client), None)
    if person is None:
        about, _ = about_of(office, job_id, "metric")
        return Buyer(name=about.client[:300], address=Address(country=firm.seller.address.country))
    lines = [line.strip() for line in person.address.splitlines() if line.strip()]
    town = next((match for line in lines[::-1] if (match := TOWN.fullmatch(line))), None)
    if town is not None:
        before = lines[: next(at for at, line in enumerate(lines) if line == town[0])]
        postcode, city = town["postcode"], town["city"]
    else:
        before, postcode, city = lines[:-1] or lines, "", lines[-1] if len(lines) > 1 else ""
    mail = next((contact.value for contact in person.contacts if "mail" in contact.kind.lower()), "")
    return Buyer(
        name=person.name[:300],
        mail=mail,
        address=Address(
            line_one=before[0][:300] if before else "",
            line_two=", ".join(before[1:])[:300],
            postcode=postcode,
            city=city[:300],
            country=firm.seller.address.country,
        ),
    )


# ---------------------------------------------------------------- looking


def of_job(office: Office, job_id: str) -> list[InvoiceLine]:
    """Invoices and drafts of a job.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return invoices.of_job(office.book, job_id)


def of_year(office: Office, year: int) -> list[InvoiceLine]:
    """What was issued in a year, by number."""
    return invoices.of_year(office.book, year)


def years(office: Office) -> list[int]:
    """Years in which something was issued, the last first."""
    return invoices.years(office.book)


def _of_job(office: Office, job_id: str, invoice_id: str) -> InvoiceRow:
    try:
        row = invoices.get(office.book, invoice_id)
    except NotFound:
        raise nothing_there() from None
    if row.line.job_id != job_id:
        raise nothing_there()
    return row


def see(office: Office, job_id: str, invoice_id: str) -> DraftSeen | IssuedSeen:
    """A draft or an issued invoice of this job.

    Raises
    ------
    NotFound
    """
    row = _of_job(office, job_id, invoice_id)
    if row.line.number:
        made = Invoice.model_validate_json(row.content)
        return IssuedSeen(
            line=row.line,
            invoice=made,
            nets=tuple(map(line_net, made.lines)),
            groups=tax_groups(made.lines),
            totals=totals_of(made.lines, currency=made.currency, prepaid=made.prepaid),
            credits=tuple(invoices.corrections(office.book, invoice_id)),
        )
    draft, firm = Draft.model_validate_json(row.content), the_firm(office)[0]
    return DraftSeen(
        line=row.line,
        draft=draft,
        firm=firm,
        nets=tuple(map(line_net, draft.lines)),
        groups=tax_groups(draft.lines),
        totals=totals_of(draft.lines, currency=draft.currency, prepaid=draft.prepaid),
        faults=tuple((told_fault(fault), fault.about) for fault in _faults(office, row.line, draft, firm)),
        ahead=draft.delivered_on is not None and draft.delivered_on > _today(office),
        other_currency=bool(draft.offered_in)
        and draft.offered_in != draft.currency
        and any(line.source.startswith(OFFERED) for line in draft.lines),
        suggestions=_suggestions(office, row.line, draft),
    )


def _faults(office: Office, line: InvoiceLine, draft: Draft, firm: Firm) -> tuple[Fault, ...]:
    over = None if line.corrects is None else _over(office, line.corrects, draft)
    return (*faults_of(draft, firm), *([over] if over else []))


def _over(office: Office, corrected: str, draft: Draft) -> Fault | None:
    def gross(row: InvoiceRow) -> Decimal:
        made = Invoice.model_validate_json(row.content)
        return totals_of(made.lines, currency=made.currency, prepaid=Decimal(0)).gross

    credited = [
        gross(invoices.get(office.book, line.id))
        for line in invoices.corrections(office.book, corrected)
        if line.number
    ]
    return over_credited(
        draft, invoiced=gross(invoices.get(office.book, corrected)), credited=sum(credited, Decimal(0))
    )


def _suggestions(office: Office, line: InvoiceLine, draft: Draft) -> tuple[Suggestion, ...]:
    """What the day brought and no invoice of the job has: added, dropped, noted, goods beyond the order."""
    if draft.kind is Kind.CREDIT_NOTE:
        return ()
    done = {*draft.refused, *(entry.source for entry in draft.lines)}
    for other in invoices.of_job(office.book, line.job_id):
        if other.id != line.id and other.kind == Kind.INVOICE:
            content = json.loads(invoices.get(office.book, other.id).content)
            done |= {entry["source"] for entry in content["lines"]}
    prices = {
        (row.item, row.unit.strip().casefold()): row.amount
        for row in told_prices(office.book, _today(office))
        if row.currency == draft.currency
    }
    found = [
        *_of_log(office, line.job_id),
        *_of_goods(office, line.job_id, prices),
        *_of_used(office, line.job_id, prices),
    ]
    return tuple(one for one in found if one.source not in done)


def _of_log(office: Office, job_id: str) -> Iterable[Suggestion]:
    for entry in log_of(office, job_id).entries:
        event = entry.row.event
        if entry.withdrawn or event.kind not in (EventKind.ADDED, EventKind.DROPPED, EventKind.NOTED):
            continue
        told = event.body.get("text") or event.body.get("label") or event.body.get("reason")
        told = told if isinstance(told, str) else ""
        # An id that nobody has a name for tells a client nothing beside words.
        named = "" if told and entry.what == event.subject else entry.what
        text = ": ".join(part for part in (named, told) if part)
        quantity, unit = Decimal(1), "C62"
        minutes = event.body.get("minutes")
        if isinstance(minutes, int | float) and not isinstance(minutes, bool) and minutes > 0:
            quantity, unit = (Decimal(str(minutes)) / 60).quantize(Decimal("0.01")), "HUR"
        if event.kind is EventKind.DROPPED:
            quantity = -quantity
        yield Suggestion(f"event:{event.id}", event.kind.value, text[:300], quantity, unit, None)


def _of_goods(office: Office, job_id: str, prices: Prices) -> Iterable[Suggestion]:
    came = goods(office, job_id)
    beyond = [(line, -line.missing) for line in came.lines if line.missing < 0]
    for line, amount in [*((line, line.received) for line in came.extra), *beyond]:
        if amount > 0:
            yield _goods_found("goods", line.key, line.name, amount, line.unit, prices)


def _of_used(office: Office, job_id: str, prices: Prices) -> Iterable[Suggestion]:
    newest = plans.newest(office.book, job_id)
    plan = {} if newest is None else json.loads(newest.plan_json)
    standing, _ = corrected([row.event for row in events.all_of(office.book, job_id)])
    catalog = catalog_of(office)
    # A line of the invoice: it speaks the language of the client's papers.
    _, reader = about_of(office, job_id, "metric")
    try:
        order = order_in(plan)
    except ValidationError:
        return  # A plan of an older program: what came beyond its order is told all the same.
    for row in beyond_order(standing, order, containers_in(plan), receipts.totals(office.book, job_id)):
        name = item_name(row.item, catalog, reader)
        yield _goods_found("used", row.item, name, row.amount, row.unit, prices)


def _goods_found(kind: str, key: str, name: str, amount: float, unit: str, prices: Prices) -> Suggestion:
    """A price counts only where it is one of the same unit: that of a gram says nothing of a pack."""
    price = prices.get((key, unit.strip().casefold()))
    quantity = Decimal(str(round(amount, 4)))
    return Suggestion(f"{kind}:{key}:{unit}", kind, name[:300], quantity, unit_code(unit), price)


def _today(office: Office) -> date:
    return office.clock().astimezone().date()


# ---------------------------------------------------------------- changing a draft


def head_fields(seen: DraftSeen) -> dict[str, str]:
    """Buyer, dates and sums of a draft as a form shows them."""
    return _head_fields(seen.draft, seen.line.revision)


def _head_fields(draft: Draft, revision: int) -> dict[str, str]:
    buyer = draft.buyer
    return {
        **{name: getattr(buyer, name) for name in ("name", "vat_id", "reference", "mail")},
        **{name: getattr(buyer.address, name) for name in PLACE},
        "currency": draft.currency,
        "delivered_on": f"{draft.delivered_on or ''}",
        "prepaid": f"{draft.prepaid:f}",
        "note": draft.note,
        "revision": str(revision),
    }


def change_head(office: Office, job_id: str, invoice_id: str, typed: Mapping[str, str]) -> None:
    """Change buyer, dates and sums of a draft.

    Raises
    ------
    NotFound, Unusable, Overtaken, Conflict
        Conflict where it was issued meanwhile.
    """
    row = _of_job(office, job_id, invoice_id)
    entered = Entered(typed)
    values: dict[str, Any] = {
        "buyer": Buyer(
            **{name: entered.text(name) for name in ("name", "reference")},
            mail=entered.mail("mail"),
            vat_id=compact(entered.text("vat_id")),
            address=Address(
                **{name: entered.text(name) for name in PLACE if name != "country"},
                country=entered.text("country").upper(),
            ),
        ),
        "currency": entered.text("currency", most=10).upper(),
        "delivered_on": entered.day("delivered_on") if typed.get("delivered_on", "").strip() else None,
        "prepaid": entered.decimal("prepaid", Decimal(0), HIGHEST_PRICE) if typed.get("prepaid") else Decimal(0),
        "note": entered.text("note", most=LONGEST_TEXT),
    }
    revision = entered.revision()
    entered.done()
    if row.line.number:
        raise Conflict(say("invoice.page.issued_meanwhile", {}))
    draft = Draft.model_validate_json(row.content).model_copy(update=values)
    try:
        # Read after `revision` was shown: a change between the two is noticed by the book.
        invoices.change_draft(office.book, invoice_id, draft.model_dump_json(), revision=revision)
    except Conflict:
        now = _of_job(office, job_id, invoice_id)
        if now.line.number:
            raise
        fields = _head_fields(Draft.model_validate_json(now.content), now.line.revision)
        raise Overtaken(fields, now.line.revision) from None


def line_fields(seen: DraftSeen, place: int) -> dict[str, str]:
    """A line of a draft as a form shows it; `place` counts from 1.

    Raises
    ------
    NotFound
    """
    if not 1 <= place <= len(seen.draft.lines):
        raise nothing_there()
    return {**_line_fields(seen.draft.lines[place - 1], seen.firm), "revision": str(seen.line.revision)}


def _line_fields(line: Line, firm: Firm) -> dict[str, str]:
    tax = str(firm.taxes.index(line.tax) + 1) if line.tax in firm.taxes else ""
    return {
        "text": line.text,
        "quantity": f"{line.quantity:f}",
        "unit": line.unit,
        "price": f"{line.price:f}",
        "tax": tax,
    }


def suggested_fields(found: Suggestion) -> dict[str, str]:
    """A suggestion as a form shows it."""
    return {
        "text": found.text,
        "quantity": f"{found.quantity:f}",
        "unit": found.unit,
        "price": "" if found.price is None else f"{found.price:f}",
        "source": found.source,
        "tax": "1",
    }


def add_line(office: Office, job_id: str, invoice_id: str, typed: Mapping[str, str]) -> None:
    """Add a line: one that is typed, or a suggestion (``source``) that is confirmed; the same form twice adds one.

    Raises
    ------
    NotFound, Unusable, Conflict
    """
    seen = _draft_seen(office, job_id, invoice_id)
    entered = Entered(typed)
    source = typed.get("source", "")
    if source and source not in {found.source for found in seen.suggestions}:
        return  # It stands in an invoice already, or the entry was withdrawn.
    line = _typed_line(entered, seen.firm, source or f"typed:{entered.own_id() or ''}")
    entered.done()

    def with_line(draft: Draft) -> Draft:
        if any(other.source == line.source for other in draft.lines):
            return draft
        return draft.model_copy(update={"lines": (*draft.lines, line)})

    _changed(office, job_id, invoice_id, with_line)


def leave_out(office: Office, job_id: str, invoice_id: str, source: str) -> None:
    """Say that something of the day is not charged on this invoice.

    Raises
    ------
    NotFound, Conflict
    """
    seen = _draft_seen(office, job_id, invoice_id)
    if source not in {found.source for found in seen.suggestions}:
        return
    _changed(office, job_id, invoice_id, lambda draft: draft.model_copy(update={"refused": (*draft.refused, source)}))


def tax_all(office: Office, job_id: str, invoice_id: str, typed: Mapping[str, str]) -> None:
    """Give all lines the same tax of the firm.

    Raises
    ------
    NotFound, Unusable, Conflict
    """
    seen = _draft_seen(office, job_id, invoice_id)
    entered = Entered(typed)
    tax = _typed_tax(entered, seen.firm)
    entered.done()
    _changed(
        office,
        job_id,
        invoice_id,
        lambda draft: draft.model_copy(
            update={"lines": tuple(line.model_copy(update={"tax": tax}) for line in draft.lines)}
        ),
    )


def change_line(office: Office, job_id: str, invoice_id: str, place: int, typed: Mapping[str, str]) -> None:
    """Change a line, or take it out (``out``); `place` counts from 1.

    Raises
    ------
    NotFound, Unusable, Overtaken, Conflict
    """
    seen = _draft_seen(office, job_id, invoice_id)
    entered, lines = Entered(typed), list(seen.draft.lines)
    if not 1 <= place <= len(lines):
        raise nothing_there()
    if typed.get("out"):
        del lines[place - 1]
    else:
        lines[place - 1] = _typed_line(entered, seen.firm, lines[place - 1].source)
    revision = entered.revision()
    entered.done()
    draft = seen.draft.model_copy(update={"lines": tuple(lines)})
    try:
        invoices.change_draft(office.book, invoice_id, draft.model_dump_json(), revision=revision)
    except Conflict:
        now = _draft_seen(office, job_id, invoice_id)
        raise Overtaken(line_fields(now, place), now.line.revision) from None


def _typed_line(entered: Entered, firm: Firm, source: str) -> Line:
    return Line(
        text=entered.needed("text"),
        quantity=entered.decimal("quantity", -MOST, MOST),
        unit=entered.one_of("unit", UNITS),
        price=entered.decimal("price", Decimal(0), HIGHEST_PRICE),
        tax=_typed_tax(entered, firm),
        source=source,
    )


def _typed_tax(entered: Entered, firm: Firm) -> Tax:
    chosen = entered.one_of("tax", {str(number): tax for number, tax in enumerate(firm.taxes, start=1)})
    return firm.taxes[int(chosen) - 1] if "tax" not in entered.faults else NO_TAX


def _draft_seen(office: Office, job_id: str, invoice_id: str) -> DraftSeen:
    seen = see(office, job_id, invoice_id)
    if isinstance(seen, IssuedSeen):
        raise Conflict(say("invoice.page.issued_meanwhile", {}))
    return seen


def _changed(office: Office, job_id: str, invoice_id: str, change: Callable[[Draft], Draft]) -> None:
    """Apply a change that holds whatever else was changed meanwhile."""
    for last in (*[False] * (TRIES - 1), True):
        row = _of_job(office, job_id, invoice_id)
        if row.line.number:
            raise Conflict(say("invoice.page.issued_meanwhile", {}))
        draft = change(Draft.model_validate_json(row.content))
        try:
            invoices.change_draft(office.book, invoice_id, draft.model_dump_json(), revision=row.line.revision)
        except Conflict:
            if last:
                raise
        else:
            return


def drop(office: Office, job_id: str, invoice_id: str) -> None:
    """Throw a draft away.

    Raises
    ------
    NotFound, Conflict
        If it was issued.
    """
    _of_job(office, job_id, invoice_id)
    invoices.drop_draft(office.book, invoice_id)


# ---------------------------------------------------------------- issuing


def issue(office: Office, job_id: str, invoice_id: str, typed: Mapping[str, str]) -> InvoiceLine:
    """Issue a draft as it was looked through (``revision``): the next number of the year, PDF and XML kept for good.

    Raises
    ------
    NotFound, NotReady, Conflict, CannotRun
        If something hinders it; if somebody else has changed it since it was shown.
    """
    seen = see(office, job_id, invoice_id)
    if isinstance(seen, IssuedSeen):
        return seen.line  # The form was sent twice.
    revision, on = Entered(typed).revision(), _today(office)
    if seen.faults:
        raise NotReady(say("invoice.page.not_ready", {}))

    sender, (_, reader) = sender_of(office, job_id), about_of(office, job_id, "metric")

    def make(n: int) -> Made:
        # Within the turn of numbers, so that two credit notes cannot both give back the same.
        if seen.line.corrects is not None and (over := _over(office, seen.line.corrects, seen.draft)):
            raise NotReady(told_fault(over))
        made = issued(seen.draft, seen.firm, number=number_of(seen.firm, year=on.year, n=n), on=on)
        pdf, xml = invoice_papers(made, sender, reader)
        return Made(made.number, made.model_dump_json(), made.currency, f"{seen.totals.due:f}", Papers(pdf, xml))

    row = invoices.issue(office.book, invoice_id, revision=revision, on=on, first_n=seen.firm.first_number, make=make)
    return row.line


def credit(office: Office, job_id: str, invoice_id: str, typed: Mapping[str, str], *, by: str = "") -> InvoiceLine:
    """Begin a credit note that gives back all of an issued invoice; its lines can be taken out or made less.

    Raises
    ------
    NotFound, Conflict
        If it was not issued, or is a credit note itself.
    """
    seen = see(office, job_id, invoice_id)
    if isinstance(seen, DraftSeen) or seen.invoice.kind is Kind.CREDIT_NOTE:
        raise Conflict(say("invoice.page.only_issued", {}))
    made = seen.invoice
    draft = Draft(
        kind=Kind.CREDIT_NOTE,
        buyer=made.buyer,
        lines=made.lines,
        currency=made.currency,
        delivered_on=made.delivered_on,
        corrects=Corrected(number=made.number, issued_on=made.issued_on),
    )
    return _added(office, job_id, draft, Entered(typed), by=by, corrects=invoice_id).line


def paper(office: Office, job_id: str, invoice_id: str, form: str) -> Handed:
    """An issued invoice as "pdf", "xml" or "csv", to be handed out.

    Raises
    ------
    NotFound
    """
    row = _of_job(office, job_id, invoice_id)
    if not row.line.number or form not in PAPERS:
        raise nothing_there()
    if form == "csv":
        content = _csv(office, [row])
    else:
        kept = invoices.papers(office.book, invoice_id)
        content = kept.pdf if form == "pdf" else kept.xml
    name = re.sub(r"[^A-Za-z0-9._-]", "-", row.line.number)
    return Handed(content, PAPERS[form], f"{name}.{form}")


def year_csv(office: Office, year: int) -> Handed:
    """Everything that was issued in a year, as a table for bookkeeping.

    Raises
    ------
    NotFound
        If nothing was.
    """
    lines = invoices.of_year(office.book, year)
    if not lines:
        raise nothing_there()
    content = _csv(office, (invoices.get(office.book, line.id) for line in lines))
    return Handed(content, PAPERS["csv"], f"invoices-{year}.csv")


def _csv(office: Office, rows: Iterable[InvoiceRow]) -> bytes:
    made = (Invoice.model_validate_json(row.content) for row in rows)
    return bookkeeping_csv(made, decimal_comma=the_firm(office)[0].decimal_comma).encode("utf-8")
