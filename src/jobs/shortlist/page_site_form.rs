//! The form that describes a place and a planting: on the front page, above a shortlist, and again with what is wrong.

use crate::address;
use crate::input::errors::FieldErrors;
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::zone::HalfZone;
use crate::science::shortlist::RankBy;
use crate::science::site::{Protection, Setting, Settings, Store};
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};

/// The form, ready to be written.
pub struct SiteForm {
    /// As typed.
    pub typed: Typed,
    /// Half-zones with their bands.
    pub zones: Vec<Choice>,
    /// Kinds of climate.
    pub climates: Vec<Choice>,
    /// Settings.
    pub settings: Vec<Choice>,
    /// Kinds of summer.
    pub summers: Vec<Choice>,
    /// Ground or pot.
    pub cultures: Vec<Choice>,
    /// Protections.
    pub protections: Vec<Choice>,
    /// Stores that a pot is carried in to.
    pub stores: Vec<Choice>,
    /// Rankings.
    pub rankings: Vec<Choice>,
    /// Scale of the temperatures typed here.
    pub fahrenheit: bool,
    /// Address that takes the form.
    pub action: address::Path,
    /// Whether a cultivar is asked for as well.
    pub asks_cultivar: bool,
    /// Names of figs to compare, as typed; empty where none are asked for.
    pub figs: Vec<String>,
    /// Words of the button.
    pub button: &'static str,
}

/// Settings that often meet, offered beside the single ones. Any other that holds together is read from an address as a list with commas.
const MEETING: [&str; 8] =
    ["wall,town", "courtyard,town", "town,trees", "wall,trees", "wall,town,trees", "wall,slope", "wall,water", "town,water"];

/// Each setting, those that often meet, and what was typed beyond these.
fn settings(typed: &Typed) -> Vec<Choice> {
    let asked = typed.or("setting", "open");
    let words = |code: &str| code.parse::<Settings>().ok().map(|s| (code.to_owned(), upper_first(&s.label())));
    let usual: Vec<&str> = Setting::ALL.iter().map(|s| s.word()).chain(MEETING).collect();
    let other = (!usual.contains(&asked)).then_some(asked);
    typed.choices("setting", "open", usual.iter().copied().chain(other).filter_map(words))
}

macro_rules! pairs_of {
    ($vocabulary:ty) => {
        <$vocabulary>::ALL.iter().map(|v| (v.word().to_owned(), upper_first(v.label())))
    };
}

impl SiteForm {
    /// From what was typed, with what is wrong with it.
    pub fn new(pairs: Vec<(String, String)>, errors: FieldErrors, frame: &Frame, button: &'static str) -> Self {
        let typed = Typed::new(pairs, errors);
        let fahrenheit = frame.scale() == Scale::Fahrenheit;
        let zones = HalfZone::all().map(|zone| {
            let band = if fahrenheit {
                zone.band_f()
            } else {
                crate::units::Interval { low: zone.band().low.degrees(), high: zone.band().high.degrees() }
            };
            let unit = if fahrenheit { "°F" } else { "°C" };
            (zone.to_string(), format!("{zone}: {} to {} {unit}", signed(band.low), signed(band.high)))
        });
        Self {
            zones: typed.choices("zone", "", zones),
            climates: typed.choices(
                "climate",
                "",
                std::iter::once((String::new(), "As the town has it; by a zone, inland".to_owned())).chain(ClimateKind::ALL.iter().map(
                    |kind| {
                        let words = match kind {
                            ClimateKind::Coast => "Coast: mild, rarely very cold",
                            ClimateKind::Inland => "Inland: between the two",
                            ClimateKind::Continental => "Continental: cold every winter",
                        };
                        (kind.word().to_owned(), words.to_owned())
                    },
                )),
            ),
            settings: settings(&typed),
            summers: typed.choices(
                "summer",
                "",
                [("", "As the town or kind of climate has it"), ("cool", "Cool"), ("warm", "Warm")]
                    .map(|(v, w)| (v.to_owned(), w.to_owned())),
            ),
            cultures: typed.choices(
                "culture",
                "ground",
                [("ground", "In the ground"), ("container", "In a pot")].map(|(v, w)| (v.to_owned(), w.to_owned())),
            ),
            protections: typed.choices("protection", "none", pairs_of!(Protection)),
            stores: typed.choices("store", "", pairs_of!(Store)),
            rankings: typed.choices("rank_by", "fruit", pairs_of!(RankBy)),
            fahrenheit,
            action: address::SHORTLIST,
            asks_cultivar: false,
            figs: Vec::new(),
            button,
            typed,
        }
    }

    /// The same form for a sheet of one cultivar.
    #[must_use]
    pub fn for_one_cultivar(mut self, action: address::Path) -> Self {
        self.action = action;
        self.asks_cultivar = true;
        self
    }

    /// The same form for several figs beside each other: at least `boxes` boxes for names, those typed first.
    #[must_use]
    pub fn for_figs(mut self, action: address::Path, mut figs: Vec<String>, boxes: usize) -> Self {
        self.action = action;
        figs.resize(figs.len().max(boxes), String::new());
        self.figs = figs;
        self
    }

    /// Whether the part about zones and cold in numbers should stand open.
    pub fn zone_open(&self) -> bool {
        let numbers = ["zone", "yearly_minimum_c", "yearly_minimum_f", "yearly_spread_k", "yearly_spread_f"];
        self.typed.any(&numbers) || self.typed.wrong("climate").is_some()
    }

    /// Whether the part about the plant and where it stands should stand open: something in it is unusual or wrong.
    pub fn planting_open(&self) -> bool {
        let usual = [("setting", "open"), ("culture", "ground"), ("protection", "none")];
        usual.iter().any(|&(name, usual)| self.typed.or(name, usual) != usual || self.typed.wrong(name).is_some())
            || self.typed.any(&["container_l", "container_gal", "years", "wood_years", "store"])
    }

    /// Whether the part about the ranking should stand open.
    pub fn ranking_open(&self) -> bool {
        self.typed.or("rank_by", "fruit") != "fruit" || self.typed.wrong("rank_by").is_some()
    }

    /// Whether the part about the season should stand open.
    pub fn season_open(&self) -> bool {
        self.typed.any(&["last_frost", "first_frost", "frost_free_days", "warmest_month_c", "warmest_month_f", "summer"])
    }
}

fn upper_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn signed(value: f64) -> String {
    let text = if value.fract().abs() < 1e-9 { format!("{:.0}", value.abs()) } else { format!("{:.1}", value.abs()) };
    if value < 0.0 { format!("−{text}") } else { text }
}
