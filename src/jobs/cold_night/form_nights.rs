//! The nights of the form: one row a night, typed or pasted, and what was ticked as done on the nights that are over.

use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::cold_night::field::{Field, NightField};
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::input::{LoggedInput, NightInput};
use crate::jobs::cold_night::sent_form::SentForm;
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::NightKind;

/// One pasted line.
#[derive(Debug, PartialEq)]
struct Line {
    date: Option<Date>,
    high: Option<f64>,
    low: f64,
    kind: Option<NightKind>,
}

const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

fn is_month(word: &str) -> bool {
    MONTHS.iter().any(|m| word.to_lowercase().starts_with(m))
}

fn kind_of(line: &str) -> Option<NightKind> {
    let words = line.to_lowercase();
    let has = |all: &[&str]| all.iter().any(|w| words.contains(w));
    if has(&["wind", "breez", "gale"]) {
        Some(NightKind::Windy)
    } else if has(&["cloud", "overcast", "snow", "rain", "fog"]) {
        Some(NightKind::Cloudy)
    } else if has(&["clear", "still", "calm"]) {
        Some(NightKind::ClearStill)
    } else {
        None
    }
}

/// A line of a pasted spell: a date or a day's name, the day's highest where there are two numbers, the night's lowest, a word on the night.
fn line(text: &str) -> Result<Line, String> {
    let shown: String = text.trim().chars().take(40).collect();
    let tokens: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, '/' | ';' | '|' | ':'))
        .map(|t| t.trim_matches(','))
        .filter(|t| !t.is_empty())
        .collect();
    let mut date = None;
    let mut numbers: Vec<f64> = Vec::new();
    let (mut after_month, mut day_named) = (false, false);
    for (i, token) in tokens.iter().enumerate() {
        if let Ok(read) = token.parse::<Date>() {
            date = Some(read);
            continue;
        }
        if is_month(token) {
            after_month = !day_named;
            day_named = false;
            continue;
        }
        let bare = token.trim_end_matches(['°', 'C', 'F', 'c', 'f']).trim_end_matches('°');
        let Ok(number) = decimal(bare) else { continue };
        // “14 Jan” and “Jan 14” are days, not degrees.
        day_named = tokens.get(i + 1).is_some_and(|next| is_month(next));
        let day = after_month || day_named;
        after_month = false;
        if !day {
            numbers.push(number);
        }
    }
    match numbers[..] {
        [low] => Ok(Line { date, high: None, low, kind: kind_of(text) }),
        [one, other] => Ok(Line { date, high: Some(one.max(other)), low: one.min(other), kind: kind_of(text) }),
        [] => Err(format!(
            "“{shown}” holds no temperature; write a line a night: the day’s highest and the night’s lowest, for example 3 / −8 windy"
        )),
        _ => Err(format!("“{shown}” holds {} numbers; a line takes two: the day’s highest and the night’s lowest", numbers.len())),
    }
}

/// Turns pasted lines into rows of the form; what was pasted stays where anything in it cannot be read.
pub fn fill_from_pasted(form: &mut SentForm) -> Result<(), FieldErrors> {
    let Some(text) = form.text(Field::Pasted).map(str::to_owned) else { return Ok(()) };
    let mut errors = FieldErrors::default();
    let mut lines: Vec<Line> = Vec::new();
    for (number, text) in text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        match line(text) {
            Ok(line) => lines.push(line),
            Err(why) => errors.add(Field::Pasted, text, format!("line {}: {why}", number + 1)),
        }
    }
    for pair in lines.windows(2) {
        let [Line { date: Some(before), .. }, Line { date: Some(date), .. }] = pair else { continue };
        if date <= before {
            errors.add(Field::Pasted, &date.to_string(), format!("{date} comes after {before}: give the nights in order, each once"));
        } else if before.tomorrow().is_ok_and(|next| next != *date) {
            errors.add(
                Field::Pasted,
                &date.to_string(),
                format!("between {before} and {date} a night is missing: a pot carries its cold through every night"),
            );
        }
    }
    if lines.len() > MOST_NIGHTS {
        errors.add(Field::Pasted, "", format!("{} nights were pasted; a plan takes 1 to {MOST_NIGHTS}. Beyond that no forecast of the lowest is worth planning on: keep the first {MOST_NIGHTS}", lines.len()));
    }
    errors.into_result()?;
    form.clear_nights();
    form.clear(Field::Pasted);
    if let Some(first) = lines.first().and_then(|l| l.date) {
        form.set(Field::Date, first.to_string());
    }
    form.set(Field::NightCount, lines.len().to_string());
    for (night, line) in lines.iter().enumerate().map(|(i, l)| (i + 1, l)) {
        form.set(Field::Night(night, NightField::Minimum), line.low.to_string());
        if let Some(high) = line.high {
            form.set(Field::Night(night, NightField::DayMaximum), high.to_string());
        }
        if let Some(kind) = line.kind {
            form.set(Field::Night(night, NightField::Kind), kind.word());
        }
    }
    Ok(())
}

/// Reads the nights into the calculation's input.
pub fn read(f: &mut ScaledFields<'_>, form: &SentForm, log: Vec<LoggedInput>, read: &mut FormNight) {
    let (nights, dates) = (form.nights(), form.dates());
    if let Some(date) = f.text(Field::Date)
        && date.parse::<Date>().is_err()
    {
        f.errors().add(Field::Date, date, format!("“{date}” is not a date; write it as 2027-01-14"));
    }
    let climate = f.text(Field::Coast).map(|_| ClimateKind::Coast);
    let mut own_log = Some(log);
    for night in 1..=nights {
        let [high, low, kind] = [NightField::DayMaximum, NightField::Minimum, NightField::Kind].map(|field| Field::Night(night, field));
        if f.text(low).is_none() {
            let asked = if night == 1 {
                "Tonight’s lowest temperature is missing: take it from any forecast.".to_owned()
            } else {
                format!("The lowest of night {night} is missing: a pot carries its cold through every night, so none can be left out.")
            };
            f.errors().add(low, "", asked);
        }
        read.input.nights.push(NightInput {
            minimum_c: f.celsius(low).unwrap_or(0.0),
            day_maximum_c: f.celsius(high),
            sunset_plus_2h_c: if night == 1 { f.celsius(Field::Evening) } else { None },
            lead_hours: if nights == 1 { f.number(Field::Lead) } else { None },
            kind: f.word(kind),
            date: dates.get(night - 1).copied().flatten(),
            climate,
            // Readings belong to the garden; they stand with the first night.
            own_log: own_log.take().unwrap_or_default(),
            ..NightInput::default()
        });
    }
    let from = form.first_planned();
    if from > 1 {
        match dates.get(from - 1).copied().flatten() {
            Some(date) => read.input.from = Some(date),
            None if f.text(Field::Date).is_none() => {
                f.errors().add(Field::Date, "", "To plan on from a later night, say the date of the first.");
            }
            None => {}
        }
    }
}

/// Puts every plant where what was ticked up to the first planned evening has left it.
pub fn apply_done(form: &SentForm, read: &mut FormNight) {
    let (from, dates) = (form.first_planned(), form.dates());
    for done in form.done().into_iter().filter(|done| done.night <= from) {
        let place = match done.place {
            None => None,
            Some(row) => {
                let Some(id) = read.place_of_row(row) else { continue };
                Some(id)
            }
        };
        let since = done.night.checked_sub(1).and_then(|before| dates.get(before).copied().flatten());
        let rows = read.row_of.clone();
        let of_row = read.input.plants.iter_mut().zip(rows).filter(|(_, row)| *row == done.row).map(|(plant, _)| plant);
        let wanted = |at: &Option<String>| if place.is_some() { at.is_none() } else { at.is_some() };
        for plant in of_row.filter(|plant| wanted(&plant.at)).take(done.count) {
            plant.at.clone_from(&place);
            plant.at_since = place.as_ref().and(since);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(list: &[(Field, &str)]) -> SentForm {
        let mut form = SentForm::default();
        form.extend(list.iter().map(|(field, value)| (*field, (*value).to_owned())));
        form
    }

    #[test]
    fn pasted_lines_become_rows_whatever_they_look_like() {
        let mut form = sent(&[(Field::Pasted, "2027-01-14 3 / −8 windy\nFri 15 Jan: high -1, low -11,5\n\nSat −12°C")]);
        fill_from_pasted(&mut form).unwrap();
        let of = |field: Field| form.text(field).unwrap_or_default();
        let night = |night: usize, field: NightField| of(Field::Night(night, field));
        assert_eq!((of(Field::NightCount), of(Field::Date), of(Field::Pasted)), ("3", "2027-01-14", ""));
        assert_eq!((night(1, NightField::Minimum), night(1, NightField::DayMaximum), night(1, NightField::Kind)), ("-8", "3", "windy"));
        assert_eq!(
            (night(2, NightField::Minimum), night(2, NightField::DayMaximum), night(3, NightField::Minimum)),
            ("-11.5", "-1", "-12")
        );
    }

    #[test]
    fn pasted_lines_that_cannot_be_read_are_named_and_stay() {
        let thirty = vec!["3 -8"; 30].join("\n");
        for (text, said) in [
            ("3 -8\ncold", "line 2"),
            ("1 2 3", "3 numbers"),
            ("2027-01-14 3 -8\n2027-01-16 3 -8", "missing"),
            ("2027-01-14 3 -8\n2027-01-13 3 -8", "in order"),
            (thirty.as_str(), "30 nights"),
        ] {
            let minimum = Field::Night(1, NightField::Minimum);
            let mut form = sent(&[(Field::Pasted, text), (minimum, "-5")]);
            let errors = fill_from_pasted(&mut form).unwrap_err();
            assert!(errors.of(&Field::Pasted.name()).unwrap().contains(said), "{text}");
            assert_eq!(form.text(Field::Pasted), Some(text.trim()));
            assert_eq!(form.text(minimum), Some("-5"));
        }
    }
}
