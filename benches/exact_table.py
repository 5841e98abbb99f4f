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
    ("90 % settle time \\[s\\]", settle_time("p90")),
]


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else "target/release/halfturn"
    trials = sys.argv[2] if len(sys.argv) > 2 else "1000000"
    print("| keys set, target | figure | exact | bound | runs, 95 % |\n|---|---|---|---|---|")
    inside = of = 0
    for target, rule, precision, keys in RIGS:
        exact = policy(program, target, rule, keys, ["--method", "exact", "--precision", precision])
        runs = policy(program, target, rule, keys, ["--trials", trials, "--seed", str(SEED)])
        label = ", ".join([f"`{k}`" for k in keys] + [f"{target} deg"] + [f"`{rule}`"] * (rule != "half-circle"))
        for figure, of_policy in FIGURES:
            value, low, high = of_policy(exact)
            _, run_low, run_high = of_policy(runs)
            bound = max(high - value, value - low, 0)
            hit = run_low - bound <= value <= run_high + bound
            inside, of = inside + hit, of + 1
            print(f"| {label} | {figure} | {value:.6g} | {bound:.0e} | {run_low:.6g} to {run_high:.6g}{'' if hit else ' (outside)'} |")
            label = ""
    print(f"\n{inside} of {of} exact values lie in the interval of the runs, widened by their bound.")


main()
