//! Reading the raw pairs of a form or a JSON object into typed values, collecting one error per field.

use std::str::FromStr;

use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::records::text;
use crate::units::Celsius;

/// A decimal number as people write it: comma or point, a true minus, no unit.
pub fn decimal(text: &str) -> Result<f64, String> {
    let plain = text.trim().replace(['−', '–'], "-").replace(',', ".");
    let is_decimal = !plain.is_empty() && plain.len() <= 24 && plain.chars().all(|c| c.is_ascii_digit() || matches!(c, '-' | '+' | '.'));
    plain
        .parse::<f64>()
        .ok()
        .filter(|x| is_decimal && x.is_finite())
        .ok_or_else(|| format!("“{}” is not a number; write, for example, −9.4", text.trim().chars().take(40).collect::<String>()))
}

/// Raw pairs, read field by field.
#[derive(Debug)]
pub struct Fields<'a> {
    pairs: &'a [(String, String)],
    /// What is wrong so far.
    pub errors: FieldErrors,
}

impl<'a> Fields<'a> {
    /// Over raw pairs; a field given twice or not among `known` is an error at once.
    pub fn new(pairs: &'a [(String, String)], known: &[&str]) -> Self {
        let mut fields = Self::lenient(pairs, known);
        for (name, value) in pairs.iter().filter(|(name, _)| !known.contains(&name.as_str())) {
            let shown = shown(name);
            fields.errors.add(shown.clone(), value, format!("there is no field “{shown}”; accepted: {}", known.join(", ")));
        }
        fields
    }

    /// Over raw pairs; a field among `known` given twice is an error at once, others are left alone.
    pub fn lenient(pairs: &'a [(String, String)], known: &[&str]) -> Self {
        let mut errors = FieldErrors::default();
        for (at, (name, value)) in pairs.iter().enumerate().filter(|(_, (name, _))| known.contains(&name.as_str())) {
            if pairs.iter().take(at).any(|(earlier, _)| earlier == name) {
                errors.add(name.as_str(), value, format!("{name} is given more than once; give it once"));
            }
        }
        Self { pairs, errors }
    }

    /// The value as typed, trimmed; blank counts as absent.
    pub fn value(&self, name: &str) -> Option<&'a str> {
        self.pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
    }

    /// A word of a vocabulary.
    pub fn word<T: FromStr<Err: std::fmt::Display>>(&mut self, name: &str) -> Option<T> {
        let typed = self.value(name)?;
        self.errors.keep(name, typed, typed.parse())
    }

    /// A word that has to be there.
    pub fn needed_word<T: FromStr<Err: std::fmt::Display>>(&mut self, name: &str, missing: &str) -> Option<T> {
        if self.value(name).is_none() {
            self.errors.add(name, "", missing);
        }
        self.word(name)
    }

    /// A number made into a quantity.
    pub fn number<T, E: std::fmt::Display>(&mut self, name: &str, make: impl FnOnce(f64) -> Result<T, E>) -> Option<T> {
        let typed = self.value(name)?;
        let number = self.errors.keep(name, typed, decimal(typed))?;
        self.errors.keep(name, typed, make(number))
    }

    /// A quantity that may be given in either of two units, not both.
    pub fn either<T>(&mut self, first: (&str, Option<T>), second: (&str, Option<T>)) -> Option<T> {
        match (first, second) {
            ((a, Some(value)), (b, Some(_))) => {
                self.errors.add(b, "", format!("{a} and {b} are the same quantity in two units; give one of them"));
                Some(value)
            }
            ((_, a), (_, b)) => a.or(b),
        }
    }

    /// A temperature that may be given in °C or in °F, not both.
    pub fn temperature(&mut self, c: &'static str, f: &'static str) -> Option<Celsius> {
        let in_c = self.number(c, Celsius::new);
        let in_f = self.number(f, Celsius::from_fahrenheit);
        self.either((c, in_c), (f, in_f))
    }

    /// A whole number within limits.
    pub fn whole(&mut self, name: &str, what: &str, range: std::ops::RangeInclusive<i16>) -> Option<i16> {
        let typed = self.value(name)?;
        let accepted = format!("“{}” is not {what}; accepted: {} to {}", shown(typed), range.start(), range.end());
        self.errors.keep(name, typed, typed.parse().ok().filter(|number| range.contains(number)).ok_or(accepted))
    }

    /// One line of text.
    pub fn line(&mut self, name: &str, most: usize) -> Option<String> {
        let typed = self.value(name)?;
        self.errors.keep(name, typed, text::line(typed, most)).flatten()
    }

    /// Several lines of text.
    pub fn lines(&mut self, name: &str, most: usize) -> Option<String> {
        let typed = self.value(name)?;
        self.errors.keep(name, typed, text::lines(typed, most)).flatten()
    }

    /// A tick.
    pub fn tick(&mut self, name: &str) -> bool {
        match self.value(name) {
            None | Some("no" | "false" | "off" | "0") => false,
            Some("yes" | "true" | "on" | "1") => true,
            Some(other) => {
                self.errors.add(name, other, format!("“{}” is neither yes nor no", shown(other)));
                false
            }
        }
    }

    /// A day: `name` as 2026-05-20, or three boxes `name_day`, `name_month`, `name_year`.
    pub fn day(&mut self, name: &str) -> Option<Date> {
        if let Some(typed) = self.value(name) {
            let parsed = typed.parse::<Date>().map_err(|_| format!("“{}” is not a day; write 2026-05-20", shown(typed)));
            return self.errors.keep(name, typed, parsed);
        }
        let boxes = [format!("{name}_day"), format!("{name}_month"), format!("{name}_year")];
        let typed: Vec<&str> = boxes.iter().map(|part| self.value(part).unwrap_or_default()).collect();
        if typed.iter().all(|part| part.is_empty()) {
            return None;
        }
        let whole = typed.join(" ");
        let day = || {
            let year: i16 = typed.get(2)?.parse().ok().filter(|year| (1850..=2150).contains(year))?;
            Date::new(year, month(typed.get(1)?)?, typed.first()?.parse().ok()?).ok()
        };
        let refused = format!("“{}” is not a day; write day, month and year in numbers, for example 20 5 2026", shown(&whole));
        let name = boxes.first().map_or(name, String::as_str);
        self.errors.keep(name, &whole, day().ok_or(refused))
    }
}

/// A month by number or by the first letters of its English name.
fn month(typed: &str) -> Option<i8> {
    const NAMES: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    typed.parse().ok().or_else(|| {
        let start: String = typed.to_lowercase().chars().take(3).collect();
        NAMES.iter().position(|name| *name == start).and_then(|at| i8::try_from(at + 1).ok())
    })
}

fn shown(typed: &str) -> String {
    typed.chars().take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn days_are_read_in_one_box_or_three() {
        for given in [
            &[("d", "2026-05-20")][..],
            &[("d_day", "20"), ("d_month", "5"), ("d_year", "2026")],
            &[("d_day", "20"), ("d_month", "May"), ("d_year", "2026")],
        ] {
            let raw = pairs(given);
            let mut fields = Fields::new(&raw, &["d", "d_day", "d_month", "d_year"]);
            assert_eq!(fields.day("d"), Some(date(2026, 5, 20)));
            assert!(fields.errors.is_empty());
        }
        let raw = pairs(&[("d_day", "31"), ("d_month", "2"), ("d_year", "2026")]);
        let mut fields = Fields::new(&raw, &["d_day", "d_month", "d_year"]);
        assert_eq!(fields.day("d"), None);
        assert!(fields.errors.of("d_day").is_some());
    }

    // INP-05: repeated and unknown fields are named, not guessed at.
    #[test]
    fn repeated_and_unknown_fields_are_errors() {
        let raw = pairs(&[("a", "1"), ("a", "2"), ("role", "steward")]);
        let fields = Fields::new(&raw, &["a"]);
        assert_eq!(fields.errors.iter().map(|e| e.field.as_str()).collect::<Vec<_>>(), ["a", "role"]);
    }
}
