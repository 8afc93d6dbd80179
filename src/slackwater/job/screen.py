"""Whether the job should be taken at all, which facts are missing for that, and which have grown old."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job

TEST_AGE_DAYS = 14
"""Water tests say little about the day after two weeks; common practice, no source."""
WIDE_COUNT = 2.5
"""A count whose high end is this many times its low end is wide."""


def day_of(job: Job) -> date | None:
    """The date on which the day's work starts, or None."""
    for window in job.site.windows or ():
        if window.kind == "day":
            return window.start.date()
    return None


def _finding(name: str, severity: Severity, *, about: str = "", **values: float | str) -> Finding:
    return Finding(id=f"job.{name}", severity=severity, about=about, values=values)


def _health(job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    if job.animals_ill:
        found.append(_finding("animals_ill", Severity.REFUSE))
    if job.tank.seam_damage:
        found.append(_finding("seam_damage", Severity.REFUSE))
    if job.tank.seam_damage is None:
        found.append(_finding("seams_not_looked_at", Severity.CONDITION))
    return found


def _house(job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    if job.site.care_setting:
        found.append(_finding("care_setting", Severity.CONDITION, rules="; ".join(job.site.rules) or "none told yet"))
    if job.site.drain.permitted is False:
        found.append(_finding("drain_not_permitted", Severity.MISFIT))
    elif job.site.drain.permitted is None:
        found.append(_finding("drain_unknown", Severity.CONDITION))
    if job.site.circuits is None:
        found.append(_finding("circuits_unknown", Severity.CONDITION))
    if job.client_informed is not True:
        found.append(_finding("client_not_informed", Severity.CONDITION))
    if job.tank.material == "acrylic":
        found.append(_finding("acrylic", Severity.CONDITION))
    return found


def _windows(job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    for number, window in enumerate(job.site.windows or (), start=1):
        if window.end <= window.start:
            found.append(
                _finding(
                    "window_backwards",
                    Severity.MISFIT,
                    about=str(number),
                    number=number,
                    start=f"{window.start:%Y-%m-%d %H:%M}",
                    end=f"{window.end:%Y-%m-%d %H:%M}",
                )
            )
    return found


def _ages(job: Job, catalog: Catalog) -> list[Finding]:
    """Facts that were true when noted and may not be on the day."""
    day = day_of(job)
    if day is None:
        return []
    found = []
    for name, reading in (("tap", job.water.tap), ("tank", job.water.tank)):
        if reading is None:
            continue
        if reading.date is None:
            found.append(_finding("test_undated", Severity.CONDITION, about=name, water=name))
            continue
        age = (day - reading.date).days
        if age < 0:
            found.append(_finding("test_after_day", Severity.CONDITION, about=name, water=name))
        elif age > TEST_AGE_DAYS:
            other_season = name == "tap" and _season(reading.date) != _season(day)
            found.append(
                _finding(
                    "test_other_season" if other_season else "test_old",
                    Severity.CONDITION,
                    about=name,
                    water=name,
                    age_days=age,
                )
            )
    price = job.price
    if price.offer_date is not None and price.offer_valid_days is not None:
        until = price.offer_date + timedelta(days=price.offer_valid_days)
        if until < day:
            found.append(_finding("offer_expired", Severity.CONDITION, until=f"{until}", day=f"{day}"))
    return found


def _season(when: date) -> int:
    """Meteorological season: 0 winter, 1 spring, 2 summer, 3 autumn."""
    return when.month % 12 // 3


def _livestock(job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    if job.livestock == ():
        found.append(_finding("no_animals", Severity.NOTE))
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is None:
            near = ", ".join(
                catalog.species[name].common_name + f" ({name})" for name in catalog.near(animals.species, "species")
            )
            found.append(
                _finding(
                    "species_unknown",
                    Severity.MISSING,
                    about=animals.species,
                    species=animals.species,
                    near=near or "none close",
                )
            )
            continue
        if not animals.keep:
            continue
        low, high = animals.count.low, animals.count.high
        if low is None or high is None:
            found.append(_finding("uncounted", Severity.MISSING, about=animals.species, species=species.common_name))
        elif high > WIDE_COUNT * max(low, 1) and high - low > 10:
            found.append(
                _finding(
                    "wide_count",
                    Severity.CONDITION,
                    about=animals.species,
                    species=species.common_name,
                    low=low,
                    high=high,
                )
            )
    return found


def _plants(job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    for planting in job.plants or ():
        if planting.plant not in catalog.plants:
            near = ", ".join(
                catalog.plants[name].common_name + f" ({name})" for name in catalog.near(planting.plant, "plants")
            )
            found.append(
                _finding(
                    "plant_unknown",
                    Severity.MISSING,
                    about=planting.plant,
                    plant=planting.plant,
                    near=near or "none close",
                )
            )
    if job.plants == ():
        found.append(_finding("no_plants", Severity.NOTE))
    if job.stones == () and job.wood == ():
        found.append(_finding("no_hardscape", Severity.NOTE))
    for group in job.containers or ():
        if group.container not in catalog.containers:
            found.append(
                _finding(
                    "container_unknown",
                    Severity.MISSING,
                    about=group.container,
                    container=group.container,
                    near=", ".join(catalog.near(group.container, "containers")) or "none close",
                )
            )
    return found


RULES: tuple[Callable[[Job, Catalog], list[Finding]], ...] = (
    _health,
    _house,
    _windows,
    _ages,
    _livestock,
    _plants,
)


def screen(job: Job, catalog: Catalog) -> tuple[Finding, ...]:
    """All findings that need no computation: refusals, conditions of the house, old and contradicting facts."""
    return tuple(finding for rule in RULES for finding in rule(job, catalog))


def fact_missing(part: str, fields: tuple[str, ...], severity: Severity = Severity.MISSING) -> Finding:
    """A part of the plan that cannot be computed, and the facts it waits for."""
    listed = ", ".join(fields)
    return Finding(
        id="job.fact_missing",
        severity=severity,
        about=part,
        values={"part": part, "fields": listed},
        remedies=(Remedy(id="job.enter", values={"fields": listed}),),
    )
