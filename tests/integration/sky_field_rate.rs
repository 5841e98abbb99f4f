//! The fastest rate that `halfturn sky field-rotation` tells.

use halfturn_sky::SkyPlace;
use halfturn_sky::field::{FieldMount, FieldSession, PoleError, fastest, session};
use halfturn_sky::pointing::{SIDEREAL_DEG_PER_H, Site};
use halfturn_sky::time::Moment;

use crate::sky_field::field;
use crate::sky_values::number;

/// In the meridian it is `15.041 cos(latitude) / sin(latitude - declination)`, as the altitude is `90 - latitude +
/// declination` there and the azimuth 180.
/// Shows (sky): the fastest rate is that of the session, not of its rows. With: `a_narrow_peak_is_met`,
/// `the_fastest_rate_is_found_by_brute_force`. Source: closed form in the meridian; brute force at 0.1 s.
#[test]
fn the_fastest_rate_is_that_of_the_session() {
    let site = Site::new(47.32, 12.08, 1180.0).expect("a site");
    let both = |every: &str| {
        let args = ["--object", "M 31", "--minutes", "420", "--every", every];
        let found = field(&args);
        (
            number(&found, "fastest_deg_per_h"),
            number(&found, "shortest_exposure_s"),
            found,
        )
    };
    let (fastest, shortest, found) = both("1");
    for every in ["30", "120"] {
        let (rate, exposure, _) = both(every);
        assert_eq!((rate, exposure), (fastest, shortest), "{every}");
    }
    let at = Moment::read(found["fastest_at"].as_str().expect("a moment")).expect("a moment");
    let place = SkyPlace {
        ra_deg: number(&found, "ra_deg"),
        dec_deg: number(&found, "dec_deg"),
    };
    let there = site.sky(at).pointing(place);
    // A second of time is 0.0003 h.
    assert!(there.hour_angle_h.abs() < 2e-4, "{there:?}");
    let zenith = (47.32 - there.dec_of_date_deg).to_radians();
    let expected = SIDEREAL_DEG_PER_H * 47.32_f64.to_radians().cos() / zenith.sin();
    assert!(
        (fastest / expected - 1.0).abs() < 1e-6,
        "{fastest} {expected}"
    );
    assert!((shortest * fastest / 3600.0 - 0.015_248).abs() < 1e-5);
}

/// Held against every tenth of a second of the session: near the zenith, over the pole, at a lower culmination, between culminations, and an axis that
/// misses the pole, with a target near it and one far from it.
#[test]
fn the_fastest_rate_is_found_by_brute_force() {
    let start = Moment::read("2026-10-14T18:40:00").expect("a moment");
    let missed = FieldMount::Equatorial(PoleError {
        altitude_arcmin: 20.0,
        azimuth_arcmin: -45.0,
    });
    // Mount, latitude, place, begin and length of the session in minutes. RA 316.1 culminates at 18:43. The axis stands 57 degrees west of the meridian, as
    // 45 arcmin by azimuth are 31 on the sky and tan 57 = 31 / 20; in the south its visible end stands 63 east: tan 63 = 39 / 20. Near the
    // pole precession has moved right ascensions by degrees.
    let cases = [
        (FieldMount::AltAz, 47.32, (316.1, 47.42), 0.0, 6.0),
        (FieldMount::AltAz, 47.32, (316.1, 47.20), 0.0, 6.0),
        (FieldMount::AltAz, 47.32, (316.1, 30.0), 0.0, 10.0),
        (FieldMount::AltAz, 47.32, (136.1, 60.0), 0.0, 10.0),
        (FieldMount::AltAz, 47.32, (316.1, 60.0), 20.0, 10.0),
        (FieldMount::AltAz, -30.0, (316.1, -29.9), 0.0, 6.0),
        (missed, 47.32, (264.0, 88.0), 0.0, 10.0),
        (missed, 47.32, (316.1, 40.0), 0.0, 20.0),
        (missed, -30.0, (19.5, -87.0), 0.0, 10.0),
    ];
    let mut inside = 0;
    for (mount, latitude, (ra_deg, dec_deg), begin_min, minutes) in cases {
        let asked = FieldSession {
            site: Site::new(latitude, 12.08, 0.0).expect("a site"),
            mount,
            place: SkyPlace { ra_deg, dec_deg },
            start: start.plus_s(60.0 * begin_min),
            length_s: 60.0 * minutes,
            step_s: 0.1,
        };
        let (at, found) = fastest(&asked);
        let rows = session(&asked);
        let sizes = rows.iter().map(|r| r.rate_deg_per_h.abs());
        let brute = sizes.fold(0.0, f64::max);
        // The peak is never less than a row, and half a step of 0.1 s from it hardly more: at 0.1 deg from the zenith, 3e-6 of it.
        assert!(found >= brute * (1.0 - 1e-9), "{dec_deg} {found} {brute}");
        assert!(found <= brute * (1.0 + 1e-5), "{dec_deg} {found} {brute}");
        let after_s = at.since_s(asked.start);
        inside += u32::from(after_s > 0.0 && after_s < asked.length_s);
    }
    assert!(inside >= 7, "{inside}");
}

/// Two arcseconds from the zenith the peak lasts a fifth of a second. It is found from 23 hours before.
#[test]
fn a_narrow_peak_is_met() {
    let start = Moment::read("2026-10-13T19:43:00").expect("a moment");
    let place = SkyPlace {
        ra_deg: 316.1,
        dec_deg: 47.42,
    };
    let near = Site::new(47.5, 12.08, 0.0).expect("a site");
    let culminates = start.plus_s(23.0 * 3600.0);
    let dec_deg = near.sky(culminates).pointing(place).dec_of_date_deg;
    let latitude_deg = dec_deg + 2.0 / 3600.0;
    let asked = FieldSession {
        site: Site::new(latitude_deg, 12.08, 0.0).expect("a site"),
        mount: FieldMount::AltAz,
        place,
        start,
        length_s: 24.0 * 3600.0,
        step_s: 3600.0,
    };
    let (at, found) = fastest(&asked);
    let there = asked.site.sky(at).pointing(place);
    let zenith = (latitude_deg - there.dec_of_date_deg).to_radians();
    let expected = SIDEREAL_DEG_PER_H * latitude_deg.to_radians().cos() / zenith.sin();
    // Altitudes have 14 digits, of which the zenith distance has 5 less.
    assert!((found / expected - 1.0).abs() < 1e-6, "{found} {expected}");
}
