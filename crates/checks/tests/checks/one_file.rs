//! `reports/halfturn.html`, opened from a folder: the page with its engine in one file.

use std::process::Command;
use std::sync::Mutex;

use halfturn_answers::{PageStart, Watch, Work, answer, start};
use halfturn_engine::sample::{Monitor, Unattended};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

use crate::binary::{folder, root, tell};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_given::{drop_file, said};
use crate::browser_page::{drag_target, judged, of_command, rate, rate_of, shown, shows_digest};
use crate::browser_work::{shows_rig, stop_a_long_map};

/// The field of the tolerance.
const TOLERANCE: &str = "[data-key='loop.tolerance_deg'] input[type=number]";

/// Largest weight of the file \[bytes\].
const MOST_BYTES: usize = 2_500_000;

fn file() -> String {
    std::fs::read_to_string(root().join("reports/halfturn.html")).expect("the file")
}

fn address() -> String {
    let path = root().join("reports/halfturn.html");
    url::Url::from_file_path(path).expect("a path").to_string()
}

pub(crate) async fn open(browser: &Browser) {
    browser.open(&address()).await;
    shown(browser).await;
}

/// Nothing was loaded, and nothing is wrong.
pub(crate) async fn alone(browser: &Browser) {
    let loaded = "performance.getEntriesByType('resource').map((e) => e.name).filter((name) => !/^(blob|data):/.test(name))";
    assert_eq!(browser.value(loaded).await, json!([]));
    browser.quiet().await;
}

#[test]
fn it_is_light_and_has_its_digest() {
    let html = file();
    assert!(html.len() < MOST_BYTES, "{} bytes", html.len());
    tell(&format!("halfturn.html: {} bytes", html.len()));
    let told = std::fs::read_to_string(root().join("reports/halfturn.html.sha256"));
    let digest: String = Sha256::digest(&html)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    assert_eq!(
        told.expect("a digest"),
        format!("{digest}  halfturn.html\n")
    );
}

/// Whoever has its compiler makes the same file from the sources.
#[test]
fn it_is_made_of_these_sources() {
    let rustc = |args: &[&str]| {
        let told = Command::new("rustc").args(args).output().expect("rustc");
        String::from_utf8_lossy(&told.stdout).trim().to_owned()
    };
    let libraries = rustc(&[
        "--print",
        "target-libdir",
        "--target",
        "wasm32-unknown-unknown",
    ]);
    let version = rustc(&["--version"]);
    if !std::path::Path::new(&libraries).exists() {
        return tell(
            "halfturn.html is NOT COMPARED with its sources: rustup target add wasm32-unknown-unknown",
        );
    }
    let html = file();
    if !html.contains(&format!(", {version}\">")) {
        return tell(&format!(
            "halfturn.html is NOT COMPARED with its sources: it was not made by {version}"
        ));
    }
    let dir = folder();
    let made = Command::new(env!("CARGO"))
        .args([
            "run",
            "--locked",
            "-p",
            "halfturn-wasm",
            "--example",
            "one_file",
            "--",
        ])
        .arg(dir.path())
        .current_dir(root())
        .status();
    assert!(made.expect("cargo").success());
    let again = std::fs::read_to_string(dir.path().join("halfturn.html"));
    assert!(
        again.expect("a file") == html,
        "reports/halfturn.html is older than the sources: cargo run -p halfturn-wasm --example one_file"
    );
}

/// Gathers the rows of work.
#[derive(Default)]
struct Rows(Mutex<Vec<String>>);

impl Monitor for Rows {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        false
    }
}

impl Watch for Rows {
    fn take(&self, lines: &str) {
        let mut rows = self.0.lock().expect("one thread");
        rows.extend(lines.lines().map(str::to_owned));
    }
}

/// What the program answers; of work its rows, and its answer.
fn here(path: &str, body: &Value) -> String {
    let body = body.to_string();
    match path {
        "start" => start(&PageStart::demo().expect("the demo")).to_string(),
        "jobs" => {
            let work = Work::read(body.as_bytes()).expect("work");
            let rows = Rows::default();
            let found = work.run(&rows).expect("no fault").expect("no stop");
            let rows = rows.0.into_inner().expect("one thread");
            let ended = json!({ "phase": "done", "result": found.result, "report": found.report });
            work.rows(&rows).to_string() + &ended.to_string()
        }
        _ => answer(path, body.as_bytes(), &Unattended)
            .expect("an answer")
            .to_string(),
    }
}

/// The engine in the file gives what the same functions give here, byte for byte.
#[test]
fn its_engine_has_the_same_bits() {
    let demo = start(&PageStart::demo().expect("the demo"));
    let with = |pointer: &str, value: Value| {
        let mut rig = demo["rig"].clone();
        *rig.pointer_mut(pointer).expect("a key") = value;
        rig
    };
    let look = |rig: &Value, target_deg: f64| json!({ "rig": rig, "target_deg": target_deg, "targets": demo["targets"], "seed": 7, "trials": 20_000, "trial": 3 });
    let sweep = |method: &str| {
        json!({
            "kind": "sweep", "rig": demo["rig"], "vary": ["target=-2:2:9", "loop.tolerance_deg=0.1:1:4"], "target_deg": null,
            "rules": demo["rules"], "method": method, "trials": 1000, "seed": 5,
        })
    };
    // A loop with field rotation is not solved, but run.
    let turning = with("/loop/field_rotation_deg_per_s", json!(0.001));
    let advise = json!({ "kind": "advise", "rig": demo["rig"], "targets": demo["targets"], "trials": 20_000, "seed": 1 });
    let log = std::fs::read_to_string(root().join("assets/demo-log.csv")).expect("a log");
    let panels = json!({ "rig": demo["rig"], "name": "p", "centre": "M 31", "columns": 3, "rows": 2, "position_angle_deg": 12.5 });
    let card = |text: &str| format!("{text:80}");
    let cards = "SIMPLE  = T;BITPIX  = 8;NAXIS   = 0;CTYPE1  = 'RA---TAN';CTYPE2  = 'DEC--TAN';CRVAL1  = 83.8;CRVAL2  = -5.4;\
        CDELT1  = -0.001;CDELT2  = 0.001;CROTA2  = -40.3;ROTANGLE= 12.5;END";
    let head: String = cards.split(';').map(card).collect();
    let images = json!({ "files": [{ "name": "a.fits", "bytes": 2880, "head": format!("{head:2880}") }], "reading_key": "ROTANGLE" });
    let mut questions = vec![
        ("start", Value::Null),
        ("live", look(&demo["rig"], 0.0)),
        ("live", look(&turning, 0.3)),
        (
            "live",
            look(&with("/loop/tolerance_deg", json!(0.05)), 90.0),
        ),
        (
            "hunting",
            json!({ "rig": turning, "target_deg": 0.2, "seed": 11 }),
        ),
        (
            "verdicts",
            json!({ "rig": demo["rig"], "targets": demo["targets"], "seed": 1 }),
        ),
        (
            "verdicts",
            json!({ "rig": turning, "targets": demo["targets"], "seed": 1 }),
        ),
        ("panels", panels),
        ("fits", images),
        (
            "fit",
            json!({ "rig": demo["rig"], "name": "log.csv", "text": log }),
        ),
        (
            "rig/write",
            json!({ "rig": demo["rig"], "text": demo["rig_text"] }),
        ),
        ("targets/write", json!({ "targets": demo["targets"] })),
        ("jobs", advise),
        ("jobs", sweep("auto")),
        ("jobs", sweep("monte-carlo")),
    ];
    // Every part of the model, by the rigs of the independent program.
    let cases = include_str!("../../../../tests/data/reference_cases.json");
    let cases: Value = serde_json::from_str(cases).expect("JSON");
    for case in cases["cases"].as_array().expect("cases") {
        let mut look = look(&case["rig"], case["target_deg"].as_f64().expect("a target"));
        look["trials"] = json!(2000);
        questions.push(("live", look));
    }
    in_browser("one file: the same bits", Look::DESK, async |browser| {
        open(&browser).await;
        let script = "const [questions, done] = arguments;
            (async () => {
                const text = (id) => document.getElementById(id).textContent;
                const packed = Uint8Array.from(atob(text('engine')), (c) => c.charCodeAt(0));
                const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
                const module = await WebAssembly.compile(await new Response(stream).arrayBuffer());
                const worker = new Worker(URL.createObjectURL(new Blob([text('worker')], { type: 'text/javascript' })));
                const answers = [];
                for (const [path, body] of questions) {
                    const rows = [];
                    const { answer } = await new Promise((then) => {
                        worker.onmessage = ({ data }) => {
                            if (data.news?.startsWith('{\"rows\"')) rows.push(data.news.slice(9, -2));
                            else if (data.status || data.broken) then(data);
                        };
                        worker.postMessage({ module: answers.length === 0 ? module : null, path, body: JSON.stringify(body), timeMs: Infinity });
                    });
                    answers.push(path === 'jobs' ? '[' + rows.join(',') + ']' + answer : answer);
                }
                done(answers);
            })().catch((error) => done(String(error)));";
        let answers = browser
            .client
            .execute_async(script, vec![json!(questions)])
            .await;
        let answers = answers.expect("answers");
        for (i, (path, body)) in questions.iter().enumerate() {
            let there = answers[i].as_str().unwrap_or_default();
            let shown: String = there.chars().take(200).collect();
            assert!(there == here(path, body), "question {i}, {path}: {shown}");
        }
        alone(&browser).await;
        browser
    });
}

/// A list of targets and a rig are looked at and saved; the figures are those of the program.
#[test]
fn it_answers_without_a_program() {
    in_browser("one file", Look::DESK, async |browser| {
        open(&browser).await;
        let opened_ms = browser.value("document.body.dataset.frameMs").await;
        tell(&format!(
            "halfturn.html: first figures after {opened_ms} ms"
        ));
        assert_eq!(browser.axe().await, Vec::<String>::new());
        let at_start = of_command(&["--target", "0"]);
        assert_eq!(
            rate(&browser, "half-circle").await,
            rate_of(&at_start, "half-circle")
        );
        judged(&browser).await;
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
        browser.picture("one-file.png").await;
        drag_target(&browser, 20.0).await;
        browser.put(TOLERANCE, &json!(0.5), "input").await;
        shows_rig(
            &browser,
            &["--target", "0", "--set", "loop.tolerance_deg=0.5"],
        )
        .await;
        // A value that is not allowed is told at its field.
        browser.put(TOLERANCE, &json!(-1), "input").await;
        browser
            .until("!document.querySelector('#fault').hidden")
            .await;
        browser.click("#undo").await;
        browser
            .until("document.querySelector('#fault').hidden")
            .await;

        // The advice, its report and what is saved of it.
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
        browser.click("#tab-report").await;
        let frame = "document.querySelector('#report iframe').contentDocument";
        browser
            .until(&format!("{frame}?.querySelector('h1')"))
            .await;
        assert_eq!(
            browser
                .value(&format!(
                    "{frame}.querySelectorAll('script:not([type])').length"
                ))
                .await,
            json!(0)
        );
        browser.click("#report button").await;
        let report = browser.saved("report.html").await;
        assert!(report.starts_with("<!DOCTYPE html>") && report.contains("HalfturnPlayer"));
        browser.click("#apply").await;
        browser.click(".menu > summary").await;
        browser.click("#save-rig").await;
        let rig = browser.saved("rig.toml").await;
        let path = browser.folder.join("rig.toml").display().to_string();
        shows_rig(&browser, &["--target", "0", &path]).await;
        assert!(rig.contains("arc_start_deg = 277.0"));

        // The log of a rig, and a rig that is none.
        let log = std::fs::read_to_string(root().join("assets/demo-log.csv")).expect("a log");
        drop_file(&browser, "log.csv", &log).await;
        browser.until("document.querySelector('#take-fit')").await;
        browser.click("#take-fit").await;
        drop_file(&browser, "bad.toml", "colour = 1\n").await;
        said(&browser, "bad.toml").await;

        // The link opens the same state.
        let digest = browser.value("document.body.dataset.digest").await;
        browser.until("location.hash.startsWith('#state=')").await;
        tokio::time::sleep(std::time::Duration::from_millis(600)).await;
        browser.client.refresh().await.expect("it opens again");
        shows_digest(&browser, &digest).await;
        alone(&browser).await;
        browser
    });
}

/// A map is drawn, and one that takes long is stopped; the page goes on.
#[test]
fn its_work_shows_and_stops() {
    in_browser("one file: map", Look::DESK, async |browser| {
        open(&browser).await;
        browser.click("#tab-map").await;
        browser.click("#draw-map").await;
        browser
            .until("document.querySelector('#map-words').textContent.includes('1159 cells')")
            .await;
        stop_a_long_map(&browser).await;
        browser.put(TOLERANCE, &json!(0.5), "input").await;
        shows_rig(
            &browser,
            &["--target", "0", "--set", "loop.tolerance_deg=0.5"],
        )
        .await;
        alone(&browser).await;
        browser
    });
}

/// A report in a tab of its own replays its loop.
#[test]
fn its_report_has_a_player_in_its_own_tab() {
    in_browser("one file: report", Look::DESK, async |browser| {
        open(&browser).await;
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
        browser.click("#tab-report").await;
        browser.click("#report a[target]").await;
        let windows = browser.client.windows().await.expect("windows");
        let other = windows.last().cloned().expect("a tab");
        browser
            .client
            .switch_to_window(other)
            .await
            .expect("the tab");
        browser.until("document.querySelector('#player svg')").await;
        alone(&browser).await;
        browser
    });
}

#[test]
fn it_fits_a_telephone() {
    in_browser("one file: telephone", Look::PHONE, async |browser| {
        open(&browser).await;
        judged(&browser).await;
        let wide = "document.documentElement.scrollWidth <= window.innerWidth";
        assert_eq!(browser.value(wide).await, true);
        assert_eq!(browser.axe().await, Vec::<String>::new());
        alone(&browser).await;
        browser.picture("one-file-phone.png").await;
        browser
    });
}

#[test]
fn without_webassembly_it_says_so() {
    let look = Look {
        without_wasm: true,
        ..Look::DESK
    };
    in_browser("one file: no WebAssembly", look, async |browser| {
        browser.open(&address()).await;
        browser
            .until("document.querySelector('#answer').textContent.includes('this browser has no WebAssembly')")
            .await;
        alone(&browser).await;
        browser
    });
}
