"""Panels and FITS headers, and what astropy makes of them: writes tests/data/sky_cases.json.

    venv/bin/pip install astropy==8.0.2 numpy==2.4.6
    venv/bin/python tests/reference/make_sky_cases.py

* A panel's middle is a point of a TAN plane of `astropy.wcs` about the mosaic's centre (wcslib); the angle of its up axis is
  `SkyCoord.position_angle` to a point 1e-4 degrees above it in that plane, and 1e-4 below it, averaged.
* Headers go through `astropy.wcs.WCS`; the angles of the pixel axes are `SkyCoord.position_angle` from CRPIX to 1e-2 pixels on
  either side, averaged; lengths are `SkyCoord.separation`.
"""

import json
import pathlib
import warnings

import astropy
import astropy.units as u
import numpy as np
from astropy.coordinates import SkyCoord
from astropy.io import fits
from astropy.wcs import WCS

warnings.simplefilter("ignore")


def sky(wcs, x, y):
    first, second = wcs.wcs_pix2world([[x, y]], 1)[0] if not wcs.has_distortion else wcs.all_pix2world([[x, y]], 1)[0]
    lon = wcs.wcs.lng
    lon, lat = (first, second) if lon == 0 else (second, first)
    return SkyCoord(lon * u.deg, lat * u.deg)


def middle(a, b):
    return float(np.degrees(np.angle(np.exp(1j * np.radians(a)) + np.exp(1j * np.radians(b)))) % 360)


def direction(wcs, x, y, dx, dy):
    """Position angle and length at (x, y) of the step (dx, dy)."""
    here = sky(wcs, x, y)
    if here.dec.deg == 90:  # every right ascension is right there; north is that of the one in the header
        here = SkyCoord(wcs.wcs.crval[0] * u.deg, 90 * u.deg)
    ahead, behind = sky(wcs, x + dx, y + dy), sky(wcs, x - dx, y - dy)
    angle = middle(here.position_angle(ahead).deg, here.position_angle(behind).deg + 180)
    return angle, float(ahead.separation(behind).arcsec / 2)


def plane(ra, dec):
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval, wcs.wcs.crpix, wcs.wcs.cdelt = [ra, dec], [0, 0], [1, 1]
    wcs.wcs.lonpole = 180  # north up at the pole too, where the default turns to 0
    return wcs


def mosaic(ra, dec, columns, rows, width, height, overlap, angle):
    wcs, a, panels = plane(ra, dec), np.radians(angle), []
    up, right = np.array([np.sin(a), np.cos(a)]), np.array([-np.cos(a), np.sin(a)])
    for r in range(rows):
        for c in range(columns):
            at = (c - (columns - 1) / 2) * width * (1 - overlap) * right + ((rows - 1) / 2 - r) * height * (1 - overlap) * up
            place = sky(wcs, *at)
            pa, _ = direction(wcs, *at, *(1e-4 * up))
            panels.append({"ra_deg": float(place.ra.deg), "dec_deg": float(place.dec.deg), "position_angle_deg": pa})
    return {"center": f"{ra},{dec}", "grid": f"{columns}x{rows}", "frame_deg": f"{width}x{height}",
            "overlap": overlap, "position_angle_deg": angle, "panels": panels}


def image(name, **keys):
    header = fits.Header()
    base = {"CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRPIX1": 3000.5, "CRPIX2": 2000.5, "CRVAL1": 83.8, "CRVAL2": -5.4}
    for key, value in (base | {k.replace("__", "-"): v for k, v in keys.items()}).items():
        header[key] = value
    written = fits.PrimaryHDU(header=header).header
    wcs = WCS(written)
    x, y = header["CRPIX1"], header["CRPIX2"]
    step = 1e-2
    first, sx = direction(wcs, x, y, step, 0)
    second, sy = direction(wcs, x, y, 0, step)
    between = (second - first + 180) % 360 - 180
    return {"name": name, "cards": [str(c) for c in written.cards],
            "position_angle_deg": second, "mirrored": bool(between < 0), "skew_deg": abs(between) - 90,
            "scale_x_arcsec": sx / step, "scale_y_arcsec": sy / step}


def cd(scale, angle, mirrored=False, skew=0.0):
    """CD of a second axis at `angle`, and a first at 90 + skew before it (behind it when mirrored)."""
    b = np.radians(angle)
    a = b + np.radians(90 + skew) * (1 if mirrored else -1)
    return {"CD1_1": scale * np.sin(a), "CD1_2": scale * np.sin(b), "CD2_1": scale * np.cos(a), "CD2_2": scale * np.cos(b)}


def main():
    s = 4e-4
    images = [image(f"CD at {a}", **cd(s, a)) for a in (0.0, 35.0, 90.0, 179.9, 271.3)]
    images += [
        image("CD mirrored", **cd(s, 200.0, True)),
        image("CD skewed", **cd(s, 100.0, False, 2.5)),
        image("CD mirrored and skewed", **cd(s, 10.0, True, -1.5)),
        image("CD and an old CROTA2", CDELT1=-s, CDELT2=s, CROTA2=77.0, **cd(s, 20.0)),
        image("CROTA2", CDELT1=-s, CDELT2=1.5 * s, CROTA2=30.0),
        image("CROTA2 mirrored", CDELT1=s, CDELT2=s, CROTA2=-110.0),
        image("PC and CDELT", CDELT1=-s, CDELT2=2 * s, PC1_1=0.8, PC1_2=-0.6, PC2_1=0.6, PC2_2=0.8),
        image("PC with defaults", CDELT1=-s, CDELT2=s, PC1_2=0.3),
        image("CDELT alone", CDELT1=-s, CDELT2=s),
        image("arcsec", CUNIT1="arcsec", CUNIT2="arcsec", CRVAL1=83.8 * 3600, CRVAL2=-5.4 * 3600,
              **{k: 3600 * v for k, v in cd(s, 60.0).items()}),
        image("swapped axes, CD", CTYPE1="DEC--TAN", CTYPE2="RA---TAN", CRVAL1=-5.4, CRVAL2=83.8,
              CD1_1=s * 0.6, CD1_2=s * 0.8, CD2_1=s * 0.8, CD2_2=-s * 0.6),
        image("swapped axes, CROTA1", CTYPE1="DEC--TAN", CTYPE2="RA---TAN", CRVAL1=-5.4, CRVAL2=83.8,
              CDELT1=s, CDELT2=-1.5 * s, CROTA1=25.0),
        image("beside the pole", CRVAL1=310.0, CRVAL2=89.9, **cd(s, 42.0)),
        image("at the pole", CRVAL1=310.0, CRVAL2=90.0, **cd(s, 42.0)),
        image("at the south pole", CRVAL1=310.0, CRVAL2=-90.0, **cd(s, 42.0)),
        image("LONPOLE", LONPOLE=150.0, **cd(s, 42.0)),
        image("LONPOLE by PV1_3", PV1_3=150.0, CTYPE1="RA---ARC", CTYPE2="DEC--ARC", **cd(s, 42.0)),
        image("SIP", CTYPE1="RA---TAN-SIP", CTYPE2="DEC--TAN-SIP", A_ORDER=2, B_ORDER=2, A_1_0=1e-3, A_0_1=2e-3, B_1_0=-1e-3,
              B_0_1=3e-3, A_2_0=1e-6, B_0_2=-2e-6, **cd(s, 120.0)),
        image("TPV", CTYPE1="RA---TPV", CTYPE2="DEC--TPV", PV1_0=0.1, PV1_1=1.01, PV1_2=0.02, PV2_0=-0.2, PV2_1=0.99, PV2_2=-0.01,
              PV1_4=1e-3, **cd(s, 15.0)),
    ]
    images += [image(f"projection {p}", CTYPE1=f"RA---{p}", CTYPE2=f"DEC--{p}", **cd(s, 220.0)) for p in ("SIN", "STG", "ARC", "ZEA")]
    mosaics = [
        mosaic(83.8, -5.4, 3, 2, 2.8, 1.9, 0.15, 35.0),
        mosaic(0.2, 10.0, 4, 1, 2.0, 1.0, 0.1, 0.0),
        mosaic(210.0, 70.0, 4, 3, 2.8, 1.9, 0.15, 110.0),
        mosaic(100.0, 89.5, 3, 3, 1.0, 0.7, 0.2, 15.0),
        mosaic(45.0, 90.0, 2, 2, 1.0, 0.7, 0.2, 20.0),
        mosaic(359.9, -88.0, 5, 3, 3.0, 2.0, 0.05, 300.0),
        mosaic(12.0, 30.0, 3, 3, 30.0, 20.0, 0.1, 60.0),
    ]
    out = {"source": f"tests/reference/make_sky_cases.py, astropy {astropy.__version__}, numpy {np.__version__}",
           "mosaics": mosaics, "images": images}
    path = pathlib.Path(__file__).parent.parent / "data" / "sky_cases.json"
    path.write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
