//! Field rotation: text and JSON.

use crate::document::{Block, Column, Document, Line, Table};
use crate::figures::UNKNOWN;
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Policy;
use halfturn_engine::summary::{Distribution, PolicySummary};
use halfturn_engine::verdict::Fault;
use halfturn_engine::wording::{angle, degrees, duration, grouped, percent};
use halfturn_sky::field::{
    During, FieldMount, FieldRow, FieldSession, Follow, FollowFault, SettleWhileTurning, Unwind,
    fastest, longest_exposure_s,
};
use halfturn_sky::pointing::{rotation_deg_per_h, zenith_zone_deg};
use halfturn_sky::time::Moment;

/// Everything that `sky field-rotation` found.
#[derive(Debug, Clone)]
pub struct FieldReport<'a> {
    /// The rig.
    pub rig: &'a Rig,
    /// Name of the target.
    pub name: &'a str,
    /// Position angle at the start \[deg\].
    pub position_angle_deg: f64,
    /// The session that the user asked for.
    pub session: &'a FieldSession,
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// Every step.
    pub rows: &'a [FieldRow],
    /// Largest smear at the corner that the user allows \[px\].
    pub smear_px: f64,
    /// A rotator that follows; `None` for an equatorial mount.
    pub follow: Option<&'a Follow>,
    /// The loop at the start; `None` for an equatorial mount.
    pub settle: Option<&'a SettleWhileTurning>,
}

impl FieldReport<'_> {
    /// Longest exposure at a rate \[s\]; `None` if the rig has no framing or the exposure no limit.
    pub(super) fn exposure_s(&self, rate_deg_per_h: f64) -> Option<f64> {
        let framing = self.rig.settings().framing.as_ref()?;
        let longest_s = longest_exposure_s(framing, self.smear_px, rate_deg_per_h);
        longest_s.is_finite().then_some(longest_s)
    }

    /// Within this distance of the zenith the drive cannot follow \[deg\].
    pub(super) fn zone_deg(&self) -> f64 {
        let speed = self.rig.settings().drive.speed_deg_per_s;
        zenith_zone_deg(self.session.site.latitude_deg(), speed)
    }
}

/// Field rotation for a reader.
#[must_use]
pub fn field_document(report: &FieldReport<'_>) -> Document {
    let session = report.session;
    let mount = match &session.mount {
        FieldMount::AltAz => "mount by azimuth and altitude".to_owned(),
        FieldMount::Equatorial(error) => format!(
            "equatorial mount, its axis {} arcmin too high and {} arcmin too far east by azimuth",
            degrees(error.altitude_arcmin),
            degrees(error.azimuth_arcmin)
        ),
    };
    let mut out = Document::new();
    out.para(format!(
        "{}, {} at position angle {}, {:.4} N {:.4} E, from {}, {mount}",
        report.rig.settings().name,
        report.name,
        angle(report.position_angle_deg),
        session.site.latitude_deg(),
        session.site.longitude_deg(),
        session.start.iso(),
    ));
    let (fastest_at, fastest) = fastest(session);
    let exposure = match report.exposure_s(fastest) {
        Some(s) => format!(
            ": a rotator that stands still smears the corner by {} px in {}",
            degrees(report.smear_px),
            duration(s)
        ),
        None => String::new(),
    };
    out.para(format!(
        "Fastest at {}: {}/h{exposure}.",
        fastest_at.clock(),
        angle(fastest)
    ));
    if session.mount == FieldMount::AltAz {
        let speed = report.rig.settings().drive.speed_deg_per_s;
        let latitude = session.site.latitude_deg();
        out.para(format!(
            "At the zenith the rate has no bound. Within {} of it a drive of {}/s cannot follow in the meridian ({}/h at 1°).",
            angle(report.zone_deg()),
            angle(speed),
            angle(rotation_deg_per_h(latitude, 180.0, 89.0).abs()),
        ));
    }
    if let Some(follow) = report.follow {
        following(report, follow, &mut out);
    }
    out.add(Block::Table(steps(report)));
    if let Some(settle) = report.settle {
        settling(report, settle, &mut out);
    }
    out
}

fn steps(report: &FieldReport<'_>) -> Table {
    let mut columns = vec![
        Column::numbers("time UT", ""),
        Column::numbers("hour angle", "(h)"),
        Column::numbers("azimuth", "(°)"),
        Column::numbers("altitude", "(°)"),
        Column::numbers("zenith PA", "(°)"),
        Column::numbers("rate", "(°/h)"),
        Column::numbers("turned", "(°)"),
    ];
    let framed = report.rig.settings().framing.is_some();
    if framed {
        columns.push(Column::numbers("exposure", ""));
    }
    if report.follow.is_some() {
        columns.push(Column::numbers("reading", "(°)"));
    }
    let mut table = Table::new("", columns);
    let fine = match report.session.mount {
        FieldMount::AltAz => 2,
        FieldMount::Equatorial(_) => 4,
    };
    for (i, row) in report.rows.iter().enumerate() {
        let p = &row.pointing;
        let mut cells = vec![
            row.at.clock(),
            format!("{:+.2}", p.hour_angle_h),
            format!("{:.1}", p.azimuth_deg),
            format!("{:.1}", p.altitude_deg),
            format!("{:.2}", p.zenith_deg),
            format!("{:+.fine$}", row.rate_deg_per_h),
            format!("{:+.fine$}", row.turned_deg),
        ];
        if framed {
            let longest = report.exposure_s(row.rate_deg_per_h);
            cells.push(longest.map_or_else(|| UNKNOWN.to_owned(), duration));
        }
        if let Some(follow) = report.follow {
            let followed = follow.rows.get(i).map(|f| {
                let slow = if f.too_fast { " too fast" } else { "" };
                format!("{:.2}{slow}", f.reading_deg)
            });
            cells.push(followed.unwrap_or_else(|| UNKNOWN.to_owned()));
        }
        table.row(cells);
    }
    table
}

fn following(report: &FieldReport<'_>, follow: &Follow, out: &mut Document) {
    let rule = report.policy.rule;
    if follow.unwinds.is_empty() && !follow.is_bad() {
        out.para(format!(
            "A rotator that follows under {rule} needs no unwind."
        ));
        return;
    }
    out.para(format!("A rotator that follows under {rule}:"));
    let unwinds = follow.unwinds.iter().map(|u| (u.at, unwind_line(u)));
    let faults = follow.faults.iter().map(|f| (f.at, fault_line(f)));
    let stuck = follow.stuck.iter().map(|(at, end)| {
        let reading = follow.rows.last();
        let reading =
            reading.map_or_else(String::new, |row| format!(", {}", angle(row.reading_deg)));
        let clock = at.clock();
        let line =
            format!("stuck from {clock} at the {end}{reading}: no equivalent framing is in reach");
        (*at, line.into())
    });
    let mut all: Vec<(Moment, Line)> = unwinds.chain(faults).chain(stuck).collect();
    all.sort_by(|(a, _), (b, _)| a.since_s(*b).total_cmp(&0.0));
    let mut lines: Vec<Line> = all.into_iter().map(|(_, line)| line).collect();
    if let Some(clear_deg) = follow.clear_first_deg {
        lines.push(
            format!(
                "the equivalent framing at {} can be reached without a fault at the start, but {rule} does not choose it",
                angle(clear_deg)
            )
            .into(),
        );
    }
    out.add(Block::Items(lines));
}

fn unwind_line(unwind: &Unwind) -> Line {
    format!(
        "unwind due {} at the {}: from {} to {}, {}",
        unwind.at.clock(),
        unwind.end,
        angle(unwind.from_deg),
        angle(unwind.to_deg),
        duration(unwind.time_s)
    )
    .into()
}

fn fault_line(fault: &FollowFault) -> Line {
    let (from, to) = (angle(fault.reading_deg), angle(fault.to_deg));
    let (state, clock) = (fault.fault.state(), fault.at.clock());
    let turn = match fault.during {
        During::FirstMove => "on the first move",
        During::Unwind => "on the unwind",
        During::Following => {
            let end = fault.at.plus_s(fault.lasts_s).clock();
            let side = match fault.fault {
                Fault::Winding => "beyond",
                _ => "inside",
            };
            let place = if from == to {
                format!("at {from}")
            } else {
                format!("from {from} to {to}")
            };
            return format!(
                "{state} from {clock} to {end}, for {}: it stands {side}, {place}",
                duration(fault.lasts_s)
            )
            .into();
        }
    };
    match fault.fault {
        Fault::Refused => format!("{state} at {clock} {turn}: the stops refuse {from}"),
        _ => format!("{state} at {clock} {turn}: from {from} to {to}"),
    }
    .into()
}

fn settling(report: &FieldReport<'_>, settle: &SettleWhileTurning, out: &mut Document) {
    let mut table = Table::new(
        "",
        vec![
            Column::words(""),
            Column::numbers("field at rest", ""),
            Column::numbers("field turning", ""),
        ],
    );
    let mut add = |name: &str, value: &dyn Fn(&PolicySummary) -> String| {
        table.row([
            name.to_owned(),
            value(&settle.at_rest),
            value(&settle.turning),
        ]);
    };
    let mean = |d: &Distribution| {
        d.mean.map_or_else(
            || UNKNOWN.to_owned(),
            |m| {
                let half = d.mean_high.unwrap_or(m) - m;
                format!("{} ± {}", degrees(m), degrees(half))
            },
        )
    };
    add("settle", &|s| percent(s.settled.rate));
    add("hunt", &|s| percent(s.hunting.rate));
    add("settle time, mean (s)", &|s| mean(&s.settle_time_s));
    add("solves, mean", &|s| mean(&s.solves));
    add("true error, mean (°)", &|s| mean(&s.true_error_deg));
    out.para(format!(
        "The settle loop at the start, field_rotation_deg_per_s = {:.6} from the sky, {} runs, rule {}:",
        settle.rate_deg_per_s,
        grouped(settle.turning.trials),
        report.policy.rule,
    ));
    out.add(Block::Table(table));
}
