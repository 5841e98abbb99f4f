//! Rig file -> validated rig.
//!
//! [`read()`] turns the text of a rig file and any `--set` overrides into a [`Rig`]. [`RigSettings`] holds the same
//! before any check, for callers that build a rig in code.

mod check;
mod defaults;
mod error;
mod format;
mod input;
mod key_values;
mod keys;
mod numeric;
mod read;
mod schema;
mod settings;
mod source;
mod starter;
mod suggest;

pub use check::{Rig, Warning};
pub use error::RigError;
pub use format::{check_format, refusal};
pub use input::InputError;
pub use input::{escape_controls, is_printable_line};
pub use key_values::{KeyDifference, differences, rewrite_keeping_comments};
pub use keys::{Bound, KEYS, Key, ValueKind};
pub use numeric::NumericKey;
pub use read::read;
pub use schema::rig_schema;
#[cfg(feature = "schema")]
pub(crate) use schema::{PLAIN_LINE, whole_entries};
pub use settings::{
    Approach, DriveSettings, Framing, KeepOut, LoopSettings, Periodic, RigSettings, Rule, Sense,
    SolveSettings, TravelKind, When, WrapSettings,
};
pub use starter::commented;

/// The text of the built-in demo rig.
pub const DEMO_RIG: &str = include_str!("../../../../assets/demo-rig.toml");

/// The name of the built-in demo rig in messages.
pub const DEMO_RIG_NAME: &str = "demo-rig.toml (built in)";
