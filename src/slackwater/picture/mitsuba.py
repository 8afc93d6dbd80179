"""Drawing a scene by following light: the one file that knows the renderer.

The water is one body of glass-clear matter without panes, for a flat pane turns no ray. The light is a sheet inside it. Room,
stand and seams shine by themselves, so that no lamp has to find them through the water.
"""

from __future__ import annotations

import importlib.util
import io
import time
from collections.abc import Callable
from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from slackwater.errors import BadInput, CannotRun, check_range
from slackwater.picture.scene import SHEET_UNDER_M, Camera, Mesh, PictureScene, Rgb
from slackwater.picture.surfaces import WATER_INDEX, corner_normals

VARIANT = "scalar_rgb"
"""It needs no compiler on the user's machine."""
PASS_SAMPLES = 4
"""Light paths of each picture point between two reports."""
USUAL_SAMPLES = 16
SEEN_PAR_UMOL = 60.0
"""Light on bare soil of a usual planted tank."""
SHADED = 0.36
"""Of that light, what falls on a usual leaf or stone: there grey of 18 % comes out as such. Looked at, no source."""
ADAPTS = 0.65
"""How far the exposure follows the light, as an eye does: 0 not at all, 1 wholly, when a dim tank would look like a bright one."""
GUIDE_SAMPLES = 16
HAIR_M = 0.00002
DEPTH = 8
"""Turns of a light path: through the pane, a few times from leaf to leaf, out again."""
Picture = NDArray[np.float32]


@dataclass(frozen=True)
class Drawn:
    """One picture.

    Attributes
    ----------
    light : (height, width, 3) float
        Linear, exposed, before it is brought into what a screen can show.
    samples : int
        Light paths of each point.
    whole : bool
        Whether all that were asked for were followed; else time was up or it was stopped.
    denoised : bool
    seconds : float
    """

    light: Picture
    samples: int
    whole: bool
    denoised: bool
    seconds: float

    def png(self) -> bytes:
        """As a file; the same bytes for the same picture."""
        shown = np.round(255 * shown_on_screen(self.light)).astype(np.uint8)
        stream = io.BytesIO()
        Image.fromarray(shown, "RGB").save(stream, format="PNG", compress_level=6)
        return stream.getvalue()


def is_installed() -> bool:
    """Whether there is what draws."""
    return importlib.util.find_spec("mitsuba") is not None


def exposure_of(scene: PictureScene) -> float:
    """What light in a scene is multiplied with; the same for all sides and ages of a job, for it hangs on the lamp alone."""
    return float(pi / (SHADED * SEEN_PAR_UMOL) * (SEEN_PAR_UMOL / scene.lamp.par_umol_m2_s) ** ADAPTS)


def shown_on_screen(light: Picture) -> Picture:
    """Light brought into 0..1: bright parts pressed together, then the curve of screens.

    References
    ----------
    Reinhard, Stark, Shirley and Ferwerda (2002), ACM Transactions on Graphics 21(3), 267-276, equation 4, for what is bright;
    IEC 61966-2-1 (1999) for the curve.
    """
    light = np.maximum(np.nan_to_num(light), 0)
    luminance = light @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    white = 2.6
    pressed = luminance * (1 + luminance / white**2) / (1 + 0.55 * luminance)
    scaled = light * (pressed / np.maximum(luminance, 1e-9))[..., None]
    scaled = np.clip(scaled, 0, 1)
    curved = np.where(scaled <= 0.0031308, 12.92 * scaled, 1.055 * scaled ** (1 / 2.4) - 0.055)
    return np.asarray(np.clip(curved, 0, 1), dtype=np.float32)


class Studio:
    """A scene made ready, to be drawn from several sides."""

    def __init__(self, scene: PictureScene) -> None:
        """Make the scene ready.

        Raises
        ------
        CannotRun
            Where the renderer is not installed.
        """
        if not is_installed():
            raise CannotRun(
                "Pictures need a renderer that is not installed: run `./go setup picture` once, then ask again."
            )
        import mitsuba

        if mitsuba.variant() != VARIANT:
            mitsuba.set_variant(VARIANT)
        self.mi: Any = mitsuba
        self.scene = scene
        self.exposure = exposure_of(scene)
        self.following = mitsuba.load_dict({"type": "path", "max_depth": DEPTH, "rr_depth": 4})
        self.looking = mitsuba.load_dict({"type": "path", "max_depth": DEPTH, "rr_depth": 2 * DEPTH})
        self.loaded = mitsuba.load_dict(self._described())
        # What the denoiser is shown beside the picture: the plain colours of all things through the same water, without noise.
        self.guiding = mitsuba.load_dict(self._colours()) if can_denoise() else None

    def draw(
        self,
        camera: Camera,
        *,
        width: int,
        height: int,
        samples: int = USUAL_SAMPLES,
        seed: int = 0,
        seconds: float | None = None,
        on_pass: Callable[[int, int], bool] = lambda _done, _of: True,
    ) -> Drawn:
        """The picture from one side, in passes.

        Parameters
        ----------
        width, height : int
            [16 to 8192]
        samples : int
            Light paths of each point [1 to 4096].
        seconds : float or None
            Budget: no pass is begun that would end beyond it; the first is always made. None: as long as it takes.
        on_pass : callable
            Told passes done and all; False ends it with the best so far.
        """
        check_range("width", width, 16, 8192, unit="points")
        check_range("height", height, 16, 8192, unit="points")
        check_range("samples", samples, 1, 4096, unit="paths")
        start = time.monotonic()
        sensor = self._sensor(camera, width, height)
        total = np.zeros((height, width, 3), dtype=np.float64)
        passes = max(1, round(samples / PASS_SAMPLES))
        each = max(1, round(samples / passes))
        done = 0
        while done < passes:
            image = self.mi.render(
                self.loaded, integrator=self.following, sensor=sensor, spp=each, seed=seed * 4099 + done
            )
            total += np.asarray(image, dtype=np.float64)[..., :3]
            done += 1
            spent = time.monotonic() - start
            if not on_pass(done, passes) or (seconds is not None and spent * (done + 1) / done > seconds):
                break
        light = (total / done * self.exposure).astype(np.float32)
        guide = None
        if self.guiding is not None:
            told = self.mi.render(
                self.guiding, integrator=self.looking, sensor=sensor, spp=GUIDE_SAMPLES, seed=seed * 4099 + 4098
            )
            guide = np.clip(np.asarray(told, dtype=np.float32)[..., :3], 0, 1)
            light = _denoised(light, guide)
        return Drawn(
            light=light,
            samples=each * done,
            whole=done == passes,
            denoised=guide is not None,
            seconds=time.monotonic() - start,
        )

    # ------------------------------------------------------------ what the renderer is told

    def _sensor(self, camera: Camera, width: int, height: int) -> Any:
        return self.mi.load_dict(
            {
                "type": "perspective",
                "fov": camera.across_deg,
                "fov_axis": "x",
                "principal_point_offset_y": -camera.rise,
                "near_clip": 0.01,
                "to_world": self.mi.ScalarTransform4f().look_at(
                    list(camera.origin_m), list(camera.target_m), [0, 0, 1]
                ),
                # A wider filter spreads a bright point over its neighbours, and the denoiser keeps what is spread.
                "film": {"type": "hdrfilm", "width": width, "height": height, "rfilter": {"type": "box"}},
                "sampler": {"type": "independent"},
            }
        )

    def _described(self) -> dict[str, Any]:
        scene = self.scene
        told: dict[str, Any] = {
            "type": "scene",
            "room": self._room(),
            "water": self._water(),
            "lamp": self._lamp(),
        }
        for number, thing in enumerate(scene.things):
            if len(thing.mesh.faces):
                told[f"thing{number}"] = self._mesh(
                    f"thing{number}", thing.mesh, self._stuff(thing.stuff), smooth=thing.stuff == "ground"
                )
        for number, (mesh, colour) in enumerate(frame_of(scene)):
            told[f"frame{number}"] = self._shining(f"frame{number}", mesh, colour)
        return told

    def _colours(self) -> dict[str, Any]:
        """The same scene, each thing shining in its own colour and nothing lit."""
        scene = self.scene
        told: dict[str, Any] = {
            "type": "scene",
            "room": {"type": "constant", "radiance": {"type": "rgb", "value": 0.5}},
            "water": self._water(),
        }
        for number, thing in enumerate(scene.things):
            if len(thing.mesh.faces):
                own = {"type": "mesh_attribute", "name": "vertex_color"}
                mesh = two_faced(thing.mesh) if thing.stuff == "leaf" else thing.mesh
                told[f"thing{number}"] = self._lit(f"thing{number}", mesh, own)
        for number, (part, colour) in enumerate(frame_of(scene)):
            told[f"frame{number}"] = self._lit(f"frame{number}", part, {"type": "rgb", "value": list(colour)})
        return told

    def _lit(self, name: str, mesh: Mesh, radiance: dict[str, Any]) -> Any:
        properties = self.mi.Properties()
        properties["bsdf"] = self.mi.load_dict({"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}})
        properties["emitter"] = self.mi.load_dict({"type": "area", "radiance": radiance, "sampling_weight": 0.0})
        return self._filled(name, mesh, properties, smooth=False)

    def _room(self) -> dict[str, Any]:
        """A plain wall, lighter where the lamp of the tank lights it, over a darker floor."""
        up = 90 - (np.arange(64) + 0.5) / 64 * 180
        wall = np.interp(up, [-90, -35, -12, 4, 30, 90], [0.4, 0.5, 0.85, 1.0, 0.62, 0.5])
        light = wall[:, None, None] * np.array(ROOM)[None, None] / self.exposure * np.ones((1, 16, 1))
        return {
            "type": "envmap",
            "bitmap": self.mi.Bitmap(np.ascontiguousarray(light, dtype=np.float32)),
            "to_world": self.mi.ScalarTransform4f().rotate([1, 0, 0], 90),
            "sampling_weight": 0.0,
        }

    def _rgb(self, shown: Rgb) -> dict[str, Any]:
        """A brightness in the finished picture as light in the scene."""
        return {"type": "rgb", "value": [part / self.exposure for part in shown]}

    def _stuff(self, stuff: str) -> dict[str, Any]:
        colour = {"type": "mesh_attribute", "name": "vertex_color"}
        if stuff == "leaf":
            return {
                "type": "principledthin",
                "base_color": colour,
                "roughness": 0.45,
                "spec_trans": 0.0,
                "diff_trans": 0.9,
                "eta": 1.25,
            }
        return {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": colour}}

    def _mesh(self, name: str, mesh: Mesh, bsdf: dict[str, Any], *, smooth: bool) -> Any:
        properties = self.mi.Properties()
        properties["bsdf"] = self.mi.load_dict(bsdf)
        return self._filled(name, mesh, properties, smooth=smooth)

    def _shining(self, name: str, mesh: Mesh, colour: Rgb) -> Any:
        return self._lit(name, mesh, self._rgb(colour))

    def _filled(self, name: str, mesh: Mesh, properties: Any, *, smooth: bool) -> Any:
        made = self.mi.Mesh(
            name,
            len(mesh.vertices_m),
            len(mesh.faces),
            has_vertex_normals=smooth,
            has_vertex_texcoords=False,
            props=properties,
        )
        made.add_attribute("vertex_color", 3, np.ascontiguousarray(mesh.colour, dtype=np.float32).ravel())
        told = self.mi.traverse(made)
        told["vertex_positions"] = np.ascontiguousarray(mesh.vertices_m, dtype=np.float32).ravel()
        told["faces"] = np.ascontiguousarray(mesh.faces, dtype=np.uint32).ravel()
        if smooth:
            normals = corner_normals(mesh.vertices_m.astype(np.float64), mesh.faces)
            told["vertex_normals"] = normals.astype(np.float32).ravel()
        told.update()
        return made

    def _water(self) -> Any:
        scene = self.scene
        corners = np.array(scene.water.corners_m)
        across = float(np.ptp(corners, axis=0).min())
        # Half of the way through, at each crossing: right for what stands in the middle, and for what is seen through.
        share = [float(np.exp(-part * across / 2)) for part in scene.water.tint_per_m]
        properties = self.mi.Properties()
        properties["bsdf"] = self.mi.load_dict(
            {
                "type": "dielectric",
                "int_ior": WATER_INDEX,
                "ext_ior": 1.0,
                "specular_transmittance": {"type": "rgb", "value": share},
            }
        )
        return self._filled("water", prism(scene.water.corners_m, 0.0, scene.water.line_m), properties, smooth=False)

    def _lamp(self) -> Any:
        scene = self.scene
        level = scene.water.line_m - SHEET_UNDER_M
        corners = np.array(scene.water.corners_m)
        low, high = corners.min(axis=0), corners.max(axis=0)
        middle, half = (low + high) / 2, (high - low) / 2 - 0.001
        place = (
            self.mi.ScalarTransform4f()
            .translate([float(middle[0]), float(middle[1]), level])
            .rotate([1, 0, 0], 180)
            .scale([float(half[0]), float(half[1]), 1])
        )
        radiance = [scene.lamp.radiance * part for part in scene.lamp.colour]
        # Seen from above it is not there; what of it lies beyond a bent pane lights nothing.
        return self.mi.load_dict(
            {
                "type": "rectangle",
                "to_world": place,
                "bsdf": {"type": "null"},
                "emitter": {"type": "area", "radiance": {"type": "rgb", "value": radiance}},
            }
        )


ROOM: Rgb = (0.66, 0.67, 0.67)
"""Brightness of the room behind a tank that is seen through."""
SHEET: Rgb = (0.78, 0.82, 0.83)
"""Of the plain sheet behind a pane that nobody looks through."""
STAND: Rgb = (0.030, 0.030, 0.032)
SEAM: Rgb = (0.025, 0.028, 0.028)
EDGE: Rgb = (0.18, 0.27, 0.25)
"""Of the upper edge of a pane."""
STAND_M = 0.9
BENDS = 0.9
"""Cosine of the turn at a corner: panes that turn less are one bent pane, without a seam."""


def can_denoise() -> bool:
    """Whether there is what takes noise out of pictures; without it they are made of more paths, or stay grainy."""
    return importlib.util.find_spec("mitsuba_oidn") is not None


def _denoised(light: Picture, guide: Picture) -> Picture:
    import mitsuba_oidn

    # The guide is cleaned first, so that it can be trusted: what it does not show is noise.
    known = np.clip(mitsuba_oidn.denoise(np.ascontiguousarray(guide)), 0, 1).astype(np.float32)
    clean = mitsuba_oidn.denoise(
        np.ascontiguousarray(light), albedo=np.ascontiguousarray(known), hdr=True, clean_aux=True
    )
    return np.asarray(clean, dtype=np.float32)


def two_faced(mesh: Mesh) -> Mesh:
    """A mesh that shows its colour from both sides: each triangle twice, a hair apart, looking away from each other."""
    corners = mesh.vertices_m[mesh.faces].astype(np.float64)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    out = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-15)
    hair = HAIR_M * out[:, None]
    colour = mesh.colour[mesh.faces]
    vertices = np.concatenate([corners + hair, (corners - hair)[:, ::-1]]).reshape(-1, 3)
    return Mesh(
        vertices.astype(np.float32),
        np.arange(len(vertices), dtype=np.int32).reshape(-1, 3),
        np.concatenate([colour, colour[:, ::-1]]).reshape(-1, 3),
    )


def cut_up(corners_m: tuple[tuple[float, float], ...]) -> list[tuple[int, int, int]]:
    """An outline, against the clock, as triangles of its corners; it may turn inward.

    References
    ----------
    Meisters (1975), American Mathematical Monthly 82(6), 648-651: every outline has a corner that can be cut off.
    """
    corners = np.array(corners_m)
    left, found = list(range(len(corners))), []

    def turn(a: int, b: int, c: int) -> float:
        one, other = corners[b] - corners[a], corners[c] - corners[b]
        return float(one[0] * other[1] - one[1] * other[0])

    while len(left) > 3:
        for k, b in enumerate(left):
            a, c = left[k - 1], left[(k + 1) % len(left)]
            others = [d for d in left if d not in (a, b, c)]
            if turn(a, b, c) >= 0 and not any(
                turn(a, b, d) >= 0 and turn(b, c, d) >= 0 and turn(c, a, d) >= 0 for d in others
            ):
                found.append((a, b, c))
                left.remove(b)
                break
        else:
            raise BadInput("the outline of the glass crosses itself, expected corners against the clock")
    return [*found, (left[0], left[1], left[2])]


def prism(corners_m: tuple[tuple[float, float], ...], low_m: float, high_m: float) -> Mesh:
    """A body that stands upright on an outline, its faces looking outward."""
    corners = np.array(corners_m)
    n = len(corners)
    vertices = np.concatenate([np.column_stack([corners, np.full(n, level)]) for level in (low_m, high_m)])
    faces = []
    for k in range(n):
        m = (k + 1) % n
        faces += [(k, m, n + m), (k, n + m, n + k)]
    for a, b, c in cut_up(corners_m):
        faces += [(a, c, b), (n + a, n + b, n + c)]
    return Mesh(vertices.astype(np.float32), np.array(faces, dtype=np.int32), np.zeros((2 * n, 3), dtype=np.float32))


def _box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    corners = ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1]))
    return prism(corners, low[2], high[2])


def frame_of(scene: PictureScene) -> list[tuple[Mesh, Rgb]]:
    """What is seen of tank and room besides the water: stand, seams, upper edges, the sheet behind."""
    corners = np.array(scene.water.corners_m)
    low, high = corners.min(axis=0), corners.max(axis=0)
    wall = scene.wall_m
    outer = (float(low[0]) - wall, float(low[1]) - wall, float(high[0]) + wall, float(high[1]) + wall)
    made: list[tuple[Mesh, Rgb]] = [
        (_box((outer[0] - 0.01, outer[1] - 0.01, -STAND_M), (outer[2] + 0.01, outer[3] + 0.01, -wall)), STAND),
        (_box((outer[0], outer[1], -wall + 0.0005), (outer[2], outer[3], -0.0008)), SEAM),
    ]
    for a, corner, b in zip(np.roll(corners, 1, axis=0), corners, np.roll(corners, -1, axis=0), strict=True):
        one, other = (way / np.hypot(*way) for way in (corner - a, b - corner))
        if one @ other > BENDS:
            continue
        out = np.array([one[1], -one[0]]) + np.array([other[1], -other[0]])
        out = corner + wall * np.sign(np.round(out, 6))
        low_corner, high_corner = np.minimum(corner, out), np.maximum(corner, out)
        made.append((_box((*low_corner, 0.0), (*high_corner, scene.height_m)), SEAM))
    top = scene.height_m
    thin = 0.0025
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        out = np.array([along[1], -along[0]]) * wall
        strip = tuple((float(x), float(y)) for x, y in (a, a + out, b + out, b))
        made.append((prism(strip, top - thin, top), EDGE))
    sheets = {
        "front": ((low[0], outer[1] - 0.004), (high[0], outer[1] - 0.003)),
        "rear": ((low[0], outer[3] + 0.003), (high[0], outer[3] + 0.004)),
        "left": ((outer[0] - 0.004, low[1]), (outer[0] - 0.003, high[1])),
        "right": ((outer[2] + 0.003, low[1]), (outer[2] + 0.004, high[1])),
    }
    for side in scene.backdrop:
        a, b = sheets[side]
        made.append((_box((a[0], a[1], 0.0), (b[0], b[1], scene.height_m)), SHEET))
    return made
