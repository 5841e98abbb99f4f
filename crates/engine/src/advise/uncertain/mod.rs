//! An advice tried on rigs that fit a log as well as the fitted one does: does it hold for what is not known?
//!
//! `docs/advice.md`, section 8.
//!
//! | file | subject |
//! |---|---|
//! | `draws` | a rig drawn from the estimate's distribution |
//! | `evaluator` | it, judged at every target |
//! | `driver` | which error tells failing rigs from the others |
//! | `robust` | settings that hold for more rigs |
//! | `found` | all that comes of it |

mod draws;
mod driver;
mod evaluator;
mod found;
mod robust;

pub use driver::Driver;
pub use found::{RobustSettings, RobustnessRequest, TargetShare, Uncertain};

use super::found_by::FoundBy;
use super::{Advice, AdviceRequest, AdviseError};
use crate::fit::Fit;
use crate::sample::{Monitor, Uncounted};
use crate::scenario::Target;
use crate::summary::Rate;
use evaluator::{DrawResult, Evaluator};

/// Runs that count as progress.
#[must_use]
pub fn uncertain_runs(
    targets: usize,
    request: &AdviceRequest,
    robustness: RobustnessRequest,
) -> u64 {
    (targets as u64)
        .saturating_mul(u64::from(robustness.draws))
        .saturating_mul(request.batch.trials)
}

/// Tries the advised settings on rigs drawn from what a log leaves open. `advice` is that for the fitted rig and
/// these targets, `log` the name of the log.
///
/// # Errors
/// [`AdviseError`] when cancelled, or if settings make no rig.
pub fn uncertain(
    advice: &Advice,
    fit: &Fit,
    log: &str,
    targets: &[Target],
    robustness: RobustnessRequest,
    monitor: &dyn Monitor,
) -> Result<Uncertain, AdviseError> {
    let seed = advice.request.batch.seed;
    let draws = u64::from(robustness.draws);
    let draw = |index| draws::draw(fit, &advice.rig, seed, index);
    let drawn: Vec<_> = (0..draws).map(draw).collect();
    let evaluator = Evaluator {
        targets,
        request: advice.request,
        monitor,
    };
    let lists = evaluator.judge(&drawn, &advice.advised_rig)?;
    let all = |good: fn(&DrawResult) -> bool| {
        let count = lists.iter().filter(|list| list.iter().all(good)).count();
        Rate::of(count as u64, draws)
    };
    let all_safe = all(|j| j.safe);
    let failed: Vec<bool> = lists
        .iter()
        .map(|list| !list.iter().all(|j| j.safe))
        .collect();
    let shares: Vec<TargetShare> = targets
        .iter()
        .enumerate()
        .map(|(i, target)| {
            let count = |good: fn(&DrawResult) -> bool| {
                let count = lists.iter().filter(|list| good(&list[i])).count();
                Rate::of(count as u64, draws)
            };
            let hunting_share = lists.iter().map(|list| list[i].hunting_share);
            TargetShare {
                name: target.name.clone(),
                safe: count(|j| j.safe),
                in_time: count(|j| j.in_time),
                hunting_mean: hunting_share.clone().sum::<f64>() / draws as f64,
                hunting_most: hunting_share.fold(0.0, f64::max),
            }
        })
        .collect();
    let fares = |i: &usize| (shares[*i].safe.rate, -shares[*i].hunting_mean);
    let worst = (0..shares.len()).min_by(|a, b| {
        let (a, b) = (fares(a), fares(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let judged = lists.iter().flatten();
    let solved = judged.clone().filter(|j| j.solved).count();
    let found_by = FoundBy::of(solved as u64, judged.count() as u64);
    let fitted = draws::errors(advice.rig.settings(), 0.0);
    let robust = if all_safe.rate < robustness.hold {
        let fresh: Vec<_> = (draws..2 * draws).map(draw).collect();
        let uncounted = Evaluator {
            monitor: &Uncounted(monitor),
            ..evaluator
        };
        robust::find(advice, &drawn, &failed, &fresh, robustness.hold, &uncounted)?
    } else {
        None
    };
    Ok(Uncertain {
        fit: fit.clone(),
        log: log.to_owned(),
        robustness,
        all_safe,
        worst: worst.ok_or(AdviseError::NoTargets)?,
        targets: shares,
        drivers: driver::drivers(&drawn, &failed, &fitted),
        robust,
        found_by,
    })
}
