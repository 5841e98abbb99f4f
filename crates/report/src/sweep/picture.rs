//! The picture of a sweep: lines over one axis, or a map for every rule over two.

use super::gathered::{Entry, Gathered};
use super::head::Head;
use crate::ReportError;
use crate::plot::{
    AxisName, HeatAxis, HeatMap, Picture, RateLine, RatePoint, heat_maps, rates_over,
};
use halfturn_engine::wording::{angle, grouped};

/// Draws a sweep with all its rows.
///
/// # Errors
/// [`ReportError::Picture`] if it cannot be drawn.
pub fn sweep_picture(head: &Head, gathered: &Gathered) -> Result<Picture, ReportError> {
    let axes: Vec<AxisName> = head.asked_all("vary").map(axis_name).collect();
    let remark = remark(head);
    let exact = head.asked("method").is_some();
    let rules = gathered.rules().iter().enumerate();
    let of = |rule: usize| gathered.entries().iter().filter(move |e| e.rule == rule);
    match axes.as_slice() {
        [across, up] => {
            let axis = |name: &AxisName, place: usize| HeatAxis {
                name: name.clone(),
                values: distinct(of(0).map(|e| e.values[place])),
            };
            let maps: Vec<HeatMap> = rules
                .map(|(rule, label)| HeatMap {
                    label: label.clone(),
                    rates: of(rule).map(|e| shown(e, exact)).collect(),
                })
                .collect();
            Ok(heat_maps(&axis(across, 0), &axis(up, 1), &maps, &remark))
        }
        [only, ..] => {
            let lines: Vec<RateLine> = rules
                .map(|(rule, label)| RateLine {
                    label: label.clone(),
                    points: ascending(of(rule).map(point).collect()),
                })
                .collect();
            Ok(rates_over(only, &lines, &remark))
        }
        [] => Err(ReportError::Picture("nothing is varied".to_owned())),
    }
}

/// The rate of a cell on a map. An exact rate counts as 0 if its error bound includes 0.
fn shown(entry: &Entry, exact: bool) -> f64 {
    if exact && entry.hunting.low == 0.0 {
        0.0
    } else {
        entry.hunting.rate
    }
}

fn point(entry: &Entry) -> RatePoint {
    RatePoint {
        at: entry.values[0],
        rate: entry.hunting.rate,
        low: entry.hunting.low,
        high: entry.hunting.high,
    }
}

fn ascending(mut points: Vec<RatePoint>) -> Vec<RatePoint> {
    points.sort_by(|a, b| a.at.total_cmp(&b.at));
    points
}

/// Every value once, in the order of the axis.
fn distinct(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::new();
    let mut seen = std::collections::HashSet::new();
    for value in values {
        if seen.insert(value.to_bits()) {
            out.push(value);
        }
    }
    out
}

fn remark(head: &Head) -> String {
    let trials = head.asked("trials").and_then(|t| t.parse().ok());
    let runs = match head.asked("method").map(|m| m.starts_with("auto")) {
        None => format!("{} runs each", grouped(trials.unwrap_or(0))),
        Some(false) => "exact, no runs".to_owned(),
        Some(true) => format!("exact, or {} runs each", grouped(trials.unwrap_or(0))),
    };
    let target = head.asked("target_deg").and_then(|t| t.parse().ok());
    match target {
        Some(target_deg) => format!("target {}, {runs}", angle(target_deg)),
        None => runs,
    }
}

/// The axis of `key=from:to:count`.
fn axis_name(vary: &str) -> AxisName {
    let name = vary.split_once('=').map_or(vary, |(name, _)| name);
    let (unit, whole) = halfturn_engine::sweep::unit_of(name);
    AxisName {
        name: name.to_owned(),
        unit: unit.to_owned(),
        whole,
    }
}
