"""How often to rinse after peroxide, so that the refilled tank holds no more than animals and media bear."""

from __future__ import annotations

from math import ceil, log

from slackwater.errors import check_range
from slackwater.frozen import Frozen
from slackwater.water.mixing import after_changes, after_flow_through

FILM_L_PER_M2 = 0.35
"""Liquid left on drained, wetted surfaces, 0.2 to 0.5 L/m2; from memory."""
SPRAY_MG_L = 30_000.0
"""Peroxide of 3 % w/v."""
MOST_RINSES = 9


class Rinse(Frozen):
    """Rinses that bring the rest down, and what is then left."""

    rinses: int
    litres_each: float
    left_mg_l: float
    """In the refilled tank, decay not counted."""
    running_min: float | None
    """Minutes of running water with the drain open that do the same, where the tap's flow is known."""


def rinses_needed(
    *, wetted_m2: float, rinse_l: float, net_l: float, limit_mg_l: float, flow_l_min: float | None = None
) -> Rinse:
    """Rinse and drain until the film left on the glass cannot bring the refill above a limit.

    Parameters
    ----------
    wetted_m2 : float
        Glass that was sprayed [m2].
    rinse_l : float
        Water of each rinse [L].
    net_l : float
        Water of the refilled tank [L].
    limit_mg_l : float
        What the refill may hold [mg/L].
    flow_l_min : float or None
        Flow of the tap, for rinsing with running water instead [L/min].

    Notes
    -----
    Repeated dilution of the film, (film / (film + rinse))^n; decay on the surface would help and is left out, because
    it cannot be relied on. A strip reading decides, not this number.
    """
    check_range("rinse_l", rinse_l, 0.1, 1000, unit="L")
    film_l = FILM_L_PER_M2 * wetted_m2
    share = rinse_l / (rinse_l + film_l)

    def left(count: int) -> float:
        film_mg_l = after_changes(start=SPRAY_MG_L, new_water=0.0, fraction=share, changes=count)
        return film_mg_l * film_l / net_l

    count = next((number for number in range(MOST_RINSES + 1) if left(number) <= limit_mg_l), MOST_RINSES)
    running = None
    if flow_l_min:
        # Running water keeps about a rinse's worth of water in the tank and dilutes it.
        start = SPRAY_MG_L * film_l / (rinse_l + film_l)
        goal = limit_mg_l * net_l / film_l
        hours = max(0.0, log(start / goal)) * (rinse_l + film_l) / (60 * flow_l_min) if start > goal else 0.0
        minutes = ceil(60 * hours)
        rest = after_flow_through(
            start=start, new_water=0.0, flow_l_h=60 * flow_l_min, time_h=minutes / 60, volume_l=rinse_l + film_l
        )
        running = float(minutes) if rest <= goal * (1 + 1e-9) else float(minutes + 1)
    return Rinse(rinses=count, litres_each=rinse_l, left_mg_l=left(count), running_min=running)
