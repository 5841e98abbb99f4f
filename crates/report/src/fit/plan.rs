//! A plan for a log, and a rehearsed log, as tables.

use std::fmt::Write as _;

use halfturn_engine::fit::{FitPlan, Goal, Log, Wanted};
use halfturn_engine::rig::Rig;
use halfturn_engine::wording::{angle, degrees, duration};

use crate::document::{Block, Document};

/// The plan as a CSV table, for working through it by hand.
#[must_use]
pub fn fit_plan_csv(plan: &FitPlan, rig: &Rig, wanted: Wanted) -> String {
    let mut out = format!(
        "# Plan of halfturn fit: {} moves, {} solves, about {}\n\
         # Watch the cables at every move, keep hands off the moving parts, stop at the first strain.\n\
         # Point at one field that solves well and keep tracking. Do not flip the mount, home the drive or touch the camera.\n\
         # Begin at the parking reading, {}°. From a reading a turn away the plan is not safe.\n\
         # Readings {}.\n\
         # Move straight to each reading, in this order. Solve as often as the column solves says, without a move in between.\n\
         # Write a row for every solve: reading_deg,position_angle_deg. Where solves is 0, only move, and write the reading alone.\n\
         # It shows {} to ±{}° (wanted: ±{}°).\n\
         step,move_to_deg,solves\n",
        plan.steps.len(),
        plan.solves(),
        duration(plan.time_s),
        degrees(rig.settings().drive.park_deg),
        plan.range,
        told(wanted),
        degrees(plan.accuracy_deg),
        degrees(wanted.accuracy_deg),
    );
    for (i, step) in plan.steps.iter().enumerate() {
        let _ = writeln!(out, "{},{:.2},{}", i + 1, step.to_deg, step.solves);
    }
    out
}

fn told(wanted: Wanted) -> &'static str {
    match wanted.goal {
        Goal::Errors => "every error of the mechanics",
        Goal::Angles => "the camera's angle everywhere on this arc, and the backlash,",
    }
}

/// A plan in a few sentences, compared with the plain sweep.
#[must_use]
pub fn fit_plan_document(plan: &FitPlan, naive: Option<&FitPlan>, wanted: Wanted) -> Document {
    let line = |p: &FitPlan| {
        format!(
            "{} moves, {} solves, {}",
            p.steps.len(),
            p.solves(),
            duration(p.time_s)
        )
    };
    let plain = naive.map_or_else(|| "does not reach this accuracy".to_owned(), line);
    let mut out = Document::new();
    out.para(format!("Readings {}, once up and once down.", plan.range));
    out.para(format!(
        "The plan shows {} to ±{} (95 %), and repeatability and noise to about 60 % of their size.",
        told(wanted),
        angle(plan.accuracy_deg)
    ));
    if wanted.goal == Goal::Angles {
        out.para("Over part of a turn gain error and periodic error look alike, so the log may not tell them apart.");
    }
    let facts = [
        ("this plan", line(plan)),
        (
            "plain sweep",
            format!("{plain} (evenly spaced, every stop solved twice)"),
        ),
    ];
    let facts = facts.map(|(term, text)| (term.to_owned(), text.into()));
    out.add(Block::Facts(facts.to_vec()));
    out.add(Block::Caution(
        "Before you start".to_owned(),
        vec![
            "Mount the whole load, give the cables room for the whole way, clear the way, and watch. \
             The maker's instructions come first. The program moves nothing."
                .into(),
        ],
    ));
    out
}

/// A log as a CSV table for `fit`. `notes` become comments.
#[must_use]
pub fn log_csv(log: &Log, notes: &[String]) -> String {
    let mut out = String::new();
    for note in notes {
        let _ = writeln!(out, "# {note}");
    }
    out.push_str("time,commanded_deg,reading_deg,position_angle_deg\n");
    for row in &log.rows {
        let number = |x: Option<f64>, decimals: usize| {
            x.map_or_else(String::new, |x| format!("{x:.decimals$}"))
        };
        let _ = writeln!(
            out,
            "{},{},{:.4},{}",
            number(row.time_s, 1),
            number(row.commanded_deg, 2),
            row.reading_deg,
            number(row.position_angle_deg, 4),
        );
    }
    out
}
