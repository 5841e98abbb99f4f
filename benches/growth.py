"""How time and memory grow: `python3 benches/growth.py target/release/halfturn`

Runs the release program over growing numbers of runs, cells, solves and threads, three
times each, and prints medians with the exponent of a straight line through their
logarithms. Standard library only. Linux, as it reads the memory of the finished child.
"""

from __future__ import annotations

import math
import os
import statistics
import sys
import tempfile
import time

ROUNDS = 3


def seconds_and_mib(command: list[str]) -> tuple[float, float]:
    """Wall time and peak memory of one process."""
    begin = time.perf_counter()
    pid = os.fork()
    if pid == 0:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        os.execv(command[0], command)
    _, status, usage = os.wait4(pid, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        raise SystemExit(f"failed: {' '.join(command)}")
    return time.perf_counter() - begin, usage.ru_maxrss / 1024


def table(title: str, rows: list[tuple[float, list[str]]]) -> None:
    print(f"\n{title}\n\n| | seconds | MiB |\n|---:|---:|---:|")
    points = []
    for size, command in rows:
        measured = [seconds_and_mib(command) for _ in range(ROUNDS)]
        wall = statistics.median(m[0] for m in measured)
        peak = max(m[1] for m in measured)
        points.append((math.log(size), math.log(wall)))
        print(f"| {size:,.0f} | {wall:.3f} | {peak:.0f} |".replace(",", " "), flush=True)
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
            for n in (1, 2)
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
