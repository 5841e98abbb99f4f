"""The engine against numpy and numba on the same rigs: `benches/compare/compare.sh`.

Every program runs each case one after another in this process (the engine as the release
program, start-up and output included), several times in turn; the median counts. They
must agree within 4.5 standard errors. Ratios are what to quote, as a machine's speed drifts.
"""

from __future__ import annotations

import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Callable

import numba

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "tests" / "reference"))

import loop_numba
import loop_numpy
from cases import CASES, full_rig

ROUNDS = 3
RUNS = {"engine": 8_000_000, "numba": 2_000_000, "numpy": 400_000}
DEMO = {
    "drive": {
        "periodic": [{"cycles": 1, "amplitude_deg": 0.15, "phase_deg": 90.0}],
    },
    "loop": {"tolerance_deg": 0.3},
}
"""The demo rig without failed solves, which the baselines do not hold."""


def demo(rule: str) -> dict[str, Any]:
    base = full_rig(next(c for c in CASES if c.name == "listing at the seam"))
    for section, keys in DEMO.items():
        base[section].update(keys)
    base["wrap"].update(rule=rule, symmetry=1 if rule == "full-circle" else 2)
    return base


def cases() -> list[tuple[str, dict[str, Any], float]]:
    listed = {c.name: c for c in CASES}
    some = [(n, full_rig(listed[n]), listed[n].target_deg) for n in ("coarse step", "narrow band")]
    return [
        ("demo, on the seam", demo("half-circle"), 0.0),
        ("demo, 0.4 deg from the seam", demo("half-circle"), 179.6),
        ("demo, far from the seam", demo("half-circle"), 64.0),
        ("demo, fold once", demo("fold-once"), 0.0),
        *some,
    ]


def toml(rig: dict[str, Any]) -> str:
    def value(v: Any) -> str:
        if isinstance(v, dict):
            return "{" + ", ".join(f"{k} = {value(x)}" for k, x in v.items()) + "}"
        if isinstance(v, list):
            return "[" + ", ".join(map(value, v)) + "]"
        return json.dumps(v)

    lines = [f"{k} = {value(v)}" for k, v in rig.items() if not isinstance(v, dict)]
    for section, keys in rig.items():
        if isinstance(keys, dict):
            lines += [f"[{section}]", *(f"{k} = {value(v)}" for k, v in keys.items())]
    return "\n".join(lines)


def engine(program: str, threads: int) -> Callable[..., dict[str, Any]]:
    def run(rig: dict[str, Any], target_deg: float, trials: int, seed: int) -> dict[str, Any]:
        with tempfile.NamedTemporaryFile("w", suffix=".toml") as file:
            file.write(toml(rig))
            file.flush()
            command = [program, "batch", file.name, f"--target={target_deg}", f"--rules={rig['wrap']['rule']}"]
            command += [f"--trials={trials}", f"--seed={seed}", f"--threads={threads}", "--json=-"]
            out = subprocess.run(command, check=True, capture_output=True).stdout
        policy = json.loads(out)["policies"][0]
        return {
            "settled": policy["settled"]["rate"] * trials,
            "hunting": policy["hunting"]["rate"] * trials,
            "solves_total": policy["solves"]["mean"] * trials,
            "solves_sd": policy["solves"]["sd"],
        }

    return run


def agree(name: str, results: dict[str, dict[str, Any]]) -> None:
    """Every program against the engine: rates and the mean number of solves."""
    n0, mine = RUNS["engine"], results["engine"]
    for program, theirs in results.items():
        n = RUNS[program.split()[0]]
        for key in ("settled", "hunting"):
            p0, p = mine[key] / n0, theirs[key] / n
            pooled = (mine[key] + theirs[key]) / (n0 + n)
            se = math.sqrt(pooled * (1 - pooled) * (1 / n0 + 1 / n))
            assert abs(p - p0) <= 4.5 * se + 1 / n, (name, program, key, p0, p)
        se = mine["solves_sd"] * math.sqrt(1 / n0 + 1 / n)
        gap = theirs["solves_total"] / n - mine["solves_total"] / n0
        assert abs(gap) <= 4.5 * se + 1e-9, (name, program, "solves", gap, se)


def main(program: str) -> None:
    threads = os.cpu_count() or 1
    numba.set_num_threads(threads)
    programs = {
        "engine": engine(program, threads),
        "engine 1 thread": engine(program, 1),
        "numba": loop_numba.run,
        "numpy": loop_numpy.run,
    }
    print(f"{threads} threads (numpy: 1); millions of solves per second, median of {ROUNDS}")
    print(f"{'':30}" + "".join(f"{p:>17}" for p in programs) + f"{'numba':>9}{'numpy':>9}")
    ratios: dict[str, list[float]] = {"numba": [], "numpy": []}
    for name, rig, target in cases():
        speed: dict[str, list[float]] = {p: [] for p in programs}
        results: dict[str, dict[str, Any]] = {}
        for p, run in programs.items():
            run(rig, target, 1000, 1)  # warms up, compiles
        for _ in range(ROUNDS):
            for p, run in programs.items():
                trials = RUNS[p.split()[0]]
                begin = time.perf_counter()
                results[p] = run(rig, target, trials, 12)
                seconds = time.perf_counter() - begin
                speed[p].append(results[p]["solves_total"] / seconds / 1e6)
        agree(name, results)
        middle = {p: statistics.median(s) for p, s in speed.items()}
        row = f"{name:30}" + "".join(f"{middle[p]:17.1f}" for p in programs)
        for p in ratios:
            ratios[p].append(middle["engine"] / middle[p])
            row += f"{ratios[p][-1]:8.1f}x"
        print(row, flush=True)
    geometric = {p: math.exp(statistics.mean(map(math.log, r))) for p, r in ratios.items()}
    print("engine over " + ", ".join(f"{p}: {r:.1f} times" for p, r in geometric.items()))
    print(f"all programs agree on {len(cases())} cases")


if __name__ == "__main__":
    main(sys.argv[1])
