//! A covering table of strength two over the crate's own table of keys.

use halfturn_engine::rig::{Bound, KEYS, Key, ValueKind};
use halfturn_engine::sample::stream;
use rand::RngExt as _;

/// The smallest number above 0, of which nothing can be divided.
pub(super) const SUBNORMAL: f64 = 5e-324;

/// Where a run is parked, with the travel that goes with it: these keys only fit together in some ways.
const PLACES: [&str; 7] = [
    "drive.park_deg=90",
    "drive.park_deg=-360000",
    "drive.park_deg=360000",
    "drive.park_deg=5e-324",
    "drive.travel=stops drive.stop_from_deg=-360000 drive.stop_to_deg=360000 drive.park_deg=-360000",
    "drive.travel=stops drive.stop_from_deg=-360000 drive.stop_to_deg=360000 drive.park_deg=90",
    "drive.travel=stops drive.stop_from_deg=89.999999 drive.stop_to_deg=90.000001 drive.park_deg=90",
];

/// Keep-outs that are one on either travel.
const KEEP_OUTS: [&str; 4] = [
    "keep_out.0.from_deg=200 keep_out.0.to_deg=250",
    "keep_out.0.from_deg=-360000 keep_out.0.to_deg=-359999.5",
    "keep_out.0.from_deg=-360000 keep_out.0.to_deg=360000",
    "keep_out.0.from_deg=0 keep_out.0.to_deg=0.000001",
];

/// One key, or some that go together, with the overrides of every level.
pub(super) type Factor = Vec<Vec<String>>;

fn words(line: &str) -> Vec<String> {
    line.split(' ').map(str::to_owned).collect()
}

fn ends(key: &Key) -> Vec<f64> {
    let mut all = match key.kind {
        ValueKind::Number {
            low: Bound::From(low),
            high,
            ..
        } => {
            let inside = [0.0, SUBNORMAL, -SUBNORMAL];
            let inside = inside.into_iter().filter(|x| *x > low && *x < high);
            [low, high].into_iter().chain(inside).collect()
        }
        ValueKind::Number {
            low: Bound::ZeroOr(low),
            high,
            ..
        } => vec![0.0, low, high],
        ValueKind::Count { low, high, .. } => vec![f64::from(low), f64::from(high)],
        ValueKind::Sign(_) => vec![1.0, -1.0],
        ValueKind::Symmetry => vec![1.0, 2.0, 4.0],
        _ => Vec::new(),
    };
    all.dedup();
    all
}

pub(super) fn factors() -> Vec<Factor> {
    let mut found: Vec<Factor> = vec![PLACES.map(words).into(), KEEP_OUTS.map(words).into()];
    let together = ["drive.park_deg", "drive.travel", "drive.stop_", "keep_out."];
    for key in KEYS {
        if key.path == "format" || together.iter().any(|t| key.path.starts_with(t)) {
            continue;
        }
        let path = key.path.replace('*', "0");
        let mut levels = vec![Vec::new()]; // as the rig has it
        match key.kind {
            ValueKind::Choice { names, .. } => {
                levels = names.iter().map(|n| vec![format!("{path}={n}")]).collect();
            }
            ValueKind::Text(_) => continue,
            _ => levels.extend(ends(key).iter().map(|end| vec![format!("{path}={end:e}")])),
        }
        // A whole number has no exponent.
        if matches!(
            key.kind,
            ValueKind::Count { .. } | ValueKind::Sign(_) | ValueKind::Symmetry
        ) {
            levels = vec![Vec::new()];
            levels.extend(ends(key).iter().map(|end| vec![format!("{path}={end}")]));
        }
        found.push(levels);
    }
    found
}

/// Rows of levels in which every two levels of every two factors meet: greedily, each row the best of some.
pub(super) fn pairs(factors: &[Factor]) -> Vec<Vec<usize>> {
    let count = factors.len();
    let place = |f: usize, l: usize| factors[..f].iter().map(Vec::len).sum::<usize>() + l;
    let offsets: Vec<usize> = (0..count).map(|f| place(f, 0)).collect();
    let all: usize = factors.iter().map(Vec::len).sum();
    let mut open = vec![vec![false; all]; all];
    let mut left = 0_usize;
    for f in 0..count {
        for g in f + 1..count {
            for l in 0..factors[f].len() {
                for m in 0..factors[g].len() {
                    open[offsets[f] + l][offsets[g] + m] = true;
                    open[offsets[g] + m][offsets[f] + l] = true;
                    left += 1;
                }
            }
        }
    }
    let mut rng = stream(1997, 437);
    let mut rows = Vec::new();
    while left > 0 {
        let mut best: (usize, Vec<usize>) = (0, Vec::new());
        for _ in 0..8 {
            // One pair that is open, then the factors in an order by chance, each at the level with most open pairs.
            let mut row: Vec<Option<usize>> = vec![None; count];
            let mut order: Vec<usize> = (0..count).collect();
            for i in (1..count).rev() {
                order.swap(i, rng.random_range(0..=i));
            }
            let open_of = |p: usize| open[p].iter().filter(|o| **o).count();
            let seed = *order
                .iter()
                .max_by_key(|f| {
                    (0..factors[**f].len())
                        .map(|l| open_of(offsets[**f] + l))
                        .max()
                })
                .unwrap_or(&0);
            order.retain(|f| *f != seed);
            order.insert(0, seed);
            let mut gained = 0;
            for f in order {
                let gain = |l: usize| {
                    let met = row.iter().enumerate().filter_map(|(g, m)| Some((g, (*m)?)));
                    met.filter(|(g, m)| open[offsets[f] + l][offsets[*g] + m])
                        .count()
                };
                let chosen = (0..factors[f].len())
                    .map(|l| (gain(l), open_of(offsets[f] + l), l))
                    .max()
                    .unwrap_or((0, 0, 0));
                gained += chosen.0;
                row[f] = Some(chosen.2);
            }
            if gained > best.0 || best.1.is_empty() {
                best = (gained, row.into_iter().flatten().collect());
            }
        }
        let row = best.1;
        for f in 0..count {
            for g in f + 1..count {
                let (a, b) = (offsets[f] + row[f], offsets[g] + row[g]);
                left -= usize::from(open[a][b]);
                open[a][b] = false;
                open[b][a] = false;
            }
        }
        rows.push(row);
    }
    rows
}

pub(super) fn overrides(factors: &[Factor], row: &[usize]) -> Vec<String> {
    factors
        .iter()
        .zip(row)
        .flat_map(|(f, l)| f[*l].clone())
        .collect()
}
