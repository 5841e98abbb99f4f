//! Files and rules: those that the user names, or the built-in ones.

use std::collections::HashMap;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use super::args::{Common, TargetArg};
use super::reply::Failure;
use halfturn_engine::fit::{Log, read_log};
use halfturn_engine::rig::{
    DEMO_RIG, DEMO_RIG_NAME, Rig, Rule, escape_controls, is_printable_line, read,
};
use halfturn_engine::scenario::{
    DEMO_TARGETS, DEMO_TARGETS_NAME, Target, find_object, read_targets, with_flips,
};
use halfturn_engine::wording::{angle, joined};

use halfturn_sky::night::{RunSheet, read_sheet};
use halfturn_sky::pointing::{Horizon, read_horizon};

/// Largest input file \[bytes\]: far above any real one, and far from filling the memory.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// Largest TOML file \[bytes\]. Every key takes some hundred bytes of memory. A rig with full lists is smaller.
const MOST_TOML_BYTES: u64 = 4 * 1024 * 1024;

/// The usual name of a rig file, and its most bytes.
const RIG_FILE: (&str, u64) = ("rig.toml", MOST_TOML_BYTES);

/// Something read, with its name in messages and reports.
#[derive(Clone)]
pub(super) struct Named<T> {
    pub(super) name: String,
    pub(super) value: T,
}

pub(super) fn rig(path: Option<&Path>, common: &Common) -> Result<Named<Rig>, Failure> {
    rig_with(path, &common.set)
}

pub(super) fn rig_with(path: Option<&Path>, overrides: &[String]) -> Result<Named<Rig>, Failure> {
    Ok(rig_and_text(path, overrides)?.0)
}

/// A rig with the text of its file, read once, because a pipe can be read only once.
pub(super) fn rig_and_text(
    path: Option<&Path>,
    overrides: &[String],
) -> Result<(Named<Rig>, String), Failure> {
    let (name, text) = text(path, DEMO_RIG_NAME, DEMO_RIG, RIG_FILE)?;
    let value = read(&text, &name, overrides)?;
    Ok((Named { name, value }, text))
}

/// A rig that the user may leave out. The defaults of a rig file then stand in for it.
pub(super) fn believed_rig(path: Option<&Path>, common: &Common) -> Result<Named<Rig>, Failure> {
    let (name, text) = text(path, "defaults of a rig file", "", RIG_FILE)?;
    let value = read(&text, &name, &common.set)?;
    Ok(Named { name, value })
}

pub(super) fn log(path: &Path) -> Result<Named<Log>, Failure> {
    let (name, text) = whole(path)?;
    let value = read_log(&text, &name)?;
    Ok(Named { name, value })
}

pub(super) fn horizon(path: &Path) -> Result<Horizon, Failure> {
    let (name, text) = at_most(path, ("horizon.csv", MOST_BYTES))?;
    Ok(read_horizon(&text, &name)?)
}

pub(super) fn sheet(path: &Path) -> Result<RunSheet, Failure> {
    let (name, text) = at_most(path, ("sheet.csv", MOST_BYTES))?;
    Ok(read_sheet(&text, &name)?)
}

/// The targets of one list after the other, each target followed by itself after a flip if `flips`; the demo's without a
/// list.
pub(super) fn targets(paths: &[PathBuf], flips: bool) -> Result<Named<Vec<Target>>, Failure> {
    let mut names: Vec<String> = Vec::new();
    let mut value: Vec<Target> = Vec::new();
    let mut known: HashMap<String, String> = HashMap::new();
    let given = paths.iter().map(|path| Some(path.as_path()));
    let built_in = paths.is_empty().then_some(None);
    for path in given.chain(built_in) {
        let kind = ("targets.csv", MOST_BYTES);
        let (file, text) = text(path, DEMO_TARGETS_NAME, DEMO_TARGETS, kind)?;
        for target in read_targets(&text, &file)? {
            if let Some(other) = known.insert(target.name.clone(), file.clone())
                && paths.len() > 1
            {
                return Err(Failure::Argument(format!(
                    "{file}: {:?} is also a name in {other}. Give each target another name",
                    target.name
                )));
            }
            value.push(target);
        }
        names.push(file);
    }
    if flips {
        value = with_flips(value);
    }
    let name = joined(&names);
    Ok(Named { name, value })
}

/// The position angle of `--target` \[deg\], and what to call it: an angle as it is, or a target of a list by words of its
/// name, or by that of the object at its place.
pub(super) fn target(
    wanted: &TargetArg,
    rig: Option<&Path>,
    lists: &[PathBuf],
) -> Result<(String, f64), Failure> {
    let refused = |problem: String| Err(Failure::Argument(problem));
    let name = match wanted {
        TargetArg::Angle(angle_deg) if lists.is_empty() => {
            return Ok((angle(*angle_deg), *angle_deg));
        }
        TargetArg::Angle(angle_deg) => {
            return refused(format!(
                "--target {angle_deg}: is an angle. Leave the targets file out, or give a name in it"
            ));
        }
        TargetArg::Name(name) => name,
    };
    if rig.is_some() && lists.is_empty() {
        return refused(format!(
            "--target {name}: is a name. Give its position angle in degrees, or the targets file with that name after the rig file"
        ));
    }
    let list = targets(lists, false)?;
    let words = |text: &str| format!(" {} ", text.trim().to_lowercase());
    let called = |t: &&Target| words(&t.name).contains(&words(name));
    let object = find_object(name).ok();
    let there = |t: &&Target| {
        let place = t.ra_deg.zip(t.dec_deg);
        place
            .zip(object)
            .is_some_and(|((ra, dec), o)| ra == o.ra_deg && dec == o.dec_deg)
    };
    let same = |t: &&Target| words(&t.name) == words(name);
    let mut found: Vec<&Target> = list.value.iter().filter(same).collect();
    if found.is_empty() {
        found = list.value.iter().filter(called).collect();
    }
    if found.is_empty() {
        found = list.value.iter().filter(there).collect();
    }
    match found.as_slice() {
        [one] => Ok((
            format!("{} ({})", one.name, angle(one.position_angle_deg)),
            one.position_angle_deg,
        )),
        [] => {
            /// Most names in a message.
            const NAMED: usize = 5;
            let names = list.value.iter().take(NAMED).map(|t| t.name.clone());
            let names = joined(&names.collect::<Vec<_>>());
            let more = if list.value.len() > NAMED {
                " and more"
            } else {
                ""
            };
            refused(format!(
                "--target {name}: is no name in {}, which has {names}{more}. Give one of them, or a position angle in degrees",
                list.name
            ))
        }
        several => refused(format!(
            "--target {name}: could be {} targets of {}. Give the whole name",
            several.len(),
            list.name
        )),
    }
}

pub(super) fn certificate_text(path: &Path) -> Result<String, Failure> {
    Ok(at_most(path, ("advice.toml", MOST_TOML_BYTES))?.1)
}

/// The warnings about a rig, unless the user wants none.
pub(super) fn warnings(rig: &Rig, common: &Common) -> Vec<String> {
    if common.quiet {
        return Vec::new();
    }
    rig.warnings().iter().map(ToString::to_string).collect()
}

/// The rules that the user asked for, each once, in the given order; by default all.
pub(super) fn rules(asked: &[Rule]) -> Vec<Rule> {
    let mut rules: Vec<Rule> = Vec::new();
    for rule in if asked.is_empty() { Rule::ALL } else { asked } {
        if !rules.contains(rule) {
            rules.push(*rule);
        }
    }
    rules
}

fn text(
    path: Option<&Path>,
    built_in_name: &str,
    built_in: &str,
    kind: (&str, u64),
) -> Result<(String, String), Failure> {
    match path {
        Some(path) => at_most(path, kind),
        None => Ok((built_in_name.to_owned(), built_in.to_owned())),
    }
}

/// Name and text of a file.
pub(super) fn whole(path: &Path) -> Result<(String, String), Failure> {
    at_most(path, ("log.csv", MOST_BYTES))
}

/// The name and the text of a file, of which the usual name and the most bytes are given.
fn at_most(
    path: &Path,
    (usual_name, most_bytes): (&str, u64),
) -> Result<(String, String), Failure> {
    let name = path.display().to_string();
    if !is_printable_line(&name) {
        return Err(Failure::Argument(format!(
            "{}: the name of a file must be one line without control characters. Rename it",
            escape_controls(&name)
        )));
    }
    if path.is_dir() {
        let inside = path.join(usual_name);
        return Err(Failure::Argument(if inside.is_file() {
            format!(
                "{name}: is a folder. Give the file in it: {}",
                inside.display()
            )
        } else {
            format!("{name}: is a folder. Give a file, such as {usual_name}")
        }));
    }
    let failed = |source| Failure::Read {
        file: name.clone(),
        source,
    };
    // It cannot go by the length, because a device or a pipe has none.
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(most_bytes + 1).read_to_end(&mut bytes))
        .map_err(failed)?;
    if bytes.len() as u64 > most_bytes {
        return Err(Failure::Argument(format!(
            "{name}: is too long. Give a file of at most {most_bytes} bytes"
        )));
    }
    let text = String::from_utf8(bytes)
        .map_err(|e| Failure::Argument(format!("{name}: {}", not_utf8(e.as_bytes()))))?;
    Ok((name, text))
}

/// The message for a file that is not UTF-8 text. Spreadsheets write UTF-16 as "Unicode text".
fn not_utf8(bytes: &[u8]) -> String {
    let kind = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => " but UTF-16",
        _ => "",
    };
    format!("is not UTF-8 text{kind}. Save it as UTF-8, in a spreadsheet as \"CSV UTF-8\"")
}
