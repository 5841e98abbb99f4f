//! The order in which the targets of a night are used.

use super::given::{Night, NightError, NightTarget};

/// An order of targets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// As in the list.
    List,
    /// By the time at which they cross the meridian, starting 12 hours before the start of the night.
    Meridian,
    /// By their numbers in the list, from 1.
    Numbers(Vec<usize>),
    /// The one that loses least time by the plan ([`best_order`](super::best_order)).
    Best,
}

impl Order {
    /// Reads `list`, `meridian`, `best` or numbers such as `3,1,2`.
    ///
    /// # Errors
    /// What it must be.
    pub fn read(text: &str) -> Result<Self, String> {
        match text {
            "list" => Ok(Self::List),
            "meridian" => Ok(Self::Meridian),
            "best" => Ok(Self::Best),
            numbers => {
                let numbers = numbers.split(',').map(|n| n.trim().parse().ok());
                let numbers = numbers.collect::<Option<Vec<usize>>>().map(Self::Numbers);
                numbers.ok_or_else(|| {
                    "must be list, meridian, best, or numbers such as 3,1,2".to_owned()
                })
            }
        }
    }

    /// Indexes in the list, in this order.
    pub(super) fn of(
        &self,
        night: &Night,
        targets: &[NightTarget],
    ) -> Result<Vec<usize>, NightError> {
        let mut places: Vec<usize> = (0..targets.len()).collect();
        match self {
            // The plan puts numbers in the place of the best order.
            Self::List | Self::Best => Ok(places),
            Self::Meridian => {
                let sky = night.site.sky(night.start);
                let hours: Vec<f64> = targets
                    .iter()
                    .map(|t| sky.pointing(t.place).hour_angle_h)
                    .collect();
                // The target farthest past the meridian crossed it first. Equal ones keep the order of the list.
                places.sort_by(|a, b| hours[*b].total_cmp(&hours[*a]));
                Ok(places)
            }
            Self::Numbers(numbers) => {
                let mut sorted = numbers.clone();
                sorted.sort_unstable();
                if sorted.iter().copied().ne(1..=targets.len()) {
                    return Err(NightError::Order(targets.len()));
                }
                Ok(numbers.iter().map(|n| n - 1).collect())
            }
        }
    }
}
