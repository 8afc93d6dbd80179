"""Reading and writing text files, with a plain sentence when that fails."""

from __future__ import annotations

from pathlib import Path

from slackwater.errors import BadInput, CannotRun, Conflict, NotFound

LARGEST_BYTES = 5_000_000
"""A job file is some tens of kilobytes; far more is another kind of file, given by mistake."""


def read_text(path: Path) -> str:
    """The whole text of a file.

    Raises
    ------
    NotFound, BadInput, CannotRun
        If the file is not there, is a folder, is not UTF-8 text, is far too large, or may not be read.
    """
    try:
        if path.is_dir():
            raise BadInput(f"{path} is a folder; name the job file in it")
        if path.stat().st_size > LARGEST_BYTES:
            raise BadInput(
                f"{path} has {path.stat().st_size / 1e6:.0f} MB; a job file is far smaller: is it the right file?"
            )
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise NotFound(f"{path}: there is no such file; begin one with `slackwater new {path}`") from error
    except UnicodeDecodeError as error:
        raise BadInput(f"{path} is not a text file in UTF-8; save it as plain text") from error
    except OSError as error:
        raise CannotRun(f"{path} cannot be read: {error.strerror}") from error


def write_new_text(path: Path, text: str) -> None:
    """Write a file that must not exist yet.

    Raises
    ------
    Conflict, CannotRun
        If it exists, or its folder cannot be written to.
    """
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as error:
        raise Conflict(f"{path} exists and is left as it is; choose another name") from error
    except OSError as error:
        raise CannotRun(f"{path} cannot be written: {error.strerror}") from error


def write_bytes(path: Path, content: bytes, *, replaces: bytes) -> None:
    """Write a file whole or not at all; one that is there is replaced only if it begins like one of ours.

    Raises
    ------
    Conflict, CannotRun
        If another kind of file is there, or it cannot be written.
    """
    try:
        if path.is_dir():
            raise Conflict(f"{path} is a folder; name a file in it")
        if path.exists():
            with path.open("rb") as file:
                if file.read(len(replaces)) != replaces:
                    raise Conflict(f"{path} is there and is another kind of file; choose another name")
        beside = path.with_name(f".{path.name}.part")
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        raise CannotRun(f"{path} cannot be written: {error.strerror}") from error
