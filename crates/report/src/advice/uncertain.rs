//! The share of the rigs that fit a log for which the advice holds.

use halfturn_engine::advise::{Driver, RobustSettings, TargetShare, Uncertain};
use halfturn_engine::wording::{angle, counted, degrees, grouped, joined, limit, percent};

use crate::document::{Block, Column, Document, Table};
use crate::figures::rate;

/// Most targets in the table: those that are safe for the fewest rigs.
const MOST_ROWS: usize = 12;

/// How an error of the mechanics is treated that the log does not show.
const LEANS: &str = "every rig draws it with the others, near the rig file";

/// Whether the advice holds, and what to do where it does not: part of the answer.
pub(super) fn answer(u: &Uncertain, out: &mut Document) {
    out.para(holds(u));
    out.para(firmer(u));
}

/// What stands behind that answer.
pub(super) fn add(u: &Uncertain, out: &mut Document) {
    let said = [weakest(u), driver(u)].into_iter().chain(unknown(u));
    let said = said.filter(|s| !s.is_empty());
    let mut blocks: Vec<Block> = said.map(|s| Block::Para(s.into())).collect();
    let mut weakest: Vec<&TargetShare> = u.targets.iter().collect();
    weakest.sort_by(|a, b| a.safe.rate.total_cmp(&b.safe.rate));
    let mut table = Table::new(
        "",
        vec![
            Column::words("Target"),
            Column::numbers("Safe", ""),
            Column::numbers("In time", ""),
            Column::numbers("Hunts", ""),
            Column::numbers("On the worst rig", ""),
        ],
    );
    for t in weakest.iter().take(MOST_ROWS) {
        table.row([
            t.name.clone().into(),
            rate(t.safe),
            rate(t.in_time),
            percent(t.hunting_mean).into(),
            percent(t.hunting_most).into(),
        ]);
    }
    blocks.push(Block::Table(table));
    if weakest.len() > MOST_ROWS {
        let all = grouped(weakest.len() as u64);
        blocks.push(Block::Note(
            format!("The weakest {MOST_ROWS} of {all}; summary.json has all.").into(),
        ));
    }
    blocks.push(Block::Note(
        format!(
            "Safe and in time: the share of {} rigs that fit the log as well, judged {}. Hunts: the share of all runs.",
            grouped(u.robustness.draws.into()),
            u.found_by.words()
        )
        .into(),
    ));
    out.add(Block::open(
        "uncertain",
        "If the rig is not quite as fitted",
        blocks,
    ));
}

/// For how many rigs the advice holds, the weakest target, the error that decides, and what to do. Each may be empty.
pub(crate) fn sentences(u: &Uncertain) -> [String; 4] {
    [holds(u), weakest(u), driver(u), firmer(u)]
}

fn share(rate: &halfturn_engine::summary::Rate) -> String {
    format!(
        "{} [{}, {}]",
        percent(rate.rate),
        percent(rate.low),
        percent(rate.high)
    )
}

fn holds(u: &Uncertain) -> String {
    let wanted = limit(u.robustness.hold);
    let shares = format!(
        "Of {} that fit {} as well, {} keep every target safe with the advised settings",
        counted(u.robustness.draws as usize, "rig"),
        u.log,
        share(&u.all_safe)
    );
    if !u.holds() {
        format!("{shares}: fewer than the {wanted} that you asked for.")
    } else if u.all_safe.low < u.robustness.hold {
        format!(
            "{shares}: enough for the {wanted} that you asked for, but too few rigs to be sure. Use more --draws."
        )
    } else {
        format!("{shares}: enough for the {wanted} that you asked for.")
    }
}

fn weakest(u: &Uncertain) -> String {
    let worst = u.worst();
    if worst.safe.rate >= 1.0 {
        return String::new();
    }
    format!(
        "The weakest target is {}: safe for {}, and {} of its runs hunt on the worst rig.",
        worst.name,
        percent(worst.safe.rate),
        percent(worst.hunting_most)
    )
}

/// Which errors differ when the advice fails.
fn driver(u: &Uncertain) -> String {
    if u.all_safe.rate >= 1.0 {
        return String::new();
    }
    match u.drivers.as_slice() {
        [] if u.all_safe.rate == 0.0 => {
            "The advice fails on every rig, so none is left to compare with.".to_owned()
        }
        [] => {
            "The failing rigs differ from the others in no single error beyond chance.".to_owned()
        }
        [first, rest @ ..] => {
            let names: Vec<String> = rest.iter().map(|d| d.what.to_owned()).collect();
            let also = match rest {
                [] => String::new(),
                _ => format!(" They also differ in {}.", joined(&names)),
            };
            format!(
                "What decides is the {}.{also} To know it better, make a longer log: halfturn fit --plan says which moves and solves.",
                medians(first)
            )
        }
    }
}

/// The error with its medians: "backlash: 0.3° in the middle where the advice fails, 0.2° where it holds".
fn medians(d: &Driver) -> String {
    let with_unit = |x: f64| match d.unit {
        "deg" => angle(x),
        _ => {
            let text = format!("{x:.6}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
    };
    let (off, what) = if d.by_distance {
        ("off by ", format!("{}, to either side", d.what))
    } else {
        ("", d.what.to_owned())
    };
    format!(
        "{what}: {off}{} in the middle where the advice fails, {} where it holds",
        with_unit(d.failing),
        with_unit(d.holding)
    )
}

/// What to do if the advice holds for too few rigs; empty if it holds for enough.
fn firmer(u: &Uncertain) -> String {
    if u.holds() {
        return String::new();
    }
    match &u.robust {
        Some(firmer) => better(firmer, u.robustness.hold),
        None => "No other tolerance, rule or band was found that holds for more rigs. Measure the errors better, or make them smaller.".to_owned(),
    }
}

fn better(firmer: &RobustSettings, hold: f64) -> String {
    let changes = firmer.changes.iter().filter_map(|c| {
        let value = match c.to.as_ref()? {
            toml::Value::Float(x) => degrees(*x),
            toml::Value::String(s) => s.clone(),
            other => other.to_string(),
        };
        Some(format!("{} = {value}", c.key))
    });
    let changes = changes.collect::<Vec<_>>().join(", ");
    let holds = share(&firmer.holds);
    if firmer.enough {
        format!("Take {changes}: of as many new rigs, {holds} keep every target safe with it.")
    } else {
        format!(
            "No setting was found that holds for {}. The best is {changes}: of as many new rigs, {holds} keep every target safe with it.",
            limit(hold)
        )
    }
}

/// The errors that the log does not show, and how each is treated, one sentence each.
fn unknown(u: &Uncertain) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for parameter in u.unconstrained().filter_map(|d| d.parameter) {
        let (what, done) = match parameter {
            "repeatability_deg" | "noise_deg" => (
                "repeatability from solve noise",
                "only their sum shows, and every rig draws its own part of each",
            ),
            "sense" => ("the sense", "every rig has the one that fits better"),
            "step_deg" => ("the step", "every rig has that of the rig file"),
            "outlier_rate" => ("the share of outliers", "every rig has that of the solves"),
            "zero_point_deg" => ("the zero point", LEANS),
            "gain_error" => ("the gain error", LEANS),
            "backlash_deg" => ("the backlash", LEANS),
            "periodic.0.amplitude_deg" => ("the periodic error once a turn", LEANS),
            "periodic.1.amplitude_deg" => ("the periodic error twice a turn", LEANS),
            other => (other, LEANS),
        };
        let sentence = format!("The log does not show {what}: {done}.");
        if !said.contains(&sentence) {
            said.push(sentence);
        }
    }
    said
}
