//! The headers of a file, one after the other, up to the first with celestial coordinates.

use std::io::{Read, Seek, SeekFrom};

use super::axes::Axes;
use super::card::{CARD_BYTES, Card, Value};
use super::orientation::{Orientation, with_axes};
use super::{FitsError, Header};

/// Bytes of a block (FITS standard 4.0, section 3.1).
const BLOCK_BYTES: usize = 2880;

/// Most blocks of one header, far above any real one.
const MOST_BLOCKS: usize = 4_000;

/// Most headers to look at.
const MOST_HEADERS: usize = 1_000;

/// An image with celestial coordinates.
#[derive(Debug)]
pub struct Image {
    /// How it lies on the sky.
    pub orientation: Orientation,
    header: Header,
    /// The first header of the file; `None` if that is the image's own.
    primary: Option<Header>,
}

impl Image {
    /// A value of the image's header, else of the first header of the file, as written. Upper and lower case count as
    /// the same. `None` if neither has the key.
    ///
    /// # Errors
    /// [`FitsError::Key`] if the key occurs with two values.
    pub fn text(&self, key: &str) -> Result<Option<&str>, FitsError> {
        let key = key.to_ascii_uppercase();
        match (self.header.text(&key)?, &self.primary) {
            (None, Some(primary)) => primary.text(&key),
            (found, _) => Ok(found),
        }
    }
}

/// Reads the first image with celestial coordinates.
///
/// # Errors
/// [`FitsError`] if the file is not a FITS file, ends too early, has no such image, or has one of an unsupported
/// kind.
pub fn read_image(mut file: impl Read + Seek) -> Result<Image, FitsError> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(0))?;
    let mut primary = None;
    for number in 1..=MOST_HEADERS {
        let Some(header) = read_header(&mut file, number)? else {
            break;
        };
        let start = file.stream_position()?;
        let data = data_bytes(&header)?;
        let end = start
            .checked_add(data)
            .filter(|end| *end <= length)
            .ok_or_else(|| {
                let left = length - start;
                FitsError::Truncated(format!(
                    "the data of header {number} have {left} bytes of {data}"
                ))
            })?;
        if let Some(axes) = Axes::of(&header)? {
            return Ok(Image {
                orientation: with_axes(&header, axes)?,
                header,
                primary,
            });
        }
        primary = primary.or(Some(header));
        file.seek(SeekFrom::Start(end.next_multiple_of(BLOCK_BYTES as u64)))?;
    }
    Err(FitsError::NotCelestial)
}

/// The next header; `None` after the last one.
fn read_header(file: &mut impl Read, number: usize) -> Result<Option<Header>, FitsError> {
    let mut header = Header::default();
    for block in 0..MOST_BLOCKS {
        let mut bytes = Vec::with_capacity(BLOCK_BYTES);
        file.take(BLOCK_BYTES as u64).read_to_end(&mut bytes)?;
        if block == 0 {
            match (number, begins(&bytes)) {
                (1, Some(Begin::Primary)) | (2.., Some(Begin::Extension)) => {}
                (1, _) => return Err(FitsError::NotFits(not_fits(&bytes))),
                _ => return Ok(None), // special records may follow the last header
            }
        }
        for card in bytes.chunks_exact(CARD_BYTES) {
            let card = Card::read(card);
            if card == Card::End {
                if bytes.len() < BLOCK_BYTES {
                    break; // the block itself is cut off
                }
                return Ok(Some(header));
            }
            header.push(card);
        }
        if bytes.len() < BLOCK_BYTES {
            let problem = format!("the file ends within header {number}");
            return Err(FitsError::Truncated(problem));
        }
    }
    Err(FitsError::Unsupported(format!(
        "header {number} has no END in its first {MOST_BLOCKS} blocks"
    )))
}

enum Begin {
    Primary,
    Extension,
}

/// What a block begins, if it begins a header.
fn begins(bytes: &[u8]) -> Option<Begin> {
    match bytes.get(..CARD_BYTES).map(Card::read) {
        Some(Card::Keyed(key, Value::Bare(value))) if key == "SIMPLE" && value == "T" => {
            Some(Begin::Primary)
        }
        Some(Card::Keyed(key, Value::Text(_))) if key == "XTENSION" => Some(Begin::Extension),
        _ => None,
    }
}

fn not_fits(bytes: &[u8]) -> &'static str {
    if bytes.is_empty() {
        "it is empty"
    } else if bytes.starts_with(&[0x1f, 0x8b]) {
        "it is compressed with gzip. Unpack it first"
    } else if bytes.starts_with(b"SIMPLE") && bytes.len() >= CARD_BYTES {
        "SIMPLE is not T"
    } else {
        "it does not begin with the card SIMPLE = T"
    }
}

/// Bytes of the data behind a header (FITS standard 4.0, sections 4.4.1.1, 6 and 7), without the padding.
fn data_bytes(header: &Header) -> Result<u64, FitsError> {
    let needed = |key: &str| {
        let missing = || FitsError::key(key, None, "is missing, but every header needs it");
        header.count(key)?.ok_or_else(missing)
    };
    let bits = header
        .text("BITPIX")?
        .and_then(|t| t.parse::<i64>().ok())
        .filter(|b| [8, 16, 32, 64, -32, -64].contains(b))
        .ok_or_else(|| {
            let value = header.text("BITPIX").ok().flatten();
            FitsError::key("BITPIX", value, "must be 8, 16, 32, 64, -32 or -64")
        })?;
    let axes = needed("NAXIS")?;
    if axes > 999 {
        let value = axes.to_string();
        return Err(FitsError::key("NAXIS", Some(&value), "must be at most 999"));
    }
    let mut sides = Vec::new();
    for axis in 1..=axes {
        sides.push(needed(&format!("NAXIS{axis}"))?);
    }
    // Random groups: the first axis is written as 0 and does not count.
    if header.is_true("GROUPS") && sides.first() == Some(&0) {
        sides.remove(0);
    }
    if sides.is_empty() {
        return Ok(0);
    }
    let extra = header.count("PCOUNT")?.unwrap_or(0);
    let groups = header.count("GCOUNT")?.unwrap_or(1);
    sides
        .iter()
        .try_fold(1_u64, |product, side| product.checked_mul(*side))
        .and_then(|product| product.checked_add(extra))
        .and_then(|sum| sum.checked_mul(groups))
        .and_then(|count| count.checked_mul(bits.unsigned_abs() / 8))
        .filter(|bytes| *bytes < 1 << 62)
        .ok_or_else(|| {
            FitsError::Unsupported("NAXISn: the data are larger than any file".to_owned())
        })
}
