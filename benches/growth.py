"""How time and memory grow: `python3 benches/growth.py target/release/halfturn`

Runs the release program over growing numbers of runs, cells, solves and threads, three
times each, and prints medians with the exponent of a straight line through their
logarithms. Threads go up to those of the machine. Standard library only.
"""
# Shows (speed): growth over runs, solves, threads, cells. Source: measured.

from __future__ import annotations

import math
import os
import statistics
import sys
import tempfile

from measure import cost

ROUNDS = 3


def table(title: str, rows: list[tuple[float, list[str]]]) -> None:
    print(f"\n{title}\n\n| | seconds | of processor | MiB |\n|---:|---:|---:|---:|")
    points = []
    for size, command in rows:
        measured = [cost(command) for _ in range(ROUNDS)]
        wall = statistics.median(m.wall_s for m in measured)
        cpu = statistics.median(m.cpu_s for m in measured)
        peak = max(m.memory_mib for m in measured)
        points.append((math.log(size), math.log(wall)))
        print(f"| {size:,.0f} | {wall:.3f} | {cpu:.3f} | {peak:.0f} |".replace(",", " "), flush=True)
    # The largest three sizes: below them the start of the program counts.
    xs, ys = zip(*points[-3:])
    mx, my = statistics.mean(xs), statistics.mean(ys)
    slope = sum((x - mx) * (y - my) for x, y in points[-3:]) / sum((x - mx) ** 2 for x in xs)
    print(f"\nexponent over the last three rows: {slope:.2f}")


def main(program: str) -> None:
    program = os.path.abspath(program)
    batch = [program, "batch", "--target", "0", "--rules", "half-circle"]
    table(
        "runs of a batch",
        [(n, [*batch, "--trials", str(n)]) for n in (10**5, 10**6, 10**7, 10**8)],
    )
    never = ["--set", "loop.tolerance_deg=0.000001", "--trials", "20000"]
    table(
        "solves cap, 20 000 runs that never settle",
        [
            (n, [*batch, *never, "--set", f"loop.max_solves={n}"])
            for n in (20, 100, 500, 2500)
        ],
    )
    table(
        "threads, 30 million runs",
        [
            (n, [*batch, "--trials", "30000000", "--threads", str(n)])
            for n in (1, 2, 4, 8, 16)
            if n <= (os.cpu_count() or 1)
        ],
    )
    with tempfile.TemporaryDirectory() as folder:
        sweep = [program, "sweep", "--rules", "half-circle", "--trials", "2000", "--force"]
        sweep += ["--out", os.path.join(folder, "grid.csv")]
        table(
            "cells of a sweep, 2 000 runs each",
            [
                (
                    n * n,
                    [
                        *sweep,
                        "--vary",
                        f"target=-3:3:{n}",
                        "--vary",
                        f"loop.tolerance_deg=0.1:1:{n}",
                    ],
                )
                for n in (5, 15, 45, 135)
            ],
        )


if __name__ == "__main__":
    main(sys.argv[1])
