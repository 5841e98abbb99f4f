//! What to mind before a camera is turned by anyone's advice.

use maud::{Markup, html};

pub(super) fn section() -> Markup {
    html! {
        aside.cautions id="cautions" aria-labelledby="cautions-title" {
            h2 id="cautions-title" { "Before you turn anything" }
            ul {
                li {
                    "A turning camera can wind up and tear cables, pinch fingers, and strike the mount, the pier or the telescope."
                }
                li {
                    "Check every keep-out and the whole new arc by hand and at slow speed before you trust them. Watch the first runs; "
                    "never leave the rotator unattended before that."
                }
                li {
                    "The maker's instructions, local codes and licensed practice come first."
                }
                li { "This program advises only. It commands no hardware." }
            }
        }
    }
}
