"""Whether a layout stays as it is let go, and how far it can be tilted: the one file that knows the physics engine.

Stones and wood are rigid, touch each other by their convex parts, and keep mass, centre and inertia of their true
solid. The bed is touched at points spread over those parts, each against the plane that the bed makes there: so a
slope is a slope, not stairs, and each point is one contact. Under a bedded piece the bed has given way: there a point
meets the piece's own imprint, held where it looks down, free where it looks aside, because loose soil holds no wall.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import cos, radians, sin, tan
from typing import Any, Literal

import mujoco
import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.finding import Finding, Remedy, Severity
from slackwater.frozen import Frozen
from slackwater.layout.afloat import WATER_KG_M3, displaced_l, floating
from slackwater.layout.ground import height_and_slope
from slackwater.layout.scene import Floats, Glass, Layout, rotation, stood
from slackwater.layout.touching import POINT_M, Body, body_of

Surroundings = Literal["dry", "water"]

GRAVITY_M_S2 = 9.81
FRICTION = 0.6
"""Stone on stone, on wood and on glass: wet and rough; from memory. Soil takes the tangent of its angle of repose."""
MOST_TURN_DEG = 2.0
MOST_SHIFT_M = 0.003
STEP_S = 0.002
SECOND_STEP_S = 0.004
STEPS = 1000
STEADY_DEG = 10.0
"""A piece that stands at this tilt may be called steady; common practice, no source."""
TILTS_DEG = (3.0, 6.0, 10.0, 15.0)
DIRECTIONS = 8
TILT_TIME_S = 0.6
CALM_TIME_S = 0.1
LOOKING_DOWN = -0.5
"""Soil holds a face that looks down by at least 30 degrees below level; steeper walls of soil give way."""
EVERY = 5
"""Steps between two looks at the bed under the points."""
AT_REST_M_S = 0.0005
NOWHERE_M = -100.0


# ---------------------------------------------------------------- what is handed on


class Moved(Frozen):
    """What one piece did when it was let go."""

    number: int
    turn_deg: float
    shift_m: float
    """Of its centre of mass."""
    accepted: bool
    """Turned by less than 2 degrees and moved by less than 3 mm."""
    load_n: float
    """What it presses on the bed with, including what stands on it and less what carries it."""


@dataclass(frozen=True)
class Settled:
    """A layout that was let go, and what each piece did."""

    layout: Layout
    """With the pieces where they came to rest."""
    pieces: tuple[Moved, ...]
    at_rest: bool
    """Nothing moved any more when the steps were used up."""
    steps: int

    @property
    def accepted(self) -> bool:
        """All came to rest where they were placed."""
        return self.at_rest and all(piece.accepted for piece in self.pieces)


class Tilt(Frozen):
    """The least tilt that moves a piece, of those tried."""

    number: int
    dry_deg: float | None
    """0 where it does not even stand level; None where it stood at every tilt tried."""
    water_deg: float | None
    floats: bool
    """Rises when the tank is filled."""
    steps_agree: bool
    """Both step sizes say the same of this piece."""
    steady: bool
    """Stands at 10 degrees, dry and under water, by both step sizes."""


# ---------------------------------------------------------------- the scene


def _numbers(values: Any) -> str:
    return " ".join(f"{value:.9g}" for value in np.ravel(values))


def _xml(bodies: Sequence[Body], layout: Layout, *, step_s: float) -> str:
    soil = tan(radians(layout.bed.repose_deg)) if layout.bed.repose_deg else FRICTION
    meshes, things, planes, pairs, welds = [], [], [], [], []
    for body in bodies:
        name = f"p{body.number}"
        inertia = body.piece.inertia_kg_m2
        geoms = []
        for k, part in enumerate(body.parts):
            meshes.append(f'<mesh name="{name}m{k}" vertex="{_numbers(part)}"/>')
            geoms.append(f'<geom type="mesh" mesh="{name}m{k}" friction="{FRICTION} 0.005 0.0001"/>')
        for k, (point, out, depth) in enumerate(zip(body.points, body.normals, body.depths, strict=True)):
            at = _numbers(point - depth * out)
            geoms.append(
                f'<geom name="{name}s{k}" type="sphere" size="{POINT_M}" pos="{at}" contype="0" conaffinity="0"/>'
            )
            planes.append(
                f'<geom name="{name}b{k}" type="plane" size="1 1 1" pos="0 0 {NOWHERE_M}" contype="0" conaffinity="0"/>'
            )
            pairs.append(
                f'<pair geom1="{name}s{k}" geom2="{name}b{k}" condim="3" friction="{soil} {soil} .005 .0001 .0001"/>'
            )
        centre = stood(body.piece.centre_m[None], body.placement)[0]
        tensor = (inertia[0, 0], inertia[1, 1], inertia[2, 2], inertia[0, 1], inertia[0, 2], inertia[1, 2])
        things.append(
            f'<body name="{name}" pos="{_numbers(centre)}" quat="{_numbers(body.placement.turn)}"><freejoint/>'
            f'<inertial pos="0 0 0" mass="{body.piece.mass_kg:.9g}" fullinertia="{_numbers(tensor)}"/>{"".join(geoms)}</body>'
        )
    there = {body.number for body in bodies}
    for joint in layout.joints:
        if joint.one in there and (joint.other in there or joint.other == 0):
            second = f' body2="p{joint.other}"' if joint.other else ""
            welds.append(f'<weld body1="p{joint.one}"{second} solref="0.008 1"/>')
        elif joint.one == 0 and joint.other in there:
            welds.append(f'<weld body1="p{joint.other}" solref="0.008 1"/>')
    return f"""<mujoco><compiler angle="radian" autolimits="true" balanceinertia="true"/>
<option timestep="{step_s}" integrator="implicitfast" cone="elliptic" impratio="10" iterations="30" tolerance="1e-9">
<flag multiccd="enable"/></option><size memory="128M"/>
<default><geom condim="3" solref="0.008 1" solimp="0.95 0.99 0.0005"/>
<pair solref="0.008 1" solimp="0.95 0.99 0.0005"/></default>
<asset>{"".join(meshes)}</asset><worldbody>{_panes(layout.glass)}{"".join(planes)}{"".join(things)}</worldbody>
<contact>{"".join(pairs)}</contact><equality>{"".join(welds)}</equality></mujoco>"""


def _panes(glass: Glass) -> str:
    corners = glass.corners_m
    edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))
    bulges = all(
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= -1e-12
        for ((ax, ay), (bx, by)), (_, (cx, cy)) in zip(edges, [*edges[1:], edges[0]], strict=True)
    )
    found = []
    for (ax, ay), (bx, by) in edges:
        length = float(np.hypot(bx - ax, by - ay))
        inward = np.array([-(by - ay), bx - ax]) / length
        middle = np.array([(ax + bx) / 2, (ay + by) / 2])
        if bulges:
            found.append(f'<geom type="plane" size="3 3 1" pos="{_numbers(middle)} 0" zaxis="{_numbers(inward)} 0"/>')
        else:
            middle = middle - 0.05 * inward
            along = _numbers([(bx - ax) / length, (by - ay) / length, 0])
            found.append(
                f'<geom type="box" size="{length / 2:.9g} 0.05 2" pos="{_numbers(middle)} 0" xyaxes="{along} {_numbers(-inward)} 0"/>'
            )
    return "".join(found)


class _World:
    """The engine with one layout in it. What it holds changes with every step; it never leaves this file."""

    def __init__(self, layout: Layout, *, step_s: float) -> None:
        self.layout = layout
        self.bodies = [body_of(layout, placement) for placement in layout.placements]
        self.model: Any = mujoco.MjModel.from_xml_string(_xml(self.bodies, layout, step_s=step_s))
        self.data: Any = mujoco.MjData(self.model)
        self.step_s = step_s
        names = [(f"p{body.number}", k) for body in self.bodies for k in range(len(body.points))]
        self._spheres = np.array([self.model.geom(f"{name}s{k}").id for name, k in names], dtype=int)
        self._planes = np.array([self.model.geom(f"{name}b{k}").id for name, k in names], dtype=int)
        self._ids = [int(self.model.body(f"p{body.number}").id) for body in self.bodies]
        # The compiler marks geoms that lie in their body's frame and then passes over their place.
        self.model.geom_sameframe[self._planes] = 0
        mujoco.mj_kinematics(self.model, self.data)
        self._impress()
        self.lift_kg = {body.number: 0.0 for body in self.bodies}
        self.ballast_kg = {body.number: layout.ballast_kg.get(body.number, 0.0) for body in self.bodies}
        self.tilt(deg=0.0, towards_deg=0.0)

    def _impress(self) -> None:
        """Where points lie in the bed, the bed has given way to them and keeps that form."""
        at, out = self._where(), self._outward()
        bed, _, _ = height_and_slope(self.layout.bed, at[:, 0], at[:, 1])
        # A hair: what just touches lies on the bed and has made no imprint.
        buried = at[:, 2] < bed - 1e-5
        held = buried & (out[:, 2] <= LOOKING_DOWN)
        self._free = np.flatnonzero(~buried)
        self._put(np.flatnonzero(held), at[held], -out[held])
        self._look()

    def _where(self) -> Floats:
        depths = np.concatenate([body.depths for body in self.bodies])
        return np.asarray(self.data.geom_xpos[self._spheres] + depths[:, None] * self._outward())

    def _outward(self) -> Floats:
        found = [
            body.normals @ np.asarray(self.data.xmat[number]).reshape(3, 3).T
            for body, number in zip(self.bodies, self._ids, strict=True)
        ]
        return np.vstack(found)

    def _put(self, which: Any, at: Floats, normal: Floats) -> None:
        """Planes through points with upward normals: the turn that takes z to the normal, as a quaternion."""
        ids = self._planes[which]
        turn = np.column_stack([1 + normal[:, 2], -normal[:, 1], normal[:, 0], np.zeros(len(normal))])
        self.model.geom_pos[ids] = at
        self.model.geom_quat[ids] = turn / np.linalg.norm(turn, axis=1)[:, None]

    def _look(self) -> None:
        """Lay the planes of free points to the bed beneath them."""
        if not len(self._free):
            return
        at = self.data.geom_xpos[self._spheres[self._free]]
        z, rise_x, rise_y = height_and_slope(self.layout.bed, at[:, 0], at[:, 1])
        normal = np.column_stack([-rise_x, -rise_y, np.ones_like(z)])
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        self._put(self._free, np.column_stack([at[:, :2], z]), normal)

    def fill(self) -> None:
        """Fill the tank: every piece loses the weight of the water it displaces where it stands."""
        level = self.layout.glass.water_line_m
        self.lift_kg = {
            body.number: WATER_KG_M3 * displaced_l(body.piece, body.placement, level_m=level) / 1000
            for body in self.bodies
        }
        self.tilt(deg=0.0, towards_deg=0.0)

    def tilt(self, *, deg: float, towards_deg: float) -> None:
        """Turn gravity, as if the tank with its water were tilted."""
        lean, to = radians(deg), radians(towards_deg)
        pull = GRAVITY_M_S2 * np.array([sin(lean) * cos(to), sin(lean) * sin(to), -cos(lean)])
        self.model.opt.gravity[:] = pull
        for body, number in zip(self.bodies, self._ids, strict=True):
            self.data.xfrc_applied[number, :3] = (self.ballast_kg[body.number] - self.lift_kg[body.number]) * pull

    def pose(self) -> tuple[Floats, Floats]:
        """Centres [n, 3] and turns [n, 4] of all pieces."""
        return self.data.xpos[self._ids].copy(), self.data.xquat[self._ids].copy()

    def moved(self, since: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
        """Turn [degrees] and shift [m] of each piece since a pose."""
        at, turn = self.pose()
        same = np.clip(np.abs(np.einsum("ij,ij->i", turn, since[1])), 0, 1)
        return np.degrees(2 * np.arccos(same)), np.linalg.norm(at - since[0], axis=1)

    def run(self, steps: int, *, over: Callable[[], bool] | None = None, least: int = 50) -> tuple[int, bool]:
        """Let time pass: the steps it took, and whether all came to rest."""
        for step in range(steps):
            if step % EVERY == 0:
                self._look()
            mujoco.mj_step(self.model, self.data)
            if step >= least and step % 25 == 0:
                if over is not None and over():
                    return step + 1, False
                if np.abs(self.data.qvel).max(initial=0.0) < AT_REST_M_S:
                    mujoco.mj_kinematics(self.model, self.data)
                    return step + 1, True
        mujoco.mj_kinematics(self.model, self.data)
        return steps, bool(np.abs(self.data.qvel).max(initial=0.0) < 10 * AT_REST_M_S)

    def loads_n(self) -> Mapping[int, float]:
        """What each piece presses on the bed with [N], by its points."""
        mujoco.mj_forward(self.model, self.data)
        of_geom = {
            int(geom): body.number
            for body, geoms in zip(self.bodies, np.split(self._spheres, self._borders()), strict=True)
            for geom in geoms
        }
        found = {body.number: 0.0 for body in self.bodies}
        force = np.zeros(6)
        for k in range(self.data.ncon):
            contact = self.data.contact[k]
            number = of_geom.get(int(contact.geom1), of_geom.get(int(contact.geom2)))
            if number is not None:
                mujoco.mj_contactForce(self.model, self.data, k, force)
                found[number] += abs(float(np.asarray(contact.frame).reshape(3, 3)[:, 2] @ force[:3]))
        return found

    def _borders(self) -> Floats:
        return np.cumsum([len(body.points) for body in self.bodies])[:-1]

    def state(self) -> tuple[Floats, Floats]:
        """To go back to."""
        return self.data.qpos.copy(), self.data.qacc_warmstart.copy()

    def back_to(self, state: tuple[Floats, Floats]) -> None:
        """Everything at rest where it was."""
        self.data.qpos[:], self.data.qacc_warmstart[:] = state
        self.data.qvel[:] = 0
        mujoco.mj_kinematics(self.model, self.data)


# ---------------------------------------------------------------- letting go


def settled(
    layout: Layout, *, steps: int = STEPS, step_s: float = STEP_S, surroundings: Surroundings = "dry"
) -> Settled:
    """Let all pieces go where they stand, and see what they do.

    Parameters
    ----------
    layout : Layout
        With its pieces lowered (`place.bedded`).
    steps : int
        Most steps; it ends sooner where everything rests.
    step_s : float
        Length of a step [s, 0.0005 to 0.005].
    surroundings : "dry" or "water"
        Empty tank, or filled to its water line.

    Returns
    -------
    Settled
        The same layout, the same steps: the same answer.

    Raises
    ------
    BadInput
        If a piece weighs nothing.
    OutOfRange
        If steps or step make no sense.
    """
    check_range("steps", steps, 1, 1_000_000, unit="")
    check_range("step_s", step_s, 0.0005, 0.005, unit="s")
    if not layout.placements:
        return Settled(layout=layout, pieces=(), at_rest=True, steps=0)
    world = _World(layout, step_s=step_s)
    if surroundings == "water":
        world.fill()
    begin = world.pose()
    used, at_rest = world.run(steps)
    turns, shifts = world.moved(begin)
    ended, quats = world.pose()
    loads = world.loads_n()
    moved = tuple(
        Moved(
            number=body.number,
            turn_deg=float(turn),
            shift_m=float(shift),
            accepted=bool(turn < MOST_TURN_DEG and shift < MOST_SHIFT_M),
            load_n=loads[body.number],
        )
        for body, turn, shift in zip(world.bodies, turns, shifts, strict=True)
    )
    found = layout
    for body, at, quat in zip(world.bodies, ended, quats, strict=True):
        w, x, y, z = (float(value) for value in quat / np.linalg.norm(quat))
        corner = at - rotation((w, x, y, z)) @ body.piece.centre_m
        spot = (float(corner[0]), float(corner[1]), float(corner[2]))
        found = found.with_placement(replace(body.placement, position_m=spot, turn=(w, x, y, z)))
    return Settled(layout=found, pieces=moved, at_rest=at_rest, steps=used)


# ---------------------------------------------------------------- tilting


def tilt_report(
    layout: Layout,
    *,
    tilts_deg: Sequence[float] = TILTS_DEG,
    on_progress: Callable[[float], None] | None = None,
) -> tuple[Tilt, ...]:
    """The least tilt that moves each piece, dry and under water.

    Parameters
    ----------
    layout : Layout
        Settled.
    tilts_deg : numbers
        The tilts to tell apart, rising [degrees].
    on_progress : callable or None
        Told the share that is done, 0 to 1, never falling; it may raise to stop the test.

    Returns
    -------
    tuple of Tilt
        In the order of the placements.

    Notes
    -----
    Gravity is turned in 8 directions for 0.6 s each, by bisection over the tilts: a piece that stands at a tilt is
    taken to stand at smaller ones. Each test runs at steps of 2 ms and of 4 ms; the lower tilt counts. Where water
    takes the same share of weight off every piece the forces keep their proportions, and the dry result holds.
    """
    levels = tuple(sorted(tilts_deg))
    if not layout.placements or not levels:
        return ()
    told = _Progress(on_progress)
    dry = _least_in(layout, "dry", levels, told.part(0.0, 0.5))
    lifts = _lift_shares(layout)
    rising = {number for group in floating(layout) for number in group.numbers}
    same = max(lifts.values()) - min(lifts.values()) < 1e-6 and not rising and not layout.ballast_kg
    wet = dry if same else _least_in(layout, "water", levels, told.part(0.5, 1.0))
    told.done(1.0)
    found = []
    for placement in layout.placements:
        number = placement.number
        each = [table[number] for result in (dry, wet) for table in result]
        floats = number in rising
        found.append(
            Tilt(
                number=number,
                dry_deg=_lowest(*(table[number] for table in dry)),
                water_deg=0.0 if floats else _lowest(*(table[number] for table in wet)),
                floats=floats,
                steps_agree=dry[0][number] == dry[1][number] and wet[0][number] == wet[1][number],
                steady=not floats and all(value is None or value > STEADY_DEG for value in each),
            )
        )
    return tuple(found)


def _lowest(*values: float | None) -> float | None:
    return min((value for value in values if value is not None), default=None)


def _lift_shares(layout: Layout) -> Mapping[int, float]:
    level = layout.glass.water_line_m
    return {
        placement.number: displaced_l(layout.pieces[placement.piece], placement, level_m=level)
        / (1000 * layout.pieces[placement.piece].mass_kg)
        for placement in layout.placements
    }


@dataclass
class _Progress:
    """Tells how far a work of several parts has come; never goes back."""

    tell: Callable[[float], None] | None
    last: float = field(default=0.0)

    def done(self, share: float) -> None:
        if self.tell is not None and share > self.last:
            self.last = share
            self.tell(share)

    def part(self, begin: float, end: float) -> Callable[[float], None]:
        return lambda share: self.done(begin + (end - begin) * share)


Least = Mapping[int, float | None]


def _least_in(
    layout: Layout, surroundings: Surroundings, levels: tuple[float, ...], told: Callable[[float], None]
) -> tuple[Least, Least]:
    """By the first step size and by the second."""
    first = _least(layout, surroundings, levels, STEP_S, lambda share: told(share * 2 / 3))
    second = _least(layout, surroundings, levels, SECOND_STEP_S, lambda share: told((2 + share) / 3))
    return first, second


def _least(
    layout: Layout, surroundings: Surroundings, levels: tuple[float, ...], step_s: float, told: Callable[[float], None]
) -> Least:
    world = _World(layout, step_s=step_s)
    if surroundings == "water":
        world.fill()
    begin = world.pose()
    world.run(round(2 * CALM_TIME_S / step_s), least=round(CALM_TIME_S / step_s))
    stands_level = ~_displaced(world, begin)
    # Number of tilts a piece stands at, from the lowest.
    stands = np.where(stands_level, len(levels), 0)
    rest, state = world.pose(), world.state()
    for direction in range(DIRECTIONS):
        # What is known already bounds what is asked: no tilt above the least found so far. The highest comes first,
        # because most pieces that are bedded stand there and are done with it; then the middle of what is left.
        holds, falls = np.zeros_like(stands), stands.copy()
        level = int(falls.max()) - 1
        while (holds < falls).any():
            asked = (level >= holds) & (level < falls)
            world.back_to(state)
            world.tilt(deg=levels[level], towards_deg=360 * direction / DIRECTIONS)
            fell = _fallen(world, rest, asked)
            falls = np.where(asked & fell, level, falls)
            holds = np.where(asked & ~fell, level + 1, holds)
            widest = int(np.argmax(falls - holds))
            level = int((holds[widest] + falls[widest] - 1) // 2)
        stands = falls
        told((direction + 1) / DIRECTIONS)
    least = np.where(stands_level, np.array([*levels, np.inf])[stands], 0.0)
    return {
        body.number: float(deg) if np.isfinite(deg) else None for body, deg in zip(world.bodies, least, strict=True)
    }


def _displaced(world: _World, since: tuple[Floats, Floats]) -> NDArray[np.bool_]:
    turns, shifts = world.moved(since)
    return np.asarray((turns >= MOST_TURN_DEG) | (shifts >= MOST_SHIFT_M))


def _fallen(world: _World, rest: tuple[Floats, Floats], asked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which pieces were out of place at some time of the tilt that was set; it ends when all that are asked were."""
    fallen = np.zeros(len(asked), dtype=bool)

    def all_asked() -> bool:
        fallen[:] |= _displaced(world, rest)
        return bool(fallen[asked].all())

    world.run(round(TILT_TIME_S / world.step_s), over=all_asked, least=round(CALM_TIME_S / world.step_s))
    all_asked()
    return fallen


# ---------------------------------------------------------------- in words


def steadiness_findings(layout: Layout, result: Settled | None, tilts: Sequence[Tilt]) -> tuple[Finding, ...]:
    """What moved when let go, what a tilt moves, what floats and by what it is held."""
    names = {placement.number: layout.pieces[placement.piece].name for placement in layout.placements}
    found: list[Finding] = []
    for moved in result.pieces if result is not None else ():
        if not moved.accepted:
            found.append(
                Finding(
                    id="layout.moved_when_let_go",
                    severity=Severity.CONDITION,
                    about=str(moved.number),
                    values={
                        "number": moved.number,
                        "piece": names[moved.number],
                        "turn_deg": moved.turn_deg,
                        "shift_mm": 1000 * moved.shift_m,
                    },
                    remedies=(Remedy(id="layout.bed_deeper"),),
                )
            )
    for tilt in tilts:
        if not tilt.steady and not tilt.floats:
            least = min(value for value in (tilt.dry_deg, tilt.water_deg) if value is not None)
            found.append(
                Finding(
                    id="layout.not_steady",
                    severity=Severity.CONDITION,
                    about=str(tilt.number),
                    values={"number": tilt.number, "piece": names[tilt.number], "least_deg": least},
                    margin=least - STEADY_DEG,
                    margin_unit="degrees",
                    remedies=(Remedy(id="layout.bed_deeper"), Remedy(id="layout.glue")),
                )
            )
    for group in floating(layout):
        found.append(
            Finding(
                id="layout.floats",
                severity=Severity.CONDITION,
                about=", ".join(str(number) for number in group.numbers),
                values={
                    "pieces": ", ".join(f"{names[number]} (number {number})" for number in group.numbers),
                    "lift_kg": group.lift_kg,
                },
                margin=-group.lift_kg,
                margin_unit="kg",
                remedies=(Remedy(id="layout.ballast", values={"lift_kg": group.lift_kg}), Remedy(id="layout.glue")),
            )
        )
    if layout.joints:
        found.append(Finding(id="layout.glue_joints", severity=Severity.NOTE, values={"count": len(layout.joints)}))
    return tuple(found)
