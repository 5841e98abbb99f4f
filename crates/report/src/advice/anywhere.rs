//! A rig at every target angle: the shares that hunt, and what to set once.

use halfturn_engine::advise::{AnyTarget, Circle, MOST_HUNTING, Part, RuleAnywhere};
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Policy;
use halfturn_engine::verdict::{Standing, TargetState};
use halfturn_engine::wording::{angle, joined, percent};

use super::answer::caution;
use super::provenance::Provenance;
use super::words::{change_clauses, change_lines, list_faults, settings};
use crate::document::{Block, Column, Document, Line, Span, Table};

/// Most zones in one sentence.
const MOST_ZONES: usize = 4;

/// Everything that is said of a rig at every target angle.
#[must_use]
pub fn any_target_document(found: &AnyTarget, made: &Provenance) -> Document {
    let mut out = Document::new();
    let now = &found.own().now;
    let shape = Span::Shape(worst(now));
    let first = format!(" With {}: {}.", settings(&found.rig), fares(now));
    out.add(Block::Lead(Line::from(shape).text(first)));
    out.add(Block::Lead(any_target_headline(found).into()));
    if !found.changes.is_empty() {
        out.add(Block::Code(change_lines(&found.changes)));
    }
    out.para("What each rule can do for you:");
    let says = |r: &RuleAnywhere| {
        let line = Line::from(Span::Shape(worst(&r.best)));
        line.text(format!(" {}: {}.", r.now.policy.rule, rule_anywhere(r)))
    };
    out.add(Block::Items(found.rules.iter().map(says).collect()));
    out.add(caution());
    out.add(Block::Figure(
        "any-target",
        "Each bar is a rule. Its colours and marks show how a target fares at each position angle."
            .to_owned(),
    ));
    let circles = |best: bool| {
        let of = move |r: &'_ RuleAnywhere| if best { r.best.clone() } else { r.now.clone() };
        found.rules.iter().map(of).collect::<Vec<_>>()
    };
    out.add(Block::open(
        "rules",
        "Share of all position angles",
        vec![
            Block::Table(table("With your arc, band and tolerance", &circles(false))),
            Block::Table(table("With the best settings of each rule", &circles(true))),
        ],
    ));
    out.add(Block::folded(
        "computed",
        "How sure this is",
        sure(found, made),
    ));
    out
}

/// What to set once, in a sentence.
pub(crate) fn any_target_headline(found: &AnyTarget) -> String {
    let then = "every position angle is safe, and at none does more than one run in a million hunt";
    let serving = found.rules.iter().find(|r| r.best.serves());
    match &found.advised {
        None if serving.is_some() => format!(
            "With what --change allows, no settings serve every position angle. The rule {} would: allow a change of the rule.",
            serving
                .map(|r| r.best.policy.rule.to_string())
                .unwrap_or_default()
        ),
        None => format!(
            "No settings were found that serve every position angle.{} Give advise your list: it then looks for settings that serve your targets.",
            short_cable(&found.rig)
        ),
        Some(_) if found.changes.is_empty() => format!("Nothing needs to change: {then}."),
        Some(rig) => format!(
            "Set {}: then {then}. You need not ask again for another target.",
            joined(&change_clauses(&found.rig, rig))
        ),
    }
}

/// What a cable limit asks of every arc that frames all angles: its half on either side of the parking reading.
fn short_cable(rig: &Rig) -> String {
    let limit_deg = rig.settings().drive.winding_limit_deg;
    let policy = Policy::of(rig);
    let least_deg = 0.5 * policy.period_deg();
    if limit_deg <= 0.0 || limit_deg >= least_deg {
        return String::new();
    }
    format!(
        " A cable limit of {} is too small for {}: make room for {} either way, and park in the middle of the arc.",
        angle(limit_deg),
        match policy.symmetry {
            1 => "a turn",
            2 => "half a turn",
            _ => "a quarter of a turn",
        },
        angle(least_deg)
    )
}

/// How the angles of a circle fare, as a clause: "1.56 % of all position angles hunt (178.6° to 1.41°)".
fn fares(circle: &Circle) -> String {
    // What is no wider than the grid only parts two zones.
    let there = |state: &TargetState| {
        let is = |p: &Part| p.state == *state;
        circle.share(is) > 2.0 * circle.share_error(is)
    };
    let states = TargetState::ALL.iter().copied().filter(there);
    let parts: Vec<String> = states
        .filter(|state| *state != TargetState::Safe)
        .enumerate()
        .map(|(i, state)| {
            let share = percent(circle.share(|p| p.state == state));
            let of = if i == 0 {
                " of all position angles"
            } else {
                ""
            };
            format!("{share}{of} {} ({})", state.do_(), zones(circle, state))
        })
        .collect();
    let mut fares = if parts.is_empty() {
        "every position angle is safe".to_owned()
    } else {
        parts.join(", ")
    };
    for fault in list_faults(&circle.whole) {
        fares = format!("{fares}, and {fault}");
    }
    fares
}

/// Where the zones of a state lie.
fn zones(circle: &Circle, state: TargetState) -> String {
    let all = circle.zones();
    let mine: Vec<String> = all
        .iter()
        .filter(|z| z.state == state)
        .map(|z| {
            // A zone over the seam ends in the next repetition.
            let turned = z.to_deg < z.from_deg && circle.width_deg < 360.0;
            let end_deg = z.to_deg + if turned { circle.width_deg } else { 0.0 };
            format!("{} to {}", angle(z.from_deg), angle(end_deg))
        })
        .collect();
    let more = mine.len().saturating_sub(MOST_ZONES);
    let shown = mine[..mine.len() - more].join(", ");
    let again = if circle.width_deg < 360.0 {
        format!(", and so on every {}", angle(circle.width_deg))
    } else {
        String::new()
    };
    match more {
        0 => format!("{shown}{again}"),
        n => format!("{shown} and {n} more{again}"),
    }
}

/// What a rule can do, as a clause.
pub(crate) fn rule_anywhere(rule: &RuleAnywhere) -> String {
    let best = &rule.best;
    let with = words(&best.rig);
    if best.serves() {
        return format!("serves every position angle with {with}");
    }
    let mut why = vec![fares(best)];
    let worst = best.worst_hunting().filter(|r| r.high > MOST_HUNTING);
    if let Some(rate) = worst {
        why.push(if best.near_are_solved() {
            format!("at the worst angle {} of the runs hunt", small(rate.rate))
        } else {
            "near the seam the exact method can't hold the loop, and runs can't show a millionth"
                .to_owned()
        });
    }
    if let Some(band) = rule.band.as_ref().filter(|b| !b.cures && worst.is_some()) {
        let needed = band.needed_deg.map_or_else(
            || "no band is wide enough".to_owned(),
            |b| format!("the band must be {} wide", angle(b)),
        );
        let room = band.largest_safe_deg.map_or_else(
            || "and this arc has no room for any".to_owned(),
            |b| format!("and {} fit", angle(b)),
        );
        why.push(format!("{needed}, {room}"));
    }
    format!("at best, with {with}, {}", why.join(", and "))
}

/// A share that may be a few in a million.
fn small(share: f64) -> String {
    if share > 0.0 && share < 1e-4 {
        format!("{:.1} in a million", 1e6 * share)
    } else {
        percent(share)
    }
}

/// Arc, band, tolerance and approach of a rig.
fn words(rig: &Rig) -> String {
    let all = settings(rig);
    let own = all.split_once(", ").map_or(all.as_str(), |(_, rest)| rest);
    format!("{own}, approach {}", rig.settings().loop_.approach)
}

/// The worst state of a circle.
fn worst(circle: &Circle) -> TargetState {
    let states = circle.points.iter().map(|p| p.part.state);
    match states.min() {
        Some(TargetState::Safe) if !circle.serves() => TargetState::AtRisk,
        state => state.unwrap_or(TargetState::Safe),
    }
}

/// A figure of a circle, with its name.
type Row<'a> = (&'a str, &'a dyn Fn(&Circle) -> String);

fn table(title: &str, circles: &[Circle]) -> Table {
    let mut columns = vec![Column::words("")];
    let names = circles.iter().map(|c| c.policy.rule.to_string());
    columns.extend(names.map(|name| Column::numbers(name, "")));
    let mut table = Table::new(title, columns);
    let share = |is: fn(&Part) -> bool| move |c: &Circle| percent(c.share(is));
    let (hunt, may) = (
        share(|p| p.hunting == Standing::Exceeds),
        share(|p| p.hunting == Standing::MayExceed),
    );
    let (above, safe) = (share(|p| p.above), share(Part::is_safe));
    let rows: [Row<'_>; 7] = [
        ("hunt", &hunt),
        ("may hunt above the limit", &may),
        ("more than a millionth may hunt", &above),
        ("safe", &safe),
        ("hunting, worst angle", &|c| {
            c.worst_hunting()
                .map_or_else(|| "no seam".to_owned(), |r| small(r.rate))
        }),
        ("start of the arc (°)", &|c| {
            halfturn_engine::wording::degrees(c.policy.arc_start_deg)
        }),
        ("angles judged", &|c| c.points.len().to_string()),
    ];
    for (name, cell) in rows {
        table.row(std::iter::once(name.to_owned()).chain(circles.iter().map(cell)));
    }
    table
}

/// What holds, and what does not.
fn sure(found: &AnyTarget, made: &Provenance) -> Vec<Block> {
    let own = &found.own().now;
    let error = own.share_error(Part::is_safe);
    let mut lines = vec![
        Line::new(
            "Every judged angle has the verdict that a target there gets from advise. Between two angles that fare differently the grid is halved to 0.005°.",
        ),
        Line::new(format!(
            "With your settings the share of the safe angles is off by {} at most, if no zone is narrower than the grid.",
            percent(error)
        )),
        Line::new(
            "Every run begins at the parking reading. From elsewhere the way to a target may differ: sky night checks a night.",
        ),
        Line::new(
            "Between two angles nothing is proven: the errors of the rig smooth the figures over such distances.",
        ),
    ];
    if let Some(beyond_deg) = own.beyond_deg {
        lines.push(Line::new(format!(
            "Farther than {} from the seam a closed form bounds hunting at every angle, between the judged ones too (docs/advice.md, section 9). Nearer, it is solved.",
            angle(beyond_deg)
        )));
    }
    lines.push(Line::new("Command: ").with(Span::Code(made.command.clone())));
    vec![Block::Items(lines)]
}
