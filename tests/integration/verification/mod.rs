//! The verification matrix (docs/verification.md) and every other test that a page names: they exist, every claim has a row,
//! and every row is filled in.

mod names;
mod table;

use std::path::{Path, PathBuf};

use crate::binary::{folder, halfturn, output};
use names::{Found, Names, integration_tests};
use table::{prose, quoted, rows};

const MATRIX: &str = "docs/verification.md";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Every page that may name a test.
fn pages() -> Vec<PathBuf> {
    let mut pages: Vec<PathBuf> = ["README.md", "DEVELOPERS.md", "CHANGELOG.md"]
        .map(PathBuf::from)
        .to_vec();
    let mut folders = vec![PathBuf::from("docs")];
    while let Some(dir) = folders.pop() {
        let list = std::fs::read_dir(root().join(&dir)).expect("the folder of the pages");
        for entry in list.flatten() {
            let path = dir.join(entry.file_name());
            if root().join(&path).is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "md") {
                pages.push(path);
            }
        }
    }
    pages.sort();
    pages
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
    let names = Names {
        tests: integration_tests(),
    };
    let (mut complaints, mut found) = (Vec::new(), 0);
    for path in pages() {
        let page = std::fs::read_to_string(root().join(&path)).expect("a page");
        let mut before = String::new();
        for (number, line) in prose(&page) {
            for word in quoted(line) {
                match names.find(word, &mut before) {
                    Found::Missing(why) => {
                        complaints.push(format!("{}:{number}: `{word}`: {why}", path.display()));
                    }
                    Found::Test => found += 1,
                    Found::File | Found::Other => {}
                }
            }
        }
    }
    no_complaints(&complaints);
    assert!(found > 200, "only {found} names of tests were seen");
}

/// Claim, test and source in every row; a test that runs, or a script that measures, or the reason why there is none.
#[test]
#[expect(clippy::print_stderr, reason = "what is not tested must be seen")]
fn every_row_of_the_matrix_is_filled_in() {
    let names = Names {
        tests: integration_tests(),
    };
    let page = text(MATRIX);
    let rows = rows(&page);
    let (mut complaints, mut untested) = (Vec::new(), Vec::new());
    let mut before = String::new();
    for row in &rows {
        let place = format!("{MATRIX}:{}", row.line);
        let [claim, test, source] = row.cells.as_slice() else {
            complaints.push(format!("{place}: {} cells instead of 3", row.cells.len()));
            continue;
        };
        for (cell, name) in [(claim, "claim"), (test, "test"), (source, "source")] {
            if cell.chars().filter(|c| c.is_alphabetic()).count() < 3 {
                complaints.push(format!("{place}: the cell of the {name} is empty: {claim}"));
            }
        }
        if let Some(reason) = test.strip_prefix("not tested") {
            if reason.trim_start_matches(':').trim().len() < 8 {
                complaints.push(format!("{place}: not tested, without a reason: {claim}"));
            }
            untested.push(format!("{}, {}: {claim}{reason}", row.part, row.section));
            continue;
        }
        let shown = quoted(test).any(|w| match names.find(w, &mut before) {
            Found::Test => true,
            Found::File => ["benches/", "examples/", "tests/reference/", ".ci/"]
                .iter()
                .any(|f| w.starts_with(f)),
            Found::Missing(_) | Found::Other => false,
        });
        if !shown {
            complaints.push(format!("{place}: no test of that name: {test}"));
        }
    }
    eprintln!("{} rows, {} of them not tested", rows.len(), untested.len());
    for claim in &untested {
        eprintln!("  not tested: {claim}");
    }
    no_complaints(&complaints);
    assert!(rows.len() > 100, "only {} rows were seen", rows.len());
}

/// Each section of the contract has rows under a heading of the same name, and so has each command of the program.
#[test]
fn every_section_of_the_model_and_every_command_has_a_row() {
    let page = text(MATRIX);
    let rows = rows(&page);
    let mut complaints = Vec::new();
    let model = text("docs/model.md");
    let sections: Vec<&str> = prose(&model)
        .iter()
        .filter_map(|(_, l)| l.strip_prefix("## "))
        .filter(|l| *l != "Sources")
        .collect();
    let numbered = |l: &&&str| l.starts_with(|c: char| c.is_ascii_digit());
    assert!(sections.iter().filter(numbered).count() >= 9);
    for section in sections {
        if !rows
            .iter()
            .any(|r| r.part == "docs/model.md" && r.section == section)
        {
            complaints.push(format!(
                "docs/model.md, {section}: no row under such a heading"
            ));
        }
    }

    let readme = text("README.md");
    let mut all = commands(&[]);
    assert!(all.len() > 10, "{all:?}");
    all.retain(|c| c != "sky");
    all.extend(commands(&["sky"]));
    for command in all {
        if !readme.contains(&format!("halfturn {command}"))
            && !readme.contains(&format!("`{command}"))
        {
            complaints.push(format!("README.md: nothing of halfturn {command}"));
        }
        let claimed = format!("`halfturn {command}");
        if !rows
            .iter()
            .any(|r| r.part == "README.md" && r.cells[0].contains(&claimed))
        {
            complaints.push(format!("{MATRIX}: no row of README.md tells of {claimed}`"));
        }
    }
    no_complaints(&complaints);
}
