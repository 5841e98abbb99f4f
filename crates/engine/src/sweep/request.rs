//! The request for a sweep, checked in full before any work.

use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::axis::{Varied, allowed_target, is_target};
use super::grid::Grid;
use crate::exact::check;
use crate::method::Method;
use crate::rig::{InputError, Rig, RigError, Rule};
use crate::sample::Batch;
use crate::scenario::{Policy, Scenario};

/// Version of the table of a sweep. Every change of a row gets a new one.
pub const FORMAT: u32 = 1;

/// A sweep whose cells have all passed the checks of the rig. It cannot change.
#[derive(Debug, Clone)]
pub struct SweepRequest {
    rig: Rig,
    grid: Grid,
    rules: Vec<Rule>,
    batch: Batch,
    method: Method,
    target_deg: Option<f64>,
}

impl SweepRequest {
    /// Checks every cell. Give `target_deg` exactly if no axis varies the target \[deg\].
    ///
    /// # Errors
    /// [`InputError`] for the first cell that is not allowed, with its axis, key and value, and what is allowed.
    pub fn new(
        rig: Rig,
        grid: Grid,
        rules: Vec<Rule>,
        batch: Batch,
        method: Method,
        target_deg: Option<f64>,
    ) -> Result<Self, InputError> {
        let varied = grid
            .axes()
            .iter()
            .any(|a| matches!(a.varied(), Varied::Target));
        let refuse = |problem: &str| Err(InputError::of_file("--target", problem));
        match target_deg {
            None if !varied => return refuse("is missing. Give it, or --vary target=…"),
            Some(_) if varied => return refuse("leave it out, because --vary varies the target"),
            Some(target_deg) if !is_target(target_deg) => return refuse(&allowed_target()),
            _ => {}
        }
        let request = Self {
            rig,
            grid,
            rules,
            batch,
            method,
            target_deg: target_deg.map(|t| t + 0.0), // -0 is 0
        };
        let fault = (0..request.grid.cells())
            .into_par_iter()
            .find_map_first(|cell| request.check(cell).err());
        fault.map_or(Ok(request), Err)
    }

    /// The rig and the target of a cell \[deg\].
    ///
    /// # Errors
    /// None for cells below [`Grid::cells`], which [`Self::new`] has checked.
    pub fn at(&self, cell: u64) -> Result<(Rig, f64), InputError> {
        let values = self.grid.values(cell);
        let mut target_deg = self.target_deg.unwrap_or(0.0);
        let mut settings = self.rig.settings().clone();
        for (axis, value) in self.grid.axes().iter().zip(&values) {
            match axis.varied() {
                Varied::Target if is_target(*value) => target_deg = *value,
                Varied::Target => {
                    return Err(self.fault(RigError {
                        key: axis.name().to_owned(),
                        value: value.to_string(),
                        allowed: allowed_target(),
                        partners: Vec::new(),
                    }));
                }
                Varied::Key(key) => key
                    .set(&mut settings, *value)
                    .map_err(|error| self.fault(error))?,
            }
        }
        let rig = Rig::new(settings).map_err(|error| self.fault(error))?;
        Ok((rig, target_deg))
    }

    /// Whether the rig allows the cell, and whether the exact method can handle it if the user wants no other.
    fn check(&self, cell: u64) -> Result<(), InputError> {
        let (rig, target_deg) = self.at(cell)?;
        let Method::Exact(precision) = self.method else {
            return Ok(());
        };
        for rule in &self.rules {
            let scenario = Scenario::new(&rig, Policy::with_rule(&rig, *rule), target_deg);
            check(&scenario, precision).map_err(|unsupported| {
                let values = self.grid.values(cell);
                let axes = self.grid.axes().iter().zip(values);
                let at: Vec<String> = axes
                    .map(|(axis, v)| format!("{} = {v}", axis.name()))
                    .collect();
                InputError::of_file(
                    "--method exact",
                    format!(
                        "can't solve {unsupported} (at {}, {rule}). Use --method auto",
                        at.join(", ")
                    ),
                )
            })?;
        }
        Ok(())
    }

    /// Names the axis at fault in place of the file; both axes if it takes both.
    fn fault(&self, error: RigError) -> InputError {
        let axes = self.grid.axes();
        let own = axes.iter().filter(|a| a.name() == error.key);
        let mut named: Vec<String> = own.map(|a| format!("--vary {a}")).collect();
        if named.is_empty() {
            named = axes.iter().map(|a| format!("--vary {a}")).collect();
        }
        InputError {
            key: error.key,
            value: error.value,
            ..InputError::of_file(&named.join(" "), error.allowed)
        }
    }

    /// The rig whose keys vary.
    #[must_use]
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// The grid of cells.
    #[must_use]
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// The rules, in the order of a cell's rows.
    #[must_use]
    pub fn rules(&self) -> &[Rule] {
        &self.rules
    }

    /// Runs of each rule in each cell, and the seed.
    #[must_use]
    pub fn batch(&self) -> Batch {
        self.batch
    }

    /// How to find the figures.
    #[must_use]
    pub fn method(&self) -> Method {
        self.method
    }

    /// The target \[deg\]; `None` if it varies.
    #[must_use]
    pub fn target_deg(&self) -> Option<f64> {
        self.target_deg
    }

    /// Everything that the rows depend on, except the program: one line each, `name: value`.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let rules: Vec<String> = self.rules.iter().map(ToString::to_string).collect();
        let mut lines = vec![format!("rig: {}", self.rig.digest())];
        lines.extend(self.grid.axes().iter().map(|axis| format!("vary: {axis}")));
        lines.extend(self.target_deg.map(|t| format!("target_deg: {t}")));
        lines.extend([
            format!("rules: {}", rules.join(",")),
            format!("trials: {}", self.batch.trials),
            format!("seed: {}", self.batch.seed),
            format!("cells: {}", self.grid.cells()),
        ]);
        // Running is the default and gets no line.
        if self.method != Method::MonteCarlo {
            lines.push(format!("method: {}", self.method.describe()));
        }
        lines
    }

    /// SHA-256 over the version of the format and [`SweepRequest::lines`], in hexadecimal. Equal digests mean equal
    /// rows.
    #[must_use]
    pub fn digest(&self) -> String {
        digest(&self.lines())
    }
}

/// The digest of the lines of a request.
#[must_use]
pub fn digest(lines: &[impl AsRef<str>]) -> String {
    let mut hash = Sha256::new();
    hash.update(format!("halfturn sweep, format {FORMAT}\n"));
    for line in lines {
        hash.update(line.as_ref());
        hash.update("\n");
    }
    hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::super::Axis;
    use super::*;

    fn request(
        set: &[&str],
        vary: &[&str],
        target_deg: Option<f64>,
        trials: u64,
        seed: u64,
    ) -> Result<SweepRequest, String> {
        let set: Vec<String> = set.iter().map(|s| (*s).to_owned()).collect();
        let rig = crate::rig::read("", "test", &set).map_err(|e| e.to_string())?;
        let axes = vary
            .iter()
            .map(|v| Axis::read(v, &rig))
            .collect::<Result<_, _>>()
            .map_err(|e| e.to_string())?;
        let grid = Grid::new(axes).map_err(|e| e.to_string())?;
        let batch = Batch { trials, seed };
        SweepRequest::new(
            rig,
            grid,
            Rule::ALL.to_vec(),
            batch,
            Method::MonteCarlo,
            target_deg,
        )
        .map_err(|e| e.to_string())
    }

    fn refused(set: &[&str], vary: &[&str], target_deg: Option<f64>) -> String {
        let found = request(set, vary, target_deg, 10, 1);
        found.err().unwrap_or_default()
    }

    #[test]
    fn a_value_out_of_range_names_axis_key_value_and_range() {
        assert_eq!(
            refused(&[], &["loop.tolerance_deg=0:1:5"], Some(0.0)),
            "--vary loop.tolerance_deg=0:1:5: loop.tolerance_deg = 0: must be a number from 0.000001 to 180 deg"
        );
        // Only the end of the second axis is wrong.
        assert_eq!(
            refused(
                &[],
                &["loop.tolerance_deg=0.1:1:5", "solve.failure_rate=0.8:1.2:3"],
                Some(0.0)
            ),
            "--vary solve.failure_rate=0.8:1.2:3: solve.failure_rate = 1.2: must be a number from 0 to 1"
        );
        assert_eq!(
            refused(&[], &["target=0:1e6:3"], None),
            "--vary target=0:1000000:3: target = 500000: must be a number from -360000 to 360000 deg"
        );
        assert_eq!(
            refused(&[], &["wrap.symmetry=1:3:3"], Some(0.0)),
            "--vary wrap.symmetry=1:3:3: wrap.symmetry = 3: must be 1, 2 or 4"
        );
        assert_eq!(
            refused(&[], &["loop.confirm=-1:1:2"], Some(0.0)),
            "--vary loop.confirm=-1:1:2: loop.confirm = -1: must be a whole number from 1 to 1000"
        );
        assert!(refused(&[], &["target=-1e308:1e308:3"], None).contains("target = -1"));
    }

    #[test]
    fn keys_that_do_not_fit_together_name_both_axes() {
        assert_eq!(
            refused(
                &[
                    "drive.travel=stops",
                    "drive.stop_from_deg=0",
                    "drive.stop_to_deg=400",
                    "drive.park_deg=300",
                ],
                &["drive.stop_to_deg=200:400:2", "target=0:1:2"],
                None
            ),
            "--vary drive.stop_to_deg=200:400:2 --vary target=0:1:2: drive.park_deg = 300: must be between the stops, from 0 to 200 deg"
        );
    }

    #[test]
    fn the_target_is_given_once() {
        assert!(refused(&[], &["target=0:1:2"], Some(0.0)).contains("leave it out"));
        assert!(refused(&[], &["loop.confirm=1:2:2"], None).contains("--target: is missing"));
        assert!(refused(&[], &["loop.confirm=1:2:2"], Some(f64::NAN)).contains("--target: must"));
    }

    #[test]
    fn equal_digests_mean_equal_rows() {
        let digest = |set: &[&str], vary: &[&str], target, trials, seed| {
            request(set, vary, target, trials, seed).map(|r| r.digest())
        };
        let one = digest(&[], &["loop.tolerance_deg=0.1:1:5"], Some(0.0), 10, 1);
        assert!(one.is_ok());
        assert_eq!(
            one,
            digest(&[], &["loop.tolerance_deg=.10:1.0:5"], Some(-0.0), 10, 1)
        );
        for other in [
            digest(
                &["drive.step_deg=1"],
                &["loop.tolerance_deg=0.1:1:5"],
                Some(0.0),
                10,
                1,
            ),
            digest(&[], &["loop.tolerance_deg=0.1:1:6"], Some(0.0), 10, 1),
            digest(&[], &["loop.tolerance_deg=0.1:1:5"], Some(0.5), 10, 1),
            digest(&[], &["loop.tolerance_deg=0.1:1:5"], Some(0.0), 11, 1),
            digest(&[], &["loop.tolerance_deg=0.1:1:5"], Some(0.0), 10, 2),
        ] {
            assert!(other.is_ok());
            assert_ne!(one, other);
        }
    }
}
