use serde::Serialize;

/// What counts as safe.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct Limits {
    /// Largest share of runs that may have a fault. Being late has a limit that follows from `settle_chance`.
    pub max_fault: f64,
    /// Good solves within which a target should settle.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub max_solves: u32,
    /// Share of runs that should settle within `max_solves`.
    pub settle_chance: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_fault: 0.001,
            max_solves: 5,
            settle_chance: 0.99,
        }
    }
}

impl Limits {
    /// The smallest of the limits that a share is held against.
    #[must_use]
    pub fn least_share(&self) -> f64 {
        self.max_fault.min(1.0 - self.settle_chance)
    }
}
