"""Each finding of the screening, and each missing fact, is told at the question that it is about."""

import pytest

from slackwater.finding import Finding, Severity
from slackwater.job.beside import places_of
from slackwater.job.form import answers_in, filled, group_at, parts, question_at
from slackwater.job.load import read_as_far
from slackwater.job.screen import fact_missing
from slackwater.job.text import clear, read_text, set_value
from slackwater.lacking import lacking
from tests.jobs import EXAMPLES
from tests.plans import catalog

TEXT = (EXAMPLES / "blue-corridor.toml").read_text(encoding="utf-8")


def places(text):
    found = {}
    for finding in lacking(read_as_far(text).job, catalog()):
        for path in places_of(finding, read_text(text)):
            found.setdefault(finding.id, set()).add(path)
    return found


@pytest.mark.parametrize(
    ("key", "typed", "finding", "place"),
    [
        ("animals_ill", True, "job.animals_ill", ("animals_ill",)),
        ("tank.seam_damage", True, "job.seam_damage", ("tank", "seam_damage")),
        ("tank.seam_damage", None, "job.seams_not_looked_at", ("tank", "seam_damage")),
        ("site.drain.permitted", None, "job.drain_unknown", ("site", "drain", "permitted")),
        ("site.circuits", None, "job.circuits_unknown", ("site", "circuits")),
        ("water.tap.date", None, "job.test_undated", ("water", "tap", "date")),
        ("site.windows.1.end", "2027-02-10 06:00", "job.window_backwards", ("site", "windows", 1, "end")),
        ("livestock.2.species", "no such fish", "job.species_unknown", ("livestock", 2, "species")),
        ("livestock.2.count", "uncounted", "job.uncounted", ("livestock", 2, "count")),
        ("plants.3.plant", "no such plant", "job.plant_unknown", ("plants", 3, "plant")),
        ("containers.1.container", "no such box", "job.container_unknown", ("containers", 1, "container")),
        ("wood.1.material", "no such wood", "tank.material_unknown", ("wood", 1, "material")),
        ("tank.height", None, "job.fact_missing", ("tank", "height")),
        ("people.1.hourly_rate", None, "job.fact_missing", ("people", 1, "hourly_rate")),
        ("filters.1.media", None, "job.fact_missing", ("filters", 1, "media")),
        ("water.tank", None, "job.fact_missing", ("water", "tank")),
        ("bed.soil", None, "job.fact_missing", ("bed", "soil")),
    ],
)
def test_a_finding_is_told_where_it_is_answered(key, typed, finding, place):
    path = tuple(int(part) if part.isdigit() else part for part in key.split("."))
    text = clear(TEXT, path) if typed is None else set_value(TEXT, path, typed)
    assert place in places(text)[finding]


def test_every_place_is_asked_for_on_a_page():
    text = 'format = 1\nname = "x"\n[[livestock]]\nspecies = "neon"\ncount = "uncounted"\n[[filters]]\n[[people]]\nid = "lead"\n'
    shown = {answer.path for part in parts() for answer in answers_in(filled(part, read_text(text)))}
    told = [path for paths in places(text).values() for path in paths]
    assert len(told) > 20
    assert [path for path in told if path not in shown and group_at(path) is None] == []


def test_what_is_about_no_question_has_no_place():
    assert places_of(Finding(id="day.ends_late", severity=Severity.MISFIT), {}) == ()
    assert places_of(fact_missing("the weeks after", ("the count of neon",)), {}) == ()
    assert question_at(("the count of neon",)) is None
