//! Small heat under a cover, asked and answered: what so many watts gain, and how many a wish takes.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::stage::{CoverKind, NightKind};
use crate::science::numeric::Gaussian;
use crate::science::priors::PriorRow;
use crate::science::shelter::small_heat::{Covered, Factor, Heap};
use crate::units::customary::METRES_PER_FOOT;
use crate::units::{Interval, within};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What the cover is made of.
    pub enum Skin: "kind of cover" {
        /// Fleece, sheet, burlap.
        Cloth = "cloth" => "one cloth, sheet or fleece",
        /// Film.
        Film = "film" => "one skin of plastic",
        /// Two skins.
        Double = "double" => "fleece under plastic, or two skins",
        /// Quilt.
        Quilt = "quilt" => "quilt or thick blanket, dry",
    }
}

vocabulary! {
    /// Whether its foot is closed.
    pub enum Foot: "foot of the cover" {
        /// Weighed down all round.
        Sealed = "sealed" => "weighed down on the soil all round",
        /// Open somewhere.
        Open = "open" => "open at the foot",
    }
}

vocabulary! {
    /// What gives the heat.
    pub enum HeatKind: "kind of heat" {
        /// Soil or frost cable.
        Cable = "cable" => "heating cable, by the metre",
        /// Mat.
        Mat = "mat" => "heat mat",
        /// Filament string lights.
        BulbOld = "bulb_old" => "string of old-style bulbs, by the bulb",
        /// LED string lights.
        BulbLed = "bulb_led" => "string of LED lights, by the light",
        /// One lamp.
        Lamp = "lamp" => "lamp with a filament bulb",
    }
}

impl HeatKind {
    /// What is counted of it.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Cable => "m of cable",
            Self::Mat => "mats",
            Self::BulbOld => "old-style bulbs",
            Self::BulbLed => "LED lights",
            Self::Lamp => "lamps",
        }
    }
}

/// Parameters.
pub const PARAMETERS: [&str; 12] =
    ["skin", "foot", "night", "across_m", "across_ft", "height_m", "height_ft", "heat", "watts", "count", "wanted_k", "wanted_f"];
/// A bush under a sheet where nothing is said, m across and high. DESIGN.
pub const USUAL_HEAP: Heap = Heap { across_m: 1.0, height_m: 1.2 };
/// Most that is small, W: one ordinary household heater; beyond it the page of shelters answers.
pub const MOST_W: f64 = 1_500.0;
/// Watts of the standing table.
pub const TABLE_W: f64 = 100.0;

/// The question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatQuestion {
    /// Cover.
    pub skin: Skin,
    /// Its foot.
    pub foot: Foot,
    /// Kind of night.
    pub night: NightKind,
    /// Size.
    pub heap: Heap,
    /// Heat.
    pub heat: HeatKind,
    /// Watts of one; `None`: the usual.
    pub watts_each: Option<f64>,
    /// How many.
    pub count: Option<f64>,
    /// Degrees wanted from the heat, K.
    pub wanted_k: Option<f64>,
}

/// What a wish takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wish {
    /// Degrees wanted, K.
    pub gain_k: f64,
    /// Watts.
    pub watts: f64,
    /// Their range.
    pub range: Interval<f64>,
    /// How many of the chosen heat give them.
    pub count: f64,
}

/// What so many watts gain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatGain {
    /// Watts in all.
    pub watts: f64,
    /// Degrees that the heat gains, K.
    pub gain_k: f64,
    /// Its 90 % range.
    pub range: Interval<f64>,
    /// Together with what the cover buys by itself over soil.
    pub together: Gaussian,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatAnswer {
    /// The covered plant.
    pub covered: Covered,
    /// Watts of one.
    pub each_w: f64,
    /// What the count gives.
    pub gain: Option<HeatGain>,
    /// What the wish takes.
    pub wish: Option<Wish>,
    /// What the cover buys without heat over soil.
    pub cover_alone: Gaussian,
}

impl HeatAnswer {
    /// Watts that are asked about: those there are, else those of the wish.
    pub fn watts(&self) -> f64 {
        self.gain.map(|gain| gain.watts).or(self.wish.map(|wish| wish.watts)).unwrap_or(0.0)
    }
}

impl HeatQuestion {
    /// Reads it.
    ///
    /// # Errors
    /// Every field that cannot be used.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &PARAMETERS);
        let skin = read.word("skin").unwrap_or(Skin::Cloth);
        let foot = read.word("foot").unwrap_or(Foot::Sealed);
        let night = read.word("night").unwrap_or(NightKind::ClearStill);
        let heat = read.word("heat").unwrap_or(HeatKind::Cable);
        let mut length = |metres: &'static str, feet: &'static str, what: &'static str| {
            let m = read.number(metres, |x| within(what, "m", x, 0.2, 6.0));
            let ft = read.number(feet, |x| within(what, "ft", x, 0.7, 20.0).map(|x| x * METRES_PER_FOOT));
            read.either((metres, m), (feet, ft))
        };
        let across_m = length("across_m", "across_ft", "width of the covered plant");
        let height_m = length("height_m", "height_ft", "height of the covered plant");
        let watts_each = read.number("watts", |x| within("watts of one", "W", x, 0.05, MOST_W));
        let count = read.number("count", |x| within("how many", "", x, 0.1, 2_000.0));
        let in_k = read.number("wanted_k", |x| within("degrees wanted from the heat", "°C", x, 0.2, 25.0));
        let in_f = read.number("wanted_f", |x| within("degrees wanted from the heat", "°F", x, 0.4, 45.0).map(|x| x / 1.8));
        let wanted_k = read.either(("wanted_k", in_k), ("wanted_f", in_f));
        let asked_wrong = ["count", "wanted_k", "wanted_f"].iter().any(|name| read.errors.of(name).is_some());
        if count.is_none() && wanted_k.is_none() && !asked_wrong {
            read.errors.add("count", "", "say how many you have, or how many degrees you want from them");
        }
        if skin == Skin::Quilt && matches!(heat, HeatKind::BulbOld | HeatKind::Lamp) {
            read.errors.add(
                "heat",
                heat.word(),
                "a filament bulb under a quilt sets it on fire: no number is given for that. Choose a cable or mat made for plants, or a cloth held off by stakes",
            );
        }
        read.errors.into_result()?;
        let heap = Heap { across_m: across_m.unwrap_or(USUAL_HEAP.across_m), height_m: height_m.unwrap_or(USUAL_HEAP.height_m) };
        Ok(Self { skin, foot, night, heap, heat, watts_each, count, wanted_k })
    }
}

/// The row of the table of starting values, as a number known to a factor; a harmless one where it is missing.
fn factor(rows: &[PriorRow], key: &str) -> Factor {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let row = rows.iter().find(|row| row.key == key);
    let middle = row.and_then(|row| number(&row.value)).unwrap_or(1.0);
    Factor { middle, log_sd: row.and_then(|row| number(&row.spread)).unwrap_or(0.0) }
}

/// The shipped cover whose gain without heat is that of this one.
fn like(skin: Skin, foot: Foot) -> CoverKind {
    match (skin, foot) {
        (Skin::Cloth, Foot::Sealed) => CoverKind::SheetToGround,
        (Skin::Cloth, Foot::Open) => CoverKind::Sheet,
        (Skin::Film, _) => CoverKind::Plastic,
        (Skin::Double, _) => CoverKind::FleeceAndPlastic,
        (Skin::Quilt, _) => CoverKind::Quilt,
    }
}

impl Snapshot {
    /// A covered plant as the balance takes it.
    pub fn covered(&self, skin: Skin, foot: Foot, night: NightKind, heap: Heap) -> Covered {
        let rows = &self.night_prior_rows;
        let leak = factor(rows, &format!("heat_leak_{foot}"));
        let wind = if night == NightKind::Windy { factor(rows, "heat_leak_wind").middle } else { 1.0 };
        Covered {
            cover_m2: heap.cover_m2(),
            volume_m3: heap.volume_m3(),
            u: factor(rows, &format!("heat_u_{skin}")),
            air_changes: Factor { middle: leak.middle * wind, ..leak },
        }
    }

    /// Watts of one where they are not given.
    pub fn usual_watts(&self, heat: HeatKind) -> f64 {
        factor(&self.night_prior_rows, &format!("heat_w_{heat}")).middle
    }

    /// What the heat gains.
    ///
    /// # Errors
    /// More watts than are small.
    pub fn small_heat(&self, question: &HeatQuestion) -> Result<HeatAnswer, FieldErrors> {
        let covered = self.covered(question.skin, question.foot, question.night, question.heap);
        let each_w = question.watts_each.unwrap_or_else(|| self.usual_watts(question.heat));
        let kind = like(question.skin, question.foot);
        let cover_alone = CoverGain::shipped(&self.night_priors, &self.priors.roots, kind, question.night).over_soil;
        let mut errors = FieldErrors::default();
        let gain = question.count.map(|count| {
            let watts = count * each_w;
            if watts > MOST_W {
                let said =
                    format!("{watts:.0} W in all is more than {MOST_W:.0} W, so no small heat: the page “Heat a shelter” works that out");
                errors.add("count", &count.to_string(), said);
            }
            let (gain_k, range) = covered.gain_k(watts);
            let sd = gain_k * ((range.high / gain_k).ln() / crate::science::numeric::Z_90);
            HeatGain { watts, gain_k, range, together: cover_alone.plus(Gaussian::new(gain_k, sd)) }
        });
        errors.into_result()?;
        let wish = question.wanted_k.map(|gain_k| {
            let (watts, range) = covered.watts_for(gain_k);
            Wish { gain_k, watts, range, count: (watts / each_w).ceil() }
        });
        Ok(HeatAnswer { covered, each_w, gain, wish, cover_alone })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(pairs: &[(&str, &str)]) -> Result<HeatAnswer, FieldErrors> {
        let pairs: Vec<_> = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        Snapshot::from_seed().unwrap().small_heat(&HeatQuestion::parse(&pairs)?)
    }

    /// A missing row would be taken for 1.
    #[test]
    fn every_number_of_the_balance_stands_in_the_table() {
        let rows = Snapshot::from_seed().unwrap().night_prior_rows;
        let keys = Skin::ALL.iter().map(|skin| format!("heat_u_{skin}"));
        let keys = keys.chain(Foot::ALL.iter().map(|foot| format!("heat_leak_{foot}")));
        let keys = keys.chain(HeatKind::ALL.iter().map(|heat| format!("heat_w_{heat}"))).chain(["heat_leak_wind".to_owned()]);
        for key in keys {
            let row = rows.iter().find(|row| row.key == key).unwrap_or_else(|| panic!("{key}"));
            assert!(row.value.trim().parse::<f64>().is_ok_and(|value| value > 0.0), "{key}: {}", row.value);
        }
    }

    /// By hand: 1 m across and 1 m high, π·1.25 m² of U 6.0 and π/4 m³ changed twice an hour: 23.56 + 0.53 = 24.09 W/K; 100 W gain 4.15 K.
    #[test]
    fn a_hundred_watts_under_one_skin_of_film_gain_what_the_sum_says() {
        let answer =
            ask(&[("skin", "film"), ("across_m", "1"), ("height_m", "1"), ("heat", "lamp"), ("watts", "100"), ("count", "1")]).unwrap();
        let gain = answer.gain.unwrap();
        assert!((gain.gain_k - 4.15).abs() < 0.02 && gain.range.low < 4.15 && gain.range.high > 4.15, "{gain:?}");
        assert!(gain.together.mean >= gain.gain_k);
    }

    #[test]
    fn a_wish_is_answered_in_watts_and_whole_bulbs_and_an_open_foot_or_wind_takes_more() {
        let watts = |more: &[(&str, &str)]| {
            let mut pairs = vec![("wanted_f", "5"), ("heat", "bulb_old")];
            pairs.extend(more);
            ask(&pairs).unwrap().wish.unwrap()
        };
        let sealed = watts(&[]);
        assert!((sealed.gain_k - 5.0 / 1.8).abs() < 1e-9 && sealed.count == (sealed.watts / 7.0).ceil());
        let open = watts(&[("foot", "open")]);
        assert!(open.watts > sealed.watts && watts(&[("foot", "open"), ("night", "windy")]).watts > open.watts);
    }

    #[test]
    fn what_burns_and_what_is_not_small_is_refused_by_name() {
        let wrong = |pairs: &[(&str, &str)], field: &str| {
            let errors = ask(pairs).unwrap_err();
            assert!(errors.of(field).is_some(), "{errors}");
        };
        wrong(&[("skin", "quilt"), ("heat", "lamp"), ("count", "1")], "heat");
        wrong(&[("heat", "lamp"), ("watts", "100"), ("count", "40")], "count");
        wrong(&[("skin", "cloth")], "count");
        wrong(&[("across_m", "1"), ("across_ft", "3"), ("count", "1")], "across_ft");
    }
}
