//! The served page keeps its limits of time and memory, whatever the rig.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::binary::folder;
use crate::page_server::Server;

/// Three seconds for the work, and what a busy machine adds.
const SOON: Duration = Duration::from_secs(10);

/// A rig whose runs take a second each, and that only runs can find: ten thousand solves, of which most fail at first,
/// under a field that turns too fast ever to settle.
fn heavy(server: &Server) -> Value {
    let mut rig = server.get("/api/start")["rig"].clone();
    rig["loop"]["max_solves"] = json!(10_000);
    rig["loop"]["tolerance_deg"] = json!(0.001);
    rig["loop"]["field_rotation_deg_per_s"] = json!(0.01);
    rig["solve"]["failure_rate"] = json!(0.98);
    rig["solve"]["max_failures"] = json!(1000);
    rig
}

/// A rig that is solved for long: so many solves at so many places.
fn slow_to_solve(server: &Server) -> Value {
    let mut rig = server.get("/api/start")["rig"].clone();
    rig["loop"]["max_solves"] = json!(10_000);
    rig["loop"]["confirm"] = json!(40);
    rig["loop"]["tolerance_deg"] = json!(0.02);
    rig
}

/// What a handle at the seam of a rig is answered.
fn look(rig: &Value) -> Value {
    json!({ "rig": rig, "target_deg": 0.0, "seed": 7, "trials": 20_000, "trial": 3 })
}

/// Shows (serve): live work and jobs end in time, ordinary rigs have all their figures. With:
/// `ordinary_rigs_have_all_their_figures`, `a_job_stops_soon_after_it_is_told`,
/// `crates/engine/src/exact/watch.rs::a_solution_stops_at_the_look_that_says_so`. Source: none: own rule.
#[test]
fn a_moved_handle_has_its_answer_in_time() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    for rig in [heavy(&server), slow_to_solve(&server)] {
        let begun = Instant::now();
        let live = server.post("/api/live", &look(&rig));
        assert!(begun.elapsed() < SOON, "{:?}", begun.elapsed());
        assert!(live["view"].is_object() && live["trace"].is_object());
    }
}

#[test]
fn ordinary_rigs_have_all_their_figures() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let with = |key: &str, value: Value| {
        let mut rig = server.get("/api/start")["rig"].clone();
        rig["loop"][key] = value;
        rig
    };
    for rig in [
        with("tolerance_deg", json!(0.1)),
        with("confirm", json!(2)),
        with("max_solves", json!(100)),
    ] {
        let live = server.post("/api/live", &look(&rig));
        assert_eq!(live["compared"]["complete"], true);
        assert_eq!(live["verdict"]["verdict"], "hunts");
    }
}

fn list(rig: &Value, targets_deg: &[f64]) -> Value {
    let target = |(i, deg)| json!({ "name": format!("t{i}"), "position_angle_deg": deg });
    let targets: Vec<Value> = targets_deg.iter().enumerate().map(target).collect();
    json!({ "rig": rig, "targets": targets, "seed": 7 })
}

/// Shows (serve): what the time does not suffice for is not known, is no error and never called safe, and the page asks
/// again. With: `a_long_list_is_judged_bit_by_bit`, `crates/answers/src/verdicts.rs::what_a_stop_leaves_out_is_not_known`,
/// `browser_verdicts::what_is_not_known_looks_so`. Source: none: own rule.
#[test]
fn verdicts_that_take_too_long_are_left_out() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let begun = Instant::now();
    let told = server.post("/api/verdicts", &list(&heavy(&server), &[0.0, 40.0, 80.0]));
    assert!(begun.elapsed() < SOON, "{:?}", begun.elapsed());
    assert_eq!(
        told,
        json!({ "targets": [null, null, null], "complete": false })
    );
}

/// Every answer brings some of them, so that who asks again for the others has all in the end.
#[test]
fn a_long_list_is_judged_bit_by_bit() {
    let dir = folder();
    let server = Server::start(dir.path(), &["--set", "loop.tolerance_deg=0.1"]);
    let rig = server.get("/api/start")["rig"].clone();
    let mut left: Vec<f64> = (0..120).map(|i| f64::from(i) * 1.49).collect();
    let mut asked = 0;
    while !left.is_empty() {
        let begun = Instant::now();
        let told = server.post("/api/verdicts", &list(&rig, &left));
        assert!(begun.elapsed() < SOON, "{:?}", begun.elapsed());
        let targets = told["targets"].as_array().expect("targets");
        let before = left.len();
        left = left
            .iter()
            .zip(targets)
            .filter(|(_, t)| t.is_null())
            .map(|(deg, _)| *deg)
            .collect();
        assert_eq!(told["complete"], left.is_empty());
        assert!(left.len() < before, "no progress with {before} left");
        asked += 1;
    }
    crate::binary::tell(&format!("120 verdicts in {asked} answers"));
}

#[test]
fn a_job_stops_soon_after_it_is_told() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    for rig in [heavy(&server), slow_to_solve(&server)] {
        let sweep = json!({
            "kind": "sweep", "rig": rig, "vary": ["target=-1:1:9"], "target_deg": null,
            "rules": ["half-circle"], "method": "auto", "trials": 100_000, "seed": 2,
        });
        let id = server.post("/api/jobs", &sweep)["id"].clone();
        let path = format!("/api/jobs/{}", id.as_str().expect("a name"));
        while server.get(&path)["phase"] == "waiting" {
            std::thread::sleep(Duration::from_millis(10));
        }
        std::thread::sleep(Duration::from_millis(200));
        let begun = Instant::now();
        assert_eq!(server.ask("DELETE", &path, None).status, 200);
        let told = server.wait(id.as_str().expect("a name"));
        assert_eq!(told["phase"], "stopped");
        assert_eq!(told["stopped"], "by you");
        assert!(begun.elapsed() < SOON, "{:?}", begun.elapsed());
    }
}

/// Shows (serve): who hangs up makes no room for more; who does not read is let go. With:
/// `src/serve/live.rs::who_hangs_up_stops_the_work_but_keeps_the_slot_until_it_has_stopped`,
/// `src/serve/live.rs::threads_are_started_for_requests_at_once`,
/// `src/serve/connections.rs::a_client_that_does_not_read_is_let_go`. Source: none: own rule.
#[test]
fn clients_that_hang_up_do_not_pile_up_work() {
    use std::io::Write as _;
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let look = json!({ "rig": heavy(&server), "target_deg": 0.0, "seed": 7, "trials": 100_000, "trial": 3 });
    let list = list(&heavy(&server), &[0.0, 40.0, 80.0]);
    let request = |path: &str, body: &Value| {
        let body = body.to_string();
        format!(
            "POST {path} HTTP/1.1\r\nhost: {}\r\nx-halfturn-page: test\r\ncontent-type: application/json\r\n\
             content-length: {}\r\n\r\n{body}",
            server.address,
            body.len()
        )
    };
    let requests = [request("/api/live", &look), request("/api/verdicts", &list)];
    for request in requests.iter().cycle().take(40) {
        let mut socket = server.connect();
        socket.write_all(request.as_bytes()).expect("it is sent");
        std::thread::sleep(Duration::from_millis(20));
    }
    let begun = Instant::now();
    let rig = server.get("/api/start")["rig"].clone();
    let live = server.post("/api/live", &self::look(&rig));
    assert_eq!(live["compared"]["complete"], true);
    assert!(begun.elapsed() < SOON, "{:?}", begun.elapsed());
}

/// Shows (serve): every refusal is JSON. Source: none: own rule.
#[test]
fn every_refusal_is_json() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let page = ("x-halfturn-page", "test");
    let large = "x".repeat(1_100_000);
    for (answer, status) in [
        (server.ask_with("POST", "/api/live", &[page], &large), 413),
        (server.ask("GET", "/api/jobs/1?from=x", None), 400),
        (server.ask("GET", "/api/jobs/%ff", None), 400),
        (server.ask("GET", "/nothing", None), 404),
        (server.ask("PUT", "/", None), 405),
        (server.ask("POST", "/api/live", Some(&json!({}))), 400),
        (server.ask_with("POST", "/api/live", &[], "{}"), 403),
    ] {
        assert_eq!(answer.status, status, "{answer:?}");
        let words = answer.json()["error"]["message"].clone();
        assert!(words.as_str().is_some_and(|w| !w.is_empty()), "{answer:?}");
    }
}

/// Shows (serve): Ctrl-C ends the server with exit code 0, also with long work in hand. Source: none: own rule.
#[cfg(unix)]
#[test]
fn an_interrupt_ends_it_with_long_work_in_hand() {
    let dir = folder();
    let mut server = Server::start(dir.path(), &[]);
    let sweep = json!({
        "kind": "sweep", "rig": heavy(&server), "vary": ["target=-1:1:9"], "target_deg": null,
        "rules": ["half-circle"], "method": "monte-carlo", "trials": 100_000, "seed": 2,
    });
    let id = server.post("/api/jobs", &sweep)["id"].clone();
    let path = format!("/api/jobs/{}", id.as_str().expect("a name"));
    while server.get(&path)["phase"] != "running" {
        std::thread::sleep(Duration::from_millis(10));
    }
    assert_eq!(server.interrupt(SOON), Some(0));
}
