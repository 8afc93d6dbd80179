"""Progress in the terminal: one line that is rewritten where people look, plain lines where a file reads."""

from __future__ import annotations

from types import TracebackType
from typing import Self, TextIO

BETTER_DAY = "day of "
"""How news of a better day begins: wanted where one line is rewritten, a flood where lines are kept."""


class Progress:
    """Shows what is being done; cleared when done, so that the answer stands alone."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._live = stream.isatty()
        self._shown = ""

    def __enter__(self) -> Self:
        return self

    def __call__(self, what: str) -> None:
        """Say what is being done now."""
        if what == self._shown or (not self._live and what.startswith(BETTER_DAY)):
            return
        if self._live:
            self._stream.write("\r\x1b[2K" + what + " …")
        else:
            self._stream.write(what + " …\n")
        self._stream.flush()
        self._shown = what

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live:
            self._stream.write("\r\x1b[2K")
            self._stream.flush()
