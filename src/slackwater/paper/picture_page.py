"""Pictures of the finished tank on the offer, or the line that says how to get them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from slackwater.reader import Reader
from slackwater.wording.render import say


@dataclass(frozen=True)
class Shot:
    """One picture as the offer shows it."""

    file: str
    title: str
    alt: str
    png: bytes


@dataclass(frozen=True)
class OfferPictures:
    """What the offer shows of the finished tank.

    Attributes
    ----------
    shots : tuple of Shot
    caption : tuple of str
        What is on them, and what is not.
    missing : str
        In their place; empty where nothing is to be said.
    """

    shots: tuple[Shot, ...] = ()
    caption: tuple[str, ...] = ()
    missing: str = ""

    @property
    def files(self) -> Mapping[str, bytes]:
        """The pictures, by file name."""
        return {shot.file: shot.png for shot in self.shots}


NO_PICTURES = OfferPictures()


def pictures_data(pictures: OfferPictures, reader: Reader) -> dict[str, Any]:
    """The pictures as texts and file names."""
    return {
        "heading": say("picture.heading", {}, reader),
        "items": [{"file": shot.file, "title": shot.title, "alt": shot.alt} for shot in pictures.shots],
        "caption": list(pictures.caption),
        "missing": pictures.missing,
    }
