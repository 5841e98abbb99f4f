"""Real FITS headers that astropy carries for its tests, and what astropy makes of them: writes tests/data/real_headers.json.

    venv/bin/pip install astropy==8.0.2 numpy==2.4.6
    venv/bin/python tests/reference/make_real_headers.py

Kept are the cards of the description of the sky and their neighbours, as they stand in the file, without history and comments; NAXIS is 0, since
no pixels come along. Source: `astropy/wcs/tests/data` and `astropy/io/fits/tests/data` of the package, BSD 3-clause licence (tests/data/LICENSE-astropy.rst).
"""

import json
import pathlib
import shutil
import warnings

import astropy
import numpy as np
from astropy.io import fits
from astropy.wcs import WCS

from make_sky_cases import direction

warnings.simplefilter("ignore")
ROOT = pathlib.Path(astropy.__file__).parent
FILES = [("wcs/tests/data/irac_sip.hdr", 0), ("wcs/tests/data/sip.fits", 0), ("wcs/tests/data/siponly.hdr", 0), ("wcs/tests/data/tpvonly.hdr", 0),
         ("wcs/tests/data/dist.fits", 0), ("wcs/tests/data/j94f05bgq_flt.fits", 1), ("wcs/tests/data/ie6d07ujq_wcs.fits", 1),
         ("wcs/tests/data/dss.14.29.56-62.41.05.fits.gz", 0), ("wcs/tests/data/2wcses.hdr", 0), ("wcs/tests/data/outside_sky.hdr", 0),
         ("wcs/tests/data/sip2.fits", 0), ("wcs/tests/data/zpn-hole.hdr", 0), ("wcs/tests/data/validate.fits", 0),
         ("wcs/tests/data/3d_cd.hdr", 0), ("io/fits/tests/data/test0.fits", 0), ("io/fits/tests/data/o4sp040b0_raw.fits", 1),
         ("wcs/tests/data/maps/1904-66_TAN.hdr", 0), ("wcs/tests/data/maps/1904-66_SIN.hdr", 0), ("wcs/tests/data/maps/1904-66_ZEA.hdr", 0),
         ("wcs/tests/data/maps/1904-66_ARC.hdr", 0), ("wcs/tests/data/maps/1904-66_STG.hdr", 0), ("wcs/tests/data/maps/1904-66_AIT.hdr", 0)]
STARTS = ("CTYPE", "CRPIX", "CRVAL", "CDELT", "CROTA", "CUNIT", "CD", "PC", "PV", "LONPOLE", "LATPOLE", "RADESYS", "RADECSYS", "EQUINOX", "EPOCH", "A_", "B_",
          "AP_", "BP_", "DATE-OBS", "TELESCOP", "INSTRUME", "WCSAXES", "WCSDIM", "PLTSCALE")


def read(path, number):
    if path.suffix == ".hdr":
        text = path.read_bytes().decode("ascii", "replace")
        return fits.Header.fromstring(text, sep="\n" if "\n" in text else "")
    with fits.open(path) as hdus:
        return hdus[number].header


def main():
    cases = []
    for name, number in FILES:
        header = read(ROOT / name, number)
        kept = [c for c in header.cards if c.keyword.startswith(STARTS) and isinstance(c.keyword, str)]
        cards = ["SIMPLE  =                    T", "BITPIX  =                    8", "NAXIS   =                    0"]
        cards += [str(c).rstrip() for c in kept if len(str(c)) <= 80]
        case = {"name": pathlib.Path(name).name, "extension": number, "cards": cards}
        small = fits.Header([fits.Card.fromstring(c) for c in cards])
        try:
            wcs = WCS(small, naxis=2)
            if not wcs.has_celestial:
                raise ValueError("not celestial")
            x, y = small["CRPIX1"], small["CRPIX2"]
            step = 1e-2
            first, sx = direction(wcs, x, y, step, 0)
            second, sy = direction(wcs, x, y, 0, step)
            between = (second - first + 180) % 360 - 180
            if not np.isfinite([first, second, sx, sy]).all():
                raise ValueError("no place at CRPIX")
            case |= {"position_angle_deg": second, "mirrored": bool(between < 0), "skew_deg": abs(between) - 90,
                     "scale_x_arcsec": sx / step, "scale_y_arcsec": sy / step, "ctype": wcs.wcs.ctype[0]}
        except Exception as error:
            case["astropy"] = str(error).splitlines()[0][:100]
        cases.append(case)
    data = pathlib.Path(__file__).parent.parent / "data"
    out = {"source": f"tests/reference/make_real_headers.py, astropy {astropy.__version__} and its test data, numpy {np.__version__}", "cases": cases}
    (data / "real_headers.json").write_text(json.dumps(out, indent=1) + "\n")
    licence = next((ROOT.parent / f"astropy-{astropy.__version__}.dist-info").rglob("LICENSE.rst"))
    shutil.copy(licence, data / "LICENSE-astropy.rst")
    for c in cases:
        print(c["name"], c.get("ctype"), c.get("position_angle_deg"), c.get("mirrored"), c.get("skew_deg"), c.get("scale_x_arcsec"), c.get("astropy"), len(c["cards"]))


if __name__ == "__main__":
    main()
