//! The passes of one turn. Each does one thing in every lane.
//!
//! They compute idle and ended lanes too. A choice, not a branch, keeps the values that these must not change.

use super::state::{
    ENDED_REFUSED, ENDED_SETTLED, ENDED_UNSETTLED, ENDED_UNSOLVED, Floats, LANES, LaneState,
    RUNNING, next_word, next_words,
};
use crate::angle::{TURN_DEG, fold_finite, overlap_deg};
use crate::controller::Standard;
use crate::plant::{driven_side_deg, periodic_error_deg};
use crate::run::normal::{normal_pair, uniform};
use crate::scenario::Scenario;
use crate::scenario::{Ground, outside_deg};

/// Draws repeatability error and noise, in sigma.
#[inline(always)]
pub(super) fn normals(state: &mut LaneState, repeatability_error: &mut Floats, noise: &mut Floats) {
    let n = state.width();
    let a = next_words(&mut state.random, n);
    let b = next_words(&mut state.random, n);
    for i in 0..n {
        (repeatability_error[i], noise[i]) = normal_pair(a[i], b[i]);
    }
}

/// Carries out the commands.
#[inline(always)]
pub(super) fn moves(scenario: &Scenario, state: &mut LaneState, repeatability_error: &Floats) {
    // A rig pays only for the features that it has: the loop is compiled for each combination.
    let plant = &scenario.plant;
    match (plant.one_sided(), plant.accelerates()) {
        (false, false) => moves_of::<false, false>(scenario, state, repeatability_error),
        (false, true) => moves_of::<false, true>(scenario, state, repeatability_error),
        (true, false) => moves_of::<true, false>(scenario, state, repeatability_error),
        (true, true) => moves_of::<true, true>(scenario, state, repeatability_error),
    }
}

#[inline(always)]
fn moves_of<const ONE_SIDED: bool, const ACCELERATES: bool>(
    scenario: &Scenario,
    state: &mut LaneState,
    repeatability_error: &Floats,
) {
    let n = state.width();
    let plant = &scenario.plant;
    let mut to_deg = [0.0; LANES];
    let mut moved = [0_u64; LANES];
    for i in 0..n {
        let p = state.reading_deg[i];
        let command = state.command_deg[i];
        let refused = state.commanded[i] & u64::from(plant.refuses(command));
        let carried_out = state.commanded[i] & (refused ^ 1);
        let goal = plant.goal_deg(p, command);
        let to = plant.quantised(goal);
        state.from_deg[i] = p;
        state.via_deg[i] = if ONE_SIDED { plant.via_deg(goal) } else { p };
        to_deg[i] = to;
        moved[i] = carried_out & u64::from(to != p);
        state.carried_out[i] = carried_out;
        let running = state.ended[i] == RUNNING;
        let ended = if running {
            ENDED_REFUSED
        } else {
            state.ended[i]
        };
        state.ended[i] = if refused != 0 { ended } else { state.ended[i] };
    }

    let backlash_deg = plant.backlash_deg();
    let sigma_deg = scenario.repeatability_deg;
    for i in 0..n {
        let y = state.output_deg[i];
        let y = if ONE_SIDED {
            driven_side_deg(y, state.via_deg[i], backlash_deg)
        } else {
            y
        };
        let y = driven_side_deg(y, to_deg[i], backlash_deg);
        let seated = sigma_deg * repeatability_error[i];
        let moved = moved[i] != 0;
        state.output_deg[i] = if moved { y } else { state.output_deg[i] };
        state.repeatability_error_deg[i] = if moved {
            seated
        } else {
            state.repeatability_error_deg[i]
        };
        state.reading_deg[i] = if moved {
            to_deg[i]
        } else {
            state.reading_deg[i]
        };
    }

    let parked = scenario.park_deg;
    for i in 0..n {
        let (from, via, to) = (state.from_deg[i], state.via_deg[i], to_deg[i]);
        let move_s = if ONE_SIDED {
            plant.move_s::<ACCELERATES>(from, via, to)
        } else {
            plant.one_leg_s::<ACCELERATES>((to - from).abs())
        };
        let moved = moved[i] != 0;
        let still_s = if state.carried_out[i] != 0 {
            plant.overhead_s()
        } else {
            0.0
        };
        state.elapsed_s[i] += if moved { move_s } else { still_s };
        if ONE_SIDED {
            state.travel_deg[i] += if moved { (via - from).abs() } else { 0.0 };
        }
        let last_leg = if ONE_SIDED { to - via } else { to - from };
        state.travel_deg[i] += if moved { last_leg.abs() } else { 0.0 };
        let wound = if ONE_SIDED {
            greater((via - parked).abs(), (to - parked).abs())
        } else {
            (to - parked).abs()
        };
        let wound = greater(state.winding_deg[i], wound);
        state.winding_deg[i] = if moved { wound } else { state.winding_deg[i] };
    }

    let half_period = 0.5 * scenario.period_deg;
    let plain_span = scenario.ground.plain();
    for i in 0..n {
        let (from, via, to) = (state.from_deg[i], state.via_deg[i], to_deg[i]);
        let long = u64::from((to - from).abs() > half_period);
        let within = |x: f64| (x >= plain_span.from_deg) & (x <= plain_span.to_deg);
        let plain = within(from) & within(to) & (!ONE_SIDED | within(via));
        state.moves[i] += moved[i];
        state.long_swings[i] += moved[i] & (state.first[i] ^ 1) & long;
        state.first[i] &= state.carried_out[i] ^ 1;
        state.rough[i] = moved[i] & u64::from(!plain);
    }
}

/// Counts degrees outside the arc and in keep-outs, if any lane may have some.
#[inline(always)]
pub(super) fn ground(scenario: &Scenario, state: &mut LaneState) {
    let n = state.width();
    let any = state.rough[..n].iter().fold(0, |any, rough| any | rough);
    if any == 0 {
        return;
    }
    let ground = &scenario.ground;
    // Without a second leg, the first corner stands twice, and a leg of length 0 counts nothing.
    for second in [false, true] {
        if second || scenario.plant.one_sided() {
            leg(ground, state, n, second);
        }
    }
}

#[inline(always)]
fn leg(ground: &Ground, state: &mut LaneState, n: usize, second: bool) {
    let plain = ground.plain();
    let (mut from, mut to) = ([0.0; LANES], [0.0; LANES]);
    let mut counts = [0_u64; LANES];
    for i in 0..n {
        from[i] = if second {
            state.via_deg[i]
        } else {
            state.from_deg[i]
        };
        to[i] = if second {
            state.reading_deg[i]
        } else {
            state.via_deg[i]
        };
        let within = |x: f64| (x >= plain.from_deg) & (x <= plain.to_deg);
        counts[i] = state.rough[i] & u64::from(!(within(from[i]) & within(to[i])));
    }
    if !ground.arc_is_everything() {
        let (arc, turning) = ground.arc();
        for i in 0..n {
            let outside = outside_deg(arc, turning, from[i], to[i]);
            state.outside_arc_deg[i] += if counts[i] != 0 { outside } else { 0.0 };
        }
    }
    if ground.keep_out().is_empty() {
        return;
    }
    let mut inside = [0.0; LANES];
    for span in ground.keep_out().spans() {
        for i in 0..n {
            inside[i] += overlap_deg(*span, ground.keep_out().turning(), from[i], to[i]);
        }
    }
    for i in 0..n {
        state.keep_out_deg[i] += if counts[i] != 0 { inside[i] } else { 0.0 };
    }
}

/// Lets attempts fail and ends runs with too many failures.
#[inline(always)]
pub(super) fn failures(scenario: &Scenario, state: &mut LaneState) {
    let n = state.width();
    let rate = scenario.solve.failure_rate;
    let words = next_words(&mut state.random, n);
    let mut fails = [0_u64; LANES];
    let mut any = 0;
    for i in 0..n {
        let running = state.ended[i] == RUNNING;
        fails[i] = u64::from((uniform(words[i]) < rate) & running);
        any |= fails[i];
    }
    if any == 0 {
        return;
    }
    for (i, fails) in fails.into_iter().enumerate().take(n) {
        if fails != 0 {
            failed(scenario, state, i);
        }
    }
}

/// The other attempts in a lane whose first attempt failed.
fn failed(scenario: &Scenario, state: &mut LaneState, i: usize) {
    let solve = &scenario.solve;
    let mut in_a_row = 0;
    loop {
        in_a_row += 1;
        state.failed_attempts[i] += 1;
        state.elapsed_s[i] += solve.failed_attempt_s();
        if in_a_row == solve.max_failures {
            state.ended[i] = ENDED_UNSOLVED;
            return;
        }
        if uniform(next_word(&mut state.random, i)) >= solve.failure_rate {
            return;
        }
    }
}

/// Chooses the standard deviation of every solve \[deg\].
#[inline(always)]
pub(super) fn outliers(scenario: &Scenario, state: &mut LaneState, sigma_deg: &mut Floats) {
    let n = state.width();
    let solve = &scenario.solve;
    let words = next_words(&mut state.random, n);
    for i in 0..n {
        let outlier = uniform(words[i]) < solve.outlier_rate;
        sigma_deg[i] = if outlier {
            solve.outlier_deg
        } else {
            solve.noise_deg
        };
    }
}

/// Turns the output of the drive into the angle of the camera.
#[inline(always)]
pub(super) fn angles(scenario: &Scenario, state: &mut LaneState) {
    let n = state.width();
    let plant = &scenario.plant;
    for i in 0..n {
        state.camera_deg[i] =
            plant.shaft_angle_deg(state.output_deg[i], state.repeatability_error_deg[i]);
    }
    for p in plant.periodic() {
        for i in 0..n {
            state.camera_deg[i] += periodic_error_deg(p, state.output_deg[i]);
        }
    }
}

/// Measures, and decides what comes next.
#[inline(always)]
pub(super) fn solves(
    scenario: &Scenario,
    controller: &Standard,
    state: &mut LaneState,
    noise: &Floats,
    sigma_deg: &Floats,
) {
    let n = state.width();
    let (plant, solve) = (&scenario.plant, &scenario.solve);
    // With sign: narrow vectors compare no other words.
    let max_solves = i64::from(scenario.brief.max_solves);
    let confirm = i64::from(controller.confirm());
    for i in 0..n {
        let running = state.ended[i] == RUNNING;
        let exposed_s = state.elapsed_s[i] + solve.exposure_s;
        let angle_deg =
            plant.sky_angle_deg(state.camera_deg[i], state.zero_point_deg[i], exposed_s);
        let measured_deg = angle_deg + solve.bias_deg + sigma_deg[i] * noise[i];
        let measured_deg = fold_finite(measured_deg, 0.0, TURN_DEG);
        let solved_s = exposed_s + solve.solve_s;
        state.elapsed_s[i] = if running {
            solved_s
        } else {
            state.elapsed_s[i]
        };
        let off_deg = controller.residual_deg(scenario.brief.target_deg, angle_deg);
        state.true_error_deg[i] = if running {
            off_deg.abs()
        } else {
            state.true_error_deg[i]
        };
        let solves = state.solves[i] + u64::from(running);
        state.solves[i] = solves;

        let error_deg = controller.residual_deg(scenario.brief.target_deg, measured_deg);
        let pass = error_deg.abs() <= scenario.brief.tolerance_deg;
        let passes = if pass { state.passes[i] + 1 } else { 0 };
        state.passes[i] = passes;
        let settled = passes as i64 >= confirm;
        let ended = if settled {
            ENDED_SETTLED
        } else {
            ENDED_UNSETTLED
        };
        let ends = settled | (solves as i64 >= max_solves);
        let ended = if ends { ended } else { RUNNING };
        state.ended[i] = if running { ended } else { state.ended[i] };
        state.commanded[i] = u64::from(!pass);
        state.command_deg[i] = controller
            .correction(state.reading_deg[i], scenario.brief.sense, error_deg)
            .drive_deg;
    }
}

#[inline(always)]
fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}
