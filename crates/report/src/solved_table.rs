//! The rules side by side where figures are found without sampling, each with its bound.

use super::table::{FIGURES, Figure, NEVER, add_verdicts, lines, table};
use halfturn_engine::sample::Batch;
use halfturn_engine::summary::{Distribution, ExactDetails, PolicySummary, Rate};
use halfturn_engine::verdict::{Limits, Verdict};
use halfturn_engine::wording::grouped;

/// The rules side by side: one column for each. `plan` is what was run where a rule could not be solved.
#[must_use]
pub fn solved_table(policies: &[PolicySummary], plan: Batch) -> String {
    let mut header = vec![""];
    let names: Vec<String> = policies.iter().map(|p| p.rule.to_string()).collect();
    header.extend(names.iter().map(String::as_str));
    let mut table = table(&header);
    let verdicts: Vec<Verdict> = policies
        .iter()
        .map(|p| Verdict::of(p, &Limits::default()))
        .collect();
    add_verdicts(&mut table, verdicts.iter());
    let mut add = |name: &str, value: &dyn Fn(&PolicySummary) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(policies.iter().map(value)));
    };
    add("symmetry", &|p| p.symmetry.to_string());
    add("method", &|p| p.method.to_owned());
    for (name, of) in FIGURES {
        match of {
            Figure::Rate(of) => add(name, &|p| rate(of(p))),
            Figure::Mean(of, _) => add(name, &|p| mean(of(p))),
            Figure::Quantile(of, _) => add(name, &|p| match of(p) {
                [None, ..] => NEVER.to_owned(),
                [value, low, high] => figure(value, low, high),
            }),
            Figure::OfRuns(..) => {}
        }
    }
    let long_run = |p: &PolicySummary, value: &dyn Fn(&halfturn_engine::exact::LongRun) -> f64| {
        let found = p.exact.as_ref().and_then(|e: &ExactDetails| e.long_run);
        found.map_or_else(
            || "-".to_owned(),
            |l| number(value(&l), 1e-6 * value(&l).abs()),
        )
    };
    add("without a limit of solves:", &|_| String::new());
    add("  never ends", &|p| long_run(p, &|l| l.never_ends));
    add("  solves, mean", &|p| long_run(p, &|l| l.mean_solves));
    add("  persistence", &|p| long_run(p, &|l| l.persistence));
    let mut out = lines(table, &[0]);
    out.push_str("\n±: a grid twice as fine moves the figure by less (exact)\n");
    if policies.iter().any(|p| p.exact.is_none()) {
        out.push_str(&format!(
            "monte-carlo: half the width of the 95 % interval, {} runs, seed {}\n",
            grouped(plan.trials),
            plan.seed
        ));
    }
    out.push_str(
        "persistence: the chance that a hunting loop goes on one more solve, at the zero point where it is greatest\n",
    );
    out
}

/// A rate and its bound.
pub(super) fn rate(r: Rate) -> String {
    figure(Some(r.rate), Some(r.low), Some(r.high))
}

fn mean(d: &Distribution) -> String {
    figure(d.mean, d.mean_low, d.mean_high)
}

/// A figure and how far off it may be.
fn figure(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> String {
    let Some(value) = value else {
        return "-".to_owned();
    };
    let (Some(low), Some(high)) = (low, high) else {
        return number(value, 1e-6 * value.abs());
    };
    let bound = (high - value).max(value - low);
    if bound == 0.0 {
        return number(value, 1e-6 * value.abs());
    }
    format!("{} ±{bound:.0e}", number(value, bound))
}

/// A number in about as many digits as its error leaves, six at most.
fn number(x: f64, error: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return x.to_string();
    }
    if x.abs() < error {
        return "0".to_owned();
    }
    let leading = libm::log10(x.abs()).floor();
    let digits = (leading - libm::log10(error.max(1e-300)).floor()).clamp(0.0, 5.0);
    if !(-4.0..6.0).contains(&leading) {
        return format!("{x:.*e}", digits as usize);
    }
    format!("{x:.*}", (digits - leading).max(0.0) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_end_where_the_error_begins() {
        assert_eq!(number(0.151_410_975, 2e-13), "0.151411");
        assert_eq!(number(113.968_6, 0.2), "114.0");
        assert_eq!(number(3.214_56e-9, 1e-13), "3.2146e-9");
        assert_eq!(number(1e-14, 1e-13), "0");
        assert_eq!(number(0.0, 0.0), "0");
        assert_eq!(number(f64::INFINITY, 0.0), "inf");
        assert_eq!(number(165_699.9, 1.0), "165700");
        assert_eq!(figure(Some(20.0), Some(20.0), Some(20.0)), "20.0000");
        assert_eq!(figure(None, None, None), "-");
    }
}
