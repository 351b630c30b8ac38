//! A member's e-mail address: confirmed by a link sent to it, and password reset by e-mail. Without a relay none of
//! it is offered.

use std::sync::Arc;
use std::time::Duration;

use jiff::Timestamp;

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::mail::Mail;
use crate::jobs::accounts::members::{MemberError, Members, Origin, plausible_email};
use crate::jobs::accounts::passphrase;
use crate::records::{Member, MemberId};
use crate::store::{LinkPurpose, MailLink, Store};
use crate::token;

/// How long a link to confirm an address works.
const CONFIRM_LIFE: Duration = Duration::from_hours(24);
/// How long a link to set a new passphrase works: ASVS 5.0 asks for a short life (6.5.5), NIST SP 800-63B-4 §4.2.2 at most a day by mail.
const RESET_LIFE: Duration = Duration::from_hours(1);

/// E-mail address service.
#[derive(Debug, Clone)]
pub struct Addresses {
    store: Arc<dyn Store>,
    members: Members,
    limits: Arc<Limits>,
    mail: Option<Mail>,
}

impl Addresses {
    /// On a store; e-mails go out where there is a relay.
    pub fn new(store: Arc<dyn Store>, members: Members, limits: Arc<Limits>, mail: Option<Mail>) -> Self {
        Self { store, members, limits, mail }
    }

    /// The same with other allowances.
    #[must_use]
    pub fn with(self, members: Members, limits: Arc<Limits>) -> Self {
        Self { members, limits, ..self }
    }

    /// The same with letters that go out.
    #[must_use]
    pub fn sending(self, mail: Option<Mail>) -> Self {
        Self { mail, ..self }
    }

    /// Whether this service sends mail.
    pub fn sends(&self) -> bool {
        self.mail.is_some()
    }

    /// What sends it, where there is any.
    pub fn mail(&self) -> Option<Mail> {
        self.mail.clone()
    }

    /// Puts another address in place of a member's, after the passphrase, tells the old one, and asks the new one.
    pub async fn change(&self, member: &Member, passphrase: &str, typed: &str, now: Timestamp) -> Result<(), MemberError> {
        let mut errors = FieldErrors::default();
        let address = errors.keep("email", typed, plausible_email(typed)).flatten();
        errors.into_result()?;
        self.members.confirm(member, passphrase).await?;
        let old = self.store.mail_address(member.id).await?;
        self.store.set_mail_address(member.id, address.as_deref()).await?;
        if let (Some(mail), Some(old)) = (&self.mail, old.filter(|old| old.confirmed.is_some() && Some(&old.address) != address.as_ref())) {
            let words = format!(
                "The account “{}” now has another e-mail address, or none.\n\nIf this was not you, sign in at {} and change your passphrase.\n",
                member.handle,
                mail.link(address::ACCOUNT.as_str())
            );
            mail.send(&old.address, "Your address was changed", &words);
        }
        if address.is_some() {
            match self.ask(member, now).await {
                // The address stands; its link can be asked for again later.
                Ok(()) | Err(MemberError::TooOften(_)) => {}
                Err(other) => return Err(other),
            }
        }
        Ok(())
    }

    /// Sends a link to a member's address by which to confirm it.
    pub async fn ask(&self, member: &Member, now: Timestamp) -> Result<(), MemberError> {
        let (Some(mail), Some(address)) = (&self.mail, self.store.mail_address(member.id).await?) else { return Ok(()) };
        self.limits.letters.take(&member.id.to_string())?;
        let secret = self.keep(member.id, LinkPurpose::Confirm, &address.address, now + CONFIRM_LIFE).await?;
        let words = format!(
            "Somebody, we hope you, gave this address for the account “{}”.\n\nTo confirm it, open this page within a day:\n{}\n\n\
             If it was not you, do nothing.\n",
            member.handle,
            mail.link(&address::email_confirmation(secret))
        );
        mail.send(&address.address, "Is this your address?", &words);
        Ok(())
    }

    /// Confirms the address a link was sent to; `false` where the link does not work any more.
    pub async fn confirm(&self, secret: &str, now: Timestamp) -> Result<bool, MemberError> {
        Ok(self.store.confirm_address(&token::hash(secret), now).await?)
    }

    /// Sends a password reset link to every member who confirmed this address. What comes back is the same whether there is one or none.
    pub async fn forgotten(&self, typed: &str, origin: &Origin, now: Timestamp) -> Result<(), MemberError> {
        let mut errors = FieldErrors::default();
        let address = errors.keep("email", typed, plausible_email(typed)).flatten();
        if address.is_none() && errors.is_empty() {
            errors.add("email", typed, "type the address that you confirmed");
        }
        errors.into_result()?;
        self.limits.sign_ins.take(&origin.address)?;
        if let (Some(mail), Some(address)) = (self.mail.clone(), address) {
            let desk = self.clone();
            // In the background, so that the answer takes as long for a stranger's address as for a member's.
            tokio::spawn(async move {
                if let Err(error) = desk.send_back_in(&mail, &address, now).await {
                    tracing::warn!(%error, "a password reset link was not sent");
                }
            });
        }
        Ok(())
    }

    async fn send_back_in(&self, mail: &Mail, address: &str, now: Timestamp) -> Result<(), MemberError> {
        // Told to nobody: it would tell that the address is known.
        self.limits.letters.take(&address.to_lowercase())?;
        for member in self.store.members_at(address).await? {
            let secret = self.keep(member.id, LinkPurpose::Reset, address, now + RESET_LIFE).await?;
            let words = format!(
                "To set a new passphrase for the account “{}”, open this page within an hour:\n{}\n\nIf you did not ask for it, do nothing: \
                 your passphrase stays as it is.\n",
                member.handle,
                mail.link(&address::passphrase_reset(secret))
            );
            mail.send(member.email.as_deref().unwrap_or(address), "A new passphrase", &words);
        }
        Ok(())
    }

    /// The member whom a link lets set a new passphrase.
    pub async fn may_reset(&self, secret: &str, now: Timestamp) -> Result<Option<Member>, MemberError> {
        match self.store.link(&token::hash(secret), LinkPurpose::Reset, now).await? {
            Some(member) => Ok(self.store.member(member).await?),
            None => Ok(None),
        }
    }

    /// Sets a new passphrase by a link, once, and ends every session and token; gives what the device is known by from now on, so that its
    /// sign-ins are counted by themselves although strangers may have used up the account's. `None` where the link does not work any more.
    pub async fn reset(&self, secret: &str, new: &str, origin: &Origin, now: Timestamp) -> Result<Option<String>, MemberError> {
        let Some(member) = self.may_reset(secret, now).await? else { return Ok(None) };
        let mut errors = FieldErrors::default();
        errors.keep("new_passphrase", "", passphrase::check(new, member.handle.as_str()));
        errors.into_result()?;
        let hash = self.members.hashed(new).await?;
        if self.store.reset_passphrase(&token::hash(secret), &hash, now).await?.is_none() {
            return Ok(None);
        }
        Ok(Some(self.members.know_device(&member, origin, now).await?))
    }

    /// Sends a member the letter by which they set a new passphrase, after an administrator made the link.
    pub fn send_reset(&self, member: &Member, address: &str, secret: &str) {
        let Some(mail) = &self.mail else { return };
        let words = format!(
            "An administrator sent you this link. To set a new passphrase for the account “{}”, open it within a day:\n{}\n\nIf you did \
             not ask for it, tell the office; your passphrase stays as it is.\n",
            member.handle,
            mail.link(&address::passphrase_reset(secret))
        );
        mail.send(address, "A new passphrase", &words);
    }

    async fn keep(&self, member: MemberId, purpose: LinkPurpose, email: &str, ends: Timestamp) -> Result<String, MemberError> {
        let secret = token::fresh()?;
        let link = MailLink { secret_hash: token::hash(&secret), member, purpose, email: email.to_owned(), ends };
        self.store.keep_link(&link).await?;
        Ok(secret)
    }
}
