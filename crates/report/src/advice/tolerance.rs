//! The tolerances that serve, the band, the residual after a swing, and the ways out if no settings serve.

use halfturn_engine::advise::{
    Advice, BandAdvice, Changeable, OneSidedGain, Repair, TargetReport, Term,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{angle, capital, counted, degrees, joined, limit, percent, pixels};

use super::words::some_of;
use crate::document::{Block, Column, Document, Line, Table};

/// Most targets that a sentence names.
const NAMED: usize = 5;

/// An angle that the user chooses, also as the shift of the frame's corner.
fn chosen(rig: &Rig, angle_deg: f64) -> String {
    match rig.settings().framing {
        Some(framing) => format!(
            "{} ({} px at the frame's corner)",
            angle(angle_deg),
            pixels(framing.corner_shift_px(angle_deg))
        ),
        None => angle(angle_deg),
    }
}

/// "backlash 0.2°, periodic error 0.04°".
fn listed(terms: &[Term]) -> String {
    let parts: Vec<String> = terms
        .iter()
        .map(|t| format!("{} {}", t.name, short(t.size_deg)))
        .collect();
    joined(&parts)
}

/// An angle of a list, with two decimals from a hundredth of a degree up.
fn short(angle_deg: f64) -> String {
    if angle_deg >= 0.01 {
        angle((100.0 * angle_deg).round() / 100.0)
    } else {
        angle(angle_deg)
    }
}

/// How far targets should be from the seam, and the terms of that sum.
pub(crate) fn bound(advice: &Advice) -> String {
    let bound = &advice.bound;
    if bound.no_seam {
        return "A full circle of endless travel has no seam, so no correction swings.".to_owned();
    }
    if bound.capped {
        return format!(
            "A long swing can leave any residual: the errors of this rig add up to half a period ({}) or more.",
            angle(bound.residual_deg)
        );
    }
    if bound.terms.is_empty() {
        return "Without errors a long swing leaves no residual.".to_owned();
    }
    let swing = format!(
        "A long swing leaves up to {} ({}), more in at most {} of the solves.",
        angle(bound.residual_deg),
        listed(&bound.terms),
        limit(bound.tail)
    );
    if bound.first_move.is_empty() {
        return swing;
    }
    format!(
        "From {} on a target is safe by a simple bound: {} for a long swing and {}. A nearer one may be safe too. {swing}",
        angle(bound.seam_distance_deg),
        angle(bound.residual_deg),
        listed(&bound.first_move)
    )
}

/// The window of tolerances, and where the present one lies.
pub(crate) fn window(advice: &Advice) -> String {
    let window = &advice.window;
    let hardest = &advice.before.targets[window.hardest].name;
    let Some(low_deg) = window.low_deg else {
        return format!("No tolerance serves: {hardest} settles in time with none.");
    };
    let low = chosen(&advice.rig, low_deg);
    let Some(high_deg) = window.high_deg else {
        return format!(
            "Every target settles in time with a tolerance of {low} or more. {} The rig file has no [framing], so the program does not know how much the frame bears.",
            present(advice)
        );
    };
    let high = chosen(&advice.rig, high_deg);
    if window.empty() {
        let first = match window.improvements.first() {
            Some(best) => {
                let gain = window.one_sided.as_ref();
                let approach =
                    gain.map_or_else(String::new, |gain| format!(" {}", one_sided(gain)));
                format!(
                    " Improve the {} first: half of it brings the least tolerance to {}.{approach}",
                    best.what,
                    angle(best.low_deg)
                )
            }
            None => " Halving a single error does not help.".to_owned(),
        };
        return format!(
            "No tolerance serves: {hardest} needs {low} to settle in time, and the frame bears no more than {high}.{first}"
        );
    }
    format!(
        "Below {low} the loop hunts or does not settle in time at {hardest}. Above {high} the frame is lost. {}",
        present(advice)
    )
}

/// What an approach from one side gains, as a sentence.
#[must_use]
pub fn one_sided(gain: &OneSidedGain) -> String {
    format!(
        "An approach from one side takes up the backlash (loop.approach = \"from-below\", loop.overrun_deg = {}): far from the seam the least tolerance falls from {} to {}.",
        degrees(gain.overrun_deg),
        angle(gain.now_deg),
        angle(gain.then_deg)
    )
}

/// How the present tolerance fares.
fn present(advice: &Advice) -> String {
    let window = &advice.window;
    let now = angle(window.present_deg);
    if window.holds(window.present_deg) {
        format!("The present {now} serves.")
    } else if window.present_deg == window.advised_deg {
        format!("The present {now} does not serve.")
    } else {
        format!(
            "Use {} instead of {now}.",
            chosen(&advice.rig, window.advised_deg)
        )
    }
}

/// The hysteresis band around the advised arc.
pub(crate) fn band(advice: &Advice) -> String {
    let BandAdvice {
        needed_deg,
        largest_safe_deg,
        advised_deg,
        left,
        cures,
        found_by: _,
    } = &advice.band;
    let start = angle(advice.after.arc.start_deg);
    let room = match largest_safe_deg {
        Some(safe) => format!("the arc from {start} has room for {}", angle(*safe)),
        None => format!("the arc from {start} overlaps a keep-out, a stop or the cable limit"),
    };
    let needs = match needed_deg {
        Some(needed) if *needed == 0.0 => {
            return format!(
                "No band is needed: with the arc from {start} a target on the seam does not hunt."
            );
        }
        Some(needed) if *cures => {
            return format!(
                "With a hysteresis band of {} even a target on the seam does not hunt. {}.",
                angle(*needed),
                capital(&room)
            );
        }
        Some(needed) => format!(
            "A target on the seam needs a band of {}, but {room}",
            angle(*needed)
        ),
        None => format!("No band keeps a target on the seam from hunting, and {room}"),
    };
    match (advised_deg, left) {
        (Some(advised), Some(left)) => format!(
            "{needs}. With the largest safe band, {}, {} of the runs of a target on the seam hunt.",
            angle(*advised),
            percent(left.rate)
        ),
        (Some(advised), None) => format!("{needs}. The largest safe band is {}.", angle(*advised)),
        (None, _) => format!("{needs}. No band is safe."),
    }
}

/// What to do with the list if no settings serve it; empty if some do.
pub(crate) fn repair(advice: &Advice) -> String {
    let Some(Repair {
        wanted_deg,
        start_deg,
        moves,
        split,
    }) = &advice.repair
    else {
        return String::new();
    };
    let wanted = angle(*wanted_deg);
    let apart = match split {
        Some([one, other]) => format!(
            " Or split the night: {} with the arc from {}, and {} with the arc from {}.",
            counted(one.targets.len(), "target"),
            angle(one.start_deg),
            counted(other.targets.len(), "target"),
            angle(other.start_deg)
        ),
        None => String::new(),
    };
    let Some(start_deg) = start_deg else {
        return format!(
            "No arc keeps every target {wanted} from its ends: the errors of the rig are too large.{apart}"
        );
    };
    let start = angle(*start_deg);
    if moves.is_empty() {
        // If the way or the reach is at fault, the distance from the seam is no news.
        let near =
            |t: &&TargetReport| t.verdict.state >= TargetState::Hunts && !t.verdict.is_safe();
        if advice.after.targets.iter().filter(near).count() == 0 {
            return apart;
        }
        return if advice.request.change.may(Changeable::Arc) {
            format!(
                "The arc is not the problem: from {start} on it keeps every target {wanted} from its ends."
            )
        } else {
            format!(
                "An arc from {start} would keep every target {wanted} from its ends, but --change leaves the arc as it is."
            )
        };
    }
    let named: Vec<String> = moves
        .iter()
        .map(|m| {
            let sign = if m.by_deg < 0.0 { "-" } else { "+" };
            format!("{} by {sign}{}", m.name, angle(m.by_deg.abs()))
        })
        .collect();
    format!(
        "Or start the arc at {start} and turn {}: then every target is {wanted} from the seam. Turn {}.{apart}",
        counted(moves.len(), "target"),
        some_of(&named, NAMED)
    )
}

pub(super) fn add(advice: &Advice, out: &mut Document) {
    let mut blocks = vec![
        Block::Para(window(advice).into()),
        Block::Figure(
            "tolerance",
            "With too small a tolerance the loop does not settle in time. With too large a one the frame is lost.".to_owned(),
        ),
        Block::Table(limits(advice)),
    ];
    if !advice.window.improvements.is_empty() {
        let each = advice.window.improvements.iter().map(|better| {
            format!(
                "{} to {} ({} less)",
                better.what,
                angle(better.low_deg),
                percent(1.0 - better.ratio)
            )
        });
        let each = joined(&each.collect::<Vec<_>>());
        blocks.push(Block::Para(
            format!("Half of one error would bring the least tolerance down: {each}.").into(),
        ));
    }
    blocks.extend([band(advice), bound(advice)].map(|text| Block::Para(text.into())));
    out.add(Block::folded(
        "tolerance",
        "Tolerance, band and distance from the seam",
        blocks,
    ));
}

/// Each limit of the tolerance, in degrees and on the sensor.
fn limits(advice: &Advice) -> Table {
    let framing = advice.rig.settings().framing;
    let mut columns = vec![Column::words("Tolerance"), Column::numbers("", "(°)")];
    if framing.is_some() {
        columns.push(Column::numbers("Corner moves", "(px)"));
    }
    let mut table = Table::new("", columns);
    for (name, size_deg) in named_limits(advice) {
        let mut row: Vec<Line> = vec![name.into(), degrees(size_deg).into()];
        row.extend(framing.map(|f| pixels(f.corner_shift_px(size_deg)).into()));
        table.row(row);
    }
    table
}

/// The tolerances that matter, by name \[deg\].
pub(crate) fn named_limits(advice: &Advice) -> Vec<(String, f64)> {
    let window = &advice.window;
    let (limits, criteria) = (&advice.request.limits, &advice.request.criteria);
    let mut rows: Vec<(String, f64)> = Vec::new();
    if let Some(low) = window.low_deg {
        let chance = limit(limits.settle_chance);
        rows.push((
            format!("least: {chance} settle within {} solves", limits.max_solves),
            low,
        ));
    }
    rows.push(("present".to_owned(), window.present_deg));
    if window.advised_deg != window.present_deg {
        rows.push(("advised".to_owned(), window.advised_deg));
    }
    if let Some(frame) = &window.limits {
        let lost = limit(criteria.max_lost_area);
        rows.push((
            format!("most: {lost} of the frame lost between two nights"),
            frame.area_deg,
        ));
        if let Some(mosaic) = frame.mosaic_deg {
            let left = limit(criteria.mosaic_keep);
            rows.push((format!("most: {left} of a mosaic's overlap left"), mosaic));
        }
        if let (Some(corner), Some(px)) = (frame.corner_deg, criteria.max_corner_px) {
            rows.push((format!("most: the corner moves {} px", pixels(px)), corner));
        }
    }
    rows
}
