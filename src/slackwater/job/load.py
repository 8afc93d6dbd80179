"""From the text of a job file to a Job, or to errors that name the line, the key, the value and what was expected."""

from __future__ import annotations

import copy
import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from slackwater.errors import BadInput
from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job
from slackwater.job.positions import Path, key_lines, line_of
from slackwater.job.text import read_once, refuse_hostile

# The record types' own wording of the commonest refusals, in the practitioner's terms.
_EXPECTED: Mapping[str, str] = {
    "missing": "is missing and needed",
    "string_type": "text in quotes is expected",
    "int_type": "a whole number is expected",
    "int_parsing": "a whole number is expected",
    "int_from_float": "a whole number is expected",
    "float_type": "a number is expected",
    "float_parsing": "a number is expected",
    "bool_type": "true or false is expected",
    "bool_parsing": "true or false is expected",
    "tuple_type": "a list in square brackets is expected",
    "model_type": "a table of keys is expected",
    "dict_type": "a table of keys is expected",
    "decimal_parsing": "an amount of money is expected, such as 48 or 48.50",
    "decimal_type": "an amount of money is expected, such as 48 or 48.50",
}


def dotted(path: Path) -> str:
    """A key path as people read it: ``people[2].rate``, counted from 1."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in _models_in(argument)]


def _keys_at(path: Path) -> list[str]:
    """The keys that the table at `path` may hold."""
    model: type[BaseModel] = Job
    for part in path:
        if isinstance(part, int):
            continue
        for name, info in model.model_fields.items():
            if part in (info.alias, name):
                inner = _models_in(info.annotation)
                if not inner:
                    return []
                model = inner[0]
    return [info.alias or name for name, info in model.model_fields.items()]


def _describe(error: Mapping[str, Any]) -> str:
    kind, value = error["type"], error["input"]
    context: Mapping[str, Any] = error.get("ctx", {})
    if kind == "extra_forbidden":
        known = _keys_at(error["loc"][:-1])
        near = difflib.get_close_matches(str(error["loc"][-1]), known, n=1, cutoff=0.6)
        if len(error["loc"]) > 1 and str(error["loc"][-1]) in _keys_at(()):
            return "belongs to the whole job: move the line to the top of the file, above the first [section]"
        return (
            f"is not a key known here; did you mean {near[0]}?"
            if near
            else f"is not a key known here; known are {', '.join(known)}"
        )
    if kind == "missing":
        return _EXPECTED[kind]
    given = (
        f'"{value}" was given; '
        if isinstance(value, str)
        else f"{value if isinstance(value, Decimal) else repr(value)} was given; "
        if not isinstance(value, dict | list)
        else ""
    )
    if kind == "value_error":
        return given + str(context.get("error", error["msg"]))
    bounds = {
        "greater_than": "more than {gt} is expected",
        "greater_than_equal": "{ge} or more is expected",
        "less_than": "less than {lt} is expected",
        "less_than_equal": "{le} or less is expected",
        "literal_error": "expected is one of {expected}",
        "too_short": "at least {min_length} entries are expected",
    }
    if kind in bounds:
        return given + bounds[kind].format(**{key: _bound(bound) for key, bound in context.items()})
    return given + _EXPECTED.get(kind, str(error["msg"]).lower())


def _bound(bound: Any) -> str:
    return f"{bound:g}" if isinstance(bound, int | float) else str(bound)


MOST_FAULTS = 100
"""So many are told one by one; more would not be read."""


@dataclass(frozen=True)
class Fault:
    """One thing in a job text that cannot be used.

    Attributes
    ----------
    path : Path
        The key, or the part whose keys do not go together.
    missing : bool
        Whether the key is not there at all.
    message : str
        The value that was given, what is expected and what to do.
    """

    path: Path
    missing: bool
    message: str


def faults_of(raw: Mapping[str, Any]) -> tuple[Fault, ...]:
    """Everything that keeps a text that was read from being a job; empty where it is one."""
    try:
        Job.model_validate(raw, context=FROM_FILE)
    except ValidationError as error:
        found = error.errors()
        return tuple(
            Fault(path=tuple(fault["loc"]), missing=fault["type"] == "missing", message=_describe(fault))
            for fault in found[:MOST_FAULTS]
        )
    return ()


@dataclass(frozen=True)
class AsFar:
    """A job as far as its text can be used, and what cannot."""

    job: Job
    faults: tuple[Fault, ...]


def read_as_far(text: str) -> AsFar:
    """Read a job text, what cannot be used counted as not known yet.

    Raises
    ------
    BadInput
        If the text is no TOML at all.
    """
    raw: dict[str, Any] = copy.deepcopy(dict(read_once(text)))
    faults = left = faults_of(raw)
    while left:
        unusable = {fault.path[:-1] if fault.missing else fault.path for fault in left}
        for path in sorted(unusable, key=_last_first, reverse=True):
            _take_out(raw, path)
        raw.setdefault("name", "")
        raw["format"] = 1
        left = faults_of(raw)
    return AsFar(job=Job.model_validate(raw, context=FROM_FILE), faults=faults)


def _last_first(path: Path) -> tuple[tuple[int, str], ...]:
    return tuple((part, "") if isinstance(part, int) else (-1, part) for part in path)


def _take_out(raw: Any, path: Path) -> None:
    """Remove what stands at a path; where the path leads into a value, that value.

    A list that is left with nothing goes too: an empty one would say that there are none.
    """
    above: tuple[Any, str | int] | None = None
    for at, part in enumerate(path):
        last = at + 1 == len(path) or not isinstance(_inner(raw, part), dict | list)
        if _inner(raw, part) is None:
            return
        if last:
            del raw[part]
            if raw == [] and above is not None:
                del above[0][above[1]]
            return
        above, raw = (raw, part), raw[part]


def _inner(raw: Any, part: str | int) -> Any:
    if isinstance(raw, dict):
        return raw.get(part)
    return raw[part] if isinstance(raw, list) and isinstance(part, int) and part < len(raw) else None


def read_job(text: str, *, file_name: str) -> Job:
    """Read a job file.

    Parameters
    ----------
    text : str
        Its whole text.
    file_name : str
        For the messages only; nothing is opened.

    Raises
    ------
    BadInput
        One line for each fault, with file, line, key, value and what was expected.
    """
    refuse_hostile(text)
    try:
        raw = tomllib.loads(text)
    except ValueError as error:
        raise BadInput(f"{file_name}: not a readable job file: {error}; text values stand in quotes") from error
    if not raw:
        raise BadInput(f"{file_name}: the file is empty; begin with `slackwater new {file_name}`")
    try:
        return Job.model_validate(raw, context=FROM_FILE)
    except ValidationError as error:
        lines = key_lines(text)
        found = sorted(
            ((line_of(tuple(fault["loc"]), lines) or 0, fault) for fault in error.errors()), key=_line_number
        )
        told = []
        for line, fault in found[:MOST_FAULTS]:
            where = f"{file_name}, line {line}" if line else file_name
            told.append(f"{where}: {dotted(tuple(fault['loc'])) or 'the file'}: {_describe(fault)}")
        if len(found) > MOST_FAULTS:
            told.append(f"{file_name}: and {len(found) - MOST_FAULTS:,} more; correct these first")
        raise BadInput("\n".join(told)) from error


def _line_number(found: tuple[int, object]) -> int:
    return found[0]
