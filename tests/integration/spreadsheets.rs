//! Tables as spreadsheets and Windows editors write them: read right, or refused with a word that helps.
//!
//! How they write is common practice, no published source; quotes and line ends are those of RFC 4180.
//! Shows (trust): tables as spreadsheets save them are read, or refused with a hint. Source: RFC 4180; common practice,
//! no published source.

use crate::binary::{complaint, folder, halfturn, json, output, write};
use crate::faults::quick;

/// What `advise` makes of a targets file: the drive angles and names of its targets, or its one line of complaint.
fn targets(bytes: &[u8]) -> Result<Vec<(String, f64)>, String> {
    let dir = folder();
    std::fs::write(dir.path().join("t.csv"), bytes).expect("a file can be written");
    quick(dir.path());
    let args = "advise quick.toml t.csv --trials 1 --quiet --json -";
    let out = halfturn(dir.path(), &args.split(' ').collect::<Vec<_>>());
    if out.status.code() == Some(2) {
        let left = dir.path().join("halfturn-report");
        assert!(!left.exists(), "a report of a file that was refused");
        return Err(complaint(&out).trim_end().to_owned());
    }
    let advice = json(&out);
    let all = advice["before"]["targets"].as_array().expect("targets");
    let read = all.iter().map(|t| {
        let name = t["name"].as_str().unwrap_or_default();
        (
            name.to_owned(),
            t["position_angle_deg"].as_f64().unwrap_or(f64::NAN),
        )
    });
    Ok(read.collect())
}

const PLAIN: &str = "name,position_angle_deg,minutes\nHook,12.5,40\n\"Ring, wide\",178,\n";

fn utf16(text: &str, start: [u8; 2], bytes: fn(u16) -> [u8; 2]) -> Vec<u8> {
    start
        .into_iter()
        .chain(text.encode_utf16().flat_map(bytes))
        .collect()
}

#[test]
fn a_saved_table_is_the_table() {
    let expected = Ok(vec![
        ("Hook".to_owned(), 12.5),
        ("Ring, wide".to_owned(), 178.0),
    ]);
    let crlf = PLAIN.replace('\n', "\r\n");
    for (what, text) in [
        ("as it is", PLAIN.to_owned()),
        (
            "CSV UTF-8: a byte order mark and CRLF",
            format!("\u{feff}{crlf}"),
        ),
        ("lines of an old Macintosh", PLAIN.replace('\n', "\r")),
        ("no end of the last line", PLAIN.trim_end().to_owned()),
        (
            "every field in quotes",
            crlf.replace("Hook,12.5,40", "\"Hook\",\"12.5\",\"40\""),
        ),
        ("exponents", crlf.replace("12.5", "1.25E+01")),
        (
            "a blank that does not break",
            crlf.replace("12.5", "\u{a0}12.5 "),
        ),
        ("empty columns behind", crlf.replace("\r\n", ",,\r\n")),
        ("rows of commas", format!("{crlf},,\r\n,,\r\n")),
        (
            "rows of commas between",
            crlf.replace("\r\n\"", "\r\n,,\r\n\""),
        ),
        (
            "a comment with commas of its row",
            format!("# Two targets.,,\r\n{crlf}"),
        ),
    ] {
        assert_eq!(targets(text.as_bytes()), expected, "{what}");
    }
}

#[test]
fn what_would_be_guessed_is_refused_with_a_hint() {
    let commas = "commas must part the fields";
    let tabs = PLAIN.replace("\"Ring, wide\"", "Ring").replace(',', "\t");
    for (what, bytes, says) in [
        ("semicolons", PLAIN.replace(',', ";").into_bytes(), commas),
        (
            "semicolons and decimal commas",
            PLAIN.replace(',', ";").replace("12.5", "12,5").into_bytes(),
            commas,
        ),
        (
            "a line that names the semicolon",
            b"sep=;\r\nname;position_angle_deg\r\nHook;12.5\r\n".to_vec(),
            commas,
        ),
        ("tabs", tabs.clone().into_bytes(), commas),
        (
            "a decimal comma in quotes",
            PLAIN.replace("12.5", "\"12,5\"").into_bytes(),
            "with a decimal point",
        ),
        (
            "a decimal comma without",
            PLAIN.replace("12.5", "12,5").into_bytes(),
            "t.csv:2: this row has 4 columns, but the header has 3",
        ),
        (
            "Unicode text, low byte first",
            utf16(&tabs, [0xff, 0xfe], u16::to_le_bytes),
            "but UTF-16. Save it as UTF-8",
        ),
        (
            "Unicode text, high byte first",
            utf16(&tabs, [0xfe, 0xff], u16::to_be_bytes),
            "but UTF-16. Save it as UTF-8",
        ),
        (
            "an old code page",
            b"name,position_angle_deg\r\n\xc9toile,1\r\n".to_vec(),
            "is not UTF-8 text. Save it as UTF-8",
        ),
        (
            "a broken reference",
            PLAIN.replace("12.5", "#REF!").into_bytes(),
            "t.csv:2: position_angle_deg = \"#REF!\"",
        ),
        (
            "a formula",
            PLAIN.replace("12.5", "=10+2.5").into_bytes(),
            "t.csv:2: position_angle_deg = \"=10+2.5\"",
        ),
        (
            "a time made of a right ascension",
            b"name,position_angle_deg,ra\nHook,1,5:34:30 AM\n".to_vec(),
            "ra = \"5:34:30 AM\": must be like 05:34:31.9",
        ),
        (
            "a value in a column without a name",
            PLAIN.replace("40", "40,7").into_bytes(),
            "t.csv:2: this row has 4 columns",
        ),
        (
            "a value under no name",
            b"name,,position_angle_deg\nHook,,1\n".to_vec(),
            "t.csv:1: unknown column",
        ),
    ] {
        let said = targets(&bytes).expect_err(what);
        assert!(said.contains(says), "{what}: {said}");
        assert_eq!(said.lines().count(), 1, "{what}: {said}");
        assert!(said.starts_with("error: t.csv"), "{what}: {said}");
    }
}

/// The same reader takes logs.
#[test]
fn a_saved_log_is_the_log() {
    let log = include_str!("../../assets/demo-log.csv");
    let fit = |text: &str| {
        let dir = folder();
        write(dir.path(), "log.csv", text);
        let out = halfturn(dir.path(), &["fit", "log.csv", "--quiet", "--json", "-"]);
        (out.status.code(), output(&out), complaint(&out))
    };
    let plain = fit(log);
    assert_eq!(plain.0, Some(0), "{}", plain.2);
    let columns = log
        .lines()
        .find(|l| !l.starts_with('#'))
        .map_or(0, |l| l.split(',').count());
    let empty = ",".repeat(columns);
    let saved = log.replace('\n', ",,\r\n");
    assert_eq!(
        fit(&format!("\u{feff}{saved}{empty}\r\n{empty}\r\n")).1,
        plain.1
    );
    let (code, _, said) = fit(&log.replace(',', ";"));
    assert_eq!(code, Some(2));
    assert!(said.contains("commas must part the fields"), "{said}");
}

/// A rig file out of an editor of Windows.
#[test]
fn a_rig_file_may_begin_with_a_mark_and_end_its_lines_twice() {
    let dir = folder();
    let demo = include_str!("../../assets/demo-rig.toml").replace("\r\n", "\n");
    write(dir.path(), "plain.toml", &demo);
    write(
        dir.path(),
        "saved.toml",
        &format!("\u{feff}{}", demo.replace('\n', "\r\n")),
    );
    let utf16 = utf16(&demo, [0xff, 0xfe], u16::to_le_bytes);
    std::fs::write(dir.path().join("wide.toml"), utf16).expect("a file can be written");
    let trace = |rig: &str| halfturn(dir.path(), &["trace", rig, "--target", "3", "--json", "-"]);
    assert_eq!(trace("plain.toml").status.code(), Some(0));
    assert_eq!(output(&trace("saved.toml")), output(&trace("plain.toml")));
    assert!(complaint(&trace("wide.toml")).contains("but UTF-16. Save it as UTF-8"));
}

/// A table of a sweep is ours alone: a spreadsheet that saved it has changed it, and nothing goes on from there.
#[test]
fn a_table_of_a_sweep_that_a_spreadsheet_saved_is_refused() {
    let dir = folder();
    let sweep = |more: &[&str]| {
        let args = [
            "sweep",
            "--vary",
            "loop.tolerance_deg=0.2:0.4:2",
            "--target",
            "0",
        ];
        let args = [
            &args[..],
            &["--trials", "20", "--out", "table.csv", "--quiet"],
            more,
        ]
        .concat();
        halfturn(dir.path(), &args)
    };
    assert_eq!(sweep(&[]).status.code(), Some(0));
    let table = std::fs::read_to_string(dir.path().join("table.csv")).expect("the table");
    assert!(
        !table.contains('\r'),
        "lines of our files end with a line feed on every system"
    );
    for (what, saved) in [
        (
            "a mark and CRLF",
            format!("\u{feff}{}", table.replace('\n', "\r\n")),
        ),
        ("CRLF", table.replace('\n', "\r\n")),
        ("semicolons", table.replace(',', ";")),
        (
            "quotes",
            table.lines().map(|l| format!("\"{l}\"\n")).collect(),
        ),
    ] {
        write(dir.path(), "table.csv", &saved);
        let out = sweep(&["--resume"]);
        assert_eq!(out.status.code(), Some(2), "{what}: {}", output(&out));
        assert!(
            complaint(&out).starts_with("error: table.csv"),
            "{what}: {}",
            complaint(&out)
        );
        let left = std::fs::read_to_string(dir.path().join("table.csv")).expect("the table");
        assert_eq!(left, saved, "{what}: it is left as it was");
    }
}
