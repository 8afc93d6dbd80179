"""What a log says of a day, and how it is told where it contradicts itself; expectations by reasoning."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import pytest

from slackwater.day.model import Activity, DayProblem, Mode, Person, Placed, Schedule, Status
from slackwater.day.progress import Facts, facts_of
from slackwater.day.when import Clockface
from slackwater.wording.render import finding_sentence
from tests.replans import event

OPENS = datetime(2027, 2, 10, 6, 30)
FACE = Clockface(OPENS, "Europe/Berlin")


def work(name, minutes, *crew, after=()):
    return Activity(id=name, modes=(Mode(id="+".join(crew), minutes=minutes, crew=crew),), after=after)


PROBLEM = DayProblem(
    activities=(work("E1", 30, "lead"), work("E2", 20, "lead", after=("E1",)), work("E3", 40, "helper")),
    people=(Person(id="lead", windows=((0, 600),)), Person(id="helper", windows=((0, 600),))),
    closes_min=300,
    horizon_min=600,
)
PLAN = Schedule(
    status=Status.PROVED,
    placed=(
        Placed(activity="E1", mode="lead", start=0, end=30, crew=("lead",)),
        Placed(activity="E2", mode="lead", start=30, end=50, crew=("lead",)),
        Placed(activity="E3", mode="helper", start=0, end=40, crew=("helper",)),
    ),
    finish_min=50,
)


def read(*events, now=120, face=FACE, reference="J", **more) -> Facts:
    found = facts_of(events, PROBLEM, PLAN, face=face, now_min=now, reference=reference, **more)
    for finding in found.findings:
        assert len(finding_sentence(finding)) > 30
    return found


def at(number, hour, minute, kind, subject="", body=None, **more):
    return event(
        number, at=f"2027-02-10T{hour:02}:{minute:02}:00", kind=kind, subject=subject, body=body or {}, job="J", **more
    )


def told(facts):
    return [finding.id.removeprefix("day.log_") for finding in facts.findings]


def test_started_and_finished_give_the_span_in_minutes_from_the_start_of_access():
    facts = read(at(0, 6, 35, "started", "E1", {"crew": ["helper"]}), at(1, 7, 15, "finished", "E1"))
    work = facts.work["E1"]
    assert (work.start_min, work.end_min, work.crew) == (5, 45, ("helper",))
    assert told(facts) == []


def test_a_slip_says_until_when_it_takes():
    facts = read(at(0, 6, 35, "started", "E1"), at(1, 7, 0, "slipped", "E1", {"remaining_min": 25}))
    assert (facts.work["E1"].start_min, facts.work["E1"].remaining_until_min) == (5, 55)


def test_a_finish_without_a_start_is_reckoned_back_by_the_planned_minutes():
    facts = read(at(0, 7, 20, "finished", "E2"))
    assert (facts.work["E2"].start_min, facts.work["E2"].end_min) == (30, 50)
    assert told(facts) == ["no_start"]


def test_a_finish_before_its_start_is_taken_as_still_running():
    facts = read(at(0, 7, 0, "finished", "E1"), at(1, 7, 30, "started", "E1"))
    assert (facts.work["E1"].start_min, facts.work["E1"].end_min) == (60, None)
    assert told(facts) == ["finish_before_start"]


def test_of_two_who_note_the_same_the_first_counts():
    facts = read(
        at(0, 6, 40, "started", "E1", actor="lead", device="a"),
        at(1, 6, 50, "started", "E1", actor="helper", device="b"),
        at(2, 7, 10, "finished", "E1", actor="helper", device="b"),
        at(3, 7, 15, "finished", "E1", actor="lead", device="a"),
    )
    assert (facts.work["E1"].start_min, facts.work["E1"].end_min) == (10, 40)
    assert told(facts) == ["twice", "twice"]


def test_events_out_of_order_are_put_in_order():
    facts = read(at(0, 7, 15, "finished", "E1"), at(1, 6, 35, "started", "E1"))
    assert (facts.work["E1"].start_min, facts.work["E1"].end_min) == (5, 45)
    assert told(facts) == ["out_of_order"]


def test_what_lies_in_the_future_or_belongs_to_another_job_is_left_out():
    other = event(1, at="2027-02-10T06:40:00", kind="started", subject="E3", job="K")
    facts = read(at(0, 8, 31, "started", "E1"), other)
    assert facts.work == {} and set(told(facts)) == {"future", "other_job"}
    assert read(at(0, 8, 30, "started", "E1")).work["E1"].start_min == 120


def test_an_activity_that_is_not_there_is_answered_with_the_nearest():
    facts = read(at(0, 7, 0, "started", "e1"))
    assert facts.work == {} and facts.findings[0].values["near"] == "E1"


def test_a_correction_replaces_cancels_and_can_itself_be_cancelled():
    start = at(0, 7, 0, "started", "E1")
    earlier = at(1, 7, 10, "corrected", body={"event": str(UUID(int=1)), "at": "2027-02-10T06:45:00"})
    assert read(start, earlier).work["E1"].start_min == 15
    cancel = at(2, 7, 20, "corrected", body={"event": str(UUID(int=1))})
    assert read(start, cancel).work == {}
    assert read(start, earlier, cancel).work == {}
    never_mind = at(3, 7, 30, "corrected", body={"event": str(UUID(int=3))})
    assert read(start, cancel, never_mind).work["E1"].start_min == 30
    assert told(read(start, at(4, 7, 40, "corrected", body={"event": "gone"}))) == ["corrects_nothing"]


def test_people_the_lift_boxes_and_filters_that_are_not_to_be_had():
    facts = read(
        at(0, 7, 0, "unavailable", "helper"),
        at(1, 7, 5, "unavailable", "lift", {"until": "2027-02-10T09:00:00"}),
        at(2, 7, 10, "unavailable", "box B", {"part": "battery air pump"}),
        at(3, 7, 15, "unavailable", "filter left", {"part": "hose clamp"}),
        at(4, 7, 20, "unavailable", "third"),
        on_call=["third"],
    )
    assert [(away.what, away.from_min, away.until_min) for away in facts.gone] == [
        ("helper", 30, None),
        ("third", 50, None),
    ]
    assert [(away.from_min, away.until_min) for away in facts.lift_out] == [(35, 150)]
    assert facts.without_air == ("B",) and facts.broken == {"filter left": "hose clamp"} and told(facts) == []


def test_a_part_of_a_filter_told_as_a_note_counts_as_broken():
    facts = read(at(0, 7, 15, "noted", "filter left", {"part": "corroded hose clamp"}))
    assert facts.broken == {"filter left": "corroded hose clamp"} and told(facts) == []


@pytest.mark.parametrize(
    ("subject", "body"),
    [
        ("filter left", {"flow": "weak"}),
        ("box B", {"part": "battery air pump"}),
        ("lift", {"until": "2027-02-10T09:00:00"}),
        ("helper", {"until": "2027-02-10T09:00:00"}),
    ],
)
def test_a_note_on_what_the_day_counts_with_changes_nothing_and_says_how_to_log_it(subject, body):
    facts = read(at(0, 7, 0, "noted", subject, body))
    assert told(facts) == ["remark_only"] and not facts.news
    assert (facts.broken, facts.without_air, facts.lift_out, facts.gone) == ({}, (), (), ())
    assert "kind unavailable" in finding_sentence(facts.findings[0])


def test_remarks_on_other_things_are_left_in_peace():
    assert told(read(at(0, 7, 0, "noted", "tank", {"thread_algae_score": 3}))) == []
    assert told(read(at(0, 7, 0, "noted", "helper", {"remark": "has the key"}))) == []


def test_a_lift_of_which_nobody_knows_when_it_is_back_is_reckoned_with_in_an_hour():
    facts = read(at(0, 7, 0, "unavailable", "lift"))
    assert facts.lift_out[0].until_min == 120 + 60 and told(facts) == ["no_until"]


@pytest.mark.parametrize(
    ("kind", "subject", "body", "finding"),
    [
        ("slipped", "E1", {"remaining_min": "soon"}, "bad_value"),
        ("slipped", "E1", {"remaining_min": -5}, "bad_value"),
        ("slipped", "E1", {"remaining_min": True}, "bad_value"),
        ("added", "retainer", {}, "bad_value"),
        ("added", "retainer", {"minutes": 20, "after": "E99"}, "added_after_unknown"),
        ("unavailable", "helper", {"until": "later"}, "until_unreadable"),
        ("unavailable", "helper", {"until": "2027-02-10"}, "until_unreadable"),
        ("unavailable", "helper", {"since": "noonish"}, "since_unreadable"),
        ("unavailable", "helper", {"since": "07:30"}, "since_later"),
        ("unavailable", "helpper", {}, "unknown_subject"),
        ("counted", "goldfish", {"caught": 3}, "unknown_species"),
        ("counted", "shrimp", {"caught": -3}, "bad_value"),
        ("noted", "peroxide", {"expired": "last year"}, "bad_value"),
        ("started", "E1", {"crew": ["nobody"]}, "unknown_person"),
        ("started", "E9", {}, "not_today"),
    ],
)
def test_what_cannot_be_read_is_told_with_what_to_do(kind, subject, body, finding):
    facts = read(at(0, 7, 0, kind, subject, body), caught_in={"shrimp": "E3"}, labels={"E9": "rinse"})
    assert told(facts) == [finding]


@pytest.mark.parametrize(
    ("body", "away"),
    [
        # Access from 06:30; told at 08:00, minute 90.
        ({"since": "07:30", "until": "10:00"}, (60, 210)),
        ({"since": "7:30"}, (60, None)),
        ({"since": "05:00"}, (0, None)),
        ({"since": "2027-02-10 07:30", "until": "2027-02-10T10:00"}, (60, 210)),
        # Half past seven has gone by: the next is tomorrow's, 24 h after minute 60.
        ({"until": "07:30"}, (90, 60 + 24 * 60)),
        # What cannot be read leaves the rest of the line.
        ({"since": "07:30", "until": "later"}, (60, None)),
        ({"since": "noonish", "until": "10:00"}, (90, 210)),
    ],
)
def test_since_and_until_are_times_of_the_day(body, away):
    facts = read(at(0, 8, 0, "unavailable", "helper", body))
    assert [(item.from_min, item.until_min) for item in facts.gone] == [away]


def test_times_of_the_day_cross_midnight_with_the_day():
    # Access from 20:00; at 01:00, minute 300, since 23:30 is minute 210 and until 02:00 minute 360.
    face = Clockface(datetime(2027, 2, 10, 20, 0), "Europe/Berlin")
    gone = event(
        0,
        at="2027-02-11T01:00:00",
        kind="unavailable",
        subject="helper",
        job="J",
        body={"since": "23:30", "until": "02:00"},
    )
    away = read(gone, now=400, face=face).gone[0]
    assert (away.from_min, away.until_min) == (210, 360)


KNOWN = {"boxes": ["A", "B", "C"], "filters": ["left", "right"]}


@pytest.mark.parametrize(
    ("kind", "subject", "finding", "known", "near"),
    [
        ("unavailable", "box Z", "no_such_thing", "A, B, C", ""),
        ("unavailable", "box", "no_such_thing", "A, B, C", ""),
        ("unavailable", "filter lefft", "no_such_thing_near", "left, right", "filter left"),
        ("noted", "filter rigt", "no_such_thing_near", "left, right", "filter right"),
    ],
)
def test_a_box_or_filter_that_is_not_there_is_told_with_those_that_are(kind, subject, finding, known, near):
    facts = read(at(0, 7, 0, kind, subject, {"part": "air pump"}), **KNOWN)
    assert facts.without_air == () and facts.broken == {}
    assert told(facts) == [finding]
    values = facts.findings[0].values
    assert values["known"] == known and values.get("near", "") == near


def test_a_box_or_filter_is_known_however_its_name_is_written():
    facts = read(at(0, 7, 0, "unavailable", "box b"), at(1, 7, 5, "unavailable", "filter Left"), **KNOWN)
    assert facts.without_air == ("B",) and facts.broken == {"filter left": "a part"} and told(facts) == []
    one = read(at(0, 7, 0, "unavailable", "filter", {"part": "hose"}), filters=["canister"])
    assert one.broken == {"filter canister": "hose"}


def test_a_tool_or_person_that_nobody_knows_is_told_with_the_near_name():
    facts = read(at(0, 7, 0, "unavailable", "helpr"), **KNOWN)
    assert told(facts) == ["unknown_subject"] and facts.findings[0].values["near"] == "helper"


def test_dropped_work_is_left_out_unless_it_was_begun():
    assert read(at(0, 7, 0, "dropped", "E2")).dropped == ("E2",)
    ended = read(at(0, 6, 40, "started", "E1"), at(1, 7, 0, "dropped", "E1"))
    assert ended.dropped == () and ended.work["E1"].end_min == 30
    done = read(at(0, 6, 30, "started", "E1"), at(1, 7, 0, "finished", "E1"), at(2, 7, 5, "dropped", "E1"))
    assert done.work["E1"].end_min == 30 and told(done) == ["after_its_end"]


def test_counts_are_kept_by_pass_and_what_is_missing_is_seen():
    facts = read(
        at(0, 7, 0, "counted", "shrimp", {"caught": 5, "minutes": 20}),
        at(1, 7, 30, "counted", "shrimp", {"caught": 2, "expected": 9}),
        caught_in={"shrimp": "E3"},
    )
    assert facts.passes == {"shrimp": (5, 2)} and facts.pass_minutes == {"shrimp": 20.0}
    assert [(item.caught, item.expected) for item in facts.missing] == [(7, 9)]
    assert facts.seen == {"E3": (10, 60)}


def test_only_goods_past_their_date_have_expired():
    assert read(at(0, 7, 0, "noted", "peroxide", {"expired": "2027-02-09"})).expired == ("peroxide",)
    assert read(at(0, 7, 0, "noted", "peroxide", {"expired": "2027-02-10"})).expired == ()


AUTUMN = Clockface(datetime(2027, 10, 30, 22, 30), "Europe/Berlin")
"""Clocks go back from 03:00 to 02:00 on 31 October 2027: 02:30 comes 240 and 300 minutes after 22:30."""


def night(*times, device="phone"):
    """Starts of E1, E2 and E3 noted in this order on one device."""
    return [
        event(seq, at=f"2027-10-31T{time}", kind="started", subject=f"E{seq}", job="J", device=device, seq=seq)
        for seq, time in enumerate(times, start=1)
    ]


def test_an_offset_says_which_of_two_hours_is_meant():
    facts = read(*night("02:30:00+02:00", "02:10:00+01:00", "02:30:00+01:00"), face=AUTUMN, now=500)
    assert [facts.work[name].start_min for name in ("E1", "E2", "E3")] == [240, 280, 300]
    assert told(facts) == []
    # The same moments in another zone's time.
    facts = read(*night("00:30:00+00:00", "01:10:00Z", "01:30:00Z"), face=AUTUMN, now=500)
    assert [facts.work[name].start_min for name in ("E1", "E2", "E3")] == [240, 280, 300]


def test_without_an_offset_what_is_noted_later_was_not_earlier():
    facts = read(*night("02:50:00", "02:10:00", "02:20:00"), face=AUTUMN, now=500)
    assert [facts.work[name].start_min for name in ("E1", "E2", "E3")] == [260, 280, 290]
    assert told(facts) == ["read_as_first", "read_as_second"]
    first, second = facts.findings
    assert (first.values["times"], first.values["other"]) == ("02:50", "2027-10-31T02:50+01:00")
    assert (second.values["times"], second.values["other"]) == ("02:10, 02:20", "2027-10-31T02:10+02:00")


def test_another_device_or_a_later_hour_says_nothing_of_the_first_hour():
    (mine,), (yours,) = night("02:50:00"), night("02:10:00", device="other")
    yours = yours.model_copy(update={"subject": "E2", "id": UUID(int=9)})
    facts = read(mine, yours, face=AUTUMN, now=500)
    assert [facts.work[name].start_min for name in ("E1", "E2")] == [260, 220]
    # Written down late, after 04:00: both readings of 02:10 lie before, so the order says nothing.
    late = read(*night("04:00:00", "02:10:00"), face=AUTUMN, now=500)
    assert late.work["E2"].start_min == 220 and "out_of_order" in told(late)


def test_until_is_the_hour_still_to_come():
    gone = event(
        1,
        at="2027-10-31T02:50:00+02:00",
        kind="unavailable",
        subject="helper",
        body={"until": "2027-10-31T02:30:00"},
        job="J",
    )
    away = read(gone, face=AUTUMN, now=500).gone[0]
    assert (away.from_min, away.until_min) == (260, 300)


def test_minutes_are_real_across_midnight_and_a_clock_change():
    # Clocks go back at 03:00 on 31 October 2027: from 22:30 to 04:00 it is 6.5 hours, not 5.5.
    face = Clockface(datetime(2027, 10, 30, 22, 30), "Europe/Berlin")
    late = event(0, at="2027-10-31T04:00:00", kind="started", subject="E1", job="J")
    assert read(late, face=face, now=500).work["E1"].start_min == 390
    # Half past two comes twice and is read as the first; what is told with an offset says which it is.
    twice = event(
        0,
        at="2027-10-31T02:30:00",
        kind="unavailable",
        subject="helper",
        job="J",
        body={"until": "2027-10-31T02:30:00+01:00"},
    )
    away = read(twice, face=face, now=500).gone[0]
    assert (away.from_min, away.until_min) == (240, 300)
    # And forward at 02:00 on 28 March: from 22:30 to 04:00 it is 4.5 hours.
    spring = Clockface(datetime(2027, 3, 27, 22, 30), "Europe/Berlin")
    early = event(0, at="2027-03-28T04:00:00", kind="started", subject="E1", job="J")
    assert read(early, face=spring, now=500).work["E1"].start_min == 270
