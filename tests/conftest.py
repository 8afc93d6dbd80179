"""Property tests are the same on every run: no luck, no flakes."""

from hypothesis import settings

settings.register_profile("same every time", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("same every time")


def pytest_terminal_summary(terminalreporter):
    """Lines that tests want seen though none failed: how near a comparison came to its bar, or what was not run."""
    stats = terminalreporter.stats
    for report in [*stats.get("passed", []), *stats.get("skipped", [])]:
        for name, value in report.user_properties:
            if name == "shown":
                terminalreporter.write_line(value)
