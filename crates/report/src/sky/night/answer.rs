//! The last lines of a night: the best rule, or why there is none.

use super::{NightHead, name};
use crate::document::{Block, Document, Line, Span};
use halfturn_engine::verdict::{Fault, FaultShare, TargetState};
use halfturn_engine::wording::{degrees, grouped, limit, percent};
use halfturn_sky::night::{NightPlan, RuleNight, StretchSummary};

/// The best of the rules under which every stretch is safe. If no rule is safe, why each fails.
pub(super) fn answer(head: &NightHead<'_>, plan: &NightPlan) -> Document {
    let mut out = Document::new();
    out.add(Block::Lead(match plan.best() {
        Some(rule) => {
            let which = if plan.rules.len() == 1 {
                "Rule"
            } else {
                "Best rule"
            };
            let usable = plan.stretches.iter().all(|s| s.not_usable.is_empty());
            let state = if usable {
                TargetState::Safe
            } else {
                TargetState::AtRisk
            };
            Line::from(Span::Shape(state)).text(format!(
                " {which}: {}. Every stretch is safe, and {} min of clear sky are lost.",
                rule.course.policy.rule,
                degrees(rule.lost_s() / 60.0)
            ))
        }
        None => Line::from(Span::Shape(worst(plan))).text(if plan.rules.iter().any(may_be_safe) {
            " These nights are too few to find a safe rule."
        } else {
            " No rule is safe on every stretch."
        }),
    }));
    let lost = plan.stretches.iter().filter(|s| !s.not_usable.is_empty());
    let lost = lost.count();
    if lost > 0 {
        out.para(format!(
            "{lost} of {} stretches cannot be used.",
            plan.stretches.len()
        ));
    }
    let failing = plan.rules.iter().filter(|r| r.state() != TargetState::Safe);
    let failing = failing.map(|rule| fails_by(plan, rule));
    let failing: Vec<Line> = failing.collect();
    if !failing.is_empty() {
        out.add(Block::Items(failing));
    }
    if sure_with_more(plan) {
        out.para(format!(
            "{} nights are too few to be sure of less than {}. Use more --trials.",
            grouped(head.request.batch.trials),
            limit(head.request.limits.max_fault)
        ));
    }
    if plan.best().is_none() && head.request.clouds.share > 0.0 {
        out.para("Clouds make loops fail under every rule. Compare the rules without --clouds.");
    }
    out
}

/// The state of the worst stretch under the rule that fares best.
fn worst(plan: &NightPlan) -> TargetState {
    let states = plan.rules.iter().map(RuleNight::state);
    states.max().unwrap_or(TargetState::Safe)
}

/// Why a rule fails: each state, worst first, with its worst stretch.
fn fails_by(plan: &NightPlan, rule: &RuleNight) -> Line {
    let stretches = &rule.summary.stretches;
    let one = |state: TargetState| {
        // A stretch may have several states. At risk counts only if nothing worse holds.
        let holds = |s: &StretchSummary| match state {
            TargetState::AtRisk => s.verdict.state == state,
            _ => s.verdict.states().contains(&state),
        };
        let mut in_it: Vec<(usize, f64, Fault)> = Vec::new();
        for (i, s) in stretches.iter().enumerate().filter(|(_, s)| holds(s)) {
            let faults = s.verdict.faults.iter();
            let worst = faults
                .filter(|f| f.state() == Some(state))
                .max_by(|a, b| (a.rate.rate / a.limit).total_cmp(&(b.rate.rate / b.limit)))?;
            in_it.push((i, worst.rate.rate, worst.fault));
        }
        let (i, share, fault) = *in_it.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let does = match in_it.len() {
            1 => format!("1 {}", state.does()),
            n => format!("{n} {}", state.do_()),
        };
        let by = match state {
            TargetState::AtRisk => format!("{} ", fault.words()),
            _ => String::new(),
        };
        let name = name(plan, &plan.stretches[i]);
        Some(format!("{does} ({} {name}: {by}{})", i + 1, percent(share)))
    };
    let unsafe_ = TargetState::ALL
        .iter()
        .copied()
        .filter(|s| *s != TargetState::Safe);
    let all: Vec<String> = unsafe_.filter_map(one).collect();
    Line::from(Span::Shape(rule.state())).text(format!(
        " {}: of {} stretches {}.",
        rule.course.policy.rule,
        stretches.len(),
        all.join(", ")
    ))
}

/// Whether some stretch is at risk only because the interval of its share is too wide.
fn sure_with_more(plan: &NightPlan) -> bool {
    let stretches = plan.rules.iter().flat_map(|r| &r.summary.stretches);
    stretches.into_iter().any(is_unsure)
}

fn is_unsure(stretch: &StretchSummary) -> bool {
    let unsure = |f: &FaultShare| f.rate.rate <= f.limit;
    stretch.verdict.state == TargetState::AtRisk && stretch.verdict.decides().is_some_and(unsure)
}

/// Whether only the number of nights stands against a rule.
fn may_be_safe(rule: &RuleNight) -> bool {
    let mut stretches = rule.summary.stretches.iter();
    stretches.all(|s| s.verdict.state == TargetState::Safe || is_unsure(s))
}
