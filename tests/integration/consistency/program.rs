//! The faces of the advice, through the program: commands, files, exit codes and the page.

use std::path::Path;

use halfturn_engine::rig::{Rig, read};
use serde_json::{Value, json};

use super::Compared;
use super::rigs::{Case, any};
use crate::binary::{folder, halfturn, json as answer, sized, write};
use crate::page_server::Server;

const SEED: u64 = 17;

/// Rigs of the seed: some whose advice holds, some whose advice does not, of all rules, with stops, cable and keep-outs.
const RIGS: [u64; 8] = [1, 5, 6, 8, 10, 13, 15, 17];

/// The usual number of `advise`, given to all commands.
const RUNS: [&str; 4] = ["--trials", "20000", "--seed", "1"];

/// Shows (verdict): the written rig file, `--check`, `batch`, `sky panels`, the page and the exit codes say what
/// `advise` says. Source: common practice, no published source: random rigs.
#[test]
fn the_commands_and_the_page_agree() {
    let dir = folder();
    let server = Server::start(dir.path(), &[]);
    let mut compared = Compared::default();
    let mut holding = 0;
    let rigs = &RIGS[..sized(3, RIGS.len())];
    for &index in rigs {
        let case = any(SEED, index).parked();
        holding += usize::from(compared.one_rig(&case, &server));
    }
    println!("{holding} advices hold");
    assert!(holding > 0 && holding < rigs.len(), "{holding}");
    // A loop that is solved for seconds is not known to the page.
    assert!(2 * compared.made["page"] > compared.made["batch"]);
    compared.told(rigs.len());
}

/// One target as a face tells of it: its verdict, and how each fault stands to its limit.
#[derive(Debug, serde::Serialize)]
struct Said {
    verdict: String,
    faults: Vec<(String, String)>,
}

impl Said {
    fn of(target: &Value) -> Self {
        let text = |value: &Value| {
            value
                .as_str()
                .unwrap_or_else(|| panic!("{target}"))
                .to_owned()
        };
        let faults = target["faults"].as_array().into_iter().flatten();
        Self {
            verdict: text(&target["verdict"]),
            faults: faults
                .map(|f| (text(&f["fault"]), text(&f["standing"])))
                .collect(),
        }
    }

    fn all(list: &Value) -> Vec<Self> {
        let list = list.as_array().unwrap_or_else(|| panic!("{list}"));
        list.iter().map(Self::of).collect()
    }
}

impl Compared {
    /// All comparisons at one rig; whether its advice holds.
    fn one_rig(&mut self, case: &Case, server: &Server) -> bool {
        let dir = folder();
        let dir = dir.path();
        write(dir, "rig.toml", &case.rig_file());
        write(dir, "list.csv", &case.list);
        let told = run(
            dir,
            &[
                "advise",
                "rig.toml",
                "list.csv",
                "--write=advised.toml",
                "--out",
                "first",
            ],
            &RUNS,
        );
        let (holds, after) = (told.holds(), Said::all(&told.json["after"]["targets"]));
        self.equal("exit code", case, (told.code, Some(i32::from(!holds))));
        self.equal(
            "plan",
            case,
            (Some(holds), told.json["plan"]["holds"].as_bool()),
        );

        let again = run(
            dir,
            &["advise", "advised.toml", "list.csv", "--out", "second"],
            &RUNS,
        );
        let before = Said::all(&again.json["before"]["targets"]);
        self.equal("the written file", case, (&after, &before));
        self.equal("the written file, exit code", case, (told.code, again.code));

        let check = run(dir, &["advise", "--check", "first/advice.toml"], &[]);
        self.equal("--check", case, (holds, check.holds()));
        self.equal("--check, exit code", case, (told.code, check.code));

        let text = std::fs::read_to_string(dir.join("advised.toml")).expect("the written file");
        let advised = read(&text, "advised.toml", &[]).expect("a valid rig");
        for (target, after) in case.targets.iter().zip(&after) {
            let target_deg = target.position_angle_deg;
            let said = batch(dir, &advised, target_deg);
            self.equal("batch", case, (after, &said));
            if let Some(said) = page(server, &advised, target_deg) {
                self.equal("page", case, (after, &said));
            }
        }
        let (panels, list) = panels(dir, case.targets[0].position_angle_deg);
        write(dir, "panels.csv", &list);
        let told = run(
            dir,
            &["advise", "advised.toml", "panels.csv", "--out", "third"],
            &RUNS,
        );
        let before = Said::all(&told.json["before"]["targets"]);
        self.equal("panels", case, (panels, before));
        holds
    }
}

/// What a command says.
struct Told {
    code: Option<i32>,
    json: Value,
}

impl Told {
    fn holds(&self) -> bool {
        self.json["holds"].as_bool().expect("holds")
    }
}

fn run(dir: &Path, command: &[&str], more: &[&str]) -> Told {
    let args = [command, more, &["--quiet", "--json", "-"]].concat();
    let output = halfturn(dir, &args);
    Told {
        code: output.status.code(),
        json: answer(&output),
    }
}

/// `batch` at one target of the written rig, under its rule.
fn batch(dir: &Path, advised: &Rig, target_deg: f64) -> Said {
    let (target, rule) = (target_deg.to_string(), advised.settings().wrap.rule.into());
    let command = ["batch", "advised.toml", "--method", "auto"];
    let target = ["--target", &target, "--rules", rule];
    let told = run(dir, &[&command[..], &target].concat(), &RUNS);
    Said::of(&told.json["policies"][0])
}

/// The page asked for the verdict on a target; `None` where its time did not suffice.
fn page(server: &Server, advised: &Rig, target_deg: f64) -> Option<Said> {
    let body = json!({
        "rig": serde_json::to_value(advised.settings()).expect("JSON"),
        "targets": [{ "name": "T", "position_angle_deg": target_deg }],
        "seed": 1,
    });
    let answer = server.post("/api/verdicts", &body);
    let target = &answer["targets"][0];
    (!target["verdict"].is_null()).then(|| Said::of(target))
}

/// The panels of a mosaic with the written rig, and their angles as a targets file.
fn panels(dir: &Path, position_angle_deg: f64) -> (Vec<Said>, String) {
    let angle = position_angle_deg.to_string();
    let place = ["--center", "83.8,62", "--grid", "2x2", "--frame-deg", "3x2"];
    let command = ["sky", "panels", "advised.toml", "--position-angle", &angle];
    let told = run(dir, &[&command[..], &place].concat(), &["--seed", "1"]);
    let panels = told.json["panels"].as_array().expect("panels");
    let rows = panels
        .iter()
        .map(|p| format!("{},{}\n", p["name"], p["position_angle_deg"]));
    let list = format!("name,position_angle_deg\n{}", rows.collect::<String>());
    (Said::all(&told.json["panels"]), list)
}
