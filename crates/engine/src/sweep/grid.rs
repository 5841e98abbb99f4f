//! The grid of the axes: the values of each cell, and the cells of each shard.

use std::fmt;

use super::axis::Axis;
use crate::rig::InputError;

const MOST_CELLS: u64 = 10_000_000;

const MOST_SHARDS: u64 = 100_000;

/// A grid of one or two axes. Cells count from 0, and the values of the last axis change fastest.
#[derive(Debug, Clone)]
pub struct Grid {
    axes: Vec<Axis>,
}

impl Grid {
    /// A grid of one or two axes with different names.
    ///
    /// # Errors
    /// [`InputError`] for more axes, two with one name, or too many cells.
    pub fn new(axes: Vec<Axis>) -> Result<Self, InputError> {
        let refuse = |problem: String| Err(InputError::of_file("--vary", problem));
        if !(1..=2).contains(&axes.len()) {
            return refuse("give it once or twice".to_owned());
        }
        if axes.len() == 2 && axes[0].name() == axes[1].name() {
            return refuse(format!("stands twice: {}", axes[0].name()));
        }
        let grid = Self { axes };
        let cells = grid.cells();
        if cells > MOST_CELLS {
            return refuse(format!(
                "the grid has {cells} cells, but may have at most {MOST_CELLS}. Give a smaller COUNT"
            ));
        }
        Ok(grid)
    }

    /// The axes, in the given order.
    #[must_use]
    pub fn axes(&self) -> &[Axis] {
        &self.axes
    }

    /// Number of cells.
    #[must_use]
    pub fn cells(&self) -> u64 {
        self.axes.iter().map(|a| a.values().len() as u64).product()
    }

    /// The values of a cell, one for each axis. `cell` must be below [`Grid::cells`].
    #[must_use]
    pub fn values(&self, cell: u64) -> Vec<f64> {
        let mut rest = cell;
        let mut values: Vec<f64> = self
            .axes
            .iter()
            .rev()
            .map(|axis| {
                let count = axis.values().len() as u64;
                let value = axis.values()[(rest % count) as usize];
                rest /= count;
                value
            })
            .collect();
        values.reverse();
        values
    }
}

/// One part of a sweep, to run separately: every cell whose number leaves the remainder `number - 1` when divided by
/// `of`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Number of the part, from 1.
    pub number: u64,
    /// How many parts the sweep has.
    pub of: u64,
}

impl Shard {
    /// The whole sweep as one part.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Reads `I/N`.
    ///
    /// # Errors
    /// What is allowed, in words.
    pub fn read(text: &str) -> Result<Self, String> {
        let read = |text: &str| text.parse::<u64>().ok();
        text.split_once('/')
            .and_then(|(number, of)| {
                let shard = Self {
                    number: read(number)?,
                    of: read(of)?,
                };
                let fits = (1..=shard.of).contains(&shard.number) && shard.of <= MOST_SHARDS;
                fits.then_some(shard)
            })
            .ok_or_else(|| {
                format!("must be I/N, such as 2/6, with I from 1 to N and N up to {MOST_SHARDS}")
            })
    }

    /// The shard's cells in a grid of `cells` cells, in order, without the first `done` of them.
    pub fn cells(self, cells: u64, done: u64) -> impl Iterator<Item = u64> {
        let first = (self.number - 1).saturating_add(done.saturating_mul(self.of));
        (first..cells).step_by(usize::try_from(self.of).unwrap_or(usize::MAX))
    }

    /// Number of the shard's cells in a grid of `cells` cells.
    #[must_use]
    pub fn size(self, cells: u64) -> u64 {
        cells.saturating_sub(self.number - 1).div_ceil(self.of)
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(given: &[&str]) -> Result<Grid, String> {
        let rig =
            crate::rig::Rig::new(crate::rig::RigSettings::default()).map_err(|e| e.to_string())?;
        let axes = given
            .iter()
            .map(|g| Axis::read(g, &rig).map_err(|e| e.to_string()))
            .collect::<Result<_, _>>()?;
        Grid::new(axes).map_err(|e| e.to_string())
    }

    #[test]
    fn the_last_axis_changes_fastest() {
        let grid =
            grid(&["target=0:1:2", "loop.max_solves=1:3:3"]).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(grid.cells(), 6);
        let all: Vec<_> = (0..6).map(|c| grid.values(c)).collect();
        let expected = [(0, 1), (0, 2), (0, 3), (1, 1), (1, 2), (1, 3)];
        assert_eq!(all, expected.map(|(a, b)| vec![f64::from(a), f64::from(b)]));
    }

    #[test]
    fn a_grid_has_its_limits() {
        let says = |given: &[&str]| grid(given).err().unwrap_or_default();
        assert!(says(&[]).contains("once or twice"));
        assert!(says(&["target=0:1:2"; 2]).contains("stands twice: target"));
        let three = [
            "target=0:1:2",
            "loop.max_solves=1:3:3",
            "drive.park_deg=0:1:2",
        ];
        assert!(says(&three).contains("once or twice"));
        let many = ["target=0:1:100000", "drive.park_deg=0:1:101"];
        assert!(says(&many).contains("10100000 cells, but may have at most 10000000"));
        assert!(grid(&["target=0:1:100000", "drive.park_deg=0:1:100"]).is_ok());
    }

    #[test]
    fn shards_share_out_every_cell_once() {
        for cells in [0, 1, 5, 60, 61] {
            for of in [1, 2, 6, 100] {
                let mut all: Vec<u64> = Vec::new();
                for number in 1..=of {
                    let shard = Shard { number, of };
                    let own: Vec<u64> = shard.cells(cells, 0).collect();
                    assert_eq!(own.len() as u64, shard.size(cells));
                    assert!(own.iter().all(|c| c % of == number - 1));
                    let rest: Vec<u64> = shard.cells(cells, 2).collect();
                    assert_eq!(rest, own.get(2..).unwrap_or_default());
                    all.extend(own);
                }
                all.sort_unstable();
                assert_eq!(all, (0..cells).collect::<Vec<_>>(), "{cells}/{of}");
            }
        }
    }

    #[test]
    fn shards_are_read_strictly() {
        assert_eq!(Shard::read("2/6"), Ok(Shard { number: 2, of: 6 }));
        for bad in [
            "", "1", "0/6", "7/6", "1/0", "-1/6", "1/6/2", "a/b", "1/100001",
        ] {
            assert!(Shard::read(bad).is_err(), "{bad}");
        }
    }
}
