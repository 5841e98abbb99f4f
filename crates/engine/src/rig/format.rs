//! Formats over time: which numbers are read, the message for a newer one, and how an older rig file is brought
//! forward (docs/files.md, "Files over time").
//!
//! An older format has no reader. Its table is changed, step by step, into what a file of the newest format would
//! hold, and then read like one. Values keep their places, and messages still name lines of the user's file.

use toml::de::DeTable;

use super::input::InputError;
use super::source::{Source, whole};

/// Changes the table of a rig file of one format into the next format.
pub(super) type FormatStep = for<'a> fn(&mut DeTable<'a>);

/// The steps, first the one from format 1 to 2. Format 1 is the only one so far.
pub(super) const STEPS: &[FormatStep] = &[];

/// The newest format of rig files.
pub(super) const NEWEST: u32 = newest(STEPS);

const fn newest(steps: &[FormatStep]) -> u32 {
    steps.len() as u32 + 1
}

/// The message for a format that is not read, the same for every kind of file: what is allowed, and what to do.
pub fn refusal(found: Option<u64>, newest: u32) -> String {
    let read = match newest {
        1 => "format 1".to_owned(),
        n => format!("formats 1 to {n}"),
    };
    if found.is_some_and(|n| n > newest.into()) {
        format!("this program reads {read}. A newer version made this file: update halfturn")
    } else {
        match newest {
            1 => "must be 1".to_owned(),
            n => format!("must be a whole number from 1 to {n}"),
        }
    }
}

/// Refuses TOML of a format that is not read. The reader deals with text that is not TOML or states no format.
///
/// # Errors
/// [`InputError`] for a format that is not read.
pub fn check_format(text: &str, file: &str, newest: u32) -> Result<(), InputError> {
    match DeTable::parse(text) {
        Ok(table) => stated(table.get_ref(), &Source::of_file(file, text), newest).map(drop),
        Err(_) => Ok(()),
    }
}

/// The format that a table states; `None` if it states none.
fn stated(
    table: &DeTable<'_>,
    source: &Source<'_>,
    newest: u32,
) -> Result<Option<usize>, InputError> {
    let Some(value) = table.get("format") else {
        return Ok(None);
    };
    let found = whole(value.get_ref()).and_then(|n| u64::try_from(n).ok());
    found
        .filter(|n| (1..=newest.into()).contains(n))
        .and_then(|n| usize::try_from(n).ok())
        .map(Some)
        .ok_or_else(|| source.fault("format", value, refusal(found, newest)))
}

/// Brings the table of a rig file to the newest format and removes its `format`. A file without one has format 1.
///
/// # Errors
/// [`InputError`] for a format that is not read.
pub(super) fn bring_forward<'a>(
    table: &mut DeTable<'a>,
    source: &Source<'_>,
    steps: &[FormatStep],
) -> Result<(), InputError> {
    let format = stated(table, source, newest(steps))?.unwrap_or(1);
    table.remove("format");
    for step in steps.iter().skip(format - 1) {
        step(table);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use toml::Spanned;
    use toml::de::DeValue;

    use super::super::read::read_in_steps;
    use super::*;

    fn section<'t, 'a>(table: &'t mut DeTable<'a>, name: &str) -> Option<&'t mut DeTable<'a>> {
        match table.get_mut(name).map(Spanned::get_mut) {
            Some(DeValue::Table(section)) => Some(section),
            _ => None,
        }
    }

    /// As if format 1 had named the backlash `drive.slack_deg`.
    fn renames<'a>(table: &mut DeTable<'a>) {
        let Some(drive) = section(table, "drive") else {
            return;
        };
        let found = drive.iter().find(|(key, _)| key.get_ref() == "slack_deg");
        let Some((mut key, value)) = found.map(|(k, v)| (k.clone(), v.clone())) else {
            return;
        };
        drive.remove("slack_deg");
        *key.get_mut() = "backlash_deg".into();
        drive.insert(key, value);
    }

    /// As if format 2 had had no section for the wrap rule.
    fn drops<'a>(table: &mut DeTable<'a>) {
        table.remove("wrap");
    }

    const OLD: &str =
        "# mine\nformat = 1\n[drive]\nstep_deg = 0.1\nslack_deg = 0.7\n[wrap]\nband_deg = 9\n";

    fn read(text: &str, steps: &[FormatStep]) -> Result<crate::rig::Rig, String> {
        read_in_steps(text, "rig.toml", &[], steps).map_err(|e| e.to_string())
    }

    /// Shows (trust): an older rig file goes through every step. With:
    /// `a_message_names_the_line_of_the_file_that_is_there`. Source: none: own rule; the steps exist in the test alone.
    #[test]
    fn an_older_file_goes_through_every_step_from_its_format_on() {
        let steps: [FormatStep; 2] = [renames, drops];
        let rig = read(OLD, &steps).unwrap_or_else(|e| panic!("{e}"));
        let s = rig.settings();
        assert_eq!((s.drive.backlash_deg, s.drive.step_deg), (0.7, 0.1));
        assert_eq!(s.wrap.band_deg, 2.0); // the default
        assert_eq!(s.format, NEWEST);
        // A file without a format has format 1.
        assert_eq!(
            read(&OLD.replace("format = 1\n", ""), &steps),
            Ok(rig.clone())
        );
        // A file of format 2 takes the second step only.
        let second = OLD.replace("format = 1", "format = 2");
        let complaint = read(&second, &steps).expect_err("the old name");
        assert!(
            complaint.contains("drive.slack_deg = 0.7: unknown key"),
            "{complaint}"
        );
        let second = second.replace("slack_deg", "backlash_deg");
        assert_eq!(read(&second, &steps), Ok(rig));
        let newest = second.replace("format = 2", "format = 3");
        let rig = read(&newest, &steps).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(rig.settings().wrap.band_deg, 9.0);
    }

    #[test]
    fn a_message_names_the_line_of_the_file_that_is_there() {
        let complaint = read(&OLD.replace("0.7", "70"), &[renames]).expect_err("too large");
        assert!(
            complaint.starts_with("rig.toml:5: drive.backlash_deg = 70: must be a number"),
            "{complaint}"
        );
    }

    #[test]
    fn a_format_beyond_the_steps_is_refused() {
        let steps: [FormatStep; 2] = [renames, drops];
        for (format, said) in [
            (
                "4",
                "this program reads formats 1 to 3. A newer version made this file: update halfturn",
            ),
            ("0", "must be a whole number from 1 to 3"),
            ("-1", "must be a whole number from 1 to 3"),
            ("2.0", "must be a whole number from 1 to 3"),
            ("\"2\"", "must be a whole number from 1 to 3"),
        ] {
            let text = OLD.replace("format = 1", &format!("format = {format}"));
            let complaint = read(&text, &steps).expect_err(format);
            assert_eq!(complaint, format!("rig.toml:2: format = {format}: {said}"));
        }
    }
}
