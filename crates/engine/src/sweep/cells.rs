//! Request -> rows: cells over all cores, passed on in their order.

use rayon::prelude::*;

use super::request::SweepRequest;
use crate::method::{Detail, EvaluationRequest, evaluate_in_turn};
use crate::rig::InputError;
use crate::sample::Monitor;
use crate::summary::PolicySummary;

/// Cells at work for each thread. No thread waits for the slowest cell, and a kill loses little. Rows do not depend
/// on it.
const CELLS_PER_THREAD: usize = 4;

/// The figures of one rule in one cell.
#[derive(Debug, Clone)]
pub struct SweepRow {
    /// Number of the cell.
    pub cell: u64,
    /// The varied values, one for each axis.
    pub values: Vec<f64>,
    /// The target \[deg\].
    pub target_deg: f64,
    /// The figures.
    pub summary: PolicySummary,
}

/// Runs cells on the caller's thread pool and passes on the rows of each, whole and in the order of `cells`. Returns
/// false if the monitor stopped it.
///
/// Every cell and every rule meets the same random streams.
///
/// # Errors
/// The first error of `finished`.
pub fn run_cells<E: From<InputError>>(
    request: &SweepRequest,
    mut cells: impl Iterator<Item = u64>,
    monitor: &dyn Monitor,
    mut finished: impl FnMut(&[SweepRow]) -> Result<(), E>,
) -> Result<bool, E> {
    let at_once = CELLS_PER_THREAD * rayon::current_num_threads();
    loop {
        let wave: Vec<u64> = cells.by_ref().take(at_once).collect();
        if wave.is_empty() {
            return Ok(true);
        }
        if monitor.cancelled() {
            return Ok(false);
        }
        let done: Vec<Result<Option<Vec<SweepRow>>, InputError>> = wave
            .into_par_iter()
            .map(|cell| rows(request, cell, monitor))
            .collect();
        for rows in done {
            match rows? {
                Some(rows) => finished(&rows)?,
                None => return Ok(false),
            }
        }
    }
}

/// The rows of a cell, one for each rule; `None` if the monitor stopped it.
fn rows(
    request: &SweepRequest,
    cell: u64,
    monitor: &dyn Monitor,
) -> Result<Option<Vec<SweepRow>>, InputError> {
    let (rig, target_deg) = request.at(cell)?;
    let wanted = EvaluationRequest {
        batch: request.batch(),
        method: request.method(),
        detail: Detail::Figures,
    };
    let found = evaluate_in_turn(&rig, request.rules(), target_deg, &wanted, monitor).map_err(
        |(_, unsupported)| InputError::of_file("--method exact", unsupported.to_string()),
    )?;
    let row = |summary| SweepRow {
        cell,
        values: request.grid().values(cell),
        target_deg,
        summary,
    };
    Ok(found.map(|summaries| summaries.into_iter().map(row).collect()))
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::super::{Axis, Grid, Shard};
    use super::*;
    use crate::method::Method;
    use crate::rig::{Rig, RigSettings, Rule};
    use crate::sample::{Batch, Unattended};

    const TWO: [Rule; 2] = [Rule::HalfCircle, Rule::FoldOnce];

    fn request(trials: u64, rules: &[Rule]) -> Result<SweepRequest, InputError> {
        let rig = Rig::new(RigSettings::default()).unwrap_or_else(|e| panic!("{e}"));
        let axis = Axis::read("loop.tolerance_deg=0.1:1:50", &rig)?;
        let batch = Batch { trials, seed: 3 };
        let grid = Grid::new(vec![axis])?;
        SweepRequest::new(
            rig,
            grid,
            rules.to_vec(),
            batch,
            Method::MonteCarlo,
            Some(0.0),
        )
    }

    #[test]
    fn cells_come_whole_and_in_their_order() -> Result<(), InputError> {
        let request = request(40, &TWO)?;
        let shard = Shard { number: 2, of: 3 };
        let mut seen = Vec::new();
        let cells = shard.cells(request.grid().cells(), 1);
        let done = run_cells(&request, cells, &Unattended, |rows| {
            let rules: Vec<Rule> = rows.iter().map(|r| r.summary.rule).collect();
            assert_eq!(rules, request.rules());
            assert!(rows.iter().all(|r| r.cell == rows[0].cell));
            assert_eq!(rows[0].values, request.grid().values(rows[0].cell));
            seen.push(rows[0].cell);
            Ok::<(), InputError>(())
        })?;
        assert!(done);
        assert_eq!(seen, (4..50).step_by(3).collect::<Vec<u64>>());
        Ok(())
    }

    /// Stops after some runs.
    struct Stops(AtomicU64);

    impl Monitor for Stops {
        fn done(&self, runs: u64) {
            self.0.fetch_add(runs, Ordering::Relaxed);
        }

        fn cancelled(&self) -> bool {
            self.0.load(Ordering::Relaxed) >= 1000
        }
    }

    #[test]
    fn a_stop_leaves_whole_cells_from_the_start() -> Result<(), InputError> {
        let request = request(40, &TWO)?;
        let mut seen = Vec::new();
        let done = run_cells(&request, 0..50, &Stops(AtomicU64::new(0)), |rows| {
            assert_eq!(rows.len(), 2);
            seen.push(rows[0].cell);
            Ok::<(), InputError>(())
        })?;
        assert!(!done && seen.len() < 50);
        assert_eq!(seen, (0..seen.len() as u64).collect::<Vec<_>>());
        Ok(())
    }

    #[test]
    fn a_cell_that_was_stopped_in_its_middle_is_dropped() -> Result<(), InputError> {
        let request = request(300_000, &[Rule::HalfCircle])?;
        let mut most = 0;
        let done = run_cells(&request, 0..50, &Stops(AtomicU64::new(0)), |rows| {
            assert!(rows.iter().all(|r| r.summary.trials == 300_000));
            most = rows[0].cell;
            Ok::<(), InputError>(())
        })?;
        assert!(!done && most < 49);
        Ok(())
    }
}
