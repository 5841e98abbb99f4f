//! The state of all lanes, one array for each quantity.

/// Number of lanes: enough to fill the vector units many times over, few enough for the state to stay in the first
/// cache.
pub(super) const LANES: usize = 64;

/// A number for every lane.
pub(super) type Floats = [f64; LANES];

/// A word for every lane: a count, or a flag of 0 or 1.
pub(super) type Words = [u64; LANES];

/// The run continues.
pub(super) const RUNNING: u64 = 0;
pub(super) const ENDED_SETTLED: u64 = 1;
/// It used up its good solves.
pub(super) const ENDED_UNSETTLED: u64 = 2;
/// Too many solves failed in a row.
pub(super) const ENDED_UNSOLVED: u64 = 3;
/// The stops refused a command.
pub(super) const ENDED_REFUSED: u64 = 4;

#[derive(Debug, Clone)]
pub(super) struct LaneState {
    /// Number of lanes with a run. They come first.
    pub(super) busy: usize,
    /// Number of the run within the block.
    pub(super) run: [usize; LANES],
    /// State of the generator.
    pub(super) random: [Words; 4],
    /// How the run ended, or [`RUNNING`].
    pub(super) ended: Words,
    /// Next command \[deg\].
    pub(super) command_deg: Floats,
    /// 1 if the turn has a command, 0 if it only confirms.
    pub(super) commanded: Words,
    /// 1 if the last command was carried out.
    pub(super) carried_out: Words,
    /// 1 if the command is the first of the run.
    pub(super) first: Words,
    /// 1 if a leg of the last move may have touched the outside of the arc or a keep-out.
    pub(super) rough: Words,
    pub(super) from_deg: Floats,
    pub(super) via_deg: Floats,
    pub(super) reading_deg: Floats,
    pub(super) output_deg: Floats,
    pub(super) repeatability_error_deg: Floats,
    /// True zero point \[deg\].
    pub(super) zero_point_deg: Floats,
    /// Angle of the camera \[deg\].
    pub(super) camera_deg: Floats,
    /// Distance of the true position angle at the end of the last exposure from the target \[deg\].
    pub(super) true_error_deg: Floats,
    pub(super) elapsed_s: Floats,
    pub(super) travel_deg: Floats,
    pub(super) winding_deg: Floats,
    pub(super) outside_arc_deg: Floats,
    pub(super) keep_out_deg: Floats,
    pub(super) solves: Words,
    pub(super) failed_attempts: Words,
    pub(super) moves: Words,
    pub(super) long_swings: Words,
    /// Solves in a row within the tolerance.
    pub(super) passes: Words,
}

impl LaneState {
    /// All lanes idle.
    pub(super) fn new() -> Self {
        let (floats, words) = ([0.0; LANES], [0; LANES]);
        Self {
            busy: 0,
            run: [0; LANES],
            random: [words; 4],
            ended: [ENDED_UNSETTLED; LANES],
            command_deg: floats,
            commanded: words,
            carried_out: words,
            first: words,
            rough: words,
            from_deg: floats,
            via_deg: floats,
            reading_deg: floats,
            output_deg: floats,
            repeatability_error_deg: floats,
            zero_point_deg: floats,
            camera_deg: floats,
            true_error_deg: floats,
            elapsed_s: floats,
            travel_deg: floats,
            winding_deg: floats,
            outside_arc_deg: floats,
            keep_out_deg: floats,
            solves: words,
            failed_attempts: words,
            moves: words,
            long_swings: words,
            passes: words,
        }
    }

    /// How many lanes the passes cover: the busy ones, in whole vectors.
    #[inline(always)]
    pub(super) fn width(&self) -> usize {
        self.busy.next_multiple_of(8).min(LANES)
    }

    /// Lanes with an ended run, as bits.
    #[inline(always)]
    pub(super) fn ended_lanes(&self) -> u64 {
        let mut bits = 0;
        for (lane, ended) in self.ended.iter().enumerate() {
            bits |= u64::from(*ended != RUNNING) << lane;
        }
        if self.busy == LANES {
            bits
        } else {
            bits & ((1 << self.busy) - 1)
        }
    }

    /// Frees an ended lane: the last busy lane moves to its place.
    pub(super) fn close(&mut self, lane: usize) {
        self.busy -= 1;
        let last = self.busy;
        self.run[lane] = self.run[last];
        for words in self.words() {
            words[lane] = words[last];
        }
        for floats in self.floats() {
            floats[lane] = floats[last];
        }
    }

    fn words(&mut self) -> [&mut Words; 12] {
        let [s0, s1, s2, s3] = &mut self.random;
        [
            s0,
            s1,
            s2,
            s3,
            &mut self.ended,
            &mut self.commanded,
            &mut self.first,
            &mut self.solves,
            &mut self.failed_attempts,
            &mut self.moves,
            &mut self.long_swings,
            &mut self.passes,
        ]
    }

    fn floats(&mut self) -> [&mut Floats; 11] {
        [
            &mut self.command_deg,
            &mut self.reading_deg,
            &mut self.output_deg,
            &mut self.repeatability_error_deg,
            &mut self.zero_point_deg,
            &mut self.true_error_deg,
            &mut self.elapsed_s,
            &mut self.travel_deg,
            &mut self.winding_deg,
            &mut self.outside_arc_deg,
            &mut self.keep_out_deg,
        ]
    }
}

/// The next word of the first `n` generators: xoshiro256++.
#[inline(always)]
pub(super) fn next_words(random: &mut [Words; 4], n: usize) -> Words {
    let mut out = [0; LANES];
    let [s0, s1, s2, s3] = random;
    for i in 0..n {
        let (word, next) = step([s0[i], s1[i], s2[i], s3[i]]);
        out[i] = word;
        [s0[i], s1[i], s2[i], s3[i]] = next;
    }
    out
}

/// The next word of the generator of one lane.
pub(super) fn next_word(random: &mut [Words; 4], lane: usize) -> u64 {
    let (word, next) = step([
        random[0][lane],
        random[1][lane],
        random[2][lane],
        random[3][lane],
    ]);
    for (words, word) in random.iter_mut().zip(next) {
        words[lane] = word;
    }
    word
}

/// One step of xoshiro256++ (Blackman & Vigna 2021).
#[inline(always)]
fn step([s0, s1, s2, s3]: [u64; 4]) -> (u64, [u64; 4]) {
    let word = s0.wrapping_add(s3).rotate_left(23).wrapping_add(s0);
    let t = s1 << 17;
    let s2 = s2 ^ s0;
    let s3 = s3 ^ s1;
    let s1 = s1 ^ s2;
    let s0 = s0 ^ s3;
    (word, [s0, s1, s2 ^ t, s3.rotate_left(45)])
}
