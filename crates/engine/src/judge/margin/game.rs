//! The game on a grid: an opponent chooses what every solve measures, within a window, and wants the controller to swing
//! for ever.

use super::super::subject::Subject;
use super::MarginError;
use super::ask::{Asker, Way};

/// What the opponent lets the solves ask for, as wanted cells: a beginning, then a cycle that goes round for ever.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Lasso {
    pub(super) beginning: Vec<i64>,
    pub(super) cycle: Vec<i64>,
    /// Long swings of one round.
    pub(super) swings: usize,
}

/// A way of the opponent's choice from one place to another; places by their order of discovery.
#[derive(Debug, Clone, Copy)]
struct Edge {
    wanted: i64,
    to: usize,
    swings: bool,
}

/// The places that a window can reach, with the ways between them.
struct Board {
    edges: Vec<Vec<Edge>>,
    /// Whether the opponent can keep up the long swings from this place without an end.
    kept: Vec<bool>,
}

/// How the opponent keeps up long swings without an end, if wanted angles may be in cells from `low` to `high`.
pub(super) fn hunts<S: Subject + ?Sized>(
    asker: &mut Asker<'_, S>,
    low: i64,
    high: i64,
) -> Result<Option<Lasso>, MarginError> {
    let mut board = Board {
        edges: edges(asker, low, high)?,
        kept: Vec::new(),
    };
    board.keep();
    Ok(board.lasso())
}

/// All ways within a window, from the place of the first move on.
fn edges<S: Subject + ?Sized>(
    asker: &mut Asker<'_, S>,
    low: i64,
    high: i64,
) -> Result<Vec<Vec<Edge>>, MarginError> {
    let mut found = vec![0];
    let mut numbers = std::collections::HashMap::from([(0, 0)]);
    let mut edges = Vec::new();
    while edges.len() < found.len() {
        let place = found[edges.len()];
        let mut ways = Vec::new();
        for wanted in low..=high {
            if let Way::To { place, swings } = asker.ask(place, wanted)? {
                let to = *numbers.entry(place).or_insert_with(|| {
                    found.push(place);
                    found.len() - 1
                });
                ways.push(Edge { wanted, to, swings });
            }
        }
        edges.push(ways);
    }
    Ok(edges)
}

impl Board {
    /// The largest set of places from each of which a long swing into the set can be reached inside it.
    fn keep(&mut self) {
        let mut before = Vec::new();
        for (from, ways) in self.edges.iter().enumerate() {
            before.extend(ways.iter().map(|e| (e.to, from, e.swings)));
        }
        before.sort_unstable();
        before.dedup();
        self.kept = vec![true; self.edges.len()];
        loop {
            let kept = std::mem::take(&mut self.kept);
            let inside = |&&(to, from, _): &&(usize, usize, bool)| kept[to] && kept[from];
            let mut next = vec![false; kept.len()];
            let mut open = Vec::new();
            let add = |place: usize, next: &mut Vec<bool>, open: &mut Vec<usize>| {
                if !next[place] {
                    next[place] = true;
                    open.push(place);
                }
            };
            for (_, from, swings) in before.iter().filter(inside) {
                if *swings {
                    add(*from, &mut next, &mut open);
                }
            }
            while let Some(to) = open.pop() {
                let first = before.partition_point(|b| b.0 < to);
                let into = before[first..].iter().take_while(|b| b.0 == to);
                for (_, from, _) in into.filter(inside) {
                    add(*from, &mut next, &mut open);
                }
            }
            let done = next == kept;
            self.kept = next;
            if done {
                return;
            }
        }
    }

    /// The shortest way to a kept place, then from long swing to long swing until a place comes again.
    fn lasso(&self) -> Option<Lasso> {
        let (beginning, mut at) = self.way(0, |_, e| self.kept[e.to], self.kept[0])?;
        let mut wanted = Vec::new();
        let mut seen = vec![(at, 0)];
        loop {
            let (leg, to) = self.way(
                at,
                |from, e| self.kept[from] && self.kept[e.to] && e.swings,
                false,
            )?;
            wanted.extend(leg);
            at = to;
            if let Some(first) = seen.iter().position(|s| s.0 == at) {
                let swings = seen.len() - first;
                let cycle = wanted.split_off(seen[first].1);
                return Some(Lasso {
                    beginning: [beginning, wanted].concat(),
                    cycle,
                    swings,
                });
            }
            seen.push((at, wanted.len()));
        }
    }

    /// The shortest way from a place that ends with such an edge, as wanted cells, and where it ends; nothing to do if
    /// `already`.
    fn way(
        &self,
        from: usize,
        ends: impl Fn(usize, &Edge) -> bool,
        already: bool,
    ) -> Option<(Vec<i64>, usize)> {
        if already {
            return Some((Vec::new(), from));
        }
        let mut came: Vec<Option<(usize, i64)>> = vec![None; self.edges.len()];
        let mut queue = std::collections::VecDeque::from([from]);
        while let Some(at) = queue.pop_front() {
            for edge in &self.edges[at] {
                if ends(at, edge) {
                    let mut way = vec![edge.wanted];
                    let mut back = at;
                    while let (true, Some((earlier, wanted))) = (back != from, came[back]) {
                        way.push(wanted);
                        back = earlier;
                    }
                    way.reverse();
                    return Some((way, edge.to));
                }
                if edge.to != from && came[edge.to].is_none() {
                    came[edge.to] = Some((at, edge.wanted));
                    queue.push_back(edge.to);
                }
            }
        }
        None
    }
}
