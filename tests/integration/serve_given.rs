//! A mosaic and a log on the served page, and the figures of a handle that moves.

use serde_json::{Value, json};

use crate::binary::{complaint, folder, halfturn, json as answer, write};
use crate::page_server::Server;

fn mosaic(server: &Server, columns: u32, rows: u32) -> Value {
    json!({
        "rig": server.get("/api/start")["rig"], "name": "field", "centre": "M 31",
        "columns": columns, "rows": rows, "position_angle_deg": 20.0,
    })
}

#[test]
fn panels_and_fits_are_those_of_the_commands() {
    let dir = folder();
    let run = |args: &[&str]| halfturn(dir.path(), args);
    let good = |args: &[&str]| assert_eq!(run(args).status.code(), Some(0), "{args:?}");
    good(&["init", "r", "--quiet"]);
    // Its exit code is that of the verdicts on the panels.
    run(&[
        "sky",
        "panels",
        "r/rig.toml",
        "--object",
        "M 31",
        "--grid",
        "3x2",
        "--name",
        "field",
        "--position-angle",
        "20",
        "--out",
        "p.csv",
    ]);
    good(&[
        "fit",
        "--plan",
        "--rig",
        "r/rig.toml",
        "--out",
        "plan.csv",
        "--rehearse",
        "log.csv",
        "--quiet",
    ]);
    good(&[
        "fit",
        "log.csv",
        "--rig",
        "r/rig.toml",
        "--out",
        "fitted.toml",
    ]);
    let text = |name: &str| std::fs::read_to_string(dir.path().join(name)).expect("a file");
    let server = Server::start(dir.path(), &[]);
    let panels = server.post("/api/panels", &mosaic(&server, 3, 2));
    let read = json!({ "name": "p.csv", "text": text("p.csv") });
    assert_eq!(panels, server.post("/api/targets/read", &read));

    let rig = server.get("/api/start")["rig"].clone();
    let asked = json!({ "rig": rig, "name": "log.csv", "text": text("log.csv") });
    let fitted = server.post("/api/fit", &asked);
    let read = json!({ "name": "fitted.toml", "text": text("fitted.toml") });
    assert_eq!(fitted["rig"], server.post("/api/rig/read", &read)["rig"]);
    let fit = answer(&run(&[
        "fit",
        "log.csv",
        "--rig",
        "r/rig.toml",
        "--json",
        "-",
    ]));
    assert_eq!(fitted["solved"], fit["solved"]);
    let evidence = fit["diagnoses"].as_array().expect("diagnoses");
    let evidence: Vec<&Value> = evidence.iter().map(|d| &d["evidence"]).collect();
    assert_eq!(fitted["findings"], json!(evidence));
}

/// The same guard and the same limits as elsewhere.
#[test]
fn what_is_given_is_guarded_and_limited() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let panels = |change: Value| {
        let mut body = mosaic(&server, 2, 2);
        for (key, value) in change.as_object().expect("an object") {
            body[key] = value.clone();
        }
        server.ask("POST", "/api/panels", Some(&body))
    };
    assert_eq!(panels(json!({})).status, 200);
    // 1000 targets have room on the page.
    let wide = json!({ "sensor_width_mm": 1.0, "sensor_height_mm": 1.0, "focal_length_mm": 480.0, "pixel_um": 3.0, "mosaic_overlap": 0.1 });
    let mut rig = server.get("/api/start")["rig"].clone();
    rig["framing"] = wide;
    assert_eq!(
        panels(json!({ "rig": rig, "columns": 40, "rows": 25 })).status,
        200
    );
    let refused = panels(json!({ "rig": rig, "columns": 40, "rows": 26 }));
    assert_eq!(refused.status, 422);
    assert!(refused.body.contains("at most 1000"), "{}", refused.body);
    rig.as_object_mut().expect("a rig").remove("framing");
    for change in [
        json!({ "columns": 0 }),
        json!({ "columns": 101 }),
        json!({ "centre": "nowhere" }),
        json!({ "centre": "10,91" }),
        json!({ "centre": "inf,0" }),
        json!({ "position_angle_deg": 1e300 }),
        json!({ "name": "" }),
        json!({ "rig": rig }),
    ] {
        assert_eq!(panels(change.clone()).status, 422, "{change}");
    }
    assert_eq!(panels(json!({ "columns": 2.5 })).status, 400);
    assert_eq!(panels(json!({ "unknown": 1 })).status, 400);

    let rig = server.get("/api/start")["rig"].clone();
    let fit = |text: String| {
        let body = json!({ "rig": rig, "name": "log.csv", "text": text });
        server.ask("POST", "/api/fit", Some(&body)).status
    };
    let log = |rows: usize| {
        let row = |i: usize| format!("{},{}\n", i % 360, i % 360);
        "reading_deg,position_angle_deg\n".to_owned() + &(0..rows).map(row).collect::<String>()
    };
    assert_eq!(fit(log(20)), 200);
    assert_eq!(fit(log(2)), 422);
    assert_eq!(fit(log(5001)), 422);
    assert_eq!(fit("colour\nred\n".to_owned()), 422);
    assert_eq!(fit(log(200_000)), 413);

    let body = mosaic(&server, 2, 2).to_string();
    for path in ["/api/panels", "/api/fit"] {
        let from = |headers: &[(&str, &str)]| server.ask_with("POST", path, headers, &body).status;
        let foreign = [
            ("x-halfturn-page", "test"),
            ("origin", "http://other.example"),
        ];
        assert_eq!(from(&foreign), 403);
        assert_eq!(from(&[]), 403);
        assert_eq!(
            from(&[("x-halfturn-page", "test"), ("content-type", "text/plain")]),
            415
        );
    }
}

/// Shows (serve): while a handle moves, a loop that takes long to solve is run a thousand times, and says so; the
/// others have the same figures. Source: none: internal consistency.
#[test]
fn a_moving_handle_has_rough_figures() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let look = |tolerance_deg: f64, moving: bool| {
        let mut rig = server.get("/api/start")["rig"].clone();
        rig["loop"]["tolerance_deg"] = json!(tolerance_deg);
        let look = json!({
            "rig": rig, "target_deg": 0.0, "seed": 1, "trials": 20_000, "trial": 0, "moving": moving,
        });
        server.post("/api/live", &look)
    };
    let [soon, fine] = [true, false].map(|moving| look(1.0, moving));
    assert_eq!(soon["rough"], false);
    for part in ["compared", "verdict", "trace", "view", "digest"] {
        assert_eq!(soon[part], fine[part], "{part}");
    }
    let [soon, fine] = [true, false].map(|moving| look(0.03, moving));
    assert_eq!(
        (&soon["rough"], &fine["rough"]),
        (&json!(true), &json!(false))
    );
    for policy in soon["compared"]["policies"].as_array().expect("rules") {
        assert!(
            policy["method"] == "exact" || policy["trials"] == 1000,
            "{policy}"
        );
    }
    assert_eq!(soon["trace"], fine["trace"]);
}

/// Shows (serve): that no run hunts is an answer, and no error. Source: none: own rule.
#[test]
fn a_search_that_finds_nothing_says_how_far_it_went() {
    let dir = folder();
    let server = Server::start(dir.path(), &["--set", "loop.max_solves=1"]);
    let rig = server.get("/api/start")["rig"].clone();
    let asked = json!({ "rig": rig, "target_deg": 90.0, "seed": 1 });
    let found = server.post("/api/hunting", &asked);
    assert_eq!(found["trial"], Value::Null);
    assert!(
        found["searched"].as_u64().is_some_and(|n| n > 1000),
        "{found}"
    );
}

/// Shows (serve): it takes several lists, one after the other, as `advise` does, and refuses a name that two of them have.
/// Source: none: internal consistency.
#[test]
fn several_lists_follow_each_other() {
    let dir = folder();
    let list = |name: &str, target: &str| {
        let text = format!("name,position_angle_deg\n{target},10\n");
        write(dir.path(), name, &text);
    };
    list("a.csv", "one");
    list("b.csv", "two");
    assert_eq!(
        halfturn(dir.path(), &["init", "r", "--quiet"])
            .status
            .code(),
        Some(0)
    );
    let server = Server::start(dir.path(), &["r/rig.toml", "a.csv", "b.csv"]);
    let start = server.get("/api/start");
    let names = [&start["targets"][0]["name"], &start["targets"][1]["name"]];
    assert_eq!(names, ["one", "two"]);
    assert_eq!(start["targets_file"], "targets.csv");
    list("b.csv", "one");
    let refused = halfturn(
        dir.path(),
        &["serve", "r/rig.toml", "a.csv", "b.csv", "--port", "0"],
    );
    assert_eq!(refused.status.code(), Some(2));
    assert!(complaint(&refused).contains("Give each target another name"));
}
