//! The served page without a browser: its numbers are those of the commands, and strangers get nothing.

use halfturn_engine::rig::read as read_rig;
use halfturn_engine::sample::{Batch, Unattended};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::{Judge, Limits};
use serde_json::{Value, json};

use crate::binary::{complaint, folder, halfturn, json as answer, sized, write};
use crate::page_server::Server;

fn rig(server: &Server) -> Value {
    server.get("/api/start")["rig"].clone()
}

fn look(server: &Server, target_deg: f64) -> Value {
    json!({ "rig": rig(server), "target_deg": target_deg, "seed": 7, "trials": 20_000, "trial": 3 })
}

/// Shows (README): `halfturn serve` shows a local page over the same calls. With: `jobs_give_what_the_commands_give`.
/// Source: none: internal consistency.
/// Shows (serve): the figures of the page are those of `batch`, `trace`, `sweep`, `advise`. With:
/// `jobs_give_what_the_commands_give`. Source: none: internal consistency.
#[test]
fn live_figures_are_those_of_the_commands() {
    let dir = folder();
    let server = Server::start(dir.path(), &["--set", "loop.tolerance_deg=0.35"]);
    let live = server.post("/api/live", &look(&server, 179.6));
    let set = [
        "--set",
        "loop.tolerance_deg=0.35",
        "--seed",
        "7",
        "--json",
        "-",
    ];
    let batch = [
        "batch",
        "--target",
        "179.6",
        "--trials",
        "20000",
        "--method",
        "auto",
        "--precision",
        "map",
    ];
    let mut compared = answer(&halfturn(dir.path(), &[&batch[..], &set[..]].concat()));
    // The page shows no loop without a limit of solves, and does not wait for it.
    for policy in compared["policies"].as_array_mut().expect("policies") {
        policy["exact"]["long_run"] = Value::Null;
    }
    assert_eq!(live["compared"], compared);
    let trace = ["trace", "--target", "179.6", "--trial", "3"];
    let traced = answer(&halfturn(dir.path(), &[&trace[..], &set[..]].concat()));
    assert_eq!(live["trace"], traced);
    assert_eq!(live["digest"], traced["rig_digest"]);
    let hunting = json!({ "rig": rig(&server), "target_deg": 179.6, "seed": 7 });
    let trace = ["trace", "--target", "179.6", "--hunting"];
    let traced = answer(&halfturn(dir.path(), &[&trace[..], &set[..]].concat()));
    assert_eq!(
        server.post("/api/hunting", &hunting)["trial"],
        traced["trial"]
    );
}

/// A verdict, without what only one of two faces adds.
fn verdict(entry: &Value) -> [&Value; 2] {
    [&entry["verdict"], &entry["faults"]]
}

/// Shows (serve): list, top, judge and `advise` have one verdict, to the last bit: solved, run, with a cable limit,
/// between stops. With: `crates/answers/src/verdicts.rs::every_target_has_the_verdict_of_the_judge`,
/// `crates/answers/src/verdicts.rs::equal_drive_angles_share_one_judgement`. Source: none: internal consistency.
#[test]
fn the_verdicts_are_those_of_the_judge_and_of_the_advice() {
    let dir = folder();
    write(
        dir.path(),
        "t.csv",
        "name,position_angle_deg\na,0\nb,0.7\nc,1.6\nd,90\ne,179.8\nf,230\n",
    );
    let out = halfturn(dir.path(), &["init", "r", "--quiet"]);
    assert_eq!(out.status.code(), Some(0));
    let sets = [
        "loop.max_solves=20",
        "solve.failure_rate=0.7",
        "wrap.arc_start_deg=150",
        "loop.tolerance_deg=0.05",
        "drive.winding_limit_deg=60",
        "loop.field_rotation_deg_per_s=0.001",
    ];
    for set in sets.into_iter().step_by(sized(2, 1)) {
        let server = Server::start(dir.path(), &["--set", set]);
        let args = [
            "advise",
            "r/rig.toml",
            "t.csv",
            "--set",
            set,
            "--json",
            "-",
            "--out",
            "o",
        ];
        let advice = answer(&halfturn(dir.path(), &args));
        let told = advice["before"]["targets"].as_array().expect("targets");
        let targets: Vec<Value> = told
            .iter()
            .map(|t| json!({ "name": t["name"], "position_angle_deg": t["position_angle_deg"] }))
            .collect();
        let list = json!({ "rig": rig(&server), "targets": targets, "seed": 1 });
        let list = server.post("/api/verdicts", &list);
        assert_eq!(list["complete"], true);
        let list = list["targets"].as_array().expect("targets");
        assert_eq!(list.len(), told.len());
        let text = std::fs::read_to_string(dir.path().join("r/rig.toml")).expect("the rig");
        let read = read_rig(&text, "r", &[set.to_owned()]).expect("a valid rig");
        let policy = Policy::of(&read);
        let (trials, seed) = (20_000, 1);
        let judge = Judge {
            limits: Limits::default(),
            batch: Batch { trials, seed },
            monitor: &Unattended,
        };
        for (target, entry) in told.iter().zip(list) {
            for key in ["drive_deg", "seam_distance_deg"] {
                assert_eq!(entry[key], target[key], "{set}");
            }
            assert_eq!(verdict(entry), verdict(target), "{set}: {target}");
            let target_deg = target["position_angle_deg"].as_f64().expect("an angle");
            let mut look = look(&server, target_deg);
            look["seed"] = json!(1);
            let live = server.post("/api/live", &look);
            assert_eq!(
                verdict(&live["verdict"]),
                verdict(target),
                "{set}: {target}"
            );
            let scenario = Scenario::new(&read, policy, target_deg);
            let judged = judge.judge(&scenario, policy).expect("not stopped");
            assert_eq!(verdict(entry), verdict(&json!(judged.verdict)), "{set}");
        }
    }
}

#[test]
fn jobs_give_what_the_commands_give() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let start = server.get("/api/start");
    let sweep = json!({
        "kind": "sweep", "rig": start["rig"], "vary": ["target=-1:1:5", "loop.tolerance_deg=0.2:0.6:3"],
        "target_deg": null, "rules": ["half-circle"], "method": "monte-carlo", "trials": 500, "seed": 2,
    });
    let map = server.post("/api/jobs", &sweep);
    let advise = json!({ "kind": "advise", "rig": start["rig"], "targets": start["targets"], "trials": 2000, "seed": 2 });
    let advice = server.post("/api/jobs", &advise);

    let told = server.wait(map["id"].as_str().expect("a name"));
    assert_eq!(
        (&told["phase"], &told["done"]),
        (&json!("done"), &told["of"])
    );
    let args = [
        "sweep",
        "--vary",
        "target=-1:1:5",
        "--vary",
        "loop.tolerance_deg=0.2:0.6:3",
        "--rules",
        "half-circle",
        "--trials",
        "500",
        "--seed",
        "2",
        "--json",
        "-",
    ];
    assert_eq!(told["rows"], answer(&halfturn(dir.path(), &args))["rows"]);

    let id = advice["id"].as_str().expect("a name");
    let told = server.wait(id);
    let out = halfturn(
        dir.path(),
        &[
            "advise", "--trials", "2000", "--seed", "2", "--json", "-", "--out", "r",
        ],
    );
    assert_eq!(told["result"]["summary"], answer(&out));
    let report = server.ask("GET", &format!("/api/jobs/{id}/report"), None);
    assert!(
        report.head.contains("frame-ancestors 'self'"),
        "{}",
        report.head
    );
    // The same page, but for the command line that made it.
    let written = std::fs::read_to_string(dir.path().join("r/report.html")).expect("the report");
    let picture = |page: &str| page.split("<svg").nth(1).map(str::to_owned);
    assert!(picture(&written).is_some());
    assert_eq!(picture(&report.body), picture(&written));
}

/// Shows (serve): files keep their comments; undo; links that hold the state. With:
/// `browser_work::a_state_outlasts_files_reloads_and_links`,
/// `crates/engine/src/rig/key_values.rs::comments_survive_a_merge`. Source: none: own rule.
#[test]
fn files_keep_their_comments_and_their_faults_are_told() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let text = "# mine\n[loop]\ntolerance_deg = 0.4 # as planned\n";
    let read = server.post("/api/rig/read", &json!({ "name": "a.toml", "text": text }));
    let mut rig = read["rig"].clone();
    rig["loop"]["tolerance_deg"] = json!(0.5);
    let written = server.post("/api/rig/write", &json!({ "rig": rig, "text": text }));
    assert_eq!(written["text"], text.replace("0.4", "0.5"));

    let wrong = server.ask(
        "POST",
        "/api/rig/read",
        Some(&json!({ "name": "a.toml", "text": "[loop]\ntolerance_deg = -1\n" })),
    );
    assert_eq!(wrong.status, 422);
    let error = &wrong.json()["error"];
    assert_eq!(
        (&error["key"], &error["line"]),
        (&json!("loop.tolerance_deg"), &json!(2))
    );
    let targets = server.post(
        "/api/targets/read",
        &json!({ "name": "t.csv", "text": "name,position_angle_deg\n=1+1,12.5\n" }),
    );
    let written = server.post("/api/targets/write", &targets);
    assert_eq!(
        server.post(
            "/api/targets/read",
            &json!({ "name": "t.csv", "text": written["text"] })
        ),
        targets
    );
    assert_eq!(
        std::fs::read_dir(dir.path()).expect("the folder").count(),
        0,
        "nothing is written"
    );
}

/// Shows (serve): foreign hosts, origins and scripts get nothing. With:
/// `src/serve/guard.rs::only_names_of_this_machine_are_hosts`,
/// `src/serve/guard.rs::a_page_for_the_network_takes_addresses_and_given_names_alone`,
/// `src/serve/guard.rs::what_changes_something_must_come_from_the_page`. Source: RFC 6454; W3C Fetch Metadata Request
/// Headers.
#[test]
fn strangers_get_nothing() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let port = server.address.split(':').nth(1).expect("a port");
    // DNS rebinding: a name of another site that leads here.
    let rebound = format!("rebound.example:{port}");
    assert_eq!(
        server
            .ask_with("GET", "/api/start", &[("host", &rebound)], "")
            .status,
        403
    );
    assert_eq!(
        server
            .ask_with("GET", "/", &[("host", &rebound)], "")
            .status,
        403
    );
    let page = ("x-halfturn-page", "test");
    let body = look(&server, 0.0).to_string();
    let post =
        |headers: &[(&str, &str)]| server.ask_with("POST", "/api/live", headers, &body).status;
    assert_eq!(post(&[page]), 200);
    assert_eq!(post(&[]), 403);
    assert_eq!(post(&[page, ("origin", "http://elsewhere.example")]), 403);
    assert_eq!(post(&[page, ("sec-fetch-site", "cross-site")]), 403);
    assert_eq!(post(&[page, ("content-type", "text/plain")]), 415);
    let list = json!({ "rig": rig(&server), "targets": [], "seed": 1 }).to_string();
    let post_list = |headers: &[(&str, &str)]| {
        server
            .ask_with("POST", "/api/verdicts", headers, &list)
            .status
    };
    assert_eq!(post_list(&[page]), 200);
    assert_eq!(post_list(&[]), 403);
    assert_eq!(post_list(&[page, ("sec-fetch-site", "cross-site")]), 403);
    // Another name of this machine is another site, too.
    let other = format!("http://localhost:{port}");
    assert_eq!(post(&[page, ("origin", &other)]), 403);
    let local = format!("http://localhost:{port}");
    assert_eq!(
        post(&[
            page,
            ("origin", &local),
            ("host", &format!("localhost:{port}"))
        ]),
        200
    );

    let home = server.ask("GET", "/", None);
    for needed in [
        "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'",
        "frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "cross-origin-resource-policy: same-origin",
        "referrer-policy: no-referrer",
    ] {
        assert!(home.head.contains(needed), "{needed}: {}", home.head);
    }
    assert!(!home.head.contains("access-control-allow"));
    // What the policy forbids is not in the page either.
    assert!(!home.body.contains("style=") && !home.body.contains("onclick"));
}

/// Shows (serve): no request names a file. Source: none: own rule.
#[test]
fn no_address_reaches_the_disk() {
    let dir = folder();
    write(dir.path(), "secret.txt", "secret");
    let server = Server::start(dir.path(), &[]);
    for path in [
        "/secret.txt",
        "/page/../secret.txt",
        "/page/..%2Fsecret.txt",
        "/page/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/page//etc/passwd",
        "/page/serve/",
        "/page/",
        "/api/jobs/../../secret.txt",
        "/api/jobs/%00/report",
    ] {
        let answer = server.ask("GET", path, None);
        assert_eq!(answer.status, 404, "{path}: {answer:?}");
        assert!(!answer.body.contains("secret.txt") && !answer.body.contains("root:"));
    }
    assert_eq!(server.ask("PUT", "/page/palette.css", None).status, 405);
    assert_eq!(server.ask("POST", "/", None).status, 405);
}

/// Shows (serve): the limits of requests are kept. Source: none: own rule.
#[test]
fn more_than_is_allowed_is_refused() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let start = server.get("/api/start");
    let with = |key: &str, value: Value| {
        let mut body = look(&server, 0.0);
        body[key] = value;
        server.ask("POST", "/api/live", Some(&body)).status
    };
    assert_eq!(with("trials", json!(100_001)), 422);
    assert_eq!(with("trials", json!(0)), 422);
    assert_eq!(with("target_deg", json!(1e300)), 422);
    assert_eq!(with("target_deg", json!("0")), 400);
    assert_eq!(with("unknown", json!(0)), 400);
    assert_eq!(with("rig", json!({ "name": "x".repeat(2_000_000) })), 413);
    let targets = |count: usize| {
        let target = |i| json!({ "name": format!("t{i}"), "position_angle_deg": 1.0 });
        json!((0..count).map(target).collect::<Vec<_>>())
    };
    assert_eq!(with("targets", targets(1000)), 200);
    assert_eq!(with("targets", targets(1001)), 422);
    let list = |targets: Value| {
        let body = json!({ "rig": start["rig"], "targets": targets, "seed": 1 });
        server.ask("POST", "/api/verdicts", Some(&body)).status
    };
    assert_eq!(list(targets(1000)), 200);
    assert_eq!(list(targets(1001)), 422);
    assert_eq!(
        list(json!([{ "name": "a", "position_angle_deg": 1e9 }])),
        422
    );
    assert_eq!(list(json!([{ "name": "a" }])), 400);
    let lines: String = (0..1001).map(|i| format!("t{i},1\n")).collect();
    let file = json!({ "name": "t.csv", "text": format!("name,position_angle_deg\n{lines}") });
    let refused = server.ask("POST", "/api/targets/read", Some(&file));
    assert_eq!(refused.status, 422);
    assert!(refused.body.contains("at most 1000"), "{}", refused.body);
    let job = |more: Value| {
        let mut body = json!({
            "kind": "sweep", "rig": start["rig"], "vary": ["target=-1:1:5"], "target_deg": null,
            "rules": ["half-circle"], "method": "auto", "trials": 500, "seed": 2,
        });
        for (key, value) in more.as_object().expect("an object") {
            body[key] = value.clone();
        }
        server.ask("POST", "/api/jobs", Some(&body)).status
    };
    assert_eq!(
        job(json!({ "vary": ["target=-1:1:200", "loop.tolerance_deg=0.1:1:200"] })),
        422
    );
    assert_eq!(job(json!({ "vary": [] })), 422);
    assert_eq!(
        job(
            json!({ "vary": ["target=-1:1:5", "loop.tolerance_deg=0.1:1:2", "wrap.band_deg=0:1:2"] })
        ),
        422
    );
    assert_eq!(job(json!({ "trials": 1_000_000_000_000_u64 })), 422);
    assert_eq!(job(json!({ "trials": 0 })), 422);
    assert_eq!(job(json!({ "rules": [] })), 422);
    assert_eq!(job(json!({ "rules": ["half-circle", "half-circle"] })), 422);
    assert_eq!(
        job(json!({ "vary": ["target=-1:1:6000"], "rules": ["half-circle", "fold-once"] })),
        422
    );
    assert_eq!(job(json!({ "method": "guess" })), 422);
    assert_eq!(job(json!({ "kind": "delete" })), 400);
    assert_eq!(server.ask("GET", "/api/jobs/0", None).status, 404);
    assert_eq!(server.ask("DELETE", "/api/jobs/0", None).status, 404);
}

/// Work that lasts for minutes, so that it can be stopped.
fn long(server: &Server) -> Value {
    let mut rig = rig(server);
    rig["loop"]["max_solves"] = json!(200);
    json!({
        "kind": "sweep", "rig": rig, "vary": ["target=-1:1:1000"], "target_deg": null,
        "rules": ["half-circle"], "method": "monte-carlo", "trials": 3_000_000, "seed": 2,
    })
}

#[test]
fn a_job_can_be_stopped_and_the_next_ones_run() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let long = long(&server);
    let begin = |page: &str| {
        server.ask_with(
            "POST",
            "/api/jobs",
            &[("x-halfturn-page", page)],
            &long.to_string(),
        )
    };
    let id = |page: &str| {
        begin(page).good()["id"]
            .as_str()
            .expect("a name")
            .to_owned()
    };
    let first = id("greedy");
    let others: Vec<String> = (0..4).map(|_| id("greedy")).collect();
    let fifth = begin("greedy");
    assert_eq!(
        (fifth.status, fifth.head.contains("retry-after")),
        (429, true)
    );
    let fair = id("fair");
    assert_eq!(
        server.get(&format!("/api/jobs/{fair}"))["before"],
        1,
        "one of the greedy page, not four"
    );
    for job in std::iter::once(&first).chain(&others).chain([&fair]) {
        assert_eq!(
            server
                .ask("DELETE", &format!("/api/jobs/{job}"), None)
                .status,
            200
        );
    }
    for job in std::iter::once(&first).chain(&others).chain([&fair]) {
        assert_eq!(server.wait(job)["phase"], "stopped");
    }
    let mut short = long.clone();
    short["vary"] = json!(["target=-1:1:3"]);
    short["trials"] = json!(100);
    let next = server.post("/api/jobs", &short);
    assert_eq!(
        server.wait(next["id"].as_str().expect("a name"))["phase"],
        "done"
    );
}

/// Shows (serve): the program refuses wrong arguments of `serve` at once. Source: none: own rule.
#[test]
fn wrong_arguments_are_told_at_once() {
    let dir = folder();
    write(dir.path(), "rig.toml", "");
    let lines: String = (0..1001).map(|i| format!("t{i},1\n")).collect();
    write(
        dir.path(),
        "many.csv",
        &format!("name,position_angle_deg\n{lines}"),
    );
    for (args, needed) in [
        (&["serve", "none.toml"][..], "none.toml"),
        (&["serve", "--json", "-"], "--json"),
        (&["serve", "--host-name", "a b"], "host name"),
        (&["serve", "--listen", "192.0.2.1"], "cannot listen"),
        (
            &["serve", "--seed", "9007199254740992"],
            "--seed 9007199254740992",
        ),
        (&["serve", "rig.toml", "many.csv"], "1001 targets"),
        (
            &["serve", "--set", "loop.tolerance_deg=0"],
            "loop.tolerance_deg",
        ),
    ] {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(complaint(&out).contains(needed), "{}", complaint(&out));
    }
    let server = Server::start(dir.path(), &[]);
    let port = server.address.split(':').nth(1).expect("a port");
    let out = halfturn(dir.path(), &["serve", "--port", port]);
    assert_eq!(out.status.code(), Some(2));
    assert!(complaint(&out).contains("--port 0"), "{}", complaint(&out));
}
