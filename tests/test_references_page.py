"""The page of references is the one that the tables give."""

from pathlib import Path

from tools.references_page import page


def test_the_page_is_current():
    written = (Path(__file__).parents[1] / "docs" / "references.md").read_text(encoding="utf-8")
    assert written == page(), "run: python -m tools.references_page"
