//! Clouds that come and go: the two states of Gilbert (1960), Bell Syst. Tech. J. 39, 1253, in continuous time.
//!
//! The sky is clear or cloudy, and each state lasts for an exponential time. Attempts to solve at equal intervals
//! then see Gilbert's chain. In clouds attempts fail at the clouds' rate, in the clear at the rig's.

use rand::Rng;

use halfturn_engine::run::{FailureRate, Stream, exponential};

/// How cloudy a night is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clouds {
    /// Share of the time that is cloudy, at least 0 and below 1.
    pub share: f64,
    /// Mean length of a cloudy time \[s\].
    pub mean_s: f64,
    /// Probability that an attempt in clouds fails.
    pub failure_rate: f64,
}

impl Clouds {
    /// No clouds.
    pub const NONE: Self = Self {
        share: 0.0,
        mean_s: 600.0,
        failure_rate: 1.0,
    };
}

/// The cloudy times of one night, ascending, since its start \[s\].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cloudy {
    spans: Vec<(f64, f64)>,
    failure_rate: f64,
}

impl Cloudy {
    /// Draws a night of this length \[s\].
    pub(super) fn draw(clouds: &Clouds, length_s: f64, rng: &mut Stream) -> Self {
        let mut spans = Vec::new();
        if clouds.share > 0.0 {
            let clear_s = clouds.mean_s * (1.0 - clouds.share) / clouds.share;
            let mut lasts = |mean_s: f64| exponential(mean_s, rng.next_u64());
            // An exponential time has no memory: the state at the start is like any other.
            let mut at_s = 0.0;
            let mut cloudy = lasts(1.0) < -libm::log(1.0 - clouds.share);
            while at_s < length_s {
                let end_s = at_s + lasts(if cloudy { clouds.mean_s } else { clear_s });
                if cloudy {
                    spans.push((at_s, end_s));
                }
                (at_s, cloudy) = (end_s, !cloudy);
            }
        }
        Self {
            spans,
            failure_rate: clouds.failure_rate,
        }
    }

    /// Time with clouds between two moments \[s\].
    pub(super) fn between_s(&self, from_s: f64, to_s: f64) -> f64 {
        let inside = |(a, b): &(f64, f64)| (b.min(to_s) - a.max(from_s)).max(0.0);
        self.spans.iter().map(inside).sum()
    }

    fn at(&self, at_s: f64) -> bool {
        let next = self.spans.partition_point(|(from, _)| *from <= at_s);
        next > 0 && at_s < self.spans[next - 1].1
    }

    /// The weather of a loop that begins at this time of the night \[s\].
    pub(super) fn since(&self, begin_s: f64) -> Since<'_> {
        Since {
            cloudy: self,
            begin_s,
        }
    }
}

/// The weather from some time on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Since<'a> {
    cloudy: &'a Cloudy,
    begin_s: f64,
}

impl FailureRate for Since<'_> {
    fn failure_rate(&self, rate: f64, at_s: f64) -> f64 {
        if self.cloudy.at(self.begin_s + at_s) {
            // The rig's own failures continue in clouds.
            self.cloudy.failure_rate.max(rate)
        } else {
            rate
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::run::stream;

    /// The share of cloudy times, and how they hang together at a distance d, which for two states in continuous time
    /// is `share + (1 - share) exp(-d (1/mean cloudy + 1/mean clear))`. 20 000 nights, seed 1; bands of five sigma, so
    /// that a right program fails in fewer than one of a million builds.
    /// Shows (sky): clouds: a chain of two states. With: `without_clouds_the_rate_is_that_of_the_rig`,
    /// `sky_night::clouds_end_loops_in_their_share_of_the_time`. Source: Gilbert 1960.
    #[test]
    fn clouds_are_a_chain_of_two_states() {
        let clouds = Clouds {
            share: 0.3,
            mean_s: 400.0,
            failure_rate: 1.0,
        };
        let (mut first, mut both, mut cloudy_s) = (0_u32, 0_u32, 0.0);
        let nights = 20_000;
        let (at_s, apart_s, length_s) = (5000.0, 250.0, 10_000.0);
        for night in 0..nights {
            let found = Cloudy::draw(&clouds, length_s, &mut stream(1, night));
            first += u32::from(found.at(at_s));
            both += u32::from(found.at(at_s) && found.at(at_s + apart_s));
            cloudy_s += found.between_s(0.0, length_s);
        }
        let n = f64::from(u32::try_from(nights).expect("small"));
        let near = |count: u32, expected: f64, of: f64| {
            let sigma = (expected * (1.0 - expected) / of).sqrt();
            (f64::from(count) / of - expected).abs() < 5.0 * sigma
        };
        assert!(near(first, 0.3, n), "{first}");
        let clear_s = 400.0 * 0.7 / 0.3;
        let stays = 0.3 + 0.7 * (-apart_s * (1.0 / 400.0 + 1.0 / clear_s)).exp();
        assert!(
            near(both, stays, f64::from(first)),
            "{both} of {first}, expected {stays}"
        );
        // Variance of a share over a time T: 2 p (1 - p) tau / T with tau the time of correlation.
        let tau_s = 1.0 / (1.0 / 400.0 + 1.0 / clear_s);
        let sigma = (2.0 * 0.3 * 0.7 * tau_s / length_s / n).sqrt();
        assert!((cloudy_s / (n * length_s) - 0.3).abs() < 5.0 * sigma);
    }

    #[test]
    fn without_clouds_the_rate_is_that_of_the_rig() {
        let none = Cloudy::draw(&Clouds::NONE, 1e4, &mut stream(1, 0));
        assert_eq!(
            none,
            Cloudy {
                spans: vec![],
                failure_rate: 1.0
            }
        );
        assert_eq!(none.since(5.0).failure_rate(0.02, 7.0), 0.02);
        // Thin clouds do not stop the rig's own failures.
        let thin = Cloudy {
            spans: vec![(10.0, 20.0)],
            failure_rate: 0.1,
        };
        let at = |rate, at_s| thin.since(5.0).failure_rate(rate, at_s);
        assert_eq!(
            (at(0.02, 6.0), at(0.5, 6.0), at(0.02, 16.0)),
            (0.1, 0.5, 0.02)
        );
    }
}
