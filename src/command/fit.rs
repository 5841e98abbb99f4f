//! `halfturn fit`: the rig's errors from a log.

use std::path::Path;

use super::args::{Common, FitArgs};
use super::inputs;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use crate::fit::fit as estimate;
use crate::report::{PictureFormat, fit_json, fit_table};

pub(super) fn fit(common: &Common, args: &FitArgs) -> Result<Reply, Failure> {
    let rig = inputs::believed_rig(args.rig.as_deref(), common)?.value;
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    outputs.check(common, &[args.rig.as_deref(), args.log.as_deref()])?;
    let log = inputs::log(args.log.as_deref().unwrap_or(Path::new("-")))?;
    let found = estimate(&log.value, rig.settings())
        .map_err(|e| Failure::Argument(format!("{}: {e}", log.name)))?;
    let mut reply = Reply::done(fit_table(&log.name, &found));
    reply.json(common, &fit_json(&found))?;
    Ok(reply)
}
