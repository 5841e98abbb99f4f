//! `halfturn sky panels` and `sky fits` as a user runs them, against astropy (wcslib): tests/reference/make_sky_cases.py.

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, output, write};
use crate::sky_values::{apart_deg, list, number};

/// The position angles of the reference are differences over small steps, with errors of up to 1e-7 degrees in TPV.
const ANGLE_DEG: f64 = 1e-6;
/// Places come without differences.
const PLACE_DEG: f64 = 1e-10;
/// Lengths are differences, too; a share.
const SCALE: f64 = 1e-6;

fn cases() -> Value {
    serde_json::from_str(include_str!("../data/sky_cases.json")).expect("JSON")
}

/// Shows (README): `halfturn sky panels` lays out a mosaic as targets. With: `panels_become_targets_of_advise`. Source:
/// astropy (wcslib).
/// Shows (sky): panels: places and position angles, at the pole and across RA 0. Source: astropy (wcslib).
#[test]
fn panels_are_those_of_astropy() {
    let dir = folder();
    let cases = cases();
    assert!(list(&cases["mosaics"]).len() >= 7);
    for case in list(&cases["mosaics"]) {
        let text = |key: &str| case[key].as_str().expect("a text").to_owned();
        let (overlap, angle) = (
            number(case, "overlap").to_string(),
            number(case, "position_angle_deg").to_string(),
        );
        let (center, grid, frame) = (text("center"), text("grid"), text("frame_deg"));
        let args = [
            "sky",
            "panels",
            "--center",
            &center,
            "--grid",
            &grid,
            "--frame-deg",
            &frame,
            "--overlap",
            &overlap,
            "--position-angle",
            &angle,
            "--json",
            "-",
        ];
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        let found = json(&out);
        let (found, expected) = (list(&found["panels"]), list(&case["panels"]));
        assert_eq!(found.len(), expected.len());
        for (f, e) in found.iter().zip(expected) {
            let place = apart_deg(number(f, "ra_deg"), number(e, "ra_deg"))
                .max((number(f, "dec_deg") - number(e, "dec_deg")).abs());
            let angle = apart_deg(
                number(f, "position_angle_deg"),
                number(e, "position_angle_deg"),
            );
            assert!(place < PLACE_DEG && angle < ANGLE_DEG, "{f} {e}");
        }
    }
}

/// The corners of the first worked example (FITS WCS paper II, section 7.3.1): CRPIX 256 and 257, 0.003° a pixel,
/// gnomonic about 45.83, +63.57.
/// Shows (sky): gnomonic projection. With: `crates/sky/src/plane.rs::the_equator_is_simple`,
/// `crates/sky/src/plane.rs::the_pole_is_a_place_like_any_other`,
/// `crates/sky/src/plane.rs::a_point_comes_back_from_the_sphere`. Source: Calabretta & Greisen 2002, table 6 (from
/// memory; wcslib gives the same).
#[test]
fn the_worked_example_of_the_papers_agrees() {
    let plane = halfturn_sky::Plane::new(halfturn_sky::SkyPlace {
        ra_deg: 45.83,
        dec_deg: 63.57,
    });
    for (pixel, ra_deg, dec_deg) in [
        ((1.0, 2.0), 47.503_264, 62.795_111),
        ((1.0, 512.0), 47.595_581, 64.324_332),
        ((511.0, 512.0), 44.064_419, 64.324_332),
    ] {
        let found = plane.place(-0.003 * (pixel.0 - 256.0), 0.003 * (pixel.1 - 257.0));
        let off = apart_deg(found.ra_deg, ra_deg).max((found.dec_deg - dec_deg).abs());
        // All digits that the table gives.
        assert!(off < 6e-7, "{found:?}");
    }
}

fn fits_file(cards: &[&str]) -> Vec<u8> {
    let mut text: String = cards.iter().map(|c| format!("{c:80}")).collect();
    text.push_str(&format!("{:80}", "END"));
    let length = text.len().next_multiple_of(2880);
    format!("{text:length$}").into_bytes()
}

/// Shows (model 1): a position angle goes from north through east. With: `panels_are_those_of_astropy`. Source: astropy
/// (wcslib); Calabretta & Greisen 2002.
/// Shows (README): `halfturn sky fits` reads position angles from FITS headers, and makes a log. With:
/// `a_folder_becomes_a_log_in_the_order_of_time`. Source: astropy (wcslib).
/// Shows (sky): angle, parity, skew and scale of 28 made FITS headers. Source: astropy (wcslib).
#[test]
fn headers_are_read_as_astropy_reads_them() {
    let dir = folder();
    let cases = cases();
    let images = list(&cases["images"]);
    let mut args = vec![
        "sky".to_owned(),
        "fits".to_owned(),
        "--json".to_owned(),
        "-".to_owned(),
    ];
    for (i, case) in images.iter().enumerate() {
        let cards: Vec<&str> = list(&case["cards"])
            .iter()
            .filter_map(Value::as_str)
            .collect();
        let name = format!("{i}.fits");
        std::fs::write(dir.path().join(&name), fits_file(&cards)).expect("a file");
        args.push(name);
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let found = json(&out);
    assert_eq!(list(&found["images"]).len(), images.len());
    for (f, e) in list(&found["images"]).iter().zip(images) {
        let name = &e["name"];
        let angle = apart_deg(
            number(f, "position_angle_deg"),
            number(e, "position_angle_deg"),
        );
        let skew = (number(f, "skew_deg") - number(e, "skew_deg")).abs();
        assert!(angle < ANGLE_DEG && skew < ANGLE_DEG, "{name}: {f} {e}");
        assert_eq!(f["mirrored"], e["mirrored"], "{name}");
        // A polynomial away from the reference point of the plane stretches: there the scale is that of the plane.
        if name != "TPV" {
            for key in ["scale_x_arcsec", "scale_y_arcsec"] {
                let ratio = number(f, key) / number(e, key);
                assert!((ratio - 1.0).abs() < SCALE, "{name}: {key} {ratio}");
            }
        }
    }
}

const IMAGE: [&str; 9] = [
    "SIMPLE  = T",
    "BITPIX  = 8",
    "NAXIS   = 0",
    "CTYPE1  = 'RA---TAN'",
    "CTYPE2  = 'DEC--TAN'",
    "CRVAL1  = 10.0",
    "CRVAL2  = 20.0",
    "CDELT1  = -0.001",
    "CDELT2  = 0.001",
];

#[test]
fn a_refused_file_does_not_hide_the_others() {
    let dir = folder();
    let path = |name: &str| dir.path().join(name);
    std::fs::write(path("good.fits"), fits_file(&IMAGE)).expect("a file");
    std::fs::write(path("cut.fits"), &fits_file(&IMAGE)[..2000]).expect("a file");
    let files = ["good.fits", "cut.fits", "absent.fits"];
    let out = halfturn(
        dir.path(),
        &[&["sky", "fits", "--json", "-"], &files[..]].concat(),
    );
    assert_eq!(out.status.code(), Some(2));
    let found = json(&out);
    assert_eq!(found["images"][0]["file"], "good.fits");
    assert_eq!(found["images"][0]["frame"], "ICRS");
    assert_eq!(list(&found["refused"]).len(), 2);
    assert!(complaint(&out).contains("cut.fits: refused: truncated"));
}

#[test]
fn what_a_folder_cannot_give_is_named() {
    let dir = folder();
    let path = |name: &str| dir.path().join(name);
    let reading = ["ROTANGLE= 10.0"];
    let mirrored = ["CDELT1  = 0.001"];
    let upright: Vec<&str> = IMAGE.iter().chain(&reading).copied().collect();
    let turned = IMAGE.iter().filter(|card| !card.starts_with("CDELT1"));
    let turned: Vec<&str> = turned.chain(&reading).chain(&mirrored).copied().collect();
    std::fs::write(path("a.fits"), fits_file(&upright)).expect("a file");
    std::fs::write(path("b.fits"), fits_file(&turned)).expect("a file");
    let log = [
        "sky",
        "fits",
        ".",
        "--log",
        "log.csv",
        "--reading-key",
        "ROTANGLE",
    ];
    let out = halfturn(dir.path(), &log);
    assert_eq!(out.status.code(), Some(2));
    assert!(complaint(&out).contains("no log was written: 1 of 2 frames are mirrored"));
    assert!(!path("log.csv").exists());

    std::fs::remove_file(path("b.fits")).expect("it is there");
    assert_eq!(halfturn(dir.path(), &log).status.code(), Some(0));
    // Frames that are all mirrored make a log, but never in silence.
    std::fs::write(path("a.fits"), fits_file(&turned)).expect("a file");
    let out = halfturn(dir.path(), &[&log[..], &["--force", "--quiet"]].concat());
    assert_eq!(out.status.code(), Some(0));
    assert!(complaint(&out).contains("all 1 frames of the log are mirrored"));
}

/// Shows (sky): every file of a folder gets an answer; readings, and what they differ by from the angle; `.fits.gz`.
/// With: `crates/sky/src/fits/tests.rs::packed_files_are_read_as_they_are`. Source: by hand; gzip of Python.
#[test]
fn every_file_of_a_folder_has_an_answer() {
    const PACKED: &[u8] = include_bytes!("../../examples/night/frames/light_07.fits.gz");
    let dir = folder();
    let path = |name: &str| dir.path().join(name);
    let reading = ["ROTANGLE= 350.5", "CROTA2  = 0.0", "PIERROT = 'west'"];
    let cards: Vec<&str> = IMAGE.iter().chain(&reading).copied().collect();
    std::fs::write(path("a.fits"), fits_file(&cards)).expect("a file");
    std::fs::write(path("b.FITS.gz"), PACKED).expect("a file");
    std::fs::write(path("cut.fits.gz"), &PACKED[..150]).expect("a file");
    write(dir.path(), "notes.txt", "clouds at two\n");
    std::fs::create_dir(path("darks")).expect("a folder");
    let out = halfturn(dir.path(), &["sky", "fits", ".", "--json", "out.json"]);
    assert_eq!(out.status.code(), Some(2));
    let told = complaint(&out);
    assert!(told.contains("cut.fits.gz: refused: truncated"), "{told}");
    let shown = output(&out);
    for wanted in [
        "darks: skipped: a folder",
        "notes.txt: skipped: no FITS file by its name",
        "Reading: the key ROTANGLE",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
    let text = std::fs::read_to_string(path("out.json")).expect("JSON");
    let found: Value = serde_json::from_str(&text).expect("JSON");
    let counts = ["images", "refused", "skipped"].map(|key| list(&found[key]).len());
    assert_eq!(counts, [2, 1, 2]);
    // Position angle 0 less 350.5; the other frame by its file: 240.0227 less 59.48.
    for (image, reading, difference) in [(0, 350.5, 9.5), (1, 59.48, -179.4573)] {
        let image = &found["images"][image];
        assert_eq!(number(image, "reading_deg"), reading);
        assert!(
            (number(image, "difference_deg") - difference).abs() < 1e-4,
            "{image}"
        );
    }
    // Two keys may hold the reading: neither is taken.
    let two = [&cards[..], &["ROTATOR = 3.0"]].concat();
    std::fs::write(path("a.fits"), fits_file(&two)).expect("a file");
    let out = halfturn(dir.path(), &["sky", "fits", "a.fits", "b.FITS.gz"]);
    assert!(output(&out).contains("For readings, name their key: --reading-key KEY"));
}

/// Shows (sky): a folder becomes a log in the order of time. Source: by hand.
#[test]
fn a_folder_becomes_a_log_in_the_order_of_time() {
    let dir = folder();
    // CROTA2 is minus the position angle: the first axis runs to the west.
    for (name, minute, reading, crota) in [
        ("a", 30, "12.50", -22.5),
        ("b", 10, "1.25D1", -22.5),
        ("c", 20, "'40.0'", -50.0),
    ] {
        let own = [
            format!("DATE-OBS= '2031-03-01T22:{minute}:00.5'"),
            format!("ROTANGLE= {reading}"),
            format!("CROTA2  = {crota}"),
        ];
        let cards: Vec<&str> = IMAGE
            .iter()
            .copied()
            .chain(own.iter().map(String::as_str))
            .collect();
        std::fs::write(dir.path().join(format!("{name}.FIT")), fits_file(&cards)).expect("a file");
    }
    let args = [
        "sky",
        "fits",
        ".",
        "--log",
        "log.csv",
        "--reading-key",
        "rotangle",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let text = std::fs::read_to_string(dir.path().join("log.csv")).expect("the log");
    let expected = "time,reading_deg,position_angle_deg\n2031-03-01T22:10:00.5,1.25E1,22.500000\n\
        2031-03-01T22:20:00.5,40.0,50.000000\n2031-03-01T22:30:00.5,12.50,22.500000\n";
    assert_eq!(text, expected);
    let log = halfturn_engine::fit::read_log(&text, "log.csv").expect("a log");
    assert_eq!(log.rows.len(), 3);
    // It is there now, and is left alone.
    assert_eq!(halfturn(dir.path(), &args).status.code(), Some(2));
}

#[test]
fn panels_become_targets_of_advise() {
    let dir = folder();
    let rig = "[framing]\nsensor_width_mm = 23.5\nsensor_height_mm = 15.7\nfocal_length_mm = 480.0\npixel_um = 3.76\nmosaic_overlap = 0.2\n";
    write(dir.path(), "rig.toml", rig);
    let args = [
        "sky", "panels", "rig.toml", "--center", "-30,70", "--grid", "4x3", "--out", "p.csv",
        "--name", "a, b",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let text = std::fs::read_to_string(dir.path().join("p.csv")).expect("targets");
    let targets = halfturn_engine::scenario::read_targets(&text, "p.csv").expect("targets");
    assert_eq!(targets.len(), 12);
    assert_eq!(targets[0].name, "a, b r1 c1");
    assert!(
        targets
            .iter()
            .all(|t| t.ra_deg.is_some_and(|r| (310.0..350.0).contains(&r)))
    );
}

#[test]
fn wrong_input_is_refused() {
    let dir = folder();
    let table: [&[&str]; 8] = [
        &["--center", "10,91", "--grid", "2x2", "--frame-deg", "1x1"],
        &["--center", "nan,1", "--grid", "2x2", "--frame-deg", "1x1"],
        &["--center", "10", "--grid", "2x2", "--frame-deg", "1x1"],
        &["--center", "10,1", "--grid", "0x2", "--frame-deg", "1x1"],
        &["--center", "10,1", "--grid", "101x2", "--frame-deg", "1x1"],
        &["--center", "10,1", "--grid", "2x2", "--frame-deg", "61x1"],
        &[
            "--center",
            "10,1",
            "--grid",
            "2x2",
            "--frame-deg",
            "1x1",
            "--overlap",
            "1",
        ],
        &["--center", "10,1", "--grid", "2x2"],
    ];
    for args in table {
        let out = halfturn(dir.path(), &[&["sky", "panels"], args].concat());
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(out.stdout.is_empty());
    }
}
