"""From a job's quantities to the day's problem: activities with their modes, people, places and rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from slackwater.day.drivers import Driver
from slackwater.day.house import NO_HOUSE, WAY_IN, WET_VAC, House
from slackwater.day.model import Mode
from slackwater.job.catalog import ActivityRow

MOUTH = "tank mouth"
PUMP = "transfer pump"
QUIET_FACTOR = 1.6
"""Shovel, scoop and bucket instead of the wet-vac; common practice, no source."""
PASSES_BY_ITSELF = "crew_free_between"
"""Tag of work whose minutes for each unit pass without hands: dripping, soaking."""
TOLD_TO_PEOPLE = ("client_present", "no_client_present")
"""Tags that hours of the job may forbid."""
SKILL_OF: Mapping[str, str] = {"lead_only": "lead"}
"""Skills asked for by tags; besides, a tag ``skill:<name>`` asks for that one."""
TWO_MOUTHS_FACTOR = 1.7
"""Two pairs at two mouths against one pair; common practice, no source."""

PHASES: Mapping[str, tuple[str, ...]] = {
    "arrive": ("E1", "E2", "E3"),
    "water out": ("E4", "E7"),
    "catch": ("E5", "E6", "R1", "R2"),
    "filter": ("E8", "E8B", "E9", "E23"),
    "strip": ("E10", "E11", "E12"),
    "clean": ("E13", "E14", "E14B"),
    "build": ("E15", "E16", "E17", "E18", "E19", "E20"),
    "plant": ("E21", "E22"),
    "fill": ("E24", "E25", "E26"),
    "return": ("E27", "E28"),
    "close": ("E29", "E30"),
}
PHASE_OF: Mapping[str, str] = {activity: phase for phase, members in PHASES.items() for activity in members}


@dataclass(frozen=True)
class Minutes:
    """Three-point minutes of an activity for the crew that it is written for, at skill factor 1.0."""

    low: float
    typical: float
    high: float

    @property
    def expected(self) -> float:
        """Mean of the PERT distribution, (low + 4 typical + high) / 6.

        References
        ----------
        Malcolm, Roseboom, Clark and Fazar (1959), Operations Research 7(5), 646-669.
        """
        return (self.low + 4 * self.typical + self.high) / 6


@dataclass(frozen=True)
class CrewMember:
    """One of the crew as the day needs them: pace by kind of work, and when they are here (minutes)."""

    id: str
    speed: float
    speed_at: Mapping[str, float]
    windows: tuple[tuple[int, int], ...]
    break_min: int
    break_from: int
    break_until: int
    skills: tuple[str, ...] = ()
    longest_stretch_min: int | None = None
    """None: nobody has told; then the usual one counts."""

    def pace(self, tags: Sequence[str]) -> float:
        """Speed factor at work with these tags; `speed_at` names the tag or the kind of work."""
        kinds = {"planting" if tag == "plants" else "hardscape" if tag == "build" else tag for tag in tags}
        return max((factor for kind, factor in self.speed_at.items() if kind in kinds), default=self.speed)


def minutes_of(row: ActivityRow, driver: Driver) -> Minutes:
    """Fixed and per-unit minutes of an activity for its quantity.

    A quantity of none of something takes no time at all, except for work that is done once a job.
    """
    quantity = driver.quantity
    if quantity is None:
        raise ValueError(f"{row.id}: its quantity is not known")
    if quantity == 0:
        return Minutes(0, 0, 0)
    if PASSES_BY_ITSELF in row.tags:
        return Minutes(row.fixed_low, row.fixed_typ, row.fixed_high)
    return Minutes(
        row.fixed_low + row.per_unit_low * quantity,
        row.fixed_typ + row.per_unit_typ * quantity,
        row.fixed_high + row.per_unit_high * quantity,
    )


def wait_of(row: ActivityRow, driver: Driver) -> Minutes | None:
    """Minutes after an activity that pass without hands, before what follows it may start; None if there are none."""
    if PASSES_BY_ITSELF not in row.tags or not driver.quantity:
        return None
    return Minutes(*(rate * driver.quantity for rate in (row.per_unit_low, row.per_unit_typ, row.per_unit_high)))


def skills_wanted(row: ActivityRow) -> frozenset[str]:
    """Skills of which somebody at this work must have each."""
    named = {tag.removeprefix("skill:") for tag in row.tags if tag.startswith("skill:")}
    return frozenset(named | {SKILL_OF[tag] for tag in row.tags if tag in SKILL_OF})


def skills_lacking(row: ActivityRow, crew: Sequence[CrewMember]) -> frozenset[str]:
    """Wanted skills that nobody of the crew has; none where no skills are told of anybody."""
    told = {skill for member in crew for skill in member.skills}
    return skills_wanted(row) - told if told else frozenset()


def team_factor(row: ActivityRow, team: Sequence[CrewMember]) -> float:
    """Minutes of a team against those of the crew that the row is written for, by its size and its pace."""
    # Three are asked for by rows that need them; they are no quicker than the two whose minutes are known.
    factor = {1: row.speedup_second_person, 4: 1 / TWO_MOUTHS_FACTOR}.get(len(team), 1.0)
    if row.nominal_people == 1:
        factor = {1: 1.0, 4: 1 / row.speedup_second_person / TWO_MOUTHS_FACTOR}.get(
            len(team), 1 / row.speedup_second_person
        )
    return factor / (sum(person.pace(row.tags) for person in team) / len(team))


def modes_of(
    row: ActivityRow,
    minutes: float,
    crew: Sequence[CrewMember],
    *,
    work_places: int,
    house: House = NO_HOUSE,
) -> tuple[Mode, ...]:
    """Every way to man an activity: who, how long, how many places at the tank.

    Parameters
    ----------
    row : ActivityRow
        People, speed-up, place, noise and tags.
    minutes : float
        For the row's `nominal_people` at skill factor 1.0.
    crew : sequence of CrewMember
        Everybody who may take part.
    work_places : int
        People who can work at the tank at the same time.
    house : House
        Resources that the work takes by its tags, and ways of working that are impossible.

    Notes
    -----
    Where skills are told of anybody, each skill that the row asks for is there in every team.
    """
    modes = []
    skilled = skills_wanted(row) if any(member.skills for member in crew) else frozenset()
    told = tuple(tag for tag in TOLD_TO_PEOPLE if tag in row.tags)
    at_tank = bool(row.needs_tank_mouth)
    most = max(row.people_min, min(row.people_max, 2))
    sizes = [size for size in range(row.people_min, most + 1) if not at_tank or size <= work_places]
    if at_tank and row.people_max >= 2 and work_places >= 4 and len(crew) >= 4:
        sizes.append(4)
    for size in sizes:
        for team in combinations(crew, size):
            if not skilled <= {skill for member in team for skill in member.skills}:
                continue
            length = minutes * team_factor(row, team)
            resources = {MOUTH: work_places if "alone_at_tank" in row.tags else size} if at_tank else {}
            if row.zone != "tank":
                resources[f"zone {row.zone}"] = size
            if "pump" in row.tags:
                resources[PUMP] = 1
            needs = (*row.tags, *((WAY_IN,) if row.zone == "route" else ()))
            resources |= {name: amount for need in needs for name, amount in house.takes.get(need, {}).items()}
            names = tuple(person.id for person in team)
            label = "+".join(names)
            if row.noisy:
                if WET_VAC not in house.impossible:
                    modes.append(
                        Mode(
                            id=f"{label} wet-vac",
                            minutes=round(length),
                            crew=names,
                            resources={**resources, **house.takes.get(WET_VAC, {})},
                            tags=("noisy", *told),
                        )
                    )
                modes.append(
                    Mode(
                        id=f"{label} quiet",
                        minutes=round(length * QUIET_FACTOR),
                        crew=names,
                        resources=resources,
                        tags=("quiet", *told),
                    )
                )
            else:
                modes.append(Mode(id=label, minutes=round(length), crew=names, resources=resources, tags=told))
    return tuple(modes)
