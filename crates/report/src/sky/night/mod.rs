//! A night of targets -> text, JSON and picture.

mod answer;
mod json;
mod picture;
mod sheet;
mod text;
mod warnings;

#[cfg(feature = "schema")]
pub(crate) use json::NightResult;
pub use json::night_json;
pub use picture::night_picture;
pub use sheet::{run_sheet, sheet_csv, sheet_page};
pub use text::{night_document, night_page};
pub use warnings::night_warnings;

use halfturn_engine::rig::Rig;
use halfturn_engine::wording::degrees;
use halfturn_sky::night::{NightPlan, NightRequest, NotUsable, Stretch};
use halfturn_sky::pointing::DarkHours;
use halfturn_sky::time::{LocalTime, Moment};

/// The frame of a night: site, date, request and rig.
#[derive(Debug, Clone, Copy)]
pub struct NightHead<'a> {
    /// Name of the site; may be empty.
    pub site_name: &'a str,
    /// The day on which the night begins.
    pub date: Moment,
    /// Its twilight.
    pub dark: &'a DarkHours,
    /// The request.
    pub request: &'a NightRequest,
    /// The rig.
    pub rig: &'a Rig,
    /// Local time; `None` to leave it out.
    pub local: Option<LocalTime>,
}

fn name<'a>(plan: &'a NightPlan, stretch: &Stretch) -> &'a str {
    &plan.targets[stretch.target].name
}

/// Why a stretch cannot be used; empty if it can.
fn not_usable(head: &NightHead<'_>, plan: &NightPlan, stretch: &Stretch) -> String {
    let lowest_deg = stretch.lowest_deg();
    let reason = |reason: &NotUsable| match reason {
        NotUsable::TooLow if lowest_deg < 0.0 => format!("below the horizon ({lowest_deg:.0}°)"),
        NotUsable::TooLow => format!(
            "too low ({lowest_deg:.1} of {}°)",
            degrees(head.request.night.least_altitude_deg)
        ),
        NotUsable::BehindHorizon => match rises(head, plan, stretch) {
            Some(at) => format!("behind the horizon until {}", at.clock()),
            None => "behind the horizon".to_owned(),
        },
        NotUsable::BeforeDusk => "before dusk".to_owned(),
        NotUsable::AfterDawn => "after dawn".to_owned(),
    };
    let reasons: Vec<String> = stretch.not_usable.iter().map(reason).collect();
    reasons.join(", ")
}

/// When the target of a stretch comes above the horizon during it, if it then stays above.
fn rises(head: &NightHead<'_>, plan: &NightPlan, stretch: &Stretch) -> Option<Moment> {
    let place = plan.targets[stretch.target].place;
    let night = &head.request.night;
    let crossings = night.crossings(place, stretch.begin, stretch.length_s());
    match crossings.as_slice() {
        [only] if only.rises => Some(only.at),
        _ => None,
    }
}

/// A time of day, or a text for no time.
fn clock(at: Option<Moment>) -> String {
    at.map_or_else(|| "-".to_owned(), Moment::clock)
}
