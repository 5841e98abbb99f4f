//! The report of `advise` in a browser: with and without script, on a telephone, in the dark.

use serde_json::json;

use crate::binary::{folder, halfturn};
use crate::browser_driver::{Look, in_browser};

/// The report of the demo, as an address.
fn report(dir: &std::path::Path) -> String {
    let out = halfturn(dir, &["advise", "--trials", "10000", "--out", "r"]);
    assert_eq!(out.status.code(), Some(0));
    format!("file://{}", dir.join("r/report.html").display())
}

#[test]
fn the_player_replays_the_loop() {
    let dir = folder();
    let url = report(dir.path());
    in_browser("report: player", Look::DESK, async |browser| {
        browser.open(&url).await;
        browser.until("document.querySelector('#player .hp')").await;
        let step = "document.querySelector('.hp').dataset.step";
        assert_eq!(browser.value(step).await, "-1");
        browser.click(".hp-next").await;
        browser.until(&format!("{step} === '0'")).await;
        browser.keys(".hp", "\u{E010}").await; // End
        browser
            .until("document.querySelector('.hp').dataset.finished === 'true'")
            .await;
        let swings = browser.text(".hp-swings").await;
        assert_ne!(swings, "0", "the loop of the demo hunts");
        browser.keys(".hp", "\u{E011}").await; // Home
        browser.until(&format!("{step} === '-1'")).await;
        browser.click(".hp-play").await;
        browser.until(&format!("Number({step}) >= 1")).await;
        browser
            .value("document.querySelector('#player').scrollIntoView({ block: 'center' }) || 1")
            .await;
        browser.picture("report-player.png").await;
        browser.click(".hp-play").await;
        // The other settings do not hunt.
        browser.click(".choice button:nth-child(2)").await;
        browser.keys(".hp", "\u{E010}").await;
        browser
            .until("document.querySelector('.hp').dataset.finished === 'true'")
            .await;
        assert_eq!(browser.text(".hp-swings").await, "0");
        assert_eq!(browser.axe().await, Vec::<String>::new());
        browser.quiet().await;
        browser
    });
}

#[test]
fn without_script_all_is_there_but_the_player() {
    let dir = folder();
    let url = report(dir.path());
    in_browser(
        "report: no script",
        Look {
            without_script: true,
            ..Look::DESK
        },
        async |browser| {
            browser.open(&url).await;
            assert_eq!(
                browser
                    .value("document.querySelectorAll('.hp').length")
                    .await,
                json!(0),
                "scripts are off"
            );
            let sections = browser
                .value("document.querySelectorAll('main section').length")
                .await;
            assert!(sections.as_u64() >= Some(8), "{sections}");
            let empty = "[...document.querySelectorAll('figure svg')].filter((s) => s.checkVisibility() && s.getBoundingClientRect().width < 100).length";
            assert_eq!(browser.value(empty).await, json!(0));
            let pictures = browser
                .value("document.querySelectorAll('figure').length")
                .await;
            assert!(pictures.as_u64() >= Some(5), "{pictures}");
            browser.picture("report.png").await;
            browser
        },
    );
}

#[test]
fn a_telephone_in_the_dark_reads_it() {
    let dir = folder();
    let url = report(dir.path());
    in_browser(
        "report: telephone",
        Look {
            dark: true,
            ..Look::PHONE
        },
        async |browser| {
            browser.open(&url).await;
            browser.until("document.querySelector('#player .hp')").await;
            assert_eq!(
                browser.value("document.documentElement.scrollWidth").await,
                json!(390)
            );
            browser.picture("report-phone-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser.quiet().await;
            browser
        },
    );
}
