//! What administrators do, on a page or by a command: one function each, which keeps its entry of the log with it.

use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::records::{Actor, Handle, Invitation, LogEntry, Member, MemberId, Notice, NoticeKind, OfficeAct, Role, Society, text};
use crate::store::{Erasure, Leaving, LinkPurpose, MailLink, MemberFilter, RoleChange, Store, StoreError};
use crate::token::{self, NoRandomness};

/// How long a one-time code for a new passphrase works: it is read out or handed over, which takes longer than opening a letter. At most a
/// day by NIST SP 800-63B-4 §4.2.2.
pub const RESET_LIFE: SignedDuration = SignedDuration::from_hours(24);
/// Most members that one invitation holds for. DESIGN.
pub const MOST_USES: i64 = 500;
/// Longest that an invitation holds, days. DESIGN.
pub const MOST_DAYS: i64 = 365;
/// Most characters of an invitation's note.
pub const LONGEST_NOTE: usize = 80;

/// Why nothing was done.
#[derive(Debug, thiserror::Error)]
pub enum OfficeError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// No such member or invitation.
    #[error("there is no such member")]
    Absent,
    /// One's own account.
    #[error("nobody does this to their own account; another administrator has to")]
    Own,
    /// The last one.
    #[error("this member is the only administrator; make another one first")]
    LastAdministrator,
    /// Suspended already.
    #[error("this member is suspended already")]
    Suspended,
    /// Not suspended.
    #[error("this member is not suspended")]
    NotSuspended,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Randomness.
    #[error(transparent)]
    Randomness(#[from] NoRandomness),
}

/// The office over a store.
#[derive(Debug, Clone)]
pub struct Office {
    store: Arc<dyn Store>,
    ids: Ids,
}

/// Words of the office as they are kept.
///
/// # Errors
/// Where there are none, or they cannot be kept.
pub fn words(field: &str, typed: &str) -> Result<String, OfficeError> {
    let mut errors = FieldErrors::default();
    let kept = errors.keep(field, typed, text::lines(typed, Notice::LONGEST)).flatten();
    if kept.is_none() && errors.is_empty() {
        errors.add(field, "", "write why: the words are kept with the day, and the member reads them");
    }
    kept.ok_or(OfficeError::Fields(errors))
}

impl Office {
    /// Over a store.
    pub fn new(store: Arc<dyn Store>, ids: Ids) -> Self {
        Self { store, ids }
    }

    /// What is kept.
    pub(crate) fn store(&self) -> &Arc<dyn Store> {
        &self.store
    }

    fn entry(&self, actor: Actor, act: OfficeAct, about: Option<MemberId>, detail: impl Into<String>, now: Timestamp) -> LogEntry {
        LogEntry { id: self.ids.fresh(now), at: now, actor, act, about, detail: detail.into() }
    }

    fn notice(&self, actor: Actor, member: MemberId, kind: NoticeKind, words: String, now: Timestamp) -> Notice {
        Notice { id: self.ids.fresh(now), member, author: actor.member(), kind, about: None, words, at: now, seen: None }
    }

    /// The member of a name, however its letters are written.
    ///
    /// # Errors
    /// Where there is none.
    pub async fn named(&self, handle: &str) -> Result<Member, OfficeError> {
        let folded = Handle::stored(handle.trim().to_owned()).folded();
        Ok(self.store.sign_in_facts(&folded).await?.ok_or(OfficeError::Absent)?.0)
    }

    /// The member of an id.
    ///
    /// # Errors
    /// Where there is none.
    pub async fn member(&self, id: MemberId) -> Result<Member, OfficeError> {
        self.store.member(id).await?.ok_or(OfficeError::Absent)
    }

    /// Refuses what nobody does to themselves.
    fn not_own(actor: Actor, member: &Member) -> Result<(), OfficeError> {
        if actor == Actor::Member(member.id) { Err(OfficeError::Own) } else { Ok(()) }
    }

    /// Refuses what would leave no administrator who can sign in.
    async fn another_remains(&self, member: &Member) -> Result<(), OfficeError> {
        if member.role != Role::Administrator {
            return Ok(());
        }
        let filter = MemberFilter { role: Some(Role::Administrator), ..MemberFilter::default() };
        let all = self.store.members_among(&filter, 1000).await?;
        let remains = all.iter().any(|other| other.id != member.id && other.suspended.is_none());
        if remains { Ok(()) } else { Err(OfficeError::LastAdministrator) }
    }

    /// Gives a role.
    pub async fn give_role(&self, actor: Actor, member: &Member, role: Role, now: Timestamp) -> Result<(), OfficeError> {
        Self::not_own(actor, member)?;
        let detail = format!("{}, before: {}", role.label(), member.role.label());
        let entry = self.entry(actor, OfficeAct::Role, Some(member.id), detail, now);
        match self.store.give_role_by_hand(member.id, role, &entry).await? {
            RoleChange::Given => Ok(()),
            RoleChange::NoMember => Err(OfficeError::Absent),
            RoleChange::LastAdministrator => Err(OfficeError::LastAdministrator),
        }
    }

    /// Warns, or answers an appeal.
    pub async fn tell(&self, actor: Actor, member: &Member, kind: NoticeKind, typed: &str, now: Timestamp) -> Result<(), OfficeError> {
        let words = words("words", typed)?;
        let act = if kind == NoticeKind::Warning { OfficeAct::Warned } else { OfficeAct::Answered };
        let entry = self.entry(actor, act, Some(member.id), words.clone(), now);
        Ok(self.store.tell_by_hand(&self.notice(actor, member.id, kind, words, now), &entry).await?)
    }

    /// Suspends: sessions and tokens end, nothing is taken from the member, and their waiting reports leave the queue.
    pub async fn suspend(&self, actor: Actor, member: &Member, typed: &str, now: Timestamp) -> Result<(), OfficeError> {
        Self::not_own(actor, member)?;
        let words = words("words", typed)?;
        self.another_remains(member).await?;
        let entry = self.entry(actor, OfficeAct::Suspended, Some(member.id), words.clone(), now);
        let notice = self.notice(actor, member.id, NoticeKind::Suspension, words, now);
        if self.store.suspend_by_hand(&notice, &entry).await? { Ok(()) } else { Err(OfficeError::Suspended) }
    }

    /// Ends a suspension.
    pub async fn restore(&self, actor: Actor, member: &Member, typed: &str, now: Timestamp) -> Result<(), OfficeError> {
        Self::not_own(actor, member)?;
        let words = words("words", typed)?;
        let entry = self.entry(actor, OfficeAct::Restored, Some(member.id), words.clone(), now);
        let notice = self.notice(actor, member.id, NoticeKind::Restoration, words, now);
        if self.store.restore_by_hand(&notice, &entry).await? { Ok(()) } else { Err(OfficeError::NotSuspended) }
    }

    /// Ends every session and token of a member.
    pub async fn end_sessions(&self, actor: Actor, member: &Member, now: Timestamp) -> Result<u64, OfficeError> {
        let entry = self.entry(actor, OfficeAct::SessionsEnded, Some(member.id), "", now);
        Ok(self.store.end_sessions_by_hand(member.id, &entry).await?)
    }

    /// Makes a one-time code by which a member sets a new passphrase; it is shown this once. `letter`: it goes by letter, to this address.
    pub async fn reset(&self, actor: Actor, member: &Member, letter: Option<&str>, now: Timestamp) -> Result<String, OfficeError> {
        Self::not_own(actor, member)?;
        let secret = token::fresh()?;
        let act = if letter.is_some() { OfficeAct::ResetLetter } else { OfficeAct::ResetCode };
        let link = MailLink {
            secret_hash: token::hash(&secret),
            member: member.id,
            purpose: LinkPurpose::Reset,
            email: letter.unwrap_or_default().to_owned(),
            ends: now + RESET_LIFE,
        };
        self.store.keep_link_by_hand(&link, &self.entry(actor, act, Some(member.id), "", now)).await?;
        Ok(secret)
    }

    /// Erases a member as if they had left.
    pub async fn erase(&self, actor: Actor, member: &Member, leaving: Leaving, now: Timestamp) -> Result<Erasure, OfficeError> {
        Self::not_own(actor, member)?;
        self.another_remains(member).await?;
        let detail = if leaving == Leaving::RemoveRecords { "records removed" } else { "records stay, joined to nobody" };
        // Kept first, and without whom it was about: an erasure is in the log whatever comes between.
        self.store.log_by_hand(&self.entry(actor, OfficeAct::Erased, None, detail, now)).await?;
        Ok(self.store.forget_member(member.id, leaving, self.ids.fresh(now), now).await?)
    }

    /// Makes an invitation for so many, for so many days; gives its code, which is shown this once.
    pub async fn invite(&self, actor: Actor, note: &str, uses: i64, days: i64, now: Timestamp) -> Result<String, OfficeError> {
        let mut errors = FieldErrors::default();
        let note = errors.keep("note", note, text::line(note, LONGEST_NOTE)).flatten().unwrap_or_default();
        if !(1..=MOST_USES).contains(&uses) {
            errors.add("uses", &uses.to_string(), format!("an invitation holds for 1 to {MOST_USES} members"));
        }
        if !(1..=MOST_DAYS).contains(&days) {
            errors.add("days", &days.to_string(), format!("an invitation holds for 1 to {MOST_DAYS} days"));
        }
        errors.into_result().map_err(OfficeError::Fields)?;
        let code = token::fresh()?;
        let invitation =
            Invitation { id: self.ids.fresh(now), note, uses_left: uses, ends: now + SignedDuration::from_hours(24 * days), made: now };
        let entry = self.entry(actor, OfficeAct::Invited, None, format!("for {uses}, {days} days"), now);
        self.store.invite(&invitation, &token::hash(&code), &entry).await?;
        Ok(code)
    }

    /// Ends an invitation.
    pub async fn end_invitation(&self, actor: Actor, invitation: Uuid, now: Timestamp) -> Result<(), OfficeError> {
        let entry = self.entry(actor, OfficeAct::InvitationEnded, None, "", now);
        if self.store.end_invitation(invitation, &entry).await? { Ok(()) } else { Err(OfficeError::Absent) }
    }

    /// Puts something else in the place of what stands of the society.
    pub async fn set_society(&self, actor: Actor, society: &Society, now: Timestamp) -> Result<(), OfficeError> {
        let before = self.store.society().await?;
        let mut changed = Vec::new();
        if before.name != society.name {
            changed.push(format!("name: “{}”", society.name));
        }
        if before.contact != society.contact {
            changed.push(format!("contact: “{}”", society.contact));
        }
        if before.imprint != society.imprint {
            changed.push("imprint".to_owned());
        }
        if before.joining != society.joining {
            changed.push(society.joining.label().to_owned());
        }
        if before.framed_by != society.framed_by {
            changed.push(format!("sites that may frame an answer: {}", society.framed_by.len()));
        }
        if changed.is_empty() {
            return Ok(());
        }
        Ok(self.store.set_society(society, &self.entry(actor, OfficeAct::Society, None, changed.join("; "), now)).await?)
    }
}
