//! The nights of the form: one row a night, typed or pasted, and what was ticked as done on the nights that are over.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::input::{LoggedInput, NightInput};
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::NightKind;

/// Nights that one press adds to the form.
pub const NIGHTS_MORE: usize = 3;
/// Field of pasted nights.
pub const PASTED: &str = "pasted";
/// Field of the first night's date.
pub const DATE: &str = "date";
/// Field of the first planned night, a number from 1.
pub const FROM: &str = "from";
/// Field of what was ticked as done, once for each.
pub const DONE: &str = "did";

type Pairs = Vec<(String, String)>;

fn typed<'p>(pairs: &'p [(String, String)], name: &str) -> Option<&'p str> {
    pairs.iter().find(|(k, _)| k == name).map(|(_, v)| v.trim()).filter(|v| !v.is_empty())
}

/// How many nights a form has.
pub fn count(pairs: &[(String, String)]) -> usize {
    typed(pairs, "nights").and_then(|v| v.parse().ok()).unwrap_or(1).clamp(1, MOST_NIGHTS)
}

/// The first planned night, from 1.
pub fn first_planned(pairs: &[(String, String)]) -> usize {
    typed(pairs, FROM).and_then(|v| v.parse().ok()).unwrap_or(1).clamp(1, count(pairs))
}

/// Name of a field of a night's row. The first night's lowest and kind keep the names they have where it is alone.
pub fn field(night: usize, key: &str) -> String {
    match (night, key) {
        (1, "min") => "minimum".to_owned(),
        (1, "kind") => "kind".to_owned(),
        _ => format!("n{night}_{key}"),
    }
}

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
pub fn fill_from_pasted(pairs: &mut Pairs) -> Result<(), FieldErrors> {
    let Some(text) = typed(pairs, PASTED).map(str::to_owned) else { return Ok(()) };
    let mut errors = FieldErrors::default();
    let mut lines: Vec<Line> = Vec::new();
    for (number, text) in text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()) {
        match line(text) {
            Ok(line) => lines.push(line),
            Err(why) => errors.add(PASTED, text, format!("line {}: {why}", number + 1)),
        }
    }
    for pair in lines.windows(2) {
        let [Line { date: Some(before), .. }, Line { date: Some(date), .. }] = pair else { continue };
        if date <= before {
            errors.add(PASTED, &date.to_string(), format!("{date} comes after {before}: give the nights in order, each once"));
        } else if before.tomorrow().is_ok_and(|next| next != *date) {
            errors.add(
                PASTED,
                &date.to_string(),
                format!("between {before} and {date} a night is missing: a pot carries its cold through every night"),
            );
        }
    }
    if lines.len() > MOST_NIGHTS {
        errors.add(PASTED, "", format!("{} nights were pasted; a plan takes 1 to {MOST_NIGHTS}. Beyond that no forecast of the lowest is worth planning on: keep the first {MOST_NIGHTS}", lines.len()));
    }
    errors.into_result()?;
    pairs.retain(|(k, _)| {
        let is_row = (1..=MOST_NIGHTS).any(|n| ["max", "min", "kind"].iter().any(|key| *k == field(n, key)));
        !is_row && k != "nights" && k != PASTED && k != FROM
    });
    if let Some(first) = lines.first().and_then(|l| l.date) {
        pairs.retain(|(k, _)| k != DATE);
        pairs.push((DATE.to_owned(), first.to_string()));
    }
    pairs.push(("nights".to_owned(), lines.len().to_string()));
    for (n, line) in lines.iter().enumerate().map(|(i, l)| (i + 1, l)) {
        pairs.push((field(n, "min"), line.low.to_string()));
        if let Some(high) = line.high {
            pairs.push((field(n, "max"), high.to_string()));
        }
        if let Some(kind) = line.kind {
            pairs.push((field(n, "kind"), kind.word().to_owned()));
        }
    }
    Ok(())
}

/// The date of each night of the form, where the first has one.
pub fn dates(pairs: &[(String, String)]) -> Vec<Option<Date>> {
    let first = typed(pairs, DATE).and_then(|v| v.parse::<Date>().ok());
    (0_i64..).take(count(pairs)).map(|n| first.and_then(|d| d.checked_add(n.days()).ok())).collect()
}

/// Reads the nights into the calculation's input.
#[expect(clippy::needless_pass_by_value, reason = "the readings become part of the input")]
pub fn read(f: &mut ScaledFields<'_>, pairs: &[(String, String)], log: Vec<LoggedInput>, read: &mut FormNight) {
    let nights = count(pairs);
    let dates = dates(pairs);
    if let Some(date) = f.text(DATE)
        && date.parse::<Date>().is_err()
    {
        f.errors().add(DATE, date, format!("“{date}” is not a date; write it as 2027-01-14"));
    }
    let climate = f.text("coast").map(|_| ClimateKind::Coast);
    for n in 1..=nights {
        let low = field(n, "min");
        if f.text(&low).is_none() {
            let asked = if n == 1 {
                "Tonight’s lowest temperature is missing: take it from any forecast.".to_owned()
            } else {
                format!("The lowest of night {n} is missing: a pot carries its cold through every night, so none can be left out.")
            };
            f.errors().add(low.clone(), "", asked);
        }
        let own_log = if n == 1 { log.clone() } else { Vec::new() };
        read.input.nights.push(NightInput {
            minimum_c: f.celsius(&low).unwrap_or(0.0),
            day_maximum_c: f.celsius(&field(n, "max")),
            sunset_plus_2h_c: if n == 1 { f.celsius("evening") } else { None },
            lead_hours: if n == 1 && nights == 1 { f.number("lead") } else { None },
            kind: f.word(&field(n, "kind")),
            date: dates.get(n - 1).copied().flatten(),
            climate,
            own_log,
            ..NightInput::default()
        });
    }
    let from = first_planned(pairs);
    if from > 1 {
        match dates.get(from - 1).copied().flatten() {
            Some(date) => read.input.from = Some(date),
            None if f.text(DATE).is_none() => f.errors().add(DATE, "", "To plan on from a later night, say the date of the first."),
            None => {}
        }
    }
}

/// Something ticked as done: so many plants of a row, into a place or out, before a night.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Done {
    /// Row of the plants.
    pub row: usize,
    /// How many.
    pub count: usize,
    /// Row of the place; `None`: out.
    pub place: Option<usize>,
    /// The night before which it was done, from 1.
    pub night: usize,
}

impl Done {
    /// As a field of the form holds it: `3x4@s2n1`, `3x4@outn2`.
    pub fn written(&self) -> String {
        let place = self.place.map_or_else(|| "out".to_owned(), |row| format!("s{row}"));
        format!("{}x{}@{place}n{}", self.row, self.count, self.night)
    }

    fn read(text: &str) -> Option<Self> {
        let (row, rest) = text.split_once('x')?;
        let (count, rest) = rest.split_once('@')?;
        let (place, night) = rest.rsplit_once('n')?;
        let place = match place {
            "out" => None,
            place => Some(place.strip_prefix('s')?.parse().ok()?),
        };
        Some(Self { row: row.parse().ok()?, count: count.parse().ok()?, place, night: night.parse().ok()? })
    }
}

/// What was ticked, in the order of the nights.
pub fn done(pairs: &[(String, String)]) -> Vec<Done> {
    let mut all: Vec<Done> = pairs.iter().filter(|(k, _)| k == DONE).filter_map(|(_, v)| Done::read(v)).collect();
    all.sort_by_key(|d| d.night);
    all
}

/// Puts every plant where what was ticked up to the first planned evening has left it.
pub fn apply_done(pairs: &[(String, String)], read: &mut FormNight) {
    let (from, dates) = (first_planned(pairs), dates(pairs));
    for done in done(pairs).into_iter().filter(|d| d.night <= from) {
        let place = match done.place {
            None => None,
            Some(row) => {
                let Some(id) = read.place_of_row(row) else { continue };
                Some(id)
            }
        };
        let since = dates.get(done.night - 1).copied().flatten();
        let rows = read.row_of.clone();
        let of_row = read.input.plants.iter_mut().zip(rows).filter(|(_, row)| *row == done.row).map(|(plant, _)| plant);
        let wanted = |at: &Option<String>| if place.is_some() { at.is_none() } else { at.is_some() };
        for plant in of_row.filter(|p| wanted(&p.at)).take(done.count) {
            plant.at.clone_from(&place);
            plant.at_since = place.as_ref().and(since);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(list: &[(&str, &str)]) -> Pairs {
        list.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn pasted_lines_become_rows_whatever_they_look_like() {
        let mut form = pairs(&[(PASTED, "2027-01-14 3 / −8 windy\nFri 15 Jan: high -1, low -11,5\n\nSat −12°C")]);
        fill_from_pasted(&mut form).unwrap();
        let of = |name: &str| typed(&form, name).unwrap_or_default().to_owned();
        assert_eq!((of("nights"), of(DATE)), ("3".to_owned(), "2027-01-14".to_owned()));
        assert_eq!((of("minimum"), of("n1_max"), of("kind")), ("-8".to_owned(), "3".to_owned(), "windy".to_owned()));
        assert_eq!((of("n2_min"), of("n2_max"), of("n3_min")), ("-11.5".to_owned(), "-1".to_owned(), "-12".to_owned()));
        assert_eq!(of(PASTED), "");
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
            let mut form = pairs(&[(PASTED, text), ("minimum", "-5")]);
            let errors = fill_from_pasted(&mut form).unwrap_err();
            assert!(errors.of(PASTED).unwrap().contains(said), "{text}");
            assert_eq!(typed(&form, PASTED), Some(text.trim()));
            assert_eq!(typed(&form, "minimum"), Some("-5"));
        }
    }

    #[test]
    fn what_was_ticked_is_read_as_written() {
        for done in [Done { row: 3, count: 4, place: Some(2), night: 1 }, Done { row: 1, count: 1, place: None, night: 5 }] {
            assert_eq!(Done::read(&done.written()), Some(done));
        }
        assert_eq!(Done::read("nonsense"), None);
    }
}
