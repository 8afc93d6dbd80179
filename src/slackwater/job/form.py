"""The survey as questions: every field of the job model, in the order of a walk on site, made from the model itself.

Pure description; labels and sentences of help stand in the wording catalog, by the `words` of each question.
"""

from __future__ import annotations

import re
import types
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from slackwater.job.catalog import Named
from slackwater.job.fields import Asks, Count, Size
from slackwater.job.model import BedLayer, Device, Job, Span, WaterReading
from slackwater.job.positions import Path
from slackwater.job.text import Plain, value_at
from slackwater.units import KINDS


class Kind(StrEnum):
    """How a question is answered."""

    QUANTITY = "quantity"
    """A number with its unit, as typed: "118 cm"."""
    READING = "reading"
    """A quantity that may carry its error or be a detection limit."""
    NUMBER = "number"
    SHARE = "share"
    """A part of a whole: "25 %" or 0.25."""
    WHOLE = "whole"
    MONEY = "money"
    TEXT = "text"
    CHOICE = "choice"
    CHOICES = "choices"
    """Any of several, or none of them."""
    YES_NO = "yes_no"
    DAY = "day"
    MOMENT = "moment"
    TIME = "time"
    COUNT = "count"
    """Animals: exact, a range, or uncounted."""
    LINES = "lines"
    """One text a line."""
    DAYS = "days"
    WHOLES = "wholes"
    QUANTITIES = "quantities"
    NAMED_NUMBERS = "named_numbers"
    """One ``name = number`` a line."""
    NAMED_QUANTITIES = "named_quantities"


MANY = frozenset(
    {Kind.CHOICES, Kind.LINES, Kind.DAYS, Kind.WHOLES, Kind.QUANTITIES, Kind.NAMED_NUMBERS, Kind.NAMED_QUANTITIES}
)
"""Kinds whose answer has several entries."""


@dataclass(frozen=True)
class Bounds:
    """What a number may be, in the unit it is kept in; None where there is no limit, `open_…` without the limit."""

    low: float | None = None
    high: float | None = None
    open_low: bool = False
    open_high: bool = False

    def hold(self, value: float) -> bool:
        """Whether a number may be this one."""
        if self.low is not None and (value < self.low or (self.open_low and value == self.low)):
            return False
        return self.high is None or value < self.high or (not self.open_high and value == self.high)


@dataclass(frozen=True)
class Question:
    """One field of the model.

    Attributes
    ----------
    key : str
        Key path as in the job file, without numbers: ``site.windows.start``.
    words : str
        Id of its label and help; records that stand in several places share them.
    kind : Kind
        How it is answered.
    quantity : str
        A key of ``units.KINDS``, or "".
    bounds : Bounds
        Range in the unit of the quantity.
    choices : tuple of str
        What may be chosen.
    required : bool
        Whether its card or part cannot be used without it.
    usual : str
        What is taken when it is left open; "" where nothing is.
    table : str
        The catalog table that it names a row of, or "".
    none_counts : bool
        Whether "there are none" is another answer than "not known yet".
    such_as : str
        An example where that of its kind would mislead: ways are told in metres, panes in millimetres.
    """

    key: str
    words: str
    kind: Kind
    quantity: str = ""
    bounds: Bounds = Bounds()
    choices: tuple[str, ...] = ()
    required: bool = False
    usual: str = ""
    table: Named | Literal[""] = ""
    none_counts: bool = False
    such_as: str = ""

    @property
    def name(self) -> str:
        """The last part of its key."""
        return self.key.rpartition(".")[2]

    @property
    def example(self) -> str:
        """How an answer is typed."""
        if self.quantity in KINDS:
            return self.such_as or KINDS[self.quantity][1]
        known = {
            Kind.TIME: "22:30",
            Kind.COUNT: "24 ± 2",
            Kind.READING: "7.2",
            Kind.SHARE: "25 %",
            Kind.MONEY: "6.20",
            Kind.DAY: "2027-02-10",
            Kind.DAYS: "2027-02-10",
            Kind.MOMENT: "2027-02-10 06:30",
        }
        return known.get(self.kind, self.such_as)


@dataclass(frozen=True)
class Group:
    """A table of the job file with its questions and further tables; `cards` where it may stand there several times.

    `none_counts` as for a question: an empty list says "there are none".
    """

    key: str
    cards: bool = False
    none_counts: bool = False
    questions: tuple[Question, ...] = ()
    groups: tuple[Group, ...] = ()


@dataclass(frozen=True)
class Part:
    """One page of the survey."""

    id: str
    groups: tuple[Group, ...]


_WALK: Mapping[str, tuple[str, ...]] = {
    "place": (
        *("name", "reference", "client", "surveyed", "client_informed", "site.name", "site.kind", "site.care_setting"),
        *(
            "site.occupied",
            "site.time_zone",
            "site.altitude",
            "site.room_temperature",
            "site.room_volume",
            "site.rules",
        ),
    ),
    "hours": (
        "site.key_holder_leaves",
        "site.seen_from",
        "site.closed_days",
        "site.visits_from",
        "site.visits_until",
        "site.windows",
        "site.quiet",
        "site.client_here",
    ),
    "way": ("site.route", "site.lift"),
    "floor": ("site.floor", "site.circuits"),
    "points": ("site.tap", "site.drain"),
    "tank": ("tank",),
    "running": ("filters", "heaters", "light", "co2"),
    "old": ("old",),
    "animals": ("animals_ill", "livestock"),
    "readings": ("water",),
    "target": ("target",),
    "boxes": ("containers", "holding"),
    "people": ("people",),
    "bed": ("bed",),
    "hardscape": ("stones", "wood", "layout"),
    "plants": ("plants", "planting"),
    "making": ("preparation",),
    "stock": ("goods", "van"),
    "office": ("price", "papers", "contract", "seed"),
    "wishes": ("brief", "past_jobs"),
}
"""Parts of the survey in the order of the walk: the house from the door to the tank, what lives, what goes in, the office."""

NOT_ASKED = frozenset({"format"})
"""Keys that nobody is asked for: the format of the file."""

_SHARED: tuple[tuple[type[BaseModel], str], ...] = (
    (WaterReading, "reading"),
    (BedLayer, "layer"),
    (Device, "device"),
    (Span, "span"),
)
"""Records that stand in several places and share their words."""

_TABLES: Mapping[str, Named] = {
    "livestock.species": "species",
    "holding.species": "species",
    "holding.container": "containers",
    "containers.container": "containers",
    "plants.plant": "plants",
    "stones.material": "materials",
    "wood.material": "materials",
    "bed.soil.material": "materials",
    "bed.base.material": "materials",
    "bed.top_layer.layer.material": "materials",
    "bed.bays.layer.material": "materials",
    "preparation.salts.salt": "salts",
    "brief.may_be_left_out": "activities",
    "past_jobs.activity": "activities",
}

_SUCH_AS: Mapping[str, str] = {
    "site.altitude": "420 m",
    "site.route.distance": "60 m",
    "site.route.door_clear_width": "90 cm",
    "site.tap.distance": "12 m",
    "site.drain.distance": "12 m",
    "tank.wall": "12 mm",
    "tank.brace_width": "14 cm",
    "preparation.hose_bore": "16 mm",
    "preparation.hose_length": "15 m",
    "preparation.pump_head": "3 m",
    "preparation.hose_summit": "1.5 m",
    "brief.tip_clearance": "3 cm",
    "stones.sizes": "26 x 17 x 21 cm",
    "wood.size": "55 x 30 x 25 cm",
    "stones.mesh": "main-stone.glb",
    "wood.mesh": "root.obj",
    "layout.scene": "layout.glb",
    "layout.seated_eye": "1.2 m",
    "layout.standing_eye": "1.6 m",
    "layout.viewing_distance": "1.5 m",
}
"""Examples of what is not spoken of in the unit of its kind."""


# ---------------------------------------------------------------- from the model


@dataclass(frozen=True)
class _Shape:
    """What an annotation comes to."""

    base: Any
    bounds: Bounds = Bounds()
    asks: str = ""
    optional: bool = False
    many: bool = False
    named: bool = False


def _shape(annotation: Any) -> _Shape:
    origin, inner = get_origin(annotation), get_args(annotation)
    if hasattr(annotation, "__metadata__"):
        return _marked(_shape(inner[0]), annotation.__metadata__)
    if origin in (Union, types.UnionType):
        (one,) = [item for item in inner if item is not type(None)]
        return replace(_shape(one), optional=len(inner) > 1)
    if origin is tuple:
        return replace(_shape(inner[0]), many=True)
    if origin is Mapping:
        return replace(_shape(inner[1]), named=True)
    return _Shape(base=annotation)


def _marked(shape: _Shape, marks: Sequence[Any]) -> _Shape:
    for mark in marks:
        if isinstance(mark, FieldInfo):
            shape = _marked(shape, mark.metadata)
        elif isinstance(mark, Asks):
            shape = replace(shape, asks=mark.kind)
        elif (above := getattr(mark, "gt", None)) is not None:
            shape = replace(shape, bounds=replace(shape.bounds, low=float(above), open_low=True))
        elif (low := getattr(mark, "ge", None)) is not None:
            shape = replace(shape, bounds=replace(shape.bounds, low=float(low)))
        elif (high := getattr(mark, "le", None)) is not None:
            shape = replace(shape, bounds=replace(shape.bounds, high=float(high)))
        elif (below := getattr(mark, "lt", None)) is not None:
            shape = replace(shape, bounds=replace(shape.bounds, high=float(below), open_high=True))
    return shape


def _is_record(base: Any) -> bool:
    return isinstance(base, type) and issubclass(base, BaseModel) and base not in (Count, Size)


def _kind(shape: _Shape, *, reading: bool) -> Kind:
    base = shape.base
    if shape.named:
        return Kind.NAMED_QUANTITIES if shape.asks else Kind.NAMED_NUMBERS
    if shape.many:
        return {str: Kind.LINES, Size: Kind.LINES, date: Kind.DAYS, int: Kind.WHOLES, float: Kind.QUANTITIES}.get(
            base, Kind.CHOICES
        )
    if get_origin(base) is Literal:
        return Kind.CHOICE
    if shape.asks in ("time", "share"):
        return Kind(shape.asks)
    if reading and base is float:
        return Kind.READING
    if shape.asks:
        return Kind.QUANTITY
    known: Mapping[Any, Kind] = {
        bool: Kind.YES_NO,
        int: Kind.WHOLE,
        float: Kind.NUMBER,
        Decimal: Kind.MONEY,
        date: Kind.DAY,
        datetime: Kind.MOMENT,
        Count: Kind.COUNT,
        Size: Kind.TEXT,
        str: Kind.TEXT,
    }
    return known[base]


def _words(model: type[BaseModel], field: str, key: str) -> str:
    for shared, name in _SHARED:
        if issubclass(model, shared) and field in shared.model_fields:
            return f"{name}.{key.rpartition('.')[2]}"
    return key


def _usual(info: FieldInfo) -> str:
    default = info.default
    if info.is_required() or default is None or default in ("", ()) or isinstance(default, BaseModel | Mapping):
        return ""
    if isinstance(default, float):
        return f"{default:g}"
    return typed(default)


def _group_of(model: type[BaseModel], key: str, shape: _Shape) -> Group:
    hints = get_type_hints(model, include_extras=True)
    questions: list[Question] = []
    groups: list[Group] = []
    for field, info in model.model_fields.items():
        inner = _marked(_shape(hints[field]), info.metadata)
        path = f"{key}.{info.alias or field}".lstrip(".")
        none_counts = inner.many and inner.optional
        if _is_record(inner.base):
            groups.append(replace(_group_of(inner.base, path, inner), none_counts=none_counts))
            continue
        if path in NOT_ASKED:
            continue
        reading = issubclass(model, WaterReading) and field in WaterReading.model_fields
        questions.append(
            Question(
                key=path,
                words=_words(model, field, path),
                kind=_kind(inner, reading=reading),
                quantity=inner.asks if inner.asks in KINDS else "",
                such_as=_SUCH_AS.get(path, ""),
                bounds=inner.bounds,
                choices=get_args(inner.base) if get_origin(inner.base) is Literal else (),
                required=info.is_required(),
                usual=_usual(info),
                table=_TABLES.get(path, ""),
                none_counts=none_counts,
            )
        )
    return Group(key=key, cards=shape.many, questions=tuple(questions), groups=tuple(groups))


@cache
def whole() -> Group:
    """The whole model as one group."""
    return _group_of(Job, "", _Shape(base=Job))


def _taken(group: Group, keys: Sequence[str]) -> tuple[Group, ...]:
    """The groups and single questions of these keys, in their order; single questions in a group without a key."""
    found: list[Group] = []
    for key in keys:
        one = _at(group, key)
        if isinstance(one, Group):
            found.append(one)
        elif found and not found[-1].key:
            found[-1] = replace(found[-1], questions=(*found[-1].questions, one))
        else:
            found.append(Group(key="", questions=(one,)))
    return tuple(found)


def _at(group: Group, key: str) -> Group | Question:
    for question in group.questions:
        if question.key == key:
            return question
    for inner in group.groups:
        if inner.key == key:
            return inner
        if key.startswith(f"{inner.key}."):
            return _at(inner, key)
    raise KeyError(key)


@cache
def parts() -> tuple[Part, ...]:
    """The pages of the survey in their order."""
    return tuple(Part(id=name, groups=_taken(whole(), keys)) for name, keys in _WALK.items())


def all_questions(group: Group) -> tuple[Question, ...]:
    """Every question of a group and of those below it."""
    return (*group.questions, *(question for inner in group.groups for question in all_questions(inner)))


def all_groups(group: Group) -> tuple[Group, ...]:
    """A group and those below it."""
    return (group, *(found for inner in group.groups for found in all_groups(inner)))


@cache
def part_of(key: str) -> str:
    """Id of the part that asks for a key, or for something above or below it; "" where none does."""
    plain = ".".join(part for part in key.split(".") if not part.isdigit())
    for name, keys in _WALK.items():
        if any(plain == known or plain.startswith(f"{known}.") for known in keys):
            return name
    return next((name for name, keys in _WALK.items() if any(known.startswith(f"{plain}.") for known in keys)), "")


# ---------------------------------------------------------------- typed and stored


def typed(value: Any) -> str:
    """A value of a job text as a person would type it; entries of a list on lines of their own."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "\n".join(f"{name} = {typed(item)}" if typed(item) else str(name) for name, item in value.items())
    if isinstance(value, list | tuple):
        return "\n".join(typed(item) for item in value)
    return str(value)


_WHOLE = re.compile(r"[+-]?\d{1,15}")
_DECIMAL = re.compile(r"[+-]?\d{1,15}(?:[.,]\d{1,15})?")
_SPACED = re.compile(r"(?<=\d)[ \u00a0\u202f'](?=\d{3}(?!\d))")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+\.\d{1,15}|[+-]?\d{1,3}(?:\.\d{3})+,\d{1,15}")
THOUSAND_OR_DECIMAL = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


def number_in(text: str) -> Decimal | None:
    """The number that a text can only mean; a decimal comma is a point where it can be no thousand.

    Returns
    -------
    Decimal or None
        None for no number, and for one that could be a thousand or a decimal: the person must say.

    Examples
    --------
    >>> number_in("6,2"), number_in("7 200"), number_in("1.234,50"), number_in("1,200")
    (Decimal('6.2'), Decimal('7200'), Decimal('1234.50'), None)
    """
    text = _SPACED.sub("", text.strip())
    if _GROUPED.fullmatch(text):
        at = max(text.rfind("."), text.rfind(","))
        return Decimal(re.sub(r"[.,]", "", text[:at]) + "." + text[at + 1 :])
    if THOUSAND_OR_DECIMAL.fullmatch(text) or not _DECIMAL.fullmatch(text):
        return None
    return Decimal(text.replace(",", "."))


def stored(question: Question, text: str) -> Plain | None:
    """What goes into the job text for what was typed; None for "not known yet".

    What cannot be read is kept as the text it is, so that it comes back with its error instead of being lost.
    """
    text = text.replace("\r\n", "\n").strip()
    if not text:
        return None
    if question.kind in MANY:
        return _entries(question, text)
    return _one(question.kind, text)


def _one(kind: Kind, text: str) -> Plain:
    if kind is Kind.YES_NO:
        return {"yes": True, "no": False}.get(text.lower(), text)
    if kind in (Kind.WHOLE, Kind.COUNT, Kind.WHOLES):
        return int(text) if _WHOLE.fullmatch(text) else text
    if kind in (Kind.NUMBER, Kind.SHARE, Kind.MONEY, Kind.READING, Kind.NAMED_NUMBERS):
        number = number_in(text)
        return text if number is None else number
    if kind in (Kind.DAY, Kind.DAYS):
        try:
            return date.fromisoformat(text)
        except ValueError:
            return text
    if kind is Kind.MOMENT:
        return re.sub(r"(?<=\d)T(?=\d)", " ", text)
    return text


def _entries(question: Question, text: str) -> Plain:
    split = r"[\s,;]+" if question.kind in (Kind.WHOLES, Kind.DAYS) else r"[\n;]|,\s+" if question.quantity else r"\n"
    entries = [entry.strip() for entry in re.split(split, text) if entry.strip()]
    if question.kind in (Kind.NAMED_NUMBERS, Kind.NAMED_QUANTITIES):
        pairs = [
            re.split(r"[=:]" if re.search(r"[=:]", entry) else r"\s+(?=\d)", entry, maxsplit=1) for entry in entries
        ]
        return {name.strip(): _one(question.kind, "".join(item).strip()) for name, *item in pairs}
    return [_one(question.kind, entry) for entry in entries]


# ---------------------------------------------------------------- filled in


@dataclass(frozen=True)
class Answer:
    """A question with what is known.

    Attributes
    ----------
    question : Question
        What is asked.
    path : Path
        Where it stands, cards numbered from 0.
    text : str
        As typed; "" where nothing is.
    none : bool
        Whether "there are none" was said.
    """

    question: Question
    path: Path
    text: str
    none: bool = False

    @property
    def known(self) -> bool:
        """Whether anything was said."""
        return bool(self.text) or self.none

    @property
    def name(self) -> str:
        """Its path as one word: the name of its field in a form."""
        return field_name(self.path)


@dataclass(frozen=True)
class Filled:
    """A group with what is known: itself, or one of its cards.

    Attributes
    ----------
    group : Group
        What is asked.
    path : Path
        Of the table, of the card, or of the list of cards.
    answers, groups : tuples
        Its questions, and the tables below it.
    cards : tuple of Filled
        Where the group may stand several times.
    none : bool
        Whether "there are none" was said.
    there : bool
        Whether anything stands there.
    """

    group: Group
    path: Path
    answers: tuple[Answer, ...] = ()
    groups: tuple[Filled, ...] = ()
    cards: tuple[Filled, ...] = ()
    none: bool = False
    there: bool = False

    @property
    def name(self) -> str:
        """Its path as one word."""
        return field_name(self.path)


def field_name(path: Path) -> str:
    """A path as one word: ``livestock.2.count``."""
    return ".".join(str(part) for part in path)


def path_of(name: str) -> Path:
    """The path that a word names; the reverse of ``field_name``."""
    return tuple(int(part) if part.isdecimal() and part.isascii() else part for part in name.split("."))


def filled(part: Part, plain: Any) -> tuple[Filled, ...]:
    """A part of the survey with what a job text says."""
    return tuple(_filled(group, tuple(group.key.split(".")) if group.key else (), plain) for group in part.groups)


def _filled(group: Group, path: Path, plain: Any) -> Filled:
    if group.cards:
        value = value_at(plain, path)
        cards = value if isinstance(value, list) else []
        one = replace(group, cards=False)
        return Filled(
            group=group,
            path=path,
            cards=tuple(_filled(one, (*path, number), plain) for number in range(len(cards))),
            none=value == [],
            there=value is not None,
        )
    answers = []
    for question in group.questions:
        at = (*path, question.name) if group.key else tuple(question.key.split("."))
        value = value_at(plain, at)
        answers.append(Answer(question=question, path=at, text=typed(value), none=value == []))
    groups = tuple(_filled(inner, (*path, inner.key.rpartition(".")[2]), plain) for inner in group.groups)
    return Filled(
        group=group,
        path=path,
        answers=tuple(answers),
        groups=groups,
        there=bool(path) and value_at(plain, path) is not None,
    )


def question_at(path: Path) -> Question | None:
    """The question of a path, or None where nothing is asked."""
    key = ".".join(str(part) for part in path if not isinstance(part, int))
    return _by_key().get(key)


@cache
def _by_key() -> Mapping[str, Question]:
    return {question.key: question for question in all_questions(whole())}


def group_at(path: Path) -> Group | None:
    """The group of a path, or None."""
    key = ".".join(str(part) for part in path if not isinstance(part, int))
    return next((group for group in all_groups(whole()) if group.key == key and key), None)


def answers_in(groups: Sequence[Filled]) -> tuple[Answer, ...]:
    """All answers of a part, those of cards and inner tables included."""
    found: list[Answer] = []
    for group in groups:
        found += group.answers
        found += answers_in((*group.groups, *group.cards))
    return tuple(found)
