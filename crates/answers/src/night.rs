//! A night, as the page asks for it: what `sky night` finds with these options and without others.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::wire::{WireTarget, check_targets, read_rig};
use crate::work::Found;
use crate::{Refusal, jobs};
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::sample::Monitor;
use halfturn_engine::verdict::Limits;
use halfturn_report::{
    NightHead, night_json, night_page, night_picture, night_warnings, run_sheet, sheet_csv,
};
use halfturn_sky::night::{
    Clouds, Knowledge, Mount, Night, NightPlanError, NightRequest, NightTarget, Order, Setup,
    night_targets, plan_night,
};
use halfturn_sky::pointing::{DarkHours, Horizon, Site};
use halfturn_sky::time::{LocalTime, Moment};

/// A night as asked for.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NightAsked {
    rig: Value,
    targets: Vec<WireTarget>,
    /// As for `--site`, `--date`, `--order` and `--local`. An empty offset leaves local time out.
    site: String,
    date: String,
    order: String,
    local: String,
    /// Whether the mount flips at the meridian.
    flips: bool,
    least_altitude_deg: f64,
    trials: u64,
    seed: u64,
}

/// A checked night.
#[derive(Debug)]
pub struct NightWork {
    rig: Rig,
    targets: Vec<NightTarget>,
    request: NightRequest,
    date: Moment,
    dark: DarkHours,
    local: Option<LocalTime>,
}

impl NightAsked {
    /// Checks it.
    pub(crate) fn work(self) -> Result<NightWork, Refusal> {
        let no = |what: &str| Refusal::too_much(what);
        let wrong = |what: &'static str| move |e: String| no(&format!("{what} {e}"));
        let site = Site::read(&self.site).map_err(wrong("the site"))?;
        let date = Moment::read_date(&self.date).map_err(wrong("the date"))?;
        let local = match self.local.trim() {
            "" => None,
            text => Some(LocalTime::read(text).map_err(wrong("local time"))?),
        };
        if !(0.0..=89.0).contains(&self.least_altitude_deg) {
            return Err(no("the lowest altitude must be from 0 to 89°"));
        }
        let dark = DarkHours::of(&site, date);
        let start = dark.astronomical_dusk().ok_or_else(|| {
            no("this night does not become dark. `halfturn sky night --start` takes another start")
        })?;
        let targets = check_targets(&self.targets)?;
        Ok(NightWork {
            rig: read_rig(&self.rig)?,
            targets: night_targets(&targets).map_err(|e| no(&e.to_string()))?,
            request: NightRequest {
                night: Night {
                    site,
                    mount: match self.flips {
                        true => Mount::German { flip_h: 0.0 },
                        false => Mount::Fork,
                    },
                    start,
                    dark: dark.darkness(),
                    least_altitude_deg: self.least_altitude_deg,
                    horizon: Horizon::default(),
                    setup: Setup::default(),
                },
                order: Order::read(&self.order).map_err(wrong("the order"))?,
                knowledge: Knowledge {
                    learn: true,
                    retry_s: None,
                    slips_per_h: 0.0,
                    slip_deg: 1.0,
                },
                clouds: Clouds {
                    share: 0.0,
                    mean_s: 600.0,
                    failure_rate: 1.0,
                },
                rules: Rule::ALL.to_vec(),
                batch: jobs::batch(self.trials, self.seed)?,
                limits: Limits::default(),
            },
            date,
            dark,
            local,
        })
    }
}

impl NightWork {
    /// Number of nights in total.
    pub(crate) fn runs(&self) -> u64 {
        let rules = self.request.rules.len() as u64;
        self.request.batch.trials.saturating_mul(rules)
    }

    /// Runs it; `None` if it was stopped. The files are those of `--sheet` and `--plot`.
    pub(crate) fn run(&self, monitor: &dyn Monitor) -> Result<Option<Found>, String> {
        let plan = match plan_night(&self.rig, self.targets.clone(), &self.request, monitor) {
            Ok(plan) => plan,
            Err(NightPlanError::Cancelled(_)) => return Ok(None),
            Err(error) => return Err(error.to_string()),
        };
        let head = NightHead {
            site_name: "",
            date: self.date,
            dark: &self.dark,
            request: &self.request,
            rig: &self.rig,
            local: self.local,
        };
        let picture = night_picture(&head, &plan).map_err(|e| e.to_string())?;
        Ok(Some(Found {
            report: Some(night_page(&head, &plan, &picture)),
            result: Some(json!({
                "night": night_json(&head, &plan),
                "warnings": night_warnings(&head, &plan),
                "sheet": run_sheet(&head, &plan).map(|sheet| sheet_csv(&head, &sheet)),
                "picture": picture.svg,
            })),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{PageStart, start};

    /// Shows (serve): a night that cannot be is refused in a sentence. Source: none: own rule.
    #[test]
    fn what_is_no_night_is_refused() {
        let demo = start(&PageStart::demo().expect("the demo"));
        let good = json!({
            "rig": demo["rig"], "targets": demo["targets"], "site": "47.3,12.1", "date": "2026-10-14", "order": "list", "local": "",
            "flips": true, "least_altitude_deg": 0, "trials": 10, "seed": 1,
        });
        let asked = |key: &str, value: Value| {
            let mut asked = good.clone();
            asked[key] = value;
            let asked: NightAsked = serde_json::from_value(asked).expect("fields");
            asked.work()
        };
        assert!(asked("seed", json!(2)).is_ok());
        let few = json!([{ "name": "a", "position_angle_deg": 0 }]);
        for (key, value, words) in [
            ("site", json!("47.3"), "the site must be degrees north"),
            ("site", json!("97,0"), "must be a number from -90 to 90 deg"),
            ("site", json!("70,NaN"), "the site must be degrees north"),
            ("date", json!("14.10.2026"), "the date must be"),
            ("local", json!("noon"), "local time must be"),
            ("order", json!("worst"), "the order must be"),
            ("least_altitude_deg", json!(-1), "the lowest altitude must"),
            ("trials", json!(0), "trials: must be at least 1"),
            ("targets", few, "\"a\" has no "),
        ] {
            let refused = asked(key, value).expect_err(words).json().to_string();
            let words = words.replace('"', "\\\"");
            assert!(refused.contains(&words), "{key}: {refused}");
        }
        // Midsummer in the far north.
        let mut bright = good.clone();
        bright["site"] = json!("70,20");
        bright["date"] = json!("2026-06-21");
        let bright: NightAsked = serde_json::from_value(bright).expect("fields");
        let refused = bright.work().expect_err("no dark").json().to_string();
        assert!(refused.contains("does not become dark"), "{refused}");
    }
}
