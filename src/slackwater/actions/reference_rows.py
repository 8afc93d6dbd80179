"""Which function answers which kind of reference row: the only file that knows the tables' words.

Each entry turns the inputs of a row into a number. *Computed* entries call the functions that the plan uses;
*constant* entries look up a transcribed default.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from slackwater.actions.examples import example_scan
from slackwater.layout import bed
from slackwater.layout.litres import Volumes4
from slackwater.light import absorption, factors, surfaces
from slackwater.living import box, canister, literature, machine, nitrogen, peroxide, priors, respiration
from slackwater.tank import floor, fluid, glass, lifting, volume
from slackwater.units import convert
from slackwater.water import ammonia, equilibria, gas, hydraulics, mixing, osmosis, salts, warming
from slackwater.water.composition import FIELD_OF_ION, Values, Water, mix, with_acid, with_salt
from slackwater.water.speciation import (
    Speciation,
    conductivity_25c_us_cm,
    speciate,
    speciate_at_co2,
    speciate_at_pco2,
    speciate_at_ph,
)

if TYPE_CHECKING:
    from slackwater.layout.scene import Layout

Inputs = Mapping[str, Any]
Answer = Callable[[Inputs], float]

SELECTORS = frozenset({"quantity", "note", "task", "use"})
"""Keys that name the function or label the row; they are no inputs."""

_UNIT_NAMES: Mapping[str, str] = {
    "degdH": "degdH",
    "degdKH": "degdH",
    "degfH": "degfH",
    "degClark": "degClark",
    "mgL_CaCO3": "mg_caco3_l",
    "mgL_CaO": "mg_cao_l",
    "mgL_Ca": "mg_ca_l",
    "mgL_Mg": "mg_mg_l",
    "mgL_HCO3": "mg_hco3_l",
    "meqL": "meq_l",
    "mmolL": "mmol_hardness_l",
}


def _convert(row: Inputs) -> float:
    source, _, target = row["conversion"].partition("_to_")
    return convert(row["x"], _UNIT_NAMES[source], _UNIT_NAMES[target])


def _salt_mass(row: Inputs) -> float:
    amount, unit = row["delta"].split()
    step = {"hardness_dgh": float(amount)} if unit == "dGH" else {"alkalinity_dkh": float(amount)}
    return salts.salt_g(formula=row["salt"], volume_l=row["volume_L"], **step)


def _water_volume(row: Inputs) -> float:
    base = volume.footprint_m2(volume.rectangle(length_m=row["inner_length_m"], width_m=row["inner_width_m"]))
    return volume.water_volume_l(
        gross_l=volume.column_l(footprint_m2=base, height_m=row["water_height_m"]),
        soil_bulk_l=row["soil_bulk_L"],
        soil_porosity=row["soil_total_porosity_filled_with_water"],
        hardscape_l=row["hardscape_solid_L"],
    )


def _heating_time(row: Inputs) -> float:
    hours = warming.heating_hours(
        water_kg=row["water_kg"],
        from_c=row["T_start"],
        to_c=row["T_end"],
        heater_w=row["heater_W"],
        loss_w_per_k=row["losses"],
        specific_heat_kj_kg_k=row["cp_kJ_per_kgK"],
    )
    return float("nan") if hours is None else hours


def _permeate(row: Inputs) -> float:
    return osmosis.permeate_l_day(
        rated_l_day=row["rated_L_per_day_at_25C"],
        rated_pressure_bar=row["rated_pressure_bar"],
        feed_pressure_bar=row["net_gauge_pressure_bar"],
        feed_temp_c=row["feed_temp_C"],
        osmotic_pressure_bar=row["mean_osmotic_pressure_bar"],
        rated_osmotic_pressure_bar=row["rated_osmotic_pressure_bar"],
        back_pressure_bar=row["back_pressure_bar"],
    )


def _hose(row: Inputs) -> dict[str, float]:
    # The tables always count the velocity head at the outlet, as the function does.
    return {
        "inner_diameter_m": row["inner_diameter_m"],
        "length_m": row["length_m"],
        "minor_loss": row["minor_loss_K"],
        "temp_c": row["temp_C"],
        "roughness_m": row["roughness_m"],
    }


def _hose_flow(row: Inputs) -> float:
    return hydraulics.hose_flow_l_min(head_m=row["head_m"], **_hose(row))


def _drain_time(row: Inputs) -> float:
    return hydraulics.drain_minutes(
        plan_area_m2=row["plan_area_m2"],
        depth_start_m=row["water_depth_start_m"],
        depth_end_m=row["water_depth_end_m"],
        outlet_below_bottom_m=row["outlet_below_tank_bottom_m"],
        **_hose(row),
    )


def _rwl(row: Inputs) -> float:
    inches = "H_in" in row
    scale = convert(1, "in", "cm") if inches else 1.0
    tail = "in" if inches else "cm"
    recommended = lifting.recommended_weight_kg(
        hand_distance_cm=row[f"H_{tail}"] * scale,
        hand_height_cm=row[f"V_{tail}"] * scale,
        travel_cm=row[f"D_{tail}"] * scale,
        asymmetry_deg=row["A_deg"],
        lifts_per_min=row["lifts_per_min"],
        duration=row["duration"],
        coupling=row["coupling"],
    )
    return convert(recommended, "kg", "lb") if inches else recommended


def _lifting_index(row: Inputs) -> float:
    load = convert(row["load_lb"], "lb", "kg") if "load_lb" in row else row["load_kg"]
    recommended = convert(_rwl(row), "lb", "kg") if "H_in" in row else _rwl(row)
    return lifting.lifting_index(load_kg=load, recommended_kg=recommended)


def _floor_pressure(row: Inputs) -> float:
    length, width = row["tank_m"]
    water = volume.column_l(
        footprint_m2=volume.footprint_m2(volume.rectangle(length_m=length, width_m=width)),
        height_m=row["water_depth_m"],
    )
    mass = floor.tank_mass_kg(
        water_l=water,
        density_kg_m3=row["water_density"],
        glass_and_stand_kg=row["glass_and_stand_kg"],
        substrate_kg=row["substrate_net_kg"],
        hardscape_kg=row["hardscape_net_kg"],
    )
    return floor.pressure_kn_m2(mass_kg=mass, area_m2=row["contact_area_m2"])


def _plate(row: Inputs) -> glass.Plate:
    edges, load = row["edges"], row["load"]
    free = edges.endswith("top free") or edges == "three simply supported, one free"
    return glass.plate(
        length_over_height=row["length_over_height"],
        poisson=row["poisson"],
        top="free" if free else "supported",
        load="triangular" if load.startswith("triangular") else "uniform",
    )


def _plate_beta(row: Inputs) -> float:
    return 6 * _plate(row).moment


def _plate_alpha(row: Inputs) -> float:
    poisson: float = row["poisson"]
    return 12 * (1 - poisson**2) * _plate(row).deflection


def _over_length(row: Inputs, power: int) -> float:
    """Scale from the height to the side that a handbook row is normalised by."""
    ratio: float = row["length_over_height"]
    return ratio**power if "s = length" in row["definition"] else 1.0


def _plate_deflection(row: Inputs) -> float:
    shape = _plate(row)
    places = {"maximum": shape.deflection, "centre": shape.centre_deflection}
    found: float = places.get(row["at"], shape.free_edge_deflection)
    return found / _over_length(row, 4)


def _plate_moment(row: Inputs) -> float:
    shape = _plate(row)
    return (shape.moment if row["at"] == "maximum" else shape.free_edge_moment) / _over_length(row, 2)


def _panel(row: Inputs) -> dict[str, Any]:
    return {
        "panel_length_m": row["panel_length_m"],
        "water_height_m": row["water_height_m"],
        "thickness_m": row["thickness_mm"] / 1000,
        "braced": row["top_edge"] != "free",
        "density_kg_m3": row["water_density"],
        "poisson": row["poisson"],
    }


def _panel_deflection(row: Inputs) -> float:
    return glass.panel_deflection_mm(youngs_modulus_gpa=row["youngs_modulus_GPa"], **_panel(row))


def _wedge(row: Inputs) -> float:
    corners = volume.rectangle(length_m=row["length_m"], width_m=row["depth_m"])
    surface = bed.edges_surface(
        length_m=row["length_m"], width_m=row["depth_m"], front_m=row["front_m"], rear_m=row["back_m"]
    )
    return bed.volume_l(surface, corners)


def _gable(row: Inputs) -> float:
    # The table's gable runs along the tank, front to rear: the form that the job file calls a ridge.
    corners = volume.rectangle(length_m=row["length_m"], width_m=row["depth_m"])
    surface = bed.ridge_surface(width_m=row["depth_m"], edge_m=row["edge_m"], top_m=row["ridge_m"])
    return bed.volume_l(surface, corners)


def _solid_bodies(row: Inputs) -> tuple[list[tuple[Any, Any]], float | None]:
    """The meshes of a row, where they stand, and the water line; None for one that covers them."""
    from slackwater.layout import meshes

    if row["shape"] == "sphere":
        vertices, faces = meshes.ball(row["radius_m"], rounds=4)
        return [(np.add(vertices, (0, 0, row["radius_m"])), faces)], row["immersed_height_m"]
    if row["shape"] == "box":
        length, width, height = row["size_m"]
        # Not upright it lies on the side that was its back.
        size = (length, width, height) if row["upright"] else (length, height, width)
        return [meshes.block(size)], row["immersed_height_m"]
    if row["shape"] == "cylinder":
        vertices, faces = meshes.cylinder(row["radius_m"], row["length_m"], around=720)
        return [(np.add(vertices, (0, 0, row["radius_m"])), faces)], row["immersed_depth_m"]
    if row["shape"] == "cube":
        vertices, faces = meshes.block((row["side_m"],) * 3)
        up = np.ones(3) / np.sqrt(3)
        side = np.array([1, -1, 0]) / np.sqrt(2)
        corner = (vertices - vertices[0]) @ np.column_stack([side, np.cross(up, side), up])
        return [(corner, faces)], row["immersed_height_m"]
    vertices, faces = meshes.ball(row["radius_m"], rounds=4)
    away = row["centre_distance_m"] / 2
    return [(np.add(vertices, (shift, 0, row["radius_m"])), faces) for shift in (-away, away)], None


def _stood(
    bodies: list[tuple[Any, Any]], *, size_m: tuple[float, float, float], soil_m: float, line_m: float
) -> Layout:
    """Meshes that stand about the middle of a tank's bottom, in a flat bed."""
    from slackwater.layout.pieces import piece_from_mesh
    from slackwater.layout.scene import Bed, Glass, Layout, Placement

    length, width, height = size_m
    pieces = [
        piece_from_mesh(
            name=str(number),
            kind="stone",
            look="rounded",
            material="",
            density_kg_m3=2700,
            vertices_m=vertices,
            faces=faces,
        )
        for number, (vertices, faces) in enumerate(bodies, start=1)
    ]
    x, y = np.linspace(0, length, 5), np.linspace(0, width, 5)
    return Layout(
        glass=Glass(
            corners_m=tuple(volume.rectangle(length_m=length, width_m=width)),
            height_m=height,
            water_line_m=line_m,
            wall_m=0.01,
            public_sides=("front",),
        ),
        bed=Bed(x_m=x, y_m=y, top_m=np.full((5, 5), soil_m), base_m=np.zeros((5, 5)), soil=""),
        pieces={piece.key: piece for piece in pieces},
        placements=tuple(
            Placement(number=number, piece=piece.key, position_m=(length / 2, width / 2, 0.0))
            for number, piece in enumerate(pieces, start=1)
        ),
    )


def _stood_in_water(
    bodies: list[tuple[Any, Any]], *, size_m: tuple[float, float, float], soil_m: float, line_m: float
) -> Volumes4:
    """Volumes of meshes that stand about the middle of a tank's bottom, in a flat bed."""
    from slackwater.layout.solids import exact_volumes

    return exact_volumes(_stood(bodies, size_m=size_m, soil_m=soil_m, line_m=line_m))


def _displaced(row: Inputs) -> float:
    bodies, line = _solid_bodies(row)
    return _stood_in_water(bodies, size_m=(3.0, 3.0, 3.0), soil_m=0.0, line_m=line or 3.0).displaced_l.value


def _ball_in_bed(row: Inputs, *, soil_m: float, line_m: float) -> Volumes4:
    from slackwater.layout import meshes

    vertices, faces = meshes.ball(row["sphere_radius_m"], rounds=4)
    ball = np.add(vertices, (0, 0, row["sphere_centre_height_m"])), faces
    return _stood_in_water([ball], size_m=(row["length_m"], row["depth_m"], 3.0), soil_m=soil_m, line_m=line_m)


def _mesh_volume(row: Inputs) -> float:
    from slackwater.layout.meshes import mass_of
    from slackwater.layout.pieces import closed
    from slackwater.layout.reading import read_scan

    scan = read_scan(example_scan(Path(row["file"]).name), file_format="glb")
    vertices, faces, _ = closed(scan.vertices_m, scan.faces)
    return 1000 * mass_of(vertices, faces).volume_m3


_RO_PERMEATE_MMOL_L: Mapping[str, float] = {
    "Ca": 0.02,
    "Mg": 0.006,
    "Na": 0.08,
    "K": 0.004,
    "Cl": 0.05,
    "SO4": 0.006,
}
"""The base water of the tables' mineralised waters, as their notes give it."""


def _with_totals(totals: Mapping[str, float], **more: float) -> Water:
    return Water(**{FIELD_OF_ION[ion]: value for ion, value in totals.items()}, **more)


def _water(row: Inputs) -> Water:
    """A water's totals and temperature; a mineralised one is made from its base and its salts."""
    if "salts_mg_per_kgw" not in row:
        return _with_totals(row["mmol_per_kgw"], alkalinity_meq_l=row["alkalinity_meq_per_kgw"], temp_c=row["temp_C"])
    base = _with_totals(_RO_PERMEATE_MMOL_L, temp_c=row["temp_C"])
    made = replace(base, alkalinity_meq_l=base.charge_gap_meq_l)
    for formula, mg in row["salts_mg_per_kgw"].items():
        made = with_salt(made, formula=formula, mmol_l=mg / salts.molar_mass_g_mol(formula))
    return made


def _open(row: Inputs) -> Speciation:
    """A water that stands open to air, or whose carbon dioxide is known."""
    if "pco2_atm" in row:
        return speciate_at_pco2(_water(row), pco2_atm=row["pco2_atm"])
    return speciate_at_co2(_water(row), co2_mg_l=row["co2_aq_mg_per_L"])


def _carbonate(row: Inputs) -> Speciation:
    if "part_a" in row:
        share = row["mass_fraction_a"]
        mixed = mix(((share, _open(row["part_a"]).water), (1 - share, _open(row["part_b"]).water)))
        if "then" in row:
            return speciate_at_pco2(replace(mixed, temp_c=row["then_temp_C"]), pco2_atm=row["then_pco2_atm"])
        return speciate(mixed)
    found = _open(row)
    if "acid_meq_per_kgw" in row:
        return speciate(with_acid(found.water, acid_meq_l=row["acid_meq_per_kgw"]))
    if "o2_consumed_mg_per_kgw" in row:
        oxygen = row["o2_consumed_mg_per_kgw"] / salts.molar_mass_g_mol("O2")
        return speciate(replace(found.water, carbon_mmol_l=found.water.carbon_mmol_l + row["RQ"] * oxygen))
    return found


def _oxygen(row: Inputs) -> Values:
    pressure = row["pressure_atm"] if "pressure_atm" in row else row["pressure_mmHg"] / 760
    return gas.oxygen_saturation_mg_l(temp_c=row["temp_C"], pressure_atm=pressure)


def _as_nitrogen(row: Inputs) -> float:
    formula = next(name for name in ("NH4", "NH3", "NO2", "NO3") if f"{name}_mg_per_L" in row)
    return ammonia.nitrogen_mg_l(formula=formula, mg_l=row[f"{formula}_mg_per_L"])


def _fraction_with_activity(row: Inputs) -> Values:
    # The alkalinity is what balances the charge at that pH.
    water = _with_totals(row["mmol_per_kgw"], ammonia_mmol_l=row["tan_mmol_per_kgw"], temp_c=row["temp_C"])
    water = replace(water, alkalinity_meq_l=water.charge_gap_meq_l)
    return speciate_at_ph(water, ph=row["pH"]).ammonia_fraction


def _log_k(name: str, sign: int = 1) -> Answer:
    return lambda row: sign * float(equilibria.log_k(name, temp_c=row["temp_C"]))


def _one(answer: Callable[[Inputs], Values]) -> Answer:
    return lambda row: float(np.asarray(answer(row)))


def _batch(row: Inputs, name: str) -> float:
    """A two-step batch as its row defines it, without soil, plants and melting leaves."""
    given, start = row["params"], row["y0"]
    warm = given["T"] - 20
    rates = nitrogen.Rates(
        growth_first_per_d=given["muA"] * np.exp(given["thA"] * warm),
        growth_second_per_d=given["muN"] * np.exp(given["thN"] * warm),
        decay_first_per_d=given["bA"] * np.exp(given["thb"] * warm),
        decay_second_per_d=given["bN"] * np.exp(given["thb"] * warm),
        half_tan_mg_l=given["KA"],
        half_nitrite_mg_l=given["KN"],
        half_oxygen_first_mg_l=given["KOA"],
        half_oxygen_second_mg_l=given["KON"],
        half_alkalinity_meq_l=given["KALK"],
        yield_first=given["YA"],
        yield_second=given["YN"],
        oxygen_mg_l=given["O2"],
        source_mg_l_d=given["S"],
    )
    names = {
        "TAN": "tan_mg_l",
        "NO2": "nitrite_mg_l",
        "NO3": "nitrate_mg_l",
        "X_AOB": "first_mg_l",
        "X_NOB": "second_mg_l",
        "ALK": "alkalinity_meq_l",
    }
    state = np.zeros((len(nitrogen.ROWS), 1))
    for symbol, field in names.items():
        state[nitrogen.ROW[field], 0] = start[symbol]
    course = machine.simulate(
        nitrogen.rate_of(rates),
        state,
        times=[0.0, float(row["t_d"])],
        longest_step=0.02,
        relax=nitrogen.relax_of(rates),
    )
    return float(course.states[-1, nitrogen.ROW[names[name]], 0])


def _soil_tan(row: Inputs) -> float:
    """Soil that gives off its nitrogen, with water changes and nothing that takes it up but a constant."""
    volume = row["water_L"]
    nothing = dict.fromkeys(
        ("growth_first_per_d", "growth_second_per_d", "decay_first_per_d", "decay_second_per_d"), 0.0
    )
    halves = dict.fromkeys(
        (
            *("half_tan_mg_l", "half_nitrite_mg_l", "half_oxygen_first_mg_l", "half_oxygen_second_mg_l"),
            *("half_alkalinity_meq_l", "yield_first", "yield_second", "oxygen_mg_l"),
        ),
        1.0,
    )
    rates = nitrogen.Rates(
        **nothing, **halves, soil_per_d=row["k_per_d"], source_mg_l_d=-row["uptake"], volume_l=volume
    )
    state = np.zeros((len(nitrogen.ROWS), 1))
    state[nitrogen.ROW["soil_n_mg"], 0] = row["releasable_mgN"]
    changes = [
        machine.Event(float(day), partial(nitrogen.water_change, share=share, new={}))
        for day, share in row["water_changes_day_fraction"]
    ]
    course = machine.simulate(
        nitrogen.rate_of(rates), state, times=[0.0, float(row["time_d"])], longest_step=0.05, events=changes
    )
    return float(course.states[-1, nitrogen.ROW["tan_mg_l"], 0])


def _view_factor(row: Inputs) -> float:
    """Every form of view factor in the tables, told apart by the keys that each has."""
    if "X=a/c" in row:
        return factors.parallel_rectangles(a=row["X=a/c"], b=row["Y=b/c"], c=1.0)
    if "H" in row:
        return factors.perpendicular_rectangles(width=row["W"], height=row["H"], edge=1.0)
    if "L" in row:
        return factors.point_to_rectangle(length=row["L"], width=row["W"], x=row["x"], y=row["y"], distance=row["c"])
    if "a" in row:
        return factors.point_to_corner(a=row["a"], b=row["b"], c=row["c"])
    if "side_m" in row:
        return factors.parallel_rectangles(a=row["side_m"], b=row["side_m"], c=row["distance_m"])
    if "shared_edge_m" in row:
        return factors.perpendicular_rectangles(
            width=_other_than(row["floor_m"], row["shared_edge_m"]),
            height=_other_than(row["wall_m"], row["shared_edge_m"]),
            edge=row["shared_edge_m"],
        )
    middle = (row["floor_m"][0] / 2, row["floor_m"][1] / 2)
    lamp_at, floor_at = row.get("lamp_centre_m", middle), row.get("floor_centre_m", middle)
    return factors.rectangle_to_rectangle(
        _about(lamp_at, row["lamp_m"]), _about(floor_at, row["floor_m"]), distance=row["distance_m"]
    )


def _other_than(sides: list[float], edge: float) -> float:
    """Of two sides the one that is not the edge; of a square either."""
    return sides[0] if abs(sides[0] - edge) > 1e-9 else sides[1]


def _about(middle: Sequence[float], size: Sequence[float]) -> factors.Rectangle:
    return (
        middle[0] - size[0] / 2,
        middle[1] - size[1] / 2,
        middle[0] + size[0] / 2,
        middle[1] + size[1] / 2,
    )


def _cavity(row: Inputs) -> float:
    x, y, z = row["size_m"]
    return factors.even_light_in_cavity(flux=row["flux_umol_s"], area=2 * (x * y + y * z + z * x), albedo=row["albedo"])


def _tally(row: Inputs) -> float:
    """Of photons in a tank with a stone: all sinks together; roulette is what stays alive less what was taken too much."""
    from slackwater.layout import meshes
    from slackwater.light.lamps import Emitter
    from slackwater.light.photons import Effort, ready, traced

    layout = _stood([meshes.block((0.1, 0.1, 0.2))], size_m=(1.0, 0.4, 0.4), soil_m=0.06, line_m=0.36)
    lamp = Emitter(x_m=0.5, y_m=0.2, z_m=0.6, length_m=0.6, width_m=0.2, flux_umol_s=1.0)
    effort = Effort(samples=1, photons=20_000, noise=0.0)
    return sum(traced(ready(layout, attenuation_per_m=0.5), [lamp], effort=effort).sinks.values())


def _beam_at_depth(row: Inputs) -> float:
    if "incidence_deg" not in row:
        return absorption.transmission(depth_m=row["depth_m"], attenuation_per_m=row["attenuation_per_m"])
    return surfaces.beam_share_at_depth(
        incidence_deg=row["incidence_deg"],
        n_water=row["n"],
        attenuation_per_m=row["attenuation_per_m"],
        depth_m=row["depth_m"],
    )


COMPUTED: Mapping[tuple[str, str], Answer] = {
    ("units", "convert"): _convert,
    ("units", "salt_mass"): _salt_mass,
    ("units", "ion_mg_per_L"): lambda row: salts.ion_mg_l(
        formula=row["salt"], ion=row["ion"], salt_mg_l=row["salt_mg_per_L"]
    ),
    ("budget", "water_volume"): _water_volume,
    ("budget", "fraction_of_b"): lambda row: mixing.fraction_of_b(
        value_a=row["hardness_a"], value_b=row["hardness_b"], target=row["target"]
    ),
    ("budget", "concentration_after_changes"): lambda row: mixing.after_changes(
        start=row["c_start"], new_water=row["c_new_water"], fraction=row["fraction"], changes=row["n_changes"]
    ),
    ("budget", "concentration_flow_through"): lambda row: mixing.after_flow_through(
        start=row["c_start"],
        new_water=row["c_new_water"],
        flow_l_h=row["flow_L_per_h"],
        time_h=row["time_h"],
        volume_l=row["volume_L"],
    ),
    ("budget", "mixed_temperature"): lambda row: mixing.mixed(
        ((row["m_a_kg"], row["T_a"]), (row["m_b_kg"], row["T_b"]))
    ),
    ("budget", "heating_time"): _heating_time,
    ("water", "density"): lambda row: fluid.density_kg_m3(temp_c=row["temp_C"]),
    ("water", "dynamic_viscosity"): lambda row: fluid.viscosity_mpa_s(temp_c=row["temp_C"]),
    ("water", "specific_heat"): lambda row: fluid.specific_heat_kj_kg_k(temp_c=row["temp_C"]),
    ("water", "vapour_pressure"): lambda row: fluid.vapour_pressure_kpa(temp_c=row["temp_C"]),
    ("ro", "flow_at_25C_over_flow"): lambda row: 1 / osmosis.temperature_factor(feed_temp_c=row["feed_temp_C"]),
    ("ro", "permeate_flow"): _permeate,
    ("ro", "osmotic_pressure"): lambda row: osmosis.osmotic_pressure_nacl_bar(
        nacl_mg_l=row["NaCl_mg_per_L"], temp_c=row["temp_C"]
    ),
    ("hydraulics", "flow"): _hose_flow,
    ("hydraulics", "drain_time"): _drain_time,
    ("hydraulics", "darcy_friction_factor"): lambda row: hydraulics.friction_factor(
        reynolds=row["Re"], relative_roughness=row["relative_roughness"]
    ),
    ("loads", "rwl"): _rwl,
    ("loads", "lifting_index"): _lifting_index,
    ("loads", "frequency_multiplier"): lambda row: lifting.frequency_multiplier(
        lifts_per_min=row["lifts_per_min"], duration=row["duration"], at_or_above_75_cm=row["V_at_or_above_75cm"]
    ),
    ("loads", "floor_pressure"): _floor_pressure,
    ("loads", "plate_beta"): _plate_beta,
    ("loads", "plate_alpha"): _plate_alpha,
    ("loads", "plate_deflection_coefficient"): _plate_deflection,
    ("loads", "plate_moment_coefficient"): _plate_moment,
    ("loads", "max_bending_stress"): lambda row: glass.panel_stress_mpa(**_panel(row)),
    ("loads", "max_deflection"): _panel_deflection,
    ("loads", "design_strength_permanent_load"): lambda row: glass.design_strength_mpa(
        k_mod=row["k_mod"], k_sp=row["k_sp"], f_gk_mpa=row["f_gk_MPa"], gamma_ma=row["gamma_MA"]
    ),
    ("carbonate", "pH"): _one(lambda row: _carbonate(row).ph),
    ("carbonate", "co2_aq"): _one(lambda row: _carbonate(row).co2_mg_l),
    ("carbonate", "si_calcite"): _one(lambda row: _carbonate(row).si_calcite),
    ("carbonate", "conductivity_25C"): _one(lambda row: conductivity_25c_us_cm(_carbonate(row).water)),
    ("carbonate", "ionic_strength"): _one(lambda row: _carbonate(row).ionic_strength_mol_l),
    ("carbonate", "log10_pco2"): _one(lambda row: np.log10(_carbonate(row).pco2_atm)),
    ("carbonate", "alkalinity"): _one(lambda row: _carbonate(row).water.alkalinity_meq_l),
    ("gases", "o2_saturation"): _one(_oxygen),
    ("gases", "co2_henry_K0"): lambda row: float(10 ** equilibria.log_k("co2_gas", temp_c=row["temp_C"])),
    ("gases", "log10_KH_CO2"): _log_k("co2_gas"),
    ("gases", "log10_K1"): _log_k("k1"),
    ("gases", "log10_K2"): _log_k("k2"),
    ("gases", "log10_Ksp_calcite"): _log_k("calcite"),
    ("gases", "co2_aq_at_equilibrium"): _one(
        lambda row: gas.co2_at_balance_mg_l(temp_c=row["temp_C"], pco2_atm=row["pco2_atm"])
    ),
    ("ammonia", "pKa"): _one(lambda row: ammonia.pka(temp_c=row["temp_C"])),
    ("ammonia", "nh3_fraction"): _one(lambda row: ammonia.unionised_fraction(ph=row["pH"], temp_c=row["temp_C"])),
    ("ammonia", "epa2013_acute"): _one(
        lambda row: ammonia.acute_2013_mg_l(ph=row["pH"], temp_c=row["temp_C"], salmonids=row["salmonids"])
    ),
    ("ammonia", "epa2013_chronic"): lambda row: ammonia.chronic_2013_mg_l(ph=row["pH"], temp_c=row["temp_C"]),
    ("ammonia", "epa1999_chronic_els_present"): lambda row: ammonia.chronic_1999_mg_l(
        ph=row["pH"], temp_c=row["temp_C"]
    ),
    ("ammonia", "epa1999_acute_no_salmonids"): lambda row: ammonia.acute_1999_mg_l(ph=row["pH"]),
    ("ammonia", "as_N"): _as_nitrogen,
    ("ammonia", "nh3_fraction_with_activity"): _one(_fraction_with_activity),
    **{
        ("nitrification", symbol): partial(_batch, name=symbol)
        for symbol in ("TAN", "NO2", "NO3", "X_AOB", "X_NOB", "ALK")
    },
    ("nitrification", "remaining_activity_fraction"): _one(
        lambda row: canister.remaining_share(decay_per_d=row["decay_per_d"], days=row["time_d"])
    ),
    ("nitrification", "biofilm_TAN_removal"): lambda row: nitrogen.film_removal_mg_m2_d(
        tan_mg_l=row["TAN_mgN_per_L"], temp_c=row["temp_C"]
    ),
    ("nitrification", "mu_ratio"): _one(
        lambda row: nitrogen.growth_ratio(
            energy_kj_mol=row["activation_energy_kJ_per_mol"], temp_c=row["temp_C"], reference_c=row["reference_C"]
        )
    ),
    ("nitrification", "exponential_theta_mu_A_10_20"): lambda row: nitrogen.theta(
        low_rate=row["mu_10"], high_rate=row["mu_20"]
    ),
    ("nitrification", "o2_per_N_ASM_Y0.24"): lambda row: nitrogen.oxygen_with_growth(yield_both=0.24),
    ("livestock", "resting_o2"): _one(
        lambda row: respiration.fish_resting_oxygen_mg_h(mass_g=row["mass_g"], temp_c=row["temp_C"])
    ),
    ("livestock", "resting_o2_all_species_mean_temp_ignored"): lambda row: respiration.fish_oxygen_over_all_mmol_h(
        mass_g=row["mass_g"]
    ),
    ("livestock", "mass_specific_o2"): _one(lambda row: respiration.shrimp_oxygen_mg_g_h(temp_c=row["temp_C"])),
    ("livestock", "mass_specific_ammonia_excretion"): _one(
        lambda row: respiration.shrimp_ammonia_mg_g_h(temp_c=row["temp_C"])
    ),
    ("livestock", "tan_per_feed"): lambda row: respiration.tan_of_feed_g(
        feed_g=1.0, protein_share=row["protein_fraction"]
    ),
    ("livestock", "o2"): lambda row: box.oxygen_mg_l(
        start_mg_l=row["o2_start_mg_per_L"],
        saturation_mg_l=row["o2_sat_mg_per_L"],
        transfer_per_h=row["kLa_per_h"],
        use_mg_h=row["respiration_mg_per_h"],
        volume_l=row["volume_L"],
        hours=row["time_h"],
    ),
    ("livestock", "kLa"): lambda row: gas.transfer_per_h(at_20_c_per_h=row["kLa20_per_h"], temp_c=row["temp_C"]),
    ("livestock", "kLa_prior"): lambda row: float(np.sqrt(row["low"] * row["high"])),
    ("livestock", "temperature"): lambda row: box.cooled_c(
        start_c=row["start_C"],
        room_c=row["ambient_C"],
        loss_w_per_k=row["UA_W_per_K"],
        water_kg=row["water_kg"],
        hours=row["time_h"],
        specific_heat_kj_kg_k=row["cp_kJ_per_kgK"],
    ),
    ("filter", "time"): _one(
        lambda row: canister.hours_to_oxygen(
            start_mg_l=row["o2_start_mg_per_L"],
            end_mg_l=row["o2_end_mg_per_L"],
            uptake_mg_l_h=row["Rmax_mg_per_L_pore_per_h"],
            half_mg_l=row["K_mg_per_L"],
        )
    ),
    ("filter", "max_o2_uptake_rate_mg_per_L_h"): lambda row: canister.largest_uptake_mg_l_h(
        nitrification_mg_n_h=row["nitrification_capacity_mgN_per_h"],
        heterotroph_mg_h=row["heterotroph_o2_mg_per_h"],
        pore_l=row["pore_water_L"],
    ),
    ("soil", "tan_mgN_per_L"): _soil_tan,
    ("peroxide", "residual"): lambda row: peroxide.residual_mg_l(
        start_mg_l=row["c0_mg_per_L"], decay_per_h=row["k_per_h"], hours=row["time_h"]
    ),
    ("peroxide", "half_life"): lambda row: peroxide.half_life_h(decay_per_h=row["k_per_h"]),
    ("peroxide", "time_to_target"): lambda row: peroxide.hours_to_mg_l(
        start_mg_l=row["c0_mg_per_L"], goal_mg_l=row["target_mg_per_L"], decay_per_h=row["k_per_h"]
    ),
    ("peroxide", "stock_volume"): lambda row: peroxide.stock_ml(
        goal_mg_l=row["target_mg_per_L"],
        volume_l=row["volume_L"],
        percent_by_weight=row["stock_percent_w_w"],
        density_kg_l=row["stock_density_kg_per_L"],
    ),
    ("peroxide", "o2_released"): lambda row: peroxide.oxygen_released_mg_l(peroxide_mg_l=row["h2o2_mg_per_L"]),
    ("layout", "soil_volume_wedge"): _wedge,
    ("layout", "soil_volume_gable"): _gable,
    ("layout", "soil_bags"): lambda row: float(bed.whole_bags(litres=_wedge(row), bag_l=row["bag_l"])),
    ("layout", "displaced_volume"): _displaced,
    ("layout", "soil_volume_net"): lambda row: _ball_in_bed(row, soil_m=row["height_m"], line_m=2.0).soil_l.value,
    ("layout", "water_volume_net"): lambda row: (
        _ball_in_bed(row, soil_m=row["soil_height_m"], line_m=row["water_level_m"]).water_l.value
    ),
    ("layout", "mesh_volume"): _mesh_volume,
    ("layout", "heap_height"): lambda row: (
        1000 * bed.heap_height_m(volume_l=row["volume_l"], repose_deg=row["repose_deg"])
    ),
    ("layout", "view_factor"): _view_factor,
    ("layout", "surface_reflectance"): lambda row: surfaces.surface_reflectance(
        incidence_deg=row["incidence_deg"], n1=surfaces.AIR, n2=row["n"]
    ),
    ("layout", "surface_reflectance_lambertian"): lambda row: surfaces.diffuse_reflectance(
        n1=surfaces.AIR, n2=row["n"]
    ),
    ("layout", "largest_total_reflection_angle"): lambda row: surfaces.largest_mirrored_deg(n_water=row["n_water"]),
    ("layout", "beam_share_at_depth"): _beam_at_depth,
    ("layout", "closed_box_irradiance"): _cavity,
    ("layout", "energy_tally"): _tally,
    ("light", "pure_water_absorption"): lambda row: absorption.pure_water_absorption_per_m(
        wavelength_nm=row["wavelength_nm"]
    ),
    ("light", "par_transmission_pure_water_absorption_only"): lambda row: absorption.pure_water_transmission(
        path_m=row["path_m"]
    ),
    ("light", "transmission"): lambda row: absorption.transmission(
        depth_m=row["depth_m"], attenuation_per_m=row["kd_per_m"]
    ),
    ("light", "view_factor"): _view_factor,
    ("light", "surface_transmittance"): lambda row: (
        1 - surfaces.surface_reflectance(incidence_deg=row["incidence_deg"], n1=row["n1"], n2=row["n2"])
    ),
}

CONSTANT: Mapping[tuple[str, str], Answer] = {
    ("loads", "uniform_imposed_load"): lambda row: floor.IMPOSED_LOAD_KN_M2[row["category"]],
    ("ammonia", "nitrite_guide"): lambda row: ammonia.NITRITE_GUIDE_CYPRINID_MG_NO2_L,
    ("ammonia", "unionised_ammonia_limit"): lambda row: ammonia.UNIONISED_LIMIT_MG_NH3_L,
    ("nitrification", "model_parameter"): lambda row: literature.PUBLISHED[row["model"], row["parameter"]],
    ("nitrification", "o2_per_N_full_no_growth"): lambda row: nitrogen.OXYGEN_BOTH_STEPS,
    ("nitrification", "o2_per_N_step1_no_growth"): lambda row: nitrogen.OXYGEN_FIRST_STEP,
    ("nitrification", "o2_per_N_step2_no_growth"): lambda row: nitrogen.OXYGEN_SECOND_STEP,
    ("nitrification", "alkalinity_per_N_no_growth"): lambda row: nitrogen.ALKALINITY_G_CACO3_PER_G,
    ("nitrification", "alkalinity_per_N_meq"): lambda row: nitrogen.ALKALINITY_MEQ_PER_G,
    ("nitrification", "dKH_drop_per_mgN_per_L"): lambda row: nitrogen.ALKALINITY_MEQ_PER_G / 1000 / salts.MEQ_L_PER_DKH,
    ("nitrification", "loss_rate_of_nitrification_activity_20C"): lambda row: literature.LOSS_WITHOUT_AMMONIUM_PER_D,
    ("nitrification", "NOB_decay_reduction_vs_aerobic"): lambda row: literature.NITRITE_OXIDISER_DECAY_CUT[
        row["condition"]
    ],
    ("livestock", "ammonia_quotient_mol_N_per_mol_O2"): lambda row: priors.median("ammonia_quotient"),
    ("livestock", "respiratory_quotient"): lambda row: priors.median("respiratory_quotient"),
    ("peroxide", "bacterial_gill_disease_bath_low"): lambda row: peroxide.BATH_LOW_MG_L,
    ("peroxide", "bacterial_gill_disease_bath_high"): lambda row: peroxide.BATH_HIGH_MG_L,
    ("peroxide", "egg_fungus_bath_high"): lambda row: peroxide.EGG_BATH_HIGH_MG_L,
    ("peroxide", "walleye_LC50"): lambda row: peroxide.LC50_WALLEYE_MG_L,
    ("peroxide", "channel_catfish_LC50"): lambda row: peroxide.LC50_CATFISH_MG_L,
    ("loads", "annealed_float_characteristic_bending_strength"): lambda row: glass.CHARACTERISTIC_STRENGTH_MPA,
}

NO_EFFECT: Mapping[str, str] = {
    "process": "names the kind of flushing that the function is for",
    "exit_velocity_head": "the function always counts the velocity head at the outlet",
    "pressure_MPa": "water is taken at one atmosphere; the tables hold no other pressure",
    "bed": "names the shape that the other keys give",
    "axis": "the tables' cylinders all lie",
    "pose": "names the one pose of the cube in the tables",
    "water": "names the water; its totals stand in the row",
    "base_water": "all mineralised waters have one base, which is written out beside them",
    "salinity": "fresh water only; the tables hold no other salinity",
    "guild": "names the bacteria; their energy stands beside it",
    "animal": "names the one kind that was measured",
    "situation": "names what the two ends are of",
    "convention": "says that a change on the day asked for counts as done",
    "then": "says in words what the other keys say in numbers",
    "pH_is": "the pH scale, which is always that of activities",
    "config": "names the form of the view factor, which the other keys tell too",
    "kind": "names the form of the view factor, which the other keys tell too",
    "coaxial": "says that lamp and floor share their middle, which is what is taken where no middle is told",
    "integration": "names the rule of integration, which is the function's own",
    "spectrum": "names the spectrum that the function is for",
    "polarisation": "light of lamps has none",
    "from_medium": "the tables' light comes from air",
    "pane": "the pane between water and air cancels out",
    "plane_of_incidence": "names the plane that the function is for",
    "sinks": "names where light can end; the tracer's own list is the finer one",
    "definition": "states the normalisation, which is part of the row's meaning",
}
"""Keys that stand in a row but are not inputs of the function, each with the reason."""

CONSERVED: frozenset[tuple[str, str, str]] = frozenset(
    ("carbonate", "alkalinity", key)
    for key in ("mmol_per_kgw", "temp_C", "pco2_atm", "co2_aq_mg_per_L", "alkalinity_meq_per_kgw")
)
"""Inputs that must leave a conserved quantity as it is. Of the alkalinity itself this holds in mineralised waters, where
it follows from the salts."""
