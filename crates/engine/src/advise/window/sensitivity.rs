//! What halving each error of the rig would do for the smallest tolerance.

use serde::Serialize;

use super::search::WindowSearch;
use crate::advise::list::ListJudge;
use crate::advise::source::Source;
use crate::rig::Rig;
use crate::sample::Cancelled;

/// Targets that are tried for each error, the hardest ones.
const TRIED: usize = 3;

/// Least share of the tolerance that an improvement must take away to be named: the search does not see less.
const LEAST_GAIN: f64 = 0.03;

/// One error, halved.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::not_negative))]
pub struct Improvement {
    /// What is halved.
    pub what: Source,
    /// The smallest tolerance then \[deg\].
    pub low_deg: f64,
    /// That tolerance as a share of the one with the whole error.
    pub ratio: f64,
}

/// Tries every error that the rig has; the best improvement first.
pub(super) fn improvements(
    rig: &Rig,
    search: &mut WindowSearch<'_>,
    low_deg: f64,
) -> Result<Vec<Improvement>, Cancelled> {
    let mut found = Vec::new();
    for what in Source::SIZED {
        if !what.is_in(rig.settings()) {
            continue;
        }
        let Some(better) = what.halved_in(rig) else {
            continue;
        };
        // A rig with other errors, so a list of its own.
        let mut list = ListJudge::new(search.list.targets, search.list.criteria, search.list.judge);
        list.searching = true;
        let mut search = WindowSearch {
            policy: search.policy,
            order: search.order.iter().copied().take(TRIED).collect(),
            list: &list,
            solved: 0,
            asked: 0,
        };
        // Mostly it helps little: look just below first.
        let below = better.with(|s| s.loop_.tolerance_deg = low_deg * (1.0 - LEAST_GAIN));
        if !below.map_or(Ok(false), |rig| search.all_serve(&rig))? {
            continue;
        }
        if let Some(then_deg) = search.lowest(&better, low_deg, low_deg)? {
            found.push(Improvement {
                what,
                low_deg: then_deg,
                ratio: then_deg / low_deg,
            });
        }
    }
    found.retain(|i| i.ratio <= 1.0 - LEAST_GAIN);
    found.sort_by(|a, b| a.ratio.total_cmp(&b.ratio));
    Ok(found)
}
