"""Units at the border: read "16 1/2 in" or "12 dGH", show figures in metric or US units; the only home of factors.

Inside the program every number is a plain float with its unit in its name. Pint does the conversions and is
imported only when a text is read or a US unit is shown, because its import takes half a second.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from slackwater.errors import BadInput
from slackwater.reader import ENGLISH, Reader, reader_of
from slackwater.reader import UnitSystem as UnitSystem

if TYPE_CHECKING:
    from pint import UnitRegistry

# One German degree of hardness is 10 mg/L CaO (DIN 38409-6); atomic weights IUPAC 2021. Hardness and alkalinity
# share one dimension, the equivalent concentration, so that both are read in degrees, mg/L CaCO3 or mmol/L.
_HARDNESS_DEFINITIONS = (
    "meq_l = [equivalents]",
    "degdH = 10 / 28.0385 meq_l = dGH = dKH = dH",
    "mg_caco3_l = 1 / 50.0435 meq_l",
    "mg_cao_l = 1 / 28.0385 meq_l",
    "mg_ca_l = 1 / 20.039 meq_l",
    "mg_mg_l = 1 / 12.1525 meq_l",
    "mg_hco3_l = 1 / 61.0168 meq_l",
    "mmol_hardness_l = 2 meq_l",
    "degClark = 14.254 mg_caco3_l",
    "degfH = 10 mg_caco3_l",
)
_OTHER_DEFINITIONS = ("gpd = gallon / day", "gph = gallon / hour", "gpm = gallon / minute")

# What people write, and the name Pint knows. Longest first, so that "mg/L CaCO3" wins over "mg/L".
_SPELLINGS: Mapping[str, str] = {
    "mg/l caco3": "mg_caco3_l",
    "ppm caco3": "mg_caco3_l",
    "mg/l as caco3": "mg_caco3_l",
    "mg/l cao": "mg_cao_l",
    "mg/l hco3": "mg_hco3_l",
    "mg/l ca": "mg_ca_l",
    "mg/l mg": "mg_mg_l",
    "mmol/l hardness": "mmol_hardness_l",
    "meq/l": "meq_l",
    "°dh": "degdH",
    "°dgh": "degdH",
    "°dkh": "degdH",
    "dh": "degdH",
    "dgh": "degdH",
    "dkh": "degdH",
    "°fh": "degfH",
    "°e": "degClark",
    "°c": "degC",
    "c": "degC",
    "°f": "degF",
    "f": "degF",
    "k": "delta_degC",
    "kg": "kg",
    "g": "g",
    "mg": "mg",
    "l": "L",
    "litre": "L",
    "litres": "L",
    "liter": "L",
    "liters": "L",
    "ml": "mL",
    "gal": "gallon",
    "lb": "lb",
    "lbs": "lb",
    "oz": "oz",
    "in": "inch",
    '"': "inch",
    "″": "inch",
    "'": "foot",
    "′": "foot",
    "ft": "foot",
    "psi": "psi",
    "bar": "bar",
    "kpa": "kPa",
    "l/min": "L/min",
    "l/h": "L/hour",
    "l/hour": "L/hour",
    "l/d": "L/day",
    "l/day": "L/day",
    "gpd": "gpd",
    "gph": "gph",
    "gpm": "gpm",
    "gal/day": "gpd",
    "gal/h": "gph",
    "gal/min": "gpm",
    "us/cm": "microsiemens/centimeter",
    "µs/cm": "microsiemens/centimeter",
    "μs/cm": "microsiemens/centimeter",
    "ms/cm": "millisiemens/centimeter",
    "kn/m2": "kN/m**2",
    "kn/m²": "kN/m**2",
    "kn": "kN",
    "n": "N",
    "lbf": "lbf",
    "psf": "lbf/foot**2",
    "lb/ft2": "lbf/foot**2",
    "mg/l": "mg/L",
    "ppm": "mg/L",
    "µg/l": "microgram/L",
    "μg/l": "microgram/L",
    "ug/l": "microgram/L",
    "ppb": "microgram/L",
    "umol/m2/s": "micromole/m**2/s",
    "µmol/m²/s": "micromole/m**2/s",
    "umol/s": "micromole/s",
    "µmol/s": "micromole/s",
    "umol/j": "micromole/joule",
    "µmol/j": "micromole/joule",
    "m2": "m**2",
    "m²": "m**2",
    "cm2": "cm**2",
    "ft2": "foot**2",
    "sq ft": "foot**2",
    "m3": "m**3",
    "m³": "m**3",
    "ft3": "foot**3",
    "w": "W",
    "kw": "kW",
    "a": "A",
    "v": "V",
    "min": "minute",
    "minutes": "minute",
    "h": "hour",
    "hours": "hour",
    "d": "day",
    "days": "day",
    "week": "week",
    "weeks": "week",
    "month": "month",
    "months": "month",
    "km": "km",
    "mi": "mile",
    "m": "m",
    "cm": "cm",
    "mm": "mm",
    "%": "percent",
}

# What each kind of quantity is called in a message, an example of it, and the unit it is kept in.
KINDS: Mapping[str, tuple[str, str, str]] = {
    "length_m": ("a length", "42 cm", "m"),
    "area_m2": ("an area", "0.30 m2", "m**2"),
    "volume_l": ("a volume", "160 L", "L"),
    "room_m3": ("a room volume", "620 m3", "m**3"),
    "mass_kg": ("a mass", "6.4 kg", "kg"),
    "temp_c": ("a temperature", "24.5 C", "degC"),
    "pressure_bar": ("a pressure", "2.6 bar", "bar"),
    "flow_l_min": ("a flow", "30 L/min", "L/min"),
    "flow_l_h": ("a flow", "620 L/h", "L/hour"),
    "flow_l_day": ("a flow", "380 L/day", "L/day"),
    "hardness_dgh": ("a hardness", "12 dGH", "degdH"),
    "hardness_dkh": ("a carbonate hardness", "4 dKH", "degdH"),
    "conductivity_us_cm": ("a conductivity", "560 uS/cm", "microsiemens/centimeter"),
    "conc_mg_l": ("a concentration", "0.4 mg/L", "mg/L"),
    "conc_ug_l": ("a concentration", "12 ug/L", "microgram/L"),
    "load_kn_m2": ("a floor load", "5.0 kN/m2", "kN/m**2"),
    "force_kn": ("a load", "7.0 kN", "kN"),
    "power_w": ("a power", "150 W", "W"),
    "current_a": ("a current", "16 A", "A"),
    "voltage_v": ("a voltage", "230 V", "V"),
    "light_umol": ("a light reading", "62 umol/m2/s", "micromole/m**2/s"),
    "flux_umol_s": ("a photon flux", "180 umol/s", "micromole/s"),
    "efficacy_umol_j": ("a photon efficacy", "2.4 umol/J", "micromole/joule"),
    "minutes": ("a time span", "30 min", "minute"),
    "days": ("a time span", "4 weeks", "day"),
    "distance_km": ("a distance", "18 km", "km"),
}

_PRINTED: Mapping[str, str] = {
    "m**2": "m2",
    "m**3": "m3",
    "degC": "°C",
    "L/hour": "L/h",
    "kN/m**2": "kN/m2",
    "microsiemens/centimeter": "uS/cm",
    "microgram/L": "ug/L",
    "micromole/m**2/s": "umol/m2/s",
    "micromole/s": "umol/s",
    "micromole/joule": "umol/J",
    "minute": "min",
    "day": "days",
}
"""Units of kinds of quantity that are printed otherwise than Pint names them."""

# Metric unit as printed -> US unit as printed, with both names as Pint knows them.
_US_DISPLAY: Mapping[str, tuple[str, str, str]] = {
    "L": ("L", "gal", "gallon"),
    "kg": ("kg", "lb", "lb"),
    "g": ("g", "oz", "oz"),
    "m": ("m", "ft", "foot"),
    "cm": ("cm", "in", "inch"),
    "mm": ("mm", "in", "inch"),
    "m2": ("m**2", "ft2", "foot**2"),
    "m3": ("m**3", "ft3", "foot**3"),
    "°C": ("degC", "°F", "degF"),
    "K": ("delta_degC", "°F", "delta_degF"),
    "bar": ("bar", "psi", "psi"),
    "kN": ("kN", "lbf", "lbf"),
    "kN/m2": ("kN/m**2", "lb/ft2", "lbf/foot**2"),
    "L/min": ("L/min", "gal/min", "gallon/minute"),
    "L/h": ("L/hour", "gal/h", "gallon/hour"),
    "L/day": ("L/day", "gal/day", "gallon/day"),
    "km": ("km", "mi", "mile"),
}

_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_PAIR = re.compile(
    rf"\s*({_NUMBER})\s*([^\d\s+-][^\d+-]*?(?:[23](?![\d.]))?(?:/[a-zA-Z]+[23]?)*(?:\s+(?:as\s+)?[Cc]a[A-Z]?[a-zA-Z0-9]*)?)\s*(?=$|[\d+-])"
)


@cache
def _registry() -> UnitRegistry[float]:
    from pint import UnitRegistry

    registry: UnitRegistry[float] = UnitRegistry()
    for definition in (*_HARDNESS_DEFINITIONS, *_OTHER_DEFINITIONS):
        registry.define(definition)
    return registry


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Convert a number between two units, each as people write it or as Pint names it.

    Raises
    ------
    BadInput
        If a unit is unknown or the two do not measure the same thing.

    Examples
    --------
    >>> round(convert(1, "ft", "cm"), 2)
    30.48
    """
    import pint

    registry = _registry()
    source, target = (_SPELLINGS.get(unit.strip().lower(), unit.strip()) for unit in (from_unit, to_unit))
    try:
        return float(registry.Quantity(value, source).to(target).magnitude)
    except (pint.UndefinedUnitError, pint.DimensionalityError, AttributeError, ValueError, AssertionError) as error:
        raise BadInput(f"cannot turn {from_unit} into {to_unit}") from error


def _number(text: str) -> float:
    """Read "16 1/2", "1/2", "16.5" or "16,5"."""
    whole, *rest = text.split()
    if rest:
        sign = -1 if whole.startswith("-") else 1
        return float(int(whole) + sign * Fraction(rest[0]))
    if "/" in text:
        return float(Fraction(text))
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
        raise BadInput(
            f'"{text}" could mean a thousand or a decimal; write {text.replace(",", "")} or {text.replace(",", ".")}'
        )
    return float(text.replace(",", "."))


def read_quantity(text: object, kind: str) -> float:
    """Read a quantity as people write it and return it in the unit of its kind.

    Parameters
    ----------
    text : object
        "42 cm", "4 ft 2 in", "16 1/2 in", "2.6 bar", "12 dGH". A bare number is refused: a length of 42 could be
        centimetres or inches.
    kind : str
        A key of ``KINDS``; the result is in the unit that its name ends with.

    Raises
    ------
    BadInput
        Saying what was expected, with an example.

    Examples
    --------
    >>> read_quantity("4 ft 2 in", "length_m")
    1.27
    """
    if isinstance(text, bool) or not isinstance(text, str):
        what, example, _ = KINDS[kind]
        raise BadInput(f'{what} with its unit is expected, in quotes, such as "{example}"')
    return _read_text(text, kind)


# A job is read again after each change of one of its quantities, and Pint takes a millisecond for each.
@lru_cache(maxsize=4096)
def _read_text(text: str, kind: str) -> float:
    what, example, unit = KINDS[kind]
    stripped = text.strip()
    pairs = []
    position = 0
    while position < len(stripped):
        match = _PAIR.match(stripped, position)
        if match is None:
            raise BadInput(f'{what} with its unit is expected, such as "{example}"')
        pairs.append((match.group(1), match.group(2).strip()))
        position = match.end()
    if not pairs:
        raise BadInput(f'{what} with its unit is expected, such as "{example}"')
    if len(pairs) > 1 and kind not in ("length_m", "mass_kg", "minutes", "days"):
        raise BadInput(f'one number with its unit is expected, such as "{example}"')
    total = 0.0
    for number, spelled in pairs:
        if spelled.lower() not in _SPELLINGS:
            raise BadInput(f'"{spelled}" is not a unit known here for {what}; write for instance "{example}"')
        try:
            total += convert(_number(number), spelled, unit)
        except ZeroDivisionError as error:
            raise BadInput(f'"{number}" is not a number') from error
        except BadInput as error:
            if "could mean" in str(error):
                raise
            raise BadInput(f'"{spelled}" does not measure {what}; write for instance "{example}"') from error
    if not math.isfinite(total):
        raise BadInput(f'{what} must be a finite number, such as "{example}"')
    return round(total, 12)


def printed_unit(kind: str) -> str:
    """The unit that a kind of quantity is kept in, as it is printed and as it can be typed.

    Examples
    --------
    >>> printed_unit("length_m"), printed_unit("flow_l_h"), printed_unit("hardness_dkh")
    ('m', 'L/h', 'dKH')
    """
    unit = KINDS[kind][2]
    if unit == "degdH":
        return KINDS[kind][1].rpartition(" ")[2]
    return _PRINTED.get(unit, unit)


def example_of(kind: str, system: UnitSystem = "metric", example: str = "") -> str:
    """How a quantity of this kind may be typed.

    Parameters
    ----------
    kind : str
        A key of ``KINDS``.
    system : {"metric", "us"}
        What the reader asked for.
    example : str
        A metric one in place of that of its kind; "" for that of its kind.

    Examples
    --------
    >>> example_of("length_m"), example_of("length_m", "us")
    ('42 cm', '16.5 in')
    """
    example = example or KINDS[kind][1]
    unit = printed_unit(kind)
    return show(read_quantity(example, kind), unit, system) if system == "us" and unit in _US_DISPLAY else example


SHOWN_IN_CM_BELOW_M = 3.0
"""Tanks and pieces are spoken of in centimetres, ways in metres."""


def digits(value: float, significant: int = 3) -> str:
    """A number as text with at most `significant` digits and no false precision.

    Examples
    --------
    >>> digits(171.83), digits(0.04167), digits(4.0)
    ('172', '0.0417', '4')
    """
    if value == 0:
        return "0"
    places = max(0, significant - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def show(value: float, unit: str, system: Reader | UnitSystem = ENGLISH, *, significant: int = 3) -> str:
    """A figure with its unit, in the reader's system; decimals by a point, until the whole text is put into their language.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Metric unit as printed: L, kg, cm, °C, kN/m2, min …; "" for none. Units with no US form stay as they are.
    system : Reader or {"metric", "us"}
        Who reads it.
    significant : int
        Digits to keep.

    Examples
    --------
    >>> show(118.0, "cm"), show(118.0, "cm", "us")
    ('118 cm', '46.5 in')
    """
    if unit == "m" and abs(value) < SHOWN_IN_CM_BELOW_M:
        value, unit = 100 * value, "cm"
    if reader_of(system).units == "us" and unit in _US_DISPLAY:
        metric, printed, us = _US_DISPLAY[unit]
        return f"{digits(convert(value, metric, us), significant)} {printed}"
    return f"{digits(value, significant)} {unit}".strip()


SMALL_L = 1.0
"""Below it people measure with a cup."""
WHOLE_FROM = 5.0


def spoken(minutes: float) -> str:
    """A time span as people say it, rounded down: to five minutes, below ten to whole ones.

    Examples
    --------
    >>> spoken(40.9), spoken(129.0), spoken(480.0)
    ('40 min', '2 h 5 min', '8 h')
    """
    # What was a whole number of minutes as hours must not fall below it by its last bit.
    down = math.floor(minutes + 1e-4)
    down -= down % 5 if down >= 10 else 0
    whole, rest = divmod(down, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest} min" if rest else f"{whole} h"


def show_about(value: float, unit: str, system: Reader | UnitSystem = ENGLISH) -> str:
    """A reckoned figure with no more digits than anybody can hold it to; spans of time are rounded down.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        As for ``show``; less than a litre is told as a measuring cup shows it.

    Examples
    --------
    >>> show_about(7.11, "L"), show_about(0.197, "L"), show_about(0.197, "L", "us")
    ('7 L', '200 mL', '6.7 fl oz (200 mL)')
    """
    if unit in ("min", "h"):
        return spoken(value if unit == "min" else 60 * value)
    if unit == "L" and abs(value) < SMALL_L:
        millilitres = f"{float(f'{1000 * value:.2g}'):g} mL"
        return (
            f"{digits(convert(value, 'L', 'fluid_ounce'), 2)} fl oz ({millilitres})"
            if reader_of(system).units == "us"
            else millilitres
        )
    number, _, rest = show(value, unit, system, significant=2).partition(" ")
    if unit == "L" and abs(float(number)) >= WHOLE_FROM:
        number = f"{round(float(f'{float(number):.2g}'))}"
    return f"{number} {rest}".strip()
