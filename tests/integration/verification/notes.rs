//! Notes at the tests, and the tables that they make.
//!
//! `Shows (PAGE SECTION): claim. With: tests. Source: where the right answer comes from.` stands in the comment above a
//! test, or at the head of a file of tests or a script. SECTION is the beginning of a heading, if the page has tables by
//! section; a comma adds another page. `With` names further tests between backticks, those of the same file without
//! their module. `Not tested (PAGE): claim. Why: reason.` stands at the head of a file. An empty line or
//! another note ends a note.

use std::collections::BTreeSet;

use super::names::{prose, quoted};
use super::{files, root, text};

/// In the order of the tables.
const PAGES: &str =
    "model README verdict advice exact judge fit sky serve speed trust files cluster credibility";

pub(super) struct Page {
    pub(super) name: &'static str,
    path: String,
    /// Its headings, after an empty one for claims of no section.
    pub(super) sections: Vec<String>,
}

pub(super) fn pages() -> Vec<Page> {
    let page = |name| {
        let places = [format!("docs/{name}.md"), format!("docs/{name}/README.md")];
        let mut places = places.into_iter().chain([format!("{name}.md")]);
        let path = places.find(|p| root().join(p).exists()).expect("a page");
        let text = text(&path);
        let lines = prose(&text);
        let headings = lines.iter().filter_map(|(_, l)| l.strip_prefix("## "));
        let sections = [""].into_iter().chain(headings).map(str::to_owned);
        Page {
            name,
            sections: sections.collect(),
            path,
        }
    };
    PAGES.split(' ').map(page).collect()
}

pub(super) struct Note {
    /// Page and section, as places in their lists.
    pub(super) place: (usize, usize),
    pub(super) claim: String,
    /// The cell of the tests.
    tests: String,
    source: String,
}

/// The tests of the project, by the names that pages give them, and the notes.
#[derive(Default)]
pub(super) struct Tests {
    pub(super) names: BTreeSet<String>,
    pub(super) notes: Vec<Note>,
    /// Notes that say too little.
    pub(super) wrong: Vec<String>,
}

impl Tests {
    pub(super) fn all(pages: &[Page]) -> Self {
        let mut tests = Self::default();
        for folder in ["benches", "crates", "examples", "src", "tests"] {
            for path in files(folder, &["rs", "py", "sh"]) {
                tests.read(&path, &text(&path), pages);
            }
        }
        tests.notes.sort_by_key(|n| n.place);
        tests
    }

    fn read(&mut self, path: &str, source: &str, pages: &[Page]) {
        let mut written: Vec<(usize, String)> = Vec::new();
        let (mut inside, mut of_file, mut under_test) = (false, false, false);
        for (number, line) in (1..).zip(source.lines()) {
            let line = line.trim();
            let head = line.strip_prefix("//!").or(line.strip_prefix("# "));
            if let Some(words) = head.or(line.strip_prefix("///")).map(str::trim) {
                if words.starts_with("Shows (") || words.starts_with("Not tested (") {
                    written.push((number, words.to_owned()));
                    (inside, of_file) = (true, head.is_some());
                } else if words.is_empty() {
                    inside = false;
                } else if let (true, Some((_, note))) = (inside, written.last_mut()) {
                    *note += &format!(" {words}");
                }
            } else if line == "#[test]" {
                under_test = true;
            } else if !line.starts_with("#[") && !line.starts_with("//") {
                let function = line.trim_start_matches("async ").strip_prefix("fn ");
                let function = function.and_then(|f| f.split('(').next());
                let test = function.filter(|_| under_test && !of_file);
                let name = test.map_or(module(path), |t| format!("{}::{t}", module(path)));
                for (number, note) in written.drain(..) {
                    match rows(&note, &name, pages) {
                        _ if test.is_none() && !of_file => {
                            self.wrong
                                .push(format!("{path}:{number}: stands at no test: {note}"));
                        }
                        Ok(rows) => self.notes.extend(rows),
                        Err(why) => self.wrong.push(format!("{path}:{number}: {why}: {note}")),
                    }
                }
                self.names.extend(test.is_some().then_some(name));
                (inside, of_file, under_test) = (false, false, false);
            }
        }
    }
}

/// A file of tests, as pages name it.
fn module(path: &str) -> String {
    let folders = ["tests/integration/", "crates/checks/tests/checks/"];
    let module = folders.iter().find_map(|f| path.strip_prefix(f));
    match module.and_then(|m| m.strip_suffix(".rs")) {
        Some(module) => module.trim_end_matches("/mod").replace('/', "::"),
        None => path.to_owned(),
    }
}

/// A note as rows, one for each of its pages.
fn rows(note: &str, test: &str, pages: &[Page]) -> Result<Vec<Note>, &'static str> {
    let (kind, rest) = note.split_once(" (").ok_or("no page")?;
    let (keys, rest) = rest.split_once("): ").ok_or("no page")?;
    let (end, missing) = match kind {
        "Shows" => (" Source:", "no source"),
        _ => (" Why:", "no reason"),
    };
    let (rest, source) = rest.split_once(end).ok_or(missing)?;
    let (claim, with) = rest.split_once(" With: ").unwrap_or((rest, ""));
    let cell = |text: &str, missing| {
        let letters = text.chars().filter(|c| c.is_alphabetic()).count();
        let text = text.trim().trim_end_matches('.');
        (letters >= 3).then(|| text.to_owned()).ok_or(missing)
    };
    // Those of the same file first, as `…` stands for the one before.
    let (far, near): (Vec<&str>, Vec<&str>) = quoted(with).partition(|n| n.contains([':', '/']));
    let mut tests = format!("`{test}`");
    near.iter().for_each(|n| tests += &format!(", `…::{n}`"));
    far.iter().for_each(|n| tests += &format!(", `{n}`"));
    if kind != "Shows" {
        "not tested".clone_into(&mut tests);
    }
    let place = |key: &str| {
        let (name, begin) = key.split_once(' ').unwrap_or((key, ""));
        let page = pages.iter().position(|p| p.name == name)?;
        let mut sections = pages[page].sections.iter();
        Some((page, sections.position(|s| s.starts_with(begin))?))
    };
    keys.split(", ")
        .map(|key| {
            Ok(Note {
                place: place(key).ok_or("no such page or section")?,
                claim: cell(claim, "no claim")?,
                tests: tests.clone(),
                source: cell(source, missing)?,
            })
        })
        .collect()
}

/// The tables, page by page and section by section.
pub(super) fn tables(notes: &[Note], pages: &[Page]) -> String {
    let (mut made, mut before) = (String::new(), (usize::MAX, 0));
    for note in notes {
        let (page, section) = note.place;
        if page != before.0 {
            made += &format!("\n## {}\n", pages[page].path);
        }
        if note.place != before {
            if section > 0 {
                made += &format!("\n### {}\n", pages[page].sections[section]);
            }
            made += "\n| claim | test | source |\n|---|---|---|\n";
        }
        let cells = [&note.claim, &note.tests, &note.source].map(|c| c.replace('|', "\\|"));
        made += &format!("| {} |\n", cells.join(" | "));
        before = note.place;
    }
    made
}

/// What a note says is read, and a note that says too little is refused.
#[test]
fn notes_are_read() {
    let page = |name, sections: &[&str]| Page {
        name,
        path: format!("docs/{name}.md"),
        sections: sections.iter().map(|s| (*s).to_owned()).collect(),
    };
    let pages = [page("model", &["", "1. Angles"]), page("fit", &[""])];
    let found = |lines: &[&str]| {
        let mut tests = Tests::default();
        tests.read("tests/integration/a/mod.rs", &lines.join("\n"), &pages);
        tests
            .wrong
            .pop()
            .unwrap_or_else(|| tables(&tests.notes, &pages))
    };
    let note = "    /// Shows (model 1, fit): `a | b`";
    let good = [
        "    /// Words.",
        note,
        "    /// here. With: `d::e`, `c`. Source: by hand.",
        "    #[test]",
        "    fn one() {",
    ];
    let row = "| claim | test | source |\n|---|---|---|\n\
        | `a \\| b` here | `a::one`, `…::c`, `d::e` | by hand |\n";
    assert_eq!(
        found(&good),
        format!("\n## docs/model.md\n\n### 1. Angles\n\n{row}\n## docs/fit.md\n\n{row}")
    );
    let row = "| claim | test | source |\n|---|---|---|\n| claim | not tested | reason |\n";
    assert_eq!(
        found(&["//! Not tested (fit): claim. Why: reason.", "use a;"]),
        format!("\n## docs/fit.md\n\n{row}")
    );
    for (lines, why) in [
        (&[note, "#[test]", "fn one() {"][..], ":1: no source"),
        (
            &["/// Shows (fit): claim. Source: .", "#[test]", "fn one() {"],
            "no source",
        ),
        (
            &[
                "/// Shows (fit): . Source: by hand.",
                "#[test]",
                "fn one() {",
            ],
            "no claim",
        ),
        (
            &["/// Shows (fit): claim. Source: by hand.", "fn one() {"],
            "no test",
        ),
        (
            &["//! Not tested (fit): claim. Source: by hand.", "use a;"],
            "no reason",
        ),
        (
            &["//! Shows (model 2): claim. Source: by hand.", "use a;"],
            "no such page",
        ),
        (
            &["//! Shows (mode): claim. Source: by hand.", "use a;"],
            "no such page",
        ),
    ] {
        assert!(found(lines).contains(why), "{lines:?}: {}", found(lines));
    }
}
