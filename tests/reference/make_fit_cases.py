"""Logs, and what scipy and statsmodels make of them: writes tests/data/fit_cases.json.

    venv/bin/pip install -r tests/reference/requirements.txt
    venv/bin/python tests/reference/make_fit_cases.py

The logs are simulated from docs/model.md, sections 2 and 3, without the crate. The model is fitted by alternating

* `statsmodels` MixedLM with restricted likelihood: a random intercept for every dwell (rows without a move between them);
* `scipy.optimize.minimize_scalar` over the width of the play, of the generalised least squares sum with these variances.

The standard errors are those of MixedLM with the derivative by the play as one more column. All logs are without outliers and
slips, and the second reading is far from the first, so that only the first dwell hangs on where in the play it began.
"""

import json
import pathlib
import warnings

import numpy as np
import scipy
import scipy.optimize
import statsmodels
from statsmodels.regression.mixed_linear_model import MixedLM


def play(readings, width):
    out, y = [], readings[0]
    for p in readings:
        y = min(max(y, p - width / 2), p + width / 2)
        out.append(y)
    return np.array(out)


def simulate(seed, moves, arc, zero, sense, gain, harmonics, width, repeatability_error, noise, step):
    rng = np.random.default_rng(seed)
    readings, dwells = [90.0], [0]
    for k in range(moves):
        goal = arc[1] if k == 0 else rng.uniform(*arc)
        p = step * np.round(goal / step)
        for _ in range(int(rng.choice([1, 1, 2, 3]))):
            readings.append(p)
            dwells.append(k + 1)
    readings, dwells = np.array(readings), np.array(dwells)
    y = play(readings, width)
    x = (1 + gain) * y + sum(a * np.sin(np.radians(c * y + f)) for c, a, f in harmonics)
    x += rng.normal(0, repeatability_error, moves + 1)[dwells]
    angle = (zero + sense * x + rng.normal(0, noise, len(x))) % 360
    return np.round(readings, 4), np.round(angle, 4), dwells


def columns(y):
    r = np.radians(y)
    return np.column_stack([np.ones_like(y), y, np.cos(r), np.sin(r), np.cos(2 * r), np.sin(2 * r)])


def fit(readings, angle, dwells, sense, zero):
    keep = dwells > 0
    d = dwells[keep]

    def target(y):
        t = sense * angle - y
        near = sense * zero
        return near + (t - near + 180) % 360 - 180

    def model(width):
        y = play(readings, width)
        return columns(y)[keep], target(y)[keep], y

    def gls(width, repeatability_error, noise):
        X, t, _ = model(width)
        n = np.bincount(d)[d]
        # A random intercept with these variances: whiten within each dwell.
        theta = 1 - np.sqrt(noise / (noise + n * repeatability_error))
        mean = lambda v: np.array([v[d == k].mean(axis=0) for k in d])
        Xw, tw = X - theta[:, None] * mean(X), t - theta * mean(t)
        beta, *_ = np.linalg.lstsq(Xw, tw, rcond=None)
        return np.sum((tw - Xw @ beta) ** 2) / noise, beta

    width, repeatability_error, noise = 0.2, 4e-4, 4e-4
    for _ in range(12):
        found = scipy.optimize.minimize_scalar(
            lambda b: gls(b, repeatability_error, noise)[0], bounds=(0, 3), method="bounded", options={"xatol": 1e-9}
        )
        # Near the last width only: the function has kinks.
        found = scipy.optimize.minimize_scalar(
            lambda b: gls(b, repeatability_error, noise)[0],
            bounds=(found.x - 0.02, found.x + 0.02),
            method="bounded",
            options={"xatol": 1e-10},
        )
        width = found.x
        X, t, y = model(width)
        h = 1e-5
        slope = (play(readings, width + h) - play(readings, width - h))[keep] / (2 * h)
        _, g, a1, b1, a2, b2 = gls(width, repeatability_error, noise)[1]
        r = np.radians(y[keep])
        wave = np.radians(1) * (-a1 * np.sin(r) + b1 * np.cos(r) + 2 * (b2 * np.cos(2 * r) - a2 * np.sin(2 * r)))
        J = np.column_stack([X, slope * (1 + g + wave)])
        # The gain error's column is scaled for the optimiser of MixedLM.
        scale = np.array([1, 1 / 180, 1, 1, 1, 1, 1])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            mixed = MixedLM(t, J * scale, groups=d).fit(reml=True, method=["bfgs", "lbfgs"], gtol=1e-10)
        noise, repeatability_error = mixed.scale, float(mixed.cov_re[0, 0])
    beta = np.append(gls(width, repeatability_error, noise)[1], width)
    se = np.asarray(mixed.bse_fe) * scale
    names = ["zero_point_deg", "gain_error", "cos_1_deg", "sin_1_deg", "cos_2_deg", "sin_2_deg", "backlash_deg"]
    beta[0] *= sense
    return {
        "values": dict(zip(names, beta)),
        "standard_errors": dict(zip(names, se)),
        "noise_deg": float(np.sqrt(noise)),
        "repeatability_deg": float(np.sqrt(repeatability_error)),
    }


CASES = {
    "whole turn": dict(seed=1, moves=60, arc=(0, 360), zero=73.1, sense=1, gain=0.0012,
                       harmonics=[(1, 0.12, 40), (2, 0.05, 290)], width=0.23, repeatability_error=0.025, noise=0.02, step=0.02),
    "reversed, zero point at 0": dict(seed=2, moves=80, arc=(-30, 250), zero=0.02, sense=-1, gain=-0.003,
                                      harmonics=[(1, 0.3, 200)], width=0.6, repeatability_error=0.03, noise=0.03, step=0.05),
    "half a turn": dict(seed=3, moves=70, arc=(0, 180), zero=200.0, sense=1, gain=0.0,
                        harmonics=[(1, 0.15, 90)], width=0.1, repeatability_error=0.02, noise=0.01, step=0.02),
}

cases = []
for name, setting in CASES.items():
    readings, angle, dwells = simulate(**setting)
    text = "reading_deg,position_angle_deg\n" + "".join(f"{p:.4f},{a:.4f}\n" for p, a in zip(readings, angle))
    expected = fit(readings, angle, dwells, setting["sense"], setting["zero"])
    cases.append({"name": name, "log": text, "sense": setting["sense"], "expected": expected})
    print(name, json.dumps(expected, indent=1))

out = pathlib.Path(__file__).parent.parent / "data" / "fit_cases.json"
header = {
    "made_by": "tests/reference/make_fit_cases.py",
    "versions": {"numpy": np.__version__, "scipy": scipy.__version__, "statsmodels": statsmodels.__version__},
}
out.write_text(json.dumps({**header, "cases": cases}, indent=1) + "\n")
