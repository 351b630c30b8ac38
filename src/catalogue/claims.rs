//! Claims about the cold that one cultivar takes, each by itself: its figure, its circumstances where they are told, its one source. Nothing is
//! merged; what contradicts is found and shown together.
//!
//! Figures stand in `cultivar-facts.csv` and `found-facts.csv`; the age, stage and protection that a source tells with one of them stand in
//! `seed-data/claim-circumstances.csv`.

use std::collections::BTreeSet;

use super::beside::{Circumstance, circumstances};
use super::found::{FoundFact, Standing};
use super::{Catalogue, Cultivar, Provenance, ProvenanceKind};
use crate::science::cultivar::Resprouting;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a claim is about.
    pub enum About: "subject of a claim" {
        /// A temperature.
        Survived = "survived" => "Coldest it is said to survive",
        /// How hardy.
        Class = "class" => "How hardy it is said to be",
        /// How it did in the ground.
        Field = "field" => "How it did in the open",
        /// Waking.
        Waking = "waking" => "When it wakes",
        /// Coming back.
        Regrowth = "regrowth" => "Coming back from the roots",
    }
}

/// One claim of one source.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// What it is about.
    pub about: About,
    /// Its figure, °C, where it is one.
    pub figure_c: Option<f64>,
    /// What it says, figures as read in °C.
    pub says: String,
    /// Age of the plant; `None`: not told.
    pub age: Option<String>,
    /// State of the plant; `None`: not told.
    pub stage: Option<String>,
    /// Protection; `None`: not told.
    pub protection: Option<String>,
    /// Title of the source, author included; `None`: nobody’s, from memory.
    pub source: Option<String>,
    /// Year of the source; empty where not shown.
    pub year: String,
    /// Where it was read; empty where withheld.
    pub address: String,
    /// Grade of the source in words; empty where there is none.
    pub grade: &'static str,
    /// How it stands to what the calculation takes.
    pub standing: Standing,
    /// Why; may be empty.
    pub reason: String,
    /// Words of the source; may be empty.
    pub note: String,
}

/// The subject of a trait; `None` where it does not speak of cold.
pub fn about(trait_name: &str) -> Option<About> {
    Some(match trait_name {
        "survival_claim_c" => About::Survived,
        "hardiness_class" | "half_killed_c" => About::Class,
        "field" => About::Field,
        "early_waking" => About::Waking,
        "resprouts" => About::Regrowth,
        _ => return None,
    })
}

fn told(text: &str) -> Option<String> {
    (!text.trim().is_empty()).then(|| text.trim().to_owned())
}

/// Every claim about the cold that a cultivar takes, by subject; within one, what counts first.
///
/// # Errors
/// A row of a shipped table that is not one.
pub fn claims(catalogue: &Catalogue, cultivar: &Cultivar) -> Result<Vec<Claim>, csv::Error> {
    let circumstances = circumstances()?;
    let own: Vec<&Circumstance> = circumstances.iter().filter(|c| c.cultivar == cultivar.slug.as_str()).collect();
    let circumstance = |trait_name: &str, source: &str| {
        let found = own.iter().find(|c| c.trait_name == trait_name && source.starts_with(c.source.as_str()));
        let part = |of: fn(&Circumstance) -> &String| found.and_then(|c| told(of(c)));
        (part(|c| &c.age), part(|c| &c.stage), part(|c| &c.protection))
    };
    let mut all = of_catalogue(catalogue, cultivar, &circumstance);
    for fact in catalogue.found().iter().filter(|fact| fact.cultivar == cultivar.slug.as_str()) {
        all.extend(of_fact(fact, &circumstance));
    }
    let order = |claim: &Claim| (claim.about, claim.standing != Standing::Counts);
    all.sort_by_key(order);
    Ok(all)
}

/// Age, stage and protection.
type Told = (Option<String>, Option<String>, Option<String>);

/// What the catalogue’s own traits rest on, one claim a source.
fn of_catalogue(catalogue: &Catalogue, cultivar: &Cultivar, circumstance: &dyn Fn(&str, &str) -> Told) -> Vec<Claim> {
    let class = cultivar.hardiness_class.known().map(|class| (None, format!("read as class {class} of 5; no temperature")));
    let survived = cultivar.survival_claim_c.known().map(|t| (Some(t.degrees()), "survived, or “hardy to”: never a limit".to_owned()));
    let back = cultivar.resprouts.known().map(|r| (None, r.label().to_owned()));
    let traits = [
        ("hardiness_class", class, &cultivar.hardiness_class.provenance),
        ("survival_claim_c", survived, &cultivar.survival_claim_c.provenance),
        ("resprouts", back, &cultivar.resprouts.provenance),
    ];
    let mut all = Vec::new();
    for (name, value, provenance) in traits {
        let (Some((figure_c, says)), Some(about)) = (value, about(name)) else { continue };
        let claim = |source: Option<&super::Source>, key: &str| {
            let (age, stage, protection) = circumstance(name, key);
            Claim {
                about,
                figure_c,
                says: says.clone(),
                age,
                stage,
                protection,
                source: source.map(|s| s.author.as_ref().map_or_else(|| s.title.clone(), |author| format!("{}, {author}", s.title))),
                year: source.and_then(|s| s.year).map(|y| y.to_string()).unwrap_or_default(),
                address: source.and_then(|s| s.address.clone()).unwrap_or_default(),
                grade: source.map_or("", |s| s.grade.label()),
                // No calculation takes a temperature that something survived.
                standing: if about == About::Survived { Standing::Adds } else { Standing::Counts },
                reason: if source.is_none() { without_source(provenance).to_owned() } else { String::new() },
                note: String::new(),
            }
        };
        if provenance.sources.is_empty() {
            all.push(claim(None, ""));
        }
        all.extend(provenance.sources.iter().map(|key| claim(catalogue.source(key), key.as_str())));
    }
    all
}

const fn without_source(provenance: &Provenance) -> &'static str {
    match provenance.kind {
        ProvenanceKind::Unknown => "no source is recorded",
        kind => kind.label(),
    }
}

fn of_fact(fact: &FoundFact, circumstance: &dyn Fn(&str, &str) -> Told) -> Option<Claim> {
    let about = about(&fact.trait_name)?;
    let (age, stage, protection) = circumstance(&fact.trait_name, &fact.title);
    // `−18 (one nursery plant)`: the figure, and what is said of it.
    let figure_c = (about == About::Survived)
        .then(|| fact.value.split(' ').next().and_then(|number| number.replace('−', "-").parse::<f64>().ok()))
        .flatten();
    let says = match (figure_c, fact.value.split_once(' ')) {
        (Some(_), Some((_, rest))) => rest.trim_matches(['(', ')']).to_owned(),
        _ if fact.trait_name == "half_killed_c" => format!("half of the one-year wood died at {} °C", fact.value),
        _ if about == About::Class && fact.value.starts_with(|c: char| c.is_ascii_digit()) => format!("read as class {}", fact.value),
        _ => fact.value.clone(),
    };
    Some(Claim {
        about,
        figure_c,
        says,
        age,
        stage,
        protection,
        source: Some(fact.title.clone()),
        year: fact.year.clone(),
        address: fact.address.clone(),
        grade: fact.grade.label(),
        standing: fact.standing,
        reason: fact.reason.clone(),
        note: fact.note.clone(),
    })
}

impl Claim {
    /// What it comes to, for telling whether two claims agree: figures, classes or a word. Empty where it takes no side.
    fn position(&self) -> BTreeSet<String> {
        match self.about {
            About::Survived => self.figure_c.map(|c| format!("{c:.0}")).into_iter().collect(),
            About::Class => {
                let class = self.says.strip_prefix("read as class ").unwrap_or("");
                let upto = class.split([';', ':', '(']).next().unwrap_or("").replace(" of 5", "");
                upto.chars().filter(char::is_ascii_digit).map(String::from).collect()
            }
            About::Regrowth => {
                // A sentence of its own takes no side.
                let word = self.says.split([',', ' ', ':']).next().unwrap_or("").to_lowercase();
                Resprouting::ALL.iter().any(|known| known.word() == word).then_some(word).into_iter().collect()
            }
            About::Field | About::Waking => BTreeSet::new(),
        }
    }
}

/// Subjects on which claims contradict each other, with those claims that take a side.
pub fn contradictions(claims: &[Claim]) -> Vec<(About, Vec<&Claim>)> {
    About::ALL
        .iter()
        .filter_map(|&about| {
            let sides: Vec<(&Claim, BTreeSet<String>)> = claims
                .iter()
                .filter(|claim| claim.about == about)
                .map(|claim| (claim, claim.position()))
                .filter(|(_, position)| !position.is_empty())
                .collect();
            let apart = sides.iter().any(|(_, a)| sides.iter().any(|(_, b)| a.is_disjoint(b)));
            apart.then(|| (about, sides.into_iter().map(|(claim, _)| claim).collect()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(slug: &str) -> Vec<Claim> {
        let catalogue = Catalogue::embedded().unwrap();
        claims(&catalogue, catalogue.get(slug).unwrap()).unwrap()
    }

    /// Read outside: R. Polomski, Clemson 2013, Brown Turkey hardy to 10 °F (−12.2 °C); a quotation in a forum, −18 °C without damage.
    #[test]
    fn two_figures_for_one_fig_stand_side_by_side_and_neither_is_an_average() {
        let all = of("brown-turkey");
        let figures: Vec<f64> = all.iter().filter_map(|claim| claim.figure_c).collect();
        assert_eq!(figures, [-12.2, -18.0]);
        let (_, sides) = contradictions(&all).into_iter().find(|(about, _)| *about == About::Survived).unwrap();
        assert_eq!(sides.len(), 2);
        assert!(sides.iter().all(|claim| !claim.source.as_ref().unwrap().is_empty() && !claim.grade.is_empty()));
    }

    #[test]
    fn each_source_of_a_trait_is_a_claim_of_its_own_and_circumstances_are_told_or_not_told() {
        let all = of("celeste");
        assert_eq!(all.iter().filter(|c| c.about == About::Class && c.standing == Standing::Counts).count(), 4, "{all:?}");
        let survived = all.iter().find(|c| c.about == About::Survived).unwrap();
        assert_eq!((survived.figure_c, survived.age.as_deref(), survived.stage.as_deref()), (Some(-17.8), Some("established"), None));
    }

    #[test]
    fn sources_that_agree_are_no_contradiction() {
        let about = |slug: &str| contradictions(&of(slug)).iter().map(|(about, _)| *about).collect::<Vec<_>>();
        assert!(!about("horaishi").contains(&About::Class), "3 and 3");
        assert!(about("smith").contains(&About::Class), "2 and 3");
        assert!(!about("brown-turkey").contains(&About::Regrowth), "good, and a count of stems");
    }

    #[test]
    fn every_circumstance_belongs_to_a_claim() {
        let catalogue = Catalogue::embedded().unwrap();
        let rows = circumstances().unwrap();
        assert!(rows.len() > 20);
        for row in rows {
            let all = claims(&catalogue, catalogue.get(&row.cultivar).unwrap()).unwrap();
            let about = about(&row.trait_name);
            let met = |c: &Claim| {
                Some(c.about) == about && c.age == told(&row.age) && c.stage == told(&row.stage) && c.protection == told(&row.protection)
            };
            assert!(all.iter().any(met), "{row:?}");
        }
    }
}
