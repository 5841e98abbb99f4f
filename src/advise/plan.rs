//! The settings that meet the user's limits: bound, tolerance, arc, band and rule put together and proved on
//! the whole list.

use super::arc::{ArcChoice, Repair, choose_arc};
use super::band::{BandAdvice, find_band};
use super::bound::SwingBound;
use super::flats::Flats;
use super::list::{Miss, RuleOnList, candidates, cheapest, rule_on_list};
use super::settling::{MonteCarlo, Settling, Solved};
use super::window::Window;
use super::{Request, Setting};
use crate::rig::{Difference, Rig, RigError, Rule};
use crate::sample::{Batch, Cancelled, Monitor, Uncounted};
use crate::scenario::{Policy, Target};

/// Most runs for one answer of a search.
const SEARCH_RUNS: u64 = 4_000;

/// The settings beyond the start of the arc, with what each rests on.
#[derive(Debug, Clone)]
pub struct Plan {
    /// How large a residual a swing can leave, with the advised arc.
    pub bound: SwingBound,
    /// The tolerances that serve.
    pub window: Window,
    /// Ways out where no arc serves the list.
    pub repair: Option<Repair>,
    /// The band that the hysteresis rule needs.
    pub band: BandAdvice,
    /// Every rule on the whole list, with the advised tolerance.
    pub rules: Vec<RuleOnList>,
    /// The rule to use; `None` where none meets the limits.
    pub chosen: Option<usize>,
    /// The flats of the night.
    pub flats: Flats,
    /// The rig with all changes.
    pub rig: Rig,
    /// The keys that change.
    pub changes: Vec<Difference>,
}

impl Plan {
    /// The rule that the plan ends with: the chosen one, or the present one where none meets the limits.
    #[must_use]
    pub fn proof(&self) -> &RuleOnList {
        let rule = self.rig.settings().wrap.rule;
        let present = || self.rules.iter().position(|r| r.policy.rule == rule);
        &self.rules[self.chosen.or_else(present).unwrap_or(0)]
    }

    /// The settings meet every limit, and the tolerance keeps the frame.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.chosen.is_some() && self.tolerance_keeps_frame()
    }

    /// The tolerance of the plan is within what the frame bears, or nobody said what that is.
    #[must_use]
    pub fn tolerance_keeps_frame(&self) -> bool {
        let tolerance_deg = self.rig.settings().loop_.tolerance_deg;
        self.window
            .high_deg
            .is_none_or(|high| tolerance_deg <= high)
    }

    /// The present rule misses these limits with the decided arc and the advised tolerance.
    #[must_use]
    pub fn present_misses(&self, present: Rule) -> &[Miss] {
        self.rules
            .iter()
            .find(|r| r.policy.rule == present)
            .map_or(&[], |r| &r.misses)
    }
}

/// Runs that a plan counts as progress.
pub(super) fn plan_runs(targets: usize, request: &Request) -> u64 {
    (targets as u64)
        .saturating_mul(Rule::ALL.len() as u64)
        .saturating_mul(request.batch.trials)
}

/// Makes the plan. `advised` is the rig with the decided arc, `after` the list under it.
pub(super) fn make_plan(
    (rig, advised): (&Rig, &Rig),
    targets: &[Target],
    (choice, after): (&ArcChoice, &Setting),
    request: Request,
    monitor: &dyn Monitor,
) -> Result<Plan, PlanError> {
    let wishes = request.wishes;
    let runs = MonteCarlo {
        plan: Batch {
            trials: request.batch.trials.min(SEARCH_RUNS),
            ..request.batch
        },
        monitor,
    };
    let least = request.limits.max_hunting.min(1.0 - wishes.settle_chance);
    let settling = Solved::new(least, runs);
    let policy = Policy::of(advised);
    let bound = SwingBound::of(advised, policy, wishes.tail);
    let serves = after.all_safe() && choice.keeps_all();
    let repair =
        (!serves && !choice.no_seam).then(|| Repair::find(advised, targets, bound.margin_deg));
    let work = Work {
        rig,
        advised,
        targets,
        choice,
        request,
        settling: &settling,
    };

    let mut window = Window::find(advised, policy, targets, &wishes, &settling)?;
    let present_deg = window.present_deg;
    let mut found = None;
    if window.low_deg.is_some_and(|low| present_deg < low) {
        // Hunting may be what asks for a wider tolerance: another rule may do without.
        let tried = work.with_tolerance(present_deg, &Uncounted(monitor))?;
        if tried.chosen.is_some() {
            monitor.done(plan_runs(targets.len(), &request));
            found = Some(tried);
        }
    }
    let found = match found {
        Some(found) => found,
        None => work.with_tolerance(window.advised_deg, monitor)?,
    };
    let Found {
        tolerant,
        band,
        rules,
        chosen,
    } = found;
    let present = rig.settings().wrap.rule;
    let planned = match chosen {
        Some(i) => tolerant.with(|s| {
            let policy = &rules[i].policy;
            s.wrap.rule = policy.rule;
            // Where there is no seam the start does not matter: leave it alone.
            s.wrap.arc_start_deg = if rules[i].choice.no_seam {
                rig.settings().wrap.arc_start_deg
            } else {
                policy.arc_start_deg
            };
            if policy.rule == Rule::HysteresisBand {
                s.wrap.band_deg = policy.band_deg;
            }
        })?,
        None => tolerant,
    };
    if let Some(i) = chosen.filter(|i| rules[*i].policy.rule != present) {
        window = Window::find(advised, rules[i].policy, targets, &wishes, &settling)?;
        // It has just been shown to serve, which the search sees only to its own precision.
        window.advised_deg = planned.settings().loop_.tolerance_deg;
        window.low_deg = window.low_deg.map(|low| low.min(window.advised_deg));
    }
    Ok(Plan {
        flats: Flats::of(after, wishes.flats_within_deg),
        changes: rig.differences(&planned),
        rig: planned,
        bound,
        window,
        repair,
        band,
        rules,
        chosen,
    })
}

/// What a plan is made from.
struct Work<'a> {
    rig: &'a Rig,
    advised: &'a Rig,
    targets: &'a [Target],
    choice: &'a ArcChoice,
    request: Request,
    settling: &'a dyn Settling,
}

/// What serves with a tolerance.
struct Found {
    tolerant: Rig,
    band: BandAdvice,
    rules: Vec<RuleOnList>,
    chosen: Option<usize>,
}

impl Work<'_> {
    /// The band and every rule on the whole list, with a tolerance \[deg\].
    fn with_tolerance(
        &self,
        tolerance_deg: f64,
        monitor: &dyn Monitor,
    ) -> Result<Found, PlanError> {
        let tolerant = self
            .advised
            .with(|s| s.loop_.tolerance_deg = tolerance_deg)?;
        let band = self.band(&tolerant)?;
        let present = &self.rig.settings().wrap;
        let serves = |b: f64| {
            band.needed_deg.is_some_and(|needed| b >= needed)
                && band.largest_safe_deg.is_some_and(|safe| b <= safe)
        };
        let band_deg = if present.rule == Rule::HysteresisBand && serves(present.band_deg) {
            present.band_deg
        } else {
            band.advised_deg
                .or(band.needed_deg)
                .unwrap_or(present.band_deg)
        };
        let rules = candidates(&tolerant, self.targets, self.choice, band_deg)
            .into_iter()
            .map(|candidate| {
                rule_on_list(&tolerant, self.targets, candidate, self.request, monitor)
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Found {
            chosen: cheapest(&rules, present.rule),
            tolerant,
            band,
            rules,
        })
    }

    fn band(&self, tolerant: &Rig) -> Result<BandAdvice, PlanError> {
        let wishes = &self.request.wishes;
        let with_band = tolerant.with(|s| {
            s.wrap.rule = Rule::HysteresisBand;
            s.wrap.band_deg = 0.0;
        })?;
        let banded = if self.rig.settings().wrap.rule == Rule::FullCircle {
            choose_arc(&with_band, self.targets)
        } else {
            self.choice.clone()
        };
        let bound = SwingBound::of(&with_band, Policy::of(&with_band), wishes.tail);
        Ok(find_band(
            tolerant,
            banded.start_deg,
            banded.largest_band_deg,
            bound.residual_deg,
            (&self.request.limits, wishes),
            self.settling,
        )?)
    }
}

/// Why there is no plan.
#[derive(Debug, thiserror::Error)]
pub(super) enum PlanError {
    #[error(transparent)]
    Rig(#[from] RigError),
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
