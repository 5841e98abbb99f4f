//! Zero points: where the figures are computed, and with which weights.
//!
//! The figures of a loop change with the zero point only near a few of its values: those at which the first solve just
//! passes, or the first correction just reaches an end of the arc or of a keep-out. There the nodes lie close together. In
//! between they lie farther apart.

use super::chain::Chain;
use super::chain_model::{ChainModel, Node, Unsupported, bare_residual_deg};
use super::determined;
use super::gauss::density;
use super::place::ChainStart;
use crate::angle::AngleSpan;
use crate::plant::Travel;

/// The zero points of a chain: by the rule, or between jumps where nothing else is uncertain.
pub(super) fn of(chain: &mut Chain, start: ChainStart) -> Vec<Node> {
    let model = chain.model;
    if model.noiseless() {
        determined::zero_points(chain, start)
    } else {
        graded(model, start).unwrap_or_else(|| model.zero_points.clone())
    }
}

/// The trapezoidal rule over a normal distribution: nodes from below to above, with weights that add up to one.
pub(super) fn even(sigma_deg: f64, spacing_deg: f64, reach: f64) -> Result<Vec<Node>, Unsupported> {
    if sigma_deg == 0.0 {
        return Ok(vec![Node::NONE]);
    }
    let each_side = (reach * sigma_deg / spacing_deg).ceil();
    if 2.0 * each_side > ChainModel::MOST_NODES as f64 {
        return Err(Unsupported::TooFine);
    }
    let each_side = each_side as i64;
    Ok((-each_side..=each_side)
        .map(|i| {
            let error_deg = i as f64 * spacing_deg;
            Node {
                error_deg,
                weight: spacing_deg / sigma_deg * density(error_deg / sigma_deg),
            }
        })
        .collect())
}

/// Over how many dense nodes the dense ones give way to the sparse ones.
const BLEND: f64 = 10.0;

/// Nodes that lie as close as the model asks where the figures change quickly, and wider apart elsewhere; `None` where
/// that would not be fewer.
fn graded(model: &ChainModel, start: ChainStart) -> Option<Vec<Node>> {
    let wide_deg = model.wide_spacing_deg()?;
    let sigma_deg = model.scenario.zero_point_sigma_deg;
    let map = Grading {
        zones: zones(model, start),
        fine_deg: model.zero_spacing_deg,
        wide_deg,
        blend_deg: BLEND * model.zero_spacing_deg,
    };
    let span_deg = model.precision.reach * sigma_deg;
    let (first, last) = (map.place(-span_deg).0.floor(), map.place(span_deg).0.ceil());
    let mut at_deg = -span_deg - wide_deg;
    Some(
        (first as i64..=last as i64)
            .map(|i| {
                let crowding;
                (at_deg, crowding) = map.at(i as f64, at_deg, span_deg + wide_deg);
                Node {
                    error_deg: at_deg,
                    weight: density(at_deg / sigma_deg) / (sigma_deg * crowding),
                }
            })
            .collect(),
    )
}

/// A smooth map from zero points to the numbers of nodes: steep in the zones, flat between them.
struct Grading {
    /// Ascending, apart from each other \[deg\].
    zones: Vec<AngleSpan>,
    /// Spacing of nodes inside the zones \[deg\].
    fine_deg: f64,
    /// Spacing far from them \[deg\].
    wide_deg: f64,
    /// Over so many degrees the one becomes the other.
    blend_deg: f64,
}

impl Grading {
    /// Number of the node at a zero point, and the nodes in a degree there.
    fn place(&self, error_deg: f64) -> (f64, f64) {
        let more = 0.5 * (1.0 / self.fine_deg - 1.0 / self.wide_deg);
        let bend = |edge_deg: f64| {
            let off_deg = error_deg - edge_deg;
            let far_deg = (self.blend_deg * self.blend_deg + off_deg * off_deg).sqrt();
            (far_deg, off_deg / far_deg)
        };
        let (mut number, mut crowding) = (error_deg / self.wide_deg, 1.0 / self.wide_deg);
        for zone in &self.zones {
            let (from, to) = (bend(zone.from_deg), bend(zone.to_deg));
            number += more * (from.0 - to.0);
            crowding += more * (from.1 - to.1);
        }
        (number, crowding)
    }

    /// The zero point of a node, between two others \[deg\], and the nodes in a degree there.
    fn at(&self, number: f64, mut low_deg: f64, mut high_deg: f64) -> (f64, f64) {
        let mut at_deg = low_deg;
        for _ in 0..200 {
            let (here, crowding) = self.place(at_deg);
            let over = here - number;
            if over > 0.0 {
                high_deg = at_deg;
            } else {
                low_deg = at_deg;
            }
            let newton_deg = at_deg - over / crowding;
            // Newton's method squares the rest.
            if over.abs() <= 1e-7 {
                return (newton_deg, self.place(newton_deg).1);
            }
            at_deg = if newton_deg > low_deg && newton_deg < high_deg {
                newton_deg
            } else {
                0.5 * (low_deg + high_deg)
            };
        }
        (at_deg, self.place(at_deg).1)
    }
}

/// Where the figures change quickly with the zero point: ascending, apart from each other \[deg\].
fn zones(model: &ChainModel, start: ChainStart) -> Vec<AngleSpan> {
    let scenario = model.scenario;
    let plant = &scenario.plant;
    let (period_deg, answer) = (scenario.period_deg, model.answer);
    let reading_deg = start.place.reading_deg;
    let span_deg = model.precision.reach * scenario.zero_point_sigma_deg;
    // The residual that the first solve measures on average is this less the zero point.
    let middle_deg = bare_residual_deg(model, start.place.output_deg) - scenario.solve.bias_deg;
    let noise_deg = model.precision.reach * model.noise[0].sigma_deg;
    // Beyond a zone's end the nodes are still dense for a while.
    let slack_deg = noise_deg + plant.step_deg() + 0.5 * BLEND * model.zero_spacing_deg;
    let mut found = Vec::new();
    let mut add = |from_deg: f64, half_deg: f64, every_deg: f64| {
        let first = ((-span_deg - half_deg - from_deg) / every_deg).ceil();
        let last = ((span_deg + half_deg - from_deg) / every_deg).floor();
        for i in first as i64..=last as i64 {
            let at_deg = from_deg + i as f64 * every_deg;
            found.push(AngleSpan::new(at_deg - half_deg, at_deg + half_deg));
        }
    };
    add(
        middle_deg,
        scenario.brief.tolerance_deg + slack_deg,
        period_deg,
    );
    add(middle_deg + 0.5 * period_deg, slack_deg, period_deg);
    // Where the goal of the first correction reaches a place, or of a later one, which is off by the errors of the drive.
    let periodic_deg: f64 = plant.periodic().iter().map(|p| p.amplitude_deg.abs()).sum();
    let left_deg = model.left_over() * (span_deg + middle_deg.abs());
    let overrun_deg = if plant.one_sided() {
        plant.overrun_deg()
    } else {
        0.0
    };
    let off_deg = plant.backlash_deg() + 2.0 * periodic_deg + left_deg;
    let mut reached = |edge_deg: f64, off_deg: f64| {
        add(
            middle_deg - (edge_deg - reading_deg) / answer,
            (slack_deg + off_deg) / answer.abs(),
            period_deg / answer.abs(),
        );
    };
    if plant.one_sided() {
        // The first leg turns the other way.
        reached(2.0 * reading_deg - plant.via_deg(reading_deg), off_deg);
    }
    let mut edge = |edge_deg: f64| reached(edge_deg, off_deg + overrun_deg);
    scenario.wrap().jumps(|at_deg, _| edge(at_deg));
    edge(reading_deg + 180.0);
    if let Travel::Stops { lo_deg, hi_deg } = plant.travel() {
        edge(lo_deg);
        edge(hi_deg);
    }
    for sector in scenario.ground.keep_out().spans() {
        edge(sector.from_deg);
        edge(sector.to_deg);
    }
    if scenario.winding_limit_deg.is_finite() {
        edge(scenario.park_deg - scenario.winding_limit_deg);
        edge(scenario.park_deg + scenario.winding_limit_deg);
    }
    found.sort_by(|a, b| a.from_deg.total_cmp(&b.from_deg));
    let mut apart: Vec<AngleSpan> = Vec::new();
    for zone in found {
        match apart.last_mut() {
            Some(last) if zone.from_deg <= last.to_deg => {
                last.to_deg = last.to_deg.max(zone.to_deg)
            }
            _ => apart.push(zone),
        }
    }
    apart
}

#[cfg(test)]
mod tests {
    use super::super::figures::Figures;
    use super::super::precision::Precision;
    use super::super::propagator::Propagator;
    use super::super::sums::Sums;
    use super::super::{begin, never};
    use super::*;
    use crate::rig::{DEMO_RIG, read};
    use crate::scenario::{Policy, Scenario};

    /// Shows (exact): zero points lie wider apart where the figures change slowly, and the figures stay. Source: Trefethen
    /// & Weideman (2014), the trapezoidal rule at one spacing.
    #[test]
    fn fewer_zero_points_give_the_same_figures() {
        let rig = read(DEMO_RIG, "demo", &[]).expect("a valid rig");
        for target_deg in [0.0, 0.5, 64.0, 171.0] {
            let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
            let model = ChainModel::new(&scenario, Precision::FULL, &never).expect("a model");
            let start = begin(&model).expect("a first move");
            let few = graded(&model, start).expect("a wide spacing");
            assert!(2 * few.len() < model.zero_points.len(), "{}", few.len());
            let figures = [&model.zero_points, &few].map(|nodes| {
                let mut propagator = Propagator::new(&model, 1.0);
                let mut chain = Chain::new(&model);
                let mut sums = Sums::new(propagator.levels());
                for node in nodes {
                    chain.restart(node.error_deg, start.place);
                    propagator.follow(&mut chain, start, node.weight, &mut sums);
                }
                let found = Figures::of(&model, &start, &sums);
                let weights: f64 = nodes.iter().map(|n| n.weight).sum();
                let found = found.total();
                [weights, found.hunting, found.ended_badly, found.elapsed_s]
            });
            for (of_many, of_few) in figures[0].iter().zip(figures[1]) {
                // A share that the lattice of readings makes jump is known to 1e-8 by either.
                let off = (of_many - of_few).abs();
                assert!(off <= 5e-8 * of_many.max(1.0), "{target_deg}: {figures:?}");
            }
            assert!((figures[0][1] - figures[1][1]).abs() < 1e-13, "{figures:?}");
        }
    }
}
