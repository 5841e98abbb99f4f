//! The verification matrix (docs/verification.md) and every other test that a page names: they exist, every claim has a row,
//! and every row is filled in.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::binary::{folder, halfturn, output};

const MATRIX: &str = "docs/verification.md";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// Whatever this binary would run, by its own word: tests that macros make are in it, too.
fn integration_tests() -> BTreeSet<String> {
    let me = std::env::current_exe().expect("the test has a path");
    let out = Command::new(me).args(["--list", "--format", "terse"]);
    let out = { out }.output().expect("the test binary starts");
    let listed = String::from_utf8_lossy(&out.stdout).into_owned();
    let names = listed.lines().filter_map(|l| l.strip_suffix(": test"));
    names.map(str::to_owned).collect()
}

/// Whether `#[test]` stands over `fn NAME` in this source, with nothing between them but attributes and comments.
fn has_test(source: &str, name: &str) -> bool {
    let mut under_test = false;
    for line in source.lines().map(str::trim) {
        if line == "#[test]" {
            under_test = true;
        } else if !(line.starts_with("#[") || line.starts_with("//")) {
            let function = line.trim_start_matches("async ").strip_prefix("fn ");
            let called = function.and_then(|f| f.split('(').next());
            if under_test && called == Some(name) {
                return true;
            }
            under_test = false;
        }
    }
    false
}

/// What a name between backticks leads to.
#[derive(Debug, PartialEq)]
enum Found {
    /// A test function, or a module of tests.
    Test,
    /// A file of the project, such as a script that measures.
    File,
    /// It looks like the name of a test or file, and there is none: why.
    Missing(&'static str),
    /// Something else: a key, a command, a type.
    Other,
}

struct Names {
    tests: BTreeSet<String>,
}

impl Names {
    fn is_test(&self, name: &str) -> bool {
        if self.tests.contains(name) {
            return true;
        }
        // Some tests are for one system only, and not in the list of another.
        let mut parts = name.split("::");
        let (module, last) = (parts.next().unwrap_or(""), name.rsplit("::").next());
        let file = root().join(format!("tests/integration/{module}.rs"));
        !cfg!(target_os = "linux")
            && std::fs::read_to_string(file).is_ok_and(|s| has_test(&s, last.unwrap_or("")))
    }

    fn is_module(&self, name: &str) -> bool {
        let inside = format!("{name}::");
        self.tests.iter().any(|t| t.starts_with(&inside))
    }

    /// `before` is the module of the last test that the page named, for `…::name`.
    fn find(&self, word: &str, before: &mut String) -> Found {
        if let Some((path, name)) = word.split_once(".rs::") {
            return match std::fs::read_to_string(root().join(format!("{path}.rs"))) {
                Ok(source) if has_test(&source, name) => Found::Test,
                Ok(_) => Found::Missing("no such test in that file"),
                Err(_) => Found::Missing("no such file"),
            };
        }
        let folders = [
            "src/",
            "tests/",
            "benches/",
            "examples/",
            "docs/",
            "assets/",
            ".ci/",
        ];
        if folders.iter().any(|f| word.starts_with(f)) && !word.contains(' ') {
            return match matching(word) {
                true => Found::File,
                false => Found::Missing("no such file"),
            };
        }
        let part = |p: &str| {
            let plain = |c: char| c == '_' || c.is_ascii_lowercase() || c.is_ascii_digit();
            !p.is_empty() && p.chars().all(plain)
        };
        let whole = match word.strip_prefix("…::") {
            Some(name) => format!("{before}::{name}"),
            None => word.to_owned(),
        };
        let parts: Vec<&str> = whole.split("::").collect();
        if parts.len() < 2 || parts[0] == "halfturn" || !parts.iter().all(|p| part(p)) {
            return match self.is_module(word) {
                true => Found::Test,
                false => Found::Other,
            };
        }
        parts[..parts.len() - 1].join("::").clone_into(before);
        match self.is_test(&whole) || self.is_module(&whole) {
            true => Found::Test,
            false => Found::Missing("no such test"),
        }
    }
}

/// Whether a file or folder of that path is there; `*` stands for anything within a name.
fn matching(path: &str) -> bool {
    let Some((before, after)) = path.split_once('*') else {
        return root().join(path).exists();
    };
    let (dir, start) = before.rsplit_once('/').unwrap_or((".", before));
    let entries = std::fs::read_dir(root().join(dir));
    entries.is_ok_and(|list| {
        list.flatten().any(|e| {
            let name = e.file_name().to_string_lossy().into_owned();
            name.starts_with(start) && name.ends_with(after)
        })
    })
}

/// Words between backticks, with blocks of code left out.
fn quoted(line: &str) -> impl Iterator<Item = &str> {
    line.split('`').skip(1).step_by(2)
}

/// Lines outside of fenced blocks, with their numbers.
fn prose(page: &str) -> Vec<(usize, &str)> {
    let mut fenced = false;
    let mut lines = Vec::new();
    for (number, line) in (1..).zip(page.lines()) {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced && !line.starts_with("    ") {
            lines.push((number, line));
        }
    }
    lines
}

/// The cells of a row of a table; `\|` is no border.
fn cells(line: &str) -> Option<Vec<String>> {
    let inner = line.trim().strip_prefix('|')?.strip_suffix('|')?;
    let guarded = inner.replace("\\|", "\u{1}");
    let cell = |c: &str| c.replace('\u{1}', "|").trim().to_owned();
    Some(guarded.split('|').map(cell).collect())
}

struct Row {
    line: usize,
    part: String,
    section: String,
    cells: Vec<String>,
}

/// The rows of all tables of the matrix, with their headings.
fn rows(page: &str) -> Vec<Row> {
    let (mut part, mut section) = (String::new(), String::new());
    let mut rows = Vec::new();
    for (line, written) in prose(page) {
        if let Some(heading) = written.strip_prefix("### ") {
            heading.trim().clone_into(&mut section);
        } else if let Some(heading) = written.strip_prefix("## ") {
            heading.trim().clone_into(&mut part);
            section.clear();
        } else if let Some(cells) = cells(written) {
            let rule = cells
                .iter()
                .all(|c| c.chars().all(|x| x == '-' || x == ':'));
            if !rule && cells[0] != "claim" {
                rows.push(Row {
                    line,
                    part: part.clone(),
                    section: section.clone(),
                    cells,
                });
            }
        }
    }
    rows
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

/// The readers above see what they should, and nothing else.
#[test]
fn names_are_told_apart() {
    let source = "#[test]\n/// Words.\n#[cfg(unix)]\nfn one() {}\nfn two() {}\n";
    assert!(has_test(source, "one") && !has_test(source, "two"));
    assert!(!has_test(source, "on") && !has_test("fn one() {}", "one"));
    let names = Names {
        tests: ["play::one", "wrong_use::unix::two"]
            .map(str::to_owned)
            .into(),
    };
    let mut before = String::new();
    let mut find = |word| names.find(word, &mut before);
    assert_eq!(find("wrong_use::unix::two"), Found::Test);
    assert_eq!(find("…::two"), Found::Test);
    assert_eq!(find("play::one"), Found::Test);
    assert_eq!(find("play"), Found::Test);
    assert_eq!(find("…::two"), Found::Missing("no such test"));
    assert_eq!(find("halfturn::judge::check"), Found::Other);
    assert_eq!(find("loop.tolerance_deg"), Found::Other);
    let here = "tests/integration/verification.rs";
    assert_eq!(find(here), Found::File);
    assert_eq!(find("tests/integration/verif*.rs"), Found::File);
    let (good, bad) = ("names_are_told_apart", "names");
    assert_eq!(find(&format!("{here}::{good}")), Found::Test);
    assert_eq!(
        find(&format!("{here}::{bad}")),
        Found::Missing("no such test in that file")
    );
    assert_eq!(
        cells("| a | `b \\| c` | |"),
        Some(["a", "`b | c`", ""].map(str::to_owned).to_vec())
    );
}
