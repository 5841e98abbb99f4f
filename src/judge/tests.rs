//! The yardstick passes everything, whatever the seed.

use super::*;
use crate::controller::Controller;
use crate::rig::Rule;
use crate::sample::Unattended;

fn session<C: Controller>(seed: u64, count: usize, make: impl FnMut() -> C) -> Session {
    let cases = cases(&Base::Graded, &Family::ALL, seed, count);
    assert_eq!(cases.len(), count);
    run_session(&cases, 0, &mut InProcess::new(make), &Unattended).expect("playable")
}

fn complaints(session: &Session) -> String {
    let failed = session.judged.iter().filter(|j| !j.failures.is_empty());
    failed
        .take(5)
        .map(|j| format!("{:?}\n{:#?}\n", j.failures, j.case))
        .collect()
}

#[test]
fn correct_controllers_pass_everything() {
    for seed in 1..=5 {
        for rule in [Rule::HysteresisBand, Rule::FoldOnce] {
            let s = session(seed, 6000, || Reference::new(rule));
            println!("{rule} {seed}: {:?}", s.by_family());
            assert!(s.passed(), "{rule}, seed {seed}:\n{}", complaints(&s));
        }
    }
}

#[test]
fn folding_every_correction_hunts() {
    let s = session(1, 3000, || Reference::new(Rule::HalfCircle));
    println!("{:?}", s.by_property());
    println!("{:?}", s.by_family());
    let hunting = s
        .by_property()
        .get(&Property::LongSwings)
        .map_or(0, |n| n.0);
    assert!(hunting > 20);
}
