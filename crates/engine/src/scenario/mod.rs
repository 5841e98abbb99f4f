//! Validated rig -> scenario: one rig, one wrap policy and one target, prepared for a run.

mod catalogue;
mod ground;
mod line;
mod policy;
mod sexagesimal;
pub(crate) mod table;
mod targets;

pub use catalogue::{NoObject, Object, find_object};
pub use ground::Ground;
pub use ground::{keep_out_sectors, outside_deg};
pub use policy::Policy;
pub use sexagesimal::read_place;
pub use table::{Table, TableRow};
pub use targets::{
    DEMO_TARGETS, DEMO_TARGETS_NAME, Target, read_targets, targets_digest, with_flips,
};

use crate::angle::{AngleSpan, TURN_DEG, residual_finite};
use crate::controller::{Brief, Command, Standard, Wrap};
use crate::plant::{PlannedMove, Plant, Travel};
use crate::rig::{Rig, SolveSettings};
use crate::tally::TOUCH_DEG;

/// Everything that a run needs except its random numbers and its controller.
#[derive(Debug, Clone)]
pub struct Scenario {
    pub(crate) plant: Plant,
    pub(crate) solve: SolveSettings,
    /// What the controller knows.
    pub brief: Brief,
    /// The arc and the keep-outs.
    pub ground: Ground,
    /// Period of equivalent framings \[deg\].
    pub(crate) period_deg: f64,
    /// Uncertainty of the zero point, one standard deviation \[deg\].
    pub(crate) zero_point_sigma_deg: f64,
    /// Repeatability: error after a move, one standard deviation \[deg\].
    pub(crate) repeatability_deg: f64,
    /// The parking reading, from which the winding of the cable counts \[deg\].
    pub(crate) park_deg: f64,
    /// How far a reading may be from the parking reading, either way \[deg\]; infinite for no limit.
    pub(crate) winding_limit_deg: f64,
    wrap: Wrap,
    controller: Standard,
    /// The loop before this one; `None` if the drive starts parked.
    before: Option<Box<Scenario>>,
}

impl Scenario {
    /// A rig at one target under one policy. `target_deg` is a finite position angle \[deg\].
    #[must_use]
    pub fn new(rig: &Rig, policy: Policy, target_deg: f64) -> Self {
        let s = rig.settings();
        let plant = Plant::new(rig);
        let wrap = policy.wrap(plant.travel());
        let period_deg = policy.period_deg();
        Self {
            brief: Brief {
                target_deg,
                tolerance_deg: s.loop_.tolerance_deg,
                arc_start_deg: wrap.start_deg(),
                arc_width_deg: wrap.width_deg(),
                band_deg: wrap.band_deg(),
                symmetry: policy.symmetry,
                travel: plant.travel(),
                zero_point_deg: s.drive.zero_point_deg,
                sense: s.loop_.believed_sense.factor(),
                reading_deg: s.drive.park_deg,
                max_solves: s.loop_.max_solves,
            },
            ground: Ground::new(&wrap, plant.travel(), &s.keep_out),
            controller: Standard::new(wrap, period_deg, s.loop_.correction, s.loop_.confirm),
            period_deg,
            zero_point_sigma_deg: s.drive.zero_point_sigma_deg,
            repeatability_deg: s.drive.repeatability_deg,
            park_deg: s.drive.park_deg,
            winding_limit_deg: match s.drive.winding_limit_deg {
                0.0 => f64::INFINITY,
                limit_deg => limit_deg,
            },
            solve: s.solve.clone(),
            wrap,
            plant,
            before: None,
        }
    }

    /// The scenario, starting where another loop of the rig ends. The rig keeps its true zero point. The figures
    /// count this loop only.
    #[must_use]
    pub fn after(mut self, before: Self) -> Self {
        self.brief.reading_deg = before.first_reading_deg();
        self.before = Some(Box::new(before));
        self
    }

    /// The loop before this one; `None` if the drive starts parked.
    pub(crate) fn before(&self) -> Option<&Self> {
        self.before.as_deref()
    }

    /// The scenario, starting at this reading \[deg\] instead of the parking reading.
    #[must_use]
    pub fn begun_at(mut self, reading_deg: f64) -> Self {
        self.brief.reading_deg = reading_deg;
        self
    }

    pub(crate) fn with_max_solves(mut self, most: u32) -> Self {
        self.brief.max_solves = self.brief.max_solves.min(most);
        self
    }

    /// The reading after the first command \[deg\]. If the stops refuse the command, the reading at the start.
    #[must_use]
    pub fn first_reading_deg(&self) -> f64 {
        match self
            .plant
            .plan(self.brief.reading_deg, self.drive_angle_deg())
        {
            PlannedMove::Move { to_deg, .. } => to_deg,
            PlannedMove::Still | PlannedMove::Refused => self.brief.reading_deg,
        }
    }

    /// Whether corrections to all angles of this span are carried out as they are: none folds or takes the other way
    /// round.
    pub(crate) fn leaves_alone(&self, wanted: AngleSpan) -> bool {
        let width_deg = self.wrap.width_deg().min(self.period_deg);
        wanted.from_deg >= self.wrap.start_deg()
            && wanted.to_deg < self.wrap.start_deg() + width_deg
    }

    /// Degrees that the first move turns outside the arc.
    pub(crate) fn first_outside_deg(&self) -> f64 {
        let from_deg = self.brief.reading_deg;
        match self.plant.plan(from_deg, self.drive_angle_deg()) {
            PlannedMove::Move { via_deg, to_deg } => {
                let via = via_deg.unwrap_or(from_deg);
                self.ground.outside_arc_deg(from_deg, via)
                    + self.ground.outside_arc_deg(via, to_deg)
            }
            PlannedMove::Still | PlannedMove::Refused => 0.0,
        }
    }

    /// Whether a reading this far from the parking reading winds the cable too far.
    #[inline(always)]
    pub fn overwinds(&self, winding_deg: f64) -> bool {
        winding_deg > self.winding_limit_deg + TOUCH_DEG
    }

    /// The model's own controller for this scenario.
    #[must_use]
    pub fn controller(&self) -> Standard {
        self.controller
    }

    /// The wrap rule.
    #[inline]
    pub(crate) fn wrap(&self) -> &Wrap {
        &self.wrap
    }

    /// Whether the other scenario, of the same rig and target, differs only in what happens outside this one's arc.
    pub(crate) fn same_arc(&self, other: &Self) -> bool {
        self.period_deg == other.period_deg
            && self.drive_angle_deg() == other.drive_angle_deg()
            && self.wrap.start_deg() == other.wrap.start_deg()
    }

    /// Drive angle of the first move \[deg\]: the target's drive angle in the allowed arc.
    #[must_use]
    pub fn drive_angle_deg(&self) -> f64 {
        self.first_command().drive_deg
    }

    /// The first move of the model's own controller.
    pub(crate) fn first_command(&self) -> Command {
        let wanted = self.brief.sense * (self.brief.target_deg - self.brief.zero_point_deg);
        self.wrap.first(wanted)
    }

    /// Distance of that angle from the nearer end of the arc \[deg\]; `None` if the arc has no seam, as a whole turn
    /// of endless travel.
    #[must_use]
    pub fn seam_distance_deg(&self) -> Option<f64> {
        let width_deg = self.wrap.width_deg();
        let seamless = width_deg >= TURN_DEG && self.brief.travel == Travel::Endless;
        (!seamless).then(|| {
            residual_finite(self.drive_angle_deg() - self.wrap.start_deg(), width_deg).abs()
        })
    }

    /// Whether repeatability error or solve noise has an effect, and a run draws normal deviates for them.
    pub(crate) fn has_normals(&self) -> bool {
        let outliers = self.solve.outlier_rate > 0.0 && self.solve.outlier_deg > 0.0;
        self.repeatability_deg > 0.0 || self.solve.noise_deg > 0.0 || outliers
    }

    /// What the controller knows.
    #[must_use]
    pub fn brief(&self) -> &Brief {
        &self.brief
    }

    /// Period of equivalent framings \[deg\].
    #[must_use]
    pub fn period_deg(&self) -> f64 {
        self.period_deg
    }
}
