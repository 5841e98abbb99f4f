use halfturn_engine::advise::{Certificate, Proved, RigStatus};
use halfturn_engine::rig::KeyDifference;
use halfturn_engine::wording::{capital, counted, grouped, limit, percent};

use super::words::{fares, list_faults, some_of, standing, value};
use crate::document::{Block, Document, Line, Span};

/// Most changed keys that are named one by one.
const MOST_KEYS: usize = 8;

/// A certificate proved again.
#[must_use]
pub fn check_document(
    certificate: &Certificate,
    now: &RigStatus,
    proved: &Proved,
    seed: u64,
) -> Document {
    let setting = &proved.setting;
    let mut out = Document::new();
    out.add(Block::Lead(
        if proved.holds() {
            "The advice holds."
        } else if certificate.holds {
            "The advice no longer holds."
        } else {
            "The advice did not hold when it was given, and does not now."
        }
        .into(),
    ));
    out.para(match now {
        RigStatus::AsItWas => {
            "The rig is as it was. The proof puts in the advised changes.".to_owned()
        }
        RigStatus::Advised => "The rig is as it was, with the advised changes.".to_owned(),
        RigStatus::Changed(keys) => {
            let named = |d: &KeyDifference| {
                format!("{} from {} to {}", d.key, value(&d.from), value(&d.to))
            };
            let named: Vec<String> = keys.iter().map(named).collect();
            format!("The rig has changed since: {}.", some_of(&named, MOST_KEYS))
        }
    });
    let targets = counted(setting.targets.len(), "target");
    out.para(if proved.same_targets {
        format!("The list is the same: {targets}.")
    } else {
        format!(
            "The list has changed since: {targets} now, {} then.",
            certificate.targets
        )
    });
    let bad = setting.worst_first();
    let bad = bad.iter().filter_map(|t| Some((t, t.verdict.decides()?)));
    let lines: Vec<Line> = bad
        .map(|(target, fault)| {
            Line::from(Span::Name(target.name.clone()))
                .text(": ")
                .with(Span::State(target.verdict.state))
                .text(format!(
                    ", {} in {} of the runs (limit {})",
                    fault.fault.words(),
                    percent(fault.rate.rate),
                    limit(fault.limit)
                ))
        })
        .chain(
            list_faults(setting)
                .into_iter()
                .map(|fault| capital(&fault).into()),
        )
        .collect();
    if !lines.is_empty() {
        out.add(Block::Items(lines));
    }
    out.para(if setting.holds() {
        format!("Every limit is met: {}.", standing(setting))
    } else {
        format!("{}.", capital(&fares(setting)))
    });
    if !proved.proof.bears_out() {
        out.para("The fresh runs contradict the verdict.");
    }
    out.add(Block::Note(
        format!(
            "Proof: {} runs of each target, seed {seed}.",
            grouped(certificate.trials)
        )
        .into(),
    ));
    out
}
