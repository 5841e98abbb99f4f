//! The list of dependencies in the documents against what Cargo knows.

use std::collections::{BTreeMap, BTreeSet};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::sky_values::list;

/// What a command says, which ends well.
fn said(command: &mut Command) -> String {
    let out = command
        .stderr(Stdio::inherit())
        .output()
        .expect("the command starts");
    assert!(out.status.success(), "{command:?}: {}", out.status);
    String::from_utf8(out.stdout).expect("plain text")
}

/// What Cargo knows of this crate and all that it is made with here, without asking the network.
fn metadata() -> Value {
    // Crates for other systems need not be on this machine.
    let compiler = said(Command::new("rustc").arg("-vV"));
    let host = compiler
        .lines()
        .find_map(|line| line.strip_prefix("host: "))
        .expect("the host of the compiler");
    let text = said(
        Command::new(env!("CARGO"))
            .args(["metadata", "--format-version", "1", "--locked", "--offline"])
            .args(["--filter-platform", host])
            .arg("--manifest-path")
            .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml")),
    );
    serde_json::from_str(&text).expect("JSON")
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn packages(metadata: &Value) -> impl Iterator<Item = &Value> {
    list(&metadata["packages"]).iter()
}

/// The packages of this project.
fn members(metadata: &Value) -> impl Iterator<Item = &Value> {
    packages(metadata).filter(|p| text(&p["name"]).starts_with(env!("CARGO_PKG_NAME")))
}

/// A dependency that must be there, or that a default feature of its package brings.
fn is_built(member: &Value, dependency: &Value) -> bool {
    let features = &member["features"];
    let by = Value::from(format!("dep:{}", text(&dependency["name"])));
    let mut default = features["default"].as_array().into_iter().flatten();
    dependency["optional"] == false || default.any(|f| list(&features[text(f)]).contains(&by))
}

/// What they depend on: for the program, or for tests and measurements alone.
fn dependencies(metadata: &Value, tests: bool) -> BTreeSet<&str> {
    let of = |dev: bool| -> BTreeSet<&str> {
        members(metadata)
            .flat_map(|member| {
                let all = list(&member["dependencies"]).iter();
                all.filter(move |d| (d["kind"] == "dev" || !is_built(member, d)) == dev)
            })
            .map(|d| text(&d["name"]))
            .filter(|name| !name.starts_with(env!("CARGO_PKG_NAME")))
            .collect()
    };
    let program = of(false);
    if tests {
        of(true).difference(&program).copied().collect()
    } else {
        program
    }
}

/// Rows of the tables below a heading: crate -> reason and licence.
fn listed(heading: &str) -> BTreeMap<String, (String, String)> {
    let document = include_str!("../../docs/dependencies.md");
    let (_, below) = document.split_once(heading).expect("the heading");
    let section = below.split("\n## ").next().unwrap_or(below);
    let mut rows = BTreeMap::new();
    for line in section.lines() {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let [_, name, reason, licence, instead, _] = cells[..] else {
            continue;
        };
        let Some(name) = name.strip_prefix('`').and_then(|n| n.strip_suffix('`')) else {
            continue;
        };
        assert!(
            !reason.is_empty() && !instead.is_empty(),
            "{name}: an empty cell"
        );
        let row = (reason.to_owned(), licence.to_owned());
        assert!(
            rows.insert(name.to_owned(), row).is_none(),
            "{name} stands twice"
        );
    }
    rows
}

/// Shows (trust): each dependency has a reason and its licence, none wants a newer Rust. With:
/// `no_dependency_wants_a_newer_rust`. Source: metadata of the crates.
#[test]
fn every_dependency_has_a_reason_and_its_licence() {
    let metadata = metadata();
    for (heading, tests) in [
        ("## In the program\n", false),
        ("## For tests and measurements alone\n", true),
    ] {
        let rows = listed(heading);
        let needed = dependencies(&metadata, tests);
        for name in &needed {
            let row = rows.get(*name);
            let (_, licence) = row
                .unwrap_or_else(|| panic!("docs/dependencies.md: {name} is not below {heading}"));
            // A crate that is not for this system is not on this machine.
            if let Some(package) = packages(&metadata).find(|p| p["name"] == *name) {
                assert_eq!(licence, text(&package["license"]), "{name}");
            }
        }
        for name in rows.keys() {
            assert!(
                needed.contains(name.as_str()),
                "docs/dependencies.md: {name} is no longer used, {heading}"
            );
        }
    }
}

/// The least Rust that this crate promises is new enough for all that it is made with.
#[test]
fn no_dependency_wants_a_newer_rust() {
    let metadata = metadata();
    let version = |package: &Value| -> Vec<u32> {
        let parts = text(&package["rust_version"]).split('.');
        parts
            .filter_map(|n| n.parse().ok())
            .chain([0, 0, 0])
            .take(3)
            .collect()
    };
    let ours = members(&metadata)
        .map(version)
        .next()
        .expect("this project");
    assert!(ours > vec![1, 0, 0], "{ours:?}");
    let mut seen = 0;
    for package in packages(&metadata) {
        assert!(
            version(package) <= ours,
            "{} wants Rust {:?}",
            package["name"],
            version(package)
        );
        seen += 1;
    }
    assert!(seen > 100, "only {seen} packages");
}
