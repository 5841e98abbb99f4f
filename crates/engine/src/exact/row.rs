//! One solve and its correction from a place: passing, staying, or the places that the drive may turn to.

use super::chain::Chain;
use super::chain_model::{ChainModel, Part};
use super::gauss::{PieceEnd, between};
use super::net::{Move, Net};
use super::pieces::{Effect, Piece, pieces};
use super::reading_grid::{Bell, Goals, Number, ReadingGrid};
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
    pub(super) fn row(&mut self, place: u32, mean_deg: f64, noise: &[Part]) -> TransitionRow {
        let model = self.model;
        let period_deg = model.scenario.period_deg;
        let first_entry = self.entries.len();
        let mut row = TransitionRow::default();
        for part in noise {
            if part.sigma_deg == 0.0 {
                self.certain(&mut row, place, mean_deg);
                continue;
            }
            let span = model.precision.reach * part.sigma_deg;
            // The residual wraps; turns are counted so that the one of the mean has number 0.
            let first = ((mean_deg - span) / period_deg - 0.5).ceil() as i64;
            let last = ((mean_deg + span) / period_deg + 0.5).floor() as i64;
            for turn in first..=last {
                let mean_deg = mean_deg - turn as f64 * period_deg;
                self.turn(&mut row, place, mean_deg, *part);
            }
        }
        let entries = &mut self.entries[first_entry..];
        if !entries.is_sorted_by_key(|e| e.kind) {
            entries.sort_by_key(|e| e.kind);
        }
        row.entries = first_entry..self.entries.len();
        row
    }

    /// The row of a residual that is known: one outcome has the whole probability.
    fn certain(&mut self, row: &mut TransitionRow, place: u32, residual_deg: f64) {
        let scenario = self.model.scenario;
        self.wanted = None; // not looked at
        if residual_deg.abs() <= scenario.brief.tolerance_deg {
            row.pass = 1.0;
            return;
        }
        let controller = scenario.controller();
        let from_deg = self.net.at(place).reading_deg;
        let command = controller.correction(from_deg, scenario.brief.sense, residual_deg);
        match scenario.plant.plan(from_deg, command.drive_deg) {
            PlannedMove::Refused => row.refuse = 1.0,
            PlannedMove::Still => {
                row.stay = 1.0;
                row.added.time_s = scenario.plant.overhead_s();
            }
            PlannedMove::Move { via_deg, to_deg } => {
                let swing = Swing {
                    place,
                    shift_deg: 0.0,
                    up: to_deg > from_deg,
                    long: false,
                };
                let landing = Landing {
                    number: to_deg.to_bits() as Number,
                    on_lattice: true,
                    via_deg,
                    to_deg,
                };
                let found = swing.move_to(self.model, &mut self.net, &landing);
                self.lead(row, found, 1.0);
            }
        }
    }

    /// The part of a row whose residuals, with this mean before they are wrapped, need no wrapping.
    fn turn(&mut self, row: &mut TransitionRow, place: u32, mean_deg: f64, part: Part) {
        let model = self.model;
        let half_deg = 0.5 * model.scenario.period_deg;
        let tolerance_deg = model.scenario.brief.tolerance_deg.min(half_deg);
        let span = model.precision.reach * part.sigma_deg;
        // Nothing that is followed lies beyond the reach.
        if mean_deg.abs() + span <= tolerance_deg {
            row.pass += part.share;
            return;
        }
        let edge = |deg: f64| Edge {
            deg,
            end: PieceEnd::at((deg - mean_deg) / part.sigma_deg),
        };
        let (below, above) = (edge(-tolerance_deg), edge(tolerance_deg));
        row.pass += part.share * below.end.to(above.end);
        for (low, high, inner) in [
            (-half_deg, -tolerance_deg, below),
            (tolerance_deg, half_deg, above),
        ] {
            if low >= high || mean_deg + span <= low || mean_deg - span >= high {
                continue;
            }
            let residuals = AngleSpan::new(low, high);
            self.correct(row, place, residuals, inner, mean_deg, part);
        }
    }

    /// The corrections that answer residuals between two values, of which one just passes.
    fn correct(
        &mut self,
        row: &mut TransitionRow,
        place: u32,
        residuals: AngleSpan,
        inner: Edge,
        mean_deg: f64,
        part: Part,
    ) {
        let model = self.model;
        let from_deg = self.net.at(place).reading_deg;
        let wanted = |residual_deg: f64| from_deg + model.answer * residual_deg;
        let (a, b) = (wanted(residuals.from_deg), wanted(residuals.to_deg));
        let bell = Bell {
            mean_deg: wanted(mean_deg),
            sigma_deg: model.answer.abs() * part.sigma_deg,
            mass: part.share,
            bend: part.bend,
        };
        let inner = Edge {
            deg: wanted(inner.deg),
            end: if model.answer > 0.0 {
                inner.end
            } else {
                inner.end.mirrored()
            },
        };
        // Far enough beyond the reach that an end there cuts no panel that is used.
        let span = (model.precision.reach + 4.0) * bell.sigma_deg;
        let ends = AngleSpan::new(
            a.min(b).max(bell.mean_deg - span),
            a.max(b).min(bell.mean_deg + span),
        );
        let mut found = std::mem::take(&mut self.pieces);
        if within_arc(model, from_deg, ends) {
            self.wanted = self.wanted.map(|wanted| wanted.widened_by(ends));
            found.clear();
            found.push(Piece {
                from_deg: ends.from_deg,
                to_deg: ends.to_deg,
                effect: Effect::Shifted(0.0),
            });
        } else {
            self.wanted = None;
            pieces(model.scenario, from_deg, ends, &mut found);
        }
        for piece in &found {
            match piece.effect {
                Effect::Refused => {
                    let sigmas = |x: f64| (x - bell.mean_deg) / bell.sigma_deg;
                    row.refuse += bell.mass * between(sigmas(piece.from_deg), sigmas(piece.to_deg));
                }
                Effect::Shifted(shift_deg) => {
                    let span = AngleSpan::new(piece.from_deg, piece.to_deg);
                    let goals = Goals {
                        cuts: span.moved(shift_deg),
                        ends: [piece.from_deg, piece.to_deg]
                            .map(|deg| (deg == inner.deg).then_some(inner.end)),
                        bell: Bell {
                            mean_deg: bell.mean_deg + shift_deg,
                            ..bell
                        },
                    };
                    let turn_deg = 0.5 * (goals.cuts.from_deg + goals.cuts.to_deg) - from_deg;
                    let swing = Swing {
                        place,
                        shift_deg,
                        up: turn_deg > 0.0,
                        long: turn_deg.abs() > 0.5 * model.scenario.period_deg,
                    };
                    let aim_deg = from_deg + model.sense * mean_deg;
                    self.gather(row, swing, goals, aim_deg);
                }
            }
        }
        self.pieces = found;
    }

    /// Goals of one piece. `aim_deg` is a reading that would frame the target.
    fn gather(&mut self, row: &mut TransitionRow, swing: Swing, goals: Goals, aim_deg: f64) {
        let model = self.model;
        let Goals { cuts, bell, .. } = goals;
        let narrow = model.noise[0].sigma_deg * model.answer.abs();
        let Some((far, near_deg)) = model.far.as_ref().filter(|_| bell.sigma_deg > 4.0 * narrow)
        else {
            self.gather_in(row, swing, &model.grid, false, goals);
            return;
        };
        let between = |from_deg, to_deg| Goals {
            cuts: AngleSpan::new(from_deg, to_deg),
            ends: [None; 2],
            bell,
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
                let before = between(at, near_from.min(cuts.to_deg));
                self.gather_in(row, swing, far, true, before);
            }
            let near = between(at.max(near_from), near_to.min(cuts.to_deg));
            if near.cuts.from_deg < near.cuts.to_deg {
                self.gather_in(row, swing, &model.grid, false, near);
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
        far: bool,
        goals: Goals,
    ) {
        let model = self.model;
        let plant = &model.scenario.plant;
        let from_deg = self.net.at(swing.place).reading_deg;
        let on_lattice = matches!(grid, ReadingGrid::Lattice { .. });
        let table = self.net.table_of(&swing, far);
        // Not through the reference for every place.
        let mut sum = TransitionRow::default();
        grid.gather(goals, model.reach_end, |number, to_deg, mass| {
            if mass == 0.0 {
            } else if on_lattice && to_deg == from_deg {
                sum.stay += mass;
                sum.added.time_s += mass * plant.overhead_s();
            } else {
                let found = self.net.known(table, number).unwrap_or_else(|| {
                    let landing = Landing {
                        number: 2 * number + Number::from(far),
                        on_lattice,
                        // A node stands for readings on either side: their mean is not rounded.
                        via_deg: plant.one_sided().then(|| {
                            if on_lattice {
                                plant.via_deg(to_deg)
                            } else {
                                plant.via_goal_deg(to_deg)
                            }
                        }),
                        to_deg,
                    };
                    let found = swing.move_to(model, &mut self.net, &landing);
                    self.net.keep(table, number, found);
                    found
                });
                self.lead(&mut sum, found, mass);
            }
        });
        row.stay += sum.stay;
        row.crossing += sum.crossing;
        row.winding += sum.winding;
        row.added.add(&sum.added, 1.0);
    }

    /// One move that a solve may lead to.
    #[inline(always)]
    fn lead(&mut self, row: &mut TransitionRow, to: Move, mass: f64) {
        row.added.moves += mass;
        row.added.time_s += mass * to.time_s;
        row.added.travel_deg += mass * to.travel_deg;
        row.added.outside_arc_deg += mass * to.outside_arc_deg;
        row.added.keep_out_deg += mass * to.keep_out_deg;
        if to.kind & LONG != 0 {
            row.added.long_swings += mass;
        }
        if to.kind & CROSSING != 0 {
            row.crossing += mass;
        }
        if to.kind & WINDING != 0 {
            row.winding += mass;
        }
        let place = self.number(to.place);
        self.entries.push(Entry {
            place,
            kind: to.kind,
            probability: mass,
            duration_s: to.time_s,
        });
    }
}

impl Swing {
    /// The move of this swing to one place.
    fn move_to(&self, model: &ChainModel, net: &mut Net, landing: &Landing) -> Move {
        let Landing {
            number,
            on_lattice,
            via_deg,
            to_deg,
        } = *landing;
        let scenario = model.scenario;
        let plant = &scenario.plant;
        let from = net.at(self.place);
        let (long, output_deg) = if on_lattice {
            let long = (to_deg - from.reading_deg).abs() > 0.5 * scenario.period_deg;
            (long, output_deg(model, from.output_deg, via_deg, to_deg))
        } else {
            // A node may lie beyond the end of its piece, but stands for moves within it: they take up the backlash.
            let behind_deg = if self.up { -2.0 } else { 2.0 } * plant.backlash_deg();
            let taken_up = output_deg(model, to_deg + behind_deg, via_deg, to_deg);
            (self.long, taken_up)
        };
        let turned = turned(model, from.reading_deg, via_deg, to_deg);
        let planned = PlannedMove::Move { via_deg, to_deg };
        let mut kind = 0;
        for (bit, is) in [
            (LONG, long),
            (CROSSING, crosses(turned.keep_out_deg)),
            (WINDING, overwinds(scenario, via_deg, to_deg)),
        ] {
            if is {
                kind |= bit;
            }
        }
        Move {
            place: net.place(model, number, to_deg, output_deg),
            kind,
            time_s: plant.duration_s(from.reading_deg, &planned),
            travel_deg: turned.travel_deg,
            outside_arc_deg: turned.outside_arc_deg,
            keep_out_deg: turned.keep_out_deg,
        }
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
pub(super) struct Swing {
    /// Where they begin, by its number in the net.
    pub(super) place: u32,
    /// Whole periods between what was wanted and the goal \[deg\].
    pub(super) shift_deg: f64,
    /// Readings grow.
    pub(super) up: bool,
    /// Longer than half a period.
    pub(super) long: bool,
}

/// A place where a command may end.
#[derive(Debug, Clone, Copy)]
struct Landing {
    /// Its number in the net.
    number: Number,
    /// A reading of the drive, not a node that stands for its neighbours.
    on_lattice: bool,
    /// Reading at the end of the first of two legs \[deg\].
    via_deg: Option<f64>,
    /// Reading at the end \[deg\].
    to_deg: f64,
}

/// An end of what passes, with its tail.
#[derive(Debug, Clone, Copy)]
struct Edge {
    deg: f64,
    end: PieceEnd,
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
