//! The files of the page, which are part of the program.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Response};

use super::api::ApiError;
use halfturn_report::page::{PLAYER_SCRIPT, PLAYER_STYLE};

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";

/// A file by its name in the address: its type and its text.
macro_rules! page_files {
    ($($name:literal => $kind:ident),+ $(,)?) => {
        &[$(($name, $kind, include_str!(concat!("../../assets/page/", $name)))),+]
    };
}

const FILES: &[(&str, &str, &str)] = page_files! {
    "palette.css" => CSS,
    "serve/serve.css" => CSS,
    "serve/app.js" => SCRIPT,
    "serve/advice.js" => SCRIPT,
    "serve/api.js" => SCRIPT,
    "serve/dial.js" => SCRIPT,
    "serve/door.js" => SCRIPT,
    "serve/files.js" => SCRIPT,
    "serve/form.js" => SCRIPT,
    "serve/jobs.js" => SCRIPT,
    "serve/make.js" => SCRIPT,
    "serve/marks.js" => SCRIPT,
    "serve/map.js" => SCRIPT,
    "serve/night.js" => SCRIPT,
    "serve/reader.js" => SCRIPT,
    "serve/rules.js" => SCRIPT,
    "serve/settings.js" => SCRIPT,
    "serve/sheet.js" => SCRIPT,
    "serve/state.js" => SCRIPT,
    "serve/targets.js" => SCRIPT,
    "serve/verdicts.js" => SCRIPT,
};

/// The page itself.
const PAGE: &str = include_str!("../../assets/page/serve/index.html");

/// The icon of the tab: a camera frame on its ring.
const ICON: &str = include_str!("../../assets/page/serve/icon.svg");

/// `/`: the page itself.
pub(super) async fn page() -> Response {
    file(HTML, PAGE)
}

/// `/page/player.js`: the player, as in the report.
pub(super) async fn player_script() -> Response {
    file(SCRIPT, PLAYER_SCRIPT)
}

/// `/page/player.css`: its style sheet.
pub(super) async fn player_style() -> Response {
    file(CSS, PLAYER_STYLE)
}

/// `/icon.svg`: the icon of the tab.
pub(super) async fn icon() -> Response {
    file("image/svg+xml", ICON)
}

/// `/page/NAME`: any other file of the page.
pub(super) async fn asset(axum::extract::Path(name): axum::extract::Path<String>) -> Response {
    match FILES.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, text)) => file(kind, text),
        None => ApiError::new(StatusCode::NOT_FOUND, "no such file").into_response(),
    }
}

fn file(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind)], text).into_response()
}

/// Size of the whole page \[bytes\].
#[cfg(test)]
fn weight() -> usize {
    let player = PLAYER_SCRIPT.len() + PLAYER_STYLE.len();
    PAGE.len() + ICON.len() + player + FILES.iter().map(|(_, _, text)| text.len()).sum::<usize>()
}

#[cfg(test)]
mod tests {
    /// Shows (serve): the page weighs less than 0.5 MB. Source: none: own rule.
    #[test]
    fn the_page_is_light() {
        let most = 500_000;
        assert!(super::weight() < most, "{} bytes", super::weight());
    }
}
