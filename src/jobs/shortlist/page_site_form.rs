//! The form that describes a place and a planting: on the front page, above a shortlist, and again with what is wrong.

use crate::address;
use crate::catalogue::skin::SkinGroup;
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::stands::STANDS;
use crate::jobs::shortlist::wants::{FILTERS, Ripens, WISH, Wish, YesNo};
use crate::records::NamedSite;
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::zone::HalfZone;
use crate::science::cultivar::FruitKind;
use crate::science::shortlist::RankBy;
use crate::science::site::{Protection, Setting, Settings, Store, YearsEstablished};
use crate::web::cells::upper_first;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};

/// Parameter that names a kept daily record, which then speaks in place of a town or zone.
pub const SITE: &str = "site";

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
    /// Filters: parameter, label, choices.
    pub wants: Vec<(&'static str, &'static str, Vec<Choice>)>,
    /// Second wishes.
    pub wishes: Vec<Choice>,
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
    /// Where it stands, each a button that answers at once; empty where they are not offered.
    pub stands: Vec<(&'static str, &'static str)>,
    /// Daily records that the member keeps; empty for everybody else.
    pub records: Vec<Choice>,
}

/// Whole years from which a plant counts as established.
const ESTABLISHED: u8 = YearsEstablished::ESTABLISHED.years();

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

/// The filters with their choices, also for the catalogue.
pub(crate) fn want_fields(typed: &Typed) -> Vec<(&'static str, &'static str, Vec<Choice>)> {
    let [skin, ripens, early_crop, regrowth, kind] = FILTERS;
    let known =
        |name, all: Vec<(String, String)>| typed.choices(name, "", all.into_iter().chain([("unknown".to_owned(), "Not known".to_owned())]));
    vec![
        (skin, "Skin", known(skin, pairs_of!(SkinGroup).collect())),
        (ripens, "Ripens", known(ripens, pairs_of!(Ripens).collect())),
        (early_crop, "Bears an early crop", known(early_crop, pairs_of!(YesNo).collect())),
        (regrowth, "Bears on shoots from the roots", known(regrowth, pairs_of!(YesNo).collect())),
        (kind, "Kind of fruit", known(kind, pairs_of!(FruitKind).collect())),
    ]
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
            wants: want_fields(&typed),
            wishes: typed.choices(WISH, "", pairs_of!(Wish)),
            fahrenheit,
            action: address::SHORTLIST,
            asks_cultivar: false,
            figs: Vec::new(),
            button,
            stands: Vec::new(),
            records: Vec::new(),
            typed,
        }
    }

    /// The same form with a button for each usual place of a fig.
    #[must_use]
    pub fn with_stands(mut self) -> Self {
        self.stands = STANDS.iter().map(|(word, label, _)| (*word, *label)).collect();
        self
    }

    /// The same form with the daily records of a member to choose from.
    #[must_use]
    pub fn with_records(mut self, sites: &[NamedSite]) -> Self {
        self.records = self.typed.choices(SITE, "", sites.iter().map(|site| (site.id.to_string(), site.name.as_str().to_owned())));
        self
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

    /// What is planted and where, in the words of the choices made: the sentence that opens into them.
    pub fn planting_words(&self) -> String {
        let pot = self.typed.or("culture", "ground") == "container" || self.typed.any(&["container_l", "container_gal"]);
        let years = self.typed.text("years").trim().parse::<u32>().unwrap_or(u32::from(ESTABLISHED));
        let age = match (years, pot) {
            (0, _) => "a plant in its first winter".to_owned(),
            (1, _) => "a plant one year in place".to_owned(),
            (n, _) if n < u32::from(ESTABLISHED) => format!("a plant {n} years in place"),
            (_, true) => "a plant of five years or more".to_owned(),
            (_, false) => "an established tree".to_owned(),
        };
        let setting = self.typed.or("setting", "open").parse::<Settings>().unwrap_or(Settings::OPEN);
        let volume = [("container_l", "L"), ("container_gal", "gallons")].into_iter().find(|(field, _)| self.typed.given(field));
        let stands = match (pot, volume) {
            (true, Some((field, unit))) => format!("in a pot of {} {unit}", self.typed.text(field).trim()),
            (true, None) => "in a pot".to_owned(),
            (false, _) => "in the ground".to_owned(),
        };
        let place = if setting.is_open() { ", in the open".to_owned() } else { format!(", {}", setting.label()) };
        let cover = match self.typed.or("protection", "none").parse::<Protection>().unwrap_or(Protection::None) {
            Protection::None => "without protection",
            cover => cover.label(),
        };
        format!("it is {age} {stands}{place}, {cover}")
    }

    /// What of the summer was said.
    pub fn season_words(&self) -> &'static str {
        if self.season_open() { "the summer is as you say" } else { "the summer is the usual one for such winters" }
    }

    /// What matters most.
    pub fn ranking_words(&self) -> &'static str {
        match self.typed.or("rank_by", "fruit") {
            "wood" => "keeping its wood matters most",
            "alive" => "staying alive matters most",
            _ => "ripe figs matter most",
        }
    }

    /// Whether the part about the ranking should stand open.
    pub fn ranking_open(&self) -> bool {
        self.typed.or("rank_by", "fruit") != "fruit" || self.typed.wrong("rank_by").is_some()
    }

    /// Whether the part about filters should stand open.
    pub fn wants_open(&self) -> bool {
        self.typed.any(&FILTERS) || self.typed.given(WISH)
    }

    /// Which figs are wanted.
    pub fn wants_words(&self) -> &'static str {
        if self.wants_open() { "only some figs, as you say" } else { "figs of any colour, season and kind will do" }
    }

    /// Whether the part about the season should stand open.
    pub fn season_open(&self) -> bool {
        self.typed.any(&["last_frost", "first_frost", "frost_free_days", "warmest_month_c", "warmest_month_f", "summer"])
    }
}

fn signed(value: f64) -> String {
    let text = if value.fract().abs() < 1e-9 { format!("{:.0}", value.abs()) } else { format!("{:.1}", value.abs()) };
    if value < 0.0 { format!("−{text}") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(pairs: &[(&str, &str)]) -> String {
        let pairs = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        SiteForm::new(pairs, FieldErrors::default(), &Frame::sample(Scale::Celsius), "Show").planting_words()
    }

    #[test]
    fn the_sentence_of_the_form_says_what_was_chosen() {
        assert_eq!(words(&[]), "it is an established tree in the ground, in the open, without protection");
        let balcony = words(&[("culture", "container"), ("container_l", "25"), ("setting", "wall"), ("years", "1")]);
        assert!(balcony.starts_with("it is a plant one year in place in a pot of 25 L, ") && !balcony.contains("ground"), "{balcony}");
        let pot = words(&[("culture", "container"), ("protection", "carried_in")]);
        assert!(pot.contains("a plant of five years or more in a pot") && !pot.contains("established tree"), "{pot}");
    }
}
