//! What a name between backticks leads to: a test, a module of tests, a file of the project, or nothing.

use std::collections::BTreeSet;
use std::process::Command;

use super::root;

/// Words between backticks.
pub(super) fn quoted(line: &str) -> impl Iterator<Item = &str> {
    line.split('`').skip(1).step_by(2)
}

/// Lines outside of blocks of code, with their numbers.
pub(super) fn prose(page: &str) -> Vec<(usize, &str)> {
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

/// Whatever this binary would run, by its own word: tests that macros make are in it, too.
pub(super) fn integration_tests() -> BTreeSet<String> {
    let me = std::env::current_exe().expect("the test has a path");
    let list = ["--list", "--format", "terse"];
    let out = Command::new(me).args(list).output();
    let out = out.expect("the test binary starts");
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
pub(super) enum Found {
    /// A test function, or a module of tests.
    Test,
    /// A file of the project, such as a script that measures.
    File,
    /// It looks like the name of a test or file, and there is none: why.
    Missing(&'static str),
    /// Something else: a key, a command, a type.
    Other,
}

pub(super) struct Names {
    pub(super) tests: BTreeSet<String>,
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
        let elsewhere = !cfg!(target_os = "linux")
            && std::fs::read_to_string(file).is_ok_and(|s| has_test(&s, last.unwrap_or("")));
        elsewhere || is_check(name)
    }

    fn is_module(&self, name: &str) -> bool {
        let inside = format!("{name}::");
        self.tests.iter().any(|t| t.starts_with(&inside))
            || sources_of_checks(name).next().is_some()
    }

    /// `before` is the module or file of the last test that the page named, for `…::name`.
    pub(super) fn find(&self, word: &str, before: &mut String) -> Found {
        let whole = match word.strip_prefix("…::") {
            Some(name) => format!("{before}::{name}"),
            None => word.to_owned(),
        };
        if let Some((path, name)) = whole.split_once(".rs::") {
            *before = format!("{path}.rs");
            return match std::fs::read_to_string(root().join(format!("{path}.rs"))) {
                Ok(source) if has_test(&source, name) => Found::Test,
                Ok(_) => Found::Missing("no such test in that file"),
                Err(_) => Found::Missing("no such file"),
            };
        }
        let folders = [
            "src/",
            "crates/",
            "tests/",
            "benches/",
            "examples/",
            "docs/",
            "assets/",
            ".ci/",
        ];
        if folders.iter().any(|f| word.starts_with(f)) && !word.contains(' ') {
            // A packaged crate leaves that folder out.
            let left_out = word.starts_with(".ci/") && !root().join(".ci").exists();
            return match left_out || matching(word) {
                true => Found::File,
                false => Found::Missing("no such file"),
            };
        }
        let part = |p: &str| {
            let plain = |c: char| c == '_' || c.is_ascii_lowercase() || c.is_ascii_digit();
            !p.is_empty() && p.chars().all(plain)
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

/// The source of a module of the checks, which are a package of their own.
fn sources_of_checks(module: &str) -> impl Iterator<Item = String> {
    let path = format!("crates/checks/tests/checks/{}", module.replace("::", "/"));
    let files = [format!("{path}.rs"), format!("{path}/mod.rs")];
    files
        .into_iter()
        .filter_map(|file| std::fs::read_to_string(root().join(file)).ok())
}

fn is_check(name: &str) -> bool {
    name.rsplit_once("::")
        .is_some_and(|(module, test)| sources_of_checks(module).any(|s| has_test(&s, test)))
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

/// What is there is found, and nothing else.
#[test]
fn what_is_there_is_found() {
    let source = "#[test]\n/// Words.\n#[cfg(unix)]\nfn one() {}\nfn two() {}\n";
    assert!(has_test(source, "one") && !has_test(source, "two"));
    assert!(!has_test(source, "on") && !has_test("fn one() {}", "one"));
    let names = Names {
        tests: ["play::one", "wrong_use::unix::two"]
            .map(str::to_owned)
            .into(),
    };
    let mut before = String::new();
    let mut find = |word: &str| names.find(word, &mut before);
    assert_eq!(find("wrong_use::unix::two"), Found::Test);
    assert_eq!(find("…::two"), Found::Test);
    assert_eq!(find("play::one"), Found::Test);
    assert_eq!(find("play"), Found::Test);
    assert_eq!(find("…::two"), Found::Missing("no such test"));
    assert_eq!(find("halfturn::judge::check"), Found::Other);
    assert_eq!(find("loop.tolerance_deg"), Found::Other);
    let here = "tests/integration/verification/names.rs";
    assert_eq!(find(here), Found::File);
    assert_eq!(find("tests/integration/verification/n*.rs"), Found::File);
    let (good, bad) = ("what_is_there_is_found", "what");
    assert_eq!(find(&format!("{here}::{good}")), Found::Test);
    assert_eq!(
        find(&format!("{here}::{bad}")),
        Found::Missing("no such test in that file")
    );
    assert_eq!(find(&format!("…::{good}")), Found::Test);
}
