//! One thing that a sweep varies: a key or the target, and its values.

use std::fmt;

use crate::angle::MOST_ANGLE_DEG;
use crate::rig::{InputError, NumericKey, Rig};

/// Name of the target as an axis.
const TARGET: &str = "target";

/// Most values of one axis.
const MOST_VALUES: u32 = 100_000;

/// Digits of a value, counted from the first digit of the axis: steps between round ends come out round.
const DIGITS: i32 = 13;

/// What an axis varies.
#[derive(Debug, Clone, Copy)]
pub enum Varied {
    /// The position angle of the target.
    Target,
    /// A key of the rig.
    Key(NumericKey),
}

/// A key or the target with evenly spaced values, ends included.
#[derive(Debug, Clone)]
pub struct Axis {
    varied: Varied,
    name: String,
    from: f64,
    to: f64,
    values: Vec<f64>,
}

impl Axis {
    /// Reads `KEY=from:to:count` for a rig. With a count of 1 the only value is `from`.
    ///
    /// # Errors
    /// [`InputError`] names the option and what is wrong with it. [`super::SweepRequest::new`] checks whether the rig
    /// allows the values.
    pub fn read(given: &str, rig: &Rig) -> Result<Self, InputError> {
        let refuse = |key: &str, allowed: String| InputError {
            key: key.to_owned(),
            ..InputError::of_file(&format!("--vary {given}"), allowed)
        };
        let form = || {
            let example = "loop.tolerance_deg=0.1:0.5:9";
            refuse("", format!("must be KEY=FROM:TO:COUNT, such as {example}"))
        };
        let (key, range) = given.split_once('=').ok_or_else(form)?;
        let parts: Vec<&str> = range.split(':').map(str::trim).collect();
        let &[from, to, count] = parts.as_slice() else {
            return Err(form());
        };
        let key = key.trim();
        let varied = if key == TARGET {
            Varied::Target
        } else {
            let found = NumericKey::find(key, rig.settings());
            Varied::Key(found.map_err(|e| refuse(&e.key, e.allowed))?)
        };
        let name = match &varied {
            Varied::Target => TARGET.to_owned(),
            Varied::Key(key) => key.path(),
        };
        let end = |text: &str| {
            let number = text.parse::<f64>().ok().filter(|v| v.is_finite());
            // No result may depend on the sign of a zero.
            number
                .map(|v| v + 0.0)
                .ok_or_else(|| refuse(&name, format!("\"{text}\" is not a finite number")))
        };
        let (from, to) = (end(from)?, end(to)?);
        let count = count
            .parse::<u32>()
            .ok()
            .filter(|n| (1..=MOST_VALUES).contains(n))
            .ok_or_else(|| {
                let allowed =
                    format!("COUNT is \"{count}\": must be a whole number from 1 to {MOST_VALUES}");
                refuse(&name, allowed)
            })?;
        let to = if count == 1 { from } else { to };
        let whole = matches!(&varied, Varied::Key(key) if key.whole());
        let values = spaced(from, to, count, whole);
        if let Some(pair) = values.windows(2).find(|pair| pair[0] == pair[1]) {
            let rounded = if whole { " when rounded" } else { "" };
            let allowed = format!(
                "two of the {count} values are equal{rounded} ({}). Give fewer values, or ends farther apart",
                pair[0]
            );
            return Err(refuse(&name, allowed));
        }
        Ok(Self {
            varied,
            name,
            from,
            to,
            values,
        })
    }

    /// What the axis varies.
    #[must_use]
    pub fn varied(&self) -> Varied {
        self.varied
    }

    /// The dotted path of the key, or `target`.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The values, from the first end to the other.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }
}

/// As on the command line. Axes with equal values print the same.
impl fmt::Display for Axis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.values.len();
        write!(f, "{}={}:{}:{count}", self.name, self.from, self.to)
    }
}

/// Unit of the values of an axis with this name, empty if they have none, and whether they are whole numbers.
#[must_use]
pub fn unit_of(name: &str) -> (&'static str, bool) {
    if name == TARGET {
        return ("deg", false);
    }
    NumericKey::describe(name).unwrap_or(("", false))
}

pub(super) fn allowed_target() -> String {
    format!("must be a number from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG} deg")
}

/// Whether a target is allowed.
pub(super) fn is_target(target_deg: f64) -> bool {
    target_deg.abs() <= MOST_ANGLE_DEG // false for NaN
}

fn spaced(from: f64, to: f64, count: u32, whole: bool) -> Vec<f64> {
    let size = from.abs().max(to.abs());
    let decimals = DIGITS - libm::log10(size).floor().max(-300.0) as i32;
    let last = f64::from(count.max(2) - 1);
    (0..count)
        .map(|i| {
            let share = f64::from(i) / last;
            let value = if i == 0 {
                from
            } else if i + 1 == count {
                to
            } else {
                rounded(from * (1.0 - share) + to * share, decimals)
            };
            let value = if whole { value.round() } else { value };
            value + 0.0
        })
        .collect()
}

/// The value rounded to this many decimals; unchanged if that would round before the decimal point.
fn rounded(value: f64, decimals: i32) -> f64 {
    usize::try_from(decimals)
        .ok()
        .and_then(|decimals| format!("{value:.decimals$}").parse().ok())
        .unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(given: &str) -> Result<Axis, String> {
        let rig = Rig::new(crate::rig::RigSettings::default()).map_err(|e| e.to_string())?;
        Axis::read(given, &rig).map_err(|e| e.to_string())
    }

    fn values(given: &str) -> Vec<f64> {
        axis(given).map_or_else(|e| panic!("{e}"), |a| a.values)
    }

    #[test]
    fn values_are_even_and_round() {
        let tenths: Vec<f64> = (1..=10).map(|i| f64::from(i) / 10.0).collect();
        assert_eq!(values("loop.tolerance_deg=0.1:1:10"), tenths);
        assert_eq!(values("target=-0.3:0.3:3"), [-0.3, 0.0, 0.3]);
        assert_eq!(values("target=2:-2:5"), [2.0, 1.0, 0.0, -1.0, -2.0]);
        assert_eq!(values("loop.max_solves=1:10:4"), [1.0, 4.0, 7.0, 10.0]);
        assert_eq!(values("loop.max_solves=1:4:3"), [1.0, 3.0, 4.0]);
        assert_eq!(values("target=5:9:1"), [5.0]);
        assert_eq!(values("target=-0:-0:1")[0].to_bits(), 0.0_f64.to_bits());
        let fine = values("target=0.123456789:0.987654321:100000");
        assert_eq!((fine[0], fine[99_999]), (0.123_456_789, 0.987_654_321));
        assert!(fine.windows(2).all(|w| w[0] < w[1]));
        // Ends of any size give finite numbers.
        for ends in ["-1e308:1e308", "1e-320:3e-308", "0:5e-324", "1e-3:1e300"] {
            let all = values(&format!("target={ends}:2"));
            assert!(all.iter().all(|v| v.is_finite()), "{ends}");
        }
    }

    #[test]
    fn an_axis_is_written_in_one_way() {
        let written = |given: &str| axis(given).map(|a| a.to_string());
        assert_eq!(
            written(" loop.tolerance_deg = 0.10 :5e-1: 3"),
            Ok("loop.tolerance_deg=0.1:0.5:3".to_owned())
        );
        assert_eq!(written("target=1:7:1"), Ok("target=1:1:1".to_owned()));
    }

    #[test]
    fn wrong_axes_are_refused() {
        let table = [
            ("loop.tolerance_deg", "must be KEY=FROM:TO:COUNT"),
            ("target=1:2", "must be KEY=FROM:TO:COUNT"),
            ("target=1:2:3:4", "must be KEY=FROM:TO:COUNT"),
            ("target=a:2:3", "target: \"a\" is not a finite number"),
            ("target=0:nan:3", "\"nan\" is not a finite number"),
            (
                "target=0:1:0",
                "COUNT is \"0\": must be a whole number from 1 to 100000",
            ),
            ("target=0:1:100001", "COUNT is \"100001\""),
            ("target=0:1:2.5", "COUNT is \"2.5\""),
            ("target=1:1:2", "two of the 2 values are equal (1)"),
            ("loop.max_solves=1:3:4", "values are equal when rounded (2)"),
            ("loop.tolerance=0:1:2", "Did you mean loop.tolerance_deg?"),
            ("wrap.rule=0:1:2", "its values are words"),
            (
                "drive.periodic.0.cycles=1:2:2",
                "the rig has no drive.periodic entry",
            ),
        ];
        for (given, expected) in table {
            let error = axis(given).err().unwrap_or_default();
            assert!(error.contains(expected), "{given}: {error}");
            assert!(error.starts_with(&format!("--vary {given}: ")), "{error}");
        }
    }
}
