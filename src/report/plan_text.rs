//! The plan of an advice, and a certificate proved again, as plain text.

use std::fmt::Write as _;

use super::table::{lines, table};
use crate::advise::{Advice, Certificate, Miss, Proved, RigNow, RuleOnList};
use crate::plant::Plant;
use crate::rig::Rig;
use crate::wording::{degrees, duration, grouped, limit, percent};

/// Changed keys that are named one by one.
const MOST_KEYS: usize = 8;

/// What the settings rest on, and every rule on the whole list.
#[must_use]
pub fn plan_text(advice: &Advice) -> String {
    let plan = &advice.plan;
    let n = advice.before.targets.len();
    let mut out = String::from("SETTINGS\n\n");
    let mut say = |name: &str, sentence: String| {
        if !sentence.is_empty() {
            let _ = writeln!(out, "{name}: {sentence}");
        }
    };
    say("swing", advice.bound_sentence());
    say("tolerance", advice.window_sentence());
    say("arc", advice.repair_sentence());
    say("band", advice.band_sentence());
    say("rule", advice.rule_sentence());
    say("short way", advice.trap_sentence());
    say("flats", advice.flats_sentence());
    if advice.plan_goes_further() {
        out.push_str("\nAll changes together, for the rig file (advice.toml in the report has them too):\n\n");
        for line in advice.plan_lines().lines() {
            let _ = writeln!(out, "  {line}");
        }
    }
    let tolerance_deg = plan.rig.settings().loop_.tolerance_deg;
    let _ = writeln!(
        out,
        "\nEvery rule on the whole list, each with the arc that suits it, tolerance {} deg:\n",
        degrees(tolerance_deg)
    );
    out.push_str(&rules_table(&plan.rules, &advice.rig, n));
    out.push_str("\nin time: runs that settle within the wished number of solves, at the slowest target; both worst figures with 95 % intervals\n");
    out
}

fn rules_table(rules: &[RuleOnList], rig: &Rig, targets: usize) -> String {
    let travel = Plant::new(rig).travel();
    let mut header = vec![""];
    let names: Vec<String> = rules.iter().map(|r| r.policy.rule.to_string()).collect();
    header.extend(names.iter().map(String::as_str));
    let mut table = table(&header);
    let mut add = |name: &str, value: &dyn Fn(&RuleOnList) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(rules.iter().map(value)));
    };
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), degrees);
    add("arc from [deg]", &|r| degrees(r.policy.arc_start_deg));
    add("band [deg]", &|r| degrees(r.policy.wrap(travel).band_deg()));
    add("safe targets", &|r| {
        format!("{} of {}", grouped(r.safe as u64), grouped(targets as u64))
    });
    add("ping-pong, worst target", &|r| {
        let p = r.worst_ping_pong;
        format!(
            "{} [{}, {}]",
            percent(p.rate),
            percent(p.low),
            percent(p.high)
        )
    });
    add("in time, slowest target", &|r| {
        let p = r.worst_in_time;
        format!(
            "{} [{}, {}]",
            percent(p.rate),
            percent(p.low),
            percent(p.high)
        )
    });
    add("settle time, mean [s]", &|r| {
        r.summary
            .settle_time_s
            .mean
            .map_or_else(|| "-".to_owned(), |t| format!("{t:.1}"))
    });
    add("travel, mean [deg]", &|r| number(r.summary.travel_deg.mean));
    add("outside the arc, mean [deg]", &|r| {
        number(r.summary.outside_arc_deg.mean)
    });
    add("winding, 99 % below [deg]", &|r| {
        number(r.summary.winding_deg.p99)
    });
    add("all targets once", &|r| duration(r.total_time_s));
    add("meets every limit", &|r| {
        if r.meets() {
            "yes".to_owned()
        } else {
            let misses: Vec<&str> = r.misses.iter().map(|m| m.word()).collect();
            format!("no: {}", misses.join(", "))
        }
    });
    lines(table, &[0])
}

/// A certificate proved again.
#[must_use]
pub fn check_text(certificate: &Certificate, now: &RigNow, proved: &Proved, seed: u64) -> String {
    let mut out = String::new();
    let targets = |n: usize| match n {
        1 => "1 target".to_owned(),
        n => format!("{} targets", grouped(n as u64)),
    };
    let rig = match now {
        RigNow::AsItWas => {
            "the rig is as it was; the advised changes were put in for the proof".to_owned()
        }
        RigNow::Advised => "the rig is as it was, with the advised changes".to_owned(),
        RigNow::Changed(keys) => {
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
        let _ = writeln!(out, "targets: the same {}", targets(proved.targets));
    } else {
        let _ = writeln!(
            out,
            "targets: the list has changed since: {} now, {} then",
            targets(proved.targets),
            certificate.targets
        );
    }
    let _ = writeln!(
        out,
        "proof: {} runs for every target, seed {seed}\n",
        grouped(certificate.trials)
    );
    let found = &proved.found;
    let mut line = |fine: bool, text: String| {
        let _ = writeln!(out, "  {}  {text}", if fine { "holds" } else { "FAILS" });
    };
    let misses = |m: Miss| found.misses.contains(&m);
    line(
        !misses(Miss::Unsafe),
        format!(
            "{} of {} safe (hunting in at most {} of the runs); ping-pong at the worst below {}",
            grouped(found.safe as u64),
            targets(proved.targets),
            limit(certificate.limits.max_ping_pong),
            percent(found.worst_ping_pong.high)
        ),
    );
    line(
        !misses(Miss::Slow),
        format!(
            "settles within {} solves in {} of the runs at the slowest target; at least {} wanted",
            certificate.limits.max_solves,
            percent(found.worst_in_time.rate),
            limit(certificate.limits.settle_chance)
        ),
    );
    if certificate.limits.clear_of_keep_outs {
        line(
            !misses(Miss::KeepOut),
            "the arc, band included, is clear of every keep-out".to_owned(),
        );
    }
    if misses(Miss::Winding) {
        line(false, "the cable is wound too far".to_owned());
    }
    if let Some(high_deg) = proved.tolerance_high_deg {
        line(
            proved.keeps_frame(),
            format!(
                "the tolerance of {} deg keeps the frame, which bears up to {} deg",
                degrees(proved.tolerance_deg),
                degrees(high_deg)
            ),
        );
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
