//! Rates as colours: a scale of even steps, from pale sand over red to dark violet.
//!
//! It is a curve in Oklab (Ottosson 2020), a space in which equal distances look about equal. Its lightness falls
//! evenly: the order of colours shows without hue, to every kind of colour vision and in print. The curve bends
//! through the hues so that every step is equally long.

use super::style::RGBColor;
use serde::Serialize;

use super::scale::Scale;

/// Number of steps. More could not be told apart.
const STEPS: usize = 256;

/// The colour of a cell without hunting: as light as the scale, but with another hue.
pub(super) const NONE: RGBColor = RGBColor(227, 232, 237);

/// If the largest rate is this many times the smallest above 0, colours follow the logarithm.
const RATIO_FROM: f64 = 30.0;

/// The Oklab colour at a share of the scale: lightness, green to red, blue to yellow.
fn oklab(share: f64) -> [f64; 3] {
    let lightness = 0.93 - 0.68 * share;
    let hue = (92.0 - 142.0 * share).to_radians();
    let chroma = 0.06 + 0.115 * libm::pow(libm::sin(std::f64::consts::PI * share).max(0.0), 0.9);
    [lightness, chroma * libm::cos(hue), chroma * libm::sin(hue)]
}

/// Oklab to linear sRGB.
fn linear_rgb([lightness, a, b]: [f64; 3]) -> [f64; 3] {
    let l = (lightness + 0.396_337_777_4 * a + 0.215_803_757_3 * b).powi(3);
    let m = (lightness - 0.105_561_345_8 * a - 0.063_854_172_8 * b).powi(3);
    let s = (lightness - 0.089_484_177_5 * a - 1.291_485_548 * b).powi(3);
    [
        4.076_741_662_1 * l - 3.307_711_591_3 * m + 0.230_969_929_2 * s,
        -1.268_438_004_6 * l + 2.609_757_401_1 * m - 0.341_319_396_5 * s,
        -0.004_196_086_3 * l - 0.703_418_614_7 * m + 1.707_614_701 * s,
    ]
}

fn colour(share: f64) -> RGBColor {
    let [r, g, b] = linear_rgb(oklab(share)).map(|linear| {
        let linear = linear.clamp(0.0, 1.0);
        let encoded = if linear <= 0.003_130_8 {
            12.92 * linear
        } else {
            1.055 * libm::pow(linear, 1.0 / 2.4) - 0.055
        };
        (255.0 * encoded).round() as u8
    });
    RGBColor(r, g, b)
}

/// The colours that a page needs to draw rates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RateColours {
    /// From the smallest rate to the largest, as `#rrggbb`.
    pub steps: Vec<String>,
    /// The colour of rate 0.
    pub none: String,
    /// If the largest rate is this many times the smallest above 0, steps follow the logarithm.
    pub ratio_from: f64,
}

/// The colours of rates, as in the pictures.
#[must_use]
pub fn rate_colours() -> RateColours {
    let text = |RGBColor(r, g, b): RGBColor| format!("#{r:02x}{g:02x}{b:02x}");
    let steps = 64;
    let colours = (0..steps).map(|i| text(colour(f64::from(i) / f64::from(steps - 1))));
    RateColours {
        steps: colours.collect(),
        none: text(NONE),
        ratio_from: RATIO_FROM,
    }
}

/// Which rate has which colour.
#[derive(Debug, Clone)]
pub(super) struct ColourScale {
    /// Smallest and largest rate.
    ends: (f64, f64),
    logarithmic: bool,
    colours: Vec<RGBColor>,
}

impl ColourScale {
    /// The scale for some rates; `None` if none is above 0.
    pub(super) fn of(rates: impl Iterator<Item = f64>) -> Option<Self> {
        let above = rates.filter(|rate| *rate > 0.0);
        let (least, most) = super::scale::range(above)?;
        let logarithmic = most / least >= RATIO_FROM;
        Some(Self {
            ends: (if logarithmic { least } else { 0.0 }, most),
            logarithmic,
            colours: (0..STEPS)
                .map(|i| colour(i as f64 / (STEPS - 1) as f64))
                .collect(),
        })
    }

    /// Whether equal ratios of rates are equal steps of colour.
    pub(super) fn logarithmic(&self) -> bool {
        self.logarithmic
    }

    /// The scale of the rates between two places on the sheet. `times` is 100 for percent.
    pub(super) fn scale(&self, times: f64, px: (f64, f64)) -> Scale {
        let ends = (times * self.ends.0, times * self.ends.1);
        if self.logarithmic {
            Scale::ratio(ends, px)
        } else {
            Scale::even(ends, px)
        }
    }

    /// The colour of a rate; [`NONE`] for 0.
    pub(super) fn at(&self, rate: f64) -> RGBColor {
        if rate <= 0.0 {
            return NONE;
        }
        let step = self
            .scale(100.0, (0.0, (STEPS - 1) as f64))
            .at(100.0 * rate);
        self.colours[(step.round() as usize).min(STEPS - 1)]
    }

    /// The colours from the smallest rate to the largest.
    pub(super) fn colours(&self) -> &[RGBColor] {
        &self.colours
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shares() -> impl Iterator<Item = f64> {
        (0..=100).map(|i| f64::from(i) / 100.0)
    }

    #[test]
    fn every_colour_is_on_the_screen_and_every_step_is_as_long() {
        for share in shares() {
            let inside = |c: f64| (-1e-6..=1.0 + 1e-6).contains(&c);
            assert!(linear_rgb(oklab(share)).into_iter().all(inside), "{share}");
        }
        let all: Vec<[f64; 3]> = shares().map(oklab).collect();
        let steps: Vec<f64> = all
            .windows(2)
            .map(|w| {
                let parts = (0..3).map(|i| (w[1][i] - w[0][i]).powi(2));
                parts.sum::<f64>().sqrt()
            })
            .collect();
        let (least, most) = super::super::scale::range(steps).unwrap_or((0.0, 0.0));
        assert!(least > 0.0 && most / least < 1.2, "{least} {most}");
    }

    /// Cone responses of the two common kinds of colour blindness: without the long, or the middle, cones (matrices in
    /// linear sRGB).
    /// Shows (serve): colours of the map tell the values apart to every kind of colour vision. With:
    /// `every_colour_is_on_the_screen_and_every_step_is_as_long`. Source: Viénot, Brettel & Mollon 1999, Color Res.
    /// Appl. 24, 243.
    #[test]
    fn the_order_shows_to_every_kind_of_colour_vision() {
        let protan = [
            [0.112_38, 0.887_62],
            [0.112_38, 0.887_62],
            [0.004_01, -0.004_01],
        ];
        let deutan = [
            [0.292_75, 0.707_25],
            [0.292_75, 0.707_25],
            [-0.022_34, 0.022_34],
        ];
        let luminance = |[r, g, b]: [f64; 3]| 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let seen = |by: Option<[[f64; 2]; 3]>| -> Vec<f64> {
            shares()
                .map(|share| {
                    let [r, g, b] = linear_rgb(oklab(share));
                    luminance(by.map_or([r, g, b], |[red, green, blue]| {
                        [
                            red[0] * r + red[1] * g,
                            green[0] * r + green[1] * g,
                            blue[0] * r + blue[1] * g + b,
                        ]
                    }))
                })
                .collect()
        };
        for by in [None, Some(protan), Some(deutan)] {
            assert!(seen(by).windows(2).all(|w| w[1] < w[0]), "{by:?}");
        }
    }

    #[test]
    fn rates_are_even_or_logarithmic_and_none_stands_apart() {
        let even = ColourScale::of([0.0, 0.1, 0.4].into_iter()).map(|s| s.logarithmic());
        let ratio = ColourScale::of([0.0, 0.001, 0.4].into_iter()).map(|s| s.logarithmic());
        assert_eq!((even, ratio), (Some(false), Some(true)));
        assert!(ColourScale::of([0.0, 0.0].into_iter()).is_none());
        for rates in [vec![0.2], vec![0.001, 0.4]] {
            let Some(scale) = ColourScale::of(rates.iter().copied()) else {
                panic!("{rates:?}");
            };
            assert_eq!(scale.at(0.0), NONE);
            assert_eq!(scale.at(rates[rates.len() - 1]), scale.colours()[STEPS - 1]);
            assert!(scale.colours().iter().all(|c| *c != NONE));
        }
    }
}
