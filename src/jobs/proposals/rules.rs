//! What a change has to keep to, given the catalogue of the moment.

use crate::catalogue::change::{Change, ChangeKind, SourcedFact, TraitName};
use crate::catalogue::{Catalogue, Cultivar, NameMatch, Slug, names};
use crate::input::errors::FieldErrors;
use crate::records::Member;
use crate::science::cultivar::HardinessClass;
use crate::units::Celsius;

/// Kinds that stewards alone make.
pub const OF_STEWARDS: [ChangeKind; 4] = [ChangeKind::Merge, ChangeKind::Split, ChangeKind::Spelling, ChangeKind::Dubious];

/// Kinds that a member may make.
pub fn kinds_of(member: &Member) -> Vec<ChangeKind> {
    ChangeKind::ALL.iter().copied().filter(|kind| member.may_review() || !OF_STEWARDS.contains(kind)).collect()
}

/// Whether a change fits the catalogue: every entry that it speaks of stands, every new one is new, and nothing is said of a fig and itself.
///
/// # Errors
/// One entry per field that does not.
pub fn check(change: &Change, catalogue: &Catalogue) -> Result<(), FieldErrors> {
    let mut errors = FieldErrors::default();
    for (field, slug) in [("cultivar", change.cultivar()), ("other", change.other())] {
        if let Some(slug) = slug.filter(|slug| change.new_entry().is_none_or(|(new, _)| new != *slug))
            && catalogue.get(slug.as_str()).is_none_or(|fig| fig.slug != *slug)
        {
            errors.add(field, slug.as_str(), format!("“{slug}” is no entry of the catalogue, or was merged into another"));
        }
    }
    if let (Some(one), Some(other)) = (change.cultivar(), change.other())
        && one == other
    {
        errors.add("other", other.as_str(), "these are one entry; name two");
    }
    if let Some((slug, name)) = change.new_entry() {
        new_entry(slug, name, change, catalogue, &mut errors);
    }
    match change {
        Change::Synonym { cultivar, name, .. } | Change::Spelling { cultivar, name } => {
            let has = |fig: &Cultivar| {
                fig.names().chain(fig.spellings.iter().map(String::as_str)).any(|own| names::fold(own) == names::fold(name))
            };
            if catalogue.get(cultivar.as_str()).is_some_and(has) {
                errors.add("name", name, format!("“{name}” is a name of it already"));
            }
        }
        Change::Family { cultivar, family, .. } => {
            if catalogue.get(family.as_str()).is_some_and(|fig| !fig.is_family) {
                errors.add("other", family.as_str(), "this entry is no family; a family is proposed as an entry of its own first");
            }
            if catalogue.get(cultivar.as_str()).is_some_and(|fig| fig.is_family) {
                errors.add("cultivar", cultivar.as_str(), "this entry is a family itself; a family belongs to none");
            }
        }
        _ => {}
    }
    errors.into_result()
}

fn new_entry(slug: &Slug, name: &str, change: &Change, catalogue: &Catalogue, errors: &mut FieldErrors) {
    if let Some(there) = catalogue.get(slug.as_str()) {
        errors.add("slug", slug.as_str(), format!("the address “{slug}” is that of {}; choose another", there.name));
    }
    // A split may take the name of the entry that it comes out of.
    let parent = match change {
        Change::Split { cultivar, .. } => Some(cultivar),
        _ => None,
    };
    let taken = match catalogue.identify(name) {
        NameMatch::Accepted(fig) => Some(fig),
        NameMatch::Synonym(fig) if parent != Some(&fig.slug) => Some(fig),
        _ => None,
    };
    if let Some(fig) = taken {
        errors.add("name", name, format!("“{name}” is a name of {} already", fig.name));
    }
}

/// What the catalogue holds of a trait, as it writes it; `None` where nothing is known or the trait is shown only.
pub fn known_value(fig: &Cultivar, of: TraitName) -> Option<String> {
    match of {
        TraitName::HardinessClass | TraitName::HalfKilled => fig.hardiness_class.value.map(|class| class.to_string()),
        TraitName::FruitKind => fig.fruit_kind.value.map(|kind| kind.word().to_owned()),
        TraitName::CropHabit => fig.crop_habit.value.map(|habit| habit.word().to_owned()),
        TraitName::Ripening => fig.ripening.value.map(|season| season.word().to_owned()),
        TraitName::Resprouts => fig.resprouts.value.map(|back| back.word().to_owned()),
        TraitName::FruitsOnRegrowth => fig.fruits_on_regrowth.value.map(|yes| if yes { "yes" } else { "no" }.to_owned()),
        TraitName::Skin => fig.skin_colour.value.clone(),
        TraitName::Survived | TraitName::Field | TraitName::Leaf | TraitName::Fruit | TraitName::Origin | TraitName::Finder => None,
    }
}

/// What a fact says in the form of what the catalogue holds: a class where it is the figure of the published rule.
pub fn said_value(fact: &SourcedFact) -> String {
    if fact.trait_name != TraitName::HalfKilled {
        return fact.value.clone();
    }
    let class = fact.value.parse().ok().and_then(|c| Celsius::new(c).ok()).map(HardinessClass::of_half_killed);
    class.map_or_else(|| fact.value.clone(), |class| class.to_string())
}

/// The value that a fact contradicts.
pub fn contradicted(change: &Change, catalogue: &Catalogue) -> Option<String> {
    let Change::Fact { cultivar, fact, .. } = change else { return None };
    known_value(catalogue.get(cultivar.as_str())?, fact.trait_name).filter(|known| *known != said_value(fact))
}

/// The change as it is to stand: a fact that nothing contradicts counts, and one that is contradicted stands with a reason.
///
/// # Errors
/// Where the reason is missing.
pub fn as_it_stands(change: Change, catalogue: &Catalogue, was_accepted: bool) -> Result<Change, FieldErrors> {
    let contradicts = contradicted(&change, catalogue);
    let Change::Fact { cultivar, fact, counts, reason, source } = change else { return Ok(change) };
    match contradicts {
        Some(known) if reason.is_empty() => {
            let mut errors = FieldErrors::default();
            let said = said_value(&fact);
            errors.add(
                "reason",
                "",
                format!("the catalogue has “{known}” and this says “{said}”: both will stand, so say why this one counts or does not"),
            );
            Err(errors)
        }
        // One that stands already is not told from what it says itself.
        None if !was_accepted => Ok(Change::Fact { cultivar, fact, counts: true, reason, source }),
        _ => Ok(Change::Fact { cultivar, fact, counts, reason, source }),
    }
}
