"""Hand-worked checks of the reference model: `python tests/reference/check_loop_model.py`.

Each function is one statement of docs/model.md, or a few lines of arithmetic done by hand.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
from scipy.stats import norm

import loop_model as m
from cases import LISTING, harmonics, keep_outs, merged
from reference_rig import RULES, disjoint_keep_outs, rig_from_dict

TRIALS = 200_000


def rig(**change: Any) -> m.Rig:
    """An ideal rig (no error of any kind, step 0), then the changes."""
    ideal = {
        "drive": {"step_deg": 0, "backlash_deg": 0, "repeatability_deg": 0,
                  "periodic": [], "zero_point_sigma_deg": 0},
        "solve": {"noise_deg": 0},
    }  # fmt: skip
    return rig_from_dict(merged(merged(copy.deepcopy(LISTING), ideal), change))


def close(a: float, b: float, tol: float = 1e-9) -> None:
    assert abs(a - b) <= tol, (a, b)


def assert_equal(a: float, b: float) -> None:
    assert a == b, (a, b)


def rate_agrees(hits: np.ndarray, expected: float) -> None:
    """A rate within 4.5 standard errors of its closed form."""
    sigma = math.sqrt(max(expected * (1 - expected), 1e-6) / hits.size)
    assert abs(hits.mean() - expected) < 4.5 * sigma, (hits.mean(), expected)


def batch(r: m.Rig, tau: float, trials: int = 1, seed: int = 7) -> dict[str, np.ndarray]:
    return m.run_batch(r, tau, trials, seed)


def check_angles() -> None:
    for x, start, period, want in [
        (0, 0, 180, 0), (180, 0, 180, 0), (-0.5, 0, 180, 179.5), (720.25, 0, 180, 0.25),
        (-91, -90, 180, 89), (89.9, -90, 180, 89.9), (10, 350, 360, 370),
    ]:  # fmt: skip
        close(m.fold(float(x), float(start), float(period)), want)
    for x, period, want in [
        (90, 180, 90), (-90, 180, 90), (90.5, 180, -89.5), (180, 360, 180), (-180, 360, 180),
        (359.8, 180, -0.2), (45, 90, 45), (46, 90, -44),
    ]:  # fmt: skip
        close(m.residual(float(x), float(period)), want)
    for origin in (0.0, 100.0, -30.0, 0.1):
        for span in (90.0, 180.0, 360.0):
            for tiny in (1e-17, 1e-14, 3e-14, 1e-300):
                for turn in range(-3, 4):
                    f = m.fold(origin + turn * span - tiny, origin, span)
                    assert origin <= f < origin + span
                    r = m.residual(turn * span / 2 - tiny, span)
                    assert -span / 2 < r <= span / 2


def check_quantise() -> None:
    for goal, step, want in [
        (0.25, 0.5, 0.5), (-0.25, 0.5, -0.5), (0.75, 0.5, 1.0), (-0.75, 0.5, -1.0),
        (1.25, 0.5, 1.5), (0.24999, 0.5, 0.0), (7.3, 0.0, 7.3), (-1.04, 0.7, -0.7),
    ]:  # fmt: skip
        close(m.quantise(goal, step), want)
    # The largest number below a half, which adding a half would round up.
    assert m.quantise(0.49999999999999994, 1.0) == 0.0


def check_motion() -> None:
    r = rig()
    d = m.execute(r, 350.0, 350.0, 10.0)  # the short way, readings keep counting
    close(d.p, 370.0)
    close(d.travel, 20.0)
    close(d.duration, 1 + 20 / 3)
    close(d.farthest, 280)
    close(m.execute(r, 0.0, 0.0, 180.0).p, 180.0)
    close(m.execute(r, 0.0, 0.0, -180.0).p, 180.0)
    stay = m.execute(rig(drive={"step_deg": 0.5}), 10.0, 9.0, 10.2)
    assert not stay.moved and stay.y == 9.0 and stay.duration == 1.0 and stay.travel == 0.0

    stops = {"travel": "stops", "stop_from_deg": -10, "stop_to_deg": 370}
    r = rig(drive=stops)
    close(m.execute(r, 350.0, 350.0, 10.0).travel, 340.0)
    assert not m.execute(r, 0.0, 0.0, 370.0).refused and not m.execute(r, 0.0, 0.0, -10.0).refused
    out = m.execute(r, 5.0, 5.0, 370.0001)
    assert out.refused and out.duration == 0.0

    r = rig(drive={"speed_deg_per_s": 2, "acceleration_deg_per_s2": 1})
    close(m.leg_duration(r, 4.0), 4.0)
    close(m.leg_duration(r, 10.0), 7.0)
    close(m.leg_duration(r, 1.0), 2.0)
    close(m.leg_duration(r, 0.0), 0.0)

    # One-sided approach: 90 -> 49 -> 50, shaft pushed up to 50 - B/2 whatever it did before.
    r = rig(drive={"backlash_deg": 0.4}, loop={"approach": "from-below"})
    for p, y in ((90.0, 90.2), (20.0, 19.8)):
        a = m.execute(r, p, y, 50.0)
        close(a.p, 50.0)
        close(a.y, 49.8)
        close(a.travel, abs(p - 49) + 1)
    a = m.execute(
        rig(drive={**stops, "backlash_deg": 0.4}, loop={"approach": "from-below"}), 3.0, 3.2, -9.7
    )
    close(a.travel, 13.0 + 0.3)
    close(a.y, -9.8)  # overrun cut at -10: 0.3 is less than the play
    a = m.execute(
        rig(drive={"backlash_deg": 0.4}, loop={"approach": "from-above"}), 20.0, 19.8, 50.0
    )
    close(a.travel, 31.0 + 1.0)
    close(a.y, 50.2)
    close(a.farthest, 40.0)


def check_sectors() -> None:
    sectors = keep_outs((350, 10), (5, 30), (-100, -70))
    union = disjoint_keep_outs(sectors, True)
    assert np.allclose(union, [[0, 30], [260, 290], [350, 360]])
    r = rig()._replace(keep_out=union)
    close(m.in_keep_out(r, -30.0, 50.0), 40.0)
    close(m.in_keep_out(r, 50.0, -30.0), 40.0)
    close(m.in_keep_out(r, 330.0, 330.0 + 720.0), 140.0)
    close(m.in_keep_out(r, 715.0, 725.0), 10.0)
    close(m.outside_arc(r, 170.0, 200.0), 20.0)
    close(m.outside_arc(r, 350.0, 365.0), 10.0)
    close(m.outside_arc(r, -361.0, -359.0), 1.0)
    band = rig(wrap={"rule": "hysteresis-band", "band_deg": 2})
    close(m.outside_arc(band, 170.0, 200.0), 18.0)
    close(m.outside_arc(band, 175.0, 365.0), 176.0)
    close(m.outside_arc(rig(wrap={"rule": "full-circle", "arc_start_deg": 33}), -500.0, 900.0), 0.0)
    line = rig(drive={"travel": "stops", "stop_from_deg": -400, "stop_to_deg": 800})
    close(m.outside_arc(line, -20.0, 380.0), 220.0)


def check_rules() -> None:
    endless = {name: rig(wrap={"rule": name}) for name in RULES}
    close(m.command_of(endless["half-circle"], -0.5, False), 179.5)
    close(m.command_of(endless["full-circle"], -0.5, False), 359.5)
    close(m.command_of(endless["hysteresis-band"], -0.5, True), 179.5)
    close(m.command_of(endless["hysteresis-band"], -0.5, False), -0.5)
    close(m.command_of(endless["hysteresis-band"], 359.5, False), -0.5)  # a turn away is near
    close(m.command_of(endless["hysteresis-band"], -2.0, False), -2.0)
    close(m.command_of(endless["hysteresis-band"], -2.1, False), 177.9)
    close(m.command_of(endless["hysteresis-band"], 182.0, False), 2.0)  # the upper end is open
    close(m.command_of(endless["fold-once"], -0.5, True), 179.5)
    close(m.command_of(endless["fold-once"], 200.0, False), 200.0)
    stops = {"travel": "stops", "stop_from_deg": -400, "stop_to_deg": 800}
    close(m.command_of(rig(drive=stops, wrap={"rule": "fold-once"}), 700.0, False), 700.0)
    close(m.command_of(rig(drive=stops, wrap={"rule": "hysteresis-band"}), 359.5, False), 179.5)


def check_play_loop() -> None:
    """A closed loop of the input: the output lags by B/2 each way, B in all."""
    B, y = 0.6, 0.0
    seen: dict[float, list[float]] = {}
    for p in (5.0, 10.0, 5.0, 0.0, 5.0):
        y = m.play(y, p, B)
        seen.setdefault(p, []).append(y)
    close(seen[5.0][0], 4.7)
    close(seen[5.0][1], 5.3)
    close(seen[5.0][2], 4.7)
    close(seen[5.0][1] - seen[5.0][0], B)
    # In the loop: parked at 90, target 30 comes from above: error +B/2; the reversal to
    # 29.7 goes on downwards and lands right. So two solves, and time by hand.
    f = batch(rig(drive={"backlash_deg": B}, loop={"tolerance_deg": 0.1}), 30.0)
    assert f["outcome"][0] == m.SETTLED and f["solves"][0] == 2
    close(f["travel_deg"][0], 60.3)
    close(f["elapsed_s"][0], 2 * (1 + 7) + 60.3 / 3)
    close(f["winding_deg"][0], 60.3)
    # Drift up between moves makes the second move a reversal that only takes up play.
    r = rig(drive={"backlash_deg": B})
    a = m.execute(r, 90.0, 90.0, 30.0)
    close(a.y, 30.3)
    close(m.execute(r, a.p, a.y, 30.0 + B).y, 30.3)


def check_seam_hunting() -> None:
    """Section 7: A = 0.4, no noise, target 0 on the seam."""
    A = 0.4
    shaft = {"periodic": harmonics((1, A, 90.0))}
    for tolerance, expected in ((0.1, 1), (0.39, 1), (0.41, 0), (0.79, 0), (0.81, 0)):
        f = batch(rig(drive=shaft, loop={"tolerance_deg": tolerance}), 0.0)
        assert (f["long_swings"][0] >= 2) == expected, tolerance
        # Every correction is a long swing, for ever.
        assert f["long_swings"][0] == (19 if expected else 0)
        assert f["outcome"][0] == (m.UNSETTLED if expected else m.SETTLED)
        assert f["solves"][0] == (20 if expected else 1)
    # With a zero-point error Z the first residual is A + Z in size; beyond T on the side of
    # the seam it makes the loop fold to 180 - A - Z, residual 2A, wanted 180 + A - Z. That
    # folds again only if Z < A. So the loop hunts for T - A < Z < A and else walks off.
    z = 0.3
    for tolerance in (0.2, 0.5, 0.7):
        f = batch(
            rig(drive={**shaft, "zero_point_sigma_deg": z}, loop={"tolerance_deg": tolerance}),
            0.0,
            TRIALS,
        )
        rate_agrees(f["long_swings"] >= 2, norm.cdf(A / z) - norm.cdf((tolerance - A) / z))
    f = batch(
        rig(drive={**shaft, "zero_point_sigma_deg": z}, loop={"tolerance_deg": 2 * A + 1e-3}),
        0.0,
        TRIALS,
    )
    assert not (f["long_swings"] >= 2).any()
    # The cures: fold once, a band wider than 2A, a seam elsewhere.
    for wrap in (
        {"rule": "fold-once"},
        {"rule": "hysteresis-band", "band_deg": 0.9},
        {"arc_start_deg": -90},
    ):
        f = batch(rig(drive=shaft, loop={"tolerance_deg": 0.1}, wrap=wrap), 0.0)
        assert f["long_swings"][0] == 0 and f["outcome"][0] == m.SETTLED
    # The first two commands by hand: 0, then 180 - A; the second error is about 2A.
    f = batch(rig(drive=shaft, loop={"tolerance_deg": 0.1, "max_solves": 2}), 0.0)
    close(f["travel_deg"][0], 90 + 180 - A)
    close(f["true_error_deg"][0], 2 * A, 2e-4)


def check_closed_forms() -> None:
    """Section 8: noise s and zero-point sigma z only, far from the seam."""
    s, z, T = 0.2, 0.3, 0.25
    change = {"drive": {"zero_point_sigma_deg": z}, "solve": {"noise_deg": s}}
    f = batch(rig(**change, loop={"tolerance_deg": T, "max_solves": 8}), 80.0, TRIALS)
    first = 2 * norm.cdf(T / math.hypot(z, s)) - 1
    rate_agrees((f["solves"] == 1) & (f["outcome"] == m.SETTLED), first)
    # An independent pair: a zero point as good as the noise, z = s.
    twin = rig(
        drive={"zero_point_sigma_deg": s},
        solve={"noise_deg": s},
        loop={"tolerance_deg": T, "max_solves": 1},
    )
    rate_agrees(
        batch(twin, 80.0, TRIALS)["outcome"] == m.SETTLED, 2 * norm.cdf(T / (s * math.sqrt(2))) - 1
    )
    # The rejection chain: density of e_k over the runs still unsettled after solve k.
    v = np.linspace(-8 * s, 8 * s, 3201)
    dv = v[1] - v[0]
    phi = norm.pdf(v, scale=s)
    inside = norm.cdf(T - v, scale=z) - norm.cdf(-T - v, scale=z)
    density = phi * (1 - inside)
    for k in range(1, 9):
        rejected = float(density.sum() * dv)
        unsettled = (f["solves"] > k) | (f["outcome"] == m.UNSETTLED)
        rate_agrees(unsettled, rejected)
        # integral of f_k over |u - v| > T = whole less the window, by the running integral
        running = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) * dv / 2)])
        window = np.interp(v + T, v, running) - np.interp(v - T, v, running)
        density = phi * (running[-1] - window)


def check_wrong_sense() -> None:
    """Every correction doubles the error, mod the period."""
    change = {"loop": {"believed_sense": -1, "tolerance_deg": 1e-6}}
    r = rig(**change)
    errors = [batch(r._replace(max_solves=k), 0.7)["true_error_deg"][0] for k in range(1, 12)]
    e = 1.4  # wanted -0.7, so the first error is 2 * 0.7
    for seen in errors:
        close(seen, abs(m.residual(e, 180.0)), 1e-7)
        e *= 2
    assert batch(r, 0.7)["outcome"][0] == m.UNSETTLED


def check_solver() -> None:
    q = 0.3
    f = batch(rig(solve={"failure_rate": q, "max_failures": 2}), 90.0, TRIALS)
    rate_agrees(f["outcome"] == m.UNSOLVED, q * q)
    one = (f["outcome"] == m.SETTLED) & (f["failed_attempts"] == 1)
    close(float(np.unique(f["elapsed_s"][one])[0]), 1 + 24 + 7)
    assert set(np.unique(f["elapsed_s"][f["outcome"] == m.UNSOLVED])) == {49.0}
    # A good solve between resets the count: two solves always, each with one failure allowed.
    f = batch(rig(solve={"failure_rate": q, "max_failures": 2}, loop={"confirm": 2}), 90.0, TRIALS)
    rate_agrees(f["outcome"] == m.UNSOLVED, 1 - (1 - q * q) ** 2)
    # Outliers alone decide the first solve: P(|N(0, 2)| > T) * rate.
    f = batch(rig(solve={"outlier_rate": 0.2}, loop={"max_solves": 1}), 90.0, TRIALS)
    rate_agrees(f["outcome"] == m.UNSETTLED, 0.2 * 2 * norm.sf(0.5 / 2.0))
    # The bias is believed: settled with the bias as true error.
    f = batch(rig(solve={"bias_deg": 0.7}), 60.0)
    close(f["true_error_deg"][0], 0.7)
    assert_equal(f["solves"][0], 2)


def check_controller() -> None:
    # Confirming costs no overhead: move 1 + 10, three times 7.
    f = batch(rig(loop={"confirm": 3}), 60.0)
    close(f["elapsed_s"][0], 1 + 10 + 21)
    assert_equal(f["moves"][0], 1)
    f = batch(rig(loop={"confirm": 3, "max_solves": 2}), 60.0)
    assert_equal(f["outcome"][0], m.UNSETTLED)
    # Half a correction halves the error. Zero cycles a turn make a constant offset of 8:
    # 8, 4, 2, 1, 0.5, and readings 60, 56, 54, 53, 52.5.
    offset = {"periodic": harmonics((0, 8.0, 90.0))}
    f = batch(rig(drive=offset, loop={"correction": 0.5, "tolerance_deg": 0.51}), 60.0)
    assert_equal(f["solves"][0], 5)
    close(f["true_error_deg"][0], 0.5)
    close(f["travel_deg"][0], 37.5)
    # Field rotation: theta at the end of the first exposure, t = 1 + 10 + 4.
    f = batch(rig(loop={"field_rotation_deg_per_s": 0.02}), 60.0)
    close(f["true_error_deg"][0], 0.3)
    # Refused: the first command already, at no cost.
    f = batch(rig(drive={"travel": "stops", "stop_from_deg": 10, "stop_to_deg": 170}), 5.0)
    assert f["outcome"][0] == m.REFUSED and f["elapsed_s"][0] == 0 and f["moves"][0] == 0
    # Sense -1 believed rightly is as good as +1.
    f = batch(rig(drive={"sense": -1, "zero_point_deg": 20}, loop={"believed_sense": -1}), 50.0)
    close(f["true_error_deg"][0], 0.0)
    close(f["travel_deg"][0], 60.0)  # -30 folds to 150


def main() -> None:
    passed = 0
    for name, check in list(globals().items()):
        if name.startswith("check_"):
            check()
            passed += 1
            print(f"ok {name}")
    print(f"{passed} passed, 0 failed")


if __name__ == "__main__":
    main()
