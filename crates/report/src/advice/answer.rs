//! The answer: how the list fares, what to set, what that brings, and which targets are not safe and why.

use std::collections::HashMap;

use halfturn_engine::advise::{Advice, AdviceOutcome, Setting};
use halfturn_engine::rig::Rig;
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{capital, grouped};

use super::reason::clause;
use super::tolerance::repair;
use super::words::{
    about_rest, change_lines, fares, headline, proof, spoken_of, times, too_few_runs,
};
use crate::document::{Block, Document, Line, Span};

/// Most reasons on the first screen. The table of targets has all.
const MOST_REASONS: usize = 5;

pub(super) fn add(advice: &Advice, out: &mut Document) {
    let (before, after) = (&advice.before, &advice.after);
    out.add(Block::Lead(
        Line::from(Span::Shape(worst(before))).text(format!(" {}.", capital(&fares(before)))),
    ));
    out.add(Block::Lead(headline(advice).into()));
    if let Some(text) = too_few_runs(advice) {
        out.para(text);
    }
    out.para(times(advice));
    if !advice.changes.is_empty() {
        out.add(Block::Code(change_lines(&advice.changes)));
    }
    not_safe(&advice.rig, before, out);
    if advice.outcome == AdviceOutcome::Improves {
        out.para("With these settings:");
        not_safe(&advice.advised_rig, after, out);
    }
    out.para(repair(advice));
    if let Some(u) = &advice.uncertain {
        super::uncertain::answer(u, out);
    }
    if advice.proof.bears_out() {
        out.add(Block::Note(proof(advice).into()));
    }
    out.add(caution());
    out.add(Block::Figure("dial", about_rest(advice)));
}

/// What to do before a camera turns.
pub(super) fn caution() -> Block {
    Block::Caution(
        "Before you turn anything".to_owned(),
        vec![
            "check cables, keep-outs and the whole arc by hand.".into(),
            "Turn slowly and watch the first runs. A turning camera can tear cables, pinch fingers, and strike the mount, the pier or the telescope. \
             Never leave the rotator unattended before you have watched it."
                .into(),
            "The maker's instructions, local codes and licensed practice come first. This program advises only. It commands no hardware.".into(),
        ],
    )
}

/// The state of the target that fares worst.
fn worst(setting: &Setting) -> TargetState {
    let worst = setting.worst_first();
    match worst.first() {
        Some(t) if setting.holds() || !t.verdict.is_safe() => t.verdict.state,
        _ => TargetState::AtRisk,
    }
}

/// Targets that are not safe, with their reasons; targets with the same reason stand together. The safe ones get one
/// line.
fn not_safe(rig: &Rig, setting: &Setting, out: &mut Document) {
    let mut found: Vec<(TargetState, Vec<&str>, String)> = Vec::new();
    let mut place = HashMap::new();
    for t in spoken_of(setting) {
        let why = clause(rig, setting, t);
        let at = *place.entry(why.clone()).or_insert(found.len());
        match found.get_mut(at) {
            Some((_, names, _)) => names.push(&t.name),
            None => found.push((t.verdict.state, vec![&t.name], why)),
        }
    }
    if found.is_empty() {
        return;
    }
    let mut lines: Vec<Line> = Vec::new();
    for (state, names, why) in found.iter().take(MOST_REASONS) {
        let more = match names.len() {
            1 => String::new(),
            2 => ", like 1 other,".to_owned(),
            n => format!(", like {} others,", grouped(n as u64 - 1)),
        };
        let line = Line::from(Span::Shape(*state)).text(" ");
        let line = line.with(Span::Name(names[0].to_owned()));
        lines.push(line.text(format!("{more} {why}.")));
    }
    let rest: usize = found
        .iter()
        .skip(MOST_REASONS)
        .map(|(_, names, _)| names.len())
        .sum();
    if rest > 0 {
        let more = format!(
            " and {} more, in the table of targets.",
            grouped(rest as u64)
        );
        lines.push(Line::from(Span::Shape(found[MOST_REASONS].0)).text(more));
    }
    let safe = match setting.count(TargetState::Safe) {
        0 => None,
        1 => Some("The other target is safe.".to_owned()),
        n => Some(format!("The other {} targets are safe.", grouped(n as u64))),
    };
    if let Some(safe) = safe {
        lines.push(Line::from(Span::Shape(TargetState::Safe)).text(format!(" {safe}")));
    }
    out.add(Block::Items(lines));
}
