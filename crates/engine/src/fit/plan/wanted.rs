//! What a plan is for.

/// What a plan is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Half the width of the 95 % interval of every error of the mechanics \[deg\]; of the gain error, over half a turn.
    pub accuracy_deg: f64,
    /// Lowest reading \[deg\]; `None`: the lowest of a turn that the drive can safely go to.
    pub from_deg: Option<f64>,
    /// Highest reading \[deg\].
    pub to_deg: Option<f64>,
    /// What is to be known so well.
    pub goal: Goal,
}

/// What a plan makes known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Every error by itself.
    Errors,
    /// The position angle at every reading of the arc, and the backlash. Over part of a turn this takes far fewer solves: errors that
    /// look alike there need not be told apart.
    Angles,
}
