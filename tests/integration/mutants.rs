//! Small mutations of a correct controller, as bugs of wrap logic are made, for the mutation check of the judge.

use halfturn_engine::angle::{fold, residual};
use halfturn_engine::controller::{Action, Brief, Command, Controller};
use halfturn_engine::judge::Property;
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::Rule;

/// What is changed in the controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mutation {
    Nothing,
    TruncatedRemainder,
    EndOfArcIncluded,
    OnePeriodTooLow,
    OnePeriodTooHigh,
    FoldsAboutTheCentre,
    FoldsFromZero,
    HalfCircleAlways,
    FirstMoveNotFolded,
    BandForgotten,
    BandForgottenBelow,
    BandForgottenAbove,
    BandForgottenWherePositive,
    BandOnTheFirstMove,
    BandTwice,
    BandTwentyDegreesTooWide,
    NeverFoldsAgain,
    FoldsTowardsTheReading,
    FoldsTwice,
    CorrectionsOnePeriodOff,
    SenseForgotten,
    SenseForgottenAtFirst,
    SenseForgottenInCorrections,
    ZeroPointForgotten,
    ZeroPointAdded,
    ResidualTurnedRound,
    ResidualOverAWholeTurn,
    ResidualTruncated,
    ResidualNotReduced,
    SymmetryTwoAlways,
    WholeTurnsKept,
    WholeTurnsTakenBetweenStops,
    ShortWayAcrossStops,
    ReadingForgotten,
    CommandTakenForReading,
    SignForgottenInTolerance,
    ToleranceDoubled,
    CorrectsTwice,
    CorrectsHalf,
    SolvesNotReset,
    NeverGivesUp,
    OneSolveTooMany,
    GivesUpOnFailedSolve,
    DoneOnRefusal,
    RetriesRefusal,
    NotANumberAtTheStart,
}

use Mutation as M;

impl Mutation {
    /// Every mutation, with the property that it must fail; `None` where the protocol cannot tell it from a correct
    /// controller, and why.
    pub(crate) const ALL: [(Self, Result<Property, &'static str>); 45] = [
        (M::TruncatedRemainder, Ok(Property::Arc)),
        (M::EndOfArcIncluded, Ok(Property::Arc)),
        (M::OnePeriodTooLow, Ok(Property::Arc)),
        (M::OnePeriodTooHigh, Ok(Property::Arc)),
        (M::FoldsAboutTheCentre, Ok(Property::Arc)),
        (M::FoldsFromZero, Ok(Property::Arc)),
        (M::HalfCircleAlways, Ok(Property::Settles)),
        (M::FirstMoveNotFolded, Ok(Property::Arc)),
        (M::BandForgotten, Ok(Property::LongSwings)),
        (
            M::BandForgottenBelow,
            Err("one swing ends in the band that is left: one is allowed"),
        ),
        (
            M::BandForgottenAbove,
            Err("one swing ends in the band that is left: one is allowed"),
        ),
        (M::BandForgottenWherePositive, Ok(Property::LongSwings)),
        (
            M::BandOnTheFirstMove,
            Err("equivalent: the band is allowed ground for every move"),
        ),
        (
            M::BandTwice,
            Err("it may be one that folds once; a session warns of it"),
        ),
        (
            M::BandTwentyDegreesTooWide,
            Err("it may be one that folds once; a session warns of it"),
        ),
        (
            M::NeverFoldsAgain,
            Err("this is folding once, which is another rule"),
        ),
        (M::FoldsTowardsTheReading, Ok(Property::Arc)),
        (M::FoldsTwice, Ok(Property::Arc)),
        (M::CorrectionsOnePeriodOff, Ok(Property::Arc)),
        (M::SenseForgotten, Ok(Property::Settles)),
        (M::SenseForgottenAtFirst, Ok(Property::Settles)),
        (M::SenseForgottenInCorrections, Ok(Property::Settles)),
        (M::ZeroPointForgotten, Ok(Property::Settles)),
        (M::ZeroPointAdded, Ok(Property::Settles)),
        (M::ResidualTurnedRound, Ok(Property::Settles)),
        (M::ResidualOverAWholeTurn, Ok(Property::Settles)),
        (M::ResidualTruncated, Ok(Property::Settles)),
        (M::ResidualNotReduced, Ok(Property::Settles)),
        (M::SymmetryTwoAlways, Ok(Property::Settles)),
        (M::WholeTurnsKept, Ok(Property::LongSwings)),
        (M::WholeTurnsTakenBetweenStops, Ok(Property::LongSwings)),
        (M::ShortWayAcrossStops, Ok(Property::Travel)),
        (M::ReadingForgotten, Ok(Property::Settles)),
        (
            M::CommandTakenForReading,
            Err("equivalent but for the step of the drive, which the next correction takes up"),
        ),
        (M::SignForgottenInTolerance, Ok(Property::Settles)),
        (M::ToleranceDoubled, Ok(Property::Settles)),
        (M::CorrectsTwice, Ok(Property::Settles)),
        (
            M::CorrectsHalf,
            Err("slower, and correct: the tolerance is met within the solves allowed"),
        ),
        (M::SolvesNotReset, Ok(Property::Settles)),
        (M::NeverGivesUp, Ok(Property::GivesUp)),
        (M::OneSolveTooMany, Ok(Property::GivesUp)),
        (M::GivesUpOnFailedSolve, Ok(Property::FailedSolve)),
        (M::DoneOnRefusal, Ok(Property::Refusal)),
        (M::RetriesRefusal, Ok(Property::GivesUp)),
        (M::NotANumberAtTheStart, Ok(Property::Finite)),
    ];
}

/// A controller of a wrap rule with one thing changed.
pub(crate) struct Mutant {
    rule: Rule,
    mutation: Mutation,
    told: Option<Brief>,
    reading_deg: f64,
    command_deg: f64,
    solves: u32,
}

impl Mutant {
    pub(crate) fn new(mutation: Mutation) -> Self {
        Self::of(Rule::HysteresisBand, mutation)
    }

    pub(crate) fn of(rule: Rule, mutation: Mutation) -> Self {
        Self {
            rule,
            mutation,
            told: None,
            reading_deg: 0.0,
            command_deg: 0.0,
            solves: 0,
        }
    }

    fn is(&self, mutation: Mutation) -> bool {
        self.mutation == mutation
    }

    fn brief(&self) -> Brief {
        self.told.clone().expect("a scenario has begun")
    }

    fn fold(&self, x: f64, start: f64, width: f64) -> f64 {
        let folded = fold(x, start, width).expect("finite");
        match self.mutation {
            M::TruncatedRemainder => start + (x - start) % width,
            M::EndOfArcIncluded if folded == start && x > start => start + width,
            M::OnePeriodTooLow => folded - width,
            M::OnePeriodTooHigh => folded + width,
            M::FoldsAboutTheCentre => {
                let centre = start + width / 2.0;
                centre + residual(x - centre, width).expect("finite")
            }
            M::FoldsFromZero => fold(x, 0.0, width).expect("finite"),
            M::HalfCircleAlways => fold(x, start, 180.0).expect("finite"),
            M::FoldsTwice if folded != x => folded + (folded - x),
            M::NotANumberAtTheStart if x == start => f64::NAN,
            _ => folded,
        }
    }

    fn command(&mut self, wanted: f64, first: bool) -> Action {
        let told = self.brief();
        let (start, width) = (told.arc_start_deg, told.arc_width_deg);
        let mut wanted = wanted;
        let endless = told.travel == Travel::Endless;
        if (endless && !self.is(M::WholeTurnsKept)) || self.is(M::WholeTurnsTakenBetweenStops) {
            let centre = start + width / 2.0;
            wanted = centre + residual(wanted - centre, 360.0).expect("finite");
        }
        let own = match self.rule {
            Rule::HysteresisBand => told.band_deg,
            Rule::FullCircle | Rule::HalfCircle => 0.0,
            Rule::FoldOnce => f64::INFINITY,
        };
        let positive = wanted >= 0.0;
        let (below, above) = match self.mutation {
            M::BandOnTheFirstMove => (told.band_deg, told.band_deg),
            M::FirstMoveNotFolded if first => (f64::INFINITY, f64::INFINITY),
            _ if first => (0.0, 0.0),
            M::BandForgotten => (0.0, 0.0),
            M::BandForgottenBelow => (0.0, own),
            M::BandForgottenAbove => (own, 0.0),
            M::BandForgottenWherePositive if positive => (0.0, 0.0),
            M::BandTwice => (2.0 * told.band_deg, 2.0 * told.band_deg),
            M::BandTwentyDegreesTooWide => (told.band_deg + 20.0, told.band_deg + 20.0),
            M::NeverFoldsAgain => (f64::INFINITY, f64::INFINITY),
            _ => (own, own),
        };
        // Without a band the arc itself is folded too, so that a fold that is wrong shows.
        let stays = (below > 0.0 || above > 0.0 || self.rule == Rule::HysteresisBand && !first)
            && (start - below..start + width + above).contains(&wanted);
        let mut command = if stays {
            wanted
        } else {
            self.fold(wanted, start, width)
        };
        if self.is(M::FoldsTowardsTheReading) {
            let by = residual(command - self.reading_deg, width).expect("finite");
            command = self.reading_deg + by;
        }
        if self.is(M::CorrectionsOnePeriodOff) && !stays && !first {
            command += width;
        }
        if self.is(M::ShortWayAcrossStops) {
            let by = residual(command - self.reading_deg, 360.0).expect("finite");
            command = self.reading_deg + by;
        }
        self.command_deg = command;
        Action::Move(Command::to(command))
    }
}

impl Controller for Mutant {
    fn begin(&mut self, brief: &Brief) -> Action {
        self.told = Some(brief.clone());
        self.reading_deg = brief.reading_deg;
        if !self.is(M::SolvesNotReset) {
            self.solves = 0;
        }
        let zero = match self.mutation {
            M::ZeroPointForgotten => 0.0,
            M::ZeroPointAdded => -brief.zero_point_deg,
            _ => brief.zero_point_deg,
        };
        let sense = match self.mutation {
            M::SenseForgotten | M::SenseForgottenAtFirst => 1.0,
            _ => brief.sense,
        };
        self.command(sense * (brief.target_deg - zero), true)
    }

    fn moved(&mut self, reading_deg: f64) -> Action {
        if !self.is(M::ReadingForgotten) {
            self.reading_deg = reading_deg;
        }
        Action::Solve
    }

    fn refused(&mut self) -> Action {
        match self.mutation {
            M::DoneOnRefusal => Action::Done,
            M::RetriesRefusal => Action::Move(Command::to(self.command_deg)),
            _ => Action::GiveUp,
        }
    }

    fn solve_failed(&mut self) -> Action {
        if self.is(M::GivesUpOnFailedSolve) {
            Action::GiveUp
        } else {
            Action::Solve
        }
    }

    fn solved(&mut self, _: f64, position_angle_deg: f64) -> Action {
        let told = self.brief();
        self.solves += 1;
        let off = told.target_deg - position_angle_deg;
        let period = match self.mutation {
            M::ResidualOverAWholeTurn => 360.0,
            M::SymmetryTwoAlways => 180.0,
            _ => 360.0 / f64::from(told.symmetry),
        };
        let error = match self.mutation {
            M::ResidualTurnedRound => residual(-off, period).expect("finite"),
            M::ResidualTruncated => off % period,
            M::ResidualNotReduced => off,
            _ => residual(off, period).expect("finite"),
        };
        let size = if self.is(M::SignForgottenInTolerance) {
            error
        } else {
            error.abs()
        };
        let tolerance = match self.mutation {
            M::ToleranceDoubled => 2.0 * told.tolerance_deg,
            _ => told.tolerance_deg,
        };
        if size <= tolerance {
            return Action::Done;
        }
        let most = match self.mutation {
            M::NeverGivesUp => u32::MAX,
            M::OneSolveTooMany => told.max_solves + 1,
            _ => told.max_solves,
        };
        if self.solves >= most {
            return Action::GiveUp;
        }
        let sense = match self.mutation {
            M::SenseForgotten | M::SenseForgottenInCorrections => 1.0,
            _ => told.sense,
        };
        let share = match self.mutation {
            M::CorrectsTwice => 2.0,
            M::CorrectsHalf => 0.5,
            _ => 1.0,
        };
        let from = match self.mutation {
            M::CommandTakenForReading => self.command_deg,
            _ => self.reading_deg,
        };
        self.command(from + share * sense * error, false)
    }
}
