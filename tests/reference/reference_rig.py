"""The rig of the reference model as plain numbers, read from a nested rig.

The nested rig has the sections and key names of the rig file.
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
DIRECT, FROM_BELOW, FROM_ABOVE = 0, -1, 1
APPROACHES = {"direct": DIRECT, "from-below": FROM_BELOW, "from-above": FROM_ABOVE}
SETTLED, UNSETTLED, UNSOLVED, REFUSED = 0, 1, 2, 3
OUTCOMES = ("settled", "unsettled", "unsolved", "refused")


class Rig(NamedTuple):
    """The rig file flattened to numbers, so that compiled code can read it."""

    # drive
    step: float
    speed: float
    acceleration: float
    overhead: float
    backlash: float
    repeatability: float
    gain_error: float
    cycles: np.ndarray
    amplitude: np.ndarray
    phase: np.ndarray
    sense: float
    zero_point: float
    zero_point_sigma: float
    park: float
    endless: bool
    lo: float
    hi: float
    # solve
    noise: float
    bias: float
    outlier_rate: float
    outlier: float
    failure_rate: float
    exposure: float
    solve_time: float
    failure_time: float
    max_failures: int
    # loop
    tolerance: float
    max_solves: int
    confirm: int
    correction: float
    believed_sense: float
    approach: int
    overrun: float
    field_rotation_rate: float
    # wrap
    rule: int
    start: float
    band: float
    period: float
    # keep-out sectors as disjoint intervals (one row each: from, to)
    keep_out: np.ndarray


def disjoint_keep_outs(sectors: list[dict[str, Any]], endless: bool) -> np.ndarray:
    """The union of the sectors, so that an overlap is counted once."""
    pieces: list[tuple[float, float]] = []
    for sector in sectors:
        lo, hi = float(sector["from_deg"]), float(sector["to_deg"])
        if not endless:
            if lo > hi:
                raise ValueError("between stops a keep-out must have from_deg <= to_deg")
            pieces.append((lo, hi))
            continue
        width = hi - lo if hi >= lo else hi - lo + 360.0
        if width >= 360.0:
            pieces.append((0.0, 360.0))
            continue
        lo %= 360.0
        pieces.append((lo, min(lo + width, 360.0)))
        if lo + width > 360.0:
            pieces.append((0.0, lo + width - 360.0))
    union: list[list[float]] = []
    for lo, hi in sorted(pieces):
        if union and lo <= union[-1][1]:
            union[-1][1] = max(union[-1][1], hi)
        else:
            union.append([lo, hi])
    return np.array(union, dtype=np.float64).reshape(-1, 2)


def symmetry_of(wrap: dict[str, Any]) -> int:
    """The rig's own symmetry if it is set, else the default of its rule."""
    return int(wrap.get("symmetry") or (1 if wrap["rule"] == "full-circle" else 2))


def rig_from_dict(rig: dict[str, Any]) -> Rig:
    """A nested rig, with the key names of the rig file, as numbers."""
    drive, solve, loop, wrap = rig["drive"], rig["solve"], rig["loop"], rig["wrap"]
    endless = drive["travel"] == "endless"
    periodic = drive["periodic"]

    def column(key: str) -> np.ndarray:
        return np.array([float(h[key]) for h in periodic], dtype=np.float64)

    return Rig(
        step=float(drive["step_deg"]),
        speed=float(drive["speed_deg_per_s"]),
        acceleration=float(drive["acceleration_deg_per_s2"]),
        overhead=float(drive["overhead_s"]),
        backlash=float(drive["backlash_deg"]),
        repeatability=float(drive["repeatability_deg"]),
        gain_error=float(drive["gain_error"]),
        cycles=column("cycles"),
        amplitude=column("amplitude_deg"),
        phase=column("phase_deg"),
        sense=float(drive["sense"]),
        zero_point=float(drive["zero_point_deg"]),
        zero_point_sigma=float(drive["zero_point_sigma_deg"]),
        park=float(drive["park_deg"]),
        endless=endless,
        lo=0.0 if endless else float(drive["stop_from_deg"]),
        hi=0.0 if endless else float(drive["stop_to_deg"]),
        noise=float(solve["noise_deg"]),
        bias=float(solve["bias_deg"]),
        outlier_rate=float(solve["outlier_rate"]),
        outlier=float(solve["outlier_deg"]),
        failure_rate=float(solve["failure_rate"]),
        exposure=float(solve["exposure_s"]),
        solve_time=float(solve["solve_s"]),
        failure_time=float(solve["failure_s"]),
        max_failures=int(solve["max_failures"]),
        tolerance=float(loop["tolerance_deg"]),
        max_solves=int(loop["max_solves"]),
        confirm=int(loop["confirm"]),
        correction=float(loop["correction"]),
        believed_sense=float(loop["believed_sense"]),
        approach=APPROACHES[loop["approach"]],
        overrun=float(loop["overrun_deg"]),
        field_rotation_rate=float(loop["field_rotation_deg_per_s"]),
        rule=RULES[wrap["rule"]],
        start=float(wrap["arc_start_deg"]),
        band=float(wrap["band_deg"]),
        period=360.0 / symmetry_of(wrap),
        keep_out=disjoint_keep_outs(rig["keep_out"], endless),
    )
