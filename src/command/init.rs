//! `halfturn init`: starters that run as they are.

use super::args::{Common, InitArgs};
use super::inputs;
use super::reply::{Failure, Reply};
use halfturn_engine::rig::{commented, escape_controls};
use halfturn_engine::scenario::DEMO_TARGETS;
use halfturn_report::{probe_folder, write_files};

pub(super) fn init(common: &Common, args: &InitArgs) -> Result<Reply, Failure> {
    let rig = inputs::rig(None, common)?.value;
    let dir = &args.dir;
    let (rig_file, targets_file) = (dir.join("rig.toml"), dir.join("targets.csv"));
    for file in [&rig_file, &targets_file] {
        if file.exists() || file.is_symlink() {
            return Err(Failure::Argument(format!(
                "{}: exists already. Name another folder",
                file.display()
            )));
        }
    }
    probe_folder(dir, &["rig.toml", "targets.csv"])?;
    let starter = format!(
        "# A rig for halfturn. Change what differs on yours. Units are in the names or in [brackets].\n{}",
        commented(&rig)
    );
    write_files(
        dir,
        vec![
            ("rig.toml".to_owned(), starter.into_bytes()),
            ("targets.csv".to_owned(), DEMO_TARGETS.as_bytes().to_vec()),
        ],
    )?;
    let [rig, targets] =
        [rig_file, targets_file].map(|p| escape_controls(&p.display().to_string()));
    Ok(Reply::done(format!(
        "wrote {rig} and {targets}\nnext: halfturn advise {rig} {targets}\n"
    )))
}
