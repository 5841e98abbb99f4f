//! What a site's trees, roofs and hills hide: the least altitude over the azimuth.

use halfturn_engine::angle::{TURN_DEG, fold_finite};
use halfturn_engine::rig::InputError;
use halfturn_engine::scenario::Table;

/// How far two neighbouring azimuths of a horizon may be apart \[deg\]: a gap hides a tree.
const MOST_GAP_DEG: f64 = 30.0;

/// Most points of a horizon.
const MOST_POINTS: usize = 10_000;

/// The altitude of the horizon over the azimuth: straight lines between its points. Without points it is 0.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Horizon {
    /// Azimuths, growing, each with its altitude \[deg\].
    points: Vec<(f64, f64)>,
}

impl Horizon {
    /// Altitude of the horizon at an azimuth \[deg\].
    #[must_use]
    pub fn altitude_deg(&self, azimuth_deg: f64) -> f64 {
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else {
            return 0.0;
        };
        let azimuth_deg = fold_finite(azimuth_deg, 0.0, TURN_DEG);
        let next = self.points.partition_point(|(a, _)| *a <= azimuth_deg);
        let before = next
            .checked_sub(1)
            .map_or((last.0 - TURN_DEG, last.1), |i| self.points[i]);
        let after = self
            .points
            .get(next)
            .copied()
            .unwrap_or((first.0 + TURN_DEG, first.1));
        let share = (azimuth_deg - before.0) / (after.0 - before.0);
        before.1 + share * (after.1 - before.1)
    }
}

/// Reads a horizon file: the columns `azimuth_deg`, growing from 0 to 360, and `altitude_deg`. `file` is the name that
/// messages show.
///
/// # Errors
/// [`InputError`] for the first fault: a number out of its range, an azimuth that does not grow, neighbours more than
/// 30° apart, also across north.
pub fn read_horizon(text: &str, file: &str) -> Result<Horizon, InputError> {
    let table = Table::read(text, file, &["azimuth_deg", "altitude_deg"], "point")?;
    let columns = (table.needed("azimuth_deg")?, table.needed("altitude_deg")?);
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut last = None;
    for row in table.rows() {
        let row = row?;
        let number = |column, key, low, high| {
            let missing = || row.fault(key, "", "must not be empty".to_owned());
            row.number(Some(column), key, low, high)?
                .ok_or_else(missing)
        };
        let azimuth_deg = number(columns.0, "azimuth_deg", 0.0, TURN_DEG)?;
        let altitude_deg = number(columns.1, "altitude_deg", -10.0, 90.0)?;
        if points.len() == MOST_POINTS {
            return Err(row.broken(format!("too many points. Give at most {MOST_POINTS}")));
        }
        if let Some((before_deg, _)) = points.last() {
            let fault = |problem| row.fault("azimuth_deg", row.text(columns.0), problem);
            if azimuth_deg <= *before_deg {
                return Err(fault(format!(
                    "must be above {before_deg}, that of the row before. Sort the rows by azimuth, each azimuth once"
                )));
            }
            if azimuth_deg - before_deg > MOST_GAP_DEG {
                return Err(fault(gap(
                    azimuth_deg - before_deg,
                    "the row before",
                    *before_deg,
                    azimuth_deg,
                )));
            }
        }
        points.push((azimuth_deg, altitude_deg));
        last = Some(row);
    }
    let (Some(row), Some(first), Some(end)) =
        (last, points.first().copied(), points.last().copied())
    else {
        return Err(table.no_rows());
    };
    let fault = |problem| row.fault("azimuth_deg", row.text(columns.0), problem);
    let across_deg = first.0 + TURN_DEG - end.0;
    if across_deg > MOST_GAP_DEG {
        return Err(fault(gap(
            across_deg,
            "the first row, across north",
            end.0,
            first.0,
        )));
    }
    if across_deg == 0.0 {
        // North stands at both ends.
        if first.1 != end.1 {
            return Err(fault(format!(
                "is north like the 0 of the first row, but has the altitude {} and not {}. Give north one altitude",
                end.1, first.1
            )));
        }
        points.pop();
    }
    Ok(Horizon { points })
}

fn gap(size_deg: f64, neighbour: &str, from_deg: f64, to_deg: f64) -> String {
    format!(
        "is {size_deg}° from {neighbour}, but neighbours may be at most {MOST_GAP_DEG}° apart. Add rows between {from_deg} and {to_deg}"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVERY_30: &str =
        "0,10\n30,20\n60,0\n90,0\n120,0\n150,5\n180,5\n210,5\n240,30\n270,30\n300,10\n330,20\n";

    fn read(rows: &str) -> Result<Horizon, String> {
        read_horizon(&format!("azimuth_deg,altitude_deg\n{rows}"), "horizon.csv")
            .map_err(|e| e.to_string())
    }

    /// Shows (sky): a horizon file: straight lines between its points, also across north. With:
    /// `a_horizon_with_gaps_is_refused_by_its_line`. Source: by hand.
    #[test]
    fn a_horizon_has_straight_lines_between_its_points() {
        let horizon = read(EVERY_30).expect("a horizon");
        for (azimuth, altitude) in [
            (0.0, 10.0),
            (15.0, 15.0),
            (75.0, 0.0),
            (225.0, 17.5),
            (345.0, 15.0),
            (359.0, 10.0 + 1.0 / 3.0),
            (-15.0, 15.0),
            (360.0, 10.0),
        ] {
            assert!(
                (horizon.altitude_deg(azimuth) - altitude).abs() < 1e-9,
                "{azimuth}"
            );
        }
        assert_eq!(Horizon::default().altitude_deg(77.0), 0.0);
        // North at both ends.
        let both = read(&format!("{EVERY_30}360,10\n")).expect("a horizon");
        assert_eq!(both, horizon);
    }

    #[test]
    fn a_horizon_with_gaps_is_refused_by_its_line() {
        let without = |row: &str| EVERY_30.replace(row, "");
        for (rows, line, wanted) in [
            (without("120,0\n"), 6, "is 60° from the row before"),
            (
                without("330,20\n"),
                12,
                "is 60° from the first row, across north",
            ),
            (EVERY_30.replace("60,0", "30,0"), 4, "must be above 30"),
            (EVERY_30.replace("60,0", "60,"), 4, "must not be empty"),
            (
                EVERY_30.replace("60,0", "60,95"),
                4,
                "must be a number from -10 to 90",
            ),
            (format!("{EVERY_30}360,11\n"), 14, "Give north one altitude"),
        ] {
            let found = read(&rows).expect_err("a fault");
            assert!(
                found.contains(wanted) && found.contains(&format!("{line}")),
                "{found}"
            );
        }
        assert!(read("").expect_err("a fault").contains("no point"));
    }
}
