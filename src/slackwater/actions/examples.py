"""The example files that come with the program: jobs and scans."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path


def _folder() -> Traversable:
    packaged = files("slackwater").joinpath("examples")
    # In a checkout the examples stand at the top; a built package carries them inside.
    return packaged if packaged.is_dir() else Path(__file__).parents[3] / "examples"


def example_text(name: str) -> str:
    """The text of an example job."""
    return _folder().joinpath(f"{name}.toml").read_text(encoding="utf-8")


def example_scan(name: str) -> bytes:
    """An example scan by the name of its file, see ``manifest.csv`` beside it."""
    return _folder().joinpath("hardscape", name).read_bytes()


def example_scans() -> str:
    """The table of the example scans: file, sizes, volume, density, mass."""
    return _folder().joinpath("hardscape", "manifest.csv").read_text(encoding="utf-8")
