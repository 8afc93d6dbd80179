"""What events change: animals found, counts passed, a pump that stopped; nothing twice, nothing of other jobs."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import pytest

from slackwater.errors import BadInput
from slackwater.job.event import Event, EventKind
from slackwater.living.assess import catches_of
from slackwater.living.happened import happened, recounted
from slackwater.living.housing import house
from tests.jobs import job_from
from tests.plans import catalog

JOB = job_from("blue-corridor")


def event(number, kind, subject, body, at="2027-02-10T09:00:00", job="BC-2027-02"):
    return Event(id=UUID(int=number), at=datetime.fromisoformat(at), kind=kind, job=job, subject=subject, body=body)


def count_of(result, species):
    return next(animals.count for animals in result.job.livestock if animals.species == species)


def test_passes_are_kept_in_their_order_and_a_wrong_census_is_lifted():
    events = [
        event(2, EventKind.COUNTED, "caridina_multidentata", {"caught": 9, "minutes": 15}, "2027-02-10T09:20:00"),
        event(1, EventKind.COUNTED, "caridina_multidentata", {"caught": 12}, "2027-02-10T09:00:00"),
    ]
    result = happened(JOB, catalog(), events)
    assert result.passes == {"caridina_multidentata": (12, 9)} and result.minutes == {"caridina_multidentata": 15.0}
    # 12 ± 4 were told, 21 are in hand.
    assert (count_of(result, "caridina_multidentata").low, count_of(result, "caridina_multidentata").high) == (21, 21)


def test_found_animals_and_a_census_change_the_count():
    found = happened(JOB, catalog(), [event(1, EventKind.COUNTED, "corydoras_aeneus", {"found": 3})])
    assert count_of(found, "corydoras_aeneus").high == 12
    census = happened(JOB, catalog(), [event(1, EventKind.COUNTED, "corydoras_aeneus", {"total": 5})])
    assert (count_of(census, "corydoras_aeneus").low, count_of(census, "corydoras_aeneus").high) == (5, 5)
    new = happened(JOB, catalog(), [event(1, EventKind.COUNTED, "neocaridina_davidi", {"found": 7})])
    assert count_of(new, "neocaridina_davidi").high == 7


def test_a_pump_that_stopped_names_its_box_and_hour():
    events = [
        event(1, EventKind.COUNTED, "corydoras_aeneus", {"caught": 4}, "2027-02-10T09:00:00"),
        event(
            2,
            EventKind.UNAVAILABLE,
            "box B",
            {"part": "battery air pump", "since": "2027-02-10T11:30:00"},
            "2027-02-10T12:00:00",
        ),
        event(3, EventKind.UNAVAILABLE, "box C", {"part": "air pump", "since": "not known"}, "2027-02-10T12:00:00"),
    ]
    assert happened(JOB, catalog(), events).failed == {"B": 2.5, "C": 0.0}


def test_events_count_once_corrected_ones_and_other_jobs_not_at_all():
    wrong = event(1, EventKind.COUNTED, "corydoras_aeneus", {"found": 3})
    events = [
        wrong,
        wrong,
        event(2, EventKind.CORRECTED, "corydoras_aeneus", {"event": str(wrong.id)}),
        event(3, EventKind.COUNTED, "corydoras_aeneus", {"found": 50}, job="another"),
        event(4, EventKind.COUNTED, "eleocharis_pusilla", {"delivered": 8}),
    ]
    assert count_of(happened(JOB, catalog(), events), "corydoras_aeneus").high == 9
    twice = happened(JOB, catalog(), [wrong, wrong])
    assert count_of(twice, "corydoras_aeneus").high == 12
    assert happened(JOB, catalog(), events).others == ("another",)
    nameless = JOB.model_copy(update={"reference": ""})
    assert happened(nameless, catalog(), [wrong]).others == ()


def test_a_count_of_a_species_nobody_knows_is_named_and_goods_are_not():
    events = [
        event(1, EventKind.COUNTED, "corydoras_aeneos", {"found": 3}),
        event(2, EventKind.COUNTED, "eleocharis_pusilla", {"delivered": 8}),
        event(3, EventKind.COUNTED, "corydoras_aeneus", {"found": 1}),
    ]
    assert happened(JOB, catalog(), events).unknown == ("corydoras_aeneos",)


@pytest.mark.parametrize("value", [-1, 2.5, "many", True])
def test_a_count_that_is_no_number_is_refused(value):
    with pytest.raises(BadInput, match="whole number of animals"):
        happened(JOB, catalog(), [event(1, EventKind.COUNTED, "corydoras_aeneus", {"caught": value})])


def test_letters_and_water_stay_when_animals_turn_up():
    boxes = house(JOB, catalog(), gross_l=208).result
    events = [
        event(1, EventKind.COUNTED, "caridina_multidentata", {"found": 40}),
        event(2, EventKind.COUNTED, "corydoras_aeneus", {"total": 6}),
        event(3, EventKind.COUNTED, "neocaridina_davidi", {"found": 5}),
    ]
    after, homeless = recounted(boxes, JOB, happened(JOB, catalog(), events).job, catalog())
    assert [(box.label, box.container, box.water_l) for box in after] == [
        (box.label, box.container, box.water_l) for box in boxes
    ]
    shrimp = next(box for box in after if "caridina_multidentata" in box.counts)
    assert dict(shrimp.counts) == {"caridina_multidentata": 56, "neocaridina_davidi": 5} and not homeless
    assert next(box for box in after if "corydoras_aeneus" in box.counts).counts["corydoras_aeneus"] == 6
    same = [box for box in boxes if not {"caridina_multidentata", "corydoras_aeneus"} & set(box.counts)]
    assert [box for box in after if box in same] == same


def test_a_kind_that_no_box_may_take_is_told():
    boxes = house(JOB, catalog(), gross_l=208).result
    big = happened(JOB, catalog(), [event(1, EventKind.COUNTED, "pterophyllum_scalare", {"found": 2})]).job
    assert recounted(boxes, JOB, big, catalog())[1] == {"pterophyllum_scalare": 2}


def test_when_all_that_were_counted_are_in():
    assert catches_of({"a": (4,)}, {}, {"a": 4})[0].advice == "all_in"
    assert catches_of({"a": (3,)}, {}, {"a": 4})[0].advice == "not_yet"


def test_when_to_stop_catching():
    # Worked figures of the trade: 46, 29, 20 tell 128, so 33 are left; 5, 3, 1 tell 9; one pass tells nothing.
    many, few, once = catches_of({"a": (46, 29, 20), "b": (5, 3, 1), "c": (7,)}, {"a": 15.0})
    assert many.left == pytest.approx(33, abs=1) and many.advice == "go_on" and many.minutes_to_90 > 60
    assert few.left == pytest.approx(0, abs=0.5) and few.advice == "stop" and few.left_high > 5
    assert once.advice == "not_yet" and once.left is None
    rising = catches_of({"d": (3, 5)}, {})[0]
    assert rising.left is None and rising.left_high is None and rising.advice == "go_on"


def test_times_with_and_without_an_offset_stand_in_one_order():
    # Berlin in winter: 08:30 universal time is 09:30 at the site, between 09:00 and 10:00.
    mid = event(2, "counted", "caridina_multidentata", {"caught": 3}, at="2027-02-10T08:30:00Z")
    first = event(1, "counted", "caridina_multidentata", {"caught": 5}, at="2027-02-10T09:00:00")
    last = event(3, "counted", "caridina_multidentata", {"caught": 1}, at="2027-02-10T10:00:00+01:00")
    for zone in ({}, {"site.time_zone": None}):
        found = happened(job_from(**zone), catalog(), [last, mid, first])
        assert sorted(found.passes["caridina_multidentata"]) == [1, 3, 5]
    found = happened(job_from(), catalog(), [last, mid, first])
    assert found.passes["caridina_multidentata"] == (5, 3, 1)
