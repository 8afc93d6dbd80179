"""What the terminal shows of pictures: where they are, and what is on them."""

from __future__ import annotations

from slackwater.actions.picturing import CAPTION, Pictures
from slackwater.cli.show import wrapped


def print_pictures(found: Pictures) -> None:
    """The answer of ``slackwater picture``."""
    print(f"{found.job_name}: {len(found.pictures)} pictures")
    for line in found.caption:
        print(wrapped(line, "  - ", "    "))
    print(f"\nWritten to {found.folder}: {', '.join(picture.file for picture in found.pictures)}, {CAPTION}")
