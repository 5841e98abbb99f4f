//! The served page for everybody: by keyboard alone, on a telephone, in the dark.

use base64::Engine as _;
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
        // The advice is soon there, and the button that takes it is near.
        browser
            .until("!document.querySelector('#apply').disabled")
            .await;
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
        let apply = seen.iter().position(|s| s == "apply");
        assert!(apply.is_some_and(|stops| stops < 15), "{apply:?} {seen:?}");
        for needed in [
            "link",
            "apply",
            "handle arc-handle",
            "handle target-handle",
            "tab-rules",
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
        // The tabs, and the player behind the second.
        browser.keys("#tab-rules", "\u{E014}").await;
        browser.until("document.querySelector('#loop .hp')").await;
        browser.keys(".hp", "\u{E014}").await;
        browser
            .until("document.querySelector('.hp').dataset.step === '0'")
            .await;
        browser
            .value("document.querySelector('#tabs').scrollIntoView() || 1")
            .await;
        browser.picture("page-loop.png").await;
        browser.quiet().await;
        browser
    });
}

/// Shows (serve): the page works on a telephone, in the dark, and by the rules of access. Source: axe-core 4.14.
#[test]
fn a_telephone_and_the_dark_show_all_of_it() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    for dark in [true, false] {
        let look = Look {
            dark,
            ..Look::PHONE
        };
        in_browser("page: telephone", look, async |browser| {
            open(&browser, &server).await;
            assert_eq!(
                browser
                    .value("matchMedia('(prefers-color-scheme: dark)').matches")
                    .await,
                json!(dark)
            );
            assert_eq!(browser.value("innerWidth").await, json!(390));
            let wide = browser.value("document.documentElement.scrollWidth").await;
            assert_eq!(wide, json!(390), "nothing sticks out");
            judged(&browser).await;
            browser
                .until("!document.querySelector('#apply').disabled")
                .await;
            // The answer first, then targets, dial and settings.
            let order = "['#answer', '#apply', '#targets', '#dial', '#fields', '#tabs'].map((s) => document.querySelector(s).getBoundingClientRect().top)";
            let order: Vec<f64> =
                serde_json::from_value(browser.value(order).await).expect("places");
            assert!(order.is_sorted() && order[1] < 844.0, "{order:?}");
            let name = if dark {
                "page-phone-dark.png"
            } else {
                "page-phone.png"
            };
            browser.picture(name).await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser.quiet().await;
            browser
        });
    }
    in_browser(
        "page: dark",
        Look {
            dark: true,
            ..Look::DESK
        },
        async |browser| {
            open(&browser, &server).await;
            judged(&browser).await;
            browser
                .until("!document.querySelector('#apply').disabled")
                .await;
            browser.picture("page-dark.png").await;
            assert_eq!(browser.axe().await, Vec::<String>::new());
            browser
        },
    );
}

/// Shows (serve): the night is red alone: no pixel has green or blue. Source: that red spares eyes used to the dark:
/// common practice, no published source.
#[test]
fn the_night_is_red_alone() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: night", Look::DESK, async |browser| {
        open(&browser, &server).await;
        judged(&browser).await;
        browser.put("#theme", &json!("night"), "change").await;
        browser.click("#tab-map").await;
        browser.click("#draw-map").await;
        browser
            .until("document.querySelector('.here') && !document.querySelector('#apply').disabled")
            .await;
        browser.value("scrollTo(0, 0) || 1").await;
        browser.picture("page-night.png").await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        for place in [
            "scrollTo(0, 0)",
            "document.querySelector('.map').scrollIntoView()",
        ] {
            browser.value(&format!("{place} || 1")).await;
            let png = browser.client.screenshot().await.expect("a picture");
            let png = base64::engine::general_purpose::STANDARD.encode(png);
            let most = "const [png, done] = arguments;
                const image = new Image();
                image.onload = () => {
                    const canvas = document.createElement('canvas');
                    [canvas.width, canvas.height] = [image.width, image.height];
                    const pen = canvas.getContext('2d');
                    pen.drawImage(image, 0, 0);
                    const { data } = pen.getImageData(0, 0, image.width, image.height);
                    const most = [0, 0, 0];
                    data.forEach((value, i) => { if (i % 4 < 3) most[i % 4] = Math.max(most[i % 4], value); });
                    done(most);
                };
                image.src = 'data:image/png;base64,' + png;";
            let most = browser.client.execute_async(most, vec![json!(png)]).await;
            let most: [u8; 3] = serde_json::from_value(most.expect("pixels")).expect("colours");
            assert!(most[0] > 200 && most[1] <= 2 && most[2] <= 2, "{most:?}");
        }
        // It is kept for the next visit.
        browser.client.refresh().await.expect("a reload");
        let theme = "document.documentElement.dataset.theme";
        browser.until(&format!("{theme} === 'night'")).await;
        browser.put("#theme", &json!(""), "change").await;
        assert_eq!(
            browser.value(&format!("{theme} ?? null")).await,
            json!(null)
        );
        browser.quiet().await;
        browser
    });
}
