"""Do the comparison programs agree with the reference? `python benches/compare/check_compare.py`

Needs the environment of tests/reference/loop_model.py. Eight cases of the reference data,
every figure within 4.5 standard errors of the difference; then the time of each program.
"""

from __future__ import annotations

import math
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "reference"))

import loop_numba
import loop_numpy
from cases import CASES, full_rig
from loop_model import run_batch
from reference_rig import SETTLED, rig_from_dict

NAMES = (
    "target a little below zero",
    "gain error at the seam",
    "coarse step",
    "first command is no move",
    "full circle, symmetry 2",
    "narrow band",
    "fold once, endless",
    "play alone",
)
TRIALS = 200_000
PROGRAMS = {"numpy": loop_numpy.run, "numba": loop_numba.run}


def moments(values: np.ndarray) -> tuple[float, float]:
    """Mean and squared standard error."""
    return float(values.mean()), float(values.var() / values.size)


def agree(what: str, seen: float, mean: float, variance: float, n: int) -> None:
    """`variance` is that of the reference mean; the program's own run has the same size."""
    floor = 1.0 / n**2  # a rate of 0 or 1 has no spread of its own
    z = (seen - mean) / math.sqrt(2.0 * variance + floor)
    assert abs(z) < 4.5, (what, seen, mean, z)


def check(name: str, rig: dict[str, Any], tau: float) -> dict[str, float]:
    reference = run_batch(rig_from_dict(rig), tau, TRIALS, 11)
    settled = reference["outcome"] == SETTLED
    want = {
        "settled": moments(settled),
        "hunting": moments(reference["long_swings"] >= 2),
        "solves_total": moments(reference["solves"]),
    }
    seconds = {}
    for program, run in PROGRAMS.items():
        run(rig, tau, 1000, 1)  # warms up, compiles
        begin = time.perf_counter()
        got = run(rig, tau, TRIALS, 12)
        seconds[program] = time.perf_counter() - begin
        for key, (mean, variance) in want.items():
            agree(f"{name}, {program}, {key}", got[key] / TRIALS, mean, variance, TRIALS)
        mean, variance = moments(reference["elapsed_s"][settled])
        agree(f"{name}, {program}, settle time", got["settle_time_mean_s"], mean, variance, TRIALS)
        assert got == run(rig, tau, TRIALS, 12), "same seed, same answer"
    return seconds


def main() -> None:
    by_name = {case.name: case for case in CASES}
    for name in NAMES:
        case = by_name[name]
        seconds = check(name, full_rig(case), case.target_deg)
        took = ", ".join(f"{program} {s * 1e3:.0f} ms" for program, s in seconds.items())
        print(f"ok {name} ({TRIALS} runs: {took})")
    try:
        loop_numpy.run(full_rig(by_name["outliers"]), 0.0, 10, 1)
    except ValueError:
        print("ok refuses what it does not cover")
    else:
        raise AssertionError("a rig with outliers was accepted")
    print(f"{len(NAMES) + 1} passed, 0 failed")


if __name__ == "__main__":
    main()
