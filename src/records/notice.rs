//! Words between the office and a member: corrections, warnings, suspensions and the member's appeals, each with its day.

use jiff::Timestamp;
use uuid::Uuid;

use super::member::MemberId;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What passed between the office and a member.
    pub enum NoticeKind: "kind of notice" {
        /// A steward changed what is said of a plant.
        Correction = "correction" => "correction",
        /// What the member did is not to be done again.
        Warning = "warning" => "warning",
        /// The member may send nothing for now.
        Suspension = "suspension" => "suspension",
        /// The suspension is over.
        Restoration = "restoration" => "end of the suspension",
        /// The member speaks against one of these.
        Appeal = "appeal" => "appeal",
        /// The office answers.
        Answer = "answer" => "answer",
    }
}

/// One of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Id.
    pub id: Uuid,
    /// The member whom it concerns: who reads it, or who wrote it where it is an appeal.
    pub member: MemberId,
    /// Who wrote it; `None` where they have left, or the keeper of the machine gave a command.
    pub author: Option<MemberId>,
    /// What it is.
    pub kind: NoticeKind,
    /// Id of the report that it is about, where it is about one.
    pub about: Option<Uuid>,
    /// The words.
    pub words: String,
    /// When.
    pub at: Timestamp,
    /// When the reader put it aside.
    pub seen: Option<Timestamp>,
}

impl Notice {
    /// Most characters of one.
    pub const LONGEST: usize = 2000;
}
