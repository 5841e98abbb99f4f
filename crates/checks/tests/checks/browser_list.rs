//! The list of targets and the arc on the served page, as they are typed, clicked and dragged.

use serde_json::json;

use crate::binary::{folder, halfturn, write};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::{drag_target, judged, of_command, open, shows_digest, shows_target};
use crate::page_server::Server;

async fn names(browser: &Browser) -> serde_json::Value {
    browser
        .value("[...document.querySelectorAll('#targets li')].sort((a, b) => a.dataset.target - b.dataset.target).map((l) => l.querySelector('.name').textContent)")
        .await
}

fn served(dir: &std::path::Path, list: &str) -> Server {
    write(dir, "t.csv", list);
    assert_eq!(
        halfturn(dir, &["init", "r", "--quiet"]).status.code(),
        Some(0)
    );
    Server::start(dir, &["r/rig.toml", "t.csv"])
}

/// Shows (serve): targets are renamed and deleted, a dragged angle is written back; of equal angles the clicked one is
/// chosen. With: `of_equal_angles_the_one_that_is_clicked_is_chosen`. Source: none: own rule.
#[test]
fn targets_are_renamed_deleted_and_a_dragged_angle_is_written_back() {
    let dir = folder();
    let server = served(dir.path(), "name,position_angle_deg\na,0\nb,40\nc,80\n");
    in_browser("page: list", Look::DESK, async |browser| {
        open(&browser, &server).await;
        browser.click("li[data-target='1'] .pick").await;
        shows_target(&browser, 40.0).await;
        browser.put(".rename", &json!("pelican"), "change").await;
        assert_eq!(names(&browser).await, json!(["a", "pelican", "c"]));
        // A name is there once: the fault stands at the field, and nothing changes.
        browser.put(".rename", &json!("c"), "change").await;
        assert_eq!(
            browser.text(".edit .fault").await,
            "Another target has this name."
        );
        assert_eq!(names(&browser).await, json!(["a", "pelican", "c"]));

        drag_target(&browser, 100.0).await;
        let angle = "li[data-target='1'] .angle";
        assert_eq!(browser.text(angle).await, "40\u{b0}");
        let moved = browser.value("Number(document.body.dataset.target)").await;
        browser.click("#write-back").await;
        assert_eq!(
            browser.text(angle).await,
            format!("{}\u{b0}", moved.as_f64().expect("an angle"))
        );
        assert_eq!(
            browser
                .value("document.querySelector('.moved').hidden")
                .await,
            true
        );
        browser.click(".menu > summary").await;
        browser.click("#save-targets").await;
        let saved = browser.saved("t.csv").await;
        assert!(saved.contains(&format!("pelican,{moved}")), "{saved}");

        browser.click("[aria-label='Delete pelican']").await;
        assert_eq!(names(&browser).await, json!(["a", "c"]));
        shows_target(&browser, 80.0).await;
        browser.click("#undo").await;
        assert_eq!(names(&browser).await, json!(["a", "pelican", "c"]));
        browser.quiet().await;
        browser
    });
}

/// Shows (serve): a field of the list keeps the keyboard and what is typed while verdicts put the list in another
/// order. Source: none: own rule.
#[test]
fn a_field_keeps_the_keyboard_when_verdicts_come() {
    let dir = folder();
    let server = served(dir.path(), "name,position_angle_deg\na,90\nb,0\nc,45\n");
    in_browser("page: list, keyboard", Look::DESK, async |browser| {
        open(&browser, &server).await;
        judged(&browser).await;
        let order =
            "[...document.querySelectorAll('#targets li')].map((l) => l.dataset.target).join('')";
        let before = browser.value(order).await;
        browser.keys(".rename", "typed").await;
        let arc = "[data-key='wrap.arc_start_deg'] input[type=number]";
        // One angle of the list comes to lie on the seam after the other.
        for start_deg in [90, 45] {
            browser.put(arc, &json!(start_deg), "input").await;
            judged(&browser).await;
            let field = "document.activeElement.matches('.rename') && document.activeElement.value";
            assert_eq!(browser.value(field).await, "atyped");
        }
        assert_ne!(browser.value(order).await, before);
        browser.quiet().await;
        browser
    });
}

/// Panels of a mosaic have one angle: the one that is clicked is chosen, in list and dial.
#[test]
fn of_equal_angles_the_one_that_is_clicked_is_chosen() {
    let dir = folder();
    let list = "name,position_angle_deg\nr1 c1,10\nr1 c2,10\nr2 c1,10\nr2 c2,10\n";
    let server = served(dir.path(), list);
    in_browser("page: equal angles", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let chosen = "[...document.querySelectorAll('.pick[aria-pressed=true] .name')].map((n) => n.textContent)";
        for (i, name) in ["r1 c1", "r1 c2", "r2 c1", "r2 c2"].iter().enumerate() {
            browser.click(&format!("li[data-target='{i}'] .pick")).await;
            assert_eq!(browser.value(chosen).await, json!([name]));
            let heading =
                format!("document.querySelector('#now').textContent === '{name} at 10\u{b0}'");
            browser.until(&heading).await;
        }
        let label = "[...document.querySelectorAll('#dial .label')].find((l) => l.querySelector('title').textContent === 'r1 c2').dispatchEvent(new MouseEvent('click', { bubbles: true }))";
        browser.value(label).await;
        assert_eq!(browser.value(chosen).await, json!(["r1 c2"]));
        // Its angle changes, and that of no other.
        browser.put(".of-target", &json!(12), "change").await;
        let angles = "[...document.querySelectorAll('#targets li')].sort((a, b) => a.dataset.target - b.dataset.target).map((l) => l.querySelector('.angle').textContent)";
        assert_eq!(
            browser.value(angles).await,
            json!(["10\u{b0}", "12\u{b0}", "10\u{b0}", "10\u{b0}"])
        );
        browser.quiet().await;
        browser
    });
}

/// Shows (serve): the arc is typed by either end, signed or not. Source: by hand.
#[test]
fn the_arc_is_typed_by_either_end() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: arc", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let start = "[data-key='wrap.arc_start_deg'] input[type=number]";
        let end = "[aria-label='End of the arc']";
        let ends = "[...document.querySelectorAll('.arc-ends input')].map((i) => i.valueAsNumber)";
        assert_eq!(browser.value(ends).await, json!([0, 180]));
        // Half a turn before its end.
        browser.put(end, &json!(97), "input").await;
        assert_eq!(browser.value(ends).await, json!([277, 97]));
        let typed = of_command(&["--target", "0", "--set", "wrap.arc_start_deg=-83"]);
        shows_digest(&browser, &typed["rig_digest"]).await;
        browser.put(".arc-ends select", &json!("1"), "change").await;
        assert_eq!(browser.value(ends).await, json!([-83, 97]));
        browser.put(start, &json!(-10), "input").await;
        assert_eq!(browser.value(ends).await, json!([-10, 170]));
        // The whole circle ends where it starts.
        let rule = "[data-key='wrap.rule'] select";
        browser.put(rule, &json!("full-circle"), "change").await;
        browser.until(&format!("{ends}.join() === '-10,-10'")).await;
        browser
            .click("[aria-label='Copy the start of the arc']")
            .await;
        browser
            .until("!document.querySelector('#done').hidden")
            .await;
        browser.quiet().await;
        browser
    });
}
