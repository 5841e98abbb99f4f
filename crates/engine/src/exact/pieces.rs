//! The command of a correction as a function of what is wanted: the wanted angle plus whole periods, in pieces.

use crate::angle::AngleSpan;
use crate::scenario::Scenario;

/// What the drive does with the wanted angles of one piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Effect {
    /// The drive turns to the wanted angle plus these degrees, before quantising.
    Shifted(f64),
    /// The command lies outside the stops.
    Refused,
}

/// A span of wanted angles \[deg\] with one effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub(super) from_deg: f64,
    pub(super) to_deg: f64,
    pub(super) effect: Effect,
}

/// Cuts a span of wanted angles at a reading into pieces, in ascending order.
///
/// Where the pieces end is found from the rule's own list of jumps; what happens inside each is asked of the
/// rule and the drive themselves.
pub(super) fn pieces(
    scenario: &Scenario,
    reading_deg: f64,
    wanted: AngleSpan,
    out: &mut Vec<Piece>,
) {
    out.clear();
    let AngleSpan { from_deg, to_deg } = wanted;
    if to_deg.partial_cmp(&from_deg) != Some(std::cmp::Ordering::Greater) {
        return;
    }
    let period_deg = scenario.period_deg;
    let mut cuts = Cuts::new(from_deg, to_deg);
    scenario.wrap().jumps(|base, period| cuts.add(base, period));
    let width_deg = scenario.wrap().width_deg();
    match scenario.plant.travel() {
        // The other way round becomes the shorter one.
        crate::plant::Travel::Endless => cuts.add(reading_deg + 180.0, Some(period_deg)),
        crate::plant::Travel::Stops { lo_deg, hi_deg } => {
            cuts.add(lo_deg, Some(width_deg));
            cuts.add(hi_deg, Some(width_deg));
        }
    }
    // A swing becomes a long one.
    cuts.add(reading_deg + 0.5 * period_deg, Some(period_deg));
    cuts.finish(|from_deg, to_deg| {
        let middle_deg = 0.5 * (from_deg + to_deg);
        let command_deg = scenario.wrap().correction(middle_deg).drive_deg;
        let effect = if scenario.plant.refuses(command_deg) {
            Effect::Refused
        } else {
            let goal_deg = scenario.plant.goal_deg(reading_deg, command_deg);
            let periods = ((goal_deg - middle_deg) / period_deg).round();
            Effect::Shifted(periods * period_deg)
        };
        let piece = Piece {
            from_deg,
            to_deg,
            effect,
        };
        out.push(piece);
    });
}

/// Ascending places between two ends.
struct Cuts {
    from: f64,
    to: f64,
    at: [f64; Self::MOST],
    count: usize,
}

impl Cuts {
    /// A span of at most a turn either way is cut by seven families that repeat every quarter turn or more.
    const MOST: usize = 64;

    fn new(from: f64, to: f64) -> Self {
        Self {
            from,
            to,
            at: [0.0; Self::MOST],
            count: 0,
        }
    }

    /// Adds the places `base`, repeated with a period if there is one.
    fn add(&mut self, base: f64, period: Option<f64>) {
        let mut at = match period {
            Some(period) => base + period * ((self.from - base) / period).floor(),
            None => base,
        };
        while at < self.to {
            if at > self.from && self.count < Self::MOST {
                self.at[self.count] = at;
                self.count += 1;
            }
            match period {
                Some(period) => at += period,
                None => break,
            }
        }
    }

    fn finish(&mut self, mut piece: impl FnMut(f64, f64)) {
        let cuts = &mut self.at[..self.count];
        cuts.sort_by(f64::total_cmp);
        let mut from = self.from;
        for cut in cuts.iter().copied().chain([self.to]) {
            // Cuts that are one place but for rounding.
            if cut - from > 1e-11 {
                piece(from, cut);
                from = cut;
            }
        }
    }
}
