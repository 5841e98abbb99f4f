//! `halfturn sky fits`: the position angles in FITS headers.

use std::path::{Path, PathBuf};

use clap::Args;

use super::super::Exit;
use super::super::args::Common;
use super::super::reply::{Failure, Reply, Said};
use super::output::{check_outputs, write_or_show};
use halfturn_engine::fit::{MOST_ROWS, date_s};
use halfturn_report::{Frames, NamedImage, Refusal, fits_document, fits_json, fits_log};
use halfturn_sky::fits::{FitsError, Image, read_image};

/// Read position angle, parity, skew and scale from headers of solved FITS files.
#[derive(Debug, Args)]
pub(super) struct FitsArgs {
    /// FITS files, or folders with FITS files.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Write a log for fit (- for standard output).
    #[arg(long, value_name = "FILE", requires = "reading_key")]
    log: Option<PathBuf>,
    /// Header key with the drive's reading.
    #[arg(long, value_name = "KEY", requires = "log")]
    reading_key: Option<String>,
    /// Replace an existing file.
    #[arg(long)]
    force: bool,
}

pub(super) fn fits(common: &Common, args: &FitsArgs) -> Result<Reply, Failure> {
    if !common.set.is_empty() {
        return Err(Failure::Argument(
            "--set: sky fits reads no rig. Leave it out".to_owned(),
        ));
    }
    let mut files = Vec::new();
    for path in &args.files {
        if path.is_dir() {
            files.extend(in_folder(path)?);
        } else {
            files.push(path.clone());
        }
    }
    let read: Vec<Option<&Path>> = files.iter().map(|p| Some(p.as_path())).collect();
    check_outputs(common, "--log", args.log.as_deref(), args.force, &read)?;
    let mut frames = Frames::default();
    for path in &files {
        let file = path.display().to_string();
        match image(path, args.reading_key.as_deref()) {
            Ok(image) => frames.images.push(NamedImage { file, ..image }),
            Err(e) => frames.refused.push(Refusal {
                file,
                why: e.to_string(),
            }),
        }
    }
    let mut said = Said::from(fits_document(&frames));
    let mut warnings: Vec<String> = Vec::new();
    let mut complete = frames.refused.is_empty() && !frames.images.is_empty();
    if let Some(path) = &args.log {
        let mirrored = frames.images.iter().filter(|i| i.orientation.mirrored);
        let (mirrored, count) = (mirrored.count(), frames.images.len());
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
            write_or_show(path, fits_log(&frames), &mut said)?;
        }
    }
    // Not dropped by --quiet: these are errors, though the others are reported.
    let refused = frames.refused.iter();
    warnings.extend(refused.map(|r| format!("{}: refused: {}", r.file, r.why)));
    let mut reply = Reply::done(said);
    if !complete {
        reply.exit = Exit::WrongInput;
    }
    reply.warnings = warnings;
    reply.json(common, &fits_json(&frames))?;
    Ok(reply)
}

/// The FITS files of a folder by their endings, sorted by name.
fn in_folder(dir: &Path) -> Result<Vec<PathBuf>, Failure> {
    const ENDINGS: [&str; 4] = ["fits", "fit", "fts", "fz"];
    let failed = |source| Failure::Read {
        file: dir.display().to_string(),
        source,
    };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        // What is compressed is refused by its name, not passed over.
        let name = path.to_string_lossy().to_ascii_lowercase();
        let name = name.trim_end_matches(".gz");
        if ENDINGS.iter().any(|e| name.ends_with(&format!(".{e}"))) && path.is_file() {
            found.push(path);
        }
    }
    if found.is_empty() {
        let endings = ENDINGS.join(", .");
        return Err(Failure::Argument(format!(
            "{}: no file in this folder ends in .{endings}. Name the files, or another folder",
            dir.display()
        )));
    }
    found.sort();
    Ok(found)
}

/// One file; its name is filled in by the caller.
fn image(path: &Path, reading_key: Option<&str>) -> Result<NamedImage, FitsError> {
    let image = read_image(std::io::BufReader::new(std::fs::File::open(path)?))?;
    Ok(NamedImage {
        file: String::new(),
        orientation: image.orientation,
        reading: reading_key.map(|key| reading(&image, key)).transpose()?,
        time: time(&image)?,
    })
}

/// The reading as written, since `fit` looks at its decimals.
fn reading(image: &Image, key: &str) -> Result<String, FitsError> {
    let fault = |value: Option<&str>, allowed: &str| FitsError::Key {
        key: key.to_owned(),
        value: value.map(str::to_owned),
        allowed: allowed.to_owned(),
    };
    let text = image.text(key)?.ok_or_else(|| {
        fault(
            None,
            "is missing from the header, but --reading-key asks for it",
        )
    })?;
    let written = text.replace(['D', 'd'], "E");
    let number = written.parse::<f64>().ok();
    number
        .filter(|a| a.abs() <= halfturn_engine::angle::MOST_ANGLE_DEG)
        .map(|_| written)
        .ok_or_else(|| {
            fault(
                Some(text),
                "must be a number of degrees from -360000 to 360000",
            )
        })
}

/// The start of the exposure, where `fit` can read it.
fn time(image: &Image) -> Result<Option<(String, f64)>, FitsError> {
    let Some(date) = image.text("DATE-OBS")? else {
        return Ok(None);
    };
    let text = match image.text("TIME-OBS")? {
        Some(time) if !date.contains('T') => format!("{date}T{time}"),
        _ => date.to_owned(),
    };
    Ok(date_s(&text).map(|seconds| (text, seconds)))
}
