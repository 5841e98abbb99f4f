//! Faults of the process under test: each ends one scenario with a clear verdict, and none holds up the judge.
#![cfg(unix)]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, write};
use crate::binary::{example, there_is};
use crate::judge_program::failed;

/// The correct controller with something done before its answer to event number `AT`, counted from 0 in a process.
fn faulty(at: u32, fault: &str) -> String {
    let text = std::fs::read_to_string(example("correct.py")).expect("the example");
    let before = "    answer = getattr";
    assert!(text.contains(before));
    let fault = fault.replace('\n', "\n        ");
    let text = text.replace(
        before,
        &format!("    count += 1\n    if count == {at}:\n        {fault}\n{before}"),
    );
    format!("import os, time, subprocess, signal\ncount = -1\n{text}")
}

fn judged(dir: &Path, controller: &str, options: &[&str]) -> (i32, Value, String) {
    write(dir, "controller.py", controller);
    let mut args = vec!["judge", "--scenarios", "6", "--no-shrink", "--json", "-"];
    args.extend(options);
    let python = python();
    args.extend(["--", &python, "controller.py"]);
    let out = halfturn(dir, &args);
    let code = out.status.code().expect("an exit code");
    (code, json(&out), complaint(&out))
}

/// What was said of the first failure of a property.
fn detail<'a>(result: &'a Value, property: &str) -> &'a str {
    let scenarios = result["failures"].as_array().expect("failures");
    scenarios
        .iter()
        .flat_map(|s| s["failures"].as_array().expect("failures"))
        .find(|f| f["property"] == property)
        .and_then(|f| f["detail"].as_str())
        .expect("a detail")
}

/// The interpreter itself: a wrapper that looks for it would take most of the time.
fn python() -> String {
    let out = Command::new("python3")
        .args(["-c", "import sys; print(sys.executable)"])
        .output();
    let path = String::from_utf8(out.expect("python3 runs").stdout).expect("UTF-8");
    path.trim().to_owned()
}

#[test]
fn every_fault_has_its_verdict() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let say = |text: &str| format!("print({text}, flush=True)\ncontinue");
    // The event, the fault, the property, and what is said of it.
    let faults: [(u32, String, &str, &str); 21] = [
        (0, "sys.exit(3)".into(), "stays-alive", "exit code 3"),
        (
            7,
            "raise ValueError('lost my way')".into(),
            "stays-alive",
            "lost my way",
        ),
        (
            7,
            "os.kill(os.getpid(), signal.SIGSEGV)".into(),
            "stays-alive",
            "signal: 11",
        ),
        (
            7,
            "os.close(1); time.sleep(60)".into(),
            "stays-alive",
            "closed its standard output",
        ),
        (
            7,
            "print('{\"do\":', end='', flush=True); sys.exit(0)".into(),
            "stays-alive",
            "in mid-line",
        ),
        (7, say("'hello'"), "protocol", "not JSON: hello"),
        (7, say("''"), "protocol", "the line is empty"),
        (7, say("'[1, 2]'"), "protocol", "no JSON object"),
        (7, say("'{}'"), "protocol", "\"do\" is missing"),
        (
            7,
            say("'{\"do\": \"dance\"}'"),
            "protocol",
            "\"do\" must be",
        ),
        (
            7,
            say("'{\"do\": \"move\"}'"),
            "protocol",
            "\"drive_deg\" is missing",
        ),
        (
            7,
            say("'{\"do\": \"move\", \"drive_deg\": \"12\"}'"),
            "protocol",
            "must be a number",
        ),
        (
            7,
            "sys.stdout.buffer.write(b'\\xff\\xfe\\n'); sys.stdout.flush()\ncontinue".into(),
            "protocol",
            "not UTF-8",
        ),
        (
            7,
            "print('x' * 100_000_000, flush=True)\ncontinue".into(),
            "protocol",
            "longer than 65536 bytes",
        ),
        (
            7,
            "sys.stdout.write('x' * 70_000); sys.stdout.flush(); time.sleep(60)".into(),
            "protocol",
            "longer than 65536 bytes",
        ),
        (7, say("'[' * 60_000"), "protocol", "not JSON"),
        (
            7,
            say("'{\"do\": \"move\", \"drive_deg\": NaN}'"),
            "finite",
            "not a finite number",
        ),
        (
            7,
            say("'{\"do\": \"move\", \"drive_deg\": 1e999}'"),
            "finite",
            "not a finite number",
        ),
        (
            7,
            say("'{\"do\": \"move\", \"drive_deg\": null}'"),
            "finite",
            "not a finite number",
        ),
        (
            7,
            "print('{\"do\": \"solve\"}\\n' * 3, end='', flush=True)\ncontinue".into(),
            "protocol",
            "more than one line at a time",
        ),
        (
            7,
            "while True: print('{\"do\": \"solve\"}')".into(),
            "protocol",
            "",
        ),
    ];
    for (at, fault, property, said) in faults {
        let begun = Instant::now();
        let (code, result, _) = judged(dir.path(), &faulty(at, &fault), &["--out", "kept"]);
        assert_eq!(code, 1, "{fault}");
        let count = failed(&result, property);
        assert!(count >= 1, "{fault}: {:#}", result["properties"]);
        assert!(
            detail(&result, property).contains(said),
            "{fault}: {}",
            detail(&result, property)
        );
        // The process was started again, and played on.
        assert!(result["restarts"].as_u64() >= Some(1), "{fault}");
        assert!(begun.elapsed() < Duration::from_secs(30), "{fault}");
        std::fs::remove_dir_all(dir.path().join("kept")).expect("the folder of failures");
    }
}

/// Shows (judge): faults of the judged program: a verdict, a new start, an early end; its children end. With:
/// `endless_dying_ends_the_session`, `children_of_the_controller_are_ended`, `what_does_not_matter_is_no_fault`.
/// Source: none: own rule.
#[test]
fn silence_is_waited_for_only_so_long() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let faults = [
        "time.sleep(600)",
        "print('{\"do\": ', end='', flush=True); time.sleep(600)",
        "os.close(0); time.sleep(600)",
        "signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(600)",
    ];
    for fault in faults {
        let begun = Instant::now();
        let (code, result, _) = judged(dir.path(), &faulty(2, fault), &["--answer-timeout", "0.3"]);
        assert_eq!(code, 1, "{fault}");
        assert!(failed(&result, "answers-in-time") >= 1, "{fault}");
        assert!(
            detail(&result, "answers-in-time").contains("no line within 0.3 s"),
            "{fault}"
        );
        // Not for ever: after some of them the session ends, and says so.
        assert!(result["left_out"].as_u64() > Some(0));
        assert_eq!(result["ended"], "3 answers were late");
        assert!(begun.elapsed() < Duration::from_secs(20), "{fault}");
    }
    // Slow, but in time.
    let (code, _, _) = judged(dir.path(), &faulty(4, "time.sleep(0.5)"), &["--out", "x"]);
    assert_eq!(code, 0);
}

#[test]
fn what_does_not_matter_is_no_fault() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    // A flood of standard error: four times what a pipe holds.
    let flood = "sys.stderr.write('x' * 1_000_000 + '\\n'); sys.stderr.flush()";
    let (code, _, _) = judged(dir.path(), &faulty(3, flood), &[]);
    assert_eq!(code, 0);
    // Line ends of another system, and keys that nobody knows.
    let other = faulty(3, "pass").replace(
        "print(json.dumps(answer), flush=True)",
        "print(json.dumps(dict(answer, note='x')), end='\\r\\n', flush=True)",
    );
    assert_eq!(judged(dir.path(), &other, &[]).0, 0);
    // It does not end when it is told to: killed, with a word about it.
    let stays = faulty(3, "pass").replace("        break\n", "        time.sleep(600)\n");
    let begun = Instant::now();
    let (code, _, said) = judged(dir.path(), &stays, &[]);
    assert_eq!(code, 0);
    assert!(said.contains("it was killed"), "{said}");
    assert!(begun.elapsed() < Duration::from_secs(20));
}

/// What a controller has started ends with it.
#[cfg(target_os = "linux")]
#[test]
fn children_of_the_controller_are_ended() {
    if !there_is("python3") {
        return;
    }
    let begun = Instant::now();
    for (then, property) in [
        ("sys.exit(1)", "stays-alive"),
        ("print('?', flush=True); time.sleep(600)", "protocol"),
    ] {
        let dir = folder();
        let fork = format!(
            "open('pids', 'a').write(str(subprocess.Popen(['sleep', '600']).pid) + '\\n'); {then}"
        );
        let (code, result, _) = judged(dir.path(), &faulty(5, &fork), &[]);
        assert_eq!(code, 1);
        assert!(failed(&result, property) > 0);
        let pids = std::fs::read_to_string(dir.path().join("pids")).expect("children");
        std::thread::sleep(Duration::from_millis(200));
        for pid in pids.lines() {
            let name = std::fs::read_to_string(format!("/proc/{pid}/comm")).unwrap_or_default();
            let state = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
            assert!(
                name.trim() != "sleep" || state.contains(") Z "),
                "{pid} is still there"
            );
        }
    }
    assert!(begun.elapsed() < Duration::from_secs(60));
}

/// A program that dies in every scenario does not need to do so in all of them.
#[test]
fn endless_dying_ends_the_session() {
    let dir = folder();
    let out = halfturn(dir.path(), &["judge", "--json", "-", "--", "false"]);
    let result = json(&out);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(result["restarts"], 60);
    assert!(
        result["ended"]
            .as_str()
            .is_some_and(|e| e.contains("60 times"))
    );
    assert_eq!(result["passed"], false);
}

/// Shows (judge): Ctrl-C leaves the best bounds of a margin. Source: none: own rule.
#[test]
fn ctrl_c_leaves_the_best_bounds_of_a_margin() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    // The first grid is asked some 4100 questions of at least 4 events. This stops the judge while it asks about the
    // second one.
    let stop = "os.kill(os.getppid(), signal.SIGINT)";
    write(dir.path(), "controller.py", &faulty(25_000, stop));
    let python = python();
    let options = ["--scenarios", "1", "--margin", "--json", "out.json"];
    let out = halfturn(
        dir.path(),
        &[&["judge"], &options[..], &["--", &python, "controller.py"]].concat(),
    );
    assert_eq!(out.status.code(), Some(130), "{}", complaint(&out));
    let text = std::fs::read_to_string(dir.path().join("out.json")).expect("a result");
    let result: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let lower = &result["margin"]["ends"][0];
    assert_eq!(lower["complete"], false);
    assert!(
        lower["hunts_deg"].as_f64().is_some_and(|deg| deg > 4.0),
        "{lower:#}"
    );
    assert!(
        lower["safe_deg"].as_f64().is_some_and(|deg| deg > 3.0),
        "{lower:#}"
    );
}

#[test]
fn ctrl_c_ends_it_cleanly() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    write(dir.path(), "controller.py", &faulty(40, "time.sleep(600)"));
    let child = Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .current_dir(dir.path())
        .args([
            "judge",
            "--answer-timeout",
            "60",
            "--",
            "python3",
            "controller.py",
        ])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    std::thread::sleep(Duration::from_millis(1500));
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(sent.expect("kill runs").success());
    let begun = Instant::now();
    let out = child.wait_with_output().expect("it ends");
    assert_eq!(out.status.code(), Some(130), "{}", complaint(&out));
    assert!(begun.elapsed() < Duration::from_secs(10));
    assert!(complaint(&out).contains("scenarios left"));
    assert!(!dir.path().join("halfturn-judge").exists());
}
