//! Joining, signing in and out, sessions, tokens for programs, the first administrator, leaving.

use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::{Limits, TooOften};
use crate::jobs::accounts::passphrase;
use crate::jobs::accounts::passphrase::{HashFailed, Hasher};
use crate::records::member::Handle;
use crate::records::words::Credit;
use crate::records::{Joining, Member, MemberId, Role, text};
use crate::store::{ApiToken, Erasure, Joined, Leaving, Session, Store, StoreError};
use crate::token;
use crate::token::NoRandomness;

/// Longest a session may go unused, and its whole life. A choice for a low-risk site (NIST SP 800-63B-4 leaves it to risk): growers return
/// after days, those who judge others' reports sit down for it.
const MEMBER_IDLE: SignedDuration = SignedDuration::from_hours(14 * 24);
const MEMBER_LIFE: SignedDuration = SignedDuration::from_hours(30 * 24);
const STEWARD_IDLE: SignedDuration = SignedDuration::from_mins(30);
const STEWARD_LIFE: SignedDuration = SignedDuration::from_hours(8);
/// A session's last use is noted at most this often, so that reading pages does not write.
const NOTED_EVERY: SignedDuration = SignedDuration::from_mins(5);
/// What a token for programs begins with, so that a leaked one is recognised.
const TOKEN_START: &str = "wf_";
/// Most tokens of one member at a time: a program or device each. Common practice, no source.
pub const MOST_TOKENS: usize = 20;
/// What a token may do.
pub const SCOPE_REPORT: &str = "report";

/// Why nothing came of it.
#[derive(Debug, thiserror::Error)]
pub enum MemberError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// Handle and passphrase do not go together; which of the two is not said.
    #[error("this name and passphrase do not go together")]
    NotSignedIn,
    /// Too often.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Hashing.
    #[error(transparent)]
    Hash(#[from] HashFailed),
    /// Randomness.
    #[error(transparent)]
    Randomness(#[from] NoRandomness),
}

impl From<FieldErrors> for MemberError {
    fn from(errors: FieldErrors) -> Self {
        Self::Fields(errors)
    }
}

/// Where a request comes from.
#[derive(Debug, Clone)]
pub struct Origin {
    /// Key of the address, as limits count it: a whole IPv4 address, the /64 of an IPv6 one.
    pub address: String,
    /// Kind of device, for the member's list of sessions.
    pub device: String,
    /// What the device holds from an earlier sign-in, if anything.
    pub known_as: Option<String>,
}

/// Account service: joining, signing in and out, sessions, tokens, leaving.
#[derive(Debug, Clone)]
pub struct Members {
    store: Arc<dyn Store>,
    hasher: Hasher,
    limits: Arc<Limits>,
    ids: Ids,
}

impl std::fmt::Debug for dyn Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Store")
    }
}

impl Members {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, hasher: Hasher::default(), limits, ids }
    }

    /// Takes a new member in and opens a session; gives the member and the session's secret.
    pub async fn join(
        &self,
        handle: &str,
        passphrase: &str,
        (email, invitation): (&str, &str),
        origin: &Origin,
        now: Timestamp,
    ) -> Result<(Member, String), MemberError> {
        let mut errors = FieldErrors::default();
        let name = errors.keep("handle", handle, Handle::new(handle));
        // The passphrase itself is never repeated back.
        errors.keep("passphrase", "", passphrase::check(passphrase, handle));
        let email = errors.keep("email", email, plausible_email(email)).flatten();
        let joining = self.store.society().await?.joining;
        if joining == Joining::Closed {
            errors.add("handle", handle, "nobody may join here for now");
        } else if joining == Joining::Invited && invitation.trim().is_empty() {
            errors.add("invitation", "", "joining is by invitation here; type the code of yours");
        }
        errors.into_result()?;
        let Some(handle) = name else { return Err(MemberError::NotSignedIn) };
        self.limits.joins.take(&origin.address)?;
        let hash = self.hasher.hash(passphrase.to_owned()).await?;
        let member = Member {
            id: MemberId(self.ids.fresh(now)),
            handle,
            email,
            role: Role::Member,
            credit: Credit::Unnamed,
            joined: now,
            suspended: None,
        };
        let joined = if joining == Joining::Invited {
            self.store.join_invited(&member, &hash, &token::hash(invitation.trim()), now).await?
        } else if self.store.join(&member, &hash).await? {
            Joined::Yes
        } else {
            Joined::NameTaken
        };
        if joined == Joined::NoInvitation {
            let mut errors = FieldErrors::default();
            // The code itself is not repeated back.
            errors.add("invitation", "", "this invitation does not hold, or not any more; ask whoever gave it to you for another");
            return Err(errors.into());
        }
        if joined == Joined::NameTaken {
            let mut errors = FieldErrors::default();
            errors.add(
                "handle",
                member.handle.as_str(),
                "another member goes by this name or one that looks like it; please choose another",
            );
            return Err(errors.into());
        }
        tracing::info!(member = %member.id, "a member joined");
        let secret = self.open(&member, origin, now).await?;
        Ok((member, secret))
    }

    /// Signs a member in; gives the member and the new session's secret.
    pub async fn sign_in(&self, handle: &str, passphrase: &str, origin: &Origin, now: Timestamp) -> Result<(Member, String), MemberError> {
        self.limits.sign_ins.take(&origin.address)?;
        if handle.trim().chars().count() > *Handle::LENGTH.end() {
            let mut errors = FieldErrors::default();
            let begins: String = handle.trim().chars().take(*Handle::LENGTH.end()).collect();
            errors.add("handle", &format!("{begins}…"), format!("no name here is longer than {} characters", Handle::LENGTH.end()));
            return Err(errors.into());
        }
        let folded = Handle::stored(handle.trim().to_owned()).folded();
        let facts = self.store.sign_in_facts(&folded).await?;
        let hash = facts.as_ref().map(|(_, hash)| hash.clone());
        // Counted before it is looked at, so that a right guess after too many wrong ones is refused like them; a device on which this member
        // has signed in before is counted by itself, so that strangers do not hold it up.
        let known = match (&facts, &origin.known_as) {
            (Some((member, _)), Some(secret)) if self.store.knows_device(member.id, &token::hash(secret)).await? => Some(secret),
            _ => None,
        };
        self.limits.failures.take(&known.map_or(folded.clone(), |device| format!("device {device}")))?;
        let right = passphrase.chars().count() <= *passphrase::LENGTH.end() && self.hasher.matches(passphrase.to_owned(), hash).await?;
        match facts {
            Some((member, _)) if right => {
                tracing::info!(member = %member.id, "signed in");
                let secret = self.open(&member, origin, now).await?;
                Ok((member, secret))
            }
            _ => {
                tracing::warn!(account = %token::hash(&folded).get(..12).unwrap_or_default(), "sign-in failed");
                Err(MemberError::NotSignedIn)
            }
        }
    }

    async fn open(&self, member: &Member, origin: &Origin, now: Timestamp) -> Result<String, MemberError> {
        let secret = token::fresh()?;
        let life = if member.may_review() { STEWARD_LIFE } else { MEMBER_LIFE };
        let session = Session {
            token_hash: token::hash(&secret),
            member: member.id,
            started: now,
            seen: now,
            ends: now + life,
            device: origin.device.chars().take(80).collect(),
        };
        self.store.open_session(&session).await?;
        self.store.drop_sessions_over(now).await?;
        Ok(secret)
    }

    /// Gives a device the secret by which it is known again, where it has none that this member is known by.
    pub async fn know_device(&self, member: &Member, origin: &Origin, now: Timestamp) -> Result<String, MemberError> {
        if let Some(held) = &origin.known_as
            && self.store.knows_device(member.id, &token::hash(held)).await?
        {
            return Ok(held.clone());
        }
        let fresh = token::fresh()?;
        self.store.know_device(member.id, &token::hash(&fresh), now).await?;
        Ok(fresh)
    }

    /// The member behind a session's secret, where the session still lives.
    pub async fn behind(&self, secret: &str, now: Timestamp) -> Result<Option<(Session, Member)>, StoreError> {
        let hash = token::hash(secret);
        let Some((session, member)) = self.store.session(&hash).await? else { return Ok(None) };
        let (idle, life) = if member.may_review() { (STEWARD_IDLE, STEWARD_LIFE) } else { (MEMBER_IDLE, MEMBER_LIFE) };
        // A clock set back must not bring a session back to life, nor one that began in the future live: both are refused.
        let lives = session.started <= now && now < session.ends && now < session.started + life && now < session.seen + idle;
        if !lives {
            return Ok(None);
        }
        if now > session.seen + NOTED_EVERY {
            match self.store.touch_session(&hash, now).await {
                // Reading goes on where nothing can be written; the session then ends a little early.
                Err(error) if error.is_passing() && !error.is_fatal() => tracing::warn!(%error, "a session’s last use was not noted"),
                done => done?,
            }
        }
        Ok(Some((session, member)))
    }

    /// The member behind a program's token.
    pub async fn behind_token(&self, token: &str) -> Result<Option<(ApiToken, Member)>, StoreError> {
        if token.starts_with(TOKEN_START) { self.store.token(&token::hash(token)).await } else { Ok(None) }
    }

    /// Makes a token for programs; its secret is shown this once.
    pub async fn make_token(&self, member: MemberId, name: &str, now: Timestamp) -> Result<String, MemberError> {
        let mut errors = FieldErrors::default();
        let kept = errors.keep("token_name", name, text::line(name, 40)).flatten();
        if kept.is_none() && errors.is_empty() {
            errors.add("token_name", name, "give the token a name by which you will know it again");
        }
        errors.into_result()?;
        let secret = format!("{TOKEN_START}{}", token::fresh()?);
        let token = ApiToken {
            id: self.ids.fresh(now).to_string(),
            member,
            name: kept.unwrap_or_default(),
            scope: SCOPE_REPORT.to_owned(),
            made: now,
        };
        if !self.store.make_token(&token, &token::hash(&secret), MOST_TOKENS).await? {
            let mut errors = FieldErrors::default();
            errors.add("token_name", name, format!("you have {MOST_TOKENS} tokens; end one that is no longer used"));
            return Err(errors.into());
        }
        Ok(secret)
    }

    /// Sets how the member is named beside published records. What is public is written anew after each change, so they are counted as other
    /// writing is; the choice that stands already changes nothing.
    pub async fn choose_credit(&self, member: &Member, credit: Credit) -> Result<(), MemberError> {
        if member.credit == credit {
            return Ok(());
        }
        self.limits.writes.take(&member.id.to_string())?;
        Ok(self.store.set_credit(member.id, credit).await?)
    }

    /// Whether this is the member's passphrase. Tries are counted before they are looked at, by member: only who has a session can make any,
    /// so strangers do not use them up.
    pub async fn confirm(&self, member: &Member, passphrase: &str) -> Result<(), MemberError> {
        self.limits.failures.take(&format!("member {}", member.id))?;
        let hash = self.store.sign_in_facts(&member.handle.folded()).await?.map(|(_, hash)| hash);
        if passphrase.chars().count() <= *passphrase::LENGTH.end() && self.hasher.matches(passphrase.to_owned(), hash).await? {
            return Ok(());
        }
        Err(MemberError::NotSignedIn)
    }

    /// What is kept of a passphrase.
    pub(crate) async fn hashed(&self, passphrase: &str) -> Result<String, MemberError> {
        Ok(self.hasher.hash(passphrase.to_owned()).await?)
    }

    /// Changes the passphrase, ends every other session, and gives the present one a new secret.
    pub async fn change_passphrase(
        &self,
        member: &Member,
        old: &str,
        new: &str,
        origin: &Origin,
        now: Timestamp,
    ) -> Result<String, MemberError> {
        let mut errors = FieldErrors::default();
        errors.keep("new_passphrase", "", passphrase::check(new, member.handle.as_str()));
        errors.into_result()?;
        self.confirm(member, old).await?;
        let hash = self.hasher.hash(new.to_owned()).await?;
        self.store.set_passphrase(member.id, &hash, None).await?;
        self.open(member, origin, now).await
    }

    /// Forgets a member, after their passphrase; says whether their words have left the engine's files as well.
    pub async fn leave(&self, member: &Member, passphrase: &str, leaving: Leaving, now: Timestamp) -> Result<Erasure, MemberError> {
        self.confirm(member, passphrase).await?;
        let erasure = self.store.forget_member(member.id, leaving, self.ids.fresh(now), now).await?;
        tracing::info!(member = %member.id, "a member left");
        Ok(erasure)
    }

    /// A fresh one-time code for the first administrator, where there is none yet.
    pub async fn offer_first_code(&self, now: Timestamp) -> Result<Option<String>, MemberError> {
        if self.store.has_administrator().await? {
            return Ok(None);
        }
        let code = token::fresh()?;
        self.store.offer_first_code(&token::hash(&code), now).await?;
        Ok(Some(code))
    }

    /// Redeems that code.
    pub async fn redeem_first_code(&self, code: &str, member: MemberId) -> Result<bool, MemberError> {
        Ok(self.store.redeem_first_code(&token::hash(code.trim()), member).await?)
    }
}

/// An e-mail address as far as its form tells; nothing typed is none.
pub(crate) fn plausible_email(typed: &str) -> Result<Option<String>, String> {
    let Some(address) = text::line(typed, 254).map_err(|error| error.to_string())? else { return Ok(None) };
    let plausible = address.split_once('@').is_some_and(|(local, host)| {
        !local.is_empty() && host.contains('.') && !host.contains('@') && !host.starts_with('.') && !host.ends_with('.')
    }) && !address.chars().any(char::is_whitespace);
    if plausible { Ok(Some(address)) } else { Err("this does not look like an e-mail address; leave it empty if you like".to_owned()) }
}
