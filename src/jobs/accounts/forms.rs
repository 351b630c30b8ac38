//! The forms of an account. Each is read once from the pairs that a browser sends; what is absent is empty, as an untouched box is. What may be
//! shown again is written back by the form itself: never a passphrase or a code.

use crate::input::errors::FieldErrors;
use crate::records::words::Credit;
use crate::store::Leaving;

/// Names and values of a form, as they are sent and as they are shown again.
pub type Pairs = Vec<(String, String)>;

/// Longest value of a field that is shown again, characters: far more than any field here takes. DESIGN.
const SHOWN_AGAIN: usize = 1_000;

fn value(pairs: &Pairs, name: &str) -> String {
    pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone()).unwrap_or_default()
}

/// Fields as they are shown again; of what is too long for any field, its beginning.
fn shown_again(fields: &[(&str, &str)]) -> Pairs {
    fields.iter().map(|(name, value)| ((*name).to_owned(), value.chars().take(SHOWN_AGAIN).collect())).collect()
}

/// Joining and signing in.
#[derive(Debug)]
pub struct EntryForm {
    /// Name that others see.
    pub handle: String,
    /// Passphrase.
    pub passphrase: String,
    /// E-mail address; joining alone.
    pub email: String,
    /// Where to go on to; empty: the garden.
    pub next: String,
    /// Code of an invitation; joining alone.
    pub invitation: String,
}

impl EntryForm {
    /// From what was sent.
    pub fn read(pairs: &Pairs) -> Self {
        let [handle, passphrase, email, next, invitation] =
            ["handle", "passphrase", "email", "next", "invitation"].map(|name| value(pairs, name));
        Self { handle, passphrase, email, next, invitation }
    }

    /// What is shown again.
    pub fn shown(&self) -> Pairs {
        shown_again(&[("handle", &self.handle), ("email", &self.email), ("next", &self.next)])
    }
}

/// A new passphrase, with the present one.
#[derive(Debug)]
pub struct PassphraseForm {
    /// The present one.
    pub old: String,
    /// The new one.
    pub new: String,
}

impl PassphraseForm {
    /// Field that holds the present passphrase.
    pub const CONFIRMED_BY: &str = "old_passphrase";

    /// From what was sent.
    pub fn read(pairs: &Pairs) -> Self {
        Self { old: value(pairs, Self::CONFIRMED_BY), new: value(pairs, "new_passphrase") }
    }
}

/// Sessions to end.
#[derive(Debug, PartialEq, Eq)]
pub enum SessionsToEnd {
    /// Every one but this.
    Others,
    /// The one of this token's hash.
    One(String),
}

/// Ending sessions.
#[derive(Debug)]
pub struct EndSessionForm {
    /// Which.
    pub sessions: SessionsToEnd,
    /// The present passphrase.
    pub passphrase: String,
}

impl EndSessionForm {
    /// Field that holds the present passphrase.
    pub const CONFIRMED_BY: &str = "session_passphrase";

    /// From what was sent.
    pub fn read(pairs: &Pairs) -> Self {
        let session = value(pairs, "session");
        let sessions = if session == "others" { SessionsToEnd::Others } else { SessionsToEnd::One(session) };
        Self { sessions, passphrase: value(pairs, Self::CONFIRMED_BY) }
    }
}

/// How a member is credited in the open data.
///
/// # Errors
/// Where the word is none of the vocabulary.
pub fn read_credit(pairs: &Pairs) -> Result<Credit, FieldErrors> {
    let typed = value(pairs, "credit");
    let mut errors = FieldErrors::default();
    let credit = errors.keep("credit", &typed, typed.parse());
    credit.ok_or(errors)
}

/// A token to be made for a program.
#[derive(Debug)]
pub struct TokenForm {
    /// Its name.
    pub name: String,
}

impl TokenForm {
    /// Its field.
    pub const FIELD: &str = "token_name";

    /// From what was sent.
    pub fn read(pairs: &Pairs) -> Self {
        Self { name: value(pairs, Self::FIELD) }
    }

    /// What is shown again.
    pub fn shown(&self) -> Pairs {
        shown_again(&[(Self::FIELD, &self.name)])
    }
}

/// Id of the token to be ended.
pub fn read_token_id(pairs: &Pairs) -> String {
    value(pairs, "token")
}

/// The one-time code of the log.
pub fn read_first_code(pairs: &Pairs) -> String {
    value(pairs, "code")
}

/// Leaving.
#[derive(Debug)]
pub struct LeaveForm {
    /// What becomes of the records.
    pub records: Leaving,
    /// The present passphrase.
    pub passphrase: String,
}

impl LeaveForm {
    /// Field that holds the present passphrase.
    pub const CONFIRMED_BY: &str = "leave_passphrase";

    /// From what was sent.
    ///
    /// # Errors
    /// Where nothing was chosen.
    pub fn read(pairs: &Pairs) -> Result<Self, FieldErrors> {
        let records = match value(pairs, "records").as_str() {
            "keep" => Leaving::KeepRecords,
            "remove" => Leaving::RemoveRecords,
            other => {
                let mut errors = FieldErrors::default();
                errors.add("records", other, "choose what becomes of your records");
                return Err(errors);
            }
        };
        Ok(Self { records, passphrase: value(pairs, Self::CONFIRMED_BY) })
    }
}

/// Another e-mail address, or none.
#[derive(Debug)]
pub struct EmailForm {
    /// As typed; empty: none.
    pub email: String,
    /// The present passphrase.
    pub passphrase: String,
}

impl EmailForm {
    /// Field that holds the present passphrase.
    pub const CONFIRMED_BY: &str = "email_passphrase";

    /// From what was sent.
    pub fn read(pairs: &Pairs) -> Self {
        Self { email: value(pairs, "email"), passphrase: value(pairs, Self::CONFIRMED_BY) }
    }

    /// What is shown again.
    pub fn shown(&self) -> Pairs {
        shown_again(&[("email", &self.email)])
    }
}

/// The new passphrase of a password reset.
pub fn read_new_passphrase(pairs: &Pairs) -> String {
    value(pairs, "new_passphrase")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(fields: &[(&str, &str)]) -> Pairs {
        fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn a_form_shown_again_reads_as_it_was_and_without_its_passphrase() {
        let sent = pairs(&[("handle", "ada"), ("passphrase", "a long secret"), ("email", "a@example.org"), ("next", "/garden")]);
        let shown = EntryForm::read(&sent).shown();
        assert!(shown.iter().all(|(_, value)| value != "a long secret"));
        let again = EntryForm::read(&shown);
        assert_eq!((again.handle.as_str(), again.email.as_str(), again.next.as_str()), ("ada", "a@example.org", "/garden"));
        assert!(again.passphrase.is_empty());
        let long = "x".repeat(5_000);
        assert_eq!(EmailForm::read(&pairs(&[("email", &long)])).shown()[0].1.len(), SHOWN_AGAIN);
    }

    #[test]
    fn what_cannot_be_chosen_is_named_with_its_field() {
        let fields = |errors: FieldErrors| errors.iter().map(|e| e.field.clone()).collect::<Vec<_>>();
        assert_eq!(fields(LeaveForm::read(&pairs(&[("records", "burn")])).unwrap_err()), ["records"]);
        assert_eq!(fields(read_credit(&Pairs::new()).unwrap_err()), ["credit"]);
        assert_eq!(EndSessionForm::read(&pairs(&[("session", "others")])).sessions, SessionsToEnd::Others);
    }
}
