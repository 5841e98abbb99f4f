//! What `fit` is good for afterwards: plans of logs, and rigs drawn from what a log leaves open.

use halfturn_engine::fit::{Estimate, Goal, Wanted, naive_sweep, nearest_turn, plan, rehearse};
use halfturn_engine::rig::{Rig, RigSettings};
use halfturn_engine::sample::stream;

use crate::fit::{fitted, rig, simulated};

/// Over 60 rehearsals the mean square error of each parameter is within 1.7 times what the half width allows
/// (chi-square with 60 degrees of freedom: 1e-4).
/// Shows (fit): the plan keeps its accuracy, in less time than a plain sweep, below half an hour. Source: chi-square,
/// over 60 rehearsals.
#[test]
fn plans_keep_their_promise_and_are_shorter() {
    let rig = rig(&["solve.outlier_rate=0"]);
    let s = rig.settings();
    let wanted = Wanted {
        accuracy_deg: 0.025,
        from_deg: Some(0.0),
        to_deg: Some(360.0),
        goal: Goal::Errors,
    };
    let found = plan(&rig, wanted).expect("it can be had");
    let naive = naive_sweep(&rig, wanted).expect("it can be had");
    assert!(found.accuracy_deg <= 0.025 && naive.accuracy_deg <= 0.025);
    assert!(
        found.time_s < 0.8 * naive.time_s,
        "{} against {}",
        found.time_s,
        naive.time_s
    );
    assert!(found.time_s < 1800.0);
    let mut squares = [0.0; 3];
    let rehearsals = 60;
    for index in 0..rehearsals {
        let log = rehearse(&rig, &found.steps, &mut stream(9, index));
        let fit = fitted(&log);
        assert!(
            fit.diagnoses.is_empty(),
            "rehearsal {index}: {:?}",
            fit.diagnoses
        );
        let p = &fit.parameters;
        let zero = nearest_turn(s.drive.zero_point_deg, p.zero_point_deg.value);
        squares[0] += (p.zero_point_deg.value - zero).powi(2);
        squares[1] += (180.0 * (p.gain_error.value - s.drive.gain_error)).powi(2);
        squares[2] += (p.backlash_deg.value - s.drive.backlash_deg).powi(2);
    }
    let allowed = 1.7 * (0.025_f64 / 1.96).powi(2) * rehearsals as f64;
    assert!(
        squares.iter().all(|sum| *sum < allowed),
        "{squares:?} against {allowed}"
    );
}

/// 400 draws, five deviations.
/// Shows (fit): rigs that fit as well scatter about the estimate as its standard errors say. Source: by hand, from the
/// standard errors.
#[test]
fn drawn_rigs_scatter_as_the_errors_say() {
    let believed = RigSettings::default();
    let found = fitted(&simulated(&rig(&[]), 120, 5));
    let mut rng = stream(11, 0);
    let draws: Vec<RigSettings> = (0..400).map(|_| found.draw(&believed, &mut rng)).collect();
    assert!(draws.iter().all(|d| Rig::new(d.clone()).is_ok()));
    let p = &found.parameters;
    type Pick = fn(&RigSettings) -> f64;
    let figures: [(Estimate, Pick); 4] = [
        (p.backlash_deg, |r| r.drive.backlash_deg),
        (p.gain_error, |r| r.drive.gain_error),
        (p.noise_deg, |r| r.solve.noise_deg),
        (p.repeatability_deg, |r| r.drive.repeatability_deg),
    ];
    for (estimate, pick) in figures {
        let se = estimate.se.expect("it is known");
        let z: Vec<f64> = draws
            .iter()
            .map(|d| (pick(d) - estimate.value) / se)
            .collect();
        let mean = z.iter().sum::<f64>() / 400.0;
        let variance = z.iter().map(|z| z * z).sum::<f64>() / 400.0;
        assert!(
            mean.abs() < 5.0 / 20.0 && (variance - 1.0).abs() < 5.0 * (2.0 / 400.0_f64).sqrt(),
            "{estimate:?}: {mean} {variance}"
        );
    }
}
