//! A night of targets: timetable, meridian flips, the course of the rotator, its cost, and the night as one sequence.
//!
//! | file | from -> to |
//! |---|---|
//! | `order`, `timetable` | targets, site, start -> stretches of time, each on one side of the mount |
//! | `course` | stretches and a rule -> drive angles, readings, keep-outs that count |
//! | `cost` | a course -> the expected time of every rotation, by solving its loop |
//! | `weather`, `trial` | a course -> one night with its luck |
//! | `simulate`, `tally` | many nights -> figures with intervals |
//! | `plan` | all of it for several rules |

mod cost;
mod course;
mod order;
mod plan;
mod simulate;
mod tally;
mod timetable;
mod trial;
mod weather;

pub use cost::{Cost, costs};
pub use course::{Course, Knowledge, Rotation, course};
pub use order::Order;
pub use plan::{NightPlan, NightRequest, PlanError, RuleNight, plan_night};
pub use simulate::simulate;
pub use tally::{NightSummary, StretchSummary};
pub use timetable::{Mount, Night, NightError, NightTarget, Stretch, night_targets, timetable};
pub use weather::{Clouds, Cloudy};
