//! How the state of a target looks. Shape or colour alone tells it.

use super::style::RGBColor;

use super::legend::Key;
use super::style::{
    BROWN, COBALT, DARK_ORANGE, GREEN, MAGENTA, ORANGE, PURPLE, Shape, TEAL, WARNING,
};
use halfturn_engine::verdict::TargetState;

/// The mark of a state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Look {
    pub(super) shape: Shape,
    pub(super) filled: bool,
    pub(super) colour: RGBColor,
    /// A darker colour, for words.
    pub(super) ink: RGBColor,
}

/// The mark of a state.
pub(super) fn look(state: TargetState) -> Look {
    let (shape, colour) = match state {
        TargetState::TurnsThroughKeepOut => (Shape::Cross, BROWN),
        TargetState::WindsTooFar => (Shape::Square, TEAL),
        TargetState::OutOfReach => (Shape::Cross, PURPLE),
        TargetState::Hunts => (Shape::Diamond, WARNING),
        TargetState::NoSolution => (Shape::Diamond, COBALT),
        TargetState::DoesNotSettle => (Shape::Square, MAGENTA),
        TargetState::AtRisk => (Shape::Triangle, ORANGE),
        TargetState::Safe => (Shape::Disc, GREEN),
    };
    Look {
        shape,
        filled: state != TargetState::NoSolution,
        colour,
        ink: if state == TargetState::AtRisk {
            DARK_ORANGE
        } else {
            colour
        },
    }
}

/// The legend of the states that occur, worst first.
pub(super) fn keys(states: impl Iterator<Item = TargetState> + Clone) -> Vec<(Key, String)> {
    let there = |state: &TargetState| states.clone().any(|s| s == *state);
    let key = |state: TargetState| {
        let look = look(state);
        let mark = Key::Mark {
            shape: look.shape,
            colour: look.colour,
            filled: look.filled,
        };
        (mark, state.to_string())
    };
    TargetState::ALL
        .iter()
        .copied()
        .filter(there)
        .map(key)
        .collect()
}
