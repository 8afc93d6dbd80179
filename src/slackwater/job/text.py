"""Change the text of a job file at one key and leave every other byte, and every comment, as it is.

A change is a splice: the value, line or header that is meant is found by position and only it is written anew. After
each change the text is read again by the standard reader, and the change is refused unless it reads back as meant.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from functools import cached_property, lru_cache
from typing import Any

from slackwater.errors import BadInput, NotFound
from slackwater.job.positions import STRING, Block, Entry, Path, Statement, Value, blocks_of

MOST_CHARACTERS = 500_000
"""A job with 200 plants takes 30,000."""
MOST_LINES = 20_000
MOST_VALUES = 20_000
MOST_DEPTH = 24
MOST_TYPED = 10_000
"""Characters of one value."""

_SIGN = re.compile(STRING + r"|#[^\n]*|[\[\]{}.=\n]", re.DOTALL)
_COMMENT = re.compile(STRING + r"|(#[^\n]*)", re.DOTALL)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

Plain = str | bool | int | float | Decimal | date | time | Sequence["Plain"] | Mapping[str, "Plain"]
"""What a key of a job file may hold."""


# ---------------------------------------------------------------- reading


def refuse_hostile(text: str) -> None:
    """Refuse a text that no job needs before anything follows it: one pass, no nesting.

    Raises
    ------
    BadInput
        If it is too long, has too many lines or values, nests too deeply, or holds half a character.
    """
    if len(text) > MOST_CHARACTERS:
        raise BadInput(
            f"the job text has {len(text):,} characters, more than the {MOST_CHARACTERS:,} that are read; "
            "it is probably not a job file"
        )
    if not text.isascii():
        try:
            text.encode("utf-8")
        except UnicodeEncodeError as error:
            line = text.count("\n", 0, error.start) + 1
            raise BadInput(
                f"the job text holds half a character in line {line}; save it as UTF-8 and try again"
            ) from error
    lines = values = depth = dots = 0
    for match in _SIGN.finditer(text):
        sign = match[0]
        if sign == "\n":
            lines += 1
            dots = 0
        elif sign == "=":
            values += 1
            dots = 0
        elif sign in "[{":
            depth += 1
            dots = 0
        elif sign in "]}":
            depth -= 1
        elif sign == ".":
            dots += 1
        if depth > MOST_DEPTH or dots > MOST_DEPTH:
            raise BadInput(f"the job text nests more than {MOST_DEPTH} levels deep; it is probably not a job file")
        if values > MOST_VALUES or lines > MOST_LINES:
            raise BadInput(f"the job text has more than {MOST_VALUES:,} lines or values; it is probably not a job file")


def read_text(text: str) -> Mapping[str, Any]:
    """What stands in the text, numbers with the digits that were typed; nothing is checked against the job's keys.

    Raises
    ------
    BadInput
        If it is hostile or no readable TOML; the message names the line.
    """
    refuse_hostile(text)
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, ValueError, ArithmeticError) as error:
        raise BadInput(f"not a readable job file: {error}; text values stand in quotes") from error


def value_at(plain: Any, path: Path) -> Any:
    """What stands at a path of a text that was read; None where there is nothing."""
    for part in path:
        if isinstance(part, int):
            if not isinstance(plain, list) or not 0 <= part < len(plain):
                return None
        elif not isinstance(plain, dict) or part not in plain:
            return None
        plain = plain[part]
    return plain


# ---------------------------------------------------------------- writing


def written(value: Plain) -> str:
    """A value as it stands in a job file.

    Examples
    --------
    >>> written("16 1/2 in"), written(True), written(Decimal("26.50")), written(["6 kg", "5 kg"])
    ('"16 1/2 in"', 'true', '26.50', '["6 kg", "5 kg"]')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float | Decimal):
        if not value == value or value in (float("inf"), float("-inf")):
            raise BadInput("a finite number is expected")
        return f"{value:f}" if isinstance(value, Decimal) else repr(value)
    if isinstance(value, datetime):
        return _quoted(f"{value:%Y-%m-%d %H:%M}")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(name)} = {written(item)}" for name, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    return f"[{', '.join(written(item) for item in value)}]"


def _quoted(text: str) -> str:
    if len(text) > MOST_TYPED:
        raise BadInput(f"{len(text):,} characters were entered in one place, more than {MOST_TYPED:,}; shorten it")
    if any("\ud800" <= sign <= "\udfff" for sign in text):
        raise BadInput("half a character was entered; type it again")
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(name: str | int) -> str:
    text = str(name)
    return text if _BARE_KEY.fullmatch(text) else _quoted(text)


def _dotted(path: Path) -> str:
    return ".".join(_key(part) for part in path if isinstance(part, str))


class _Text:
    """A job text with its positions."""

    def __init__(self, text: str) -> None:
        self.plain = read_text(text)
        self.text = text
        self.newline = "\r\n" if "\r\n" in text else "\n"

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """Where everything stands."""
        return blocks_of(self.text)

    # ---- finding

    def statement_over(self, path: Path) -> Statement | None:
        """The statement whose value holds this path, or is it."""
        for block in self.blocks:
            if path[: len(block.path)] != block.path:
                continue
            for statement in block.statements:
                if path[: len(statement.path)] == statement.path:
                    return statement
        return None

    def inside(self, statement: Statement, path: Path) -> tuple[Value, Path, tuple[Value, int] | None]:
        """How far a path leads into a value: the last value on the way, what is left of the path, and its place."""
        value, rest = statement.value, path[len(statement.path) :]
        place: tuple[Value, int] | None = None
        while rest:
            for number, entry in enumerate(value.entries):
                if rest[: len(entry.path)] == entry.path:
                    place = (value, number)
                    value, rest = entry.value, rest[len(entry.path) :]
                    break
            else:
                break
        return value, rest, place

    def blocks_under(self, path: Path) -> tuple[Block, ...]:
        """The headers at a path and below it."""
        return tuple(block for block in self.blocks if block.path[: len(path)] == path and block.path)

    def under(self, path: Path) -> tuple[tuple[Statement, ...], tuple[Block, ...]]:
        """What a part is written of: keys with dots elsewhere, and headers with all that stands below them."""
        blocks = self.blocks_under(path)
        return (
            tuple(
                statement
                for block in self.blocks
                if block not in blocks
                for statement in block.statements
                if statement.path[: len(path)] == path
            ),
            blocks,
        )

    def _block(self, path: Path) -> Block | None:
        return next((block for block in self.blocks if block.path == path), None)

    # ---- splicing

    def splice(self, start: int, end: int, new: str) -> str:
        return self.text[:start] + new + self.text[end:]

    def add_lines(self, at: int, lines: str) -> str:
        """Whole lines put in at the start of a line."""
        before = self.text[:at]
        if before and not before.endswith("\n"):
            before += self.newline
        return before + lines.replace("\n", self.newline) + self.text[at:]

    def insert(self, path: Path, raw: str) -> str:
        """A key that is not there yet, below what there is of its path."""
        statement = self.statement_over(path)
        if statement is not None:
            value, rest, _ = self.inside(statement, path)
            return self._into_braces(value, rest, raw, path)
        for length in range(len(path) - 1, -1, -1):
            above, rest = path[:length], path[length:]
            block = self._block(above)
            if block is None and not self._stands(above):
                continue
            if any(isinstance(part, int) for part in rest):
                raise _no_card(path)
            if block is not None and len(rest) == 1:
                return self._into_block(block, f"{_key(rest[0])} = {raw}")
            sibling = self._dotted_sibling(above)
            if sibling is not None:
                holder, last = sibling
                line = f"{_dotted(path[len(holder.path) :])} = {raw}"
                return self.add_lines(last.end, self._indent(last) + line + "\n")
            if len(rest) == 1:  # only [above.something] is there
                first = self.blocks_under(above)[0]
                return self.add_lines(self._lead(first), f"[{_dotted(above)}]\n{_key(rest[0])} = {raw}\n\n")
            return self._new_block(above, f"[{_dotted(path[:-1])}]\n{_key(path[-1])} = {raw}\n")
        raise AssertionError("the top of a file is always there")

    def _stands(self, path: Path) -> bool:
        return value_at(self.plain, path) is not None

    def _dotted_sibling(self, above: Path) -> tuple[Block, Statement] | None:
        """The last ``above.something = `` that is written with dots, and where."""
        found = None
        for block in self.blocks:
            if len(block.path) < len(above) and above[: len(block.path)] == block.path:
                for statement in block.statements:
                    if len(statement.path) > len(above) and statement.path[: len(above)] == above:
                        found = (block, statement)
        return found

    def _indent(self, statement: Statement) -> str:
        line = self.text[statement.start : statement.end]
        return line[: len(line) - len(line.lstrip(" \t"))]

    def _into_block(self, block: Block, line: str) -> str:
        own = [statement for statement in block.statements]
        indent = self._indent(own[-1]) if own else ""
        return self.add_lines(block.end, indent + line + "\n")

    def _into_braces(self, value: Value, rest: Path, raw: str, path: Path) -> str:
        if value.kind != "table" or any(isinstance(part, int) for part in rest):
            raise _no_card(path)
        if any(entry.path[:1] == rest[:1] for entry in value.entries):
            line = f"{_dotted(rest)} = {raw}"
        else:
            for part in reversed(rest[1:]):
                raw = f"{{ {_key(part)} = {raw} }}"
            line = f"{_key(rest[0])} = {raw}"
        if value.entries:
            end = value.entries[-1].value.end
            return self.splice(end, end, f", {line}")
        return self.splice(value.start, value.end, f"{{ {line} }}")

    def _new_block(self, above: Path, lines: str) -> str:
        """A header put behind all that belongs to `above`."""
        under = self.blocks_under(above) if above else ()
        at = under[-1].end if under else len(self.text)
        before = self.text[:at]
        gap = "\n" if before.strip() and not before.endswith(("\n\n", "\n\r\n")) else ""
        after = "\n" if at < len(self.text) and not self.text[at:].startswith(("\n", "\r\n")) else ""
        return self.add_lines(at, gap + lines + after)

    def _lead(self, block: Block) -> int:
        """The first of the comment lines that stand directly above a header."""
        number = self.blocks.index(block)
        floor = self.blocks[number - 1].end if number else 0
        at = block.start
        while at > floor:
            above = self.text.rfind("\n", 0, at - 1) + 1
            if above < floor or not self.text[above:at].lstrip().startswith("#"):
                break
            at = above
        return at

    # ---- taking out

    def without(self, statements: Sequence[Statement], blocks: Sequence[Block] = ()) -> str:
        """The text without some keys, whose comments stay, each on a line of its own, and without some parts."""
        text = self.text
        cut: list[Statement | Block] = [*statements, *blocks]
        for gone in sorted(cut, key=lambda one: one.start, reverse=True):
            before, after = text[: gone.start], text[gone.end :]
            if isinstance(gone, Statement):
                indent = self._indent(gone)
                before += "".join(
                    f"{indent}{comment}{self.newline}" for comment in _comments(self.text[gone.value.start : gone.end])
                )
            elif before.endswith(("\n\n", "\n\r\n")) and (not after or after.startswith(("\n", "\r\n"))):
                before = before[: -len(self.newline)]
            text = before + after
        return text

    def without_entry(self, owner: Value, number: int) -> str:
        """The text without one entry of a list or of a table in braces, and without one comma."""
        entry = owner.entries[number]
        start, end = entry.start, entry.value.end
        if number + 1 < len(owner.entries):
            comma = self._comma(end)
            text = self.text[:start] + self.text[end:comma] + self.text[comma + 1 :]
            return _closed_up(text, start)
        if number > 0:
            comma = self._comma(owner.entries[number - 1].value.end)
            own = self.text[end : owner.end]
            trailing = re.match(r"\s*,", own) if owner.kind == "list" else None
            rest = self.text[end + trailing.end() :] if trailing else self.text[end:]
            text = self.text[:comma] + ("," if trailing else "") + self.text[comma + 1 : start] + rest
            return _closed_up(text, start - (0 if trailing else 1))
        inner = self.text[end : owner.end]
        trailing = re.match(r"\s*,", inner)
        return _closed_up(self.text[:start] + self.text[end + (trailing.end() if trailing else 0) :], start)

    def _comma(self, at: int) -> int:
        """The comma behind an entry; what stands before it is blank or a comment."""
        while self.text[at] != ",":
            at = self.text.index("\n", at) if self.text[at] == "#" else at + 1
        return at


# What one change has read to check itself, the next one of the same form begins from.
_followed = lru_cache(maxsize=256)(_Text)


def read_once(text: str) -> Mapping[str, Any]:
    """As `read_text`, and the same mapping again for the same text: it is not to be changed.

    Raises
    ------
    BadInput
        As `read_text`.
    """
    return _followed(text).plain


def _closed_up(text: str, at: int) -> str:
    """Blanks that an entry leaves behind, taken out: a whole empty line, or two spaces in a row."""
    start = text.rfind("\n", 0, at) + 1
    end = text.find("\n", at)
    if end >= 0 and start > 0 and not text[start:end].strip():
        return text[:start] + text[end + 1 :]
    if text[at - 1 : at] == " " and text[at : at + 1] == " ":
        return text[:at] + text[at + 1 :]
    return text


def _comments(stretch: str) -> list[str]:
    return [match[1].rstrip("\r") for match in _COMMENT.finditer(stretch) if match[1]]


def _no_card(path: Path) -> NotFound:
    return NotFound(f"{_dotted(path) or 'the job'}: there is no such entry any more; load the page again")


def _checked(old: str, new: str, path: Path, expected: object) -> str:
    """The new text, if it reads back as meant: an odd way of writing a file must never cost what else stands in it."""
    before, after = _followed(old).plain, _followed(new).plain
    if value_at(after, path) != expected or _rest(before, path) != _rest(after, path):
        raise BadInput(f"{_dotted(path)}: this file is written in a way that cannot be changed here; edit it by hand")
    return new


def _rest(plain: Any, path: Path) -> Any:
    """All but what stands at a path; a table on the way that holds nothing else counts as not there."""
    if not path:
        return None
    if isinstance(plain, dict):
        inner = _rest(plain[path[0]], path[1:]) if path[0] in plain else None
        others = {key: item for key, item in plain.items() if key != path[0]}
        return {**others, path[0]: inner} if inner else others
    if isinstance(plain, list) and isinstance(path[0], int) and path[0] < len(plain):
        return [_rest(item, path[1:]) if number == path[0] else item for number, item in enumerate(plain)]
    return plain


def _plain(value: Plain) -> Any:
    found: Any = tomllib.loads(f"value = {written(value)}", parse_float=Decimal)["value"]
    return found


# ---------------------------------------------------------------- what a form does


def set_value(text: str, path: Path, value: Plain) -> str:
    r"""The text with this value at this key; tables on the way are made, cards of a list must be there.

    Parameters
    ----------
    text : str
        A job text.
    path : tuple of str and int
        Keys as in the file; a number counts the cards of a list from 0.
    value : Plain
        As typed: "118 cm" stays "118 cm". An empty list says "there are none".

    Raises
    ------
    BadInput
        If the text cannot be read, or cards would be thrown away by it.
    NotFound
        If a card on the way is not there.

    Examples
    --------
    >>> set_value('[tank]\nlength = "1 m"  # to the seam\n', ("tank", "length"), "118 cm")
    '[tank]\nlength = "118 cm"  # to the seam\n'
    """
    found = _followed(text)
    raw = written(value)
    old = value_at(found.plain, path)
    # An answer such as {E21 = "20 min"} is one value; a table of its own, and cards, are not.
    is_one = isinstance(old, dict) and isinstance(value, Mapping) and found.statement_over(path) is not None
    if not is_one and (
        isinstance(old, dict) or (isinstance(old, list) and any(isinstance(item, dict) for item in old))
    ):
        raise BadInput(f"{_dotted(path)}: entries stand there; take them out one by one first")
    if old is None:
        return _checked(text, found.insert(path, raw), path, _plain(value))
    statement = found.statement_over(path)
    assert statement is not None
    spot, _, _ = found.inside(statement, path)
    kept = _comments(text[spot.start : spot.end])
    new = found.splice(spot.start, spot.end, raw)
    if kept:
        at = statement.start
        new = new[:at] + "".join(f"{comment}{found.newline}" for comment in kept) + new[at:]
    return _checked(text, new, path, _plain(value))


def clear(text: str, path: Path) -> str:
    """The text without this key or part: "not known yet". The comment on a key's line stays."""
    found = _followed(text)
    if value_at(found.plain, path) is None:
        return text
    statement = found.statement_over(path)
    if statement is not None:
        value, rest, place = found.inside(statement, path)
        if rest:  # a part that is only there by dots within braces
            number = next(at for at, entry in enumerate(value.entries) if entry.path[: len(rest)] == rest)
            return clear(found.without_entry(value, number), path)
        new = found.without((statement,)) if place is None else found.without_entry(*place)
    else:
        new = found.without(*found.under(path))
    return _checked(text, new, path, None)


def clear_all(text: str, paths: Iterable[Path]) -> str:
    """The text without any of these keys and parts, as `clear` takes them out one by one, in a single pass."""
    found = _followed(text)
    statements: dict[int, Statement] = {}
    blocks: dict[int, Block] = {}
    cut: list[Path] = []
    for path in sorted(set(paths), key=len):
        if value_at(found.plain, path) is None or any(path[: len(above)] == above for above in cut):
            continue
        cut.append(path)
        statement = found.statement_over(path)
        if statement is None or statement.path == path:
            lines, parts = ((statement,), ()) if statement else found.under(path)
            statements |= {line.start: line for line in lines}
            blocks |= {part.start: part for part in parts}
    new = found.without(tuple(statements.values()), tuple(blocks.values()))
    for path in cut:  # what stands within braces
        new = clear(new, path)
    before, after = found.plain, _followed(new).plain
    for path in cut:
        before, after = _rest(before, path), _rest(after, path)
    if before != after:
        raise BadInput("this file is written in a way that cannot be changed here; edit it by hand")
    return new


def add_card(text: str, path: Path, values: Mapping[str, Plain] | None = None) -> str:
    """The text with one more card at the end of the list at `path`, holding `values`."""
    found = _followed(text)
    values = values or {}
    old = value_at(found.plain, path)
    expected = [*(old or []), _plain(values)]
    statement = found.statement_over(path)
    if statement is not None:
        spot, rest, place = found.inside(statement, path)
        if rest:
            new = found.insert(path, written([values]))
        elif spot.kind != "list":
            raise BadInput(f"{_dotted(path)}: a list is expected here; clear it first")
        elif spot.entries:
            end = spot.entries[-1].value.end
            new = found.splice(end, end, _separator(text, spot) + written(values))
        elif place is None and _has_header(found, path):
            new = add_card(found.without((statement,)), path, values)
        else:
            new = found.splice(spot.start, spot.end, f"[{written(values)}]")
    elif old is None and not _has_header(found, path):
        new = found.insert(path, written([values]))
    else:
        card = f"[[{_dotted(path)}]]\n" + "".join(f"{_key(key)} = {written(item)}\n" for key, item in values.items())
        if old is None:
            above = next(path[:length] for length in range(len(path) - 1, -1, -1) if _stands_at(found, path[:length]))
            if any(isinstance(part, int) for part in path[len(above) :]):
                raise _no_card(path)
            new = found._new_block(above, card)
        else:
            new = found._new_block((*path, len(old) - 1), card)
    return _checked(text, new, path, expected)


def _stands_at(found: _Text, path: Path) -> bool:
    return not path or value_at(found.plain, path) is not None


def _has_header(found: _Text, path: Path) -> bool:
    """Whether a list here may be written with headers: not below a table in braces or one written with dots."""
    return all(
        found._dotted_sibling(path[:length]) is None and found.statement_over(path[:length]) is None
        for length in range(1, len(path))
    )


def _separator(text: str, value: Value) -> str:
    """What stands between the entries of a list, as it is written there: one a line, or all in one."""
    last = value.entries[-1]
    line_start = text.rfind("\n", 0, last.start) + 1
    before = text[line_start : last.start]
    if line_start > value.start and not before.strip():
        return ",\n" + before
    return ", "


def remove_card(text: str, path: Path, number: int) -> str:
    """The text without one card of a list, the comments on its lines included; those above it stay."""
    found = _followed(text)
    old = value_at(found.plain, path)
    if not isinstance(old, list) or not 0 <= number < len(old):
        raise _no_card((*path, number))
    expected = [item for at, item in enumerate(old) if at != number]
    statement = found.statement_over(path)
    if statement is not None:
        value, _, place = found.inside(statement, path)
        if expected:
            return _checked(text, found.without_entry(value, number), path, expected)
        # The last card gone is "not known yet"; that there are none, somebody has to say.
        new = found.without((statement,)) if place is None else found.without_entry(*place)
        return _checked(text, new, path, None)
    new = found.without((), found.blocks_under((*path, number)))
    return _checked(text, new, path, expected or None)


def move_card(text: str, path: Path, number: int, to: int) -> str:
    """The text with one card of a list in another place; comments directly above its header go with it."""
    old = value_at(_followed(text).plain, path)
    if not isinstance(old, list) or not (0 <= number < len(old) and 0 <= to < len(old)):
        raise _no_card((*path, number))
    expected = list(old)
    expected.insert(to, expected.pop(number))
    step = 1 if to > number else -1
    new = text
    for at in range(number, to, step):
        new = _swapped(new, path, min(at, at + step))
    return _checked(text, new, path, expected)


def _swapped(text: str, path: Path, number: int) -> str:
    """Cards `number` and the next one in each other's place."""
    found = _followed(text)
    statement = found.statement_over(path)
    if statement is not None:
        value, _, _ = found.inside(statement, path)
        first, second = (_stretch(value.entries[at]) for at in (number, number + 1))
    else:
        first, second = (
            (found._lead(blocks[0]), blocks[-1].end)
            for blocks in (found.blocks_under((*path, at)) for at in (number, number + 1))
        )
    one, two = text[slice(*first)], text[slice(*second)]
    if statement is None and not two.endswith("\n"):
        one, two = one.removesuffix("\n").removesuffix("\r"), two + found.newline
    return text[: first[0]] + two + text[first[1] : second[0]] + one + text[second[1] :]


def _stretch(entry: Entry) -> tuple[int, int]:
    return entry.start, entry.value.end
