"""Pictures of a job as it will look: drawn once for each scene, kept, and handed out as files with a caption."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from slackwater import __version__
from slackwater.actions.files import read_text
from slackwater.actions.laying import beside, lay_job
from slackwater.actions.readers import reader_of_papers
from slackwater.errors import BadInput, CannotRun, Conflict
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.load import read_job
from slackwater.job.model import Job
from slackwater.paper.picture_page import NO_PICTURES, OfferPictures, Shot
from slackwater.picture.scene import AGES, Age, Side
from slackwater.reader import Reader, UnitSystem
from slackwater.wording.render import say

if TYPE_CHECKING:
    from slackwater.layout.scene import Layout

CAPTION = "caption.txt"
"""A folder that holds this file is one of ours and may be replaced."""
SIZE = (640, 360)
SETUP = "./go setup picture"
MOST_KEPT = 600
"""Pictures; those made longest ago go first."""
PAR_ASSUMED_UMOL = 60.0
"""Light on the soil where nobody read it; common practice for a planted tank, no source."""


@dataclass(frozen=True)
class Wish:
    """What pictures are asked for.

    Attributes
    ----------
    sides : tuple of Side
        Empty: all that the public sees, and the oblique one.
    ages : tuple of Age
    width, height : int
        Points.
    seconds : float or None
        The longest that one picture may take; None: as long as it takes.
    """

    sides: tuple[Side, ...] = ()
    ages: tuple[Age, ...] = AGES
    width: int = SIZE[0]
    height: int = SIZE[1]
    seconds: float | None = None


@dataclass(frozen=True)
class OnePicture:
    """One picture of a job."""

    side: Side
    age: Age
    png: bytes
    whole: bool
    """Whether it was drawn to the end."""

    @property
    def file(self) -> str:
        """What it is called."""
        return f"{self.side}-{self.age}.png"


@dataclass(frozen=True)
class Pictures:
    """The pictures of a job and what is said under them."""

    job_name: str
    pictures: tuple[OnePicture, ...]
    caption: tuple[str, ...]
    folder: Path | None = None


def picture_job(
    path: Path,
    wish: Wish,
    *,
    out: Path | None,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> Pictures:
    """Draw the pictures of a job file and write them, with a caption, into a folder; whole or not at all.

    Parameters
    ----------
    path : Path
        The job file.
    out : Path or None
        By default ``<name>-pictures`` in the working folder.
    layouts : Path
        Folder of layouts that were found before; pictures are kept beside it.

    Raises
    ------
    BadInput
        If the job cannot be read, has no layout, or is not seen from a side that was asked for.
    CannotRun
        Where what draws is not installed, or the folder cannot be written to.
    Conflict
        If the folder is there and holds other things.
    """
    refuse_without_renderer()
    job = read_job(read_text(path), file_name=str(path))
    folder = Path(f"{path.stem}-pictures") if out is None else out
    if folder.exists() and not (folder.is_dir() and ((folder / CAPTION).exists() or not any(folder.iterdir()))):
        raise Conflict(f"{folder} is there and holds other things; name another folder with --out")
    catalog = load_catalog(catalog_folder)
    laid = lay_job(job, catalog, files=beside(job, path.parent), cache=layouts, on_progress=on_progress)
    if laid.scene is None:
        raise BadInput(f"{path}: a picture needs a layout, and there is none: see `slackwater layout {path}`")
    reader = reader_of_papers(job, units)
    found = pictures_of(
        job, catalog, laid.scene, wish, cache=pictures_folder(layouts), reader=reader, on_progress=on_progress
    )
    _write(found, folder)
    return Pictures(found.job_name, found.pictures, found.caption, folder)


def pictures_folder(layouts: Path) -> Path:
    """Where pictures are kept: beside the layouts that were found before."""
    return layouts.parent / "pictures"


def refuse_without_renderer() -> None:
    """Say what to install.

    Raises
    ------
    CannotRun
        Where pictures cannot be drawn on this machine.
    """
    if not can_picture():
        raise CannotRun(f"Pictures need a renderer that is not installed: run `{SETUP}` once, then ask again.")


def can_picture() -> bool:
    """Whether pictures can be drawn on this machine."""
    from slackwater.picture.mitsuba import is_installed

    return is_installed()


def pictures_of(
    job: Job,
    catalog: Catalog,
    scene: bytes,
    wish: Wish,
    *,
    cache: Path,
    reader: Reader,
    on_progress: Callable[[str], None] = lambda _: None,
    only_kept: bool = False,
) -> Pictures:
    """The pictures of a laid job: those kept from before, the others drawn now.

    Parameters
    ----------
    scene : bytes
        Its layout as a scene file.
    cache : Path
        Folder of what was drawn before; it may be emptied at any time, and one that cannot be written is no error.
    only_kept : bool
        Draw nothing: hand out what there is.

    Raises
    ------
    BadInput
        If a side was asked for that nobody sees.
    CannotRun
        Where something has to be drawn and the renderer is not installed.
    """
    from slackwater.layout.compose import seed_of
    from slackwater.layout.gltf import from_glb
    from slackwater.picture.camera import camera_of, sides_of
    from slackwater.picture.compose import scene_of, still_of
    from slackwater.picture.places import kinds_of

    layout = from_glb(scene)
    sides = wish.sides or sides_of(layout.glass)
    cameras = {side: camera_of(layout.glass, side, width_over_height=wish.width / wish.height) for side in sides}
    kinds, seed = kinds_of(job, catalog), seed_of(job)
    par, par_told = light_of(job, reader)
    base = _key(scene, kinds, catalog, layout, par, seed)
    keys = {
        (age, side): hashlib.sha256(f"{base} {age} {cameras[side]} {wish.width} {wish.height}".encode()).hexdigest()
        for age in wish.ages
        for side in sides
    }
    made = {which: png for which, key in keys.items() if (png := _kept(cache, key)) is not None}
    caption_file = cache / f"{base}.txt"
    unfinished: set[tuple[Age, Side]] = set()
    still = None
    if len(made) < len(keys) and not only_kept:
        from slackwater.picture.apart import draw_apart

        on_progress(say("picture.doing.laying", {}, reader))
        still = still_of(layout, kinds, catalog, seed=seed)
        left = {kind.plant: kind.portions - len(still.spots[kind.plant]) for kind in kinds}
        _keep(caption_file, "".join(f"{plant} {count}\n" for plant, count in left.items() if count > 0).encode())
        for age in wish.ages:
            todo = [side for side in sides if (age, side) not in made]
            if not todo:
                continue
            on_progress(say("picture.doing.ready", {"age": _age(age, reader)}, reader))

            def told(number: int, done: int, of: int, todo: Sequence[Side] = todo, age: Age = age) -> bool:
                values: dict[str, float | str] = {
                    "side": _side(todo[number], reader),
                    "age": _age(age, reader),
                    "number": len(made) + 1,
                    "of": len(keys),
                    "share": round(100 * done / of),
                }
                on_progress(say("picture.doing.drawing", values, reader))
                return True

            drawing = draw_apart(
                scene_of(still, kinds, age, par_umol_m2_s=par, seed=seed),
                [cameras[side] for side in todo],
                width=wish.width,
                height=wish.height,
                seed=seed % 2**20,
                seconds=wish.seconds,
                on_pass=told,
            )
            for side, drawn in zip(todo, drawing, strict=True):
                made[(age, side)] = drawn.png()
                if drawn.whole:
                    _keep(cache / f"{keys[(age, side)]}.png", made[(age, side)])
                else:
                    unfinished.add((age, side))
        _tidy(cache)
    missing = dict(_missing(caption_file))
    caption = caption_of(
        plants=len(kinds),
        portions=sum(kind.portions for kind in kinds) - sum(missing.values()),
        left_out={catalog.plants[plant].common_name: count for plant, count in missing.items()},
        light=par_told,
        unfinished=len(unfinished),
        reader=reader,
    )
    return Pictures(
        job_name=job.name,
        pictures=tuple(
            OnePicture(side=side, age=age, png=made[(age, side)], whole=(age, side) not in unfinished)
            for side in sides
            for age in wish.ages
            if (age, side) in made
        ),
        caption=caption,
    )


def light_of(job: Job, reader: Reader) -> tuple[float, str]:
    """The light on the soil that pictures are drawn with, and where it is from."""
    read = None if job.light is None else job.light.reading_umol_m2_s
    par = read if read else PAR_ASSUMED_UMOL
    told = say(f"picture.caption.{'light_read' if read else 'light_assumed'}", {"par": par}, reader)
    return float(par), told


def caption_of(
    *,
    plants: int,
    portions: int,
    left_out: dict[str, int],
    light: str,
    unfinished: int,
    reader: Reader,
) -> tuple[str, ...]:
    """What is said under the pictures: what is on them, and what is not."""
    lines = []
    if plants:
        lines.append(say("picture.caption.shown", {"plants": plants, "portions": portions}, reader))
    else:
        lines.append(say("picture.caption.no_plants", {}, reader))
    lines += [
        say("picture.caption.left_out", {"plant": plant, "count": count}, reader) for plant, count in left_out.items()
    ]
    lines += [light, *(say(f"picture.caption.{name}", {}, reader) for name in ("growth", "looks", "not_shown"))]
    if unfinished:
        lines.append(say("picture.caption.unfinished", {"count": unfinished}, reader))
    return tuple(lines)


def _side(side: Side, reader: Reader) -> str:
    return say(f"picture.side.{side}", {}, reader)


def _age(age: Age, reader: Reader) -> str:
    return say(f"picture.age.{age}", {}, reader)


def told_of(picture: OnePicture, reader: Reader) -> str:
    """What one picture shows, in a few words."""
    return say("picture.of", {"side": _side(picture.side, reader), "age": _age(picture.age, reader)}, reader)


OFFERED: tuple[tuple[Side, Age], ...] = (
    ("oblique", "month3"),
    *((side, "month3") for side in ("front", "rear", "left", "right")),
    ("oblique", "planted"),
    ("oblique", "week6"),
)
"""Pictures of the offer, in its order: the sides when grown, and how it gets there."""


def offer_pictures(job: Job, catalog: Catalog, scene: bytes | None, *, cache: Path, reader: Reader) -> OfferPictures:
    """What the offer shows of the finished tank: pictures drawn before; drawing takes minutes and is asked for by itself."""
    if scene is None:
        return NO_PICTURES
    found = pictures_of(job, catalog, scene, Wish(), cache=cache, reader=reader, only_kept=True)
    by_view = {(picture.side, picture.age): picture for picture in found.pictures}
    shots = tuple(
        Shot(
            file=f"picture-{by_view[view].file}",
            title=told_of(by_view[view], reader),
            alt=say("picture.alt", {"side": _side(view[0], reader), "age": _age(view[1], reader)}, reader),
            png=by_view[view].png,
        )
        for view in OFFERED
        if view in by_view
    )
    if shots:
        return OfferPictures(shots=shots, caption=found.caption)
    if can_picture():
        return OfferPictures(missing=say("picture.not_yet", {}, reader))
    return OfferPictures(missing=say("picture.missing", {"command": SETUP}, reader))


# ---------------------------------------------------------------- kept


def _key(scene: bytes, kinds: Sequence[object], catalog: Catalog, layout: Layout, par: float, seed: int) -> str:
    """Of everything that a scene is made from: what it is made from is at hand at once, the scene itself is not."""
    beds = [layout.bed.soil, layout.bed.base, *(bay.material for bay in layout.bed.bays)]
    grains = [repr(catalog.materials.get(name)) for name in beds if name is not None]
    return hashlib.sha256(f"{__version__} {seed} {par} {kinds!r} {grains}".encode() + scene).hexdigest()


def _kept(cache: Path, key: str) -> bytes | None:
    try:
        return (cache / f"{key}.png").read_bytes()
    except OSError:
        return None


def _missing(file: Path) -> list[tuple[str, int]]:
    try:
        rows = [line.split() for line in file.read_text(encoding="utf-8").splitlines()]
        return [(plant, int(count)) for plant, count in rows]
    except (OSError, ValueError):
        return []


def _keep(file: Path, data: bytes) -> None:
    """The whole file or none, also where two processes keep the same."""
    with contextlib.suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, part = tempfile.mkstemp(dir=file.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            Path(part).replace(file)
        except BaseException:
            Path(part).unlink(missing_ok=True)
            raise


def _tidy(cache: Path) -> None:
    with contextlib.suppress(OSError):
        for pattern in ("*.png", "*.txt"):
            kept = sorted(cache.glob(pattern), key=lambda path: path.stat().st_mtime)
            for old in kept[: max(0, len(kept) - MOST_KEPT)]:
                old.unlink(missing_ok=True)


def _write(found: Pictures, folder: Path) -> None:
    """All files or none."""
    import shutil

    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=folder.parent) as room:
            finished = Path(room) / "finished"
            finished.mkdir()
            for picture in found.pictures:
                (finished / picture.file).write_bytes(picture.png)
            text = "\n".join([found.job_name, *found.caption, ""])
            (finished / CAPTION).write_text(text, encoding="utf-8", newline="\n")
            if folder.exists():
                shutil.move(str(folder), str(Path(room) / "before"))
            shutil.move(str(finished), str(folder))
    except OSError as error:
        raise CannotRun(f"{folder} cannot be written: {error.strerror or error}") from error
