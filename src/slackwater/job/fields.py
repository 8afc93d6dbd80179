"""Field types of the job file: text with a unit in, a plain float in the named unit inside."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema

from slackwater.errors import BadInput
from slackwater.frozen import Frozen
from slackwater.job.zones import near_zones, zone_names
from slackwater.reader import languages
from slackwater.units import KINDS, read_quantity

FROM_FILE = {"from_file": True}
"""Validation context of a job read from a file: there a bare number is refused, because its unit is not known."""


@dataclass(frozen=True)
class Asks:
    """What a field is asked for by: a key of ``units.KINDS``, a time of day, or a share."""

    kind: str


def _reader(kind: str) -> BeforeValidator:
    def read(value: object, info: ValidationInfo) -> float:
        if isinstance(value, float) and not info.context:
            return value
        try:
            return read_quantity(value, kind)
        except BadInput as error:
            raise ValueError(str(error)) from error

    return BeforeValidator(read)


def _schema(kind: str) -> WithJsonSchema:
    what, example, _unit = KINDS[kind]
    return WithJsonSchema({"type": "string", "description": f"{what} with its unit", "examples": [example]})


LengthM = Annotated[float, _reader("length_m"), Field(gt=0, le=100), _schema("length_m"), Asks("length_m")]
DepthM = Annotated[float, _reader("length_m"), Field(ge=0, le=100), _schema("length_m"), Asks("length_m")]
HeightM = Annotated[float, _reader("length_m"), Field(ge=-500, le=9000), _schema("length_m"), Asks("length_m")]
DistanceKm = Annotated[float, _reader("distance_km"), Field(ge=0, le=5000), _schema("distance_km"), Asks("distance_km")]
AreaM2 = Annotated[float, _reader("area_m2"), Field(ge=0, le=1000), _schema("area_m2"), Asks("area_m2")]
RoomM3 = Annotated[float, _reader("room_m3"), Field(gt=0, le=1e6), _schema("room_m3"), Asks("room_m3")]
VolumeL = Annotated[float, _reader("volume_l"), Field(ge=0, le=100_000), _schema("volume_l"), Asks("volume_l")]
MassKg = Annotated[float, _reader("mass_kg"), Field(ge=0, le=10_000), _schema("mass_kg"), Asks("mass_kg")]
TempC = Annotated[float, _reader("temp_c"), Field(ge=-30, le=60), _schema("temp_c"), Asks("temp_c")]
PressureBar = Annotated[
    float, _reader("pressure_bar"), Field(ge=0, le=20), _schema("pressure_bar"), Asks("pressure_bar")
]
FlowLMin = Annotated[float, _reader("flow_l_min"), Field(ge=0, le=1000), _schema("flow_l_min"), Asks("flow_l_min")]
FlowLH = Annotated[float, _reader("flow_l_h"), Field(ge=0, le=50_000), _schema("flow_l_h"), Asks("flow_l_h")]
FlowLDay = Annotated[float, _reader("flow_l_day"), Field(ge=0, le=20_000), _schema("flow_l_day"), Asks("flow_l_day")]
HardnessDgh = Annotated[
    float, _reader("hardness_dgh"), Field(ge=0, le=100), _schema("hardness_dgh"), Asks("hardness_dgh")
]
AlkalinityDkh = Annotated[
    float, _reader("hardness_dkh"), Field(ge=0, le=100), _schema("hardness_dkh"), Asks("hardness_dkh")
]
ConductivityUsCm = Annotated[
    float,
    _reader("conductivity_us_cm"),
    Field(ge=0, le=100_000),
    _schema("conductivity_us_cm"),
    Asks("conductivity_us_cm"),
]
ConcMgL = Annotated[float, _reader("conc_mg_l"), Field(ge=0, le=10_000), _schema("conc_mg_l"), Asks("conc_mg_l")]
ConcUgL = Annotated[float, _reader("conc_ug_l"), Field(ge=0, le=1e6), _schema("conc_ug_l"), Asks("conc_ug_l")]
LoadKnM2 = Annotated[float, _reader("load_kn_m2"), Field(gt=0, le=1000), _schema("load_kn_m2"), Asks("load_kn_m2")]
ForceKn = Annotated[float, _reader("force_kn"), Field(gt=0, le=10_000), _schema("force_kn"), Asks("force_kn")]
PowerW = Annotated[float, _reader("power_w"), Field(ge=0, le=50_000), _schema("power_w"), Asks("power_w")]
CurrentA = Annotated[float, _reader("current_a"), Field(gt=0, le=400), _schema("current_a"), Asks("current_a")]
VoltageV = Annotated[float, _reader("voltage_v"), Field(gt=0, le=1000), _schema("voltage_v"), Asks("voltage_v")]
LightUmol = Annotated[float, _reader("light_umol"), Field(ge=0, le=3000), _schema("light_umol"), Asks("light_umol")]
FluxUmolS = Annotated[
    float, _reader("flux_umol_s"), Field(ge=0, le=20_000), _schema("flux_umol_s"), Asks("flux_umol_s")
]
EfficacyUmolJ = Annotated[
    float, _reader("efficacy_umol_j"), Field(ge=0, le=5), _schema("efficacy_umol_j"), Asks("efficacy_umol_j")
]
Minutes = Annotated[float, _reader("minutes"), Field(ge=0, le=60 * 24 * 60), _schema("minutes"), Asks("minutes")]
Days = Annotated[float, _reader("days"), Field(ge=0, le=3650), _schema("days"), Asks("days")]
Ph = Annotated[float, Field(ge=0, le=14)]


def _ph(value: object) -> object:
    if isinstance(value, str):
        try:
            return float(value.strip().replace(",", "."))
        except ValueError as error:
            raise ValueError('a pH is expected, such as 7.2 or "7.2 ± 0.1"') from error
    return value


PhReading = Annotated[
    float,
    BeforeValidator(_ph),
    Field(ge=0, le=14),
    WithJsonSchema(
        {
            "anyOf": [{"type": "number", "minimum": 0, "maximum": 14}, {"type": "string"}],
            "description": "a pH, with its reading error if it is known",
            "examples": [7.2, "7.2 ± 0.1"],
        }
    ),
]
KIND_OF_READING: Mapping[str, str] = {
    "temp_c": "temp_c",
    "hardness_dgh": "hardness_dgh",
    "alkalinity_dkh": "hardness_dkh",
    "conductivity_us_cm": "conductivity_us_cm",
    "copper_first_draw_ug_l": "conc_ug_l",
    "copper_ug_l": "conc_ug_l",
    **{
        f"{name}_mg_l": "conc_mg_l"
        for name in (
            *("calcium", "magnesium", "sodium", "potassium", "sulfate", "chloride", "tan", "nitrite_n", "nitrate"),
            *("phosphate", "free_chlorine", "combined_chlorine", "iron"),
        )
    },
}
"""Kind of quantity of each reading that may carry an error; pH has none."""


def split_reading(text: str, kind: str | None) -> tuple[str, float | None, bool]:
    """Take a reading apart: what is left to read as its value, its error in the unit of its kind, whether it is a limit.

    Parameters
    ----------
    text : str
        "14 dGH", "14 ± 1 dGH" or "< 0.02 mg/L".
    kind : str or None
        A key of ``units.KINDS``; None for a number without a unit.

    Raises
    ------
    ValueError
        If the error cannot be read.
    """
    plain = text.strip().replace("+-", "±").replace("+/-", "±").replace("±±", "±")
    if plain.startswith(("<", "below ")):
        rest = plain.removeprefix("<").removeprefix("below ").strip()
        half = _error(rest, kind) / 2
        return _in_unit(half, kind), half, True
    if "±" not in plain:
        return text, None, False
    value, _, error = (part.strip() for part in plain.partition("±"))
    unit = re.sub(r"^[\d.,\s]+", "", error)
    return f"{value} {unit}".strip(), _error(error, kind), False


def _error(text: str, kind: str | None) -> float:
    if kind == "temp_c":  # a difference: degrees without their zero
        match = re.fullmatch(r"([\d.,]+)\s*°?\s*([CFK])", text, flags=re.IGNORECASE)
        if match is None:
            raise ValueError('an error in degrees is expected, such as "24.5 ± 0.3 C"')
        return float(match[1].replace(",", ".")) / (1.8 if match[2].upper() == "F" else 1.0)
    try:
        return read_quantity(text, kind) if kind is not None else float(text.replace(",", "."))
    except (BadInput, ValueError) as error:
        raise ValueError(f'a reading with its error is expected, such as "14 ± 1 dGH": {error}') from error


def _in_unit(value: float, kind: str | None) -> str:
    """A value in the unit of its kind, as text to be read again."""
    if kind is None:
        return f"{value:g}"
    return f"{value:.12g} {KINDS[kind][1].rpartition(' ')[2]}"


def _told_moment(value: object) -> object:
    """Read "2027-02-10 06:30" or a TOML date-time."""
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value.strip())
        except ValueError as error:
            raise ValueError('a date and time is expected, such as "2027-02-10 06:30"') from error
    if not isinstance(value, datetime):
        raise ValueError('a date and time is expected, such as "2027-02-10 06:30"')
    return value


def _moment(value: object) -> object:
    """A date and time of the site; the zone is the site's, so none may be written here."""
    value = _told_moment(value)
    if isinstance(value, datetime) and value.tzinfo is not None:
        raise ValueError("write local time without an offset; the zone is site.time_zone")
    return value


def _day(value: object) -> object:
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError as error:
            raise ValueError('a date is expected, such as "2027-02-10"') from error
    if isinstance(value, datetime) or not isinstance(value, date):
        raise ValueError('a date is expected, such as "2027-02-10"')
    return value


Moment = Annotated[datetime, BeforeValidator(_moment)]
ToldMoment = Annotated[datetime, BeforeValidator(_told_moment)]
"""Local time of the site, or with an offset where the hour of a clock change would leave two meanings."""
Day = Annotated[date, BeforeValidator(_day)]


def _zone(name: str) -> str:
    if name not in zone_names():
        near = near_zones(name)
        meant = f"; is it {' or '.join(near)}?" if near else "; a country or a large town near by finds it too"
        raise ValueError(f'a time zone is expected, named by continent and town, such as "Europe/Berlin"{meant}')
    return name


TimeZone = Annotated[str, AfterValidator(_zone)]
"""A name of the time zone database."""

if TYPE_CHECKING:
    Language = str
else:
    Language = Literal[languages()]
    """A language that has a catalog: whoever adds a catalog can choose it."""


def _clock_time(value: object) -> object:
    if isinstance(value, str) and (match := re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", value)):
        hour, minute = int(match.group(1)), int(match.group(2))
        if hour < 24 and minute < 60:
            return hour * 60 + minute
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 24 * 60:
        return value
    raise ValueError('a time of day is expected, such as "22:30"')


TimeOfDayMin = Annotated[
    int,
    BeforeValidator(_clock_time),
    WithJsonSchema({"type": "string", "description": "a time of day", "examples": ["22:30"]}),
    Asks("time"),
]
"""Minutes after midnight, local time."""


_PERCENT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*%")


def _share(value: object) -> object:
    """Read "25 %" as the share it is; a plain number is one already."""
    if isinstance(value, str) and (match := _PERCENT.fullmatch(value.strip())):
        return float(Decimal(match[1].replace(",", ".")) / 100)
    return value


def _percent(value: object) -> object:
    """Read "3 %" in a field that is kept in per cent."""
    if isinstance(value, str) and (match := _PERCENT.fullmatch(value.strip())):
        return float(match[1].replace(",", "."))
    return value


_SHARE_SCHEMA = WithJsonSchema(
    {
        "anyOf": [{"type": "number", "minimum": 0, "maximum": 1}, {"type": "string"}],
        "description": "a part of a whole",
        "examples": [0.25, "25 %"],
    }
)
Share = Annotated[float, BeforeValidator(_share), Field(ge=0, le=1), _SHARE_SCHEMA, Asks("share")]
PositiveShare = Annotated[float, BeforeValidator(_share), Field(gt=0, le=1), _SHARE_SCHEMA, Asks("share")]
RiskShare = Annotated[float, BeforeValidator(_share), Field(gt=0, lt=1), _SHARE_SCHEMA, Asks("share")]
ShareBelowOne = Annotated[float, BeforeValidator(_share), Field(ge=0, lt=1), _SHARE_SCHEMA, Asks("share")]
Percent = Annotated[
    float,
    BeforeValidator(_percent),
    Field(ge=0, le=100),
    WithJsonSchema(
        {
            "anyOf": [{"type": "number", "minimum": 0, "maximum": 100}, {"type": "string"}],
            "description": "per cent",
            "examples": [3, "3 %"],
        }
    ),
]


class Size(Frozen):
    """The box round a piece as it will stand: length and width as seen from above, and height."""

    length_m: float = Field(gt=0, le=100)
    width_m: float = Field(gt=0, le=100)
    height_m: float = Field(gt=0, le=100)


_BY = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)
_UNIT_BEHIND = re.compile(r"[^\d\s./,][^\d]*$")


def _size(value: object) -> object:
    if isinstance(value, Size | dict):
        return value
    expected = 'length, width and height are expected, such as "26 x 17 x 21 cm"'
    if not isinstance(value, str):
        raise ValueError(expected)
    sides = _BY.split(value.strip())
    unit = _UNIT_BEHIND.search(sides[-1])
    if len(sides) != 3 or not all(sides):
        raise ValueError(expected)
    # The unit may stand once, at the end: "26 x 17 x 21 cm".
    told = [side if _UNIT_BEHIND.search(side) or unit is None else f"{side} {unit[0]}" for side in sides]
    try:
        length, width, height = (read_quantity(side, "length_m") for side in told)
    except BadInput as error:
        raise ValueError(f"{error}; {expected}") from error
    return {"length_m": length, "width_m": width, "height_m": height}


PieceSize = Annotated[
    Size,
    BeforeValidator(_size),
    WithJsonSchema(
        {
            "type": "string",
            "description": "length, width and height with their unit",
            "examples": ["26 x 17 x 21 cm"],
        }
    ),
]


class Count(Frozen):
    """How many animals: exact, a range, or uncounted. Uncounted is never zero.

    Attributes
    ----------
    low, high : int or None
        The range; equal when exact; both None when nobody has counted.
    """

    low: int | None = Field(default=None, ge=0)
    high: int | None = Field(default=None, ge=0)

    @property
    def counted(self) -> bool:
        """Whether there is any number at all."""
        return self.high is not None

    @property
    def middle(self) -> float | None:
        """The middle of the range, or None when uncounted."""
        return None if self.low is None or self.high is None else (self.low + self.high) / 2


def _count(value: object) -> object:
    expected = 'a count is expected: 24, "24 ± 2", "40-120" or "uncounted"'
    if isinstance(value, Count | dict):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return {"low": value, "high": value}
    if not isinstance(value, str):
        raise ValueError(expected)
    text = value.strip().lower().replace("+-", "±").replace("+/-", "±").replace("–", "-")
    if text in ("uncounted", "many", "not known yet"):
        return {}
    if match := re.fullmatch(r"(\d+)", text):
        return {"low": int(match[1]), "high": int(match[1])}
    if match := re.fullmatch(r"(\d+)\s*±\s*(\d+)", text):
        middle, half = int(match[1]), int(match[2])
        if half > middle:
            raise ValueError(f"{middle} ± {half} would allow fewer than none; {expected}")
        return {"low": middle - half, "high": middle + half}
    if match := re.fullmatch(r"(\d+)\s*(?:-|to)\s*(\d+)", text):
        low, high = int(match[1]), int(match[2])
        if low > high:
            raise ValueError(f"the range {low}-{high} runs backwards; {expected}")
        return {"low": low, "high": high}
    raise ValueError(expected)


AnimalCount = Annotated[
    Count,
    BeforeValidator(_count),
    WithJsonSchema(
        {
            "anyOf": [{"type": "integer", "minimum": 0}, {"type": "string"}],
            "description": "an exact count, a range, or uncounted",
            "examples": [24, "24 ± 2", "40-120", "uncounted"],
        }
    ),
]
