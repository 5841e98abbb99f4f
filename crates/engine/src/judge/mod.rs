//! Judging a controller: scenarios with a right answer, played against a controller in this process or
//! another, and the properties that must hold in each (docs/judge.md).

mod case;
mod check;
mod coverage;
mod family;
mod limits;
mod margin;
mod property;
pub mod protocol;
mod reference;
mod session;
mod shrink;
mod subject;
mod suite;
mod vectors;

pub use case::{Case, CaseError, Expect};
pub use check::{CheckError, CheckRequest, Judgement, check, check_margin};
pub use coverage::{Coverage, Pair};
pub use family::{Base, Family, TooSteep, cases, graded};
pub use limits::{CUT, excursion_deg, rest_deg, shaft_error_deg, slope, true_error_limit_deg};
pub use margin::{EndMargin, MarginError, margin};
pub use property::{Failure, Property, Remark};
pub use reference::Reference;
pub use session::{Played, play};
pub use shrink::{FailingExample, shrink, size};
pub use subject::{Answer, Event, FaultKind, InProcess, Subject, SubjectFault};
pub use suite::{JudgedCase, MOST_LATE, MOST_RESTARTS, SuiteOutcome, run_session};
pub use vectors::{Vector, vectors};

#[cfg(test)]
mod tests;
