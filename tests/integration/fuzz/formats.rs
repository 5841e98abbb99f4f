//! Every format that is read: samples, and what must hold of any bytes at all.

use std::io::Cursor;

use halfturn_engine::advise::Certificate;
use halfturn_engine::fit::{fit, read_log};
use halfturn_engine::judge::protocol::{MOST_LINE_BYTES, read_answer};
use halfturn_engine::judge::{Base, Family, InProcess, Reference, play};
use halfturn_engine::method::Method;
use halfturn_engine::rig::{DEMO_RIG, Rig, Rule, commented, read, rewrite_keeping_comments};
use halfturn_engine::run::stream;
use halfturn_engine::sample::Batch;
use halfturn_engine::scenario::{DEMO_TARGETS, read_targets};
use halfturn_engine::sweep::{Axis, Grid, SweepRequest};
use halfturn_report::judge::{cases_text, read_cases};
use halfturn_report::sweep::{Existing, Gathered, Head, SweepFile, merge};
use halfturn_sky::fits::read_image;
use halfturn_sky::night::{Morning, Seen, read_sheet};
use halfturn_sky::pointing::read_horizon;

use crate::sky_morning::SHEET;

use super::mutate::Lines;

/// One format.
pub(super) struct Format {
    pub(super) name: &'static str,
    pub(super) lines: Lines,
    pub(super) samples: Vec<Vec<u8>>,
    /// Reads bytes and checks what came of them; fails by panicking.
    pub(super) check: fn(&[u8]),
    /// Inputs of a short run: fewer where one takes longer.
    pub(super) short: u32,
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// An error is one line of plain text that names its file.
fn is_told(message: &str) {
    assert!(message.starts_with("in.put"), "{message:?}");
    assert!(!message.chars().any(char::is_control), "{message:?}");
    assert!(message.chars().count() < 1500, "{} bytes", message.len());
}

/// A rig that is taken can be written down and read again, and is then the same.
fn rig(bytes: &[u8]) {
    match read(&text(bytes), "in.put", &[]) {
        Err(e) => is_told(&e.to_string()),
        Ok(rig) => {
            let again = read(&commented(&rig), "again", &[]).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(again.digest(), rig.digest());
            let again = read(&rewrite_keeping_comments(&text(bytes), &rig), "again", &[])
                .unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(again.digest(), rig.digest());
            assert!(
                rig.key_values()
                    .iter()
                    .all(|(_, v)| v.as_float().is_none_or(f64::is_finite))
            );
        }
    }
}

/// `--set`, and `--vary`.
fn overrides(bytes: &[u8]) {
    let given = text(bytes);
    if let Ok(rig) = read(DEMO_RIG, "in.put", std::slice::from_ref(&given)) {
        assert!(
            rig.key_values()
                .iter()
                .all(|(_, v)| v.as_float().is_none_or(f64::is_finite))
        );
    }
    let demo = read(DEMO_RIG, "in.put", &[]).expect("the demo rig");
    if let Ok(axis) = Axis::read(&given, &demo) {
        assert!(axis.values().iter().all(|v| v.is_finite()));
    }
}

fn targets(bytes: &[u8]) {
    match read_targets(&text(bytes), "in.put") {
        Err(e) => is_told(&e.to_string()),
        Ok(found) => {
            assert!(!found.is_empty());
            for t in found {
                assert!(t.position_angle_deg.is_finite() && !t.name.is_empty());
                assert!(!t.name.chars().any(char::is_control));
                let others = [t.ra_deg, t.dec_deg, t.minutes];
                assert!(others.iter().flatten().all(|x| x.is_finite()));
            }
        }
    }
}

/// A log that is taken can be fitted, and every rig that it makes is a rig.
fn log(bytes: &[u8]) {
    let log = match read_log(&text(bytes), "in.put") {
        Err(e) => return is_told(&e.to_string()),
        Ok(log) => log,
    };
    let believed = read(DEMO_RIG, "demo", &[]).expect("the demo rig");
    let Ok(found) = fit(&log, believed.settings()) else {
        return;
    };
    let made = Rig::new(found.apply(believed.settings())).unwrap_or_else(|e| panic!("{e}"));
    for i in 0..3 {
        let drawn = found.draw(made.settings(), &mut stream(1, i));
        Rig::new(drawn).unwrap_or_else(|e| panic!("drawn: {e}"));
    }
}

fn advice(bytes: &[u8]) {
    match Certificate::read(&text(bytes), "in.put") {
        Err(e) => is_told(&e.to_string()),
        Ok(found) => {
            // They are shown on a screen.
            let shown = [&found.version, &found.rig_file, &found.targets_file];
            let shown = shown.into_iter().chain(found.rig.keys());
            assert!(!shown.flat_map(|s| s.chars()).any(char::is_control));
            let demo = read(DEMO_RIG, "demo", &[]).expect("the demo rig");
            let _ = found.compare(&demo);
            let _ = read(DEMO_RIG, "demo", &found.overrides());
        }
    }
}

fn request() -> SweepRequest {
    let rig = read(DEMO_RIG, "demo", &[]).expect("the demo rig");
    let axis = Axis::read("loop.tolerance_deg=0.1:0.5:3", &rig).expect("an axis");
    let batch = Batch {
        trials: 20,
        seed: 1,
    };
    let grid = Grid::new(vec![axis]).expect("a grid");
    let rules = vec![Rule::HalfCircle, Rule::FoldOnce];
    SweepRequest::new(rig, grid, rules, batch, Method::MonteCarlo, Some(0.0)).expect("a request")
}

/// A table that cannot be gone on with is left as it was; one that can begins with its head and holds whole lines.
fn sweep(bytes: &[u8]) {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("t.csv");
    std::fs::write(&path, bytes).expect("a file");
    let head = Head::of(&request(), None);
    let mut gathered = Gathered::new(&head, true).expect("few cells");
    let opened = SweepFile::open(&path, &head, Existing::Resume, &mut gathered);
    let now = std::fs::read(&path).expect("a file");
    match opened {
        Err(_) => assert!(now == bytes),
        Ok(file) => {
            let rows = now.strip_prefix(head.text().as_bytes()).expect("its head");
            assert!(bytes.starts_with(&now) || rows.is_empty());
            assert!(rows.is_empty() || rows.ends_with(b"\n"));
            let lines = rows.iter().filter(|b| **b == b'\n').count() as u64;
            assert_eq!(lines, 2 * file.done());
        }
    }
    let parts = [path];
    let out = dir.path().join("whole.csv");
    if merge(&out, false, &parts, &mut Gathered::later(true)).is_err() {
        assert!(!out.exists());
    }
}

/// Scenarios that are taken can be played to their end.
fn scenarios(bytes: &[u8]) {
    match read_cases(&text(bytes), "in.put") {
        Err(e) => is_told(&e.to_string()),
        Ok(cases) => {
            for case in cases.iter().take(2) {
                let mut subject = InProcess::new(Reference::default);
                let played = play(case, &mut subject).expect("a scenario that was taken");
                // A panic of the controller is caught as such a fault.
                assert!(played.fault.is_none(), "{:?}", played.fault);
            }
            let again = read_cases(&cases_text(&cases), "again").expect("its own text");
            assert_eq!(again.len(), cases.len());
        }
    }
}

fn answer(bytes: &[u8]) {
    let line = &bytes[..bytes.len().min(MOST_LINE_BYTES)];
    match read_answer(line) {
        Ok(halfturn_engine::judge::Answer::Move(drive_deg)) => assert!(drive_deg.is_finite()),
        Ok(halfturn_engine::judge::Answer::GiveUp(why)) => {
            assert!(!why.chars().any(char::is_control))
        }
        Ok(_) => {}
        Err(fault) => assert!(!format!("{fault:?}").contains('\0')),
    }
}

/// A horizon that is taken has an altitude everywhere.
fn horizon(bytes: &[u8]) {
    match read_horizon(&text(bytes), "in.put") {
        Err(e) => is_told(&e.to_string()),
        Ok(found) => {
            for azimuth_deg in (-40..80).map(|i| f64::from(i) * 9.7) {
                let altitude_deg = found.altitude_deg(azimuth_deg);
                assert!((-10.0..=90.0).contains(&altitude_deg), "{altitude_deg}");
            }
        }
    }
}

/// Frames can be put beside a sheet that is taken.
fn sheet(bytes: &[u8]) {
    let sheet = match read_sheet(&text(bytes), "in.put") {
        Err(e) => return is_told(&e.to_string()),
        Ok(sheet) => sheet,
    };
    let seen = (0..20_u8).map(|i| Seen {
        file: format!("{i}"),
        at: sheet.rows[0].at.plus_s(900.0 * f64::from(i)),
        target: (i % 3 == 0).then(|| "two".to_owned()),
        reading_deg: 77.7 * f64::from(i),
        position_angle_deg: 13.3 * f64::from(i),
    });
    let morning = Morning::of(&sheet, seen.collect());
    for b in &morning.frames {
        assert!(b.angle_off_deg.is_finite() && b.zero_off_deg.abs() <= 90.0);
        assert!(b.cable_deg.is_finite() && !sheet.rows[b.row].target.is_empty());
    }
    if let Some(zero) = morning.zero_point {
        assert!(zero.off_deg.is_finite() && zero.end_deg.is_finite());
    }
}

/// An image that is taken has finite figures.
fn fits(bytes: &[u8]) {
    if let Ok(image) = read_image(Cursor::new(bytes)) {
        let o = &image.orientation;
        assert!((0.0..360.0).contains(&o.position_angle_deg), "{o:?}");
        assert!(o.skew_deg.is_finite(), "{o:?}");
        assert!(
            o.scale_x_arcsec > 0.0 && o.scale_x_arcsec.is_finite(),
            "{o:?}"
        );
        assert!(
            o.scale_y_arcsec > 0.0 && o.scale_y_arcsec.is_finite(),
            "{o:?}"
        );
        let _ = image.text("ROTATOR");
    }
}

fn header(cards: &[&str]) -> Vec<u8> {
    let mut text: String = cards.iter().map(|c| format!("{c:80}")).collect();
    text.push_str(&format!("{:80}", "END"));
    let length = text.len().next_multiple_of(2880);
    format!("{text:length$}").into_bytes()
}

fn fits_samples() -> Vec<Vec<u8>> {
    let primary = [
        "SIMPLE  =                    T",
        "BITPIX  =                    8",
        "NAXIS   =                    0",
    ];
    let sky = [
        "CTYPE1  = 'RA---TAN'",
        "CTYPE2  = 'DEC--TAN'",
        "CRVAL1  = 10.0",
        "CRVAL2  = 20.0",
    ];
    let cd = [
        "CD1_1   = -0.001",
        "CD1_2   = 0.0002",
        "CD2_1   = 0.0002",
        "CD2_2   = 0.001",
    ];
    let pc = [
        "CDELT1  = -0.001 / [deg]",
        "CDELT2  = 0.001",
        "PC1_1   = 0.9",
        "PC1_2   = -0.4",
        "RADESYS = 'FK5     '",
        "EQUINOX = 2000.0",
    ];
    let rota = [
        "CDELT1  = -1.0E-3",
        "CDELT2  = 1.0D-3",
        "CROTA2  = 35.5",
        "LONPOLE = 180.0",
        "ROTATOR = 12.5",
    ];
    let of = |more: &[&str]| header(&[&primary[..], &sky, more].concat());
    let extension = [
        header(&primary),
        header(
            &[
                &[
                    "XTENSION= 'IMAGE   '",
                    "BITPIX  = 16",
                    "NAXIS   = 2",
                    "NAXIS1  = 4",
                    "NAXIS2  = 3",
                    "PCOUNT  = 0",
                    "GCOUNT  = 1",
                ][..],
                &sky,
                &cd,
            ]
            .concat(),
        ),
        vec![0; 2880],
    ];
    let distorted = |kind: &str, terms: &[&str]| {
        let axes = [
            format!("CTYPE1  = 'RA---{kind}'"),
            format!("CTYPE2  = 'DEC--{kind}'"),
        ];
        let axes = [axes[0].as_str(), &axes[1]];
        header(&[&primary[..], &axes, &sky[2..], &cd, terms].concat())
    };
    let sip = [
        "A_ORDER = 2",
        "A_1_0   = 1.0E-4",
        "A_0_1   = -2E-5",
        "B_1_0   = 0.0",
        "B_0_1   = 3E-5",
    ];
    let tpv = [
        "PV1_0   = 0.01",
        "PV1_1   = 1.001",
        "PV1_2   = 0.0",
        "PV2_1   = 0.999",
        "PV2_2   = 1E-4",
    ];
    vec![
        of(&cd),
        of(&pc),
        of(&rota),
        extension.concat(),
        distorted("TAN-SIP", &sip),
        distorted("TPV", &tpv),
    ]
}

/// A finished table, from the program's own lines.
fn sweep_samples() -> Vec<Vec<u8>> {
    let request = request();
    let mut table = Head::of(&request, None).text();
    let monitor = halfturn_engine::sample::Unattended;
    let done = halfturn_engine::sweep::run_cells(&request, 0..3, &monitor, |rows| {
        table.push_str(&halfturn_report::sweep::lines(rows));
        Ok::<(), halfturn_engine::rig::InputError>(())
    });
    assert!(done.expect("it runs"));
    vec![table.into_bytes()]
}

/// All of them.
pub(super) fn formats() -> Vec<Format> {
    let format = |name, samples: Vec<Vec<u8>>, check: fn(&[u8]), short| Format {
        name,
        lines: if name == "FITS header" {
            Lines::Cards
        } else {
            Lines::Text
        },
        samples,
        check,
        short,
    };
    let owned = |all: &[&str]| {
        all.iter()
            .map(|s| s.as_bytes().to_vec())
            .collect::<Vec<_>>()
    };
    let starter = read(DEMO_RIG, "demo", &[])
        .map(|rig| commented(&rig))
        .expect("a rig");
    let stops = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 370.5\n[loop]\nconfirm = 2\n[wrap]\nsymmetry = 4\n";
    let odd = "# x\r\nposition_angle_deg, name ,ra,dec,minutes\r\n12.5,\"Ring, wide\",5h34m31.9s,+22d00'52\",40\r\n-3,B,,,\r\n";
    let demo_log = include_str!("../../../assets/demo-log.csv");
    let timed = "run,reading_deg,position_angle_deg,time,solved_ok\na,1,2.5,2031-03-01T22:00:00,1\na,50,51.4,2031-03-01T22:01:00,\nb,50,,,0\nb,20,21.5,2031-03-01T22:09:00.5Z,true\nb,90,91.6,,\n";
    let cases = halfturn_engine::judge::cases(&Base::Graded, Family::ALL, None, 1, 12);
    vec![
        format("rig", owned(&[DEMO_RIG, &starter, stops]), rig, 1500),
        format(
            "override",
            owned(&[
                "loop.tolerance_deg=0.3",
                "drive.periodic.0.amplitude_deg=.2",
                "loop.tolerance_deg=0.1:0.5:9",
                "target=-1:1:3",
                "wrap.rule=fold-once",
            ]),
            overrides,
            1500,
        ),
        format("targets", owned(&[DEMO_TARGETS, odd]), targets, 3000),
        format(
            "horizon",
            owned(&[include_str!("../../../examples/night/horizon.csv")]),
            horizon,
            1000,
        ),
        format("run sheet", owned(&[SHEET]), sheet, 1000),
        format("log", owned(&[demo_log, timed]), log, 120),
        format(
            "advice",
            owned(&[include_str!("../../../reports/demo/advice.toml")]),
            advice,
            1000,
        ),
        format("sweep table", sweep_samples(), sweep, 400),
        format(
            "scenarios",
            vec![
                cases_text(&cases[..1]).into_bytes(),
                cases_text(&cases).into_bytes(),
            ],
            scenarios,
            500,
        ),
        format(
            "answer",
            owned(&[
                "{\"do\":\"move\",\"drive_deg\":-0.0}",
                "{\"do\":\"give-up\",\"why\":\"x\"}",
                "{\"do\":\"solve\"}",
            ]),
            answer,
            4000,
        ),
        format("FITS header", fits_samples(), fits, 3000),
    ]
}
