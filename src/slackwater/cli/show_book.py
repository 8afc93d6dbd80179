"""What the terminal shows of the record book."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from slackwater.actions.book import Brought, Checked, Fault, Manifest
from slackwater.actions.clientele import ClientRow, ClientSeen
from slackwater.actions.erasing import Asked, Erased, Review, Text
from slackwater.cli.name import called
from slackwater.wording.render import say

WIDTH = 96


def _print(sentence_id: str, values: Mapping[str, float | str], first: str = "", rest: str = "") -> None:
    print(textwrap.fill(say(sentence_id, values), WIDTH, initial_indent=first, subsequent_indent=rest))


def _counts(rows: Mapping[str, int]) -> dict[str, float | str]:
    return {f"{name}s": str(rows[name]) for name in ("job", "version", "event", "photo")}


def print_saved(manifest: Manifest, file: Path, erasures: Path) -> None:
    """The answer of ``book backup`` and ``book export``."""
    _print("book.saved", {"file": str(file), "kind": manifest.kind.value, **_counts(manifest.rows)})
    if manifest.kind.value == "backup":
        _print("book.backup_next", {"list": str(erasures)})
    else:
        _print("book.export_open", {})


def print_restored(brought: Brought, file: Path) -> None:
    """The answer of ``book restore``."""
    _print("book.restored", {"rows": str(brought.added), "file": str(file)})
    _print_erased(brought)


def print_imported(brought: Brought, file: Path) -> None:
    """The answer of ``book import``."""
    _print("book.imported", {"rows": str(brought.added), "there": str(brought.there), "file": str(file)})
    _print_erased(brought)


def _print_erased(brought: Brought) -> None:
    if brought.erased_again:
        _print("book.erased_again", {"count": str(brought.erased_again)})
    if not brought.traces_removed:
        _print("book.traces_wait", {})


def print_checked(checked: Checked) -> None:
    """The answer of ``book check``."""
    if checked.faults:
        _print("book.unsound", {"count": str(len(checked.faults))})
        _print_faults(checked.faults)
        _print("book.restore_hint", {"command": f"{called()} book restore FILE"})
    else:
        _print("book.sound", _counts(checked.rows))
    if checked.notes:
        _print("book.worth_knowing", {})
        _print_faults(checked.notes)


def _print_faults(faults: Iterable[Fault]) -> None:
    for fault in faults:
        _print(f"book.fault.{fault.id}", fault.values, "  - ", "    ")


def print_key(file: Path) -> None:
    """The answer of ``book key``."""
    _print("book.key_written", {"file": str(file)})


def print_clients(clients: Iterable[tuple[ClientRow, str]]) -> None:
    """The answer of ``book erase`` alone: whom there is, the newest first."""
    lines = [f"{row.id}  {name or say('records.client.erased', {})}" for row, name in clients]
    if not lines:
        _print("records.client.none", {})
        return
    print("\n".join(lines))
    _print("book.erase_next", {"command": f"{called()} book erase client ID"})


def print_asked(asked: Asked) -> None:
    """What goes and what stays, before anything is erased."""
    kind = asked.target.value
    print(f"{say(f'records.erase.ask_{kind}', {})} {asked.name}".rstrip())
    if asked.gone:
        _print("records.erase.gone", {})
        return
    _print_two("goes", f"goes_{kind}")
    _print_two("stays", f"stays_{kind}")
    _print("records.erase.reach", {})


def print_rewording(text: Text, becomes: str) -> None:
    """What goes of a text, and what stands there then."""
    kind = "made" if text.made else "text"
    _print_two("goes", f"goes_{kind}")
    print(textwrap.indent(text.start, "    "))
    _print_two("stands", f"stands_{kind}")
    if not text.made:
        print(textwrap.indent(becomes, "    "))


def _print_two(first: str, second: str) -> None:
    words = f"{say(f'records.erase.{first}', {})} {say(f'records.erase.{second}', {})}"
    print(textwrap.fill(words, WIDTH, subsequent_indent="    "))


def print_erased(erased: Erased | None) -> None:
    """It is gone; None: nothing was erased so far."""
    if erased is None:
        _print("book.erase_sure", {})
    else:
        _print("records.erase.done" if erased.traces_removed else "book.traces_wait", {})


def print_left(seen: ClientSeen, review: Review) -> None:
    """What may still tell of a client: each with the words that erase it."""
    people = [(spoken.row.id, spoken.person.name) for spoken in seen.people if spoken.person is not None]
    photos = [(row.id, row.caption or say("survey.page.photo_untold", {})) for row in review.photos]
    documents = [(row.id, row.title) for row in review.documents]
    print()
    _print("book.erase_left", {})
    _print_left("person", people, "book.erase_no_people")
    _print_left("photo", photos, "records.erase.no_photos")
    _print_left("document", documents, "records.erase.no_documents")
    texts = [
        (f'"{text.told}" --client {seen.row.id}', f"{say(f'records.erase.in_{text.table}', {})}: {_short(text.text)}")
        for text in review.texts
    ]
    _print_left("text", texts, "records.erase.no_texts")
    if texts:
        _print("book.erase_texts", {})


def _print_left(kind: str, rows: Sequence[tuple[str, str]], none: str) -> None:
    if not rows:
        _print(none, {})
    for record_id, name in rows:
        print(f"  {called()} book erase {kind} {record_id}\n      {name}")


def _short(text: str) -> str:
    return textwrap.shorten(text, 80, placeholder=" ...")
