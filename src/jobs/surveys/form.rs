//! The short form of an answer: read by the rules of the report form, of which it asks the least.

use jiff::civil::Date;
use uuid::Uuid;

use crate::catalogue::Catalogue;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::garden::became::Became;
use crate::jobs::garden::lists::value;
use crate::jobs::reports::form;
use crate::records::words::Cover;
use crate::records::{AnswerContent, GrowerPage, MemberId, Plant, PlantId, Survey, Winter, flag_rules};
use crate::science::site::Culture;

/// Whose garden the plant stands in: of who answers, or of somebody else.
pub const SEEN: &str = "seen";
/// The word for a plant of somebody else's.
pub const ANOTHERS: &str = "another";
/// Fields that go to the report form as they are.
const OF_A_REPORT: [&str; 9] = ["name", "place", "culture", "cover", "coldest", "coldest_unit", "coldest_sure", "thermometer", "fruit"];
/// Every field of an answer.
pub const FIELDS: [&str; 11] =
    ["seen", "name", "place", "culture", "became", "cover", "coldest", "coldest_unit", "coldest_sure", "thermometer", "fruit"];

/// The answers as the report form takes them.
pub fn report_pairs(pairs: &[(String, String)], winter: Winter) -> Vec<(String, String)> {
    let mut all = vec![("winter".to_owned(), winter.to_string())];
    all.extend(OF_A_REPORT.iter().filter_map(|name| Some(((*name).to_owned(), value(pairs, name)?.to_owned()))));
    if let Some((top, vitality)) = value(pairs, "became").and_then(|word| word.parse::<Became>().ok()).map(Became::answers) {
        all.extend([("top", top.word()), ("vitality", vitality.word())].map(|(name, word)| (name.to_owned(), word.to_owned())));
    }
    all
}

/// Reads an answer, with the plant that it is of as a report would have it.
///
/// # Errors
/// What cannot be used, by field of the form.
pub fn read(pairs: &[(String, String)], winter: Winter, catalogue: &Catalogue, today: Date) -> Result<(AnswerContent, Plant), FieldErrors> {
    let mut errors = Fields::lenient(pairs, &FIELDS).errors;
    let mut answers = report_pairs(pairs, winter);
    answers.push(("looked".to_owned(), today.to_string()));
    if value(pairs, "cover").is_none() {
        answers.push(("cover".to_owned(), Cover::NotKnown.word().to_owned()));
    }
    let became = value(pairs, "became");
    if let Some(typed) = became {
        errors.keep("became", typed, typed.parse::<Became>());
    }
    let second_hand = value(pairs, SEEN) == Some(ANOTHERS);
    let (sent, record) = match form::read_new(&answers, catalogue, today) {
        Ok(read) if errors.is_empty() => read,
        read => {
            for error in read.err().iter().flatten() {
                let field = match error.field.as_str() {
                    "top" | "vitality" => "became",
                    // The winter is given: a place on the other half of the Earth does not go with it.
                    "winter" => "place",
                    field => field,
                };
                if errors.of(field).is_none() {
                    let missing = field == "became" && became.is_none();
                    let message = if missing { "say what became of it; “Not sure” is an answer too" } else { &error.message };
                    errors.add(field, &error.value, message);
                }
            }
            return Err(errors);
        }
    };
    let plant = sent.planted_by(MemberId(Uuid::nil()), PlantId(Uuid::nil()));
    let content = AnswerContent {
        second_hand,
        name: plant.name_written.clone(),
        cultivar: plant.cultivar.clone(),
        in_pot: plant.culture != Culture::Ground,
        place: plant.place.words.clone(),
        point: plant.place.point,
        record,
    };
    Ok((content, plant))
}

/// Words that everybody will see, without an address or an offer in them.
fn public(fields: &mut Fields<'_>, name: &str, words: Option<String>) -> Option<String> {
    if let Some(what) = words.as_deref().and_then(flag_rules::advertises) {
        let typed = words.clone().unwrap_or_default();
        fields.errors.add(
            name,
            &typed,
            format!("{what} reads as an address, a number or an offer; leave it out, since everybody sees this"),
        );
    }
    words
}

/// The name under which a question is asked, and the winter.
///
/// # Errors
/// What cannot be used, by field.
pub fn read_survey(pairs: &[(String, String)]) -> Result<(String, Winter), FieldErrors> {
    let mut fields = Fields::lenient(pairs, &["asker", "winter"]);
    if fields.value("asker").is_none() {
        fields.errors.add("asker", "", "say who asks, in the name that those who answer know you by");
    }
    let asker = fields.line("asker", Survey::LONGEST_ASKER);
    let asker = public(&mut fields, "asker", asker);
    let winter = fields.needed_word("winter", "say which winter, for example 2025/26");
    match (asker, winter) {
        (Some(asker), Some(winter)) if fields.errors.is_empty() => Ok((asker, winter)),
        _ => Err(fields.errors),
    }
}

/// Name and words of a grower's public page.
///
/// # Errors
/// What cannot be used, by field.
pub fn read_grower(pairs: &[(String, String)]) -> Result<(String, String), FieldErrors> {
    let mut fields = Fields::lenient(pairs, &["title", "recommends"]);
    if fields.value("title").is_none() {
        fields.errors.add("title", "", "say under which name the page stands");
    }
    let title = fields.line("title", GrowerPage::LONGEST_TITLE);
    let title = public(&mut fields, "title", title);
    let words = fields.lines("recommends", GrowerPage::LONGEST_WORDS);
    let words = public(&mut fields, "recommends", words);
    match title {
        Some(title) if fields.errors.is_empty() => Ok((title, words.unwrap_or_default())),
        _ => Err(fields.errors),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::words::{TopKilled, Vitality};
    use jiff::civil::date;

    fn read_of(of: &[(&str, &str)]) -> Result<AnswerContent, FieldErrors> {
        let pairs: Vec<_> = of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let winter = "2025/26".parse().unwrap();
        read(&pairs, winter, &Catalogue::embedded().unwrap(), date(2026, 6, 1)).map(|(content, _)| content)
    }

    #[test]
    fn an_answer_is_a_town_a_kind_and_what_the_winter_did() {
        let least = [("seen", "another"), ("name", "Celeste"), ("place", "Graz, Austria"), ("became", "to_ground_alive")];
        let answer = read_of(&least).unwrap();
        assert!(answer.second_hand && answer.cultivar.is_some() && answer.point.is_some());
        let record = &answer.record;
        assert_eq!((record.top, record.vitality, record.cover), (TopKilled::ToGround, Vitality::Alive, Cover::NotKnown));
    }

    #[test]
    fn what_is_missing_or_wrong_is_named_once_by_the_field_that_asks_it() {
        let wrong = read_of(&[("name", "Celeste")]).unwrap_err();
        let fields: Vec<&str> = wrong.iter().map(|error| error.field.as_str()).collect();
        assert_eq!(fields, ["place", "became"]);
        let wrong = read_of(&[("name", "Celeste"), ("place", "Graz, Austria"), ("became", "gone")]).unwrap_err();
        assert_eq!(wrong.iter().count(), 1);
        let south = read_of(&[("name", "Celeste"), ("place", "Cape Town"), ("became", "tips")]).unwrap_err();
        assert!(south.of("place").unwrap().contains("south of the equator"));
    }

    #[test]
    fn words_that_everybody_sees_hold_no_address_and_no_offer() {
        let pairs = |asker: &str| [("asker", asker), ("winter", "2025/26")].map(|(k, v)| (k.to_owned(), v.to_owned()));
        assert_eq!(read_survey(&pairs("Fig friends of the weir")).unwrap().0, "Fig friends of the weir");
        for asker in ["", "www.example.org", "figs for sale", "call 555 123 4567"] {
            assert!(read_survey(&pairs(asker)).unwrap_err().of("asker").is_some(), "{asker}");
        }
    }
}
