//! A certificate proved again, as plain text.

use std::fmt::Write as _;

use halfturn_engine::advise::{Certificate, Proved, RigStatus};
use halfturn_engine::wording::{grouped, limit, percent};

/// Changed keys that are named one by one.
const MOST_KEYS: usize = 8;

/// A certificate proved again.
#[must_use]
pub fn check_text(
    certificate: &Certificate,
    now: &RigStatus,
    proved: &Proved,
    seed: u64,
) -> String {
    let setting = &proved.setting;
    let mut out = String::new();
    let targets = |n: usize| match n {
        1 => "1 target".to_owned(),
        n => format!("{} targets", grouped(n as u64)),
    };
    let rig = match now {
        RigStatus::AsItWas => {
            "the rig is as it was; the advised changes were put in for the proof".to_owned()
        }
        RigStatus::Advised => "the rig is as it was, with the advised changes".to_owned(),
        RigStatus::Changed(keys) => {
            let named: Vec<String> = keys
                .iter()
                .take(MOST_KEYS)
                .map(|d| {
                    let text = |v: &Option<toml::Value>| {
                        v.as_ref()
                            .map_or_else(|| "not set".to_owned(), ToString::to_string)
                    };
                    format!("{} from {} to {}", d.key, text(&d.from), text(&d.to))
                })
                .collect();
            let more = if keys.len() > MOST_KEYS {
                format!(" and {} keys more", keys.len() - MOST_KEYS)
            } else {
                String::new()
            };
            format!("the rig has changed since: {}{more}", named.join(", "))
        }
    };
    let _ = writeln!(out, "rig: {rig}");
    if proved.same_targets {
        let _ = writeln!(out, "targets: the same {}", targets(setting.targets.len()));
    } else {
        let _ = writeln!(
            out,
            "targets: the list has changed since: {} now, {} then",
            targets(setting.targets.len()),
            certificate.targets
        );
    }
    let _ = writeln!(
        out,
        "proof: {} runs for every target, seed {seed}\n",
        grouped(certificate.trials)
    );
    for target in setting.worst_first() {
        if let Some(fault) = target.verdict.decides() {
            let _ = writeln!(
                out,
                "  {}: {}: {} in {} of the runs; the limit is {}",
                target.name,
                target.verdict.state,
                fault.fault.words(),
                percent(fault.rate.rate),
                limit(fault.limit)
            );
        }
    }
    for fault in setting.list_faults() {
        let _ = writeln!(out, "  {fault}");
    }
    let _ = writeln!(
        out,
        "{}",
        if setting.holds() {
            format!("every limit is met: {}", setting.standing())
        } else {
            setting.fares()
        }
    );
    if !proved.proof.bears_out() {
        let _ = writeln!(out, "the fresh runs contradict the verdict");
    }
    let _ = writeln!(
        out,
        "\n{}",
        if proved.holds() {
            "The advice holds."
        } else if certificate.holds {
            "The advice no longer holds."
        } else {
            "The advice did not hold when it was given, and does not now."
        }
    );
    out
}
