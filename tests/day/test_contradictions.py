"""What cannot be true together is told before anything is solved, with by how much."""

from __future__ import annotations

from datetime import datetime

import pytest

from slackwater.day.assess import hours_findings
from slackwater.day.contradictions import circle_of, clocks_too_short, longest_chain, most_min
from slackwater.day.model import Activity, Clock, DayProblem, Lag, Mode, Person, event
from slackwater.day.when import Clockface
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.wording.render import finding_sentence
from tests.day.test_problem import CATALOG, findings_of


def with_row(name: str, **changes: object) -> Catalog:
    row = CATALOG.activities[name].model_copy(update=changes)
    return CATALOG.model_copy(update={"activities": {**CATALOG.activities, name: row}})


def test_a_circle_in_an_own_table_is_named_and_no_other():
    assert circle_of(load_catalog().activities) == ()
    catalog = with_row("E4", after=("E3", "E12"))
    circle = circle_of(catalog.activities)
    assert {"E4", "E12"} <= set(circle)
    rows = catalog.activities
    assert all(second in rows[first].after for first, second in zip(circle, (*circle[1:], circle[0]), strict=True))
    assert "day.circle" in findings_of(catalog=catalog) and "day.circle" not in findings_of()


def test_an_activity_that_waits_for_itself_is_a_circle():
    assert circle_of(with_row("E4", after=("E4",)).activities) == ("E4",)


def chain_day(*clocks: Clock, lags: tuple[Lag, ...] = ()) -> DayProblem:
    def work(name: str, minutes: int, *after: str, optional: bool = False) -> Activity:
        modes = tuple(Mode(id=f"{name}{length}", minutes=length, crew=("ann",)) for length in (minutes, minutes + 50))
        return Activity(id=name, modes=modes, after=after, optional=optional)

    return DayProblem(
        activities=(
            work("a", 10),
            work("b", 20, "a"),
            work("c", 40, "a"),
            work("r", 5, "a", optional=True),
            work("d", 30, "b", "c"),
            work("alone", 500),
        ),
        people=(Person(id="ann", windows=((0, 2000),)),),
        lags=lags,
        clocks=clocks,
        closes_min=2000,
        horizon_min=2000,
    )


@pytest.mark.parametrize(
    ("first", "last", "minutes", "names"),
    [
        ("a.start", "d.end", 80, ("a", "c", "d")),
        ("a.end", "d.start", 40, ("c",)),
        ("b.start", "b.end", 20, ("b",)),
        ("a.start", "a.start", 0, ()),
    ],
)
def test_the_longest_chain_takes_each_piece_of_work_at_its_quickest(first, last, minutes, names):
    chain = longest_chain(chain_day(), event(first), event(last))
    assert chain is not None and (chain.minutes, chain.activities) == (minutes, names)


def test_no_chain_leads_where_no_order_does():
    assert longest_chain(chain_day(), event("b.start"), event("c.end")) is None
    assert longest_chain(chain_day(), event("alone.start"), event("d.end")) is None


def test_waits_lie_in_the_chain_too():
    lags = (Lag(a=event("b.end"), b=event("d.start"), minimum=35),)
    chain = longest_chain(chain_day(lags=lags), event("a.end"), event("d.start"))
    assert chain is not None and (chain.minutes, chain.activities) == (55, ("b",))


def test_a_clock_shorter_than_its_chain_is_told_and_one_as_long_is_not():
    def clock(limit: int, **more: object) -> Clock:
        return Clock.model_validate(
            {"id": "k", "starts": event("a.end"), "ends": event("d.end"), "limit_min": limit, **more}
        )

    assert clocks_too_short(chain_day(clock(69)))["k"].minutes == 70
    assert not clocks_too_short(chain_day(clock(70)))
    # One restart: two pieces of 33 min and its own 55 at most.
    restarted = clock(40, restarts=("r",), restarted_limits_min=(33,))
    assert most_min(chain_day(restarted), restarted) == 2 * 33 + 55
    assert not clocks_too_short(chain_day(restarted))


# Central European time: on the last Sunday of March 2:00 becomes 3:00, on that of October 3:00 becomes 2:00
# (Directive 2000/84/EC); in 2027 these are 28 March and 31 October.
@pytest.mark.parametrize(
    ("night", "real_min", "way"),
    [(datetime(2027, 3, 27, 22), 9 * 60, "forward"), (datetime(2027, 10, 30, 22), 11 * 60, "back")],
)
def test_a_night_in_which_clocks_change_is_told_with_its_real_hours(night, real_min, way):
    face = Clockface(night, "Europe/Berlin")
    closes = face.minute(night.replace(day=night.day + 1, hour=8))
    assert closes == real_min
    found = {finding.id: finding for finding in hours_findings(face, closes)}
    change = found["day.clocks_change"]
    assert (change.values["way"], change.values["by_min"], change.values["real_h"]) == (way, 60, real_min / 60)
    assert f"go {way} by 60 min" in finding_sentence(change)
    assert "day.crosses_midnight" in found


def test_a_day_like_others_has_neither_midnight_nor_a_change_of_clocks():
    assert hours_findings(Clockface(datetime(2027, 3, 10, 8), "Europe/Berlin"), 600) == []
    # The same night where clocks are not changed.
    assert [f.id for f in hours_findings(Clockface(datetime(2027, 3, 27, 22), "UTC"), 600)] == ["day.crosses_midnight"]


def test_work_for_more_people_than_there_are_is_named():
    found = findings_of(catalog=with_row("E17", people_min=3, people_max=3))["day.needs_more"]
    assert (found.about, found.values["needs"], found.values["people"]) == ("E17", 3, 2)
    assert "day.needs_more" not in findings_of(
        catalog=with_row("E17", people_min=3, people_max=3), **{"people.2.on_call": False}
    )
