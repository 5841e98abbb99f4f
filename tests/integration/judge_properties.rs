//! Every property fails for its own reason and no other, on scenarios worked out by hand; and the judge's drive is the
//! simulator's.

use std::collections::VecDeque;

use halfturn_engine::judge::{
    Answer, Base, Case, Event, Expect, Family, FaultKind, InProcess, Property, Reference, Subject,
    SubjectFault, cases, play,
};
use halfturn_engine::rig::{KeepOut, Rig, RigSettings, Rule, Sense, TravelKind};
use halfturn_engine::run::{Outcome, Unobserved, run, stream};
use halfturn_engine::scenario::{Policy, Scenario};

use Answer::{Done, Move, Solve};

/// Says what it was told to say, whatever happens; after that it gives up.
struct Script(VecDeque<Result<Answer, SubjectFault>>);

impl Subject for Script {
    fn answer(&mut self, _: &Event<'_>) -> Result<Answer, SubjectFault> {
        self.0
            .pop_front()
            .unwrap_or(Ok(Answer::GiveUp("the script ends".to_owned())))
    }

    fn reset(&mut self) {}
}

fn script(answers: &[Answer]) -> Script {
    Script(answers.iter().cloned().map(Ok).collect())
}

/// A perfect rig with half a circle from 0 and no band, the drive at 90, the target at 45.
fn plain() -> Case {
    let mut rig = RigSettings::default();
    rig.drive.step_deg = 0.0;
    rig.drive.backlash_deg = 0.0;
    rig.drive.repeatability_deg = 0.0;
    rig.solve.noise_deg = 0.0;
    Case {
        family: Family::Arcs,
        expect: Expect::Settle,
        target_deg: 45.0,
        zero_error_deg: 0.0,
        failing_attempts: Vec::new(),
        flip_after_solves: None,
        solve_errors_deg: Vec::new(),
        rule: None,
        free_corrections: false,
        seed: 1,
        index: 0,
        rig,
    }
}

fn stops(case: Case, lo: f64, hi: f64) -> Case {
    let mut case = case;
    case.rig.drive.travel = TravelKind::Stops;
    case.rig.drive.stop_from_deg = Some(lo);
    case.rig.drive.stop_to_deg = Some(hi);
    case
}

/// What failed, in the order of time, and what was said of the first.
fn verdict(case: &Case, subject: &mut Script) -> (Vec<Property>, String) {
    let played = play(case, subject).expect("playable");
    let first = played.failures.first().map(|f| f.detail.clone());
    (
        played.failures.iter().map(|f| f.property).collect(),
        first.unwrap_or_default(),
    )
}

fn assert_fails(case: &Case, answers: &[Answer], properties: &[Property], said: &str) {
    let (failed, detail) = verdict(case, &mut script(answers));
    assert_eq!(failed, properties, "{answers:?}: {detail}");
    assert!(detail.contains(said), "{detail}");
}

fn assert_passes(case: &Case, answers: &[Answer]) {
    assert_fails(case, answers, &[], "");
}

/// Shows (judge): `settles`: done must be true, within tolerance plus 5 sigma. Source: by hand.
#[test]
fn done_must_be_true() {
    let case = plain();
    assert_passes(&case, &[Move(45.0), Solve, Done]);
    let settles = [Property::Settles];
    assert_fails(&case, &[Move(45.0), Done], &settles, "without a good solve");
    assert_fails(
        &case,
        &[Move(47.0), Solve, Done],
        &settles,
        "2.000° (at most 0.500°",
    );
    assert_fails(
        &case,
        &[Move(45.0), Solve],
        &settles,
        "after 1 of 20 solves (the script ends)",
    );
    // A move after the last solve counts.
    assert_fails(
        &case,
        &[Move(45.0), Solve, Move(46.0), Solve, Done],
        &settles,
        "1.000",
    );
    assert_fails(
        &case,
        &[Move(45.0), Solve, Move(46.0), Done],
        &settles,
        "1.000",
    );
    // Five sigmas beyond the tolerance: 0.5 + 5 * 0.01.
    let mut noisy = plain();
    noisy.rig.solve.noise_deg = 0.01;
    assert_passes(&noisy, &[Move(45.549), Solve, Done]);
    assert_fails(&noisy, &[Move(45.551), Solve, Done], &settles, "0.551");
    // The equivalent framing, and solves without end.
    assert_passes(
        &Case {
            target_deg: 225.0,
            ..plain()
        },
        &[Move(45.0), Solve, Done],
    );
    assert_fails(
        &case,
        &vec![Solve; 30],
        &settles,
        "it asks for another solve after 20 of 20",
    );
    assert_fails(
        &case,
        &vec![Move(45.0); 300],
        &settles,
        "it goes on without end",
    );
}

/// Shows (judge): `long-swings`, with a pier flip and with a wrong sense. With:
/// `a_pier_flip_is_a_reason_for_a_swing_where_the_frame_has_no_symmetry`. Source: by hand; that a flip turns the field
/// by 180°: common practice, no published source.
#[test]
fn long_swings_are_corrections_over_half_a_period() {
    let mut case = plain();
    case.zero_error_deg = 20.0;
    let swing = |a: f64, b: f64| [Move(a), Solve, Move(b), Solve, Move(a), Solve];
    let both = [Property::LongSwings, Property::Settles];
    assert_fails(
        &case,
        &swing(45.0, 135.5),
        &both,
        "number 2, by 90.500° (1 allowed)",
    );
    // Exactly half a period is none, and the first move never is one.
    assert_fails(&case, &swing(45.0, 135.0), &[Property::Settles], "gives up");
    case.rig.drive.park_deg = 179.0;
    assert_passes(&case, &[Move(45.0), Solve, Move(25.0), Solve, Done]);
    // With a wrong sense nobody can do better.
    case.rig.drive.sense = Sense::Reversed;
    case.expect = Expect::Either;
    assert_passes(&case, &swing(45.0, 135.5));
}

#[test]
fn a_pier_flip_is_a_reason_for_a_swing_where_the_frame_has_no_symmetry() {
    let swings = [Move(45.0), Solve, Move(230.0), Solve, Move(45.0), Solve];
    for (symmetry, failed) in [(1, false), (2, true)] {
        let mut case = stops(plain(), -10.0, 370.0);
        case.rig.wrap.rule = Rule::FullCircle;
        case.rig.wrap.symmetry = Some(symmetry);
        case.flip_after_solves = Some(1);
        let played = play(&case, &mut script(&swings)).expect("playable");
        assert_eq!(played.fails(Property::LongSwings), failed, "{symmetry}");
    }
}

/// Shows (judge): `arc`: half open, widened by the band. Source: by hand.
#[test]
fn the_arc_is_half_open_and_the_band_widens_it() {
    let arc = [Property::Arc];
    let at_the_end = Case {
        target_deg: 0.0,
        ..plain()
    };
    assert_fails(
        &at_the_end,
        &[Move(180.0), Solve, Done],
        &arc,
        "the first move goes to 180°",
    );
    assert_passes(&at_the_end, &[Move(179.999_999), Solve, Done]);
    assert_passes(&at_the_end, &[Move(-0.0), Solve, Done]);
    // Whole turns do not matter with endless travel, and do between stops.
    assert_passes(&plain(), &[Move(405.0), Solve, Done]);
    assert_passes(&plain(), &[Move(-3_599_955.0), Solve, Done]);
    let line = stops(plain(), -400.0, 500.0);
    assert_fails(&line, &[Move(405.0), Solve, Done], &arc, "405");
    let mut banded = plain();
    banded.target_deg = 181.0;
    banded.rig.wrap.rule = Rule::HysteresisBand;
    banded.rig.wrap.band_deg = 1.0;
    assert_passes(&banded, &[Move(181.0), Solve, Done]);
    assert_passes(
        &Case {
            target_deg: -1.0,
            ..banded.clone()
        },
        &[Move(-1.0), Solve, Done],
    );
    assert_fails(
        &banded,
        &[Move(181.1), Solve, Done],
        &arc,
        "from -1° to 181°, band included",
    );
    // A controller that folds once may leave the arc where the scenario says so, but not by a swing, nor at first.
    let free = Case {
        free_corrections: true,
        zero_error_deg: 30.0,
        target_deg: 10.0,
        ..plain()
    };
    assert_passes(&free, &[Move(10.0), Solve, Move(-20.0), Solve, Done]);
    assert_passes(&free, &[Move(10.0), Solve, Move(160.0), Solve, Done]);
    assert_fails(
        &free,
        &[Move(170.0), Solve, Move(-20.0), Solve, Done],
        &arc,
        "a correction",
    );
    assert_fails(&free, &[Move(-20.0), Solve, Done], &arc, "the first move");
    assert_fails(
        &Case {
            free_corrections: false,
            ..free
        },
        &[Move(10.0), Solve, Move(-20.0), Solve, Done],
        &arc,
        "a correction",
    );
}

/// Shows (judge): `travel`, `refusal`, `gives-up`. Source: by hand.
#[test]
fn travel_and_refusals() {
    let within = stops(plain(), -10.0, 190.0);
    let travel = [Property::Travel];
    assert_fails(
        &within,
        &[Move(200.0)],
        &travel,
        "200°. The stops are at -10° and 190°",
    );
    // Refused, it has not moved: 90 is 45 off.
    let short = stops(plain(), 60.0, 190.0);
    let forbidden = Case {
        expect: Expect::GiveUp,
        ..short
    };
    assert_passes(&forbidden, &[Move(45.0)]);
    assert_passes(&forbidden, &[]);
    assert_passes(
        &forbidden,
        &[Move(45.0), Solve, Move(45.0), Solve, Move(60.0)],
    );
    let refusal = [Property::Refusal];
    assert_fails(
        &forbidden,
        &[Move(45.0), Done],
        &refusal,
        "without a good solve",
    );
    assert_fails(&forbidden, &[Solve, Move(45.0), Done], &refusal, "45.000°");
    assert_fails(
        &forbidden,
        &vec![Move(45.0); 300],
        &[Property::GivesUp],
        "it goes on",
    );
    assert_fails(
        &forbidden,
        &vec![Solve; 21],
        &[Property::GivesUp],
        "another solve",
    );
    assert_passes(&forbidden, &vec![Solve; 20]);
}

/// From 90 down to 45 through a sector from 60 to 70: 10 degrees. The other way round there are none of them.
/// Shows (judge): `keep-out` on the way. Source: by hand.
#[test]
fn keep_outs_are_met_on_the_way() {
    let mut case = plain();
    case.rig.keep_out = vec![KeepOut {
        from_deg: 60.0,
        to_deg: 70.0,
        why: "a cable".to_owned(),
        when: halfturn_engine::rig::When::default(),
    }];
    let answers = [Move(45.0), Solve, Done];
    assert_fails(
        &case,
        &answers,
        &[Property::KeepOut],
        "turns 10.000° inside",
    );
    case.rig.drive.park_deg = 10.0;
    assert_passes(&case, &answers);
}

/// Shows (judge): `failed-solve`, `finite`, `answers-in-time`, `stays-alive`, `protocol`. With:
/// `faults_are_told_apart`, `judge_faults::every_fault_has_its_verdict`. Source: by hand.
#[test]
fn failed_solves_do_not_end_a_run() {
    let case = Case {
        failing_attempts: vec![0, 1],
        ..plain()
    };
    assert_passes(&case, &[Move(45.0), Solve, Solve, Solve, Done]);
    let failed = [Property::FailedSolve];
    assert_fails(
        &case,
        &[Move(45.0), Solve],
        &failed,
        "gives up after a failed solve",
    );
    // Failed attempts do not count: twenty good ones are still there.
    let mut answers = vec![Solve; 22];
    answers.push(Done);
    assert_fails(&case, &answers, &[Property::Settles], "45.000°");
}

#[test]
fn faults_are_told_apart() {
    let fault = |kind| Err(SubjectFault::new(kind, "boom"));
    let kinds = [
        (FaultKind::NotFinite, Some(Property::Finite)),
        (FaultKind::Late, Some(Property::AnswersInTime)),
        (FaultKind::Gone, Some(Property::StaysAlive)),
        (FaultKind::Nonsense, Some(Property::Protocol)),
        (FaultKind::Stopped, None),
    ];
    for (kind, property) in kinds {
        let mut subject = Script([Ok(Move(45.0)), fault(kind)].into());
        let (failed, detail) = verdict(&plain(), &mut subject);
        assert_eq!(failed, Vec::from_iter(property));
        assert!(
            property.is_none() || detail == "after \"moved\": boom",
            "{detail}"
        );
    }
    // Dying of a failed solve or a refusal is told as that.
    let failing = Case {
        failing_attempts: vec![0],
        ..plain()
    };
    let mut subject = Script([Ok(Solve), fault(FaultKind::Gone)].into());
    assert_eq!(verdict(&failing, &mut subject).0, [Property::FailedSolve]);
    let forbidden = Case {
        expect: Expect::GiveUp,
        ..stops(plain(), 60.0, 190.0)
    };
    let mut subject = Script([Ok(Move(45.0)), fault(FaultKind::Gone)].into());
    assert_eq!(verdict(&forbidden, &mut subject).0, [Property::Refusal]);
    for angle in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_fails(&plain(), &[Move(angle)], &[Property::Finite], "it commands");
    }
    // Any finite angle is one, however large.
    let far = play(&plain(), &mut script(&[Move(f64::MAX), Solve])).expect("playable");
    assert!(far.figures.true_error_deg.is_some_and(f64::is_finite));
}

/// Shows (judge): the drive is that of the model: without luck, a scenario and a run are the same, bit for bit. Source:
/// none: internal consistency.
#[test]
fn the_judge_plays_the_rig_of_the_simulator() {
    let mut compared = 0;
    for case in cases(&Base::Graded, Family::ALL, None, 11, 3000) {
        let mut case = case;
        let plainly = case.failing_attempts.is_empty() && case.flip_after_solves.is_none();
        if !plainly || case.expect != Expect::Settle {
            continue;
        }
        // What the judge draws by itself.
        case.zero_error_deg = 0.0;
        case.rig.drive.zero_point_sigma_deg = 0.0;
        case.rig.drive.repeatability_deg = 0.0;
        case.rig.solve.noise_deg = 0.0;
        let played = play(&case, &mut InProcess::new(Reference::default)).expect("playable");
        let rig = Rig::new(case.rig.clone()).expect("a rig");
        let scenario = Scenario::new(&rig, Policy::of(&rig), case.target_deg);
        let figures = run(
            &scenario,
            &mut scenario.controller(),
            &mut stream(1, 0),
            &mut Unobserved,
        );
        assert_eq!(played.figures, figures, "{case:#?}");
        assert_eq!(figures.outcome, Outcome::Settled);
        compared += 1;
    }
    assert!(compared > 1500, "{compared}");
}
