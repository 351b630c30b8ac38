//! The forms of the office, read from the pairs that a browser sends.

use uuid::Uuid;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::records::{Joining, Role, Society, text};
use crate::store::{Leaving, MemberFilter};

/// Names and values of a form.
pub type Pairs = Vec<(String, String)>;

/// Most characters of the words searched for.
const LONGEST_WORDS: usize = 80;

/// Which members are asked for.
///
/// # Errors
/// What cannot be used, by field.
pub fn read_filter(pairs: &Pairs) -> Result<MemberFilter, FieldErrors> {
    let mut fields = Fields::new(pairs, &["q", "role", "suspended", "after", "done"]);
    let filter = MemberFilter {
        words: fields.line("q", LONGEST_WORDS),
        role: fields.word::<Role>("role"),
        suspended: fields.tick("suspended"),
        after: fields.line("after", LONGEST_WORDS),
    };
    fields.errors.into_result()?;
    Ok(filter)
}

/// What is to be done to an account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MemberAct {
    /// Gives a role.
    Role(Role),
    /// Warns.
    Warn,
    /// Suspends.
    Suspend,
    /// Ends a suspension.
    Restore,
    /// Answers an appeal.
    Answer,
    /// Ends sessions.
    EndSessions,
    /// Makes a one-time code.
    ResetCode,
    /// Sends a letter.
    ResetLetter,
    /// Erases, with the name typed once more.
    Erase(Leaving),
}

/// The act of a form, and its words.
///
/// # Errors
/// Where there is no such act, or a value of it cannot be used.
pub fn read_act(pairs: &Pairs, handle: &str) -> Result<(MemberAct, String), FieldErrors> {
    let mut fields = Fields::new(pairs, &["act", "role", "words", "records", "confirm"]);
    let words = fields.value("words").unwrap_or_default().to_owned();
    let act = match fields.value("act").unwrap_or_default() {
        "role" => fields.needed_word("role", "choose a role").map(MemberAct::Role),
        "warn" => Some(MemberAct::Warn),
        "suspend" => Some(MemberAct::Suspend),
        "restore" => Some(MemberAct::Restore),
        "answer" => Some(MemberAct::Answer),
        "end_sessions" => Some(MemberAct::EndSessions),
        "reset_code" => Some(MemberAct::ResetCode),
        "reset_letter" => Some(MemberAct::ResetLetter),
        "erase" => {
            if fields.value("confirm") != Some(handle) {
                fields.errors.add(
                    "confirm",
                    fields.value("confirm").unwrap_or_default(),
                    format!("type “{handle}”: an erasure cannot be undone"),
                );
            }
            match fields.value("records") {
                Some("keep") => Some(MemberAct::Erase(Leaving::KeepRecords)),
                Some("remove") => Some(MemberAct::Erase(Leaving::RemoveRecords)),
                other => {
                    fields.errors.add("records", other.unwrap_or_default(), "choose what becomes of the records");
                    None
                }
            }
        }
        other => {
            let accepted = "role, warn, suspend, restore, answer, end_sessions, reset_code, reset_letter, erase";
            let shown: String = other.chars().take(40).collect();
            fields.errors.add("act", other, format!("“{shown}” is not done here; accepted: {accepted}"));
            None
        }
    };
    fields.errors.into_result()?;
    act.map(|act| (act, words)).ok_or_else(FieldErrors::default)
}

/// What is to stand of the society.
///
/// # Errors
/// What cannot be used, by field.
pub fn read_society(pairs: &Pairs) -> Result<Society, FieldErrors> {
    let mut fields = Fields::new(pairs, &["name", "contact", "imprint", "joining"]);
    let name = fields.line("name", Society::LONGEST_LINE).unwrap_or_default();
    let contact = fields.line("contact", Society::LONGEST_LINE).unwrap_or_default();
    let typed = fields.value("imprint").unwrap_or_default();
    let imprint = fields.errors.keep("imprint", typed, text::lines(typed, Society::LONGEST_IMPRINT)).flatten().unwrap_or_default();
    let joining: Option<Joining> = fields.needed_word("joining", "choose who may join");
    match joining {
        Some(joining) if fields.errors.is_empty() => Ok(Society { name, contact, imprint, joining }),
        _ => Err(fields.errors),
    }
}

/// What stands of the society, as its form shows it.
pub fn society_pairs(society: &Society) -> Pairs {
    [("name", society.name.as_str()), ("contact", &society.contact), ("imprint", &society.imprint), ("joining", society.joining.word())]
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .into()
}

/// An invitation: note, for how many, for how many days.
///
/// # Errors
/// What is no number.
pub fn read_invitation(pairs: &Pairs) -> Result<(String, i64, i64), FieldErrors> {
    let mut fields = Fields::new(pairs, &["note", "uses", "days"]);
    let mut number = |name: &str, usual: i64| match fields.value(name) {
        None => usual,
        Some(typed) => {
            let shown: String = typed.chars().take(40).collect();
            fields.errors.keep(name, typed, typed.parse().map_err(|_| format!("“{shown}” is not a whole number"))).unwrap_or(usual)
        }
    };
    let (uses, days) = (number("uses", 1), number("days", 30));
    let note = fields.value("note").unwrap_or_default().to_owned();
    fields.errors.into_result()?;
    Ok((note, uses, days))
}

/// The id of an invitation.
///
/// # Errors
/// Where it is none.
pub fn read_invitation_id(pairs: &Pairs) -> Result<Uuid, FieldErrors> {
    let mut fields = Fields::new(pairs, &["invitation"]);
    let typed = fields.value("invitation").unwrap_or_default();
    fields.errors.keep("invitation", typed, Uuid::parse_str(typed).map_err(|_| "there is no such invitation")).ok_or(fields.errors)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(of: &[(&str, &str)]) -> Pairs {
        of.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn what_the_office_cannot_do_is_named_by_field() {
        let fields = |sent: &[(&str, &str)]| read_act(&pairs(sent), "ada").unwrap_err().iter().map(|e| e.field.clone()).collect::<Vec<_>>();
        assert_eq!(fields(&[("act", "promote")]), ["act"]);
        assert_eq!(fields(&[("act", "role"), ("role", "king")]), ["role"]);
        assert_eq!(fields(&[("act", "erase"), ("confirm", "bob")]), ["confirm", "records"]);
        assert_eq!(
            read_act(&pairs(&[("act", "erase"), ("confirm", "ada"), ("records", "keep")]), "ada").unwrap().0,
            MemberAct::Erase(Leaving::KeepRecords)
        );
        assert!(read_invitation(&pairs(&[("uses", "many")])).unwrap_err().of("uses").is_some());
        assert_eq!(read_society(&society_pairs(&Society::default())), Ok(Society::default()));
    }
}
