//! Moments in universal time, and how they are written.
//!
//! A moment is UTC without its leap seconds. Near a leap second the error is up to a second, which moves the sky by
//! at most 15 arcseconds.

use halfturn_engine::fit::date_s;
use serde::Serialize;

/// Seconds of a day.
pub const DAY_S: f64 = 86_400.0;

/// Julian date of the start of 1970.
const JD_1970: f64 = 2_440_587.5;

/// Years that are supported. The models of precession and of the Earth's orbit are good for them.
pub const YEARS: (i32, i32) = (1960, 2100);

/// A moment of universal time.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Moment {
    /// Seconds since the start of 1970, without leap seconds.
    seconds: f64,
}

impl Serialize for Moment {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.iso())
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Moment {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Time".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "pattern": "^-?[0-9]{4,}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$",
            "description": "universal time",
        })
    }
}

impl Moment {
    /// The moment `seconds` after the start of 1970; `None` outside [`YEARS`].
    #[must_use]
    pub fn from_seconds(seconds: f64) -> Option<Self> {
        let within = |date: &str| date_s(&format!("{date}T00:00:00"));
        let (first, last) = (
            within(&format!("{}-01-01", YEARS.0))?,
            within(&format!("{}-01-01", YEARS.1))?,
        );
        (first..last).contains(&seconds).then_some(Self { seconds })
    }

    /// Reads `2031-03-01T22:15:30`, optionally with an offset from universal time or `Z`; `None` for any other text.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        Self::from_seconds(date_s(text)?)
    }

    /// Reads a day such as `2031-03-01` as its start in universal time.
    ///
    /// # Errors
    /// What it must be.
    pub fn read_date(text: &str) -> Result<Self, String> {
        // A date alone, without a time after it.
        let alone = Some(text).filter(|t| t.len() <= 10);
        alone
            .and_then(|t| Self::read(&format!("{t}T00:00:00")))
            .ok_or_else(|| "must be a date from 1960 to 2099, such as 2026-10-14".to_owned())
    }

    /// The Julian date in two parts, in UTC \[d\].
    #[must_use]
    pub fn julian(self) -> (f64, f64) {
        let day = (self.seconds / DAY_S).floor();
        (JD_1970 + day, self.seconds / DAY_S - day)
    }

    /// The moment `seconds` later.
    #[must_use]
    pub fn plus_s(self, seconds: f64) -> Self {
        Self {
            seconds: self.seconds + seconds,
        }
    }

    /// Seconds since another moment.
    #[must_use]
    pub fn since_s(self, other: Self) -> f64 {
        self.seconds - other.seconds
    }

    /// `2031-03-01T22:15:30Z`, to the nearest second.
    #[must_use]
    pub fn iso(self) -> String {
        let (date, clock) = self.parts();
        format!("{date}T{clock}Z")
    }

    /// `22:15`, to the nearest minute.
    #[must_use]
    pub fn clock(self) -> String {
        let rounded = Self {
            seconds: (self.seconds / 60.0).round() * 60.0,
        };
        rounded.parts().1[..5].to_owned()
    }

    /// Hours since the start of its day in universal time.
    #[must_use]
    pub fn hour_of_day(self) -> f64 {
        self.seconds.rem_euclid(DAY_S) / 3600.0
    }

    /// `2031-03-01`.
    #[must_use]
    pub fn date(self) -> String {
        self.parts().0
    }

    /// Date and time of day of the nearest second.
    fn parts(self) -> (String, String) {
        let seconds = self.seconds.round();
        let days = (seconds / DAY_S).floor();
        let rest = (seconds - days * DAY_S) as u32;
        // From days since 1970 to the Gregorian calendar, with years counted from March: the inverse of `date_s`.
        let z = days as i64 + 719_468;
        let era = z.div_euclid(146_097);
        let day_of_era = z.rem_euclid(146_097);
        let year_of_era =
            (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let shifted = (5 * day_of_year + 2) / 153;
        let day = day_of_year - (153 * shifted + 2) / 5 + 1;
        let month = if shifted < 10 {
            shifted + 3
        } else {
            shifted - 9
        };
        let year = year_of_era + era * 400 + i64::from(month <= 2);
        (
            format!("{year:04}-{month:02}-{day:02}"),
            format!("{:02}:{:02}:{:02}", rest / 3600, rest / 60 % 60, rest % 60),
        )
    }
}

/// How far a local time is ahead of universal time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LocalTime {
    minutes: i32,
}

impl LocalTime {
    /// Reads `+02:00`, `-3:30` or `2`, up to 14 hours.
    ///
    /// # Errors
    /// What it must be.
    pub fn read(text: &str) -> Result<Self, String> {
        Self::of(text).ok_or_else(|| "must be hours and minutes such as +02:00 or -3:30".to_owned())
    }

    fn of(text: &str) -> Option<Self> {
        let (sign, size) = match text.strip_prefix('-') {
            Some(size) => (-1, size),
            None => (1, text.strip_prefix('+').unwrap_or(text)),
        };
        let (hours, minutes) = size.split_once(':').unwrap_or((size, "0"));
        // `parse` would take another sign.
        let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        let whole = |t: &str| t.parse::<i32>().ok().filter(|_| digits(t));
        let (hours, minutes) = (whole(hours)?, whole(minutes)?);
        let total = 60 * hours.min(100) + minutes;
        (minutes < 60 && total <= 14 * 60).then_some(Self {
            minutes: sign * total,
        })
    }

    /// The moment as universal time would write its local time.
    fn shifted(self, at: Moment) -> Moment {
        at.plus_s(60.0 * f64::from(self.minutes))
    }

    /// `22:15`, to the nearest minute.
    #[must_use]
    pub fn clock(self, at: Moment) -> String {
        self.shifted(at).clock()
    }

    /// `2031-03-01T22:15:30+02:00`, to the nearest second.
    #[must_use]
    pub fn iso(self, at: Moment) -> String {
        format!(
            "{}{}",
            self.shifted(at).iso().trim_end_matches('Z'),
            self.offset()
        )
    }

    /// `+02:00`.
    #[must_use]
    pub fn offset(self) -> String {
        let sign = if self.minutes < 0 { '-' } else { '+' };
        let size = self.minutes.abs();
        format!("{sign}{:02}:{:02}", size / 60, size % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (sky): Julian dates; dates that are written read back, or are refused. With: `what_is_written_reads_back`,
    /// `what_is_no_moment_of_the_years_is_refused`. Source: Meeus, Astronomical Algorithms (2nd ed.), chapter 7 and
    /// examples 12.a, 28.a (from memory).
    #[test]
    fn julian_dates_are_those_of_the_handbook() {
        for (text, jd) in [
            ("2000-01-01T12:00:00", 2_451_545.0),
            ("1987-04-10T00:00:00", 2_446_895.5),
            ("1987-04-10T19:21:00Z", 2_446_896.306_25),
            ("1999-01-01T00:00:00", 2_451_179.5),
        ] {
            let (day, rest) = Moment::read(text).expect("a moment").julian();
            assert!((day + rest - jd).abs() < 1e-9, "{text}");
        }
    }

    #[test]
    fn what_is_written_reads_back() {
        for text in [
            "2024-02-29T23:59:59Z",
            "2031-03-01T00:00:00Z",
            "1969-12-31T23:59:59Z",
            "2000-12-31T12:30:01Z",
            "2099-12-31T23:59:59Z",
        ] {
            let moment = Moment::read(text).expect("a moment");
            assert_eq!(moment.iso(), text);
        }
        let late = Moment::read("2026-12-31T23:59:40Z").expect("a moment");
        assert_eq!(
            (late.clock().as_str(), late.date().as_str()),
            ("00:00", "2026-12-31")
        );
    }

    /// Shows (sky): local times are universal times with an offset. Source: RFC 3339, by hand.
    #[test]
    fn local_times_are_read_and_written() {
        let at = Moment::read("2026-10-14T22:40:00").expect("a moment");
        for (text, written) in [
            ("+02:00", "2026-10-15T00:40:00+02:00"),
            ("2", "2026-10-15T00:40:00+02:00"),
            ("-3:30", "2026-10-14T19:10:00-03:30"),
            ("0", "2026-10-14T22:40:00+00:00"),
        ] {
            let local = LocalTime::read(text).expect("an offset");
            assert_eq!(local.iso(at), written);
            assert_eq!(Moment::read(&local.iso(at)), Some(at));
            assert_eq!(local.clock(at), written[11..16]);
        }
        for text in ["", "+", "15", "1:60", "2:", "+-2", "CEST", "1:-5"] {
            assert!(LocalTime::read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn what_is_no_moment_of_the_years_is_refused() {
        for text in [
            "1959-12-31T23:59:59",
            "2100-01-01T00:00:00",
            "2026-02-30T00:00:00",
            "noon",
            "",
        ] {
            assert_eq!(Moment::read(text), None, "{text}");
        }
        assert!(Moment::read_date("2026-10-14").is_ok());
        assert!(Moment::read_date("2026-10-14T12:00:00").is_err());
        assert_eq!(Moment::from_seconds(f64::NAN), None);
    }
}
