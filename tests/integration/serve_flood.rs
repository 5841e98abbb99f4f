//! Many clients, broken requests and arbitrary bodies: the page is still served.

use std::io::Write as _;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::{Value, json};

use crate::binary::{folder, sized, tell};
use crate::page_server::Server;

/// Clients at once.
const CLIENTS: usize = 200;

fn look(server: &Server) -> Value {
    let rig = server.get("/api/start")["rig"].clone();
    json!({ "rig": rig, "target_deg": 0.0, "seed": 1, "trials": 1000, "trial": 0 })
}

#[test]
fn two_hundred_clients_all_get_the_same_answer() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let body = look(&server);
    let figures = |value: &Value| (value["compared"].clone(), value["trace"].clone());
    let expected = figures(&server.post("/api/live", &body));
    let good = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..CLIENTS {
            scope.spawn(|| {
                let answer = server.ask("POST", "/api/live", Some(&body));
                if answer.status == 200 && figures(&answer.json()) == expected {
                    good.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
    });
    assert_eq!(good.into_inner(), CLIENTS);
}

/// What no client should send.
fn broken(host: &str) -> Vec<Vec<u8>> {
    let text = |s: String| s.into_bytes();
    let page = "x-halfturn-page: test\r\ncontent-type: application/json\r\n";
    let mut list = vec![
        text("\r\n\r\n".to_owned()),
        text("GET\r\n\r\n".to_owned()),
        text("GET / HTTP/9.9\r\n\r\n".to_owned()),
        text("GET / HTTP/1.1\r\n\r\n".to_owned()),
        text(format!(
            "GET /{} HTTP/1.1\r\nhost: {host}\r\n\r\n",
            "a".repeat(100_000)
        )),
        text(format!(
            "GET / HTTP/1.1\r\nhost: {host}\r\nx: {}\r\n\r\n",
            "b".repeat(100_000)
        )),
        text(format!(
            "GET / HTTP/1.1\r\n{}\r\n",
            format!("host: {host}\r\n").repeat(200)
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}content-length: 99999999999\r\n\r\n{{"
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}content-length: -1\r\n\r\n{{"
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}transfer-encoding: chunked\r\n\r\nzz\r\n"
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}transfer-encoding: chunked\r\ncontent-length: 5\r\n\r\n0\r\n\r\n"
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}content-length: 5\r\n\r\n[[[[["
        )),
        text(format!(
            "POST /api/live HTTP/1.1\r\nhost: {host}\r\n{page}content-length: 200000\r\n\r\n{}",
            "[".repeat(200_000)
        )),
        (0..=255).cycle().take(5000).collect(),
        vec![0; 5000],
        vec![0x16, 0x03, 0x01, 0x02, 0x00, 0x01],
    ];
    list.push(text(format!(
        "GET / HTTP/1.1\r\nhost: {host}\r\n\0: x\r\n\r\n"
    )));
    list
}

/// Shows (serve): broken, slow and many requests leave it serving. With: `two_hundred_clients_all_get_the_same_answer`,
/// `arbitrary_bodies_are_refused_or_answered`. Source: none: own rule.
#[test]
fn a_flood_of_broken_requests_leaves_it_serving() {
    const AT_ONCE: usize = 16;
    let rounds = sized(4, 20);
    let dir = folder();
    let mut server = Server::start(dir.path(), &[]);
    let body = look(&server);
    let list = broken(&server.address);
    let begun = Instant::now();
    // Some that never say anything, and stay.
    let silent: Vec<_> = (0..100).map(|_| server.connect()).collect();
    let slow: Vec<_> = (0..100)
        .map(|_| {
            let mut socket = server.connect();
            let _ = socket.write_all(b"POST /api/live HTTP/1.1\r\nhost: ");
            socket
        })
        .collect();
    std::thread::scope(|scope| {
        for _ in 0..AT_ONCE {
            scope.spawn(|| {
                for _ in 0..rounds {
                    for bytes in &list {
                        let mut socket = server.connect();
                        let _ = socket.write_all(bytes);
                        // Gone without waiting for the answer.
                    }
                }
            });
        }
    });
    assert!(server.alive());
    let asked = Instant::now();
    assert!(server.post("/api/live", &body)["trace"].is_object());
    assert!(
        asked.elapsed() < Duration::from_secs(5),
        "{:?}",
        asked.elapsed()
    );
    tell(&format!(
        "{} broken requests in {:?}, 200 idle sockets, then an answer in {:?}",
        AT_ONCE * rounds * list.len(),
        begun.elapsed(),
        asked.elapsed()
    ));
    drop((silent, slow));
    // Every broken request that is read to its end gets an error or a closed connection, never a good answer. All at
    // once, as some are waited for.
    std::thread::scope(|scope| {
        // A body that is announced and never comes would be waited for.
        let ends = |bytes: &&Vec<u8>| !bytes.windows(20).any(|w| w == b"content-length: 9999");
        for bytes in list.iter().filter(ends) {
            scope.spawn(|| {
                let answer = crate::page_server::Answer::of(&server.raw(bytes));
                let begin = String::from_utf8_lossy(&bytes[..bytes.len().min(60)]);
                assert_ne!(answer.status, 200, "{begin}");
                assert_ne!(answer.status, 500, "{begin}");
            });
        }
    });
}

/// Any JSON of some depth, with the names that the server knows among its keys.
fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_map(|x| json!(x)),
        "\\PC{0,12}".prop_map(Value::from),
        prop_oneof![
            Just("half-circle"),
            Just("auto"),
            Just("sweep"),
            Just("target=0:1:3")
        ]
        .prop_map(Value::from),
    ];
    let name = prop_oneof![
        Just("rig".to_owned()),
        Just("target_deg".to_owned()),
        Just("loop".to_owned()),
        Just("tolerance_deg".to_owned()),
        Just("keep_out".to_owned()),
        Just("drive".to_owned()),
        Just("periodic".to_owned()),
        Just("targets".to_owned()),
        Just("kind".to_owned()),
        Just("vary".to_owned()),
        Just("text".to_owned()),
        "[a-z_.]{0,10}",
    ];
    leaf.prop_recursive(4, 24, 6, move |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::btree_map(name.clone(), inner, 0..6)
                .prop_map(|map| map.into_iter().collect::<serde_json::Map<_, _>>().into()),
        ]
    })
}

/// Puts any JSON somewhere into a good request.
fn spoiled() -> impl Strategy<Value = (usize, usize, Value)> {
    (0..64_usize, 0..4_usize, any_json())
}

/// Arbitrary bodies at every address that takes one: an answer within a second, and never a fault of the program.
/// `HALFTURN_FUZZ_CASES` makes it longer.
#[test]
fn arbitrary_bodies_are_refused_or_answered() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let start = server.get("/api/start");
    let good = [
        ("/api/live", look(&server)),
        (
            "/api/rig/write",
            json!({ "rig": start["rig"], "text": start["rig_text"] }),
        ),
        ("/api/targets/write", json!({ "targets": start["targets"] })),
        (
            "/api/hunting",
            json!({ "rig": start["rig"], "target_deg": 0.0, "seed": 1 }),
        ),
        (
            "/api/verdicts",
            json!({ "rig": start["rig"], "targets": start["targets"], "seed": 1 }),
        ),
        (
            "/api/panels",
            json!({
                "rig": start["rig"], "name": "a", "centre": "10,41", "columns": 2, "rows": 2,
                "position_angle_deg": 0.0,
            }),
        ),
        (
            "/api/fit",
            json!({
                "rig": start["rig"], "name": "l.csv",
                "text": "reading_deg,position_angle_deg\n1,1\n2,2.1\n3,3\n4,4\n",
            }),
        ),
    ];
    let cases = std::env::var("HALFTURN_FUZZ_CASES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(300);
    let config = Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    };
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(config, rng);
    let result = runner.run(&spoiled(), |(place, way, any)| {
        let (path, body) = &good[place % good.len()];
        let mut body = body.clone();
        let mut pointers = Vec::new();
        collect(&body, String::new(), &mut pointers);
        let pointer = &pointers[(place / good.len() * 7 + way) % pointers.len()];
        *body.pointer_mut(pointer).expect("a place") = any;
        let begun = Instant::now();
        let answer = server.ask("POST", path, Some(&body));
        prop_assert!(
            [200, 400, 404, 413, 422].contains(&answer.status),
            "{path} {body} {answer:?}"
        );
        // A second of work, and what a busy machine adds.
        prop_assert!(begun.elapsed() < Duration::from_secs(8), "{path} {body}");
        Ok(())
    });
    result.unwrap_or_else(|e| panic!("{e}"));
}

/// The pointer of every value.
fn collect(value: &Value, at: String, into: &mut Vec<String>) {
    into.push(at.clone());
    match value {
        Value::Object(map) => map
            .iter()
            .for_each(|(k, v)| collect(v, format!("{at}/{k}"), into)),
        Value::Array(list) => {
            list.iter()
                .enumerate()
                .for_each(|(i, v)| collect(v, format!("{at}/{i}"), into));
        }
        _ => {}
    }
}
