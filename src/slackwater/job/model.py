"""The job: everything a practitioner has entered about one rebuild. Facts may be missing; computed figures never stand here.

Keys in the file carry no unit (``length = "118 cm"``); fields here do (``length_m``). None means "not known yet";
an empty list means "there are none".
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ModelWrapValidatorHandler,
    PrivateAttr,
    ValidationError,
    model_validator,
)

from slackwater.frozen import Frozen
from slackwater.job.fields import (
    KIND_OF_READING,
    AlkalinityDkh,
    AnimalCount,
    AreaM2,
    ConcMgL,
    ConcUgL,
    ConductivityUsCm,
    CurrentA,
    Day,
    Days,
    DepthM,
    DistanceKm,
    EfficacyUmolJ,
    FlowLDay,
    FlowLH,
    FlowLMin,
    FluxUmolS,
    ForceKn,
    HardnessDgh,
    HeightM,
    Language,
    LengthM,
    LightUmol,
    LoadKnM2,
    MassKg,
    Minutes,
    Moment,
    Percent,
    Ph,
    PhReading,
    PieceSize,
    PositiveShare,
    PowerW,
    PressureBar,
    RiskShare,
    RoomM3,
    Share,
    ShareBelowOne,
    TempC,
    TimeOfDayMin,
    TimeZone,
    VoltageV,
    VolumeL,
    split_reading,
)
from slackwater.reader import currencies


def _money(value: object) -> object:
    """Money as Decimal; a float would carry binary dust into a price."""
    if isinstance(value, float):
        return Decimal(repr(value))
    return value


NO_CURRENCY = "cr"
"""Of a job that names no currency: amounts are plain credits."""


def _currency(told: str) -> str:
    found = told.strip().upper()
    if found == NO_CURRENCY.upper():
        return NO_CURRENCY
    if found not in currencies():
        raise ValueError("three letters of a currency in use are expected, such as EUR or USD")
    return found


Currency = Annotated[str, AfterValidator(_currency)]
Money = Annotated[Decimal, BeforeValidator(_money), Field(ge=0, le=Decimal("1e9"))]


# ---------------------------------------------------------------- the place and its hours


class Span(Frozen):
    """From one moment to another. Local time of the site."""

    start: Moment
    end: Moment


class AccessWindow(Frozen):
    """A span in which people may be on site. Local time of the site."""

    kind: Literal["day", "prepare", "reserve"] = "day"
    start: Moment
    end: Moment


class QuietHours(Frozen):
    """A span in which no noisy work is allowed (silent work may go on)."""

    start: Moment
    end: Moment
    reason: str = ""


class Route(Frozen):
    """The way from the van to the tank, one way."""

    distance_m: DepthM | None = Field(default=None, alias="distance")
    thresholds: int | None = Field(default=None, ge=0, le=50)
    ramps: int | None = Field(default=None, ge=0, le=50)
    storeys_by_stairs: int | None = Field(default=None, ge=0, le=50)
    door_clear_width_m: LengthM | None = Field(default=None, alias="door_clear_width")


class Lift(Frozen):
    """The lift on the way, if one is used."""

    cage_length_m: LengthM | None = Field(default=None, alias="cage_length")
    cage_width_m: LengthM | None = Field(default=None, alias="cage_width")
    door_width_m: LengthM | None = Field(default=None, alias="door_width")
    rated_load_kg: MassKg | None = Field(default=None, alias="rated_load")
    out_of_order: tuple[Span, ...] = ()


class Floor(Frozen):
    """What the floor is stated to carry, and by whom. The tool compares; an engineer decides."""

    construction: str = ""
    stated_load_kn_m2: LoadKnM2 | None = Field(default=None, alias="stated_load")
    stated_by: str = ""
    stand_limit_kn: ForceKn | None = Field(default=None, alias="stand_limit")
    stand_plate_length_m: LengthM | None = Field(default=None, alias="stand_plate_length")
    stand_plate_width_m: LengthM | None = Field(default=None, alias="stand_plate_width")
    extra_near_tank_kn: ForceKn | None = Field(default=None, alias="extra_near_tank")
    extra_near_tank_with_people: bool | None = None
    near_tank_m: LengthM | None = Field(default=None, alias="near_tank_radius")


class Circuit(Frozen):
    """One electric circuit that can be used, as read from the board."""

    name: str
    rating_a: CurrentA = Field(alias="rating")
    voltage_v: VoltageV | None = Field(default=None, alias="voltage")
    sockets: int | None = Field(default=None, ge=0)
    rcd_tested: bool | None = None
    shared_with: str = ""


class TapPoint(Frozen):
    """Where water comes from on site."""

    place: str = ""
    distance_m: DepthM | None = Field(default=None, alias="distance")
    flow_l_min: FlowLMin | None = Field(default=None, alias="flow")
    pressure_bar: PressureBar | None = Field(default=None, alias="pressure")
    temp_c: TempC | None = Field(default=None, alias="temperature")
    softener: bool | None = None


class DrainPoint(Frozen):
    """Where water may go on site."""

    place: str = ""
    distance_m: DepthM | None = Field(default=None, alias="distance")
    flow_l_min: FlowLMin | None = Field(default=None, alias="flow")
    permitted: bool | None = None
    shared_from: Moment | None = None
    shared_with: str = ""


class Site(Frozen):
    """The client's premises, as far as the work touches them."""

    name: str = ""
    kind: str = ""
    care_setting: bool | None = None
    occupied: str = ""
    time_zone: TimeZone | None = None
    altitude_m: HeightM | None = Field(default=None, alias="altitude")
    room_temp_c: TempC | None = Field(default=None, alias="room_temperature")
    room_volume_m3: RoomM3 | None = Field(default=None, alias="room_volume")
    windows: tuple[AccessWindow, ...] | None = None
    quiet: tuple[QuietHours, ...] | None = None
    client_here: tuple[Span, ...] | None = None
    key_holder_leaves: Moment | None = None
    seen_from: Moment | None = None
    rules: tuple[str, ...] = ()
    closed_days: tuple[Day, ...] = ()
    visits_from: TimeOfDayMin | None = None
    visits_until: TimeOfDayMin | None = None
    route: Route = Route()
    lift: Lift | None = None
    floor: Floor = Floor()
    circuits: tuple[Circuit, ...] | None = None
    tap: TapPoint = TapPoint()
    drain: DrainPoint = DrainPoint()


# ---------------------------------------------------------------- the tank and what runs it


class Opening(Frozen):
    """A free opening in the top of the tank, clear size."""

    length_m: LengthM = Field(alias="length")
    width_m: LengthM = Field(alias="width")


class Corner(Frozen):
    """A corner of the footprint, inside the glass, seen from above."""

    x_m: DepthM = Field(alias="x")
    y_m: DepthM = Field(alias="y")


PublicSide = Literal["front", "rear", "left", "right"]


class Tank(Frozen):
    """The tank, inside dimensions. Length runs left to right, width front to rear.

    Either `length_m` and `width_m`, or `footprint` (three or more corners, in order) give the base. `bow_m` is how far
    a bowed front stands out in its middle, over a `width_m` taken at the sides.
    """

    length_m: LengthM | None = Field(default=None, alias="length")
    width_m: LengthM | None = Field(default=None, alias="width")
    height_m: LengthM | None = Field(default=None, alias="height")
    footprint: tuple[Corner, ...] | None = Field(default=None, min_length=3)
    bow_m: LengthM | None = Field(default=None, alias="bow")
    wall_m: LengthM | None = Field(default=None, alias="wall")
    material: Literal["glass", "low-iron glass", "acrylic"] | None = None
    braced: bool | None = None
    age_years: float | None = Field(default=None, ge=0, le=100)
    seam_damage: bool | None = None
    water_line_m: LengthM | None = Field(default=None, alias="water_line")
    previous_water_line_m: LengthM | None = Field(default=None, alias="previous_water_line")
    rim_height_m: LengthM | None = Field(default=None, alias="rim_height")
    openings: tuple[Opening, ...] | None = None
    braces_across: int | None = Field(default=None, ge=0, le=10)
    brace_width_m: LengthM | None = Field(default=None, alias="brace_width")
    work_places: int | None = Field(default=None, ge=1, le=20)
    public_sides: tuple[PublicSide, ...] | None = None
    glass_and_stand_kg: MassKg | None = Field(default=None, alias="glass_and_stand")
    stand_length_m: LengthM | None = Field(default=None, alias="stand_length")
    stand_width_m: LengthM | None = Field(default=None, alias="stand_width")

    @property
    def free_openings(self) -> tuple[Opening, ...] | None:
        """Openings as measured; else what equal braces at equal distances leave of the mouth; None where neither is told."""
        count, length, width = self.braces_across, self.length_m, self.width_m
        if self.openings is not None or not count or self.brace_width_m is None or length is None or width is None:
            return self.openings
        each = (length - count * self.brace_width_m) / (count + 1)
        return (Opening(length=each, width=width),) * (count + 1) if each > 0 else None


class Filter(Frozen):
    """One external filter."""

    name: str = ""
    media_l: VolumeL | None = Field(default=None, alias="media")
    rated_flow_l_h: FlowLH | None = Field(default=None, alias="rated_flow")
    measured_flow_l_h: FlowLH | None = Field(default=None, alias="measured_flow")
    hose_mm: str = ""
    power_w: PowerW | None = Field(default=None, alias="power")
    note: str = ""


class Device(Frozen):
    """A heater or a lamp."""

    name: str = ""
    power_w: PowerW = Field(alias="power")
    count: int = Field(default=1, ge=1, le=50)


Spectrum = Literal["white", "warm white", "plant", "daylight"]
WaterColour = Literal["clear", "tea", "dark"]


class Lamp(Device):
    """Lamps of one kind. Only their power must be known; what is left open is taken as usual and told.

    `beam_angle_deg` is full, between the directions of half the greatest intensity; `points` counts single points of light
    in a row along the length; `file` names a measured file (IES) beside the job; places are of the middle of the lamp,
    from the left and from the front, inside the glass; `dimmed_to` is the share that the dimmer lets through.
    """

    photon_flux_umol_s: FluxUmolS | None = Field(default=None, alias="photon_flux")
    efficacy_umol_j: EfficacyUmolJ | None = Field(default=None, alias="efficacy")
    length_m: LengthM | None = Field(default=None, alias="length")
    width_m: LengthM | None = Field(default=None, alias="width")
    above_water_m: LengthM | None = Field(default=None, alias="above_water")
    from_left_m: DepthM | None = Field(default=None, alias="from_left")
    from_front_m: DepthM | None = Field(default=None, alias="from_front")
    beam_angle_deg: float | None = Field(default=None, ge=4, le=170, alias="beam_angle")
    points: int | None = Field(default=None, ge=1, le=500)
    file: str = ""
    spectrum: Spectrum | None = None
    dimmed_to: Share | None = None


class Skylight(Frozen):
    """A window in the roof over the tank, taken as an even, level lamp by day."""

    length_m: LengthM = Field(alias="length")
    width_m: LengthM = Field(alias="width")
    above_water_m: LengthM = Field(alias="above_water")
    from_left_m: DepthM | None = Field(default=None, alias="from_left")
    from_front_m: DepthM | None = Field(default=None, alias="from_front")
    daylight_umol_m2_s: LightUmol | None = Field(default=None, alias="daylight")
    """On a level meter right under its glass, at midday."""


class Light(Frozen):
    """The light over the tank, and one reading if there is one."""

    lamps: tuple[Lamp, ...] = ()
    skylight: Skylight | None = None
    reading_umol_m2_s: LightUmol | None = Field(default=None, alias="bottom_centre")
    timer_hours: float | None = Field(default=None, ge=0, le=24)
    water_colour: WaterColour | None = None
    cover_lets_through: PositiveShare | None = None
    """Share of light that a cover on the tank lets through; left out, there is none."""


class Co2(Frozen):
    """A carbon dioxide cylinder."""

    cylinder_kg: MassKg = Field(alias="cylinder")
    cabinet_m3: RoomM3 | None = Field(default=None, alias="cabinet_volume")
    set_point_mg_l: ConcMgL | None = Field(default=None, alias="set_point")


class OldContents(Frozen):
    """What comes out of the tank. `kept_share` is the share of the bottom whose old bed stays as it is.

    Soil is entered for the whole bottom; the plan takes out what is not kept.
    """

    soil: str = ""
    soil_depth_m: DepthM | None = Field(default=None, alias="soil_depth")
    soil_l: VolumeL | None = Field(default=None, alias="soil_volume")
    kept_share: ShareBelowOne = 0.0
    planted_m2: AreaM2 | None = Field(default=None, alias="planted_area")
    cover_factor: float | None = Field(default=None, ge=1, le=2.5)
    hardscape_kg: MassKg | None = Field(default=None, alias="hardscape")
    plants: tuple[str, ...] = ()


# ---------------------------------------------------------------- water


class WaterReading(Frozen):
    """One water, as tested. TAN and nitrite count nitrogen; nitrate, sulfate and phosphate count the whole ion.

    Each number may carry its reading error ("14 ± 1 dGH") or be a detection limit ("< 0.02 mg/L"); a limit is kept as
    half of it, give or take the other half.
    """

    date: Day | None = None
    method: str = ""
    temp_c: TempC | None = Field(default=None, alias="temperature")
    ph: PhReading | None = None
    hardness_dgh: HardnessDgh | None = Field(default=None, alias="gh")
    alkalinity_dkh: AlkalinityDkh | None = Field(default=None, alias="kh")
    conductivity_us_cm: ConductivityUsCm | None = Field(default=None, alias="conductivity")
    calcium_mg_l: ConcMgL | None = Field(default=None, alias="calcium")
    magnesium_mg_l: ConcMgL | None = Field(default=None, alias="magnesium")
    sodium_mg_l: ConcMgL | None = Field(default=None, alias="sodium")
    potassium_mg_l: ConcMgL | None = Field(default=None, alias="potassium")
    sulfate_mg_l: ConcMgL | None = Field(default=None, alias="sulfate")
    chloride_mg_l: ConcMgL | None = Field(default=None, alias="chloride")
    tan_mg_l: ConcMgL | None = Field(default=None, alias="tan")
    nitrite_n_mg_l: ConcMgL | None = Field(default=None, alias="nitrite_n")
    nitrate_mg_l: ConcMgL | None = Field(default=None, alias="nitrate")
    phosphate_mg_l: ConcMgL | None = Field(default=None, alias="phosphate")
    free_chlorine_mg_l: ConcMgL | None = Field(default=None, alias="free_chlorine")
    combined_chlorine_mg_l: ConcMgL | None = Field(default=None, alias="combined_chlorine")
    copper_first_draw_ug_l: ConcUgL | None = Field(default=None, alias="copper_first_draw")
    copper_ug_l: ConcUgL | None = Field(default=None, alias="copper")
    iron_mg_l: ConcMgL | None = Field(default=None, alias="iron")
    _stated_error: Mapping[str, float] = PrivateAttr(default_factory=dict)
    _below_detection: frozenset[str] = PrivateAttr(default_factory=frozenset)

    @property
    def stated_error(self) -> Mapping[str, float]:
        """Reading error by field name, in the field's unit, where one was written."""
        return self._stated_error

    @property
    def below_detection(self) -> frozenset[str]:
        """Names of the fields that were written as a detection limit."""
        return self._below_detection

    @model_validator(mode="wrap")
    @classmethod
    def _take_errors_apart(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(data, Mapping):
            return handler(data)
        plain = dict(data)
        errors: dict[str, float] = {}
        below: set[str] = set()
        faults: list[Any] = []
        for name, field in cls.model_fields.items():
            key = field.alias or name
            if not isinstance(plain.get(key), str) or name in ("method", "date"):
                continue
            try:
                value, error, limit = split_reading(plain[key], KIND_OF_READING.get(name))
            except ValueError as fault:
                faults.append({"type": "value_error", "loc": (key,), "input": plain[key], "ctx": {"error": fault}})
                del plain[key]
                continue
            plain[key] = value
            if error is not None:
                errors[name] = error
            if limit:
                below.add(name)
        try:
            made = handler(plain)
        except ValidationError as error:
            faults += [
                {"type": fault["type"], "loc": fault["loc"], "input": fault["input"], "ctx": fault.get("ctx", {})}
                for fault in error.errors()
            ]
        if faults:
            raise ValidationError.from_exception_data(cls.__name__, faults)
        made._stated_error = errors
        made._below_detection = frozenset(below)
        return made


class OtherWater(WaterReading):
    """Another water that may be mixed in: rain water, bought permeate, a second tap."""

    name: str
    available_l: VolumeL = Field(alias="litres")
    place: Literal["site", "workshop"] = "workshop"
    price_per_l: Money | None = None


class Readings(Frozen):
    """The waters that were tested."""

    tap: WaterReading | None = None
    tank: WaterReading | None = None
    other: tuple[OtherWater, ...] = ()


class Target(Frozen):
    """What the tank should settle at; ranges as agreed with the client."""

    ph_low: Ph | None = None
    ph_high: Ph | None = None
    hardness_low_dgh: HardnessDgh | None = Field(default=None, alias="gh_low")
    hardness_high_dgh: HardnessDgh | None = Field(default=None, alias="gh_high")
    alkalinity_low_dkh: AlkalinityDkh | None = Field(default=None, alias="kh_low")
    alkalinity_high_dkh: AlkalinityDkh | None = Field(default=None, alias="kh_high")
    temp_c: TempC | None = Field(default=None, alias="temperature")
    nitrate_high_mg_l: ConcMgL | None = Field(default=None, alias="nitrate_high")
    sodium_high_mg_l: ConcMgL | None = Field(default=None, alias="sodium_high")
    potassium_high_mg_l: ConcMgL | None = Field(default=None, alias="potassium_high")
    conductivity_high_us_cm: ConductivityUsCm | None = Field(default=None, alias="conductivity_high")
    calcium_per_magnesium_low: float | None = Field(default=None, ge=0, le=100)
    calcium_per_magnesium_high: float | None = Field(default=None, ge=0, le=100)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        for low, high, what in (
            (self.ph_low, self.ph_high, "ph"),
            (self.hardness_low_dgh, self.hardness_high_dgh, "gh"),
            (self.alkalinity_low_dkh, self.alkalinity_high_dkh, "kh"),
            (self.calcium_per_magnesium_low, self.calcium_per_magnesium_high, "calcium_per_magnesium"),
        ):
            if low is not None and high is not None and low > high:
                raise ValueError(f"{what}_low is above {what}_high; swap them")
        return self


class ReverseOsmosis(Frozen):
    """The reverse osmosis unit and when it may run."""

    rated_l_day: FlowLDay | None = Field(default=None, alias="rated_flow")
    rated_temp_c: TempC = Field(default=25.0, alias="rated_temperature")
    rated_pressure_bar: PressureBar | None = Field(default=None, alias="rated_pressure")
    feed_pressure_bar: PressureBar | None = Field(default=None, alias="feed_pressure")
    feed_temp_c: TempC | None = Field(default=None, alias="feed_temperature")
    measured_l_day: FlowLDay | None = Field(default=None, alias="measured_flow")
    age_factor: PositiveShare | None = None
    waste_ratio: float | None = Field(default=None, ge=0, le=20)
    rejection: ShareBelowOne | None = None
    place: Literal["site", "workshop"] | None = None
    may_run_from: Moment | None = None
    may_run_until: Moment | None = None
    attended_from: TimeOfDayMin | None = None
    attended_until: TimeOfDayMin | None = None
    booster_w: PowerW | None = Field(default=None, alias="booster")
    leak_cut_off: bool | None = None


class SaltOnHand(Frozen):
    """A salt that may go into the new water, by catalog id."""

    salt: str
    mass_kg: MassKg | None = Field(default=None, alias="amount")
    purity: PositiveShare | None = None


class Preparation(Frozen):
    """How the new water is made, stored and warmed, and how old water is kept.

    `salts` left out: what the usual recipe needs is ordered. An empty list: no salts are to be used.
    `filter_on_barrel` says that the filter runs on a barrel of old water while the tank is empty, or that it does not;
    left out, the day decides.
    """

    ro: ReverseOsmosis | None = None
    salts: tuple[SaltOnHand, ...] | None = None
    heater_w: PowerW | None = Field(default=None, alias="heater")
    keep_old_l: VolumeL | None = Field(default=None, alias="keep_old")
    filter_on_barrel: bool | None = None
    tap_allowed: bool | None = None
    pump_flow_l_min: FlowLMin | None = Field(default=None, alias="pump_flow")
    pump_free_flow_l_min: FlowLMin | None = Field(default=None, alias="pump_free_flow")
    pump_head_m: LengthM | None = Field(default=None, alias="pump_head")
    hose_bore_m: LengthM | None = Field(default=None, alias="hose_bore")
    hose_length_m: LengthM | None = Field(default=None, alias="hose_length")
    hose_summit_m: DepthM | None = Field(default=None, alias="hose_summit")


# ---------------------------------------------------------------- the living


class Animals(Frozen):
    """One species in the tank. `boarded` animals leave in their box once they are caught, and come back another day."""

    species: str
    count: AnimalCount
    keep: bool = True
    boarded: bool = False
    note: str = ""


class Container(Frozen):
    """Boxes, tubs and barrels on hand, by catalog id."""

    container: str
    count: int = Field(ge=0, le=100)


class Person(Frozen):
    """One of the crew. `speed` 1.0 is the lead's own; `speed_at` gives other factors by kind of work.

    `longest_stretch_min` is how long they may go on without a break.
    """

    id: str
    speed: float = Field(default=1.0, gt=0, le=3)
    speed_at: Mapping[str, float] = {}
    hourly_rate: Money | None = None
    from_: Moment | None = Field(default=None, alias="from")
    until: Moment | None = None
    on_call: bool = False
    minimum_hours: float = Field(default=0, ge=0, le=24)
    skills: tuple[str, ...] = ()
    break_min: Minutes | None = Field(default=None, alias="break")
    break_from: TimeOfDayMin | None = None
    break_until: TimeOfDayMin | None = None
    longest_stretch_min: Minutes | None = Field(default=None, alias="longest_stretch", gt=0)
    night_surcharge: Share | None = None
    night_until: TimeOfDayMin | None = None


class Holding(Frozen):
    """The practitioner's own wish who goes into which box; left out, the tool proposes."""

    container: str
    species: tuple[str, ...] = Field(min_length=1)


# ---------------------------------------------------------------- what goes in


class BedLayer(Frozen):
    """A soil, sand or base layer and the bags it comes in."""

    material: str
    bag_l: VolumeL | None = Field(default=None, alias="bag")
    bag_price: Money | None = None
    on_hand_bags: int = Field(default=0, ge=0, le=1000)


class BedShape(Frozen):
    """The surface of the bed, as depths above the bottom glass.

    ``edges``: a plane from `front` to `rear` depth (and `left` to `right`).
    ``ridge``: `edge` at front and rear glass, `top` along the middle, straight slopes between.
    ``gable``: as ridge, running across: `edge` at left and right, `top` across the middle.
    ``mound``: `edge` at all glass, `top` over a flat of `flat_length` by `flat_width` in the middle.
    ``corners``: four depths, bilinear between.
    """

    form: Literal["edges", "ridge", "gable", "mound", "corners"]
    front_m: DepthM | None = Field(default=None, alias="front")
    rear_m: DepthM | None = Field(default=None, alias="rear")
    left_m: DepthM | None = Field(default=None, alias="left")
    right_m: DepthM | None = Field(default=None, alias="right")
    edge_m: DepthM | None = Field(default=None, alias="edge")
    top_m: DepthM | None = Field(default=None, alias="top")
    flat_length_m: DepthM | None = Field(default=None, alias="flat_length")
    flat_width_m: DepthM | None = Field(default=None, alias="flat_width")
    front_left_m: DepthM | None = Field(default=None, alias="front_left")
    front_right_m: DepthM | None = Field(default=None, alias="front_right")
    rear_left_m: DepthM | None = Field(default=None, alias="rear_left")
    rear_right_m: DepthM | None = Field(default=None, alias="rear_right")

    @model_validator(mode="after")
    def _has_its_depths(self) -> Self:
        needed = {
            "edges": (("front", self.front_m), ("rear", self.rear_m)),
            "ridge": (("edge", self.edge_m), ("top", self.top_m)),
            "gable": (("edge", self.edge_m), ("top", self.top_m)),
            "mound": (("edge", self.edge_m), ("top", self.top_m)),
            "corners": (
                ("front_left", self.front_left_m),
                ("front_right", self.front_right_m),
                ("rear_left", self.rear_left_m),
                ("rear_right", self.rear_right_m),
            ),
        }[self.form]
        lacking = [name for name, value in needed if value is None]
        if lacking:
            raise ValueError(f'a bed of form "{self.form}" needs {" and ".join(lacking)}')
        return self


class TopLayer(Frozen):
    """A second soil laid over part of the first."""

    layer: BedLayer
    depth_m: LengthM = Field(alias="depth")
    share: Share


class SandBay(Frozen):
    """A bay at the glass that holds sand instead of soil, over its whole depth."""

    layer: BedLayer
    length_m: LengthM = Field(alias="length")
    width_m: LengthM = Field(alias="width")
    count: int = Field(default=1, ge=1, le=10)


class Bed(Frozen):
    """The bed the client agreed to."""

    shape: BedShape | None = None
    soil: BedLayer | None = None
    base: BedLayer | None = None
    base_depth_m: DepthM | None = Field(default=None, alias="base_depth")
    top_layer: TopLayer | None = None
    bays: tuple[SandBay, ...] = ()
    retainers: bool | None = None


class Stone(Frozen):
    """Stones of one kind; masses of the single pieces, or one total.

    `sizes` are those of the single pieces in the same order, as far as they were taken. `mesh` is a scan of the first
    piece, a file beside the job; it is brought to `mesh_length`, its longest side, else to the mass of that piece.
    """

    material: str
    pieces_kg: tuple[MassKg, ...] = Field(alias="pieces", min_length=1)
    sizes: tuple[PieceSize, ...] = ()
    look: Literal["rounded", "angular", "slab", "pitted"] | None = None
    largest_length_m: LengthM | None = Field(default=None, alias="largest_length")
    largest_width_m: LengthM | None = Field(default=None, alias="largest_width")
    price_per_kg: Money | None = None
    mesh: str | None = None
    mesh_length_m: LengthM | None = Field(default=None, alias="mesh_length")


class Wood(Frozen):
    """One piece of wood. `mesh` is a scan of it, a file beside the job, brought to `mesh_length` or else to its mass."""

    material: str
    mass_kg: MassKg = Field(alias="mass")
    size: PieceSize | None = None
    length_m: LengthM | None = Field(default=None, alias="length")
    width_m: LengthM | None = Field(default=None, alias="width")
    price: Money | None = None
    soaked_days: Days | None = Field(default=None, alias="soaked")
    floats: bool | None = None
    mesh: str | None = None
    mesh_length_m: LengthM | None = Field(default=None, alias="mesh_length")


Intent = Literal["one_end", "diagonal", "island", "open_middle", "path"]
"""What the stones and the wood are to come to: see `layout.arrange`."""


class LayoutWish(Frozen):
    """How stone and wood are to stand. Eyes are those of the public, above the floor.

    `scene` is a scene file (glTF 2.0, .glb) beside the job that this program or its editor wrote; left out, the plan
    takes a proposal from the pieces on hand for the `intent`, and says so.
    """

    scene: str | None = None
    intent: Intent | None = None
    seed: int | None = Field(default=None, ge=0)
    """Of the search for a proposal; left out, the seed of the job."""
    seated_eye_m: LengthM | None = Field(default=None, alias="seated_eye")
    standing_eye_m: LengthM | None = Field(default=None, alias="standing_eye")
    viewing_distance_m: LengthM | None = Field(default=None, alias="viewing_distance")


class Planting(Frozen):
    """Pots, cups or portions of one plant. `zone` may name the carpet or foreground for a later visit."""

    plant: str
    units: int = Field(ge=0, le=1000)
    unit_price: Money | None = None
    substitute_allowed: bool = False
    undeliverable: bool = False


class PlantingWish(Frozen):
    """What a proposal of plants keeps to; what is named under `plants` stands as it is.

    `unavailable` names plants that cannot be had at the moment.
    """

    budget: Money | None = None
    """For plants, as they are ordered."""
    most_species: int | None = Field(default=None, ge=1, le=40)
    fast_share: Share | None = None
    """Fast growers, as a share of the planted area on the first day."""
    unavailable: tuple[str, ...] = ()


# ---------------------------------------------------------------- office


class Goods(Frozen):
    """Something whose batch and age matter: peroxide, test reagents, glue."""

    item: str
    batch: str = ""
    opened: Day | None = None
    expires: Day | None = None
    strength_percent: Percent | None = None


class Van(Frozen):
    """The van."""

    payload_kg: MassKg | None = Field(default=None, alias="payload")
    crew_mass_kg: MassKg | None = Field(default=None, alias="crew_mass")
    drive_one_way_min: Minutes | None = Field(default=None, alias="drive_one_way")
    drive_one_way_km: DistanceKm | None = Field(default=None, alias="distance_one_way")


OptionChange = Literal["carpet_later", "fewer_plants", "richer_planting", "longer_care"]


class OfferOption(Frozen):
    """One of several ways in which the job is offered: its name, and what is changed of the job; none: as asked."""

    name: str = Field(min_length=1, max_length=60)
    changes: tuple[OptionChange, ...] = ()


class Price(Frozen):
    """The firm's rates and the client's limits, before tax unless said."""

    currency: Currency = NO_CURRENCY
    overhead_share: Share | None = None
    margin_share: Share | None = None
    tax_share: Share | None = None
    risk_share: RiskShare | None = None
    """Probability that the job costs more than the fixed price carries; left out, the price is of the planned hours."""
    loss_cost: Money | None = None
    """What a day on which a clock is not kept costs the firm in animals, before overhead."""
    waste_per_kg: Money | None = None
    travel_per_km: Money | None = None
    client_budget: Money | None = None
    budget_covers: str = ""
    offer_date: Day | None = None
    offer_valid_days: int | None = Field(default=None, ge=0, le=3650)
    deposit_share: Share | None = None
    terms: tuple[str, ...] = ()
    options: tuple[OfferOption, ...] = Field(default=(), max_length=6)
    """Each is planned and priced by itself; without any the offer is of the job as it stands."""


class Papers(Frozen):
    """How the papers of the job are set. Left out: English, on A4."""

    language: Language | None = None
    size: Literal["a4", "letter"] | None = None


class VisitGroup(Frozen):
    """Contract visits: on single days after the rebuild, or every so many days in a span."""

    days: tuple[int, ...] = ()
    from_day: int | None = Field(default=None, ge=0)
    to_day: int | None = Field(default=None, ge=0)
    every_days: int | None = Field(default=None, ge=1)


class Contract(Frozen):
    """The care contract after the day. `ends` is its last day; `taken_days` are those that belong to other clients."""

    visits: tuple[VisitGroup, ...] = ()
    ends: Day | None = None
    taken_days: tuple[Day, ...] = ()
    priced_to_day: int | None = Field(default=None, ge=1, le=366)
    """Last day after the rebuild whose visits are in the price; left out, those of the first six weeks are."""
    visit_min: Minutes | None = Field(default=None, alias="visit_time")
    largest_change_l: VolumeL | None = Field(default=None, alias="largest_change")
    ro_on_van_l: VolumeL | None = Field(default=None, alias="ro_on_van")

    def visit_days(self, *, last_day: int) -> tuple[int, ...]:
        """Days after the rebuild on which there is a visit; open spans end with the last day."""
        days: set[int] = set()
        for group in self.visits:
            days |= set(group.days)
            if group.from_day is not None and group.every_days is not None:
                end = last_day if group.to_day is None else group.to_day
                days |= set(range(group.from_day, end + 1, group.every_days))
        return tuple(sorted(day for day in days if day <= last_day))


class PastWork(Frozen):
    """One activity on a past job: minutes by the catalog for that job's quantity and crew, and as they were."""

    activity: str
    """Catalog id, E1 and on."""
    planned_min: Minutes = Field(alias="planned", gt=0)
    actual_min: Minutes = Field(alias="actual", gt=0)
    date: Day | None = None
    crew: tuple[str, ...] = ()
    """Who did it, as in ``people``; left out, it counts for any crew."""


class Brief(Frozen):
    """What the client wants, in words and in the few numbers that can be checked.

    `crew_notes` stand on the day sheet. `may_be_left_out` names activities of the table that the day can do without, each with the minutes by which the day
    may end later for them to be done.
    """

    wishes: tuple[str, ...] = ()
    tip_clearance_m: DepthM | None = Field(default=None, alias="tip_clearance")
    epiphytes_at_bench: bool = False
    carpet_later: bool = False
    may_be_left_out: Mapping[str, Minutes] = {}
    crew_notes: tuple[str, ...] = ()


class Job(Frozen):
    """One rebuild, as far as it is known."""

    format: Literal[1]
    name: str
    reference: str = ""
    client: str = ""
    """Whom the job is for, as papers name them; where the record book knows the client of its house, that one is named."""
    surveyed: Day | None = None
    seed: int = Field(default=1, ge=0)
    client_informed: bool | None = None
    animals_ill: bool | None = None
    site: Site = Site()
    tank: Tank = Tank()
    filters: tuple[Filter, ...] | None = None
    heaters: tuple[Device, ...] | None = None
    light: Light | None = None
    co2: Co2 | None = None
    old: OldContents = OldContents()
    water: Readings = Readings()
    target: Target = Target()
    livestock: tuple[Animals, ...] | None = None
    containers: tuple[Container, ...] | None = None
    holding: tuple[Holding, ...] = ()
    people: tuple[Person, ...] | None = None
    bed: Bed = Bed()
    stones: tuple[Stone, ...] | None = None
    wood: tuple[Wood, ...] | None = None
    layout: LayoutWish = LayoutWish()
    plants: tuple[Planting, ...] | None = None
    planting: PlantingWish = PlantingWish()
    preparation: Preparation = Preparation()
    goods: tuple[Goods, ...] = ()
    van: Van = Van()
    price: Price = Price()
    papers: Papers = Papers()
    contract: Contract = Contract()
    brief: Brief = Brief()
    past_jobs: tuple[PastWork, ...] = ()

    @property
    def days_without_visit(self) -> tuple[Day, ...]:
        """Dates on which there can be no visit: the house is closed, or other clients have them."""
        return tuple(sorted({*self.site.closed_days, *self.contract.taken_days}))

    @property
    def all_boarded(self) -> bool:
        """Whether every animal that is kept leaves in its box and comes back another day."""
        kept = [animals for animals in self.livestock or () if animals.keep]
        return bool(kept) and all(animals.boarded for animals in kept)
