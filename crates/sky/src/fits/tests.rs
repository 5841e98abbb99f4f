//! Headers made by hand, against the standard.

use std::io::{Cursor, Write as _};

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

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).expect("memory");
    packer.finish().expect("memory")
}

/// Also where the coordinates stand behind an image, and where a second part of the packing follows (RFC 1952, section
/// 2.2). A packed file is read no farther than needed.
#[test]
fn packed_files_are_read_as_they_are() {
    let image = [
        "SIMPLE  = T",
        "BITPIX  = 8",
        "NAXIS   = 1",
        "NAXIS1  = 5000",
    ];
    let extension = ["XTENSION= 'IMAGE   '", "BITPIX  = 8", "NAXIS   = 0"];
    let behind: Vec<&str> = extension.iter().chain(&SKY).copied().collect();
    let (first, second) = (file(&image, 5000), file(&behind, 0));
    let whole = [first.clone(), second.clone()].concat();
    let angle = |bytes: &[u8]| {
        let found = read_image(Cursor::new(bytes)).map_err(|e| e.to_string());
        found.map(|image| image.orientation)
    };
    let plain = angle(&whole).expect("an image");
    assert_eq!(angle(&packed(&whole)), Ok(plain));
    assert_eq!(
        angle(&[packed(&first), packed(&second)].concat()),
        Ok(plain)
    );
    for length in [2000, 2880, 7000] {
        let told = angle(&packed(&whole[..length])).expect_err("a refusal");
        assert!(told.contains("truncated"), "{length}: {told}");
    }
    let bytes = packed(&whole);
    for length in (2..bytes.len() - 8).step_by(7) {
        assert!(angle(&bytes[..length]).is_err(), "{length}");
    }
    let mut broken = packed(&whole);
    broken[15] ^= 0xff;
    assert!(angle(&broken).is_err());
    // Zeros without end in front.
    let far = [
        "SIMPLE  = T",
        "BITPIX  = 8",
        "NAXIS   = 1",
        "NAXIS1  = 5000000000",
    ];
    let told = angle(&packed(&file(&far, 0))).expect_err("a refusal");
    assert!(told.contains("Unpack it first"), "{told}");
}

/// A table that holds a packed image has the coordinates of the image in its own header (FITS standard 4.0, section
/// 10.1), so `.fits.fz` needs no unpacking.
#[test]
fn the_header_of_a_packed_image_is_enough() {
    let table = [
        "XTENSION= 'BINTABLE'",
        "BITPIX  = 8",
        "NAXIS   = 2",
        "NAXIS1  = 8",
        "NAXIS2  = 1",
        "PCOUNT  = 0",
        "GCOUNT  = 1",
        "TFIELDS = 1",
        "TFORM1  = '1PB(0)'",
        "ZIMAGE  = T",
        "ZCMPTYPE= 'RICE_1'",
        "ZBITPIX = 16",
        "ZNAXIS  = 2",
        "ZNAXIS1 = 40",
        "ZNAXIS2 = 30",
    ];
    let cards: Vec<&str> = table.iter().chain(&SKY).copied().collect();
    let bytes = [file(&PRIMARY, 0), file(&cards, 8)].concat();
    let found = read_image(Cursor::new(bytes))
        .expect("an image")
        .orientation;
    assert_eq!(found, with(&[]).expect("an image").orientation);
}

/// Shows (sky): `PC001001` and its like are read as `PC1_1`. Source: paper I, section 2.1.2.
#[test]
fn a_matrix_is_also_read_under_its_older_names() {
    let turned = ["CDELT1  = -0.001", "CDELT2  = 0.001"];
    let without_cd = |cards: &[&str]| {
        let kept = SKY.iter().filter(|c| !c.starts_with("CD"));
        let all: Vec<&str> = PRIMARY
            .iter()
            .chain(kept)
            .chain(&turned)
            .chain(cards)
            .copied()
            .collect();
        read_image(Cursor::new(file(&all, 0)))
    };
    let now = [
        "PC1_1   = 0.6",
        "PC1_2   = -0.8",
        "PC2_1   = 0.8",
        "PC2_2   = 0.6",
    ];
    let before = [
        "PC001001= 0.6",
        "PC001002= -0.8",
        "PC002001= 0.8",
        "PC002002= 0.6",
    ];
    let expected = without_cd(&now).expect("an image").orientation;
    // The second axis runs along (0.8, 0.6), as x runs to the west.
    assert!(
        (expected.position_angle_deg - 53.130_102_354).abs() < 1e-8,
        "{expected:?}"
    );
    assert_eq!(without_cd(&before).expect("an image").orientation, expected);
    let both = [&now[..], &before[..]].concat();
    assert_eq!(without_cd(&both).expect("an image").orientation, expected);
    let told = refusal(without_cd(&[&now[..], &["PC001002= -0.7"]].concat()));
    assert!(
        told.contains("PC1_2 = -0.8: differs from its older name, PC001002 = -0.7"),
        "{told}"
    );
}

#[test]
fn other_files_are_refused() {
    let table: [(&[u8], &str); 6] = [
        (b"", "empty"),
        (b"\x1f\x8b\x08\x00", "it is empty"),
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
