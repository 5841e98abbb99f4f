//! The exact method: one point, and runs beside it.
//!
//! `cargo bench -p halfturn-checks --bench exact` prints the time of a solution on both grids, at the seam and clear of it, and of 100 000
//! runs on one thread, which know the hunting rate at the seam to within 0.0022 (95 %).
//! Shows (exact): how long a solution takes. Source: none: measured.

use criterion::{Criterion, criterion_group, criterion_main};
use halfturn_engine::exact::{Precision, solve};
use halfturn_engine::rig::{DEMO_RIG, Rig, read};
use halfturn_engine::sample::{Batch, Unattended, run_batch};
use halfturn_engine::scenario::{Policy, Scenario};

fn demo() -> Rig {
    read(DEMO_RIG, "demo", &[]).unwrap_or_else(|e| panic!("{e}"))
}

fn points(c: &mut Criterion) {
    let rig = demo();
    for (place, target_deg) in [("at the seam", 0.0), ("clear of it", 90.5)] {
        let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
        for (grid, precision) in [("full", Precision::FULL), ("map", Precision::MAP)] {
            c.bench_function(&format!("exact, {grid} grid, {place}"), |b| {
                b.iter(|| solve(&scenario, precision));
            });
        }
        let batch = Batch {
            trials: 100_000,
            seed: 1,
        };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
        let pool = pool.unwrap_or_else(|e| panic!("{e}"));
        c.bench_function(&format!("100 000 runs, {place}"), |b| {
            b.iter(|| pool.install(|| run_batch(&scenario, batch, &Unattended)));
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = points
}
criterion_main!(benches);
