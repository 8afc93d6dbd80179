"""A chosen option written into the text reads as the job that was planned and priced for it."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from slackwater.job.load import read_job
from slackwater.job.model import OfferOption
from slackwater.job.options import OPTION_CHANGES, with_option
from slackwater.job.taken import taken_text
from slackwater.job.text import add_card
from tests.plans import catalog

CHANGES = [found for count in range(3) for found in combinations(OPTION_CHANGES, count)]


@pytest.mark.parametrize("example", ["blue-corridor", "light-well", "harbour-line"])
@pytest.mark.parametrize("changes", CHANGES, ids=" ".join)
def test_the_text_of_a_chosen_option_is_that_of_the_job_that_was_offered(example, changes):
    text = Path(f"examples/{example}.toml").read_text(encoding="utf-8")
    text = add_card(text, ("price", "options"), {"name": "Good", "changes": list(changes)})
    text = add_card(text, ("price", "options"), {"name": "Other"})
    job = read_job(text, file_name="job")
    option = OfferOption(name="Good", changes=changes)
    taken = taken_text(text, job, catalog(), option)
    assert read_job(taken, file_name="job") == with_option(job, catalog(), option)[0]
    assert [line for line in text.splitlines() if line.startswith("#")] == [
        line for line in taken.splitlines() if line.startswith("#")
    ]
