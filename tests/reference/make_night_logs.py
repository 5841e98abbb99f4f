"""Logs of nights by the reference model, for what `fit` says of them: writes tests/data/night_logs/*.csv.

    python tests/reference/make_night_logs.py

See loop_model.py for the environment. Seeds are fixed: each night takes the first seed that gives what its name says.
The first line of a log says which rows hunt (two long swings or more in one run, docs/model.md, section 6), counted
from 1.
"""

from __future__ import annotations

import copy
import math
import random
import shutil
from pathlib import Path
from typing import Any

from cases import LISTING
from loop_model import command_of, execute, residual, shaft_angle
from reference_rig import Rig, rig_from_dict, symmetry_of

OUT = Path(__file__).resolve().parent.parent / "data" / "night_logs"


class Night:
    """A rig with its state, and the rows that it leaves."""

    def __init__(self, rig: Rig, seed: int) -> None:
        self.rig, self.rng = rig, random.Random(seed)
        self.Z = rig.zero_point + rig.zero_point_sigma * self.rng.gauss(0, 1)
        self.p, self.y, self.eta, self.t = rig.park, rig.park, 0.0, 0.0
        self.rows: list[tuple[float, float, float, float | None]] = []
        self.hunts: list[tuple[int, int]] = []
        self.most_swings, self.settled, self.most_rows = 0, 0, 0

    def move(self, command: float) -> float:
        """Returns the size of the move."""
        m = execute(self.rig, self.p, self.y, command)
        assert not m.refused, command
        size = abs(m.p - self.p)
        if m.moved:
            self.eta = self.rig.repeatability * self.rng.gauss(0, 1)
        self.p, self.y, self.t, self.commanded = m.p, m.y, self.t + m.duration, command
        return size

    def solve(self) -> float | None:
        rig = self.rig
        failed = self.rng.random() < rig.failure_rate
        end = self.t + rig.exposure
        self.t = end + (rig.failure_time if failed else rig.solve_time)
        angle = None
        if not failed:
            theta = self.Z + rig.sense * shaft_angle(rig, self.y, self.eta) + rig.field_rotation_rate * end
            spread = rig.outlier if self.rng.random() < rig.outlier_rate else rig.noise
            angle = (theta + rig.bias + spread * self.rng.gauss(0, 1)) % 360
        self.rows.append((self.t, self.commanded, self.p, angle))
        return angle

    def run(self, tau: float) -> None:
        """Section 4 of docs/model.md."""
        rig, first_row = self.rig, len(self.rows) + 1
        wanted, first, passes, solves, swings = rig.believed_sense * (tau - rig.zero_point), True, 0, 0, 0
        self.move(command_of(rig, wanted, first))
        while True:
            angle = self.solve()
            if angle is None:
                continue
            solves += 1
            e = residual(tau - angle, rig.period)
            passes = passes + 1 if abs(e) <= rig.tolerance else 0
            if passes >= rig.confirm:
                self.settled += 1
                break
            if solves >= rig.max_solves:
                break
            if passes == 0:
                size = self.move(command_of(rig, self.p + rig.correction * rig.believed_sense * e, False))
                swings += size > rig.period / 2
        self.most_swings = max(self.most_swings, swings)
        self.most_rows = max(self.most_rows, solves)
        if swings >= 2:
            self.hunts.append((first_row, len(self.rows)))


def rig_of(changes: dict[str, Any]) -> Rig:
    nested = copy.deepcopy(LISTING)
    for key, value in changes.items():
        section, name = key.split(".")
        nested[section][name] = value
    symmetry_of(nested["wrap"])
    return rig_from_dict(nested)


def wave(amplitude: float, phase: float = 90.0) -> list[dict[str, float]]:
    return [{"cycles": 1, "amplitude_deg": amplitude, "phase_deg": phase}]


def text(night: Night, columns: str, decimals: int, one_turn: bool) -> str:
    hunts = ", ".join(f"{a} to {b}" for a, b in night.hunts) or "none"
    names = columns.split()
    lines = [f"# Simulated by tests/reference/make_night_logs.py. Rows that hunt: {hunts}.", ",".join(names)]
    for t, commanded, p, angle in night.rows:
        p = p % 360 if one_turn else p
        field = {
            "time": f"{t:.1f}",
            "commanded_deg": f"{commanded:.4f}",
            "reading_deg": f"{p:.{decimals}f}",
            "position_angle_deg": "" if angle is None else f"{angle:.{decimals}f}",
        }
        lines.append(",".join(field[n] for n in names))
    return "\n".join(lines) + "\n"


BARE, ALL = "reading_deg position_angle_deg", "time commanded_deg reading_deg position_angle_deg"
TIGHT = {"drive.periodic": wave(0.3), "loop.tolerance_deg": 0.2}

# Changes of the rig, targets, columns, decimals, readings within one turn.
HUNTING: dict[str, tuple[dict[str, Any], list[float], str, int, bool]] = {
    "one-target": (TIGHT, [0.0], BARE, 3, False),
    "third-of-five": (TIGHT, [63.0, 140.2, 0.1, 22.4, 97.0], ALL, 3, False),
    "reversed": ({**TIGHT, "drive.sense": -1, "loop.believed_sense": -1, "drive.zero_point_deg": 217.3,
                  "wrap.arc_start_deg": 37.0, "drive.periodic": wave(0.3, 53.0)}, [63.0, 180.4, 105.0], ALL, 3, False),
    "backlash": ({"drive.backlash_deg": 1.0, "loop.tolerance_deg": 0.3}, [0.05, 120.0], BARE, 3, False),
    "gain": ({"drive.gain_error": -0.005, "loop.tolerance_deg": 0.4}, [50.0, 179.9], ALL, 2, False),
    "square": ({**TIGHT, "wrap.symmetry": 4, "drive.periodic": [{"cycles": 2, "amplitude_deg": 0.3, "phase_deg": 90.0}]},
               [33.0, 0.0, 61.0], ALL, 3, False),
    "between-stops": ({"drive.gain_error": -0.003, "drive.travel": "stops", "drive.stop_from_deg": -2.0,
                       "drive.stop_to_deg": 362.0, "wrap.rule": "full-circle"}, [140.0, 0.1, 250.0], ALL, 3, False),
    "narrow-band": ({**TIGHT, "wrap.rule": "hysteresis-band", "wrap.band_deg": 0.05}, [77.0, 0.0], BARE, 3, False),
    "within-one-turn": ({**TIGHT, "wrap.arc_start_deg": 270.0, "drive.periodic": wave(0.3, 180.0),
                         "solve.failure_rate": 0.1, "solve.outlier_rate": 0.03}, [310.0, 270.0, 20.0], BARE, 1, True),
    "twice": ({**TIGHT, "loop.confirm": 2, "drive.step_deg": 0.1, "loop.field_rotation_deg_per_s": 0.0001},
              [45.0, 0.0, 100.0, 179.95, 131.0], ALL, 2, False),
}  # fmt: skip

NIGHT = [63.0, 140.2, 30.1, 22.4, 97.0, 151.0]
GOOD: dict[str, tuple[dict[str, Any], list[float], str, int, bool]] = {
    "night": ({}, NIGHT, ALL, 3, False),
    "flips": ({"wrap.rule": "full-circle", "wrap.symmetry": 1}, [a + b for a in NIGHT for b in (0, 180)], ALL, 3, False),
    "reversed": ({"drive.sense": -1, "loop.believed_sense": -1, "loop.tolerance_deg": 0.15}, NIGHT, BARE, 2, False),
    "noisy": ({"solve.failure_rate": 0.1, "solve.outlier_rate": 0.05, "solve.noise_deg": 0.1}, NIGHT, ALL, 3, False),
    "between-stops": ({"drive.travel": "stops", "drive.stop_from_deg": -5.0, "drive.stop_to_deg": 365.0,
                       "wrap.rule": "full-circle"}, [a + b for a in NIGHT for b in (0, 180)], BARE, 3, False),
    "one-swing": ({"loop.tolerance_deg": 0.2}, [60.0, 0.2, 100.0, 179.9, 45.0], ALL, 3, False),
    "two-in-turn": ({"wrap.rule": "full-circle", "wrap.symmetry": 1, "loop.tolerance_deg": 0.1}, [40.0, 220.0] * 6, ALL, 2, False),
    "there-and-back": ({}, [], ALL, 2, False),
    "half-turns": ({}, [], BARE, 3, False),
    "random-moves": ({"drive.periodic": wave(0.2)}, [], BARE, 3, False),
}  # fmt: skip

NEVER_ENDS: dict[str, tuple[dict[str, Any], list[float], str, int, bool]] = {
    "wrong-sense": ({"loop.believed_sense": -1, "wrap.rule": "full-circle", "wrap.symmetry": 1, "drive.zero_point_sigma_deg": 1.0,
                     "drive.zero_point_deg": 0.0}, [10.3], BARE, 3, False),
    "tight-tolerance": ({"loop.tolerance_deg": 0.02, "solve.noise_deg": 0.06, "drive.repeatability_deg": 0.06},
                        [63.0, 140.2], ALL, 3, False),
}  # fmt: skip


def moves_of(name: str, night: Night) -> None:
    """Logs without a loop: the drive is sent to and fro, and every stop is solved twice."""
    goals = {
        "there-and-back": [0.0, 90.0] * 6,
        "half-turns": [10.0, 190.0] * 6,
        "random-moves": [night.rng.uniform(0, 360) for _ in range(60)],
    }[name]
    for goal in goals:
        night.move(goal)
        night.solve()
        night.solve()


def make(kind: str, name: str, case: tuple[dict[str, Any], list[float], str, int, bool], good_enough: Any) -> None:
    changes, targets, columns, decimals, one_turn = case
    rig = rig_of(changes)
    for seed in range(1, 10_000):
        night = Night(rig, seed)
        for tau in targets:
            night.run(tau)
        if not targets:
            moves_of(name, night)
        if good_enough(night, len(targets)):
            break
    else:
        raise SystemExit(f"{kind}-{name}: no seed")
    (OUT / f"{kind}-{name}.csv").write_text(text(night, columns, decimals, one_turn))
    print(f"{kind}-{name}: seed {seed}, {len(night.rows)} rows, hunts {night.hunts}")


def main() -> None:
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    for name, case in HUNTING.items():
        wanted = 2 if name == "twice" else 1
        make("hunts", name, case, lambda n, _: len(n.hunts) == wanted and n.most_swings >= 6)
    for name, case in GOOD.items():
        make("good", name, case, lambda n, count: n.settled == count and not n.hunts)
    for name, case in NEVER_ENDS.items():
        make("endless", name, case, lambda n, count: not n.hunts and n.most_rows >= 20)
    assert all(math.isfinite(float(x)) for f in OUT.glob("*.csv") for x in f.read_text().split("\n")[2].split(",") if x)


if __name__ == "__main__":
    main()
