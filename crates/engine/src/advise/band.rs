//! The smallest hysteresis band that ends hunting, and the largest that stays clear (docs/advice.md, section 4).

use serde::Serialize;

use super::arc::ArcFacts;
use super::found_by::FoundBy;
use super::list::ListJudge;
use crate::rig::{Rig, Rule};
use crate::sample::Cancelled;
use crate::scenario::{Policy, Target};
use crate::summary::Rate;
use crate::verdict::{Fault, Standing};

/// Bisections: to a thirtieth of the bound.
const HALVINGS: u32 = 5;

/// Doublings of the bound after which no band is wide enough.
const DOUBLINGS: u32 = 3;

/// Bands are given in hundredths of a degree.
const PER_DEGREE: f64 = 100.0;

/// What a band does and may be.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::not_negative))]
pub struct BandAdvice {
    /// The smallest band with which a target on the seam does not hunt \[deg\]; `None` where no band helps.
    pub needed_deg: Option<f64>,
    /// The largest band that keeps out of keep-outs and inside stops and the cable limit \[deg\]; `None` where
    /// not even the arc itself does.
    pub largest_safe_deg: Option<f64>,
    /// The advised one \[deg\]: the needed one where that is safe, else the largest safe one.
    pub advised_deg: Option<f64>,
    /// Hunting of a target on the seam with the advised band.
    pub left: Option<Rate>,
    /// The advised band is wide enough and safe.
    pub cures: bool,
    /// How the needed band and what is left were found.
    pub found_by: FoundBy,
}

/// Searches the band around the arc of a rig. `bound_deg` is the swing residual bound.
pub(super) fn find_band(
    list: &ListJudge<'_>,
    rig: &Rig,
    arc: &ArcFacts,
    bound_deg: f64,
) -> Result<BandAdvice, Cancelled> {
    let mut search = BandSearch {
        list,
        rig,
        start_deg: arc.start_deg,
        bound_deg,
        solved: 0,
        asked: 0,
    };
    let needed_deg = search.needed()?;
    let down = |band_deg: f64| (band_deg * PER_DEGREE).floor() / PER_DEGREE;
    let largest_safe_deg = arc.largest_band_deg.map(down);
    let cures = matches!((needed_deg, largest_safe_deg), (Some(n), Some(l)) if n <= l);
    let advised_deg = if cures { needed_deg } else { largest_safe_deg };
    let left = advised_deg.map(|band| search.worst(band)).transpose()?;
    Ok(BandAdvice {
        needed_deg,
        largest_safe_deg,
        advised_deg,
        left: left.map(|(rate, _)| rate),
        cures,
        found_by: FoundBy::of(search.solved, search.asked),
    })
}

struct BandSearch<'a> {
    list: &'a ListJudge<'a>,
    rig: &'a Rig,
    start_deg: f64,
    bound_deg: f64,
    solved: u64,
    asked: u64,
}

impl BandSearch<'_> {
    /// Hunting with a band \[deg\] of the worst of three targets on and beside the seam, and whether all are within
    /// the limit.
    fn worst(&mut self, band_deg: f64) -> Result<(Rate, bool), Cancelled> {
        let s = self.rig.settings();
        let policy = Policy {
            arc_start_deg: self.start_deg,
            band_deg,
            ..Policy::with_rule(self.rig, Rule::HysteresisBand)
        };
        let mut worst: Option<Rate> = None;
        let mut rare = true;
        for beside in [-0.5, 0.0, 0.5] {
            let drive_deg = self.start_deg + beside * self.bound_deg;
            let angle_deg = s.drive.zero_point_deg + s.loop_.believed_sense.factor() * drive_deg;
            let target = Target::at(angle_deg);
            let judged = self.list.at(self.rig, policy, &target)?;
            self.asked += 1;
            self.solved += u64::from(judged.summary.method == "exact");
            let hunting = judged.verdict.fault(Fault::Hunting);
            rare &= hunting.is_some_and(|f| f.standing == Standing::Within);
            let found = judged.summary.hunting;
            worst = worst.filter(|w| w.rate >= found.rate).or(Some(found));
        }
        Ok((worst.ok_or(Cancelled)?, rare))
    }

    fn needed(&mut self) -> Result<Option<f64>, Cancelled> {
        if self.worst(0.0)?.1 {
            return Ok(Some(0.0));
        }
        let mut high = self.bound_deg;
        for doubling in 0.. {
            if self.worst(high)?.1 {
                break;
            }
            if doubling == DOUBLINGS {
                return Ok(None);
            }
            high *= 2.0;
        }
        let mut low = 0.0;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.worst(middle)?.1 {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(Some((high * PER_DEGREE).ceil() / PER_DEGREE))
    }
}
