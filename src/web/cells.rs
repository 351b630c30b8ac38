//! Small fields that stand side by side: a label, an input, what was typed and what is wrong with it.

use crate::web::forms::{Choice, Typed};

/// One small field, ready to be written by `templates/parts/cells.html`.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Name and id.
    pub name: String,
    /// Words above it.
    pub label: String,
    /// Keyboard of a phone: text, numeric, decimal.
    pub mode: &'static str,
    /// As typed.
    pub value: String,
    /// What is wrong.
    pub wrong: Option<String>,
    /// Id of a list of suggestions; empty: none.
    pub list: &'static str,
    /// Choices of a list; empty: a line of text.
    pub choices: Vec<Choice>,
    /// Takes the width of two.
    pub wide: bool,
}

impl Cell {
    /// A line of text.
    pub fn line(typed: &Typed, name: impl Into<String>, label: impl Into<String>, mode: &'static str) -> Self {
        let name = name.into();
        Self {
            label: label.into(),
            mode,
            value: typed.text(&name).to_owned(),
            wrong: typed.wrong(&name).map(str::to_owned),
            list: "",
            choices: Vec::new(),
            wide: false,
            name,
        }
    }

    /// A list; (value, words) in order, the typed one or `usual` chosen.
    pub fn list(
        typed: &Typed,
        name: impl Into<String>,
        label: impl Into<String>,
        usual: &'static str,
        all: impl IntoIterator<Item = (String, String)>,
    ) -> Self {
        let name = name.into();
        let choices = typed.choices(&name, usual, all);
        Self { choices, ..Self::line(typed, name, label, "text") }
    }

    /// The same over two widths.
    #[must_use]
    pub fn wide(self) -> Self {
        Self { wide: true, ..self }
    }

    /// The same with suggestions from a `datalist`.
    #[must_use]
    pub fn suggesting(self, list: &'static str) -> Self {
        Self { list, ..self }
    }

    /// Whether anything was typed or is wrong.
    pub fn is_used(&self) -> bool {
        !self.value.is_empty() || self.wrong.is_some()
    }
}

/// The first letter large.
pub fn upper_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The same text with each number kept on one line with the unit after it.
pub fn tied(text: &str) -> String {
    let mut before = ' ';
    let mut letters = text.chars().peekable();
    let mut tied = String::with_capacity(text.len() + 16);
    while let Some(letter) = letters.next() {
        let unit = letters.peek().is_some_and(|next| "°%KWLmhk".contains(*next));
        tied.push(if letter == ' ' && before.is_ascii_digit() && unit { '\u{a0}' } else { letter });
        before = letter;
    }
    tied
}
