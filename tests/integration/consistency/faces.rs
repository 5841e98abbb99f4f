//! The faces of the advice, in process.

use halfturn_engine::advise::{
    Advice, AllowedChanges, Certificate, CertificateOrigin, advise, tolerance_limits,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::Unattended;
use halfturn_engine::verdict::Verdict;

use super::rigs::{Case, any};
use super::{Compared, wanted};
use crate::binary::sized;

/// Few: the faces have to agree on what these runs say, whatever it is.
const TRIALS: u64 = 1_000;

const SEED: u64 = 17;

/// Some whose loops are solved soon; of those some have a cure.
const QUICK: [u64; 12] = [1, 5, 6, 7, 8, 9, 10, 12, 13, 14, 15, 17];

/// Keys that an advice may change.
const KEYS: [&str; 6] = [
    "wrap.arc_start_deg",
    "loop.tolerance_deg",
    "wrap.band_deg",
    "wrap.rule",
    "loop.approach",
    "loop.overrun_deg",
];

/// Shows (verdict): every face gives one verdict: advice before and after, the advised rig asked again, its certificate
/// proved again. Source: common practice, no published source: random rigs, each target judged by itself.
#[test]
fn the_faces_of_an_advice_agree() {
    let rigs = wanted("HALFTURN_CONSISTENCY_RIGS", sized(&QUICK[..6], &QUICK));
    let mut compared = Compared::default();
    let mut holding = 0;
    for index in &rigs {
        let case = any(SEED, *index);
        holding += usize::from(compared.one(&case));
        println!("{}: {} differ", case.name, compared.differ.len());
    }
    let rigs = rigs.len();
    println!("{holding} advices hold");
    // Else the test would see one side only.
    assert!(
        holding * 10 >= rigs && holding * 10 <= 9 * rigs,
        "{holding}"
    );
    compared.told(rigs);
}

/// Two targets at one angle, of which one begins parked and one where the drive stands before a flip: only the way from there
/// leads through the keep-out.
/// Shows (verdict): after a flip a run begins where the loop of the unflipped target ended, with its zero point. With:
/// `sky_night_verdict::a_flipped_target_fares_as_in_a_night`. Source: the other program of the night.
#[test]
fn a_flipped_target_and_a_parked_one_at_its_angle_differ() {
    let case = Case::with_keep_out_below_park(&[0.0, 180.0]);
    let mut compared = Compared::default();
    compared.one(&case);
    let batch = case.request(TRIALS, AllowedChanges::default()).batch;
    let safe = |place: usize| case.judged(&case.rig, place, batch).verdict.is_safe();
    // The flip of the parked one leads back to 0.
    assert_eq!([0, 1, 2, 3].map(safe), [false, false, true, false]);
    compared.told(1);
}

impl Compared {
    /// All comparisons at one rig; whether its advice holds.
    fn one(&mut self, case: &Case) -> bool {
        let request = case.request(TRIALS, AllowedChanges::default());
        let ask = |rig: &Rig| {
            advise(rig, &case.targets, request, &Unattended)
                .unwrap_or_else(|e| panic!("{e}: {}", case.told()))
        };
        let advice = ask(&case.rig);
        let advised = &advice.advised_rig;
        for place in 0..case.targets.len() {
            let alone = |rig: &Rig| case.judged(rig, place, request.batch).verdict;
            let of =
                |setting: &halfturn_engine::advise::Setting| setting.targets[place].verdict.clone();
            self.verdicts("before", case, of(&advice.before), alone(&case.rig));
            self.verdicts("after", case, of(&advice.after), alone(advised));
        }

        let again = ask(advised);
        for (after, before) in advice.after.targets.iter().zip(&again.before.targets) {
            self.verdicts(
                "asked again",
                case,
                after.verdict.clone(),
                before.verdict.clone(),
            );
            let figures = (&after.summary, &before.summary);
            self.equal("asked again, figures", case, figures);
            let reasons = (&after.reason, &before.reason);
            self.equal("asked again, reason", case, reasons);
        }
        // Where nothing was found that holds, the search begins elsewhere when asked again, and may find more.
        if again.holds() && !advice.holds() {
            println!("{}: asked again, it finds what holds", case.name);
        }
        if advice.holds() {
            self.equal("asked again, holds", case, (true, again.holds()));
            self.equal("asked again, changes", case, (0, again.changes.len()));
        }

        let certificate = Certificate::of(
            &advice,
            &case.targets,
            &CertificateOrigin {
                version: "test",
                rig_file: "rig.toml",
                targets_files: &["targets.csv".to_owned()],
                flips: case.flips,
            },
        );
        let proved = certificate
            .prove(advised, &case.targets, request.batch.seed, &Unattended)
            .unwrap_or_else(|e| panic!("{e}: {}", case.told()));
        self.equal("certificate", case, (advice.holds(), certificate.holds));
        self.equal("proved again", case, (advice.holds(), proved.holds()));
        self.equal("meets all", case, (advice.holds(), meets_all(&advice)));

        let differences = case.rig.differences(advised);
        self.equal("changes", case, (&advice.changes, &differences));
        for change in &advice.changes {
            let known = KEYS.contains(&change.key.as_str());
            self.equal(
                "changed key",
                case,
                ((&change.key, true), (&change.key, known)),
            );
            if let Some(toml::Value::Float(value)) = change.to {
                let short = digits(value) <= 6;
                self.equal("digits", case, ((value, true), (value, short)));
            }
        }
        advice.holds()
    }

    /// Two verdicts on one target, with every share.
    fn verdicts(&mut self, what: &'static str, case: &Case, one: Verdict, other: Verdict) {
        self.equal(what, case, (one, other));
    }
}

/// Every target of the advised rig is safe, and its tolerance keeps the frame.
fn meets_all(advice: &Advice) -> bool {
    let settings = advice.advised_rig.settings();
    let frame = settings
        .framing
        .map(|f| tolerance_limits(&f, &advice.request.criteria).least_deg());
    let keeps = frame.is_none_or(|most_deg| settings.loop_.tolerance_deg <= most_deg);
    keeps && advice.after.targets.iter().all(|t| t.verdict.is_safe())
}

/// Significant digits of a number as the program writes it.
fn digits(value: f64) -> usize {
    let text = format!("{value:?}");
    let mantissa = text.split('e').next().unwrap_or_default();
    let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    // Zeros at the start say where the point is; those at the end only where there is no fraction but ".0".
    digits.trim_start_matches('0').trim_end_matches('0').len()
}

/// By hand.
#[test]
fn digits_are_counted() {
    let cases = [
        (276.5, 4),
        (-79.14999999999998, 16),
        (0.089, 2),
        (-30.0, 1),
        (1e-7, 1),
        (0.0, 0),
    ];
    for (value, expected) in cases {
        assert_eq!(digits(value), expected, "{value}");
    }
}
