"""What the house lends the day beside people and hours: watts of a circuit, floor beside the tank, lift, barrels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import ceil, floor

from slackwater.day.drivers import RoomQuantities, Standing
from slackwater.day.model import Hold, Interval, Outage, Resource, event
from slackwater.job.model import Job

FLOOR = "floor beside the tank"
LIFT = "lift"
WET_VAC = "wet-vac"
WAY_IN = "way in"
"""What work on the route needs where a lift is part of it."""
TOOLS: Mapping[str, str] = {WET_VAC: "wet-vac", "pump": "transfer pump"}
"""What draws power, by the tag of the work that it is for."""
RUNNING = ("barrel heater", "booster pump")
"""Runs while new water waits."""
STANDS: Mapping[str, tuple[str, str]] = {
    "animals": ("E5.start", "E28.end"),
    "leaving": ("E5.start", "E6.end"),
    "bags": ("E16.start", "E16.end"),
    "old": ("E4.start", "E24.end"),
    "new": ("E1.end", "E24.end"),
}
"""From which event to which something stands beside the tank, in the order in which it is given its place there."""


@dataclass(frozen=True)
class Told:
    """Something to tell about what the house lends, with what its sentence needs."""

    id: str
    about: str
    values: Mapping[str, float | str]


@dataclass(frozen=True)
class House:
    """Rules of the house as the day's problem takes them.

    Attributes
    ----------
    takes : mapping of str to mapping of str to int
        By need of an activity (a tag, ``wet-vac`` or ``way in``) the resources that it takes.
    impossible : frozenset of str
        Ways of working that the house does not allow at all: ``wet-vac``.
    told : tuple of Told
        What people must know to keep these rules.
    """

    resources: tuple[Resource, ...] = ()
    holds: tuple[Hold, ...] = ()
    outages: tuple[Outage, ...] = ()
    takes: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    impossible: frozenset[str] = frozenset()
    told: tuple[Told, ...] = ()


NO_HOUSE = House()
"""No rules of a house."""


def house_of(job: Job, rooms: RoomQuantities, lift_out: tuple[Interval, ...]) -> House:
    """All rules of the house, each there only while its fact is.

    Parameters
    ----------
    job : Job
        Lift and containers.
    rooms : RoomQuantities
        Watts, and what stands beside the tank.
    lift_out : spans
        When the lift cannot be used [min].
    """
    parts = (_circuit(rooms), _floor(rooms), _lift(job, lift_out), _containers(job, rooms))
    return House(
        resources=tuple(item for part in parts for item in part.resources),
        holds=tuple(item for part in parts for item in part.holds),
        outages=tuple(item for part in parts for item in part.outages),
        takes={need: taken for part in parts for need, taken in part.takes.items()},
        impossible=frozenset(item for part in parts for item in part.impossible),
        told=tuple(item for part in parts for item in part.told),
    )


def _hold(name: str, resource: str, amount: float, starts: str, ends: str | None) -> Iterable[Hold]:
    if ceil(amount) > 0:
        yield Hold(
            id=name,
            resource=resource,
            amount=ceil(amount),
            starts=event(starts),
            ends=None if ends is None else event(ends),
        )


def _circuit(rooms: RoomQuantities) -> House:
    """Everything hangs on the largest circuit: nobody keeps track of sockets with wet hands.

    What a tool leaves too little for is unplugged while the tool runs, rather than the tool left at home.
    """
    if rooms.circuit_w is None:
        return House()
    name, capacity = f"circuit {rooms.circuit}", floor(rooms.circuit_w)
    watts = rooms.watts
    known: dict[str, float | str] = {"circuit": rooms.circuit, "ours_w": rooms.circuit_w}
    draws = {need: watts[device] for need, device in TOOLS.items() if device in watts}
    told = [
        Told("tool_over_circuit", TOOLS[need], {**known, "tool": TOOLS[need], "tool_w": draw})
        for need, draw in draws.items()
        if ceil(draw) > capacity
    ]
    used = {need: draw for need, draw in draws.items() if ceil(draw) <= capacity}
    most = max(used.values(), default=0.0)
    running = {device: watts[device] for device in RUNNING if device in watts}
    unplugged: list[str] = []
    for device in sorted(running, key=lambda item: -running[item]):
        if ceil(most) + sum(ceil(watts[item]) for item in running if item not in unplugged) > capacity:
            unplugged.append(device)
    if unplugged:
        told.append(
            Told(
                "unplug_for_tools",
                rooms.circuit,
                {**known, "devices": ", ".join(unplugged), "total_w": most + sum(running.values())},
            )
        )
    warming = sum(ceil(watts[device]) for device in running if device not in unplugged)
    tank = watts.get("tank heaters", 0.0)
    filters = min(watts.get("filters", 0.0), max(0.0, capacity - warming - most))
    before = min(tank + watts.get("lamps", 0.0), max(0.0, capacity - filters))
    # What ran in the house before anybody came cannot overload it; what is brought then waits for the plug.
    plugged_in = "E1.start" if warming + filters + before <= capacity else "E3.end"
    return House(
        resources=(Resource(id=name, capacity=capacity),),
        holds=(
            *_hold("heaters and lamps", name, floor(before), "E1.start", "E3.end"),
            *_hold("filters", name, floor(filters), "E1.start", "E8.start"),
            *_hold("filters on the barrel", name, floor(filters), "E8B.end", "E23.start"),
            *_hold("warming new water", name, warming, plugged_in, "E24.start"),
            *_hold("tank running", name, floor(min(tank + filters, capacity)), "E25.end", None),
        ),
        takes={need: {name: ceil(draw)} for need, draw in used.items()},
        impossible=frozenset(need for need in draws if need not in used),
        told=tuple(told),
    )


def _floor(rooms: RoomQuantities) -> House:
    """What is given its place beside the tank holds kilograms there; what no longer finds room stands elsewhere."""
    if rooms.near_tank_kg is None:
        return House()
    left = floor(rooms.near_tank_kg)
    holds: list[Hold] = []
    away: list[Standing] = []
    for kind, (starts, ends) in STANDS.items():
        near = 0
        for item in rooms.standing:
            if item.holds != kind:
                continue
            if near + ceil(item.mass_kg) <= left:
                near += ceil(item.mass_kg)
            else:
                away.append(item)
        left -= near
        holds += _hold(f"{kind} beside the tank", FLOOR, near, starts, ends)
    told: tuple[Told, ...] = ()
    if away:
        told = (
            Told(
                "stands_away",
                "",
                {
                    "what": ", ".join(f"{n} x {what}" for what, n in sorted(Counter(i.what for i in away).items())),
                    "mass_kg": sum(item.mass_kg for item in away),
                    "allowed_kg": rooms.near_tank_kg,
                    **rooms.near_tank_said,
                },
            ),
        )
    return House(resources=(Resource(id=FLOOR, capacity=floor(rooms.near_tank_kg)),), holds=tuple(holds), told=told)


def _lift(job: Job, out: tuple[Interval, ...]) -> House:
    if job.site.lift is None:
        return House()
    return House(
        resources=(Resource(id=LIFT, capacity=1),),
        outages=(Outage(resource=LIFT, spans=out),) if out else (),
        takes={WAY_IN: {LIFT: 1}},
    )


def _containers(job: Job, rooms: RoomQuantities) -> House:
    """Barrels and boxes of each kind; where fewer are on hand than are used, the water room has told so."""
    resources: list[Resource] = []
    holds: list[Hold] = []
    for item in job.containers or ():
        used = {kind: sum(s.container == item.container and s.holds == kind for s in rooms.standing) for kind in STANDS}
        if 0 < sum(used.values()) <= item.count:
            name = f"container {item.container}"
            resources.append(Resource(id=name, capacity=item.count))
            for kind, (starts, ends) in STANDS.items():
                holds += _hold(f"{kind} in {item.container}", name, used[kind], starts, ends)
    return House(resources=tuple(resources), holds=tuple(holds))
