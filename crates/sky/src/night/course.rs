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
        let wanted_deg = targets[stretch.target].position_angle_deg - turned_deg;
        let scenario = Scenario::new(&there, policy, wanted_deg).begun_at(at_deg);
        let drive_deg = scenario.drive_angle_deg();
        let plan = plant.plan(at_deg, drive_deg);
        let to_deg = match plan {
            PlannedMove::Refused | PlannedMove::Still => at_deg,
            PlannedMove::Move { to_deg, .. } => to_deg,
        };
        let keep_out_deg = match plan {
            PlannedMove::Refused | PlannedMove::Still => 0.0,
            PlannedMove::Move { via_deg, to_deg } => {
                let via_deg = via_deg.unwrap_or(at_deg);
                scenario.ground.keep_out_deg(at_deg, via_deg)
                    + scenario.ground.keep_out_deg(via_deg, to_deg)
            }
        };
        winding_deg = winding_deg.max((to_deg - park_deg).abs());
        rotations.push(Rotation {
            from_deg: at_deg,
            drive_deg,
            to_deg,
            refused: plan == PlannedMove::Refused,
            seam_distance_deg: scenario.seam_distance_deg(),
            keep_out_deg,
            rests_in_keep_out: scenario.ground.in_keep_out(to_deg),
            in_force,
            turned_deg,
            scenario,
        });
        at_deg = to_deg;
    }
    Ok(Course {
        policy,
        rotations,
        winding_deg,
    })
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
