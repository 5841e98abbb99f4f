//! The answer of `advise` in sentences.

use halfturn_engine::advise::{Advice, AdviceOutcome, Setting, TargetReport};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::{Approach, KeyDifference, Rig, Rule};
use halfturn_engine::summary::Rate;
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{angle, counted, duration, grouped, joined, percent};

/// Most names in one sentence.
const NAMED: usize = 3;

/// A target that takes longer by less than this is not named \[s\].
const LEAST_DELAY_S: f64 = 1.0;

/// The first names of a list, and how many more there are.
pub(super) fn some_of(names: &[String], most: usize) -> String {
    match names.len() {
        n if n > most => format!(
            "{} and {} more",
            names[..most].join(", "),
            grouped((n - most) as u64)
        ),
        _ => joined(names),
    }
}

/// Rig, rule, arc and tolerance: "half-circle, arc 0° to 180°, tolerance 0.3°".
pub(crate) fn settings(rig: &Rig) -> String {
    let s = rig.settings();
    let band = match s.wrap.rule {
        Rule::HysteresisBand => format!(", band {}", angle(s.wrap.band_deg)),
        Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => String::new(),
    };
    format!(
        "{}, {}{band}, tolerance {}",
        s.wrap.rule,
        arc(rig),
        angle(s.loop_.tolerance_deg)
    )
}

/// The arc with both ends.
pub(crate) fn arc(rig: &Rig) -> String {
    let wrap = halfturn_engine::scenario::Policy::of(rig).wrap(rig.travel());
    let (from_deg, width_deg) = (wrap.start_deg(), wrap.width_deg());
    let to_deg = from_deg + width_deg;
    match rig.travel() {
        Travel::Endless if width_deg >= 360.0 => "full circle".to_owned(),
        Travel::Endless if from_deg >= 0.0 && to_deg > 360.0 => {
            format!(
                "arc {} through 0 to {}",
                angle(from_deg),
                angle(to_deg - 360.0)
            )
        }
        _ => format!("arc {} to {}", angle(from_deg), angle(to_deg)),
    }
}

/// The states of a list as a clause: "2 of 8 targets hunt, 1 is at risk".
pub(crate) fn standing(setting: &Setting) -> String {
    let n = setting.targets.len();
    let found: Vec<TargetState> = TargetState::ALL
        .iter()
        .copied()
        .filter(|s| setting.count(*s) > 0)
        .collect();
    if let [only] = found.as_slice() {
        return match n {
            1 => format!("the target {}", only.does()),
            2 => format!("both targets {}", only.do_()),
            n => format!("all {} targets {}", grouped(n as u64), only.do_()),
        };
    }
    let bad = found.into_iter().filter(|s| *s != TargetState::Safe);
    let parts: Vec<String> = bad
        .enumerate()
        .map(|(i, state)| {
            let count = setting.count(state);
            let of = match i {
                0 => format!(" of {} targets", grouped(n as u64)),
                _ => String::new(),
            };
            let does = if count == 1 {
                state.does()
            } else {
                state.do_()
            };
            format!("{}{of} {does}", grouped(count as u64))
        })
        .collect();
    parts.join(", ")
}

/// The limits of the whole list that are not met, one clause each.
pub(crate) fn list_faults(setting: &Setting) -> Vec<String> {
    let mut faults = Vec::new();
    if let Some(high_deg) = setting
        .tolerance_high_deg
        .filter(|_| !setting.keeps_frame())
    {
        faults.push(format!(
            "the tolerance of {} is more than the {} that the frame bears",
            angle(setting.tolerance_deg),
            angle(high_deg)
        ));
    }
    if !setting.is_clear_enough() {
        faults.push("the arc overlaps a keep-out".to_owned());
    }
    faults
}

/// The states of a list, and the limits of the whole list that are not met.
pub(crate) fn fares(setting: &Setting) -> String {
    let mut parts = vec![standing(setting)];
    parts.extend(list_faults(setting));
    match (parts.as_slice(), setting.all_safe()) {
        ([only], _) => only.clone(),
        ([first, rest @ ..], true) => format!("{first}, but {}", joined(rest)),
        (parts, _) => joined(parts),
    }
}

/// What to set, and how the list fares then.
pub(crate) fn headline(advice: &Advice) -> String {
    let now = fares(&advice.before);
    let changes = joined(&change_clauses(&advice.rig, &advice.advised_rig));
    let answer = match advice.outcome {
        AdviceOutcome::NotNeeded => "Nothing needs to change.".to_owned(),
        AdviceOutcome::Solves => format!("Set {changes}: then {}.", fares(&advice.after)),
        AdviceOutcome::Improves => {
            let then = match fares(&advice.after) {
                then if then == now => format!("still {then}. But {}", gain(advice)),
                then => then,
            };
            format!(
                "No settings were found that meet every limit. The best: set {changes}. Then {then}."
            )
        }
        AdviceOutcome::NoImprovement => "No better settings were found.".to_owned(),
    };
    let doubt = if advice.proof.bears_out() {
        String::new()
    } else {
        format!(" But {}", proof(advice))
    };
    format!("{answer}{}{doubt}", wrong_angles(&advice.after))
}

/// The gain of the advice when no target changes its state.
fn gain(advice: &Advice) -> String {
    let (before, after) = (&advice.before, &advice.after);
    let mut fewer: Vec<String> = TargetState::ALL
        .iter()
        .copied()
        .filter_map(|state| {
            let (now, then) = (before.count_also(state), after.count_also(state));
            let does = state.short(then);
            (then < now).then_some((then, does, now))
        })
        .enumerate()
        .map(|(i, (then, does, now))| {
            let of_them = if i == 0 { " of them" } else { "" };
            format!("{then}{of_them} {does}, now {now}")
        })
        .collect();
    let Some(last) = fewer.pop() else {
        let share = percent(after.excess() / before.excess());
        return format!("the shares above their limits fall to {share} of what they are");
    };
    match fewer.as_slice() {
        [] => last,
        others => format!("{}, and {last}", others.join(", ")),
    }
}

/// Targets that settle on a wrong angle, as a sentence; empty without any.
fn wrong_angles(setting: &Setting) -> String {
    let wrong = setting.targets.iter().filter(|t| t.settles_wrong).count();
    let who = match (setting.targets.len(), wrong) {
        (_, 0) => return String::new(),
        (1, _) => "the target settles on a wrong angle: its".to_owned(),
        (n, 1) => format!("1 of {n} targets settles on a wrong angle: its"),
        (n, wrong) => format!("{wrong} of {n} targets settle on a wrong angle: their"),
    };
    format!(" But {who} mean true error is above the tolerance.")
}

/// The changes, one clause each: "the start of the arc to 277° (now 0°)".
pub(super) fn change_clauses(now: &Rig, then: &Rig) -> Vec<String> {
    let (now, then) = (now.settings(), then.settings());
    let mut clauses = Vec::new();
    if now.wrap.rule != then.wrap.rule {
        clauses.push(format!(
            "the rule to {} (now {})",
            then.wrap.rule, now.wrap.rule
        ));
    }
    for (what, now, then) in [
        (
            "the start of the arc",
            now.wrap.arc_start_deg,
            then.wrap.arc_start_deg,
        ),
        ("the band", now.wrap.band_deg, then.wrap.band_deg),
        (
            "the tolerance",
            now.loop_.tolerance_deg,
            then.loop_.tolerance_deg,
        ),
    ] {
        if now != then {
            clauses.push(format!("{what} to {} (now {})", angle(then), angle(now)));
        }
    }
    if now.loop_.approach != then.loop_.approach && then.loop_.approach != Approach::Direct {
        clauses.push(format!(
            "the approach to {} with an overrun of {}",
            then.loop_.approach,
            angle(then.loop_.overrun_deg)
        ));
    }
    clauses
}

/// What the changes gain and cost in time; empty if that is not known.
pub(crate) fn times(advice: &Advice) -> String {
    let (before, after) = (&advice.before, &advice.after);
    let reached = |s: &Setting| s.targets.iter().all(|t| t.expected_time_s.is_some());
    if advice.changes.is_empty() || !reached(after) {
        return String::new();
    }
    let then = duration(after.total_time_s());
    let now = duration(before.total_time_s());
    let whole = match (before.targets.len(), reached(before)) {
        (_, false) => format!("Framing every target once takes {then}."),
        (1, _) => format!("Framing it takes {then} instead of {now}."),
        _ => format!("Framing every target once takes {then} instead of {now}."),
    };
    let mut longer: Vec<(f64, &str)> = before
        .targets
        .iter()
        .zip(&after.targets)
        .filter_map(|(b, a)| Some((a.expected_time_s? - b.expected_time_s?, a.name.as_str())))
        .filter(|(by_s, _)| *by_s >= LEAST_DELAY_S)
        .collect();
    longer.sort_by(|a, b| b.0.total_cmp(&a.0));
    let names: Vec<String> = longer
        .iter()
        .map(|(by_s, name)| match *by_s {
            by_s if by_s < 120.0 => format!("{name} by {by_s:.0} s"),
            by_s => format!("{name} by {}", duration(by_s)),
        })
        .collect();
    if names.is_empty() || before.targets.len() == 1 {
        whole
    } else {
        format!("{whole} Slower: {}.", some_of(&names, NAMED))
    }
}

/// The warning that even runs without a fault would be too few to prove a target safe; `None` if they are enough.
pub(crate) fn too_few_runs(advice: &Advice) -> Option<String> {
    let trials = advice.request.batch.trials;
    let high = Rate::of(0, trials).high;
    let run = advice.before.targets.iter().any(|t| t.summary.trials > 0);
    (run && high > advice.request.limits.max_fault).then(|| {
        format!(
            "{} runs for every target are too few to call a target safe that the exact method cannot solve. Use more --trials.",
            grouped(trials)
        )
    })
}

/// The result of the proof runs.
pub(crate) fn proof(advice: &Advice) -> String {
    let proof = &advice.proof;
    let runs = grouped(proof.trials);
    if let Some(first) = proof.contradicted.first() {
        let name = &advice.after.targets[*first].name;
        return format!(
            "{runs} fresh runs of each target contradict the verdict on {}, first on {name}.",
            counted(proof.contradicted.len(), "target")
        );
    }
    format!(
        "Proof: {runs} fresh runs of each target. At the worst target {} hunt and {} settle within {}.",
        percent(proof.hunting.rate),
        percent(proof.in_time.rate),
        counted(advice.request.limits.max_solves as usize, "solve")
    )
}

/// Changed keys, as lines "key = value    # was value" below their sections.
pub(crate) fn change_lines(changes: &[KeyDifference]) -> String {
    let mut out = String::new();
    let mut section = "";
    for change in changes {
        let (here, name) = change.key.split_once('.').unwrap_or(("", &change.key));
        if here != section {
            out.push_str(&format!("[{here}]\n"));
            section = here;
        }
        out.push_str(&format!(
            "{name} = {}    # was {}\n",
            value(&change.to),
            value(&change.from)
        ));
    }
    out
}

/// A value of the rig file.
pub(crate) fn value(value: &Option<toml::Value>) -> String {
    value
        .as_ref()
        .map_or_else(|| "not set".to_owned(), ToString::to_string)
}

/// Targets that are not safe or settle on a wrong angle, worst first.
pub(super) fn spoken_of(setting: &Setting) -> Vec<&TargetReport> {
    let mut worst = setting.worst_first();
    worst.retain(|t| !t.verdict.is_safe() || t.settles_wrong);
    worst
}

/// What the dial shows.
pub(super) fn about_rest(advice: &Advice) -> String {
    let keep_outs = if advice.rig.settings().keep_out.is_empty() {
        ""
    } else {
        " Keep-outs are the sectors that the rig file says not to turn through."
    };
    let near = if advice.after.arc.no_seam {
        String::new()
    } else {
        let now = match advice.changes.is_empty() {
            true => String::new(),
            false => format!(
                " Now one is at {}.",
                angle(advice.before.arc.seam_distance_deg)
            ),
        };
        format!(
            " With this arc no target is closer than {} to either end.{now}",
            angle(advice.after.arc.seam_distance_deg)
        )
    };
    format!("Each mark is the drive angle of a target's first move.{near}{keep_outs}")
}
