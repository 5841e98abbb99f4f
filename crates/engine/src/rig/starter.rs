//! A rig file with a comment on every key.

use std::fmt::Write as _;

use super::check::Rig;
use super::keys::{KEYS, Key, ValueKind};
use super::settings::KeepOut;

/// A rig as a file with a comment on every key. Reading the file gives the same rig.
#[must_use]
pub fn commented(rig: &Rig) -> String {
    let mut settings = rig.settings().clone();
    let mut out = String::new();
    let mut section = "";
    for key in KEYS {
        if key.path.contains('*') {
            // The first key of a list writes the whole list.
            if key.path == "drive.periodic.*.cycles" {
                out.push_str(&periodic(rig));
            } else if key.path == "keep_out.*.from_deg" {
                out.push_str(&keep_outs(rig));
            }
            continue;
        }
        let (here, name) = key.path.split_once('.').unwrap_or(("", key.path));
        if here == "framing" && rig.settings().framing.is_none() {
            continue;
        }
        if here != section {
            section = here;
            let _ = writeln!(out, "\n[{section}]");
        }
        let value = key.kind.value(&mut settings, 0);
        let line = match &value {
            Some(value) => format!("{name} = {value}"),
            None => format!("# {name} = {}", example(key)),
        };
        let unit = if key.unit.is_empty() {
            String::new()
        } else {
            format!("[{}] ", key.unit)
        };
        let _ = writeln!(out, "{line:<36}# {unit}{}", key.help);
    }
    out
}

/// An example value for a key that is not set.
fn example(key: &Key) -> &'static str {
    match key.kind {
        ValueKind::Symmetry => "2",
        _ if key.path.ends_with("from_deg") => "-10.0",
        _ => "370.0",
    }
}

fn periodic(rig: &Rig) -> String {
    let entries: Vec<String> = rig
        .settings()
        .drive
        .periodic
        .iter()
        .map(|p| {
            format!(
                "    {{ cycles = {:?}, amplitude_deg = {:?}, phase_deg = {:?} }},\n",
                p.cycles, p.amplitude_deg, p.phase_deg
            )
        })
        .collect();
    format!(
        "# Periodic errors: amplitude_deg * sin(cycles * shaft angle + phase_deg); cycles = 1 is an eccentric gear.\nperiodic = [\n{}]\n",
        entries.concat()
    )
}

fn keep_outs(rig: &Rig) -> String {
    let mut out = String::from(
        "\n# Keep-outs: readings where something is in the way, from from_deg upwards to to_deg. Check them by hand.\n",
    );
    if rig.settings().keep_out.is_empty() {
        out.push_str(
            "# [[keep_out]]\n# from_deg = 200.0\n# to_deg = 250.0\n# why = \"what is in the way\"\n\
             # when = { hour_angle_h = [-1.0, 1.0], altitude_deg = [60.0, 90.0] }  # in the way only at these pointings\n",
        );
    }
    for sector in &rig.settings().keep_out {
        let why = toml::Value::String(sector.why.clone());
        let _ = writeln!(
            out,
            "[[keep_out]]\nfrom_deg = {:?}\nto_deg = {:?}\nwhy = {why}\n{}\n",
            sector.from_deg,
            sector.to_deg,
            when(sector)
        );
    }
    out
}

/// The condition of a sector, or an example if it has none.
fn when(sector: &KeepOut) -> String {
    let span = |key: &str, ends: Option<[f64; 2]>| {
        ends.map(|[from, to]| format!("{key} = [{from:?}, {to:?}]"))
    };
    let spans = [
        span("hour_angle_h", sector.when.hour_angle_h),
        span("altitude_deg", sector.when.altitude_deg),
    ];
    let given: Vec<String> = spans.into_iter().flatten().collect();
    if given.is_empty() {
        "# when = { hour_angle_h = [-1.0, 1.0], altitude_deg = [60.0, 90.0] }  # in the way only at these pointings\n".to_owned()
    } else {
        format!("when = {{ {} }}\n", given.join(", "))
    }
}
