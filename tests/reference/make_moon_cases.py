"""The Moon, and when stars come over a horizon of trees and roofs, by astropy: writes tests/data/moon_cases.json.

    venv/bin/pip install astropy==8.0.2 numpy==2.4.6 pyerfa==2.0.1.5
    venv/bin/python tests/reference/make_moon_cases.py

* `moon`: 200 random sites and moments. `get_body` and `AltAz` with the package's own Earth orientation; the lit share by the phase angle of the
  triangle of Sun, Moon and site; the distance from a random star on the sky of `AltAz`.
* `crossings`: 200 random sites, horizons of 12 points and stars. The altitude by `AltAz` less that of the horizon, which `numpy.interp` draws;
  its changes of sign on a grid of one minute, by bisection. Pairs within ten minutes are left out: the program looks every five.
"""

import json
import pathlib
import warnings

import astropy
import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body, get_sun
from astropy.time import Time, TimeDelta
from astropy.utils import iers

warnings.simplefilter("ignore")
iers.conf.auto_download = False
iers.conf.auto_max_age = None
iers.conf.iers_degraded_accuracy = "warn"
DRAWS = np.random.default_rng(20261014)


def place():
    return {"latitude_deg": round(float(DRAWS.uniform(-65, 70)), 4), "longitude_deg": round(float(DRAWS.uniform(-180, 180)), 4),
            "elevation_m": round(float(DRAWS.uniform(0, 3000)))}


def star():
    return {"ra_deg": round(float(DRAWS.uniform(0, 360)), 4), "dec_deg": round(float(np.degrees(np.arcsin(DRAWS.uniform(-1, 1)))), 4)}


def moment():
    return Time(round(float(DRAWS.uniform(Time("2000-01-01").unix, Time("2035-01-01").unix))), format="unix", scale="utc")


def location(site):
    return EarthLocation.from_geodetic(site["longitude_deg"] * u.deg, site["latitude_deg"] * u.deg, site["elevation_m"] * u.m)


def moon():
    site, target, at = place(), star(), moment()
    here = location(site)
    at = Time(at, location=here)
    frame = AltAz(obstime=at, location=here)
    body, sun = get_body("moon", at, here), get_sun(at)
    seen = body.transform_to(frame)
    target_seen = SkyCoord(target["ra_deg"] * u.deg, target["dec_deg"] * u.deg).transform_to(frame)
    apart = body.separation(sun)
    phase = np.arctan2(sun.distance * np.sin(apart), body.distance - sun.distance * np.cos(apart))
    return {**site, **target, "time": at.isot[:19] + "Z", "dut1_s": float(at.delta_ut1_utc), "azimuth_deg": float(seen.az.deg),
            "altitude_deg": float(seen.alt.deg), "distance_deg": float(seen.separation(target_seen).deg),
            "lit": float((1 + np.cos(phase)) / 2)}


def crossings():
    while True:
        site, target, at = place(), star(), moment()
        points = [round(float(a), 1) for a in DRAWS.uniform(3, 35, 12)]
        here = location(site)
        coordinate = SkyCoord(target["ra_deg"] * u.deg, target["dec_deg"] * u.deg)

        def above(seconds):
            t = Time(at + TimeDelta(seconds, format="sec"), location=here)
            seen = coordinate.transform_to(AltAz(obstime=t, location=here))
            return seen.alt.deg - np.interp(seen.az.deg, np.arange(13) * 30.0, points + points[:1])

        grid = np.arange(0, 86401, 60.0)
        heights = above(grid)
        found = []
        for i in np.nonzero((heights[1:] > 0) != (heights[:-1] > 0))[0]:
            low, high = grid[i], grid[i + 1]
            while high - low > 0.02:
                middle = (low + high) / 2
                if (above(middle) > 0) == (heights[i + 1] > 0):
                    high = middle
                else:
                    low = middle
            found.append({"after_s": round(float((low + high) / 2), 2), "rises": bool(heights[i + 1] > 0)})
        times = [f["after_s"] for f in found]
        if found and (len(times) < 2 or min(np.diff(times)) > 600):
            return {**site, **target, "time": at.isot[:19] + "Z", "dut1_s": float(at.delta_ut1_utc), "horizon_deg": points, "found": found}


def main():
    data = {"source": f"tests/reference/make_moon_cases.py, astropy {astropy.__version__}, numpy {np.__version__}",
            "moon": [moon() for _ in range(200)], "crossings": [crossings() for _ in range(200)]}
    root = pathlib.Path(__file__).resolve().parents[2]
    # A case a line.
    text = json.dumps(data).replace(": [{", ": [\n{").replace("}, {\"lat", "},\n{\"lat").replace("}], \"cross", "}],\n\"cross")
    (root / "tests/data/moon_cases.json").write_text(text + "\n", encoding="utf-8")


main()
