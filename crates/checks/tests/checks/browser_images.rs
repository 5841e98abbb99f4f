//! Solved images dropped on the served page: their headers make a log, and the log tells of the rig.

use serde_json::json;

use crate::binary::{folder, halfturn, root, write};
use crate::browser_driver::{Look, in_browser};
use crate::browser_given::drop_files;
use crate::browser_page::{of_command, open, shows_digest};
use crate::page_server::Server;

/// A FITS file (FITS standard 4.0, section 3) with an image of 8 bits, whose bytes are no text.
fn fits_file(cards: &[String]) -> String {
    let header: String = cards.iter().map(|c| format!("{c:80}")).collect();
    let header = format!("{header}{:80}", "END");
    let length = header.len().next_multiple_of(2880);
    format!("{header:length$}{}", "\u{1}".repeat(2880))
}

/// The images of a log: those of its rows that have a position angle. A mirror image has its first axis the other way.
fn images(mirrored: bool) -> Vec<(String, String)> {
    let log = std::fs::read_to_string(root().join("assets/demo-log.csv")).expect("a log");
    let rows = log
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    let rows = rows
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| !cells[3].is_empty());
    let image = |(i, cells): (usize, Vec<&str>)| {
        let angle: f64 = cells[3].parse().expect("an angle");
        let side = if mirrored { 0.001 } else { -0.001 };
        // CROTA2 is minus the position angle where the first axis runs to the west (Calabretta & Greisen 2002).
        let cards = [
            "SIMPLE  = T".to_owned(),
            "BITPIX  = 8".to_owned(),
            "NAXIS   = 2".to_owned(),
            "NAXIS1  = 48".to_owned(),
            "NAXIS2  = 60".to_owned(),
            "CTYPE1  = 'RA---TAN'".to_owned(),
            "CTYPE2  = 'DEC--TAN'".to_owned(),
            "CRVAL1  = 10.0".to_owned(),
            "CRVAL2  = 20.0".to_owned(),
            format!("CDELT1  = {side}"),
            "CDELT2  = 0.001".to_owned(),
            format!("CROTA2  = {}", -angle),
            format!("ROTANGLE= {}", cells[2]),
            format!("DATE-OBS= '2031-03-01T22:{i:02}:00'"),
        ];
        (format!("{i:02}.fits"), fits_file(&cards))
    };
    rows.enumerate().map(image).collect()
}

/// Shows (serve): dropped images tell of the rig what `sky fits` and `fit` find in them. Source: none: internal
/// consistency.
#[test]
fn dropped_images_tell_of_the_rig() {
    let dir = folder();
    let run = |args: &[&str]| {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(0), "{args:?}");
    };
    let (images, mirror) = (images(false), images(true));
    assert!(images.len() > 20);
    for (name, text) in &images {
        write(dir.path(), name, text);
    }
    run(&["init", "r", "--quiet"]);
    run(&[
        "sky",
        "fits",
        ".",
        "--log",
        "log.csv",
        "--reading-key",
        "ROTANGLE",
        "--quiet",
    ]);
    run(&[
        "fit",
        "log.csv",
        "--rig",
        "r/rig.toml",
        "--out",
        "fitted.toml",
        "--quiet",
    ]);
    let server = Server::start(dir.path(), &["r/rig.toml"]);
    in_browser("page: images", Look::DESK, async |browser| {
        open(&browser, &server).await;
        let fault = |words: &str| {
            format!(
                "document.querySelector('#sheet .fault')?.textContent.includes({})",
                json!(words)
            )
        };
        drop_files(&browser, &images).await;
        browser
            .until("document.querySelector('#reading-key')")
            .await;
        assert_eq!(browser.axe().await, Vec::<String>::new());
        // The reading stands under another key.
        browser.put("#reading-key", &json!("ANGLE"), "input").await;
        browser.click("#images-go").await;
        browser.until(&fault("ANGLE: is missing")).await;
        browser
            .put("#reading-key", &json!("ROTANGLE"), "input")
            .await;
        browser.click("#images-go").await;
        browser.until("document.querySelector('#take-fit')").await;
        browser.click("#take-fit").await;
        let fitted = dir.path().join("fitted.toml").display().to_string();
        let batch = of_command(&["--target", "0", &fitted]);
        shows_digest(&browser, &batch["rig_digest"]).await;

        // One that is mirrored among others, and coordinates beyond what the page reads.
        let mut mixed = vec![images[0].clone(), mirror[1].clone()];
        for (words, files) in [
            ("mirrored", mixed.clone()),
            ("too far inside", {
                mixed.truncate(1);
                mixed[0].1 = mixed[0]
                    .1
                    .replace("NAXIS2  = 60", "NAXIS2  = 10000")
                    .replace("CTYPE", "OTHER")
                    + &"?".repeat(480_000 - 2880);
                mixed
            }),
        ] {
            drop_files(&browser, &files).await;
            browser
                .until("document.querySelector('#reading-key')")
                .await;
            browser
                .put("#reading-key", &json!("ROTANGLE"), "input")
                .await;
            browser.click("#images-go").await;
            browser.until(&fault(words)).await;
        }
        browser
    });
}
