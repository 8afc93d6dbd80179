"""Write docs/references.md from the reference tables: what the program is checked against, and how well it agrees."""

from __future__ import annotations

from collections import Counter, defaultdict
from pathlib import Path

from slackwater.actions.verify import Line, verify

HERE = Path(__file__).resolve().parents[1]


def _worst(lines: list[Line]) -> float:
    """Largest share of its tolerance that a row uses up."""
    shares = []
    for line in lines:
        allowed = line.row.abs_tol + line.row.rel_tol * abs(line.row.value)
        if line.got is not None and allowed > 0:
            shares.append(abs(line.got - line.row.value) / allowed)
    return max(shares, default=0.0)


def page() -> str:
    """The whole page as Markdown."""
    report = verify(None, strict=True)
    by_topic: dict[str, list[Line]] = defaultdict(list)
    for line in report.lines:
        by_topic[line.row.topic].append(line)
    text = [
        "# What Slackwater is checked against",
        "",
        "Made by `python -m tools.references_page` from `references/*.csv`; `./go verify` shows each row. *Computed* rows",
        "come out of the functions that a plan uses; *constant* rows are transcribed defaults. Rows from memory count as",
        "warnings when missed. The last column is the largest part of its tolerance that any row of the table uses.",
        "",
        "| table | rows | computed | constant | kinds | largest use of tolerance |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for topic, lines in sorted(by_topic.items()):
        kinds = Counter(line.row.kind for line in lines)
        how = Counter(line.how for line in lines)
        told = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        text.append(
            f"| {topic} | {len(lines)} | {how['computed']} | {how['constant']} | {told} | {_worst(lines):.0%} |"
        )
    text += ["", "## Sources", ""]
    for topic, lines in sorted(by_topic.items()):
        text.append(f"### {topic}")
        text.append("")
        sources: dict[str, list[str]] = defaultdict(list)
        for line in lines:
            sources[line.row.source].append(line.row.id)
        for source, ids in sources.items():
            text.append(f"- {source} ({ids[0]}{f' to {ids[-1]}' if len(ids) > 1 else ''}; {len(ids)})")
        text.append("")
    return "\n".join(text)


if __name__ == "__main__":
    (HERE / "docs" / "references.md").write_text(page(), encoding="utf-8")
