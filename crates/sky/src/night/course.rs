//! Timetable and rule -> the planned course of the rotator: readings, cable, keep-outs.

use halfturn_engine::plant::{PlannedMove, Plant};
use halfturn_engine::rig::{Rig, RigError, Rule};
use halfturn_engine::scenario::{Policy, Scenario};

use super::given::NightTarget;
use super::timetable::Stretch;

/// One rotation of the plan: the loop at the start of a stretch.
#[derive(Debug, Clone)]
pub struct Rotation {
    /// The loop from the planned reading, with the keep-outs that count at these pointings.
    pub scenario: Scenario,
    /// Reading before the rotation \[deg\].
    pub from_deg: f64,
    /// Commanded drive angle under the wrap rule \[deg\].
    pub drive_deg: f64,
    /// Reading after the rotation \[deg\]. With endless travel it counts turns.
    pub to_deg: f64,
    /// Whether the stops refuse the command.
    pub refused: bool,
    /// Distance of the drive angle from the seam \[deg\]; `None` without a seam.
    pub seam_distance_deg: Option<f64>,
    /// Keep-outs that count during the stretch: their indexes in the rig file, from 0.
    pub in_force: Vec<usize>,
    /// Degrees of the planned turn inside these keep-outs \[deg\].
    pub keep_out_deg: f64,
    /// Whether the camera stands in one of them while the target is exposed.
    pub rests_in_keep_out: bool,
    /// Angle by which the flip turns the zero point \[deg\].
    pub turned_deg: f64,
}

/// The planned rotations of a night under one rule.
#[derive(Debug, Clone)]
pub struct Course {
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// One rotation for every stretch.
    pub rotations: Vec<Rotation>,
    /// Largest distance of a planned reading from the parking reading \[deg\].
    pub winding_deg: f64,
}

/// What the controller keeps about the zero point between targets, and how the camera slips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knowledge {
    /// Whether the zero point that one target shows is kept for the next.
    pub learn: bool,
    /// Wait before a loop that gave up is begun again, in the time of its stretch \[s\]; `None` if it is not.
    pub retry_s: Option<f64>,
    /// Slips of the camera in its holder, mean rate \[1/h\].
    pub slips_per_h: f64,
    /// Size of a slip, one standard deviation \[deg\].
    pub slip_deg: f64,
}

/// Angle by which a meridian flip turns the field \[deg\].
const FLIP_DEG: f64 = 180.0;

/// Plans the rotations of a timetable under one rule.
///
/// # Errors
/// [`RigError`] if the rig is not valid without the keep-outs that do not count.
pub fn course(
    rig: &Rig,
    rule: Rule,
    targets: &[NightTarget],
    stretches: &[Stretch],
) -> Result<Course, RigError> {
    let policy = Policy::with_rule(rig, rule);
    let plant = Plant::new(rig);
    let park_deg = rig.settings().drive.park_deg;
    let mut at_deg = park_deg;
    let mut rotations: Vec<Rotation> = Vec::new();
    let mut winding_deg = 0.0_f64;
    for stretch in stretches {
        let pending = Pending::new(rig, policy, &targets[stretch.target], stretch)?;
        let turn = pending.turn(&plant, at_deg);
        winding_deg = winding_deg.max((turn.to_deg - park_deg).abs());
        rotations.push(Rotation {
            from_deg: at_deg,
            drive_deg: pending.drive_deg,
            to_deg: turn.to_deg,
            refused: turn.refused,
            seam_distance_deg: pending.scenario.seam_distance_deg(),
            keep_out_deg: turn.keep_out_deg,
            rests_in_keep_out: turn.rests_in_keep_out,
            in_force: pending.in_force,
            turned_deg: pending.turned_deg,
            scenario: pending.scenario.begun_at(at_deg),
        });
        at_deg = turn.to_deg;
    }
    Ok(Course {
        policy,
        rotations,
        winding_deg,
    })
}

/// The loop of a stretch before it is known where the drive stands.
pub(super) struct Pending {
    scenario: Scenario,
    drive_deg: f64,
    in_force: Vec<usize>,
    turned_deg: f64,
}

/// What the first move of a loop does.
pub(super) struct Turn {
    pub(super) to_deg: f64,
    pub(super) time_s: f64,
    pub(super) refused: bool,
    pub(super) keep_out_deg: f64,
    pub(super) rests_in_keep_out: bool,
}

impl Turn {
    /// Whether the camera can't expose after it, or something is in the way.
    pub(super) fn fails(&self, pending: &Pending, park_deg: f64) -> bool {
        self.refused
            || self.keep_out_deg > 0.0
            || self.rests_in_keep_out
            || pending.scenario.overwinds((self.to_deg - park_deg).abs())
    }
}

impl Pending {
    pub(super) fn new(
        rig: &Rig,
        policy: Policy,
        target: &NightTarget,
        stretch: &Stretch,
    ) -> Result<Self, RigError> {
        let in_force = in_force(rig, stretch);
        let turned_deg = if stretch.flipped { FLIP_DEG } else { 0.0 };
        let there = rig.with(|s| {
            let mut sector = 0;
            s.keep_out.retain(|_| {
                sector += 1;
                in_force.contains(&(sector - 1))
            });
        })?;
        // After a flip the field is upside down, and the drive needs an angle half a turn away.
        let wanted_deg = target.position_angle_deg - turned_deg;
        let scenario = Scenario::new(&there, policy, wanted_deg);
        Ok(Self {
            drive_deg: scenario.drive_angle_deg(),
            scenario,
            in_force,
            turned_deg,
        })
    }

    /// The first move from this reading \[deg\].
    pub(super) fn turn(&self, plant: &Plant, at_deg: f64) -> Turn {
        let ground = &self.scenario.ground;
        let plan = plant.plan(at_deg, self.drive_deg);
        let (to_deg, keep_out_deg) = match plan {
            PlannedMove::Refused | PlannedMove::Still => (at_deg, 0.0),
            PlannedMove::Move { via_deg, to_deg } => {
                let via_deg = via_deg.unwrap_or(at_deg);
                let inside_deg =
                    ground.keep_out_deg(at_deg, via_deg) + ground.keep_out_deg(via_deg, to_deg);
                (to_deg, inside_deg)
            }
        };
        Turn {
            to_deg,
            time_s: plant.duration_s(at_deg, &plan),
            refused: plan == PlannedMove::Refused,
            keep_out_deg,
            rests_in_keep_out: ground.in_keep_out(to_deg),
        }
    }
}

/// The keep-outs that count anywhere in a stretch.
fn in_force(rig: &Rig, stretch: &Stretch) -> Vec<usize> {
    let counts = |k: &halfturn_engine::rig::KeepOut| {
        let mut way = stretch.way.iter();
        way.any(|(_, p)| k.when.holds(p.hour_angle_h, p.altitude_deg))
    };
    let sectors = rig.settings().keep_out.iter().enumerate();
    sectors.filter(|(_, k)| counts(k)).map(|(i, _)| i).collect()
}
