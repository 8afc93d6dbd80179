"""What a layout is laid with besides the job: the files beside it, and how hard to look. Light to import."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from slackwater.job.model import Job


@dataclass(frozen=True)
class Beside:
    """What lies beside the job: scene and scans, by the names that the job gives them."""

    files: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Care:
    """How hard to look for a proposal.

    Attributes
    ----------
    runs : int
        Beginnings of the search, and layouts that are let go at most.
    tries : int
        Moves that each run tries.
    settle : bool
        Whether the pieces are let go until they rest.
    """

    runs: int = 6
    tries: int = 20_000
    settle: bool = True


def files_named(job: Job) -> tuple[str, ...]:
    """Names of the files beside the job that its layout and its lamps ask for, each once."""
    named = [
        job.layout.scene,
        *(stone.mesh for stone in job.stones or ()),
        *(wood.mesh for wood in job.wood or ()),
        *lamp_files(job),
    ]
    return tuple(dict.fromkeys(name for name in named if name))


def lamp_files(job: Job) -> tuple[str, ...]:
    """Names of the measured files of its lamps, each once."""
    return tuple(dict.fromkeys(lamp.file for lamp in (job.light.lamps if job.light else ()) if lamp.file))
