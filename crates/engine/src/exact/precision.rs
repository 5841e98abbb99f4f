//! How fine the grids are.

/// Grid and reach of a solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// How far into a tail a density is followed, in sigma.
    pub reach: f64,
    /// Distance of two zero points or repeatability errors on their grids, in sigma of what smooths between them.
    pub spacing: f64,
    /// Nodes of a panel that is two sigma wide, where the drive has no lattice.
    pub panel_nodes: usize,
    /// Width of the bins of true errors, in sigma of a residual.
    pub error_bin: f64,
    /// Share of the mass of a zero point that is no longer followed.
    pub least_mass: f64,
    /// Most moves that are found and followed before the loop is called too large.
    pub most_work: u64,
}

/// Some seconds.
const MOST_WORK: u64 = 1_500_000_000;

impl Precision {
    /// For all figures, with probabilities right down to 1e-12.
    pub const FULL: Self = Self {
        reach: 8.5,
        spacing: 0.7,
        panel_nodes: 10,
        error_bin: 1.0 / 16.0,
        least_mass: 1e-17,
        most_work: MOST_WORK,
    };

    /// For maps: rates to about 1e-5.
    pub const MAP: Self = Self {
        reach: 4.5,
        spacing: 1.0,
        panel_nodes: 6,
        error_bin: 1.0 / 4.0,
        least_mass: 3e-7,
        most_work: MOST_WORK,
    };

    /// For searches that solve many loops one after another: a loop that takes long is left to runs.
    pub const SEARCH: Self = Self {
        most_work: 10_000_000,
        ..Self::MAP
    };

    /// The numbers in words.
    #[must_use]
    pub fn describe(&self) -> String {
        format!(
            "reach {} sigma, spacing {} sigma, {} nodes a panel, masses from {:e}",
            self.reach, self.spacing, self.panel_nodes, self.least_mass
        )
    }

    /// A grid twice as fine.
    #[must_use]
    pub fn halved(self) -> Self {
        Self {
            spacing: 0.5 * self.spacing,
            error_bin: 0.5 * self.error_bin,
            panel_nodes: (self.panel_nodes * 3 / 2).min(16),
            ..self
        }
    }
}
