//! What the office keeps: who did what by hand, what stands of the society, how one joins, and invitations.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use super::text;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What was done by hand.
    pub enum OfficeAct: "act of the office" {
        /// Decided on reports.
        Judged = "judged" => "decided on reports of",
        /// Took decisions back.
        TakenBack = "taken_back" => "took decisions back",
        /// Set every counting report of a member aside.
        SetAsideAll = "set_aside_all" => "set every taken report aside of",
        /// Corrected a plant.
        Corrected = "corrected" => "corrected a plant of",
        /// Gave a role.
        Role = "role" => "gave a role to",
        /// Warned.
        Warned = "warned" => "warned",
        /// Suspended.
        Suspended = "suspended" => "suspended",
        /// Ended a suspension.
        Restored = "restored" => "ended the suspension of",
        /// Answered an appeal.
        Answered = "answered" => "answered",
        /// Ended sessions.
        SessionsEnded = "sessions_ended" => "ended every session of",
        /// Made a one-time code for a new passphrase.
        ResetCode = "reset_code" => "made a one-time code for a new passphrase of",
        /// Sent a letter for a new passphrase.
        ResetLetter = "reset_letter" => "sent a letter for a new passphrase to",
        /// Erased an account.
        Erased = "erased" => "erased an account",
        /// Made an invitation.
        Invited = "invited" => "made an invitation",
        /// Ended an invitation.
        InvitationEnded = "invitation_ended" => "ended an invitation",
        /// Changed what stands of the society, or how one joins.
        Society = "society" => "changed the society’s settings",
        /// Decided on a change of the catalogue.
        Catalogue = "catalogue" => "decided on a change of the catalogue",
        /// Decided on a shelter.
        ShelterJudged = "shelter_judged" => "decided on a shelter of",
        /// Made a release of the data.
        Released = "released" => "made a release of the data",
        /// Took a data package in.
        TookPackage = "took_package" => "took a data package in",
        /// Took reports in from a table.
        Imported = "imported" => "took reports in from a table",
    }
}

/// Who acts, by which door.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Actor {
    /// A member on a page.
    Member(MemberId),
    /// The keeper of the machine, by a command.
    Command,
}

impl Actor {
    /// The member, where it is one.
    pub const fn member(self) -> Option<MemberId> {
        match self {
            Self::Member(member) => Some(member),
            Self::Command => None,
        }
    }
}

/// An entry of the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogEntry {
    /// Id.
    pub id: Uuid,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub actor: Actor,
    /// What.
    pub act: OfficeAct,
    /// Whom it concerns; `None` where nobody, or somebody who has left.
    pub about: Option<MemberId>,
    /// More, in words; never a name, so that who leaves is gone from it.
    pub detail: String,
}

vocabulary! {
    /// Who may join.
    pub enum Joining: "way of joining" {
        /// Everybody.
        Open = "open" => "anyone may join",
        /// Who holds an invitation.
        Invited = "invited" => "by invitation only",
        /// Nobody.
        Closed = "closed" => "nobody may join",
    }
}

/// What stands of the society on pages, sheets and letters, and how one joins.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Society {
    /// Its name; empty where none was given.
    #[serde(default)]
    pub name: String,
    /// Where it is reached, in words.
    #[serde(default)]
    pub contact: String,
    /// Who answers for the service, in words, as the law of its country asks for.
    #[serde(default)]
    pub imprint: String,
    /// Who may join.
    pub joining: Joining,
    /// Origins (scheme, host and port, RFC 6454) whose pages may frame the answer that is made for it.
    #[serde(default)]
    pub framed_by: Vec<String>,
}

impl Default for Society {
    fn default() -> Self {
        Self { name: String::new(), contact: String::new(), imprint: String::new(), joining: Joining::Open, framed_by: Vec::new() }
    }
}

impl Society {
    /// Most characters of the name and of the contact.
    pub const LONGEST_LINE: usize = 120;
    /// Most characters of the imprint.
    pub const LONGEST_IMPRINT: usize = 2000;
    /// Most origins that may frame an answer: all of them stand in a header of it. DESIGN.
    pub const MOST_ORIGINS: usize = 50;

    /// A line of text as it is kept: empty where none was typed.
    ///
    /// # Errors
    /// What cannot be kept.
    pub fn line(typed: &str) -> Result<String, text::BadText> {
        Ok(text::line(typed, Self::LONGEST_LINE)?.unwrap_or_default())
    }

    /// Whether nothing was said of it.
    pub fn is_unnamed(&self) -> bool {
        self.name.is_empty() && self.contact.is_empty() && self.imprint.is_empty()
    }
}

/// An invitation to join. Only a hash of its code is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invitation {
    /// Id.
    pub id: Uuid,
    /// For whom or what, in the words of who made it.
    pub note: String,
    /// How many may still join by it.
    pub uses_left: i64,
    /// When it ends.
    pub ends: Timestamp,
    /// When it was made.
    pub made: Timestamp,
}
