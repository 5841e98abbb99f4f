//! Distributions behind the intervals: the incomplete beta and gamma functions, and their quantiles.
//!
//! It uses only the crate `libm` and the four operations, and an interval has the same last bit on every machine.

use std::f64::consts::SQRT_2;

/// Halvings in the search for a quantile, down to the last bits of a number.
const HALVINGS: u32 = 100;
/// Terms after which a series or fraction ends in any case. It needs some multiple of the root of its parameter.
const TERMS: u32 = 1_000_000;
/// Replaces a 0 by which a fraction would divide.
const TINY: f64 = 1e-300;

/// Absolute value, in sigma, that a normal deviate exceeds with this probability.
pub(crate) fn normal_two_sided(probability: f64) -> f64 {
    falling(0.0, 40.0, probability, |z| libm::erfc(z / SQRT_2))
}

/// Absolute value that a Student variable exceeds with this probability.
pub(crate) fn student_two_sided(probability: f64, freedom: f64) -> f64 {
    // t^2 / (freedom + t^2) is a beta variable.
    let share = beta_quantile(0.5, 0.5 * freedom, 1.0 - probability);
    (freedom * share / (1.0 - share)).sqrt()
}

/// Probability that an F variable with 1 and `freedom` degrees of freedom is larger than `f`.
pub(crate) fn f_beyond(f: f64, freedom: f64) -> f64 {
    beta_below(0.5 * freedom, 0.5, freedom / (freedom + f))
}

pub(crate) fn chi_square_quantile(freedom: f64, probability: f64) -> f64 {
    let below = |x: f64| gamma_below(0.5 * freedom, 0.5 * x);
    let mut high = freedom.max(1.0);
    while below(high) < probability && high < 1e300 {
        high *= 2.0;
    }
    falling(0.0, high, -probability, |x| -below(x))
}

pub(crate) fn beta_quantile(a: f64, b: f64, probability: f64) -> f64 {
    falling(0.0, 1.0, -probability, |x| -beta_below(a, b, x))
}

/// Smallest count that a binomial variable of `n` trials stays at or below with at least this probability.
pub(crate) fn binomial_quantile(rate: f64, n: u64, probability: f64) -> u64 {
    let below = |k: u64| beta_below((n - k) as f64, k as f64 + 1.0, 1.0 - rate);
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = low + (high - low) / 2;
        if below(middle) >= probability {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    low
}

/// Where a function, falling from `low` to `high`, reaches `level`.
fn falling(mut low: f64, mut high: f64, level: f64, of: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if of(middle) > level {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Distribution function of the beta distribution: the regularised incomplete beta function.
///
/// The continued fraction 26.5.8 of Abramowitz & Stegun (1964), evaluated from its front as in Lentz (1976, Appl.
/// Opt. 15, 668).
fn beta_below(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        // The fraction converges fast only on the other side.
        1.0 - beta_part(b, a, 1.0 - x)
    } else {
        beta_part(a, b, x)
    }
}

/// The incomplete beta function for `x` up to about the mean.
fn beta_part(a: f64, b: f64, x: f64) -> f64 {
    let log = a * libm::log(x) + b * libm::log1p(-x) + libm::lgamma(a + b)
        - libm::lgamma(a)
        - libm::lgamma(b);
    let term = |n: u32| {
        let m = f64::from(n / 2);
        if n.is_multiple_of(2) {
            m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m))
        } else {
            -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0))
        }
    };
    (libm::exp(log) / (a * fraction(1.0, |n| (term(n), 1.0)))).clamp(0.0, 1.0)
}

/// Distribution function of the gamma distribution: the regularised incomplete gamma function.
///
/// The series 6.5.29 of Abramowitz & Stegun (1964) below the mean, the fraction 6.5.31, contracted, above it.
pub(crate) fn gamma_below(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = libm::exp(a * libm::log(x) - x - libm::lgamma(a));
    if x < a + 1.0 {
        let mut term = 1.0 / a;
        let mut sum = term;
        for n in 1..TERMS {
            term *= x / (a + f64::from(n));
            sum += term;
            if term < sum * 0.25 * f64::EPSILON {
                break;
            }
        }
        (front * sum).clamp(0.0, 1.0)
    } else {
        let rest = fraction(x + 1.0 - a, |n| {
            let n = f64::from(n);
            (n * (a - n), x + 1.0 - a + 2.0 * n)
        });
        (1.0 - front / rest).clamp(0.0, 1.0)
    }
}

/// `b0 + a1 / (b1 + a2 / (b2 + ...))`; `next` gives `a` and `b`, counted from 1.
fn fraction(b0: f64, next: impl Fn(u32) -> (f64, f64)) -> f64 {
    let off_zero = |x: f64| if x.abs() < TINY { TINY } else { x };
    let mut value = off_zero(b0);
    let (mut c, mut d) = (value, 0.0);
    for n in 1..TERMS {
        let (a, b) = next(n);
        d = 1.0 / off_zero(b + a * d);
        c = off_zero(b + a / c);
        value *= c * d;
        if (c * d - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{
        Beta, Binomial, ChiSquared, ContinuousCDF, DiscreteCDF, FisherSnedecor, Gamma, StudentsT,
    };

    fn near(found: f64, expected: f64, relative: f64, what: &str) {
        assert!(
            (found - expected).abs() <= relative * expected.abs(),
            "{what}: {found:e} instead of {expected:e}"
        );
    }

    /// Shows (trust): quantiles behind the intervals. With: `they_agree_with_statrs`,
    /// `binomial_quantiles_are_those_of_the_sum`. Source: Abramowitz & Stegun 1964, tables 26.8 (chi-square), 26.10
    /// (Student) and 26.1 (normal), from memory; the crate `statrs`.
    #[test]
    fn quantiles_of_the_handbook() {
        near(normal_two_sided(0.05), 1.959_963_985, 1e-9, "normal");
        near(student_two_sided(0.05, 10.0), 2.228_139, 1e-6, "t 10");
        near(student_two_sided(0.05, 1.0), 12.706_205, 1e-7, "t 1");
        near(chi_square_quantile(10.0, 0.975), 20.4832, 1e-5, "chi2 10");
        near(chi_square_quantile(1.0, 0.95), 3.841_459, 1e-6, "chi2 1");
        // A chi-square of two degrees of freedom is exponential, and a beta with one parameter 1 is a power.
        near(
            chi_square_quantile(2.0, 0.95),
            -2.0 * 0.05_f64.ln(),
            1e-14,
            "chi2 2",
        );
        near(
            beta_quantile(1e9, 1.0, 0.025),
            0.025_f64.powf(1e-9),
            1e-14,
            "beta",
        );
    }

    /// The crate statrs uses other approximations of the gamma function.
    #[test]
    fn they_agree_with_statrs() {
        for a in [0.5, 1.0, 2.5, 17.0, 300.0] {
            for share in [0.01, 0.3, 0.9, 1.0, 1.2, 3.0] {
                let x = a * share;
                let expected = Gamma::new(a, 1.0).map_or(f64::NAN, |g| g.cdf(x));
                near(
                    gamma_below(a, x),
                    expected,
                    1e-11,
                    &format!("gamma {a} {x}"),
                );
            }
            for b in [0.5, 1.0, 4.0, 90.0] {
                for x in [0.001, 0.2, 0.5, 0.77, 0.999] {
                    let expected = Beta::new(a, b).map_or(f64::NAN, |d| d.cdf(x));
                    let found = beta_below(a, b, x);
                    assert!(
                        (found - expected).abs() < 1e-11,
                        "beta {a} {b} {x}: {found} {expected}"
                    );
                }
            }
            // The quantiles of statrs are coarse, and the check goes back to the probability.
            let found = chi_square_quantile(a, 0.025);
            let back = ChiSquared::new(a).map_or(f64::NAN, |c| c.cdf(found));
            near(back, 0.025, 1e-11, &format!("chi2 {a}"));
            let found = student_two_sided(0.05, a);
            let back = StudentsT::new(0.0, 1.0, a).map_or(f64::NAN, |t| t.cdf(found));
            near(back, 0.975, 1e-11, &format!("t {a}"));
            let found = f_beyond(a, 7.0);
            let expected = FisherSnedecor::new(1.0, 7.0).map_or(f64::NAN, |f| f.sf(a));
            near(found, expected, 1e-11, &format!("F {a}"));
        }
    }

    /// Every rank, against a plain sum of the probabilities.
    #[test]
    fn binomial_quantiles_are_those_of_the_sum() {
        for (rate, n) in [(0.5, 20), (0.99, 120), (0.9, 137), (0.013, 400)] {
            for probability in [0.025, 0.975] {
                let found = binomial_quantile(rate, n, probability);
                let below = Binomial::new(rate, n).map_or(0, |b| b.inverse_cdf(probability));
                assert_eq!(found, below, "{rate} {n} {probability}");
                let (mut term, mut sum, mut k) = ((1.0 - rate).powi(n as i32), 0.0, 0);
                while sum + term < probability {
                    sum += term;
                    term *= (n - k) as f64 / (k + 1) as f64 * rate / (1.0 - rate);
                    k += 1;
                }
                assert_eq!(found, k, "{rate} {n} {probability}");
            }
        }
    }
}
