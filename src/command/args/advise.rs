//! The arguments of `advise`.

use std::path::PathBuf;

use clap::Args;

use super::{LimitArgs, MOST_TRIALS, flat_angle, one_of, positive, share, whole};
use halfturn_engine::advise::{AllowedChanges, Changeable, Criteria, RobustnessRequest};

/// Judge every target of the night, recommend arc, tolerance, rule and band with a proof, and write the
/// report.
#[derive(Debug, Args)]
pub(in crate::command) struct AdviseArgs {
    /// Rig file; the built-in demo rig without it.
    pub(in crate::command) rig: Option<PathBuf>,
    /// Targets file; the built-in demo targets without it.
    pub(in crate::command) targets: Option<PathBuf>,
    /// Folder for the report; made if it is not there.
    #[arg(long, value_name = "DIR", default_value = "halfturn-report")]
    pub(in crate::command) out: PathBuf,
    /// Runs for every target: for the proof, and for the verdict where a loop cannot be solved.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: u64,
    /// What counts as safe.
    #[command(flatten)]
    pub(in crate::command) limits: LimitArgs,
    /// Take only an arc that, band included, is clear of every keep-out.
    #[arg(long)]
    pub(in crate::command) clear_of_keep_outs: bool,
    /// Judge every target also after a meridian flip, which turns the field by 180 degrees: the drive begins where the loop
    /// of the target has left it.
    #[arg(long)]
    pub(in crate::command) flips: bool,
    /// Probability with which the bound on the residual after a swing may be exceeded.
    #[arg(long = "tail-probability", value_name = "SHARE", default_value_t = 0.001, value_parser = share)]
    pub(in crate::command) tail: f64,
    /// Largest share of the frame that may be lost between nights framed at either end of the tolerance.
    #[arg(long, value_name = "SHARE", default_value_t = 0.02, value_parser = share)]
    pub(in crate::command) max_lost_area: f64,
    /// Share of a mosaic's overlap that must be left at the corners of its panels.
    #[arg(long = "min-overlap", value_name = "SHARE", default_value_t = 0.5, value_parser = share)]
    pub(in crate::command) mosaic_keep: f64,
    /// Largest displacement of the frame's corner, in pixels [default: no limit].
    #[arg(long, value_name = "PX", value_parser = positive)]
    pub(in crate::command) max_corner_px: Option<f64>,
    /// How far the drive angle of a flat may be from that of a light frame.
    #[arg(long, value_name = "DEG", default_value_t = 1.0, value_parser = flat_angle)]
    pub(in crate::command) flats_within: f64,
    /// Change only these settings, parted by commas: arc, tolerance, band, rule, approach [default: all].
    #[arg(long, value_name = "KEYS", value_delimiter = ',', value_parser = one_of(Changeable::ALL))]
    pub(in crate::command) change: Option<Vec<Changeable>>,
    /// Also write a new rig file with the advised settings, RIG.advised.toml or another name; never over a file
    /// that is there.
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true)]
    pub(in crate::command) write: Option<Option<PathBuf>>,
    /// Fit this log first, take the fitted rig, and try the advice on rigs drawn from what the log leaves open; RIG
    /// gives the settings and what is believed so far.
    #[arg(long, value_name = "LOG")]
    pub(in crate::command) uncertain: Option<PathBuf>,
    /// Rigs to draw.
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = whole::<u32>(1, 10_000), allow_negative_numbers = true, requires = "uncertain")]
    pub(in crate::command) draws: u32,
    /// Share of the drawn rigs for which every target should be safe.
    #[arg(long = "min-share", value_name = "SHARE", default_value_t = 0.95, value_parser = share, requires = "uncertain")]
    pub(in crate::command) hold: f64,
    /// Print every table, not the answer alone.
    #[arg(long)]
    pub(in crate::command) details: bool,
    /// Prove a certificate again instead, with its own files, or with RIG and TARGETS.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["out", "draws", "hold", "write", "flips", "max_fault", "max_solves", "settle_chance", "trials", "tail", "max_lost_area", "mosaic_keep", "max_corner_px", "clear_of_keep_outs", "flats_within", "change", "uncertain", "details"])]
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
