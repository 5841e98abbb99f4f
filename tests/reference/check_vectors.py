#!/usr/bin/env python3
"""Checks test vectors of the wrap rules against exact rational arithmetic (Python's fractions), written from
docs/model.md, section 5, alone.

    halfturn vectors --json - | python3 tests/reference/check_vectors.py
"""
import json
import sys
from fractions import Fraction as F

ROUNDING = F(1, 10**9)


def remainder(x, period):
    return x - (x // period) * period


def residual(x, period):
    rest = remainder(x, period)
    return rest - period if rest > period / 2 else rest


def command(v):
    """The exact command."""
    wanted, start, period = F(v["wanted_deg"]), F(v["arc_start_deg"]), F(v["period_deg"])
    band = F(v["band_deg"]) if v["rule"] == "hysteresis-band" else F(0)
    if v["travel"] == "endless":
        centre = start + period / 2
        wanted = centre + residual(wanted - centre, 360)
    stays = v["correction"] and (
        v["rule"] == "fold-once"
        or v["rule"] == "hysteresis-band" and start - band <= wanted < start + period + band
    )
    return wanted if stays else start + remainder(wanted - start, period)


def check(v):
    start, period, got = F(v["arc_start_deg"]), F(v["period_deg"]), F(v["command_deg"])
    exact = command(v)
    # Whatever rounding does, the same framing, and inside the half-open arc unless a correction may stay outside.
    off = abs(residual(got - exact, period if v["edge"] else 10**9))
    assert off <= ROUNDING, "command"
    if not v["correction"] or v["rule"] in ("full-circle", "half-circle"):
        assert start <= got < start + period, "outside the arc"
    by = got - F(v["wanted_deg"])
    by = residual(by, 360) if v["travel"] == "endless" else by
    assert v["folded"] == (abs(by) > ROUNDING), "folded"
    reading, move = F(v["reading_deg"]), F(v["move_deg"])
    if v["travel"] == "endless":
        assert not v["refused"]
        # Half a turn is as short in either direction.
        assert abs(residual(move - (got - reading), 360)) <= ROUNDING, "short way"
        assert -180 < move <= 180, "not the short way"
    else:
        refused = not F(v["stop_from_deg"]) <= got <= F(v["stop_to_deg"])
        assert v["refused"] == refused, "refused"
        assert abs(move - (0 if refused else got - reading)) <= ROUNDING, "move"


def main():
    vectors = json.load(sys.stdin)["vectors"]
    edges = 0
    for v in vectors:
        try:
            check(v)
        except AssertionError as error:
            sys.exit(f"vector {v['id']}: {error}: {v}")
        edges += v["edge"]
    print(f"{len(vectors)} vectors are right, {edges} of them at an edge")


main()
