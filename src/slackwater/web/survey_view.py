"""The survey in words: questions with labels, help, ranges and what is to be said beside them, ready for a template."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import lru_cache

from slackwater.actions.planning import dotted
from slackwater.actions.surveying import Seen
from slackwater.finding import Finding, Severity
from slackwater.job.answers import NONE, Clash, faults_by_field, not_in_catalog, shown
from slackwater.job.catalog import Catalog, Named
from slackwater.job.form import (
    Answer,
    Bounds,
    Filled,
    Kind,
    Part,
    Question,
    answers_in,
    field_name,
    filled,
    part_of,
    parts,
    path_of,
    question_at,
    stored,
    typed,
)
from slackwater.job.meanings import Meaning, currency_of, meanings
from slackwater.job.positions import Path
from slackwater.job.text import value_at
from slackwater.job.zones import places
from slackwater.paper.fact_names import finding_told
from slackwater.units import KINDS, UnitSystem, example_of, printed_unit, show
from slackwater.web.pages import dom_id
from slackwater.wording.render import say, sentence_list

CARDS_A_PAGE = 20
"""A list of 200 plants stays a page that a phone gets at once."""
LONGEST_TITLE = 80
"""Characters of a card's title; its field shows the whole."""
ZONES = "time_zones"
"""The list of time zones to choose from."""
_READ_BY_US = frozenset({Kind.NUMBER, Kind.SHARE, Kind.MONEY, Kind.READING})
"""Kinds whose answer is kept as a number."""
SEVERITY_TONE: Mapping[Severity, str] = {
    Severity.NOTE: "plain",
    Severity.CONDITION: "warn",
    Severity.MISSING: "warn",
    Severity.MISFIT: "bad",
    Severity.REFUSE: "bad",
}


@dataclass(frozen=True)
class Note:
    """A sentence beside a question, and how grave it is."""

    text: str
    tone: str = "warn"


@dataclass(frozen=True)
class FieldView:
    """One question as the page shows it."""

    name: str
    id: str
    kind: str
    label: str
    help: str
    text: str
    type: str
    required: bool
    unknown: str
    example: str = ""
    range: str = ""
    table: str = ""
    choices: tuple[tuple[str, str, bool], ...] = ()
    none: bool = False
    none_counts: bool = False
    error: str = ""
    notes: tuple[Note, ...] = ()
    meanings: tuple[Meaning, ...] = ()
    """What a refused answer may mean, each to be taken by one touch."""
    open_told: bool = True
    """Whether it is to be said that nothing was answered: a note that is not there is just not there."""


@dataclass(frozen=True)
class GroupView:
    """A table, a card, or a list of cards as the page shows it."""

    name: str
    id: str
    title: str
    help: str
    what: str = ""
    cards: bool = False
    none: bool = False
    none_counts: bool = False
    fields: tuple[FieldView, ...] = ()
    groups: tuple[GroupView, ...] = ()
    entries: tuple[GroupView, ...] = ()
    notes: tuple[Note, ...] = ()
    number: int = 0
    count: int = 0
    first: int = 0
    page: int = 1
    pages: int = 1


@dataclass(frozen=True)
class PartView:
    """One part of the survey as the page shows it."""

    id: str
    title: str
    help: str
    groups: tuple[GroupView, ...]
    lists: Mapping[str, tuple[tuple[str, str], ...]]
    wrong: tuple[str, ...]


@dataclass(frozen=True)
class PartLine:
    """One part in the list of parts."""

    id: str
    title: str
    help: str
    known: int
    asked: int
    wrong: int
    waiting: tuple[str, ...]
    notes: tuple[Note, ...] = field(default=())


@dataclass(frozen=True)
class ClashView:
    """One question that two people answered otherwise."""

    name: str
    label: str
    mine: str
    theirs: str
    mine_sent: str
    theirs_sent: str
    gone: bool


def range_text(question: Question, units: UnitSystem) -> str:
    """The range of a number as people read it; "" where it says nothing."""
    bounds = question.bounds
    # That money is no less than nothing need not be said.
    if question.kind is Kind.MONEY or (bounds.low is None and bounds.high is None):
        return ""
    if question.kind is Kind.SHARE:
        bounds = replace(bounds, low=100 * (bounds.low or 0.0), high=100 * (bounds.high or 0.0))
        return _range(bounds, "%", units)
    unit = printed_unit(question.quantity) if question.quantity in KINDS else ""
    return _range(bounds, unit, units)


def _range(bounds: Bounds, unit: str, units: UnitSystem) -> str:
    def told(value: float) -> str:
        return "0" if value == 0 and unit != "°C" else show(value, unit, units, significant=6)

    if bounds.high is None:
        return say("survey.range.least", {"low": told(bounds.low or 0.0)})
    low = told(bounds.low or 0.0)
    words = "above" if bounds.open_low else "below" if bounds.open_high else "between"
    return say(f"survey.range.{words}", {"low": low, "high": told(bounds.high)})


class _Beside:
    """What is to be said beside each question, card and list of a job."""

    def __init__(self, seen: Seen, units: UnitSystem) -> None:
        self.notes: dict[Path, list[Note]] = {}
        self.waiting: dict[Path, list[str]] = {}
        for path, finding in seen.findings:
            if finding.id == "job.fact_missing":
                self.waiting.setdefault(path, []).append(str(finding.values["part"]))
            elif not _said_by_the_form(finding):
                note = Note(finding_told(finding, units), SEVERITY_TONE[finding.severity])
                self.notes.setdefault(path, []).append(note)

    def at(self, path: Path) -> tuple[Note, ...]:
        """Notes of one path, what waits for it first."""
        waiting = self.waiting.get(path, ())
        first = (Note(say("survey.page.blocks", {"parts": ", ".join(waiting)})),) if waiting else ()
        return (*first, *self.notes.get(path, ()))


def _said_by_the_form(finding: Finding) -> bool:
    """Names that the catalog lacks are told with names to choose instead of ids."""
    return finding.id.endswith(("species_unknown", "plant_unknown", "container_unknown", "material_unknown"))


def _field(
    answer: Answer, seen: Seen, units: UnitSystem, beside: _Beside, faults: Mapping[Path, str], *, with_help: bool
) -> FieldView:
    question = answer.question
    label, help_text = sentence_list(f"survey.ask.{question.words}")
    text = shown(question, value_at(seen.plain, answer.path), seen.catalog)
    unknown = say("survey.page.not_known", {})
    if question.usual:
        usual = _choice(question, question.usual)
        unknown = say("survey.page.usual", {"usual": usual})
    notes = list(beside.at(answer.path))
    unlisted = not_in_catalog(question, text, seen.catalog)
    error = faults.get(answer.path, "")
    told = () if error else unlisted
    notes += [Note(say("survey.page.near" if near else "survey.page.not_near", {"entry": e})) for e, near in told]
    notes += _scientific(question, text, seen.catalog)
    # Each reading is tried, which takes a moment: only for what was refused.
    read = (
        meanings(question, text, catalog=seen.catalog, currency=currency_of(seen.plain), units=units)
        if text and (error or unlisted)
        else ()
    )
    if question.quantity and not error and re.search(r"\d,\d", text):
        notes.append(Note(say("survey.page.read_as", {"text": text.replace(",", ".")}), "plain"))
    if error == "is missing and needed":
        error = say("survey.page.missing", {})
    example = example_of(question.quantity, units, question.such_as) if question.quantity in KINDS else question.example
    if _input_type(question, text) in ("date", "datetime-local"):
        example = ""  # The browser's own field shows the order in which its reader writes dates.
    return FieldView(
        name=answer.name,
        id=dom_id(answer.name),
        kind=question.kind.value,
        label=label,
        help=help_text if with_help else "",
        text=text,
        type=_input_type(question, text),
        required=question.required,
        unknown=unknown,
        example=example if with_help or not text else "",
        range=range_text(question, units) if with_help else "",
        table=question.table or (ZONES if question.key == "site.time_zone" else ""),
        choices=_choices(question, text),
        none=answer.none,
        none_counts=question.none_counts,
        error=error[:1].upper() + error[1:],
        notes=tuple(notes),
        meanings=read,
        open_told=bool(question.table or question.usual)
        or question.kind not in (Kind.TEXT, Kind.LINES, Kind.YES_NO, Kind.CHOICE, Kind.CHOICES),
    )


def _scientific(question: Question, text: str, catalog: Catalog) -> list[Note]:
    """What the animals and plants that were named are called in science, so that no row is taken for another one."""
    found = []
    for line in text.split("\n") if question.table else ():
        row = catalog.id_of(line, question.table) if question.table and line.strip() else None
        if row is not None and question.table and (name := catalog.scientific_name(row, question.table)):
            values = {"name": catalog.names(question.table)[row], "scientific": name}
            found.append(Note(say("survey.page.scientific", values), "plain"))
    return found


def _example(question: Question, seen: Seen, units: UnitSystem) -> str:
    if question.kind is Kind.MONEY:
        return f"{question.example} {currency_of(seen.plain)}"
    return example_of(question.quantity, units, question.such_as) if question.quantity in KINDS else question.example


def _choice(question: Question, choice: str) -> str:
    if question.kind is Kind.YES_NO and choice in ("yes", "no"):
        return say(f"survey.page.{choice}", {})
    return say(f"survey.choice.{question.key}.{choice}", {}) if question.choices else choice


def _choices(question: Question, text: str) -> tuple[tuple[str, str, bool], ...]:
    names = ("yes", "no") if question.kind is Kind.YES_NO else question.choices
    if not names:
        return ()
    chosen = text.split("\n")
    found = [(name, _choice(question, name), name in chosen) for name in names]
    # An answer that cannot be used is shown as it is; choosing another one takes it away.
    found += [(other, other, True) for other in chosen if other and other not in names]
    return tuple(found)


def _input_type(question: Question, text: str) -> str:
    """The browser's own field for a date or time, unless what stands there could not be shown in it."""
    if question.kind is Kind.DAY and (not text or _is_day(text)):
        return "date"
    if question.kind is Kind.MOMENT and (not text or _is_moment(text)):
        return "datetime-local"
    if question.kind is Kind.TIME and (not text or re.fullmatch(r"[0-2]\d:[0-5]\d", text)):
        return "time"
    return "text"


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _is_moment(text: str) -> bool:
    try:
        return f"{datetime.strptime(text, '%Y-%m-%d %H:%M'):%Y-%m-%d %H:%M}" == text
    except ValueError:
        return False


def _group(
    group: Filled,
    seen: Seen,
    units: UnitSystem,
    beside: _Beside,
    faults: Mapping[Path, str],
    pages: Mapping[str, int],
    *,
    with_help: bool = True,
    number: int = 0,
) -> GroupView:
    title, help_text, *what = sentence_list(f"survey.group.{group.group.key}") if group.group.key else ["", ""]
    notes = beside.at(group.path) if group.path else ()
    count = len(group.cards)
    last = max(1, -(-count // CARDS_A_PAGE))
    page = min(max(1, pages.get(group.name, 1)), last)
    first = (page - 1) * CARDS_A_PAGE
    fields = tuple(_field(answer, seen, units, beside, faults, with_help=with_help) for answer in group.answers)
    if number:
        # A card is called by its first answer, so that a long list can be read by its headings.
        title = say("survey.page.card", {"what": what[0][:1].upper() + what[0][1:], "number": f"{number}"})
        if fields and fields[0].text and not fields[0].choices:
            title = say("survey.page.of_card", {"what": title, "name": _short(fields[0].text)})
        help_text = ""
    return GroupView(
        name=group.name,
        id=dom_id(group.name),
        title=title,
        help=help_text,
        what=what[0] if what else "",
        cards=group.group.cards,
        none=group.none,
        none_counts=group.group.none_counts,
        fields=fields,
        groups=tuple(_group(inner, seen, units, beside, faults, pages, with_help=with_help) for inner in group.groups),
        entries=tuple(
            _group(card, seen, units, beside, faults, pages, with_help=at == first, number=at + 1)
            for at, card in enumerate(group.cards[first : first + CARDS_A_PAGE], start=first)
        ),
        notes=notes,
        number=number,
        count=count,
        first=first,
        page=page,
        pages=last,
    )


def _lists_of(fields: Iterable[FieldView], seen: Seen) -> Mapping[str, tuple[tuple[str, str], ...]]:
    """What may be chosen by name, with what else it is called."""
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for name in sorted({one.table for one in fields if one.table}):
        if name == ZONES:
            found[name] = places()
        else:
            table: Named = name  # type: ignore[assignment]
            names = seen.catalog.names(table)
            found[name] = tuple((called, _other_names(seen, table, row)) for row, called in names.items())
    return found


def everything(_path: Path) -> bool:
    """Of questions that are shown: all of them."""
    return True


def part_view(
    part: Part,
    seen: Seen,
    units: UnitSystem,
    pages: Mapping[str, int],
    asked_of: Callable[[Path], bool] = everything,
) -> PartView:
    """One part with its questions, ready to be shown.

    Parameters
    ----------
    pages : mapping of str to int
        Which page of a long list is shown, by the list's name.
    asked_of : callable
        Which questions are shown to whoever looks.
    """
    asked = filled(part, seen.plain)
    paths = [answer.path for answer in answers_in(asked)]
    faults, rest = faults_by_field(seen.faults, paths)
    beside = _Beside(seen, units)
    title, help_text = sentence_list(f"survey.part.{part.id}")
    shown = (_group(group, seen, units, beside, faults, pages) for group in asked)
    groups = tuple(_only(group, asked_of) for group in shown if asked_of(path_of(group.name)))
    return PartView(
        id=part.id,
        title=title,
        help=help_text,
        groups=groups,
        lists=_lists_of(fields_in(groups), seen),
        wrong=tuple(
            f"{_called(fault.path)}: {fault.message}" for fault in rest if part_of(field_name(fault.path)) == part.id
        ),
    )


def new_cards_left(seen: Seen) -> Seen:
    """The same without faults in cards in which nothing stands yet: who has just added one has not got it wrong."""

    def new(path: Path) -> bool:
        return any(isinstance(part, int) and value_at(seen.plain, path[: at + 1]) == {} for at, part in enumerate(path))

    return replace(seen, faults=tuple(fault for fault in seen.faults if not new(fault.path)))


def _only(group: GroupView, asked_of: Callable[[Path], bool]) -> GroupView:
    """A group without the questions that are not for whoever looks."""
    if asked_of is everything:
        return group
    return replace(
        group,
        fields=tuple(one for one in group.fields if asked_of(path_of(one.name))),
        groups=tuple(_only(one, asked_of) for one in group.groups if asked_of(path_of(one.name))),
        entries=tuple(_only(one, asked_of) for one in group.entries),
    )


def fields_in(groups: Iterable[GroupView]) -> list[FieldView]:
    """All fields of a page, those of cards and inner tables included."""
    found: list[FieldView] = []
    for group in groups:
        found += group.fields
        found += fields_in((*group.groups, *group.entries))
    return found


def told_otherwise(before: PartView, after: PartView) -> list[FieldView]:
    """Fields beside which something else is to be said than before."""
    said = {one.name: _said(one) for one in fields_in(before.groups)}
    return [one for one in fields_in(after.groups) if said.get(one.name) != _said(one)]


def _said(one: FieldView) -> tuple[object, ...]:
    return one.error, one.notes, one.meanings, one.none, bool(one.text)


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_TITLE else f"{text[: LONGEST_TITLE - 1]}…"


def read_otherwise(after: PartView, posted: Mapping[str, str]) -> list[FieldView]:
    """Fields whose answer was taken as something else than was typed, such as 6.2 for 6,2, each saying as what."""

    def told(one: FieldView) -> str:
        typed = posted[one.name].strip()
        return say(f"survey.page.{'called' if one.table else 'read_as'}", {"text": one.text, "typed": typed})

    return [
        replace(one, notes=(Note(told(one), "plain"), *one.notes))
        for one in fields_in(after.groups)
        if one.kind in _READ_BY_US or one.table
        if one.text and one.text != posted.get(one.name, "").strip().replace("\r\n", "\n") and one.name in posted
    ]


def _other_names(seen: Seen, table: Named, row: str) -> str:
    return ", ".join(seen.catalog.also_called(row, table))


def _called(path: Path) -> str:
    """What a path is called: the title of its group, or its key."""
    key = ".".join(part for part in path if isinstance(part, str))
    words = sentence_list(f"survey.group.{key}")
    if words:
        return words[0]
    question = question_at(path)
    return key if question is None else sentence_list(f"survey.ask.{question.words}")[0]


@dataclass(frozen=True)
class _SameText:
    """A job as it is seen; two are the same where text and tables are, for all that is said of it follows from these."""

    text: str
    catalog: int
    seen: Seen = field(compare=False)


def part_lines(seen: Seen, units: UnitSystem) -> tuple[PartLine, ...]:
    """All parts with how far they are, what in them cannot be used and what waits for them."""
    return _part_lines(_SameText(seen.text, id(seen.catalog), seen), units)


@lru_cache(maxsize=512)
def _part_lines(same: _SameText, units: UnitSystem) -> tuple[PartLine, ...]:
    seen = same.seen
    beside = _Beside(seen, units)
    found = []
    for part in parts():
        groups = filled(part, seen.plain)
        answers = answers_in(groups)
        title, help_text = sentence_list(f"survey.part.{part.id}")
        waiting = [
            name for path, names in beside.waiting.items() if part_of(field_name(path)) == part.id for name in names
        ]
        grave = [
            note
            for path, notes in beside.notes.items()
            if part_of(field_name(path)) == part.id
            for note in notes
            if note.tone == "bad"
        ]
        found.append(
            PartLine(
                id=part.id,
                title=title,
                help=help_text,
                known=sum(answer.known for answer in answers) + sum(group.none for group in _lists(groups)),
                asked=len(answers) + sum(not group.cards for group in _lists(groups)),
                wrong=_wrong(part, answers, seen),
                waiting=tuple(dict.fromkeys(waiting)),
                notes=tuple(dict.fromkeys(grave)),
            )
        )
    return tuple(found)


def _wrong(part: Part, answers: Sequence[Answer], seen: Seen) -> int:
    """How much of a part cannot be used: faults of the text, and answers that the catalog has no row for."""
    faults = [fault.path for fault in seen.faults if part_of(field_name(fault.path)) == part.id]
    unlisted = (
        answer.path
        for answer in answers
        if answer.question.table
        and not_in_catalog(
            answer.question, shown(answer.question, value_at(seen.plain, answer.path), seen.catalog), seen.catalog
        )
    )
    return len(faults) + sum(not any(path[: len(one)] == one for path in faults) for one in unlisted)


def _lists(groups: Sequence[Filled]) -> list[Filled]:
    found = []
    for group in groups:
        if group.group.cards:
            found.append(group)
        found += _lists((*group.groups, *group.cards))
    return found


def clash_views(clashes: Sequence[Clash]) -> tuple[ClashView, ...]:
    """Answers of two people, in words."""
    return tuple(
        ClashView(
            name=field_name(clash.path),
            label=label_of(clash.path),
            mine=_as_told(clash.mine),
            theirs=_as_told(clash.theirs),
            mine_sent=clash.mine,
            theirs_sent=clash.theirs,
            gone=clash.gone,
        )
        for clash in clashes
    )


def _as_told(text: str) -> str:
    return say("survey.page.none", {}) if text == NONE else text


def label_of(path: Path) -> str:
    """What the survey calls a key: its group, numbered where there are several, and its question."""
    question = question_at(path)
    if question is None:
        return _called(path)
    label = sentence_list(f"survey.ask.{question.words}")[0]
    group = ".".join(part for part in path[:-1] if isinstance(part, str))
    words = sentence_list(f"survey.group.{group}")
    numbers = [part + 1 for part in path if isinstance(part, int)]
    where = words[0] + (f" {numbers[-1]}" if numbers else "") if words else ""
    return f"{where}: {label}" if where else label


@dataclass(frozen=True)
class FactView:
    """One question of the survey, to be answered otherwise for once."""

    key: str
    label: str
    value: str
    help: str
    example: str
    range: str
    choices: tuple[tuple[str, str, bool], ...]
    type: str
    """Of its field in the browser; as in the survey."""


def fact_view(answer: Answer, units: UnitSystem, taken: str = "") -> FactView:
    """A question with what is known, and how an answer is typed; `taken` is what was typed instead."""
    question = answer.question
    return FactView(
        key=dotted(answer.path),
        label=label_of(answer.path),
        value=_as_told(NONE) if answer.none else answer.text,
        help=sentence_list(f"survey.ask.{question.words}")[1],
        example=example_of(question.quantity, units, question.such_as)
        if question.quantity in KINDS
        else question.example,
        range=range_text(question, units),
        choices=_choices(question, answer.text) if question.kind in (Kind.YES_NO, Kind.CHOICE) else (),
        type=_input_type(question, typed(stored(question, taken))),
    )


def facts_by_part(known: Iterable[tuple[Part, Answer]], sought: str) -> dict[str, list[tuple[str, str, str]]]:
    """Key, label and value of the questions that hold every word sought, by the title of their part."""
    words = sought.casefold().split()
    found: dict[str, list[tuple[str, str, str]]] = {}
    cards: dict[Path, str] = {}
    for part, answer in known:
        title, label, key = sentence_list(f"survey.part.{part.id}")[0], label_of(answer.path), dotted(answer.path)
        value = _as_told(NONE) if answer.none else answer.text
        at = max((place for place, step in enumerate(answer.path) if isinstance(step, int)), default=-1)
        # A card is called by its first answer, as on its page of the survey.
        if at >= 0 and (called := cards.setdefault(answer.path[: at + 1], answer.text)) and called != answer.text:
            label = say("web.change.of_card", {"label": label, "card": called[:80]})
        searched = f"{title} {label} {key} {value}".casefold()
        if all(word in searched for word in words):
            found.setdefault(title, []).append((key, label, value))
    return found
