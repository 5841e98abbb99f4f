//! The lines between the judge and a controller in another process: JSON, one object a line (docs/judge.md).

use serde::Serialize;
use serde_json::Value;

use super::subject::{Answer, Event, FaultKind, SubjectFault};
use crate::controller::Brief;
use crate::plant::Travel;
use crate::rig::{Sense, TravelKind};

/// Longest line that is read \[bytes\].
pub const MOST_LINE_BYTES: usize = 64 * 1024;

/// Most characters of a line that a message shows.
const SHOWN: usize = 120;

/// The first event of a scenario. Its keys come in the order of the documentation.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend(
    "if" = { "properties": { "travel": { "const": "stops" } } },
    "then" = { "required": ["stop_from_deg", "stop_to_deg"] },
    "else" = { "properties": { "stop_from_deg": false, "stop_to_deg": false } },
)))]
pub struct Begin {
    /// Wanted position angle \[deg\].
    target_deg: f64,
    /// Largest accepted residual \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    tolerance_deg: f64,
    /// Start of the allowed arc \[deg\].
    arc_start_deg: f64,
    /// Width of the arc, which is half open \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    arc_width_deg: f64,
    /// How far a command may leave the arc on both sides \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    band_deg: f64,
    /// Number of orientations in a turn that frame the same field.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, 2, 4])))]
    symmetry: u32,
    /// What limits the travel.
    travel: TravelKind,
    /// Believed position angle at drive angle 0 \[deg\].
    zero_point_deg: f64,
    /// Believed sense.
    sense: Sense,
    /// Current reading of the drive \[deg\].
    reading_deg: f64,
    /// Good solves that the controller may use.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    max_solves: u32,
    /// Lower stop \[deg\]; only between stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    stop_from_deg: Option<f64>,
    /// Upper stop \[deg\]; only between stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    stop_to_deg: Option<f64>,
}

impl Begin {
    fn of(brief: &Brief) -> Self {
        let stops = match brief.travel {
            Travel::Endless => None,
            Travel::Stops { lo_deg, hi_deg } => Some((lo_deg, hi_deg)),
        };
        Self {
            target_deg: brief.target_deg,
            tolerance_deg: brief.tolerance_deg,
            arc_start_deg: brief.arc_start_deg,
            arc_width_deg: brief.arc_width_deg,
            band_deg: brief.band_deg,
            symmetry: brief.symmetry,
            travel: match stops {
                None => TravelKind::Endless,
                Some(_) => TravelKind::Stops,
            },
            zero_point_deg: brief.zero_point_deg,
            sense: if brief.sense < 0.0 {
                Sense::Reversed
            } else {
                Sense::Same
            },
            reading_deg: brief.reading_deg,
            max_solves: brief.max_solves,
            stop_from_deg: stops.map(|s| s.0),
            stop_to_deg: stops.map(|s| s.1),
        }
    }
}

/// A line that `judge` writes to a controller. Ignore unknown keys: later versions may add some.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "event", rename_all = "kebab-case")]
pub enum Line {
    /// A scenario begins.
    Begin(Begin),
    /// The drive has moved.
    Moved {
        /// Where it stopped \[deg\].
        reading_deg: f64,
    },
    /// A command was refused.
    Refused {
        /// Why.
        why: &'static str,
    },
    /// A good solve.
    Solved {
        /// Measured position angle \[deg\].
        #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
        position_angle_deg: f64,
    },
    /// An attempt to solve failed.
    SolveFailed,
    /// The session ends.
    End,
}

impl Line {
    /// The text of the line, with its line feed.
    #[must_use]
    pub fn text(&self) -> String {
        serde_json::to_string(self).expect("an object of numbers and texts") + "\n"
    }
}

/// An event as a line, with its line feed.
#[must_use]
pub fn event_line(event: &Event<'_>) -> String {
    let line = match *event {
        Event::Begin(brief) => Line::Begin(Begin::of(brief)),
        Event::Moved { reading_deg } => Line::Moved { reading_deg },
        Event::Refused { why } => Line::Refused { why },
        Event::Solved {
            position_angle_deg, ..
        } => Line::Solved { position_angle_deg },
        Event::SolveFailed => Line::SolveFailed,
    };
    line.text()
}

/// Reads a line of the controller. Unknown keys are ignored.
///
/// # Errors
/// [`SubjectFault`] of the kind [`FaultKind::NotFinite`] or [`FaultKind::Nonsense`].
pub fn read_answer(line: &[u8]) -> Result<Answer, SubjectFault> {
    let nonsense = |problem: &str| {
        Err(SubjectFault::new(
            FaultKind::Nonsense,
            format!("{problem}: {}", shown(line)),
        ))
    };
    let Ok(text) = std::str::from_utf8(line) else {
        return nonsense("the line is not UTF-8");
    };
    if text.trim().is_empty() {
        return nonsense("the line is empty");
    }
    let value: Value = match serde_json::from_str(text) {
        Ok(value) => value,
        Err(error) => {
            let names = ["NaN", "nan", "Infinity", "inf"];
            if names.iter().any(|n| text.contains(n)) || error.to_string().contains("out of range")
            {
                return Err(not_finite(text));
            }
            return nonsense("the line is not JSON");
        }
    };
    let Value::Object(object) = &value else {
        return nonsense("the line is no JSON object");
    };
    let Some(action) = object.get("do") else {
        return nonsense("the key \"do\" is missing");
    };
    match action.as_str() {
        Some("move") => match object.get("drive_deg") {
            Some(Value::Number(number)) => match number.as_f64().filter(|x| x.is_finite()) {
                Some(drive_deg) => Ok(Answer::Move(drive_deg)),
                None => Err(not_finite(text)),
            },
            // Several languages write null for NaN.
            Some(Value::Null) => Err(not_finite(text)),
            Some(Value::String(word)) if !word.parse::<f64>().map_or(true, f64::is_finite) => {
                Err(not_finite(text))
            }
            Some(_) => nonsense("\"drive_deg\" must be a number"),
            None => nonsense("the key \"drive_deg\" is missing"),
        },
        Some("solve") => Ok(Answer::Solve),
        Some("done") => Ok(Answer::Done),
        Some("give-up") => Ok(Answer::GiveUp(
            object
                .get("why")
                .and_then(Value::as_str)
                .map(|why| shown(why.as_bytes()))
                .unwrap_or_default(),
        )),
        _ => nonsense("\"do\" must be \"move\", \"solve\", \"done\" or \"give-up\""),
    }
}

fn not_finite(text: &str) -> SubjectFault {
    SubjectFault::new(
        FaultKind::NotFinite,
        format!(
            "the angle is not a finite number: {}",
            shown(text.as_bytes())
        ),
    )
}

/// The beginning of a text, as one printable line.
#[must_use]
pub fn shown(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(&bytes[..bytes.len().min(4 * SHOWN)]);
    let text = crate::rig::escape_controls(text.trim());
    if text.chars().count() > SHOWN || bytes.len() > 4 * SHOWN {
        text.chars().take(SHOWN).chain(['…']).collect()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (judge): the lines of the protocol; the session on the page. With: `answers_are_read`,
    /// `judge::the_page_is_true`. Source: none: own rule.
    #[test]
    fn events_are_the_lines_of_the_contract() {
        let brief = Brief {
            target_deg: 0.0,
            tolerance_deg: 0.5,
            arc_start_deg: -0.0,
            arc_width_deg: 180.0,
            band_deg: 0.0,
            symmetry: 2,
            travel: Travel::Endless,
            zero_point_deg: 0.0,
            sense: 1.0,
            reading_deg: 90.0,
            max_solves: 20,
        };
        let begin = "{\"event\":\"begin\",\"target_deg\":0.0,\"tolerance_deg\":0.5,\"arc_start_deg\":-0.0,\"arc_width_deg\":180.0,\"band_deg\":0.0,\"symmetry\":2,\"travel\":\"endless\",\"zero_point_deg\":0.0,\"sense\":1,\"reading_deg\":90.0,\"max_solves\":20}\n";
        assert_eq!(event_line(&Event::Begin(&brief)), begin);
        let stops = Brief {
            travel: Travel::Stops {
                lo_deg: -10.0,
                hi_deg: 190.0,
            },
            ..brief
        };
        let line = event_line(&Event::Begin(&stops));
        assert!(
            line.contains("\"travel\":\"stops\"")
                && line.ends_with("\"stop_from_deg\":-10.0,\"stop_to_deg\":190.0}\n"),
            "{line}"
        );
        let others = [
            (
                Event::Moved { reading_deg: 0.0 },
                "{\"event\":\"moved\",\"reading_deg\":0.0}\n",
            ),
            (
                Event::Refused {
                    why: "outside the stops",
                },
                "{\"event\":\"refused\",\"why\":\"outside the stops\"}\n",
            ),
            (
                Event::Solved {
                    reading_deg: 0.0,
                    position_angle_deg: 359.5,
                },
                "{\"event\":\"solved\",\"position_angle_deg\":359.5}\n",
            ),
            (Event::SolveFailed, "{\"event\":\"solve-failed\"}\n"),
        ];
        for (event, line) in others {
            assert_eq!(event_line(&event), line);
        }
    }

    #[test]
    fn answers_are_read() {
        let good = [
            ("{\"do\":\"move\",\"drive_deg\":-0.0}", Answer::Move(-0.0)),
            (
                "{\"drive_deg\":360,\"do\":\"move\",\"note\":[1]}",
                Answer::Move(360.0),
            ),
            (
                " {\"do\":\"move\",\"drive_deg\":1e300}\r",
                Answer::Move(1e300),
            ),
            ("{\"do\":\"solve\"}", Answer::Solve),
            ("{\"do\":\"done\",\"why\":7}", Answer::Done),
            ("{\"do\":\"give-up\"}", Answer::GiveUp(String::new())),
            (
                "{\"do\":\"give-up\",\"why\":\"fog\"}",
                Answer::GiveUp("fog".to_owned()),
            ),
        ];
        for (line, answer) in good {
            assert_eq!(read_answer(line.as_bytes()), Ok(answer), "{line}");
        }
        let bad: [(&[u8], FaultKind); 15] = [
            (b"{\"do\":\"move\",\"drive_deg\":NaN}", FaultKind::NotFinite),
            (
                b"{\"do\":\"move\",\"drive_deg\":-Infinity}",
                FaultKind::NotFinite,
            ),
            (
                b"{\"do\":\"move\",\"drive_deg\":1e999}",
                FaultKind::NotFinite,
            ),
            (
                b"{\"do\":\"move\",\"drive_deg\":null}",
                FaultKind::NotFinite,
            ),
            (
                b"{\"do\":\"move\",\"drive_deg\":\"inf\"}",
                FaultKind::NotFinite,
            ),
            (
                b"{\"do\":\"move\",\"drive_deg\":\"3\"}",
                FaultKind::Nonsense,
            ),
            (b"{\"do\":\"move\",\"drive_deg\":[3]}", FaultKind::Nonsense),
            (b"{\"do\":\"move\"}", FaultKind::Nonsense),
            (b"{\"do\":\"jump\"}", FaultKind::Nonsense),
            (b"{\"do\":1}", FaultKind::Nonsense),
            (b"{}", FaultKind::Nonsense),
            (b"[]", FaultKind::Nonsense),
            (b"", FaultKind::Nonsense),
            (b"{\"do\":\"solve\"", FaultKind::Nonsense),
            (b"\xff\xfe", FaultKind::Nonsense),
        ];
        for (line, kind) in bad {
            let read = read_answer(line);
            assert_eq!(
                read.as_ref().map_err(|f| f.kind),
                Err(kind),
                "{}",
                String::from_utf8_lossy(line)
            );
        }
    }
}
