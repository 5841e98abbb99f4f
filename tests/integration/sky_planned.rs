//! What a plan knows besides the rotator: the Moon, the horizon, the time of other moves, the order, retries.

use halfturn_sky::SkyPlace;
use halfturn_sky::pointing::{Site, crossings, read_horizon};
use halfturn_sky::time::Moment;
use serde_json::Value;

use crate::binary::{complaint, halfturn, tell, write};
use crate::sky_night::{PLAIN, SITE, night, plain};
use crate::sky_values::{apart_deg, list, number};

fn cases() -> Value {
    serde_json::from_str(include_str!("../data/moon_cases.json")).expect("JSON")
}

fn site(case: &Value) -> Site {
    let at = |key| number(case, key);
    let site = Site::new(at("latitude_deg"), at("longitude_deg"), at("elevation_m"));
    site.expect("a site").with_dut1_s(at("dut1_s"))
}

fn moment(case: &Value) -> Moment {
    Moment::read(case["time"].as_str().expect("a time")).expect("a moment")
}

fn place(case: &Value) -> SkyPlace {
    SkyPlace {
        ra_deg: number(case, "ra_deg"),
        dec_deg: number(case, "dec_deg"),
    }
}

/// 200 random sites, moments and stars from 2000 to 2034. astropy has the same series of the Moon, but its own way from
/// there to a site, with polar motion.
/// Shows (sky): the Moon: altitude, azimuth, distance, lit share. Source: astropy 8.0.2.
#[test]
fn the_moon_stands_where_astropy_sees_it() {
    let cases = cases();
    let cases = list(&cases["moon"]);
    assert_eq!(cases.len(), 200);
    let mut worst = [0.0_f64; 3];
    for case in cases {
        let (site, at) = (site(case), moment(case));
        let sky = site.sky(at);
        let moon = sky.moon(&site, at);
        let flat = number(case, "altitude_deg").to_radians().cos();
        let azimuth_deg = flat * apart_deg(moon.azimuth_deg, number(case, "azimuth_deg"));
        let altitude_deg = (moon.altitude_deg - number(case, "altitude_deg")).abs();
        let distance_deg = moon.distance_deg(&sky.pointing(place(case)));
        let off = [
            3600.0 * azimuth_deg.max(altitude_deg),
            3600.0 * (distance_deg - number(case, "distance_deg")).abs(),
            (moon.lit - number(case, "lit")).abs(),
        ];
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off);
        }
    }
    // As docs/sky.md tells.
    tell(&format!("Moon: place, distance (arcsec), lit: {worst:?}"));
    assert!(
        worst[0] < 0.65 && worst[1] < 0.35 && worst[2] < 6e-5,
        "{worst:?}"
    );
}

/// 1992 April 12, 0h TD: geocentric apparent right ascension 134.688470°, declination 13.768368°, lit share 0.6786, which
/// the parallax of a site changes by less than 0.008.
/// Shows (sky): the Moon of the handbook. Source: Meeus, Astronomical Algorithms (2nd ed.), examples 47.a and 48.a (from
/// memory).
#[test]
fn the_moon_stands_where_the_handbook_says() {
    // TD is 59 s ahead of UTC.
    let at = Moment::read("1992-04-11T23:59:01").expect("a moment");
    let [geocentric, _] = sofars::eph::moon98(2_448_724.5, 0.0);
    let (ra, dec) = sofars::vm::c2s(&geocentric);
    // From ICRS to the equinox of date.
    let matrix = sofars::pnp::pnm06a(2_448_724.5, 0.0);
    let mut of_date = [0.0; 3];
    sofars::vm::rxp(&matrix, &sofars::vm::s2c(ra, dec), &mut of_date);
    let (ra, dec) = sofars::vm::c2s(&of_date);
    assert!(
        apart_deg(ra.to_degrees(), 134.688_470) < 0.003,
        "{}",
        ra.to_degrees()
    );
    assert!(
        (dec.to_degrees() - 13.768_368).abs() < 0.003,
        "{}",
        dec.to_degrees()
    );
    let site = Site::new(0.0, 0.0, 0.0).expect("a site");
    let moon = site.sky(at).moon(&site, at);
    assert!((moon.lit - 0.6786).abs() < 0.008 && moon.waxes, "{moon:?}");
}

/// 200 random sites, stars and horizons with a point every 30 degrees, each for a day.
/// Shows (sky): when a target comes over the horizon of a file. With:
/// `crates/sky/src/pointing/horizon.rs::a_horizon_has_straight_lines_between_its_points`. Source: astropy 8.0.2, by bisection.
#[test]
fn targets_cross_a_horizon_when_astropy_says_so() {
    let cases = cases();
    let cases = list(&cases["crossings"]);
    assert_eq!(cases.len(), 200);
    let (mut worst, mut slant, mut count) = (0.0_f64, 0.0_f64, 0);
    for case in cases {
        let (site, from) = (site(case), moment(case));
        let mut file = "azimuth_deg,altitude_deg\n".to_owned();
        for (i, height) in list(&case["horizon_deg"]).iter().enumerate() {
            file.push_str(&format!("{},{height}\n", 30 * i));
        }
        let horizon = read_horizon(&file, "horizon.csv").expect("a horizon");
        let above_deg = |at| {
            let p = site.sky(at).pointing(place(case));
            p.altitude_deg - horizon.altitude_deg(p.azimuth_deg)
        };
        let found = crossings(from, 86_400.0, above_deg);
        let expected = list(&case["found"]);
        assert_eq!(found.len(), expected.len(), "{case}");
        for (found, expected) in found.iter().zip(expected) {
            assert_eq!(expected["rises"], found.rises, "{case}");
            let off_s = (found.at.since_s(from) - number(expected, "after_s")).abs();
            // How far the star is from the horizon at the moment of the reference: at a slant that takes long.
            let height_deg = above_deg(from.plus_s(number(expected, "after_s"))).abs();
            worst = worst.max(off_s);
            slant = slant.max(3600.0 * height_deg);
            count += 1;
        }
    }
    // As docs/sky.md tells.
    tell(&format!("{count} crossings: {worst} s, {slant} arcsec"));
    assert!(
        count == 416 && worst < 0.3 && slant < 0.7,
        "{count} {worst} {slant}"
    );
}

/// Shows (sky): a horizon file decides what can be used, and when a target comes out. Source: the crossing by the same
/// altitudes, by hand.
#[test]
fn a_horizon_hides_a_target_until_it_comes_out() {
    let dir = plain("A,40,83.8,-5.4,200\n", PLAIN);
    let mut flat = "azimuth_deg,altitude_deg\n".to_owned();
    for azimuth in (0..=360).step_by(30) {
        flat.push_str(&format!("{azimuth},25\n"));
    }
    write(dir.path(), "horizon.csv", &flat);
    let start = [
        "--start",
        "2026-10-14T23:00:00",
        "--trials",
        "1",
        "--mount",
        "fork",
        "--rules",
        "half-circle",
    ];
    let found = night(&dir, &[&start[..], &["--horizon", "horizon.csv"]].concat());
    let stretch = &list(&found["stretches"])[0];
    assert_eq!(list(&stretch["not_usable"])[0], "behind-horizon");
    let low = night(&dir, &[&start[..], &["--least-altitude", "25"]].concat());
    assert_eq!(
        list(&list(&low["stretches"])[0]["not_usable"])[0],
        "too-low"
    );
    let free = night(&dir, &start);
    assert_eq!(free["stretches"][0]["not_usable"], Value::Array(vec![]));
    let args = [
        &[
            "sky",
            "night",
            "rig.toml",
            "targets.csv",
            "--horizon",
            "horizon.csv",
        ],
        &SITE[..],
        &start[..],
    ]
    .concat();
    let told = complaint(&halfturn(dir.path(), &args));
    let until = told
        .split("behind the horizon until ")
        .nth(1)
        .expect("a time");
    // Two minutes before that it is below 25 degrees, two after it above.
    let site = Site::new(47.32, 12.08, 1180.0).expect("a site");
    let at = Moment::read(&format!("2026-10-15T{}:00", &until[..5])).expect("a moment");
    let altitude = |at: Moment| {
        site.sky(at)
            .pointing(SkyPlace {
                ra_deg: 83.8,
                dec_deg: -5.4,
            })
            .altitude_deg
    };
    assert!(
        altitude(at.plus_s(-120.0)) < 25.0 && altitude(at.plus_s(120.0)) > 25.0,
        "{told}"
    );
    write(dir.path(), "horizon.csv", &flat.replace("150,25\n", ""));
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(2));
    assert!(
        complaint(&out)
            .contains("horizon.csv:7: azimuth_deg = \"180\": is 60° from the row before"),
        "{}",
        complaint(&out)
    );
}

/// Slew and focus come before the loop of a target, a flip takes its time, and the end of the target stays.
/// Shows (sky): minutes for slew, flip and focus. Source: by hand.
#[test]
fn other_moves_take_their_time() {
    let dir = plain("A,100,345,40,120\nB,50,300,40,30\n", PLAIN);
    let start = [
        "--start",
        "2026-10-14T19:00:00",
        "--trials",
        "1",
        "--rules",
        "half-circle",
    ];
    let seconds = |s: &Value, key: &str| {
        halfturn_engine::fit::date_s(s[key].as_str().expect("a time")).expect("a time")
    };
    let plain_night = night(&dir, &start);
    let found = night(
        &dir,
        &[&start[..], &["--slew", "2", "--focus", "3", "--flip", "5"]].concat(),
    );
    let (before, after) = (list(&plain_night["stretches"]), list(&found["stretches"]));
    assert_eq!((before.len(), after.len()), (3, 3));
    for ((b, a), setup_s) in before.iter().zip(after).zip([300.0, 300.0, 300.0]) {
        assert_eq!(seconds(a, "begin") - seconds(b, "begin"), setup_s);
        assert_eq!(a["end"], b["end"]);
        assert_eq!(number(a, "setup_s"), setup_s);
    }
    assert_eq!(after[1]["after_flip"], true);
}

/// What a night loses by its plan: all minutes, less what each stretch exposes after its first turn, as
/// docs/sky.md says. From the JSON of the night alone.
fn lost_s(found: &Value, minutes: f64) -> f64 {
    let seconds = |s: &Value, key: &str| {
        halfturn_engine::fit::date_s(s[key].as_str().expect("a time")).expect("a time")
    };
    let stretches = list(&found["stretches"]).iter();
    let rotations = list(&found["rules"][0]["rotations"]);
    let exposed = stretches.zip(rotations).map(|(s, r)| {
        let bad = r["refused"] == true
            || number(r, "keep_out_deg") > 0.0
            || r["rests_in_keep_out"] == true;
        let wound = (number(r, "to_deg") - 90.0).abs() > 100.0;
        if bad || wound || !list(&s["not_usable"]).is_empty() {
            return 0.0;
        }
        let turn_deg = (number(r, "to_deg") - number(r, "from_deg")).abs();
        // The rig below: 2 degrees a second, 1 s for every command.
        seconds(s, "end") - seconds(s, "begin") - turn_deg / 2.0 - 1.0
    });
    60.0 * minutes - exposed.sum::<f64>()
}

const SLOW: &str = "[drive]\nspeed_deg_per_s = 2\noverhead_s = 1\npark_deg = 90\nwinding_limit_deg = 100\n[solve]\nnoise_deg = 0\n\
    [wrap]\nrule = \"half-circle\"\narc_start_deg = 0\n[[keep_out]]\nfrom_deg = 120\nto_deg = 130\nwhen = { hour_angle_h = [-1.0, 1.0], altitude_deg = [50.0, 90.0] }\n";

/// Shows (sky): the order that loses least, of all orders of up to eight targets. Source: every order, one by one, from
/// the JSON of its night.
#[test]
fn no_order_loses_less_than_the_best() {
    let rows = "A,150,330,40,50\nB,20,300,40,40\nC,100,315,40,45\nD,170,20,20,35\n";
    let dir = plain(rows, SLOW);
    let common = [
        "--trials",
        "1",
        "--rules",
        "half-circle",
        "--slew",
        "1",
        "--flip",
        "4",
        "--least-altitude",
        "30",
    ];
    let of = |order: &str| {
        let found = night(&dir, &[&common[..], &["--order", order]].concat());
        (lost_s(&found, 170.0), found)
    };
    let (best, found) = of("best");
    let mut least = f64::INFINITY;
    let mut count = 0;
    for n in 0..256 {
        let order = [n % 4, n / 4 % 4, n / 16 % 4, n / 64].map(|i| i + 1);
        if (1..=4).all(|i| order.contains(&i)) {
            let order = order.map(|i| i.to_string()).join(",");
            least = least.min(of(&order).0);
            count += 1;
        }
    }
    assert_eq!(count, 24);
    // Times of the JSON are whole seconds.
    assert!((best - least).abs() < 6.0, "{best} {least}");
    assert_eq!(list(&found["best_order"]).len(), 4);
    let (list_loss, plain_order) = of("list");
    assert!(list_loss > best + 60.0, "{list_loss} {best}");
    assert_eq!(plain_order["best_order"], Value::Null);
}

/// Nine targets: not all orders, but better than list and meridian order, and than any neighbours changed.
#[test]
fn a_long_list_is_improved_step_by_step() {
    let rows: String = (0..9)
        .map(|i| {
            let (angle, ra) = (17 * i, (290 + 53 * i) % 360);
            format!("T{i},{angle},{ra},40,{}\n", 25 + 5 * (i % 3))
        })
        .collect();
    let dir = plain(&rows, SLOW);
    let common = [
        "--trials",
        "1",
        "--rules",
        "half-circle",
        "--least-altitude",
        "30",
        "--flip",
        "4",
    ];
    let of = |order: &str| {
        let found = night(&dir, &[&common[..], &["--order", order]].concat());
        (lost_s(&found, 9.0 * 30.0), found)
    };
    let (best, found) = of("best");
    assert!(
        best < of("list").0 - 60.0 && best < of("meridian").0 - 60.0,
        "{best}"
    );
    let numbers = list(&found["best_order"]).iter().map(Value::to_string);
    let numbers: Vec<String> = numbers.collect();
    for i in 1..9 {
        let mut other = numbers.clone();
        other.swap(i - 1, i);
        // Times of the JSON are whole seconds.
        assert!(of(&other.join(",")).0 > best - 10.0, "{other:?}");
    }
}

/// An attempt fails with p = 0.5 and takes 20 s; one failure ends a loop. Every try takes 1 s for its command and those
/// 20 s; the next begins 100 s after it. Tries begin at 0, 121, 242 s and so on, as long as 10 minutes last: 5 of them. All
/// fail in p^5 of the nights. 20 000 nights, seed 1, five sigma: a right program fails in fewer than one of a million builds.
/// Shows (sky): a loop that gave up begins again while its slot allows. Source: the binomial distribution.
#[test]
fn a_loop_that_gave_up_begins_again() {
    let rig = "[drive]\nspeed_deg_per_s = 1000\noverhead_s = 1\nzero_point_sigma_deg = 0\nrepeatability_deg = 0\npark_deg = 90\n\
        [solve]\nnoise_deg = 0\nexposure_s = 0\nsolve_s = 0\nfailure_rate = 0.5\nmax_failures = 1\nfailure_s = 20\n[wrap]\nrule = \"half-circle\"\narc_start_deg = 0\n";
    let dir = plain("A,90,300,40,10\n", rig);
    let of = |more: &[&str]| {
        let found = night(
            &dir,
            &[&["--rules", "half-circle", "--mount", "fork"], more].concat(),
        );
        number(&found["rules"][0]["night"]["all_framed"], "rate")
    };
    for (more, tries) in [(&[][..], 1), (&["--retry", "1.6666666666666667"][..], 5)] {
        let framed = 1.0 - 0.5_f64.powi(tries);
        let sigma = (framed * (1.0 - framed) / 20_000.0).sqrt();
        assert!(
            (of(more) - framed).abs() < 5.0 * sigma,
            "{tries}: {} {framed}",
            of(more)
        );
    }
}
