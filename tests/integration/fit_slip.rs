//! A slip of the zero point against backlash, in the logs of plans: one sweep up and one down.

use halfturn_engine::fit::{
    DiagnosisKind, Fit, Goal, Log, PlanStep, Wanted, nearest_turn, plan, rehearse,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::stream;

use crate::binary::sized;
use crate::fit::{fitted, rig};

/// A rig with this backlash, and its plan.
fn planned(backlash_deg: f64) -> (Rig, Vec<PlanStep>) {
    let rig = rig(&[&format!("drive.backlash_deg={backlash_deg}")]);
    let wanted = Wanted {
        accuracy_deg: 0.05,
        from_deg: None,
        to_deg: None,
        goal: Goal::Errors,
    };
    let steps = plan(&rig, wanted).expect("it can be had").steps;
    (rig, steps)
}

/// The log with every angle from this row (from 0) on turned by the slip.
fn slipped(log: &Log, from: usize, slip_deg: f64) -> Log {
    let mut log = log.clone();
    for angle in log.rows[from..]
        .iter_mut()
        .filter_map(|r| r.position_angle_deg.as_mut())
    {
        *angle = (*angle + slip_deg).rem_euclid(360.0);
    }
    log
}

/// The rows of slips that the fit names.
fn slips(found: &Fit) -> Vec<usize> {
    let all = found.diagnoses.iter();
    all.filter(|d| d.kind == DiagnosisKind::ZeroPointSlip)
        .filter_map(|d| d.row)
        .collect()
}

/// In every fourth row (in short every eighth) the slip is found within one row and the zero point after it within 3 standard errors, or
/// the backlash is true to its interval or to 3 standard errors (and the slip, where that is below five errors of a
/// solve). A slip of 0.8° or more is found wherever five solves lie on either side of it
/// and three between it and the turn. Left out is a slip in the move that turns back: no log of one turn can tell it.
/// Shows (fit): a slip near the turn of a plan is not taken for backlash. With:
/// `logs_of_plans_without_slip_have_none`. Source: truth of spoiled logs; seeds fixed.
#[test]
fn a_slip_in_the_log_of_a_plan_is_told_from_backlash() {
    let mut wrong = Vec::new();
    let mut named = 0;
    for backlash_deg in [0.0, 0.3, 1.0] {
        let (rig, steps) = planned(backlash_deg);
        let s = rig.settings();
        let clean = rehearse(&rig, &steps, &mut stream(900, 0));
        let solved = |rows: &[halfturn_engine::fit::LogRow]| {
            rows.iter()
                .filter(|r| r.position_angle_deg.is_some())
                .count()
        };
        let top = (0..clean.rows.len())
            .max_by(|a, b| {
                clean.rows[*a]
                    .reading_deg
                    .total_cmp(&clean.rows[*b].reading_deg)
            })
            .expect("rows");
        for slip_deg in [0.1, 0.3, 0.8, 3.0, 180.0, -0.5] {
            for row in (2..clean.rows.len()).step_by(sized(8, 4)) {
                let between = match row.cmp(&top) {
                    std::cmp::Ordering::Greater => solved(&clean.rows[top + 1..row]),
                    _ => solved(&clean.rows[row..=top]),
                };
                if between == 0 {
                    continue;
                }
                let found = fitted(&slipped(&clean, row, slip_deg));
                let p = &found.parameters;
                let zero = p.zero_point_deg;
                let truth_deg = nearest_turn(s.drive.zero_point_deg + slip_deg, zero.value);
                let near = zero
                    .se
                    .is_some_and(|se| (zero.value - truth_deg).abs() < 3.0 * se);
                let is_named =
                    matches!(slips(&found)[..], [at] if at.abs_diff(row + 1) <= 1 && near);
                let b = p.backlash_deg;
                let small = slip_deg.abs() < 0.15;
                let off_deg = (b.value - backlash_deg).abs() - if small { slip_deg } else { 0.0 };
                let holds = b.low.is_none_or(|low| low <= backlash_deg + 1e-9)
                    && b.high.is_none_or(|high| backlash_deg <= high)
                    || b.se.is_some_and(|se| off_deg < 3.0 * se);
                let aside = solved(&clean.rows[..row]).min(solved(&clean.rows[row..]));
                let must = slip_deg.abs() >= 0.8 && aside >= 5 && between >= 3;
                named += usize::from(is_named);
                if !is_named && (must || !holds) {
                    wrong.push(format!(
                        "backlash {backlash_deg}, slip {slip_deg}, row {}: {:?} {:?}",
                        row + 1,
                        p.backlash_deg,
                        found.diagnoses
                    ));
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{named} named, {} wrong:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(named > sized(19, 60), "{named}");
}

/// Of 300 logs (45 in short) 0.6 have one by chance (1 in 1000 for jumps and for waves each); 5 or more with a
/// probability of 4e-4; seeds fixed. The backlash is found within five standard errors. A large one is named, but for the
/// 5 % of 200 logs in which a slip may be chance (22 or more, of 30 logs 7 or more: 6e-4).
#[test]
fn logs_of_plans_without_slip_have_none() {
    let (mut wrong, mut unsaid) = (Vec::new(), 0);
    for backlash_deg in [0.0, 1.0, 3.0] {
        let (rig, steps) = planned(backlash_deg);
        for index in 0..sized(15, 100) {
            let found = fitted(&rehearse(&rig, &steps, &mut stream(901, index)));
            if !slips(&found).is_empty() {
                wrong.push((backlash_deg, index, found.diagnoses.clone()));
            }
            let backlash = found.parameters.backlash_deg;
            let se = backlash.se.expect("the plan tells it");
            assert!(
                (backlash.value - backlash_deg).abs() < 5.0 * se,
                "{backlash:?}"
            );
            let large = found
                .diagnoses
                .iter()
                .any(|d| d.kind == DiagnosisKind::LargeBacklash);
            assert!(!large || backlash_deg > 0.5, "{:?}", found.diagnoses);
            unsaid += usize::from(!large && backlash_deg > 0.5);
        }
    }
    assert!(wrong.len() < 5, "{wrong:?}");
    assert!(unsaid < sized(7, 22), "{unsaid}");
}
