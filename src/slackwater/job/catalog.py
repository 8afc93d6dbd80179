"""The catalog: species, plants, materials, activities, mishaps, clocks, limits and parameters, each row with its source.

Rows come with the program as CSV; a practitioner's own folder may override rows by id or add new ones.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal, Self, TypeVar

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from slackwater.errors import BadInput, NotFound
from slackwater.frozen import Frozen
from slackwater.job.experience import Experience


def _names(value: object) -> object:
    return tuple(part.strip() for part in value.split(";") if part.strip()) if isinstance(value, str) else value


OptionalText = Annotated[str, BeforeValidator(lambda text: text or "")]
Names = Annotated[tuple[str, ...], BeforeValidator(_names)]
Score = Annotated[int, Field(ge=1, le=5)]


def scientific_names(text: str) -> tuple[str, ...]:
    """A scientific name and its synonyms, without the word for "synonym".

    Examples
    --------
    >>> scientific_names("Petitella bleheri (syn. Hemigrammus bleheri)")
    ('Petitella bleheri', 'Hemigrammus bleheri')
    """
    main, _, rest = text.partition(" (syn. ")
    return (main, *(part.strip() for part in rest.rstrip(")").split(",") if part.strip()))


def _as_said(name: str) -> str:
    """A name in the form in which names are compared: small letters, hyphens and underscores as spaces."""
    return re.sub(r"[\s_-]+", " ", name).strip().lower()


class Row(Frozen):
    """One row of a table; every row says where it comes from."""

    source_kind: str = Field(min_length=1)


class Species(Row):
    """An animal: size, bearable water, temper, where it hides."""

    id: str
    scientific_name: str
    common_name: str
    group: Literal["fish", "shrimp", "snail"]
    adult_length_mm: float
    typical_mass_g: float
    temp_min_c: float
    temp_max_c: float
    ph_min: float
    ph_max: float
    gh_min_dgh: float
    gh_max_dgh: float
    kh_min_dkh: float
    kh_max_dkh: float
    sensitivity_1_5: Score
    min_group: int
    catch_difficulty_1_5: Score
    hides_in: str
    jump_risk: str
    holding_note: str


class Plant(Row):
    """A plant as sold: place, growth, light, portions."""

    id: str
    scientific_name: str
    common_name: str
    position: str
    height_min_cm: float
    height_max_cm: float
    growth_rate: str
    light_need: str
    par_min_umol_m2_s: float
    co2_need: str
    unit_sold: str
    portions_per_unit: int
    spacing_cm: float
    cover_cm2_per_unit_at_planting: float
    attach_to: str
    nitrogen_uptake: str
    temp_min_c: float
    temp_max_c: float
    regulated_note: str | None

    @property
    def price_item(self) -> str:
        """The row of the prices that stands for a unit of it where no price of its own is told."""
        return {"cup": "cup_plant", "portion": "moss_portion"}.get(self.unit_sold, "pot_plant")


class Material(Row):
    """Soil, sand, stone, wood or filter media: densities, slope, effect on water."""

    id: str
    material: str
    kind: str
    grain_min_mm: float
    grain_max_mm: float
    bulk_density_kg_per_l: float
    solid_density_kg_per_l: float
    porosity: float
    repose_angle_deg_wet: float
    settling_pct_first_month: float
    ph_effect: str
    gh_effect: str
    kh_effect: str
    leaches_ammonium: str
    rinse_before_use: str
    note: str | None


class Salt(Row):
    """A salt or chemical: formula, purity, effect."""

    id: str
    substance: str
    formula: str | None
    molar_mass_g_mol: float | None
    typical_purity: float | None
    mg_per_l_for_1_dgh: float | None
    mg_per_l_for_1_dkh: float | None
    solubility_note: str | None
    use: str
    caution: str | None


class Consumable(Row):
    """Something used up on the day, with its amount for a 200 L tank, its group of the packing list and mass of one unit."""

    id: str
    item: str
    category: str
    unit: str
    mass_kg: float | None
    """None: of what is weighed by its own density."""
    typical_use_200l: str
    scales_with: str
    note: str | None


class KitItem(Row):
    """A tool to bring: mass, power, what to check."""

    id: str
    item: str
    category: str
    qty_200l: float
    mass_kg: float
    power_w: float
    needs_rcd: Literal["yes", "no"]
    check_before_use: str | None
    note: str | None


class Container(Row):
    """A box, bucket, tub or barrel."""

    id: str
    container: str
    nominal_l: float
    usable_l: float
    length_cm: float
    width_cm: float
    height_cm: float
    empty_mass_kg: float
    heat_loss_w_per_k_open: float
    heat_loss_w_per_k_lidded: float | None
    suits: str
    lid: str
    note: str | None


class ActivityRow(Row):
    """One activity of the day: what its minutes grow with, who it takes, what comes before."""

    id: str
    activity: str
    activity_if_held: OptionalText
    """What is done in its place where the animals may not go back on the day; empty where it makes no difference."""
    after: Names
    driver: str
    unit: str
    fixed_low: float
    fixed_typ: float
    fixed_high: float
    per_unit_low: float
    per_unit_typ: float
    per_unit_high: float
    reference_quantity: float
    nominal_people: int = Field(ge=1, le=2)
    people_min: int = Field(ge=1)
    people_max: int
    speedup_second_person: float = Field(ge=1, le=2)
    needs_tank_mouth: bool
    zone: str
    noisy: bool
    tags: Names
    hold_point: bool
    can_go_wrong: str
    record: str


class Mishap(Row):
    """Something that befalls an activity on some days, and the minutes it adds on top of the activity's own range."""

    id: str
    activity: str
    what: str
    probability: float = Field(ge=0, le=1)
    extra_low_min: float = Field(ge=0)
    extra_typical_min: float
    extra_high_min: float

    @model_validator(mode="after")
    def _minutes_run_upwards(self) -> Self:
        if not self.extra_low_min <= self.extra_typical_min <= self.extra_high_min:
            raise ValueError(f"{self.id}: extra minutes must run upwards from low to high")
        return self


class OfficeActivity(Row):
    """One activity before or after the day: enquiry, survey, design, preparation, follow-up."""

    id: str
    phase: str
    activity: str
    min_low: float
    min_typ: float
    min_high: float
    scales_with: str
    needs: str
    after: Names
    lead: str
    can_go_wrong: str
    record: str


class ClockRow(Row):
    """How long something alive may wait in one state. The low (5 %) value is the hard limit; blank means none."""

    clock: str
    what: str
    state: str
    starts: str
    ends: str
    low_min: int | None
    typical_min: int | None
    high_min: int | None
    kind: Literal["maximum", "minimum"]
    restarts_with: Names
    restarted_low_min: tuple[int, ...] = ()
    """Low value of each piece when one, two … restarts are taken; empty means ``low_min``. Reckoned, not a column."""
    needs: str
    source: str

    @property
    def id(self) -> str:
        """``<clock>.<state>``."""
        return f"{self.clock}.{self.state}"


class Limit(Row):
    """Target, caution and stop values of one quantity."""

    id: str
    parameter: str
    unit: str
    target_low: float | None
    target_high: float | None
    caution_above: float | None
    stop_above: float | None
    caution_below: float | None
    stop_below: float | None
    applies_to: str
    reason_or_source: str | None


class Parameter(Row):
    """A model constant with its band, about 5 %, middle and 95 %."""

    id: str
    quantity: str
    unit: str
    low: float | None
    typical: float
    high: float | None
    distribution: str
    formula_or_use: str
    source: str


class RegulatedSpecies(Row):
    """A species on a list of a jurisdiction; lists change, later updates are not included."""

    id: str
    scientific_name: str
    common_name: str
    kind: Literal["plant", "animal"]
    list_scope: str
    listed_since: str | None
    action: str
    note: str | None

    @property
    def names(self) -> tuple[str, ...]:
        """The scientific name and its synonyms."""
        return scientific_names(self.scientific_name)


class CommonName(Row):
    """What the trade also calls a row of the animals or the plants; the name is its id."""

    id: str
    table: Literal["species", "plants"]
    row: str


class ToldPrice(Frozen):
    """A price that a supplier told, per `unit` of an item, from a day on."""

    item: str
    amount: Decimal
    currency: str
    unit: str
    supplier: str
    valid_from: date


class PriceAnchor(Row):
    """An invented price that lets a demo run; never a market statement."""

    id: str
    item: str
    unit: str
    low_cr: float
    typical_cr: float
    high_cr: float
    note: str | None
    told: ToldPrice | None = None
    """What it was replaced by, where somebody told a real one."""

    @property
    def origin(self) -> str:
        """Where the price comes from, in words."""
        if self.told is None:
            return "example price of the catalog: replace with your own"
        by = f" by {self.told.supplier}" if self.told.supplier else ""
        return f"price of the record book, told{by}, from {self.told.valid_from:%d %b %Y} on"


class ExpectedTest(Row):
    """What a test may read in the weeks after, and what to tell the client."""

    day_from: int
    day_to: int
    soil_type: str
    parameter: str
    unit: str
    expected_low: float
    expected_mid: float
    expected_high: float
    alarm_above: float
    meaning: str
    client_words: str

    @property
    def id(self) -> str:
        """``<soil>.<parameter>.<first day>``."""
        return f"{self.soil_type}.{self.parameter}.{self.day_from}"


SHORTEST_PART = 3
"""Letters of a part of a name below which it would be found in too many names."""


CLOSE_WORD = 0.85
"""Likeness of two words, as difflib tells it, from which one may be a slip for the other; chosen by trial."""


def _nearly_holds(text: str, said: str) -> bool:
    """Whether each word that was said is a word of the text but for a slip."""
    words = text.split()
    return all(difflib.get_close_matches(part, words, n=1, cutoff=CLOSE_WORD) for part in said.split())


Named = Literal["species", "plants", "materials", "containers", "salts", "activities"]
"""Tables whose rows a job names."""


CLOSE = 0.6
"""Share of letters that two names have in common from which one may be meant by the other, as `difflib` reckons it."""


SHARED_LETTERS = 0.7
"""Share of the letters said that a text must have for each word to be as close as `CLOSE_WORD`: 0.85 / (2 - 0.85) = 0.74."""


@dataclass(frozen=True)
class _Letters:
    """Names made ready to be compared with one that was said.

    Each bit stands for the k-th of a letter, so that the letters that two names share are the bits that both have.
    """

    bits: Mapping[tuple[str, int], int]
    names: tuple[tuple[str, str, int], ...]
    """Each name, the same with a space before each word, and its letters."""

    def of(self, said: str) -> int:
        """The letters of a name, as far as any of the names has them."""
        counts: Counter[str] = Counter()
        found = 0
        for letter in said:
            counts[letter] += 1
            found |= self.bits.get((letter, counts[letter]), 0)
        return found


@lru_cache(maxsize=16)
def _letters(texts: tuple[tuple[str, str], ...]) -> _Letters:
    most: Counter[str] = Counter()
    for text, _ in texts:
        most |= Counter(text)
    places = [(letter, k) for letter, count in most.items() for k in range(1, count + 1)]
    ready = _Letters({place: 1 << number for number, place in enumerate(places)}, ())
    names = tuple((text, "".join(f" {word}" for word in text.split()), ready.of(text)) for text, _ in texts)
    return _Letters(ready.bits, names)


@lru_cache(maxsize=4096)
def _near(said: str, texts: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    # A job may have hundreds of names that no table knows, and is looked at as a whole: comparing each with all rows letter
    # by letter took most of a second, in which nobody else was answered.
    ready = _letters(texts)
    parts, own = [f" {part}" for part in said.split()], ready.of(said)
    begun, likely = [], []
    for text, words, letters in ready.names:
        if len(said) >= SHORTEST_PART and all(part in words for part in parts):
            begun.append(text)
        if 2.0 * (own & letters).bit_count() >= CLOSE * (len(said) + len(text)) - 1e-9:
            likely.append(text)
    close = difflib.get_close_matches(said, likely, n=6, cutoff=CLOSE)
    if not begun and len(said) >= SHORTEST_PART:
        # A slip in one word of a long name ("axelrodii") leaves the whole name far from what was said.
        letters_of_said = sum(map(len, said.split()))
        begun = [
            text
            for text, _, letters in ready.names
            if (own & letters).bit_count() >= SHARED_LETTERS * letters_of_said and _nearly_holds(text, said)
        ]
    rows = [row for near in (*begun, *close) for text, row in texts if text == near]
    return tuple(dict.fromkeys(rows))[:3]


def _each_its_own(names: Mapping[str, str]) -> Mapping[str, str]:
    """Names with the id behind those that several rows share."""
    shared = {name for name, count in Counter(name.lower() for name in names.values()).items() if count > 1}
    return {row: f"{name} ({row})" if name.lower() in shared else name for row, name in names.items()}


class Catalog(Frozen):
    """All tables by id."""

    species: Mapping[str, Species]
    plants: Mapping[str, Plant]
    materials: Mapping[str, Material]
    salts: Mapping[str, Salt]
    consumables: Mapping[str, Consumable]
    kit: Mapping[str, KitItem]
    containers: Mapping[str, Container]
    activities: Mapping[str, ActivityRow]
    mishaps: Mapping[str, Mishap]
    office_activities: Mapping[str, OfficeActivity]
    clocks: Mapping[str, ClockRow]
    limits: Mapping[str, Limit]
    parameters: Mapping[str, Parameter]
    regulated_species: Mapping[str, RegulatedSpecies]
    prices: Mapping[str, PriceAnchor]
    expected_tests: Mapping[str, ExpectedTest]
    common_names: Mapping[str, CommonName]
    experience: Experience = Experience()
    """What the firm's own finished jobs took."""
    unused_prices: tuple[ToldPrice, ...] = ()
    """Prices that were told and cannot stand in place of those of the table."""

    def with_prices(self, told: Sequence[ToldPrice], *, currency: str) -> Catalog:
        """The same tables with real prices in place of the examples.

        Parameters
        ----------
        told : sequence of ToldPrice
            At most one for each item. One in another currency or for another unit than the table's is not converted: it
            is kept among those that are not used.
        currency : str
            The job's.
        """
        prices, unused = dict(self.prices), []
        for price in told:
            row = prices.get(price.item)
            same = row is not None and price.unit.strip().casefold() == row.unit.casefold()
            if row is None or not same or price.currency.casefold() != currency.strip().casefold():
                unused.append(price)
                continue
            amount = float(price.amount)
            prices[row.id] = row.model_copy(
                update={"low_cr": amount, "typical_cr": amount, "high_cr": amount, "told": price}
            )
        return self.model_copy(update={"prices": prices, "unused_prices": tuple(unused)})

    def with_experience(self, experience: Experience) -> Catalog:
        """The same tables with what the firm's own finished jobs took."""
        return self.model_copy(update={"experience": experience})

    def with_animals_waiting(self) -> Catalog:
        """The same tables with the names that activities have on a day on which no animal goes back."""
        renamed = {
            name: row.model_copy(update={"activity": row.activity_if_held}) if row.activity_if_held else row
            for name, row in self.activities.items()
        }
        return self.model_copy(update={"activities": renamed})

    def parameter(self, parameter_id: str) -> Parameter:
        """A model constant.

        Raises
        ------
        NotFound
            If there is none of that id.
        """
        try:
            return self.parameters[parameter_id]
        except KeyError as error:
            raise NotFound(f"the catalog has no parameter {parameter_id}") from error

    def also_called(self, row_id: str, kind: Named) -> tuple[str, ...]:
        """Further names of a row: scientific ones, then those of the trade."""
        row = self.species.get(row_id) if kind == "species" else self.plants.get(row_id) if kind == "plants" else None
        if row is None:
            return ()
        return (*scientific_names(row.scientific_name), *self._trade_names.get((kind, row_id), ()))

    def scientific_name(self, row_id: str, kind: Named) -> str:
        """The scientific name of an animal or a plant, with its synonyms; "" for a row that has none."""
        row = self.species.get(row_id) if kind == "species" else self.plants.get(row_id) if kind == "plants" else None
        return "" if row is None else row.scientific_name

    @cached_property
    def _trade_names(self) -> Mapping[tuple[str, str], tuple[str, ...]]:
        found: dict[tuple[str, str], tuple[str, ...]] = {}
        for name in self.common_names.values():
            at = (name.table, name.row)
            found[at] = (*found.get(at, ()), name.id)
        return found

    @cached_property
    def _texts(self) -> Mapping[Named, tuple[tuple[str, str], ...]]:
        """Every way in which a row may be written, as names are compared, with its id."""
        written: Mapping[Named, Iterable[tuple[str, ...]]] = {
            "species": (
                (row.id, row.common_name, row.scientific_name, *self.also_called(row.id, "species"))
                for row in self.species.values()
            ),
            "plants": (
                (row.id, row.common_name, row.scientific_name, *self.also_called(row.id, "plants"))
                for row in self.plants.values()
            ),
            "materials": ((row.id, row.material) for row in self.materials.values()),
            "containers": ((row.id, row.container) for row in self.containers.values()),
            "salts": ((row.id, row.substance) for row in self.salts.values()),
            "activities": ((row.id, row.activity) for row in self.activities.values()),
        }
        return {
            kind: tuple(dict.fromkeys((_as_said(text), texts[0]) for texts in rows for text in texts))
            for kind, rows in written.items()
        }

    @cached_property
    def _called(self) -> Mapping[Named, Mapping[str, str]]:
        return {
            "species": _each_its_own({row.id: row.common_name for row in self.species.values()}),
            "plants": _each_its_own({row.id: row.common_name for row in self.plants.values()}),
            "materials": _each_its_own({row.id: row.material for row in self.materials.values()}),
            "containers": _each_its_own(
                {row.id: f"{row.container}, {row.nominal_l:g} L" for row in self.containers.values()}
            ),
            "salts": _each_its_own({row.id: row.substance for row in self.salts.values()}),
            "activities": _each_its_own({row.id: row.activity for row in self.activities.values()}),
        }

    @cached_property
    def _ids(self) -> Mapping[Named, Mapping[str, str]]:
        """The one row that is written so; what two rows share means neither."""
        found: dict[Named, dict[str, str]] = {}
        for kind, texts in self._texts.items():
            rows: dict[str, set[str]] = {}
            for text, row in (*texts, *((_as_said(name), row) for row, name in self._called[kind].items())):
                rows.setdefault(text, set()).add(row)
            found[kind] = {text: next(iter(ids)) for text, ids in rows.items() if len(ids) == 1}
        return found

    def names(self, kind: Named) -> Mapping[str, str]:
        """What each row of a table is called among people, by its id; no two alike."""
        return self._called[kind]

    def id_of(self, name: str, kind: Named) -> str | None:
        """The row that is called exactly so, by id or any of its names; None where there is none, or several."""
        return self._ids[kind].get(_as_said(name))

    def near(self, name: str, kind: Named) -> tuple[str, ...]:
        """The row that is called exactly so, or up to three with a name that these words begin or that is close."""
        exact = self.id_of(name, kind)
        return (exact,) if exact is not None else _near(_as_said(name), self._texts[kind])

    def regulated(self, scientific_name: str) -> tuple[RegulatedSpecies, ...]:
        """Entries of regulated lists that name this species or its genus; synonyms count on both sides."""
        names = set(scientific_names(scientific_name))
        genera = {f"{name.split()[0]} spp." for name in names if name}
        return tuple(
            row for row in self.regulated_species.values() if names & set(row.names) or genera & set(row.names)
        )


TABLES: Mapping[str, type[Row]] = {
    "species": Species,
    "plants": Plant,
    "materials": Material,
    "salts": Salt,
    "consumables": Consumable,
    "kit": KitItem,
    "containers": Container,
    "activities": ActivityRow,
    "mishaps": Mishap,
    "office_activities": OfficeActivity,
    "clocks": ClockRow,
    "limits": Limit,
    "parameters": Parameter,
    "regulated_species": RegulatedSpecies,
    "prices": PriceAnchor,
    "expected_tests": ExpectedTest,
    "common_names": CommonName,
}

R = TypeVar("R", bound=Row)


def _check_head(head: Sequence[str], row_type: type[Row], *, file_name: str) -> None:
    """Refuse a head with a column too many or too few; what is reckoned and never read is no column."""
    columns = [name for name, info in row_type.model_fields.items() if info.is_required()]
    lacking = [name for name in columns if name not in head]
    known = f"known are {', '.join(sorted(columns))}"
    for name in head:
        if name in columns:
            continue
        if name in row_type.model_fields:
            raise BadInput(f"{file_name}, line 1: column {name} is reckoned for each job and never read; leave it out")
        close = difflib.get_close_matches(name, lacking, n=1)
        advice = f"rename it to {close[0]}" if close else "leave it out"
        raise BadInput(f"{file_name}, line 1: column {name or 'without a name'} is not known: {advice}; {known}")
    if lacking:
        raise BadInput(
            f"{file_name}, line 1: column {lacking[0]} is missing: add it, headed like the table that comes with the"
            f" program; {known}"
        )


def read_table(text: str, row_type: type[R], *, file_name: str) -> Mapping[str, R]:
    """Rows of one CSV text by id; an empty cell is None, never zero.

    Raises
    ------
    BadInput
        Naming the file, the line, the column, the value and what was expected.
    """
    reader = csv.DictReader(io.StringIO(text))
    _check_head(reader.fieldnames or (), row_type, file_name=file_name)
    empty_is_text = {
        name
        for name, info in row_type.model_fields.items()
        if any(isinstance(item, BeforeValidator) for item in info.metadata)
    }
    rows: dict[str, R] = {}
    for record in reader:
        values = {key: value if value or key in empty_is_text else None for key, value in record.items() if key}
        try:
            row = row_type.model_validate(values)
        except ValidationError as error:
            fault = error.errors()[0]
            column = ".".join(str(part) for part in fault["loc"])
            raise BadInput(
                f'{file_name}, line {reader.line_num}: {column}: "{record.get(column, "")}": {fault["msg"].lower()}'
            ) from error
        row_id: str = row.id  # type: ignore[attr-defined]
        if row_id in rows:
            raise BadInput(f"{file_name}, line {reader.line_num}: {row_id} stands twice; keep one row of each")
        rows[row_id] = row
    return rows


def shipped_table(name: str) -> str:
    """The text of a table that comes with the program."""
    return files("slackwater.job").joinpath("catalog_data", f"{name}.csv").read_text(encoding="utf-8")


def _own_tables(folder: Path) -> Iterable[tuple[str, Path]]:
    if not folder.is_dir():
        raise NotFound(f"{folder}: there is no such catalog folder")
    for path in sorted(folder.glob("*.csv")):
        if path.stem not in TABLES:
            raise BadInput(f"{path}: no table of that name; known are {', '.join(sorted(TABLES))}")
        yield path.stem, path


def load_catalog(folder: Path | None = None) -> Catalog:
    """The catalog as shipped, with a practitioner's own rows laid over it.

    Parameters
    ----------
    folder : Path or None
        A folder of CSV files named and headed like those shipped. A row with a known id replaces the shipped
        row, one with a new id is added.

    Raises
    ------
    NotFound, BadInput
        If the folder is not there or a table in it cannot be read; the message names file, line and column.
    """
    tables: dict[str, dict[str, Row]] = {
        name: dict(read_table(shipped_table(name), row_type, file_name=f"{name}.csv"))
        for name, row_type in TABLES.items()
    }
    if folder is not None:
        for name, path in _own_tables(folder):
            text = path.read_text(encoding="utf-8-sig")
            tables[name].update(read_table(text, TABLES[name], file_name=str(path)))
    made = Catalog.model_validate(tables)
    for called in made.common_names.values():
        if called.row not in (made.species if called.table == "species" else made.plants):
            raise BadInput(f"common_names: {called.id}: no row {called.row} in {called.table}; correct its row")
    return made
