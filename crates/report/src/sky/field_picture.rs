//! The data of the map of field rotation.

use super::field::FieldReport;
use crate::plot::{FieldMap, Picture, field_map};
use halfturn_sky::field::{FieldMount, Follow, polar_rotation};
use halfturn_sky::pointing::{Pointing, rotation_deg_per_h};

/// Number of rings, and of cells in a ring.
const CELLS: (usize, usize) = (45, 120);

/// The rate over the sky of the site, and the path of the target.
pub fn field_picture(report: &FieldReport<'_>) -> Picture {
    let session = report.session;
    let latitude_deg = session.site.latitude_deg();
    let (rings, around) = CELLS;
    let middles = (0..rings * around).map(|i| {
        let share = |n: usize, count: usize| (n as f64 + 0.5) / count as f64;
        (
            360.0 * share(i % around, around),
            90.0 * share(i / around, rings),
        )
    });
    let rate = |(azimuth_deg, altitude_deg): (f64, f64)| match &session.mount {
        FieldMount::AltAz => rotation_deg_per_h(latitude_deg, azimuth_deg, altitude_deg).abs(),
        FieldMount::Equatorial(error) => {
            let at = Pointing::towards(&session.site, azimuth_deg, altitude_deg);
            polar_rotation(&session.site, error, &at).1.abs()
        }
    };
    let track = report.rows.iter().map(|row| {
        let p = &row.pointing;
        (p.azimuth_deg, p.altitude_deg, row.at.clock())
    });
    field_map(&FieldMap {
        title: format!("Field rotation: {}", report.name),
        remark: format!("latitude {latitude_deg:.2}°, from {}", session.start.iso()),
        warning: report.follow.map_or_else(String::new, warning),
        cells: CELLS,
        rates: middles.map(rate).collect(),
        track: track.collect(),
    })
}

/// What goes wrong with a rotator that follows; empty if nothing does.
fn warning(follow: &Follow) -> String {
    let mut words: Vec<String> = Vec::new();
    for word in follow.faults.iter().map(|f| f.fault.state().to_string()) {
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words.extend(follow.stuck.map(|(_, end)| format!("stuck at the {end}")));
    if words.is_empty() {
        return String::new();
    }
    format!("a rotator that follows: {}", words.join(", "))
}
