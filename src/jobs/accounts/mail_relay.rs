//! The relay that takes letters: how it is reached, whether the way is encrypted, and how a failure is told.

use std::path::Path;
use std::time::Duration;

use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, Tls, TlsParameters};
use lettre::{AsyncSmtpTransport, AsyncTransport, Message, Tokio1Executor};

/// Longest wait for a connection to the relay.
const PATIENCE: Duration = Duration::from_secs(20);
/// Longest time for a whole letter: the library bounds the connection alone, and a server that takes the words and then says nothing would
/// keep every other letter waiting. DESIGN: shorter than a letter belongs to who took it.
const WHOLE: Duration = Duration::from_secs(90);

/// The way to a relay.
#[derive(Debug, Clone)]
pub struct Transport {
    relay: AsyncSmtpTransport<Tokio1Executor>,
    whole: Duration,
}

impl Transport {
    /// Hands a letter over.
    ///
    /// # Errors
    /// When the relay did not take it, or not in time.
    pub async fn send(&self, letter: Message) -> Result<(), NotTaken> {
        match tokio::time::timeout(self.whole, self.relay.send(letter)).await {
            Ok(sent) => Ok(sent.map(|_| ())?),
            Err(_) => Err(NotTaken { why: "the mail server did not answer in time".to_owned(), for_good: false }),
        }
    }
}

/// How letters go out, as set.
#[derive(Clone, Default)]
pub struct RelaySettings<'a> {
    /// Scheme, host and port.
    pub url: &'a str,
    /// Name and passphrase that the relay asks for.
    pub sign_in: Option<(String, String)>,
    /// Certificates (PEM) that it is trusted by, beside the usual roots.
    pub roots: Option<&'a Path>,
    /// Longest time for a letter, where it is to be another than usual.
    pub patience: Option<Duration>,
}

/// Settings of mail that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadMailSetting {
    /// The relay.
    #[error(
        "mail relay “{0}” cannot be read; accepted: smtps://HOST (encrypted from the first byte), starttls://HOST (encrypted before anything is \
         said), or smtp://HOST (no encryption: a relay on this machine or a network of its own); each with :PORT where it is another than 465, \
         587 and 25"
    )]
    Relay(String),
    /// The sender.
    #[error("letters cannot come from “{0}”; an address such as figs@example.org is accepted")]
    From(String),
    /// A passphrase would go unencrypted.
    #[error("the passphrase of the mail relay would go unencrypted over smtp://; use smtps:// or starttls://")]
    InTheClear,
    /// The certificates.
    #[error("{path}: {reason}")]
    Roots {
        /// The file.
        path: String,
        /// What is wrong with it.
        reason: String,
    },
}

/// Ways to speak to a relay: RFC 8314 §3.3 (submissions), RFC 3207 (STARTTLS), RFC 5321 in the clear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Encrypted,
    Upgraded,
    Clear,
}

impl Way {
    const fn port(self) -> u16 {
        match self {
            Self::Encrypted => 465,
            Self::Upgraded => 587,
            Self::Clear => 25,
        }
    }

    fn of(url: &str) -> Option<(Self, &str)> {
        [("smtps://", Self::Encrypted), ("starttls://", Self::Upgraded), ("smtp://", Self::Clear)]
            .into_iter()
            .find_map(|(scheme, way)| Some((way, url.strip_prefix(scheme)?)))
    }
}

/// The way to a relay, as set; nothing is sent yet.
///
/// # Errors
/// When a setting cannot be used, or a passphrase would go unencrypted.
pub fn transport(settings: &RelaySettings<'_>) -> Result<Transport, BadMailSetting> {
    let bad = || BadMailSetting::Relay(settings.url.chars().take(200).collect());
    let (way, rest) = Way::of(settings.url).ok_or_else(bad)?;
    let rest = rest.trim_end_matches('/');
    let (host, port) = match rest.rsplit_once(':') {
        Some((host, port)) => (host, port.parse().map_err(|_| bad())?),
        None => (rest, way.port()),
    };
    if host.is_empty() || host.contains(['/', '@', ' ']) {
        return Err(bad());
    }
    let tls = match way {
        Way::Clear if settings.sign_in.is_some() => return Err(BadMailSetting::InTheClear),
        Way::Clear => Tls::None,
        Way::Upgraded => Tls::Required(trust(host, settings.roots)?),
        Way::Encrypted => Tls::Wrapper(trust(host, settings.roots)?),
    };
    let whole = settings.patience.unwrap_or(WHOLE);
    let mut relay = AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(host).port(port).tls(tls).timeout(Some(PATIENCE.min(whole)));
    if let Some((name, passphrase)) = &settings.sign_in {
        relay = relay.credentials(Credentials::new(name.clone(), passphrase.clone()));
    }
    Ok(Transport { relay: relay.build(), whole })
}

/// By whom a relay is trusted: the roots of Mozilla, and those of a file besides.
fn trust(host: &str, roots: Option<&Path>) -> Result<TlsParameters, BadMailSetting> {
    let path = roots.map_or_else(|| "TLS".to_owned(), |path| path.display().to_string());
    let wrong = |reason: String| BadMailSetting::Roots { path: path.clone(), reason };
    let mut parameters = TlsParameters::builder(host.to_owned());
    if let Some(file) = roots {
        let pem = std::fs::read(file).map_err(|error| wrong(error.to_string()))?;
        parameters = parameters.add_root_certificate(Certificate::from_pem(&pem).map_err(|error| wrong(error.to_string()))?);
    }
    parameters.build_rustls().map_err(|error| wrong(error.to_string()))
}

/// A letter that the relay did not take.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct NotTaken {
    /// In words that hold nothing of the letter.
    pub why: String,
    /// Whether another try would end the same.
    pub for_good: bool,
}

impl From<lettre::transport::smtp::Error> for NotTaken {
    fn from(error: lettre::transport::smtp::Error) -> Self {
        let why = match error.status() {
            Some(code) if error.is_permanent() => format!("the mail server refused the letter ({code})"),
            Some(code) => format!("the mail server asked to come back later ({code})"),
            None if error.is_timeout() => "the mail server did not answer in time".to_owned(),
            None if error.is_tls() => "the mail server could not be trusted, or speaks no encryption".to_owned(),
            None => "the mail server could not be reached".to_owned(),
        };
        Self { why, for_good: error.is_permanent() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tried(url: &str) -> Result<Transport, BadMailSetting> {
        transport(&RelaySettings { url, ..RelaySettings::default() })
    }

    #[test]
    fn a_relay_is_named_by_how_it_is_spoken_to() {
        for url in ["smtps://mail.example.org", "starttls://mail.example.org:25/", "smtp://localhost"] {
            assert!(tried(url).is_ok(), "{url}");
        }
        for url in ["mail.example.org", "https://mail.example.org", "smtp://", "smtp://host:port", "smtps://user@host"] {
            assert_eq!(tried(url).unwrap_err(), BadMailSetting::Relay(url.to_owned()));
        }
    }

    #[test]
    fn no_passphrase_goes_unencrypted() {
        let sign_in = Some(("figs".to_owned(), "secret".to_owned()));
        let with = |url| transport(&RelaySettings { url, sign_in: sign_in.clone(), ..RelaySettings::default() });
        assert_eq!(with("smtp://mail.example.org").unwrap_err(), BadMailSetting::InTheClear);
        assert!(with("smtps://mail.example.org").is_ok() && with("starttls://mail.example.org").is_ok());
    }
}
