//! The verdicts on the served page: a mark with its words for every target, in the list, on the dial and on top.

use serde_json::{Value, json};

use crate::binary::{folder, write};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{judged, open, shows_digest, shows_target};
use crate::page_server::Server;

/// What `marks.js` has, where a test can see it.
async fn marks(browser: &Browser) {
    browser
        .value("import('/page/serve/marks.js').then((m) => { window.marks = m; }) && import('/page/serve/make.js').then((m) => { window.words = m; }) && 1")
        .await;
    browser.until("window.marks && window.words").await;
}

/// State and words of every target, in the order of the list, whatever the order on the page.
async fn listed(browser: &Browser) -> Value {
    browser
        .value("[...document.querySelectorAll('#targets li')].sort((a, b) => a.dataset.target - b.dataset.target).map((l) => l.querySelector('.verdict')).map((v) => [v.dataset.state, v.textContent])")
        .await
}

/// Class and title of every mark on the dial, by the place of its target in the list.
async fn on_dial(browser: &Browser) -> Value {
    browser
        .value("[...document.querySelectorAll('#dial [data-target]')].sort((a, b) => a.dataset.target - b.dataset.target).map((m) => [m.getAttribute('class'), m.querySelector('title').textContent])")
        .await
}

/// What the server says of the same list, as state and words.
async fn expected(browser: &Browser, server: &Server, rig: &Value) -> Vec<(String, String)> {
    let start = server.get("/api/start");
    let list = json!({ "rig": rig, "targets": start["targets"], "seed": 1 });
    let told = server.post("/api/verdicts", &list);
    let mut all = Vec::new();
    for target in told["targets"].as_array().expect("targets") {
        let state = target["verdict"].as_str().expect("a verdict");
        let states = start["states"].as_array().expect("states");
        let words = states.iter().find(|s| s["state"] == state);
        let words = words.expect("a state")["words"].as_str().expect("words");
        let faults = target["faults"].as_array().expect("faults");
        // A state that is certain has a fault that exceeds its limit; a risk has one that may.
        let standing = if state == "at-risk" {
            "may-exceed"
        } else {
            "exceeds"
        };
        let words = match faults.iter().find(|f| f["standing"] == standing) {
            Some(fault) => {
                let share = format!("words.percent({})", fault["rate"]);
                let share = browser.value(&share).await;
                let share = share.as_str().expect("a share").replace(' ', "\u{a0}");
                format!("{words} {share}")
            }
            None => words.to_owned(),
        };
        all.push((state.to_owned(), words));
    }
    all
}

/// The list and the dial show what the server says of a rig, and more than one kind of it.
async fn shows(browser: &Browser, server: &Server, rig: &Value) -> Vec<(String, String)> {
    judged(browser).await;
    let all = expected(browser, server, rig).await;
    assert_eq!(listed(browser).await, json!(all));
    let dial = on_dial(browser).await;
    let dial = dial.as_array().expect("marks");
    assert_eq!(dial.len(), all.len());
    for ((state, words), mark) in all.iter().zip(dial) {
        assert_eq!(mark[0], format!("mark {}", class(state)));
        let title = mark[1].as_str().expect("a title");
        assert!(title.contains(&format!(": {words};")), "{title} {words}");
    }
    all
}

/// The class of a mark, as `palette.css` and the report name it.
fn class(state: &str) -> &str {
    match state {
        "turns-through-keep-out" => "keep-out",
        "winds-too-far" => "winding",
        other => other,
    }
}

/// The class of the mark in a place.
fn mark_of(place: &str) -> String {
    format!("document.querySelector('{place} .mark').getAttribute('class')")
}

fn states(all: &[(String, String)]) -> Vec<&str> {
    all.iter().map(|(state, _)| state.as_str()).collect()
}

/// Shows (serve): every target has its mark with words and share in list and dial, the worst first, also on top; the
/// green mark is for safe alone. Source: none: internal consistency.
#[test]
fn every_target_has_its_mark_in_list_and_dial() {
    let dir = folder();
    write(
        dir.path(),
        "t.csv",
        "name,position_angle_deg\nclear,90\nrisky,1.75\nbeside,1\nseam,0\nsame,270\n",
    );
    let out = crate::binary::halfturn(dir.path(), &["init", "r", "--quiet"]);
    assert_eq!(out.status.code(), Some(0));
    let server = Server::start(dir.path(), &["r/rig.toml", "t.csv"]);
    in_browser("page: verdicts", Look::DESK, async |browser| {
        open(&browser, &server).await;
        marks(&browser).await;
        let mut rig = server.get("/api/start")["rig"].clone();
        // Within 1 deg of the seam it hunts, beyond what "twice the tolerance" would mark.
        let all = shows(&browser, &server, &rig).await;
        let expected = ["safe", "at-risk", "hunts", "hunts", "safe"];
        assert_eq!(states(&all), expected, "{all:?}");

        // The worst stand first, and the answer counts them.
        let shown = "[...document.querySelectorAll('#targets .verdict')].map((v) => [v.dataset.state, Number.parseFloat(v.textContent.split(' ').at(-1))])";
        let shown: Vec<(String, Option<f64>)> =
            serde_json::from_value(browser.value(shown).await).expect("lines");
        let order: Vec<&str> = shown.iter().map(|(state, _)| state.as_str()).collect();
        assert_eq!(order, ["hunts", "hunts", "at-risk", "safe", "safe"]);
        assert!(shown[0].1 > shown[1].1, "{shown:?}");
        assert_eq!(
            browser.text("#answer").await,
            "2 of 5 targets hunt, 1 is at risk."
        );
        assert_eq!(browser.value(&mark_of("#answer-mark")).await, "mark hunts");

        // Above the dial: the same state, and its mark.
        for (i, (target_deg, (state, words))) in
            [90.0, 1.75, 1.0, 0.0, 270.0].iter().zip(&all).enumerate()
        {
            browser
                .click(&format!("#targets li[data-target='{i}'] .pick"))
                .await;
            shows_target(&browser, *target_deg).await;
            let top = format!(
                "[document.body.dataset.state, {}, {}]",
                mark_of("#now"),
                mark_of(".target-handle")
            );
            let class = format!("mark {}", class(state));
            assert_eq!(
                browser.value(&top).await,
                json!([state, class, class]),
                "{words}"
            );
        }
        let said = browser.text("#now-words").await;
        assert!(said.starts_with("It is safe"), "{said}");

        // A change takes the verdicts away at once, and new ones come.
        let marked = "[...document.querySelectorAll('#targets .verdict, #dial [data-target]')].map((m) => m.dataset.state || m.getAttribute('class').slice(5))";
        let change = format!(
            "(() => {{ const f = document.querySelector(\"[data-key='wrap.arc_start_deg'] input[type=number]\"); f.value = 90; f.dispatchEvent(new Event('input')); return {marked}; }})()"
        );
        assert_eq!(browser.value(&change).await, json!(vec!["unknown"; 10]));
        rig["wrap"]["arc_start_deg"] = json!(90.0);
        let all = shows(&browser, &server, &rig).await;
        // The swings go through the keep-out of the demo.
        let through = "turns-through-keep-out";
        assert_eq!(states(&all), [through, "safe", "safe", "safe", through]);

        // The others keep theirs where one target changes.
        browser.click("#targets li[data-target='0'] .pick").await;
        browser.put(".of-target", &json!(89), "change").await;
        let now = listed(&browser).await;
        let now: Vec<&Value> = now
            .as_array()
            .expect("lines")
            .iter()
            .map(|l| &l[0])
            .collect();
        assert_eq!(now, ["unknown", "safe", "safe", "safe", through]);
        judged(&browser).await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        browser.quiet().await;
        browser
    });
}

/// A verdict that is not found in time is no safe one.
#[test]
fn what_is_not_known_looks_so() {
    let dir = folder();
    let heavy = [
        "loop.max_solves=10000",
        "loop.tolerance_deg=0.001",
        "loop.field_rotation_deg_per_s=0.01",
        "solve.failure_rate=0.98",
        "solve.max_failures=1000",
    ];
    let mut args = Vec::new();
    for set in heavy {
        args.extend(["--set", set]);
    }
    let server = Server::start(dir.path(), &args);
    in_browser("page: not known", Look::DESK, async |browser| {
        browser.open(&server.url("/")).await;
        browser
            .until("[...document.querySelectorAll('#targets .verdict')].some((v) => v.textContent === 'needs over 3 s')")
            .await;
        for line in listed(&browser).await.as_array().expect("lines") {
            assert_eq!(*line, json!(["unknown", "needs over 3 s"]));
        }
        assert_eq!(
            browser.value(&mark_of("#answer-mark")).await,
            "mark unknown"
        );
        assert_eq!(
            browser.value("document.querySelectorAll('.mark.safe').length - document.querySelectorAll('.key .mark.safe').length").await,
            0
        );
        browser.quiet().await;
        browser
    });
}

/// Nine marks; colours differ by 0.08 in `OKLab`, four times what is just noticed.
/// Shows (serve): marks differ in shape and in colour, in the light and in the dark. Source: Ottosson, A perceptual
/// color space for image processing, 2020.
#[test]
fn every_state_has_a_shape_and_a_colour_by_itself() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    for dark in [false, true] {
        let look = Look { dark, ..Look::DESK };
        in_browser("page: marks", look, async |browser| {
            open(&browser, &server).await;
            marks(&browser).await;
            let mut states: Vec<Value> = server.get("/api/start")["states"]
                .as_array()
                .expect("states")
                .iter()
                .map(|s| s["state"].clone())
                .collect();
            states.push(json!("unknown"));
            assert_eq!(browser.value("marks.STATES").await, json!(states));
            let drawn = browser
                .value(
                    "(() => { const svg = document.querySelector('#dial svg'); return marks.STATES.map((s) => { const p = marks.shape(s, svg);
                     return [p.getAttribute('d'), getComputedStyle(p).fill.match(/\\d+/g).map(Number)]; }); })()",
                )
                .await;
            let drawn: Vec<(String, [f64; 3])> = serde_json::from_value(drawn).expect("marks");
            for (i, (shape, colour)) in drawn.iter().enumerate() {
                for (other, other_colour) in &drawn[..i] {
                    assert_ne!(shape, other);
                    let apart = apart(*colour, *other_colour);
                    assert!(apart > 0.08, "{dark} {colour:?} {other_colour:?}: {apart}");
                }
            }
            browser
        });
    }
}

/// Distance of two sRGB colours in `OKLab`: Ottosson, "A perceptual color space for image processing", 2020.
fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    let lab = |colour: [f64; 3]| {
        let [r, g, b] = colour.map(|c| {
            let c = c / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                libm::pow((c + 0.055) / 1.055, 2.4)
            }
        });
        let l = libm::cbrt(0.412_221_470_8 * r + 0.536_332_536_3 * g + 0.051_445_992_9 * b);
        let m = libm::cbrt(0.211_903_498_2 * r + 0.680_699_545_1 * g + 0.107_396_956_6 * b);
        let s = libm::cbrt(0.088_302_461_9 * r + 0.281_718_837_6 * g + 0.629_978_700_5 * b);
        [
            0.210_454_255_3 * l + 0.793_617_785 * m - 0.004_072_046_8 * s,
            1.977_998_495_1 * l - 2.428_592_205 * m + 0.450_593_709_9 * s,
            0.025_904_037_1 * l + 0.782_771_766_2 * m - 0.808_675_766 * s,
        ]
    };
    let (a, b) = (lab(a), lab(b));
    a.iter()
        .zip(b)
        .map(|(x, y)| (x - y) * (x - y))
        .sum::<f64>()
        .sqrt()
}

/// Shows (serve): times are over all loops; what a share of them never reaches is "never". Source: none: own rule.
#[test]
fn loops_that_never_settle_count_in_the_table_of_rules() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: never", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let column = "[...document.querySelectorAll('td[data-rule=\"half-circle\"]')].map((c) => c.textContent)";
        let start = server.get("/api/start");
        for (tolerance_deg, never) in [(0.3, true), (2.0, false)] {
            let field = "[data-key='loop.tolerance_deg'] input[type=number]";
            browser.put(field, &json!(tolerance_deg), "input").await;
            let mut rig = start["rig"].clone();
            rig["loop"]["tolerance_deg"] = json!(tolerance_deg);
            let look =
                json!({ "rig": rig, "target_deg": 0.0, "seed": 1, "trials": 20_000, "trial": 0 });
            let live = server.post("/api/live", &look);
            shows_digest(&browser, &live["digest"]).await;
            let policies = live["compared"]["policies"].as_array().expect("policies");
            let own = policies.iter().find(|p| p["rule"] == "half-circle");
            let own = own.expect("the rule of the demo");
            let p90 = &own["settle_time_s"]["p90"];
            let settled = own["settled"]["rate"].as_f64();
            assert_eq!(p90.is_null(), never, "{settled:?}");
            assert_eq!(settled.expect("a share") < 0.9, never);
            let shown = browser.value(&format!("{column}[4]")).await;
            assert_eq!(shown == "never", never, "{shown}");
        }
        browser
    });
}
