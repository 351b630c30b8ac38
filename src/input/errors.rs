//! What is wrong with what was given: one entry per field, with the value as read and what would be accepted.

use serde::Serialize;

/// One field that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct FieldError {
    /// Name of the field, parameter or JSON path.
    pub field: String,
    /// The value as read, cut at 80 characters.
    pub value: String,
    /// What is wrong and what is accepted, in a sentence.
    pub message: String,
}

/// All fields that cannot be used; in the order of the form.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FieldErrors(Vec<FieldError>);

/// Longest part of a value that is repeated back, characters.
const SHOWN: usize = 80;
/// Longest part of an unknown name that is repeated back, characters.
const SHOWN_OF_NAME: usize = 40;
/// Where the parameters of the API stand.
pub const IN_THE_DESCRIPTION: &str = "the description of the API lists those there are";

impl FieldErrors {
    /// Nothing wrong.
    pub const NONE: Self = Self(Vec::new());

    /// Notes a field.
    pub fn add(&mut self, field: impl Into<String>, value: &str, message: impl std::fmt::Display) {
        self.0.push(FieldError { field: field.into(), value: value.chars().take(SHOWN).collect(), message: message.to_string() });
    }

    /// Takes the value out of a result, or notes why there is none.
    pub fn keep<T, E: std::fmt::Display>(&mut self, field: &str, value: &str, result: Result<T, E>) -> Option<T> {
        result.map_err(|error| self.add(field, value, error)).ok()
    }

    /// Refuses parameters that are not known; `accepted` says where those stand that are.
    ///
    /// # Errors
    /// One entry for each.
    pub fn refuse_unknown(pairs: &[(String, String)], known: impl Fn(&str) -> bool, accepted: &str) -> Result<(), Self> {
        let mut unknown = Self::default();
        for (name, value) in pairs.iter().filter(|(name, _)| !known(name)) {
            let shown: String = name.chars().take(SHOWN_OF_NAME).collect();
            unknown.add(shown.clone(), value, format!("there is no parameter “{shown}” here; {accepted}"));
        }
        unknown.into_result()
    }

    /// A value, where nothing is wrong with it or with what was read `before` it; else what is wrong with both.
    ///
    /// # Errors
    /// All of them.
    pub fn together<T>(before: Result<(), Self>, value: Result<T, Self>) -> Result<T, Self> {
        match (before, value) {
            (Ok(()), value) => value,
            (Err(wrong), Ok(_)) => Err(wrong),
            (Err(mut all), Err(wrong)) => {
                all.0.extend(wrong.0);
                Err(all)
            }
        }
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The message for a field, where there is one.
    pub fn of(&self, field: &str) -> Option<&str> {
        self.0.iter().find(|e| e.field == field).map(|e| e.message.as_str())
    }

    /// Every entry.
    pub fn iter(&self) -> std::slice::Iter<'_, FieldError> {
        self.0.iter()
    }

    /// Every entry, taken.
    pub fn into_vec(self) -> Vec<FieldError> {
        self.0
    }

    /// `Ok` when nothing is wrong.
    pub fn into_result(self) -> Result<(), Self> {
        if self.is_empty() { Ok(()) } else { Err(self) }
    }
}

impl<'a> IntoIterator for &'a FieldErrors {
    type Item = &'a FieldError;
    type IntoIter = std::slice::Iter<'a, FieldError>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

/// One line per field: `zone “17x”: …`.
impl std::fmt::Display for FieldErrors {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (i, e) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{}: {}", e.field, e.message)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wrong(field: &str) -> FieldErrors {
        let mut errors = FieldErrors::default();
        errors.add(field, "", "wrong");
        errors
    }

    #[test]
    fn a_value_is_had_only_where_nothing_is_wrong_with_it_or_before_it_and_errors_keep_their_order() {
        assert_eq!(FieldErrors::together(Ok(()), Ok(1)), Ok(1));
        assert_eq!(FieldErrors::together(Err(wrong("a")), Ok(1)), Err(wrong("a")));
        assert_eq!(FieldErrors::together(Ok(()), Err::<u8, _>(wrong("b"))), Err(wrong("b")));
        let both = FieldErrors::together(Err(wrong("a")), Err::<u8, _>(wrong("b"))).unwrap_err();
        assert_eq!(both.iter().map(|e| e.field.as_str()).collect::<Vec<_>>(), ["a", "b"]);
    }

    #[test]
    fn parameters_that_are_not_known_are_named_with_where_those_stand_that_are() {
        let pairs = [("zone", "7a"), ("colour", "blue")].map(|(name, value)| (name.to_owned(), value.to_owned()));
        assert_eq!(FieldErrors::refuse_unknown(&pairs, |_| true, IN_THE_DESCRIPTION), Ok(()));
        let refused = FieldErrors::refuse_unknown(&pairs, |name| name == "zone", "accepted: zone").unwrap_err();
        assert_eq!(refused.of("colour"), Some("there is no parameter “colour” here; accepted: zone"));
    }
}
