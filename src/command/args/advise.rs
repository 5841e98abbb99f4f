//! The arguments of `advise`.

use std::path::PathBuf;

use clap::Args;

use super::{LimitArgs, MOST_TRIALS, flat_angle, one_of, positive, share, whole};
use halfturn_engine::advise::{AllowedChanges, Changeable, Criteria, RobustnessRequest};

/// Find the best arc and settings for the night's targets, and write the report.
#[derive(Debug, Args)]
pub(in crate::command) struct AdviseArgs {
    /// Rig file [default: the built-in demo rig].
    pub(in crate::command) rig: Option<PathBuf>,
    /// Targets files [default: with a rig file every target angle, without one the built-in demo targets].
    pub(in crate::command) targets: Vec<PathBuf>,
    /// Judge every target angle instead of a list, as with RIG alone.
    #[arg(long, conflicts_with_all = ["targets", "flips", "uncertain"])]
    pub(in crate::command) any_target: bool,
    /// Folder for the report.
    #[arg(long, value_name = "DIR", default_value = "halfturn-report")]
    pub(in crate::command) out: PathBuf,
    /// Runs of every target, in the proof and where the exact method can't solve the loop.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: u64,
    /// What counts as safe.
    #[command(flatten)]
    pub(in crate::command) limits: LimitArgs,
    /// Advise only an arc that touches no keep-out, with its band.
    #[arg(long)]
    pub(in crate::command) clear_of_keep_outs: bool,
    /// Judge every target also after a meridian flip.
    #[arg(long)]
    pub(in crate::command) flips: bool,
    /// Share of the solves that may exceed the bound on the residual after a long swing.
    #[arg(long = "tail-probability", value_name = "SHARE", default_value_t = 0.001, value_parser = share)]
    pub(in crate::command) tail: f64,
    /// Largest share of the frame that two nights may lose to each other.
    #[arg(long, value_name = "SHARE", default_value_t = 0.02, value_parser = share)]
    pub(in crate::command) max_lost_area: f64,
    /// Share of a mosaic's overlap that must be left at its corners.
    #[arg(long = "min-overlap", value_name = "SHARE", default_value_t = 0.5, value_parser = share)]
    pub(in crate::command) mosaic_keep: f64,
    /// Largest move of the frame's corner, in pixels [default: no limit].
    #[arg(long, value_name = "PX", value_parser = positive)]
    pub(in crate::command) max_corner_px: Option<f64>,
    /// Largest difference in drive angle between a flat and its light frames.
    #[arg(long, value_name = "DEG", default_value_t = 1.0, value_parser = flat_angle)]
    pub(in crate::command) flats_within: f64,
    /// Change only these settings: arc, tolerance, band, rule, approach, with commas between them [default: all].
    #[arg(long, value_name = "KEYS", value_delimiter = ',', value_parser = one_of(Changeable::ALL))]
    pub(in crate::command) change: Option<Vec<Changeable>>,
    /// Also write a rig file with the advised settings [default: RIG.advised.toml]. An existing file stays as it is.
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true)]
    pub(in crate::command) write: Option<Option<PathBuf>>,
    /// Fit this log, advise for that rig, and try the advice on other rigs that fit as well.
    #[arg(long, value_name = "LOG")]
    pub(in crate::command) uncertain: Option<PathBuf>,
    /// Number of other rigs to try.
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = whole::<u32>(1, 10_000), allow_negative_numbers = true, requires = "uncertain")]
    pub(in crate::command) draws: u32,
    /// Share of those rigs on which every target should be safe.
    #[arg(long = "min-share", value_name = "SHARE", default_value_t = 0.95, value_parser = share, requires = "uncertain")]
    pub(in crate::command) hold: f64,
    /// Put the page and its engine into the report, so that its reader can try other settings: 1.5 MB more.
    #[arg(long, conflicts_with = "any_target")]
    pub(in crate::command) with_engine: bool,
    /// Print every table.
    #[arg(long)]
    pub(in crate::command) details: bool,
    /// Prove this certificate again, with its own files or with RIG and TARGETS.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["out", "draws", "hold", "write", "flips", "max_fault", "max_solves", "settle_chance", "trials", "tail", "max_lost_area", "mosaic_keep", "max_corner_px", "clear_of_keep_outs", "flats_within", "change", "uncertain", "with_engine", "details", "any_target"])]
    pub(in crate::command) check: Option<PathBuf>,
}

impl AdviseArgs {
    /// What the user asks of the drawn rigs.
    pub(in crate::command) fn robustness(&self) -> RobustnessRequest {
        RobustnessRequest {
            draws: self.draws,
            hold: self.hold,
        }
    }

    /// The answer is for every target angle.
    pub(in crate::command) fn of_any_target(&self) -> bool {
        let rig_alone = self.rig.is_some() && self.targets.is_empty();
        self.any_target || rig_alone && !self.flips && self.uncertain.is_none()
    }

    /// What may change.
    pub(in crate::command) fn changes(&self) -> AllowedChanges {
        self.change
            .as_deref()
            .map_or_else(AllowedChanges::default, AllowedChanges::only)
    }

    /// What the user asks of the settings.
    pub(in crate::command) fn criteria(&self) -> Criteria {
        Criteria {
            tail: self.tail,
            max_lost_area: self.max_lost_area,
            mosaic_keep: self.mosaic_keep,
            max_corner_px: self.max_corner_px,
            clear_of_keep_outs: self.clear_of_keep_outs,
            flats_within_deg: self.flats_within,
        }
    }
}
