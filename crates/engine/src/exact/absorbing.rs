//! Absorbing Markov chains: where they end, and after how many steps, without a subtraction.

/// An absorbing chain of `n` transient states and `K` kinds of end.
///
/// Kemeny & Snell (1960), Finite Markov Chains, chapter 3, find the mean number of steps and the probabilities of
/// the ends from the fundamental matrix `(I - Q)^-1`. Here states are eliminated one by one, with the chance of leaving
/// each as a sum of probabilities and never as one less another (Grassmann, Taksar & Heyman 1985, Operations
/// Research 33, 1107), so that a chance of 1e-30 to leave a loop keeps its precision.
#[derive(Debug, Clone)]
pub(super) struct Absorbing<const K: usize> {
    n: usize,
    /// Transition probabilities, row by row.
    moves: Vec<f64>,
    /// Probabilities of the ends, for each state.
    ends: Vec<[f64; K]>,
}

/// How a chain ends that is begun in a state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Absorbed<const K: usize> {
    /// Probability of each end.
    pub(super) ends: [f64; K],
    /// Probability of a set of states that is left with less than a given chance.
    pub(super) trapped: f64,
    /// Mean number of steps of the chains that are not trapped, each weighted by its probability.
    pub(super) steps: f64,
}

impl<const K: usize> Absorbing<K> {
    /// A chain of `n` states that go nowhere.
    pub(super) fn new(n: usize) -> Self {
        Self {
            n,
            moves: vec![0.0; n * n],
            ends: vec![[0.0; K]; n],
        }
    }

    /// Adds to the probability of a move.
    pub(super) fn add_move(&mut self, from: usize, to: usize, probability: f64) {
        self.moves[from * self.n + to] += probability;
    }

    /// Adds to the probability of an end.
    pub(super) fn add_end(&mut self, from: usize, end: usize, probability: f64) {
        self.ends[from][end] += probability;
    }

    /// What becomes of the chain begun in state 0. A state, or what is left of a set of states, that is left with
    /// less than the chance `least` is a trap.
    pub(super) fn absorbed_from_first(mut self, least: f64) -> Absorbed<K> {
        let n = self.n;
        let mut steps = vec![1.0; n];
        let mut trapped = vec![0.0; n];
        for s in (0..n).rev() {
            let (before, rest) = self.moves.split_at_mut(s * n);
            let row = &rest[..s];
            let out = row.iter().sum::<f64>() + self.ends[s].iter().sum::<f64>() + trapped[s];
            if out < least {
                trapped[s] = 1.0;
                self.ends[s] = [0.0; K];
                steps[s] = 0.0;
                for i in 0..s {
                    trapped[i] += before[i * n + s];
                }
                continue;
            }
            // From here on out of the state, whatever it does before leaving.
            steps[s] /= out;
            trapped[s] /= out;
            for end in &mut self.ends[s] {
                *end /= out;
            }
            for i in 0..s {
                let into = before[i * n + s];
                if into == 0.0 {
                    continue;
                }
                let share = into / out;
                for (to, via) in before[i * n..i * n + s].iter_mut().zip(row) {
                    *to += share * via;
                }
                for k in 0..K {
                    self.ends[i][k] += into * self.ends[s][k];
                }
                trapped[i] += into * trapped[s];
                steps[i] += into * steps[s];
            }
        }
        Absorbed {
            ends: self.ends[0],
            trapped: trapped[0],
            steps: steps[0],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drunkard(start: usize) -> Absorbed<2> {
        // Corners 1, 2, 3 between home (0) and the bar (4); the state asked for goes first.
        let order = [start, start % 3 + 1, (start + 1) % 3 + 1];
        let state = |corner: usize| order.iter().position(|c| *c == corner);
        let mut chain = Absorbing::new(3);
        for corner in 1..=3 {
            let from = state(corner).unwrap_or(0);
            for to in [corner - 1, corner + 1] {
                match (to, state(to)) {
                    (0, _) => chain.add_end(from, 0, 0.5),
                    (4, _) => chain.add_end(from, 1, 0.5),
                    (_, Some(to)) => chain.add_move(from, to, 0.5),
                    _ => {}
                }
            }
        }
        chain.absorbed_from_first(0.0)
    }

    /// The drunkard's walk: mean times 3, 4, 3, and probabilities 3/4, 1/2, 1/4 of the first end.
    /// Shows (exact): the long run of an absorbing chain, without a subtraction. With:
    /// `a_loop_that_is_hardly_ever_left_keeps_its_precision`. Source: Grinstead & Snell 1997, Introduction to
    /// Probability, examples 11.13 to 11.15 (from memory); by hand.
    #[test]
    fn the_drunkard_of_the_textbook_gets_home() {
        for (corner, steps, home) in [(1, 3.0, 0.75), (2, 4.0, 0.5), (3, 3.0, 0.25)] {
            let found = drunkard(corner);
            assert!((found.steps - steps).abs() < 1e-14, "{corner}: {found:?}");
            assert!((found.ends[0] - home).abs() < 1e-14, "{corner}: {found:?}");
            assert!((found.ends[1] - (1.0 - home)).abs() < 1e-14);
            assert_eq!(found.trapped, 0.0);
        }
    }

    /// Two states that pass a run to and fro and leave it with a chance of 1e-30 a round: worked by hand.
    #[test]
    fn a_loop_that_is_hardly_ever_left_keeps_its_precision() {
        let chain = || {
            let mut chain = Absorbing::<1>::new(3);
            chain.add_move(0, 1, 0.25);
            chain.add_end(0, 0, 0.75);
            chain.add_move(1, 2, 1.0);
            chain.add_move(2, 1, 1.0);
            chain.add_end(2, 0, 1e-30);
            chain
        };
        let patient = chain().absorbed_from_first(0.0);
        assert!((patient.steps / (0.25 * 2e30) - 1.0).abs() < 1e-12);
        assert!((patient.ends[0] - 1.0).abs() < 1e-12);
        let trapped = chain().absorbed_from_first(1e-9);
        assert_eq!(trapped.trapped, 0.25);
        assert_eq!(trapped.ends[0], 0.75);
        assert_eq!(trapped.steps, 1.0);
    }
}
