//! The report that holds the page and its engine, opened from a folder: a reader tries other settings in it.

use serde_json::{Value, json};

use crate::binary::{folder, halfturn, json as answer, tell};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{judged, shown, shows_digest};
use crate::browser_work::shows_rig;
use crate::one_file::alone;
use crate::page_server::Server;

/// Goes on in the page that an open report holds.
async fn enter_page(browser: &Browser) {
    let client = browser.client.clone();
    client.enter_frame(0).await.expect("a frame");
}

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
                enter_page(&browser).await;
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

/// Saves the report of an open page, with its engine and then without, and opens the first.
async fn save_and_try(browser: &Browser) {
    browser
        .put(
            "[data-key='loop.tolerance_deg'] input[type=number]",
            &json!(0.35),
            "input",
        )
        .await;
    judged(browser).await;
    browser
        .until("!document.querySelector('#advice').classList.contains('outdated')")
        .await;
    browser.click("#tab-report").await;
    let digest = browser.value("document.body.dataset.digest").await;
    let said = browser.text("#report label:has(#report-engine)").await;
    browser.click("#report button").await;
    let with = browser.saved("report.html").await;
    let weight = format!("({:.1} MB)", halfturn_page_bytes(&with) as f64 / 1e6);
    assert!(said.contains(&weight), "{said}, not {weight}");
    browser.click("#report-engine").await;
    browser.click("#report button").await;
    let without = browser.saved("report (1).html").await;
    assert!(without.len() < 500_000 && !without.contains("id=\"one-file\""));
    assert!(with.len() > without.len() + 1_000_000);

    let url = url::Url::from_file_path(browser.folder.join("report.html")).expect("a path");
    browser.open(url.as_str()).await;
    browser.click("#try button").await;
    enter_page(browser).await;
    shows_digest(browser, &digest).await;
    assert_eq!(browser.text("#list-name").await, "targets.csv, 8 targets");
    judged(browser).await;
}

/// How long the page in a report is.
fn halfturn_page_bytes(report: &str) -> usize {
    let page = report.split_once("id=\"one-file\">").expect("the page").1;
    let page = page.split_once("</script>").expect("its end").0;
    let page: String = serde_json::from_str(page).expect("JSON");
    page.len()
}

/// Shows (serve): a report that is saved from the page carries its engine, and one saved from the page in that report
/// too; a switch leaves it out. Source: none: own rule.
#[test]
fn a_saved_report_carries_its_engine() {
    in_browser("one file: saved report", Look::DESK, async |browser| {
        crate::one_file::open(&browser).await;
        save_and_try(&browser).await;
        // From the page inside the report once more.
        browser
            .until("!document.querySelector('#advice').classList.contains('outdated')")
            .await;
        browser.click("#tab-report").await;
        browser.click("#report button").await;
        let again = browser.saved("report (2).html").await;
        assert_eq!(again.matches("id=\\\"given\\\"").count(), 1);
        alone(&browser).await;
        browser
    });
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: saved report", Look::DESK, async |browser| {
        crate::browser_page::open(&browser, &server).await;
        save_and_try(&browser).await;
        alone(&browser).await;
        browser
    });
}
