//! How a session judges what the controller did: the conditions of the properties.

use super::{CaseSession, ROUNDING_DEG};
use crate::angle::{TURN_DEG, residual_finite};
use crate::controller::Command;
use crate::judge::case::Expect;
use crate::judge::coverage::{Side, place};
use crate::judge::limits::true_error_limit_deg;
use crate::judge::property::{Failure, Property, Remark};
use crate::judge::reference::wrap;
use crate::judge::subject::{Event, FaultKind, SubjectFault};
use crate::plant::Travel;
use crate::rig::Rule;
use crate::run::Outcome;

/// Allowance for rounding of a wanted angle at an edge of a rule \[deg\].
const EDGE_DEG: f64 = 1e-9;

impl CaseSession<'_> {
    pub(super) fn long_swing(&mut self, length_deg: f64) {
        self.played.figures.long_swings += 1;
        let count = self.played.figures.long_swings;
        // A meridian flip is a good reason for a long swing, unless the frame looks the same after it.
        let flipped = self.flipped && self.scenario.brief.symmetry == 1;
        let allowed = 1 + u32::from(flipped);
        if count > allowed && !self.case.may_hunt() {
            self.fail(
                Property::LongSwings,
                format!("long swing number {count}, by {length_deg:.3}° ({allowed} allowed)"),
            );
        }
    }

    /// How a command leaves the arc and its band, in words; `None` if it does not. It is the commanded angle that counts,
    /// not the reading, because the controller does not choose the step of the drive.
    pub(super) fn outside_arc(
        &self,
        said_deg: f64,
        command_deg: f64,
        correction: bool,
    ) -> Option<String> {
        let brief = &self.scenario.brief;
        let low_deg = brief.arc_start_deg - brief.band_deg;
        let width_deg = brief.arc_width_deg + 2.0 * brief.band_deg;
        let from_deg = low_deg - ROUNDING_DEG;
        let at_deg = match brief.travel {
            Travel::Endless if width_deg >= TURN_DEG => return None,
            Travel::Endless => from_deg + (command_deg - from_deg).rem_euclid(TURN_DEG),
            Travel::Stops { .. } => command_deg,
        };
        // Without a band the upper end is outside the arc: it frames the same field as the start.
        let end_deg = low_deg + width_deg;
        let inside = if brief.band_deg > 0.0 {
            at_deg <= end_deg + ROUNDING_DEG
        } else {
            at_deg < end_deg
        };
        if at_deg >= from_deg && inside {
            return None;
        }
        let what = if correction {
            "a correction"
        } else {
            "the first move"
        };
        let closing = if brief.band_deg > 0.0 {
            format!("to {end_deg}°, band included")
        } else {
            format!("up to, not including, {end_deg}°")
        };
        Some(format!(
            "{what} goes to {said_deg}°. The arc is from {low_deg}° {closing}"
        ))
    }

    /// Judges a command by the rule that the controller claims, before the drive has it.
    pub(super) fn check_rule(&mut self, rule: Rule, said_deg: f64, command_deg: f64) {
        let wrap = wrap(rule, &self.scenario.brief);
        let (first, solved) = (self.moves == 0, self.played.figures.solves > 0);
        let put = |wanted_deg: f64| {
            // The first move after a solve is both: the first one, and a correction.
            let first = (first || !solved).then(|| wrap.first(wanted_deg));
            let again = solved.then(|| wrap.correction(wanted_deg));
            first.into_iter().chain(again)
        };
        let is_near = |put: Command| self.apart_deg(command_deg, put.drive_deg) <= ROUNDING_DEG;
        // Rounding may put the wanted angle on either side of an edge.
        let follows = [0.0, -EDGE_DEG, EDGE_DEG]
            .into_iter()
            .any(|by_deg| put(self.wanted_deg + by_deg).any(is_near));
        if !follows {
            let rule_deg = put(self.wanted_deg)
                .last()
                .map_or(f64::NAN, |p| p.drive_deg);
            let wanted_deg = self.wanted_deg;
            self.fail(
                Property::Rule,
                format!("it wants {wanted_deg:.6}° and goes to {said_deg:.6}°; {rule} goes to {rule_deg:.6}°"),
            );
        }
    }

    /// Distance between two commanded angles \[deg\]. Whole turns do not count if the travel is endless.
    fn apart_deg(&self, a_deg: f64, b_deg: f64) -> f64 {
        match self.scenario.brief.travel {
            Travel::Endless => residual_finite(a_deg - b_deg, TURN_DEG).abs(),
            Travel::Stops { .. } => (a_deg - b_deg).abs(),
        }
    }

    /// Notes what no property forbids: whether a correction folds, and whether the band would have held it.
    pub(super) fn watch_folds(&mut self, command_deg: f64, long_swing: bool) {
        if self.apart_deg(command_deg, self.wanted_deg) < 0.5 * self.scenario.period_deg {
            return;
        }
        self.played.folds = true;
        let wanted_deg = self.wanted_deg;
        if long_swing && place(&self.scenario.brief, wanted_deg).1 != Side::Beyond {
            self.remark(
                Remark::NeedlessSwing,
                format!("the correction to {wanted_deg:.3}° swings to {command_deg:.3}°"),
            );
        }
    }

    /// Only the first of each kind, and none where the claimed rule is judged.
    pub(super) fn remark(&mut self, remark: Remark, detail: String) {
        let remarks = &mut self.played.remarks;
        if self.case.rule.is_none() && !remarks.iter().any(|r| r.0 == remark) {
            remarks.push((remark, detail));
        }
    }

    pub(super) fn done(&mut self, event: &Event<'_>) {
        self.played.figures.outcome = Outcome::Settled;
        let property = match event {
            Event::Refused { .. } => Property::Refusal,
            _ => Property::Settles,
        };
        let limit_deg = true_error_limit_deg(&self.case.rig);
        let error_deg = self.true_error_deg();
        if self.played.figures.solves == 0 {
            self.fail(property, "it says \"done\" without a good solve".to_owned());
        } else if error_deg > limit_deg {
            self.fail(
                property,
                format!(
                    "it says \"done\", but the true error is {error_deg:.3}° (at most {limit_deg:.3}° allowed)"
                ),
            );
        }
    }

    pub(super) fn give_up(&mut self, event: &Event<'_>, why: &str) {
        self.played.figures.outcome = Outcome::GaveUp;
        // After a command outside the stops, giving up is no further failure.
        if self.case.expect != Expect::Settle || self.played.fails(Property::Travel) {
            return;
        }
        let why = if why.is_empty() {
            String::new()
        } else {
            format!(" ({why})")
        };
        let solves = self.played.figures.solves;
        let (property, when) = match event {
            Event::SolveFailed => (Property::FailedSolve, "after a failed solve".to_owned()),
            Event::Refused { .. } => (Property::Refusal, "after a refusal".to_owned()),
            _ => (
                Property::Settles,
                format!(
                    "after {solves} of {} solves",
                    self.scenario.brief.max_solves
                ),
            ),
        };
        self.fail(
            property,
            format!("it gives up {when}{why}, but the target is in reach"),
        );
    }

    pub(super) fn fault(&mut self, event: &Event<'_>, fault: SubjectFault) {
        self.played.figures.outcome = Outcome::Faulty;
        let property = match (fault.kind, event) {
            (FaultKind::Stopped, _) => None,
            (FaultKind::NotFinite, _) => Some(Property::Finite),
            (FaultKind::Late, _) => Some(Property::AnswersInTime),
            (_, Event::SolveFailed) => Some(Property::FailedSolve),
            (_, Event::Refused { .. }) => Some(Property::Refusal),
            (FaultKind::Gone, _) => Some(Property::StaysAlive),
            (FaultKind::Nonsense, _) => Some(Property::Protocol),
        };
        if let Some(property) = property {
            let told: &str = event.into();
            self.fail(property, format!("after \"{told}\": {}", fault.detail));
        }
        self.played.fault = Some(fault);
    }

    pub(super) fn endless(&mut self, how: &str) {
        let property = match self.case.expect {
            Expect::Settle => Property::Settles,
            Expect::GiveUp | Expect::Either => Property::GivesUp,
        };
        let max = self.scenario.brief.max_solves;
        let solves = self.played.figures.solves;
        self.fail(
            property,
            format!(
                "{how} after {solves} of {max} solves and {} answers",
                self.played.answers
            ),
        );
    }

    /// Only the first failure of a property counts. A run that hunts fails many times.
    pub(super) fn fail(&mut self, property: Property, detail: String) {
        if !self.played.fails(property) {
            self.played.failures.push(Failure { property, detail });
        }
    }
}
