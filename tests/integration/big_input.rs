//! Files as large as they may be, and larger: an answer within seconds, and in a quarter of a gibibyte.
#![cfg(target_os = "linux")]

use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

use crate::binary::{complaint, folder, write};

/// Memory that the program may have for any input [KiB]: half a gibibyte of addresses, of which threads and libraries take a part that
/// they do not use.
const MOST_KIB: u32 = 512 * 1024;

fn held(dir: &Path, args: &[&str]) -> Output {
    let begun = Instant::now();
    let out = Command::new("sh")
        .current_dir(dir)
        .args(["-c", &format!("ulimit -v {MOST_KIB}; exec \"$0\" \"$@\"")])
        .arg(env!("CARGO_BIN_EXE_halfturn"))
        .args(args)
        .args(["--quiet", "--threads", "1"])
        .output()
        .expect("a shell runs");
    // Far above what it takes, for a machine with other work to do.
    assert!(begun.elapsed() < Duration::from_secs(20), "{args:?}");
    out
}

const MIB: usize = 1024 * 1024;

/// Shows (trust): large files take little memory. Source: none: own rule.
#[test]
fn large_files_are_answered_in_little_memory() {
    let dir = folder();
    let rows = |head: &str, row: &str, count: usize| format!("{head}\n{}", row.repeat(count));
    // The file, what is asked, and what is said.
    let cases: [(&str, String, &[&str], &str); 14] = [
        (
            "keys.toml",
            (0..300_000).map(|i| format!("k{i} = 1\n")).collect(),
            &["trace", "IT", "--target", "0"],
            "k0 = 1: unknown key",
        ),
        (
            "key.toml",
            format!("{} = 1\n", "x".repeat(4 * MIB - 100)),
            &["trace", "IT", "--target", "0"],
            "unknown key",
        ),
        (
            "text.toml",
            format!("name = \"{}\"\n", "x".repeat(4 * MIB - 100)),
            &["trace", "IT", "--target", "0"],
            "at most 200 characters",
        ),
        (
            "deep.toml",
            format!("a = {}", "[".repeat(4 * MIB - 100)),
            &["trace", "IT", "--target", "0"],
            "not valid TOML",
        ),
        (
            "list.toml",
            format!(
                "[drive]\nperiodic = [{}]\n",
                "{cycles=1,amplitude_deg=0},".repeat(150_000)
            ),
            &["trace", "IT", "--target", "0"],
            "has 150000 entries",
        ),
        (
            "long.toml",
            "#".repeat(5 * MIB),
            &["trace", "IT", "--target", "0"],
            "is too long. Give a file of at most 4194304 bytes",
        ),
        (
            "long.csv",
            "#".repeat(65 * MIB),
            &["fit", "IT"],
            "is too long. Give a file of at most 67108864 bytes",
        ),
        (
            "header.csv",
            rows(&format!("name{}", ",".repeat(60 * MIB)), "1\n", 1),
            &["fit", "IT"],
            "more than 100 fields",
        ),
        (
            "row.csv",
            rows("reading_deg,position_angle_deg", &",".repeat(60 * MIB), 1),
            &["fit", "IT"],
            "more than 100 fields",
        ),
        (
            "log.csv",
            rows("reading_deg,position_angle_deg", "10,20\n", 10 * MIB),
            &["fit", "IT"],
            "too many rows. Give at most 5000",
        ),
        (
            "quotes.csv",
            rows(
                "reading_deg,position_angle_deg",
                &format!("\"{}", "\"\"".repeat(30 * MIB)),
                1,
            ),
            &["fit", "IT"],
            "none closes it",
        ),
        (
            "nested.json",
            "[".repeat(60 * MIB),
            &["judge", "--replay", "IT", "--", "true"],
            "not a file of scenarios",
        ),
        (
            "empty.json",
            format!(
                "{{\"format\":1,\"kind\":\"halfturn-scenarios\",\"cases\":[{}{{}}]}}",
                "{},".repeat(20 * MIB)
            ),
            &["judge", "--replay", "IT", "--", "true"],
            "missing field",
        ),
        (
            "header.fits",
            format!(
                "{:80}{}",
                "SIMPLE  =                    T",
                format!("{:80}", "COMMENT").repeat(200_000)
            ),
            &["sky", "fits", "IT"],
            "no END in its first 4000 blocks",
        ),
    ];
    for (name, text, args, message) in cases {
        write(dir.path(), name, &text);
        drop(text);
        let args: Vec<&str> = args
            .iter()
            .map(|a| if *a == "IT" { name } else { a })
            .collect();
        let out = held(dir.path(), &args);
        let said = format!(
            "{}{}",
            complaint(&out),
            String::from_utf8_lossy(&out.stdout)
        );
        assert_eq!(out.status.code(), Some(2), "{name}: {said}");
        assert!(said.contains(message), "{name}: {said}");
        assert!(said.len() < 2000, "{name}: {} bytes are said", said.len());
        std::fs::remove_file(dir.path().join(name)).expect("it is there");
    }
}
