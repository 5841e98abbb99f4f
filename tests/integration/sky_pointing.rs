//! Where places stand, against ERFA and astropy (tests/reference/make_night_cases.py) and the examples of a handbook.

use serde_json::Value;

use halfturn_sky::SkyPlace;
use halfturn_sky::pointing::{
    Pointing, SIDEREAL_DEG_PER_H, Site, Twilight, rotation_deg_per_h, sun_altitude_deg,
    sun_crossings, zenith_zone_deg,
};
use halfturn_sky::time::Moment;

use crate::sky_values::{apart_deg, list, number};

const ARCSEC: f64 = 1.0 / 3600.0;

fn cases() -> Value {
    serde_json::from_str(include_str!("../data/night_cases.json")).expect("JSON")
}

fn site(case: &Value) -> Site {
    Site::new(
        number(case, "latitude_deg"),
        number(case, "longitude_deg"),
        number(case, "elevation_m"),
    )
    .expect("a site")
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

/// How small a circle an angle is measured on: an error of the place is larger in an angle near the pole or the zenith.
fn shrunk(pointing: &Pointing) -> f64 {
    let from_pole = (90.0 - pointing.dec_of_date_deg.abs()).to_radians().sin();
    let from_zenith = (90.0 - pointing.altitude_deg.abs()).to_radians().sin();
    from_pole.min(from_zenith)
}

/// The same models as in ERFA: what differs is rounding, and the steps of the reference for ICRS north.
/// Shows (sky): azimuth, altitude, hour angle, parallactic angle, zenith. With: `pointings_are_those_of_astropy`.
/// Source: ERFA by pyerfa 2.0.1.5; astropy 8.0.2.
#[test]
fn pointings_are_those_of_erfa() {
    let cases = cases();
    assert!(list(&cases["cases"]).len() >= 128);
    let mut worst = [0.0_f64; 4];
    for case in list(&cases["cases"]) {
        let site = site(case).with_dut1_s(number(case, "dut1_s"));
        let found = site.sky(moment(case)).pointing(place(case));
        let erfa = &case["erfa"];
        let off = [
            apart_deg(found.azimuth_deg, number(erfa, "azimuth_deg"))
                .max((found.altitude_deg - number(erfa, "altitude_deg")).abs()),
            15.0 * (found.hour_angle_h - number(erfa, "hour_angle_h")).abs(),
            apart_deg(found.parallactic_deg, number(erfa, "parallactic_deg")),
            apart_deg(found.zenith_deg, number(erfa, "zenith_deg")),
        ];
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off / ARCSEC);
        }
        assert!(off[0] < 1e-3 * ARCSEC && off[1] < 1e-3 * ARCSEC, "{case}");
        assert!(off[2] < 1e-3 * ARCSEC, "{case}: {found:?}");
        // The reference steps by 0.01 degrees: the square of that, over the tangent of the smaller distance.
        assert!(off[3] < 1.0 * ARCSEC, "{case}: {found:?}");
    }
    // As docs/sky.md tells.
    assert!(
        worst[..3].iter().all(|w| *w < 4e-6) && worst[3] < 0.08,
        "{worst:?}"
    );
}

/// astropy knows polar motion, which is neglected here: 0.3 arcseconds, more in angles near pole and zenith.
#[test]
fn pointings_are_those_of_astropy() {
    let mut worst = [0.0_f64; 3];
    for case in list(&cases()["cases"]) {
        let reference = &case["astropy"];
        let site = site(case).with_dut1_s(number(reference, "dut1_s"));
        let found = site.sky(moment(case)).pointing(place(case));
        let azimuth = apart_deg(found.azimuth_deg, number(reference, "azimuth_deg"));
        let off = [
            (azimuth * found.altitude_deg.to_radians().cos())
                .max((found.altitude_deg - number(reference, "altitude_deg")).abs()),
            apart_deg(found.zenith_deg, number(reference, "zenith_deg")) * shrunk(&found),
            (sun_altitude_deg(&site, moment(case)) - number(reference, "sun_altitude_deg")).abs(),
        ];
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off / ARCSEC);
        }
        // Hour angle by the apparent sidereal time of astropy.
        let sidereal = 15.0 * number(reference, "apparent_sidereal_time_h");
        let ra_of_date = sidereal - 15.0 * found.hour_angle_h;
        // Precession moves a star by less than 0.7 degrees in 50 years away from the poles.
        if found.dec_of_date_deg.abs() < 45.0 {
            assert!(
                apart_deg(ra_of_date, number(case, "ra_deg")) < 1.0,
                "{case}"
            );
        }
        assert!(off.iter().all(|off| *off < ARCSEC), "{off:?} {case}");
    }
    // As docs/sky.md tells.
    assert!(worst.iter().all(|w| *w < 0.46), "{worst:?}");
}

/// To first order precession turns north by n t sin(RA) / cos(dec), n = 20.04 arcseconds a year: at 26.8 years and
/// declination 85 by up to 1.71°; nutation and the second order add a little.
/// Shows (sky): ICRS north is not the pole of date. Source: Meeus, Astronomical Algorithms, chapter 21 (from memory).
#[test]
fn icrs_north_is_not_the_pole_of_date() {
    let site = Site::new(47.0, 12.0, 0.0).expect("a site");
    let at = Moment::read("2026-10-14T20:00:00").expect("a moment");
    let off = |dec_deg: f64| {
        (0..24)
            .map(|h| SkyPlace {
                ra_deg: 15.0 * f64::from(h),
                dec_deg,
            })
            .map(|place| site.sky(at).pointing(place).pole_of_date_deg().abs())
            .fold(0.0, f64::max)
    };
    let most = |dec_deg: f64| 20.04 / 3600.0 * 26.8 / dec_deg.to_radians().cos();
    for dec_deg in [0.0, 60.0, 85.0] {
        let ratio = off(dec_deg) / most(dec_deg);
        assert!((ratio - 1.0).abs() < 0.05, "{dec_deg}: {ratio}");
    }
}

/// To two seconds: at a slant in the far north an arcsecond takes longer.
/// Shows (sky): dusk and dawn. Source: astropy, by bisection.
#[test]
fn twilight_ends_when_astropy_says_so() {
    let mut worst = 0.0_f64;
    for night in list(&cases()["nights"]) {
        let midnight = Moment::read_date(night["date"].as_str().expect("a date")).expect("a day");
        let (dusk, dawn) = sun_crossings(&site(night), midnight, number(night, "sun_deg"));
        for (found, key) in [(dusk, "dusk"), (dawn, "dawn")] {
            let expected = night[key].as_str().and_then(Moment::read);
            match (found, expected) {
                (Some(found), Some(expected)) => {
                    worst = worst.max(found.since_s(expected).abs());
                    assert!(
                        found.since_s(expected).abs() < 2.0,
                        "{night} {}",
                        found.iso()
                    );
                }
                (found, expected) => assert_eq!(found.is_some(), expected.is_some(), "{night}"),
            }
        }
    }
    // As docs/sky.md tells.
    assert!(worst < 0.15, "{worst}");
}

/// Example 13.b: Venus from Washington, 1987 April 10, 19:21 UT: apparent place 23h 09m 16.641s, -6d 43' 11.61", hour
/// angle 64.352133°, azimuth 68.0337° from south, altitude 15.1249°.
/// Shows (sky): horizontal coordinates and sidereal time. Source: Meeus, Astronomical Algorithms (2nd ed.),
/// examples 12.a, 12.b, 13.b (from memory).
#[test]
fn the_handbook_agrees_on_horizontal_coordinates() {
    let phi = (38.0 + 55.0 / 60.0 + 17.0 / 3600.0_f64).to_radians();
    let dec = -(6.0 + 43.0 / 60.0 + 11.61 / 3600.0_f64).to_radians();
    let [azimuth, altitude] = sofars::coords::hd2ae(64.352_133_f64.to_radians(), dec, phi);
    assert!((azimuth.to_degrees() - 180.0 - 68.0337).abs() < 1e-4);
    assert!((altitude.to_degrees() - 15.1249).abs() < 1e-4);
    // Example 12.a and 12.b: mean sidereal time at Greenwich, 1987 April 10: 13h 10m 46.3668s at 0h UT, 128.73787 deg at 19:21.
    let (day, rest) = Moment::read("1987-04-10T19:21:00")
        .expect("a moment")
        .julian();
    let mean = sofars::erst::gmst82(day, rest).to_degrees();
    assert!((mean - 128.737_873_4).abs() < 1e-6, "{mean}");
    // Example 12.a: apparent sidereal time at 0h, 13h 10m 46.1351s; IAU 2006 differs from IAU 1980 by some milliseconds.
    let (day, rest) = Moment::read("1987-04-10T00:00:00")
        .expect("a moment")
        .julian();
    let apparent = sofars::erst::gst06a(day, rest, day, rest + 55.8 / 86_400.0).to_degrees() / 15.0;
    let expected = 13.0 + 10.0 / 60.0 + 46.1351 / 3600.0;
    assert!(
        (apparent - expected).abs() * 3600.0 < 0.02,
        "{apparent} {expected}"
    );
}

/// Shows (sky): rate of the field: `-15.041 cos(latitude) cos(azimuth) / cos(altitude)`. Source: its derivative from
/// angles that ERFA bears out.
#[test]
fn the_field_turns_as_the_parallactic_angle_changes() {
    for latitude_deg in [-50.0, -3.0, 20.0, 47.0_f64] {
        let phi = latitude_deg.to_radians();
        for dec_deg in [-30.0, 10.0, 60.0_f64] {
            for hour_deg in [-70.0, -10.0, 33.0, 95.0_f64] {
                let (h, dec) = (hour_deg.to_radians(), dec_deg.to_radians());
                let [azimuth, altitude] = sofars::coords::hd2ae(h, dec, phi);
                let step = 1e-5_f64;
                let q = |h| sofars::coords::hd2pa(h, dec, phi);
                let slope = halfturn_engine::angle::residual(
                    (q(h + step) - q(h - step)).to_degrees(),
                    360.0,
                )
                .expect("finite")
                    / (2.0 * step.to_degrees());
                let rate =
                    rotation_deg_per_h(latitude_deg, azimuth.to_degrees(), altitude.to_degrees());
                let expected = slope * SIDEREAL_DEG_PER_H;
                assert!(
                    (rate - expected).abs() < 1e-6 * expected.abs().max(1.0),
                    "{rate} {expected}"
                );
            }
        }
    }
    assert!(rotation_deg_per_h(47.0, 180.0, 90.0).is_infinite());
    // At this distance the rate is that of the drive.
    let zone_deg = zenith_zone_deg(47.0, 1.0);
    let rate = rotation_deg_per_h(47.0, 180.0, 90.0 - zone_deg) / 3600.0;
    assert!((rate - 1.0).abs() < 1e-9, "{rate}");
}

#[test]
fn sites_are_checked() {
    assert!(Site::new(90.1, 0.0, 0.0).is_err());
    assert!(Site::new(f64::NAN, 0.0, 0.0).is_err());
    assert!(Site::new(0.0, -181.0, 0.0).is_err());
    assert!(Site::new(0.0, 0.0, 1e9).is_err());
}

/// Explanatory Supplement to the Astronomical Almanac (3rd ed.), chapter 12, from memory: 50 arcminutes for the Sun's rise and set, then 6, 12, 18 degrees.
#[test]
fn twilight_has_its_usual_ends() {
    let found: Vec<(&str, f64)> = Twilight::ALL
        .iter()
        .map(|kind| (kind.into(), -60.0 * kind.sun_deg()))
        .collect();
    let expected = [
        ("sunset", 50.0),
        ("civil", 360.0),
        ("nautical", 720.0),
        ("astronomical", 1080.0),
    ];
    assert_eq!(found, expected);
}
