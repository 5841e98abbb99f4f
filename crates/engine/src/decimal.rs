//! Powers of ten.

/// `10^exponent`, correctly rounded. `powi` may round differently on another system.
///
/// Parsing a decimal literal rounds correctly everywhere and needs no table. It is slow, but it runs only once for a
/// log, an axis or a rig.
#[must_use]
pub fn power_of_ten(exponent: i32) -> f64 {
    let text = format!("1e{exponent}");
    text.parse().expect("the text of a number")
}

#[cfg(test)]
mod tests {
    use super::power_of_ten;

    #[test]
    fn powers_are_those_of_literals() {
        for (exponent, power) in [(0, 1.0), (5, 1e5), (-1, 0.1), (-5, 1e-5), (22, 1e22)] {
            assert_eq!(power_of_ten(exponent).to_bits(), f64::to_bits(power));
        }
        assert_eq!(power_of_ten(-400), 0.0);
        assert_eq!(power_of_ten(400), f64::INFINITY);
    }
}
