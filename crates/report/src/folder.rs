//! The report folder of `advise`.

use std::path::Path;

use super::advice::{Provenance, any_target_document, reason, settings};
use super::advice_json::advice_json;
use super::any_target_json::any_target_json;
use super::certificate::{CERTIFICATE_FILE, certificate_text};
use super::document::{Drawn, Pictures};
use super::files::{ReportError, write_files};
use super::fit::fitted_rig;
use super::page::{Head, page, render};
use super::pictures::{NamedPicture, advice_pictures, any_target_picture};
use super::plot::Picture;
use halfturn_engine::advise::{Advice, AnyTarget, Certificate, TargetReport};
use halfturn_engine::verdict::Fault;

/// The picture that a report has only if something changes.
const SOMETIMES: &str = "loop-after";

/// Name of the rig file that the program made from a log.
pub const FITTED_RIG_FILE: &str = "fitted-rig.toml";

/// Writes the report of an advice into a folder: `report.html`, `summary.json`, `targets.csv`, the certificate
/// `advice.toml`, the pictures as SVG, and the rig file of a fitted rig. Removes pictures and rig of an older
/// report that this one does not have.
///
/// # Errors
/// [`ReportError`] if a file cannot be written.
pub fn write_report(
    advice: &Advice,
    made: &Provenance,
    certificate: &Certificate,
    dir: &Path,
) -> Result<(), ReportError> {
    let pictures = advice_pictures(advice);
    let inline = inline(&pictures);
    let json = format!("{:#}\n", advice_json(advice)).into_bytes();
    let mut files = vec![
        ("summary.json".to_owned(), json),
        ("targets.csv".to_owned(), targets_csv(advice)),
        (
            CERTIFICATE_FILE.to_owned(),
            certificate_text(certificate)?.into_bytes(),
        ),
    ];
    let mut stale = Vec::new();
    if !pictures.iter().any(|(name, _)| *name == SOMETIMES) {
        stale.push(format!("{SOMETIMES}.svg"));
    }
    match &advice.uncertain {
        Some(u) => {
            let rig = fitted_rig(&advice.rig, &u.fit, &u.log);
            files.push((FITTED_RIG_FILE.to_owned(), rig.into_bytes()));
        }
        None => stale.push(FITTED_RIG_FILE.to_owned()),
    }
    files.extend(picture_files(pictures));
    // Last: if the page is there, so is everything that it mentions.
    let page = render(advice, &inline, made);
    files.push(("report.html".to_owned(), page.into_bytes()));
    write_files(dir, files)?;
    stale.iter().try_for_each(|name| remove(&dir.join(name)))
}

/// Writes what was found for any target into a folder: `any-target.html`, `any-target.json`, and the picture as SVG.
///
/// # Errors
/// [`ReportError`] for the first file that cannot be written.
pub fn write_any_target(
    found: &AnyTarget,
    made: &Provenance,
    dir: &Path,
) -> Result<(), ReportError> {
    let pictures = vec![any_target_picture(found)];
    let rig = &found.rig;
    let head = Head {
        name: &rig.settings().name,
        about: &format!("any target, {}", settings(rig)),
        files: &made.rig_file,
    };
    let document = any_target_document(found, made);
    let html = page(&head, &document, &inline(&pictures), made);
    let json = format!("{:#}\n", any_target_json(found)).into_bytes();
    let mut files = vec![("any-target.json".to_owned(), json)];
    files.extend(picture_files(pictures));
    files.push(("any-target.html".to_owned(), html.into_bytes()));
    write_files(dir, files)
}

/// The page of a report alone.
#[must_use]
pub fn advice_page(advice: &Advice, made: &Provenance) -> String {
    render(advice, &inline(&advice_pictures(advice)), made)
}

/// The pictures in the form for the page.
pub(crate) fn inline(pictures: &[NamedPicture]) -> Pictures {
    let drawn = pictures.iter().map(|(stem, picture)| {
        let drawn = Drawn {
            wide: picture.svg.clone(),
            narrow: picture.narrow.clone(),
        };
        (*stem, drawn)
    });
    drawn.collect()
}

/// Removes a file if it is there.
fn remove(path: &Path) -> Result<(), ReportError> {
    match std::fs::remove_file(path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => Err(ReportError::Write {
            file: path.display().to_string(),
            source,
        }),
        _ => Ok(()),
    }
}

/// Each picture as an SVG file.
#[must_use]
pub fn picture_files(pictures: Vec<(&str, Picture)>) -> Vec<(String, Vec<u8>)> {
    let pictures = pictures.into_iter();
    pictures
        .map(|(stem, picture)| (format!("{stem}.svg"), picture.svg.into_bytes()))
        .collect()
}

/// Every target before and after, one row each.
fn targets_csv(advice: &Advice) -> Vec<u8> {
    let mut out = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail.
    let _ = out.write_record([
        "name",
        "position_angle_deg",
        "drive_deg_before",
        "seam_distance_deg_before",
        "settled_before",
        "hunting_before",
        "late_before",
        "keep_out_before",
        "keep_out_deg_before",
        "overwound_before",
        "expected_time_s_before",
        "verdict_before",
        "drive_deg_after",
        "seam_distance_deg_after",
        "settled_after",
        "hunting_after",
        "late_after",
        "keep_out_after",
        "keep_out_deg_after",
        "overwound_after",
        "expected_time_s_after",
        "verdict_after",
        "reason_before",
        "reason_after",
    ]);
    for (before, after) in advice.before.targets.iter().zip(&advice.after.targets) {
        let mut row = vec![before.name.clone(), before.position_angle_deg.to_string()];
        row.extend(columns(before));
        row.extend(columns(after));
        row.push(reason(&advice.rig, &advice.before, before));
        row.push(reason(&advice.advised_rig, &advice.after, after));
        let _ = out.write_record(&row);
    }
    out.into_inner().expect("memory takes all that is written")
}

fn columns(t: &TargetReport) -> [String; 10] {
    let maybe = |value: Option<f64>| value.map_or_else(String::new, |v| v.to_string());
    [
        t.drive_deg.to_string(),
        maybe(t.seam_distance_deg),
        t.summary.settled.rate.to_string(),
        t.share(Fault::Hunting).to_string(),
        t.share(Fault::Late).to_string(),
        t.share(Fault::KeepOut).to_string(),
        maybe(t.summary.keep_out_deg.mean),
        t.share(Fault::Winding).to_string(),
        maybe(t.expected_time_s),
        t.verdict.state.to_string(),
    ]
}
