"""What the terminal shows of the record book."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from pathlib import Path

from slackwater.actions.book import Brought, Checked, Fault, Manifest
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
