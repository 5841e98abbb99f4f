//! What a cure that `fit` names would gain.

use halfturn_engine::advise::one_sided_gain;
use halfturn_engine::fit::{DiagnosisKind, Fit};
use halfturn_engine::rig::Rig;
use halfturn_report::one_sided;

/// What an approach from one side gains where the backlash is large, in a sentence.
pub(super) fn of_backlash(rig: &Rig, found: &Fit) -> Option<String> {
    let large = |d: &halfturn_engine::fit::Diagnosis| d.kind == DiagnosisKind::LargeBacklash;
    found.diagnoses.iter().any(large).then_some(())?;
    let fitted = Rig::new(found.applied(rig.settings())).ok()?;
    one_sided_gain(&fitted).map(|gain| one_sided(&gain))
}
