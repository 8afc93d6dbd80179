"""The text of a job whose client has chosen an option of the offer."""

from __future__ import annotations

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, OfferOption
from slackwater.job.options import with_option
from slackwater.job.text import add_card, clear, set_value


def taken_text(text: str, job: Job, catalog: Catalog, option: OfferOption) -> str:
    """The job text as somebody would have written it for this option, without further options.

    Parameters
    ----------
    text : str
        The text of `job`; words, order and comments stay.

    Raises
    ------
    BadInput, NotFound
        If the text is written in a way that cannot be changed here.
    """
    varied, _ = with_option(job, catalog, option)
    if varied.brief.carpet_later != job.brief.carpet_later:
        text = set_value(text, ("brief", "carpet_later"), varied.brief.carpet_later)
    for at, (old, new) in enumerate(zip(job.plants or (), varied.plants or (), strict=True)):
        if new.units != old.units:
            text = set_value(text, ("plants", at, "units"), new.units)
    for group in varied.contract.visits[len(job.contract.visits) :]:
        span = {"from_day": group.from_day, "to_day": group.to_day, "every_days": group.every_days}
        text = add_card(
            text, ("contract", "visits"), {name: value for name, value in span.items() if value is not None}
        )
    if varied.contract.priced_to_day is not None and varied.contract.priced_to_day != job.contract.priced_to_day:
        text = set_value(text, ("contract", "priced_to_day"), varied.contract.priced_to_day)
    return clear(text, ("price", "options"))
