//! Random rigs with lists of targets: every feature that a verdict can depend on, and combinations of them.

use halfturn_engine::rig::{Rig, commented, read};
use halfturn_engine::sample::stream;
use halfturn_engine::scenario::{Target, read_targets, with_flips};
use halfturn_engine::verdict::Limits;
use rand::{Rng, RngExt};

/// A rig and a list that were drawn, and what was drawn.
#[derive(Debug)]
pub(super) struct Case {
    pub(super) name: String,
    pub(super) rig: Rig,
    pub(super) targets: Vec<Target>,
    /// The targets file without the flips.
    pub(super) list: String,
    /// Every target is judged also after a meridian flip.
    pub(super) flips: bool,
    pub(super) limits: Limits,
}

impl Case {
    /// The rig file.
    pub(super) fn rig_file(&self) -> String {
        commented(&self.rig)
    }

    /// For the message of a test that fails.
    pub(super) fn told(&self) -> String {
        let (rig, flips) = (self.rig_file(), self.flips);
        let keys = rig.lines().filter(|l| !l.trim_start().starts_with('#'));
        let keys: Vec<&str> = keys.filter(|l| !l.trim().is_empty()).collect();
        format!(
            "{}, flips {flips}, {:?}\n{}\n{}",
            self.name,
            self.limits,
            keys.join("\n"),
            self.list
        )
    }

    /// The same without flips: every run begins parked.
    pub(super) fn parked(self) -> Self {
        Self {
            targets: read_targets(&self.list, "drawn").unwrap_or_else(|e| panic!("{e}")),
            flips: false,
            limits: Limits::default(),
            ..self
        }
    }

    /// A list with flips for a drive between stops, parked at 90, with a keep-out between there and 0.
    pub(super) fn with_keep_out_below_park(angles_deg: &[f64]) -> Self {
        let settings = [
            "wrap.rule=full-circle",
            "wrap.arc_start_deg=-45",
            "drive.travel=stops",
            "drive.stop_from_deg=-90",
            "drive.stop_to_deg=450",
            "drive.park_deg=90",
            "keep_out=[{from_deg=20, to_deg=60}]",
        ];
        let settings = settings.map(str::to_owned);
        let case = Self::new("keep-out below park".to_owned(), &settings, angles_deg);
        Self {
            targets: with_flips(case.targets),
            flips: true,
            ..case
        }
    }

    /// A case of drawn settings and position angles.
    fn new(name: String, settings: &[String], angles_deg: &[f64]) -> Self {
        let rig = read("", "drawn", settings).unwrap_or_else(|e| panic!("{settings:?}: {e}"));
        let rows = angles_deg.iter().enumerate();
        let rows = rows.map(|(i, deg)| format!("T{i},{deg}\n"));
        let list = format!("name,position_angle_deg\n{}", rows.collect::<String>());
        Self {
            name,
            rig,
            targets: read_targets(&list, "drawn").unwrap_or_else(|e| panic!("{list}: {e}")),
            list,
            flips: false,
            limits: Limits::default(),
        }
    }
}

/// A rig of any kind.
pub(super) fn any(seed: u64, index: u64) -> Case {
    let mut draws = Draws(stream(seed, index));
    let d = &mut draws;
    let mut set = Vec::new();
    let turn = Turn::drawn(d, &mut set);
    d.errors(&mut set);
    d.obstacles(&mut set, turn, &[0, 0, 1, 1, 2, 3]);
    d.solver(&mut set);
    d.extras(&mut set);
    let tolerance_deg = 0.02 * 100.0_f64.powf(d.share());
    set.push(format!("loop.tolerance_deg={tolerance_deg:.3}"));
    let targets = 1 + d.0.random_range(0..6);
    let angles_deg = d.targets(turn, targets);
    let flips = d.happens(0.2);
    let limits = Limits {
        max_fault: d.one_of(&[0.001, 0.01]),
        ..Limits::default()
    };
    let mut case = Case::new(format!("any-{seed}-{index}"), &set, &angles_deg);
    if flips {
        case.targets = with_flips(case.targets);
    }
    Case {
        flips,
        limits,
        ..case
    }
}

/// A rig whose trouble is the way: keep-outs, stops and cable; its errors are small enough for some arc to serve.
pub(super) fn obstructed(seed: u64, index: u64) -> Case {
    let mut draws = Draws(stream(seed, index));
    let d = &mut draws;
    let mut set = Vec::new();
    let turn = Turn::drawn(d, &mut set);
    d.errors(&mut set);
    d.obstacles(&mut set, turn, &[1, 1, 1, 2]);
    set.push("loop.tolerance_deg=0.5".to_owned());
    let targets = 3 + d.0.random_range(0..7);
    let angles_deg = d.targets(turn, targets);
    Case::new(format!("obstructed-{seed}-{index}"), &set, &angles_deg)
}

/// What of a rig decides where its obstacles and targets may lie.
#[derive(Debug, Clone, Copy)]
struct Turn {
    park_deg: f64,
    arc_start_deg: f64,
    zero_point_deg: f64,
    sense: f64,
    /// Stops, or none where it turns without end.
    stops_deg: Option<(f64, f64)>,
}

impl Turn {
    fn drawn<R: Rng>(d: &mut Draws<R>, set: &mut Vec<String>) -> Self {
        let rules = [
            "half-circle",
            "half-circle",
            "hysteresis-band",
            "fold-once",
            "full-circle",
        ];
        set.push(format!("wrap.rule={}", rules[d.0.random_range(0..5)]));
        if d.happens(0.35) {
            set.push(format!("wrap.symmetry={}", d.one_of(&[1.0, 2.0, 4.0])));
        }
        let drawn_deg = d.angle(-180.0, 360.0);
        let turn = Self {
            park_deg: d.one_of(&[0.0, 90.0, 90.0, -35.5, 200.0]),
            arc_start_deg: d.one_of(&[0.0, 0.0, -37.3, 90.0, drawn_deg]),
            zero_point_deg: d.one_of(&[0.0, 0.0, 12.3]),
            sense: d.one_of(&[1.0, 1.0, -1.0]),
            stops_deg: d.happens(0.4).then_some(()).map(|()| (0.0, 0.0)),
        };
        // Half a turn, a little more, one turn, and several.
        let width_deg = d.one_of(&[180.0, 200.0, 270.0, 360.0, 365.0, 540.0, 1080.0]);
        let below_deg = (width_deg * d.share()).round();
        let lowest_deg = turn.park_deg - below_deg;
        let turn = Self {
            stops_deg: turn.stops_deg.map(|_| (lowest_deg, lowest_deg + width_deg)),
            ..turn
        };
        set.extend([
            format!("drive.park_deg={}", turn.park_deg),
            format!("wrap.arc_start_deg={}", turn.arc_start_deg),
            format!("wrap.band_deg={}", d.one_of(&[0.2, 2.0, 5.0, 15.0])),
            format!("drive.zero_point_deg={}", turn.zero_point_deg),
            format!("drive.sense={}", turn.sense),
            format!("loop.believed_sense={}", turn.sense),
        ]);
        if let Some((from_deg, to_deg)) = turn.stops_deg {
            set.extend([
                "drive.travel=stops".to_owned(),
                format!("drive.stop_from_deg={from_deg}"),
                format!("drive.stop_to_deg={to_deg}"),
            ]);
        }
        turn
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

    /// To a tenth of a degree.
    fn angle(&mut self, low_deg: f64, high_deg: f64) -> f64 {
        (10.0 * (low_deg + (high_deg - low_deg) * self.share())).round() / 10.0
    }

    /// What makes a loop miss its goal.
    fn errors(&mut self, set: &mut Vec<String>) {
        let mut key = |key: &str, value: f64| set.push(format!("{key}={value}"));
        key(
            "drive.step_deg",
            self.one_of(&[0.0, 0.002, 0.02, 0.02, 0.1]),
        );
        key(
            "drive.repeatability_deg",
            self.one_of(&[0.0, 0.01, 0.02, 0.05]),
        );
        key("drive.backlash_deg", self.one_of(&[0.0, 0.1, 0.2, 0.5]));
        key("solve.noise_deg", self.one_of(&[0.005, 0.02, 0.05]));
        key(
            "drive.zero_point_sigma_deg",
            self.one_of(&[0.0, 0.3, 0.5, 1.5]),
        );
        if self.happens(0.3) {
            key("drive.gain_error", self.one_of(&[0.0005, 0.002, -0.004]));
        }
        if self.happens(0.4) {
            let (amplitude_deg, phase_deg) =
                (self.one_of(&[0.05, 0.15, 0.3]), self.angle(0.0, 360.0));
            set.push(format!(
                "drive.periodic=[{{cycles=1, amplitude_deg={amplitude_deg}, phase_deg={phase_deg}}}]"
            ));
        }
    }

    /// What the drive must not turn through, or wind round.
    fn obstacles(&mut self, set: &mut Vec<String>, turn: Turn, numbers: &[usize]) {
        if self.happens(0.45) {
            let (tight_deg, loose_deg) = (self.angle(25.0, 100.0), self.angle(100.0, 400.0));
            let limit_deg = self.one_of(&[tight_deg, loose_deg]);
            set.push(format!("drive.winding_limit_deg={limit_deg}"));
        }
        let number = numbers[self.0.random_range(0..numbers.len())];
        let sectors = (0..number).map(|_| {
            let width_deg = self.angle(10.0, 60.0).round();
            let (low_deg, high_deg) = turn.stops_deg.unwrap_or((0.0, 360.0));
            let from_deg = self.angle(low_deg, high_deg).round();
            let to_deg = match turn.stops_deg {
                Some(_) => from_deg + width_deg,
                None => (from_deg + width_deg).rem_euclid(360.0),
            };
            format!("{{from_deg={from_deg}, to_deg={to_deg}}}")
        });
        let sectors: Vec<String> = sectors.collect();
        if !sectors.is_empty() {
            set.push(format!("keep_out=[{}]", sectors.join(", ")));
        }
    }

    /// What makes the solver err.
    fn solver(&mut self, set: &mut Vec<String>) {
        if self.happens(0.15) {
            set.push(format!("solve.outlier_rate={}", self.one_of(&[0.01, 0.05])));
        }
        if self.happens(0.3) {
            set.push(format!("solve.failure_rate={}", self.one_of(&[0.05, 0.3])));
            set.push(format!("solve.max_failures={}", self.one_of(&[5.0, 2.0])));
        }
    }

    /// How the loop corrects, what the exact method does not hold, and what the frame bears.
    fn extras(&mut self, set: &mut Vec<String>) {
        let approaches = ["direct", "direct", "direct", "from-below", "from-above"];
        let approach = approaches[self.0.random_range(0..approaches.len())];
        set.push(format!("loop.approach={approach}"));
        set.push(format!(
            "loop.max_solves={}",
            self.one_of(&[20.0, 20.0, 8.0, 6.0])
        ));
        if self.happens(0.15) {
            set.push("loop.confirm=2".to_owned());
        }
        if self.happens(0.15) {
            set.push("loop.correction=0.8".to_owned());
        }
        if self.happens(0.1) {
            set.push("loop.field_rotation_deg_per_s=0.0005".to_owned());
        }
        if self.happens(0.2) {
            let focal_length_mm = self.one_of(&[135.0, 480.0, 2000.0]);
            set.push(format!(
                "framing={{sensor_width_mm=23.5, sensor_height_mm=15.7, focal_length_mm={focal_length_mm}, pixel_um=3.76}}"
            ));
        }
    }

    /// Position angles: anywhere, on and beside the seam, and where another target is.
    fn targets(&mut self, turn: Turn, number: usize) -> Vec<f64> {
        let mut angles_deg: Vec<f64> = Vec::new();
        for _ in 0..number {
            let beside_deg = self.one_of(&[0.0, 0.0, 0.3, -0.3, 1.2]);
            let on_seam_deg = turn.zero_point_deg + turn.sense * (turn.arc_start_deg + beside_deg);
            let angle_deg = match self.0.random_range(0..10) {
                0 => on_seam_deg.rem_euclid(360.0),
                1 if !angles_deg.is_empty() => angles_deg[0],
                2 if !angles_deg.is_empty() => (angles_deg[0] + 180.0).rem_euclid(360.0),
                _ => self.angle(0.0, 360.0),
            };
            // Written as a person would.
            angles_deg.push((1e3 * angle_deg).round() / 1e3);
        }
        angles_deg
    }
}
