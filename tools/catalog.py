"""Bring the gettext catalogs of a language up to what the program says: ``python tools/catalog.py de`` or ``... de --check``.

What is translated stays. What has no sentence any more goes. Where the English has changed, the translation stays and is
marked fuzzy until somebody has looked at it and taken the mark away.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from slackwater.wording.catalogs import TERMS
from slackwater.wording.render import sentence_files

SOURCE = Path(__file__).parents[1] / "src" / "slackwater"
NOT_ON_PAPER = frozenset({"book", "web", "records", "people", "work", "learned"})
"""English files that only the pages of the program read, in English."""
NOT_ON_PAPER_EITHER = (
    *("figure_name.", "figure_thing.", "figure_input", "price_line.", "price_why.", "price_risk.", "price_page."),
    *("offer_line.", "offer_change.", "visit_price.", "move.", "move_name."),
    *("invoice.page.", "invoice.fault.", "invoice.category.", "records."),
    # Of a day that is planned again while it runs.
    *(f"finding.day.{name}" for name in ("log_", "missing_", "replan_", "few_hands", "other_filters", "interrupted")),
    *(f"finding.day.{name}" for name in ("break_moved", "holds_given_up", "boxes_run_on")),
)
"""Beginnings of ids of sentences that only screens and terminals show."""
FIGURES_ON_PAPER = (
    *("figure.gantt.description", "figure.water_flow.description"),
    *("figure.layout_", "figure.light_", "figure.planting_"),
)
"""Beginnings of ids of what papers say of figures; the rest stands on screens only."""
LITRES_ON_PAPER = tuple(
    f"figure_name.layout.{name}" for name in ("displaced", "buried", "soil_net", "free_water", "above_water")
)
SHOWN_COLUMNS = {
    "activities": ("activity", "activity_if_held", "can_go_wrong", "record"),
    "clocks": ("what", "state", "needs"),
    "consumables": ("item", "unit"),
    "containers": ("container",),
    "kit": ("item", "category", "check_before_use"),
    "materials": ("material", "gh_effect", "kh_effect"),
    "plants": ("common_name",),
    "regulated_species": ("common_name", "list_scope", "action"),
    "salts": ("id", "substance"),
    "species": ("common_name", "holding_note"),
}
"""Columns of the tables of the trade that stand on a paper."""


@dataclass(frozen=True)
class Message:
    """What is to be translated: id of the sentence, English text, and its plural where it has one."""

    context: str
    text: str
    plural: str = ""

    @property
    def id(self) -> str | tuple[str, str]:
        """As gettext knows it."""
        return (self.text, self.plural) if self.plural else self.text


def messages() -> dict[str, list[Message]]:
    """All that papers say, by the file of the catalog."""
    found = {name: list(_sentences(name)) for name in sentence_files() if name not in NOT_ON_PAPER}
    found = {name: group for name, group in found.items() if group}
    return {**found, TERMS: list(_terms())}


def _sentences(name: str) -> Iterator[Message]:
    group = sentence_files()[name]
    for sentence_id, text in group.items():
        if name == TERMS or not _on_paper(sentence_id):
            continue
        if isinstance(text, list):
            # Of a question, papers say what it is called, not how to answer it.
            shown = [0, *([2] if len(text) > 2 else [])] if sentence_id.startswith("survey.") else range(len(text))
            yield from (Message(f"{sentence_id}[{number}]", text[number]) for number in shown if text[number])
        elif sentence_id.startswith("count.") and sentence_id.endswith("_one"):
            what = sentence_id.removesuffix("_one")
            yield Message(what, text, str(group[f"{what}_many"]))
        elif text and not (sentence_id.startswith("count.") and sentence_id.endswith("_many")):
            yield Message(sentence_id, text)


def _on_paper(sentence_id: str) -> bool:
    """Whether a paper may say it; of the survey it says only what a fact is called."""
    if sentence_id.startswith("survey."):
        return sentence_id.startswith(("survey.part.", "survey.group.", "survey.ask."))
    if sentence_id.startswith("figure."):
        return sentence_id.startswith(FIGURES_ON_PAPER)
    return sentence_id.startswith(LITRES_ON_PAPER) or not sentence_id.startswith(NOT_ON_PAPER_EITHER)


def _terms() -> Iterator[Message]:
    """Words of the tables and of the rooms, each once: the same word is translated alike wherever it stands."""
    seen = set()
    for context, text in (*_of_tables(), *((name, str(text)) for name, text in sentence_files()[TERMS].items())):
        if text and text not in seen and re.search(r"[^\W\d_]{2}", text):
            seen.add(text)
            yield Message(context, text)


def _of_tables() -> Iterator[tuple[str, str]]:
    for table, columns in SHOWN_COLUMNS.items():
        file = SOURCE / "job" / "catalog_data" / f"{table}.csv"
        with file.open(encoding="utf-8", newline="") as rows:
            for number, row in enumerate(csv.DictReader(rows), start=1):
                for column in columns:
                    name = row.get("id") or f"{row.get('clock')}-{number}"
                    text = row[column]
                    if column == "id":
                        text = text.replace("_", " ").replace("epsom", "Epsom")
                    elif column == "state":
                        text = text.replace("_", ", ")
                    yield f"{table}.{name}.{column}", text


def updated(name: str, language: str, known: Catalog, wanted: list[Message]) -> str:
    """The text of a catalog with all messages that are wanted, and what is known of their translations."""
    by_context: dict[str | None, Any] = {message.context: message for message in known if message.id}
    fresh = Catalog(locale=language.replace("-", "_"))
    for message in wanted:
        before = by_context.get(message.context)
        empty = ("",) * fresh.num_plurals if message.plural else ""
        string = before.string if before is not None and before.string else empty
        flags = set() if before is None else set(before.flags) - {"python-format", "python-brace-format"}
        if before is not None and before.id != message.id and before.string:
            flags.add("fuzzy")
        fresh.add(message.id, string, context=message.context, flags=flags)
    body = io.BytesIO()
    write_po(body, fresh, width=0, omit_header=True, no_location=True)
    head = (
        f'# What the papers of Slackwater say: {name}, in the language "{language}".\n'
        'msgid ""\nmsgstr ""\n'
        f'"Language: {language}\\n"\n"MIME-Version: 1.0\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n'
        f'"Content-Transfer-Encoding: 8bit\\n"\n"Plural-Forms: {fresh.plural_forms}\\n"\n\n'
    )
    return head + body.getvalue().decode()


def main(arguments: list[str]) -> int:
    """Write the catalogs of a language, or only say which are not as they should be."""
    check = "--check" in arguments
    languages = [argument for argument in arguments if not argument.startswith("-")]
    stale = []
    for language in languages:
        folder = SOURCE / "wording" / language
        folder.mkdir(exist_ok=True)
        for name, wanted in messages().items():
            file = folder / f"{name}.po"
            before = file.read_text(encoding="utf-8") if file.exists() else ""
            text = updated(name, language, read_po(io.StringIO(before)), wanted)
            if text != before:
                stale.append(str(file.relative_to(SOURCE)))
                if not check:
                    file.write_text(text, encoding="utf-8", newline="\n")
    for name in stale:
        print(f"{'not up to date' if check else 'written'}: {name}")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
