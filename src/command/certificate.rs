//! `halfturn advise --check` proves a certificate again, and `--write` writes the rig file with the changes.

use std::path::{Path, PathBuf};

use super::args::{AdviseArgs, Common};
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use halfturn_engine::advise::Certificate;
use halfturn_engine::rig::{DEMO_RIG_NAME, InputError, Rig, rewrite_keeping_comments};
use halfturn_engine::scenario::DEMO_TARGETS_NAME;
use halfturn_report::{check_document, check_json, write_new_file};

/// Proves a certificate again.
pub(super) fn check(
    path: &Path,
    common: &Common,
    args: &AdviseArgs,
    watch: &Watch,
) -> Result<Reply, Failure> {
    let text = inputs::certificate_text(path)?;
    let name = path.display().to_string();
    let certificate = Certificate::read(&text, &name)?;
    let own = |file: &str, built_in: &str| (file != built_in).then(|| PathBuf::from(file));
    let rig_path = args
        .rig
        .clone()
        .or_else(|| own(&certificate.rig_file, DEMO_RIG_NAME));
    let lists = if args.targets.is_empty() {
        let more = certificate.more_targets_files.iter();
        let files = std::iter::once(&certificate.targets_file).chain(more);
        files
            .filter_map(|file| own(file, DEMO_TARGETS_NAME))
            .collect()
    } else {
        args.targets.clone()
    };
    let rig = inputs::rig(rig_path.as_deref(), common)?.value;
    let targets = inputs::targets(&lists, certificate.flips)?.value;
    Outputs::default().check(
        common,
        &[Some(path), rig_path.as_deref()]
            .into_iter()
            .chain(lists.iter().map(|list| Some(list.as_path())))
            .collect::<Vec<_>>(),
    )?;
    let now = certificate.compare(&rig);
    let mut changed = common.set.clone();
    changed.extend(certificate.overrides());
    // The rig was read with the user's overrides already. A failure now comes from the certificate.
    let advised = inputs::rig_with(rig_path.as_deref(), &changed).map_err(|e| match e {
        Failure::Input(fault) => Failure::Input(InputError {
            file: format!("{name}: [change]"),
            line: None,
            ..fault
        }),
        other => other,
    })?;
    let advised = advised.value;
    let seed = common.seed.unwrap_or(certificate.seed);
    watch.expect((targets.len() as u64).saturating_mul(certificate.trials));
    let proved = certificate.prove(&advised, &targets, seed, watch)?;
    watch.finish();
    let mut reply = Reply::done(check_document(&certificate, &now, &proved, seed));
    reply.warnings = inputs::warnings(&advised, common);
    if !proved.holds() {
        reply.exit = Exit::BadNews;
    }
    if common.json.is_some() {
        reply.json(
            common,
            &check_json(&certificate, &now, &proved, &advised, seed),
        )?;
    }
    Ok(reply)
}

/// Where `--write` puts the new rig file: beside the old one, or where the user says.
pub(super) fn new_rig_path(args: &AdviseArgs) -> Option<PathBuf> {
    let given = args.write.as_ref()?;
    Some(given.clone().unwrap_or_else(|| {
        let rig = args
            .rig
            .clone()
            .unwrap_or_else(|| PathBuf::from("demo-rig.toml"));
        rig.with_extension("advised.toml")
    }))
}

/// Refuses a path that exists, before any work.
pub(super) fn check_new(path: &Path) -> Result<(), Failure> {
    if path.symlink_metadata().is_ok() {
        return Err(Failure::Argument(format!(
            "{}: exists already, and --write replaces no file. Give another name with --write=FILE",
            path.display()
        )));
    }
    Ok(())
}

/// Writes the rig file with the advised changes.
pub(super) fn write_rig(path: &Path, text: &str, advised: &Rig) -> Result<(), Failure> {
    let new = rewrite_keeping_comments(text, advised);
    Ok(write_new_file(path, new.as_bytes())?)
}
