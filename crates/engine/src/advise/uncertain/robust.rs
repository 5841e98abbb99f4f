//! Settings that hold for more of the rigs: other tolerances, rules with their arcs, and bands.

use super::super::{Advice, AdviseError, RuleOnList, Setting, TargetReport};
use super::draws::Drawn;
use super::evaluator::Evaluator;
use super::found::RobustSettings;
use crate::rig::{Rig, Rule};
use crate::summary::Rate;
use crate::verdict::TargetState;

/// Tolerances that are tried, in multiples of the advised one.
const TOLERANCES: [f64; 7] = [1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0];

/// Bands that are tried, in multiples of the needed one.
const BANDS: [f64; 3] = [1.0, 1.5, 2.0];

/// Failing rigs that a setting is tried on first.
const FIRST: usize = 16;

/// A setting to try, and how many of the first failing rigs it leaves failing.
struct Tried {
    rig: Rig,
    left: u64,
}

/// Looks for settings that hold for a wanted share of `drawn`, the least change first; then for the best that there are.
/// `failed` tells for which of the rigs the advised settings fail, `fresh` are as many others to prove them on.
pub(super) fn find(
    advice: &Advice,
    drawn: &[Drawn],
    failed: &[bool],
    fresh: &[Drawn],
    hold: f64,
    evaluator: &Evaluator<'_>,
) -> Result<Option<RobustSettings>, AdviseError> {
    let (bad, good): (Vec<_>, Vec<_>) = drawn.iter().zip(failed).partition(|(_, f)| **f);
    let bad: Vec<&Drawn> = bad.into_iter().map(|(d, _)| d).collect();
    let good: Vec<&Drawn> = good.into_iter().map(|(d, _)| d).collect();
    let first = &bad[..bad.len().min(FIRST)];
    let most_failures = most_failures(hold, drawn.len());
    let mut best: Option<Tried> = None;
    for rig in candidates(advice)? {
        let left = evaluator.failures(first, &rig)?;
        // Twice the permitted failures: a few rigs tell no more of many.
        let likely = (left * bad.len() as u64) / first.len() as u64;
        let hopeful = likely <= 2 * most_failures.max(1);
        if hopeful {
            let failures = left + evaluator.failures(&bad[first.len()..], &rig)?;
            if failures <= most_failures
                && failures + evaluator.failures(&good, &rig)? <= most_failures
            {
                best = Some(Tried { rig, left });
                break;
            }
        }
        if best.as_ref().is_none_or(|b| left < b.left) {
            best = Some(Tried { rig, left });
        }
    }
    let Some(best) = best.filter(|b| b.left < first.len() as u64) else {
        return Ok(None);
    };
    let fresh: Vec<&Drawn> = fresh.iter().collect();
    let held = fresh.len() as u64 - evaluator.failures(&fresh, &best.rig)?;
    let before = (drawn.len() - bad.len()) as u64;
    let holds = Rate::of(held, fresh.len() as u64);
    Ok((held > before).then(|| RobustSettings {
        changes: advice.advised_rig.differences(&best.rig),
        rig: best.rig,
        holds,
        enough: holds.rate >= hold,
    }))
}

/// How many of the drawn rigs may fail where a share of them is to hold.
fn most_failures(hold: f64, drawn: usize) -> u64 {
    ((1.0 - hold) * drawn as f64).floor() as u64
}

/// The advised settings with other tolerances as far as the frame bears them, other rules with the arcs that suit them, and
/// other bands: by tolerance, the advised rule first, then by the time that a rule takes.
fn candidates(advice: &Advice) -> Result<Vec<Rig>, AdviseError> {
    let advised = &advice.advised_rig;
    let s = advised.settings();
    let advised_deg = s.loop_.tolerance_deg;
    let high_deg = advice.window.high_deg.unwrap_or(f64::INFINITY);
    let clear = advice.after.arc.clear_of_keep_outs;
    let serves = |r: &&RuleOnList| {
        let gear = |t: &TargetReport| t.verdict.state <= TargetState::OutOfReach;
        !r.setting.targets.iter().any(gear) && (r.setting.arc.clear_of_keep_outs || !clear)
    };
    let mut rules: Vec<_> = advice
        .on_list
        .iter()
        .filter(serves)
        .map(|r| &r.setting)
        .collect();
    rules.sort_by(|a, b| {
        let other = |r: &Setting| r.policy.rule != s.wrap.rule;
        other(a)
            .cmp(&other(b))
            .then(a.total_time_s().total_cmp(&b.total_time_s()))
    });
    let mut found = Vec::new();
    for times in TOLERANCES {
        let tolerance_deg = advised_deg * times;
        if times > 1.0 && tolerance_deg > high_deg.min(45.0) {
            continue;
        }
        for rule in &rules {
            let bands: &[f64] = if rule.policy.rule == Rule::HysteresisBand {
                &BANDS
            } else {
                &BANDS[..1]
            };
            for band_times in bands {
                let band_deg = rule.policy.band_deg * band_times;
                let room_deg = rule.arc.largest_band_deg.unwrap_or(0.0);
                if *band_times > 1.0 && band_deg > room_deg {
                    continue;
                }
                let rig = advised.with(|s| {
                    s.loop_.tolerance_deg = tolerance_deg;
                    s.wrap.rule = rule.policy.rule;
                    if !rule.arc.no_seam {
                        s.wrap.arc_start_deg = rule.policy.arc_start_deg;
                    }
                    if rule.policy.rule == Rule::HysteresisBand {
                        s.wrap.band_deg = band_deg;
                    }
                })?;
                if rig != *advised {
                    found.push(rig);
                }
            }
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    #[test]
    fn no_rig_more_may_fail_than_the_share_permits() {
        // 28 of 30 are less than 95 %.
        assert_eq!(
            [30, 40].map(|drawn| super::most_failures(0.95, drawn)),
            [1, 2]
        );
    }
}
