//! Flat frames belong to a drive angle: how many sets the night needs (docs/advice.md, section 6).

use serde::Serialize;

use super::Setting;
use crate::angle::{TURN_DEG, fold_finite};

/// Angles that differ by less are the same \[deg\].
const SAME_DEG: f64 = 1e-6;

/// Targets that share a set of flats.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FlatSet {
    /// Drive angle to take the flats at, in `[0, 360)` \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    pub drive_deg: f64,
    /// Names of the targets.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    pub targets: Vec<String>,
}

/// The flats of a night.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Flats {
    /// How far a flat may be from a light frame \[deg\].
    pub within_deg: f64,
    /// Distinct drive angles.
    pub angles: usize,
    /// The fewest sets, by growing drive angle.
    pub sets: Vec<FlatSet>,
}

impl Flats {
    /// The flats of a list under a setting.
    pub(super) fn of(setting: &Setting, within_deg: f64) -> Self {
        let targets = setting.targets.iter();
        Self::of_angles(targets.map(|t| (t.drive_deg, t.name.as_str())), within_deg)
    }

    /// The fewest sets for these drive angles \[deg\], each with its name, no angle farther than `within_deg` from its
    /// set.
    pub fn of_angles<'a>(angles: impl Iterator<Item = (f64, &'a str)>, within_deg: f64) -> Self {
        let mut angles: Vec<(f64, &str)> = angles
            .map(|(drive_deg, name)| (fold_finite(drive_deg, 0.0, TURN_DEG), name))
            .collect();
        angles.sort_by(|a, b| a.0.total_cmp(&b.0));
        let degrees: Vec<f64> = angles.iter().map(|a| a.0).collect();
        let distinct = degrees
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > SAME_DEG)
            .count();
        let mut sets: Vec<FlatSet> = fewest_groups(&degrees, 2.0 * within_deg)
            .into_iter()
            .map(|(from, count)| {
                let n = angles.len();
                let members = || (from..from + count).map(|k| angles[k % n]);
                let (first, last) = (angles[from].0, angles[(from + count - 1) % n].0);
                let span = fold_finite(last - first, 0.0, TURN_DEG);
                FlatSet {
                    drive_deg: fold_finite(first + 0.5 * span, 0.0, TURN_DEG),
                    targets: members().map(|m| m.1.to_owned()).collect(),
                }
            })
            .collect();
        sets.sort_by(|a, b| a.drive_deg.total_cmp(&b.drive_deg));
        Self {
            within_deg,
            angles: distinct + usize::from(!degrees.is_empty()),
            sets,
        }
    }
}

/// The fewest groups of neighbours on the circle that span no more than `span_deg` each, as first place and
/// count. On a line the greedy choice is best; on the circle it is tried from every place that can begin a
/// group, which are those of one greedy group.
fn fewest_groups(sorted_deg: &[f64], span_deg: f64) -> Vec<(usize, usize)> {
    let n = sorted_deg.len();
    let from_place = |start: usize| {
        let mut groups = Vec::new();
        let mut done = 0;
        while done < n {
            let from = (start + done) % n;
            let mut count = 1;
            while done + count < n {
                let next = sorted_deg[(from + count) % n];
                let turned = fold_finite(next - sorted_deg[from], 0.0, TURN_DEG);
                if turned > span_deg + SAME_DEG {
                    break;
                }
                count += 1;
            }
            groups.push((from, count));
            done += count;
        }
        groups
    };
    let first = from_place(0);
    let tries = first.first().map_or(0, |(_, count)| *count);
    // Only a start inside the first group, or just after it, can save one.
    (1..=tries.min(MOST_STARTS))
        .map(|start| from_place(start % n.max(1)))
        .fold(first, |best, other| {
            if other.len() < best.len() {
                other
            } else {
                best
            }
        })
}

/// Starts that are tried on a crowded circle.
const MOST_STARTS: usize = 200;

#[cfg(test)]
mod tests {
    use super::fewest_groups;

    fn groups(angles: &[f64], span: f64) -> usize {
        fewest_groups(angles, span).len()
    }

    #[test]
    fn neighbours_share_a_set_and_the_zero_mark_is_no_border() {
        assert_eq!(groups(&[10.0, 11.0, 12.0, 40.0], 2.0), 2);
        assert_eq!(groups(&[0.5, 100.0, 359.5], 2.0), 2);
        assert_eq!(groups(&[0.0, 1.0, 2.0, 3.0], 1.0), 2);
        assert_eq!(groups(&[], 1.0), 0);
        assert_eq!(groups(&[7.0], 0.0), 1);
        assert_eq!(groups(&[5.0, 5.0, 5.0], 0.0), 1);
    }

    /// Shows (advice 6): the fewest sets of flats are found. With:
    /// `neighbours_share_a_set_and_the_zero_mark_is_no_border`. Source: every way of cutting a circle of few angles.
    #[test]
    fn no_other_grouping_has_fewer() {
        for case in 0..200_u32 {
            let mut angles: Vec<f64> = (0..7)
                .map(|i| f64::from((case * 977 + i * i * 131 + i * 59 * (case % 5)) % 360))
                .collect();
            angles.sort_by(f64::total_cmp);
            let n = angles.len();
            let span = 50.0;
            let best = (1_u32..1 << n)
                .filter(|cuts| {
                    // A group begins at every place whose bit is set.
                    (0..n).filter(|i| cuts & (1 << i) != 0).all(|i| {
                        let mut last = i;
                        while cuts & (1 << ((last + 1) % n)) == 0 {
                            last += 1;
                        }
                        let turned = (angles[last % n] - angles[i]).rem_euclid(360.0);
                        // A group that comes back to itself goes once round.
                        turned <= span && last - i < n
                    })
                })
                .map(u32::count_ones)
                .min();
            assert_eq!(Some(groups(&angles, span) as u32), best, "{angles:?}");
        }
    }
}
