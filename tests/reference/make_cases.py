"""Runs every reference case and writes tests/data/reference_cases.json.

    python tests/reference/make_cases.py [--trials N] [--out FILE]

See loop_model.py for the environment. Seeds are fixed: the same versions give the same
file, but for the date. Quantiles are order statistics (rank ceil(n * p)); `low` and
`high` beside each are the order statistics 4 standard deviations of the rank away, as a
settle time has atoms and gaps where a quantile's density means nothing.
"""

from __future__ import annotations

import argparse
import datetime
import json
import math
import platform
import time
from pathlib import Path
from typing import Any

import numba
import numpy as np

from cases import CASES, Case, full_rig
from loop_model import command_of, fold, residual, run_batch
from reference_rig import OUTCOMES, SETTLED, Rig, rig_from_dict

TRIALS = 400_000
SEED = 20_240
OVER_ALL = (
    "solves", "long_swings", "travel_deg", "outside_arc_deg", "keep_out_deg",
    "winding_deg", "moves", "failed_attempts", "elapsed_s",
)  # fmt: skip
QUANTILES = (0.50, 0.90, 0.99)
OUT = Path(__file__).resolve().parent.parent / "data" / "reference_cases.json"


def short(x: float) -> float | None:
    """Nine significant digits, far below the sampling error; null for what is not a number."""
    return float(f"{x:.9g}") if math.isfinite(x) else None


def moments(values: np.ndarray) -> dict[str, Any]:
    n = int(values.size)
    return {
        "n": n,
        "mean": short(values.mean()) if n else None,
        "sd": short(values.std(ddof=1)) if n > 1 else None,
    }


def quantiles(values: np.ndarray) -> dict[str, Any]:
    ordered, n = np.sort(values), values.size
    out: dict[str, Any] = {}
    for p in QUANTILES:
        spread = 4.0 * math.sqrt(n * p * (1.0 - p))
        for suffix, shift in (("", 0.0), ("_low", -spread), ("_high", spread)):
            rank = min(max(math.ceil(n * p + shift), 1), n)
            out[f"p{p * 100:.0f}{suffix}"] = short(ordered[rank - 1]) if n else None
    return out


def figures(runs: dict[str, np.ndarray]) -> dict[str, Any]:
    settled = runs["outcome"] == SETTLED
    rates = {name: short((runs["outcome"] == i).mean()) for i, name in enumerate(OUTCOMES)}
    rates["hunting"] = short((runs["long_swings"] >= 2).mean())
    settle_time_s = runs["elapsed_s"][settled]
    return {
        "rates": rates,
        "settle_time_s": moments(settle_time_s) | quantiles(settle_time_s),
        "true_error_deg": moments(runs["true_error_deg"][settled]),
        **{name: moments(runs[name]) for name in OVER_ALL},
    }


def assert_no_knife_edge(name: str, rig: Rig, tau: float) -> None:
    """The first command is free of noise, so it must not hang on the last bit of a sum.

    Exactly on the seam is well defined; an unlucky last bit beside it, or a quotient
    within rounding of a half step, is not.
    """
    wanted = rig.believed_sense * (tau - rig.zero_point)
    from_seam = residual(wanted - rig.start, rig.period)
    assert from_seam == 0.0 or abs(from_seam) > 1e-6, name
    c = command_of(rig, wanted, True)
    if rig.endless:
        assert abs(abs(residual(c - rig.park, 360.0)) - 180.0) > 1e-6, name
        c = rig.park + residual(c - rig.park, 360.0)
    if rig.step > 0.0:
        for goal in (c, c + rig.approach * rig.overrun):
            assert abs(fold(abs(goal) / rig.step, 0.0, 1.0) - 0.5) > 1e-6, name


def run_case(index: int, case: Case, trials: int) -> dict[str, Any]:
    nested = full_rig(case)
    rig = rig_from_dict(nested)
    assert_no_knife_edge(case.name, rig, case.target_deg)
    seed = SEED + index
    return {
        "name": case.name,
        "target_deg": case.target_deg,
        "trials": trials,
        "seed": seed,
        "rig": nested,
        "figures": figures(run_batch(rig, case.target_deg, trials, seed)),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=TRIALS)
    parser.add_argument("--out", type=Path, default=OUT)
    options = parser.parse_args()

    assert len({case.name for case in CASES}) == len(CASES)
    header = {
        "format": 1,
        "about": "independent reference figures of the loop model of docs/model.md",
        "python": platform.python_version(),
        "numpy": np.__version__,
        "numba": numba.__version__,
        "date": datetime.date.today().isoformat(),
        "command": "python tests/reference/make_cases.py"
        + (f" --trials {options.trials}" if options.trials != TRIALS else ""),
    }
    lines = []
    begin = time.monotonic()
    for index, case in enumerate(CASES):
        result = run_case(index, case, options.trials)
        lines.append(json.dumps(result, allow_nan=False, separators=(",", ":")))
        f = result["figures"]
        rates = " ".join(f"{key} {value:.4f}" for key, value in f["rates"].items())
        print(f"{time.monotonic() - begin:6.1f} s  {case.name}: {rates}")
    head = json.dumps(header, allow_nan=False)[:-1]
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_text(head + ',"cases":[\n' + ",\n".join(lines) + "\n]}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
