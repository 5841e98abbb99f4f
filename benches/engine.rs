//! The engine against its floor: the normal deviates that a run cannot do without.
//!
//! `cargo bench -p halfturn-checks --bench engine`. All figures come from one process on one thread, one after another;
//! compare them as ratios.
//! Shows (speed): the floors of the engine, lanes, tally. Source: measured against rand_distr.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use halfturn_engine::rig::{DEMO_RIG, Rule, read};
use halfturn_engine::run::{Figures, Unobserved, run, run_block, stream};
use halfturn_engine::sample::{Batch, Unattended, run_batch};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::tally::Tally;
use rand::RngExt;
use rand_distr::StandardNormal;

/// Runs of one measured block.
const RUNS: u64 = 4096;

fn scenarios() -> Vec<(&'static str, Scenario)> {
    let rig = |set: &str| read(DEMO_RIG, "demo", &[set.to_owned()]).expect("the demo rig is valid");
    let scenario = |set: &str, rule, target_deg| {
        let rig = rig(set);
        Scenario::new(&rig, Policy::with_rule(&rig, rule), target_deg)
    };
    vec![
        (
            "seam",
            scenario("solve.failure_rate=0", Rule::HalfCircle, 0.0),
        ),
        (
            "seam, failures",
            scenario("solve.failure_rate=0.02", Rule::HalfCircle, 0.0),
        ),
        (
            "far from the seam",
            scenario("solve.failure_rate=0", Rule::HalfCircle, 64.0),
        ),
        (
            "fold once",
            scenario("solve.failure_rate=0", Rule::FoldOnce, 0.0),
        ),
    ]
}

fn block(scenario: &Scenario) -> Vec<Figures> {
    let mut figures = vec![Figures::start(); RUNS as usize];
    run_block(scenario, 1, 0, &mut figures);
    figures
}

fn solves(figures: &[Figures]) -> u64 {
    figures.iter().map(|f| u64::from(f.solves)).sum()
}

/// The floor: two normal deviates for each solve, by the library.
fn floor(c: &mut Criterion) {
    let mut group = c.benchmark_group("floor");
    group.throughput(Throughput::Elements(1));
    group.bench_function("two normals", |b| {
        let mut rng = stream(1, 0);
        b.iter(|| rng.sample::<f64, _>(StandardNormal) + rng.sample::<f64, _>(StandardNormal));
    });
    group.finish();
}

/// Per solve: runs in lanes without a tally; one run at a time; the tally alone; a batch.
fn engine(c: &mut Criterion) {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("one thread");
    for (name, scenario) in scenarios() {
        let mut figures = block(&scenario);
        let mut group = c.benchmark_group(name);
        group.throughput(Throughput::Elements(solves(&figures)));
        group.bench_function(BenchmarkId::from_parameter("lanes"), |b| {
            b.iter(|| run_block(black_box(&scenario), 1, 0, &mut figures));
        });
        group.bench_function(BenchmarkId::from_parameter("one by one"), |b| {
            let mut controller = scenario.controller();
            b.iter(|| {
                for index in 0..RUNS {
                    let rng = &mut stream(1, index);
                    black_box(run(&scenario, &mut controller, rng, &mut Unobserved));
                }
            });
        });
        group.bench_function(BenchmarkId::from_parameter("tally"), |b| {
            let mut tally = Tally::default();
            b.iter(|| {
                for (index, figures) in (0..).zip(&figures) {
                    tally.push(index, black_box(figures));
                }
            });
        });
        group.throughput(Throughput::Elements(16 * solves(&figures)));
        group.bench_function(BenchmarkId::from_parameter("batch"), |b| {
            let batch = Batch {
                trials: 16 * RUNS,
                seed: 1,
            };
            b.iter(|| pool.install(|| run_batch(black_box(&scenario), batch, &Unattended)));
        });
        group.finish();
    }
}

criterion_group!(benches, floor, engine);
criterion_main!(benches);
