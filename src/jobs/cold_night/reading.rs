//! From the JSON-shaped input to the science's types: every slip noted with its path, every assumption with a note.

use std::collections::HashSet;

use crate::catalogue::NameMatch;
use crate::input::errors::FieldErrors;
use crate::input::json::Checked;
use crate::jobs::cold_night::effort;
use crate::jobs::cold_night::input::{ColdNightInput, CoverInput, NightInput, PlaceInput, PlantInput};
use crate::jobs::cold_night::reading_nights::{self, ReadNights};
use crate::jobs::cold_night::reading_places::{ReadPlace, place};
use crate::jobs::cold_night::reading_tenants::{is_tenant, tenant};
use crate::jobs::cold_night::{MOST_PLACES, MOST_PLANTS};
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::pot::Stands;
use crate::science::cold_night::risk::PlantTonight;
use crate::science::cold_night::spell::days::{Spell, SpellNight};
use crate::science::cold_night::spell::plan::{Question, SpellCover, SpellPlant};
use crate::science::cold_night::spell::spots::{Course, Spot};
use crate::science::cold_night::spell::stores::{cover_shares, soil_at_dusk, soil_at_start_c};
use crate::science::cold_night::stage::{CoverKind, NightKind, Stage};
use crate::science::exposure::Age;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::site::YearsEstablished;

/// How a plan calls a fig whose name is not in the catalogue, before the name as typed.
pub(crate) const UNKNOWN_KIND: &str = "unknown";
/// Minutes to put a cover on where none are given. DESIGN.
const COVER_MINUTES: f64 = 4.0;
/// Spread of a given gain without one of its own, K. DESIGN.
const GAIN_SD_K: f64 = 1.0;

/// A spell ready to be planned.
pub(crate) struct Read {
    pub spell: Spell,
    /// First night that is planned.
    pub from: usize,
    /// Forecast plus own offset, before the spread of the night.
    pub offset: Option<Gaussian>,
    /// Soil of the open ground at each dusk, °C.
    pub soil_c: Vec<f64>,
    pub open: Course,
    pub plants: Vec<ReadPlant>,
    pub places: Vec<ReadPlace>,
    pub covers: Vec<ReadCover>,
    /// Minutes before each night.
    pub minutes: Vec<Option<f64>>,
    pub notes: Vec<String>,
}

pub(crate) struct ReadPlant {
    pub id: String,
    pub cultivar: String,
    pub part: SpellPlant,
}

pub(crate) struct ReadCover {
    pub kind: String,
    pub part: SpellCover,
}

impl Read {
    /// The question of science.
    pub fn question(&self) -> Question<'_> {
        Question {
            spell: &self.spell,
            from: self.from,
            open: self.open.clone(),
            places: self.places.iter().map(|p| p.part.clone()).collect(),
            covers: self.covers.iter().map(|c| c.part.clone()).collect(),
            plants: self.plants.iter().map(|p| p.part.clone()).collect(),
            minutes: self.minutes.clone(),
        }
    }
}

pub(crate) fn read(input: &ColdNightInput, snapshot: &Snapshot) -> Result<Read, FieldErrors> {
    let mut checked = Checked::default();
    let mut notes = Vec::new();
    if input.plants.is_empty() || input.plants.len() > MOST_PLANTS {
        checked.wrong("plants", input.plants.len(), format!("give 1 to {MOST_PLANTS} plants"));
    }
    if input.places.len() > MOST_PLACES || input.covers.len() > MOST_PLACES {
        checked.wrong(
            "places",
            input.places.len().max(input.covers.len()),
            format!("at most {MOST_PLACES} places and {MOST_PLACES} kinds of cover"),
        );
    }
    let minutes = minutes(&mut checked, input);
    let soil_c = checked.maybe("soil_c", "temperature of the soil", "°C", input.soil_c, -20.0, 30.0);
    let nights = reading_nights::nights(&mut checked, input, snapshot);
    let Some(ReadNights { spell, from, offset }) = nights.filter(|_| checked.is_clean()) else {
        checked.finish()?;
        return Err(FieldErrors::default());
    };
    let soil_c = soil_at_dusk(&spell, soil_at_start_c(soil_c, &spell));
    let shares = cover_shares(&spell, &soil_c);
    let places: Vec<ReadPlace> =
        input.places.iter().enumerate().filter_map(|(i, p)| place(&mut checked, &mut notes, i, p, &spell)).collect();
    let mut seen: HashSet<&str> = HashSet::from(["open"]);
    for (i, p) in input.places.iter().enumerate() {
        if !seen.insert(&p.id) {
            checked.wrong(&format!("places[{i}].id"), &p.id, "each place needs an id of its own, other than “open”");
        }
    }
    let covers =
        input.covers.iter().enumerate().filter_map(|(i, c)| cover(&mut checked, &mut notes, i, c, (&spell, &shares), snapshot)).collect();
    let mut ids = HashSet::new();
    let mut plants: Vec<ReadPlant> = Vec::with_capacity(input.plants.len());
    for (i, p) in input.plants.iter().enumerate() {
        if !ids.insert(p.id.as_str()) {
            checked.wrong(&format!("plants[{i}].id"), &p.id, "two plants have this id; each needs its own");
        }
        plants.extend(plant(&mut checked, &mut notes, i, p, (&spell, from), &input.places, snapshot));
    }
    too_many_ways(&mut checked, &plants, input);
    say_what_fits_nowhere(&mut notes, &plants, &places);
    checked.finish()?;
    say_what_is_assumed(&mut notes, input, &minutes, &spell);
    notes.dedup();
    let open = Spot::open(&spell).course(&spell);
    Ok(Read { spell, from, offset, soil_c, open, plants, places, covers, minutes, notes })
}

fn minutes(checked: &mut Checked, input: &ColdNightInput) -> Vec<Option<f64>> {
    let whole = checked.maybe("minutes_available", "minutes there are", "min", input.minutes_available, 0.0, 10_000.0);
    let nights = input.all_nights();
    let of = |(i, night): (usize, &&NightInput)| {
        let path = format!("{}.minutes_available", input.night_path(i));
        checked.maybe(&path, "minutes there are", "min", night.minutes_available, 0.0, 10_000.0).or(whole)
    };
    nights.iter().enumerate().map(of).collect()
}

fn too_many_ways(checked: &mut Checked, plants: &[ReadPlant], input: &ColdNightInput) {
    if input.nights.len() < 2 {
        return;
    }
    let kinds = effort::kinds(plants.iter().map(|plant| &plant.part));
    if effort::ways(input, kinds) > effort::MOST_WAYS {
        let accepted = format!(
            "over {} nights {kinds} plants that differ in kind, pot, age, state or place have too many ways through {} places and {} covers; \
             accepted: fewer that differ, fewer places or covers, or fewer nights (60 that differ, 6 places and covers in all and 10 nights are \
             the most)",
            input.nights.len(),
            input.places.len(),
            input.covers.len()
        );
        checked.wrong("plants", plants.len(), accepted);
    }
}

/// A pot that is larger than the room of every place goes in nowhere, whatever the plan.
fn say_what_fits_nowhere(notes: &mut Vec<String>, plants: &[ReadPlant], places: &[ReadPlace]) {
    let Some(largest) = places.iter().map(|p| p.part.room_m2.unwrap_or(f64::INFINITY)).max_by(f64::total_cmp) else { return };
    for plant in plants.iter().filter(|p| p.part.movable && p.part.at.is_none() && p.part.footprint_m2 > largest) {
        let said = format!(
            "{} ({}) needs {:.2} m² and fits nowhere: the largest place has {largest:.2} m².",
            plant.id, plant.cultivar, plant.part.footprint_m2
        );
        if !notes.contains(&said) {
            notes.push(said);
        }
    }
    if plants.iter().any(|p| p.part.tenant.is_some()) {
        notes.push("Other plants than figs are judged by the lowest air they stand in alone: by half their worth where it hurts them, by all of it where it kills them.".to_owned());
    }
}

fn say_what_is_assumed(notes: &mut Vec<String>, input: &ColdNightInput, minutes: &[Option<f64>], spell: &Spell) {
    if input.places.len() > input.plants.len() {
        notes.push("There are more places than plants; the ones not needed stay empty.".to_owned());
    }
    if minutes.iter().all(Option::is_none) {
        notes.push("minutes_available is not given: the plan takes as long as it takes.".to_owned());
    } else if minutes.iter().all(|m| *m == Some(0.0)) {
        notes.push("With no minutes there is nothing to plan: this is what each plant risks where it stands.".to_owned());
    }
    if spell.nights().iter().all(|night| night.air.minimum_c.mean > 5.0) {
        notes.push("At this minimum a fig is in no danger of frost.".to_owned());
    }
    if spell.len() > 1 {
        notes.push(
            "Through the days pots follow the air in the shade; sun on a dark pot, snow, and fresh water are not counted.".to_owned(),
        );
        notes
            .push("A plant goes in at most once and comes out at most once; a cover stays on from its first night to its last.".to_owned());
    }
}

fn cover(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    index: usize,
    given: &CoverInput,
    (spell, shares): (&Spell, &[f64]),
    snapshot: &Snapshot,
) -> Option<ReadCover> {
    let path = |key: &str| format!("covers[{index}].{key}");
    let minutes = checked.maybe(&path("minutes"), "minutes", "min", given.minutes, 0.0, 600.0).unwrap_or(COVER_MINUTES);
    let area_m2 = checked.maybe(&path("area_m2"), "ground one covers", "m²", given.area_m2, 0.05, 1_000.0);
    let sd = checked.maybe(&path("gain_sd_k"), "spread of the gain", "K", given.gain_sd_k, 0.0, 15.0);
    let gain = checked.maybe(&path("gain_k"), "gain of a cover", "K", given.gain_k, -5.0, 25.0);
    let shipped = given.kind.parse::<CoverKind>();
    let shipped_on = |kind: CoverKind, night: &SpellNight| {
        let gain = CoverGain::shipped(&snapshot.night_priors, &snapshot.priors.roots, kind, night.air.kind);
        let with = |g: Gaussian| Gaussian::new(g.mean, sd.unwrap_or(g.sd));
        CoverGain { over_soil: with(gain.over_soil), over_pot: with(gain.over_pot) }
    };
    let gains: Vec<CoverGain> = match (gain, &shipped) {
        (Some(mean), _) => vec![CoverGain::new(Gaussian::new(mean, sd.unwrap_or(GAIN_SD_K)), 1.0); spell.len()],
        (None, Ok(kind)) => spell.nights().iter().map(|night| shipped_on(*kind, night)).collect(),
        (None, Err(error)) => {
            checked.wrong(&path("kind"), &given.kind, format!("{error}; or any name together with gain_k"));
            return None;
        }
    };
    let named = shipped.as_ref().map_or(given.kind.as_str(), |k| k.label());
    for (night, gain) in spell.nights().iter().zip(gains.iter().map(|gain| gain.over_soil)) {
        let said = match night.air.kind {
            NightKind::ClearStill if gain.mean <= 1.0 => Some(format!(
                "{}: on a clear still night a single sheet gains little and can leave a plant colder than none (measured −1.7 to +1.8 °C, −3.1 to +3.2 °F): it shuts off the warmth of the soil as well as the sky. The plan counts a gain of {}, give or take {}.",
                named,
                crate::units::both_scales(gain.mean),
                crate::units::both_scales(gain.sd)
            )),
            NightKind::Windy if given.gain_k.is_none() => Some(format!("{named}: in wind covers hold little that can be relied on.")),
            _ => None,
        };
        // The same night after night is said once.
        notes.extend(said.filter(|said| !notes.contains(said)));
    }
    let over = |of: fn(&CoverGain) -> Gaussian| Spot::cover(&gains.iter().map(of).collect::<Vec<_>>(), shares).course(spell);
    let part = SpellCover { count: given.count, area_m2, minutes, over_soil: over(|g| g.over_soil), over_pot: over(|g| g.over_pot) };
    Some(ReadCover { kind: given.kind.clone(), part })
}

/// Footprint of a pot as tall as wide, m².
fn footprint_of(litres: f64) -> f64 {
    (4.0 * litres / 1_000.0 / std::f64::consts::PI).cbrt().powi(2)
}

/// Minutes to carry a pot by its size. DESIGN: one pair of hands, a barrow for the large ones.
fn minutes_of(litres: f64) -> f64 {
    match litres {
        l if l <= 5.0 => 2.0,
        l if l <= 15.0 => 3.0,
        l if l <= 30.0 => 5.0,
        l if l <= 60.0 => 8.0,
        _ => 15.0,
    }
}

fn plant(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    index: usize,
    given: &PlantInput,
    (spell, from): (&Spell, usize),
    places: &[PlaceInput],
    snapshot: &Snapshot,
) -> Option<ReadPlant> {
    let path = |key: &str| format!("plants[{index}].{key}");
    let other = is_tenant(given).then(|| tenant(checked, &path, given));
    if let Some(None) = other {
        return None;
    }
    let (name, tenant) = other.flatten().map_or((None, None), |(name, tenant)| (Some(name), Some(tenant)));
    let (cultivar, belief) = cultivar(checked, notes, &path("cultivar"), &given.cultivar, snapshot)?;
    let stage = given.stage.unwrap_or(Stage::Hard);
    let years = given.years.unwrap_or(u32::from(YearsEstablished::ESTABLISHED.years()));
    let years = checked.take(&path("years"), years, YearsEstablished::new(years))?;
    let wood_years = match given.wood_years {
        Some(wood) if wood > u32::from(years.years()) && given.years.is_some() => {
            checked.wrong(&path("wood_years"), wood, format!("the plant is {} years old, so no wood of it can be older", years.years()));
            return None;
        }
        Some(wood) => Some(checked.take(&path("wood_years"), wood, YearsEstablished::new(wood))?.years()),
        None => None,
    };
    let pot_litres = checked.maybe(&path("container_l"), "pot volume", "L", given.container_l, 0.1, 2_000.0);
    let value = checked.maybe(&path("value"), "value", "", given.value, 0.0, 1e9).unwrap_or(1.0);
    let movable = pot_litres.is_some() || stage == Stage::RootedCutting;
    if !movable && given.minutes_to_move.is_some() {
        notes.push("Plants in the ground (container_l null) cannot be carried in; their minutes_to_move is left aside.".to_owned());
    }
    let litres = pot_litres.unwrap_or(1.0);
    let footprint_m2 =
        checked.maybe(&path("footprint_m2"), "footprint", "m²", given.footprint_m2, 0.0, 100.0).unwrap_or_else(|| footprint_of(litres));
    let minutes_to_move = checked
        .maybe(&path("minutes_to_move"), "minutes to move it", "min", given.minutes_to_move, 0.0, 600.0)
        .unwrap_or_else(|| minutes_of(litres));
    let at = match given.at.as_deref() {
        None | Some("open") => None,
        Some(id) => {
            let found = places.iter().position(|p| p.id == id);
            if found.is_none() {
                checked.wrong(
                    &path("at"),
                    id,
                    format!("no such place; accepted: open, {}", places.iter().map(|p| p.id.as_str()).collect::<Vec<_>>().join(", ")),
                );
            }
            found
        }
    };
    let deficit = checked.maybe(&path("deficit_k"), "deficit of hardiness", "K", given.deficit_k, -5.0, 30.0);
    let deficit_sd = checked.maybe(&path("deficit_sd_k"), "its spread", "K", given.deficit_sd_k, 0.0, 15.0);
    let pot_start_c = checked.maybe(&path("pot_start_c"), "temperature of the pot", "°C", given.pot_start_c, -40.0, 40.0);
    let state = PlantTonight {
        belief: belief.into_owned(),
        age: Age { years: Some(years.years()), wood_years }.effects(&snapshot.priors),
        spot: given.setting.map(|setting| snapshot.priors.setting(setting)),
        stage,
        deficit_k: deficit.map(|d| Gaussian::new(d, deficit_sd.unwrap_or(1.0))),
        pot_litres,
        stands: Stands::OnGround,
        pot_start_c,
    };
    let nights_there = match given.at_since.filter(|_| at.is_some()) {
        None => from,
        Some(since) => {
            let found = spell.nights()[..from].iter().position(|n| n.date.is_some_and(|d| d >= since));
            found.map_or(0, |first| from - first)
        }
    };
    let part = SpellPlant { state, tenant, value, footprint_m2, minutes_to_move, movable, at, nights_there };
    Some(ReadPlant { id: given.id.clone(), cultivar: name.unwrap_or(cultivar), part })
}

fn cultivar<'a>(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    path: &str,
    written: &str,
    snapshot: &'a Snapshot,
) -> Option<(String, std::borrow::Cow<'a, HardinessBelief>)> {
    use std::borrow::Cow;
    if written.trim().is_empty() || written.trim().eq_ignore_ascii_case("unknown") {
        return Some(("unknown".to_owned(), Cow::Owned(snapshot.priors.belief(None, false))));
    }
    let found = snapshot.catalogue.get(written).map_or_else(|| snapshot.catalogue.identify(written), NameMatch::Accepted);
    match found {
        NameMatch::Accepted(c) | NameMatch::Synonym(c) => {
            let place = snapshot.catalogue.cultivars().iter().position(|other| other.slug == c.slug)?;
            snapshot.standings.get(place).map(|s| (c.name.clone(), Cow::Borrowed(&s.belief)))
        }
        NameMatch::Ambiguous(several) => {
            let names: Vec<&str> = several.iter().map(|c| c.slug.as_str()).collect();
            checked.wrong(path, written, format!("“{written}” names more than one fig; give one of: {}", names.join(", ")));
            None
        }
        NameMatch::Unknown(near) => {
            let near: Vec<&str> = near.iter().map(|c| c.slug.as_str()).collect();
            let offer = if near.is_empty() { String::new() } else { format!(" Near it: {}.", near.join(", ")) };
            notes.push(format!("“{written}” is not in the catalogue, so it is planned as a fig of unknown kind.{offer}"));
            Some((format!("{UNKNOWN_KIND} “{written}”"), Cow::Owned(snapshot.priors.belief(None, false))))
        }
    }
}
