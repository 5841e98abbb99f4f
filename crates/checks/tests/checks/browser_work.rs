//! Work on the served page: maps, the advice, files and links.

use base64::Engine as _;
use fantoccini::actions::{InputSource as _, MouseActions, PointerAction};
use serde_json::{Value, json};

use crate::binary::{folder, halfturn, json as answer, write};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{of_command, open, shown, shows_digest, shows_target};
use crate::page_server::Server;

/// Shows (serve): the map has the limit as a line, the place of the page, and the figures under the pointer. Source:
/// counted over the cells of `sweep`.
#[test]
fn a_map_is_drawn_stopped_and_gone_into() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: map", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.click("#tab-map").await;
        // Round the chosen target, and round the tolerance that is set.
        let ranges = "[...document.querySelectorAll('.axes input')].map((i) => i.valueAsNumber)";
        assert_eq!(
            browser.value(ranges).await,
            json!([-3, 3, 61, 0.075, 0.9, 19])
        );
        browser
            .value("(() => { const [from, to] = document.querySelectorAll('.axes fieldset:last-child input'); for (const [f, v] of [[from, 0.1], [to, 1]]) { f.value = v; f.dispatchEvent(new Event('input')); } return 1; })()")
            .await;
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
        let rates = rows["rows"].as_array().expect("rows");
        let rates: Vec<f64> = rates
            .iter()
            .filter_map(|r| r["hunting_rate"].as_f64())
            .collect();
        let worst = 100.0 * rates.iter().copied().fold(0.0, f64::max);
        assert!(
            said.contains(&format!("hunts in {worst:.1} %")),
            "{said} {worst}"
        );
        // The contour runs where the limit is crossed: by hand over the same cells, upwards the fastest.
        let above = |i: usize, j: usize| rates[19 * i + j] > 0.001;
        let upright = (0..60).flat_map(|i| (0..19).map(move |j| (i, j)));
        let flat = (0..61).flat_map(|i| (0..18).map(move |j| (i, j)));
        let crossed = upright
            .filter(|&(i, j)| above(i, j) != above(i + 1, j))
            .count()
            + flat
                .filter(|&(i, j)| above(i, j) != above(i, j + 1))
                .count();
        let drawn =
            "document.querySelector('path.contour').getAttribute('d').split('M').length - 1";
        assert_eq!(browser.value(drawn).await, json!(crossed));
        assert!(crossed > 20, "{crossed}");
        browser
            .value("document.querySelector('svg.map').scrollIntoView({ block: 'center' }) || 1")
            .await;
        // Where the page is, and what stands under the mouse.
        let at = "document.querySelector('.here').getBoundingClientRect().height > 0";
        assert_eq!(browser.value(at).await, true);
        let middle = "(() => { const b = document.querySelector('.here circle').getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2]; })()";
        let middle = browser.value(middle).await;
        let point = MouseActions::new("mouse".to_owned()).then(PointerAction::MoveTo {
            duration: None,
            x: middle[0].as_f64().expect("x"),
            y: middle[1].as_f64().expect("y"),
        });
        browser.client.perform_actions(point).await.expect("a move");
        let said = browser.text("#map-words").await;
        let under = 100.0 * rates[19 * 30 + 4];
        assert!(
            said.starts_with("target 0°, loop tolerance 0.3°")
                && said.contains(&format!("hunts in {under:.1} %")),
            "{said} {under}"
        );
        browser.picture("page-map.png").await;
        // The page has gone on meanwhile: what the map shows is true of the rig that it was drawn for, and says so. What it
        // varies does not count.
        let out = "document.querySelector('svg.map').classList.contains('outdated') && !document.querySelector('#map-fits').hidden";
        browser.keys(".target-handle", "\u{E00E}").await;
        let tolerance = "[data-key='loop.tolerance_deg'] input[type=number]";
        browser.put(tolerance, &json!(0.4), "input").await;
        assert_eq!(browser.value(out).await, false);
        let start = "[data-key='wrap.arc_start_deg'] input[type=number]";
        browser.put(start, &json!(40), "input").await;
        assert_eq!(browser.value(out).await, true);
        // By keyboard into the map, two cells to the right and five up from the pointer, and there.
        browser
            .keys(
                "svg.map",
                "\u{E014}\u{E014}\u{E013}\u{E013}\u{E013}\u{E013}\u{E013}\u{E007}",
            )
            .await;
        shows_target(&browser, 0.2).await;
        shows_rig(
            &browser,
            &["--target", "0.2", "--set", "loop.tolerance_deg=0.55"],
        )
        .await;

        // A long one, stopped.
        stop_a_long_map(&browser).await;
        browser
            .until("!document.querySelector('#draw-map').disabled")
            .await;
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
        browser.keys("#file", &path("mine.toml")).await;
        browser
            .until("document.querySelector('#done').textContent.includes('mine.toml')")
            .await;
        browser.keys("#file", &path("night.csv")).await;
        shows_target(&browser, 10.0).await;
        let chosen = "document.querySelector('.pick[aria-pressed=true] .name').textContent";
        assert_eq!(browser.value(chosen).await, "first");
        // Rig and list are named, and what no file has is marked.
        assert_eq!(browser.text("#rig-name").await, "pier two");
        assert_eq!(browser.text("#list-name").await, "night.csv, 2 targets");
        let marks = "['#demo', '#rig-changed', '#list-changed'].map((id) => !document.querySelector(id).hidden)";
        assert_eq!(browser.value(marks).await, json!([false, false, false]));
        let backlash = "[data-key='drive.backlash_deg'] input[type=number]";
        browser.put(backlash, &json!(0.35), "input").await;
        assert_eq!(browser.value(marks).await, json!([false, true, false]));
        browser.click(".menu > summary").await;
        browser.click("#save-rig").await;
        let text = browser.saved("mine.toml").await;
        assert!(
            text.starts_with("# my own\n")
                && text.contains("arc_start_deg = 10 # as built")
                && text.contains("backlash_deg = 0.35"),
            "{text}"
        );
        browser
            .until("document.querySelector('#rig-changed').hidden")
            .await;
        browser.click(".menu > summary").await;
        browser.click("#save-targets").await;
        assert!(browser.saved("night.csv").await.contains("second,33"));

        // The saved rig is the one that the page shows.
        browser.until("location.hash.length > 20").await;
        tokio::time::sleep(std::time::Duration::from_millis(700)).await;
        let digest = browser.value("document.body.dataset.digest").await;
        write(dir.path(), "saved.toml", &text);
        assert_eq!(
            of_command(&["--target", "10", &path("saved.toml")])["rig_digest"],
            digest
        );
        browser.client.refresh().await.expect("a reload");
        shown(&browser).await;
        assert_eq!(browser.value("document.body.dataset.digest").await, digest);
        shows_target(&browser, 10.0).await;

        browser.quiet().await;
        browser
    });
}

/// Begins a map that takes long, and stops it.
pub(crate) async fn stop_a_long_map(browser: &Browser) {
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
        .until("document.querySelector('#map-words').textContent.endsWith('Stopped by you.')")
        .await;
}

/// The page shows the rig of a command.
pub(crate) async fn shows_rig(browser: &Browser, args: &[&str]) {
    let digest = of_command(args)["rig_digest"].clone();
    shows_digest(browser, &digest).await;
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

/// Shows (serve): a damaged link changes nothing. Source: none: own rule.
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
