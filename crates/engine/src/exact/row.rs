//! One solve and its correction from a place: passing, staying, or the places that the drive may turn to.

use super::chain::Chain;
use super::chain_model::{ChainModel, Part};
use super::gauss::between;
use super::pieces::{Effect, Piece, pieces};
use super::place::DrivePlace;
use super::reading_grid::{Bell, Number, ReadingGrid};
use super::transition::{Added, CROSSING, Entry, LONG, TransitionRow, WINDING, crosses};
use crate::angle::AngleSpan;
use crate::plant::{PlannedMove, driven_side_deg};
use crate::scenario::Scenario;

/// A move over these readings winds the cable too far.
pub(super) fn overwinds(scenario: &Scenario, via_deg: Option<f64>, to_deg: f64) -> bool {
    let mut ends = via_deg.into_iter().chain([to_deg]);
    ends.any(|end_deg| scenario.overwinds((end_deg - scenario.park_deg).abs()))
}

impl Chain<'_> {
    /// The row of a place whose residual has the mean `mean_deg` under a mixture of errors.
    pub(super) fn row(&mut self, from: DrivePlace, mean_deg: f64, noise: &[Part]) -> TransitionRow {
        let model = self.model;
        let period_deg = model.scenario.period_deg;
        let mut row = TransitionRow::default();
        for part in noise {
            if part.sigma_deg == 0.0 {
                self.certain(&mut row, from, mean_deg);
                continue;
            }
            let span = model.precision.reach * part.sigma_deg;
            // The residual wraps; turns are counted so that the one of the mean has number 0.
            let first = ((mean_deg - span) / period_deg - 0.5).ceil() as i64;
            let last = ((mean_deg + span) / period_deg + 0.5).floor() as i64;
            for turn in first..=last {
                self.turn(&mut row, from, mean_deg - turn as f64 * period_deg, *part);
            }
        }
        if !row.entries.is_sorted_by_key(|e| e.kind) {
            row.entries.sort_by_key(|e| e.kind);
        }
        row
    }

    /// The row of a residual that is known: one outcome has the whole probability.
    fn certain(&mut self, row: &mut TransitionRow, from: DrivePlace, residual_deg: f64) {
        let scenario = self.model.scenario;
        self.wanted = None; // not looked at
        if residual_deg.abs() <= scenario.brief.tolerance_deg {
            row.pass = 1.0;
            return;
        }
        let controller = scenario.controller();
        let sense = scenario.brief.sense;
        let command = controller.correction(from.reading_deg, sense, residual_deg);
        match scenario.plant.plan(from.reading_deg, command.drive_deg) {
            PlannedMove::Refused => row.refuse = 1.0,
            PlannedMove::Still => {
                row.stay = 1.0;
                row.added.time_s = scenario.plant.overhead_s();
            }
            PlannedMove::Move { via_deg, to_deg } => {
                let swing = Swing {
                    from,
                    up: to_deg > from.reading_deg,
                    long: false,
                };
                let number = to_deg.to_bits() as Number;
                let landing = Landing {
                    number,
                    on_lattice: true,
                    via_deg,
                    to_deg,
                    mass: 1.0,
                };
                self.arrive(row, swing, landing);
            }
        }
    }

    /// The part of a row whose residuals, with this mean before they are wrapped, need no wrapping.
    fn turn(&mut self, row: &mut TransitionRow, from: DrivePlace, mean_deg: f64, part: Part) {
        let model = self.model;
        let half_deg = 0.5 * model.scenario.period_deg;
        let tolerance_deg = model.scenario.brief.tolerance_deg.min(half_deg);
        let sigmas = |residual_deg: f64| (residual_deg - mean_deg) / part.sigma_deg;
        let span = model.precision.reach * part.sigma_deg;
        // Nothing that is followed lies beyond the reach.
        row.pass += part.share
            * if mean_deg.abs() + span <= tolerance_deg {
                1.0
            } else {
                between(sigmas(-tolerance_deg), sigmas(tolerance_deg))
            };
        for (low, high) in [(-half_deg, -tolerance_deg), (tolerance_deg, half_deg)] {
            if low >= high || mean_deg + span <= low || mean_deg - span >= high {
                continue;
            }
            self.correct(row, from, AngleSpan::new(low, high), mean_deg, part);
        }
    }

    /// The corrections that answer residuals between two values.
    fn correct(
        &mut self,
        row: &mut TransitionRow,
        from: DrivePlace,
        residuals: AngleSpan,
        mean_deg: f64,
        part: Part,
    ) {
        let model = self.model;
        let wanted = |residual_deg: f64| from.reading_deg + model.answer * residual_deg;
        let (a, b) = (wanted(residuals.from_deg), wanted(residuals.to_deg));
        let bell = Bell {
            mean_deg: wanted(mean_deg),
            sigma_deg: model.answer.abs() * part.sigma_deg,
            mass: part.share,
        };
        // Far enough beyond the reach that an end there cuts no panel that is used.
        let span = (model.precision.reach + 4.0) * bell.sigma_deg;
        let ends = AngleSpan::new(
            a.min(b).max(bell.mean_deg - span),
            a.max(b).min(bell.mean_deg + span),
        );
        let mut found = std::mem::take(&mut self.pieces);
        if within_arc(model, from.reading_deg, ends) {
            self.wanted = self.wanted.map(|wanted| {
                AngleSpan::new(
                    wanted.from_deg.min(ends.from_deg),
                    wanted.to_deg.max(ends.to_deg),
                )
            });
            found.clear();
            found.push(Piece {
                from_deg: ends.from_deg,
                to_deg: ends.to_deg,
                effect: Effect::Shifted(0.0),
            });
        } else {
            self.wanted = None;
            pieces(model.scenario, from.reading_deg, ends, &mut found);
        }
        for piece in &found {
            match piece.effect {
                Effect::Refused => {
                    let sigmas = |x: f64| (x - bell.mean_deg) / bell.sigma_deg;
                    row.refuse += bell.mass * between(sigmas(piece.from_deg), sigmas(piece.to_deg));
                }
                Effect::Shifted(by_deg) => {
                    let cuts = AngleSpan::new(piece.from_deg, piece.to_deg).moved(by_deg);
                    let goals = Bell {
                        mean_deg: bell.mean_deg + by_deg,
                        ..bell
                    };
                    let turn_deg = 0.5 * (cuts.from_deg + cuts.to_deg) - from.reading_deg;
                    let swing = Swing {
                        from,
                        up: turn_deg > 0.0,
                        long: turn_deg.abs() > 0.5 * model.scenario.period_deg,
                    };
                    let aim_deg = from.reading_deg + model.sense * mean_deg;
                    self.gather(row, swing, cuts, goals, aim_deg);
                }
            }
        }
        self.pieces = found;
    }

    /// Goals of one piece. `aim_deg` is a reading that would frame the target.
    fn gather(
        &mut self,
        row: &mut TransitionRow,
        swing: Swing,
        cuts: AngleSpan,
        bell: Bell,
        aim_deg: f64,
    ) {
        let model = self.model;
        let narrow = model.noise[0].sigma_deg * model.answer.abs();
        let Some((far, near_deg)) = model.far.as_ref().filter(|_| bell.sigma_deg > 4.0 * narrow)
        else {
            self.gather_in(row, swing, &model.grid, 0, cuts, bell);
            return;
        };
        // Alternating parts near the target's framings, where whether a solve passes must be seen finely, and
        // far from them.
        let period_deg = model.scenario.period_deg;
        let mut framing =
            aim_deg + period_deg * ((cuts.from_deg - aim_deg - near_deg) / period_deg).ceil();
        let mut at = cuts.from_deg;
        while at < cuts.to_deg {
            let (near_from, near_to) = (framing - near_deg, framing + near_deg);
            if at < near_from {
                let before = AngleSpan::new(at, near_from.min(cuts.to_deg));
                self.gather_in(row, swing, far, 1, before, bell);
            }
            let near = AngleSpan::new(at.max(near_from), near_to.min(cuts.to_deg));
            if near.from_deg < near.to_deg {
                self.gather_in(row, swing, &model.grid, 0, near, bell);
            }
            at = near_to;
            framing += period_deg;
        }
    }

    fn gather_in(
        &mut self,
        row: &mut TransitionRow,
        swing: Swing,
        grid: &ReadingGrid,
        family: Number,
        cuts: AngleSpan,
        bell: Bell,
    ) {
        let reach = self.model.precision.reach;
        let plant = &self.model.scenario.plant;
        let on_lattice = matches!(grid, ReadingGrid::Lattice { .. });
        grid.gather(cuts, bell, reach, |number, to_deg, mass| {
            if mass == 0.0 {
            } else if on_lattice && to_deg == swing.from.reading_deg {
                row.stay += mass;
                row.added.time_s += mass * plant.overhead_s();
            } else {
                let via_deg = plant.one_sided().then(|| plant.via_deg(to_deg));
                let number = 2 * number + family;
                let landing = Landing {
                    number,
                    on_lattice,
                    via_deg,
                    to_deg,
                    mass,
                };
                self.arrive(row, swing, landing);
            }
        });
    }

    /// One place that a command may lead to.
    fn arrive(&mut self, row: &mut TransitionRow, swing: Swing, landing: Landing) {
        let Landing {
            number,
            on_lattice,
            via_deg,
            to_deg,
            mass,
        } = landing;
        let scenario = self.model.scenario;
        let plant = &scenario.plant;
        let from_deg = swing.from.reading_deg;
        let planned = PlannedMove::Move { via_deg, to_deg };
        let duration_s = plant.duration_s(from_deg, &planned);
        let turned = turned(self.model, from_deg, via_deg, to_deg);
        let (long, output_deg) = if on_lattice {
            let long = (to_deg - from_deg).abs() > 0.5 * scenario.period_deg;
            let output_deg = output_deg(self.model, swing.from.output_deg, via_deg, to_deg);
            (long, output_deg)
        } else {
            // A node may lie beyond the end of its piece, but stands for moves within it: they take up the backlash.
            let behind_deg = if swing.up { -2.0 } else { 2.0 } * plant.backlash_deg();
            let taken_up = output_deg(self.model, to_deg + behind_deg, via_deg, to_deg);
            (swing.long, taken_up)
        };
        let added = &mut row.added;
        added.moves += mass;
        added.time_s += mass * duration_s;
        added.travel_deg += mass * turned.travel_deg;
        added.outside_arc_deg += mass * turned.outside_arc_deg;
        added.keep_out_deg += mass * turned.keep_out_deg;
        let mut kind = 0;
        if long {
            kind |= LONG;
            added.long_swings += mass;
        }
        if crosses(turned.keep_out_deg) {
            kind |= CROSSING;
            row.crossing += mass;
        }
        if overwinds(scenario, via_deg, to_deg) {
            kind |= WINDING;
            row.winding += mass;
        }
        let place = self.place(number, to_deg, output_deg);
        row.entries.push(Entry {
            place,
            kind,
            probability: mass,
            duration_s,
        });
    }
}

/// All wanted angles of a span lie inside the arc, and near enough for a short way there.
fn within_arc(model: &ChainModel, reading_deg: f64, wanted: AngleSpan) -> bool {
    let AngleSpan { from_deg, to_deg } = wanted;
    let scenario = model.scenario;
    let (start_deg, width_deg) = (scenario.wrap().start_deg(), scenario.wrap().width_deg());
    let near_deg = 0.5 * scenario.period_deg;
    from_deg >= start_deg.max(reading_deg - near_deg)
        && to_deg < (start_deg + width_deg.min(scenario.period_deg)).min(reading_deg + near_deg)
        && !scenario.plant.refuses(from_deg)
        && !scenario.plant.refuses(to_deg)
}

/// What the moves of one piece have in common.
#[derive(Debug, Clone, Copy)]
struct Swing {
    from: DrivePlace,
    /// Readings grow.
    up: bool,
    /// Longer than half a period.
    long: bool,
}

/// A place where a command may end.
#[derive(Debug, Clone, Copy)]
struct Landing {
    /// Its number in the chain.
    number: Number,
    /// A reading of the drive, not a node that stands for its neighbours.
    on_lattice: bool,
    /// Reading at the end of the first of two legs \[deg\].
    via_deg: Option<f64>,
    /// Reading at the end \[deg\].
    to_deg: f64,
    /// Its probability.
    mass: f64,
}

/// The output side after a move.
pub(super) fn output_deg(
    model: &ChainModel,
    from_deg: f64,
    via_deg: Option<f64>,
    to_deg: f64,
) -> f64 {
    let width_deg = model.scenario.plant.backlash_deg();
    let mut output_deg = from_deg;
    for end_deg in via_deg.into_iter().chain([to_deg]) {
        output_deg = driven_side_deg(output_deg, end_deg, width_deg);
    }
    output_deg
}

/// The ground that a move covers; only the degrees are filled in.
pub(super) fn turned(
    model: &ChainModel,
    from_deg: f64,
    via_deg: Option<f64>,
    to_deg: f64,
) -> Added {
    let ground = &model.scenario.ground;
    let mut sum = Added::default();
    let mut at = from_deg;
    for end_deg in via_deg.into_iter().chain([to_deg]) {
        sum.travel_deg += (end_deg - at).abs();
        sum.outside_arc_deg += ground.outside_arc_deg(at, end_deg);
        sum.keep_out_deg += ground.keep_out_deg(at, end_deg);
        at = end_deg;
    }
    sum
}
