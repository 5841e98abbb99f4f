//! The examples of docs/judge.md, "In your own tests".

use std::path::{Path, PathBuf};
use std::process::Command;

use halfturn_engine::judge::{CheckRequest, Reference};
use halfturn_engine::rig::Rule;

use crate::binary::{folder, halfturn, in_root, program, skipped, there_is};
use crate::judge_program::rust_example;

/// A folder with the vectors as the page makes them.
fn with_vectors() -> (tempfile::TempDir, PathBuf) {
    let dir = folder();
    let out = halfturn(dir.path(), &["vectors"]);
    let vectors = dir.path().join("wrap-vectors.csv");
    std::fs::write(&vectors, out.stdout).expect("the file can be written");
    (dir, vectors)
}

fn assert_passes(dir: &Path, vectors: &Path, command: &mut Command) -> String {
    let out = command
        .current_dir(dir)
        .env("HALFTURN", program())
        .env("WRAP_VECTORS", vectors)
        .output()
        .expect("it starts");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let errors = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{text}{errors}");
    text
}

/// Shows (judge): the examples for `cargo test`, pytest, node:test, `rustc --test` and Go. With: `vectors_in_pytest`,
/// `vectors_in_node`, `a_controller_in_go_is_judged`, `the_lines_for_cargo_test`. Source: the tools themselves.
#[test]
fn vectors_in_rust() {
    let (dir, vectors) = with_vectors();
    let tests = dir.path().join("wrap");
    let compiled = Command::new("rustc")
        .args(["--edition", "2024", "--test", "-o"])
        .arg(&tests)
        .arg(in_root("examples/tests/wrap.rs"))
        .status();
    assert!(compiled.expect("rustc runs").success());
    let mut run = Command::new(&tests);
    run.env("CONTROLLER", rust_example("judged_correct"));
    assert!(assert_passes(dir.path(), &vectors, &mut run).contains("2 passed"));
}

#[test]
fn vectors_in_pytest() {
    let pytest = || {
        let mut pytest = Command::new("python3");
        pytest.args(["-B", "-m", "pytest", "-p", "no:cacheprovider", "-q"]);
        pytest
    };
    let there = pytest().arg("--version").output();
    if !there.is_ok_and(|out| out.status.success()) {
        skipped("pytest is not installed, so that examples/tests/test_wrap.py is not run");
        return;
    }
    let (dir, vectors) = with_vectors();
    let mut run = pytest();
    run.arg(in_root("examples/tests/test_wrap.py"));
    assert!(assert_passes(dir.path(), &vectors, &mut run).contains("3377 passed"));
}

#[test]
fn vectors_in_node() {
    if !there_is("node") {
        return;
    }
    let (dir, vectors) = with_vectors();
    let mut run = Command::new("node");
    run.arg("--test")
        .arg(in_root("examples/tests/wrap.test.js"));
    assert_passes(dir.path(), &vectors, &mut run);
}

#[test]
fn a_controller_in_go_is_judged() {
    let dir = folder();
    let built = Command::new("go")
        .args(["build", "-o", "correct"])
        .arg(in_root("examples/controllers/correct.go"))
        .env("GOCACHE", dir.path().join("cache"))
        .current_dir(dir.path())
        .status();
    let Ok(built) = built else {
        skipped("go is not installed, so that its controller is not judged");
        return;
    };
    assert!(built.success());
    let args = ["judge", "--rule", "hysteresis-band", "--", "./correct"];
    let out = halfturn(dir.path(), &args);
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success(), "{text}");
}

struct MyController;

impl MyController {
    #[expect(
        clippy::new_ret_no_self,
        reason = "the page's name for the reader's controller"
    )]
    fn new() -> Reference {
        Reference::default()
    }
}

fn lines_of_the_page() -> Result<(), Box<dyn std::error::Error>> {
    // docs/judge.md
    let request = CheckRequest {
        rule: Some(Rule::HysteresisBand),
        ..CheckRequest::default()
    };
    let judgement = halfturn::judge::check(MyController::new, &request)?;
    assert!(judgement.passed(), "{:#?}", judgement.complaints());
    let ends = halfturn::judge::check_margin(MyController::new, &request)?;
    assert!(
        ends.iter().all(|end| end.safe_deg >= 2.0),
        "it can be made to hunt"
    );
    // the end
    Ok(())
}

#[test]
fn the_lines_for_cargo_test() {
    lines_of_the_page().expect("scenarios, and a margin");
    let flat = |text: &str| {
        text.split_whitespace()
            .collect::<String>()
            .replace(",}", "}")
            .replace(",)", ")")
    };
    let here = flat(include_str!("judge_examples.rs"));
    let begin = here.find("//docs/judge.md").expect("the lines") + "//docs/judge.md".len();
    let end = here.find("//theend").expect("their end");
    let page = std::fs::read_to_string(in_root("docs/judge.md")).expect("the page");
    assert!(
        flat(&page).contains(&here[begin..end]),
        "{}",
        &here[begin..end]
    );
}
