//! Adding up over zero points, in parts that can be worked on side by side.

use rayon::prelude::*;

use super::chain::Chain;
use super::chain_model::{ChainModel, Node, Unsupported};
use super::figures::Failures;
use super::place::ChainStart;
use super::propagator::Propagator;
use super::sums::Sums;
use super::zero_points;
use crate::angle::AngleSpan;

/// Adds up over zero points.
pub(super) struct Adder<'a> {
    start: ChainStart,
    pub(super) zero_points: Vec<Node>,
    /// Neighbouring zero points each, as these reach the same places. How many there are depends on the loop alone, so that
    /// the sums have the same bits on every number of threads.
    parts: Vec<AdderPart<'a>>,
}

/// What adds up over some of the zero points.
struct AdderPart<'a> {
    propagator: Propagator<'a>,
    chain: Chain<'a>,
}

/// Work that makes up for a part more.
const WORK: u64 = 1_000_000;

/// Most parts.
const MOST_PARTS: u64 = 16;

impl<'a> Adder<'a> {
    pub(super) fn new(model: &'a ChainModel<'a>, start: ChainStart) -> Result<Self, Unsupported> {
        let mut part = AdderPart::new(model);
        let zero_points = zero_points::of(&mut part.chain, start);
        // The believed zero point stands for all: better to refuse at once than after a minute.
        let believed = Node::NONE;
        part.follow(&believed, start, &mut Sums::new(part.propagator.levels()))?;
        let work = part.chain.work.saturating_mul(zero_points.len() as u64) / 2;
        if work > model.precision.most_work {
            return Err(Unsupported::TooLarge);
        }
        let count = (work / WORK).clamp(1, MOST_PARTS);
        let others = (1..count).map(|_| AdderPart::new(model));
        Ok(Self {
            start,
            zero_points,
            parts: std::iter::once(part).chain(others).collect(),
        })
    }

    /// The sums over the zero points whose distance from the one in the middle, in nodes, is chosen.
    pub(super) fn sums(
        &mut self,
        chosen: impl Fn(usize) -> bool + Sync,
    ) -> Result<Sums, Unsupported> {
        let (start, all, count) = (self.start, &self.zero_points, self.parts.len());
        let middle = all.len() / 2;
        let least_mass = self.parts[0].chain.model.least_mass();
        let sums = |(i, part): (usize, &mut AdderPart)| {
            let mut sums = Sums::new(part.propagator.levels());
            let (from, until) = (i * all.len() / count, (i + 1) * all.len() / count);
            for (i, node) in all.iter().enumerate().take(until).skip(from) {
                if node.weight >= least_mass && chosen(i.abs_diff(middle)) {
                    part.follow(node, start, &mut sums)?;
                }
            }
            Ok(sums)
        };
        let parts = self.parts.par_iter_mut().enumerate().map(sums);
        let mut parts = parts.collect::<Result<Vec<Sums>, _>>()?.into_iter();
        let mut sum = parts.next().unwrap_or_default();
        parts.for_each(|part| sum.add(&part, 1.0));
        let work: u64 = self.parts.iter().map(|part| part.chain.work).sum();
        if work > self.parts[0].chain.model.precision.most_work {
            return Err(Unsupported::TooLarge);
        }
        Ok(sum)
    }

    /// The angles that corrections wanted \[deg\]; `None` where one wanted to leave the arc.
    pub(super) fn wanted(&self) -> Option<AngleSpan> {
        let mut wanted = self.parts.iter().map(|part| part.chain.wanted);
        wanted.try_fold(AngleSpan::NOTHING, |all, of_part| {
            Some(all.widened_by(of_part?))
        })
    }
}

impl<'a> AdderPart<'a> {
    fn new(model: &'a ChainModel<'a>) -> Self {
        let success = Failures::of(&model.scenario.solve).success;
        Self {
            propagator: Propagator::new(model, success),
            chain: Chain::new(model),
        }
    }

    fn follow(
        &mut self,
        node: &Node,
        start: ChainStart,
        sums: &mut Sums,
    ) -> Result<(), Unsupported> {
        let chain = &mut self.chain;
        chain.restart(node.error_deg, start.place);
        self.propagator.follow(chain, start, node.weight, sums);
        if chain.watch.over() {
            return Err(Unsupported::Stopped);
        }
        if chain.work > chain.model.precision.most_work {
            return Err(Unsupported::TooLarge);
        }
        Ok(())
    }
}
