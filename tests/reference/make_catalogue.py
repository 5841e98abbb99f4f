"""The extract of OpenNGC that is built into the program: writes assets/catalogue/openngc.csv and its licence.

    venv/bin/pip install pyongc==1.2.2
    venv/bin/python tests/reference/make_catalogue.py

OpenNGC (Mattia Verga, CC-BY-SA-4.0) comes with the package PyOngc as a table of SQLite. Kept are objects with a place, that are no single or
multiple stars and no doubtful or doubled entries (but for Messier's), and are of Messier's list, of Caldwell's (identifier C), have a common name, are nebulae, or
appear at least 8 arcminutes long (galaxies 5). M 40 and M 102 are kept as well. Changed against the source: rows and columns left out, radians
made degrees with five decimals (0.04 arcseconds), names written without padding zeros, and the names of ADDED, which OpenNGC lacks or gives to a part
of a nebula away from its middle. OpenNGC has no Sharpless numbers.
"""

import math
import pathlib
import re
import shutil
import sqlite3

import pyongc

HEAD = """# An extract of OpenNGC by Mattia Verga, taken from the package PyOngc 1.2.2. Licence: CC-BY-SA-4.0, see LICENSE-CC-BY-SA-4.0.txt.
# Changed: rows and columns left out, degrees for radians, names without padding zeros, some common names (tests/reference/make_catalogue.py).
"""
# Common names (common practice, no published source). NGC 2239 is the cluster in the middle of the Rosette; NGC 2237 and 2238 are parts in its west.
ADDED = {"IC1805": ["Heart Nebula"], "IC1848": ["Soul Nebula"], "NGC2264": ["Cone Nebula"], "NGC2239": ["Rosette Nebula"]}
REMOVED = {"NGC2238": ["Rosette Nebula"]}
STARS = ("*", "**", "Dup", "NonEx", "Other", "Nova")
NEBULAE = ("PN", "SNR", "EmN", "Neb", "RfN", "HII", "Cl+N", "DrkN")


def plain(name):
    """NGC0224 -> NGC 224; what is no letters and number stays."""
    found = re.fullmatch(r"([A-Za-z]+) ?0*([0-9]+)(.*)", name.strip())
    return f"{found[1]} {found[2]}{found[3]}" if found else name.strip()


def main():
    source = pathlib.Path(pyongc.__file__).parent
    rows = sqlite3.connect(source / "ongc.db").execute(
        "select name, type, ra, dec, majax, messier, identifiers, commonnames from objects where ra is not null")
    kept = []
    for name, kind, ra, dec, size, messier, identifiers, common in rows:
        others = [i for i in (identifiers or "").split(",") if re.fullmatch(r"(C|Sh2-?|LBN|B) ?[0-9]+", i.strip())]
        caldwell = any(i.strip().startswith("C ") for i in others)
        great = (size or 0) >= (5 if kind == "G" else 8)
        special = name in ("M040", "M102")
        of_messier = messier and kind != "Dup"
        if not special and not of_messier and (kind in STARS or not (messier or caldwell or common or kind in NEBULAE or great)):
            continue
        names = [plain(name)]
        if messier and not special:
            names.append(f"M {int(messier)}")
        names += [plain(i) for i in others] + [c.strip() for c in (common or "").split(",") if c.strip()]
        names = [n for n in names if n not in REMOVED.get(name, [])] + ADDED.get(name, [])
        assert not any(c in n for n in names for c in '";\n')
        kept.append((names, math.degrees(ra), math.degrees(dec)))
    folder = pathlib.Path(__file__).parent.parent.parent / "assets" / "catalogue"
    with open(folder / "openngc.csv", "w", encoding="utf-8") as out:
        out.write(HEAD + "ra_deg,dec_deg,names\n")
        for names, ra, dec in sorted(kept):
            out.write(f"{ra:.5f},{dec:.5f},{';'.join(dict.fromkeys(names))}\n")
    licences = next(source.parent.glob("pyongc-*.dist-info/licenses/LICENSES"))
    shutil.copy(licences / "CC-BY-SA-4.0.txt", folder / "LICENSE-CC-BY-SA-4.0.txt")
    print(len(kept), "objects")


if __name__ == "__main__":
    main()
