//! Solved images: their headers become a log.

use std::io::{Cursor, Error, Read, Result, Seek, SeekFrom};

use serde::Deserialize;
use serde_json::json;

use crate::{Answer, Refusal, asked};
use halfturn_engine::sample::Monitor;
use halfturn_report::{Frames, NamedImage, fits_log};
use halfturn_sky::fits::read_image;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Images {
    files: Vec<Begun>,
    /// Header key with the reading of the drive.
    reading_key: String,
}

/// A FITS file of which the page read the beginning.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Begun {
    name: String,
    /// Its length.
    bytes: u64,
    /// The beginning, a character for each byte. Headers are ASCII, and nobody reads what lies between them.
    head: String,
}

/// `POST /api/fits`: the log of solved images, as `sky fits --log` writes it.
pub(crate) fn log_of_images(body: &[u8], _: &dyn Monitor) -> Answer {
    let asked: Images = asked(body)?;
    let mut frames = Frames::default();
    for Begun { name, bytes, head } in asked.files {
        let file = Beginning {
            head: Cursor::new(head.into_bytes()),
            bytes,
        };
        let image = read_image(file)
            .and_then(|image| NamedImage::of(name.clone(), &image, Some(&asked.reading_key)));
        let image = image.map_err(|e| Refusal::too_much(format!("{name}: {e}")))?;
        frames.images.push(image);
    }
    let mirrored = |image: &NamedImage| image.orientation.mirrored;
    if frames.images.iter().any(mirrored) && !frames.images.iter().all(mirrored) {
        return Err(Refusal::too_much(
            "some of the images are mirrored, so their angles turn the other way. Open them without the others",
        ));
    }
    Ok(json!({ "text": fits_log(&frames) }))
}

/// A file whose end is not here.
struct Beginning {
    head: Cursor<Vec<u8>>,
    bytes: u64,
}

impl Read for Beginning {
    fn read(&mut self, to: &mut [u8]) -> Result<usize> {
        match self.head.read(to)? {
            0 if !to.is_empty() && self.head.position() < self.bytes => Err(Error::other(
                "its coordinates lie too far inside the file for the page. Use halfturn sky fits",
            )),
            read => Ok(read),
        }
    }
}

impl Seek for Beginning {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        match to {
            SeekFrom::End(0) => self.head.seek(SeekFrom::Start(self.bytes)),
            to => self.head.seek(to),
        }
    }
}
