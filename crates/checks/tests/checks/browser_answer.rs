//! The answer on top of the served page: the verdict of the list, and the best settings, which are of the present state alone.

use serde_json::{Value, json};

use crate::binary::{folder, write};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{judged, open, shown, shows_digest};
use crate::page_server::Server;

const SOLVES: &str = "[data-key='loop.max_solves'] input[type=number]";

/// There is an advice for the present state; its job as the server tells it.
async fn advised(browser: &Browser, server: &Server) -> Value {
    browser
        .until("!document.querySelector('#advice').classList.contains('outdated')")
        .await;
    let report = browser
        .value("document.querySelector('#report a').href")
        .await;
    let report = report.as_str().expect("an address").to_owned();
    let id = report.strip_prefix(&server.url("/api/jobs/"));
    let id = id.and_then(|rest| rest.split('/').next()).expect("a job");
    server.get(&format!("/api/jobs/{id}"))["result"]["summary"].clone()
}

/// The advice is marked as one of other settings, and cannot be taken.
const STALE: &str = "document.querySelector('#advice').classList.contains('outdated') && document.querySelector('#apply').disabled
    && document.querySelector('#compare').disabled && document.querySelector('#headline').textContent.startsWith('Of other settings: ')";

/// Shows (serve): the answer and the best settings are on the first screen, and one button within 15 stops of the Tab
/// key takes them. With: `browser_reach::the_keyboard_is_enough`. Source: none: own rule.
#[test]
fn the_answer_stands_on_top_and_is_taken_by_one_button() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: answer", Look::DESK, async |browser| {
        open(&browser, &server).await;
        judged(&browser).await;
        assert_eq!(browser.text("#answer").await, "2 of 8 targets hunt.");
        let summary = advised(&browser, &server).await;
        assert_eq!(summary["headline"], browser.text("#headline").await);
        assert_eq!(summary["holds"], true);
        browser.picture("page.png").await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        // All of it is on the first screen: names, answer, why, dial and main settings.
        let seen = "['#rig-name', '#answer', '#apply', '#targets .why', '#dial > svg', '[data-key=\"wrap.arc_start_deg\"]', '[data-key=\"loop.tolerance_deg\"]'].every((s) => { const b = document.querySelector(s).getBoundingClientRect(); return b.height > 0 && b.top >= 0 && b.bottom <= 900; })";
        assert_eq!(browser.value(seen).await, true);

        // Side by side: what changes, and whose verdict.
        browser.click("#compare").await;
        browser
            .until("document.querySelectorAll('#sheet table').length === 2")
            .await;
        let rows = browser
            .value("[...document.querySelectorAll('#sheet tbody tr')].map((r) => [...r.children].map((c) => c.textContent))")
            .await;
        let to = &summary["after"]["arc_start_deg"];
        assert_eq!(rows[0][0], "wrap arc start (\u{b0})");
        assert_eq!(rows[0][2], format!("{}", to.as_f64().expect("an angle")));
        for row in rows.as_array().expect("rows").iter().skip(1) {
            assert!(row[1].as_str().is_some_and(|w| w.starts_with("hunts")));
            assert_eq!(row[2], "safe");
        }
        browser.picture("page-compare.png").await;
        assert_eq!(browser.axe().await, Vec::<String>::new());

        // Taken is what the advice changes, and nothing else.
        browser.click("#apply").await;
        shows_digest(&browser, &summary["advised_rig_digest"]).await;
        judged(&browser).await;
        assert_eq!(browser.text("#answer").await, "All 8 targets are safe.");
        assert_eq!(
            browser
                .value("document.querySelector('#rig-changed').hidden")
                .await,
            false
        );
        browser.click("#compare-start").await;
        browser
            .until("document.querySelectorAll('#sheet table').length === 2")
            .await;
        browser.click("#reset").await;
        judged(&browser).await;
        assert_eq!(browser.text("#answer").await, "2 of 8 targets hunt.");
        assert_eq!(
            browser
                .value("document.querySelector('#sheet').hidden")
                .await,
            true
        );

        // The report is as high as its page here, and has its player in a tab of its own.
        advised(&browser, &server).await;
        browser.click("#tab-report").await;
        browser
            .until("(() => { const f = document.querySelector('#report iframe'); const d = f.contentDocument?.documentElement; return d && d.scrollHeight > 1000 && f.clientHeight >= d.scrollHeight; })()")
            .await;
        browser.quiet().await;
        let report = browser
            .value("document.querySelector('#report a').href")
            .await;
        browser.open(report.as_str().expect("an address")).await;
        browser.until("document.querySelector('#player .hp')").await;
        browser.quiet().await;
        browser
    });
}

/// Shows (serve): an advice or a map for other settings says so; such an advice cannot be taken. With:
/// `browser_work::a_map_is_drawn_stopped_and_gone_into`. Source: none: own rule.
#[test]
fn an_advice_for_another_state_cannot_be_taken() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: stale advice", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let first = advised(&browser, &server).await;
        // At once, in the same breath as the change; and a click does nothing.
        let change = format!(
            "(() => {{ const f = document.querySelector(\"{SOLVES}\"); f.value = 30; f.dispatchEvent(new Event('input')); const stale = {STALE}; document.querySelector('#apply').click(); return stale; }})()"
        );
        assert_eq!(browser.value(&change).await, true);
        shown(&browser).await;
        let digest = server.post(
            "/api/rig/write",
            &json!({ "rig": with_solves(&server, 30), "text": "" }),
        )["digest"]
            .clone();
        shows_digest(&browser, &digest).await;
        // Back at its own state it is there again.
        let back = "(() => { document.querySelector('#undo').click(); return !document.querySelector('#apply').disabled; })()";
        assert_eq!(browser.value(back).await, true);
        // What is asked for in between is never shown: the next advice is of the last state.
        for solves in [25, 26, 27] {
            browser.put(SOLVES, &json!(solves), "input").await;
            tokio::time::sleep(std::time::Duration::from_millis(800)).await;
        }
        assert_eq!(browser.value(STALE).await, true);
        let last = advised(&browser, &server).await;
        let digest = server.post(
            "/api/rig/write",
            &json!({ "rig": with_solves(&server, 27), "text": "" }),
        )["digest"]
            .clone();
        assert_eq!(last["rig_digest"], digest);
        assert_ne!(first["rig_digest"], digest);
        // A flip, and a target more, make it another question.
        browser.click("#advice-flips").await;
        assert_eq!(browser.value(STALE).await, true);
        browser.click("#advice-flips").await;
        assert_eq!(browser.value(STALE).await, false);
        browser.click("#add-target").await;
        assert_eq!(browser.value(STALE).await, true);
        browser.quiet().await;
        browser
    });
}

fn with_solves(server: &Server, solves: u32) -> Value {
    let mut rig = server.get("/api/start")["rig"].clone();
    rig["loop"]["max_solves"] = json!(solves);
    rig
}

/// Shows (serve): of a list of 60 the page shows the worst, the others on demand, and no box scrolls inside the page.
/// Source: none: own rule.
#[test]
fn a_long_list_is_folded_and_only_the_page_scrolls() {
    let dir = folder();
    let mut list = "name,position_angle_deg\n".to_owned();
    for i in 0..60 {
        list.push_str(&format!("field {i},{}\n", 3 * i + 1));
    }
    write(dir.path(), "t.csv", &list);
    let out = crate::binary::halfturn(dir.path(), &["init", "r", "--quiet"]);
    assert_eq!(out.status.code(), Some(0));
    let server = Server::start(dir.path(), &["r/rig.toml", "t.csv"]);
    for look in [Look::DESK, Look::PHONE] {
        in_browser("page: long list", look, async |browser| {
            open(&browser, &server).await;
            judged(&browser).await;
            assert_eq!(browser.text("#list-name").await, "t.csv, 60 targets");
            let lines = "document.querySelectorAll('#targets li').length";
            assert_eq!(browser.value(lines).await, 20);
            let first = "document.querySelector('#targets .verdict').dataset.state";
            assert_eq!(browser.value(first).await, "hunts");
            browser.click("#show-all").await;
            assert_eq!(browser.value(lines).await, 60);
            advised(&browser, &server).await;
            browser
                .value("(() => { for (const d of document.querySelectorAll('#fields details')) d.open = true; return 1; })()")
                .await;
            for tab in ["rules", "loop", "map", "report"] {
                browser.click(&format!("#tab-{tab}")).await;
                if tab == "map" {
                    browser.click("#draw-map").await;
                    browser.until("document.querySelector('#draw-map').disabled === false && document.querySelector('.here')").await;
                }
                let boxes = "[...document.querySelectorAll('body *')].filter((e) => /auto|scroll/.test(getComputedStyle(e).overflowY + getComputedStyle(e).overflowX) && (e.scrollHeight > e.clientHeight + 1 || e.scrollWidth > e.clientWidth + 1)).map((e) => e.className)";
                assert_eq!(browser.value(boxes).await, json!([]), "{tab}");
                let wide = "document.documentElement.scrollWidth - innerWidth";
                assert_eq!(browser.value(wide).await, 0, "{tab}");
            }
            browser
        });
    }
}
