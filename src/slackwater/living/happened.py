"""What has happened so far, as far as boxes go: animals found, a census that was wrong, an air pump that stopped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from slackwater.errors import BadInput
from slackwater.job.catalog import Catalog
from slackwater.job.event import Event, EventKind, at_site
from slackwater.job.fields import Count
from slackwater.job.model import Animals, Job
from slackwater.living.housing import breathing_mg_h, kinds_of
from slackwater.living.packing import may_share
from slackwater.water.result import BoxUse

COUNTS = ("caught", "found", "total")
"""Words for a pass, for more than were thought, and for a census."""


@dataclass(frozen=True)
class Happened:
    """What the events change.

    Attributes
    ----------
    job : Job
        The same job with the animals that are known by now.
    passes : mapping
        Counts of each pass by species, in the order of time; and the minutes of a pass.
    misnumbered : mapping
        Numbers of the passes of a species as told, where they are not 1, 2, 3 … in the order of time.
    readings : tuple of Event
        Measured in the tank.
    unknown : tuple of str
        What animals were counted of that the catalog does not know.
    others : tuple of str
        References of other jobs whose events were passed over, one for each event.
    failed : mapping
        Boxes without air by label, and from which hour of holding on; 0 where nobody knows since when.
    """

    job: Job
    passes: Mapping[str, tuple[int, ...]]
    misnumbered: Mapping[str, tuple[str, ...]]
    minutes: Mapping[str, float]
    failed: Mapping[str, float]
    readings: tuple[Event, ...] = ()
    unknown: tuple[str, ...] = ()
    others: tuple[str, ...] = ()


def _number(event: Event, name: str) -> int | None:
    value = event.body.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or value < 0 or value != int(value):
        raise BadInput(
            f"event {event.id}: {name} is {value!r}, expected a whole number of animals, 0 or more; correct the event"
        )
    return int(value)


def standing(events: Iterable[Event]) -> tuple[Event, ...]:
    """Events in the order of time, each once, those left out that were corrected later."""
    unique = {event.id: event for event in events}
    wrong = {str(event.body.get("event")) for event in unique.values() if event.kind is EventKind.CORRECTED}
    found = [event for name, event in unique.items() if str(name) not in wrong]
    return tuple(sorted(found, key=lambda event: (event.at, event.device, event.seq)))


def happened(job: Job, catalog: Catalog, events: Sequence[Event]) -> Happened:
    """What the events say of animals and air.

    Parameters
    ----------
    events : sequence of Event
        Of this job; others are passed over and told. A job without a reference takes all as its own. ``counted`` of a species with `caught` (a pass), `found` (more than were
        thought) or `total` (a census); ``unavailable`` of a box whose part is a pump, with `since` if known.

    Raises
    ------
    BadInput
        If a count is no whole number.
    """
    zone = _zone(job)
    every = standing(event.model_copy(update={"at": at_site(event.at, zone)}) for event in events)
    mine = [event for event in every if not job.reference or event.job == job.reference]
    passes: dict[str, tuple[int, ...]] = {}
    minutes: dict[str, float] = {}
    numbers: dict[str, tuple[str, ...]] = {}
    counts = {animals.species: animals for animals in job.livestock or ()}
    caught_from: datetime | None = None
    failed: dict[str, float] = {}
    unknown: dict[str, None] = {}
    for event in mine:
        if event.kind is EventKind.COUNTED and event.subject in catalog.species:
            caught, found, total = (_number(event, name) for name in COUNTS)
            if caught is not None:
                caught_from = caught_from or event.at
                passes[event.subject] = (*passes.get(event.subject, ()), caught)
                if "pass" in event.body:
                    numbers[event.subject] = (*numbers.get(event.subject, ()), str(event.body["pass"]))
                length = event.body.get("minutes")
                if isinstance(length, int | float) and not isinstance(length, bool) and length > 0:
                    minutes[event.subject] = float(length)
            counts = _counted(
                counts, event.subject, caught=sum(passes.get(event.subject, ())), found=found, total=total
            )
        elif event.kind is EventKind.COUNTED and any(name in event.body for name in COUNTS):
            unknown[event.subject] = None
        elif event.kind is EventKind.UNAVAILABLE and "pump" in str(event.body.get("part", "")):
            label = event.subject.removeprefix("box").strip().upper()
            failed[label] = _hour(event, caught_from, zone)
    return Happened(
        job=job.model_copy(update={"livestock": tuple(counts.values())}) if job.livestock is not None else job,
        passes=passes,
        misnumbered={
            name: told
            for name, told in numbers.items()
            if told != tuple(str(number) for number in range(1, len(passes[name]) + 1))
        },
        minutes=minutes,
        failed=failed,
        readings=tuple(event for event in mine if event.kind is EventKind.MEASURED and event.subject == "tank"),
        unknown=tuple(unknown),
        others=tuple(event.job for event in every if event not in mine),
    )


def _zone(job: Job) -> ZoneInfo | None:
    return ZoneInfo(job.site.time_zone) if job.site.time_zone else None


def _hour(event: Event, from_: datetime | None, zone: ZoneInfo | None) -> float:
    """Hour of holding at which air stopped; 0 where it is not known, because it may have been any."""
    since = event.body.get("since")
    try:
        moment = at_site(datetime.fromisoformat(str(since)), zone)
    except ValueError:
        return 0.0
    if from_ is None:
        return 0.0
    return max(0.0, (moment - from_).total_seconds() / 3600)


def _counted(
    counts: Mapping[str, Animals], species: str, *, caught: int, found: int | None, total: int | None
) -> dict[str, Animals]:
    now = dict(counts)
    animals = now.get(species, Animals(species=species, count=Count(low=0, high=0)))
    low, high = animals.count.low or 0, animals.count.high or 0
    if total is not None:
        low = high = total
    if found is not None:
        low, high = low + found, high + found
    # More in hand than were thought to be there: the census was wrong.
    now[species] = animals.model_copy(update={"count": Count(low=max(low, caught), high=max(high, caught))})
    return now


def recounted(
    boxes: tuple[BoxUse, ...], before: Job, now: Job, catalog: Catalog
) -> tuple[tuple[BoxUse, ...], Mapping[str, int]]:
    """The boxes as they stand with the animals known by now, and those for whom none of them will do.

    Letters and water stay: what is written on a box on the day must go on meaning that box. More animals of a kind go to the
    box that has most of it already, a new kind to the first box whose animals it may share with.
    """
    kinds = {kind.id: kind for kind in kinds_of(now, catalog)}
    highs = {animals.species: animals.count.high or 0 for animals in before.livestock or () if animals.keep}
    contents = [dict(box.counts) for box in boxes]
    homeless: dict[str, int] = {}
    for name, kind in kinds.items():
        more = kind.count - highs.get(name, 0)
        holding = [place for place, content in enumerate(contents) if name in content]
        holding.sort(key=[-content.get(name, 0) for content in contents].__getitem__)
        if more < 0:
            for place in holding:
                taken = min(contents[place][name], -more)
                contents[place][name] -= taken
                more += taken
        elif more > 0:
            sharing = holding or [
                place
                for place, content in enumerate(contents)
                if content and all(may_share(kind, kinds[other]) for other in content if other in kinds)
            ]
            if sharing:
                contents[sharing[0]][name] = contents[sharing[0]].get(name, 0) + more
            else:
                homeless[name] = more
    return tuple(
        box.model_copy(
            update={
                "counts": content,
                "species": tuple(content),
                "animals_high": sum(content.values()),
                "animal_mass_kg": sum(count * catalog.species[name].typical_mass_g for name, count in content.items())
                / 1000,
                "oxygen_mg_h": breathing_mg_h(content, now, catalog),
            }
        )
        for box, content in zip(boxes, contents, strict=True)
    ), homeless
