"""The served page under load: `python3 benches/serve_load.py PROGRAM [SECONDS] [SEED]`

Four clients, each a page of its own, change valid settings at random: a handle moves ten times and rests, and at
times an advice with its report and a map begin, as the page asks for them. Prints the server's memory every ten seconds, then how long the
answers took. Quote ratios of two programs side by side on one machine. Standard library only, Linux.
"""

from __future__ import annotations

import http.client
import json
import random
import re
import subprocess
import sys
import threading
import time

CLIENTS = 4
MOVES = 10
# Each key with its range, or its words.
SETTINGS = {
    ("loop", "tolerance_deg"): (0.05, 2.0),
    ("wrap", "arc_start_deg"): (-180.0, 180.0),
    ("wrap", "band_deg"): (0.0, 10.0),
    ("wrap", "rule"): ["full-circle", "half-circle", "hysteresis-band", "fold-once"],
    ("drive", "backlash_deg"): (0.0, 2.0),
    ("drive", "zero_point_sigma_deg"): (0.0, 3.0),
    ("drive", "repeatability_deg"): (0.0, 0.1),
    ("solve", "noise_deg"): (0.005, 0.1),
    ("solve", "failure_rate"): (0.0, 0.2),
    ("loop", "max_solves"): [5, 10, 20, 40],
}


class Page(threading.Thread):
    """A client with its own settings and name."""

    def __init__(self, host: str, number: int, seed: int, end: float) -> None:
        super().__init__()
        self.host, self.name_, self.end = host, f"load-{number}", end
        self.dice = random.Random(f"{seed}/{number}")
        self.connection = http.client.HTTPConnection(host, timeout=60)
        start = self.ask("start", "GET", "/api/start")
        self.rig, self.targets = start["rig"], start["targets"]
        self.took: dict[str, list[float]] = {}
        self.refused: dict[int, int] = {}
        self.largest = 0

    def ask(self, kind: str, method: str, path: str, body: object = None) -> dict | None:
        """One request, with its time under `kind`; None where it is refused."""
        headers = {"Content-Type": "application/json", "X-Halfturn-Page": self.name_}
        begin = time.perf_counter()
        for _ in range(2):  # the server ends a connection after two minutes
            try:
                self.connection.request(method, path, json.dumps(body) if body else None, headers)
                answer = self.connection.getresponse()
                text = answer.read()
                break
            except (http.client.HTTPException, ConnectionError):
                self.connection.close()
        else:
            raise SystemExit("the server has gone")
        if hasattr(self, "took"):
            self.took.setdefault(kind, []).append(time.perf_counter() - begin)
            self.largest = max(self.largest, len(text))
            if answer.status != 200:
                self.refused[answer.status] = self.refused.get(answer.status, 0) + 1
                return None
        return json.loads(text) if text.startswith(b"{") else {}

    def change(self) -> tuple[str, str]:
        (section, key), span = self.dice.choice(list(SETTINGS.items()))
        self.rig[section][key] = self.dice.uniform(*span) if isinstance(span, tuple) else self.dice.choice(span)
        return section, key

    def run(self) -> None:
        jobs: list[list] = []  # name and rows so far
        while time.time() < self.end:
            section, key = self.change()
            span = SETTINGS[section, key]
            for move in range(MOVES):
                if isinstance(span, tuple):
                    self.rig[section][key] = self.dice.uniform(*span)
                body = {"rig": self.rig, "targets": self.targets, "target_deg": self.dice.uniform(0, 360), "seed": 1}
                body |= {"trials": 20000, "trial": 0, "moving": move < MOVES - 1}
                self.ask("moving" if body["moving"] else "at rest", "POST", "/api/live", body)
                time.sleep(0.03)
            self.ask("verdicts", "POST", "/api/verdicts", {"rig": self.rig, "targets": self.targets, "seed": 1})
            jobs = [job for job in jobs if self.goes_on(job)]
            if self.dice.random() < 0.5:
                # As the page does it: the work for older settings is of no use.
                for job in jobs:
                    self.ask("job", "DELETE", f"/api/jobs/{job[0]}")
                asked = [self.ask("job", "POST", "/api/jobs", body) for body in self.work()]
                jobs = [[told["id"], 0] for told in asked if told]

    def work(self) -> list[dict]:
        """An advice and a map."""
        advice = {"kind": "advise", "targets": self.targets, "trials": 20000, "flips": False}
        grid = {"kind": "sweep", "vary": ["target=-4:4:40", "loop.tolerance_deg=0.1:0.9:20"], "target_deg": None}
        grid |= {"rules": ["half-circle", "hysteresis-band", "fold-once"], "method": "auto", "trials": 1000}
        return [{"rig": self.rig, "seed": 1} | kind for kind in (advice, grid)]

    def goes_on(self, job: list) -> bool:
        """Asks about a job; at its end reads the report too."""
        state = self.ask("job", "GET", f"/api/jobs/{job[0]}?from={job[1]}")
        if not state:
            return False
        job[1] += len(state["rows"])
        if state["has_report"]:
            self.ask("report", "GET", f"/api/jobs/{job[0]}/report?still=true")
        return state["phase"] in ("waiting", "running") or job[1] < state["rows_total"]


def memory_mb(pid: int, key: str = "VmRSS") -> float:
    with open(f"/proc/{pid}/status", encoding="ascii") as file:
        return int(re.search(key + r":\s+(\d+)", file.read())[1]) * 1024 / 1e6


def main(program: str, seconds: float = 60, seed: int = 1) -> None:
    with subprocess.Popen([program, "serve", "--port", "0"], stdout=subprocess.PIPE, text=True) as server:
        try:
            host = re.search(r"http://([^/]+)/", server.stdout.readline())[1]
            begin, end = time.time(), time.time() + seconds
            pages = [Page(host, i, seed, end) for i in range(CLIENTS)]
            print(f"{memory_mb(server.pid):.0f} MB at the start", flush=True)
            for page in pages:
                page.start()
            while any(page.is_alive() for page in pages):
                pages[0].join(10)
                print(f"{time.time() - begin:.0f} s: {memory_mb(server.pid):.0f} MB", flush=True)
                for page in pages if time.time() > end else []:
                    page.join()
            print(f"at most {memory_mb(server.pid, 'VmHWM'):.0f} MB; largest answer {max(p.largest for p in pages) / 1e6:.1f} MB")
        finally:
            server.terminate()
    for kind in ("live", "moving", "at rest", "verdicts", "job", "report"):
        kinds = ("moving", "at rest") if kind == "live" else (kind,)
        took = sorted(t for page in pages for k in kinds for t in page.took.get(k, []))
        if took:
            at = [1000 * took[min(int(share * len(took)), len(took) - 1)] for share in (0.5, 0.9, 0.99, 1.0)]
            print(f"{kind}: {len(took)} answers, median {at[0]:.0f}, 90 % {at[1]:.0f}, 99 % {at[2]:.0f}, longest {at[3]:.0f} ms")
    print("refused:", {k: v for page in pages for k, v in page.refused.items()} or "none")


if __name__ == "__main__":
    main(sys.argv[1], *(float(a) for a in sys.argv[2:3]), *(int(a) for a in sys.argv[3:4]))
