//! The session as JUnit XML, one suite for each family.

use std::collections::BTreeMap;

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};

use super::{Verdict, example_table, name};

/// The XML could not be written.
#[derive(Debug, thiserror::Error)]
#[error("the JUnit XML cannot be made: {0}")]
pub struct JunitError(#[from] quick_junit::SerializeError);

/// The session as JUnit XML. Where a scenario is the one that an example was made from, the example stands in its
/// standard output.
///
/// # Errors
/// [`JunitError`].
pub fn junit(verdict: &Verdict) -> Result<String, JunitError> {
    let mut suites = BTreeMap::new();
    for (i, judged) in verdict.session.judged.iter().enumerate() {
        let family = judged.case.family;
        let status = match judged.failures.as_slice() {
            [] => TestCaseStatus::success(),
            [first, ..] => {
                let mut status = TestCaseStatus::non_success(NonSuccessKind::Failure);
                let all: Vec<String> = judged
                    .failures
                    .iter()
                    .map(|f| format!("{}: {}", f.property, f.detail))
                    .collect();
                status
                    .set_type(first.property.name())
                    .set_message(first.detail.as_str())
                    .set_description(all.join("\n"));
                status
            }
        };
        let mut case = TestCase::new(name(i, judged), status);
        case.set_classname(format!("halfturn.judge.{family}"));
        let examples: Vec<String> = verdict
            .examples
            .iter()
            .filter(|e| e.number == i)
            .map(example_table)
            .collect();
        if !examples.is_empty() {
            case.set_system_out(examples.join("\n"));
        }
        suites
            .entry(family)
            .or_insert_with(|| TestSuite::new(family.name()))
            .add_test_case(case);
    }
    let mut report = Report::new("halfturn judge");
    report.add_test_suites(suites.into_values());
    Ok(report.to_string()?)
}
