//! What a form shows: the words as typed, the choices of a vocabulary, the errors by field.

use crate::input::errors::FieldErrors;
use crate::vocabulary::Vocabulary;

/// One choice of a list or a group of radio buttons.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What is sent.
    pub value: String,
    /// What is read.
    pub words: String,
    /// Whether it is chosen.
    pub chosen: bool,
}

/// A form as its reader left it.
#[derive(Debug, Clone, Default)]
pub struct Typed {
    pairs: Vec<(String, String)>,
    /// What is wrong, by field.
    pub errors: FieldErrors,
}

impl Typed {
    /// From the raw pairs and what is wrong with them.
    pub fn new(pairs: Vec<(String, String)>, errors: FieldErrors) -> Self {
        Self { pairs, errors }
    }

    /// The text of a field as typed; empty where nothing was.
    pub fn text(&self, name: &str) -> &str {
        self.pairs.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value.as_str())
    }

    /// The text of a field, or what is usual.
    pub fn or(&self, name: &str, usual: &'static str) -> &str {
        match self.text(name) {
            "" => usual,
            text => text,
        }
    }

    /// Whether any of these fields was filled in or is wrong.
    pub fn any(&self, names: &[&str]) -> bool {
        names.iter().any(|name| !self.text(name).is_empty() || self.wrong(name).is_some())
    }

    /// Whether a field was filled in or is wrong.
    pub fn given(&self, name: &str) -> bool {
        self.any(&[name])
    }

    /// Whether the further fields of a place box should stand open.
    pub fn place_open(&self) -> bool {
        self.any(&["elevation_m", "elevation_ft", "coldest_c", "coldest_f", "coldest_winters"])
    }

    /// What is wrong with a field.
    pub fn wrong(&self, name: &str) -> Option<&str> {
        self.errors.of(name)
    }

    /// One box of a day: `part` is day, month or year.
    pub fn day_part(&self, name: &str, part: &str) -> &str {
        self.text(&format!("{name}_{part}"))
    }

    /// What is wrong with a day.
    pub fn day_wrong(&self, name: &str) -> Option<&str> {
        self.wrong(&format!("{name}_day"))
    }

    /// The choices of a vocabulary, the typed one (or the usual one) chosen.
    pub fn choices(&self, name: &str, usual: &'static str, all: impl IntoIterator<Item = (String, String)>) -> Vec<Choice> {
        let current = self.or(name, usual).to_owned();
        all.into_iter().map(|(value, words)| Choice { chosen: value == current, value, words }).collect()
    }

    /// The choices of a closed vocabulary, in its order and with its labels.
    pub fn words<T: Vocabulary>(&self, name: &str, usual: &'static str) -> Vec<Choice> {
        self.choices(name, usual, T::all().iter().map(|v| (v.as_word().to_owned(), v.as_label().to_owned())))
    }
}
