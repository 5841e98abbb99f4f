//! How far controllers are from hunting, beside the closed forms of docs/judge.md.

use halfturn_engine::controller::{Action, Brief, Controller};
use halfturn_engine::judge::play;
use halfturn_engine::judge::{
    Base, EndMargin, InProcess, MarginError, Property, Reference, margin,
};
use halfturn_engine::rig::{Periodic, Rig, RigSettings, Rule, Sense, TravelKind};
use halfturn_engine::run::{Unobserved, run, stream};
use halfturn_engine::sample::Unattended;
use halfturn_engine::scenario::{Policy, Scenario};

use crate::binary::sized;
use crate::mutants::{Mutant, Mutation};

fn found<C: Controller>(
    rig: &RigSettings,
    rule: Option<Rule>,
    make: impl FnMut() -> C,
) -> Result<[EndMargin; 2], MarginError> {
    let base = Base::Rig(Box::new(rig.clone()));
    margin(&base, rule, &mut InProcess::new(make), &Unattended, |_| {})
}

fn rig(tolerance_deg: f64, band_deg: f64) -> RigSettings {
    let mut rig = RigSettings::default();
    rig.wrap.rule = Rule::HysteresisBand;
    rig.wrap.symmetry = Some(2);
    rig.wrap.band_deg = band_deg;
    rig.loop_.tolerance_deg = tolerance_deg;
    rig
}

fn stops(mut rig: RigSettings) -> RigSettings {
    rig.drive.travel = TravelKind::Stops;
    (rig.drive.stop_from_deg, rig.drive.stop_to_deg) = (Some(-60.0), Some(440.0));
    rig
}

/// Both ends have this margin, within two cells of the grid, and a cycle that hunts.
#[expect(clippy::print_stdout, reason = "the margins beside the closed forms")]
fn assert_margin(ends: &[EndMargin; 2], closed_deg: Option<f64>, what: &str) {
    for end in ends {
        assert!(end.complete, "{what}");
        let Some(closed_deg) = closed_deg else {
            assert_eq!(end.hunts_deg, None, "{what}");
            assert!(end.safe_deg >= 10.0, "{what}: {}", end.safe_deg);
            continue;
        };
        let hunts_deg = end.hunts_deg.unwrap_or_else(|| panic!("{what}: none"));
        println!(
            "{what}, {}: closed form {closed_deg}, safe {}, hunts {hunts_deg}, {} runs",
            if end.upper { "upper" } else { "lower" },
            end.safe_deg,
            end.questions
        );
        assert!(
            end.safe_deg <= closed_deg && closed_deg < hunts_deg,
            "{what}: {closed_deg} is not between {} and {hunts_deg}",
            end.safe_deg
        );
        assert!(hunts_deg - closed_deg <= 2.0 * end.grid_deg, "{what}");
        assert!(end.grid_deg <= hunts_deg / 24.0, "{what}: {}", end.grid_deg);
        let (case, played) = end.cycle.as_ref().expect("a cycle");
        assert!(played.fails(Property::LongSwings), "{what}");
        let widest = case
            .solve_errors_deg
            .iter()
            .fold(0.0_f64, |m, e| m.max(e.abs()));
        assert!(2.0 * widest <= hunts_deg + 1e-9, "{what}: {widest}");
    }
}

/// Shows (judge): the margins of the four rules. With: `a_margin_is_the_same_for_every_arc`, `wrong_bands_have_margins_of_their_own`,
/// `an_eccentric_gear_hunts_from_the_margin_on`. Source: closed forms, by hand.
///
/// The closed forms of docs/judge.md: the greater of the tolerance and both bands together; none where nothing folds.
#[test]
fn margins_of_the_rules_are_those_of_the_closed_forms() {
    let reference = |rule| move || Reference::new(rule);
    // A band wider than a sixteenth of the arc is reached too.
    let all = [
        (0.25, 2.0),
        (3.0, 12.0),
        (3.0, 1.0),
        (0.25, 0.5),
        (0.5, 3.5),
    ];
    for &(tolerance_deg, band_deg) in sized(&all[..2], &all[..]) {
        let rig = rig(tolerance_deg, band_deg);
        for rig in [rig.clone(), stops(rig)] {
            let about = |rule| {
                format!(
                    "{rule}, tolerance {tolerance_deg}, band {band_deg}, {:?}",
                    rig.drive.travel
                )
            };
            let both_deg = tolerance_deg.max(2.0 * band_deg);
            let rules = [
                (Rule::HysteresisBand, Some(both_deg)),
                (Rule::HalfCircle, Some(tolerance_deg)),
                (Rule::FoldOnce, None),
            ];
            for (rule, closed_deg) in rules {
                let ends = found(&rig, None, reference(rule)).expect("a margin");
                assert_margin(&ends, closed_deg, &about(rule));
            }
            let circle = found(&rig, Some(Rule::FullCircle), reference(Rule::FullCircle));
            let line = rig.drive.travel == TravelKind::Stops;
            let closed_deg = line.then_some(tolerance_deg);
            assert_margin(
                &circle.expect("a margin"),
                closed_deg,
                &about(Rule::FullCircle),
            );
        }
    }
}

/// Neither the arc's start nor symmetry, sense and zero point matter.
#[test]
fn a_margin_is_the_same_for_every_arc() {
    for (start_deg, symmetry, sense) in [(37.5, 2, Sense::Reversed), (-90.0, 4, Sense::Same)] {
        let mut rig = rig(0.25, 1.5);
        rig.wrap.arc_start_deg = start_deg;
        rig.wrap.symmetry = Some(symmetry);
        rig.drive.zero_point_deg = 73.25;
        (rig.drive.sense, rig.loop_.believed_sense) = (sense, sense);
        let ends = found(&rig, None, Reference::default).expect("a margin");
        assert_margin(&ends, Some(3.0), &format!("arc from {start_deg}"));
    }
    // A whole turn is no swing.
    let mut rig = rig(0.25, 1.5);
    rig.wrap.symmetry = Some(1);
    let ends = found(&rig, None, Reference::default).expect("a margin");
    assert_margin(&ends, None, "symmetry 1");
}

/// A band at one end of the arc only: half the margin. Twice as wide: twice the margin.
#[test]
fn wrong_bands_have_margins_of_their_own() {
    let kinds = [
        (Mutation::BandForgottenAbove, Some(2.0)),
        (Mutation::BandForgottenBelow, Some(2.0)),
        (Mutation::BandForgotten, Some(0.25)),
        (Mutation::BandTwice, Some(8.0)),
        (Mutation::NeverFoldsAgain, None),
    ];
    for (mutation, closed_deg) in kinds {
        let ends = found(&rig(0.25, 2.0), None, || Mutant::new(mutation)).expect("a margin");
        assert_margin(&ends, closed_deg, &format!("{mutation:?}"));
    }
}

/// The same in the simulator: an eccentric gear of amplitude A differs by 2 A between the ends of half a circle
/// (docs/model.md, section 7), and hunts from A = band on, at a zero point that suits it.
#[test]
fn an_eccentric_gear_hunts_from_the_margin_on() {
    let swings = |amplitude_deg| {
        let mut rig = rig(0.25, 1.0);
        let (d, s) = (&mut rig.drive, &mut rig.solve);
        (d.step_deg, d.backlash_deg, d.repeatability_deg) = (0.0, 0.0, 0.0);
        (s.noise_deg, d.zero_point_sigma_deg) = (0.0, 0.0);
        d.periodic = vec![Periodic {
            cycles: 1.0,
            amplitude_deg,
            phase_deg: 90.0,
        }];
        rig.loop_.max_solves = 40;
        let rig = Rig::new(rig).expect("a rig");
        // A zero point that is off is a target that is: what the loop sees is their difference.
        let targets = (-40..=40).map(|i| f64::from(i) / 16.0);
        let runs = targets.map(|target_deg| {
            let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
            run(
                &scenario,
                &mut scenario.controller(),
                &mut stream(1, 0),
                &mut Unobserved,
            )
            .long_swings
        });
        runs.max().unwrap_or(0)
    };
    assert!(swings(0.97) <= 1, "{}", swings(0.97));
    assert!(swings(1.03) >= 38, "{}", swings(1.03));
}

/// Turns elsewhere in every run.
struct Fickle(Reference, f64);

impl Controller for Fickle {
    fn begin(&mut self, brief: &Brief) -> Action {
        self.1 += 1.0;
        self.0.begin(brief)
    }

    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
        let off_deg = if self.1 % 5.0 == 0.0 { 0.5 } else { 0.0 };
        self.0.solved(reading_deg, position_angle_deg + off_deg)
    }
}

/// Swings twice in a run, and never again.
struct Weary(Mutant, Mutant, f64, u32);

impl Controller for Weary {
    fn begin(&mut self, brief: &Brief) -> Action {
        (self.2, self.3) = (brief.reading_deg, 0);
        self.1.begin(brief);
        self.0.begin(brief)
    }

    fn moved(&mut self, reading_deg: f64) -> Action {
        self.3 += u32::from((reading_deg - self.2).abs() > 90.0);
        self.2 = reading_deg;
        self.1.moved(reading_deg);
        self.0.moved(reading_deg)
    }

    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
        let once = self.1.solved(reading_deg, position_angle_deg);
        let folded = self.0.solved(reading_deg, position_angle_deg);
        if self.3 < 4 { folded } else { once }
    }
}

/// Shows (judge): a controller that is no function of its brief, reading and last solve has no margin. Source: none: own
/// rule.
#[test]
fn a_controller_that_is_no_function_has_no_margin() {
    let fickle = found(&rig(0.25, 2.0), None, || Fickle(Reference::default(), 0.0));
    assert_eq!(fickle.map(|_| ()), Err(MarginError::Changes));
    let weary = || {
        let (first, later) = (Mutation::BandForgotten, Mutation::NeverFoldsAgain);
        Weary(Mutant::new(first), Mutant::new(later), 0.0, 0)
    };
    let error = found(&rig(0.25, 2.0), None, weary)
        .map(|_| ())
        .expect_err("it remembers");
    assert!(
        matches!(error, MarginError::Remembers { seen: 4, .. }),
        "{error}"
    );
    let never = found(&rig(0.25, 2.0), None, || {
        Mutant::new(Mutation::NotANumberAtTheStart)
    });
    assert!(never.is_ok() || matches!(never, Err(MarginError::Fault(_))));
}

/// Shows (judge): the cycle of a margin is a scenario, and hunts in the judge's own rig. Source: none: internal consistency.
///
/// The cycle is a scenario: played again from what is written of it, it hunts.
#[test]
fn the_cycle_is_a_scenario() {
    let [lower, _] = found(&rig(0.25, 2.0), None, Reference::default).expect("a margin");
    let (case, _) = lower.cycle.expect("a cycle");
    let text = halfturn_report::judge::cases_text(std::slice::from_ref(&case));
    let read = halfturn_report::judge::read_cases(&text, "margin.json").expect("scenarios");
    assert_eq!(read, [case]);
    let played = play(&read[0], &mut InProcess::new(Reference::default)).expect("playable");
    assert!(played.fails(Property::LongSwings));
}
