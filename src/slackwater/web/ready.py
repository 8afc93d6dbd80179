"""What the office loads before its door opens, so that no reader waits for it later."""

from __future__ import annotations

import gc

from slackwater.actions.experience import finished_days
from slackwater.actions.office import Office
from slackwater.actions.surveying import catalog_of
from slackwater.job.form import parts
from slackwater.web.pages import environment
from slackwater.wording.render import sentences

YOUNG, MIDDLE, OLD = 20_000, 20, 50
"""How many new objects, and how many rounds, until Python looks for unreachable ones; a page makes some thousands, and few of
them are bound in circles."""


def make_ready(office: Office) -> None:
    """Compile the templates and read the tables, then keep the search for unreachable objects off what stays for good.

    That search stops everybody: over the tables, the templates and the libraries it took a third of a second each time.
    """
    for name in environment().list_templates():
        environment().get_template(name)
    catalog_of(office).near("", "species")
    # On a book that was brought here, every log of the past is read for the first time.
    finished_days(office.settings, office.book, on=office.clock().date())
    sentences()
    parts()
    gc.collect()
    gc.freeze()
    gc.set_threshold(YOUNG, MIDDLE, OLD)
