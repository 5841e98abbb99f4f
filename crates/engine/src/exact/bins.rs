//! A density in narrow bins.

/// Masses in numbered bins, each with the mean of what lies in it. Empty bins beyond the ends are not kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Bins {
    /// Number of the first bin.
    first: i64,
    /// Mass, and mass times value.
    bins: Vec<(f64, f64)>,
}

/// Values below this share a bin where bins have equal ratio.
const LEAST: f64 = 1.0 / 1024.0;

/// And values above this: only means of masses that nearly make up for each other lie there.
const MOST: f64 = 1_048_576.0;

/// Bins are kept in whole chunks.
const CHUNK: i64 = 64;

impl Bins {
    /// Adds mass at a value, in bins of the given width. All additions to one density must use the same numbers.
    #[inline]
    pub(super) fn push(&mut self, value: f64, mass: f64, width: f64) {
        self.push_into(number(value, width), value, mass);
    }

    /// Adds mass at a value that is not negative, in 512 bins to a factor of two.
    #[inline]
    pub(super) fn push_by_ratio(&mut self, value: f64, mass: f64) {
        // For positive floats the leading bits grow with the value: the exponent, then the mantissa.
        let leading = |x: f64| (x.to_bits() >> 43) as i64;
        let bin = leading(value.clamp(LEAST, MOST)) - leading(LEAST);
        self.push_into(bin, value, mass);
    }

    /// Adds what another density has, spread over further bins: each of its bins is moved by every step `k` of one
    /// bin, with the weight of that step; `steps` begins with `k = first`.
    pub(super) fn add_spread(&mut self, other: &Self, first: i64, steps: &[f64], width: f64) {
        for (i, (mass, moment)) in other.bins.iter().enumerate() {
            if *mass == 0.0 {
                continue;
            }
            let from = other.first + i as i64 + first;
            self.make_room(from, from + steps.len() as i64 - 1);
            let to = &mut self.bins[(from - self.first) as usize..];
            for (k, (to, weight)) in to.iter_mut().zip(steps).enumerate() {
                let by = (first + k as i64) as f64 * width;
                to.0 += mass * weight;
                to.1 += (moment + mass * by) * weight;
            }
        }
    }

    #[inline]
    fn push_into(&mut self, number: i64, value: f64, mass: f64) {
        if number < self.first || number >= self.first + self.bins.len() as i64 {
            self.make_room(number, number);
        }
        let bin = &mut self.bins[(number - self.first) as usize];
        bin.0 += mass;
        bin.1 += mass * value;
    }

    /// Adds the bins of another, weighted.
    pub(super) fn add(&mut self, other: &Self, weight: f64) {
        if other.bins.is_empty() {
            return;
        }
        self.make_room(other.first, other.first + other.bins.len() as i64 - 1);
        let offset = (other.first - self.first) as usize;
        for (mine, theirs) in self.bins[offset..].iter_mut().zip(&other.bins) {
            mine.0 += weight * theirs.0;
            mine.1 += weight * theirs.1;
        }
    }

    fn make_room(&mut self, from: i64, to: i64) {
        let first = from.div_euclid(CHUNK) * CHUNK;
        let end = (to.div_euclid(CHUNK) + 1) * CHUNK;
        if self.bins.is_empty() {
            self.first = first;
        }
        if first < self.first {
            let missing = (self.first - first) as usize;
            self.bins
                .splice(0..0, std::iter::repeat_n((0.0, 0.0), missing));
            self.first = first;
        }
        if self.first + (self.bins.len() as i64) < end {
            self.bins.resize((end - self.first) as usize, (0.0, 0.0));
        }
    }

    /// Mean value and mass of every bin that is not empty, in ascending order. Where readings have no lattice,
    /// interpolation leaves a few tiny negative masses: without them, the rest would be too much.
    pub(super) fn filled(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let filled = self
            .bins
            .iter()
            .filter(|(mass, _)| mass.abs() > f64::MIN_POSITIVE);
        filled.map(|(mass, moment)| (moment / mass, *mass))
    }
}

/// The bin of a value.
#[inline]
fn number(value: f64, width: f64) -> i64 {
    let scaled = value / width;
    let towards_zero = scaled as i64;
    towards_zero - i64::from(scaled < towards_zero as f64)
}

/// Values in ascending order, each with the mass up to it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Distribution {
    up_to: Vec<(f64, f64)>,
    mass: f64,
    /// How far negative masses make the mass up to a value unsure, as a share.
    pub(super) unsure: f64,
}

impl Distribution {
    /// Of values with masses, and the whole mass, which they may miss by a little.
    pub(super) fn of(mut atoms: Vec<(f64, f64)>, mass: f64) -> Self {
        atoms.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut sum, mut most, mut unsure) = (0.0, 0.0, 0.0);
        for (_, mass) in &mut atoms {
            sum += *mass;
            most = f64::max(most, sum);
            unsure = f64::max(unsure, most - sum);
            *mass = most;
        }
        Self {
            up_to: atoms,
            mass,
            unsure: f64::max(unsure, (sum - mass).abs()) / mass,
        }
    }

    /// The least value that a share of the mass does not exceed; `None` where there is no mass.
    pub(super) fn quantile(&self, share: f64) -> Option<f64> {
        let last = self.up_to.last().filter(|_| self.mass > 0.0)?;
        // Masses are sums of rounded numbers.
        let wanted = share * self.mass * (1.0 - 1e-12);
        let below = self.up_to.partition_point(|(_, up_to)| *up_to < wanted);
        Some(self.up_to.get(below).unwrap_or(last).0)
    }

    /// The share of the values below one.
    pub(super) fn share_below(&self, value: f64) -> f64 {
        let below = self.up_to.partition_point(|(at, _)| *at < value);
        let up_to = below.checked_sub(1).map_or(0.0, |last| self.up_to[last].1);
        up_to / self.mass
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (exact): quantiles within a bin. Source: by hand.
    #[test]
    fn quantiles_of_a_few_values_are_exact() {
        let mut bins = Bins::default();
        for (value, mass) in [(38.0, 0.25), (-2.0, 0.25), (7.25, 0.125), (38.0, 0.25)] {
            bins.push(value, mass, 0.01);
        }
        let mut sum = Bins::default();
        sum.add(&bins, 2.0);
        let atoms: Vec<_> = sum.filled().collect();
        assert_eq!(atoms, [(-2.0, 0.5), (7.25, 0.25), (38.0, 1.0)]);
        let found = Distribution::of(atoms, 1.75);
        let found = [0.25, 0.4, 0.5, 1.0].map(|share| found.quantile(share));
        assert_eq!(found, [Some(-2.0), Some(7.25), Some(38.0), Some(38.0)]);
        assert_eq!(Distribution::default().quantile(0.5), None);
    }
}
