"""Where places of the sky stand, by ERFA and by astropy: writes tests/data/night_cases.json.

    venv/bin/pip install astropy==8.0.2 numpy==2.4.6 pyerfa==2.0.1.5
    venv/bin/python tests/reference/make_night_cases.py

* `erfa`: `erfa.atco13` without air and without polar motion, UT1 - UTC as given, then `erfa.hd2pa`; the position angle of the zenith from ICRS
  north is that of `erfa.pas` from the place to a point beside it towards the zenith, brought back to ICRS by `erfa.atoc13`.
* `astropy`: `AltAz` with the package's own Earth orientation (polar motion included), `SkyCoord.position_angle` for the zenith, `get_sun`,
  sidereal time; its UT1 - UTC is written down and used by the test.
* `crossings`: the Sun's altitude by astropy, its crossings by bisection.
"""

import json
import pathlib
import warnings

import astropy
import astropy.units as u
import erfa
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_sun
from astropy.time import Time, TimeDelta
from astropy.utils import iers

warnings.simplefilter("ignore")
iers.conf.auto_download = False
iers.conf.auto_max_age = None
iers.conf.iers_degraded_accuracy = "warn"

SITES = [("north", 47.31, 12.04, 1180.0), ("south", -31.2, 149.1, 900.0), ("equator", 0.4, -78.2, 2800.0), ("high", 69.6, 19.2, 60.0)]
PLACES = [("low", 83.8, -5.4), ("M 31", 10.685, 41.269), ("north", 150.0, 69.0), ("by the pole", 37.9, 89.2), ("at 85", 201.3, 85.0),
          ("south", 186.0, -63.0), ("by the south pole", 320.0, -88.9), ("across 0", 359.99, 12.0)]
TIMES = ["2026-10-14T19:30:00", "2026-12-31T23:59:00", "2019-06-21T03:15:30", "2044-02-29T12:00:00"]


def apart(angle):
    return float((angle + 180) % 360 - 180)


def by_erfa(site, place, time, dut1):
    _, lat, lon, height = site
    _, ra, dec = place
    t = Time(time, scale="utc")
    here = (t.jd1, t.jd2, dut1, np.radians(lon), np.radians(lat), height, 0.0, 0.0, 0.0, 0.0, 0.0, 0.55)
    az, zd, ha, dob, _, _ = erfa.atco13(np.radians(ra), np.radians(dec), 0, 0, 0, 0, *here)
    # A hundredth of a degree towards the zenith and as much away from it, as ICRS places.
    step = np.radians(0.01)
    (r1, d1), (r2, d2) = (erfa.atoc13("A", az, zd + s, *here) for s in (-step, step))
    r0, d0 = np.radians(ra), np.radians(dec)
    up, down = erfa.pas(r0, d0, r1, d1), erfa.pas(r0, d0, r2, d2)
    zenith = np.degrees(np.angle(np.exp(1j * up) - np.exp(1j * down)))
    return {"azimuth_deg": float(np.degrees(az)), "altitude_deg": float(90 - np.degrees(zd)), "hour_angle_h": apart(np.degrees(ha)) / 15,
            "dec_of_date_deg": float(np.degrees(dob)), "parallactic_deg": float(np.degrees(erfa.hd2pa(ha, dob, np.radians(lat)))),
            "zenith_deg": float(zenith)}


def by_astropy(site, place, time):
    _, lat, lon, height = site
    _, ra, dec = place
    location = EarthLocation.from_geodetic(lon * u.deg, lat * u.deg, height * u.m)
    t = Time(time, scale="utc", location=location)
    frame = AltAz(obstime=t, location=location)
    star = SkyCoord(ra * u.deg, dec * u.deg)
    seen = star.transform_to(frame)
    # From just below to just above, in ICRS.
    step = 0.01
    above, below = (SkyCoord(AltAz(az=seen.az, alt=seen.alt + s * u.deg, obstime=t, location=location)).transform_to("icrs")
                    for s in (step, -step))
    up, down = star.position_angle(above).rad, star.position_angle(below).rad
    zenith = np.degrees(np.angle(np.exp(1j * up) - np.exp(1j * down)))
    sun = get_sun(t).transform_to(frame)
    return {"azimuth_deg": float(seen.az.deg), "altitude_deg": float(seen.alt.deg), "zenith_deg": float(zenith),
            "sun_altitude_deg": float(sun.alt.deg), "dut1_s": float(t.delta_ut1_utc),
            "apparent_sidereal_time_h": float(t.sidereal_time("apparent", longitude=lon * u.deg).hour)}


def crossings(site, date, limit):
    _, lat, lon, height = site
    location = EarthLocation.from_geodetic(lon * u.deg, lat * u.deg, height * u.m)
    noon = Time(date, scale="utc") + TimeDelta((0.5 - apart(lon) / 360) * 86400, format="sec")

    def height_at(seconds):
        t = noon + TimeDelta(seconds, format="sec")
        t.delta_ut1_utc = 0.0  # the test takes none either
        return get_sun(t).transform_to(AltAz(obstime=t, location=location)).alt.deg - limit

    grid = np.arange(0, 86401, 600.0)
    values = height_at(grid)
    found = []
    for i in np.nonzero((values[:-1] > 0) != (values[1:] > 0))[0]:
        low, high = grid[i], grid[i + 1]
        above = values[i] > 0
        while high - low > 0.05:
            middle = (low + high) / 2
            low, high = (middle, high) if (height_at(np.array([middle]))[0] > 0) == above else (low, middle)
        found.append((bool(above), (noon + TimeDelta((low + high) / 2, format="sec")).isot))
    return {"dusk": next((t for above, t in found if above), None), "dawn": next((t for above, t in found if not above), None)}


def main():
    cases = []
    for site in SITES:
        for time in TIMES:
            for place in PLACES:
                dut1 = 0.0
                cases.append({"site": site[0], "latitude_deg": site[1], "longitude_deg": site[2], "elevation_m": site[3], "time": time,
                              "place": place[0], "ra_deg": place[1], "dec_deg": place[2], "dut1_s": dut1,
                              "erfa": by_erfa(site, place, time, dut1), "astropy": by_astropy(site, place, time)})
    nights = [{"site": s[0], "latitude_deg": s[1], "longitude_deg": s[2], "elevation_m": s[3], "date": date, "sun_deg": limit,
               **crossings(s, date, limit)}
              for s in SITES for date in ("2026-10-14", "2026-06-21", "2026-12-21") for limit in (-50 / 60, -6, -12, -18)]
    out = {"source": f"tests/reference/make_night_cases.py, astropy {astropy.__version__}, pyerfa {erfa.__version__}, numpy {np.__version__}",
           "cases": cases, "nights": nights}
    path = pathlib.Path(__file__).parent.parent / "data" / "night_cases.json"
    path.write_text(json.dumps(out, indent=1) + "\n")
    worst = max(abs(apart(c["erfa"]["zenith_deg"] - c["astropy"]["zenith_deg"])) * 3600 for c in cases)
    apart_most = max(abs(apart(c["erfa"]["zenith_deg"] - c["erfa"]["parallactic_deg"])) for c in cases)
    print("zenith, erfa against astropy [arcsec]:", worst, "  from ICRS north against the pole of date [deg]:", apart_most)


if __name__ == "__main__":
    main()
