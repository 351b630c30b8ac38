//! Vents and shade for a sunny day, asked and answered: how large openings low and high keep it near the outside.

use crate::catalogue::materials::{COVERS, Cover, find_cover, light_of};
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::model::snapshot::Snapshot;
use crate::science::shelter::day::VENT_SHARE_OF_FLOOR;
use crate::science::shelter::envelope::AIR_WH_M3K;
use crate::science::shelter::shape::{Measures, Shape, ShapeKind};
use crate::science::shelter::sun::{AIM_K, FEBRUARY_W_M2, MIDSUMMER_W_M2};
use crate::science::shelter::venting::{Sunny, shaded};
use crate::units::customary::{METRES_PER_FOOT, SQUARE_METRES_PER_SQUARE_FOOT};
use crate::units::{Celsius, Interval, within};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// The sunny day.
    pub enum Sky: "sunny day" {
        /// Clear noon in February.
        February = "february" => "a clear noon in February",
        /// Clear noon in midsummer.
        Summer = "summer" => "a clear noon in midsummer",
    }
}

vocabulary! {
    /// Wind by day.
    pub enum Wind: "wind" {
        /// None.
        Still = "still" => "still",
        /// Leaves stir.
        Light = "light" => "light: leaves stir",
        /// Twigs move.
        Breeze = "breeze" => "a breeze: twigs move",
    }
}

vocabulary! {
    /// Where shade cloth hangs.
    pub enum ShadeAt: "place of the shade cloth" {
        /// Over the cover.
        Outside = "outside" => "outside, over the cover",
        /// Under it.
        Inside = "inside" => "inside, under the cover",
    }
}

impl Sky {
    /// Sun on level ground, W/m², and the outside, °C. DESIGN, middle latitudes.
    const fn usual(self) -> (f64, f64) {
        match self {
            Self::February => (FEBRUARY_W_M2, 5.0),
            Self::Summer => (MIDSUMMER_W_M2, 28.0),
        }
    }
}

impl Wind {
    /// m/s: 0, 1 and 2.5, within Beaufort 0, 1 (0.3 to 1.5) and 2 (1.6 to 3.3; World Meteorological Organization).
    pub const fn m_s(self) -> f64 {
        match self {
            Self::Still => 0.0,
            Self::Light => 1.0,
            Self::Breeze => 2.5,
        }
    }
}

/// Parameters.
pub const PARAMETERS: [&str; 24] = [
    "shape",
    "length_m",
    "length_ft",
    "width_m",
    "width_ft",
    "wall_m",
    "wall_ft",
    "top_m",
    "top_ft",
    "cover",
    "sky",
    "sun_w_m2",
    "outside_c",
    "outside_f",
    "rise_k",
    "rise_f",
    "wind",
    "shade_percent",
    "shade_at",
    "low_m2",
    "low_ft2",
    "high_m2",
    "high_ft2",
    "rise_m",
];
/// Covers with light in them are offered; these are the usual.
pub const USUAL_COVER: &str = "film_single";
/// Share of the height between the middles of a low and a high opening where it is not given. DESIGN.
const RISE_SHARE: f64 = 0.7;
/// Changes of air an hour of the shut house. DESIGN: a closed small house by day.
const SHUT_AIR_CHANGES: f64 = 1.5;
/// Shades of the standing comparison, per cent of the light stopped.
pub const SHADES: [f64; 4] = [0.0, 30.0, 50.0, 70.0];

/// The question.
#[derive(Debug, Clone)]
pub struct VentsQuestion {
    /// Shape.
    pub measures: Measures,
    /// Cover.
    pub cover: &'static Cover,
    /// Day.
    pub sky: Sky,
    /// Sun on level ground, W/m².
    pub sun_w_m2: f64,
    /// Outside.
    pub outside: Celsius,
    /// Warmer than outside by no more than this, K.
    pub rise_k: f64,
    /// Wind.
    pub wind: Wind,
    /// Share of the light that shade cloth stops.
    pub shade: f64,
    /// Where it hangs.
    pub shade_at: ShadeAt,
    /// Openings there are, low and high, m²; `None`: not said.
    pub openings: Option<(f64, f64)>,
    /// Between the middles of the openings, m.
    pub between_m: f64,
}

/// Openings for one shade and wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// Share of light stopped, per cent.
    pub shade_percent: f64,
    /// A low opening and an equal high one in still air, m² each, with range.
    pub still: (f64, Interval<f64>),
    /// The same in a light wind.
    pub light: (f64, Interval<f64>),
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct VentsAnswer {
    /// Everything shut: K above outside.
    pub shut_k: f64,
    /// Shut and without shade: K above outside.
    pub shut_bare_k: f64,
    /// Air that has to pass, m³/h, and as changes an hour.
    pub air: (f64, f64),
    /// A low opening and an equal high one, m² each, with range.
    pub each_m2: (f64, Interval<f64>),
    /// K above outside with the openings there are.
    pub with_own_k: Option<f64>,
    /// For each of [`SHADES`].
    pub table: Vec<Needed>,
    /// The trade’s rule, m² each.
    pub rule_m2: [f64; 2],
    /// Floor, m².
    pub floor_m2: f64,
}

/// Covers that let light in.
pub fn clear_covers() -> impl Iterator<Item = &'static Cover> {
    COVERS.iter().filter(|cover| light_of(cover.key).is_some_and(|light| light > 0.0))
}

impl VentsQuestion {
    /// Reads it.
    ///
    /// # Errors
    /// Every field that cannot be used.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &PARAMETERS);
        let shape = read.word("shape").unwrap_or(ShapeKind::Gable);
        let mut length = |metres: &'static str, feet: &'static str, what: &'static str, most: f64| {
            let m = read.number(metres, |x| within(what, "m", x, 0.2, most));
            let ft = read.number(feet, |x| within(what, "ft", x, 0.7, most / METRES_PER_FOOT).map(|x| x * METRES_PER_FOOT));
            read.either((metres, m), (feet, ft))
        };
        let sides = [
            length("length_m", "length_ft", "length", 100.0),
            length("width_m", "width_ft", "width", 100.0),
            length("wall_m", "wall_ft", "height of the walls", 12.0),
            length("top_m", "top_ft", "height at the top", 12.0),
        ];
        let cover = read.value("cover").unwrap_or(USUAL_COVER).to_owned();
        let found = find_cover(&cover).filter(|cover| light_of(cover.key).is_some_and(|light| light > 0.0));
        let refused = || format!("there is no clear cover “{}”; accepted: {}", cover.chars().take(40).collect::<String>(), clear_keys());
        let cover = read.errors.keep("cover", &cover, found.ok_or_else(refused));
        let sky = read.word("sky").unwrap_or(Sky::Summer);
        let sun = read.number("sun_w_m2", |x| within("sun on level ground", "W/m²", x, 50.0, 1_200.0));
        let outside = read.temperature("outside_c", "outside_f");
        let in_k = read.number("rise_k", |x| within("warmer than outside by", "°C", x, 1.0, 30.0));
        let in_f = read.number("rise_f", |x| within("warmer than outside by", "°F", x, 1.8, 54.0).map(|x| x / 1.8));
        let rise_k = read.either(("rise_k", in_k), ("rise_f", in_f));
        let wind = read.word("wind").unwrap_or(Wind::Still);
        let shade = read.number("shade_percent", |x| within("light that the cloth stops", "%", x, 0.0, 95.0));
        let shade_at = read.word("shade_at").unwrap_or(ShadeAt::Outside);
        let mut area = |metres: &'static str, feet: &'static str, what: &'static str| {
            let m = read.number(metres, |x| within(what, "m²", x, 0.0, 500.0));
            let ft = read.number(feet, |x| within(what, "sq ft", x, 0.0, 5_000.0).map(|x| x * SQUARE_METRES_PER_SQUARE_FOOT));
            read.either((metres, m), (feet, ft))
        };
        let (low, high) = (area("low_m2", "low_ft2", "low openings"), area("high_m2", "high_ft2", "high openings"));
        let between = read.number("rise_m", |x| within("height between the openings", "m", x, 0.1, 12.0));
        // A garden house of 2.4 × 3.6 m where nothing is said.
        let [length, width, wall, top] =
            [(sides[0], 3.6), (sides[1], 2.4), (sides[2], 1.8), (sides[3], 2.4)].map(|(x, usual)| x.unwrap_or(usual));
        let measured = Shape::new(shape, length, width, wall, top).map(|shape| shape.measures());
        let measures = read.errors.keep("top_m", &format!("{top:.2}"), measured);
        read.errors.into_result()?;
        let (Some(measures), Some(cover)) = (measures, cover) else { return Err(FieldErrors::default()) };
        let (usual_sun, usual_outside) = sky.usual();
        Ok(Self {
            measures,
            cover,
            sky,
            sun_w_m2: sun.unwrap_or(usual_sun),
            outside: outside.unwrap_or(Celsius::literal(usual_outside)),
            rise_k: rise_k.unwrap_or(AIM_K),
            wind,
            shade: shade.unwrap_or(0.0) / 100.0,
            shade_at,
            openings: (low.is_some() || high.is_some()).then(|| (low.unwrap_or(0.0), high.unwrap_or(0.0))),
            between_m: between.unwrap_or(RISE_SHARE * top),
        })
    }

    /// The shelter under so much shade and wind.
    fn sunny(&self, shade: f64, wind_m_s: f64) -> Sunny {
        let skin_m2 = self.measures.walls_m2 + self.measures.roof_m2;
        Sunny {
            sun_w_m2: self.sun_w_m2,
            light: light_of(self.cover.key).unwrap_or(0.0),
            shaded: shaded(shade, self.shade_at == ShadeAt::Outside),
            floor_m2: self.measures.floor_m2,
            skin_w_k: self.cover.u_w_m2k * skin_m2,
            outside_c: self.outside.degrees(),
            rise_m: self.between_m,
            wind_m_s,
        }
    }
}

fn clear_keys() -> String {
    clear_covers().map(|cover| cover.key).collect::<Vec<_>>().join(", ")
}

impl Snapshot {
    /// How large the openings have to be.
    pub fn vents(&self, question: &VentsQuestion) -> VentsAnswer {
        let leaks = AIR_WH_M3K * SHUT_AIR_CHANGES * question.measures.volume_m3;
        let asked = question.sunny(question.shade, question.wind.m_s());
        let air = asked.needed_m3_s(question.rise_k) * 3_600.0;
        let needed = |percent: f64| Needed {
            shade_percent: percent,
            still: question.sunny(percent / 100.0, Wind::Still.m_s()).openings_m2(question.rise_k),
            light: question.sunny(percent / 100.0, Wind::Light.m_s()).openings_m2(question.rise_k),
        };
        VentsAnswer {
            shut_k: asked.shut_k(leaks),
            shut_bare_k: question.sunny(0.0, 0.0).shut_k(leaks),
            air: (air, air / question.measures.volume_m3),
            each_m2: asked.openings_m2(question.rise_k),
            with_own_k: question.openings.map(|(low, high)| asked.rise_k(low, high)),
            table: SHADES.map(needed).to_vec(),
            rule_m2: VENT_SHARE_OF_FLOOR.map(|share| share * question.measures.floor_m2),
            floor_m2: question.measures.floor_m2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(query: &[(&str, &str)]) -> Result<VentsAnswer, FieldErrors> {
        let pairs: Vec<_> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        Ok(Snapshot::from_seed().unwrap().vents(&VentsQuestion::parse(&pairs)?))
    }

    /// The trade’s rule (ASABE as quoted by Bartok 2015): 15 to 20 % of the floor on the sides and in the roof each; the range of a small house
    /// of film in a light summer wind holds it.
    #[test]
    fn a_summer_house_of_film_comes_out_near_the_trades_rule() {
        let answer = ask(&[("wind", "light")]).unwrap();
        let [least, most] = answer.rule_m2;
        let (_, range) = answer.each_m2;
        assert!(range.low < most && least < range.high, "{range:?} against {least} to {most}");
    }

    #[test]
    fn shade_and_wind_ask_for_less_and_the_openings_found_keep_the_rise_wanted() {
        let bare = ask(&[]).unwrap();
        assert!(bare.table.windows(2).all(|w| w[1].still.0 < w[0].still.0));
        assert!(bare.table.iter().all(|row| row.light.0 <= row.still.0));
        let each = bare.each_m2.0.to_string();
        let own = ask(&[("low_m2", &each), ("high_m2", &each)]).unwrap();
        assert!((own.with_own_k.unwrap() - AIM_K).abs() < 0.02, "{:?}", own.with_own_k);
        let inside = ask(&[("shade_percent", "50"), ("shade_at", "inside")]).unwrap();
        let outside = ask(&[("shade_percent", "50")]).unwrap();
        assert!(outside.shut_k < inside.shut_k && inside.shut_k < bare.shut_k);
    }

    #[test]
    fn a_wall_is_no_clear_cover_and_a_top_below_the_walls_is_named() {
        let wrong = |query: &[(&str, &str)], field: &str| {
            let errors = ask(query).unwrap_err();
            assert!(errors.of(field).is_some(), "{errors}");
        };
        wrong(&[("cover", "brick_240mm")], "cover");
        wrong(&[("wall_m", "3"), ("top_m", "2")], "top_m");
        wrong(&[("rise_k", "0")], "rise_k");
    }
}
