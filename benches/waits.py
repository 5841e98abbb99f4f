"""What a user waits for, with one program or two: `python3 benches/waits.py PROGRAM [OLDER]`

Each command runs three times with each program in turn, on all cores; the medians are printed as Markdown, with how many
times less processor time the first program takes. The last rows ask the served page, while the tolerance moves from 0.02
to 0.8, as its handle does. Run it from the top of the repository. Standard library only, Linux.
"""

from __future__ import annotations

import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

from measure import cost

ROUNDS = 3
TOLERANCES_DEG = [0.02 + 0.012 * i for i in range(66)]


def commands(folder: str) -> list[tuple[str, list[str]]]:
    """Name and arguments; none writes over what another reads."""
    many = os.path.join(folder, "many.csv")
    with open(many, "w", encoding="utf-8") as file:
        file.write("name,position_angle_deg\n")
        file.writelines(f"T{i},{(i * 137.508) % 360:.3f}\n" for i in range(200))
    report = os.path.join(folder, "report")
    grid = ["--vary", "target=-4:4:180", "--vary", "loop.tolerance_deg=0.1:0.9:40"]
    rules = ["--rules", "half-circle,hysteresis-band,fold-once"]
    out = ["--out", os.path.join(folder, "map.csv"), "--force"]
    log = "assets/demo-log.csv"
    plan = ["--plan", "--rig", "examples/night/rig.toml", "--out", os.path.join(folder, "plan.csv"), "--force"]
    return [
        ("`advise`, demo, 8 targets", ["advise", "--out", report]),
        ("the same on one thread", ["advise", "--out", report, "--threads", "1"]),
        ("`advise`, 200 targets", ["advise", "assets/demo-rig.toml", many, "--out", report]),
        ("the same on one thread", ["advise", "assets/demo-rig.toml", many, "--out", report, "--threads", "1"]),
        ("`advise --uncertain`, demo log", ["advise", "--uncertain", log, "--out", report]),
        ("exact map, 180 x 40, three rules", ["sweep", *grid, *rules, "--method", "exact", *out]),
        ("one exact figure, four rules", ["batch", "--target", "0.3", "--method", "exact"]),
        ("`fit`, demo log", ["fit", log]),
        ("`fit --plan`, a keep-out", ["fit", *plan]),
        ("`batch`, 100 million runs, one rule", ["batch", "--target", "0", "--rules", "half-circle", "--trials", "100000000"]),
    ]


def moved_tolerance(program: str) -> list[float]:
    """Milliseconds from each new tolerance to its figures."""
    with subprocess.Popen([program, "serve", "--port", "0"], stdout=subprocess.PIPE, text=True) as server:
        try:
            base = token = ""
            for line in server.stdout or ():
                if found := re.search(r"http://\S+?(?=[/?#]|$)", line):
                    base = found[0]
                    break
            start = json.load(urllib.request.urlopen(base + "/api/start"))
            rig = start["rig"]
            out = []
            for tolerance in TOLERANCES_DEG:
                rig["loop"]["tolerance_deg"] = tolerance
                body = {"rig": rig, "target_deg": 0.3, "targets": [], "seed": 1, "trials": 20000, "trial": 0, "moving": True}
                request = urllib.request.Request(
                    base + "/api/live", json.dumps(body).encode(), {"Content-Type": "application/json", "X-Halfturn-Page": "waits"}
                )
                begin = time.perf_counter()
                urllib.request.urlopen(request).read()
                out.append(1000 * (time.perf_counter() - begin))
            return sorted(out)
        finally:
            server.terminate()


def main(programs: list[str]) -> None:
    programs = [os.path.abspath(p) for p in programs]
    names = ["now", "before"][: len(programs)]
    print("| | " + " | ".join(f"{n}: s | of processor" for n in names) + (" | times less |" if len(names) > 1 else " |"))
    print("|---|" + "---:|" * (2 * len(names) + (len(names) > 1)))
    with tempfile.TemporaryDirectory() as folder:
        for name, arguments in commands(folder):
            measured: list[list[tuple[float, float]]] = [[] for _ in programs]
            for _ in range(ROUNDS):
                for mine, program in zip(measured, programs):
                    found = cost([program, *arguments, "--quiet"], (0, 1))
                    mine.append((found.wall_s, found.cpu_s))
            medians = [[statistics.median(column) for column in zip(*mine)] for mine in measured]
            cells = " | ".join(f"{wall:.3f} | {cpu:.3f}" for wall, cpu in medians)
            ratio = f" | {medians[1][1] / medians[0][1]:.1f}" if len(medians) > 1 else ""
            print(f"| {name} | {cells}{ratio} |", flush=True)
    for name, program in zip(names, programs):
        took = moved_tolerance(program)
        middle, late = took[len(took) // 2], took[int(0.95 * len(took))]
        print(f"\ntolerance moved on the page, {name}: {middle:.0f} ms median, {late:.0f} ms at 95 %, {took[-1]:.0f} ms worst")


if __name__ == "__main__":
    main(sys.argv[1:])
