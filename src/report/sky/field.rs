//! Field rotation: text and JSON.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::report::json::{FORMAT, VERSION};
use crate::report::table::{lines, table};
use crate::rig::Rig;
use crate::scenario::Policy;
use crate::sky::field::{
    FieldMount, FieldRow, Follow, Session, SettleWhileTurning, longest_exposure_s,
};
use crate::sky::pointing::{rotation_deg_per_h, zenith_zone_deg};
use crate::summary::{Distribution, PolicySummary};
use crate::wording::{degrees, duration, grouped, percent};

/// All that `sky field-rotation` has found.
#[derive(Debug, Clone)]
pub struct FieldReport<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// Name of the target.
    pub name: &'a str,
    /// Position angle at the start \[deg\].
    pub position_angle_deg: f64,
    /// What was asked.
    pub session: &'a Session,
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// Every step.
    pub rows: &'a [FieldRow],
    /// Smear that is allowed at the corner \[px\].
    pub smear_px: f64,
    /// A rotator that follows; for a mount by azimuth and altitude.
    pub follow: Option<&'a Follow>,
    /// The loop at the start, for such a mount.
    pub settle: Option<&'a SettleWhileTurning>,
}

impl FieldReport<'_> {
    /// Longest exposure at a row \[s\]; `None` where the rig has no framing, or there is no end to it.
    fn exposure_s(&self, row: &FieldRow) -> Option<f64> {
        let framing = self.rig.settings().framing.as_ref()?;
        let longest_s = longest_exposure_s(framing, self.smear_px, row.rate_deg_per_h);
        longest_s.is_finite().then_some(longest_s)
    }

    /// The largest rate of the rows, and the shortest of the longest exposures.
    fn worst(&self) -> (f64, Option<f64>) {
        let rates = self.rows.iter().map(|r| r.rate_deg_per_h.abs());
        let exposures = self.rows.iter().filter_map(|r| self.exposure_s(r));
        (rates.fold(0.0, f64::max), exposures.reduce(f64::min))
    }

    /// How near to the zenith this drive cannot follow \[deg\].
    fn zone_deg(&self) -> f64 {
        let speed = self.rig.settings().drive.speed_deg_per_s;
        zenith_zone_deg(self.session.site.latitude_deg(), speed)
    }
}

/// The result of `sky field-rotation`.
#[must_use]
pub fn field_json(report: &FieldReport<'_>) -> Value {
    let rows: Vec<Value> = report
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| {
            let followed = report.follow.and_then(|f| f.rows.get(i));
            let p = &row.pointing;
            json!({
                "time": row.at.iso(),
                "hour_angle_h": p.hour_angle_h,
                "azimuth_deg": p.azimuth_deg,
                "altitude_deg": p.altitude_deg,
                "parallactic_deg": p.parallactic_deg,
                "zenith_deg": p.zenith_deg,
                "rate_deg_per_h": finite(row.rate_deg_per_h),
                "turned_deg": row.turned_deg,
                "longest_exposure_s": report.exposure_s(row),
                "reading_deg": followed.map(|f| f.reading_deg),
                "too_fast": followed.map(|f| f.too_fast),
            })
        })
        .collect();
    let follow = report.follow.map(|f| {
        let unwinds: Vec<Value> = f
            .unwinds
            .iter()
            .map(|u| {
                json!({
                    "time": u.at.iso(),
                    "end": u.end.word(),
                    "from_deg": u.from_deg,
                    "to_deg": u.to_deg,
                    "takes_s": u.time_s,
                })
            })
            .collect();
        let stuck = f
            .stuck
            .map(|(at, end)| json!({ "time": at.iso(), "end": end.word() }));
        json!({ "rule": report.policy.rule, "unwinds": unwinds, "stuck": stuck })
    });
    let settle = report.settle.map(|s| {
        json!({
            "field_rotation_deg_per_s": s.rate_deg_per_s,
            "at_rest": s.at_rest,
            "turning": s.turning,
        })
    });
    let (fastest, shortest) = report.worst();
    json!({
        "format": FORMAT,
        "version": VERSION,
        "rig_digest": report.rig.digest(),
        "target": report.name,
        "ra_deg": report.session.place.ra_deg,
        "dec_deg": report.session.place.dec_deg,
        "position_angle_deg": report.position_angle_deg,
        "mount": match report.session.mount {
            FieldMount::AltAz => "alt-az",
            FieldMount::Equatorial(_) => "equatorial",
        },
        "smear_px": report.smear_px,
        "fastest_deg_per_h": finite(fastest),
        "shortest_exposure_s": shortest,
        "zenith_zone_deg": report.zone_deg(),
        "rows": rows,
        "follow": follow,
        "settle": settle,
    })
}

/// JSON knows no infinity.
fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

/// Field rotation on the screen.
#[must_use]
pub fn field_text(report: &FieldReport<'_>) -> String {
    let session = report.session;
    let mount = match &session.mount {
        FieldMount::AltAz => "mount by azimuth and altitude".to_owned(),
        FieldMount::Equatorial(error) => format!(
            "equatorial mount, its axis {} arcmin too high and {} arcmin too far east by azimuth",
            degrees(error.altitude_arcmin),
            degrees(error.azimuth_arcmin)
        ),
    };
    let mut out = format!(
        "{}, {} at position angle {} deg, {:.4} N {:.4} E, from {}, {mount}\n\n",
        report.rig.settings().name,
        report.name,
        degrees(report.position_angle_deg),
        session.site.latitude_deg(),
        session.site.longitude_deg(),
        session.start.iso(),
    );
    out.push_str(&steps(report));
    let (fastest, shortest) = report.worst();
    let _ = writeln!(
        out,
        "\nangles in degrees, rates of position angle; exposure: a corner moves {} px\nfastest {} deg/h{}",
        degrees(report.smear_px),
        degrees(fastest),
        shortest.map_or_else(String::new, |s| format!(
            ", where an exposure without a rotator that follows may last {}",
            duration(s)
        ))
    );
    if session.mount == FieldMount::AltAz {
        let speed = report.rig.settings().drive.speed_deg_per_s;
        let latitude = session.site.latitude_deg();
        let _ = writeln!(
            out,
            "at the zenith the rate is without bound; within {} deg of it a drive of {} deg/s cannot follow in the meridian ({} deg/h at 1 deg)",
            degrees(report.zone_deg()),
            degrees(speed),
            degrees(rotation_deg_per_h(latitude, 180.0, 89.0).abs()),
        );
    }
    if let Some(follow) = report.follow {
        out.push_str(&following(report, follow));
    }
    if let Some(settle) = report.settle {
        out.push_str(&settling(report, settle));
    }
    out
}

fn steps(report: &FieldReport<'_>) -> String {
    let mut header = vec![
        "time UT",
        "hour angle",
        "azimuth",
        "altitude",
        "zenith PA",
        "deg/h",
        "turned",
    ];
    let framed = report.rig.settings().framing.is_some();
    if framed {
        header.push("exposure");
    }
    if report.follow.is_some() {
        header.push("reading");
    }
    let mut table = table(&header);
    for (i, row) in report.rows.iter().enumerate() {
        let p = &row.pointing;
        let fine = if report.session.mount == FieldMount::AltAz {
            2
        } else {
            4
        };
        let mut cells = vec![
            row.at.clock(),
            format!("{:+.2} h", p.hour_angle_h),
            format!("{:.1}", p.azimuth_deg),
            format!("{:.1}", p.altitude_deg),
            format!("{:.2}", p.zenith_deg),
            format!("{:+.fine$}", row.rate_deg_per_h),
            format!("{:+.fine$}", row.turned_deg),
        ];
        if framed {
            cells.push(
                report
                    .exposure_s(row)
                    .map_or_else(|| "-".to_owned(), duration),
            );
        }
        if let Some(follow) = report.follow {
            let followed = follow.rows.get(i);
            cells.push(followed.map_or_else(
                || "-".to_owned(),
                |f| {
                    let slow = if f.too_fast { " too fast" } else { "" };
                    format!("{:.2}{slow}", f.reading_deg)
                },
            ));
        }
        table.add_row(cells);
    }
    lines(table, &[])
}

fn following(report: &FieldReport<'_>, follow: &Follow) -> String {
    let mut out = format!("\na rotator that follows under {}: ", report.policy.rule);
    if follow.unwinds.is_empty() && follow.stuck.is_none() {
        out.push_str("no unwind is due\n");
        return out;
    }
    out.push('\n');
    for unwind in &follow.unwinds {
        let _ = writeln!(
            out,
            "  unwind due {} at the {}: from {} to {} deg, {}",
            unwind.at.clock(),
            unwind.end.word(),
            degrees(unwind.from_deg),
            degrees(unwind.to_deg),
            duration(unwind.time_s)
        );
    }
    if let Some((at, end)) = follow.stuck {
        let _ = writeln!(
            out,
            "  stuck from {} at the {}: no equivalent framing is in reach",
            at.clock(),
            end.word()
        );
    }
    out
}

fn settling(report: &FieldReport<'_>, settle: &SettleWhileTurning) -> String {
    let mut table = table(&["", "field at rest", "field turning"]);
    let mut add = |name: &str, value: &dyn Fn(&PolicySummary) -> String| {
        table.add_row([
            name.to_owned(),
            value(&settle.at_rest),
            value(&settle.turning),
        ]);
    };
    let mean = |d: &Distribution| {
        d.mean.map_or_else(
            || "-".to_owned(),
            |m| {
                let half = d.mean_high.unwrap_or(m) - m;
                format!("{} ± {}", degrees(m), degrees(half))
            },
        )
    };
    add("settled", &|s| percent(s.settled.rate));
    add("ping-pong", &|s| percent(s.ping_pong.rate));
    add("settle time, mean, s", &|s| mean(&s.settle_time_s));
    add("solves, mean", &|s| mean(&s.solves));
    add("true error, mean, deg", &|s| mean(&s.true_error_deg));
    format!(
        "\nthe settle loop at the start, field_rotation_deg_per_s = {:.6} from the sky, {} runs, rule {}\n\n{}",
        settle.rate_deg_per_s,
        grouped(settle.turning.trials),
        report.policy.rule,
        lines(table, &[0])
    )
}
