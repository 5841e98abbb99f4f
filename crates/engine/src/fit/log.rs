//! The text of a log -> its rows.

use crate::angle::MOST_ANGLE_DEG;
use crate::decimal::power_of_ten;
use crate::rig::InputError;
use crate::scenario::table::{Table, TableRow};

/// One row of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRow {
    /// Line in the file, from 1.
    pub line: usize,
    /// Name of the run; empty if the log has no such column.
    pub run: String,
    /// Time \[s\], counted from any start; `None` if the log has no times.
    pub time_s: Option<f64>,
    /// Commanded drive angle \[deg\]; `None` if the log has none.
    pub commanded_deg: Option<f64>,
    /// Reading of the drive \[deg\].
    pub reading_deg: f64,
    /// Solved position angle \[deg\]; `None` if the solve failed.
    pub position_angle_deg: Option<f64>,
}

/// A log of readings and solved position angles, in the order in which they were made.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// The rows. Messages count them from 1.
    pub rows: Vec<LogRow>,
    /// Unit of the last decimal of the readings \[deg\].
    pub resolution_deg: f64,
}

/// Columns that a log may have.
const COLUMNS: [&str; 6] = [
    "reading_deg",
    "position_angle_deg",
    "time",
    "commanded_deg",
    "solved_ok",
    "run",
];

/// Most rows of a log.
pub const MOST_ROWS: usize = 5_000;

/// Largest time \[s\]: enough for milliseconds since 1970.
const MOST_TIME_S: f64 = 1e13;

/// Reads a log. `file` is the name that messages show.
///
/// A solve counts as failed if `solved_ok` says so or the position angle is empty.
///
/// # Errors
/// [`InputError`] for the first fault: no rows or too many, an unknown or missing column, a number that is not finite
/// or out of its range, a time before that of the row above in the same run.
pub fn read_log(text: &str, file: &str) -> Result<Log, InputError> {
    let table = Table::read(text, file, &COLUMNS, "row")?;
    let reading = table.needed("reading_deg")?;
    let angle = table.needed("position_angle_deg")?;
    let (time, commanded) = (table.place("time"), table.place("commanded_deg"));
    let (solved, run) = (table.place("solved_ok"), table.place("run"));
    let mut rows: Vec<LogRow> = Vec::new();
    let mut decimals = 0;
    // Time of the last row in the same run.
    let mut before: Option<f64> = None;
    for row in table.rows() {
        let row = row?;
        if rows.len() == MOST_ROWS {
            return Err(row.broken(format!("too many rows. Give at most {MOST_ROWS}")));
        }
        let (low, high) = (-MOST_ANGLE_DEG, MOST_ANGLE_DEG);
        let reading_deg = row
            .number(Some(reading), "reading_deg", low, high)?
            .ok_or_else(|| row.fault("reading_deg", "", "must not be empty".to_owned()))?;
        decimals = decimals.max(decimals_of(row.text(reading)));
        let ok = solved_ok(&row, solved)?;
        // A failed solve has no angle, whatever its field holds.
        let angle = Some(angle).filter(|_| ok != Some(false));
        let position_angle_deg = row.number(angle, "position_angle_deg", low, high)?;
        if ok == Some(true) && position_angle_deg.is_none() {
            let problem = "must not be empty in a row with a good solve";
            return Err(row.fault("position_angle_deg", "", problem.to_owned()));
        }
        let read = LogRow {
            line: row.line,
            run: run.map_or("", |c| row.text(c)).to_owned(),
            time_s: seconds(&row, time)?,
            commanded_deg: row.number(commanded, "commanded_deg", low, high)?,
            reading_deg,
            position_angle_deg,
        };
        if rows.last().is_some_and(|last| last.run != read.run) {
            before = None;
        }
        if let (Some(before), Some(now), Some(column)) = (before, read.time_s, time)
            && now < before
        {
            let problem = "goes back in time. Sort the rows by time";
            return Err(row.fault("time", row.text(column), problem.to_owned()));
        }
        before = read.time_s.or(before);
        rows.push(read);
    }
    if rows.is_empty() {
        return Err(table.no_rows());
    }
    Ok(Log {
        rows,
        resolution_deg: power_of_ten(-decimals),
    })
}

fn solved_ok(row: &TableRow<'_>, column: Option<usize>) -> Result<Option<bool>, InputError> {
    let text = column.map_or("", |c| row.text(c));
    match text.to_ascii_lowercase().as_str() {
        "" => Ok(None),
        "1" | "true" | "yes" => Ok(Some(true)),
        "0" | "false" | "no" => Ok(Some(false)),
        _ => {
            let allowed = "must be 1 or 0, true or false, yes or no, or empty";
            Err(row.fault("solved_ok", text, allowed.to_owned()))
        }
    }
}

/// A time: seconds, or a date with a time of day as in RFC 3339.
fn seconds(row: &TableRow<'_>, column: Option<usize>) -> Result<Option<f64>, InputError> {
    let text = column.map_or("", |c| row.text(c));
    if text.is_empty() {
        return Ok(None);
    }
    let number = text
        .parse::<f64>()
        .ok()
        .filter(|t| t.abs() <= MOST_TIME_S)
        .or_else(|| date_s(text));
    number.map(Some).ok_or_else(|| {
        let allowed = format!(
            "must be a number of seconds from -{MOST_TIME_S} to {MOST_TIME_S}, or like 2031-03-01T22:15:30"
        );
        row.fault("time", text, allowed)
    })
}

/// Seconds since 1970 of a date with a time of day; `None` if the text is none. Without an offset it counts as UTC.
pub fn date_s(text: &str) -> Option<f64> {
    let text = text.strip_suffix(['Z', 'z']).unwrap_or(text);
    let stamp: toml::value::Datetime = text.parse().ok()?;
    let (date, time) = (stamp.date?, stamp.time?);
    // Days since 1970-01-01 in the Gregorian calendar; the year is counted from March.
    let (year, month) = (i64::from(date.year), i64::from(date.month));
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    let leap_days = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    let days = 365 * year + leap_days + (153 * month + 2) / 5 + i64::from(date.day) - 719_469;
    let offset_min = match stamp.offset {
        Some(toml::value::Offset::Custom { minutes }) => i64::from(minutes),
        Some(toml::value::Offset::Z) | None => 0,
    };
    let minutes = days * 1440 + i64::from(time.hour) * 60 + i64::from(time.minute) - offset_min;
    let seconds =
        f64::from(time.second.unwrap_or(0)) + f64::from(time.nanosecond.unwrap_or(0)) / 1e9;
    Some(minutes as f64 * 60.0 + seconds)
}

/// Decimals of a number as it is written.
fn decimals_of(text: &str) -> i32 {
    /// Later digits of a float are noise.
    const MOST: i32 = 12;
    let (mantissa, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
    let written = mantissa
        .split_once('.')
        .map_or(0, |(_, d)| i32::try_from(d.len()).unwrap_or(MOST));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    (written - exponent.clamp(-MOST, MOST)).clamp(0, MOST)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds since 1970 by `date -u -d … +%s` (GNU coreutils 9.1).
    #[test]
    fn dates_become_seconds() {
        let table = [
            ("1970-01-01T00:00:00", Some(0.0)),
            ("2024-02-29T23:59:59.5Z", Some(1_709_251_199.5)),
            ("2031-03-01 22:15:30+02:00", Some(1_930_162_530.0)),
            ("1999-12-31T00:00:00", Some(946_598_400.0)),
            ("22:15:30", None),
            ("2031-02-30T00:00:00", None),
        ];
        for (text, expected) in table {
            assert_eq!(date_s(text), expected, "{text}");
        }
    }

    #[test]
    fn decimals_are_counted_as_written() {
        let table = [
            ("12", 0),
            ("12.50", 2),
            ("-0.125", 3),
            ("1e-3", 3),
            ("1.5E2", 0),
            ("0.1000000000000000055", 12),
        ];
        for (text, decimals) in table {
            assert_eq!(decimals_of(text), decimals, "{text}");
        }
    }
}
