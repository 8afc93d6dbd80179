"""The commands about the record book: ``slackwater book backup|restore|check|export|import|key``."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_book(book: argparse.ArgumentParser) -> None:
    """Add the commands below ``book``."""
    commands = book.add_subparsers(dest="book_command", metavar="COMMAND", required=True)

    def add(name: str, summary: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=summary, description=summary)
        sub.set_defaults(run=_run)
        return sub

    backup = add("backup", "Write the whole book to a new file, and read it again; others can go on working.")
    backup.add_argument("file", type=Path, help="the file to write, such as book-2027-02-10.zip; never overwritten")

    restore = add("restore", "Bring a backup into an empty book; what was erased since is erased again.")
    restore.add_argument("file", type=Path, help="the backup")
    restore.add_argument(
        "--erased",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="a list of erasures (erased.jsonl) from another machine; the one in the data folder is always used",
    )

    add("check", "Look the whole book through: every version, event, photo and link. Nothing is changed.")

    export = add("export", "Write everything to a zip of plain files that other programs can read, names in the open.")
    export.add_argument("file", type=Path, help="the file to write; never overwritten")

    bring = add("import", "Add what is in an export to the book; what is there already stays as it is.")
    bring.add_argument("file", type=Path, help="the export, or a backup")

    key = add("key", "Write a new key that seals names, contacts and door codes.")
    key.add_argument("file", type=Path, help="the file to write; never overwritten")


def _run(args: argparse.Namespace) -> int:
    import os
    from datetime import UTC, datetime

    from slackwater.actions import book
    from slackwater.actions.settings import read_settings
    from slackwater.cli import show_book

    settings, now = read_settings(os.environ), datetime.now(UTC)
    match args.book_command:
        case "backup":
            show_book.print_saved(book.back_up(settings, args.file, at=now), args.file, book.erasure_list(settings))
        case "export":
            show_book.print_saved(book.export(settings, args.file, at=now), args.file, book.erasure_list(settings))
        case "restore":
            show_book.print_restored(book.restore(settings, args.file, erased=tuple(args.erased)), args.file)
        case "import":
            show_book.print_imported(book.bring_in(settings, args.file), args.file)
        case "key":
            book.make_key(args.file)
            show_book.print_key(args.file)
        case _:
            checked = book.check(settings)
            show_book.print_checked(checked)
            return 1 if checked.faults else 0
    return 0
