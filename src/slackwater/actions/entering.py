"""What was typed into a form of the record book, read field by field: what cannot be used is told beside its field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from slackwater.errors import BadInput, Conflict, NotFound
from slackwater.units import read_quantity
from slackwater.wording.render import say

LONGEST_NAME = 300
LONGEST_TEXT = 4000
MAIL = re.compile(r"[^\s@<>,;]+@[^\s@<>,;.]+(?:\.[^\s@<>,;.]+)+")


class Unusable(BadInput):
    """Fields that cannot be used.

    Attributes
    ----------
    faults : mapping of str to str
        A sentence by name of field.
    """

    def __init__(self, faults: Mapping[str, str]) -> None:
        super().__init__(" ".join(faults.values()))
        self.faults = dict(faults)


class Overtaken(Conflict):
    """Somebody else has changed an entry since it was shown.

    Attributes
    ----------
    theirs : mapping of str to str
        How the fields read now.
    revision : int
        From which a change may be made now.
    """

    def __init__(self, theirs: Mapping[str, str], revision: int) -> None:
        super().__init__(say("records.page.overtaken", {}))
        self.theirs = dict(theirs)
        self.revision = revision


class Entered:
    """The fields of one form; each is asked for once, and `done` refuses all that cannot be used together.

    Parameters
    ----------
    typed : mapping of str to str
        As sent.
    """

    def __init__(self, typed: Mapping[str, str]) -> None:
        self.typed = typed
        self.faults: dict[str, str] = {}

    def fault(self, name: str, sentence_id: str, **values: float | str) -> None:
        """Note that a field cannot be used; its first fault is told."""
        self.faults.setdefault(name, say(f"records.fault.{sentence_id}", values))

    def text(self, name: str, *, most: int = LONGEST_NAME) -> str:
        """A text that may be empty."""
        found = self.typed.get(name, "").replace("\r\n", "\n").strip()
        if len(found) > most:
            self.fault(name, "too_long", count=str(len(found)), most=str(most))
        elif any(ord(sign) < 32 and sign not in "\n\t" for sign in found):
            self.fault(name, "sign")
        return found

    def needed(self, name: str, *, most: int = LONGEST_NAME) -> str:
        """A text that must not be empty."""
        found = self.text(name, most=most)
        if not found:
            self.fault(name, "empty")
        return found

    def mail(self, name: str) -> str:
        """A mail address, or nothing; whether it is anybody's is not known."""
        found = self.text(name)
        if found and not MAIL.fullmatch(found):
            self.fault(name, "mail", value=found[:60])
        return found

    def number(self, name: str, low: float, high: float) -> float:
        """A number without a unit, within what it can be."""
        found = self.text(name)
        try:
            value = float(found.replace(",", "."))
        except ValueError:
            self.fault(name, "number" if found else "empty")
            return low
        if not low <= value <= high:
            self.fault(name, "range", low=f"{low:g}", high=f"{high:g}", value=found[:40])
            return low
        return value

    def decimal(self, name: str, low: Decimal, high: Decimal) -> Decimal:
        """A number such as 12.50 or 12,50 as it was typed, with at most four digits behind the point."""
        found = self.text(name)
        if not re.fullmatch(r"[-−]?\d{1,12}(?:[.,]\d{1,4})?", found):
            self.fault(name, "number" if found else "empty")
            return low
        if re.fullmatch(r"\d{1,3},\d{3}", found):
            self.fault(name, "thousand", value=found, whole=found.replace(",", ""), point=found.replace(",", "."))
            return low
        value = Decimal(found.replace(",", ".").replace("−", "-"))
        if not low <= value <= high:
            self.fault(name, "range", low=f"{low:f}", high=f"{high:f}", value=found[:40])
            return low
        return value

    def minutes(self, name: str, most: float) -> float:
        """A span of time as people write it; a bare number is of minutes."""
        found = self.text(name)
        if found.replace(",", "").replace(".", "").isdigit():
            return self.number(name, 0, most)
        try:
            value = read_quantity(found, "minutes")
        except BadInput as error:
            self.faults.setdefault(name, str(error))
            return 0.0
        if not 0 <= value <= most:
            self.fault(name, "range", low="0", high=f"{most:g}", value=found[:40])
        return value

    def day(self, name: str) -> date:
        """A date."""
        try:
            return date.fromisoformat(self.text(name))
        except ValueError:
            self.fault(name, "day")
            return date.min

    def clock(self, name: str) -> datetime:
        """A local time with its date, without a zone."""
        try:
            found = datetime.fromisoformat(self.text(name))
        except ValueError:
            found = None
        if found is None or found.tzinfo is not None or not 1970 < found.year < 9000:
            self.fault(name, "moment")
            return datetime(1971, 1, 1)
        return found

    def moment(self, name: str) -> datetime:
        """A local time of this machine with its date."""
        return self.clock(name).astimezone()

    def one_of(self, name: str, known: Mapping[str, object] | frozenset[str]) -> str:
        """One of a few values."""
        found = self.text(name)
        if found not in known:
            self.fault(name, "choose")
        return found

    def revision(self) -> int:
        """The revision that the form showed."""
        found = self.typed.get("revision", "")
        if not (found.isascii() and found.isdigit() and len(found) < 10):
            raise BadInput(say("records.fault.revision", {}))
        return int(found)

    def own_id(self, number: int = 0) -> str | None:
        """The id that the form brought for what it makes, so that a form that is sent twice makes one entry.

        Parameters
        ----------
        number : int
            Of several entries that one form makes.
        """
        try:
            return str(UUID(int=UUID(self.typed.get("once", "")).int ^ number))
        except ValueError:
            return None

    def done(self) -> None:
        """Refuse the form if a field of it cannot be used.

        Raises
        ------
        Unusable
        """
        if self.faults:
            raise Unusable(self.faults)


def nothing_there() -> NotFound:
    """The one sentence for what is not there and for what belongs to somebody else."""
    return NotFound(say("web.error.404", {}))
