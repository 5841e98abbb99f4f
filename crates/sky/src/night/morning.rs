//! The frames of a night against its run sheet.

use super::sheet::{RunSheet, SheetRow};
use crate::time::{DAY_S, Moment};
use halfturn_engine::advise::{FlatSet, Flats};
use halfturn_engine::angle::{TURN_DEG, residual_finite};
use halfturn_engine::fit::student;

/// A plate-solved frame of a night.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Its file.
    pub file: String,
    /// When its exposure began.
    pub at: Moment,
    /// Name of its target; `None` if it has none.
    pub target: Option<String>,
    /// Reading of the drive \[deg\].
    pub reading_deg: f64,
    /// Position angle \[deg\].
    pub position_angle_deg: f64,
}

impl Seen {
    /// A row has its target.
    fn is_of(&self, row: &SheetRow) -> bool {
        let name = self.target.as_ref();
        name.is_some_and(|n| n.trim().eq_ignore_ascii_case(row.target.trim()))
    }
}

/// A frame beside its row of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// The frame.
    pub seen: Seen,
    /// Index of its row.
    pub row: usize,
    /// Its reading less the planned one \[deg\]; by the shorter way round if the frames' readings count no turns and
    /// those of the sheet do.
    pub reading_off_deg: f64,
    /// Its position angle less the wanted one, where equal framings are one \[deg\].
    pub angle_off_deg: f64,
    /// Its zero point less the planned one, where half a turn is none \[deg\].
    pub zero_off_deg: f64,
    /// Whether the mount stood on the other side of its pier than planned.
    pub other_side: bool,
    /// Distance of its reading from the parking reading \[deg\].
    pub cable_deg: f64,
}

impl Beside {
    /// Whether the camera stood more than a quarter turn from where it was planned.
    #[must_use]
    pub fn other_way(&self) -> bool {
        self.reading_off_deg.abs() > 0.25 * TURN_DEG
    }
}

/// The zero point of a night less the planned one, and how it changed.
#[derive(Debug, Clone, PartialEq)]
pub struct ZeroPoint {
    /// Mean over the frames since the last jump \[deg\].
    pub off_deg: f64,
    /// At the last frame: with a drift that is certain, on its line; else that mean \[deg\].
    pub end_deg: f64,
    /// Their standard deviation \[deg\]; `None` for one frame.
    pub spread_deg: Option<f64>,
    /// Drift over the night and half the width of its 95 % interval \[deg/h\]; `None` with a jump, and with fewer than
    /// three moments.
    pub drift_deg_per_h: Option<(f64, f64)>,
    /// Jumps: the index of the frame after each, and its size \[deg\].
    pub jumps: Vec<(usize, f64)>,
}

/// A night in the morning.
#[derive(Debug, Clone, PartialEq)]
pub struct Morning {
    /// The frames in the order of time.
    pub frames: Vec<Beside>,
    /// Frames that no row of the sheet can hold.
    pub outside: Vec<Seen>,
    /// The zero point; `None` if the sense is wrong.
    pub zero_point: Option<ZeroPoint>,
    /// The flats to take: sets of readings as they were, with the files.
    pub flats: Vec<FlatSet>,
}

/// How far a flat may be from its frames: the default of `advise` \[deg\].
const FLATS_DEG: f64 = 1.0;

/// A frame later than this after the last row is of another night \[s\].
const LATE_S: f64 = 0.5 * DAY_S;

/// Resultant length, from 0 to 1, above which angles agree, and below which they don't (Mardia & Jupp, Directional
/// Statistics, 2000, section 2.3).
const AGREE: (f64, f64) = (0.99, 0.9);

impl Morning {
    /// Puts every frame beside the last row that began before it. A frame whose target the sheet names takes the last
    /// row of that target, or the first one if the target came early. If the sheet names the target of any frame, it
    /// holds no frame of a target that it does not name.
    #[must_use]
    pub fn of(sheet: &RunSheet, mut seen: Vec<Seen>) -> Self {
        seen.sort_by(|a, b| a.at.since_s(b.at).total_cmp(&0.0));
        let on_dial = |reading_deg: f64| (0.0..TURN_DEG).contains(&reading_deg);
        let counts_turns = !seen.iter().all(|s| on_dial(s.reading_deg))
            || sheet.rows.iter().all(|row| on_dial(row.reading_deg));
        let by_name = seen
            .iter()
            .any(|s| sheet.rows.iter().any(|row| s.is_of(row)));
        let (mut frames, mut outside) = (Vec::new(), Vec::new());
        for frame in seen {
            match row_of(sheet, &frame, by_name) {
                Some(row) => frames.push(beside(sheet, row, frame, counts_turns)),
                None => outside.push(frame),
            }
        }
        let readings = frames
            .iter()
            .map(|b| (b.seen.reading_deg, b.seen.file.as_str()));
        Self {
            flats: Flats::of_angles(readings, FLATS_DEG).sets,
            zero_point: (!frames.is_empty() && !wrong_sense(sheet, &frames))
                .then(|| ZeroPoint::of(&frames, sheet.tolerance_deg)),
            frames,
            outside,
        }
    }
}

/// The row that a frame belongs to.
fn row_of(sheet: &RunSheet, frame: &Seen, by_name: bool) -> Option<usize> {
    let (first, last) = (sheet.rows.first()?, sheet.rows.last()?);
    if frame.at.since_s(first.at) < 0.0 || frame.at.since_s(last.at) > LATE_S {
        return None;
    }
    let named = |row: &SheetRow| frame.is_of(row);
    let begun = |row: &SheetRow| frame.at.since_s(row.at) >= 0.0;
    let of_target = || {
        let last = sheet.rows.iter().rposition(|row| named(row) && begun(row));
        last.or_else(|| {
            // Early: the first state in which the target was to be exposed.
            let first = sheet.rows.iter().position(named)?;
            let end = sheet.rows[first..].iter().position(|row| !named(row));
            let rows = &sheet.rows[first..end.map_or(sheet.rows.len(), |n| first + n)];
            let exposed = rows.iter().position(|row| row.turn_deg != 0.0);
            Some(first + exposed.unwrap_or(0))
        })
    };
    let unknown = by_name && frame.target.as_ref().is_some_and(|n| !n.trim().is_empty());
    of_target().or_else(|| sheet.rows.iter().rposition(begun).filter(|_| !unknown))
}

fn beside(sheet: &RunSheet, row: usize, seen: Seen, counts_turns: bool) -> Beside {
    let planned = &sheet.rows[row];
    let zero_deg = seen.position_angle_deg - sheet.sense * seen.reading_deg;
    let off_deg = zero_deg - planned.zero_point_deg;
    let reading_off_deg = match seen.reading_deg - planned.reading_deg {
        off_deg if counts_turns => off_deg,
        off_deg => residual_finite(off_deg, TURN_DEG),
    };
    let wanted_deg = planned.position_angle_deg;
    Beside {
        row,
        reading_off_deg,
        angle_off_deg: residual_finite(seen.position_angle_deg - wanted_deg, sheet.period_deg),
        zero_off_deg: residual_finite(off_deg, 0.5 * TURN_DEG),
        other_side: residual_finite(off_deg, TURN_DEG).abs() > 0.25 * TURN_DEG,
        cable_deg: planned.cable_deg + reading_off_deg,
        seen,
    }
}

/// Whether the frames agree on a zero point with the other sense and not with that of the sheet.
fn wrong_sense(sheet: &RunSheet, frames: &[Beside]) -> bool {
    // Twice the angle: a flip makes no difference.
    let resultant = |angle_deg: &dyn Fn(&Beside) -> f64| {
        let (mut x, mut y) = (0.0, 0.0);
        for frame in frames {
            let (sine, cosine) = libm::sincos((2.0 * angle_deg(frame)).to_radians());
            (x, y) = (x + cosine, y + sine);
        }
        libm::hypot(x, y) / frames.len() as f64
    };
    let other = |b: &Beside| b.seen.position_angle_deg + sheet.sense * b.seen.reading_deg;
    resultant(&|b| b.zero_off_deg) < AGREE.1 && resultant(&other) > AGREE.0
}

impl ZeroPoint {
    fn of(frames: &[Beside], tolerance_deg: f64) -> Self {
        // From frame to frame, so that a half turn more or less never is a jump.
        let mut off_deg = vec![frames[0].zero_off_deg];
        for pair in frames.windows(2) {
            let step = residual_finite(pair[1].zero_off_deg - pair[0].zero_off_deg, 0.5 * TURN_DEG);
            off_deg.push(off_deg[off_deg.len() - 1] + step);
        }
        let steps: Vec<f64> = off_deg.windows(2).map(|p| p[1] - p[0]).collect();
        let mut sizes: Vec<f64> = steps.iter().map(|s| s.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        // Six times what frames usually differ by, and more than the loop lets pass.
        let usual_deg = 1.4826 * sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
        let least_deg = tolerance_deg.max(6.0 * usual_deg);
        let jumps: Vec<(usize, f64)> = (1..)
            .zip(&steps)
            .filter(|(_, step)| step.abs() > least_deg)
            .map(|(i, step)| (i, *step))
            .collect();
        let since = &off_deg[jumps.last().map_or(0, |jump| jump.0)..];
        let n = since.len() as f64;
        let mean = since.iter().sum::<f64>() / n;
        let squares: f64 = since.iter().map(|x| (x - mean) * (x - mean)).sum();
        let hours = frames
            .iter()
            .map(|b| b.seen.at.since_s(frames[0].seen.at) / 3600.0);
        let hours: Vec<f64> = hours.collect();
        let drift = slope(&hours, &off_deg).filter(|_| jumps.is_empty());
        let middle_h = hours.iter().sum::<f64>() / hours.len() as f64;
        let since_middle_h = hours[hours.len() - 1] - middle_h;
        let crept_deg = drift.filter(|(slope, half)| slope.abs() > *half);
        Self {
            off_deg: mean,
            end_deg: mean + crept_deg.map_or(0.0, |(slope, _)| slope * since_middle_h),
            spread_deg: (since.len() > 1).then(|| libm::sqrt(squares / (n - 1.0))),
            drift_deg_per_h: drift,
            jumps,
        }
    }
}

/// Slope of a line by least squares and half the width of its 95 % interval; `None` for fewer than three points or one
/// moment.
fn slope(x: &[f64], y: &[f64]) -> Option<(f64, f64)> {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|x| (x - mx) * (x - mx)).sum();
    if x.len() < 3 || sxx <= 0.0 {
        return None;
    }
    let sxy: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
    let slope = sxy / sxx;
    let left = |(x, y): (&f64, &f64)| y - my - slope * (x - mx);
    let squares: f64 = x.iter().zip(y).map(left).map(|r| r * r).sum();
    let error = libm::sqrt(squares / (n - 2.0) / sxx);
    Some((slope, student(x.len() - 2) * error))
}
