//! The wrap rules on the whole list, each with its best settings, and at the shown target.

use halfturn_engine::advise::{Advice, RuleOnList, short_way_trap};
use halfturn_engine::verdict::{Fault, TargetState};
use halfturn_engine::wording::{angle, counted, degrees, duration, grouped, percent};

use super::words::fares;
use crate::document::{Block, Column, Document, Table};
use crate::figures::rules_table;

/// Which rule to use, and why not the others.
pub(crate) fn rule_sentence(advice: &Advice) -> String {
    let rule = advice.after.policy.rule;
    let other = |r: &&RuleOnList| r.setting.policy.rule != rule;
    let others: Vec<String> = advice
        .on_list
        .iter()
        .filter(other)
        .map(|r| format!("{}: {}", r.setting.policy.rule, why_not(advice, r)))
        .collect();
    let does = if rule == advice.rig.settings().wrap.rule {
        "Keep"
    } else {
        "Use"
    };
    let others = if others.is_empty() {
        String::new()
    } else {
        format!(" Why no other rule: {}.", others.join("; "))
    };
    if advice.after.holds() {
        format!("{does} the rule {rule}: it meets every limit.{others}")
    } else {
        format!(
            "No rule meets every limit. {does} the rule {rule}: {}.{others}",
            fares(&advice.after)
        )
    }
}

/// Why a rule is not the advised one, as a clause.
pub(crate) fn why_not(advice: &Advice, other: &RuleOnList) -> String {
    if !other.setting.holds() {
        return fares(&other.setting);
    }
    let changes = |n: usize| match n {
        0 => "no change".to_owned(),
        n => counted(n, "changed key"),
    };
    let (mine, theirs) = (advice.changes.len(), other.changes.len());
    if theirs > mine {
        return format!("needs {} instead of {}", changes(theirs), changes(mine));
    }
    let (mine, theirs) = (&advice.after, &other.setting);
    if mine.arc.clear_of_keep_outs && !theirs.arc.clear_of_keep_outs {
        return "its arc overlaps a keep-out".to_owned();
    }
    let times = [mine, theirs].map(|s| duration(s.total_time_s()));
    if theirs.total_time_s() < mine.total_time_s() {
        format!(
            "meets every limit in {} instead of {}, but your rule does too, and stays",
            times[1], times[0]
        )
    } else if times[0] == times[1] {
        "no faster".to_owned()
    } else {
        format!("takes {} instead of {}", times[1], times[0])
    }
}

/// The trap of a widened arc on endless travel; empty if the advice has none.
fn trap(advice: &Advice) -> String {
    let Some(wide_deg) = short_way_trap(&advice.advised_rig, advice.after.policy) else {
        return String::new();
    };
    let outside = advice.after.targets.iter();
    let outside = outside.filter_map(|t| t.summary.outside_arc_deg.mean);
    let outside_deg = outside.fold(0.0, f64::max);
    let seen = if outside_deg > 0.0 {
        format!(
            "At one target the drive turns {} outside on average.",
            angle(outside_deg)
        )
    } else {
        "At these targets it does not.".to_owned()
    };
    format!(
        "With its band the arc is {} wide. Between two points more than 180° apart the drive takes the short way, outside the arc. {seen}",
        angle(wide_deg)
    )
}

pub(super) fn add(advice: &Advice, out: &mut Document) {
    let shown = advice.shown();
    let mut blocks = vec![Block::Para(rule_sentence(advice).into())];
    let trap = trap(advice);
    if !trap.is_empty() {
        blocks.push(Block::Para(trap.into()));
    }
    blocks.push(Block::Table(on_list(advice)));
    blocks.push(Block::Para(
        format!(
            "At {} (position angle {}), with the present arc and the same random numbers for every rule:",
            shown.name,
            angle(shown.position_angle_deg)
        )
        .into(),
    ));
    let rules: Vec<_> = advice
        .rules
        .iter()
        .map(|r| (&r.summary, &r.verdict))
        .collect();
    blocks.push(Block::Table(rules_table(&rules)));
    if shown.summary.exact.is_some() {
        blocks.push(Block::Note(
            format!(
                "Counted in {} runs each. The shares above are solved exactly, so they differ a little.",
                grouped(advice.request.batch.trials)
            )
            .into(),
        ));
    }
    blocks.push(Block::Figure(
        "settle-time",
        format!("The share of all runs at {} that have settled by a given time. A line that stays below 100 % has runs that never settle.", shown.name),
    ));
    blocks.push(Block::Figure(
        "seam-distance",
        "The share of the runs that hunt, against the distance of a target from the seam."
            .to_owned(),
    ));
    out.add(Block::folded("rules", "The other rules", blocks));
}

/// A figure of a rule on the whole list, with its name.
type Row<'a> = (&'a str, &'a dyn Fn(&RuleOnList) -> String);

/// Every rule on the whole list, each with its best settings.
fn on_list(advice: &Advice) -> Table {
    let targets = advice.before.targets.len();
    let mut columns = vec![Column::words("")];
    columns.extend(advice.on_list.iter().map(|r| {
        let mark = if r.advised { ", advised" } else { "" };
        Column::numbers(format!("{}{mark}", r.setting.policy.rule), "")
    }));
    let mut table = Table::new(
        "Every rule on the whole list, each with its best settings",
        columns,
    );
    let worst = |fault: Fault| move |r: &RuleOnList| percent(r.setting.worst_share(fault));
    let (hunts, late, winds) = (
        worst(Fault::Hunting),
        worst(Fault::Late),
        worst(Fault::Winding),
    );
    let rows: [Row<'_>; 9] = [
        ("meets every limit", &|r| {
            if r.setting.holds() { "yes" } else { "no" }.to_owned()
        }),
        ("safe targets", &|r| {
            format!("{} of {targets}", r.setting.count(TargetState::Safe))
        }),
        ("start of the arc (°)", &|r| {
            degrees(r.setting.arc.start_deg)
        }),
        ("tolerance (°)", &|r| degrees(r.setting.tolerance_deg)),
        ("changed keys", &|r| r.changes.len().to_string()),
        ("hunt, worst target", &hunts),
        ("late, worst target", &late),
        ("wound too far, worst target", &winds),
        ("every target once", &|r| duration(r.setting.total_time_s())),
    ];
    let winding = advice.rig.settings().drive.winding_limit_deg > 0.0;
    for (name, cell) in rows {
        if winding || !name.starts_with("wound") {
            table.row(std::iter::once(name.to_owned()).chain(advice.on_list.iter().map(cell)));
        }
    }
    table
}
