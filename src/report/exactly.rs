//! The targets of an advice without sampling, as text and JSON.

use serde_json::{Value, json};

use super::solved_table::rate;
use super::table::{lines, table};
use crate::advise::Exactly;

/// A target by name, under the present and under the advised settings; `None` where it cannot be solved.
pub type ExactTarget = (String, [Option<Exactly>; 2]);

/// The probabilities of every target.
#[must_use]
pub fn exact_text(targets: &[ExactTarget]) -> String {
    let mut table = table(&[
        "target",
        "hunts now",
        "ends badly now",
        "hunts then",
        "ends badly then",
    ]);
    for (name, [now, then]) in targets {
        let cell = |e: &Option<Exactly>, of: fn(&Exactly) -> crate::summary::Rate| {
            e.as_ref()
                .map_or_else(|| "not held".to_owned(), |e| rate(of(e)))
        };
        table.add_row([
            name.clone(),
            cell(now, |e| e.hunting),
            cell(now, |e| e.ended_badly),
            cell(then, |e| e.hunting),
            cell(then, |e| e.ended_badly),
        ]);
    }
    format!(
        "EXACT, without runs: probabilities now and then, with the advised arc; a grid twice as fine moves them by less than ±\n\n{}",
        lines(table, &[0])
    )
}

/// The same as JSON: `null` where it cannot be solved.
#[must_use]
pub fn exact_json(targets: &[ExactTarget]) -> Value {
    let of =
        |(name, [now, then]): &ExactTarget| json!({ "name": name, "now": now, "advised": then });
    targets.iter().map(of).collect()
}
