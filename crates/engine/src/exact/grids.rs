//! What bounds need to know of the grids: coarser ones, and the gaps that they leave.

use super::chain_model::{ChainModel, Unsupported};
use super::precision::Precision;
use super::reading_grid::ReadingGrid;

impl ChainModel<'_> {
    /// For every kind of grid but the zero points: the same with this kind alone coarser. A difference that is small by
    /// chance with one number of nodes is not so with another, so panels have two.
    pub(super) fn coarser(&self) -> Result<Vec<Vec<Self>>, Unsupported> {
        let precision = self.precision;
        let with = |precision| Self::new(self.scenario, precision, self.question.0);
        let mut kinds = Vec::new();
        if self.noiseless() {
            let spacing = 2.0 * precision.spacing;
            kinds.push(vec![with(Precision {
                spacing,
                ..precision
            })?]);
        }
        if self.far.is_some() || matches!(self.grid, ReadingGrid::Panels { .. }) {
            let fewer = [4, 5].map(|sixths| Precision {
                panel_nodes: precision.panel_nodes * sixths / 6,
                ..precision
            });
            kinds.push(fewer.into_iter().map(with).collect::<Result<_, _>>()?);
        }
        if self.repeatability_errors_apart() {
            let mut coarser = with(precision)?;
            let errors = &mut coarser.repeatability_errors;
            let off = errors.len() / 2 % 2;
            *errors = errors.iter().skip(off).step_by(2).copied().collect();
            errors.iter_mut().for_each(|error| error.weight *= 2.0);
            kinds.push(vec![coarser]);
        }
        Ok(kinds)
    }

    /// Gap between the true errors that the grid of readings tells apart; 0 where a repeatability error fills it \[deg\].
    fn reading_gap_deg(&self) -> f64 {
        let gap_deg = match &self.grid {
            _ if self.repeatability_errors_apart() => 0.0,
            ReadingGrid::Panels {
                width_deg, rule, ..
            } => 2.0 * width_deg / rule.nodes.len() as f64,
            // Zero points close together would fill it.
            ReadingGrid::Lattice { step_deg } if self.wide_spacing_deg().is_some() => *step_deg,
            ReadingGrid::Lattice { .. } => 0.0,
        };
        if self.scenario.repeatability_deg > 0.5 * gap_deg {
            0.0
        } else {
            gap_deg
        }
    }

    /// Gap between the repeatability errors that are held apart \[deg\].
    fn repeatability_gap_deg(&self) -> f64 {
        match &self.repeatability_errors[..] {
            [a, b, ..] => b.error_deg - a.error_deg,
            _ => 0.0,
        }
    }

    /// Widest gap between true errors that are told apart \[deg\].
    pub(super) fn gap_deg(&self) -> f64 {
        self.zero_spacing_deg + self.reading_gap_deg() + self.repeatability_gap_deg()
    }

    /// The same for sums over them, in which a fine grid makes up for a coarse one \[deg\].
    pub(super) fn kink_gap_deg(&self) -> f64 {
        let others_deg = self.reading_gap_deg().max(self.repeatability_gap_deg());
        if self.zero_points.len() == 1 || self.wide_spacing_deg().is_some() {
            self.zero_spacing_deg.max(others_deg)
        } else {
            self.zero_spacing_deg
        }
    }
}
