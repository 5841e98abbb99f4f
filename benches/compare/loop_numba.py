"""The loop of docs/model.md in numba, parallel over stripes of runs: a baseline to time
against. No fast-math; numpy's error model spares the checks for division by zero, and its
floor, ceil and trunc stay floating point, where those of `math` go through integers.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit, prange

from compare_rig import FOLD_ONCE, HYSTERESIS_BAND, Plain, plain_rig

STRIPES = 32
"""Each stripe of the runs has a generator of its own, as generators are not shared between
threads. The generator's ziggurat normals are several times faster than numba's built-in
np.random.standard_normal."""


@njit(inline="always", error_model="numpy")
def residual(x: float, period: float) -> float:
    """x brought into (-period/2, +period/2]."""
    return x - period * np.ceil(x / period - 0.5)


@njit(inline="always", error_model="numpy")
def fold(x: float, start: float, period: float) -> float:
    """x brought into [start, start + period)."""
    folded = x - period * np.floor((x - start) / period)
    return start if folded >= start + period else folded


@njit(inline="always", error_model="numpy")
def command_of(r: Plain, wanted: float, first: bool) -> float:
    if not first and (r.rule == FOLD_ONCE or r.rule == HYSTERESIS_BAND):
        centre = r.start + r.width / 2
        near = centre + residual(wanted - centre, 360.0)
        if r.rule == FOLD_ONCE:
            return near
        if r.start - r.band <= near < r.start + r.width + r.band:
            return near
    return fold(wanted, r.start, r.width)


@njit(inline="always", error_model="numpy")
def quantise(goal: float, step: float) -> float:
    if step == 0.0:
        return goal
    ratio = goal / step
    return step * np.trunc(ratio + math.copysign(0.5, ratio))


@njit(error_model="numpy")
def run_one(r: Plain, tau: float, rng: np.random.Generator) -> tuple[bool, int, int, float]:
    """Settled or not, long swings, solves, elapsed time of one run."""
    Z = r.zero_point + r.zero_point_sigma * rng.standard_normal()
    p, y, eta, t = r.park, r.park, 0.0, 0.0
    swings = 0
    half_play = r.play / 2
    wanted = r.believed_sense * (tau - r.zero_point)
    for k in range(r.max_solves):
        goal = p + residual(command_of(r, wanted, k == 0) - p, 360.0)
        new_p = quantise(goal, r.step)
        t += r.time_per_move
        if new_p != p:
            way = abs(new_p - p)
            t += way / r.speed
            if k > 0 and way > r.period / 2:
                swings += 1
            p = new_p
            y = min(max(y, p - half_play), p + half_play)
            if r.seating > 0.0:
                eta = r.seating * rng.standard_normal()
        x = r.gain * y + eta
        for h in range(r.cycles.size):
            x += r.amplitude[h] * math.sin(math.radians(r.cycles[h]) * y + r.phase_rad[h])
        theta_hat = Z + r.sense * x + r.bias
        if r.noise > 0.0:
            theta_hat += r.noise * rng.standard_normal()
        e = residual(tau - theta_hat, r.period)
        if abs(e) <= r.tolerance:
            return True, swings, k + 1, t
        wanted = p + r.correction * r.believed_sense * e
    return False, swings, r.max_solves, t


@njit(parallel=True, error_model="numpy")
def run_stripes(
    r: Plain, tau: float, trials: int, rngs: tuple[np.random.Generator, ...]
) -> tuple[int, int, int, np.ndarray]:
    settled = 0
    hunting = 0
    solves = 0
    # Summed stripe by stripe, in a fixed order whatever the number of threads.
    settle_time = np.zeros(STRIPES)
    for stripe in prange(STRIPES):
        rng = rngs[stripe]
        time_here = 0.0
        for _ in range(stripe, trials, STRIPES):
            ok, swings, used, t = run_one(r, tau, rng)
            solves += used
            if swings >= 2:
                hunting += 1
            if ok:
                settled += 1
                time_here += t
        settle_time[stripe] = time_here
    return settled, hunting, solves, settle_time


def run(rig: dict[str, Any], target_deg: float, trials: int, seed: int) -> dict[str, Any]:
    """Counts and means over `trials` independent runs; the first call compiles."""
    streams = np.random.SeedSequence(seed).spawn(STRIPES)
    rngs = tuple(np.random.Generator(np.random.SFC64(s)) for s in streams)
    settled, hunting, solves, settle_time = run_stripes(
        plain_rig(rig), float(target_deg), trials, rngs
    )
    return {
        "trials": trials,
        "settled": int(settled),
        "hunting": int(hunting),
        "solves_total": int(solves),
        "settle_time_mean_s": float(settle_time.sum() / settled) if settled else None,
    }
