//! Values of options: text -> value, or what is allowed.

use std::fmt::Display;
use std::str::FromStr;

use halfturn_engine::angle::MOST_ANGLE_DEG;

/// Largest number of runs: a thousand billion.
pub(super) const MOST_TRIALS: u64 = 1_000_000_000_000;

/// A value by its name, out of these.
pub(in crate::command) fn one_of<T>(
    all: &'static [T],
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static
where
    T: FromStr + Display + Sync,
{
    move |text| {
        text.parse().map_err(|_| {
            let names: Vec<String> = all.iter().map(T::to_string).collect();
            format!("must be one of {}", names.join(", "))
        })
    }
}

/// A whole number between two bounds.
pub(in crate::command) fn whole<T>(
    low: T,
    high: T,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static
where
    T: FromStr + PartialOrd + Display + Copy + Send + Sync + 'static,
{
    move |text| {
        text.parse()
            .ok()
            .filter(|n| (low..=high).contains(n))
            .ok_or_else(|| format!("must be a whole number from {low} to {high}"))
    }
}

pub(super) fn angle(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| a.abs() <= MOST_ANGLE_DEG)
        .ok_or_else(|| {
            format!("must be a number of degrees from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG}")
        })
}

/// The position angle of a target, where a name is a likely mistake.
pub(super) fn target_angle(text: &str) -> Result<f64, String> {
    match target(text)? {
        TargetArg::Angle(angle_deg) => Ok(angle_deg),
        TargetArg::Name(_) => Err("must be a position angle in degrees, such as 132.5".to_owned()),
    }
}

/// A target as `--target` gives it.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::command) enum TargetArg {
    /// Its position angle \[deg\].
    Angle(f64),
    /// Its name in a list.
    Name(String),
}

/// A position angle, or a name.
pub(super) fn target(text: &str) -> Result<TargetArg, String> {
    match text.parse::<f64>() {
        Err(_) if text.contains(char::is_alphabetic) => Ok(TargetArg::Name(text.trim().to_owned())),
        Err(_) => Err(
            "must be the position angle of one target in degrees, such as 132.5, or its name in a targets file"
                .to_owned(),
        ),
        Ok(_) => angle(text).map(TargetArg::Angle),
    }
}

pub(super) fn share(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|s| *s > 0.0 && *s < 1.0)
        .ok_or_else(|| "must be a share above 0 and below 1, such as 0.01".to_owned())
}

pub(super) fn positive(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|x| *x > 0.0 && x.is_finite())
        .ok_or_else(|| "must be a number above 0".to_owned())
}

pub(super) fn flat_angle(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| (0.0..=90.0).contains(a))
        .ok_or_else(|| "must be a number of degrees from 0 to 90".to_owned())
}
