//! Gauss-Legendre nodes on a panel, and polynomial interpolation through them.

/// Nodes and weights on `[-1, 1]`, and the barycentric weights of the polynomial through the nodes.
#[derive(Debug, Clone)]
pub(super) struct Legendre {
    pub(super) nodes: Vec<f64>,
    pub(super) weights: Vec<f64>,
    barycentric: Vec<f64>,
}

impl Legendre {
    /// The rule of `n` nodes (two or more), exact for polynomials up to degree `2 n - 1`. Newton's method on the
    /// recurrence of the Legendre polynomials (Abramowitz & Stegun 1964, 22.7.10 and 25.4.29).
    pub(super) fn new(n: usize) -> Self {
        let mut nodes = Vec::with_capacity(n);
        let mut weights = Vec::with_capacity(n);
        for i in 0..n {
            let mut x = -libm::cos(std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5));
            let mut slope = 0.0;
            for _ in 0..30 {
                let (mut before, mut here) = (1.0, x);
                for k in 2..=n {
                    let k = k as f64;
                    (before, here) = (here, ((2.0 * k - 1.0) * x * here - (k - 1.0) * before) / k);
                }
                slope = n as f64 * (x * here - before) / (x * x - 1.0);
                let step = here / slope;
                x -= step;
                if step.abs() < 1e-15 {
                    break;
                }
            }
            nodes.push(x);
            weights.push(2.0 / ((1.0 - x * x) * slope * slope));
        }
        let barycentric = (0..n)
            .map(|j| {
                let others = (0..n).filter(|k| *k != j);
                1.0 / others.map(|k| nodes[j] - nodes[k]).product::<f64>()
            })
            .collect();
        Self {
            nodes,
            weights,
            barycentric,
        }
    }

    /// Adds `mass` at `x` in `[-1, 1]` to the nodes, so that all moments up to the order of the rule are kept.
    pub(super) fn share_out(&self, x: f64, mass: f64, out: &mut [f64]) {
        if let Some(j) = self.nodes.iter().position(|node| *node == x) {
            out[j] += mass;
            return;
        }
        let terms = || {
            let pairs = self.barycentric.iter().zip(&self.nodes);
            pairs.map(|(w, node)| w / (x - node))
        };
        let scale = mass / terms().sum::<f64>();
        for (out, term) in out.iter_mut().zip(terms()) {
            *out += scale * term;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (exact): Gauss-Legendre nodes, and moments that are kept. With: `sharing_out_keeps_the_moments`,
    /// `crates/engine/src/exact/reading_grid.rs::panels_keep_mass_and_moment_wherever_the_cuts_are`,
    /// `crates/engine/src/exact/reading_grid.rs::the_lattice_keeps_the_mass_and_rounds_to_its_points`. Source:
    /// Abramowitz & Stegun 1964, table 25.4, n = 4 (from memory); Johnson, Kotz & Balakrishnan 1994 (from memory).
    #[test]
    fn nodes_are_those_of_the_handbook() {
        let rule = Legendre::new(4);
        let nodes = [
            -0.861_136_311_594_053,
            -0.339_981_043_584_856,
            0.339_981_043_584_856,
            0.861_136_311_594_053,
        ];
        let weights = [0.347_854_845_137_454, 0.652_145_154_862_546];
        for (i, node) in nodes.iter().enumerate() {
            assert!((rule.nodes[i] - node).abs() < 1e-14, "{i}");
            assert!((rule.weights[i] - weights[i.min(3 - i)]).abs() < 1e-14);
        }
    }

    #[test]
    fn sharing_out_keeps_the_moments() {
        let rule = Legendre::new(6);
        let mut shares = vec![0.0; 6];
        rule.share_out(0.3, 2.0, &mut shares);
        for power in 0..6 {
            let moment: f64 = shares
                .iter()
                .zip(&rule.nodes)
                .map(|(share, node)| share * node.powi(power))
                .sum();
            assert!((moment - 2.0 * 0.3_f64.powi(power)).abs() < 1e-13);
        }
        let mut at_node = vec![0.0; 6];
        rule.share_out(rule.nodes[2], 1.0, &mut at_node);
        assert_eq!(at_node, [0.0, 0.0, 1.0, 0.0, 0.0, 0.0]);
    }
}
