//! Headers made by hand, against the standard.

use std::io::Cursor;

use super::*;

/// A file with one header, which begins with these cards, and its data.
fn file(cards: &[&str], data: usize) -> Vec<u8> {
    let mut bytes = block(cards);
    bytes.extend(std::iter::repeat_n(0, data.next_multiple_of(2880)));
    bytes
}

fn block(cards: &[&str]) -> Vec<u8> {
    let mut text: String = cards.iter().map(|c| format!("{c:80}")).collect();
    text.push_str(&format!("{:80}", "END"));
    let length = text.len().next_multiple_of(2880);
    format!("{text:length$}").into_bytes()
}

const PRIMARY: [&str; 3] = ["SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0"];

const SKY: [&str; 8] = [
    "CTYPE1  = 'RA---TAN'",
    "CTYPE2  = 'DEC--TAN'",
    "CRVAL1  = 10.0",
    "CRVAL2  = 20.0",
    "CD1_1   = -0.001",
    "CD1_2   = 0.0",
    "CD2_1   = 0.0",
    "CD2_2   = 0.001",
];

fn with(cards: &[&str]) -> Result<Image, FitsError> {
    let all: Vec<&str> = PRIMARY.iter().chain(&SKY).chain(cards).copied().collect();
    read_image(Cursor::new(file(&all, 0)))
}

/// [`SKY`] with these cards in place of those with the same key.
fn instead(cards: &[&str]) -> Result<Image, FitsError> {
    let key = |card: &str| card[..8].to_owned();
    let kept = SKY
        .iter()
        .filter(|c| !cards.iter().any(|d| key(d) == key(c)));
    let all: Vec<&str> = PRIMARY.iter().chain(kept).chain(cards).copied().collect();
    read_image(Cursor::new(file(&all, 0)))
}

fn refusal(found: Result<Image, FitsError>) -> String {
    found.expect_err("a refusal").to_string()
}

#[test]
fn north_up_and_east_left_is_no_mirror_image() {
    let found = with(&[]).expect("an image").orientation;
    assert!(found.position_angle_deg.abs() < 1e-12);
    assert!(!found.mirrored && found.skew_deg.abs() < 1e-12);
    assert!((found.scale_x_arcsec - 3.6).abs() < 1e-12);
    assert_eq!((found.frame.name, found.frame.equinox), ("ICRS", None));
    let mirror = instead(&["CD1_1   = 0.001"]).expect("an image").orientation;
    assert!(mirror.mirrored && mirror.skew_deg.abs() < 1e-12);
}

/// FITS standard 4.0, section 8.3.
#[test]
fn the_frame_has_the_defaults_of_the_standard() {
    let table: [(&[&str], &str, Option<f64>); 8] = [
        (&["EQUINOX = 2000.0"], "FK5", Some(2000.0)),
        (&["EQUINOX = 1983.9"], "FK4", Some(1983.9)),
        (&["EPOCH   = 1950.0"], "FK4", Some(1950.0)),
        (&["RADESYS = 'ICRS'", "EQUINOX = 2000.0"], "ICRS", None),
        (&["RADESYS = 'FK5'"], "FK5", Some(2000.0)),
        (&["RADECSYS= 'FK4'"], "FK4", Some(1950.0)),
        (
            &["RADESYS = 'fk5'", "EQUINOX = 'J2025.5'"],
            "FK5",
            Some(2025.5),
        ),
        (&["RADESYS = 'GAPPT'"], "GAPPT", None),
    ];
    for (cards, name, equinox) in table {
        let frame = with(cards).expect("an image").orientation.frame;
        assert_eq!((frame.name, frame.equinox), (name, equinox), "{cards:?}");
    }
    assert!(refusal(with(&["RADESYS = 'OWN'"])).contains("must be ICRS"));
    assert!(refusal(with(&["EQUINOX = 'now'"])).contains("year"));
}

/// Shows (sky): FITS: matrix, frame, mirrored, forms of a card. With: `the_frame_has_the_defaults_of_the_standard`,
/// `north_up_and_east_left_is_no_mirror_image`, `crates/sky/src/fits/card.rs::the_forms_of_the_standard_are_read`,
/// `an_extension_is_found_behind_data_and_long_texts`. Source: FITS 4.0, sections 4.2 and 8.3, appendix A.
#[test]
fn cd_wins_over_an_old_angle_and_pc_must_agree_with_it() {
    let found = with(&["CROTA2  = 33.0", "CDELT1  = 5.0"]).expect("an image");
    assert!(found.orientation.position_angle_deg.abs() < 1e-12);
    let agreeing = ["PC1_1   = -1.0", "CDELT1  = 0.001", "CDELT2  = 0.001"];
    assert!(with(&agreeing).is_ok());
    assert!(refusal(with(&["PC1_2   = 1.0"])).contains("permits only one"));
}

/// Shows (sky): what is not followed is refused, and the other files are still reported. With:
/// `other_files_are_refused`, `sky::a_refused_file_does_not_hide_the_others`. Source: none: own rule.
#[test]
fn what_is_not_followed_is_refused_with_a_reason() {
    let table: [(&[&str], &str); 14] = [
        (
            &["CTYPE1  = 'GLON-TAN'", "CTYPE2  = 'GLAT-TAN'"],
            "needs RA and DEC",
        ),
        (
            &["CTYPE1  = 'HPLN-TAN'", "CTYPE2  = 'HPLT-TAN'"],
            "needs RA and DEC",
        ),
        (
            &["CTYPE1  = 'LINEAR'", "CTYPE2  = 'LINEAR'"],
            "no header has CTYPEi",
        ),
        (
            &["CTYPE1  = 'RA---CAR'", "CTYPE2  = 'DEC--CAR'"],
            "projection",
        ),
        (&["CTYPE1  = 'RA'", "CTYPE2  = 'DEC'"], "projection"),
        (&["CTYPE1  = 'RA---SIN'"], "another projection"),
        (&["CTYPE2  = 'FREQ'"], "needs RA and DEC"),
        (&["CRVAL2  = 90.5"], "from -90 to 90"),
        (&["CRVAL1  = 'ten'"], "finite number"),
        (&["CRVAL1  = NaN"], "finite number"),
        (&["CD1_1   = 0.0"], "singular"),
        (&["CD1_1   = 1E300"], "singular"),
        (&["CUNIT1  = 'parsec'"], "must be deg"),
        (&["PV1_1   = 5.0", "PV1_2   = 45.0"], "reference point"),
    ];
    for (cards, reason) in table {
        let told = refusal(instead(cards));
        assert!(told.contains(reason), "{cards:?}: {told}");
    }
    assert!(refusal(with(&["CRVAL1  = 11.0"])).contains("stands here twice, also as 11.0"));
}

#[test]
fn an_extension_is_found_behind_data_and_long_texts() {
    let mut bytes = file(
        &[
            "SIMPLE  = T",
            "BITPIX  = -32",
            "NAXIS   = 2",
            "NAXIS1  = 30",
            "NAXIS2  = 30",
            "ANGLE   = 12.50",
        ],
        3600,
    );
    let cards = [
        "XTENSION= 'IMAGE'",
        "BITPIX  = 16",
        "NAXIS   = 2",
        "NAXIS1  = 2",
        "NAXIS2  = 3",
        "PCOUNT  = 0",
        "GCOUNT  = 1",
        "LONG    = 'one &'",
        "CONTINUE  'two &' / more",
        "CONTINUE  'CRVAL1  = 5'",
    ];
    let all: Vec<&str> = cards.iter().chain(&SKY).copied().collect();
    bytes.extend(file(&all, 12));
    let image = read_image(Cursor::new(bytes.clone())).expect("an image");
    assert_eq!(
        image.text("long").expect("one value"),
        Some("one two CRVAL1  = 5")
    );
    assert_eq!(image.text("ANGLE").expect("one value"), Some("12.50"));
    assert_eq!(image.text("NOTHING").expect("no value"), None);
    // Cut anywhere it is refused, except in the padding after the last datum.
    let whole = bytes.len() - 2880 + 12;
    assert!(read_image(Cursor::new(&bytes[..whole])).is_ok());
    for length in (0..whole).step_by(97).chain([whole - 1]) {
        let cut = read_image(Cursor::new(&bytes[..length]));
        assert!(cut.is_err(), "{length} bytes");
    }
}

#[test]
fn other_files_are_refused() {
    let table: [(&[u8], &str); 6] = [
        (b"", "empty"),
        (b"\x1f\x8b\x08\x00", "gzip"),
        (b"reading_deg,position_angle_deg\n1,2\n", "not a FITS file"),
        (&[b'S'; 9000], "not a FITS file"),
        (
            &file(&["SIMPLE  = F", "BITPIX  = 8", "NAXIS   = 0"], 0),
            "SIMPLE is not T",
        ),
        (&file(&PRIMARY, 0), "no header has CTYPEi"),
    ];
    for (bytes, reason) in table {
        let told = refusal(read_image(Cursor::new(bytes)));
        assert!(told.contains(reason), "{told}");
    }
    let huge = file(
        &[
            "SIMPLE  = T",
            "BITPIX  = 64",
            "NAXIS   = 2",
            "NAXIS1  = 9999999999",
            "NAXIS2  = 9999999999",
        ],
        0,
    );
    assert!(refusal(read_image(Cursor::new(huge))).contains("larger than any file"));
    let mut endless = block(&PRIMARY);
    endless.truncate(240);
    endless.resize(2880 * 2, b' ');
    assert!(refusal(read_image(Cursor::new(endless))).contains("ends within header 1"));
}
