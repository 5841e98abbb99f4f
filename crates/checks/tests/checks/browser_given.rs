//! Files dropped on the served page, a mosaic, and a log.

use serde_json::{Value, json};

use crate::binary::{folder, halfturn};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{of_command, open, shows_digest, shows_target};
use crate::page_server::Server;

/// Drops a file on the page.
pub(crate) async fn drop_file(browser: &Browser, name: &str, text: &str) {
    drop_files(browser, &[(name.to_owned(), text.to_owned())]).await;
}

/// Drops files on the page, by name and text.
pub(crate) async fn drop_files(browser: &Browser, files: &[(String, String)]) {
    let script = "const carried = new DataTransfer();
        for (const [name, text] of arguments[0]) carried.items.add(new File([text], name));
        for (const kind of ['dragover', 'drop']) document.querySelector('#dial').dispatchEvent(new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true }));";
    let args = vec![json!(files)];
    browser.client.execute(script, args).await.expect("a drop");
}

pub(crate) async fn said(browser: &Browser, words: &str) {
    browser
        .until(&format!(
            "document.querySelector('#done').textContent.includes({})",
            json!(words)
        ))
        .await;
}

/// Shows (serve): files are dropped; a log and a mosaic give what `fit` and `sky panels` give, within the limits. With:
/// `a_mosaic_becomes_the_list`, `serve_given::panels_and_fits_are_those_of_the_commands`,
/// `serve_given::what_is_given_is_guarded_and_limited`. Source: none: internal consistency.
#[test]
fn files_are_dropped_on_the_page() {
    let dir = folder();
    let run = |args: &[&str]| {
        assert_eq!(
            halfturn(dir.path(), args).status.code(),
            Some(0),
            "{args:?}"
        )
    };
    run(&["init", "r", "--quiet"]);
    run(&[
        "fit",
        "--plan",
        "--rig",
        "r/rig.toml",
        "--out",
        "plan.csv",
        "--rehearse",
        "log.csv",
        "--quiet",
    ]);
    run(&[
        "fit",
        "log.csv",
        "--rig",
        "r/rig.toml",
        "--out",
        "fitted.toml",
    ]);
    let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).expect("a file");
    let server = Server::start(dir.path(), &[]);
    in_browser("page: drop", Look::DESK, async |browser| {
        open(&browser, &server).await;
        drop_file(&browser, "list.csv", "name,position_angle_deg\nonly,33\n").await;
        shows_target(&browser, 33.0).await;
        assert_eq!(browser.text("#list-name").await, "list.csv, 1 target");
        drop_file(&browser, "mine.toml", "name = \"pier two\"\n").await;
        said(&browser, "mine.toml").await;
        assert_eq!(browser.text("#rig-name").await, "pier two");
        // What cannot be read is told in the colour of errors, and changes nothing.
        drop_file(&browser, "bad.csv", "colour\nred\n").await;
        said(&browser, "bad.csv").await;
        let bad = "document.querySelector('#done').classList.contains('fault')";
        assert_eq!(browser.value(bad).await, true);
        assert_eq!(browser.text("#list-name").await, "list.csv, 1 target");

        // A log is known by its readings; what it tells is that of `fit`, and is taken by a button.
        drop_file(&browser, "rig.toml", &read("r/rig.toml")).await;
        said(&browser, "rig.toml").await;
        drop_file(&browser, "log.csv", &read("log.csv")).await;
        browser.until("document.querySelector('#take-fit')").await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        browser.click("#take-fit").await;
        let fitted = dir.path().join("fitted.toml").display().to_string();
        let batch = of_command(&["--target", "0", &fitted]);
        shows_digest(&browser, &batch["rig_digest"]).await;
        let told = browser.complaints().await;
        assert!(told.iter().all(|line| line.contains("422")), "{told:?}");
        browser
    });
}

#[test]
fn a_mosaic_becomes_the_list() {
    let dir = folder();
    let run = |args: &[&str]| halfturn(dir.path(), args);
    assert_eq!(run(&["init", "r", "--quiet"]).status.code(), Some(0));
    let panels = [
        "sky",
        "panels",
        "r/rig.toml",
        "--object",
        "M 31",
        "--grid",
        "3x2",
        "--position-angle",
        "0",
        "--name",
        "panel",
        "--out",
        "p.csv",
    ];
    // The exit code is that of the verdicts on the panels.
    run(&panels);
    let csv = std::fs::read_to_string(dir.path().join("p.csv")).expect("panels");
    let server = Server::start(dir.path(), &[]);
    in_browser("page: mosaic", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.click(".menu > summary").await;
        browser.click("#mosaic").await;
        // An object that is not known is told beside the form.
        browser
            .put("#mosaic-centre", &json!("nowhere"), "input")
            .await;
        browser.click("#mosaic-go").await;
        browser
            .until("document.querySelector('#sheet .fault').textContent.includes('catalogue')")
            .await;
        browser.put("#mosaic-centre", &json!("M 31"), "input").await;
        browser.click("#mosaic-go").await;
        browser
            .until("document.querySelector('#sheet').hidden")
            .await;
        assert_eq!(browser.text("#list-name").await, "panel.csv, 6 targets");
        assert_eq!(
            browser
                .value("document.querySelector('#list-changed').hidden")
                .await,
            false
        );
        browser.click(".menu > summary").await;
        browser.click("#save-targets").await;
        let saved = browser.saved("panel.csv").await;
        assert_eq!(numbers(&saved), numbers(&csv));
        let told = browser.complaints().await;
        assert!(told.iter().all(|line| line.contains("422")), "{told:?}");
        browser
    });
}

/// Name and numbers of every line of a targets file.
fn numbers(csv: &str) -> Vec<(String, Vec<Value>)> {
    let line = |line: &str| {
        let mut cells = line.split(',');
        let name = cells
            .next()
            .unwrap_or_default()
            .trim_matches('"')
            .to_owned();
        let numbers = cells
            .filter_map(|c| c.parse::<f64>().ok())
            .map(|x| json!(x));
        (name, numbers.collect())
    };
    csv.lines().skip(1).map(line).collect()
}
