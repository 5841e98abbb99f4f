//! Values of the options of the sky commands.

use super::super::reply::Failure;
use halfturn_engine::scenario::{find_object, read_place};
use halfturn_sky::SkyPlace;
use halfturn_sky::pointing::DarkHours;
use halfturn_sky::time::{DAY_S, Moment};

/// Right ascension and declination, in degrees.
pub(super) fn center(text: &str) -> Result<SkyPlace, String> {
    read_place(text)
        .map(|(ra_deg, dec_deg)| SkyPlace { ra_deg, dec_deg })
        .ok_or_else(|| {
            "must be a right ascension and a declination, in degrees such as 10.68,41.27, or as 00:42:44,+41:16:09"
                .to_owned()
        })
}

/// Two numbers with this character between them. The mosaic checks their ranges.
pub(super) fn pair(between: char) -> impl Fn(&str) -> Result<(f64, f64), String> + Clone {
    move |text| {
        let finite = |t: &str| t.trim().parse::<f64>().ok().filter(|x| x.is_finite());
        text.split_once(between)
            .and_then(|(one, two)| Some((finite(one)?, finite(two)?)))
            .ok_or_else(|| format!("must be two numbers with {between} between them"))
    }
}

/// A time of day, with or without a date, in universal time.
pub(super) fn start(text: &str) -> Result<String, String> {
    let day = Moment::read_date("2000-01-01")?;
    if Moment::read(text).is_some() || clock(text, day).is_some() {
        Ok(text.to_owned())
    } else {
        Err("must be a universal time, such as 19:40 or 2026-10-14T19:40:00".to_owned())
    }
}

/// A time of day on this day.
fn clock(text: &str, day: Moment) -> Option<Moment> {
    let seconds = if text.matches(':').count() == 1 {
        ":00"
    } else {
        ""
    };
    Moment::read(&format!("{}T{text}{seconds}", day.date()))
}

/// A share of at least 0 and below 1.
pub(super) fn share(text: &str) -> Result<f64, String> {
    number(text, 0.0, 0.999).ok_or_else(|| "must be from 0 to 0.999".to_owned())
}

/// A number in a range.
fn number(text: &str, low: f64, high: f64) -> Option<f64> {
    text.trim()
        .parse::<f64>()
        .ok()
        .filter(|x| (low..=high).contains(x))
}

/// Reads a number in a range, with its unit for the message.
pub(super) fn within(
    low: f64,
    high: f64,
    unit: &'static str,
) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |text| {
        number(text, low, high)
            .ok_or_else(|| format!("must be a number from {low} to {high}{unit}"))
    }
}

/// The moment of `--start`; without it, the end of astronomical dusk.
pub(super) fn begin(
    start: Option<&str>,
    date: Moment,
    dark: &DarkHours,
) -> Result<Moment, Failure> {
    let Some(text) = start else {
        return dark.astronomical_dusk().ok_or_else(|| {
            Failure::Argument(
                "--start is missing: this night does not become dark. Give a start time".to_owned(),
            )
        });
    };
    let noon = dark.noon();
    let within = |at: &Moment| (0.0..DAY_S).contains(&at.since_s(noon));
    // A time of day lies in the 24 hours after the local noon.
    let moment = Moment::read(text).or_else(|| {
        (-1..=1)
            .filter_map(|day| clock(text, date.plus_s(f64::from(day) * DAY_S)))
            .find(within)
    });
    moment.filter(within).ok_or_else(|| {
        Failure::Argument(format!(
            "--start {text}: must lie within 24 hours of the local noon, {}",
            noon.iso()
        ))
    })
}

/// Name and place of a target, by `--object` or `--center`. One of them must be given.
pub(super) fn place(
    object: Option<&str>,
    center: Option<SkyPlace>,
) -> Result<(String, SkyPlace), Failure> {
    if let Some(name) = object {
        let found =
            find_object(name).map_err(|e| Failure::Argument(format!("--object {name}: {e}")))?;
        return Ok((name.trim().to_owned(), found.into()));
    }
    let place = center.expect("the command line has one of the two");
    Ok((format!("{},{}", place.ra_deg, place.dec_deg), place))
}
