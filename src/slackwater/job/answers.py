"""Answers of a form laid into the job text: what was changed, by whom something else was said, what a card is called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from slackwater.errors import BadInput, NotFound
from slackwater.job import text as job_text
from slackwater.job.catalog import Catalog
from slackwater.job.form import Group, Kind, Question, group_at, path_of, question_at, stored, typed
from slackwater.job.load import Fault
from slackwater.job.meanings import amount_in, currency_of
from slackwater.job.positions import Path
from slackwater.job.text import Plain, read_once, value_at

NONE = "none"
"""What a form sends for "there are none"."""


@dataclass(frozen=True)
class Change:
    """One answer that is not what it was.

    Attributes
    ----------
    path : Path
        Of a question, or of a list of cards for "none".
    value : Plain or None
        What is to stand there; None for "not known yet".
    """

    path: Path
    value: Plain | None


@dataclass(frozen=True)
class Clash:
    """An answer that somebody else changed meanwhile to something else.

    Attributes
    ----------
    path : Path
        Where it stands now; where it stood, when its card is `gone`.
    mine, theirs : str
        As typed, "" for "not known yet".
    gone : bool
        Whether its card was taken out, so that there is no place for it any more.
    """

    path: Path
    mine: str
    theirs: str
    gone: bool = False


@dataclass(frozen=True)
class Merged:
    """A text with the answers that could be laid into it, and those that could not."""

    text: str
    clashes: tuple[Clash, ...]


class Deed(StrEnum):
    """What is done with a card."""

    ADD = "add"
    REMOVE = "remove"
    UP = "up"
    DOWN = "down"


# ---------------------------------------------------------------- names of the catalog


def shown(question: Question, value: Any, catalog: Catalog) -> str:
    """An answer as people read it: what a row of the catalog is called in place of its id."""
    text = typed(value)
    if not question.table or question.kind is Kind.NAMED_QUANTITIES or question.table == "activities":
        return text
    names = catalog.names(question.table)
    return "\n".join(names.get(line, line) for line in text.split("\n"))


def meant(question: Question, text: str, catalog: Catalog) -> str:
    """What was typed, with the id of each row of the catalog that is called exactly so."""
    if not question.table or question.kind is Kind.NAMED_QUANTITIES:
        return text
    lines = text.replace("\r\n", "\n").split("\n")
    return "\n".join((catalog.id_of(line, question.table) or line) if line.strip() else line for line in lines)


def not_in_catalog(question: Question, text: str, catalog: Catalog) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Entries that the catalog has no row for, each with what rows close to it are called."""
    if not question.table or not text:
        return ()
    entries = [line.partition("=")[0].strip() for line in text.split("\n")]
    names = catalog.names(question.table)
    return tuple(
        (entry, tuple(names[near] for near in catalog.near(entry, question.table)))
        for entry in entries
        if entry and catalog.id_of(entry, question.table) is None
    )


# ---------------------------------------------------------------- what was changed


def changes_of(base: str, posted: Mapping[str, str], catalog: Catalog) -> tuple[Change, ...]:
    """The answers of a form that differ from what its page showed.

    Parameters
    ----------
    base : str
        The job text that the page was made from.
    posted : mapping of str to str
        Answers as typed, by field name; entries of a list on lines of their own. What was not sent is not changed.

    Raises
    ------
    BadInput
        If something is sent that nobody asks for.
    """
    plain = read_once(base)
    currency = posted.get("price.currency") or currency_of(plain)
    found = []
    for name, text in posted.items():
        path = path_of(name)
        question = question_at(path)
        old = value_at(plain, path)
        if question is None:
            group = group_at(path)
            if group is None or not group.none_counts or text not in ("", NONE):
                raise BadInput(f"{name[:80]}: this is not asked for; load the page again")
            value: Plain | None = [] if text == NONE else None
            if not old and (old == []) != (text == NONE):
                found.append(Change(path, value))
            continue
        if question.none_counts and NONE in text.split("\n"):
            value = []
        else:
            told = amount_in(text, currency) if question.kind is Kind.MONEY else meant(question, text, catalog)
            value = stored(question, told)
        # Browsers send dates with a T and lines with their own ends; only another answer counts as changed.
        if value != old and not (value is not None and old is not None and value != [] and typed(value) == typed(old)):
            found.append(Change(path, value))
    return tuple(found)


def merged(base: str, newest: str, changes: Sequence[Change], catalog: Catalog) -> Merged:
    """Lay answers into the newest text; where somebody else answered otherwise meanwhile, theirs stays and is told.

    Parameters
    ----------
    base : str
        The text that the answers began from.
    newest : str
        The text as it stands.
    changes : sequence of Change
        What was answered.
    """
    old, now = read_once(base), read_once(newest)
    text = newest
    clashes = []
    for change in changes:
        path = _same_card(old, now, change.path)
        theirs = None if path is None else value_at(now, path)
        if path is not None and theirs == change.value:
            continue
        if path is None or theirs != value_at(old, change.path):
            clashes.append(
                Clash(
                    path=path or change.path,
                    mine=_told(change.path, change.value, catalog),
                    theirs=_told(change.path, theirs, catalog),
                    gone=path is None,
                )
            )
            continue
        text = _laid(text, replace(change, path=path))
    return Merged(text=text, clashes=tuple(clashes))


def _told(path: Path, value: Any, catalog: Catalog) -> str:
    if value == []:
        return NONE
    question = question_at(path)
    return typed(value) if question is None else shown(question, value, catalog)


def _same_card(old: Any, now: Any, path: Path) -> Path | None:
    """The path in the newer text of what a path meant in the older one; None where its card cannot be told any more."""
    for at, part in enumerate(path):
        if not isinstance(part, int):
            continue
        before, after = value_at(old, path[:at]), value_at(now, path[:at])
        if before == after:
            continue
        if not isinstance(before, list) or not isinstance(after, list) or part >= len(before):
            return None
        if not before[part]:
            # Nothing tells an empty card from another one but its place, and a later one is not it: one that was added since
            # is as empty as this one was.
            if part < len(after) and all(
                not one or _who(one) == _who(two) for one, two in zip(before[:part], after, strict=False)
            ):
                continue
            return None
        same = [number for number, card in enumerate(after) if card == before[part]]
        if len(same) == 1:
            path = (*path[:at], same[0], *path[at + 1 :])
        elif len(before) != len(after) or not _changed_in_place(before, after, part):
            return None
    return path


def _changed_in_place(before: list[Any], after: list[Any], number: int) -> bool:
    """Whether a card is what stood in its place before, with other answers, and not another one that was moved there."""
    if _who(before[number]) == _who(after[number]):
        return True
    return after[number] not in before and all(
        _who(card) != _who(after[number]) for at, card in enumerate(before) if at != number
    )


def _who(card: Any) -> Any:
    """What a card is about: its first entry."""
    return next(iter(card.items()), None) if isinstance(card, dict) else card


def _laid(text: str, change: Change) -> str:
    if change.value is not None:
        return job_text.set_value(text, change.path, change.value)
    text = job_text.clear(text, change.path)
    # A part that cannot be without some key, and of which nothing is left, is not known yet as a whole.
    for length in range(len(change.path) - 1, 0, -1):
        above = change.path[:length]
        group = None if isinstance(above[-1], int) else group_at(above)
        if group is None or value_at(read_once(text), above) != {} or not _needs_something(group):
            break
        text = job_text.clear(text, above)
    return text


def _needs_something(group: Group) -> bool:
    return any(question.required for question in group.questions) or any(map(_needs_something, group.groups))


# ---------------------------------------------------------------- cards


def done(base: str, newest: str, text: str, deed: Deed, path: Path) -> str:
    """A text with a card added, taken out or moved.

    Parameters
    ----------
    base : str
        The text whose page the deed was asked on.
    newest : str
        The text as it stands.
    text : str
        The same with the answers of the page laid in, which move no card.
    path : Path
        Of the list for ADD, else of the card.

    Raises
    ------
    NotFound
        If the list was changed meanwhile and the card cannot be told any more.
    BadInput
        If there are no cards there.
    """
    group = group_at(path)
    if group is None or not group.cards:
        raise BadInput("there are no cards there; load the page again")
    if deed is Deed.ADD:
        if path and isinstance(path[-1], int):
            raise BadInput("a card is added to a list; load the page again")
        return job_text.add_card(text, path)
    card = _same_card(read_once(base), read_once(newest), path)
    if card is None or not isinstance(card[-1], int):
        raise NotFound("Somebody else changed this list meanwhile; look at it again, then do this once more")
    above, number = card[:-1], card[-1]
    if deed is Deed.REMOVE:
        return job_text.remove_card(text, above, number)
    to = number + (-1 if deed is Deed.UP else 1)
    cards = value_at(read_once(text), above)
    return text if not 0 <= to < len(cards or ()) else job_text.move_card(text, above, number, to)


def faults_by_field(faults: Sequence[Fault], paths: Sequence[Path]) -> tuple[Mapping[Path, str], tuple[Fault, ...]]:
    """Faults beside the fields they belong to, and those that belong to no field: of a part, or of a key not known."""
    known = set(paths)
    beside: dict[Path, str] = {}
    rest = []
    for fault in faults:
        at = next(
            (fault.path[:length] for length in range(len(fault.path), 0, -1) if fault.path[:length] in known), None
        )
        if at is None:
            rest.append(fault)
        else:
            # Quotes are for who writes the file; a field of the survey has none.
            beside.setdefault(at, fault.message.replace(", in quotes,", ","))
    return beside, tuple(rest)
