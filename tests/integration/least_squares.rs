//! The least squares of `fit` against certified values.
//!
//! NIST Statistical Reference Datasets, linear regression (itl.nist.gov/div898/strd, 1999): certified coefficients,
//! standard errors and residual standard deviations. The site could not be reached when this was written: the data of Longley
//! are those of statsmodels 0.15.0 (`statsmodels.datasets.longley`), the others and the certified values are from memory.
//! A wrong digit of either would not agree to the digits asked for.

use halfturn_engine::fit::least_squares::solve;
use nalgebra::{DMatrix, DVector};

/// A problem with what is certified about it.
struct Certified {
    name: &'static str,
    columns: DMatrix<f64>,
    y: Vec<f64>,
    coefficients: Vec<f64>,
    errors: Vec<f64>,
    residual_sd: f64,
    /// Digits that must agree: the numbers of the worst problems cancel to a part in 1e10.
    digits: f64,
}

fn polynomial(x: &[f64], degree: usize) -> DMatrix<f64> {
    DMatrix::from_fn(x.len(), degree + 1, |i, j| x[i].powi(j as i32))
}

/// Norris (36 observations of a calibration of ozone monitors), x then y.
const NORRIS: [(f64, f64); 36] = [
    (0.2, 0.1),
    (337.4, 338.8),
    (118.2, 118.1),
    (884.6, 888.0),
    (10.1, 9.2),
    (226.5, 228.1),
    (666.3, 668.5),
    (996.3, 998.5),
    (448.6, 449.1),
    (777.0, 778.9),
    (558.2, 559.2),
    (0.4, 0.3),
    (0.6, 0.1),
    (775.5, 778.1),
    (666.9, 668.8),
    (338.0, 339.3),
    (447.5, 448.9),
    (11.6, 10.8),
    (556.0, 557.7),
    (228.1, 228.3),
    (995.8, 998.0),
    (887.6, 888.8),
    (120.2, 119.6),
    (0.3, 0.3),
    (0.3, 0.6),
    (556.8, 557.6),
    (339.1, 339.3),
    (887.2, 888.0),
    (999.0, 998.5),
    (779.0, 778.9),
    (11.1, 10.2),
    (118.3, 117.6),
    (229.2, 228.9),
    (669.1, 668.4),
    (448.9, 449.2),
    (0.5, 0.2),
];

/// Longley: employment, then price deflator, gross national product, unemployed, armed forces, population, year.
const LONGLEY: [[f64; 7]; 16] = [
    [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
    [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
    [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
    [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
    [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
    [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
    [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
    [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
    [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
    [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
    [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
    [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
    [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
    [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
    [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
    [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
];

/// What is added to the polynomial in Wampler 3, 4 (times 100) and 5 (times 10 000).
const WAMPLER_DELTA: [f64; 21] = [
    759.0, -2048.0, 2048.0, -2048.0, 2523.0, -2048.0, 2048.0, -2048.0, 1838.0, -2048.0, 2048.0,
    -2048.0, 1838.0, -2048.0, 2048.0, -2048.0, 2523.0, -2048.0, 2048.0, -2048.0, 759.0,
];

fn wampler(name: &'static str, base: f64, delta: f64, digits: f64) -> Certified {
    let x: Vec<f64> = (0..21).map(f64::from).collect();
    let coefficients: Vec<f64> = (0..6).map(|k| base.powi(k)).collect();
    let value = |x: f64| coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let y = x
        .iter()
        .zip(WAMPLER_DELTA)
        .map(|(x, d)| value(*x) + delta * d);
    // Certified for Wampler 3; those of 4 and 5 are multiples.
    let errors = [
        2_152.326_246_781_70,
        2_363.551_734_696_81,
        779.343_524_331_583,
        101.475_507_550_350,
        5.645_665_121_707_52,
        0.112_324_854_679_312,
    ];
    Certified {
        name,
        columns: polynomial(&x, 5),
        y: y.collect(),
        coefficients,
        errors: errors.map(|e| e * delta).to_vec(),
        residual_sd: 2_360.145_023_792_68 * delta,
        digits,
    }
}

fn problems() -> Vec<Certified> {
    let (x, y): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
    vec![
        Certified {
            name: "Norris",
            columns: polynomial(&x, 1),
            y,
            coefficients: vec![-0.262_323_073_774_029, 1.002_116_818_020_45],
            errors: vec![0.232_818_234_301_152, 0.429_796_848_199_937e-3],
            residual_sd: 0.884_796_396_144_373,
            digits: 11.0,
        },
        Certified {
            name: "Longley",
            columns: DMatrix::from_fn(16, 7, |i, j| if j == 0 { 1.0 } else { LONGLEY[i][j] }),
            y: LONGLEY.iter().map(|row| row[0]).collect(),
            coefficients: vec![
                -3_482_258.634_595_82,
                15.061_872_271_373_3,
                -0.358_191_792_925_910e-1,
                -2.020_229_803_816_83,
                -1.033_226_867_173_59,
                -0.511_041_056_535_807e-1,
                1_829.151_464_613_55,
            ],
            errors: vec![
                890_420.383_607_373,
                84.914_925_774_766_9,
                0.334_910_077_722_432e-1,
                0.488_399_681_651_699,
                0.214_274_163_161_675,
                0.226_073_200_069_370,
                455.478_499_142_212,
            ],
            residual_sd: 304.854_073_561_965,
            digits: 8.0,
        },
        wampler("Wampler1", 1.0, 0.0, 8.0),
        wampler("Wampler2", 0.1, 0.0, 8.0),
        wampler("Wampler3", 1.0, 1.0, 8.0),
        wampler("Wampler4", 1.0, 100.0, 8.0),
        wampler("Wampler5", 1.0, 10_000.0, 6.0),
    ]
}

/// Shows (fit): least squares. Source: NIST Statistical Reference Datasets 1999; data of Longley from statsmodels, the
/// rest from memory.
#[test]
fn certified_values_of_nist_are_met() {
    for p in problems() {
        let y = DVector::from_vec(p.y.clone());
        let found = solve(&p.columns, &y, &DVector::from_element(y.len(), 1.0));
        assert_eq!(found.rank, p.coefficients.len(), "{}", p.name);
        assert!(found.fixed.iter().all(|f| *f), "{}", p.name);
        let near = |what: String, found: f64, certified: f64| {
            let allowed = certified.abs().max(1e-3) * 10_f64.powf(-p.digits);
            let off = (found - certified).abs();
            assert!(
                off <= allowed,
                "{}: {what}: {found} against {certified}",
                p.name
            );
        };
        let variance = found.sum_of_squares / found.freedom() as f64;
        if p.residual_sd > 0.0 {
            near("residual sd".to_owned(), variance.sqrt(), p.residual_sd);
        } else {
            // Certified as 0; y is of order 3e6.
            assert!(variance.sqrt() < 1e-6, "{}: {}", p.name, variance.sqrt());
        }
        for (k, (coefficient, error)) in p.coefficients.iter().zip(&p.errors).enumerate() {
            near(
                format!("coefficient {k}"),
                found.coefficients[k],
                *coefficient,
            );
            if p.residual_sd > 0.0 {
                let se = (variance * found.unscaled_covariance[(k, k)]).sqrt();
                near(format!("standard error {k}"), se, *error);
            }
        }
    }
}
