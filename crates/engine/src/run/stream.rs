//! The random stream of one run.

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

/// The generator behind every stream: xoshiro256++ (Blackman & Vigna 2021, ACM Trans. Math. Softw. 47, 36).
pub type Stream = Xoshiro256PlusPlus;

/// The stream of run number `index` under a seed.
///
/// It depends on these two numbers only, and a run can be replayed alone. Streams of one seed are all different,
/// because the map from `index` to the seed of the generator is one to one.
#[must_use]
pub fn stream(seed: u64, index: u64) -> Stream {
    Stream::seed_from_u64(word(seed, index))
}

/// The word that seeds the generator of run number `index`.
#[inline(always)]
fn word(seed: u64, index: u64) -> u64 {
    mix(mix(seed).wrapping_add(index))
}

/// The state of the generator at the start of a run: four outputs of SplitMix64, as in [`stream`].
#[inline(always)]
pub(super) fn state(seed: u64, index: u64) -> [u64; 4] {
    let word = word(seed, index);
    let at = |k: u64| mix(word.wrapping_add(STEP.wrapping_mul(k)));
    [at(0), at(1), at(2), at(3)]
}

/// Increment of SplitMix64.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// The output function of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA), a bijection of 64-bit words.
#[inline(always)]
fn mix(x: u64) -> u64 {
    let x = x.wrapping_add(STEP);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From the state 1477776061723855037; the values stand in the tests of rand_xoshiro 0.8 (`splitmix64.rs`).
    /// Shows (model 9): `mix` is SplitMix64; the state is its next four outputs from `mix(mix(seed) + i)`. With:
    /// `the_state_is_that_of_the_generator`. Source: reference C program of Vigna 2015; the crate rand_xoshiro.
    #[test]
    fn the_mixing_function_is_splitmix64() {
        let state: u64 = 1_477_776_061_723_855_037;
        assert_eq!(mix(state), 1_985_237_415_132_408_290);
        assert_eq!(
            mix(state.wrapping_add(0x9e37_79b9_7f4a_7c15)),
            2_979_275_885_539_914_483
        );
    }

    #[test]
    fn the_state_is_that_of_the_generator() {
        for (seed, index) in [(0, 0), (1, 0), (1, 77), (u64::MAX, u64::MAX)] {
            let mut bytes = [0_u8; 32];
            for (to, word) in bytes.chunks_exact_mut(8).zip(state(seed, index)) {
                to.copy_from_slice(&word.to_le_bytes());
            }
            assert_eq!(Stream::from_seed(bytes), stream(seed, index));
        }
    }
}
