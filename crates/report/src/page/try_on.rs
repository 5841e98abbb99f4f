//! The page with its engine inside a report, where a reader tries other settings.

use maud::{Markup, PreEscaped, html};
use serde_json::{Value, json};

use super::script::{escaped, hash, policy as usual_policy};

/// The script that opens the page in a frame.
const OPEN: &str = include_str!("../../../../assets/page/try_on.js");

/// The size of that frame; on paper nothing can be tried.
const STYLE: &str = "#try iframe { display: block; width: 100%; height: min(92vh, 64rem); border: 1px solid var(--line); } \
    @media print { #try { display: none; } }";

/// The first thing in the page that begins nothing by itself.
const WORKER: &str = "<script type=\"text/plain\" id=\"worker\">";

/// What the page begins with, before that. `door.js` of the one file reads it.
const GIVEN: &str = "<script type=\"application/json\" id=\"given\">";

/// The page, so that it begins with this, whatever it began with before.
#[must_use]
pub fn begun_with(one_file: &str, start: &Value) -> String {
    let (before, after) = one_file.split_once(WORKER).unwrap_or((one_file, ""));
    let before = before
        .split_once(GIVEN)
        .map_or(before, |(before, _)| before);
    let start = escaped(start).0;
    format!("{before}{GIVEN}{start}</script>\n{WORKER}{after}")
}

/// A report with the page and its engine in it.
#[must_use]
pub fn with_engine(report: &str, one_file: &str) -> String {
    let section = section(one_file).into_string() + "</main>";
    let allowed = report.replacen(&usual_policy(), &policy(one_file), 1);
    allowed.replacen("</main>", &section, 1)
}

/// A policy that also allows that script, its frame, and in the frame the script, worker and engine of the page. A frame
/// has the policy of what it stands in beside the one that it brings.
fn policy(one_file: &str) -> String {
    let script = one_file.split_once("\n<script>").unwrap_or_default().1;
    let script = script.rsplit_once("</script>").unwrap_or_default().0;
    let more = format!(
        "frame-src blob:; worker-src blob:; script-src 'wasm-unsafe-eval' 'sha256-{}' 'sha256-{}' ",
        hash(OPEN),
        hash(script)
    );
    usual_policy().replace("script-src ", &more)
}

/// The place of the frame, and the page as data: nothing of it starts before the reader asks. Without script it stays hidden.
fn section(one_file: &str) -> Markup {
    html! {
        section id="try" hidden {
            style { (PreEscaped(STYLE)) }
            h2 { "Try other settings" }
            p { "Here is the page of halfturn with this rig and these targets. Move the start of the arc, change the tolerance or the rule, and see new figures. Nothing leaves this file, and nothing in it changes." }
            div.choice { button type="button" { "Open the page" } }
            script type="application/json" id="one-file" { (escaped(&json!(one_file))) }
            script { (PreEscaped(OPEN)) }
        }
    }
}
