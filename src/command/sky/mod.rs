//! `halfturn sky …`: the panels of a mosaic, a night of targets, field rotation, the angles of FITS headers.

mod field;
mod fits;
mod night;
mod output;
mod panels;
mod values;

use clap::{Args, Subcommand};

use super::args::Common;
use super::monitor;
use super::reply::{Failure, Reply};

/// Lay out a mosaic, plan a night, follow field rotation, or read angles from FITS headers.
#[derive(Debug, Args)]
pub(super) struct SkyArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Panels(panels::PanelsArgs),
    Night(night::NightArgs),
    FieldRotation(field::FieldArgs),
    Fits(fits::FitsArgs),
}

pub(super) fn sky(common: &Common, args: &SkyArgs) -> Result<Reply, Failure> {
    match &args.what {
        What::Panels(args) => monitor::in_pool(common, |m| panels::panels(common, args, m))?,
        What::Night(args) => monitor::in_pool(common, |m| night::night(common, args, m))?,
        What::FieldRotation(args) => monitor::in_pool(common, |m| field::field(common, args, m))?,
        What::Fits(args) => fits::fits(common, args),
    }
}
