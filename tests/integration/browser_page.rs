//! The served page in a browser, as a user meets it.

use fantoccini::actions::{InputSource as _, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use serde_json::{Value, json};

use crate::binary::{folder, halfturn, json as answer, write};
use crate::browser_driver::{Browser, Look, in_browser, tell};
use crate::page_server::Server;

/// A page with its server, when its first figures are there.
async fn open(browser: &Browser, server: &Server) {
    browser.open(&server.url("/")).await;
    shown(browser).await;
}

/// The figures belong to the present state.
async fn shown(browser: &Browser) {
    browser
        .until("document.querySelector('#answer').dataset.digest && document.querySelector('.hp')")
        .await;
}

/// Waits until the figures for a target are there.
async fn shows_target(browser: &Browser, target_deg: f64) {
    browser
        .until(&format!(
            "Number(document.querySelector('#answer').dataset.target) === {target_deg}"
        ))
        .await;
}

/// The ping-pong rate that a row of the rules shows, unrounded.
async fn rate(browser: &Browser, rule: &str) -> f64 {
    let at = format!("Number(document.querySelector('tr[data-rule=\"{rule}\"]').dataset.pingPong)");
    browser.value(&at).await.as_f64().expect("a number")
}

fn of_command(args: &[&str]) -> Value {
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

fn rate_of(batch: &Value, rule: &str) -> f64 {
    let policies = batch["policies"].as_array().expect("policies");
    let policy = policies
        .iter()
        .find(|p| p["rule"] == rule)
        .expect("the rule");
    policy["ping_pong"]["rate"].as_f64().expect("a rate")
}

/// Nothing is wrong with the page so far.
async fn quiet(browser: &Browser) {
    assert_eq!(browser.complaints().await, Vec::<String>::new());
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
                .starts_with("Yes: it ping-pongs in 15.1 %")
        );
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
            browser.text("#answer").await.starts_with("No: "),
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
        browser
            .value(&format!("(() => {{ const s = document.querySelector(\"{slider}\"); s.value = 0.5; s.dispatchEvent(new Event('input')); return s.valueAsNumber; }})()"))
            .await;
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
        quiet(&browser).await;
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
        browser.value(&format!("(() => {{ const s = document.querySelector(\"{field}\"); s.value = -1; s.dispatchEvent(new Event('input')); return 1; }})()")).await;
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
        let choose = "(() => { const s = document.querySelector(\"[data-key='drive.travel'] select\"); s.value = 'stops'; s.dispatchEvent(new Event('change')); return 1; })()";
        browser.value(choose).await;
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
        quiet(&browser).await;
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
        quiet(&browser).await;
        browser.open(report.as_str().expect("an address")).await;
        browser.until("document.querySelector('#player .hp')").await;
        quiet(&browser).await;
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
        browser.value("(() => { const s = document.querySelector(\"[data-key='wrap.band_deg'] input[type=number]\"); s.value = 3.5; s.dispatchEvent(new Event('input')); return 1; })()").await;
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
        quiet(&browser).await;
        browser
    });
}

#[test]
fn the_keyboard_is_enough() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: keyboard", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let tab = "\u{E004}";
        // The first stop of the Tab key leads past the head of the page.
        browser.keys("body", tab).await;
        assert_eq!(
            browser.value("document.activeElement.className").await,
            "skip"
        );
        // Every control can be reached, and none holds the focus.
        let mut seen = Vec::new();
        for _ in 0..400 {
            let here = "document.activeElement === document.body ? 'end' : (document.activeElement.id || document.activeElement.className.baseVal || document.activeElement.className || document.activeElement.tagName)";
            let at = browser.value(here).await.as_str().unwrap_or("?").to_owned();
            if at == "end" {
                break;
            }
            seen.push(at);
            let active = browser.client.active_element().await.expect("the focus");
            active.send_keys(tab).await.expect("a key");
        }
        for needed in [
            "target-angle",
            "link",
            "handle arc-handle",
            "handle target-handle",
            "hunt",
            "hp",
            "draw-map",
            "advise",
        ] {
            assert!(seen.iter().any(|s| s == needed), "{needed}: {seen:?}");
        }
        // The handle of the target: right, and ten degrees up.
        browser.keys(".target-handle", "\u{E014}\u{E00E}").await;
        shows_target(&browser, 10.1).await;
        browser.keys(".arc-handle", "\u{E012}").await;
        browser
            .until("document.querySelector('.arc-handle').getAttribute('aria-valuenow') === '-0.1'")
            .await;
        let body = browser.client.active_element().await.expect("the focus");
        body.send_keys("\u{E009}z\u{E000}").await.expect("keys");
        browser
            .until("document.querySelector('.arc-handle').getAttribute('aria-valuenow') === '0'")
            .await;
        // The player.
        browser.keys(".hp", "\u{E014}").await;
        browser
            .until("document.querySelector('.hp').dataset.step === '0'")
            .await;
        quiet(&browser).await;
        browser
    });
}

#[test]
fn a_telephone_and_the_dark_show_all_of_it() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser(
        "page: telephone",
        Look {
            dark: true,
            ..Look::PHONE
        },
        async |browser| {
            open(&browser, &server).await;
            assert_eq!(
                browser
                    .value("matchMedia('(prefers-color-scheme: dark)').matches")
                    .await,
                json!(true)
            );
            assert_eq!(browser.value("innerWidth").await, json!(390));
            let wide = browser.value("document.documentElement.scrollWidth").await;
            assert_eq!(wide, json!(390), "nothing sticks out");
            browser.picture("page-phone-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            quiet(&browser).await;
            browser
        },
    );
    in_browser(
        "page: dark",
        Look {
            dark: true,
            ..Look::DESK
        },
        async |browser| {
            open(&browser, &server).await;
            browser.picture("page-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser
        },
    );
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
            browser.value(&format!("(() => {{ const a = document.querySelector('#target-angle'); a.value = {target}; a.dispatchEvent(new Event('input')); return 1; }})()")).await;
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
