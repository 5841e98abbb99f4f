/// What a plan is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Wanted half width of the 95 % interval of every error of the mechanics \[deg\]. For the gain error: its effect
    /// over half a turn.
    pub accuracy_deg: f64,
    /// Lowest reading \[deg\]; `None` for the lowest of a turn that the drive can safely reach.
    pub from_deg: Option<f64>,
    /// Highest reading \[deg\]; `None` for the highest of a turn that the drive can safely reach.
    pub to_deg: Option<f64>,
    /// What the plan should find out with this accuracy.
    pub goal: Goal,
}

/// What a plan finds out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Every error separately.
    Errors,
    /// The position angle at every reading of the arc, and the backlash. Over part of a turn this needs far fewer
    /// solves, because errors that look alike there need no separating.
    Angles,
}
