"""A wrap rule under test with pytest: each test vector is a test, and the judge is one more.

halfturn vectors > wrap-vectors.csv; then pytest examples/tests/test_wrap.py
"""
import csv
import os
import pathlib
import subprocess
import sys

import pytest

VECTORS = os.environ.get("WRAP_VECTORS", "wrap-vectors.csv")
HALFTURN = os.environ.get("HALFTURN", "halfturn")
CONTROLLER = pathlib.Path(__file__).parents[1] / "controllers" / "correct.py"


def command(correction, wanted, start, period, band, endless):
    """Your function stands here. This one is the hysteresis band."""
    if endless:
        centre = start + period / 2
        wanted = centre + 180 - (180 - (wanted - centre)) % 360
    band = band if correction else 0
    if start - band <= wanted < start + period + band:
        return wanted
    folded = start + (wanted - start) % period
    return folded if folded < start + period else start


def vectors(rule):
    with open(VECTORS, newline="") as file:
        return [row for row in csv.DictReader(file) if row["rule"] == rule]


@pytest.mark.parametrize("row", vectors("hysteresis-band"), ids=lambda row: row["id"])
def test_vector(row):
    wanted, start, period, band = (
        float(row[key]) for key in ("wanted_deg", "arc_start_deg", "period_deg", "band_deg")
    )
    got = command(row["correction"] == "true", wanted, start, period, band, row["travel"] == "endless")
    off = abs(got - float(row["command_deg"]))
    if row["edge"] == "true":
        off = min(off, abs(off - period))  # rounding chose the other of two equivalent angles
    assert off <= 1e-9


def test_judge():
    judge = [HALFTURN, "judge", "--rule", "hysteresis-band", "--scenarios", "300", "--"]
    done = subprocess.run([*judge, sys.executable, str(CONTROLLER)], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout
