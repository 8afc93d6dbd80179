"""Keys of the job file as people know them: what the survey calls a fact, and on which of its pages it is asked."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from slackwater.finding import Finding
from slackwater.job.form import all_questions, group_at, part_of, question_at, whole
from slackwater.job.positions import Path
from slackwater.reader import ENGLISH, Reader, Typed, UnitSystem, localised
from slackwater.wording.catalogs import term
from slackwater.wording.render import finding_sentence, say, sentence_list

_KEY = re.compile(
    r"`(?P<marked>[a-z][a-z0-9_.]*)`|(?<![\w.\[/@-])(?P<bare>[a-z][a-z0-9_]*(?:\[\d{1,4}\])?(?:\.[\w-]+(?:\[\d{1,4}\])?)+)"
)
"""A key stands out by its dots; one of a single word could be any word, so it is marked where a sentence names it."""


@dataclass(frozen=True)
class FactName:
    """A key of the job file in the words of the survey.

    Attributes
    ----------
    key : str
        As it stood in the sentence; entries of lists are counted from 1, or named by what they are called.
    label : str
        The question, or the title of the group.
    of : str
        Which entry of a list is meant: "person 2", or its own name; "" where there is but one.
    part : str
        Id of the page of the survey that asks for it.
    path : tuple of str and int
        Where it stands; entries of lists are counted from 0. An entry that is named is left out.
    quoted : str
        Its label in quotes, with the entry and the page: ``"Until" of person 1 (Crew)``.
    """

    key: str
    label: str
    of: str
    part: str
    path: Path
    quoted: str


def fact_name(key: str, reader: Reader = ENGLISH) -> FactName | None:
    """What the survey calls a key; None where it asks for nothing like it.

    Parameters
    ----------
    key : str
        ``tank.length``, ``people[1].until``, ``people.1.until`` or ``people.lead.until``.

    Examples
    --------
    >>> fact_name("people[1].until").quoted
    '"Until" of person 1 (Crew)'
    """
    known: list[str | int] = []
    entry = ""
    for part in re.sub(r"\[(\d+)\]", r".\1", key).split("."):
        group = group_at(tuple(known)) if known and isinstance(known[-1], str) and not entry else None
        inner = (*known, part)
        if part.isdecimal():
            known.append(max(0, int(part) - 1))
        elif group is not None and group.cards and question_at(inner) is None and group_at(inner) is None:
            entry = part.replace("_", " ")
        else:
            known.append(part)
    path = tuple(known)
    question = question_at(path)
    words = f"survey.group.{'.'.join(_names(path))}" if question is None else f"survey.ask.{question.words}"
    page, label = part_of(".".join(_names(path))), sentence_list(words, reader)
    if not page or not label:
        return None
    of = entry or _numbered(path, reader) or _table(path, reader)
    quoted = _quoted(label[0], of, page, reader)
    return FactName(key=key, label=label[0], of=of, part=page, path=path, quoted=quoted)


def _quoted(label: str, of: str, page: str, reader: Reader) -> str:
    title = sentence_list(f"survey.part.{page}", reader)[0]
    shown = say("fact_name.of" if of else "fact_name.quoted", {"label": label, "entry": of}, reader)
    return shown if title == label else say("fact_name.on_page", {"fact": shown, "page": title}, reader)


@cache
def _asked_twice() -> frozenset[tuple[str, str]]:
    """Page and label of the questions that a page asks of several things."""
    asked = Counter(
        (part_of(one.key), words[0])
        for one in all_questions(whole())
        if (words := sentence_list(f"survey.ask.{one.words}"))
    )
    return frozenset(name for name, count in asked.items() if count > 1)


def _table(path: Path, reader: Reader) -> str:
    """What the question is about, ``tap water``, where its page asks the same of something else."""
    question, table = question_at(path), ".".join(_names(path[:-1]))
    if question is None or (part_of(".".join(_names(path))), sentence_list(f"survey.ask.{question.words}")[0]) not in (
        _asked_twice()
    ):
        return ""
    words = sentence_list(f"survey.group.{table}", reader)
    # In English a title begins large, and stands small within a sentence; other languages have nouns for it.
    return (words[0].lower() if reader.language == "en" else words[0]) if words else ""


def _names(path: Path) -> list[str]:
    return [part for part in path if isinstance(part, str)]


def _numbered(path: Path, reader: Reader) -> str:
    """The last numbered entry on the way: ``person 2``."""
    for at in range(len(path) - 1, 0, -1):
        number = path[at]
        if isinstance(number, int):
            words = sentence_list(f"survey.group.{'.'.join(_names(path[:at]))}", reader)
            values = {"what": words[-1] if len(words) > 2 else "", "number": f"{number + 1}"}
            return say("fact_name.entry", values, reader)
    return ""


def in_pieces(text: str, reader: Reader = ENGLISH) -> list[str | FactName]:
    """A sentence cut where it names keys of the job file; put together again, nothing is lost but marks."""
    found: list[str | FactName] = []
    at = 0
    for match in _KEY.finditer(text):
        fact = fact_name(match["marked"] or match["bare"], reader)
        if fact is None:
            continue
        found += [text[at : match.start()], fact]
        at = match.end()
    return [piece for piece in (*found, text[at:]) if piece != ""]


def as_said(text: str, said: Callable[[FactName], str] = lambda named: named.quoted, reader: Reader = ENGLISH) -> str:
    """A sentence with the words of the survey in place of keys."""
    return "".join(said(piece) if isinstance(piece, FactName) else piece for piece in in_pieces(text, reader))


def with_keys(text: str) -> str:
    """The same with the key behind, for whoever writes the job file by hand."""
    return as_said(text, lambda named: f"{named.quoted} [{named.key}]")


def all_told(data: Any, reader: Reader) -> Any:
    """Everything that a paper reads, whole, as its reader reads it.

    The words of the survey stand in place of keys, words of the trade and numbers and dates are in the reader's language;
    what somebody typed stays as it is.
    """
    if isinstance(data, Typed):
        return data
    if isinstance(data, str):
        # An hour that the clocks show twice is marked by one of our words.
        text = term(data, reader).replace("(2nd)", f"({term('2nd', reader)})")
        return localised(as_said(text, reader=reader), reader)
    if isinstance(data, Mapping):
        return {name: all_told(item, reader) for name, item in data.items()}
    return [all_told(item, reader) for item in data] if isinstance(data, list | tuple) else data


def marked(values: Mapping[str, float | str]) -> dict[str, float | str]:
    """Values of a finding, with the facts that it names marked where a single word would not stand out."""
    listed = values.get("fields")
    if not isinstance(listed, str):
        return dict(values)
    return {**values, "fields": ", ".join(key if "." in key else f"`{key}`" for key in listed.split(", "))}


def assumed_name(field: str) -> str:
    """A default that was used: marked where the survey asks for it, else its key in words."""
    return field.replace("_", " ").replace(".", ", ") if fact_name(field) is None else f"`{field}`"


def finding_told(finding: Finding, reader: Reader | UnitSystem) -> str:
    """What a finding says; facts it names can be found by `in_pieces`."""
    return finding_sentence(finding.model_copy(update={"values": marked(finding.values)}), reader)
