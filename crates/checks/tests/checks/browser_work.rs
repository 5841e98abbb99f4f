//! Work on the served page: maps, the advice, files and links.

use base64::Engine as _;
use serde_json::{Value, json};

use crate::binary::{folder, halfturn, json as answer, write};
use crate::browser_driver::{Browser, Look, in_browser};
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
        // The page has gone on meanwhile: what the map shows is true of the rig that it was drawn for, and says so. What it
        // varies does not count.
        let out = "document.querySelector('svg.map').classList.contains('outdated') && !document.querySelector('#map-fits').hidden";
        browser.put("#target-angle", &json!(1), "input").await;
        let tolerance = "[data-key='loop.tolerance_deg'] input[type=number]";
        browser.put(tolerance, &json!(0.4), "input").await;
        assert_eq!(browser.value(out).await, false);
        let start = "[data-key='wrap.arc_start_deg'] input[type=number]";
        browser.put(start, &json!(40), "input").await;
        assert_eq!(browser.value(out).await, true);
        // By keyboard into the map, two cells to the right of the middle, and there.
        browser.keys("svg.map", "\u{E014}\u{E014}\u{E007}").await;
        shows_target(&browser, 0.2).await;
        shows_rig(
            &browser,
            &["--target", "0.2", "--set", "loop.tolerance_deg=0.55"],
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
            .until("document.querySelector('#map .work [role=status]').textContent === 'stopped: it was asked to'")
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
        let report = browser
            .value("document.querySelector('#advice-result a').href")
            .await;
        let report = report.as_str().expect("an address");
        let job = server.url("/api/jobs/");
        let id = report.strip_prefix(&job).and_then(|r| r.split('/').next());
        let told = server.get(&format!("/api/jobs/{}", id.expect("a job")));
        let summary = &told["result"]["summary"];
        let said = browser.text("#advice-result .lead").await;
        assert_eq!(summary["headline"], said);
        assert_eq!(summary["holds"], true);
        // For other settings it is marked and cannot be taken; back at its own it can.
        let out = "document.querySelector('#advice-result').classList.contains('outdated') && document.querySelector('#take').disabled
            && document.querySelector('#advice-fits').textContent.startsWith('Made for other settings')";
        let fits = "!document.querySelector('#take').disabled && document.querySelector('#advice-fits').hidden";
        assert_eq!(browser.value(fits).await, true);
        let solves = "[data-key='loop.max_solves'] input[type=number]";
        browser.put(solves, &json!(30), "input").await;
        assert_eq!(browser.value(out).await, true);
        browser
            .value("document.querySelector('#take').click() || 1")
            .await;
        shows_rig(&browser, &["--target", "0", "--set", "loop.max_solves=30"]).await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        browser.click("#undo").await;
        assert_eq!(browser.value(fits).await, true);
        browser.click("#add-target").await;
        assert_eq!(browser.value(out).await, true);
        browser.click("#undo").await;
        assert_eq!(browser.value(fits).await, true);
        browser.click("#advice-flips").await;
        assert_eq!(browser.value(out).await, true);
        browser.click("#advice-flips").await;
        assert_eq!(browser.value(fits).await, true);
        browser.click("#take").await;
        browser
            .until("document.querySelector('#answer').textContent.startsWith('No')")
            .await;
        // Taken is what the advice changes, and nothing else.
        let digest = &summary["advised_rig_digest"];
        browser
            .until(&format!(
                "document.querySelector('#answer').dataset.digest === {digest}"
            ))
            .await;
        let keys = browser.text("#advised-keys").await;
        for change in summary["plan"]["changes"].as_array().expect("changes") {
            let key = change["key"].as_str().expect("a key");
            // The page writes 277 for 277.0.
            let to = change["to"].as_f64().expect("a number");
            assert!(keys.contains(&format!("{key} = {to}")), "{keys}");
        }
        assert_eq!(
            browser.text("#advice-fits").await,
            "Taken: the rig has these settings now."
        );
        assert_eq!(
            browser
                .value("document.querySelector('#take').disabled")
                .await,
            true
        );
        browser.quiet().await;
        browser.open(report).await;
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

        browser.quiet().await;
        browser
    });
}

/// The page shows the rig of a command.
async fn shows_rig(browser: &Browser, args: &[&str]) {
    let digest = of_command(args)["rig_digest"].clone();
    browser
        .until(&format!(
            "document.querySelector('#answer').dataset.digest === {digest}"
        ))
        .await;
}

/// The address of a state: base64url of a stored block of RFC 1951 (section 3.2.4).
fn link(server: &Server, state: &Value) -> String {
    let text = state.to_string();
    let length = u16::try_from(text.len()).expect("a short state");
    let mut bytes = vec![1];
    bytes.extend(length.to_le_bytes());
    bytes.extend((!length).to_le_bytes());
    bytes.extend(text.as_bytes());
    let text = base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(bytes);
    server.url(&format!("/#state={text}"))
}

#[test]
fn a_damaged_link_is_told_and_the_page_starts_all_the_same() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let state = |rig: Value, seed: i64| {
        json!({
            "rig": rig, "rigText": "", "rigName": "a.toml", "targets": [], "targetsName": "t.csv",
            "targetDeg": 12.5, "seed": seed, "trial": 0, "unknown": [1],
        })
    };
    in_browser("page: links", Look::DESK, async |browser| {
        // What a rig file may leave out a link may, too.
        browser.open(&link(&server, &state(json!({}), 1))).await;
        shown(&browser).await;
        shows_target(&browser, 12.5).await;
        write(dir.path(), "empty.toml", "");
        let empty = dir.path().join("empty.toml").display().to_string();
        shows_rig(&browser, &["--target", "12.5", &empty]).await;

        // Six million zeros in some thousand letters.
        browser
            .value(
                "new Response(new Blob([new Uint8Array(6e6)]).stream().pipeThrough(new CompressionStream('deflate-raw'))).arrayBuffer().then((b) => {
                 window.bomb = btoa(String.fromCharCode(...new Uint8Array(b))).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', ''); }) && 1",
            )
            .await;
        browser.until("window.bomb").await;
        let bomb = browser.value("window.bomb").await;
        let mut damaged = vec![
            server.url("/#state=AAAA"),
            server.url(&format!("/#state={}", bomb.as_str().expect("a text"))),
            link(&server, &state(json!({}), -1)),
            link(&server, &state(json!(3), 1)),
            link(&server, &state(json!({ "wrap": { "rule": 3 } }), 1)),
            link(&server, &state(json!({ "keep_out": [1] }), 1)),
        ];
        let mut targets = state(json!({}), 1);
        targets["targets"] = json!([{ "name": "a", "position_angle_deg": 1e9 }]);
        damaged.push(link(&server, &targets));
        let mut many = state(json!({}), 1);
        let target = |i| json!({ "name": format!("t{i}"), "position_angle_deg": 1 });
        many["targets"] = (0..1001).map(target).collect();
        damaged.push(link(&server, &many));
        let mut far = state(json!({}), 1);
        far["targetDeg"] = json!(1e9);
        damaged.push(link(&server, &far));
        for address in damaged {
            browser.open("about:blank").await;
            browser.open(&address).await;
            shown(&browser).await;
            let said = browser.text("#done").await;
            assert!(said.contains("does not hold"), "{address}: {said}");
            assert_eq!(browser.value("location.hash").await, "");
            shows_target(&browser, 0.0).await;
        }
        // A refused link is the one thing that the console tells.
        let told = browser.complaints().await;
        assert!(told.iter().all(|line| line.contains("422")), "{told:?}");
        browser
    });
}
