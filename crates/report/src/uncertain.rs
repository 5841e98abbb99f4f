//! An advice tried on drawn rigs, as JSON.

use serde_json::{Value, json};

use halfturn_engine::advise::Uncertain;

/// What the trial found.
pub(super) fn uncertain_json(u: &Uncertain) -> Value {
    let firmer = u.robust.as_ref().map(|f| {
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
    let unconstrained: Vec<_> = u.unconstrained().filter_map(|d| d.parameter).collect();
    json!({
        "log": u.log,
        "draws": u.robustness.draws,
        "hold": u.robustness.hold,
        "holds": u.holds(),
        "found_by": u.found_by,
        "all_safe": u.all_safe,
        "targets": u.targets,
        "worst": u.worst().name,
        "drivers": u.drivers,
        "firmer": firmer,
        "not_told": unconstrained,
        "sentences": crate::advice::uncertain_sentences(u),
        "fit": super::fit_json(&u.fit),
    })
}
