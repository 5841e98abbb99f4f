#!/usr/bin/env python3
"""A subtly wrong controller for `halfturn judge`, with the standard library of Python only.

It folds corrections as it folds the first move, and forgets the band. It hunts at the seam: the judge fails it for
`long-swings`. Run: halfturn judge -- python3 examples/controllers/wrong_band.py
"""
import json
import sys


def fold(angle, start, period):
    """Into [start, start + period)."""
    folded = start + (angle - start) % period
    return folded if folded < start + period else start


def residual(angle, period):
    """Into (-period/2, +period/2]."""
    rest = angle % period
    return rest - period if rest > period / 2 else rest


class Controller:
    def begin(self, event):
        self.told = event
        self.period = 360 / event["symmetry"]
        self.reading = event["reading_deg"]
        self.solves = 0
        wanted = event["sense"] * (event["target_deg"] - event["zero_point_deg"])
        return self.move(wanted)

    def moved(self, event):
        self.reading = event["reading_deg"]
        return {"do": "solve"}

    def refused(self, event):
        return {"do": "give-up", "why": event["why"]}

    def solve_failed(self, event):
        return {"do": "solve"}

    def solved(self, event):
        self.solves += 1
        error = residual(self.told["target_deg"] - event["position_angle_deg"], self.period)
        if abs(error) <= self.told["tolerance_deg"]:
            return {"do": "done"}
        if self.solves >= self.told["max_solves"]:
            return {"do": "give-up", "why": "no solves left"}
        return self.move(self.reading + self.told["sense"] * error)

    def move(self, wanted):
        start, width = self.told["arc_start_deg"], self.told["arc_width_deg"]
        if self.told["travel"] == "endless":  # whole turns do not matter
            centre = start + width / 2
            wanted = centre + residual(wanted - centre, 360)
        return {"do": "move", "drive_deg": fold(wanted, start, width)}  # wrong: no band


controller = Controller()
for line in sys.stdin:
    event = json.loads(line)
    if event["event"] == "end":
        break
    answer = getattr(controller, event["event"].replace("-", "_"))(event)
    print(json.dumps(answer), flush=True)
