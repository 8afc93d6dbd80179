"""Parameters as published models give them: what the frozen priors were chosen from."""

from __future__ import annotations

from collections.abc import Mapping

PUBLISHED: Mapping[tuple[str, str], float] = {
    ("ASM1", "mu_A_20C"): 0.8,
    ("ASM1", "mu_A_10C"): 0.3,
    ("ASM1", "K_NH"): 1.0,
    ("ASM1", "K_OA"): 0.4,
    ("ASM1", "Y_A"): 0.24,
    ("ASM3", "b_A_O2_20C"): 0.15,
    ("ASM3", "b_A_NO_20C"): 0.05,
    ("ASM3", "K_A_O2"): 0.5,
    ("ASM3", "K_A_ALK"): 0.5,
    ("ASM3", "mu_A_10C"): 0.35,
    ("ASM3-Koch", "K_A_NH"): 1.4,
    ("ASM3-Koch", "b_A_O2_20C"): 0.2,
    ("two-step", "mu_AOB_30C"): 2.05,
    ("two-step", "b_AOB_30C"): 0.13,
    ("two-step", "K_NH4_AOB"): 2.4,
    ("two-step", "K_O2_AOB"): 0.6,
    ("two-step", "mu_NOB_30C"): 1.45,
    ("two-step", "b_NOB_30C"): 0.06,
}
"""ASM1 and ASM3: Henze et al. (2000), IWA STR 9; Koch et al. (2000), Water Res. 34:3580-3590; two-step: Hao et al. (2002),
Biotechnol. Bioeng. 77:266-277. Rates 1/d, half-saturations g/m3, alkalinity mol/m3, yield g COD/g N."""
LOSS_WITHOUT_AMMONIUM_PER_D = 0.2
"""Aerobic, without ammonium, 20 C; Siegrist et al. (1999), Water Sci. Technol. 39(1):129-137."""
NITRITE_OXIDISER_DECAY_CUT: Mapping[str, float] = {"anoxic": 0.85, "anaerobic": 0.92}
"""By how much decay is slower than with oxygen; Process Biochemistry (2018), doi 10.1016/j.procbio.2018.05.021."""
