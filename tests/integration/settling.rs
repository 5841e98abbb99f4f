//! The two ways to answer the questions of a search for settings agree.

use halfturn::advise::FoundBy;
use halfturn::advise::settling::{Chance, MonteCarlo, Settling, Solved};
use halfturn::rig::{Rig, Rule, read};
use halfturn::sample::{Batch, Unattended};
use halfturn::scenario::Policy;

use crate::twelve::twelve;

const RUNS: u64 = 20_000;

fn runs() -> MonteCarlo<'static> {
    MonteCarlo {
        plan: Batch {
            trials: RUNS,
            seed: 4242,
        },
        monitor: &Unattended,
    }
}

/// The runs' own standard error, and how many of them may lie between. Some 170 answers are compared; the normal
/// tail beyond five is 6e-7, so a false alarm has a probability near 1e-4.
const DEVIATIONS: f64 = 5.0;

fn agree(name: &str, exact: Chance, found: Chance, trials: f64) -> Option<String> {
    let p = exact.value.clamp(0.0, 1.0);
    // A few runs of something very rare are no evidence either way.
    let error = (p * (1.0 - p) / trials).sqrt() + 1.0 / trials;
    let bound = (exact.high - exact.low).abs();
    ((exact.value - found.value).abs() > DEVIATIONS * error + bound)
        .then(|| format!("{name}: exact {exact:?}, runs {found:?}"))
}

#[test]
fn solving_and_running_answer_alike() {
    let (solved, run) = (Solved::new(1e-3, runs()), runs());
    let (mut problems, mut held, mut persistences) = (Vec::new(), 0, 0);
    for case in twelve() {
        let rig = &case.rig;
        for tolerance_deg in [0.08, 0.2, 0.35] {
            let rig = rig
                .with(|s| s.loop_.tolerance_deg = tolerance_deg)
                .unwrap_or_else(|e| panic!("{}: {e}", case.name));
            for rule in [Rule::HalfCircle, Rule::HysteresisBand] {
                let policy = Policy::with_rule(&rig, rule);
                let name = format!("{} {rule} {tolerance_deg}", case.name);
                // On the seam, where runs hunt.
                let settled = solved
                    .settled_within(&rig, policy, 0.0, 5)
                    .expect("runs on");
                let hunting = solved.hunting(&rig, policy, 0.0).expect("runs on");
                if solved.found_by() != FoundBy::Exact {
                    continue;
                }
                held += 1;
                let other = run.settled_within(&rig, policy, 0.0, 5).expect("runs on");
                problems.extend(agree(
                    &format!("{name} settled"),
                    settled,
                    other,
                    RUNS as f64,
                ));
                let other = run.hunting(&rig, policy, 0.0).expect("runs on");
                problems.extend(agree(
                    &format!("{name} ping-pong"),
                    hunting.ping_pong,
                    other.ping_pong,
                    RUNS as f64,
                ));
                if let (Some(exact), Some(found)) = (hunting.persistence, other.persistence) {
                    // The swings of one run go together: as if there were only as many as runs that ping-pong.
                    let runs = (RUNS as f64 * hunting.ping_pong.value).max(1.0);
                    persistences += 1;
                    problems.extend(agree(&format!("{name} persistence"), exact, found, runs));
                }
            }
        }
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
    assert!(held >= 30 && persistences >= 20, "{held} {persistences}");
}

/// A rotating field cannot be solved: the answers are those of the runs, to the bit, and say so.
#[test]
fn what_cannot_be_solved_is_run() {
    let rig: Rig = read("[loop]\nfield_rotation_deg_per_s = 0.001\n", "drift", &[]).expect("a rig");
    let policy = Policy::of(&rig);
    let (solved, run) = (Solved::new(1e-3, runs()), runs());
    for target_deg in [0.0, 90.0] {
        assert_eq!(
            solved
                .settled_within(&rig, policy, target_deg, 4)
                .expect("runs on"),
            run.settled_within(&rig, policy, target_deg, 4)
                .expect("runs on")
        );
    }
    assert_eq!(solved.found_by(), FoundBy::MonteCarlo);
}
