"""What a user does with water tests: enter one as typed, correct one, see all of a tank and how they went."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from slackwater.actions.clientele import client_of_tank
from slackwater.actions.entering import LONGEST_TEXT, Entered, nothing_there
from slackwater.actions.office import Office
from slackwater.actions.recording import job_of
from slackwater.book import water_tests
from slackwater.book.water_tests import WaterTest
from slackwater.errors import BadInput, Conflict
from slackwater.job.event import READABLE
from slackwater.job.fields import KIND_OF_READING, split_reading
from slackwater.paper.described import FigureTable
from slackwater.paper.tested_figures import Tested, tests_svg, tests_table
from slackwater.units import UnitSystem, printed_unit, read_quantity, show
from slackwater.wording.render import say

USUAL = (
    *("temp_c", "ph", "hardness_dgh", "alkalinity_dkh", "conductivity_us_cm"),
    *("nitrate_mg_l", "nitrite_n_mg_l", "tan_mg_l", "phosphate_mg_l", "oxygen_mg_l"),
)
"""Asked for first; the others are folded away."""


@dataclass(frozen=True)
class Place:
    """Whose tests: of a tank, or of a job whose tank is not named yet.

    Attributes
    ----------
    address : str
        Of the page.
    name : str
    tank_id, job_id : str or None
    back : str
        Address of the page of the tank or the job.
    """

    address: str
    name: str
    tank_id: str | None
    job_id: str | None
    back: str


@dataclass(frozen=True)
class Shown:
    """A test as a list shows it: readings by label and in the reader's units."""

    row: WaterTest
    readings: tuple[tuple[str, str], ...]
    wrong: bool
    """A later test corrects it."""


def kind_of(reading: str) -> str | None:
    """Kind of quantity of a reading; None for pH, which has none."""
    return None if reading == "ph" else KIND_OF_READING.get(reading, "conc_mg_l")


def unit_of(reading: str) -> str:
    """The unit that a reading is kept in, as it is printed."""
    kind = kind_of(reading)
    return "" if kind is None else printed_unit(kind)


def place_of_tank(office: Office, tank_id: str) -> Place:
    """The tests of a tank.

    Raises
    ------
    NotFound
    """
    tank, client_id = client_of_tank(office, tank_id)
    back = f"/clients/{client_id}/sites/{tank.site_id}/tanks/{tank_id}"
    return Place(f"/tanks/{tank_id}/tests", tank.name, tank_id, None, back)


def place_of_job(office: Office, job_id: str) -> Place:
    """The tests of a job: those of its tank, as soon as that is named.

    Raises
    ------
    NotFound
    """
    row = job_of(office, job_id)
    return Place(f"/jobs/{job_id}/tests", row.name or row.id, row.tank_id, job_id, f"/jobs/{job_id}")


def tests_at(office: Office, place: Place) -> list[WaterTest]:
    """Tests, in the order of testing."""
    if place.tank_id is not None:
        return water_tests.of_tank(office.book, place.tank_id)
    return water_tests.of_job(office.book, place.job_id or "")


def shown(tests: Sequence[WaterTest], units: UnitSystem) -> list[Shown]:
    """Tests for a list, the newest first."""
    corrected = {test.corrects for test in tests}
    return [
        Shown(
            row=test,
            readings=tuple(
                (say(f"records.reading.{name}", {}), show(test.readings[name], unit_of(name), units))
                for name in READABLE
                if name in test.readings
            ),
            wrong=test.id in corrected,
        )
        for test in reversed(tests)
    ]


def enter_test(office: Office, place: Place, typed: Mapping[str, str], units: UnitSystem, *, by: str = "") -> WaterTest:
    """Keep a test, each reading as people write it: "14 dGH", "250 ppm CaCO3", "76 F", "< 0.02 mg/L".

    Raises
    ------
    NotFound, Unusable
        If the test that it corrects is not one of these; if a reading cannot be read, or cannot be.
    """
    entered = Entered(typed)
    at, note = entered.moment("at"), entered.text("note", most=LONGEST_TEXT)
    readings: dict[str, float] = {}
    for name in READABLE:
        if typed.get(name, "").strip():
            value = _reading(entered, name, units)
            if value is not None:
                readings[name] = value
    if not readings and not entered.faults:
        entered.fault("temp_c", "no_reading")
    corrects = typed.get("corrects", "")
    if corrects and corrects not in {test.id for test in tests_at(office, place)}:
        raise nothing_there()
    entered.done()
    own = entered.own_id()
    try:
        return water_tests.add(
            office.book,
            readings=readings,
            at=at,
            by=by,
            job_id=place.job_id,
            tank_id=place.tank_id,
            corrects=corrects or None,
            note=note,
            test_id=own,
        )
    except Conflict:
        # The form was sent twice.
        for test in tests_at(office, place):
            if test.id == own:
                return test
        raise nothing_there() from None


def _reading(entered: Entered, name: str, units: UnitSystem) -> float | None:
    text, kind = entered.text(name), kind_of(name)
    low, high = READABLE[name]
    try:
        plain, _, _ = split_reading(text, kind)
        value = float(plain.replace(",", ".")) if kind is None else read_quantity(plain, kind)
    except BadInput as error:
        entered.faults.setdefault(name, f"{str(error)[:1].upper()}{str(error)[1:]}.")
        return None
    except ValueError:
        entered.fault(name, "reading")
        return None
    if not low <= value <= high:
        limits = {"low": show(low, unit_of(name), units), "high": show(high, unit_of(name), units)}
        entered.fault(name, "range", value=text[:40], **limits)
        return None
    return value


def figure(tests: Sequence[WaterTest], units: UnitSystem) -> FigureTable | None:
    """What the drawing shows, in words and as a table; None while there are not two tests to join.

    A test that was corrected is left out.
    """
    points = _points(tests, units)
    return tests_table(points) if points else None


def drawing(tests: Sequence[WaterTest], units: UnitSystem) -> str:
    """The same drawn, as SVG.

    Raises
    ------
    NotFound
        While there are not two tests to join.
    """
    points = _points(tests, units)
    if not points:
        raise nothing_there()
    return tests_svg(points)


def _points(tests: Sequence[WaterTest], units: UnitSystem) -> tuple[Tested, ...]:
    corrected = {test.corrects for test in tests}
    good = [test for test in tests if test.id not in corrected]
    return tuple(
        Tested(
            name=say(f"records.reading.{name}", {}),
            unit=unit_of(name),
            units=units,
            at=tuple(test.at.astimezone().replace(tzinfo=None) for test in having),
            values=tuple(test.readings[name] for test in having),
        )
        for name in READABLE
        if len(having := [test for test in good if name in test.readings]) > 1
    )
