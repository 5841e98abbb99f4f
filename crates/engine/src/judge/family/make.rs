//! Random choices -> a scenario.

use super::super::case::{Case, Expect};
use super::super::limits::{CUT, excursion_deg};
use super::Family;
use super::dice::Dice;
use super::rigs::{Base, graded, perfect};
use crate::angle::TURN_DEG;
use crate::rig::{KeepOut, RigSettings, Rule, Sense, TravelKind, When};

/// Extra room beyond a bound: no scenario stands on the edge between right and wrong \[deg\].
pub(super) const ROOM_DEG: f64 = 0.5;

/// Makes one scenario.
#[derive(Debug)]
pub(crate) struct Maker<'a> {
    pub(super) base: &'a Base,
    pub(super) dice: Dice,
    /// Number of the scenario in its family.
    pub(super) ordinal: usize,
    /// The rule that the controller claims; `None` for any.
    pub(super) rule: Option<Rule>,
    family: Family,
    seed: u64,
    index: usize,
}

/// Where the arc lies and how the drive travels.
#[derive(Debug, Clone, Copy)]
pub(super) struct FamilyGround {
    pub(super) symmetry: u32,
    pub(super) start_deg: f64,
    pub(super) stops: bool,
    pub(super) zero_deg: f64,
    pub(super) sense: Sense,
    /// Whether the arc is a whole turn wide, whatever the symmetry.
    pub(super) whole_turn: bool,
}

impl FamilyGround {
    pub(super) fn period_deg(&self) -> f64 {
        TURN_DEG / f64::from(self.symmetry)
    }

    /// Width of the arc \[deg\].
    pub(super) fn width_deg(&self) -> f64 {
        if self.whole_turn {
            TURN_DEG
        } else {
            self.period_deg()
        }
    }

    pub(super) fn end_deg(&self) -> f64 {
        self.start_deg + self.width_deg()
    }
}

/// The choices that make a scenario.
#[derive(Debug, Clone)]
pub(super) struct Sketch {
    pub(super) ground: FamilyGround,
    pub(super) band_deg: f64,
    /// Drive angle of the target, with the zero point that the controller believes \[deg\].
    pub(super) drive_deg: f64,
    pub(super) park_deg: f64,
    pub(super) zero_error_deg: f64,
    pub(super) settings: RigSettings,
    pub(super) stops_deg: Option<(f64, f64)>,
    pub(super) expect: Expect,
}

impl<'a> Maker<'a> {
    pub(super) fn new(
        base: &'a Base,
        family: Family,
        seed: u64,
        index: usize,
        ordinal: usize,
    ) -> Self {
        Self {
            base,
            dice: Dice::new(seed, index),
            ordinal,
            rule: None,
            family,
            seed,
            index,
        }
    }

    /// A rig with the errors of the graded set, in turn, or of the user's rig.
    pub(super) fn errors(&mut self) -> RigSettings {
        match self.base {
            Base::Graded => {
                let rigs = graded();
                rigs[self.ordinal % rigs.len()].clone()
            }
            Base::Rig(settings) => (**settings).clone(),
        }
    }

    /// A rig without any error.
    pub(super) fn perfect(&mut self) -> RigSettings {
        let mut settings = self.errors();
        perfect(&mut settings);
        settings
    }

    /// An arc with one of these symmetries.
    pub(super) fn ground(&mut self, symmetries: &[u32]) -> Option<FamilyGround> {
        match self.base {
            Base::Graded => Some(FamilyGround {
                symmetry: self.dice.pick(symmetries),
                start_deg: self
                    .dice
                    .pick(&[0.0, 0.0, 37.5, -90.0, 180.0, 276.5, -10.25]),
                stops: self.dice.happens(0.4),
                zero_deg: self.dice.pick(&[0.0, 73.25, -200.5, 181.0, 12.125]),
                sense: self.dice.pick(&[Sense::Same, Sense::Reversed]),
                whole_turn: self.rule == Some(Rule::FullCircle),
            }),
            Base::Rig(s) => {
                let symmetry = s.wrap.symmetry.unwrap_or(s.wrap.rule.default_symmetry());
                symmetries.contains(&symmetry).then(|| FamilyGround {
                    symmetry,
                    start_deg: s.wrap.arc_start_deg,
                    stops: s.drive.travel == TravelKind::Stops,
                    zero_deg: s.drive.zero_point_deg,
                    sense: s.drive.sense,
                    whole_turn: self.rule.unwrap_or(s.wrap.rule) == Rule::FullCircle,
                })
            }
        }
    }

    /// Grounds of the graded set, some of them a whole turn wide, whatever the symmetry. A claimed rule has a width of its
    /// own.
    pub(super) fn some_whole_turns(&mut self, ground: FamilyGround, share: f64) -> FamilyGround {
        if *self.base != Base::Graded || self.rule.is_some() {
            return ground;
        }
        FamilyGround {
            whole_turn: self.dice.happens(share),
            ..ground
        }
    }

    /// A whole turn has no band, so that only a controller that claims the full circle meets its seam.
    pub(super) fn has_seam(&self, ground: &FamilyGround) -> bool {
        !ground.whole_turn || self.rule.is_some()
    }

    /// The ground with this travel, if the graded set allows the choice. The ground of the user's rig is fixed.
    pub(super) fn with_stops(&self, ground: FamilyGround, stops: bool) -> Option<FamilyGround> {
        match self.base {
            Base::Graded => Some(FamilyGround { stops, ..ground }),
            Base::Rig(_) => (ground.stops == stops).then_some(ground),
        }
    }

    /// How far corrections can lead from the open-loop angle \[deg\], with the zero point off by the rig's largest
    /// error or by `zero_error_deg`, whichever is more.
    pub(super) fn excursion_deg(
        s: &RigSettings,
        ground: &FamilyGround,
        zero_error_deg: f64,
    ) -> f64 {
        let zero_deg = Self::zero_bound_deg(s, ground).max(zero_error_deg.abs());
        // Readings stay within a turn of the arc that holds the start.
        let reach_deg = ground.start_deg.abs() + 2.0 * TURN_DEG;
        excursion_deg(s, zero_deg, reach_deg)
    }

    /// Largest error of the zero point \[deg\].
    pub(super) fn zero_bound_deg(s: &RigSettings, ground: &FamilyGround) -> f64 {
        (CUT * s.drive.zero_point_sigma_deg).min(ground.period_deg() / 10.0)
    }

    /// An error of the zero point within the rig's own uncertainty \[deg\].
    pub(super) fn zero_error_deg(&mut self, s: &RigSettings, ground: &FamilyGround) -> f64 {
        let bound_deg = Self::zero_bound_deg(s, ground);
        self.dice.between(-bound_deg, bound_deg)
    }

    /// A band that is wide enough for every correction \[deg\].
    pub(super) fn band_deg(s: &RigSettings, ground: &FamilyGround, zero_error_deg: f64) -> f64 {
        let least = Self::excursion_deg(s, ground, zero_error_deg) + ROOM_DEG;
        let own = match s.wrap.rule {
            Rule::HysteresisBand => s.wrap.band_deg,
            Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => 0.0,
        };
        (4.0 * least).ceil().max(4.0 * own) / 4.0
    }

    /// A drive angle far enough inside the arc that no correction leaves it \[deg\].
    pub(super) fn inside_deg(
        &mut self,
        s: &RigSettings,
        ground: &FamilyGround,
        zero_error_deg: f64,
    ) -> Option<f64> {
        let margin_deg = Self::excursion_deg(s, ground, zero_error_deg) + ROOM_DEG;
        let (low, high) = (ground.start_deg + margin_deg, ground.end_deg() - margin_deg);
        (low + 1.0 < high).then(|| self.dice.between(low, high))
    }

    /// Where a run starts: anywhere in the arc \[deg\].
    pub(super) fn start_inside_deg(&mut self, ground: &FamilyGround) -> f64 {
        self.dice.between(ground.start_deg, ground.end_deg())
    }

    /// Stops outside the arc and its band \[deg\], the same for all starts; `None` for endless travel. The user's rig
    /// has its own.
    pub(super) fn stops_deg(&mut self, ground: &FamilyGround, band_deg: f64) -> Option<(f64, f64)> {
        match self.base {
            _ if !ground.stops => None,
            Base::Graded => Some((
                (ground.start_deg - band_deg - self.dice.between(1.0, 20.0)).floor(),
                (ground.end_deg() + band_deg + self.dice.between(1.0, 20.0)).ceil(),
            )),
            Base::Rig(s) => s.drive.stop_from_deg.zip(s.drive.stop_to_deg),
        }
    }

    /// A sketch with the target at `drive_deg`, which a correct controller settles.
    pub(super) fn sketch(
        &mut self,
        settings: RigSettings,
        ground: FamilyGround,
        band_deg: f64,
        drive_deg: f64,
    ) -> Sketch {
        let park_deg = self.start_inside_deg(&ground);
        let stops_deg = self.stops_deg(&ground, band_deg);
        let zero_error_deg = self.zero_error_deg(&settings, &ground);
        Sketch {
            ground,
            band_deg,
            drive_deg,
            park_deg,
            zero_error_deg,
            settings,
            stops_deg,
            expect: Expect::Settle,
        }
    }

    /// Turns a sketch into a scenario. The target is one of the equivalent angles.
    pub(super) fn case(&mut self, sketch: Sketch) -> Case {
        let ground = sketch.ground;
        let turns = self.dice.pick(&[0.0, 0.0, 1.0, -1.0]);
        let target_deg = ground.zero_deg
            + ground.sense.factor() * sketch.drive_deg
            + turns * ground.period_deg();
        self.case_at(sketch, target_deg)
    }

    /// Turns a sketch into a scenario with this target \[deg\].
    pub(super) fn case_at(&mut self, sketch: Sketch, target_deg: f64) -> Case {
        let ground = sketch.ground;
        let mut rig = sketch.settings;
        rig.wrap.rule = match (ground.whole_turn, sketch.band_deg > 0.0) {
            (true, _) => Rule::FullCircle,
            (false, true) => Rule::HysteresisBand,
            (false, false) => Rule::HalfCircle,
        };
        rig.wrap.symmetry = Some(ground.symmetry);
        rig.wrap.arc_start_deg = ground.start_deg;
        rig.wrap.band_deg = sketch.band_deg;
        rig.drive.zero_point_deg = ground.zero_deg;
        rig.drive.sense = ground.sense;
        rig.loop_.believed_sense = ground.sense;
        rig.drive.park_deg = sketch.park_deg;
        rig.drive.travel = TravelKind::Endless;
        (rig.drive.stop_from_deg, rig.drive.stop_to_deg) = (None, None);
        if let Some((lo, hi)) = sketch.stops_deg {
            rig.drive.travel = TravelKind::Stops;
            (rig.drive.stop_from_deg, rig.drive.stop_to_deg) = (Some(lo), Some(hi));
            rig.drive.park_deg = sketch.park_deg.clamp(lo, hi);
        }
        Case {
            family: self.family,
            expect: sketch.expect,
            target_deg,
            zero_error_deg: sketch.zero_error_deg,
            failing_attempts: Vec::new(),
            flip_after_solves: None,
            solve_errors_deg: Vec::new(),
            rule: None,
            free_corrections: false,
            seed: self.seed,
            index: self.index as u64,
            rig,
        }
    }

    /// Mixes circumstances that families of their own provoke into others, so that every end and side of the arc meets
    /// them: a failed solve, a start a turn away, a flip that a symmetric frame does not show.
    pub(super) fn mixed(&mut self, mut case: Case) -> Case {
        if !matches!(
            self.family,
            Family::Seam | Family::FarZeroPoint | Family::FailedSolves | Family::PierFlip
        ) {
            return case;
        }
        if case.failing_attempts.is_empty() && self.dice.happens(0.15) {
            case.failing_attempts = vec![0];
        }
        let drive = &mut case.rig.drive;
        if drive.travel == TravelKind::Endless && self.dice.happens(0.15) {
            drive.park_deg += TURN_DEG * self.dice.sign();
        }
        let symmetric = case.rig.wrap.symmetry.is_some_and(|s| s > 1);
        if symmetric && self.dice.happens(0.15) {
            case.flip_after_solves = Some(1);
        }
        case
    }

    /// No band, or one that holds every correction.
    pub(super) fn some_band_deg(&mut self, s: &RigSettings, ground: &FamilyGround) -> f64 {
        if ground.whole_turn || self.dice.happens(0.5) {
            return 0.0;
        }
        Self::band_deg(s, ground, 0.0)
    }

    pub(super) fn keep_out(from_deg: f64, to_deg: f64) -> KeepOut {
        KeepOut {
            from_deg,
            to_deg,
            why: "something is in the way".to_owned(),
            when: When::default(),
        }
    }
}
