//! A night of targets: timetable, meridian flips, the course of the rotator, and the night as one sequence.
//!
//! | file | from -> to |
//! |---|---|
//! | `given`, `order`, `timetable`, `usable` | targets, site, start -> stretches of time, each on one side of the mount |
//! | `course` | stretches and a rule -> drive angles, readings, keep-outs that count |
//! | `weather`, `trial` | a course -> one night with its luck |
//! | `simulate`, `tally` | many nights -> figures with intervals, and the verdict on every stretch |
//! | `plan` | all of it for several rules, and the best of them |

mod course;
mod given;
mod order;
mod plan;
mod simulate;
mod tally;
mod timetable;
mod trial;
mod usable;
mod weather;

pub use course::{Course, Knowledge, Rotation, course};
pub use given::{Mount, Night, NightError, NightTarget};
pub use order::Order;
pub use plan::{NightPlan, NightPlanError, NightRequest, RuleNight, plan_night};
pub use simulate::simulate;
pub use tally::{NightSummary, StretchSummary};
pub use timetable::{Stretch, night_targets, timetable};
pub use usable::NotUsable;
pub use weather::{Clouds, Cloudy};
