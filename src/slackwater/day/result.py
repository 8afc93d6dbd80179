"""What the day room hands on: the day in local time, its clocks, and what would make it fit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from slackwater.finding import Finding
from slackwater.frozen import Frozen


class Entry(Frozen):
    """One activity of the day, or a person's break."""

    activity: str
    """Catalog id, E1 …; ``break:<person>`` for a break."""
    label: str
    phase: str
    """arrive, water out, catch, filter, strip, clean, build, plant, fill, return, close, break."""
    start: datetime
    end: datetime
    """Local time of the site, with its offset."""
    start_min: int
    end_min: int
    """Minutes from the start of access."""
    crew: tuple[str, ...]
    zone: str
    quantity: float | None
    """The driver quantity that the minutes were computed from."""
    quantity_unit: str
    minutes_low: int | None
    minutes_high: int | None
    hold_point: bool
    tags: tuple[str, ...]
    record: str
    """Evidence to keep."""
    can_go_wrong: str
    latest_start: datetime | None
    """After this the closing time cannot be met any more, everything after it going as planned."""
    runs_on_until: datetime | None = None
    """After its end it goes on without hands until then: dripping, peroxide at work."""
    spray_every_min: int | None = None
    """Plants are uncovered: spray at least this often."""
    places: Mapping[str, int] = {}
    """How much of each place and tool it uses while it goes on."""
    past_jobs: int = 0
    """Past jobs of this crew behind its minutes; 0: the catalog alone."""
    learned_factor: float = 1.0
    """Its typical minutes against the catalog's."""
    catalog_min: float | None = None
    """How long it would take by the catalog alone for this crew and quantity; None: a break, or a plan that does not tell."""
    catalog_typical_min: float | None = None
    """The catalog's typical minutes for this quantity and the crew that its row is written for."""


class ClockSpan(Frozen):
    """One clock running on the day, from the event that starts it to the one that stops or restarts it."""

    clock: str
    what: str
    state: str
    starts_with: str
    ends_with: str
    start: datetime
    end: datetime
    start_min: int
    end_min: int
    used_min: int
    limit_min: int
    """The low (5 %) value, which the plan obeys: of this span, by the number of restarts taken on the day."""
    typical_min: int | None
    high_min: int | None
    """Middle and high (95 %) value of a wait without restart."""
    latest: datetime
    """When the limit is reached."""
    excess_min: int
    needs: str
    source: str


class Odds(Frozen):
    """A share of simulated days."""

    share: float
    """[0..1]"""
    standard_error: float
    """Of the count; where it is 0, up to 3 in as many days as were simulated are still possible."""


class ClockOdds(Frozen):
    """How often one clock is kept."""

    clock: str
    what: str
    kept: Odds
    over_p95_min: int
    """Minutes over the limit that 95 of 100 days do not exceed."""


class DayOdds(Frozen):
    """What becomes of the simulated days when the crew follows one rule."""

    done_by_closing: Odds
    hours_kept: Odds
    clocks_kept: Odds
    """All clocks on the same day."""
    everything_holds: Odds
    clocks: tuple[ClockOdds, ...]
    finish_mean: datetime
    finish_p50: datetime
    finish_p80: datetime
    finish_p95: datetime
    """Local time by which 50, 80, 95 of 100 days are done."""
    finish_mean_min: int
    finish_p50_min: int
    finish_p80_min: int
    finish_p95_min: int
    """The same in minutes from the start of access."""


class Critical(Frozen):
    """An activity that decides when the day ends, on some days at least."""

    activity: str
    share: float
    """Of the days on which one minute more of it ends the day later."""


class LatestStart(Frozen):
    """The latest start of a hold point from which what follows still ends by closing on 90 of 100 days."""

    activity: str
    at: datetime | None
    """None: no start leaves that much."""


class ProgressGate(Frozen):
    """What starts a clock only when something is done, whatever the time."""

    clock: str
    what: str
    opener: str
    after: str
    adds_a_wait: bool
    """False where the order of the plan has it wait anyhow."""


class DayHours(Frozen):
    """Equally many simulated days, of those that end at about the same minute: what a price is reckoned with."""

    ends_min: Mapping[str, float]
    """By person: mean of the end of their last work, from the start of access [min]."""
    finish_min: float
    """Mean of the end of the last activity [min]."""
    closed_kept: int
    closed_broken: int
    late_kept: int
    late_broken: int
    """How many of the days are done by closing or late, and keep all clocks or do not."""


class DayRisk(Frozen):
    """The odds of the day shown, from simulated days."""

    days: int
    seed: int
    as_planned: DayOdds
    with_gates: DayOdds
    """The same days when what starts a clock also waits for its gate."""
    gates: tuple[ProgressGate, ...]
    critical: tuple[Critical, ...]
    """The most often critical first; none that never is."""
    waits: tuple[tuple[str, str], ...]
    """Among the activities critical on 20 of 100 days or more: what comes before, and what waits for it."""
    latest_starts: tuple[LatestStart, ...]
    """Of the hold points, in the order of the day."""
    mishaps: tuple[str, ...]
    """Ids of the mishaps that can strike."""
    hours: tuple[DayHours, ...] = ()
    """The simulated days as planned in groups of equally many, from the earliest finish to the latest."""


class Drop(Frozen):
    """Something to leave out when the day runs late; see ``drop.<id>`` in the wording."""

    id: str
    saves_min: int
    """How much earlier the day then ends, what stands before it in the list left out already [min]."""


class Held(Frozen):
    """An amount of something kept over a span, such as barrels from draining to the refill."""

    id: str
    resource: str
    amount: int
    start: datetime
    end: datetime


class Conflict(Frozen):
    """One rule of the minimal set that cannot be kept together; see ``conflict.<id>`` in the wording."""

    id: str
    values: Mapping[str, float | str] = {}


class WhatIf(Frozen):
    """One change to the day, solved again."""

    id: str
    """Id of its sentence: ``what_if.<id>``."""
    values: Mapping[str, float | str]
    finish: datetime | None
    margin_min: int | None
    """Minutes between its finish and the closing time it has."""
    over_min: int = 0
    """Minutes over the clocks that are left."""
    work_min: int = 0
    """Minutes of work that it moves to the bench, the workshop or another visit."""
    price: float | None = None
    """What it costs by the job's rates and the catalog's prices, negative where it saves; None where none is known."""
    price_lacks: tuple[str, ...] = ()
    """What has no price, by name: its cost is without it."""
    sizes: Mapping[str, float] = {}
    """Of a variant of the job: by how much it changes litres of water and bed."""
    adds: tuple[Finding, ...] = ()
    """Findings that a variant of the job has and the job as booked has not, or not as grave."""
    fits: bool
    proved: bool


class LeastOver(Frozen):
    """The least total of minutes after closing and over clocks with which the work can be done at all."""

    late_min: int
    over_min: Mapping[str, int]
    """By what the clock is about."""
    proved: bool


class DayResult(Frozen):
    """The day as booked, and the questions asked of it."""

    opens: datetime
    closes: datetime
    entries: tuple[Entry, ...]
    clocks: tuple[ClockSpan, ...]
    finish: datetime | None
    margin_min: int | None
    """Closing time less finish: negative when the day as booked is too short."""
    status: str
    """proved, best found, impossible or unknown, from the solver."""
    bound_min: int | None
    """No day can finish before this many minutes from opening."""
    filter_state: str | None
    media_off_min: int | None
    safe_state: datetime | None
    """Where the day does not fit: the earliest that the safe overnight state could stand, were all else left for later."""
    shown: str
    """``as booked``, or ``open-ended`` when the booked day cannot be done and the earliest finish is shown."""
    conflict: tuple[Conflict, ...]
    what_ifs: tuple[WhatIf, ...]
    least_over: LeastOver | None = None
    """None where the day fits."""
    first_day: tuple[Entry, ...] = ()
    second_day: tuple[Entry, ...] = ()
    """Where the day does not fit: the work to the safe overnight state, and the rest on the reserve day that is agreed."""
    person_minutes: Mapping[str, int]
    """Minutes of work of each person, breaks not counted."""
    risk: DayRisk
    drops: tuple[Drop, ...] = ()
    """What to leave out first when the day runs late, in this order."""
    safe_planned: datetime | None = None
    """When the day shown has reached the safe overnight state: built, filled, filter running, animals housed. The one
    time that all papers tell of it."""
    places: Mapping[str, int] = {}
    """How much there is of each place and tool."""
    held: tuple[Held, ...] = ()
    broken_rules: tuple[str, ...] = ()
    """What the independent checker found wrong with the schedule shown; anything here is a defect of the tool."""
