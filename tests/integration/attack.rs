//! What an attack once broke: names, links, foreign hosts, signals.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use crate::binary::{complaint, folder, halfturn, names, output, write};
use crate::faults::{signal, start};
use crate::page_server::{Answer, Server};

/// Names that colour the screen, fake a line, start a C1 control sequence (ECMA-48), turn the writing round.
const HOSTILE: [&str; 4] = ["a\u{1b}[31mb", "a\nerror: b", "a\u{9b}31mb", "a\u{202e}gpj"];

/// What the program says, which must hold none of them and no fault.
fn says(dir: &Path, args: &[&str]) -> String {
    let out = halfturn(dir, args);
    let code = out.status.code();
    assert!(code.is_some_and(|c| c <= 2), "{args:?}: {code:?}");
    let text = output(&out) + &complaint(&out);
    let bare = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
    assert!(!text.contains(bare), "{args:?}: {text:?}");
    assert!(!text.contains("\nerror: b"), "{args:?}: {text:?}");
    text
}

/// Shows (trust): no name of a file, value of an option or word of a file brings a control sequence to the
/// screen. Source: ECMA-48 for what a terminal takes as one.
#[test]
fn nothing_of_others_steers_the_terminal() {
    for hostile in HOSTILE {
        let dir = folder();
        let dir = dir.path();
        // The name of a rig file stands in reports and certificates, so that it is refused.
        write(dir, hostile, "");
        for args in [
            &["advise", hostile][..],
            &["trace", "--target", "0", hostile],
        ] {
            let text = says(dir, args);
            assert!(text.contains("Rename it"), "{text}");
        }
        // What is not read by name is shown escaped.
        let frames = dir.join("frames");
        std::fs::create_dir(&frames).expect("a folder");
        write(&frames, &format!("{hostile}.fits"), "no FITS");
        let card = |text: &str| format!("{text:<80}");
        let head = [
            card("SIMPLE  = T"),
            card("BITPIX  = 8"),
            card("NAXIS   = 0"),
            card("CTYPE1  = 'RA---TAN'"),
            card("CTYPE2  = 'DEC--TAN'"),
            card(&format!("CRVAL1  = {hostile}")),
            card("END"),
        ];
        write(&frames, "b.fits", &format!("{:<2880}", head.concat()));
        assert!(says(dir, &["sky", "fits", "frames"]).contains("\\u{"));
        // A line feed that the user types is the user's.
        let typed = &hostile.replace('\n', "\r");
        let place = ["--site", "45,10", "--date", "2026-10-14", "--object", typed];
        says(dir, &[&["sky", "field-rotation"], &place[..]].concat());
        for option in ["--seed", "--target", "--json", typed] {
            says(dir, &["batch", option, typed]);
        }
        let quick = ["--trials", "10", "--target", "0", "--out", typed];
        says(dir, &[&["batch"], &quick[..]].concat());
        assert!(says(dir, &["init", &format!("{typed}-new")]).contains("\\u{"));
        let sweep = [
            "sweep",
            "--vary",
            "target=0:1:2",
            "--trials",
            "10",
            "--out",
            "t.csv",
        ];
        says(dir, &sweep);
        let table = std::fs::read_to_string(dir.join("t.csv")).expect("the table");
        let other = table.replacen("# program: ", &format!("# program: {}", typed), 1);
        write(dir, "t.csv", &other);
        says(dir, &[&sweep[..], &["--resume"]].concat());
    }
}

/// Shows (files): `merge` writes the file that a link names, and replaces no pipe and no loop of links.
/// Source: none: own rule.
#[test]
fn merge_goes_by_links() {
    let dir = folder();
    let dir = dir.path();
    for shard in ["1/2", "2/2"] {
        let out = format!("s{}", &shard[..1]);
        says(
            dir,
            &[
                "sweep",
                "--vary",
                "target=0:1:2",
                "--trials",
                "10",
                "--shard",
                shard,
                "--out",
                &out,
            ],
        );
    }
    let link = |goal: &str, name: &str| {
        std::os::unix::fs::symlink(goal, dir.join(name)).expect("a link");
    };
    link("real.csv", "link.csv");
    link("loop-b", "loop-a");
    link("loop-a", "loop-b");
    let made = Command::new("mkfifo").arg(dir.join("pipe")).status();
    assert!(made.expect("mkfifo runs").success());
    let merge = |out: &str| {
        halfturn(dir, &["merge", "--force", out, "s1", "s2"])
            .status
            .code()
    };
    for _ in 0..2 {
        assert_eq!(merge("link.csv"), Some(0));
        assert!(dir.join("link.csv").is_symlink() && dir.join("real.csv").is_file());
    }
    let before = names(dir);
    assert_eq!(merge("pipe"), Some(2));
    assert_eq!(merge("loop-a"), Some(2));
    assert!(dir.join("loop-a").is_symlink());
    let pipe = std::fs::metadata(dir.join("pipe")).expect("it is there");
    assert!(!pipe.is_file());
    assert_eq!(names(dir), before);
}

/// Shows (serve): a foreign host in the first line of a request, or in a second header, is refused. Source: RFC
/// 9112, section 3.2.2.
#[test]
fn a_foreign_host_may_stand_nowhere() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let own = &server.address;
    let ask = |address: &str, headers: &str| {
        let request =
            format!("GET {address} HTTP/1.1\r\nhost: {own}\r\nconnection: close\r\n{headers}\r\n");
        Answer::of(&server.raw(request.as_bytes())).status
    };
    assert_eq!(ask("/api/start", ""), 200);
    assert_eq!(ask(&format!("http://{own}/api/start"), ""), 200);
    assert_eq!(ask("http://rebound.example/api/start", ""), 403);
    assert_eq!(ask("/api/start", "host: rebound.example\r\n"), 403);
}

/// Shows (judge): a second Ctrl-C ends the judge and the program with it. Source: none: own rule.
#[test]
fn a_second_ctrl_c_leaves_no_controller_behind() {
    let dir = folder();
    let script =
        "trap '' INT TERM HUP; echo $$ > pid.new; mv pid.new pid; sleep 600 & wait; sleep 600";
    let judge = ["judge", "--answer-timeout", "600", "--", "sh", "-c", script];
    let mut child = start(dir.path(), &judge);
    let pid = loop {
        if let Ok(pid) = std::fs::read_to_string(dir.path().join("pid")) {
            break pid.trim().to_owned();
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    signal(&child, "-INT");
    signal(&child, "-INT");
    let begun = Instant::now();
    // Both may count as one, and then the first look at the stop ends it.
    child.wait().expect("it ends");
    let lives = || {
        let asked = Command::new("kill").args(["-0", &pid]).output();
        asked.expect("kill runs").status.success()
    };
    while lives() {
        assert!(begun.elapsed() < Duration::from_secs(20), "{pid} lives on");
        std::thread::sleep(Duration::from_millis(20));
    }
}
