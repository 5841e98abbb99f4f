//! `halfturn schema`: the JSON Schemas of files and results.

use std::fmt::Write as _;

use super::args::SchemaArgs;
use super::reply::{Failure, Reply};
use halfturn_engine::rig::escape_controls;

pub(super) fn schema(args: &SchemaArgs) -> Result<Reply, Failure> {
    let Some(name) = &args.name else {
        let mut text = String::new();
        for (name, title) in halfturn_report::schema_names() {
            let _ = writeln!(text, "{name:<20}{title}");
        }
        return Ok(Reply::done(text));
    };
    let schema = halfturn_report::schema(name).ok_or_else(|| {
        let names: Vec<&str> = halfturn_report::schema_names()
            .iter()
            .map(|(name, _)| *name)
            .collect();
        Failure::Argument(format!(
            "schema {}: must be one of {}",
            escape_controls(name),
            names.join(", ")
        ))
    })?;
    Ok(Reply::done(format!("{schema:#}\n")))
}
