//! Pictures on the page.

use maud::{Markup, PreEscaped, html};

/// A picture as SVG markup.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Drawn {
    /// For a page.
    pub wide: String,
    /// For a narrow screen, if it has such a form.
    pub narrow: Option<String>,
}

/// The pictures of the page; without one its figure is left out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pictures {
    /// Targets, arc, seam and keep-outs on the circle of drive angles.
    pub dial: Option<Drawn>,
    /// The example loop under the present settings.
    pub loop_before: Option<Drawn>,
    /// The same run under the advised arc.
    pub loop_after: Option<Drawn>,
    /// Settle time of the rules.
    pub settle_time: Option<Drawn>,
    /// Hunting against the distance from the seam.
    pub seam_distance: Option<Drawn>,
    /// Every target before and after.
    pub before_after: Option<Drawn>,
    /// The tolerances that serve.
    pub tolerance: Option<Drawn>,
}

/// Width of a picture that does not say how wide it is \[px\].
const WIDE_PX: f64 = 960.0;

/// A picture with its caption; on a narrow screen its narrow form, if it has one.
pub(super) fn figure(picture: Option<&Drawn>, caption: &Markup) -> Markup {
    let form = |svg: &str| html! { (PreEscaped(embedded(svg))) };
    html! {
        @if let Some(picture) = picture {
            figure {
                div.picture.wide[picture.narrow.is_some()] style={ "--wide: " (wide_px(&picture.wide)) "px" } { (form(&picture.wide)) }
                @if let Some(narrow) = &picture.narrow {
                    div.picture.narrow style={ "--wide: " (wide_px(narrow)) "px" } { (form(narrow)) }
                }
                figcaption { (caption) }
            }
        }
    }
}

/// The SVG element without what may stand before it in a file of its own.
fn embedded(svg: &str) -> &str {
    svg.find("<svg").map_or(svg, |start| &svg[start..])
}

/// The natural width of a picture: the third number of its `viewBox`.
fn wide_px(svg: &str) -> f64 {
    svg.split_once("viewBox=\"")
        .and_then(|(_, rest)| rest.split_once('"'))
        .and_then(|(numbers, _)| numbers.split_whitespace().nth(2)?.parse().ok())
        .filter(|wide: &f64| wide.is_finite() && *wide > 0.0)
        .unwrap_or(WIDE_PX)
}
