"""The command line: parse, call one action, show. No formulas stand here, and nothing heavy is imported for --help."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from slackwater import __version__
from slackwater.cli.book import add_book
from slackwater.cli.name import called
from slackwater.cli.people import add_people
from slackwater.errors import SlackwaterError

if TYPE_CHECKING:
    from slackwater.actions.settings import Settings

Command = Callable[[argparse.Namespace], int]


def _parser() -> argparse.ArgumentParser:
    name = called()
    parser = argparse.ArgumentParser(
        prog=name,
        description="Plan the one-day rebuild of a planted display aquarium from one job file.",
        epilog=f"Begin with: {name} new my-job.toml, then {name} check my-job.toml, then {name} plan my-job.toml",
    )
    parser.add_argument("--version", action="version", version=f"slackwater {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def add(name: str, run: Command, summary: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=summary, description=summary)
        sub.set_defaults(run=run)
        return sub

    def add_own_rows(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--catalog",
            type=Path,
            metavar="FOLDER",
            help="your own catalog rows, which override or add to those shipped",
        )

    def add_units(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--units", choices=("metric", "us"), default="metric", help="units of the output (default: metric)"
        )

    def add_from_book(sub: argparse.ArgumentParser) -> None:
        sub.add_argument(
            "--book",
            action="store_true",
            help="with what the record book knows: prices that hold today, and what finished jobs took",
        )

    new = add("new", _new, "Write a commented job file to start from.")
    new.add_argument("file", type=Path, help="the file to write; an existing file is never overwritten")

    check = add("check", _check, "List missing facts, contradictions and facts grown old.")
    check.add_argument("job", type=Path, help="the job file")
    add_own_rows(check)
    add_units(check)

    plan = add("plan", _plan, "Compute the plan and write its papers.")
    plan.add_argument("job", type=Path, help="the job file")
    plan.add_argument("--out", type=Path, metavar="DIR", help="folder for the papers (default: NAME-plan here)")
    add_from_book(plan)
    plan.add_argument(
        "--language", metavar="TAG", help="of the papers, whatever the job says: en, de (default: as the job says)"
    )
    add_own_rows(plan)
    add_units(plan)

    layout = add(
        "layout", _layout, "Show where stone and wood stand, or propose layouts: litres, drawings, a scene file."
    )
    layout.add_argument("job", type=Path, help="the job file")
    layout.add_argument(
        "--propose", type=_proposals, metavar="N", help="propose up to N layouts that differ, whatever the job has"
    )
    layout.add_argument("--out", type=Path, metavar="DIR", help="write drawings, sheet and scene files to this folder")
    add_own_rows(layout)
    add_units(layout)

    light = add("light", _light, "Show the light on the bed: by place, the weeks ahead, which plant finds its light.")
    light.add_argument("job", type=Path, help="the job file")
    light.add_argument("--preview", action="store_true", help="in a second, and evened out; for trying lamps")
    light.add_argument("--out", type=Path, metavar="DIR", help="write the picture and the figures to this folder")
    add_own_rows(light)
    add_units(light)

    planting = add(
        "planting",
        _planting,
        "Show which plant goes where and how many, or a proposal: zones, buckets, a sheet for the wall.",
    )
    planting.add_argument("job", type=Path, help="the job file")
    planting.add_argument("--pdf", type=Path, metavar="FILE", help="write the planting sheet to this file too")
    add_own_rows(planting)
    add_units(planting)

    picture = add(
        "picture", _picture, "Draw how the tank will look: from each public side and obliquely, at three ages."
    )
    picture.add_argument("job", type=Path, help="the job file")
    picture.add_argument(
        "--side",
        choices=("front", "rear", "left", "right", "oblique"),
        help="from there only (default: all that the public sees, and obliquely)",
    )
    picture.add_argument("--age", choices=("planted", "week6", "month3"), help="at that age only (default: all three)")
    picture.add_argument(
        "--size",
        type=_size,
        default=(640, 360),
        metavar="WxH",
        help="of each picture in points, 64x36 to 3840x2160 (default: 640x360)",
    )
    picture.add_argument(
        "--seconds", type=_seconds, metavar="N", help="the longest that one picture may take; then it is left grainier"
    )
    picture.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for the pictures (default: NAME-pictures here)"
    )
    add_own_rows(picture)
    add_units(picture)

    water = add("water", _water, "Show the water by itself: litres, a card for each barrel, what to read.")
    water.add_argument("job", type=Path, help="the job file")
    water.add_argument("--pdf", type=Path, metavar="FILE", help="write the water page to this file too")
    add_own_rows(water)
    add_units(water)

    living = add(
        "living",
        _living,
        "Show everything alive: how long each box and the filter hold, whether animals can go back, which water changes keep the limits.",
    )
    living.add_argument("job", type=Path, help="the job file")
    living.add_argument("--pdf", type=Path, metavar="FILE", help="write the living page to this file too")
    living.add_argument(
        "--events", type=Path, metavar="FILE", help="what has happened since, one event a line (JSON lines)"
    )
    add_own_rows(living)
    add_units(living)

    day = add(
        "day",
        _day,
        "Show the day as a table; with a time or events, plan the rest of it again and say what to do first.",
    )
    day.add_argument("job", type=Path, help="the job file")
    day.add_argument(
        "--at", metavar="TIME", help='local time now, such as 12:40 or "2027-02-10 12:40" (default: the last event)'
    )
    day.add_argument(
        "--events", type=Path, metavar="FILE", help="what has happened so far, one event a line (JSON lines)"
    )
    add_from_book(day)
    add_own_rows(day)
    add_units(day)

    learned = add("learned", _learned, "Show what finished jobs took against their plans: minutes, goods, price.")
    learned.add_argument(
        "--jobs", action="store_true", help="list every job with what was not learned from it, and why"
    )

    book = commands.add_parser(
        "book",
        help="Back up, restore, check, export or import the record book; erase from it.",
        description="The record book as a whole.",
    )
    add_book(book)

    people = commands.add_parser(
        "people",
        help="Say who may sign in to the office, and as what.",
        description="Who may sign in to the office. Without anybody it is open to this machine only, to whoever sits at it.",
    )
    add_people(people)

    schema = add("schema", _schema, "Print the JSON schema of the job file, of plan.json or of an event.")
    schema.add_argument("what", nargs="?", choices=("job", "plan", "event"), default="job")

    serve = add(
        "serve",
        _serve,
        "Open the office in your browser: jobs, plans, calendar. For this machine, unless a host is named.",
    )
    serve.add_argument("--demo", action="store_true", help="put the three example jobs into the book")
    serve.add_argument(
        "--port", type=_port, default=8765, metavar="N", help="where it listens (default: 8765; 0 takes a free one)"
    )

    serve.add_argument(
        "--long-work",
        choices=("here", "workers"),
        help="who makes plans: this machine, or workers that share the firm's database (default: SLACKWATER_LONG_WORK, or here)",
    )
    serve.add_argument(
        "--host",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="address of this machine at which others may reach it, or 0.0.0.0 for all; needs an owner and a certificate",
    )
    serve.add_argument("--certificate", type=Path, metavar="FILE", help="certificate for TLS (PEM)")
    serve.add_argument("--key", type=Path, metavar="FILE", help="key of the certificate (PEM, without a password)")

    worker = add("worker", _worker, "Make plans for the offices of a firm on this machine; needs only their database.")
    worker.add_argument(
        "--at-once",
        type=_at_once,
        default=2,
        metavar="N",
        help="how many plans at once; each takes one core (default: 2)",
    )

    verify = add("verify", _verify, "Recompute published reference values and show the differences.")
    verify.add_argument("csv", type=Path, nargs="*", help="tables to check (default: those that come with the program)")
    verify.add_argument("--strict", action="store_true", help="fail also on rows that no function covers yet")
    return parser


def _port(text: str) -> int:
    if not (text.isdecimal() and int(text) <= 65_535):
        raise argparse.ArgumentTypeError(f"{text} is no port: a whole number from 0 to 65535")
    return int(text)


def _size(text: str) -> tuple[int, int]:
    parts = text.lower().split("x")
    if len(parts) == 2 and all(part.isascii() and part.isdecimal() for part in parts):
        width, height = int(parts[0]), int(parts[1])
        if 64 <= width <= 3840 and 36 <= height <= 2160 and 0.25 <= width / height <= 4:
            return width, height
    raise argparse.ArgumentTypeError(
        f"{text} cannot be: width x height such as 1920x1080, from 64x36 to 3840x2160, neither side over four times the other"
    )


def _seconds(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= 86_400):
        raise argparse.ArgumentTypeError(f"{text} cannot be: a whole number of seconds from 1 to 86400")
    return int(text)


def _proposals(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= 12):
        raise argparse.ArgumentTypeError(f"{text} cannot be: a whole number from 1 to 12")
    return int(text)


def _at_once(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= 64):
        raise argparse.ArgumentTypeError(f"{text} cannot be: a whole number from 1 to 64")
    return int(text)


def _new(args: argparse.Namespace) -> int:
    from slackwater.actions.new_job import new_job

    new_job(args.file)
    print(f"Wrote {args.file}. Fill in what you know, then: {called()} check {args.file}")
    return 0


def _check(args: argparse.Namespace) -> int:
    from slackwater.actions.check_job import check_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show import print_check

    with Progress(sys.stderr) as progress:
        checked = check_job(args.job, catalog_folder=args.catalog, on_progress=progress)
    print_check(checked, args.job, args.units)
    return 0


def _book_of(args: argparse.Namespace) -> Settings | None:
    """Where the book lies, if it was asked for."""
    import os

    from slackwater.actions.settings import read_settings

    return read_settings(os.environ) if args.book else None


def _layouts() -> Path:
    """Where layouts that were found before are kept."""
    import os

    from slackwater.actions.settings import read_settings

    return read_settings(os.environ).layouts


def _learned(args: argparse.Namespace) -> int:
    import os

    from slackwater.actions.learned import learned_of
    from slackwater.actions.office import open_desk
    from slackwater.actions.settings import read_settings
    from slackwater.cli.show_learned import print_learned

    with open_desk(read_settings(os.environ), clock=lambda: datetime.now(UTC)) as desk:
        print_learned(learned_of(desk), with_jobs=args.jobs)
    return 0


def _plan(args: argparse.Namespace) -> int:
    from slackwater.actions.plan_job import plan_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show import print_plan

    with Progress(sys.stderr) as progress:
        written = plan_job(
            args.job,
            args.out,
            units=args.units,
            language=args.language,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
            book=_book_of(args),
            at=datetime.now(UTC),
        )
    print_plan(written, args.units)
    return 0


def _layout(args: argparse.Namespace) -> int:
    from slackwater.actions.layout_job import layout_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show_layout import print_layouts

    with Progress(sys.stderr) as progress:
        found = layout_job(
            args.job,
            count=args.propose,
            out=args.out,
            units=args.units,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
        )
    print_layouts(found, args.units)
    return 0


def _light(args: argparse.Namespace) -> int:
    from slackwater.actions.light_job import light_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show_light import print_light

    with Progress(sys.stderr) as progress:
        found = light_job(
            args.job,
            quick=args.preview,
            out=args.out,
            units=args.units,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
        )
    print_light(found, args.units)
    return 0


def _planting(args: argparse.Namespace) -> int:
    from slackwater.actions.planting_job import planting_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show_planting import print_planting

    with Progress(sys.stderr) as progress:
        found = planting_job(
            args.job, args.pdf, units=args.units, catalog_folder=args.catalog, layouts=_layouts(), on_progress=progress
        )
    print_planting(found, args.units)
    return 0


def _picture(args: argparse.Namespace) -> int:
    from slackwater.actions.picturing import Wish, picture_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show_picture import print_pictures

    width, height = args.size
    wish = Wish(
        sides=(args.side,) if args.side else (),
        ages=(args.age,) if args.age else ("planted", "week6", "month3"),
        width=width,
        height=height,
        seconds=args.seconds,
    )
    with Progress(sys.stderr) as progress:
        found = picture_job(
            args.job,
            wish,
            out=args.out,
            units=args.units,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
        )
    print_pictures(found)
    return 0


def _water(args: argparse.Namespace) -> int:
    from slackwater.actions.water_job import water_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show import print_water

    with Progress(sys.stderr) as progress:
        found = water_job(
            args.job, args.pdf, units=args.units, catalog_folder=args.catalog, layouts=_layouts(), on_progress=progress
        )
    print_water(found, args.units)
    return 0


def _living(args: argparse.Namespace) -> int:
    from slackwater.actions.living_job import living_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show import print_living

    with Progress(sys.stderr) as progress:
        found = living_job(
            args.job,
            args.pdf,
            events=args.events,
            units=args.units,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
        )
    print_living(found, args.units)
    return 0


def _day(args: argparse.Namespace) -> int:
    from slackwater.actions.day_job import day_job
    from slackwater.cli.progress import Progress
    from slackwater.cli.show import print_day

    with Progress(sys.stderr) as progress:
        found = day_job(
            args.job,
            at=args.at,
            events=args.events,
            catalog_folder=args.catalog,
            layouts=_layouts(),
            on_progress=progress,
            book=_book_of(args),
            now=datetime.now(UTC),
        )
    print_day(found, args.units)
    return 0


def _schema(args: argparse.Namespace) -> int:
    from slackwater.actions.schemas import schema_text

    print(schema_text(args.what))
    return 0


def _serve(args: argparse.Namespace) -> int:
    import os
    from dataclasses import replace

    from slackwater.actions.demo import lay_in_demo
    from slackwater.actions.office import open_office
    from slackwater.actions.settings import LongWork, read_settings
    from slackwater.web.serve import door_of, serve

    def opened(address: str) -> None:
        print(f"The office is open at {address} (Ctrl+C closes it).", flush=True)
        if settings.long_work is LongWork.WORKERS:
            print("Plans are left to workers: start one with `slackwater worker`, on any machine.", flush=True)

    settings = read_settings(os.environ)
    if args.long_work is not None:
        settings = replace(settings, long_work=LongWork(args.long_work))
    with open_office(settings, clock=lambda: datetime.now(UTC)) as office:
        if args.demo:
            lay_in_demo(office)
        door = door_of(
            office, host=args.host, port=args.port, certificate=args.certificate, key=args.key, called=called()
        )
        serve(office, door, tell=opened)
    return 0


def _worker(args: argparse.Namespace) -> int:
    import os
    import signal
    from datetime import UTC, datetime

    from slackwater.actions.settings import read_settings
    from slackwater.actions.working import work

    def begun(leave: Callable[[], None]) -> None:
        for asked in (signal.SIGINT, signal.SIGTERM):
            signal.signal(asked, lambda *_: leave())

    def tell(what: str) -> None:
        print(f"{datetime.now():%H:%M:%S} {what}", flush=True)

    work(read_settings(os.environ), clock=lambda: datetime.now(UTC), at_once=args.at_once, tell=tell, begun=begun)
    return 0


def _verify(args: argparse.Namespace) -> int:
    from slackwater.actions.verify import verify
    from slackwater.cli.show import print_verify

    report = verify(args.csv or None, strict=args.strict)
    print_verify(report)
    return 0 if report.passed else 1


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; a user's mistake ends with exit code 2 and one plain line for each fault."""
    args = _parser().parse_args(argv)
    try:
        run: Command = args.run
        return run(args)
    except SlackwaterError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("Stopped. Nothing was written.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        return 0


if __name__ == "__main__":
    raise SystemExit(main())
