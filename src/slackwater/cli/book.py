"""The commands about the record book: ``slackwater book backup|restore|check|erase|export|import|key``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from slackwater.cli.name import called
from slackwater.errors import BadInput, NotFound

if TYPE_CHECKING:
    from slackwater.actions.office import Desk

KINDS = ("client", "person", "photo", "document", "text")


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

    erase = add(
        "erase",
        "Erase a client, a person, a photo, a document or a text for good, in two steps; alone, list the clients.",
    )
    erase.add_argument("kind", nargs="?", choices=KINDS, help="what to erase; left out, the clients are listed")
    erase.add_argument("id", nargs="?", help="its id, or the place of a text, as the list tells it")
    erase.add_argument("--client", default="", metavar="ID", help="of a text: whose it is")
    erase.add_argument(
        "--becomes",
        type=Path,
        metavar="FILE",
        help="of a text: how it should read (not asked for where it is taken out)",
    )
    erase.add_argument(
        "--sure", action="store_true", help="erase it; without this it is only shown what goes and stays"
    )

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
        case "erase":
            return _erase(args)
        case _:
            checked = book.check(settings)
            show_book.print_checked(checked)
            return 1 if checked.faults else 0
    return 0


def _erase(args: argparse.Namespace) -> int:
    import os
    from datetime import UTC, datetime

    from slackwater.actions import clientele
    from slackwater.actions.office import open_desk
    from slackwater.actions.settings import read_settings
    from slackwater.cli import show_book

    with open_desk(read_settings(os.environ), clock=lambda: datetime.now(UTC)) as desk:
        if args.kind is None:
            show_book.print_clients(clientele.every_client(desk))
        elif args.id is None:
            raise BadInput(
                f"book erase {args.kind}: its id is missing; it stands in the list of: {called()} book erase"
            )
        else:
            try:
                _erase_one(desk, args)
            except NotFound as error:
                raise NotFound(
                    f"{args.id}: the book has no such {args.kind}; the list of: {called()} book erase tells what there is"
                ) from error
    return 0


def _erase_one(desk: Desk, args: argparse.Namespace) -> None:
    from slackwater.actions import clientele, erasing
    from slackwater.cli import show_book

    if args.kind == "text":
        text = erasing.text_at(desk, args.client, args.id)
        becomes = erasing.becoming(text, args.becomes)
        show_book.print_rewording(text, becomes)
        show_book.print_erased(erasing.reword(desk, args.client, args.id, becomes) if args.sure else None)
        client_id: str | None = args.client
    else:
        asked = erasing.asked(desk, args.kind, args.id)
        show_book.print_asked(asked)
        if not asked.gone:
            show_book.print_erased(erasing.erase(desk, asked) if args.sure else None)
        client_id = asked.client_id
    if client_id is not None:
        show_book.print_left(clientele.see_client(desk, client_id), erasing.review_of(desk, client_id))
