"""The pipeline from a job to a plan; nothing here touches a disk, a clock or a network."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from itertools import count
from math import ceil
from typing import TypeVar

import numpy as np

from slackwater.day.activities import Minutes, minutes_of
from slackwater.day.assess import BookedDay, JobVariant, Variants, assess_day, booked_day, day_lacks, past_jobs
from slackwater.day.drivers import Driver, RoomQuantities, Standing
from slackwater.day.moves import CatchLeft, Replanned, replanned
from slackwater.day.paid import night_minutes, paid_minutes
from slackwater.day.problem import REFRESHES
from slackwater.day.progress import facts_of, minute_of
from slackwater.day.result import DayResult, Entry
from slackwater.day.risk import DAYS, pert
from slackwater.day.solve import Effort
from slackwater.day.version import learned
from slackwater.errors import BadInput
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity, Verdict, verdict
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog
from slackwater.job.event import Event
from slackwater.job.experience import Experience
from slackwater.job.model import Job, OfferOption
from slackwater.job.options import with_option
from slackwater.job.screen import fact_missing, screen
from slackwater.job.variants import VARIANTS
from slackwater.layout.assess import assess_bed, old_soil_l
from slackwater.layout.result import BedResult, LayoutResult, LayoutStage
from slackwater.light.result import LightResult
from slackwater.living.assess import (
    Waiting,
    assess_waiting,
    catches_of,
    catching_findings,
    heater_sold_w,
    stay_findings,
    with_clocks,
)
from slackwater.living.catching import minutes_to_share, removal
from slackwater.living.happened import Happened, happened, recounted
from slackwater.living.housing import house
from slackwater.living.peroxide import spray_l
from slackwater.living.result import Catch, Living, OptionOutcome, Stay, Weeks
from slackwater.living.setup import refilled_on, unsettled, water_of
from slackwater.living.waiting import on_the_day
from slackwater.living.weeks import (
    EVERY_CALENDAR,
    USUAL,
    Thoroughness,
    assess_weeks,
    reading_findings,
    return_on_the_day,
    weeks_lack,
)
from slackwater.planting.assess import assess_planting, planted
from slackwater.planting.ground import LightMap
from slackwater.planting.result import PlantingResult
from slackwater.stage import Stage
from slackwater.supply.asked import further_visit_price
from slackwater.supply.assess import assess_supply
from slackwater.supply.calendar import LAST_DAY, priced_visits
from slackwater.supply.disposal import waste_mass_kg
from slackwater.supply.packing import packed_mass_kg, packing_items
from slackwater.supply.price import OFFICE_PHASES
from slackwater.supply.result import BagNeed, PlannedOption, Quantities, Step, Supply, VisitWater, WorkDay
from slackwater.tank.assess import assess_tank, hardscape_solid_l, volumes_of
from slackwater.tank.loads import BAGS_AT_EDGE_KG, assess_loads, near_tank_kg, near_tank_said
from slackwater.tank.power import assess_power, device_watts, ours_w
from slackwater.tank.result import Loads, TankShape, Volumes
from slackwater.water.assess import MIX, assess_water, box_masses, water_lacks
from slackwater.water.result import BoxUse, WaterBudget, brought_back
from slackwater.water.returning import HeldBox, returns

OnProgress = Callable[[str], None]
PLANTING = "E22"
CATCH_FISH, CATCH_REST, DRIPPED, LET_GO = "E5", "E6", "E27", "E28"
"""Activities of the table between which the animals are in their boxes."""
WORSE_SHARE = 0.1
"""A limit missed by less than this share more than before is missed as before; common practice, no source."""
LEAST_CHANGE = 0.05
"""Litres and counts that a variant changes by less are the same."""
OFFICE_STREAM, OFFICE_STEPS = 13, 20
"""A stream of draws of its own, so that no other draw moves with it; steps of a twentieth each."""
RETURN_DECISIONS = ("living.not_today", "living.not_at_all")
ABOUT_THE_LIVING = ("job.species_unknown", "job.uncounted", "job.container_unknown")
"""What is found before any computation and makes an answer about boxes or weeks wrong."""
T = TypeVar("T")


class Plan(Frozen):
    """Everything computed from one job. A part is None where facts are missing; the findings then say which."""

    format: int = 1
    version: str
    """Version of the program."""
    job_name: str
    reference: str
    job_hash: str
    """SHA-256 of the job's content: same job, same plan."""
    seed: int
    verdict: Verdict
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    assumed: tuple[Assumption, ...]
    tank: TankShape | None
    bed: BedResult | None
    layout: LayoutResult | None = None
    """Where stones and wood stand; None where they were estimated from their masses."""
    light: LightResult | None = None
    """The light on the bed; None where it was not reckoned, or there is none."""
    planting: PlantingResult | None = None
    """Zones and what is planted in them; None where there is no bed yet."""
    volumes: Volumes | None
    loads: Loads | None
    water: WaterBudget | None
    living: Living | None
    day: DayResult | None
    supply: Supply | None
    options: tuple[PlannedOption, ...] = ()
    """Of the offer, in its order; empty where the job names none."""
    experience: Experience = Experience()
    """What the firm's own finished jobs took, as it went into this plan."""
    experience_hash: str = ""
    """SHA-256 of it; empty where there was none. Same job, same experience: same plan."""


def job_hash(job: Job) -> str:
    """SHA-256 over the job's content in a canonical form, reading errors included."""
    readings = [reading for reading in (job.water.tap, job.water.tank, *job.water.other) if reading is not None]
    errors = [(sorted(item.stated_error.items()), sorted(item.below_detection)) for item in readings]
    return hashlib.sha256((job.model_dump_json() + repr(errors)).encode()).hexdigest()


class _Gathered:
    """Figures, findings, defaults and missing facts of the rooms, in the order of the pipeline."""

    def __init__(self) -> None:
        self.figures: list[Figure] = []
        self.findings: list[Finding] = []
        self.assumed: list[Assumption] = []
        self.stopped_by: dict[str, None] = {}
        """Facts for want of which some room has no result, in order."""

    def take(self, part: str, stage: Stage[T], lacking: Severity = Severity.MISSING) -> T | None:
        """Keep what a room says; what it lacks becomes a finding about that part of the plan."""
        self.figures += stage.figures
        self.findings += stage.findings
        self.assumed += [item for item in stage.assumed if item not in self.assumed]
        if stage.lacks:
            self.findings.append(fact_missing(part, stage.lacks, lacking))
        if stage.result is None:
            self.stopped_by |= dict.fromkeys(stage.lacks)
        return stage.result

    def cannot_begin(self, part: str, own: tuple[str, ...] = ()) -> None:
        """A part that waits for rooms before it: what they lack is what it lacks, beside what it asks for itself."""
        lacks = tuple(dict.fromkeys((*own, *self.stopped_by)))
        if lacks:
            self.findings.append(fact_missing(part, lacks))


def _old_soil_l(job: Job, shape: TankShape | None) -> float | None:
    """Old soil that comes out of the tank."""
    if shape is None:
        return None if job.old.soil_l is None else (1 - job.old.kept_share) * job.old.soil_l
    whole = old_soil_l(job, footprint_m2=shape.footprint_m2)
    return None if whole is None else (1 - job.old.kept_share) * whole


def _bags(bed: BedResult | None, job: Job) -> tuple[BagNeed, ...]:
    """Bags of each material, stock on hand and price from the job file."""
    if bed is None:
        return ()
    named = {layer.material: layer for layer in (job.bed.soil, job.bed.base) if layer is not None}
    if job.bed.top_layer is not None:
        named.setdefault(job.bed.top_layer.layer.material, job.bed.top_layer.layer)
    for bay in job.bed.bays:
        named.setdefault(bay.layer.material, bay.layer)
    return tuple(
        BagNeed(
            material=layer.material,
            bags=layer.bags or 0,
            bag_l=layer.bag_l or 0.0,
            on_hand_bags=named[layer.material].on_hand_bags,
            price_per_bag=named[layer.material].bag_price,
        )
        for layer in bed.layers
        if layer.bags
    )


def _containers(water: WaterBudget | None) -> Mapping[str, int]:
    if water is None:
        return {}
    used = Counter(box.container for box in water.boxes) + Counter(fill.container for fill in water.barrels)
    return dict(sorted(used.items()))


def _work_start(job: Job) -> datetime | None:
    return next((window.start for window in job.site.windows or () if window.kind == "day"), None)


def _work_days(job: Job, day: DayResult | None) -> tuple[WorkDay, ...]:
    """The simulated days as hours of the crew, paid as those of the planned day are."""
    if day is None:
        return ()
    planned, _ = paid_minutes(job, day)
    people = {person.id: person for person in job.people or ()}
    found = []
    for hours in day.risk.hours:
        minutes, night = {}, {}
        for name in planned:
            person = people[name]
            starts = min(entry.start_min for entry in day.entries if name in entry.crew)
            end = round(hours.finish_min if person.until is None else hours.ends_min.get(name, hours.finish_min))
            minutes[name] = max(0, end - (0 if person.from_ is None else starts))
            night[name] = night_minutes(person, day, end)
        found.append(
            WorkDay(
                crew_minutes=minutes,
                crew_night_minutes=night,
                closed_kept=hours.closed_kept,
                closed_broken=hours.closed_broken,
                late_kept=hours.late_kept,
                late_broken=hours.late_broken,
            )
        )
    return tuple(found)


def _again_min(day: DayResult | None) -> int:
    """Minutes to set up and to clear away, as planned: a second visit takes them once more."""
    spans = []
    for phase in ("arrive", "close"):
        entries = [entry for entry in day.entries if entry.phase == phase] if day is not None else []
        if entries:
            spans.append(max(entry.end_min for entry in entries) - min(entry.start_min for entry in entries))
    return sum(spans)


def _office_min(catalog: Catalog, *, seed: int) -> tuple[float, ...]:
    """Minutes of the work before the day in equally likely steps, each activity drawn on its own from its three points."""
    rng = np.random.default_rng((seed, OFFICE_STREAM))
    drawn = sum(
        (
            pert(Minutes(row.min_low, row.min_typ, row.min_high), rng, DAYS)
            for row in catalog.office_activities.values()
            if row.id[0] in OFFICE_PHASES
        ),
        np.zeros(DAYS),
    )
    return tuple(round(float(step.mean()), 1) for step in np.array_split(np.sort(drawn), OFFICE_STEPS))


def _later_planting_min(job: Job, catalog: Catalog) -> float:
    """Typical minutes of the carpet where it is left to the first visit: the day is shorter by them, the job is not."""
    if not job.brief.carpet_later:
        return 0.0
    rows = [(catalog.plants.get(planting.plant), planting.units) for planting in job.plants or ()]
    portions = sum(units * row.portions_per_unit for row, units in rows if row and row.position == "carpet")
    span = minutes_of(catalog.activities[PLANTING], Driver(quantity=float(portions)))
    return learned(span, past_jobs(job, catalog).get(PLANTING, ())).typical


def _visit_water(weeks: Weeks | None, water: WaterBudget | None) -> tuple[VisitWater, ...]:
    """Changes of the plan for the weeks after, each with the permeate in it."""
    if weeks is None or weeks.plan is None:
        return ()
    share = 0.0 if water is None or not water.ro_l or not water.new_l else min(1.0, water.ro_l / water.new_l)
    return tuple(
        VisitWater(day=day, litres=litres, permeate_l=share * litres if kind == MIX else 0.0)
        for day, litres, kind in zip(weeks.plan.days, weeks.plan.litres, weeks.plan.waters, strict=True)
    )


def plan(
    job: Job,
    catalog: Catalog,
    *,
    version: str,
    laid: LayoutStage | None = None,
    lit: Stage[LightResult] | None = None,
    effort: Effort | None = None,
    thoroughness: Thoroughness = USUAL,
    on_progress: OnProgress = lambda _: None,
) -> Plan:
    """Everything that can be computed from a job, with an honest verdict.

    Parameters
    ----------
    job, catalog : Job, Catalog
        What is known.
    version : str
        Version of the program, noted in the plan.
    laid : LayoutStage or None
        Where stones and wood stand (`layout.compose`); None: their litres are estimated from their masses.
    lit : Stage of LightResult or None
        The light over that layout (`light.assess`), followed before it like the layout is laid; None: not reckoned.
    effort : Effort or None
        How hard to try for the best day.
    thoroughness : Thoroughness
        How many members and calendars the weeks after are reckoned with.
    on_progress : callable
        Told in a few words what is being computed.
    """
    gathered = _Gathered()
    gathered.findings += screen(job, catalog)
    light = None if lit is None else gathered.take("the light", lit)
    before = _up_to_the_day(job, catalog, gathered, on_progress, laid, light=light)
    asked, job = job, before.job
    shape, bed, water, waiting = before.shape, before.bed, before.water, before.waiting
    # The day's solver works outside Python's lock, so the weeks after are followed meanwhile; neither asks the other.
    with ThreadPoolExecutor(max_workers=1) as meanwhile:
        following = meanwhile.submit(_weeks_after, job, catalog, shape, bed, water, thoroughness, on_progress)
        day_stage = assess_day(
            job,
            before.catalog,
            before.rooms,
            work_places=before.work_places,
            effort=effort,
            variants=_variants(job, catalog, before, gathered),
            on_progress=on_progress,
        )
        weeks_stage = following.result()
    day = _day_taken(job, catalog, gathered, day_stage)
    weeks = _weeks_taken(job, catalog, gathered, weeks_stage)
    if day is not None and water is not None and waiting is not None:
        waiting, water = _with_the_day(job, catalog, day, waiting, water)
        gathered.findings += stay_findings(waiting.boxes)
    if day is not None and weeks is not None and _animals_wait(job, may_return=weeks.may_return_today):
        day = _held_back(day, catalog)
    on_progress("ordering, packing and pricing")
    on_site, night = paid_minutes(job, day)
    quantities = before.quantities.model_copy(
        update={
            "crew_minutes": on_site,
            "crew_night_minutes": night,
            "work_days": _work_days(job, day),
            "office_min": _office_min(catalog, seed=job.seed),
            "second_visit_min": float(_again_min(day)),
            "visit_water": _visit_water(weeks, water),
            "later_planting_min": _later_planting_min(job, catalog),
        }
    )
    supply_stage = assess_supply(job, catalog, quantities)
    if day is None:
        # Without a day there are no hours; saying that the price lacks them too would only repeat it.
        supply_stage = Stage(
            result=supply_stage.result,
            figures=supply_stage.figures,
            findings=supply_stage.findings,
            assumed=supply_stage.assumed,
        )
    # A price that cannot be told yet does not keep the day from fitting: it is to be settled, like other conditions.
    supply = gathered.take("the price", supply_stage, lacking=Severity.CONDITION)
    made = Plan(
        version=version,
        job_name=job.name,
        reference=job.reference,
        job_hash=job_hash(asked),
        seed=job.seed,
        verdict=verdict(gathered.findings),
        findings=_in_order(gathered.findings),
        figures=tuple(gathered.figures),
        assumed=tuple(gathered.assumed),
        tank=shape,
        bed=bed,
        layout=None if laid is None else laid.stage.result,
        light=light,
        planting=before.planting,
        volumes=before.volumes,
        loads=before.loads,
        water=water,
        living=_living(waiting, weeks, lacks=unsettled(job, catalog)),
        day=day,
        supply=supply,
        experience=catalog.experience,
        experience_hash=catalog.experience.mark,
    )
    return with_return(made, job, further_visit_price(job, catalog, quantities))


def with_options(
    found: Plan,
    job: Job,
    catalog: Catalog,
    *,
    laid: LayoutStage | None = None,
    lit: Stage[LightResult] | None = None,
    effort: Effort | None = None,
    thoroughness: Thoroughness = USUAL,
    on_progress: OnProgress = lambda _: None,
) -> Plan:
    """A plan with the options of its offer, each run through all rooms as a job of its own.

    What would make an option fit is not asked of the day: that is a question to the job as it stands.
    """
    asked = replace(effort or Effort(seed=job.seed), why=0.0)
    options = []
    for option in job.price.options:
        varied, idle = with_option(job, catalog, option)
        on_progress(f"planning the option {option.name}")
        planned = found
        if set(option.changes) - set(idle):
            planned = plan(
                varied, catalog, version=found.version, laid=laid, lit=lit, effort=asked, thoroughness=thoroughness
            )
        options.append(_planned_option(option, idle, varied, planned, found))
    return found.model_copy(update={"options": tuple(options)})


def _planned_option(
    option: OfferOption, idle: tuple[str, ...], varied: Job, planned: Plan, found: Plan
) -> PlannedOption:
    day, supply = planned.day, planned.supply
    return PlannedOption(
        name=option.name,
        changes=option.changes,
        idle=idle,
        job_hash=job_hash(varied),
        verdict=planned.verdict,
        finish=None if day is None else day.finish,
        margin_min=None if day is None else day.margin_min,
        done_by_closing=None if day is None or day.finish is None else day.risk.as_planned.done_by_closing.share,
        plants=sum(item.units for item in as_planted(varied, planned).plants or ()),
        visits=len(priced_visits(varied)),
        price=None if supply is None else supply.price,
        adds=_added(found.findings, planned.findings),
        spares=_added(planned.findings, found.findings),
    )


def as_planted(job: Job, plan: Plan) -> Job:
    """The job with the plants that its plan was made with: what papers list where the job leaves them open."""
    return job if plan.planting is None else planted(job, plan.planting)


def day_as_booked(
    job: Job,
    catalog: Catalog,
    *,
    laid: LayoutStage | None = None,
    effort: Effort | None = None,
    on_progress: OnProgress = lambda _: None,
) -> tuple[BookedDay | None, tuple[Finding, ...]]:
    """The solved day by the same rooms as the whole plan, without the price; None where there is none.

    Of the weeks after, it asks only whether the animals may go back today. Its catalog has the clocks of the boxes and the
    filter of this job, and the names that work with animals has by that decision.
    """
    gathered = _Gathered()
    before = _up_to_the_day(job, catalog, gathered, on_progress, laid)
    job = before.job
    booked = booked_day(
        job, before.catalog, before.rooms, work_places=before.work_places, effort=effort, on_progress=on_progress
    )
    if isinstance(booked, Stage):
        _day_taken(job, catalog, gathered, booked)
        return None, _in_order(gathered.findings)
    on_progress("asking whether the animals may go back today")
    today = _today(job, catalog, before)
    if before.water is not None:
        booked = replace(booked, boxes=tuple(box.label for box in before.water.boxes))
    if today is None or not _animals_wait(job, may_return=today.passes):
        return booked, booked.findings
    day = replace(booked.day, catalog=booked.day.catalog.with_animals_waiting())
    told = () if job.all_boarded else (_held_today(today),)
    return replace(booked, day=day, animals_wait=True), (*told, *booked.findings)


MOST_OF_THE_REST = 0.9
"""Share of the animals still there that a longer catch is to take; common practice, no source."""
USUAL_PASS_MIN = 20.0
"""Minutes of a pass where nobody noted them; common practice, no source."""


def day_now(booked: BookedDay, events: Sequence[Event], now: datetime) -> Replanned:
    """The day planned again from what has happened, with the ways out of it ranked.

    Parameters
    ----------
    booked : BookedDay
        The day as it was planned.
    events : sequence of Event
        The log so far, in any order.
    now : datetime
        Local time of the site.

    Raises
    ------
    BadInput
        If `now` lies before the start of access or a day or more after its end.
    """
    face, job, catalog = booked.day.face, booked.day.job, booked.day.catalog
    now_min = minute_of(face, now)
    opens, closes = face.moment(0), face.moment(booked.day.closes_min)
    if not 0 <= now_min <= booked.day.closes_min + 24 * 60:
        raise BadInput(
            f"it cannot be {now:%Y-%m-%d %H:%M} on this day: access is from {opens:%Y-%m-%d %H:%M} to "
            f"{closes:%Y-%m-%d %H:%M}; give a time from the start of access on"
        )
    facts = facts_of(
        events,
        booked.problem,
        booked.schedule,
        face=face,
        now_min=now_min,
        reference=job.reference,
        labels={row.id: row.activity for row in catalog.activities.values()},
        caught_in={row.id: CATCH_FISH if row.group == "fish" else CATCH_REST for row in catalog.species.values()},
        on_call=[person.id for person in job.people or () if person.on_call],
        boxes=booked.boxes,
        filters=None if job.filters is None else [item.name for item in job.filters],
    )
    left = {}
    for name, counts in facts.passes.items():
        if len(counts) >= 2:
            estimate = removal(counts)
            per_pass = facts.pass_minutes.get(name, USUAL_PASS_MIN)
            minutes = minutes_to_share(estimate, share=MOST_OF_THE_REST, minutes_per_pass=per_pass)
            left[name] = CatchLeft(
                total=estimate.total, left=estimate.left, high=estimate.high, minutes_for_most=minutes
            )
    return replanned(booked, facts, left=left)


UNFED_DAYS = 2
"""Nobody feeds on the day of the animals' return and on the one after it; common practice, no source."""


class AnimalsBack(Frozen):
    """When animals that wait come back, for all papers.

    Attributes
    ----------
    day : int
        After the refill; 0: on the day itself.
    on, fed_from : date
    at_visit : bool
        Whether that day is a visit of the contract; otherwise somebody comes for it beside them.
    """

    day: int
    on: date
    fed_from: date
    at_visit: bool


def animals_back(plan: Plan, job: Job) -> AnimalsBack | None:
    """The one decision of when the animals come back; None where there are none to keep or no day can be told.

    Where they wait, it is the first visit that can take place once their limits are kept, for somebody is there then.
    """
    weeks = None if plan.living is None else plan.living.weeks
    if weeks is None or weeks.refilled is None or not any(animals.keep for animals in job.livestock or ()):
        return None
    if not _animals_wait(job, may_return=weeks.may_return_today):
        day, at_visit = 0, False
    else:
        waits = [item for item in weeks.options if item.passes and item.return_day > 0]
        way = next((item for item in waits if item.id == "hold"), next(iter(waits), None))
        if way is None:
            return None
        least = ceil(way.return_day)
        open_days = [
            number
            for number in job.contract.visit_days(last_day=LAST_DAY)
            if number >= least and weeks.refilled + timedelta(days=number) not in job.days_without_visit
        ]
        beside = next(n for n in count(least) if weeks.refilled + timedelta(days=n) not in job.days_without_visit)
        day, at_visit = (open_days[0], True) if open_days else (beside, False)
    on = weeks.refilled + timedelta(days=day)
    return AnimalsBack(day=day, on=on, fed_from=on + timedelta(days=UNFED_DAYS), at_visit=at_visit)


def with_return(plan: Plan, job: Job, visit_price: Decimal | None) -> Plan:
    """The plan with the animals' return in its calendar where they wait, and told where a visit of its own brings them.

    Parameters
    ----------
    visit_price : Decimal or None
        What such a visit is charged with in all; None where it cannot be told.
    """
    back = animals_back(plan, job)
    if back is None or back.day == 0:
        return plan
    if not back.at_visit:
        findings = _in_order([*plan.findings, _own_visit(back, job, visit_price)])
        plan = plan.model_copy(update={"findings": findings, "verdict": verdict(findings)})
    if plan.supply is None or not plan.supply.calendar:
        return plan
    step = Step(id="animals_back", on=back.on, at=None, values={"day": back.day})
    steps = list(plan.supply.calendar)
    place = next(
        (n for n, one in enumerate(steps) if (one.on or (one.at and one.at.date()) or back.on) > back.on), len(steps)
    )
    steps.insert(place, step)
    return plan.model_copy(update={"supply": plan.supply.model_copy(update={"calendar": tuple(steps)})})


def _own_visit(back: AnimalsBack, job: Job, visit_price: Decimal | None) -> Finding:
    """No visit of the contract brings the animals back: one of its own does, and what it is charged with."""
    values: dict[str, float | str] = {"date": f"{back.on:%a %d %b}", "day": back.day}
    if visit_price is None:
        return Finding(id="supply.return_visit_unpriced", severity=Severity.CONDITION, values=values)
    values["price"] = f"{visit_price:.2f} {job.price.currency}"
    return Finding(id="supply.return_visit", severity=Severity.CONDITION, values=values)


def _stays(day: DayResult, catalog: Catalog, boxes: tuple[BoxUse, ...]) -> Mapping[str, Stay]:
    """When the animals of each box come in and go out on the day that was found."""
    when = {entry.activity: entry for entry in day.entries}
    if DRIPPED not in when or LET_GO not in when:
        return {}
    found = {}
    for box in brought_back(boxes):
        fish = {catalog.species[name].group == "fish" for name in box.species}
        catching = [
            when[name] for name, wanted in ((CATCH_FISH, True), (CATCH_REST, False)) if wanted in fish and name in when
        ]
        if not catching:
            continue
        first, last = catching[0].start_min, catching[-1].end_min
        refreshed = [when[name].start_min for name in REFRESHES if name in when and when[name].start_min > first]
        found[box.label] = Stay(
            caught_from_min=first,
            caught_by_min=last,
            dripped_from_min=when[DRIPPED].start_min,
            let_go_from_min=when[LET_GO].start_min,
            let_go_by_min=when[LET_GO].end_min,
            changed_min=tuple(refreshed),
        )
    return found


def _animals_wait(job: Job, *, may_return: bool) -> bool:
    """The one decision for all papers: whether no animal goes back on the day, by the odds or because all are boarded."""
    return not may_return or job.all_boarded


def _today(job: Job, catalog: Catalog, before: _Before) -> OptionOutcome | None:
    if before.shape is None or before.bed is None or before.water is None:
        return None
    return return_on_the_day(
        job,
        catalog,
        before.water,
        soil_l=_active_soil_l(before.bed, catalog),
        footprint_m2=before.shape.footprint_m2,
    )


def _held_today(today: OptionOutcome) -> Finding:
    values = {"kept": f"{100 * today.kept:.0f}"}
    return Finding(id="day.animals_wait", severity=Severity.CONDITION, values=values)


def _held_back(day: DayResult, catalog: Catalog) -> DayResult:
    """The same day, its second date included, with the animals made ready to wait on in place of their release.

    That takes about as long.
    """
    rows = catalog.with_animals_waiting().activities

    def named(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
        return tuple(
            entry if entry.activity not in rows else entry.model_copy(update={"label": rows[entry.activity].activity})
            for entry in entries
        )

    return day.model_copy(
        update={name: named(getattr(day, name)) for name in ("entries", "first_day", "second_day")},
    )


def _day_taken(job: Job, catalog: Catalog, gathered: _Gathered, stage: Stage[DayResult]) -> DayResult | None:
    """The day; where it waits for rooms before it, it is told by the facts that they lack, not by all they ask for."""
    if stage.result is not None or not stage.lacks:
        return gathered.take("the day", stage)
    gathered.cannot_begin("the day", own=day_lacks(job, catalog))
    return gathered.take("the day", replace(stage, lacks=()))


def _weeks_taken(job: Job, catalog: Catalog, gathered: _Gathered, stage: Stage[Weeks] | None) -> Weeks | None:
    if stage is not None:
        return gathered.take("the weeks after", stage)
    gathered.cannot_begin("the weeks after", own=weeks_lack(job, catalog))
    return None


def _said_once(findings: Sequence[Finding]) -> list[Finding]:
    """Parts that wait for the very same facts in one finding, in the place of the first."""
    waiting: dict[tuple[Severity, str], list[str]] = {}
    missing = [finding for finding in findings if finding.id == "job.fact_missing"]
    for finding in missing:
        waiting.setdefault((finding.severity, str(finding.values["fields"])), []).append(finding.about)
    found = []
    for finding in findings:
        if finding in missing:
            *parts, last = waiting.pop((finding.severity, str(finding.values["fields"])), [""])
            if not last:
                continue
            told = f"{', '.join(parts)} and {last}" if parts else last
            finding = finding.model_copy(update={"values": {**finding.values, "part": told}})
        found.append(finding)
    return found


def _in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The gravest first, and among equals whether the animals may go back."""
    grave = list(Severity)
    return tuple(
        sorted(
            _said_once(findings),
            key=lambda finding: (-grave.index(finding.severity), finding.id not in RETURN_DECISIONS),
        )
    )


def _with_the_day(
    job: Job, catalog: Catalog, day: DayResult, waiting: Waiting, water: WaterBudget
) -> tuple[Waiting, WaterBudget]:
    """Boxes and their bringing over at the hours of the day that was found, instead of those assumed before it."""
    old = water_of(water.old_water)
    boxes = on_the_day(
        waiting.boxes,
        water.boxes,
        _stays(day, catalog, water.boxes),
        job,
        catalog,
        old=old,
        temp_c=water.old_water.temp_c,
        rng=np.random.default_rng(job.seed),
    )
    held = {}
    for box in boxes:
        if box.stay is not None:
            hours = (box.stay.dripped_from_min - box.stay.caught_from_min) / 60
            tan, temp = (
                np.interp(hours, box.course.hours, [middle for _, middle, _ in band])
                for band in (box.course.tan_mg_l, box.course.temp_c)
            )
            gained = max(0.0, float(tan) - box.course.tan_mg_l[0][1])
            held[box.label] = HeldBox(hours=hours, tan_gained_mg_l=gained, temp_c=float(temp))
    back = returns(brought_back(water.boxes), catalog, old=old, refill=water_of(water.refill), held=held)
    return replace(waiting, boxes=boxes), water.model_copy(update={"returns": back})


def _living(
    waiting: Waiting | None, weeks: Weeks | None, catches: tuple[Catch, ...] = (), *, lacks: tuple[str, ...]
) -> Living | None:
    if waiting is None:
        return None
    return Living(
        boxes=waiting.boxes,
        clocks=waiting.clocks,
        filter=waiting.filter_state,
        peroxide=waiting.peroxide,
        catches=catches,
        weeks=weeks,
        boxes_lack=lacks,
    )


def _active_soil_l(bed: BedResult, catalog: Catalog) -> float:
    active = {material.id for material in catalog.materials.values() if material.kind == "active soil"}
    return sum(layer.bulk_l for layer in bed.layers if layer.material in active)


def _up_to_the_water(
    job: Job, catalog: Catalog, gathered: _Gathered, on_progress: OnProgress, laid: LayoutStage | None
) -> tuple[TankShape | None, BedResult | None, Volumes | None, WaterBudget | None]:
    on_progress("measuring the tank")
    shape = gathered.take("the tank", assess_tank(job, catalog))
    found = None if laid is None else gathered.take("the layout", laid.stage)
    bed = None
    if shape is not None:
        stage = assess_bed(
            job,
            catalog,
            shape,
            buried_l=None if found is None else found.buried.value_l,
            as_laid=None if laid is None else laid.surface,
        )
        bed = gathered.take("the bed", stage)
    hardscape_l = gathered.take("stone and wood", hardscape_solid_l(job, catalog))
    if found is not None:
        hardscape_l = found.displaced.value_l + found.buried.value_l + found.left_out_l
    volumes = None
    if shape is not None and bed is not None and hardscape_l is not None:
        volumes = gathered.take(
            "the volumes",
            volumes_of(shape, soil_solids_l=bed.solids_l, pore_l=bed.pore_l, hardscape_l=hardscape_l),
        )
    on_progress("budgeting the water")
    water = None
    boxes = gathered.take("the boxes", house(job, catalog, gross_l=shape.gross_l)) if shape is not None else None
    if shape is not None and bed is not None and volumes is not None and boxes is not None:
        soil_l = _active_soil_l(bed, catalog)
        water = gathered.take("the water", assess_water(job, catalog, volumes, shape, boxes=boxes, soil_l=soil_l))
    else:
        gathered.cannot_begin("the water", own=water_lacks(job, catalog))
    return shape, bed, volumes, water


@dataclass(frozen=True)
class _Before:
    """What the rooms before the day have found, and what the day takes from them."""

    job: Job
    """With the plants that were proposed where it names none."""
    planting: PlantingResult | None
    shape: TankShape | None
    bed: BedResult | None
    volumes: Volumes | None
    water: WaterBudget | None
    loads: Loads | None
    waiting: Waiting | None
    quantities: Quantities
    rooms: RoomQuantities
    catalog: Catalog
    """With the clocks of the boxes and the filter of this job."""
    work_places: int | None
    laid: LayoutStage | None


def _placed(
    job: Job,
    catalog: Catalog,
    gathered: _Gathered,
    on_progress: OnProgress,
    laid: LayoutStage | None,
    shape: TankShape | None,
    bed: BedResult | None,
    light: LightResult | None = None,
) -> PlantingResult | None:
    if shape is None or bed is None:
        return None
    layout = None if laid is None else laid.stage.result
    known = None if light is None else _light_map(light)
    return gathered.take(
        "the planting", assess_planting(job, catalog, shape, bed, layout=layout, light=known, on_progress=on_progress)
    )


def _light_map(light: LightResult) -> LightMap:
    """The light a centimetre over the bed, as a planting asks for it."""
    return LightMap(
        x_m=np.array(light.x_m),
        y_m=np.array(light.y_m),
        par_umol_m2_s=np.array(light.low, dtype=float),
        error_umol_m2_s=np.array(light.low_error, dtype=float),
    )


def _up_to_the_day(
    job: Job,
    catalog: Catalog,
    gathered: _Gathered,
    on_progress: OnProgress,
    laid: LayoutStage | None,
    *,
    planting: PlantingResult | None = None,
    light: LightResult | None = None,
) -> _Before:
    """Up to the day; with a planting of the same bed given, nothing is placed anew."""
    shape, bed, volumes, water = _up_to_the_water(job, catalog, gathered, on_progress, laid)
    if planting is None:
        planting = _placed(job, catalog, gathered, on_progress, laid, shape, bed, light)
        job = job if planting is None else planted(job, planting)
    loads = None
    if shape is not None and volumes is not None and bed is not None:
        loads = gathered.take(
            "the loads",
            assess_loads(
                job,
                catalog,
                shape,
                volumes,
                bed_dry_kg=sum(layer.dry_mass_kg for layer in bed.layers),
                barrels=tuple((fill.container, fill.litres) for fill in water.barrels) if water else (),
                boxes=box_masses(water.boxes) if water else (),
            ),
        )
    power_figures, power_findings = assess_power(job, catalog)
    gathered.figures += power_figures
    gathered.findings += power_findings
    waiting = None
    if water is not None and shape is not None:
        on_progress("following the boxes")
        waiting = gathered.take("how long the boxes hold", assess_waiting(job, catalog, water, shape))
    quantities = _quantities(job, catalog, shape, bed, water, waiting)
    return _Before(
        job=job,
        planting=planting,
        shape=shape,
        bed=bed,
        volumes=volumes,
        water=water,
        loads=loads,
        waiting=waiting,
        quantities=quantities,
        rooms=_room_quantities(job, catalog, shape, bed, volumes, water, quantities),
        catalog=catalog if waiting is None else with_clocks(catalog, waiting.clocks),
        work_places=shape.work_places if shape is not None else job.tank.work_places,
        laid=laid,
    )


def _variants(job: Job, catalog: Catalog, before: _Before, gathered: _Gathered) -> Variants:
    """Variants of the job, each run through the rooms before the day once it is asked for."""
    findings = tuple(gathered.findings)
    return {name: partial(_variant, name, job, catalog, before, findings) for name in VARIANTS}


def variants_of(job: Job, catalog: Catalog, *, laid: LayoutStage | None = None) -> Variants:
    """Variants of a job, by the same rooms as its plan; a day that does not fit asks for them."""
    gathered = _Gathered()
    gathered.findings += screen(job, catalog)
    before = _up_to_the_day(job, catalog, gathered, lambda _: None, laid)
    return _variants(before.job, catalog, before, gathered)


def _variant(
    name: str, job: Job, catalog: Catalog, before: _Before, findings: tuple[Finding, ...]
) -> JobVariant | None:
    varied = VARIANTS[name](job, catalog)
    if varied is None:
        return None
    gathered = _Gathered()
    gathered.findings += screen(varied, catalog)
    # No variant moves a stone.
    after = _up_to_the_day(varied, catalog, gathered, lambda _: None, before.laid, planting=before.planting)
    price, lacks = _variant_price(name, job, varied, catalog, before, after)
    leaving = [box.label for box in after.water.boxes if box.leaves] if after.water else []
    return JobVariant(
        job=varied,
        catalog=after.catalog,
        rooms=after.rooms,
        work_places=after.work_places,
        values={"boxes": len(leaving), "labels": ", ".join(leaving), "share": round(100 * varied.old.kept_share)},
        sizes=_sizes(before, after),
        adds=_added(findings, gathered.findings),
        price=price,
        lacks=lacks,
    )


def _added(before: Sequence[Finding], after: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings that were not there before, or that miss by clearly more than they did."""
    known = {(finding.id, finding.about): finding for finding in before}

    def new(finding: Finding) -> bool:
        old = known.get((finding.id, finding.about))
        if old is None:
            return finding.severity is not Severity.NOTE
        if finding.margin is None or old.margin is None:
            return False
        return finding.margin < min(0.0, (1 + WORSE_SHARE) * old.margin)

    return tuple(finding for finding in after if new(finding))


def _sizes(before: _Before, after: _Before) -> Mapping[str, float]:
    """By how much a variant changes litres of water and bed; what does not change is left out."""
    found = {}
    for name, value in _sizes_of(before).items():
        changed = _sizes_of(after).get(name)
        if changed is not None and abs(changed - value) >= LEAST_CHANGE:
            found[name] = round(changed - value, 1)
    return found


def _sizes_of(rooms: _Before) -> Mapping[str, float]:
    water, bed, old_l = rooms.water, rooms.bed, rooms.rooms.old_soil_l
    found = {}
    if water is not None:
        found = {
            "old_kept_l": water.old_kept_l,
            "refresh_l": water.refresh_l,
            "filter_l": water.filter_l,
            "new_l": water.new_l,
        }
    if bed is not None:
        found["bed_l"] = sum(layer.bulk_l for layer in bed.layers)
    if old_l is not None:
        found["old_soil_l"] = old_l
    return found


def _variant_price(
    name: str, job: Job, varied: Job, catalog: Catalog, before: _Before, after: _Before
) -> tuple[float | None, tuple[str, ...]]:
    """What a variant costs, negative where it saves, and the prices that are not known."""
    if name in ("boarding", "board_shrimp"):
        return _boarding_price(catalog, sum(box.leaves for box in after.water.boxes) if after.water else 0)
    if name == "part_rebuild":
        return _saved(job, varied, catalog, before, after)
    return None, ()


def _boarding_price(catalog: Catalog, boxes: int) -> tuple[float | None, tuple[str, ...]]:
    """A trip away and one back, and a day for each box."""
    amounts = {"lead_hour": 2.0, "travel_hour": 2.0, "boarding_box_day": float(boxes)}
    lacks = tuple(item.replace("_", " ") for item in amounts if item not in catalog.prices)
    told = [catalog.prices[item].typical_cr * amount for item, amount in amounts.items() if item in catalog.prices]
    return (sum(told) if told else None), lacks


def _saved(
    job: Job, varied: Job, catalog: Catalog, before: _Before, after: _Before
) -> tuple[float | None, tuple[str, ...]]:
    """Bags and pots that are not needed, at the job's own prices."""
    fewer: list[tuple[str, int, Decimal | None]] = []
    left = {bag.material: bag.bags for bag in after.quantities.bags}
    for bag in before.quantities.bags:
        name = catalog.materials[bag.material].material
        fewer.append((name, bag.bags - left.get(bag.material, 0), bag.price_per_bag))
    for was, now in zip(job.plants or (), varied.plants or (), strict=True):
        plant = catalog.plants.get(was.plant)
        fewer.append((was.plant if plant is None else plant.common_name, was.units - now.units, was.unit_price))
    saved = [float(price) * count for _, count, price in fewer if count and price is not None]
    lacks = tuple(name for name, count, price in fewer if count and price is None)
    return (-sum(saved) if saved else None), lacks


class WaterPlan(Frozen):
    """The water alone: what a plan says of it, without the day and the price."""

    version: str
    job_name: str
    reference: str
    job_hash: str
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    assumed: tuple[Assumption, ...]
    water: WaterBudget | None


def water_plan(
    job: Job,
    catalog: Catalog,
    *,
    version: str,
    laid: LayoutStage | None = None,
    on_progress: OnProgress = lambda _: None,
) -> WaterPlan:
    """The water of a job, by the same rooms as the whole plan."""
    gathered = _Gathered()
    _, _, _, water = _up_to_the_water(job, catalog, gathered, on_progress, laid)
    # Of the rooms before it only what keeps the water from being reckoned.
    about_water = [
        finding
        for finding in gathered.findings
        if finding.id.startswith("water.") or finding.severity in (Severity.MISSING, Severity.MISFIT, Severity.REFUSE)
    ]
    return WaterPlan(
        version=version,
        job_name=job.name,
        reference=job.reference,
        job_hash=job_hash(job),
        findings=_in_order(about_water),
        figures=tuple(gathered.figures),
        assumed=tuple(gathered.assumed),
        water=water,
    )


def _weeks_after(
    job: Job,
    catalog: Catalog,
    shape: TankShape | None,
    bed: BedResult | None,
    water: WaterBudget | None,
    thoroughness: Thoroughness,
    on_progress: OnProgress,
) -> Stage[Weeks] | None:
    if shape is None or bed is None or water is None:
        return None
    on_progress("following the weeks after")
    return assess_weeks(
        job,
        catalog,
        water,
        soil_l=_active_soil_l(bed, catalog),
        footprint_m2=shape.footprint_m2,
        thoroughness=thoroughness,
        on_progress=on_progress,
    )


class LivingPlan(WaterPlan):
    """Everything alive by itself, with the water it stands in; without the day and the price."""

    living: Living | None


def _event_findings(job: Job, now: Happened, *, has_events: bool) -> list[Finding]:
    """Which events were not taken as this job's."""
    if now.others:
        return [
            Finding(
                id="living.events_of_other_jobs",
                severity=Severity.CONDITION,
                values={
                    "count": len(now.others),
                    "jobs": ", ".join(sorted({name or "without a job" for name in now.others})),
                    "reference": job.reference,
                },
            )
        ]
    if has_events and not job.reference:
        return [Finding(id="living.events_without_reference", severity=Severity.NOTE)]
    return []


def _unknown_counts(now: Happened, catalog: Catalog) -> list[Finding]:
    return [
        Finding(
            id="living.count_of_unknown",
            severity=Severity.CONDITION,
            about=name,
            values={
                "species": name or "an empty name",
                "near": ", ".join(catalog.near(name, "species")) or "none close",
            },
        )
        for name in now.unknown
    ]


class PlantingPlan(Frozen):
    """The planting alone: what a plan says of it, without water, day and price."""

    version: str
    job_name: str
    reference: str
    job_hash: str
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    assumed: tuple[Assumption, ...]
    layout: LayoutResult | None
    planting: PlantingResult | None


def planting_plan(
    job: Job,
    catalog: Catalog,
    *,
    version: str,
    laid: LayoutStage | None = None,
    lit: Stage[LightResult] | None = None,
    on_progress: OnProgress = lambda _: None,
) -> PlantingPlan:
    """The planting of a job, by the same rooms as the whole plan."""
    gathered = _Gathered()
    light = None if lit is None else gathered.take("the light", lit)
    gathered.findings += [finding for finding in screen(job, catalog) if finding.id == "job.plant_unknown"]
    shape, bed, _, _ = _up_to_the_water(job, catalog, gathered, on_progress, laid)
    planting = _placed(job, catalog, gathered, on_progress, laid, shape, bed, light)
    needed = ("the tank", "the bed") if planting is None else ()
    about = [
        finding
        for finding in gathered.findings
        if finding.id.startswith("planting.")
        or finding.id == "job.plant_unknown"
        or (finding.severity is Severity.MISSING and finding.about in needed)
    ]
    return PlantingPlan(
        version=version,
        job_name=job.name,
        reference=job.reference,
        job_hash=job_hash(job),
        findings=_in_order(about),
        figures=tuple(figure for figure in gathered.figures if figure.id.startswith("planting.")),
        assumed=tuple(gathered.assumed),
        layout=None if laid is None else laid.stage.result,
        planting=planting,
    )


def living_plan(
    job: Job,
    catalog: Catalog,
    *,
    version: str,
    laid: LayoutStage | None = None,
    events: Sequence[Event] = (),
    thoroughness: Thoroughness = EVERY_CALENDAR,
    on_progress: OnProgress = lambda _: None,
) -> LivingPlan:
    """Everything alive, by the same rooms as the whole plan; `events` are what has happened since."""
    gathered = _Gathered()
    now = happened(job, catalog, events)
    gathered.findings += [finding for finding in screen(job, catalog) if finding.id in ABOUT_THE_LIVING]
    gathered.findings += _event_findings(job, now, has_events=bool(events))
    gathered.findings += _unknown_counts(now, catalog)
    shape, bed, _, water = _up_to_the_water(job, catalog, gathered, on_progress, laid)
    known = now.job
    if job.plants is None:
        planting = _placed(job, catalog, gathered, on_progress, laid, shape, bed)
        if planting is not None:
            now = replace(now, job=now.job.model_copy(update={"plants": planted(job, planting).plants}))
    waiting = None
    if water is not None and shape is not None:
        boxes, homeless = recounted(water.boxes, job, now.job, catalog)
        water = water.model_copy(update={"boxes": boxes})
        gathered.findings += [
            Finding(
                id="living.found_without_box",
                severity=Severity.CONDITION,
                about=name,
                values={"count": count, "species": catalog.species[name].common_name},
            )
            for name, count in homeless.items()
        ]
        on_progress("following the boxes")
        waiting = gathered.take(
            "how long the boxes hold", assess_waiting(now.job, catalog, water, shape, failed=now.failed)
        )
    exact = {
        animals.species: animals.count.high
        for animals in job.livestock or ()
        if animals.count.high and animals.count.high == animals.count.low
    }
    catches = catches_of(now.passes, now.minutes, exact)
    gathered.findings += [
        Finding(
            id="living.pass_numbers",
            severity=Severity.CONDITION,
            about=name,
            values={
                "species": catalog.species[name].common_name,
                "numbers": ", ".join(numbers),
                "counts": ", ".join(str(count) for count in now.passes[name]),
            },
        )
        for name, numbers in now.misnumbered.items()
    ]
    gathered.findings += catching_findings(catches, catalog)
    weeks_stage = _weeks_after(now.job, catalog, shape, bed, water, thoroughness, on_progress)
    weeks = _weeks_taken(now.job, catalog, gathered, weeks_stage)
    if water is not None:
        gathered.findings += reading_findings(weeks, now.readings, job, water)
    about = [
        finding
        for finding in gathered.findings
        if finding.id.startswith("living.") or finding.severity in (Severity.MISSING, Severity.REFUSE)
    ]
    return LivingPlan(
        version=version,
        job_name=job.name,
        reference=job.reference,
        job_hash=job_hash(known),
        findings=_in_order(about),
        figures=tuple(figure for figure in gathered.figures if figure.id.startswith("living.")),
        assumed=tuple(gathered.assumed),
        water=water,
        living=_living(waiting, weeks, catches, lacks=unsettled(now.job, catalog)),
    )


def _quantities(
    job: Job,
    catalog: Catalog,
    shape: TankShape | None,
    bed: BedResult | None,
    water: WaterBudget | None,
    waiting: Waiting | None,
) -> Quantities:
    boxes = () if waiting is None else waiting.boxes
    return Quantities(
        bags=_bags(bed, job),
        salt_grams={dose.salt: dose.grams for dose in water.salts} if water else {},
        conditioner_g=water.conditioner_g if water else None,
        ro_l=water.ro_l if water else None,
        new_l=water.new_l if water else None,
        ro_start_latest=water.osmosis.start_latest if water and water.osmosis else None,
        warming_start_latest=water.warming.start_latest if water and water.warming else None,
        drained_l=water.discarded_l + water.box_water_l + water.refresh_l + water.filter_l if water else None,
        old_soil_l=_old_soil_l(job, shape),
        peroxide_l=spray_l(area_m2=shape.drained_glass_m2) if shape else None,
        tank_length_m=shape.length_m if shape else None,
        filters=len(job.filters) if job.filters is not None else None,
        boxes=len(water.boxes) if water else None,
        air_stones=sum(box.stones for box in boxes) if boxes else None,
        boxes_wrapped=sum(box.keeping == "wrapped" for box in boxes),
        box_heaters_w=tuple(sorted(heater_sold_w(box.heat_w) for box in boxes if box.keeping == "heated")),
        containers=_containers(water),
        work_starts=_work_start(job),
        refilled_on=refilled_on(job),
    )


def _room_quantities(
    job: Job,
    catalog: Catalog,
    shape: TankShape | None,
    bed: BedResult | None,
    volumes: Volumes | None,
    water: WaterBudget | None,
    quantities: Quantities,
) -> RoomQuantities:
    old_soil = _old_soil_l(job, shape)
    known = shape is not None and bed is not None and water is not None
    largest = max(job.site.circuits or (), key=ours_w, default=None)
    return RoomQuantities(
        inner_glass_m2=shape.inner_glass_m2 if shape else None,
        footprint_m2=shape.footprint_m2 if shape else None,
        net_l=volumes.net_l if volumes else None,
        refill_l=volumes.net_l if volumes else None,
        kept_water_l=water.old_kept_l if water else None,
        boxes=len(water.boxes) if water else None,
        boxes_back=len(brought_back(water.boxes)) if water else None,
        old_barrel=any(fill.holds == "old" for fill in water.barrels) if water else None,
        acclimatise_steps=water.acclimatise_steps if water else None,
        bags=sum(bag.bags for bag in quantities.bags) if bed else None,
        carried_kg=packed_mass_kg(packing_items(job, catalog, quantities)) if known else None,
        waste_kg=waste_mass_kg(job, catalog, old_soil) if old_soil is not None else None,
        old_soil_l=old_soil,
        circuit=largest.name if largest else "",
        circuit_w=ours_w(largest) if largest else None,
        watts=_watts(job, catalog),
        near_tank_kg=near_tank_kg(job),
        near_tank_said=near_tank_said(job),
        standing=_standing(catalog, water),
    )


def _watts(job: Job, catalog: Catalog) -> Mapping[str, float]:
    """What draws power on the day; reverse osmosis only where it may still run then."""
    watts, starts = device_watts(job, catalog), _work_start(job)
    until = job.preparation.ro.may_run_until if job.preparation.ro else None
    if until is not None and starts is not None and until <= starts:
        watts.pop("booster pump", None)
    return watts


def _standing(catalog: Catalog, water: WaterBudget | None) -> tuple[Standing, ...]:
    if water is None:
        return ()

    def mass(container: str, litres: float) -> float:
        return litres + catalog.containers[container].empty_mass_kg

    return (
        *(
            Standing(
                what=catalog.containers[box.container].container,
                container=box.container,
                holds="leaving" if box.leaves else "animals",
                mass_kg=mass(box.container, box.water_l),
            )
            for box in water.boxes
        ),
        Standing(what="bags of soil", container="", holds="bags", mass_kg=BAGS_AT_EDGE_KG),
        *(
            Standing(
                what=catalog.containers[fill.container].container,
                container=fill.container,
                holds="old" if fill.holds == "old" else "new",
                mass_kg=mass(fill.container, fill.litres),
            )
            for fill in water.barrels
        ),
    )
