//! A session as JUnit XML, with a suite for each family.

use std::collections::BTreeMap;

use halfturn_engine::judge::JudgedCase;
use maud::{PreEscaped, html};

use super::table::example_document;
use super::verdict::{Verdict, name};
use crate::document::Screen;

/// A session as JUnit XML. An example stands in the standard output of the scenario that it was made from.
#[must_use]
pub fn junit(verdict: &Verdict) -> String {
    let mut suites: BTreeMap<_, Vec<(usize, &JudgedCase)>> = BTreeMap::new();
    for (i, judged) in verdict.session.judged.iter().enumerate() {
        suites
            .entry(judged.case.family)
            .or_default()
            .push((i, judged));
    }
    let failures = |cases: &[(usize, &JudgedCase)]| {
        cases.iter().filter(|(_, j)| !j.failures.is_empty()).count()
    };
    let all = &verdict.session.judged;
    let failed = suites.values().map(|cases| failures(cases)).sum::<usize>();
    let xml = html! {
        (PreEscaped("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"))
        testsuites name="halfturn judge" tests=(all.len()) failures=(failed) errors="0" {
            @for (family, cases) in &suites {
                "\n" testsuite name=(family) tests=(cases.len()) disabled="0" errors="0" failures=(failures(cases)) {
                    @for (i, judged) in cases {
                        "\n" testcase name=(allowed(&name(*i, judged))) classname=(format!("halfturn.judge.{family}")) {
                            @if let Some(first) = judged.failures.first() {
                                failure message=(allowed(&first.detail)) type=(first.property) {
                                    (all_of(judged))
                                }
                            }
                            @let examples = examples(verdict, *i);
                            @if !examples.is_empty() {
                                system-out { (allowed(&examples)) }
                            }
                        }
                    }
                }
            }
        }
    };
    format!("{}\n", xml.into_string())
}

fn all_of(judged: &JudgedCase) -> String {
    let lines = judged
        .failures
        .iter()
        .map(|f| format!("{}: {}", f.property, f.detail));
    allowed(&lines.collect::<Vec<_>>().join("\n"))
}

/// The examples that were made from a scenario.
fn examples(verdict: &Verdict, number: usize) -> String {
    let of = verdict.examples.iter().filter(|e| e.number == number);
    of.map(|e| example_document(e).text(Screen::default()))
        .collect::<Vec<_>>()
        .join("\n")
}

/// The text without characters that XML 1.0 (section 2.2) forbids.
fn allowed(text: &str) -> String {
    let has = |c: &char| matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{fffd}' | '\u{10000}'..);
    text.chars().filter(has).collect()
}
