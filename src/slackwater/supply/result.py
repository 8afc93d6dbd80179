"""What the supply room takes in and hands on: quantities; order, calendar, packing, disposal, price."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal

from slackwater.finding import Finding, Verdict
from slackwater.frozen import Frozen

EVENING = time(12)
"""Work that begins earlier has no morning before it in which anything could still be prepared; common practice, no source."""


class BagNeed(Frozen):
    """Bags of one bed material."""

    material: str
    bags: int
    bag_l: float
    on_hand_bags: int
    price_per_bag: Decimal | None


class WorkDay(Frozen):
    """Equally many ways in which the day may go: hours of the crew, and what comes of them."""

    crew_minutes: Mapping[str, int]
    """Minutes on site for each person, breaks included."""
    crew_night_minutes: Mapping[str, int] = {}
    closed_kept: int
    """How many of these days are done by closing and keep all clocks."""
    closed_broken: int = 0
    """How many are done by closing, and a clock is not kept."""
    late_kept: int = 0
    """How many are not done by closing and so take a second visit, all clocks kept."""
    late_broken: int = 0


class VisitWater(Frozen):
    """A water change after the day."""

    day: int
    litres: float
    permeate_l: float


class Quantities(Frozen):
    """Everything that supply needs to know from the rooms before it. None: not computable yet."""

    bags: tuple[BagNeed, ...] = ()
    salt_grams: Mapping[str, int] = {}
    conditioner_g: float | None = None
    ro_l: float | None = None
    new_l: float | None = None
    ro_start_latest: datetime | None = None
    warming_start_latest: datetime | None = None
    drained_l: float | None = None
    old_soil_l: float | None = None
    peroxide_l: float | None = None
    """Working strength for the drained glass."""
    tank_length_m: float | None = None
    filters: int | None = None
    boxes: int | None = None
    air_stones: int | None = None
    """In all boxes; None: not followed yet, one for each box."""
    boxes_wrapped: int = 0
    box_heaters_w: tuple[int, ...] = ()
    """Size sold of the heater of each box that the plan heats [W]."""
    containers: Mapping[str, int] = {}
    """Containers used on the day, by catalog id."""
    crew_minutes: Mapping[str, int] = {}
    """Minutes on site for each person of the schedule, breaks included."""
    crew_night_minutes: Mapping[str, int] = {}
    """Of these, minutes in the surcharge hours."""
    work_days: tuple[WorkDay, ...] = ()
    """The simulated days, in groups; empty where there are none."""
    office_min: tuple[float, ...] = ()
    """Minutes before the day in equally likely steps, fewest first; empty: as the table has them."""
    second_visit_min: float = 0.0
    """Minutes to set up and clear away once more for each of the crew where a day is not done."""
    visit_water: tuple[VisitWater, ...] = ()
    """Water changes of the weeks after."""
    later_planting_min: float = 0.0
    """Minutes of planting that the day leaves to the first visit."""
    work_starts: datetime | None = None
    refilled_on: date | None = None
    """Day 0 of the weeks after; None: the date on which work starts."""

    @property
    def day(self) -> date | None:
        """Day 0 of the weeks after."""
        return self.refilled_on or (None if self.work_starts is None else self.work_starts.date())

    @property
    def prepared_by(self) -> date | None:
        """The date to count back from: work that begins in the evening is work of the next date, other work of its own."""
        start = self.work_starts
        return start.date() if start is not None and start.time() < EVENING else self.day


class OrderLine(Frozen):
    """One thing to order: what is needed, the spare and why, whole packs, price."""

    item: str
    """Catalog id, or the stone or wood kind."""
    kind: str
    """soil, stone, wood, plant, salt, conditioner, consumable."""
    need: float
    unit: str
    spare: float
    spare_reason: str
    on_hand: float
    packs: int
    pack_size: float
    unit_price: Decimal | None
    price: Decimal | None
    price_source: str
    order_by: date | None
    note: str = ""
    plan_need: float | None = None
    """What the plan alone would need; None where no past jobs move it."""
    past_jobs: int = 0
    """Past jobs behind its need; 0: the plan alone."""
    learned_factor: float = 1.0
    """What past jobs made of the need."""


class Step(Frozen):
    """One step of the preparation, on a date or at a time."""

    id: str
    """Id of its sentence in the wording catalog: ``step.<id>``."""
    on: date | None
    at: datetime | None
    ends: datetime | None = None
    values: Mapping[str, float | str] = {}
    activity: str = ""
    """Catalog activity (A1 … F8) it belongs to."""
    every_days: int | None = None
    """It comes again so many days later, and so on, from the date in `on`; None: it comes once."""
    until: date | None = None
    """The last date on which it may come again; None: no end is known."""
    except_on: tuple[date, ...] = ()
    """Dates on which it does not come."""
    within: tuple[str, str] | None = None
    """From when to when on its date the house lets people in, "09:00" and "11:30"; None: not told, or a step with a time."""


class PackItem(Frozen):
    """One thing to load."""

    item: str
    category: str
    quantity: float
    unit: str
    mass_kg: float | None
    check: str
    """What to check before use."""


class WasteLine(Frozen):
    """What leaves the site and where it may go."""

    what: str
    litres: float | None
    mass_kg: float | None
    bags: int | None
    goes_to: str
    """Id of its sentence: ``waste.<id>``."""
    cost: Decimal | None


class PriceLine(Frozen):
    """One line of the calculation."""

    id: str
    """labour:<person>, office, travel, materials, waste, visits, visit_water, later_planting, risk, overhead, margin, tax."""
    hours: float | None
    amount: Decimal
    source: str


class DirectCost(Frozen):
    """What the work costs before overhead and margin: hours, ways, goods and waste."""

    currency: str
    lines: tuple[PriceLine, ...]
    total: Decimal
    lacks: tuple[str, ...]
    """Keys of the job file without which no price is made of it; empty where there is one."""


class CarriedPrice(Frozen):
    """A fixed price that carries what the job may cost, up to a risk."""

    risk_share: float
    """Probability that the job costs more than the price carries [0..1]."""
    cost: Decimal
    """What it carries: cost with overhead."""
    price: Decimal
    """Before tax."""
    tax: Decimal
    total: Decimal
    losing_share: float
    """Probability that the job costs more than the whole price, its margin gone as well [0..1]."""
    at_floor: bool
    """Whether the floor made it, because cost and margin would come to less."""


class PriceOdds(Frozen):
    """What the job may cost, and what prices carry of it. All costs with overhead, before tax."""

    days: int
    """Simulated days behind it."""
    expected: Decimal
    p50: Decimal
    p80: Decimal
    p95: Decimal
    """Cost that 50, 80, 95 of 100 such jobs do not exceed."""
    second_visit_share: float
    """Share of days that are not done by closing."""
    second_visit_cost: Decimal
    """What such a day costs more, hours aside that are worked in any case; before overhead."""
    loss_share: float
    """Share of days on which a clock is not kept."""
    loss_cost: Decimal | None
    """What that costs, before overhead; None where it is not told and so not in any of these figures."""
    floor: Decimal
    """Below it the job is not to be taken."""
    floor_total: Decimal
    """The same with tax, to hold a client's ceiling against."""
    asked_risk_share: float
    """Probability that the job costs more than the price that is asked carries: its margin shrinks."""
    asked_losing_share: float
    """Probability that it costs more than that price."""
    carried: tuple[CarriedPrice, ...]
    """Prices at several risks, the riskiest and lowest first."""


class VisitPrice(Frozen):
    """The price of one visit of the contract, from the visits of the first weeks and their water."""

    currency: str
    days: tuple[int, ...]
    """Days after the rebuild."""
    lines: tuple[PriceLine, ...]
    """For all these visits together."""
    cost: Decimal
    """With overhead."""
    each: Decimal
    """Of one visit, before tax."""
    tax: Decimal
    """On one visit."""
    total: Decimal
    """Of one visit, with tax."""
    unvisited: tuple[int, ...] = ()
    """Days on which the water has to be changed and no visit is agreed: not in it."""


class PriceResult(Frozen):
    """What the job costs and what to ask."""

    currency: str
    lines: tuple[PriceLine, ...]
    cost: Decimal
    price: Decimal
    """Before tax."""
    tax: Decimal
    total: Decimal
    budget: Decimal | None
    odds: PriceOdds | None = None
    """None where no day was simulated."""
    visit: VisitPrice | None = None
    """None where no visits are agreed."""


class PlannedOption(Frozen):
    """One option of an offer, planned and priced by itself."""

    name: str
    changes: tuple[str, ...]
    """What is changed of the job, as ``job.options`` names it; none: as asked."""
    idle: tuple[str, ...]
    """Of these, what makes no difference to this job."""
    job_hash: str
    """Of the job with these changes."""
    verdict: Verdict
    finish: datetime | None
    margin_min: int | None
    """Closing time less finish."""
    done_by_closing: float | None
    """Share of simulated days [0..1]."""
    plants: int
    """Pots, cups and portions."""
    visits: int
    """In the price."""
    price: PriceResult | None
    adds: tuple[Finding, ...]
    """What it has to be settled that the job as it stands has not, or not as grave."""
    spares: tuple[Finding, ...]
    """What the job as it stands has and this has not, or not as grave."""


class Supply(Frozen):
    """All that the supply room hands on."""

    order: tuple[OrderLine, ...]
    calendar: tuple[Step, ...]
    packing: tuple[PackItem, ...]
    packed_mass_kg: float
    payload_kg: float | None
    waste: tuple[WasteLine, ...]
    waste_mass_kg: float
    direct: DirectCost | None = None
    """None where hours or their rates are not known."""
    price: PriceResult | None
