//! How the state of a target looks: shape and colour, so that either tells it.

use plotters::style::RGBColor;

use super::legend::Key;
use super::sheet::Shape;
use super::style::{DARK_ORANGE, GREEN, ORANGE, PURPLE, WARNING};
use halfturn_engine::verdict::State;

/// The mark of a state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Look {
    pub(super) shape: Shape,
    pub(super) filled: bool,
    pub(super) colour: RGBColor,
    /// The same for words, which have to be darker.
    pub(super) ink: RGBColor,
}

/// The mark of a state.
pub(super) fn look(state: State) -> Look {
    let (shape, colour) = match state {
        State::TurnsThroughKeepOut => (Shape::Cross, WARNING),
        State::WindsTooFar => (Shape::Square, PURPLE),
        State::OutOfReach => (Shape::Cross, PURPLE),
        State::Hunts | State::NoSolution => (Shape::Diamond, WARNING),
        State::DoesNotSettle => (Shape::Square, WARNING),
        State::AtRisk => (Shape::Triangle, ORANGE),
        State::Safe => (Shape::Disc, GREEN),
    };
    Look {
        shape,
        filled: state != State::NoSolution,
        colour,
        ink: if state == State::AtRisk {
            DARK_ORANGE
        } else {
            colour
        },
    }
}

/// The marks of the states that there are, for a legend, the worst first.
pub(super) fn keys(states: impl Iterator<Item = State> + Clone) -> Vec<(Key, String)> {
    let there = |state: &State| states.clone().any(|s| s == *state);
    let key = |state: State| {
        let look = look(state);
        let mark = Key::Mark {
            shape: look.shape,
            colour: look.colour,
            filled: look.filled,
        };
        (mark, state.to_string())
    };
    State::ALL.into_iter().filter(there).map(key).collect()
}
