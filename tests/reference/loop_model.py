"""Reference implementation of the loop model, written from docs/model.md alone.

One run at a time, scalar, in the order in which docs/model.md tells it; names are
those of that page. It shares no code with the simulator: where the two agree within
their statistical error, the page has been understood the same way twice.

All angles are degrees, all times seconds, as everywhere in the project; names in this
file that are symbols of the model (p, y, eta, Z, tau, theta) carry no unit suffix.

To make the environment (Python 3.11 or later), from the root of the repository:

    python3 -m venv target/reference-venv
    target/reference-venv/bin/pip install -r tests/reference/requirements.txt
    target/reference-venv/bin/python tests/reference/check_loop_model.py
    target/reference-venv/bin/python tests/reference/make_cases.py
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from reference_rig import (
    DIRECT,
    FOLD_ONCE,
    FULL_CIRCLE,
    HYSTERESIS_BAND,
    REFUSED,
    SETTLED,
    UNSETTLED,
    UNSOLVED,
    Rig,
)


class Motion(NamedTuple):
    """What one command did."""

    refused: bool
    moved: bool
    p: float
    y: float
    travel: float
    duration: float
    outside_arc: float
    keep_out: float
    farthest: float  # largest |reading - park| met on the way


class Figures(NamedTuple):
    """Section 6, one run. The order is that of the columns of `run_batch`."""

    outcome: int
    elapsed_s: float
    solves: int
    long_swings: int
    travel_deg: float
    true_error_deg: float
    outside_arc_deg: float
    keep_out_deg: float
    winding_deg: float
    moves: int
    failed_attempts: int


# --- 1. Angles -----------------------------------------------------------------------


@njit
def fold(x: float, start: float, period: float) -> float:
    """x brought into [start, start + period)."""
    folded = start + (x - start) % period
    # Rounding can land on the excluded end; its framing-equal neighbour is the start.
    return start if folded >= start + period else folded


@njit
def residual(x: float, period: float) -> float:
    """x brought into (-period/2, +period/2]."""
    m = x % period
    return m - period if m > period / 2 else m


# --- 2. The plant --------------------------------------------------------------------


@njit
def quantise(goal: float, step: float) -> float:
    """The nearest multiple of step, halves away from zero; step 0 quantises nothing."""
    if step == 0.0:
        return goal
    ratio = goal / step
    size = abs(ratio)
    whole = float(math.floor(size))
    # size - whole is exact, so no value just below a half is pushed over it.
    if size - whole >= 0.5:
        whole += 1.0
    return step * math.copysign(whole, ratio)


@njit
def play(y: float, p: float, backlash: float) -> float:
    """The play operator: the shaft follows only when a flank pushes it."""
    return min(max(y, p - backlash / 2), p + backlash / 2)


@njit
def leg_duration(rig: Rig, length: float) -> float:
    """Time of one leg without the overhead of the command."""
    v, a = rig.speed, rig.acceleration
    if a == 0.0:
        return length / v
    if length >= v * v / a:
        return length / v + v / a
    return 2.0 * math.sqrt(length / a)


@njit
def overlap(a: float, b: float, lo: float, hi: float, endless: bool) -> float:
    """Degrees of the way from a to b inside [lo, hi], mod 360 on an endless drive."""
    left, right = min(a, b), max(a, b)
    if not endless:
        return max(0.0, min(right, hi) - max(left, lo))
    width = min(hi - lo, 360.0)
    # Covered degrees up to x, counted from lo, turn by turn.
    turns_l, turns_r = math.floor((left - lo) / 360.0), math.floor((right - lo) / 360.0)
    rest_l = min(left - lo - 360.0 * turns_l, width)
    rest_r = min(right - lo - 360.0 * turns_r, width)
    return max(0.0, (turns_r - turns_l) * width + rest_r - rest_l)


@njit
def arc_width(rig: Rig) -> float:
    return 360.0 if rig.rule == FULL_CIRCLE else rig.period


@njit
def outside_arc(rig: Rig, a: float, b: float) -> float:
    """Degrees of the way from a to b outside the allowed arc, band included."""
    band = rig.band if rig.rule == HYSTERESIS_BAND else 0.0
    lo, hi = rig.start - band, rig.start + arc_width(rig) + band
    outside = abs(b - a) - overlap(a, b, lo, hi, rig.endless)
    return outside if outside > 1e-9 else 0.0  # less is the rounding of the difference


@njit
def in_keep_out(rig: Rig, a: float, b: float) -> float:
    total = 0.0
    for i in range(rig.keep_out.shape[0]):
        total += overlap(a, b, rig.keep_out[i, 0], rig.keep_out[i, 1], rig.endless)
    return total


@njit
def execute(rig: Rig, p: float, y: float, c: float) -> Motion:
    """Carry out the command c from reading p and shaft y."""
    if rig.endless:
        goal = p + residual(c - p, 360.0)
    else:
        if c < rig.lo or c > rig.hi:
            return Motion(True, False, p, y, 0.0, 0.0, 0.0, 0.0, 0.0)
        goal = c

    last = quantise(goal, rig.step)
    if last == p:
        return Motion(False, False, p, y, 0.0, rig.overhead, 0.0, 0.0, 0.0)

    via = last
    if rig.approach != DIRECT:
        turn = goal + rig.approach * rig.overrun
        if not rig.endless:
            turn = min(max(turn, rig.lo), rig.hi)
        via = quantise(turn, rig.step)
        y = play(y, via, rig.backlash)
    y = play(y, last, rig.backlash)

    if rig.approach == DIRECT:
        travel = abs(last - p)
        duration = leg_duration(rig, travel)
        outside = outside_arc(rig, p, last)
        kept_out = in_keep_out(rig, p, last)
    else:
        first_leg, second_leg = abs(via - p), abs(last - via)
        travel = first_leg + second_leg
        duration = leg_duration(rig, first_leg) + leg_duration(rig, second_leg)
        outside = outside_arc(rig, p, via) + outside_arc(rig, via, last)
        kept_out = in_keep_out(rig, p, via) + in_keep_out(rig, via, last)
    farthest = max(abs(via - rig.park), abs(last - rig.park))
    return Motion(
        False, True, last, y, travel, rig.overhead + duration, outside, kept_out, farthest
    )


@njit
def shaft_angle(rig: Rig, y: float, eta: float) -> float:
    x = (1.0 + rig.gain_error) * y + eta
    for h in range(rig.cycles.shape[0]):
        x += rig.amplitude[h] * math.sin(math.radians(rig.cycles[h] * y + rig.phase[h]))
    return x


# --- 5. Wrap rules -------------------------------------------------------------------


@njit
def command_of(rig: Rig, wanted: float, first: bool) -> float:
    """rule(wanted)."""
    width = arc_width(rig)
    if rig.endless:
        centre = rig.start + width / 2
        wanted = centre + residual(wanted - centre, 360.0)
    if not first:
        if rig.rule == FOLD_ONCE:
            return wanted
        if rig.rule == HYSTERESIS_BAND:
            if rig.start - rig.band <= wanted < rig.start + width + rig.band:
                return wanted
    return fold(wanted, rig.start, width)


# --- 3, 4. The solver and the controller ---------------------------------------------


@njit
def run_one(rig: Rig, tau: float) -> Figures:
    """One run: from park, before the first move, to the end of the last solve."""
    Z = rig.zero_point + rig.zero_point_sigma * np.random.standard_normal()
    p, y, eta, t = rig.park, rig.park, 0.0, 0.0
    solves = long_swings = moves = failed_attempts = 0
    travel = outside = kept_out = winding = true_error = 0.0
    passes = failures_in_a_row = 0
    outcome = UNSETTLED
    wanted = rig.believed_sense * (tau - rig.zero_point)
    first, command_due = True, True

    while True:
        if command_due:
            motion = execute(rig, p, y, command_of(rig, wanted, first))
            if motion.refused:
                outcome = REFUSED
                break
            t += motion.duration
            if motion.moved:
                moves += 1
                eta = rig.repeatability * np.random.standard_normal()
                if not first and abs(motion.p - p) > rig.period / 2:
                    long_swings += 1
                travel += motion.travel
                outside += motion.outside_arc
                kept_out += motion.keep_out
                winding = max(winding, motion.farthest)
            p, y = motion.p, motion.y
            first, command_due = False, False

        if np.random.random() < rig.failure_rate:
            t += rig.exposure + rig.failure_time
            failed_attempts += 1
            failures_in_a_row += 1
            if failures_in_a_row >= rig.max_failures:
                outcome = UNSOLVED
                break
            continue

        failures_in_a_row = 0
        t_theta = t + rig.exposure
        t = t_theta + rig.solve_time
        theta = Z + rig.sense * shaft_angle(rig, y, eta) + rig.field_rotation_rate * t_theta
        true_error = abs(residual(tau - theta, rig.period))
        outlying = np.random.random() < rig.outlier_rate
        spread = rig.outlier if outlying else rig.noise
        theta_hat = theta + rig.bias + spread * np.random.standard_normal()
        solves += 1

        e = residual(tau - theta_hat, rig.period)
        if abs(e) <= rig.tolerance:
            passes += 1
            if passes >= rig.confirm:
                outcome = SETTLED
                break
        else:
            passes = 0
            wanted = p + rig.correction * rig.believed_sense * e
            command_due = True
        if solves >= rig.max_solves:
            break

    return Figures(
        outcome, t, solves, long_swings, travel, true_error, outside, kept_out,
        winding, moves, failed_attempts,
    )  # fmt: skip


@njit
def _run_batch(rig: Rig, tau: float, table: np.ndarray, seed: int) -> None:
    np.random.seed(seed)
    for i in range(table.shape[0]):
        f = run_one(rig, tau)
        table[i, 0] = f.outcome
        table[i, 1] = f.elapsed_s
        table[i, 2] = f.solves
        table[i, 3] = f.long_swings
        table[i, 4] = f.travel_deg
        table[i, 5] = f.true_error_deg
        table[i, 6] = f.outside_arc_deg
        table[i, 7] = f.keep_out_deg
        table[i, 8] = f.winding_deg
        table[i, 9] = f.moves
        table[i, 10] = f.failed_attempts


def run_batch(rig: Rig, tau: float, trials: int, seed: int) -> dict[str, np.ndarray]:
    """`trials` independent runs; one array per name of `Figures`."""
    table = np.zeros((trials, len(Figures._fields)))
    _run_batch(rig, float(tau), table, seed)
    return {name: table[:, i] for i, name in enumerate(Figures._fields)}
