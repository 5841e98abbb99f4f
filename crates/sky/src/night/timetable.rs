//! Targets, site and order -> the timetable: when each target is used, where it then stands, and on which side of the
//! mount.

use super::given::{MOST_HOURS, Night, NightError, NightTarget};
use super::order::Order;
use super::usable::{NotUsable, not_usable};
use crate::plane::SkyPlace;
use crate::pointing::Pointing;
use crate::time::Moment;
use halfturn_engine::scenario::Target;

/// Step of the search for a flip \[s\].
const STEP_S: f64 = 300.0;

/// Shortest stretch that is framed \[s\]. If a flip comes earlier, the target waits for it.
const LEAST_S: f64 = 120.0;

/// One stretch of a target on one side of the mount. It begins with the loop that frames the target.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Index of the target in the list, from 0.
    pub target: usize,
    /// When its loop begins.
    pub begin: Moment,
    /// Time before that, in which the mount slews or flips and the focuser moves \[s\].
    pub setup_s: f64,
    /// When it ends.
    pub end: Moment,
    /// Whether the tube is on the other side of the pier, where the field is upside down.
    pub flipped: bool,
    /// Whether the stretch begins with a meridian flip.
    pub after_flip: bool,
    /// Where the target stands at the beginning.
    pub at_begin: Pointing,
    /// Where it stands at the end.
    pub at_end: Pointing,
    /// Time since the beginning \[s\], and where the target then stands; beginning and end included.
    pub way: Vec<(f64, Pointing)>,
    /// Why it cannot be used; empty if it can.
    pub not_usable: Vec<NotUsable>,
}

impl Stretch {
    /// Length \[s\].
    #[must_use]
    pub fn length_s(&self) -> f64 {
        self.end.since_s(self.begin)
    }

    /// Lowest altitude of the target \[deg\].
    #[must_use]
    pub fn lowest_deg(&self) -> f64 {
        let heights = self.way.iter().map(|(_, p)| p.altitude_deg);
        heights.fold(90.0, f64::min)
    }

    /// Position angle of the pole of date, about which the mount turns, from ICRS north \[deg\]. It is rounded to a
    /// millionth: no result depends on the last digit of a sine.
    #[must_use]
    pub fn pole_deg(&self) -> f64 {
        (self.at_begin.pole_of_date_deg() * 1e6).round() / 1e6
    }
}

const COORDINATES: &str = "coordinates. A night needs the columns ra_deg and dec_deg, or object, in every row of the targets file";
const MINUTES: &str =
    "minutes. A night needs the column minutes in the targets file, above 0 in every row";

/// Takes from the targets of a file what a night needs.
///
/// # Errors
/// [`NightError::Lacking`] for a target without coordinates or minutes.
pub fn night_targets(targets: &[Target]) -> Result<Vec<NightTarget>, NightError> {
    let one = |t: &Target| {
        let lacks = |what| NightError::Lacking {
            name: t.name.clone(),
            what,
        };
        let minutes = t.minutes.filter(|m| *m > 0.0);
        Ok(NightTarget {
            name: t.name.clone(),
            place: SkyPlace {
                ra_deg: t.ra_deg.ok_or_else(|| lacks(COORDINATES))?,
                dec_deg: t.dec_deg.ok_or_else(|| lacks(COORDINATES))?,
            },
            position_angle_deg: t.position_angle_deg,
            minutes: minutes.ok_or_else(|| lacks(MINUTES))?,
        })
    };
    targets.iter().map(one).collect()
}

/// Puts the targets one after another from the start of the night, and splits each at a flip of the mount.
///
/// # Errors
/// [`NightError`] for a wrong order or a night that is too long.
pub fn timetable(
    night: &Night,
    targets: &[NightTarget],
    order: &Order,
) -> Result<Vec<Stretch>, NightError> {
    let hours = targets.iter().map(|t| t.minutes).sum::<f64>() / 60.0;
    if hours > MOST_HOURS {
        return Err(NightError::TooLong(hours));
    }
    let setup_s = night.setup.slew_s + night.setup.focus_s;
    if let Some(brief) = targets.iter().find(|t| 60.0 * t.minutes <= setup_s) {
        return Err(NightError::TooShort {
            name: brief.name.clone(),
            minutes: brief.minutes,
            setup_min: setup_s / 60.0,
        });
    }
    let mut stretches = Vec::new();
    let mut begin = night.start;
    for number in order.of(night, targets)? {
        let target = &targets[number];
        stretches.extend(of_target(night, number, target, begin));
        begin = begin.plus_s(60.0 * target.minutes);
    }
    Ok(stretches)
}

/// The stretches of a target whose time begins here.
pub(super) fn of_target(
    night: &Night,
    number: usize,
    target: &NightTarget,
    begin: Moment,
) -> Vec<Stretch> {
    let end = begin.plus_s(60.0 * target.minutes);
    let mut setup_s = night.setup.slew_s + night.setup.focus_s;
    let mut at = begin.plus_s(setup_s);
    let mut stretches: Vec<Stretch> = Vec::new();
    while end.since_s(at) > 0.0 {
        let (mut stretch, next) = stretch(night, number, target, at, end, !stretches.is_empty());
        stretch.setup_s = setup_s;
        stretches.push(stretch);
        setup_s = night.setup.flip_s;
        at = next.plus_s(setup_s);
    }
    stretches
}

/// The stretch from here to the next flip or to the end of the target's time, and when that is.
fn stretch(
    night: &Night,
    number: usize,
    target: &NightTarget,
    begin: Moment,
    end: Moment,
    after_flip: bool,
) -> (Stretch, Moment) {
    let see = |at: Moment| night.site.sky(at).pointing(target.place);
    let side = |at: Moment| night.mount.flipped(see(at).hour_angle_h);
    let at_begin = see(begin);
    // Just after a flip, the hour angle may round to either side.
    let mut flipped = side(if after_flip { begin.plus_s(1.0) } else { begin });
    let mut way = vec![(0.0, at_begin)];
    let mut at = begin;
    let mut until = end;
    while end.since_s(at) > 0.0 {
        let next = at.plus_s(STEP_S.min(end.since_s(at)));
        let there = see(next);
        if night.mount.flipped(there.hour_angle_h) != flipped {
            let change = flip(&side, at, next, flipped);
            if end.since_s(change) >= LEAST_S + night.setup.flip_s
                && change.since_s(begin) >= LEAST_S
            {
                until = change;
                break;
            }
            // Too close to the beginning: the target is framed on the other side at once. Too close to the end: a
            // flip is not worth it.
            if change.since_s(begin) < LEAST_S {
                flipped = !flipped;
            }
        }
        way.push((next.since_s(begin), there));
        at = next;
    }
    let at_end = see(until);
    if until != end {
        way.push((until.since_s(begin), at_end));
    }
    let stretch = Stretch {
        target: number,
        begin,
        setup_s: 0.0,
        end: until,
        flipped,
        after_flip,
        at_begin,
        at_end,
        not_usable: not_usable(night, begin, &way),
        way,
    };
    (stretch, until)
}

/// When the side changes between two moments, at most a hundredth of a second late.
fn flip(side: &impl Fn(Moment) -> bool, from: Moment, to: Moment, flipped: bool) -> Moment {
    let (mut low, mut high) = (0.0, to.since_s(from));
    while high - low > 0.01 {
        let middle = 0.5 * (low + high);
        if side(from.plus_s(middle)) == flipped {
            low = middle;
        } else {
            high = middle;
        }
    }
    from.plus_s(high)
}
