//! The smallest hysteresis band that ends hunting, and the largest that stays clear (docs/advice.md, section 4).

use serde::Serialize;

use super::settling::{FoundBy, Hunting, Settling};
use super::verdict::Limits;
use super::wishes::Wishes;
use crate::rig::{Rig, Rule};
use crate::sample::Cancelled;
use crate::scenario::Policy;

/// Bisections: to a thirtieth of the bound.
const HALVINGS: u32 = 5;

/// Doublings of the bound after which no band is wide enough.
const DOUBLINGS: u32 = 3;

/// Bands are given in steps of this \[deg\].
const STEP_DEG: f64 = 0.01;

/// What a band does and may be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BandAdvice {
    /// The smallest band with which a target on the seam does not hunt \[deg\]; `None` where no band helps.
    pub needed_deg: Option<f64>,
    /// The largest band that keeps out of keep-outs and inside stops and winding limit \[deg\]; `None` where
    /// not even the arc itself does.
    pub largest_safe_deg: Option<f64>,
    /// The advised one \[deg\]: the needed one where that is safe, else the largest safe one.
    pub advised_deg: Option<f64>,
    /// How a target on the seam hunts with the advised band.
    pub left: Option<Hunting>,
    /// The advised band is wide enough and safe.
    pub cures: bool,
    /// How the needed band and what is left were found.
    pub found_by: FoundBy,
}

/// Searches the band for a rig whose arc starts at `start_deg`. `bound_deg` is the swing residual bound.
pub(super) fn find_band(
    rig: &Rig,
    start_deg: f64,
    largest_safe_deg: Option<f64>,
    bound_deg: f64,
    (limits, wishes): (&Limits, &Wishes),
    settling: &dyn Settling,
) -> Result<BandAdvice, Cancelled> {
    let search = Search {
        rig,
        start_deg,
        bound_deg,
        limits,
        wishes,
        settling,
    };
    settling.found_by();
    let needed_deg = search.needed()?;
    let down = |b: f64| (b / STEP_DEG).floor() * STEP_DEG;
    let largest_safe_deg = largest_safe_deg.map(down);
    let cures = matches!((needed_deg, largest_safe_deg), (Some(n), Some(l)) if n <= l);
    let advised_deg = if cures { needed_deg } else { largest_safe_deg };
    let left = advised_deg.map(|band| search.worst(band)).transpose()?;
    Ok(BandAdvice {
        needed_deg,
        largest_safe_deg,
        advised_deg,
        left,
        cures,
        found_by: settling.found_by(),
    })
}

struct Search<'a> {
    rig: &'a Rig,
    start_deg: f64,
    bound_deg: f64,
    limits: &'a Limits,
    wishes: &'a Wishes,
    settling: &'a dyn Settling,
}

impl Search<'_> {
    /// How targets on and beside the seam hunt with a band \[deg\]: the worst of each figure.
    fn worst(&self, band_deg: f64) -> Result<Hunting, Cancelled> {
        let s = self.rig.settings();
        let policy = Policy {
            arc_start_deg: self.start_deg,
            band_deg,
            ..Policy::with_rule(self.rig, Rule::HysteresisBand)
        };
        let mut worst: Option<Hunting> = None;
        for beside in [-0.5, 0.0, 0.5] {
            let drive_deg = self.start_deg + beside * self.bound_deg;
            let target_deg = s.drive.zero_point_deg + s.loop_.believed_sense.factor() * drive_deg;
            let found = self.settling.hunting(self.rig, policy, target_deg)?;
            worst = Some(match worst {
                None => found,
                Some(w) => Hunting {
                    ping_pong: if found.ping_pong.value > w.ping_pong.value {
                        found.ping_pong
                    } else {
                        w.ping_pong
                    },
                    persistence: [w.persistence, found.persistence]
                        .into_iter()
                        .flatten()
                        .max_by(|a, b| a.value.total_cmp(&b.value)),
                },
            });
        }
        worst.ok_or(Cancelled)
    }

    /// Ping-pong is as rare as at a safe target, or a swing is seldom followed by another.
    fn is_enough(&self, band_deg: f64) -> Result<bool, Cancelled> {
        let found = self.worst(band_deg)?;
        let rare = found.ping_pong.high <= self.limits.max_hunting;
        let short = found
            .persistence
            .is_none_or(|p| p.high <= self.wishes.max_persistence);
        Ok(rare || (short && found.persistence.is_some()))
    }

    fn needed(&self) -> Result<Option<f64>, Cancelled> {
        if self.is_enough(0.0)? {
            return Ok(Some(0.0));
        }
        let mut high = self.bound_deg;
        for doubling in 0.. {
            if self.is_enough(high)? {
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
            if self.is_enough(middle)? {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(Some((high / STEP_DEG).ceil() * STEP_DEG))
    }
}
