//! The headers of a file, one after the other, up to the first with celestial coordinates.

use std::io::{self, Read, Seek, SeekFrom};

use flate2::read::MultiGzDecoder;

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

/// Most bytes to unpack before the coordinates of a packed file. Nobody waits longer, and a small file can hold more.
const MOST_UNPACKED: u64 = 4 << 30;

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

impl Image {
    /// The keys that may hold the reading of a rotator: a number, and ROT in the name, but not `CROTAi`.
    #[must_use]
    pub fn rotator_keys(&self) -> Vec<&str> {
        let headers = std::iter::once(&self.header).chain(&self.primary);
        let mut keys: Vec<&str> = headers
            .flat_map(Header::number_keys)
            .filter(|key| key.contains("ROT") && !key.starts_with("CROTA"))
            .collect();
        keys.sort_unstable();
        keys.dedup();
        keys
    }
}

/// Reads the first image with celestial coordinates, from a file as it is or packed by gzip. A packed one is read only
/// up to the header of that image: nothing then says whether the data behind it are complete.
///
/// # Errors
/// [`FitsError`] if the file is not a FITS file, ends too early, has no such image, or has one of an unsupported
/// kind.
pub fn read_image(mut file: impl Read + Seek) -> Result<Image, FitsError> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(0))?;
    let mut first = [0; 2];
    let packed = file.read_exact(&mut first).is_ok() && first == GZIP;
    file.seek(SeekFrom::Start(0))?;
    if packed {
        let file = MultiGzDecoder::new(file);
        first_image(Packed { file, passed: 0 })
    } else {
        first_image(Plain { file, length })
    }
}

/// The first bytes of a file that gzip has packed (RFC 1952, section 2.3.1).
const GZIP: [u8; 2] = [0x1f, 0x8b];

/// A file of headers and data.
trait Blocks: Read {
    /// Whether the next bytes are there, if that can be known.
    fn holds(&mut self, bytes: u64) -> io::Result<bool>;

    /// Passes over these bytes; fewer at the end of the file.
    fn pass(&mut self, bytes: u64) -> io::Result<u64>;
}

struct Plain<F> {
    file: F,
    length: u64,
}

impl<F: Read> Read for Plain<F> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.file.read(buffer)
    }
}

impl<F: Read + Seek> Blocks for Plain<F> {
    fn holds(&mut self, bytes: u64) -> io::Result<bool> {
        let end = self.file.stream_position()?.checked_add(bytes);
        Ok(end.is_some_and(|end| end <= self.length))
    }

    fn pass(&mut self, bytes: u64) -> io::Result<u64> {
        let at = self.file.stream_position()?;
        self.file.seek(SeekFrom::Start(at + bytes))?;
        Ok(bytes)
    }
}

/// A file in the packing of gzip. Where the packing is cut off, the file ends.
struct Packed<F> {
    file: MultiGzDecoder<F>,
    passed: u64,
}

impl<F: Read> Read for Packed<F> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self.file.read(buffer) {
            Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => Ok(0),
            other => other,
        }
    }
}

impl<F: Read> Blocks for Packed<F> {
    fn holds(&mut self, _: u64) -> io::Result<bool> {
        Ok(true)
    }

    fn pass(&mut self, bytes: u64) -> io::Result<u64> {
        self.passed = self.passed.saturating_add(bytes);
        if self.passed > MOST_UNPACKED {
            let problem = format!(
                "{} bytes stand before its coordinates. Unpack it first",
                self.passed
            );
            return Err(io::Error::other(problem));
        }
        io::copy(&mut self.take(bytes), &mut io::sink())
    }
}

fn first_image(mut file: impl Blocks) -> Result<Image, FitsError> {
    let mut primary = None;
    for number in 1..=MOST_HEADERS {
        let Some(header) = read_header(&mut file, number)? else {
            break;
        };
        let data = data_bytes(&header)?;
        let cut = || {
            FitsError::Truncated(format!(
                "the data of header {number} end before their {data} bytes"
            ))
        };
        if !file.holds(data)? {
            return Err(cut());
        }
        if let Some(axes) = Axes::of(&header)? {
            return Ok(Image {
                orientation: with_axes(&header, axes)?,
                header,
                primary,
            });
        }
        primary = primary.or(Some(header));
        if file.pass(data.next_multiple_of(BLOCK_BYTES as u64))? < data {
            return Err(cut());
        }
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
