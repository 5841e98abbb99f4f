"""The cases of the reference data: a listing, and what each case changes in it.

A case names only its differences; `full_rig` writes every key out, so that no default
of any reader matters. Names, rigs and numbers are invented.
"""

from __future__ import annotations

import copy
from typing import Any, NamedTuple

from reference_rig import symmetry_of

LISTING: dict[str, Any] = {
    "format": 1,
    "name": "travel refractor",
    "drive": {
        "step_deg": 0.02,
        "speed_deg_per_s": 3.0,
        "acceleration_deg_per_s2": 0.0,
        "overhead_s": 1.0,
        "backlash_deg": 0.20,
        "repeatability_deg": 0.02,
        "gain_error": 0.0,
        "periodic": [{"cycles": 1, "amplitude_deg": 0.10, "phase_deg": 90.0}],
        "sense": 1,
        "zero_point_deg": 0.0,
        "zero_point_sigma_deg": 0.5,
        "park_deg": 90.0,
        "travel": "endless",
    },
    "solve": {
        "noise_deg": 0.02,
        "bias_deg": 0.0,
        "outlier_rate": 0.0,
        "outlier_deg": 2.0,
        "failure_rate": 0.0,
        "exposure_s": 4.0,
        "solve_s": 3.0,
        "failure_s": 20.0,
        "max_failures": 5,
    },
    "loop": {
        "tolerance_deg": 0.5,
        "max_solves": 20,
        "confirm": 1,
        "correction": 1.0,
        "believed_sense": 1,
        "approach": "direct",
        "overrun_deg": 1.0,
        "field_rotation_deg_per_s": 0.0,
    },
    "wrap": {"rule": "half-circle", "arc_start_deg": 0.0, "band_deg": 2.0},
    "keep_out": [],
}


class Case(NamedTuple):
    name: str
    target_deg: float
    rig: dict[str, Any]


def harmonics(*terms: tuple[int, float, float]) -> list[dict[str, Any]]:
    """(cycles, amplitude_deg, phase_deg) each."""
    return [{"cycles": c, "amplitude_deg": a, "phase_deg": f} for c, a, f in terms]


def keep_outs(*sectors: tuple[float, float]) -> list[dict[str, Any]]:
    """(from_deg, to_deg) each."""
    return [{"from_deg": lo, "to_deg": hi, "why": "cable tray"} for lo, hi in sectors]


def stops(lo: float, hi: float, **others: Any) -> dict[str, Any]:
    return {"travel": "stops", "stop_from_deg": lo, "stop_to_deg": hi, **others}


def case(name: str, target_deg: float, **rig: Any) -> Case:
    return Case(name, float(target_deg), rig)


def merged(base: Any, change: Any) -> Any:
    """`change` laid over `base`; a number takes the type that the listing gives it."""
    if isinstance(base, dict) and isinstance(change, dict):
        out = dict(base)
        for key, value in change.items():
            out[key] = merged(base[key], value) if key in base else value
        return out
    if isinstance(base, float):
        return float(change)
    return copy.deepcopy(change)


def full_rig(c: Case) -> dict[str, Any]:
    """The whole rig of a case, every key written out."""
    rig = merged(copy.deepcopy(LISTING), c.rig)
    rig["name"] = c.name
    rig["wrap"]["symmetry"] = symmetry_of(rig["wrap"])
    for key in ("stop_from_deg", "stop_to_deg"):
        if key in rig["drive"]:
            rig["drive"][key] = float(rig["drive"][key])
    for item in rig["drive"]["periodic"] + rig["keep_out"]:
        for key in item:
            if key.endswith("_deg"):
                item[key] = float(item[key])
    return rig


SEAM_ERRORS = harmonics((1, 0.45, 75.0), (2, 0.2, 115.0))
"""Two harmonics that make the ends of a half circle disagree by about 0.9 degrees."""

CASES: list[Case] = [
    # The listing, at the seam, away from it, and with targets written in other turns.
    case("listing at the seam", 0.0),
    case("listing far from the seam", 61.3),
    case("target a little below a full turn", 359.8, loop={"tolerance_deg": 0.25}),
    case(
        "target a little below zero", -0.3, loop={"tolerance_deg": 0.2},
        drive={"step_deg": 0.05, "periodic": SEAM_ERRORS},
    ),
    case(
        "target two turns up", 720.25, loop={"tolerance_deg": 0.22},
        drive={"step_deg": 0.03, "backlash_deg": 0.4},
    ),
    case("target at the period boundary", 180.0, loop={"tolerance_deg": 0.15}),
    case(
        "target just below the period boundary", 179.987, loop={"tolerance_deg": 0.15},
        drive={"zero_point_sigma_deg": 0.1},
    ),
    # Mechanics, one at a time and together.
    case(
        "play alone", 30.0,
        drive={"backlash_deg": 0.6, "repeatability_deg": 0.0, "periodic": [], "step_deg": 0.0},
        solve={"noise_deg": 0.0}, loop={"tolerance_deg": 0.1},
    ),
    case("play at the seam", 0.0, drive={"backlash_deg": 1.2, "periodic": []}, loop={"tolerance_deg": 0.3}),
    case(
        "gain error at the seam", 0.3, drive={"gain_error": -0.004, "periodic": [], "backlash_deg": 0.05},
        loop={"tolerance_deg": 0.4},
    ),
    case(
        "negative gain error, far target", 140.0, drive={"gain_error": -0.02, "park_deg": 5.0},
        loop={"tolerance_deg": 0.1},
    ),
    case(
        "two harmonics", 0.0, drive={"periodic": SEAM_ERRORS, "backlash_deg": 0.0},
        loop={"tolerance_deg": 0.4},
    ),
    case(
        "coarse step", 0.2, drive={"step_deg": 0.7, "backlash_deg": 0.0, "repeatability_deg": 0.05},
        loop={"tolerance_deg": 0.3},
    ),
    case(
        "coarse step, park between steps", 47.0,
        drive={"step_deg": 0.5, "park_deg": 13.337, "backlash_deg": 0.3}, loop={"tolerance_deg": 0.2},
    ),
    case(
        "step zero with acceleration", 0.0,
        drive={
            "step_deg": 0.0, "speed_deg_per_s": 5.0, "acceleration_deg_per_s2": 1.5, "backlash_deg": 0.3,
        },
        loop={"tolerance_deg": 0.12},
    ),
    case(
        "slow drive, acceleration and full-circle moves", 300.0,
        drive={
            "speed_deg_per_s": 12.0, "acceleration_deg_per_s2": 0.8, "overhead_s": 0.3,
            "periodic": SEAM_ERRORS, "zero_point_sigma_deg": 25.0,
        },
        loop={"tolerance_deg": 0.1}, wrap={"rule": "full-circle"},
    ),
    case(
        "first command is no move", 90.0, loop={"tolerance_deg": 0.15}, wrap={"arc_start_deg": 90.0},
        drive={"periodic": harmonics((1, 0.4, 0.0))},
    ),
    # One-sided approach.
    case(
        "from below, endless", 0.0, drive={"backlash_deg": 0.6, "step_deg": 0.1},
        loop={"approach": "from-below", "tolerance_deg": 0.1}, keep_out=keep_outs((150.0, 179.5)),
    ),
    case(
        "from above, endless, turning off the arc", 181.4,
        drive={"backlash_deg": 0.5, "acceleration_deg_per_s2": 2.0},
        loop={"approach": "from-above", "overrun_deg": 1.5, "tolerance_deg": 0.15},
        wrap={"rule": "hysteresis-band", "band_deg": 0.5, "arc_start_deg": 2.0},
    ),
    case(
        "from below, overrun cut at the stop", 0.5,
        drive=stops(-0.3, 200.0, backlash_deg=0.8, zero_point_sigma_deg=0.3),
        loop={"approach": "from-below", "overrun_deg": 2.0, "tolerance_deg": 0.1},
    ),
    case(
        "from above, overrun cut at the stop", 179.8,
        drive=stops(-5.0, 180.1, backlash_deg=0.8, step_deg=0.07, acceleration_deg_per_s2=1.0),
        loop={"approach": "from-above", "overrun_deg": 3.0, "tolerance_deg": 0.12},
    ),
    case(
        "from below, overrun smaller than the play", 75.0, drive={"backlash_deg": 0.9, "park_deg": 110.0},
        loop={"approach": "from-below", "overrun_deg": 0.4, "tolerance_deg": 0.1},
    ),
    # Stops.
    case(
        "stops that nothing meets", 0.0, drive=stops(-10.0, 370.0, periodic=SEAM_ERRORS),
        loop={"tolerance_deg": 0.35},
    ),
    case(
        "fold once, refused at the stop", 0.2, drive=stops(0.0, 180.0), loop={"tolerance_deg": 0.3},
        wrap={"rule": "fold-once"},
    ),
    case(
        "band wider than the stops allow", 0.0,
        drive=stops(-0.6, 181.0, periodic=SEAM_ERRORS, gain_error=0.003), loop={"tolerance_deg": 0.25},
        wrap={"rule": "hysteresis-band"},
    ),
    case(
        "full circle between stops", 0.0, drive=stops(-10.0, 370.0, gain_error=-0.002),
        loop={"tolerance_deg": 0.3}, wrap={"rule": "full-circle"},
    ),
    case(
        "many turns between stops", 720.25,
        drive=stops(-400.0, 800.0, park_deg=-350.0, gain_error=-0.001, step_deg=0.03),
        loop={"tolerance_deg": 0.2}, wrap={"rule": "half-circle", "arc_start_deg": 600.0},
        keep_out=keep_outs((-200.0, -150.0), (100.0, 700.0)),
    ),
    case(
        "band around a start beyond one turn", 40.0,
        drive=stops(-400.0, 800.0, park_deg=-20.0, periodic=SEAM_ERRORS, gain_error=-0.004),
        loop={"tolerance_deg": 0.3},
        wrap={"rule": "hysteresis-band", "band_deg": 0.4, "arc_start_deg": 400.0, "symmetry": 1},
    ),
    # The solver.
    case(
        "failures, two in a row end it", 0.0, solve={"failure_rate": 0.3, "max_failures": 2},
        loop={"tolerance_deg": 0.2},
    ),
    case(
        "first failure ends it", 100.0, solve={"failure_rate": 0.15, "max_failures": 1, "failure_s": 7.5},
        loop={"tolerance_deg": 0.15},
    ),
    case("outliers", 0.0, solve={"outlier_rate": 0.12, "outlier_deg": 3.0}, loop={"tolerance_deg": 0.3}),
    case(
        "outliers that wrap round the period", 33.0, solve={"outlier_rate": 0.3, "outlier_deg": 120.0},
        loop={"tolerance_deg": 0.2, "confirm": 2},
    ),
    case("bias", 0.4, solve={"bias_deg": 0.35, "noise_deg": 0.1}, loop={"tolerance_deg": 0.25}),
    # The controller.
    case(
        "confirm two, noise near the tolerance", 70.0, solve={"noise_deg": 0.2},
        loop={"tolerance_deg": 0.25, "confirm": 2},
    ),
    case(
        "confirm three, failures, field rotation", 0.0,
        solve={"noise_deg": 0.1, "failure_rate": 0.2, "max_failures": 3},
        loop={"tolerance_deg": 0.2, "confirm": 3, "field_rotation_deg_per_s": 0.004},
    ),
    case(
        "correction one half", 120.0, drive={"zero_point_sigma_deg": 4.0},
        loop={"correction": 0.5, "tolerance_deg": 0.1},
    ),
    case(
        "correction 0.8 at the seam", 0.0, drive={"periodic": SEAM_ERRORS},
        loop={"correction": 0.8, "tolerance_deg": 0.3},
    ),
    case(
        "wrong believed sense", 50.0, drive={"zero_point_deg": 12.5, "zero_point_sigma_deg": 1.0},
        loop={"believed_sense": -1, "tolerance_deg": 1.0},
    ),
    case(
        "sense -1, rightly believed", 200.0,
        drive={"sense": -1, "zero_point_deg": 20.3, "gain_error": 0.003, "periodic": SEAM_ERRORS},
        loop={"believed_sense": -1, "tolerance_deg": 0.3},
    ),
    case(
        "field rotation runs away", 20.0, drive={"speed_deg_per_s": 1.0},
        loop={"field_rotation_deg_per_s": -0.03, "tolerance_deg": 0.22, "max_solves": 9},
    ),
    case("one solve only", 10.0, loop={"max_solves": 1, "tolerance_deg": 0.4}),
    case(
        "zero point hardly known", 100.0, drive={"zero_point_sigma_deg": 60.0, "gain_error": 0.005},
        loop={"tolerance_deg": 0.15},
    ),
    # Rules, symmetries, arcs, keep-outs.
    case(
        "one period wide, symmetry 1", 0.0, drive=stops(-10.0, 370.0, gain_error=-0.002),
        loop={"tolerance_deg": 0.3}, wrap={"symmetry": 1}, keep_out=keep_outs((355.0, 358.0), (1.0, 20.0)),
    ),
    case(
        "square sensor, negative arc start", -30.2, drive={"gain_error": -0.008, "periodic": SEAM_ERRORS},
        loop={"tolerance_deg": 0.3}, wrap={"symmetry": 4, "arc_start_deg": -30.0},
    ),
    case(
        "full circle at the seam, keep-outs across zero", 0.0, drive={"park_deg": 220.0},
        loop={"tolerance_deg": 0.2}, wrap={"rule": "full-circle"},
        keep_out=keep_outs((350.0, 10.0), (5.0, 30.0), (-100.0, -70.0)),
    ),
    case(
        "full circle, symmetry 2", 250.0, drive={"park_deg": 40.0, "zero_point_sigma_deg": 3.0},
        loop={"tolerance_deg": 0.12}, wrap={"rule": "full-circle", "symmetry": 2, "arc_start_deg": 69.0},
        keep_out=keep_outs((235.0, 249.7)),
    ),
    case(
        "wide band", 0.0, drive={"periodic": SEAM_ERRORS, "zero_point_sigma_deg": 1.5},
        loop={"tolerance_deg": 0.3}, wrap={"rule": "hysteresis-band", "band_deg": 4.0},
        keep_out=keep_outs((359.0, 359.9)),
    ),
    case(
        "narrow band", 0.0, drive={"periodic": SEAM_ERRORS}, loop={"tolerance_deg": 0.3},
        wrap={"rule": "hysteresis-band", "band_deg": 0.3},
    ),
    case(
        "square sensor, narrow band", 60.1, drive={"gain_error": -0.012, "park_deg": -75.0},
        loop={"tolerance_deg": 0.25},
        wrap={"rule": "hysteresis-band", "band_deg": 0.6, "symmetry": 4, "arc_start_deg": -30.0},
    ),
    case(
        "fold once, endless", 0.0, drive={"periodic": SEAM_ERRORS, "park_deg": 200.0},
        loop={"tolerance_deg": 0.25}, wrap={"rule": "fold-once"}, keep_out=keep_outs((180.2, 359.95)),
    ),
    case(
        "arc from a negative start", 89.9, drive={"backlash_deg": 0.7}, loop={"tolerance_deg": 0.3},
        wrap={"arc_start_deg": -90.0},
    ),
    case(
        "seam moved away from the target", 225.2,
        drive={"zero_point_deg": 37.3, "periodic": SEAM_ERRORS, "park_deg": 400.0},
        loop={"tolerance_deg": 0.15}, wrap={"arc_start_deg": 98.0},
    ),
]  # fmt: skip
