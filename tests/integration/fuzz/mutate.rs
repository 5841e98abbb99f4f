//! Changes of a valid sample that know its structure: numbers, lines or cards, tokens; and bytes.

use proptest::prelude::*;
use proptest::sample::Index;

/// How a format is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lines {
    /// Ended by line feeds.
    Text,
    /// Cards of 80 bytes in blocks of 2880 (FITS).
    Cards,
}

/// Numbers that readers trip over.
const NUMBERS: [&str; 30] = [
    "0",
    "-0.0",
    "1",
    "-1",
    "1e-320",
    "5e-324",
    "-5e-324",
    "1e308",
    "-1e308",
    "1e309",
    "1e999",
    "nan",
    "NaN",
    "-nan",
    "inf",
    "-Infinity",
    "360",
    "359.99999999999999",
    "-1e-17",
    "9223372036854775807",
    "9223372036854775808",
    "18446744073709551616",
    "4294967296",
    "0x10",
    "1_000",
    "+.5",
    "1.",
    "1,5",
    "1e",
    "",
];

/// Pieces with a meaning in one of the formats.
const TOKENS: [&str; 44] = [
    "\n",
    "\r",
    "\r\n",
    "\n\n",
    "#",
    "# ",
    ",",
    ";",
    "\t",
    "\"",
    "\"\"",
    "'",
    "'''",
    "\"\"\"",
    "=",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "\\",
    "\\u0000",
    "\u{feff}",
    "\u{202e}",
    "\0",
    "é",
    "\u{1f52d}",
    "inf",
    "true",
    "null",
    "[drive]\n",
    "[[keep_out]]\n",
    "periodic = [",
    "name,position_angle_deg\n",
    "reading_deg",
    "do",
    "END",
    "CONTINUE  '&'",
    "HIERARCH ",
    "T",
    "/ ",
    "&'",
    "1/2",
];

/// One change.
#[derive(Debug, Clone)]
pub(super) enum Change {
    Byte(Index, u8),
    Delete(Index, usize),
    Copy(Index, usize, Index),
    Token(Index, usize),
    Number(Index, usize),
    Line(Index, Index, u8),
    Cut(Index),
    Run(Index, u8, usize),
}

/// A few changes at a time.
pub(super) fn changes() -> impl Strategy<Value = Vec<Change>> {
    let change = prop_oneof![
        2 => (any::<Index>(), any::<u8>()).prop_map(|(i, b)| Change::Byte(i, b)),
        2 => (any::<Index>(), 1..40_usize).prop_map(|(i, n)| Change::Delete(i, n)),
        1 => (any::<Index>(), 1..200_usize, any::<Index>()).prop_map(|(i, n, j)| Change::Copy(i, n, j)),
        3 => (any::<Index>(), 0..TOKENS.len()).prop_map(|(i, k)| Change::Token(i, k)),
        6 => (any::<Index>(), 0..NUMBERS.len()).prop_map(|(i, k)| Change::Number(i, k)),
        3 => (any::<Index>(), any::<Index>(), 0..3_u8).prop_map(|(i, j, k)| Change::Line(i, j, k)),
        1 => any::<Index>().prop_map(Change::Cut),
        1 => (any::<Index>(), any::<u8>(), 1..5000_usize).prop_map(|(i, b, n)| Change::Run(i, b, n)),
    ];
    prop::collection::vec(change, 0..6)
}

/// Bytes of any kind, and texts of tokens and numbers.
pub(super) fn raw() -> impl Strategy<Value = Vec<u8>> {
    let pieces = NUMBERS.iter().chain(&TOKENS).copied().collect::<Vec<_>>();
    prop_oneof![
        prop::collection::vec(any::<u8>(), 0..400),
        prop::collection::vec(prop::sample::select(pieces), 0..60)
            .prop_map(|p| p.concat().into_bytes()),
    ]
}

/// The sample after the changes.
pub(super) fn changed(sample: &[u8], changes: &[Change], lines: Lines) -> Vec<u8> {
    let mut bytes = sample.to_vec();
    for change in changes {
        apply(&mut bytes, change, lines);
    }
    if lines == Lines::Cards && changes.len() % 3 != 2 {
        // Mostly whole blocks, so that the cards are looked at.
        bytes.resize(bytes.len().next_multiple_of(2880), b' ');
    }
    bytes
}

fn apply(bytes: &mut Vec<u8>, change: &Change, lines: Lines) {
    if bytes.is_empty() {
        bytes.push(b' ');
    }
    let length = bytes.len();
    match change {
        Change::Byte(i, b) => bytes[i.index(length)] = *b,
        Change::Delete(i, n) => {
            let i = i.index(length);
            bytes.drain(i..length.min(i + n));
        }
        Change::Copy(i, n, j) => {
            let i = i.index(length);
            let piece = bytes[i..length.min(i + n)].to_vec();
            insert(bytes, j.index(length), &piece);
        }
        Change::Token(i, k) => insert(bytes, i.index(length), TOKENS[*k].as_bytes()),
        Change::Number(i, k) => {
            let found = numbers(bytes);
            if found.is_empty() {
                return;
            }
            let range = found[i.index(found.len())].clone();
            let mut new = NUMBERS[*k].as_bytes().to_vec();
            if lines == Lines::Cards {
                new.resize(new.len().max(range.len()), b' '); // the columns stay where they are
            }
            bytes.splice(range, new);
        }
        Change::Line(i, j, kind) => {
            let mut all: Vec<Vec<u8>> = match lines {
                Lines::Text => bytes
                    .split_inclusive(|b| *b == b'\n')
                    .map(<[u8]>::to_vec)
                    .collect(),
                Lines::Cards => bytes.chunks(80).map(<[u8]>::to_vec).collect(),
            };
            let (i, j) = (i.index(all.len()), j.index(all.len()));
            match kind {
                0 => drop(all.remove(i)),
                1 => all.insert(j, all[i].clone()),
                _ => all.swap(i, j),
            }
            *bytes = all.concat();
        }
        Change::Cut(i) => bytes.truncate(i.index(length)),
        Change::Run(i, b, n) => insert(bytes, i.index(length), &vec![*b; *n]),
    }
}

fn insert(bytes: &mut Vec<u8>, at: usize, piece: &[u8]) {
    bytes.splice(at..at, piece.iter().copied());
}

/// Where numbers stand.
fn numbers(bytes: &[u8]) -> Vec<std::ops::Range<usize>> {
    let part = |b: &u8| b.is_ascii_digit() || b"+-.".contains(b);
    let mut found = Vec::new();
    let mut start = None;
    for (i, b) in bytes.iter().chain(b" ").enumerate() {
        match (part(b), start) {
            (true, None) => start = Some(i),
            (false, Some(from)) => {
                if bytes[from..i].iter().any(u8::is_ascii_digit) {
                    found.push(from..i);
                }
                start = None;
            }
            _ => {}
        }
    }
    found
}
