//! The served page in a browser, as a user meets it.

use fantoccini::actions::{InputSource as _, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use serde_json::{Value, json};

use crate::binary::tell;
use crate::binary::{folder, halfturn, json as answer};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::page_server::Server;

/// A page with its server, when its first figures are there.
pub(crate) async fn open(browser: &Browser, server: &Server) {
    browser.open(&server.url("/")).await;
    shown(browser).await;
}

/// The figures belong to the present state.
pub(crate) async fn shown(browser: &Browser) {
    browser
        .until("document.querySelector('#answer').dataset.digest && document.querySelector('.hp')")
        .await;
}

/// The verdicts on all targets are known.
pub(crate) async fn judged(browser: &Browser) {
    let states = "[...document.querySelectorAll('#targets .verdict')].map((v) => v.dataset.state)";
    browser
        .until(&format!(
            "{states}.length > 0 && {states}.every((s) => s !== 'unknown')"
        ))
        .await;
}

/// Waits until the figures for a target are there.
pub(crate) async fn shows_target(browser: &Browser, target_deg: f64) {
    browser
        .until(&format!(
            "Number(document.querySelector('#answer').dataset.target) === {target_deg}"
        ))
        .await;
}

/// The ping-pong rate that a row of the rules shows, unrounded.
pub(crate) async fn rate(browser: &Browser, rule: &str) -> f64 {
    let at = format!("Number(document.querySelector('tr[data-rule=\"{rule}\"]').dataset.pingPong)");
    browser.value(&at).await.as_f64().expect("a number")
}

pub(crate) fn of_command(args: &[&str]) -> Value {
    let dir = folder();
    let batch = [
        "batch",
        "--method",
        "auto",
        "--precision",
        "map",
        "--json",
        "-",
    ];
    answer(&halfturn(dir.path(), &[&batch[..], args].concat()))
}

pub(crate) fn rate_of(batch: &Value, rule: &str) -> f64 {
    let policies = batch["policies"].as_array().expect("policies");
    let policy = policies
        .iter()
        .find(|p| p["rule"] == rule)
        .expect("the rule");
    policy["ping_pong"]["rate"].as_f64().expect("a rate")
}

#[test]
fn numbers_follow_the_handles_and_are_those_of_the_command() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: handles", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let now = of_command(&["--target", "0"]);
        assert_eq!(
            rate(&browser, "half-circle").await,
            rate_of(&now, "half-circle")
        );
        assert!(
            browser
                .text("#answer")
                .await
                .starts_with("Yes, it hunts: under the rule half-circle it ping-pongs in 15.1 %")
        );
        judged(&browser).await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        browser.picture("page.png").await;

        // The target is dragged a quarter round.
        let place = |angle: &str| {
            format!("(() => {{ const b = document.querySelector('#dial > svg').getBoundingClientRect(); const r = b.width * 140 / 320;
            return [b.left + b.width / 2 + r * Math.sin({angle}), b.top + b.height / 2 - r * Math.cos({angle})]; }})()")
        };
        browser
            .value("document.querySelector('#dial > svg').scrollIntoView({ block: 'center' }) || 1")
            .await;
        let from = browser.value(&place("0")).await;
        let to = browser.value(&place("Math.PI / 2")).await;
        let to_action = |p: &Value| PointerAction::MoveTo {
            duration: Some(std::time::Duration::from_millis(100)),
            x: p[0].as_f64().expect("x"),
            y: p[1].as_f64().expect("y"),
        };
        let drag = MouseActions::new("mouse".to_owned())
            .then(to_action(&from))
            .then(PointerAction::Down {
                button: MOUSE_BUTTON_LEFT,
            })
            .then(to_action(&to))
            .then(PointerAction::Up {
                button: MOUSE_BUTTON_LEFT,
            });
        browser.client.perform_actions(drag).await.expect("a drag");
        browser
            .until("Math.abs(Number(document.querySelector('#answer').dataset.target) - 90) < 1.5")
            .await;
        assert!(
            browser.text("#answer").await.starts_with("No, it is safe"),
            "{}",
            browser.text("#answer").await
        );
        // The whole drag is one step back.
        browser.click("#undo").await;
        shows_target(&browser, 0.0).await;
        assert_eq!(
            rate(&browser, "half-circle").await,
            rate_of(&now, "half-circle")
        );

        // A slider.
        let slider = "[data-key='loop.tolerance_deg'] input[type=range]";
        browser.put(slider, &json!(0.5), "input").await;
        let then = of_command(&["--target", "0", "--set", "loop.tolerance_deg=0.5"]);
        let digest = then["rig_digest"].as_str().expect("a digest");
        browser
            .until(&format!(
                "document.querySelector('#answer').dataset.digest === '{digest}'"
            ))
            .await;
        assert_eq!(
            rate(&browser, "half-circle").await,
            rate_of(&then, "half-circle")
        );
        assert!(rate_of(&then, "half-circle") < rate_of(&now, "half-circle"));
        browser.quiet().await;
        browser
    });
}

#[test]
fn a_setting_that_is_not_allowed_is_told_at_its_field() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: faults", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let field = "[data-key='loop.tolerance_deg'] input[type=number]";
        browser.put(field, &json!(-1), "input").await;
        browser
            .until("!document.querySelector('#fault').hidden")
            .await;
        let said = browser.text("[data-key='loop.tolerance_deg'] .fault").await;
        assert!(said.contains("180 deg"), "{said}");
        browser.click("#undo").await;
        browser
            .until("document.querySelector('#fault').hidden")
            .await;
        // A key that belongs to another brings it along.
        browser
            .put(
                "[data-key='drive.travel'] select",
                &json!("stops"),
                "change",
            )
            .await;
        let stops = of_command(&[
            "--target",
            "0",
            "--set",
            "drive.travel=stops",
            "--set",
            "drive.stop_from_deg=-10",
            "--set",
            "drive.stop_to_deg=370",
        ]);
        let digest = stops["rig_digest"].as_str().expect("a digest");
        browser
            .until(&format!(
                "document.querySelector('#answer').dataset.digest === '{digest}'"
            ))
            .await;
        assert_eq!(
            rate(&browser, "half-circle").await,
            rate_of(&stops, "half-circle")
        );
        // The one thing that the console tells is the answer that refused.
        let told = browser.complaints().await;
        assert!(told.iter().all(|line| line.contains("422")), "{told:?}");
        browser
    });
}

#[test]
fn shares_are_never_rounded_to_certainty() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: shares", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser
            .value("import('/page/serve/make.js').then((m) => { window.words = m; }) && 1")
            .await;
        browser.until("window.words").await;
        for (share, words) in [
            (0.0, "0 %"),
            (1e-10, "less than 1e-7 %"),
            (0.000_001_7, "1.7e-4 %"),
            (0.151_2, "15.1 %"),
            (0.999, "99.9 %"),
            (0.999_5, "99.95 %"),
            (0.999_999_9, "more than 99.9999 %"),
            (1.0, "100 %"),
        ] {
            assert_eq!(
                browser.value(&format!("words.percent({share})")).await,
                words
            );
        }
        for (rate, low, trials, shown) in
            [(0.1, 0.0, 0, 0.0), (0.1, 0.05, 0, 0.1), (0.1, 0.0, 5, 0.1)]
        {
            let share = format!("words.shareOf({{ rate: {rate}, low: {low} }}, {trials})");
            assert_eq!(browser.value(&share).await.as_f64(), Some(shown));
        }
        browser.quiet().await;
        browser
    });
}

/// Figures that come in while an angle is being typed leave the field alone; once typed it is the target's.
#[test]
fn a_number_being_typed_is_not_taken_away() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: typing", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let field = "document.querySelector('[aria-label^=\"Position angle of\"]')";
        let before = browser.value(&format!("{field}.value")).await;
        browser
            .value(&format!("{field}.focus() || {field}.select() || 1"))
            .await;
        browser
            .keys("[aria-label^=\"Position angle of\"]", "8")
            .await;
        // Half of "83.5" is there when another handle is moved.
        browser.put("#target-angle", &json!(41), "input").await;
        shows_target(&browser, 41.0).await;
        let typed = browser.value(&format!("{field}.value")).await;
        assert!(
            typed.as_str().is_some_and(|t| t.ends_with('8')) && typed != before,
            "{typed} {before}"
        );
        browser
            .keys("[aria-label^=\"Position angle of\"]", "3.5\u{E007}")
            .await;
        let now = browser.value(&format!("{field}.valueAsNumber")).await;
        let digits = format!("{}3.5", typed.as_str().unwrap_or_default());
        assert_eq!(now.as_f64(), digits.parse().ok());
        browser.quiet().await;
        browser
    });
}

/// How long a moved handle waits for its figures. Only told: a busy machine proves nothing.
#[test]
fn frames_are_measured() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: frames", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let mut frames = Vec::new();
        for i in 0..40 {
            let target = f64::from(i) * 0.05 - 1.0;
            browser.put("#target-angle", &json!(target), "input").await;
            shows_target(&browser, target).await;
            let frame = browser.value("[Number(document.documentElement.dataset.frameMs), Number(document.documentElement.dataset.solveMs)]").await;
            frames.push((
                frame[0].as_f64().expect("a time"),
                frame[1].as_f64().expect("a time"),
            ));
        }
        frames.sort_by(|a, b| a.0.total_cmp(&b.0));
        tell(&format!(
            "frames from the move to the new figures [ms]: median {}, 95 % {}, longest {}; solving in the median one {}",
            frames[20].0, frames[37].0, frames[39].0, frames[20].1
        ));
        browser
    });
}
