//! The judgement of `halfturn judge`, for use in `cargo test`.

use super::case::CaseError;
use super::family::{Base, Family, cases};
use super::margin::{EndMargin, MarginError, margin};
use super::shrink::{FailingExample, shrink};
use super::subject::InProcess;
use super::suite::{SuiteOutcome, run_session};
use crate::controller::Controller;
use crate::rig::{Rig, RigError, Rule};
use crate::sample::Unattended;

/// What to judge with.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckRequest {
    /// The rigs.
    pub base: Base,
    /// Families of scenarios.
    pub families: Vec<Family>,
    /// The wrap rule that the controller claims to follow; `None` for any.
    pub rule: Option<Rule>,
    /// Seed of the scenarios.
    pub seed: u64,
    /// Number of scenarios.
    pub scenarios: usize,
}

impl Default for CheckRequest {
    /// 2000 scenarios of all families on the graded set of rigs.
    fn default() -> Self {
        Self {
            base: Base::Graded,
            families: Family::ALL.to_vec(),
            rule: None,
            seed: 1,
            scenarios: 2000,
        }
    }
}

/// The result.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// The session.
    pub session: SuiteOutcome,
    /// For every property that failed, the simplest scenario found.
    pub examples: Vec<FailingExample>,
}

/// Why a controller cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CheckError {
    /// The settings make no rig.
    #[error(transparent)]
    Rig(#[from] RigError),
    /// The request has no scenario, or the rig allows none of the families.
    #[error("no scenario to play")]
    NoScenario,
    /// A scenario cannot be played.
    #[error("scenario {0}: {1}")]
    Scenario(usize, CaseError),
}

impl Judgement {
    /// Whether every property held in every scenario.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.session.passed()
    }

    /// For every property that failed: in how many scenarios, and what happened in the simplest one; empty for a
    /// pass.
    #[must_use]
    pub fn complaints(&self) -> Vec<String> {
        let by_property = self.session.by_property();
        self.examples
            .iter()
            .map(|e| {
                let count = by_property.get(&e.property).map_or(0, |f| f.0);
                let detail = e.played.failures.iter().find(|f| f.property == e.property);
                format!(
                    "{} failed in {count} scenarios: {} {}",
                    e.property,
                    detail.map_or("it depends on earlier scenarios", |f| &f.detail),
                    e.property.why()
                )
            })
            .collect()
    }

    /// What no property forbids though no wrap rule does it, in how many scenarios, and what happened in the first.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        self.session.warnings()
    }
}

/// Judges the controllers that `make` makes, by the same scenarios and properties as `halfturn judge`.
///
/// One controller is kept over all scenarios, as in a night; another is made after a panic or a scenario that the
/// judge had to cut short. It must count its solves: to ask for one more than [`crate::controller::Brief::max_solves`]
/// is a failure.
///
/// # Errors
/// [`CheckError`] where there is nothing to play.
///
/// # Example
/// ```
/// use halfturn_engine::controller::{Action, Brief, Command, Controller};
/// use halfturn_engine::judge::{Property, CheckRequest, check};
///
/// /// Folds the first move into the arc; corrections fold only beyond the band, if `band` is true.
/// #[derive(Default)]
/// struct Mine {
///     brief: Option<Brief>,
///     solves: u32,
///     band: bool,
/// }
///
/// impl Mine {
///     fn command(brief: &Brief, wanted: f64, band: f64) -> Action {
///         let (start, width) = (brief.arc_start_deg, brief.arc_width_deg);
///         let mut wanted = wanted;
///         if brief.travel == halfturn_engine::plant::Travel::Endless {
///             let centre = start + width / 2.0;
///             wanted = centre + halfturn_engine::angle::residual(wanted - centre, 360.0).unwrap_or(0.0);
///         }
///         if !(start - band..start + width + band).contains(&wanted) {
///             wanted = halfturn_engine::angle::fold(wanted, start, width).unwrap_or(start);
///         }
///         Action::Move(Command::to(wanted))
///     }
/// }
///
/// impl Controller for Mine {
///     fn begin(&mut self, brief: &Brief) -> Action {
///         (self.brief, self.solves) = (Some(brief.clone()), 0);
///         Self::command(brief, brief.sense * (brief.target_deg - brief.zero_point_deg), 0.0)
///     }
///
///     fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
///         let Some(brief) = &self.brief else {
///             return Action::GiveUp;
///         };
///         self.solves += 1;
///         let period = 360.0 / f64::from(brief.symmetry);
///         let error = halfturn_engine::angle::residual(brief.target_deg - position_angle_deg, period);
///         match error {
///             Ok(error) if error.abs() <= brief.tolerance_deg => Action::Done,
///             Ok(error) if self.solves < brief.max_solves => {
///                 let band = if self.band { brief.band_deg } else { 0.0 };
///                 Self::command(brief, reading_deg + brief.sense * error, band)
///             }
///             _ => Action::GiveUp,
///         }
///     }
/// }
///
/// let request = CheckRequest::default();
/// let right = check(|| Mine { band: true, ..Mine::default() }, &request)?;
/// assert!(right.passed(), "{:#?}", right.complaints());
///
/// // Without the band it hunts at the seam.
/// let wrong = check(Mine::default, &request)?;
/// assert!(wrong.session.by_property().contains_key(&Property::LongSwings));
/// # Ok::<(), halfturn_engine::judge::CheckError>(())
/// ```
pub fn check<C: Controller>(
    make: impl FnMut() -> C,
    request: &CheckRequest,
) -> Result<Judgement, CheckError> {
    if let Base::Rig(settings) = &request.base {
        Rig::new((**settings).clone())?;
    }
    let cases = cases(
        &request.base,
        &request.families,
        request.rule,
        request.seed,
        request.scenarios,
    );
    if cases.is_empty() {
        return Err(CheckError::NoScenario);
    }
    let mut subject = InProcess::new(make);
    let session = run_session(&cases, 0, &mut subject, &Unattended)
        .map_err(|(i, e)| CheckError::Scenario(i + 1, e))?;
    let examples = session
        .by_property()
        .into_iter()
        .filter_map(|(property, (_, number))| {
            let case = &session.judged[number].case;
            shrink(case, number, property, &mut subject, &Unattended)
        })
        .collect();
    Ok(Judgement { session, examples })
}

/// How far the controllers that `make` makes are from hunting, at the lower end of the arc and at the upper one. The
/// request's rig and rule count, its scenarios don't.
///
/// # Errors
/// [`MarginError`] if the controller cannot be asked like a function.
pub fn check_margin<C: Controller>(
    make: impl FnMut() -> C,
    request: &CheckRequest,
) -> Result<[EndMargin; 2], MarginError> {
    let mut subject = InProcess::new(make);
    margin(
        &request.base,
        request.rule,
        &mut subject,
        &Unattended,
        |_| {},
    )
}
