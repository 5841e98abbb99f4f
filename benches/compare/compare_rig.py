"""What the comparison programs read of a rig, and what they refuse.

They cover the usual features of docs/model.md: an endless drive with direct approach,
step, play, seating, noise, periodic and gain errors, and all four wrap rules.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

FULL_CIRCLE, HALF_CIRCLE, HYSTERESIS_BAND, FOLD_ONCE = 0, 1, 2, 3
RULES = {
    "full-circle": FULL_CIRCLE,
    "half-circle": HALF_CIRCLE,
    "hysteresis-band": HYSTERESIS_BAND,
    "fold-once": FOLD_ONCE,
}


class Plain(NamedTuple):
    """Angles in degrees, times in seconds."""

    step: float
    speed: float
    play: float
    seating: float
    gain: float
    cycles: np.ndarray
    amplitude: np.ndarray
    phase_rad: np.ndarray
    sense: float
    zero_point: float
    zero_point_sigma: float
    park: float
    noise: float
    bias: float
    time_per_move: float  # overhead of the command, exposure and solving
    tolerance: float
    max_solves: int
    correction: float
    believed_sense: float
    rule: int
    start: float
    width: float
    band: float
    period: float


def plain_rig(rig: dict[str, Any]) -> Plain:
    """The numbers of a nested rig; a feature that is not covered is an error."""
    drive, solve, loop, wrap = rig["drive"], rig["solve"], rig["loop"], rig["wrap"]
    covered = {
        "drive.travel": drive["travel"] == "endless",
        "drive.acceleration_deg_per_s2": drive["acceleration_deg_per_s2"] == 0,
        "solve.outlier_rate": solve["outlier_rate"] == 0,
        "solve.failure_rate": solve["failure_rate"] == 0,
        "loop.approach": loop["approach"] == "direct",
        "loop.confirm": loop["confirm"] == 1,
        "loop.field_rotation_deg_per_s": loop["field_rotation_deg_per_s"] == 0,
    }
    missing = [key for key, ok in covered.items() if not ok]
    if missing:
        raise ValueError(f"not covered by the comparison programs: {', '.join(missing)}")
    full = wrap["rule"] == "full-circle"
    period = 360.0 / (wrap.get("symmetry") or (1 if full else 2))

    def column(key: str) -> np.ndarray:
        return np.array([float(h[key]) for h in drive["periodic"]], dtype=np.float64)

    return Plain(
        step=float(drive["step_deg"]),
        speed=float(drive["speed_deg_per_s"]),
        play=float(drive["backlash_deg"]),
        seating=float(drive["repeatability_deg"]),
        gain=1.0 + float(drive["gain_error"]),
        cycles=column("cycles"),
        amplitude=column("amplitude_deg"),
        phase_rad=np.radians(column("phase_deg")),
        sense=float(drive["sense"]),
        zero_point=float(drive["zero_point_deg"]),
        zero_point_sigma=float(drive["zero_point_sigma_deg"]),
        park=float(drive["park_deg"]),
        noise=float(solve["noise_deg"]),
        bias=float(solve["bias_deg"]),
        time_per_move=float(drive["overhead_s"] + solve["exposure_s"] + solve["solve_s"]),
        tolerance=float(loop["tolerance_deg"]),
        max_solves=int(loop["max_solves"]),
        correction=float(loop["correction"]),
        believed_sense=float(loop["believed_sense"]),
        rule=RULES[wrap["rule"]],
        start=float(wrap["arc_start_deg"]),
        width=360.0 if full else period,
        band=float(wrap["band_deg"]),
        period=period,
    )
