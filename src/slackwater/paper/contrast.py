"""Contrast of a colour on white paper."""

from __future__ import annotations

import re

NEEDED_FOR_TEXT = 4.5
"""Of text of the usual size; WCAG 2.1, success criterion 1.4.3."""
COLOUR = re.compile(r"#[0-9a-fA-F]{6}")


def relative_luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour [0..1].

    Parameters
    ----------
    colour : str
        "#rrggbb".

    References
    ----------
    WCAG 2.1, definition of relative luminance (W3C Recommendation, 2018).
    """
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in (red, green, blue)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast_on_white(colour: str) -> float:
    """Contrast ratio of a colour on white [1..21].

    References
    ----------
    WCAG 2.1, definition of contrast ratio.

    Examples
    --------
    >>> contrast_on_white("#000000")
    21.0
    """
    return 1.05 / (relative_luminance(colour) + 0.05)


def bears_text(colour: str) -> bool:
    """Whether words can be set in a colour on white paper."""
    return contrast_on_white(colour) >= NEEDED_FOR_TEXT
