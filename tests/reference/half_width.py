"""How often the interval at the end of `batch --half-width` misses the rate, without chance.

Rare events in many runs: counts are Poisson distributed, rates and runs are in half widths, and the exact interval is
that of Garwood (1936). `crates/engine/src/sample/until.rs` takes its three constants from here and tests four rates
with the binomial distribution. Needs numpy and scipy (tried with 2.4 and 1.17).

    python3 tests/reference/half_width.py
"""

import numpy as np
from scipy.stats import gamma, poisson

ERROR, GROWTH, FIRST = 0.045, 1 / 32, 8.0
COUNTS = np.arange(20_000)
LOW = np.where(COUNTS > 0, gamma.ppf(ERROR / 2, np.maximum(COUNTS, 1)), 0.0)
HIGH = gamma.ppf(1 - ERROR / 2, COUNTS + 1)
HALF = 0.5 * (HIGH - LOW)


def missed(rate, first):
    """Share that is missed, and the mean number of runs."""
    going, least, before, runs = np.array([1.0]), 0, 0.0, first
    share = mean = 0.0
    while going.sum() > 1e-10:
        more = rate * (runs - before)
        going = np.convolve(going, poisson.pmf(np.arange(int(more + 10 * more**0.5 + 25)), more))
        counts = least + np.arange(len(going))
        ends = HALF[counts] <= runs
        at_end, weights = counts[ends], going[ends]
        share += weights[(rate * runs < LOW[at_end]) | (rate * runs > HIGH[at_end])].sum()
        mean += runs * weights.sum()
        going, counts = going[~ends], counts[~ends]
        kept = np.nonzero(going > 1e-14)[0]
        if not len(kept):
            break
        going, least = going[kept[0] : kept[-1] + 1], counts[kept[0]]
        before, runs = runs, runs * (1 + GROWTH)
    return share, mean


rates = np.concatenate([np.arange(0.3, 12, 0.02), np.arange(12, 60, 0.25)])
worst = max((max(missed(rate, FIRST * (1 + GROWTH) ** (i / 8))[0] for i in range(8)), rate) for rate in rates)
print(f"worst: {worst[0]:.4f} at {worst[1]:.2f} half widths")
