//! Zero points where nothing else is uncertain: a loop is then a function of the zero point, with jumps.

use super::chain::Chain;
use super::chain_model::Node;
use super::gauss::between;
use super::place::ChainStart;

/// Parts of the grid before jumps are looked for, at the normal spacing.
const PARTS: f64 = 600.0;

/// Finest and coarsest number of parts.
const FEWEST: f64 = 64.0;
const MOST: f64 = 20_000.0;

/// Jumps are found to this share of the spread of the zero point.
const SHARPNESS: f64 = 1e-13;

/// What becomes of a loop: every solve passes or not, and every swing is long or not.
type Course = Vec<u8>;

/// Zero points between the jumps of the loop, each with the probability of its part.
pub(super) fn zero_points(chain: &mut Chain, start: ChainStart) -> Vec<Node> {
    let model = chain.model;
    let sigma_deg = model.scenario.zero_point_sigma_deg;
    if sigma_deg == 0.0 {
        return model.zero_points.clone();
    }
    let span_deg = model.precision.reach * sigma_deg;
    let per_tolerance = 16.0 * span_deg / model.scenario.brief.tolerance_deg;
    let parts = (PARTS.max(per_tolerance) / model.precision.spacing).clamp(FEWEST, MOST);
    let parts = 2 * (0.5 * parts).ceil() as usize;
    let mut search = CourseSearch {
        chain,
        start,
        sigma_deg,
        nodes: Vec::new(),
    };
    let at = |i: usize| span_deg * (2.0 * i as f64 / parts as f64 - 1.0);
    let mut before = search.course(at(0));
    for i in 0..parts {
        let after = search.course(at(i + 1));
        search.split(at(i), &before, at(i + 1), &after);
        before = after;
    }
    search.nodes
}

struct CourseSearch<'c, 'a> {
    chain: &'c mut Chain<'a>,
    start: ChainStart,
    sigma_deg: f64,
    nodes: Vec<Node>,
}

impl CourseSearch<'_, '_> {
    fn course(&mut self, zero_error_deg: f64) -> Course {
        let brief = &self.chain.model.scenario.brief;
        let most = brief.max_solves;
        self.chain.restart(zero_error_deg, self.start.place);
        let mut course = Vec::new();
        let mut place = 0;
        for _ in 0..most {
            if self.chain.watch.spend(10) {
                break;
            }
            let row = self.chain.rows_from(place);
            let row = self.chain.get(row);
            let Some(entry) = self.chain.entries_of(row).first() else {
                course.push(if row.pass > 0.0 {
                    b'p'
                } else if row.stay > 0.0 {
                    b's'
                } else {
                    b'r'
                });
                break;
            };
            course.push(entry.kind);
            place = entry.place as usize;
        }
        course
    }

    /// Halves a part until its ends go the same way or it is as good as a point.
    fn split(&mut self, low: f64, at_low: &Course, high: f64, at_high: &Course) {
        let middle = 0.5 * (low + high);
        let sharp = high - low < SHARPNESS * self.sigma_deg;
        if at_low == at_high || sharp || self.chain.watch.over() {
            let weight = between(low / self.sigma_deg, high / self.sigma_deg);
            if weight > 0.0 {
                self.nodes.push(Node {
                    error_deg: middle,
                    weight,
                });
            }
            return;
        }
        let at_middle = self.course(middle);
        self.split(low, at_low, middle, &at_middle);
        self.split(middle, &at_middle, high, at_high);
    }
}
