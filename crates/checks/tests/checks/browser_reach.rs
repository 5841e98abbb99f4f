//! The served page for everybody: by keyboard alone, on a telephone, in the dark.

use serde_json::json;

use crate::binary::folder;
use crate::browser_driver::{Look, in_browser};
use crate::browser_page::{judged, open, shows_target};
use crate::page_server::Server;

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
            assert!(
                seen.iter().any(|s| s.starts_with(needed)),
                "{needed}: {seen:?}"
            );
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
        browser.quiet().await;
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
            judged(&browser).await;
            browser.picture("page-phone-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser.quiet().await;
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
            judged(&browser).await;
            browser.picture("page-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser
        },
    );
}
