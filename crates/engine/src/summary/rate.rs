//! A rate and its interval.

use serde::Serialize;

use super::interval::{Interval, wilson};

/// A rate with its 95 % Wilson score interval. With the exact method the ends are bounds of the error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct Rate {
    /// Share of the runs; 0 without a run.
    pub rate: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Rate {
    /// The rate of `count` in `trials`, with its Wilson score interval.
    #[must_use]
    pub fn of(count: u64, trials: u64) -> Self {
        let Interval { low, high } = wilson(count, trials);
        Self {
            rate: if trials == 0 {
                0.0
            } else {
                count as f64 / trials as f64
            },
            low,
            high,
        }
    }
}
