//! Test vectors of the wrap rules (docs/model.md, section 5), for testing a function rather than a program.

use serde::Serialize;

use crate::angle::{TURN_DEG, residual_finite};
use crate::controller::Wrap;
use crate::plant::Travel;
use crate::rig::{Rule, TravelKind};

/// Within this distance of an end of the arc or of the band, rounding may decide \[deg\].
const EDGE_DEG: f64 = 1e-9;

/// One application of a wrap rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Vector {
    /// Number, from 1.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub id: u32,
    /// The rule.
    pub rule: Rule,
    /// Whether the command is a correction; else it is the first move of a run.
    pub correction: bool,
    /// Current reading of the drive \[deg\].
    pub reading_deg: f64,
    /// Where the controller wants to go \[deg\].
    pub wanted_deg: f64,
    /// Start of the arc \[deg\].
    pub arc_start_deg: f64,
    /// Period of equivalent framings, and width of the arc \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    pub period_deg: f64,
    /// Band around the arc \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub band_deg: f64,
    /// What limits the travel.
    pub travel: TravelKind,
    /// Lower stop \[deg\]; `None` for an endless drive.
    pub stop_from_deg: Option<f64>,
    /// Upper stop \[deg\]; `None` for an endless drive.
    pub stop_to_deg: Option<f64>,
    /// The command \[deg\].
    pub command_deg: f64,
    /// Whether the command is another angle than the wanted one. With endless travel, whole turns make no difference.
    pub folded: bool,
    /// How far the drive turns \[deg\]: the short way, in `(-180, 180]`, or along the line between stops.
    pub move_deg: f64,
    /// Whether the command lies outside the stops, and nothing moves.
    pub refused: bool,
    /// Whether the wanted angle lies within 1e-9 deg of a change of the rule. Rounding may then decide between
    /// equivalent commands.
    pub edge: bool,
}

/// All vectors, always the same.
#[must_use]
pub fn vectors() -> Vec<Vector> {
    let mut all = Vec::new();
    for &rule in Rule::ALL {
        for correction in [false, true] {
            for (period_deg, start_deg) in arcs(rule) {
                for &band_deg in bands(rule) {
                    for travel in travels(start_deg, period_deg) {
                        all.push(Arc {
                            rule,
                            correction,
                            start_deg,
                            period_deg,
                            band_deg,
                            travel,
                        });
                    }
                }
            }
        }
    }
    let of = |arc: &Arc, wanted: Vec<f64>| -> Vec<Vector> {
        let numbered = wanted.into_iter().enumerate();
        numbered.map(|(i, w)| arc.vector(i, w)).collect()
    };
    let mut out: Vec<Vector> = all.iter().flat_map(|a| of(a, a.wanted())).collect();
    // After the others, whose numbers stay.
    out.extend(all.iter().flat_map(|a| of(a, a.about_the_band())));
    for (id, vector) in (1..).zip(&mut out) {
        vector.id = id;
    }
    out
}

fn arcs(rule: Rule) -> Vec<(f64, f64)> {
    let periods: &[f64] = match rule {
        Rule::FullCircle => &[360.0],
        Rule::HalfCircle | Rule::HysteresisBand | Rule::FoldOnce => &[180.0, 90.0],
    };
    let starts = [0.0, -0.0, 37.5, -90.0, 276.5];
    let both = |p: &f64| starts.map(|s| (*p, s));
    periods.iter().flat_map(both).collect()
}

fn bands(rule: Rule) -> &'static [f64] {
    match rule {
        Rule::HysteresisBand => &[0.0, 2.5],
        Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => &[0.0],
    }
}

fn travels(start_deg: f64, period_deg: f64) -> [Travel; 2] {
    // The upper end of the band lies beyond the stop, so that some commands are refused.
    let (lo_deg, hi_deg) = (start_deg - 10.0, start_deg + period_deg + 1.0);
    [Travel::Endless, Travel::Stops { lo_deg, hi_deg }]
}

struct Arc {
    rule: Rule,
    correction: bool,
    start_deg: f64,
    period_deg: f64,
    band_deg: f64,
    travel: Travel,
}

impl Arc {
    /// The angles at which something changes, their neighbours in floating point, and some between.
    fn wanted(&self) -> Vec<f64> {
        let (start, end) = (self.start_deg, self.start_deg + self.period_deg);
        let mut out = vec![0.0, -0.0, 1e-17, -1e-17, 360.0, 720.25, -720.25, 359_999.5];
        let places = [
            start,
            end,
            start - self.band_deg,
            end + self.band_deg,
            start + 0.5 * self.period_deg,
            start - self.period_deg,
            end + self.period_deg,
        ];
        for place in places {
            out.extend([place, place.next_down(), place.next_up()]);
        }
        out.extend([start + 0.25, end - 0.25, start - 0.25, end + 0.25]);
        out.extend([start - 0.3 * self.period_deg, end + 0.7 * self.period_deg]);
        let mut seen = std::collections::HashSet::new();
        out.retain(|x| seen.insert(x.to_bits()));
        out
    }

    /// Angles within the band and beyond it, where a band of another width shows.
    fn about_the_band(&self) -> Vec<f64> {
        let beyond_deg = [-0.5 * self.band_deg, -0.2, 0.2, 1.0, 5.0, 20.0];
        let both = |beyond_deg: f64| {
            let out_deg = self.band_deg + beyond_deg;
            let end_deg = self.start_deg + self.period_deg;
            [self.start_deg - out_deg, end_deg + out_deg]
        };
        // Without a band its middle is the end of the arc, which is among the others.
        let none = usize::from(self.band_deg == 0.0);
        beyond_deg.into_iter().skip(none).flat_map(both).collect()
    }

    fn vector(&self, number: usize, wanted_deg: f64) -> Vector {
        let wrap = Wrap::new(
            self.rule,
            self.start_deg,
            self.period_deg,
            self.band_deg,
            self.travel,
        );
        let command = if self.correction {
            wrap.correction(wanted_deg)
        } else {
            wrap.first(wanted_deg)
        };
        let inside = self.start_deg + [0.25, 0.5, 0.875][number % 3] * self.period_deg;
        let (reading_deg, stops_deg, refused, move_deg) = match self.travel {
            Travel::Endless => {
                let reading_deg = inside + [0.0, TURN_DEG, -TURN_DEG][number / 3 % 3];
                let way_deg = residual_finite(command.drive_deg - reading_deg, TURN_DEG);
                (reading_deg, None, false, way_deg)
            }
            Travel::Stops { lo_deg, hi_deg } => {
                let refused = !(lo_deg..=hi_deg).contains(&command.drive_deg);
                let way_deg = if refused {
                    0.0
                } else {
                    command.drive_deg - inside
                };
                (inside, Some((lo_deg, hi_deg)), refused, way_deg)
            }
        };
        let by_deg = command.drive_deg - wanted_deg;
        let folded = match self.travel {
            Travel::Endless => residual_finite(by_deg, TURN_DEG).abs() > EDGE_DEG,
            Travel::Stops { .. } => by_deg.abs() > EDGE_DEG,
        };
        Vector {
            id: 0,
            rule: self.rule,
            correction: self.correction,
            reading_deg,
            wanted_deg,
            arc_start_deg: self.start_deg,
            period_deg: self.period_deg,
            band_deg: self.band_deg,
            travel: match self.travel {
                Travel::Endless => TravelKind::Endless,
                Travel::Stops { .. } => TravelKind::Stops,
            },
            stop_from_deg: stops_deg.map(|s| s.0),
            stop_to_deg: stops_deg.map(|s| s.1),
            command_deg: command.drive_deg,
            folded,
            move_deg,
            refused,
            edge: self.edge(wanted_deg),
        }
    }

    fn edge(&self, wanted_deg: f64) -> bool {
        let (start, end) = (self.start_deg, self.start_deg + self.period_deg);
        let centre = start + 0.5 * self.period_deg;
        let near =
            |place: f64, period: f64| residual_finite(wanted_deg - place, period).abs() < EDGE_DEG;
        let banded = self.band_deg > 0.0 && self.correction;
        near(start, self.period_deg)
            || self.travel == Travel::Endless && near(centre + 0.5 * TURN_DEG, TURN_DEG)
            || banded
                && (near(start - self.band_deg, TURN_DEG) || near(end + self.band_deg, TURN_DEG))
    }
}
