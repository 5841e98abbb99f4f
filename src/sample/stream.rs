//! The random stream of one run.

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

/// The generator behind every stream: xoshiro256++ (Blackman & Vigna 2021, ACM Trans. Math. Softw. 47, 36).
pub type Stream = Xoshiro256PlusPlus;

/// The stream of run number `index` under a seed.
///
/// It depends on these two numbers alone, so a run can be replayed by itself. Streams of one seed are
/// all different: the map from `index` to the seed of the generator is one to one.
#[must_use]
pub fn stream(seed: u64, index: u64) -> Stream {
    Stream::seed_from_u64(mix(mix(seed).wrapping_add(index)))
}

/// The output function of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA), a bijection of 64-bit words.
fn mix(x: u64) -> u64 {
    let x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

#[cfg(test)]
mod tests {
    use super::mix;

    /// First outputs of SplitMix64 from the state 1477776061723855037, by the reference C program of Vigna
    /// (2015, public domain); they stand in the tests of the crate rand_xoshiro 0.8 (`splitmix64.rs`).
    #[test]
    fn the_mixing_function_is_splitmix64() {
        let state: u64 = 1_477_776_061_723_855_037;
        assert_eq!(mix(state), 1_985_237_415_132_408_290);
        assert_eq!(
            mix(state.wrapping_add(0x9e37_79b9_7f4a_7c15)),
            2_979_275_885_539_914_483
        );
    }
}
