//! `halfturn merge`: the shards of a sweep into one table.

use super::args::{Common, MergeArgs};
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use halfturn_engine::wording::grouped;
use halfturn_report::sweep::{
    Gathered, merge as merge_shards, merge_json, sweep_document, sweep_picture,
};
use halfturn_report::{PictureFormat, write_picture};

pub(super) fn merge(common: &Common, args: &MergeArgs) -> Result<Reply, Failure> {
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    let shards: Vec<_> = args.shards.iter().map(|s| Some(s.as_path())).collect();
    outputs.check(common, &shards)?;
    let mut gathered = Gathered::later(args.plot.is_some() || common.json.is_some());
    let merged = merge_shards(&args.out, args.force, &args.shards, &mut gathered)?;
    if let Some(path) = &args.plot {
        write_picture(path, &sweep_picture(&merged.head, &gathered)?)?;
    }
    let about = format!(
        "{} cells of {} shards",
        grouped(merged.head.cells()),
        grouped(merged.shards)
    );
    let mut reply = Reply::done(sweep_document(&about, &merged.head, &gathered));
    reply.said.wrote(&args.out);
    if common.json.is_some() {
        reply.json(common, &merge_json(&merged, &gathered))?;
    }
    Ok(reply)
}
