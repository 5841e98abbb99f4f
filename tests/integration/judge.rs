//! The judge in this process: correct controllers pass, and every small mutation of one is caught.

use halfturn_engine::controller::{Action, Brief, Command, Controller};
use halfturn_engine::judge::{
    Base, Case, CheckError, CheckRequest, Expect, Family, InProcess, Judgement, Property,
    Reference, cases, play, size,
};
use halfturn_engine::rig::{DEMO_RIG, RigSettings, Rule, read};
use halfturn_report::judge::{cases_text, read_cases};

use crate::mutants::{Mutant, Mutation};

fn request(seed: u64, scenarios: usize) -> CheckRequest {
    CheckRequest {
        seed,
        scenarios,
        ..CheckRequest::default()
    }
}

/// The judgement of a request that is right.
fn check<C: Controller>(make: impl FnMut() -> C, request: &CheckRequest) -> Judgement {
    halfturn_engine::judge::check(make, request).expect("scenarios to play")
}

fn failed(judgement: &Judgement, property: Property) -> usize {
    judgement
        .session
        .by_property()
        .get(&property)
        .map_or(0, |f| f.0)
}

/// The first scenario in which a mutant of a rule fails the property that is looked for, or any; `None` if there is none.
fn caught(
    cases: &[Case],
    rule: Rule,
    mutation: Mutation,
    property: Option<Property>,
) -> Option<(usize, Property)> {
    let mut subject = InProcess::new(|| Mutant::of(rule, mutation));
    cases.iter().enumerate().find_map(|(i, case)| {
        let failures = play(case, &mut subject).expect("playable").failures;
        let mut failed = failures.into_iter().map(|f| f.property);
        let found = failed.find(|p| property.is_none_or(|looked_for| looked_for == *p));
        found.map(|p| (i + 1, p))
    })
}

/// Mutations that cannot be told from a correct controller of a rule that they claim, and why.
fn unseen(rule: Rule, mutation: Mutation) -> Option<&'static str> {
    use Mutation as M;
    let bands = [
        M::BandForgotten,
        M::BandForgottenBelow,
        M::BandForgottenAbove,
        M::BandForgottenWherePositive,
    ];
    let turns = [M::WholeTurnsKept, M::WholeTurnsTakenBetweenStops];
    match rule {
        Rule::FullCircle | Rule::HalfCircle if bands.contains(&mutation) => {
            Some("the rule has no band to forget")
        }
        Rule::FullCircle if [M::BandOnTheFirstMove, M::BandTwice].contains(&mutation) => {
            Some("the brief of a whole turn has no band")
        }
        Rule::FullCircle | Rule::HalfCircle if turns.contains(&mutation) => {
            Some("equivalent: every command is folded, which takes whole turns away")
        }
        Rule::FoldOnce if mutation == M::NeverFoldsAgain => Some("equivalent: this is the rule"),
        Rule::FoldOnce if mutation == M::CorrectionsOnePeriodOff => {
            Some("equivalent: it changes corrections that fold, and none does")
        }
        Rule::FoldOnce if mutation == M::WholeTurnsKept => {
            Some("equivalent: to an endless drive a command is the same whole turns away")
        }
        _ => None,
    }
}

/// Forty-five small mutations of a correct controller of each rule, which claims that rule: caught, or explained.
#[test]
#[expect(clippy::print_stdout, reason = "the table of the mutation score")]
fn small_mutations_of_every_rule_are_caught() {
    let mut wrong = Vec::new();
    for &rule in Rule::ALL {
        let cases = cases(&Base::Graded, Family::ALL, Some(rule), 1, 2000);
        assert_eq!(caught(&cases, rule, Mutation::Nothing, None), None);
        let mut score = 0;
        for (mutation, _) in Mutation::ALL {
            let found = caught(&cases, rule, mutation, None);
            let why = unseen(rule, mutation);
            println!("{rule} {mutation:?}: {found:?} {}", why.unwrap_or_default());
            if found.is_some() == why.is_some() {
                wrong.push((rule, mutation, found));
            }
            score += usize::from(found.is_some());
        }
        println!("{rule}: {score} of {}", Mutation::ALL.len());
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The mutation score of a controller that claims no rule. Each mutant fails the property that is named; those that are
/// missed cannot be told from a correct controller by the properties of the protocol.
/// Shows (judge): wrong controllers are caught: forty-five small bugs. With: `small_mutations_of_every_rule_are_caught`,
/// `crates/engine/src/judge/tests.rs::folding_every_correction_hunts`. Source: common practice, no published source
/// (mutation testing).
#[test]
#[expect(clippy::print_stdout, reason = "the table of the mutation score")]
fn small_mutations_are_caught() {
    let rule = Rule::HysteresisBand;
    let cases = cases(&Base::Graded, Family::ALL, None, 1, 2000);
    assert_eq!(caught(&cases, rule, Mutation::Nothing, None), None);
    let mut score = 0;
    for (mutation, expected) in Mutation::ALL {
        let found = caught(&cases, rule, mutation, expected.ok());
        println!("{mutation:?}: {found:?}");
        assert_eq!(
            found.is_some(),
            expected.is_ok(),
            "{mutation:?} {expected:?}"
        );
        score += usize::from(found.is_some());
    }
    assert_eq!((score, Mutation::ALL.len()), (37, 45));
}

/// Correct controllers get no warning.
/// Shows (judge): a session warns of needless swings and of bands that are too wide. Source: by hand.
#[test]
fn a_session_warns_of_what_no_rule_does() {
    use halfturn_engine::judge::Remark;
    use halfturn_engine::judge::Remark::{LeavesBand, NeedlessSwing};
    let warned = |mutation, remark: Remark| {
        let judgement = check(|| Mutant::new(mutation), &request(1, 2000));
        assert!(judgement.passed(), "{mutation:?}");
        let remarks: Vec<_> = judgement.session.remarks().into_keys().collect();
        assert_eq!(remarks, [remark], "{mutation:?}");
        let warning = judgement.warnings().remove(0);
        assert!(warning.starts_with(&remark.to_string()), "{warning}");
    };
    warned(Mutation::BandForgottenBelow, NeedlessSwing);
    warned(Mutation::BandForgottenAbove, NeedlessSwing);
    warned(Mutation::BandTwice, LeavesBand);
    warned(Mutation::BandTwentyDegreesTooWide, LeavesBand);
    for mutation in [
        Mutation::Nothing,
        Mutation::NeverFoldsAgain,
        Mutation::CorrectsHalf,
    ] {
        let judgement = check(|| Mutant::new(mutation), &request(1, 2000));
        assert_eq!(judgement.warnings(), Vec::<String>::new(), "{mutation:?}");
    }
}

#[test]
fn correct_controllers_pass_on_every_rig() {
    let changes: [&[&str]; 8] = [
        &[],
        &["wrap.rule=full-circle"],
        &["wrap.rule=fold-once", "wrap.symmetry=4"],
        &["drive.gain_error=0.01", "drive.backlash_deg=2.5"],
        &["solve.noise_deg=0.3", "solve.bias_deg=0.2"],
        &["drive.zero_point_sigma_deg=20", "wrap.arc_start_deg=100"],
        &[
            "drive.travel=stops",
            "drive.stop_from_deg=-15",
            "drive.stop_to_deg=140",
        ],
        &["loop.approach=from-below", "loop.max_solves=5"],
    ];
    for sets in changes {
        let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
        let rig = read(DEMO_RIG, "demo", &sets).expect("a rig");
        let (base, _) = Base::rig(&rig).expect("a rig that can be judged with");
        for seed in 1..=3 {
            let request = CheckRequest {
                base: base.clone(),
                rule: None,
                ..request(seed, 600)
            };
            for rule in [Rule::HysteresisBand, Rule::FoldOnce] {
                let judgement = check(|| Reference::new(rule), &request);
                assert!(
                    judgement.passed(),
                    "{sets:?}: {:#?}",
                    judgement.complaints()
                );
            }
        }
    }
}

#[test]
fn a_request_without_a_scenario_is_an_error() {
    let wrong = |change: fn(&mut CheckRequest)| {
        let mut request = request(1, 10);
        change(&mut request);
        halfturn_engine::judge::check(Reference::default, &request).map(|_| ())
    };
    assert_eq!(wrong(|r| r.scenarios = 0), Err(CheckError::NoScenario));
    assert_eq!(wrong(|r| r.families.clear()), Err(CheckError::NoScenario));
    let bad_rig = wrong(|r| {
        let mut settings = RigSettings::default();
        settings.drive.speed_deg_per_s = -1.0;
        r.base = Base::Rig(Box::new(settings));
    });
    let told = bad_rig.map_err(|e| e.to_string()).expect_err("no rig");
    assert!(told.starts_with("drive.speed_deg_per_s = -1.0: "), "{told}");
}

/// A legal controller that works otherwise than the yardstick: solves first, corrects by 0.7 of the residual, and
/// wants two passes in a row.
struct Careful {
    inner: Mutant,
    told: Option<Brief>,
    passes: u32,
    solves: u32,
}

impl Controller for Careful {
    fn begin(&mut self, brief: &Brief) -> Action {
        (self.told, self.passes, self.solves) = (Some(brief.clone()), 0, 0);
        self.inner.begin(brief)
    }

    fn moved(&mut self, reading_deg: f64) -> Action {
        self.inner.moved(reading_deg)
    }

    fn refused(&mut self) -> Action {
        self.inner.refused()
    }

    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
        self.solves += 1;
        let most = self.told.as_ref().map_or(0, |t| t.max_solves);
        match self.inner.solved(reading_deg, position_angle_deg) {
            Action::Done => {
                self.passes += 1;
                if self.passes >= 2 || self.solves >= most {
                    Action::Done
                } else {
                    Action::Solve
                }
            }
            Action::Move(command) => {
                self.passes = 0;
                let short = Command::to(reading_deg + 0.7 * (command.drive_deg - reading_deg));
                // A swing is made whole.
                Action::Move(if (command.drive_deg - reading_deg).abs() > 40.0 {
                    command
                } else {
                    short
                })
            }
            other => other,
        }
    }
}

#[test]
fn a_legal_controller_of_another_kind_passes() {
    for seed in 1..=4 {
        let make = || Careful {
            inner: Mutant::new(Mutation::Nothing),
            told: None,
            passes: 0,
            solves: 0,
        };
        let judgement = check(make, &request(seed, 3000));
        assert!(judgement.passed(), "{:#?}", judgement.complaints());
    }
}

/// Shows (judge): failures are made simpler; correct controllers pass what is left. With:
/// `shrunk_scenarios_are_passed_by_correct_controllers`, `hunting_shrinks_to_one_error`. Source: by hand (model.md,
/// section 7).
#[test]
fn shrinking_keeps_the_failure_and_makes_it_simpler() {
    let kinds = [
        (Mutation::BandForgotten, Property::LongSwings),
        (Mutation::SenseForgotten, Property::Settles),
        (Mutation::ShortWayAcrossStops, Property::Travel),
        (Mutation::GivesUpOnFailedSolve, Property::FailedSolve),
        (Mutation::OneSolveTooMany, Property::GivesUp),
    ];
    for (mutation, property) in kinds {
        let judgement = check(|| Mutant::new(mutation), &request(5, 2000));
        let example = judgement
            .examples
            .iter()
            .find(|e| e.property == property)
            .expect("an example");
        assert!(example.reproduced && example.played.fails(property));
        let first = &judgement.session.judged[example.number].case;
        assert!(
            size(&example.case) < size(first),
            "{mutation:?}: {} from {}",
            size(&example.case),
            size(first)
        );
        // It still fails by itself, and a correct controller still passes it.
        let again = play(&example.case, &mut InProcess::new(|| Mutant::new(mutation)));
        assert!(again.expect("playable").fails(property), "{mutation:?}");
        let right = play(&example.case, &mut InProcess::new(Reference::default));
        assert!(right.expect("playable").passed(), "{mutation:?}");
    }
}

/// Whatever is made simpler keeps its right answer.
#[test]
fn shrunk_scenarios_are_passed_by_correct_controllers() {
    let mut examples = 0;
    for (mutation, _) in Mutation::ALL {
        for example in check(|| Mutant::new(mutation), &request(2, 800)).examples {
            for rule in [Rule::HysteresisBand, Rule::FoldOnce] {
                let right = play(&example.case, &mut InProcess::new(|| Reference::new(rule)));
                let right = right.expect("playable");
                assert!(right.passed(), "{mutation:?}: {:?}", right.failures);
            }
            examples += 1;
        }
    }
    assert!(examples > 40, "{examples}");
}

/// The scenario of the proof of docs/model.md, section 7, is what is left of a hunting controller's failure.
#[test]
fn hunting_shrinks_to_one_error() {
    let judgement = check(|| Mutant::new(Mutation::BandForgotten), &request(1, 2000));
    let example = judgement
        .examples
        .iter()
        .find(|e| e.property == Property::LongSwings)
        .expect("an example");
    let drive = &example.case.rig.drive;
    assert_eq!(drive.periodic.len(), 1, "{:#?}", example.case);
    let others = [
        drive.gain_error,
        drive.backlash_deg,
        drive.repeatability_deg,
    ];
    assert_eq!(others, [0.0; 3]);
    assert_eq!(example.case.rig.solve.noise_deg, 0.0);
}

/// Shows (judge): the families, and that each has what it promises. Source: none: own rule.
#[test]
fn scenarios_are_the_same_for_the_same_seed_and_cover_what_they_should() {
    let made = cases(&Base::Graded, Family::ALL, None, 7, 2000);
    assert_eq!(made, cases(&Base::Graded, Family::ALL, None, 7, 2000));
    assert_ne!(made, cases(&Base::Graded, Family::ALL, None, 8, 2000));
    let any = |what: &str, holds: &dyn Fn(&Case) -> bool| {
        assert!(made.iter().any(holds), "{what}");
    };
    for &family in Family::ALL {
        any(family.into(), &|c| c.family == family);
    }
    for symmetry in [1, 2, 4] {
        any("symmetry", &|c| c.rig.wrap.symmetry == Some(symmetry));
    }
    for rule in [Rule::FullCircle, Rule::HalfCircle, Rule::HysteresisBand] {
        any("rule", &|c| c.rig.wrap.rule == rule);
    }
    for angle in [360.0, 720.25] {
        any("target", &|c| c.target_deg == angle);
        any("start", &|c| c.rig.drive.park_deg == angle);
        any("arc", &|c| c.rig.wrap.arc_start_deg == angle);
    }
    let negative_zero = |x: f64| x == 0.0 && x.is_sign_negative();
    any("-0.0", &|c| negative_zero(c.target_deg));
    any("give up", &|c| c.expect == Expect::GiveUp);
    any("stops", &|c| c.rig.drive.stop_to_deg.is_some());
    any("gain", &|c| c.rig.drive.gain_error != 0.0);
    any("failures", &|c| !c.failing_attempts.is_empty());
    any("flip", &|c| c.flip_after_solves.is_some());
    any("sense", &Case::wrong_sense);
}

#[test]
fn a_file_of_scenarios_reads_back_and_says_what_is_wrong() {
    let made = cases(&Base::Graded, Family::ALL, None, 3, 60);
    let text = cases_text(&made);
    assert_eq!(read_cases(&text, "x.json"), Ok(made.clone()));
    let broken = [
        ("{", "x.json:1: not a file of scenarios"),
        (
            &text.replace("halfturn-scenarios", "other")[..],
            "x.json:3: kind: must be \"halfturn-scenarios\"",
        ),
        (
            &cases_text(&[Case {
                target_deg: 1e9,
                ..made[0].clone()
            }])[..],
            "x.json: cases.0: target_deg = 1000000000: must be a number from -360000 to 360000 deg",
        ),
        (
            &text.replacen("\"speed_deg_per_s\": ", "\"speed_deg_per_s\": -", 1)[..],
            "x.json: cases.0: rig.drive.speed_deg_per_s",
        ),
        (
            &text.replacen("\"expect\"", "\"expct\"", 1)[..],
            "unknown field `expct`",
        ),
    ];
    for (text, complaint) in broken {
        let read = read_cases(text, "x.json").map(|cases| cases.len());
        let error = read.expect_err(complaint).to_string();
        assert!(error.contains(complaint), "{error}");
    }
}

/// Panics in its third scenario.
struct Fragile(u32);

impl Controller for Fragile {
    fn begin(&mut self, _: &Brief) -> Action {
        self.0 += 1;
        assert!(self.0 < 3, "worn out");
        Action::GiveUp
    }

    fn solved(&mut self, _: f64, _: f64) -> Action {
        Action::GiveUp
    }
}

/// Shows (judge): `check` in `cargo test`; a panic is a verdict. Source: none: own rule.
#[test]
fn a_panic_is_a_verdict_and_not_the_end() {
    let judgement = check(|| Fragile(0), &request(1, 10));
    assert_eq!(judgement.session.judged.len(), 10);
    assert_eq!(failed(&judgement, Property::StaysAlive), 3);
    let example = judgement
        .examples
        .iter()
        .find(|e| e.property == Property::StaysAlive)
        .expect("an example");
    assert!(!example.reproduced, "it depends on what went before");
}

/// The page tells of every property and family, its session keeps to the protocol, and its numbers are true.
#[test]
fn the_page_is_true() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/judge.md");
    let page = std::fs::read_to_string(path).expect("the page");
    for &property in Property::ALL {
        assert!(page.contains(&format!("\n| `{property}` |")), "{property}");
    }
    for &family in Family::ALL {
        assert!(page.contains(&format!("\n| `{family}` |")), "{family}");
    }
    let vectors = halfturn_engine::judge::vectors().len();
    assert!(page.contains(&format!("writes {vectors} applications")));
    let told = page.lines().filter_map(|l| l.strip_prefix("    -> "));
    let mut events = std::collections::BTreeSet::new();
    for line in told {
        let event: serde_json::Value = serde_json::from_str(line).expect(line);
        events.insert(event["event"].as_str().expect("an event").to_owned());
        if event["event"] == "begin" {
            for key in ["target_deg", "arc_width_deg", "symmetry", "max_solves"] {
                assert!(event[key].is_number(), "{key}");
            }
        }
    }
    let all = ["begin", "end", "moved", "refused", "solve-failed", "solved"];
    assert!(events.iter().eq(all.iter()), "{events:?}");
    let answers = page.lines().filter_map(|l| l.strip_prefix("    <- "));
    let read: Vec<_> = answers
        .map(|l| halfturn_engine::judge::protocol::read_answer(l.as_bytes()).expect(l))
        .collect();
    assert_eq!(read.len(), 8);
}
