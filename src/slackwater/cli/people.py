"""The commands about who may sign in: ``slackwater people add|list|role|password|end-sessions|remove``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from slackwater.cli.name import called

if TYPE_CHECKING:
    from slackwater.actions.office import Desk

ROLES = ("owner", "crew")


def add_people(people: argparse.ArgumentParser) -> None:
    """Add the commands below ``people``."""
    commands = people.add_subparsers(dest="people_command", metavar="COMMAND", required=True)

    def add(name: str, summary: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=summary, description=summary)
        sub.set_defaults(run=_run)
        return sub

    def add_name(sub: argparse.ArgumentParser) -> None:
        sub.add_argument("sign_in", metavar="NAME", help="the name with which they sign in")

    def add_password(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--make-up",
            action="store_true",
            help="have a password made up and shown once; else it is asked for, or read from what is piped in",
        )

    new = add("add", "Let somebody sign in from now on; the first is an owner.")
    add_name(new)
    new.add_argument("--name", metavar="WORDS", help="what they are called on pages (default: NAME)")
    new.add_argument("--role", choices=ROLES, required=True, help="an owner sees everything, crew what the day needs")
    add_password(new)
    add("list", "List who may sign in.")
    role = add("role", "Give somebody another role; they sign in anew.")
    add_name(role)
    role.add_argument("role", choices=ROLES)
    password = add("password", "Set somebody's password; they are signed out, and every wait is over.")
    add_name(password)
    add_password(password)
    add_name(add("end-sessions", "Sign somebody out everywhere."))
    add_name(add("remove", "Close somebody's account for good; what they did stays in the trail."))


def _run(args: argparse.Namespace) -> int:
    import os
    from datetime import UTC, datetime

    from slackwater.actions.office import open_desk
    from slackwater.actions.settings import read_settings

    # Whoever adds the first owner may not have opened the office yet.
    with open_desk(read_settings(os.environ), clock=lambda: datetime.now(UTC), begin=True) as desk:
        _do(desk, args)
    return 0


def _do(desk: Desk, args: argparse.Namespace) -> None:
    from slackwater.actions import accounts

    match args.people_command:
        case "add":
            typed = {"name": args.name or args.sign_in, "sign_in": args.sign_in, "role": args.role}
            row, made = accounts.add(desk, {**typed, "new_password": _password(args)}, by="")
            print(f"{row.sign_in} may sign in now, as {args.role}.")
            _show(made)
        case "list":
            members = accounts.members(desk)
            for member in members:
                devices = f"signed in on {member.devices}" if member.devices else "not signed in"
                told = devices if member.row.has_password else f"no password: {called()} people password NAME"
                print(f"{member.row.sign_in:<24} {member.row.role.value:<6} {told}  {member.row.name}")
            if not members:
                print(f"Nobody yet. The first is an owner: {called()} people add NAME --role owner")
        case "role":
            accounts.set_role(desk, accounts.called(desk, args.sign_in).id, args.role, by="")
            print(f"{args.sign_in} is {args.role} now, and signs in anew.")
        case "password":
            row = accounts.called(desk, args.sign_in)
            made = accounts.set_password(desk, row.id, {"new_password": _password(args)}, by="")
            print(f"{args.sign_in} has a new password, and is signed out everywhere.")
            _show(made)
        case "end-sessions":
            count = accounts.end_sessions(desk, accounts.called(desk, args.sign_in).id, by="")
            print(f"{args.sign_in} was signed in on {count}, and is signed out everywhere.")
        case _:
            accounts.close(desk, accounts.called(desk, args.sign_in).id, by="")
            print(f"{args.sign_in} cannot sign in any more.")


def _show(made: str) -> None:
    if made:
        print(f"The password, shown this once: {made}")


def _password(args: argparse.Namespace) -> str:
    """The password to set; empty for one that is made up. It is no argument: those stand in the list of processes."""
    import sys
    from getpass import getpass

    from slackwater.errors import BadInput

    if args.make_up:
        return ""
    if not sys.stdin.isatty():
        typed = sys.stdin.readline().rstrip("\r\n")
    else:
        typed = getpass("Password (at least 12 signs): ")
        if typed != getpass("Once more: "):
            raise BadInput("The two are not the same; nothing was changed")
    if not typed:
        raise BadInput("No password was given; type one, or have one made up: --make-up")
    return typed
