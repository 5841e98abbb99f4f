//! Colours, type sizes and line patterns of all pictures.
//!
//! The colours differ in lightness as well as in hue. Dash, shape or words repeat every distinction, and no reader
//! depends on colour.

/// Red, green and blue (sRGB).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct RGBColor(pub(super) u8, pub(super) u8, pub(super) u8);

/// Background.
pub(super) const PAPER: RGBColor = RGBColor(251, 250, 247);
/// Text and emphasised lines.
pub(super) const INK: RGBColor = RGBColor(33, 37, 43);
/// Secondary text.
pub(super) const MUTED: RGBColor = RGBColor(93, 99, 107);
/// Axis lines and leaders.
pub(super) const RULE: RGBColor = RGBColor(168, 168, 162);
/// Grid lines.
pub(super) const GRID: RGBColor = RGBColor(231, 228, 220);
/// The outside of the allowed arc.
pub(super) const OUTSIDE: RGBColor = RGBColor(238, 233, 226);

/// Moves; the state after the advice.
pub(super) const BLUE: RGBColor = RGBColor(30, 84, 148);
/// The allowed arc.
pub(super) const PALE_BLUE: RGBColor = RGBColor(158, 190, 222);
/// The band around the arc.
pub(super) const FAINT_BLUE: RGBColor = RGBColor(214, 226, 238);
/// Within tolerance, safe.
pub(super) const GREEN: RGBColor = RGBColor(47, 133, 90);
/// The tolerance zone.
pub(super) const PALE_GREEN: RGBColor = RGBColor(214, 233, 219);
/// Things that are neither good nor bad: times, the present value, one of two directions.
pub(super) const SLATE: RGBColor = RGBColor(93, 112, 133);
/// At risk.
pub(super) const ORANGE: RGBColor = RGBColor(221, 134, 28);
/// Words for "at risk", dark enough to read.
pub(super) const DARK_ORANGE: RGBColor = RGBColor(158, 88, 6);
/// Long swings, hunting.
pub(super) const WARNING: RGBColor = RGBColor(190, 48, 28);
/// Out of reach; targets.
pub(super) const PURPLE: RGBColor = RGBColor(112, 66, 150);
/// Turns through a keep-out. This and the next three are those of palette.css.
pub(super) const BROWN: RGBColor = RGBColor(90, 58, 34);
/// Winds the cable too far.
pub(super) const TEAL: RGBColor = RGBColor(11, 114, 133);
/// Does not settle.
pub(super) const MAGENTA: RGBColor = RGBColor(176, 32, 126);
/// Finds no solution.
pub(super) const COBALT: RGBColor = RGBColor(37, 88, 184);
pub(super) const KEEP_OUT: RGBColor = RGBColor(84, 78, 74);

/// Sizes of type: the em in units of the sheet.
pub(super) mod size {
    /// Title of a picture.
    pub(crate) const TITLE: f64 = 18.0;
    /// Title of a part.
    pub(crate) const SUBTITLE: f64 = 15.0;
    /// Names of axes, direct labels.
    pub(crate) const LABEL: f64 = 13.0;
    /// Ticks, legends, names of targets.
    pub(crate) const TICK: f64 = 12.0;
    /// Remarks.
    pub(crate) const SMALL: f64 = 11.0;
}

/// A small mark at a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Disc,
    Square,
    Triangle,
    Diamond,
    Cross,
}

/// Lengths of strokes and gaps in turn; empty for a solid line.
pub(super) type Dash = &'static [f64];

/// A solid line.
pub(super) const SOLID: Dash = &[];
/// Edges of bands, levels.
pub(super) const DASHED: Dash = &[6.0, 4.0];
/// Equivalents of the target.
pub(super) const DOTTED: Dash = &[2.0, 3.0];

/// The look of one of several lines, in greys, because the hues belong to states.
#[derive(Debug, Clone, Copy)]
pub(super) struct Series {
    pub(super) colour: RGBColor,
    pub(super) dash: Dash,
    pub(super) shape: Shape,
}

impl Series {
    /// Solid lines are wider, to show at both sides of a broken line on the same path.
    pub(super) fn width(self) -> f64 {
        if self.dash.is_empty() { 3.4 } else { 2.2 }
    }
}

const SERIES: [Series; 4] = [
    Series {
        colour: INK,
        dash: SOLID,
        shape: Shape::Disc,
    },
    Series {
        colour: SLATE,
        dash: &[11.0, 4.0],
        shape: Shape::Square,
    },
    Series {
        colour: RGBColor(136, 152, 168),
        dash: &[3.0, 3.0],
        shape: Shape::Triangle,
    },
    Series {
        colour: RGBColor(61, 84, 107),
        dash: &[12.0, 4.0, 3.0, 4.0],
        shape: Shape::Diamond,
    },
];

/// The look of line `index`. From the fifth on colours repeat, and dashes shift against them.
pub(super) fn series(index: usize) -> Series {
    let round = index / SERIES.len();
    let other = SERIES[(index + round) % SERIES.len()];
    Series {
        colour: SERIES[index % SERIES.len()].colour,
        ..other
    }
}
