//! The decision: is another start of the arc worth it? One answer, which every face of the program shows.

use serde::Serialize;

use super::Setting;
use super::arc::ArcChoice;
use super::verdict::{TargetReport, Verdict};

/// Margins that differ by less are equal \[deg\].
const ROUNDING_DEG: f64 = 1e-9;

/// Standard deviations that a difference of shares must exceed to be more than chance.
const BEYOND_CHANCE: f64 = 1.96;

/// What another start of the arc does for the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decision {
    /// Every target is safe, and a start with more room exists.
    Spare,
    /// Every target is safe, and the present start is kept.
    Fine,
    /// Every target becomes safe.
    Cures,
    /// It gets better, but not every target is safe.
    Helps,
    /// The search finds no better start than the present one, or there is no seam.
    NoOther,
    /// The start that the search finds is no better in the runs: the present one is kept.
    NoHelp,
}

impl Decision {
    /// Decides between the present start and the one that the search found; without `after` the search
    /// found the present one.
    pub(super) fn of(before: &Setting, after: Option<&Setting>, choice: &ArcChoice) -> Self {
        match after {
            None if before.all_safe() => Self::Fine,
            None => Self::NoOther,
            Some(after) if before.all_safe() => {
                let roomier = choice.margin_deg > choice.present_margin_deg + ROUNDING_DEG
                    || (choice.clear_of_keep_outs && !choice.present_clear_of_keep_outs)
                    || (choice.within_stops && !choice.present_within_stops);
                if roomier && after.all_safe() {
                    Self::Spare
                } else {
                    Self::Fine
                }
            }
            Some(after) if !better(after, before) => Self::NoHelp,
            Some(after) if after.all_safe() => Self::Cures,
            Some(_) => Self::Helps,
        }
    }

    /// Another start is advised, or named as an option.
    #[must_use]
    pub fn changes(self) -> bool {
        matches!(self, Self::Spare | Self::Cures | Self::Helps)
    }

    /// Something is wrong with the present settings.
    #[must_use]
    pub fn needed(self) -> bool {
        !matches!(self, Self::Spare | Self::Fine)
    }
}

/// No safe target fewer, and neither more runs through keep-outs nor more that hunt, fail or are refused;
/// and of one of the two, fewer. Differences within chance are none.
fn better(new: &Setting, old: &Setting) -> bool {
    let keep_outs = Change::of(old, new, |t| t.keep_out.rate);
    let failures = Change::of(old, new, TargetReport::failed_share);
    let worse = new.count(Verdict::Safe) < old.count(Verdict::Safe)
        || keep_outs == Change::Rise
        || failures == Change::Rise;
    !worse && (keep_outs == Change::Fall || failures == Change::Fall)
}

/// How a sum of shares over all targets changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    Fall,
    None,
    Rise,
}

impl Change {
    fn of(old: &Setting, new: &Setting, share: impl Fn(&TargetReport) -> f64) -> Self {
        let sum = |s: &Setting| -> f64 { s.targets.iter().map(&share).sum() };
        // The targets of a setting meet the same luck, so their deviations add up.
        let deviation = |s: &Setting| -> f64 {
            let of = |t: &TargetReport| {
                let p = share(t).min(1.0);
                (p * (1.0 - p) / t.summary.trials.max(1) as f64).sqrt()
            };
            s.targets.iter().map(of).sum()
        };
        let change = sum(new) - sum(old);
        let chance = BEYOND_CHANCE * libm::hypot(deviation(old), deviation(new));
        if change.abs() <= chance {
            Self::None
        } else if change < 0.0 {
            Self::Fall
        } else {
            Self::Rise
        }
    }
}
