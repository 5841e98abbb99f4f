#!/usr/bin/env python3
"""Ten rigs by the exact method and by a million runs: the table of docs/exact.md.

    cargo build --release && python3 benches/exact_table.py [PROGRAM] [TRIALS]

Each row is the demo rig with some keys set, at one target, under one rule. Prints Markdown.
"""

import json
import subprocess
import sys

# Target [deg], rule, precision, keys.
RIGS = [
    (0, "half-circle", "full", []),
    (0.2, "half-circle", "full", ["loop.tolerance_deg=0.2"]),
    (64, "half-circle", "full", ["drive.backlash_deg=0.5"]),
    (1.5, "half-circle", "full", ["drive.step_deg=0", "drive.gain_error=0.002"]),
    (0.1, "half-circle", "full", ["drive.step_deg=0.3"]),
    (40, "half-circle", "full", ["solve.noise_deg=0.15"]),
    (
        0,
        "fold-once",
        "full",
        ["drive.travel=stops", "drive.stop_from_deg=-0.2", "drive.stop_to_deg=180.2"],
    ),
    (0, "half-circle", "full", ["solve.failure_rate=0.3", "solve.max_failures=2"]),
    (1, "half-circle", "map", ["solve.outlier_rate=0.03", "solve.outlier_deg=1"]),
    (0, "half-circle", "full", ["loop.confirm=2", "loop.approach=from-below"]),
]

SEED = 5


def policy(program, target, rule, keys, method):
    sets = [part for key in keys for part in ("--set", key)]
    line = [program, "batch", "--target", str(target), "--rules", rule, "--quiet", "--json", "-", *sets, *method]
    done = subprocess.run(line, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)["policies"][0]


def not_settled(p):
    s = p["settled"]
    return 1 - s["rate"], 1 - s["high"], 1 - s["low"]


def hunting(p):
    r = p["hunting"]
    return r["rate"], r["low"], r["high"]


def settle_time(name):
    def figure(p):
        t = p["settle_time_s"]
        return t[name], t[f"{name}_low"], t[f"{name}_high"]

    return figure


FIGURES = [
    ("hunting", hunting),
    ("not settled", not_settled),
    ("mean settle time \\[s\\]", settle_time("mean")),
    ("90 % settle within \\[s\\]", settle_time("p90")),
]


def cell(exact, runs):
    """The exact value with its bound, the interval of the runs, and whether they agree."""
    (value, low, high), (_, run_low, run_high) = exact, runs
    if value is None or run_low is None:
        # Fewer runs than this quantile ever settle.
        agree = value is None and run_low is None
        text = "never"
    else:
        bound = max(high - value, value - low, 0)
        agree = run_low - bound <= value <= run_high + bound
        text = f"{value:.6g} ± {bound:.0e} ({run_low:.6g} to {run_high:.6g})"
    return text if agree else f"{text} outside", agree


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else "target/release/halfturn"
    trials = sys.argv[2] if len(sys.argv) > 2 else "1000000"
    names = [name for name, _ in FIGURES]
    print(f"| keys set, target | {' | '.join(names)} |\n|{'---|' * (len(names) + 1)}")
    inside = of = 0
    for target, rule, precision, keys in RIGS:
        exact = policy(program, target, rule, keys, ["--method", "exact", "--precision", precision])
        runs = policy(program, target, rule, keys, ["--trials", trials, "--seed", str(SEED)])
        label = ", ".join([f"`{k}`" for k in keys] + [f"{target}°"] + [f"`{rule}`"] * (rule != "half-circle"))
        cells = [cell(figure(exact), figure(runs)) for _, figure in FIGURES]
        inside, of = inside + sum(agree for _, agree in cells), of + len(cells)
        print(f"| {label} | {' | '.join(text for text, _ in cells)} |")
    print(f"\n{inside} of {of} exact values lie in the interval of the runs, widened by their bound.")


main()
