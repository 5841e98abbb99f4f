//! Work on the served page: maps, the advice, files and links.

use serde_json::json;

use crate::binary::{folder, halfturn, json as answer, write};
use crate::browser_driver::{Look, in_browser};
use crate::browser_page::{of_command, open, shown, shows_target};
use crate::page_server::Server;

#[test]
fn a_map_is_drawn_stopped_and_gone_into() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: map", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.click("#draw-map").await;
        browser
            .until("document.querySelector('#map-words').textContent.includes('1159 cells')")
            .await;
        let said = browser.text("#map-words").await;
        let args = [
            "sweep",
            "--vary",
            "target=-3:3:61",
            "--vary",
            "loop.tolerance_deg=0.1:1:19",
            "--rules",
            "half-circle",
            "--method",
            "auto",
            "--trials",
            "2000",
            "--json",
            "-",
        ];
        let rows = answer(&halfturn(dir.path(), &args));
        let rates = rows["rows"]
            .as_array()
            .expect("rows")
            .iter()
            .filter_map(|r| r["ping_pong_rate"].as_f64());
        let worst = 100.0 * rates.fold(0.0, f64::max);
        assert!(
            said.contains(&format!("worst {worst:.1} %")),
            "{said} {worst}"
        );
        browser
            .value("document.querySelector('svg.map').scrollIntoView({ block: 'center' }) || 1")
            .await;
        browser.picture("page-map.png").await;
        // By keyboard into the map, one cell to the right of the middle, and there.
        browser.keys("svg.map", "\u{E014}\u{E014}\u{E007}").await;
        browser
            .until(
                "Math.abs(Number(document.querySelector('#answer').dataset.target) - 0.2) < 1e-9",
            )
            .await;

        // A long one, stopped.
        browser
            .value("(() => { const [a, b] = document.querySelectorAll('.axes fieldset'); const set = (f, i, v) => { f.querySelectorAll('input')[i].value = v; };
                set(a, 2, 100); set(b, 2, 100); set(b, 0, 0.05); return 1; })()")
            .await;
        browser.click("#draw-map").await;
        browser
            .until("document.querySelector('#map progress').value > 0")
            .await;
        browser.click("#map .work button").await;
        browser
            .until("document.querySelector('#map .work span').textContent === 'stopped'")
            .await;
        browser
            .until("!document.querySelector('#draw-map').disabled")
            .await;
        browser.quiet().await;
        browser
    });
}

#[test]
fn the_advice_is_run_shown_and_taken() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: advice", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.click("#advise").await;
        browser
            .until("!document.querySelector('#advice-result').hidden")
            .await;
        let said = browser.text("#advice-result .lead").await;
        assert!(
            said.starts_with("Now 6 of 8 targets are safe.")
                && said.contains("all 8 targets are safe"),
            "{said}"
        );
        let report = browser
            .value("document.querySelector('#advice-result a').href")
            .await;
        browser.click("#take").await;
        browser
            .until("document.querySelector('#answer').textContent.startsWith('No')")
            .await;
        browser.quiet().await;
        browser.open(report.as_str().expect("an address")).await;
        browser.until("document.querySelector('#player .hp')").await;
        browser.quiet().await;
        browser
    });
}

#[test]
fn a_state_outlasts_files_reloads_and_links() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    write(
        dir.path(),
        "mine.toml",
        "# my own\nname = \"pier two\"\n[wrap]\narc_start_deg = 10 # as built\n",
    );
    write(
        dir.path(),
        "night.csv",
        "name,position_angle_deg\nfirst,10.0\nsecond,33\n",
    );
    let path = |name: &str| dir.path().join(name).display().to_string();
    in_browser("page: files", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.keys("#rig-file", &path("mine.toml")).await;
        browser
            .until("document.querySelector('#done').textContent.includes('mine.toml')")
            .await;
        browser.keys("#targets-file", &path("night.csv")).await;
        shows_target(&browser, 10.0).await;
        assert_eq!(
            browser
                .value("document.querySelector('#target-choice').selectedOptions[0].textContent")
                .await,
            "first"
        );
        let band = "[data-key='wrap.band_deg'] input[type=number]";
        browser.put(band, &json!(3.5), "input").await;
        browser.click("#save-rig").await;
        let text = browser.saved("mine.toml").await;
        assert!(
            text.starts_with("# my own\n")
                && text.contains("arc_start_deg = 10 # as built")
                && text.contains("band_deg = 3.5"),
            "{text}"
        );
        browser.click("#save-targets").await;
        assert!(browser.saved("night.csv").await.contains("second,33"));

        // The saved rig is the one that the page shows.
        browser.until("location.hash.length > 20").await;
        tokio::time::sleep(std::time::Duration::from_millis(700)).await;
        let digest = browser
            .value("document.querySelector('#answer').dataset.digest")
            .await;
        write(dir.path(), "saved.toml", &text);
        assert_eq!(
            of_command(&["--target", "10", &path("saved.toml")])["rig_digest"],
            digest
        );
        browser.client.refresh().await.expect("a reload");
        shown(&browser).await;
        assert_eq!(
            browser
                .value("document.querySelector('#answer').dataset.digest")
                .await,
            digest
        );
        shows_target(&browser, 10.0).await;

        // A link that holds nothing is told, and the page starts all the same.
        browser.open("about:blank").await;
        browser.open(&server.url("/#state=AAAA")).await;
        shown(&browser).await;
        assert!(browser.text("#done").await.contains("does not hold"));
        browser.quiet().await;
        browser
    });
}
