//! A night of targets: timetable, meridian flips, the course of the rotator, and the night as one sequence.
//!
//! | file | from -> to |
//! |---|---|
//! | `given`, `order`, `timetable`, `usable` | targets, site, start -> stretches of time, each on one side of the mount |
//! | `best` | targets -> the order that loses least by the plan |
//! | `course` | stretches and a rule -> drive angles, readings, keep-outs that count |
//! | `weather`, `trial` | a course -> one night with its luck |
//! | `simulate`, `tally` | many nights -> figures with intervals, and the verdict on every stretch |
//! | `moonlight` | stretches -> the Moon and its distance |
//! | `sheet` | a plan under a rule -> the run sheet, and back from its file |
//! | `morning` | the frames of a night against its sheet |
//! | `plan` | all of it for several rules, and the best of them |

mod best;
mod course;
mod given;
mod moonlight;
mod morning;
mod order;
mod plan;
mod sheet;
mod simulate;
mod tally;
mod timetable;
mod trial;
mod usable;
mod weather;

pub use best::{ALL_ORDERS, BestOrder, best_order};
pub use course::{Course, Knowledge, Rotation, course};
pub use given::{Mount, Night, NightError, NightTarget, Setup};
pub use moonlight::Moonlight;
pub use morning::{Beside, Morning, Seen, ZeroPoint};
pub use order::Order;
pub use plan::{NightPlan, NightPlanError, NightRequest, RuleNight, plan_night};
pub use sheet::{Moves, RunSheet, SHEET_COLUMNS, SheetRow, read_sheet};
pub use simulate::simulate;
pub use tally::{NightSummary, StretchSummary};
pub use timetable::{Stretch, night_targets, timetable};
pub use usable::NotUsable;
pub use weather::{Clouds, Cloudy};
