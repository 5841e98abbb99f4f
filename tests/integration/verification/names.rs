//! What a name between backticks leads to: a test, a module of tests, a file of the project, or nothing.

use std::collections::BTreeSet;

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

#[derive(Debug, PartialEq)]
pub(super) enum Found {
    /// A test function, or a module of tests.
    Test,
    /// It looks like the name of a test or file, and there is none.
    Missing,
    /// Something else: a file, a key, a command, a type.
    Other,
}

/// `before` is the module or file of the last test that the page named, for `…::name`.
pub(super) fn find(tests: &BTreeSet<String>, word: &str, before: &mut String) -> Found {
    const FOLDERS: &str = "src/ crates/ tests/ benches/ examples/ docs/ assets/ .ci/";
    let name = word.replacen('…', before, 1);
    let inside = format!("{name}::");
    let module = tests.iter().any(|t| t.starts_with(&inside));
    if module || tests.contains(&name) {
        if let (false, Some((place, _))) = (module, name.rsplit_once("::")) {
            place.clone_into(before);
        }
        return Found::Test;
    }
    let path = FOLDERS.split(' ').any(|f| word.starts_with(f)) && !word.contains(' ');
    // A packaged crate leaves the folder out.
    let left_out = word.starts_with(".ci/") && !root().join(".ci").exists();
    let plain = |c: char| c == '_' || c.is_ascii_lowercase() || c.is_ascii_digit();
    let mut parts = name.split("::");
    let test = name.contains("::") && parts.all(|p| !p.is_empty() && p.chars().all(plain));
    match path && !left_out && !there(word) || test && !name.starts_with("halfturn::") {
        true => Found::Missing,
        false => Found::Other,
    }
}

/// Whether a file or folder of that path is there; `*` stands for anything within a name.
fn there(path: &str) -> bool {
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
    let tests = ["play::one", "wrong_use::unix::two", "src/a.rs::three"];
    let tests = tests.map(str::to_owned).into();
    let mut before = String::new();
    for (word, found) in [
        ("wrong_use::unix::two", Found::Test),
        ("…::two", Found::Test),
        ("play::one", Found::Test),
        ("play", Found::Test),
        ("…::two", Found::Missing),
        ("src/a.rs::three", Found::Test),
        ("…::three", Found::Test),
        ("src/a.rs::four", Found::Missing),
        ("src/nothing.rs", Found::Missing),
        ("halfturn::judge::check", Found::Other),
        ("loop.tolerance_deg", Found::Other),
        ("tests/integration/verification/names.rs", Found::Other),
        ("tests/integration/verification/n*.rs", Found::Other),
        ("tests/integration/verification/x*.rs", Found::Missing),
    ] {
        assert_eq!(find(&tests, word, &mut before), found, "{word}");
    }
}
