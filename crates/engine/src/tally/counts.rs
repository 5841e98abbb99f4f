//! How often a whole number took each value.

use super::{Histogram, Moments, Spread};

/// Smaller numbers are counted one by one. Larger ones go to a histogram.
const EXACT: usize = 1024;

/// Counts of a whole number. Merging is exact, in any order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Counts {
    /// How often each small number occurred.
    small: Vec<u64>,
    great: Spread,
}

impl Counts {
    /// Adds a number.
    #[inline]
    pub fn push(&mut self, number: u32) {
        let place = number as usize;
        match self.small.get_mut(place) {
            Some(count) => *count += 1,
            None => self.push_new(place),
        }
    }

    #[cold]
    fn push_new(&mut self, place: usize) {
        if place < EXACT {
            self.small.resize(place + 1, 0);
            self.small[place] += 1;
        } else {
            self.great.push(place as f64);
        }
    }

    /// Adds the numbers of another.
    pub fn merge(&mut self, other: &Self) {
        if self.small.len() < other.small.len() {
            self.small.resize(other.small.len(), 0);
        }
        for (mine, theirs) in self.small.iter_mut().zip(&other.small) {
            *mine += theirs;
        }
        self.great.merge(&other.great);
    }

    /// Mean and deviation.
    #[must_use]
    pub fn moments(&self) -> Moments {
        let mut all = Moments::default();
        for (number, count) in self.small.iter().enumerate() {
            all.push_many(number as f64, *count);
        }
        all.merge(&self.great.moments());
        all
    }

    /// Quantiles; exact below 1024.
    #[must_use]
    pub fn histogram(&self) -> Histogram {
        let mut all = self.great.histogram();
        for (number, count) in self.small.iter().enumerate() {
            all.push_many(number as f64, *count);
        }
        all
    }

    /// How often a number below 1024 occurred; 0 for larger numbers.
    #[must_use]
    pub fn times(&self, number: u32) -> u64 {
        self.small.get(number as usize).copied().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_and_great_numbers_are_counted() {
        let (mut a, mut b) = (Counts::default(), Counts::default());
        for n in [3, 3, 0, 5000] {
            a.push(n);
        }
        b.push(7);
        a.merge(&b);
        assert_eq!(a.times(3), 2);
        assert_eq!(a.moments().count(), 5);
        assert_eq!(a.moments().mean(), Some(5013.0 / 5.0));
        assert_eq!(a.histogram().quantile(0.6), Some(3.0));
        assert_eq!(a.histogram().quantile(1.0), Some(5000.0));
    }
}
