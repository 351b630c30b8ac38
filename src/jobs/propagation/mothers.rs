//! Mother plants: the chance of losing every plant of a kind this winter, what halves it with the least work, and what a cut gives and costs.

use std::collections::BTreeMap;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::{Plant, PlantId, Winter};
use crate::science::exposure::{Exposure, circumstances_of, expose};
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::fruiting::cutting_back::cuts;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::propagation::{Batch, Method, MotherCut, MotherPlant, RootingBelief, all_lost, mother_cuts};
use crate::science::site::{Culture, Protection, Site};

/// Chance of losing all from which a kind should not stand outdoors alone, and from which a second plant is worth its room. DESIGN.
const DO_NOT_RISK: f64 = 0.2;
const KEEP_TWO: f64 = 0.02;
/// Below this chance nothing is looked for that would halve it.
const NOTHING_TO_HALVE: f64 = 0.005;
/// How sure that one cutting roots when it stands for the kind: half.
const HALF: f64 = 0.5;
/// Work of a filled cage, in times of that of a mulch. DESIGN.
const CAGE_WORK: f64 = 2.0;
/// Most plants of a garden that are looked at.
const MOST_PLANTS: usize = 200;

/// What to do about a kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Risk {
    /// All may stay outdoors.
    StaysOut,
    /// Keep a second one, or bring one of them to safety.
    KeepTwo,
    /// Do not leave the kind to this winter.
    DoNotRisk,
}

/// A way to make losing all less likely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// Carry the pot of a plant in, by its place among the plants of the kind.
    CarryIn(usize),
    /// Mulch a plant.
    Mulch(usize),
    /// Put a filled cage about a plant.
    Cage(usize),
    /// Stick so many cuttings and keep them safe from the winter.
    Sticks(u32),
}

/// A way with what it does and takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayAnswer {
    /// The way.
    pub way: Way,
    /// Chance of losing all then.
    pub all_lost: f64,
    /// Work, min.
    pub minutes: f64,
    /// Whether it halves the chance at least.
    pub halves: bool,
}

/// A plant of a kind.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantAnswer {
    /// Id.
    pub id: PlantId,
    /// What it is called and how it stands.
    pub words: String,
    /// Chance that it is dead after the winter.
    pub dies: f64,
}

/// A kind of the garden.
#[derive(Debug, Clone, PartialEq)]
pub struct KindAnswer {
    /// Its name.
    pub name: String,
    /// Name in addresses.
    pub slug: String,
    /// Its plants.
    pub plants: Vec<PlantAnswer>,
    /// Chance that all of them are dead after the winter.
    pub all_lost: f64,
    /// What to do.
    pub risk: Risk,
    /// What would make it less, least work first among those that halve it, then the others.
    pub ways: Vec<WayAnswer>,
}

/// The kinds of a garden.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MothersAnswer {
    /// Kinds, the one most at risk first.
    pub kinds: Vec<KindAnswer>,
    /// Plants that nothing is said of, with the reason.
    pub left_out: Vec<(String, &'static str)>,
}

/// A plant as a question of its place: how it stands, and no protection.
pub fn site_of(plant: &Plant, usual_place: Option<&str>, winter: Winter, snapshot: &Snapshot) -> Option<Site> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut put = |name: &str, value: String| pairs.push((name.to_owned(), value));
    if let Some(setting) = plant.setting {
        put("setting", setting.word().to_owned());
    }
    if let Culture::Container(volume) = plant.culture {
        put("culture", "container".to_owned());
        if let Some(volume) = volume {
            put("container_l", volume.litres().to_string());
        }
    }
    if let Some(years) = plant.years_at(winter) {
        put("years", years.to_string());
    }
    let at = |place: &str| {
        let pairs: Vec<_> = pairs.iter().cloned().chain([("place".to_owned(), place.to_owned())]).collect();
        Question::parse(&pairs, false).ok()
    };
    let question = plant.place.words.as_deref().and_then(at).or_else(|| usual_place.and_then(at))?;
    Some(question.site(&snapshot.priors))
}

/// What a plant is called and how it stands.
pub fn words_of(plant: &Plant) -> String {
    let stands = if plant.culture == Culture::Ground { "in the ground" } else { "in a pot" };
    match plant.planted {
        Some(year) => format!("{}, {stands} since {year}", plant.name_written),
        None => format!("{}, {stands}", plant.name_written),
    }
}

/// One plant ready to be asked about.
struct Standing<'a> {
    plant: &'a Plant,
    site: Site,
    exposure: Exposure,
}

impl Snapshot {
    /// The kinds of a garden, the one most at risk first.
    pub fn mothers(&self, plants: &[Plant], usual_place: Option<&str>, winter: Winter, own: &[Batch]) -> MothersAnswer {
        let mut answer = MothersAnswer::default();
        let mut kinds: BTreeMap<usize, Vec<Standing<'_>>> = BTreeMap::new();
        for plant in plants.iter().take(MOST_PLANTS) {
            let of = plant.cultivar.as_ref().and_then(|slug| self.catalogue.cultivars().iter().position(|c| c.slug == *slug));
            let Some(at) = of else {
                answer.left_out.push((words_of(plant), "the catalogue does not know this fig"));
                continue;
            };
            let Some(site) = site_of(plant, usual_place, winter, self) else {
                answer.left_out.push((words_of(plant), "its town cannot be looked up: write a town with its country on the plant’s page"));
                continue;
            };
            let exposure = expose(&circumstances_of(&site, &self.priors), &self.priors);
            kinds.entry(at).or_default().push(Standing { plant, site, exposure });
        }
        let beyond = plants.iter().skip(MOST_PLANTS).map(|plant| (words_of(plant), "only so many plants of a garden are looked at"));
        answer.left_out.extend(beyond);
        answer.kinds = kinds.into_iter().filter_map(|(at, standing)| self.kind(at, &standing, own)).collect();
        answer.kinds.sort_by(|a, b| b.all_lost.total_cmp(&a.all_lost).then_with(|| a.name.cmp(&b.name)));
        answer
    }

    fn kind(&self, at: usize, standing: &[Standing<'_>], own: &[Batch]) -> Option<KindAnswer> {
        let (cultivar, model) = (self.catalogue.cultivars().get(at)?, self.standings.get(at)?);
        let belief = &model.belief;
        let all: Vec<(&Exposure, u32)> = standing.iter().map(|s| (&s.exposure, 1)).collect();
        let lost = all_lost(&all, belief, &self.scale);
        let plants = standing.iter().map(|s| PlantAnswer {
            id: s.plant.id,
            words: words_of(s.plant),
            dies: s.exposure.chance(belief, &self.scale).last().copied().unwrap_or(0.0),
        });
        let mut ways = if lost < NOTHING_TO_HALVE { Vec::new() } else { self.ways(standing, belief, lost, own) };
        ways.sort_by(|a, b| b.halves.cmp(&a.halves).then(a.minutes.total_cmp(&b.minutes)).then(a.all_lost.total_cmp(&b.all_lost)));
        Some(KindAnswer {
            name: cultivar.name.clone(),
            slug: cultivar.slug.to_string(),
            plants: plants.collect(),
            all_lost: lost,
            risk: match lost {
                lost if lost >= DO_NOT_RISK => Risk::DoNotRisk,
                lost if lost >= KEEP_TWO => Risk::KeepTwo,
                _ => Risk::StaysOut,
            },
            ways,
        })
    }

    /// One thing done to one plant, or cuttings kept where no winter reaches them.
    fn ways(&self, standing: &[Standing<'_>], belief: &HardinessBelief, lost: f64, own: &[Batch]) -> Vec<WayAnswer> {
        let priors = &self.propagation_priors;
        let done = |at: usize, protection: Protection| {
            let site = Site { protection, ..standing.get(at)?.site.clone() };
            let safer = expose(&circumstances_of(&site, &self.priors), &self.priors);
            let all: Vec<(&Exposure, u32)> =
                standing.iter().enumerate().map(|(i, s)| (if i == at { &safer } else { &s.exposure }, 1)).collect();
            Some(all_lost(&all, belief, &self.scale))
        };
        let mut ways = Vec::new();
        for (at, one) in standing.iter().enumerate() {
            let tried: &[(Way, Protection, f64)] = match one.site.culture {
                Culture::Container(_) => &[(Way::CarryIn(at), Protection::CarriedIn, priors.carry_minutes)],
                Culture::Ground => &[
                    (Way::Mulch(at), Protection::Mulch, priors.cover_minutes),
                    (Way::Cage(at), Protection::FilledCage, CAGE_WORK * priors.cover_minutes),
                ],
            };
            for &(way, protection, minutes) in tried {
                if let Some(then) = done(at, protection) {
                    ways.push(WayAnswer { way, all_lost: then, minutes, halves: then <= HALF * lost });
                }
            }
        }
        let rooting = RootingBelief::learned(Method::HardwoodSoil, false, own, priors);
        if let Some(sticks) = rooting.sticks_for(1, HALF) {
            let then = lost * (1.0 - sticks.chance);
            ways.push(WayAnswer {
                way: Way::Sticks(sticks.number),
                all_lost: then,
                minutes: f64::from(sticks.number) * priors.stick_minutes,
                halves: true,
            });
        }
        ways
    }
}

/// Question of what a cut gives.
#[derive(Debug, Clone, PartialEq)]
pub struct CutQuestion {
    /// The plant.
    pub plant: PlantId,
    /// Last year's shoots.
    pub shoots: u32,
    /// Figs of a usual year.
    pub figs: Option<f64>,
}

/// Its parameters.
pub const CUT_PARAMETERS: [&str; 3] = ["plant", "shoots", "figs"];
/// Most shoots and figs of a plant.
const MOST_SHOOTS: f64 = 1_000.0;
const MOST_FIGS: f64 = 100_000.0;

impl CutQuestion {
    /// Reads the question; `None` where none of it was asked.
    ///
    /// # Errors
    /// One for each field that cannot be used.
    pub fn parse(pairs: &[(String, String)], plants: &[Plant]) -> Result<Option<Self>, FieldErrors> {
        let mut fields = Fields::lenient(pairs, &CUT_PARAMETERS);
        if CUT_PARAMETERS.iter().all(|name| fields.value(name).is_none()) {
            return Ok(None);
        }
        let plant = fields.value("plant").and_then(|typed| {
            let found =
                plants.iter().find(|plant| plant.id.to_string() == typed).ok_or("this plant is not in your garden; choose one of the list");
            fields.errors.keep("plant", typed, found)
        });
        if fields.value("plant").is_none() {
            fields.errors.add("plant", "", "choose the mother plant");
        }
        let within = |what: &'static str, most: f64| {
            move |number: f64| {
                if number.fract() == 0.0 && (1.0..=most).contains(&number) {
                    Ok(number)
                } else {
                    Err(format!("a whole number of {what} from 1 to {most:.0} is accepted"))
                }
            }
        };
        if fields.value("shoots").is_none() {
            fields.errors.add("shoots", "", "count last year’s shoots: those without side shoots of their own");
        }
        let shoots = fields.number("shoots", within("shoots", MOST_SHOOTS));
        let figs = fields.number("figs", within("figs", MOST_FIGS));
        fields.errors.into_result()?;
        Ok(plant.zip(shoots).map(|(plant, shoots)| Self { plant: plant.id, shoots: shoots as u32, figs }))
    }
}

impl Snapshot {
    /// What cuts of a mother plant give and cost; `None` where its town cannot be looked up.
    pub fn cuts_of(&self, question: &CutQuestion, plant: &Plant, usual_place: Option<&str>, winter: Winter) -> Option<Vec<MotherCut>> {
        let site = site_of(plant, usual_place, winter, self)?;
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        let at = plant.cultivar.as_ref().and_then(|slug| self.catalogue.cultivars().iter().position(|c| c.slug == *slug));
        let traits = at.and_then(|at| self.standings.get(at)).map(|standing| standing.fruit).unwrap_or_default();
        let shoots = self.new_shoots(&heat, plant.years_at(winter));
        let crops = cuts(&traits, &heat, shoots, &self.fruit_priors);
        let mother = MotherPlant { shoots: question.shoots, ln_length: shoots.ln, figs: question.figs };
        Some(mother_cuts(&mother, &crops, &self.propagation_priors))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Slug;
    use crate::records::place::Publish;
    use crate::records::words::NameCertainty;
    use crate::records::{MemberId, Place};
    use crate::science::site::PotVolume;
    use uuid::Uuid;

    fn plant(n: u128, slug: &str, culture: Culture, town: &str) -> Plant {
        Plant {
            id: PlantId(Uuid::from_u128(n)),
            owner: Some(MemberId(Uuid::nil())),
            name_written: format!("Fig {n}"),
            cultivar: Slug::new(slug).ok(),
            certainty: NameCertainty::Label,
            planted: Some(2015),
            setting: None,
            culture,
            place: Place { words: Some(town.to_owned()), point: None, publish: Publish::Nowhere },
            mother: None,
        }
    }

    fn winter() -> Winter {
        "2026/27".parse().unwrap()
    }

    const COLD: &str = "Fargo, United States";

    #[test]
    fn a_kind_with_a_second_plant_in_a_pot_is_at_less_risk_and_carrying_it_in_helps() {
        let snapshot = Snapshot::from_seed().unwrap();
        let pot = Culture::Container(PotVolume::new(40.0).ok());
        let of = |plants: &[Plant]| snapshot.mothers(plants, None, winter(), &[]).kinds.remove(0);
        let one = of(&[plant(1, "celeste", Culture::Ground, COLD)]);
        let two = of(&[plant(1, "celeste", Culture::Ground, COLD), plant(2, "celeste", pot, COLD)]);
        assert!(one.all_lost > 0.3 && two.all_lost < one.all_lost + 1e-9, "{one:?} {two:?}");
        assert!((one.all_lost - one.plants[0].dies).abs() < 0.02);
        assert_eq!(one.risk, Risk::DoNotRisk);
        let carried = two.ways.iter().find(|way| matches!(way.way, Way::CarryIn(1))).unwrap();
        assert!(carried.all_lost < two.all_lost);
        // Whatever halves it stands before what does not, least work first.
        let minutes: Vec<f64> = two.ways.iter().filter(|way| way.halves).map(|way| way.minutes).collect();
        assert!(!minutes.is_empty() && minutes.is_sorted(), "{:?}", two.ways);
        assert!(two.ways.iter().all(|way| way.halves == (way.all_lost <= 0.5 * two.all_lost + 1e-12)));
    }

    #[test]
    fn a_kind_in_a_mild_place_may_stay_out_and_an_unknown_fig_is_left_out_by_name() {
        let snapshot = Snapshot::from_seed().unwrap();
        let plants = [plant(1, "celeste", Culture::Ground, "Lisbon, Portugal"), plant(2, "no-such-fig", Culture::Ground, COLD)];
        let answer = snapshot.mothers(&plants, None, winter(), &[]);
        assert_eq!((answer.kinds[0].risk, answer.kinds[0].ways.len()), (Risk::StaysOut, 0));
        assert_eq!(answer.left_out[0].0, "Fig 2, in the ground since 2015");
    }

    #[test]
    fn a_cut_is_asked_about_by_its_plant_and_its_shoots() {
        let snapshot = Snapshot::from_seed().unwrap();
        let plants = [plant(1, "celeste", Culture::Ground, "Lisbon, Portugal")];
        let pairs = |of: &[(&str, &str)]| of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect::<Vec<_>>();
        let id = plants[0].id.to_string();
        let question = CutQuestion::parse(&pairs(&[("plant", &id), ("shoots", "8"), ("figs", "100")]), &plants).unwrap().unwrap();
        let cuts = snapshot.cuts_of(&question, &plants[0], None, winter()).unwrap();
        assert!(cuts[0].sticks < cuts[1].sticks && cuts[1].figs_forgone.unwrap() >= cuts[0].figs_forgone.unwrap());
        assert_eq!(CutQuestion::parse(&[], &plants), Ok(None));
        for (given, field) in
            [(&[("shoots", "8")][..], "plant"), (&[("plant", id.as_str())], "shoots"), (&[("plant", &id), ("shoots", "-1")], "shoots")]
        {
            assert_eq!(CutQuestion::parse(&pairs(given), &plants).unwrap_err().iter().next().unwrap().field, field);
        }
    }
}
