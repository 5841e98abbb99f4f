//! The report that holds the page and its engine, opened from a folder: a reader tries other settings in it.

use serde_json::{Value, json};

use crate::binary::{folder, halfturn, json as answer, tell};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{judged, shown};
use crate::browser_work::shows_rig;
use crate::one_file::alone;

/// The states of the targets, as the page lists them, and as `advise` finds them, sorted.
async fn as_the_command_says(browser: &Browser, dir: &std::path::Path, given: &[&str]) {
    let path = dir.join("r/rig.toml").display().to_string();
    shows_rig(browser, &[&[&path, "--target", "0"], given].concat()).await;
    judged(browser).await;
    let run = [
        "advise",
        "r/rig.toml",
        "r/targets.csv",
        "--seed",
        "7",
        "--out",
        "x",
        "--json",
        "-",
    ];
    let list = answer(&halfturn(dir, &[&run[..], given].concat()));
    let list = list["before"]["targets"]
        .as_array()
        .expect("targets")
        .clone();
    let sorted = |mut all: Vec<Value>| {
        all.sort_by_key(Value::to_string);
        all
    };
    let theirs = sorted(list.iter().map(|t| t["verdict"].clone()).collect());
    let mine = "[...document.querySelectorAll('#targets .verdict')].map((v) => v.dataset.state)";
    let mine = browser.value(mine).await.as_array().cloned();
    assert_eq!(sorted(mine.expect("states")), theirs);
    tell(&format!("{given:?}: {theirs:?}"));
}

/// Shows (files): with `--with-engine` a reader of the report moves arc, tolerance and rule, and sees what the command
/// says of them. Source: none: internal consistency.
#[test]
fn a_reader_tries_other_settings() {
    let dir = folder();
    let run = |args: &[&str]| halfturn(dir.path(), args).status.code();
    assert_eq!(run(&["init", "r", "--quiet"]), Some(0));
    let wide = ["--set", "loop.tolerance_deg=0.35"];
    let report = [
        "advise",
        "r/rig.toml",
        "r/targets.csv",
        "--seed",
        "7",
        "--with-engine",
        "--out",
        "o",
    ];
    assert_eq!(run(&[&report[..], &wide].concat()), Some(0));
    let url = format!("file://{}", dir.path().join("o/report.html").display());
    let look = [("desk", Look::DESK), ("telephone", Look::PHONE)];
    for (name, look) in look {
        in_browser(
            &format!("report: other settings, {name}"),
            look,
            async |browser| {
                browser.open(&url).await;
                browser.until("document.querySelector('#player .hp')").await;
                assert_eq!(
                    browser
                        .value("document.querySelectorAll('iframe').length")
                        .await,
                    0
                );
                browser.click("#try button").await;
                assert_eq!(browser.axe().await, Vec::<String>::new());
                assert_eq!(
                    browser
                        .value("document.documentElement.scrollWidth <= innerWidth")
                        .await,
                    true
                );
                browser
                    .client
                    .clone()
                    .enter_frame(0)
                    .await
                    .expect("a frame");
                shown(&browser).await;
                assert_eq!(browser.text("#list-name").await, "targets.csv, 8 targets");
                assert_eq!(
                    browser
                        .value("document.querySelector('#demo').hidden")
                        .await,
                    true
                );
                assert_eq!(
                    browser
                        .value("document.querySelector('#link').checkVisibility()")
                        .await,
                    false
                );
                as_the_command_says(&browser, dir.path(), &wide).await;
                let tolerance = "[data-key='loop.tolerance_deg'] input[type=number]";
                browser.put(tolerance, &json!(0.3), "input").await;
                as_the_command_says(&browser, dir.path(), &[]).await;
                let arc = "[data-key='wrap.arc_start_deg'] input[type=number]";
                browser.put(arc, &json!(277), "input").await;
                as_the_command_says(&browser, dir.path(), &["--set", "wrap.arc_start_deg=277"])
                    .await;
                browser.picture(&format!("report-try-{name}.png")).await;
                browser.click("#reset").await;
                browser
                    .put(
                        "[data-key='wrap.rule'] select",
                        &json!("full-circle"),
                        "change",
                    )
                    .await;
                let full = [&wide[..], &["--set", "wrap.rule=full-circle"]].concat();
                as_the_command_says(&browser, dir.path(), &full).await;
                // Its own report, and what it saves.
                browser
                    .until("!document.querySelector('#advice').classList.contains('outdated')")
                    .await;
                browser.click("#tab-report").await;
                browser.until("document.querySelector('#report iframe').contentDocument?.querySelector('h1')").await;
                browser.click("#report button").await;
                let again = browser.saved("report.html").await;
                assert!(again.starts_with("<!DOCTYPE html>"));
                alone(&browser).await;
                browser
                    .client
                    .clone()
                    .enter_parent_frame()
                    .await
                    .expect("the report");
                alone(&browser).await;
                browser
            },
        );
    }
}
