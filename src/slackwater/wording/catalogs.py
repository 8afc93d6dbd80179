"""Translations as gettext catalogs: one ``.po`` file beside each English one, read and asked as gettext does it.

The context of a message is the id of its sentence, its id the English text: where the English has changed since it was
translated, or nobody has translated it yet, the English sentence is what is shown.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from gettext import GNUTranslations
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from slackwater.reader import Reader

TERMS = "terms"
"""File of the words of the trade's tables (work, clocks, animals, plants, goods) and of what the rooms of the program name."""


def home(language: str) -> Traversable:
    """Folder of a language."""
    return files("slackwater.wording").joinpath(language)


@dataclass(frozen=True)
class Translations:
    """All that one language has.

    Attributes
    ----------
    sentences : GNUTranslations
        By id and English text.
    terms : mapping of str to str
        By English text alone: a firm's own rows, which are in no catalog, stay as the firm wrote them.
    """

    sentences: GNUTranslations
    terms: Mapping[str, str]


@cache
def translations(language: str) -> Translations:
    """What is translated; marked as fuzzy is not."""
    from babel.messages.catalog import Catalog
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    whole: Any = Catalog(locale=language.replace("-", "_"))
    terms: dict[str, str] = {}
    for file in sorted(home(language).iterdir(), key=lambda item: item.name):
        if not file.name.endswith(".po"):
            continue
        for message in read_po(io.BytesIO(file.read_bytes())):
            if not message.id or not message.string or message.fuzzy:
                continue
            if file.name == f"{TERMS}.po":
                terms[str(message.id)] = str(message.string)
            else:
                whole.add(message.id, message.string, context=message.context)
    packed = io.BytesIO()
    write_mo(packed, whole)
    packed.seek(0)
    return Translations(GNUTranslations(packed), terms)


def translated(sentence_id: str, english: str, reader: Reader) -> str:
    """A sentence in the reader's language."""
    if reader.language == "en":
        return english
    return translations(reader.language).sentences.pgettext(sentence_id, english)


def counted(sentence_id: str, one: str, many: str, count: float, reader: Reader) -> str:
    """The form of a sentence for a count; a part of one counts as many."""
    whole = int(count) if count == int(count) else int(count) + 2
    if reader.language == "en":
        return one if whole == 1 else many
    return translations(reader.language).sentences.npgettext(sentence_id, one, many, whole)


_NUMBERS = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?!\.?\w)")


def term(text: str, reader: Reader) -> str:
    """A word of the trade in the reader's language, with its numbers if it has some; as it is where no table of ours has it."""
    if reader.language == "en":
        return text
    known = translations(reader.language).terms
    if text in known:
        return known[text]
    numbers = _NUMBERS.findall(text)
    if not numbers:
        return text
    places = iter(range(len(numbers)))
    found = known.get(_NUMBERS.sub(lambda _: f"{{{next(places)}}}", text))
    return text if found is None else found.format(*numbers)
