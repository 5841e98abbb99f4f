"""The frames of a night that follows a run sheet: writes examples/night/frames/.

    python3 tests/reference/make_night_frames.py sheet.csv

`sheet.csv` is that of docs/sky.md, "From first log to morning", but of examples/night/rig.toml. The files are headers of solved frames without data. The rig of this night differs from
its file: the zero point is 0.42 deg larger and creeps by 0.05 deg an hour. The loop corrects at the start of each target, to a few hundredths.
examples/night/first-log.csv is `halfturn fit --plan --rig examples/night/rig.toml --set drive.zero_point_deg=0.42 --set drive.zero_point_sigma_deg=0
--rehearse examples/night/first-log.csv`.
"""

import csv
import datetime
import gzip
import math
import pathlib
import random
import sys

ZERO_OFF_DEG, CREEP_DEG_PER_H = 0.42, 0.05
SCALE_DEG = math.degrees(3.76e-3 / 480)
FIRST_MIN, EVERY_MIN, EXPOSURE_MIN, LAST_TARGET_MIN = 4, 25, 5, 65


def quoted(text):
    return "'" + text.replace("'", "''") + "'"


def header(cards):
    text = "".join(f"{key:8}= {value}".ljust(80) for key, value in cards) + "END".ljust(80)
    return text.ljust(-(-len(text) // 2880) * 2880).encode("ascii")


def frame(target, at, reading, angle_deg):
    s, c = (SCALE_DEG * f(math.radians(angle_deg)) for f in (math.sin, math.cos))
    return header([
        ("SIMPLE", "T"), ("BITPIX", 8), ("NAXIS", 0), ("OBJECT", quoted(target)), ("DATE-OBS", quoted(at.strftime("%Y-%m-%dT%H:%M:%S"))),
        ("EXPTIME", 60.0 * EXPOSURE_MIN), ("ROTANGLE", f"{reading:.2f}"), ("CTYPE1", quoted("RA---TAN")), ("CTYPE2", quoted("DEC--TAN")),
        ("CRVAL1", 10.0), ("CRVAL2", 41.0), ("CRPIX1", 3125.0), ("CRPIX2", 2088.0),
        ("CD1_1", f"{-c:.12e}"), ("CD1_2", f"{s:.12e}"), ("CD2_1", f"{s:.12e}"), ("CD2_2", f"{c:.12e}")])


def main():
    draws = random.Random(1)
    with open(sys.argv[1], encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    begin = [datetime.datetime.fromisoformat(row["time"].replace("Z", "+00:00")) for row in rows]
    folder = pathlib.Path(__file__).resolve().parents[2] / "examples/night/frames"
    folder.mkdir(exist_ok=True)
    number = 0
    # The last row of each target, and the first of the next.
    for i in (i for i in range(len(rows)) if i + 1 == len(rows) or rows[i + 1]["target"] != rows[i]["target"]):
        target, zero, planned, wanted = rows[i]["target"], *(float(rows[i][k]) for k in ("zero_point_deg", "reading_deg", "position_angle_deg"))
        end = begin[i + 1] if i + 1 < len(rows) else begin[i] + datetime.timedelta(minutes=LAST_TARGET_MIN)
        off = lambda at: ZERO_OFF_DEG + CREEP_DEG_PER_H * (at - begin[0]).total_seconds() / 3600
        # Upside down is the same field. The drive has steps of 0.02 deg.
        framed = wanted + 180 * round((zero + planned - wanted) / 180)
        reading = 0.02 * round((framed - zero - off(begin[i]) + draws.gauss(0, 0.04)) / 0.02)
        at = begin[i] + datetime.timedelta(minutes=FIRST_MIN)
        while at + datetime.timedelta(minutes=EXPOSURE_MIN) <= end:
            number += 1
            block = frame(target, at, reading, zero + reading + off(at) + draws.gauss(0, 0.015))
            (folder / f"light_{number:02}.fits.gz").write_bytes(gzip.compress(block, mtime=0))
            at += datetime.timedelta(minutes=EVERY_MIN)


main()
