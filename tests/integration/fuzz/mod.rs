//! Any bytes at all for every format that is read: no panic, no input that takes a second, no error that is not plain text.
//!
//! Valid samples are changed with knowledge of their structure, and raw bytes are tried as well. A short run with a fixed seed belongs to
//! `cargo test`. A long one goes on for so many seconds, over other seeds, and says how many inputs there were; it also holds the
//! memory of the whole process under [`MOST_KIB`]:
//!
//! ```sh
//! HALFTURN_FUZZ_SECONDS=300 cargo test --release --test integration fuzz:: -- --nocapture
//! ```

mod formats;
mod mutate;

use std::cell::Cell;
use std::time::{Duration, Instant};

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use formats::{Format, formats};
use mutate::{Lines, changed, changes, raw};

/// No input may take longer.
const MOST_TIME: Duration = Duration::from_secs(1);

/// Most memory of a long run [KiB].
const MOST_KIB: u64 = 256 * 1024;

/// An input that is shown as text.
#[derive(Clone)]
struct Input(Vec<u8>);

impl std::fmt::Debug for Input {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "\"{}\"", self.0.escape_ascii())
    }
}

/// Checks a format with so many inputs of a seed; the longest time of one.
fn hammer(format: &Format, seed: u64, inputs: u32) -> Duration {
    let config = Config {
        cases: inputs,
        failure_persistence: None,
        max_shrink_iters: 2000,
        ..Config::default()
    };
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
    let (samples, lines) = (format.samples.clone(), format.lines);
    let mutants =
        (0..samples.len(), changes()).prop_map(move |(i, c)| changed(&samples[i], &c, lines));
    let input = prop_oneof![6 => mutants, 1 => raw()].prop_map(Input);
    let longest = Cell::new(Duration::ZERO);
    let timed = |bytes: &[u8]| {
        let begun = Instant::now();
        (format.check)(bytes);
        begun.elapsed()
    };
    let result = TestRunner::new_with_rng(config, rng).run(&input, |Input(bytes)| {
        let mut took = timed(&bytes);
        if took > MOST_TIME {
            took = timed(&bytes); // the machine may have had a pause
        }
        prop_assert!(took <= MOST_TIME, "it took {took:?}");
        longest.set(longest.get().max(took));
        Ok(())
    });
    if let Err(error) = result {
        panic!("{}, seed {seed}: {error}", format.name);
    }
    longest.get()
}

/// Shows (trust): any bytes get an answer; what was found stays mended. With: `what_was_found_stays_mended`. Source:
/// none: own rule; the figures of the long run are measured.
#[test]
fn any_bytes_get_an_answer() {
    let seconds = std::env::var("HALFTURN_FUZZ_SECONDS").ok();
    match seconds.and_then(|s| s.parse::<u64>().ok()) {
        None => {
            for format in formats() {
                hammer(&format, 2026, format.short);
            }
        }
        Some(seconds) => long(Duration::from_secs(seconds)),
    }
}

/// What long runs have found, each once: a product that overflowed, control characters in a message, pixels without a finite size.
#[test]
fn what_was_found_stays_mended() {
    let all = formats();
    let found: [(&str, usize, &str, &str); 7] = [
        (
            "scenarios",
            0,
            "\"index\": 0",
            "\"index\": 9223372036854775808",
        ),
        ("advice", 0, "\"exact\"", "\"\\texact\""),
        ("advice", 0, "rig_file = \"", "rig_file = \"\\u001b[31m"),
        (
            "FITS header",
            1,
            "CDELT1  = -0.001 / [deg]",
            "CDELT1  = 1e-320        ",
        ),
        ("FITS header", 1, "CDELT2  = 0.001", "CDELT2  = 1e308"),
        ("FITS header", 4, "A_1_0   = 1.0E-4", "A_1_0   = 1.E308"),
        ("FITS header", 5, "PV1_1   = 1.001", "PV1_1   = 9e307"),
    ];
    for (name, sample, old, new) in found {
        let format = all.iter().find(|f| f.name == name).expect("a format");
        let text = String::from_utf8_lossy(&format.samples[sample]).into_owned();
        assert!(text.contains(old), "{name}: {old}");
        // Cards have columns.
        assert!(
            format.lines == Lines::Text || old.len() == new.len(),
            "{new}"
        );
        (format.check)(text.replacen(old, new, 1).as_bytes());
    }
}

/// All formats side by side, each for the whole time.
#[expect(clippy::print_stdout, reason = "the figures of a long run")]
fn long(time: Duration) {
    let begun = Instant::now();
    std::thread::scope(|scope| {
        for format in formats() {
            scope.spawn(move || {
                let (mut seed, mut inputs, mut longest) = (1, 0_u64, Duration::ZERO);
                while begun.elapsed() < time {
                    longest = longest.max(hammer(&format, seed, format.short));
                    inputs += u64::from(format.short);
                    seed += 1;
                }
                println!(
                    "{:12} {inputs:>10} inputs, the slowest {longest:?}",
                    format.name
                );
            });
        }
    });
    if let Some(kib) = most_memory_kib() {
        println!(
            "most memory: {} MiB of {} permitted",
            kib / 1024,
            MOST_KIB / 1024
        );
        assert!(kib <= MOST_KIB);
    }
}

/// The most memory that the process has held, where the system tells (Linux).
fn most_memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}
