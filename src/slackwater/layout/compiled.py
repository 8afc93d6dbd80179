"""Loops made fast: the one file that knows the compiler for them."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar

import numba

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """The function compiled at its first call, and kept on disk for later processes.

    Beside the program where that folder can be written, in the user's cache folder otherwise; where neither can be,
    each process compiles anew.
    """
    try:
        kept: Callable[P, R] = numba.njit(cache=True, nogil=True)(function)
    except RuntimeError:
        kept = numba.njit(nogil=True)(function)
    return kept
