//! `halfturn vectors`: test vectors of the wrap rules.

use super::super::args::Common;
use super::super::outputs::Outputs;
use super::super::reply::{Failure, Reply};
use super::args::VectorsArgs;
use halfturn_engine::judge::vectors;
use halfturn_report::judge::{vectors_csv, vectors_digest, vectors_json};
use halfturn_report::{schema, write_files};

/// The files of the folder.
const FILES: [&str; 4] = [
    "wrap-vectors.csv",
    "wrap-vectors.json",
    "wrap-vectors.schema.json",
    "wrap-vectors.sha256",
];

pub(in crate::command) fn write(common: &Common, args: &VectorsArgs) -> Result<Reply, Failure> {
    let outputs = Outputs {
        folder: args.out.as_deref().map(|dir| ("--out", dir, &FILES[..])),
        ..Outputs::default()
    };
    outputs.check(common, &[])?;
    let vectors = vectors();
    let csv = vectors_csv(&vectors);
    let json = vectors_json(&vectors);
    let mut reply = match &args.out {
        None => Reply::done(csv),
        Some(dir) => {
            let digest = vectors_digest(&vectors);
            // The form that checksum programs read.
            let sum = format!("{digest}  {}\n", FILES[0]);
            let texts = [
                csv,
                format!("{json:#}\n"),
                format!("{:#}\n", schema("vectors").unwrap_or_default()),
                sum,
            ];
            let files = FILES.iter().zip(texts);
            let files = files.map(|(name, text)| ((*name).to_owned(), text.into_bytes()));
            write_files(dir, files.collect())?;
            Reply::done(format!(
                "{} vectors: {}\nSHA-256 of the CSV: {digest}\n",
                vectors.len(),
                dir.display()
            ))
        }
    };
    reply.json(common, &json)?;
    Ok(reply)
}
