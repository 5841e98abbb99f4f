//! The verification matrix (docs/verification.md) is made of notes at the tests. Every section of the model and every
//! command has one, and every test that a page names exists.
//!
//! Not tested (model Where): a value inside the arc may come back one unit in the last place off. Why: it permits, and
//! promises nothing.
//! Not tested (README): the program commands no hardware. Why: the absence of something; no dependency opens a device.
//! Not tested (files): the report in print. Why: nothing here prints; `assets/page/report.css` has rules for it.
//! Not tested (README): licences of what is built in. Why: a matter of law; the texts are in `assets/catalogue/` and
//! `assets/fonts/`.
//! Not tested (fit): the table of plans. Why: its digits are measured once; one line of that kind is in the test of the
//! plan's accuracy.
//! Not tested (sky): sizes of what is neglected (refraction, UT1, polar motion). Why: they are not computed; the
//! differences to astropy, which has polar motion, are below half an arcsecond.
//! Not tested (speed): shares of time by file. Why: profiles of one machine, measured with perf and Callgrind.
//! Not tested (cluster): the scripts under Slurm and GNU parallel. Why: neither is on the machines that run `cargo
//! test`; the page says what was run by hand.
//! Not tested (credibility): the model describes a rotator. Why: no measurements of a real one were there.

mod names;
mod notes;

use std::path::Path;

use crate::binary::{folder, halfturn, output};
use names::{Found, find, prose, quoted};
use notes::{Tests, pages, tables};

const MATRIX: &str = "docs/verification.md";
const MAKE: &str = "HALFTURN_GOLDEN=renew cargo test --test integration verification";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Files in a folder and those below it, by the ends of their names.
fn files(folder: &str, ends: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    let list = std::fs::read_dir(root().join(folder)).expect("a folder of the project");
    for entry in list.flatten() {
        let path = format!("{folder}/{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            found.extend(files(&path, ends));
        } else if path
            .rsplit_once('.')
            .is_some_and(|(_, e)| ends.contains(&e))
        {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// Commands that a help page lists, but for `help`.
fn commands(words: &[&str]) -> Vec<String> {
    let dir = folder();
    let help = output(&halfturn(dir.path(), &[words, &["--help"]].concat()));
    let listed = help.lines().skip_while(|l| *l != "Commands:").skip(1);
    let names = listed
        .take_while(|l| !l.is_empty())
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next());
    names
        .filter(|n| *n != "help")
        .map(|n| [words, &[n]].concat().join(" "))
        .collect()
}

fn no_complaints(complaints: &[String]) {
    assert!(complaints.is_empty(), "\n{}\n", complaints.join("\n"));
}

/// Every test, module and file that any page names between backticks.
#[test]
fn every_test_that_a_page_names_exists() {
    let tests = Tests::all(&pages()).names;
    let (mut complaints, mut found) = (Vec::new(), 0);
    let own = ["README.md", "DEVELOPERS.md", "CHANGELOG.md"].map(str::to_owned);
    for path in own.into_iter().chain(files("docs", &["md"])) {
        let page = text(&path);
        let mut before = String::new();
        for (number, line) in prose(&page) {
            for word in quoted(line) {
                match find(&tests, word, &mut before) {
                    Found::Missing => {
                        complaints.push(format!("{path}:{number}: `{word}` is not there"));
                    }
                    Found::Test => found += 1,
                    Found::Other => {}
                }
            }
        }
    }
    no_complaints(&complaints);
    assert!(found > 200, "only {found} names of tests were seen");
}

/// What stands above the first table is written by hand.
#[test]
fn the_matrix_is_made_of_the_notes() {
    let pages = pages();
    let mut tests = Tests::all(&pages);
    let page = text(MATRIX);
    let head = page.split("\n## ").next().expect("a head").trim_end();
    let made = format!("{head}\n{}", tables(&tests.notes, &pages));
    if std::env::var("HALFTURN_GOLDEN").is_ok_and(|v| v == "renew") {
        std::fs::write(root().join(MATRIX), &made).expect("the page is written");
    } else if page != made {
        let same = page.lines().zip(made.lines()).take_while(|(a, b)| a == b);
        let line = same.count() + 1;
        let stale = format!("{MATRIX}:{line}: not what the notes say; {MAKE} makes it");
        tests.wrong.push(stale);
    }
    assert!(head.contains(MAKE), "the page says how it is made");
    no_complaints(&tests.wrong);
    assert!(tests.notes.len() > 300, "only {} notes", tests.notes.len());
}

#[test]
fn every_section_of_the_model_and_every_command_has_a_note() {
    let pages = pages();
    let notes = Tests::all(&pages).notes;
    let mut complaints = Vec::new();
    let of = |name| pages.iter().position(|p| p.name == name).expect("a page");
    let (model, readme) = (of("model"), of("README"));
    let sections = &pages[model].sections;
    assert!(sections.len() > 10, "{sections:?}");
    for (number, section) in sections.iter().enumerate().skip(1) {
        if section != "Sources" && !notes.iter().any(|n| n.place == (model, number)) {
            complaints.push(format!("docs/model.md: no note of its section {section}"));
        }
    }

    let page = text("README.md");
    let mut all = commands(&[]);
    assert!(all.len() > 10, "{all:?}");
    all.retain(|c| c != "sky");
    all.extend(commands(&["sky"]));
    for command in all {
        let claimed = format!("`halfturn {command}");
        if !page.contains(&claimed) {
            complaints.push(format!("README.md: nothing of {claimed}`"));
        }
        let mut of_page = notes.iter().filter(|n| n.place.0 == readme);
        if !of_page.any(|n| n.claim.contains(&claimed)) {
            complaints.push(format!("README.md: no note of {claimed}`"));
        }
    }
    no_complaints(&complaints);
}
