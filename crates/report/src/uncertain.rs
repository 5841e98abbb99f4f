//! An advice tried on drawn rigs, as text and JSON.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::table::{lines, table};
use halfturn_engine::advise::{TargetShare, Uncertain};
use halfturn_engine::wording::{grouped, percent};

/// Most targets on the screen, those that hold for the fewest rigs.
const MOST_ROWS: usize = 12;

/// For how many rigs the advice holds, why not for more, and what to do.
#[must_use]
pub fn uncertain_text(u: &Uncertain) -> String {
    let mut out = format!(
        "UNCERTAIN: {} rigs drawn from what {} leaves open, judged {}\n\n",
        grouped(u.doubt.draws.into()),
        u.log,
        u.found_by.words()
    );
    let mut say = |text: String| {
        if !text.is_empty() {
            let _ = writeln!(out, "{text}");
        }
    };
    say(u.sentence());
    say(u.weakest_sentence());
    say(u.driver_sentence());
    say(u.firmer_sentence());
    u.untold_sentences().into_iter().for_each(&mut say);
    let mut weakest: Vec<&TargetShare> = u.targets.iter().collect();
    weakest.sort_by(|a, b| a.safe.rate.total_cmp(&b.safe.rate));
    let mut table = table(&[
        "target", "safe", "from", "to", "in time", "hunts", "at most",
    ]);
    for t in weakest.iter().take(MOST_ROWS) {
        table.add_row([
            t.name.clone(),
            percent(t.safe.rate),
            percent(t.safe.low),
            percent(t.safe.high),
            percent(t.in_time.rate),
            percent(t.hunting_mean),
            percent(t.hunting_most),
        ]);
    }
    let _ = write!(out, "\n{}", lines(table, &[0]));
    if weakest.len() > MOST_ROWS {
        let _ = writeln!(
            out,
            "the weakest {MOST_ROWS} of {}; the JSON has all",
            grouped(weakest.len() as u64)
        );
    }
    out.push_str("safe, in time: share of the rigs, with its 95 % interval; hunts: share of the runs, over all rigs and on the worst\n");
    out
}

/// The same as JSON.
pub(super) fn uncertain_json(u: &Uncertain) -> Value {
    let firmer = u.firmer.as_ref().map(|f| {
        let changes = f
            .changes
            .iter()
            .map(|c| json!({ "key": c.key, "from": c.from, "to": c.to }));
        json!({
            "changes": changes.collect::<Vec<_>>(),
            "all_safe": f.holds,
            "enough": f.enough,
        })
    });
    let untold: Vec<_> = u.untold().filter_map(|d| d.parameter).collect();
    json!({
        "log": u.log,
        "draws": u.doubt.draws,
        "hold": u.doubt.hold,
        "holds": u.holds(),
        "found_by": u.found_by,
        "all_safe": u.all_safe,
        "targets": u.targets,
        "worst": u.worst().name,
        "drivers": u.drivers,
        "firmer": firmer,
        "not_told": untold,
        "sentences": [u.sentence(), u.weakest_sentence(), u.driver_sentence(), u.firmer_sentence()],
        "fit": super::fit_json(&u.fit),
    })
}
