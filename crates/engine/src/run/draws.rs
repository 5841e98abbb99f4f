//! The random numbers of a run, one event after another.

use rand::Rng;

use super::normal::{normal_pair, uniform};

/// Draws from a stream. A source without effect draws nothing.
///
/// It draws normal deviates in pairs: repeatability error and noise of one turn of the loop. Whether the drive moves,
/// or has a command at all, makes no difference, and policies on equal streams stay in step.
#[derive(Debug)]
pub(super) struct Draws<'a, R> {
    rng: &'a mut R,
    /// Whether repeatability error or solve noise has an effect.
    normals: bool,
    /// The noise of this turn, drawn together with its repeatability error.
    noise: Option<f64>,
}

impl<'a, R: Rng> Draws<'a, R> {
    pub(super) fn new(rng: &'a mut R, normals: bool) -> Self {
        Self {
            rng,
            normals,
            noise: None,
        }
    }

    /// The error of the zero point \[deg\], drawn once and before everything else.
    pub(super) fn zero_point_deg(&mut self, sigma_deg: f64) -> f64 {
        if sigma_deg == 0.0 {
            0.0
        } else {
            sigma_deg * self.pair().0
        }
    }

    /// The repeatability error of a command, in sigma.
    #[inline]
    pub(super) fn repeatability_error(&mut self) -> f64 {
        if !self.normals {
            return 0.0;
        }
        let (repeatability_error, noise) = self.pair();
        self.noise = Some(noise);
        repeatability_error
    }

    /// The noise of a solve, in sigma: drawn with the last command, or now if the turn had none.
    #[inline]
    pub(super) fn noise(&mut self) -> f64 {
        if !self.normals {
            return 0.0;
        }
        match self.noise.take() {
            Some(noise) => noise,
            None => self.pair().1,
        }
    }

    /// True with this probability.
    #[inline]
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        // A uniform deviate lies in [0, 1): never below 0, always below 1.
        probability > 0.0 && uniform(self.rng.next_u64()) < probability
    }

    fn pair(&mut self) -> (f64, f64) {
        normal_pair(self.rng.next_u64(), self.rng.next_u64())
    }
}
