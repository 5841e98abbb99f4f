//! `sky fits` on headers of real instruments: those that astropy carries for its tests (tests/reference/make_real_headers.py).

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json};

/// The angles of the reference are differences over small steps; in polynomials of distortion with errors of up to 1e-7 degrees.
const ANGLE_DEG: f64 = 1e-6;
const SCALE: f64 = 1e-6;

fn fits_file(cards: &[&str]) -> Vec<u8> {
    let mut text: String = cards.iter().map(|c| format!("{c:80}")).collect();
    text.push_str(&format!("{:80}", "END"));
    let length = text.len().next_multiple_of(2880);
    format!("{text:length$}").into_bytes()
}

/// What is not followed, by the rule of docs/sky.md that refuses it.
const REFUSED: [(&str, &str); 10] = [
    ("dist.fits", "CTYPE"),
    ("ie6d07ujq_wcs.fits", "CTYPE"),
    ("2wcses.hdr", "ZPN"),
    ("outside_sky.hdr", ""),
    ("zpn-hole.hdr", "ZPN"),
    ("validate.fits", ""),
    ("3d_cd.hdr", ""),
    ("test0.fits", ""),
    ("o4sp040b0_raw.fits", ""),
    ("1904-66_AIT.hdr", "AIT"),
];

/// Shows (sky): FITS headers of real instruments. Source: headers that astropy carries for its tests; astropy.
#[test]
fn headers_of_real_instruments_are_read_as_astropy_reads_them() {
    let dir = folder();
    let data: Value =
        serde_json::from_str(include_str!("../data/real_headers.json")).expect("JSON");
    let cases = data["cases"].as_array().expect("a list");
    let mut agreed = 0;
    let mut worst = [0.0_f64; 3];
    for case in cases {
        let name = case["name"].as_str().expect("a name");
        let cards: Vec<&str> = case["cards"]
            .as_array()
            .expect("cards")
            .iter()
            .filter_map(Value::as_str)
            .collect();
        std::fs::write(dir.path().join("real.fits"), fits_file(&cards)).expect("a file");
        let out = halfturn(dir.path(), &["sky", "fits", "real.fits", "--json", "-"]);
        if let Some((_, why)) = REFUSED.iter().find(|(refused, _)| *refused == name) {
            assert_eq!(out.status.code(), Some(2), "{name}");
            assert!(complaint(&out).contains(why), "{name}: {}", complaint(&out));
            continue;
        }
        assert_eq!(out.status.code(), Some(0), "{name}: {}", complaint(&out));
        let found = &json(&out)["images"][0];
        let number = |value: &Value, key: &str| value[key].as_f64().unwrap_or(f64::NAN);
        let off = |key: &str| number(found, key) - number(case, key);
        let angle = halfturn_engine::angle::residual(off("position_angle_deg"), 360.0);
        let angle = angle.expect("finite").abs();
        let skew = off("skew_deg").abs();
        let ratio = (number(found, "scale_x_arcsec") / number(case, "scale_x_arcsec") - 1.0).abs();
        for (worst, off) in worst.iter_mut().zip([angle, skew, ratio]) {
            *worst = worst.max(off);
        }
        assert!(
            angle < ANGLE_DEG && skew < ANGLE_DEG,
            "{name}: {found} {case}"
        );
        assert_eq!(found["mirrored"], case["mirrored"], "{name}");
        // TPV: the scale is that in its plane.
        assert!(ratio < SCALE || name == "tpvonly.hdr", "{name}: {ratio}");
        agreed += 1;
    }
    // As docs/sky.md tells.
    assert!(
        agreed == 12 && worst[0].max(worst[1]) < 9e-7,
        "{agreed} {worst:?}"
    );
}
