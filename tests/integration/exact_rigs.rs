//! Random rigs for the exact method: every feature that it holds, and combinations of them.

use halfturn_engine::rig::{Rig, read};
use halfturn_engine::sample::stream;
use rand::{Rng, RngExt};

/// A rig and a target that were drawn, and what was drawn.
#[derive(Debug)]
pub(crate) struct Drawn {
    pub(crate) rig: Rig,
    pub(crate) target_deg: f64,
    pub(crate) settings: Vec<String>,
}

impl Drawn {
    /// The same with these settings on top.
    pub(crate) fn with(mut self, more: impl IntoIterator<Item = String>) -> Self {
        self.settings.extend(more);
        self.rig = valid(&self.settings);
        self
    }
}

fn valid(settings: &[String]) -> Rig {
    read("", "drawn", settings).unwrap_or_else(|e| panic!("{settings:?}: {e}"))
}

/// The rig number `index` of a seed.
pub(crate) fn drawn(seed: u64, index: u64) -> Drawn {
    let mut draws = Draws(stream(seed, index));
    let settings = draws.settings();
    Drawn {
        rig: valid(&settings),
        target_deg: draws.target(&settings),
        settings,
    }
}

struct Draws<R>(R);

impl<R: Rng> Draws<R> {
    fn share(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    fn happens(&mut self, probability: f64) -> bool {
        self.share() < probability
    }

    fn one_of(&mut self, values: &[f64]) -> f64 {
        values[self.0.random_range(0..values.len())]
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn settings(&mut self) -> Vec<String> {
        let mut set = Vec::new();
        let rules = ["half-circle", "hysteresis-band", "fold-once", "full-circle"];
        set.push(format!("wrap.rule={}", rules[self.0.random_range(0..4)]));
        if self.happens(0.3) {
            set.push(format!("wrap.symmetry={}", self.one_of(&[1.0, 2.0, 4.0])));
        }
        set.push(format!(
            "wrap.arc_start_deg={}",
            self.one_of(&[0.0, 0.0, -37.3, 90.0, 276.5])
        ));
        set.push(format!(
            "wrap.band_deg={}",
            self.one_of(&[0.0, 0.2, 1.0, 15.0])
        ));
        let step = self.one_of(&[0.0, 0.0, 0.002, 0.02, 0.05, 0.3]);
        set.push(format!("drive.step_deg={step}"));
        let repeatability_error = self.one_of(&[0.0, 0.01, 0.03, 0.08]);
        set.push(format!("drive.repeatability_deg={repeatability_error}"));
        let noise = self.one_of(&[0.005, 0.02, 0.06, 0.15]);
        set.push(format!("solve.noise_deg={noise}"));
        let tolerance = 0.06 * 20.0_f64.powf(self.share());
        set.push(format!("loop.tolerance_deg={tolerance:.3}"));
        set.push(format!(
            "drive.zero_point_sigma_deg={}",
            self.one_of(&[0.0, 0.03, 0.3, 1.0])
        ));
        let correction = self.one_of(&[1.0, 1.0, 1.0, 0.7, 1.4]);
        set.push(format!("loop.correction={correction}"));
        let approach = ["direct", "direct", "from-below", "from-above"][self.0.random_range(0..4)];
        set.push(format!("loop.approach={approach}"));
        // Without steps, or with fine ones, the backlash must be smaller than any correction.
        let most_backlash = if step > 0.01 && noise < 0.1 {
            0.4
        } else {
            0.9 * (tolerance * correction - step)
        };
        if self.happens(0.6) && most_backlash > 0.0 {
            let backlash = self.between(0.0, most_backlash);
            set.push(format!("drive.backlash_deg={backlash:.3}"));
        } else {
            set.push("drive.backlash_deg=0".to_owned());
        }
        if self.happens(0.5) {
            let amplitude = self.between(0.02, 0.4);
            let phase = self.one_of(&[0.0, 90.0, 211.0]);
            let cycles = self.one_of(&[1.0, 1.0, 2.0, 3.0]);
            set.push(format!(
                "drive.periodic=[{{ cycles = {cycles}, amplitude_deg = {amplitude:.3}, phase_deg = {phase} }}]"
            ));
        }
        if self.happens(0.3) {
            set.push(format!(
                "drive.gain_error={:.5}",
                self.between(-0.003, 0.003)
            ));
        }
        if self.happens(0.3) {
            set.push(format!("solve.bias_deg={:.3}", self.between(-0.2, 0.2)));
        }
        if self.happens(0.15)
            && (step == 0.0 || step >= 0.02)
            && !set.contains(&"drive.backlash_deg=0.4".to_owned())
        {
            set.push("solve.outlier_rate=0.03".to_owned());
            set.push(format!("solve.outlier_deg={}", self.one_of(&[0.5, 2.0])));
        }
        if self.happens(0.3) {
            set.push(format!("solve.failure_rate={}", self.one_of(&[0.05, 0.4])));
            set.push(format!(
                "solve.max_failures={}",
                self.one_of(&[1.0, 2.0, 4.0])
            ));
        }
        set.push(format!(
            "loop.confirm={}",
            self.one_of(&[1.0, 1.0, 1.0, 2.0, 3.0])
        ));
        set.push(format!(
            "loop.max_solves={}",
            self.one_of(&[1.0, 3.0, 8.0, 20.0])
        ));
        if self.happens(0.2) {
            set.push("drive.sense=-1".to_owned());
            set.push("loop.believed_sense=-1".to_owned());
        } else if self.happens(0.06) {
            set.push("loop.believed_sense=-1".to_owned());
        }
        if self.happens(0.2) {
            set.push("drive.acceleration_deg_per_s2=0.7".to_owned());
        }
        if self.happens(0.25) {
            set.push("drive.travel=stops".to_owned());
            set.push(format!(
                "drive.stop_from_deg={}",
                self.one_of(&[-300.0, -0.15, -20.0])
            ));
            set.push(format!(
                "drive.stop_to_deg={}",
                self.one_of(&[180.1, 250.0, 400.0])
            ));
        }
        set.push(format!(
            "drive.park_deg={}",
            self.one_of(&[90.0, 90.0, 0.0, 171.0])
        ));
        if self.happens(0.3) {
            set.push("keep_out=[{ from_deg = 40.0, to_deg = 60.0, why = \"pier\" }]".to_owned());
        }
        set.push(format!(
            "drive.zero_point_deg={}",
            self.one_of(&[0.0, 0.0, 33.25])
        ));
        set
    }

    /// Half of the targets lie near the seam.
    fn target(&mut self, settings: &[String]) -> f64 {
        let number = |key: &str| {
            settings
                .iter()
                .find_map(|s| s.strip_prefix(&format!("{key}="))?.parse::<f64>().ok())
                .unwrap_or(0.0)
        };
        if self.happens(0.5) {
            let off = self.between(-0.6, 0.6);
            let sense = if number("drive.sense") < 0.0 {
                -1.0
            } else {
                1.0
            };
            (number("drive.zero_point_deg") + sense * number("wrap.arc_start_deg") + off)
                .rem_euclid(360.0)
        } else {
            self.between(0.0, 360.0)
        }
    }
}
