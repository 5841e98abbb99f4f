//! Timetable and rule -> the course of the rotator through the night as it is planned: readings, cable, keep-outs.

use crate::plant::{Plan, Plant, Shaft, Travel};
use crate::rig::{Rig, RigError, Rule};
use crate::scenario::{Policy, Scenario, keep_out_sectors};

use super::timetable::{NightTarget, Stretch};

/// One rotation of the plan: the loop at the begin of a stretch.
#[derive(Debug, Clone)]
pub struct Rotation {
    /// The rig as it is for this stretch: only the keep-outs that count at its pointings.
    pub rig: Rig,
    /// The loop, from the planned reading.
    pub scenario: Scenario,
    /// Reading before \[deg\].
    pub from_deg: f64,
    /// Drive angle under the wrap rule, as commanded \[deg\].
    pub drive_deg: f64,
    /// Reading after; with endless travel it counts turns \[deg\].
    pub to_deg: f64,
    /// The stops refuse the command.
    pub refused: bool,
    /// Distance of the drive angle from the seam \[deg\]; `None` where there is none.
    pub seam_distance_deg: Option<f64>,
    /// Keep-outs that count during the stretch: numbers in the rig file, from 0.
    pub in_force: Vec<usize>,
    /// Degrees of the planned turn inside them.
    pub keep_out_deg: f64,
    /// The camera stands in one of them while the target is exposed.
    pub rests_in_keep_out: bool,
    /// Zero point that the plan believes, the flip counted, less the rig's \[deg\].
    pub turned_deg: f64,
    /// Uncertainty of the zero point before the first solve, one sigma \[deg\].
    pub zero_sigma_deg: f64,
}

/// The way of the rotator through the night under one rule.
#[derive(Debug, Clone)]
pub struct Course {
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// One for every stretch.
    pub rotations: Vec<Rotation>,
    /// Largest distance of a planned reading from the parking angle \[deg\].
    pub winding_deg: f64,
}

/// What is known of the zero point between targets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knowledge {
    /// The zero point that a target has shown is kept for the next.
    pub learn: bool,
    /// Slips of the camera in its holder \[1/h\].
    pub slips_per_h: f64,
    /// Size of a slip, one sigma \[deg\].
    pub slip_deg: f64,
}

/// Half a turn of the field at a meridian flip \[deg\].
pub(super) const FLIP_DEG: f64 = 180.0;

/// Plans the rotations of a timetable under one rule.
///
/// # Errors
/// [`RigError`] where a reading of the plan makes no rig, which does not happen with readings between the stops.
pub fn course(
    rig: &Rig,
    rule: Rule,
    targets: &[NightTarget],
    stretches: &[Stretch],
    knowledge: &Knowledge,
) -> Result<Course, RigError> {
    let policy = Policy::with_rule(rig, rule);
    let plant = Plant::new(rig);
    let park_deg = rig.settings().drive.park_deg;
    let mut at_deg = park_deg;
    let mut rotations: Vec<Rotation> = Vec::new();
    let mut winding_deg = 0.0_f64;
    for (number, stretch) in stretches.iter().enumerate() {
        let in_force = in_force(rig, stretch);
        let turned_deg = if stretch.flipped { FLIP_DEG } else { 0.0 };
        let before = number
            .checked_sub(1)
            .map(|i| (&stretches[i], rotations[i].to_deg));
        let there = rig.with(|s| {
            let mut sector = 0;
            s.keep_out.retain(|_| {
                sector += 1;
                in_force.contains(&(sector - 1))
            });
            // A stop may lie between two steps of the drive.
            s.drive.park_deg = match plant.travel() {
                Travel::Endless => at_deg,
                Travel::Stops { lo_deg, hi_deg } => at_deg.clamp(lo_deg, hi_deg),
            };
        })?;
        // The field on its head is an angle that much less for the drive.
        let wanted_deg = targets[stretch.target].position_angle_deg - turned_deg;
        let mut scenario = Scenario::new(&there, policy, wanted_deg);
        scenario.brief.reading_deg = at_deg;
        let drive_deg = scenario.drive_angle_deg();
        let plan = plant.plan(at_deg, drive_deg);
        let to_deg = match plan {
            Plan::Refused | Plan::Still => at_deg,
            Plan::Move { to_deg, .. } => to_deg,
        };
        let keep_out_deg = match plan {
            Plan::Refused | Plan::Still => 0.0,
            Plan::Move { via_deg, to_deg } => {
                let via_deg = via_deg.unwrap_or(at_deg);
                scenario.ground.keep_out_deg(at_deg, via_deg)
                    + scenario.ground.keep_out_deg(via_deg, to_deg)
            }
        };
        winding_deg = winding_deg.max((to_deg - park_deg).abs());
        let hours = stretch.begin.since_s(stretches[0].begin) / 3600.0;
        let zero_sigma_deg = uncertainty(rig, &plant, knowledge, (stretch, to_deg, hours), before);
        rotations.push(Rotation {
            from_deg: at_deg,
            drive_deg,
            to_deg,
            refused: plan == Plan::Refused,
            seam_distance_deg: scenario.seam_distance_deg(),
            keep_out_deg,
            rests_in_keep_out: rests(&there, &plant, to_deg),
            in_force,
            turned_deg,
            zero_sigma_deg,
            rig: there,
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

/// The keep-outs that count anywhere on the way of a stretch.
fn in_force(rig: &Rig, stretch: &Stretch) -> Vec<usize> {
    let counts = |k: &crate::rig::KeepOut| {
        let mut way = stretch.way.iter();
        way.any(|(_, p)| k.when.holds(p.hour_angle_h, p.altitude_deg))
    };
    let sectors = rig.settings().keep_out.iter().enumerate();
    sectors.filter(|(_, k)| counts(k)).map(|(i, _)| i).collect()
}

/// A reading stands inside a keep-out of the rig.
fn rests(rig: &Rig, plant: &Plant, reading_deg: f64) -> bool {
    let sectors = keep_out_sectors(plant.travel(), &rig.settings().keep_out);
    /// Half a short leg about the reading, which lies inside from end to end.
    const HALF_DEG: f64 = 1e-6;
    let inside = sectors.inside_deg(reading_deg - HALF_DEG, reading_deg + HALF_DEG);
    inside > 1.5 * HALF_DEG
}

/// How far the zero point may be off at the first move of a stretch \[deg\]: what is not known of it, and what is known to differ from
/// what the target before has shown, put together as if it were all chance.
fn uncertainty(
    rig: &Rig,
    plant: &Plant,
    knowledge: &Knowledge,
    (stretch, to_deg, hours): (&Stretch, f64, f64),
    before: Option<(&Stretch, f64)>,
) -> f64 {
    let s = rig.settings();
    let slips = |hours: f64| (knowledge.slips_per_h * hours).sqrt() * knowledge.slip_deg;
    let parts: Vec<f64> = match before.filter(|_| knowledge.learn) {
        // What has slipped since the start of the night is nowhere learned.
        None => vec![
            s.drive.zero_point_sigma_deg,
            stretch.pole_deg(),
            slips(hours),
        ],
        Some((earlier, from_deg)) => {
            let shown = |reading_deg: f64| {
                plant.position_angle_deg(&Shaft::at(reading_deg), 0.0, 0.0)
                    - s.loop_.believed_sense.factor() * reading_deg
            };
            let hours = stretch.begin.since_s(earlier.begin) / 3600.0;
            vec![
                s.solve.noise_deg,
                // Seating at the end of either move.
                s.drive.repeatability_deg,
                stretch.pole_deg() - earlier.pole_deg(),
                shown(to_deg) - shown(from_deg),
                slips(hours),
            ]
        }
    };
    parts.iter().map(|p| p * p).sum::<f64>().sqrt()
}
