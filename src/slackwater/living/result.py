"""What the living room hands on: hours of every box, the filter, peroxide, the weeks after the restart."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from slackwater.frozen import Frozen


class Band(Frozen):
    """A value with its 5 and 95 % ends."""

    low: float
    middle: float
    high: float


class Hours(Frozen):
    """Hours until something happens; None where it does not within the hours looked at."""

    low: float | None
    middle: float | None
    high: float | None


class Way(Frozen):
    """One thing that changes how long a box holds; see ``way.<id>`` in the wording."""

    id: str
    hours: Hours
    values: Mapping[str, float | str] = {}


class BoxCourse(Frozen):
    """What a box is likely to be like over the hours: 5, 50 and 95 % of each."""

    hours: tuple[float, ...]
    oxygen_mg_l: tuple[tuple[float, float, float], ...]
    co2_mg_l: tuple[tuple[float, float, float], ...]
    ph: tuple[tuple[float, float, float], ...]
    tan_mg_l: tuple[tuple[float, float, float], ...]
    uia_mg_l: tuple[tuple[float, float, float], ...]
    temp_c: tuple[tuple[float, float, float], ...]


class BoxHours(Frozen):
    """How long one box may wait, and what decides.

    Attributes
    ----------
    label : str
    shrimp : bool
        Whether the clock of the shrimp boxes counts.
    keeping : str
        bare, wrapped or heated: how the plan keeps its warmth.
    stones : int
        Air stones in it.
    heat_w : float
        What a heater in it would have to make up for, bare [W].
    hours : Hours
        Aired, lid on, kept as the plan says, to the first limit.
    binds : str
        oxygen, carbon dioxide, ammonia or temperature; empty where none is met.
    refreshed_h : tuple of float
        How long each stretch may be with one and with two changes of half the box, low end.
    still, after_failure : Hours
        Without air from the start; and, with air that stops at ``failure_at_h``, the hours left from then.
    ways : tuple of Way
    course : BoxCourse
    unheated_h : Hours or None
        Until a heated box is off by the drift limit when its heater fails; None where it has none.
    leaves : bool
        Its animals are boarded: it sets no clock of the day.
    """

    label: str
    leaves: bool = False
    container: str
    water_l: float
    counts: Mapping[str, int]
    shrimp: bool
    keeping: str
    stones: int
    heat_w: float
    hours: Hours
    binds: str
    refreshed_h: tuple[float, ...]
    still: Hours
    still_binds: str
    air_failed: bool
    """Whether its air is known to have stopped; else ``failure_at_h`` is only asked for."""
    failure_at_h: float
    after_failure: Hours
    ways: tuple[Way, ...]
    course: BoxCourse
    unheated_h: Hours | None = None
    stay: Stay | None = None
    """On the planned day, whose times the course then follows; None while there is no day."""
    kept_share: float | None = None
    """Share of the draws in which that day keeps every limit of the box."""


class Stay(Frozen):
    """When the animals of a box are in it on the day that was planned; minutes from the start of access."""

    caught_from_min: int
    caught_by_min: int
    dripped_from_min: int
    """When the tank's water begins to be dripped in."""
    let_go_from_min: int
    let_go_by_min: int
    changed_min: tuple[int, ...] = ()
    """When half of the water is changed."""

    @property
    def hours(self) -> float:
        """From the first animal in to the last one out [h]."""
        return (self.let_go_by_min - self.caught_from_min) / 60


class Clock(Frozen):
    """A clock of the day as simulated: minutes at the low end, in the middle, at the high end.

    `restarted_low_min` holds the low end of each stretch with one, two … refreshes.
    """

    id: str
    low_min: int
    typical_min: int
    high_min: int
    restarted_low_min: tuple[int, ...]
    about: str
    """Which box, or what of the filter."""
    binds: str


class FilterState(Frozen):
    """The filter on the day."""

    shut_min: Band
    """Minutes until a shut, filled canister is out of oxygen."""
    mature: bool
    surviving: Band
    """Share of the first step's activity when it runs again after a day of damp media."""
    loss_per_day: Band
    """Share lost by waiting without food, for each day with oxygen."""
    lag_first_h: Band
    lag_second_h: Band
    peroxide_loss: Band
    """Share lost in media that peroxide has touched."""


class PeroxideUse(Frozen):
    """Peroxide on the drained glass: how much, how long, what is left."""

    area_m2: float
    litres: float
    grams: float
    """Of pure peroxide."""
    strength_percent: float
    dilute_from_percent: float | None
    """A stronger bottle that has to be thinned; None where it is used as it is."""
    stock_l: float | None
    doubtful: str
    """Why the strength is not known: expired, opened long ago, or empty."""
    wait_min: float
    left_after_wait: Band
    """Share of the strength after the wait, on dirty wet surfaces."""
    rinses: int
    rinse_l: float
    refill_mg_l: float
    """In the refill after the rinses, decay not counted."""
    unrinsed_mg_l: float
    unrinsed_h: Band
    """Hours until the refill would be down to the limit without rinsing."""
    limit_mg_l: float


class Fan(Frozen):
    """Bands over the days: 5, 25, 50, 75 and 95 % of all members."""

    days: tuple[float, ...]
    bands: tuple[tuple[float, float, float, float, float], ...]


class OptionOutcome(Frozen):
    """One way of going on and how likely it keeps the animals' limits; see ``option.<id>`` in the wording.

    Attributes
    ----------
    kept : float
        Probability that all limits are kept from the return on.
    over_ammonia, over_nitrite : float
        Probability that the limit is passed.
    by_species : mapping
        The same for each kind: probability that its limits are passed.
    cost : float
        Beside the plan as booked, in the job's currency; example prices.
    """

    id: str
    return_day: float
    kept: float
    over_ammonia: float
    over_nitrite: float
    by_species: Mapping[str, float]
    cost: float
    passes: bool
    values: Mapping[str, float | str] = {}


class ChangePlan(Frozen):
    """Water changes that keep the limits, or come nearest.

    Attributes
    ----------
    days : tuple of int
    litres : tuple of float
    waters : tuple of str
    probability : float
    binding_day : int
    binding_limit : str
        ammonia, nitrite or total ammonia.
    sampling_days : tuple of int
    tried : int
    feed_share : float
        Of usual feeding; below 1 where feeding has to be restricted.
    kept_short_light : float
        Probability with light cut against algae, when plants take less.
    by_contract : bool
        Whether the contract's visits are enough.
    """

    days: tuple[int, ...]
    litres: tuple[float, ...]
    waters: tuple[str, ...]
    probability: float
    keeps: bool
    binding_day: int
    binding_limit: str
    sampling_days: tuple[int, ...]
    tried: int
    feed_share: float
    kept_short_light: float
    by_contract: bool
    until_day: int = 42
    """Last day to which the odds are reckoned."""
    gone_on_days: tuple[int, ...] = ()
    """Visits after that, on which the courses go on with half changes of `gone_on_l`."""
    gone_on_l: float = 0.0
    thiosulfate_mg: tuple[float | None, ...] = ()
    """For the tap water in each change; None where nobody has tested its chlorine."""


class Weeks(Frozen):
    """The weeks after the restart.

    Attributes
    ----------
    members : int
    fit_share : float or None
        Share of all members drawn that fit the tank's readings before the day; None where none were told.
    soil : str
        active, lean or inert.
    sensitive : tuple of str
        Kinds that are held to the lower limits.
    uia_limit_mg_l, nitrite_limit_mg_l, tan_limit_mg_l : float
        The lowest that applies.
    options : tuple of OptionOutcome
        Those that pass first, by cost; then the others by probability.
    chosen : str
        Of the option whose courses and plan follow.
    fans : mapping
        tan_mg_l, uia_mg_l, nitrite_mg_l, nitrate_mg_l, alkalinity_dkh and ph, with the plan's changes.
    drivers : tuple of (str, float)
        Priors that drive the spread of the ammonium peak, by rank correlation.
    """

    members: int
    fit_share: float | None
    soil: str
    sensitive: tuple[str, ...]
    uia_limit_mg_l: float
    nitrite_limit_mg_l: float
    tan_limit_mg_l: float
    options: tuple[OptionOutcome, ...]
    chosen: str
    fans: Mapping[str, Fan]
    drivers: tuple[tuple[str, float], ...]
    plan: ChangePlan | None
    refilled: date | None
    """Day 0."""
    ph_table_error: float
    """Largest difference between the table of the course and full speciation at its middle [pH]."""
    uia_table_error: float
    """The same of the un-ionised peak, as a share of it."""

    @property
    def may_return_today(self) -> bool:
        """Whether the animals keep their limits when they go back on the day, as often as is asked for."""
        return all(item.passes for item in self.options if item.id == "today")


class Catch(Frozen):
    """A species whose catch was counted pass by pass, and whether to go on."""

    species: str
    passes: tuple[int, ...]
    caught: int
    left: float | None
    """Most likely; None where the counts tell no upper end."""
    left_low: float
    left_high: float | None
    minutes_to_90: float | None
    advice: str
    """stop, go_on, or not_yet; see ``catch.<advice>``."""
    from_passes: bool
    """False where only one count is known."""


class Living(Frozen):
    """Everything alive: hours, filter, peroxide, weeks."""

    boxes: tuple[BoxHours, ...]
    """None too where the animals are not all known; `boxes_lack` then says what is missing."""
    clocks: tuple[Clock, ...]
    filter: FilterState | None
    peroxide: PeroxideUse | None
    catches: tuple[Catch, ...]
    weeks: Weeks | None
    boxes_lack: tuple[str, ...] = ()
