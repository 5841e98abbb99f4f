//! Nights and test vectors from the page: the files of the commands, byte for byte, in Node and in a browser.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use halfturn_answers::{PageStart, start};
use serde_json::{Value, json};

use crate::binary::{folder, halfturn, output, root, skipped, there_is};
use crate::browser_driver::{Browser, Look, in_browser};
use crate::browser_page::judged;
use crate::one_file::{alone, open};
use crate::page_server::Server;

/// Site and date of the nights, for the command.
const NIGHT: [&str; 6] = [
    "sky",
    "night",
    "--site",
    "47.3,12.1",
    "--date",
    "2026-10-14",
];

/// Asks the engine of a page in Node: its file is the argument, questions come in and the texts of answers go out as JSON.
const IN_NODE: &str = r#"
const [fs, zlib] = [require("fs"), require("zlib")];
const packed = /id="engine">([^<]*)</.exec(fs.readFileSync(process.argv[1], "utf8"))[1];
const page = { watch: () => 0, tell: () => {} };
WebAssembly.instantiate(zlib.inflateRawSync(Buffer.from(packed, "base64")), { page }).then(({ instance: { exports: engine } }) => {
  const answers = JSON.parse(fs.readFileSync(0, "utf8")).map(([path, body]) => {
    const question = Buffer.from(path + JSON.stringify(body));
    const room = engine.make_room(question.length);
    new Uint8Array(engine.memory.buffer, room, question.length).set(question);
    engine.ask(Buffer.byteLength(path));
    return Buffer.from(engine.memory.buffer, engine.answer_at(), engine.answer_bytes()).toString();
  });
  process.stdout.write(JSON.stringify(answers));
});
"#;

/// The answers of the one file to these questions, in Node.
fn in_node(questions: &Value) -> Vec<Value> {
    let mut node = Command::new("node")
        .args(["-e", IN_NODE])
        .arg(root().join("reports/halfturn.html"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("node starts");
    let mut stdin = node.stdin.take().expect("its input");
    stdin
        .write_all(questions.to_string().as_bytes())
        .expect("it reads");
    drop(stdin);
    let out = node.wait_with_output().expect("it ends");
    let texts: Vec<String> = serde_json::from_slice(&out.stdout).expect("answers");
    let answer = |text: &String| serde_json::from_str(text).expect("JSON");
    texts.iter().map(answer).collect()
}

/// What the command says of the demo's night with these options beside site and date: its JSON, sheet and picture.
fn of_command(dir: &Path, more: &[&str]) -> [String; 3] {
    let files = ["night.json", "sheet.csv", "night.svg"];
    let to = [
        "--quiet", "--json", files[0], "--sheet", files[1], "--plot", files[2],
    ];
    // Its exit code says whether the list is safe.
    halfturn(dir, &[&NIGHT[..], more, &to].concat());
    files.map(|name| std::fs::read_to_string(dir.join(name)).expect(name))
}

/// Most that a position in the sky may differ \[deg\]: its sines are those of the system. docs/trust.md, "The same on every machine".
const SKY_DEG: f64 = 1e-8;

/// Both are the same, but for the last digits of positions.
fn same(here: &Value, there: &Value, at: &str) {
    match (here, there) {
        (Value::Object(one), Value::Object(other)) => {
            assert!(one.keys().eq(other.keys()), "{at}");
            one.iter()
                .for_each(|(key, value)| same(value, &other[key], &format!("{at}.{key}")));
        }
        (Value::Array(one), Value::Array(other)) => {
            assert_eq!(one.len(), other.len(), "{at}");
            one.iter().zip(other).for_each(|(a, b)| same(a, b, at));
        }
        (Value::Number(one), Value::Number(other)) if at.starts_with("night.stretches") => {
            let (one, other) = (one.as_f64(), other.as_f64());
            let apart = one.zip(other).map(|(a, b)| (a - b).abs());
            assert!(
                apart.is_some_and(|d| d <= SKY_DEG),
                "{at}: {one:?} {other:?}"
            );
        }
        _ => assert_eq!(here, there, "{at}"),
    }
}

/// Shows (serve): the page's night is that of `sky night`, its table of positions to 1e-8 deg and the rest to the bit,
/// and its test vectors those of `vectors`; here in Node. With: `a_night_is_run_and_saved`. Source: none: internal
/// consistency.
#[test]
fn night_and_vectors_are_those_of_the_commands() {
    if !there_is("node") {
        return skipped("night and vectors of the one file: no node");
    }
    let dir = folder();
    let demo = start(&PageStart::demo().expect("the demo"));
    let night = json!({
        "kind": "night", "rig": demo["rig"], "targets": demo["targets"], "site": "47.3,12.1", "date": "2026-10-14", "order": "meridian",
        "local": "+02:00", "flips": true, "least_altitude_deg": 35, "trials": 500, "seed": 1,
    });
    let fork =
        json!({ "order": "3,1,2,4,8,7,6,5", "local": "", "flips": false, "least_altitude_deg": 0 });
    let mut other = night.clone();
    for (key, value) in fork.as_object().expect("an object") {
        other[key] = value.clone();
    }
    let answers = in_node(&json!([
        ["jobs", night],
        ["jobs", other],
        ["vectors", null]
    ]));
    let options = [
        "--order meridian --local +02:00 --least-altitude 35 --trials 500",
        "--order 3,1,2,4,8,7,6,5 --mount fork --trials 500",
    ];
    for (answer, options) in answers.iter().zip(options) {
        let options: Vec<&str> = options.split(' ').collect();
        let [json, sheet, picture] = of_command(dir.path(), &options);
        let found = &answer["result"];
        let json: Value = serde_json::from_str(&json).expect("JSON");
        same(&found["night"], &json, "night");
        assert_eq!(found["sheet"], sheet);
        assert_eq!(found["picture"], picture);
    }
    let vectors = output(&halfturn(dir.path(), &["vectors"]));
    assert!(answers[2]["text"] == vectors);
}

/// Runs the demo's night on an open page, and saves what comes of it.
async fn run_night(browser: &Browser, look: &str) {
    judged(browser).await;
    browser.click("#tab-night").await;
    browser
        .put("#night-site", &json!("47.3,12.1"), "input")
        .await;
    browser
        .put("#night-date", &json!("2026-10-14"), "input")
        .await;
    browser.click("#night-go").await;
    let frame = "document.querySelector('#night iframe').contentDocument";
    browser
        .until(&format!("{frame}?.querySelector('h1')"))
        .await;
    let title = format!("{frame}.querySelector('h1').textContent");
    assert_eq!(browser.value(&title).await, "Night of 2026-10-14");
    assert_eq!(
        browser
            .value(&format!("{frame}.querySelectorAll('svg').length > 0"))
            .await,
        true
    );
    let wide = "document.documentElement.scrollWidth <= innerWidth";
    assert_eq!(browser.value(wide).await, true);
    assert_eq!(browser.axe().await, Vec::<String>::new());
    browser.picture(&format!("night-{look}.png")).await;
    let save = |k: u32| format!("#night p.row button:nth-of-type({k})");
    let dir = folder();
    let [_, sheet, picture] = of_command(dir.path(), &[]);
    browser.click(&save(1)).await;
    let page = browser.saved("night.html").await;
    assert!(page.contains("Night of 2026-10-14") && !page.contains("<script"));
    browser.click(&save(2)).await;
    assert_eq!(browser.saved("sheet.csv").await, sheet);
    browser.click(&save(3)).await;
    assert_eq!(browser.saved("night.svg").await, picture);
    browser.click(".menu > summary").await;
    browser.click("#save-vectors").await;
    let vectors = output(&halfturn(dir.path(), &["vectors"]));
    assert!(browser.saved("wrap-vectors.csv").await == vectors);
}

/// Shows (serve): the page plans and runs a night, and saves its page, sheet and picture. Source: none: internal
/// consistency.
#[test]
fn a_night_is_run_and_saved() {
    let looks = [
        ("desk", Look::DESK),
        ("telephone", Look::PHONE),
        (
            "dark",
            Look {
                dark: true,
                ..Look::DESK
            },
        ),
    ];
    for (name, look) in looks {
        in_browser(&format!("one file: night, {name}"), look, async |browser| {
            open(&browser).await;
            run_night(&browser, name).await;
            // A list without times has no night.
            let list = "name,position_angle_deg\na,0\n";
            crate::browser_given::drop_file(&browser, "t.csv", list).await;
            browser
                .until("document.querySelector('#night').classList.contains('outdated')")
                .await;
            browser.click("#night-go").await;
            browser.until("document.querySelector('#night > .fault').textContent.includes('\"a\" has no')").await;
            alone(&browser).await;
            browser
        });
    }
}

#[test]
fn a_night_is_run_on_the_served_page() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    in_browser("page: night", Look::DESK, async |browser| {
        crate::browser_page::open(&browser, &server).await;
        run_night(&browser, "served").await;
        browser.quiet().await;
        browser
    });
}
