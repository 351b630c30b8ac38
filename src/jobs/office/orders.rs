//! Orders of the keeper of the machine, as a command gives them: carried out by the command itself, or by the service that has the data file
//! open.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::office::service::{Office, OfficeError};
use crate::records::{Actor, Joining, Role, Society};
use crate::store::{Erasure, Leaving};

/// What is to be done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "order", rename_all = "snake_case")]
pub enum Order {
    /// Gives a role.
    Role {
        /// To whom.
        handle: String,
        /// The role.
        role: Role,
    },
    /// Makes a one-time code for a new passphrase.
    Reset {
        /// Of whom.
        handle: String,
    },
    /// Suspends.
    Suspend {
        /// Whom.
        handle: String,
        /// Why.
        words: String,
    },
    /// Ends a suspension.
    Restore {
        /// Whose.
        handle: String,
        /// Why.
        words: String,
    },
    /// Erases.
    Erase {
        /// Whom.
        handle: String,
        /// Whether the records go as well.
        remove_records: bool,
    },
    /// Makes an invitation.
    Invite {
        /// For whom or what.
        note: String,
        /// For how many.
        uses: i64,
        /// For how many days.
        days: i64,
    },
    /// Changes what stands of the society; what is `None` stays.
    Society {
        /// Its name.
        name: Option<String>,
        /// Where it is reached.
        contact: Option<String>,
        /// Who answers for it.
        imprint: Option<String>,
        /// Who may join.
        joining: Option<Joining>,
    },
}

/// What came of it, in words for who gave the order.
pub type Reply = Result<String, String>;

impl Office {
    /// Carries an order out.
    ///
    /// # Errors
    /// As the pages refuse it.
    pub async fn carry_out(&self, order: Order, now: Timestamp) -> Result<String, OfficeError> {
        let actor = Actor::Command;
        Ok(match order {
            Order::Role { handle, role } => {
                let member = self.named(&handle).await?;
                self.give_role(actor, &member, role, now).await?;
                format!("{} is {} now", member.handle, role.label())
            }
            Order::Reset { handle } => {
                let member = self.named(&handle).await?;
                let secret = self.reset(actor, &member, None, now).await?;
                format!("{} sets a new passphrase at {} within 24 hours, once", member.handle, address::passphrase_reset(secret))
            }
            Order::Suspend { handle, words } => {
                let member = self.named(&handle).await?;
                self.suspend(actor, &member, &words, now).await?;
                format!("{} is suspended", member.handle)
            }
            Order::Restore { handle, words } => {
                let member = self.named(&handle).await?;
                self.restore(actor, &member, &words, now).await?;
                format!("{} is no longer suspended", member.handle)
            }
            Order::Erase { handle, remove_records } => {
                let member = self.named(&handle).await?;
                let leaving = if remove_records { Leaving::RemoveRecords } else { Leaving::KeepRecords };
                match self.erase(actor, &member, leaving, now).await? {
                    Erasure::Done => format!("{} is erased", member.handle),
                    Erasure::Unfinished => {
                        format!("{} is erased; the last traces leave the files as soon as a reader at work is done", member.handle)
                    }
                }
            }
            Order::Invite { note, uses, days } => {
                let code = self.invite(actor, &note, uses, days, now).await?;
                format!("join at {} (code {code})", address::invitation(&code))
            }
            Order::Society { name, contact, imprint, joining } => {
                let stands = self.store().society().await?;
                let mut errors = FieldErrors::default();
                let mut line = |field: &str, typed: Option<String>, stands: String| match typed {
                    None => stands,
                    Some(typed) => errors.keep(field, &typed, Society::line(&typed)).unwrap_or_default(),
                };
                let name = line("name", name, stands.name);
                let contact = line("contact", contact, stands.contact);
                let imprint = match imprint {
                    None => stands.imprint,
                    Some(typed) => {
                        let kept = crate::records::text::lines(&typed, Society::LONGEST_IMPRINT);
                        errors.keep("imprint", &typed, kept).flatten().unwrap_or_default()
                    }
                };
                errors.into_result().map_err(OfficeError::Fields)?;
                let society = Society { name, contact, imprint, joining: joining.unwrap_or(stands.joining), framed_by: stands.framed_by };
                self.set_society(actor, &society, now).await?;
                format!("{}; {}", if society.name.is_empty() { "no name" } else { &society.name }, society.joining.label())
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_reads_back_as_it_was_written() {
        for order in [
            Order::Role { handle: "ada".to_owned(), role: Role::Steward },
            Order::Erase { handle: "ada".to_owned(), remove_records: true },
            Order::Society { name: Some("Figs".to_owned()), contact: None, imprint: None, joining: Some(Joining::Invited) },
        ] {
            let line = serde_json::to_string(&order).unwrap();
            assert!(!line.contains('\n'));
            assert_eq!(serde_json::from_str::<Order>(&line).unwrap(), order);
        }
    }
}
