"""How the program was called, for the sentences that say what to type next."""

from __future__ import annotations

import os


def called() -> str:
    """``./go`` when the set-up script called it, else the installed command."""
    return os.environ.get("SLACKWATER_CALLED_AS", "slackwater")
