//! `halfturn sky fits`: the position angles in FITS headers, and the frames of a night against its run sheet.

use std::path::{Path, PathBuf};

use clap::Args;

use super::super::Exit;
use super::super::args::Common;
use super::super::inputs;
use super::super::reply::{Failure, Reply, Said};
use super::output::{check_outputs, write_or_show};
use halfturn_engine::fit::MOST_ROWS;
use halfturn_engine::rig::{InputError, escape_controls};
use halfturn_report::{Against, Frames, NamedImage, Refusal, fits_document, fits_json, fits_log};
use halfturn_sky::fits::{FitsError, Image, read_image};
use halfturn_sky::night::{Morning, RunSheet, Seen};
use halfturn_sky::time::Moment;

/// Read position angle, reading, parity, skew and scale from headers of solved FITS files.
#[derive(Debug, Args)]
pub(super) struct FitsArgs {
    /// FITS files, or folders with FITS files.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Write a log for fit (- for standard output).
    #[arg(long, value_name = "FILE", requires = "reading_key")]
    log: Option<PathBuf>,
    /// Header key with the drive's reading [default: the only one in every header with ROT in its name].
    #[arg(long, value_name = "KEY")]
    reading_key: Option<String>,
    /// Put the frames beside the run sheet of sky night (.csv).
    #[arg(long, value_name = "FILE", conflicts_with = "log")]
    against: Option<PathBuf>,
    /// Rig file: refuse the sheet of another rig.
    #[arg(long, value_name = "FILE", requires = "against")]
    rig: Option<PathBuf>,
    /// Replace an existing file.
    #[arg(long)]
    force: bool,
}

pub(super) fn fits(common: &Common, args: &FitsArgs) -> Result<Reply, Failure> {
    if !common.set.is_empty() && args.rig.is_none() {
        return Err(Failure::Argument(
            "--set: sky fits reads no rig. Leave it out".to_owned(),
        ));
    }
    let sheet = args
        .against
        .as_deref()
        .map(|path| sheet(common, args, path))
        .transpose()?;
    let mut frames = Frames::default();
    let mut files = Vec::new();
    for path in &args.files {
        if path.is_dir() {
            files.extend(in_folder(path, &mut frames.skipped)?);
        } else {
            files.push(path.clone());
        }
    }
    let given = [args.against.as_deref(), args.rig.as_deref()];
    let read: Vec<Option<&Path>> = files
        .iter()
        .map(|p| Some(p.as_path()))
        .chain(given)
        .collect();
    check_outputs(common, "--log", args.log.as_deref(), args.force, &read)?;
    let mut images = Vec::new();
    for path in &files {
        let file = escape_controls(&path.display().to_string());
        match std::fs::File::open(path)
            .map_err(FitsError::from)
            .and_then(|open| read_image(std::io::BufReader::new(open)))
        {
            Ok(image) => images.push((file, image)),
            Err(e) => frames.refuse(file, &e),
        }
    }
    frames.reading_key = args
        .reading_key
        .clone()
        .or_else(|| only_rotator_key(&images));
    for (file, image) in images {
        match NamedImage::of(file.clone(), &image, frames.reading_key.as_deref()) {
            Ok(image) => frames.images.push(image),
            Err(e) => frames.refuse(file, &e),
        }
    }
    let mut warnings: Vec<String> = Vec::new();
    let mut complete = frames.refused.is_empty() && !frames.images.is_empty();
    let mut good = true;
    if let Some((name, sheet)) = sheet
        && !frames.images.is_empty()
    {
        let against = against(&frames, sheet, &name, &mut warnings)?;
        good = against.holds();
        frames.against = Some(against);
    }
    let mut said = Said::from(fits_document(&frames));
    if let Some(path) = &args.log {
        let mirrored = mirrored(&frames);
        let count = frames.images.len();
        if count == 0 || count > MOST_ROWS {
            let problem =
                format!("no log was written: {count} frames, but fit reads 1 to {MOST_ROWS}");
            warnings.push(problem);
        } else if mirrored != 0 && mirrored != count {
            complete = false;
            warnings.push(format!(
                "no log was written: {mirrored} of {count} frames are mirrored, so their angles turn the other way. Read them in a run of their own"
            ));
        } else {
            if mirrored != 0 {
                warnings.push(format!(
                    "all {count} frames of the log are mirrored: fit will find the sense of the mirror image. Use it only if every frame of your rig is mirrored"
                ));
            }
            write_or_show(path, fits_log(&frames), &mut said)?;
        }
    }
    // Not dropped by --quiet: these are errors, though the others are reported.
    let refused = frames.refused.iter();
    warnings.extend(refused.map(|r| format!("{}: refused: {}", r.file, r.why)));
    let mut reply = Reply::done(said);
    if !complete {
        reply.exit = Exit::WrongInput;
    } else if !good {
        reply.exit = Exit::BadNews;
    }
    reply.warnings = warnings;
    reply.json(common, &fits_json(&frames))?;
    Ok(reply)
}

/// The sheet and its name; refused if it was made for another rig than the given one.
fn sheet(common: &Common, args: &FitsArgs, path: &Path) -> Result<(String, RunSheet), Failure> {
    let sheet = inputs::sheet(path)?;
    let name = path.display().to_string();
    if let Some(rig) = &args.rig {
        let rig = inputs::rig(Some(rig), common)?;
        if rig.value.digest() != sheet.rig_digest {
            return Err(Failure::Input(InputError {
                file: name,
                line: Some(sheet.first_line),
                key: "rig_digest".to_owned(),
                value: sheet.rig_digest,
                allowed: format!(
                    "the sheet is not of {} as it is now. Give the rig file of that night, or make the sheet again by sky night --sheet",
                    rig.name
                ),
            }));
        }
    }
    Ok((name, sheet))
}

/// The frames beside a sheet.
fn against(
    frames: &Frames,
    sheet: RunSheet,
    name: &str,
    warnings: &mut Vec<String>,
) -> Result<Against, Failure> {
    if frames.reading_key.is_none() {
        return Err(Failure::Argument(
            "--reading-key is missing: no key of the headers holds readings for certain. Name it"
                .to_owned(),
        ));
    }
    let mirrored = mirrored(frames);
    let (mut seen, mut without) = (Vec::new(), Vec::new());
    for image in &frames.images {
        let at = image.time.as_ref().and_then(|t| Moment::from_seconds(t.1));
        match (at, image.reading_deg()) {
            (Some(at), Some(reading_deg)) => seen.push(Seen {
                file: image.file.clone(),
                at,
                target: image.object.clone(),
                reading_deg,
                position_angle_deg: image.orientation.position_angle_deg,
            }),
            _ => without.push(image.file.as_str()),
        }
    }
    if mirrored != 0 && mirrored != frames.images.len() {
        return Err(Failure::Argument(format!(
            "{mirrored} of {} frames are mirrored, so their angles turn the other way. Give the mirrored and the others in runs of their own",
            frames.images.len()
        )));
    }
    if !without.is_empty() {
        warnings.push(format!(
            "not beside the sheet, without a time in DATE-OBS: {}",
            without.join(", ")
        ));
    }
    let morning = Morning::of(&sheet, seen);
    if morning.frames.is_empty() {
        let first = sheet.rows.first().map_or_else(String::new, |r| r.at.iso());
        return Err(Failure::Argument(format!(
            "{name}: no frame was made in its night, which begins at {first}. Give the sheet of the night of these frames"
        )));
    }
    Ok(Against { sheet, morning })
}

fn mirrored(frames: &Frames) -> usize {
    let images = frames.images.iter();
    images.filter(|i| i.orientation.mirrored).count()
}

/// The only key that may hold the readings, if every image has it.
fn only_rotator_key(images: &[(String, Image)]) -> Option<String> {
    let mut all = images.iter().map(|(_, image)| image.rotator_keys());
    let first = all.next()?;
    let [only] = first.as_slice() else {
        return None;
    };
    all.all(|keys| keys == first).then(|| (*only).to_owned())
}

/// The FITS files of a folder by their endings, sorted by name. What else is there goes to `skipped`.
fn in_folder(dir: &Path, skipped: &mut Vec<Refusal>) -> Result<Vec<PathBuf>, Failure> {
    const ENDINGS: [&str; 4] = ["fits", "fit", "fts", "fz"];
    let failed = |source| Failure::Read {
        file: dir.display().to_string(),
        source,
    };
    let mut found = Vec::new();
    let mut other = Vec::new();
    for entry in std::fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let name = path.to_string_lossy().to_ascii_lowercase();
        let name = name.trim_end_matches(".gz");
        let why = if path.is_dir() {
            "a folder. Name it to read it too"
        } else if !path.is_file() {
            "no plain file"
        } else if !ENDINGS.iter().any(|e| name.ends_with(&format!(".{e}"))) {
            "no FITS file by its name"
        } else {
            found.push(path);
            continue;
        };
        other.push(Refusal {
            file: escape_controls(&path.display().to_string()),
            why: why.to_owned(),
        });
    }
    if found.is_empty() {
        let endings = ENDINGS.join(", .");
        return Err(Failure::Argument(format!(
            "{}: no file in this folder ends in .{endings}. Name the files, or another folder",
            dir.display()
        )));
    }
    found.sort();
    other.sort_by(|a, b| a.file.cmp(&b.file));
    skipped.extend(other);
    Ok(found)
}
