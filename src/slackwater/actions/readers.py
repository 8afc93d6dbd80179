"""Who reads what leaves the office."""

from __future__ import annotations

from slackwater.job.model import Job
from slackwater.reader import SOURCE_LANGUAGE, Reader, UnitSystem, known_language


def reader_of_papers(job: Job, units: UnitSystem, language: str | None = None) -> Reader:
    """Who reads the papers of a job: in the language asked for, else that of the job, else English.

    Raises
    ------
    BadInput
        If there is no catalog for the language asked for.
    """
    asked = job.papers.language if language is None else known_language(language)
    return Reader(units, asked or SOURCE_LANGUAGE)
