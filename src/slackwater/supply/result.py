"""What the supply room takes in and hands on: quantities; order, calendar, packing, disposal, price."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from decimal import Decimal

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
    containers: Mapping[str, int] = {}
    """Containers used on the day, by catalog id."""
    crew_minutes: Mapping[str, int] = {}
    """Minutes on site for each person of the schedule, breaks included."""
    crew_night_minutes: Mapping[str, int] = {}
    """Of these, minutes in the surcharge hours."""
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
    """soil, stone, wood, plant, salt, consumable."""
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
    """labour:<person>, office, travel, materials, waste, visits, overhead, margin, tax."""
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
