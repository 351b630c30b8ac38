//! E-mails, handed to a relay in the background: no page waits for it, and no answer reveals whether one was sent.

use std::sync::Arc;
use std::time::Duration;

use arc_swap::ArcSwap;
use lettre::message::Mailbox;
use lettre::{AsyncSmtpTransport, AsyncTransport, Message, Tokio1Executor};

use crate::records::Society;

/// Longest wait for the relay.
const PATIENCE: Duration = Duration::from_secs(20);
/// Port of a relay where none is named.
const PORT: u16 = 25;

/// Settings of mail that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadMailSetting {
    /// The relay.
    #[error("mail relay “{0}” is not smtp://HOST or smtp://HOST:PORT")]
    Relay(String),
    /// The sender.
    #[error("letters cannot come from “{0}”; an address such as figs@example.org is accepted")]
    From(String),
}

/// What takes letters to the relay.
#[derive(Debug, Clone)]
pub struct Mail {
    relay: AsyncSmtpTransport<Tokio1Executor>,
    from: Mailbox,
    public_address: Arc<str>,
    /// In whose name letters go.
    society: Arc<ArcSwap<Society>>,
}

impl Mail {
    /// A relay that takes letters without encryption and without a password: one on the same machine or a network of its own, which sees to
    /// both on the way out.
    pub fn new(relay: &str, from: &str, public_address: &str) -> Result<Self, BadMailSetting> {
        let bad = || BadMailSetting::Relay(relay.to_owned());
        let rest = relay.strip_prefix("smtp://").ok_or_else(bad)?.trim_end_matches('/');
        let (host, port) = match rest.rsplit_once(':') {
            Some((host, port)) => (host, port.parse().map_err(|_| bad())?),
            None => (rest, PORT),
        };
        if host.is_empty() || host.contains(['/', '@', ' ']) {
            return Err(bad());
        }
        Ok(Self {
            relay: AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(host).port(port).timeout(Some(PATIENCE)).build(),
            from: from.parse().map_err(|_| BadMailSetting::From(from.to_owned()))?,
            public_address: Arc::from(public_address.trim_end_matches('/')),
            society: Arc::default(),
        })
    }

    /// The same in the name of a society.
    #[must_use]
    pub fn signed_by(self, society: Arc<ArcSwap<Society>>) -> Self {
        Self { society, ..self }
    }

    /// The whole address of a page of this service.
    pub fn link(&self, path: &str) -> String {
        format!("{}{path}", self.public_address)
    }

    /// Hands a letter over in the background. A relay that is down loses it; the member asks again.
    pub fn send(&self, to: &str, subject: &str, mut body: String) {
        let society = self.society.load();
        // What stands under two hyphens and a space is a signature (RFC 3676, section 4.3).
        let named: Vec<&str> = [society.name.as_str(), society.contact.as_str()].into_iter().filter(|part| !part.is_empty()).collect();
        if !named.is_empty() {
            body.push_str(&format!("\n-- \n{}\n", named.join("\n")));
        }
        let letter = match to.parse::<Mailbox>() {
            // The library refuses line breaks in headers and encodes what is not ASCII.
            Ok(to) => Message::builder().from(self.from.clone()).to(to).subject(subject).body(body),
            Err(error) => return tracing::warn!(%error, "a letter was not sent: the address cannot be read"),
        };
        let letter = match letter {
            Ok(letter) => letter,
            Err(error) => return tracing::warn!(%error, "a letter could not be made"),
        };
        let relay = self.relay.clone();
        tokio::spawn(async move {
            match relay.send(letter).await {
                Ok(_) => tracing::info!("a letter was handed to the relay"),
                Err(error) => tracing::warn!(%error, "the relay did not take a letter"),
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_that_cannot_be_used_are_named() {
        let new = |relay, from| Mail::new(relay, from, "https://figs.example.org/");
        assert_eq!(new("smtp://relay.example.org:2525", "figs@example.org").unwrap().link("/x"), "https://figs.example.org/x");
        assert!(new("smtp://localhost", "Figs <figs@example.org>").is_ok());
        for relay in ["relay.example.org", "smtps://relay.example.org", "smtp://", "smtp://host:port", "smtp://user@host"] {
            assert_eq!(new(relay, "figs@example.org").unwrap_err(), BadMailSetting::Relay(relay.to_owned()));
        }
        assert!(matches!(new("smtp://localhost", "nobody"), Err(BadMailSetting::From(_))));
    }
}
