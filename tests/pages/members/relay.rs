//! As much of a mail relay (RFC 5321) as takes a letter: in the clear, or encrypted with a certificate of the tests' own root.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::net::TcpListener;
use tokio::sync::mpsc;
use tokio_rustls::TlsAcceptor;

/// How it is spoken to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    Clear,
    Encrypted,
    Upgraded,
}

/// What it says to a letter.
pub const TAKEN: &str = "250 taken";
pub const LATER: &str = "451 come back later";
pub const REFUSED: &str = "550 no such mailbox";

pub struct Relay {
    /// Its address, as the setting names it.
    pub address: String,
    letters: mpsc::UnboundedReceiver<String>,
}

/// The certificate that the relay is trusted by.
pub fn root() -> PathBuf {
    tls("root.pem")
}

fn tls(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pages/web/tls").join(name)
}

fn acceptor() -> TlsAcceptor {
    let chain: Vec<_> = CertificateDer::pem_file_iter(tls("leaf.pem")).unwrap().map(Result::unwrap).collect();
    let config = ServerConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(chain, PrivateKeyDer::from_pem_file(tls("leaf.key.pem")).unwrap())
        .unwrap();
    TlsAcceptor::from(Arc::new(config))
}

impl Relay {
    /// In the clear, and takes every letter.
    pub async fn open() -> Self {
        Self::speaking(Way::Clear, TAKEN, None).await
    }

    /// Speaks so, answers each letter with `says`, and asks for a name and passphrase where there are any.
    pub async fn speaking(way: Way, says: &'static str, sign_in: Option<(&'static str, &'static str)>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let scheme = match way {
            Way::Clear => "smtp",
            Way::Encrypted => "smtps",
            Way::Upgraded => "starttls",
        };
        let address = format!("{scheme}://localhost:{}", listener.local_addr().unwrap().port());
        let (sender, letters) = mpsc::unbounded_channel();
        let secret = sign_in.map(|(name, passphrase)| BASE64_STANDARD.encode(format!("\0{name}\0{passphrase}")));
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                let (sender, secret) = (sender.clone(), secret.clone());
                tokio::spawn(async move {
                    let talk = Talk { says, secret, sender };
                    match way {
                        Way::Clear => drop(talk.hold(stream, true, false).await),
                        Way::Encrypted => drop(talk.hold(acceptor().accept(stream).await.unwrap(), true, false).await),
                        Way::Upgraded => {
                            let Some(stream) = talk.hold(stream, true, true).await else { return };
                            drop(talk.hold(acceptor().accept(stream).await.unwrap(), false, false).await);
                        }
                    }
                });
            }
        });
        Self { address, letters }
    }

    pub async fn letter(&mut self) -> String {
        tokio::time::timeout(Duration::from_secs(10), self.letters.recv()).await.expect("no letter came").unwrap()
    }

    /// The next letter, however long it takes.
    pub async fn next(&mut self) -> Option<String> {
        self.letters.recv().await
    }

    pub async fn silent(&mut self) -> bool {
        tokio::time::timeout(Duration::from_millis(300), self.letters.recv()).await.is_err()
    }
}

struct Talk {
    says: &'static str,
    secret: Option<String>,
    sender: mpsc::UnboundedSender<String>,
}

impl Talk {
    /// Speaks until the other side goes, or gives the stream back where it is to be encrypted from here on.
    async fn hold<S: AsyncRead + AsyncWrite + Unpin>(&self, stream: S, greet: bool, upgrade: bool) -> Option<S> {
        let mut stream = BufReader::new(stream);
        if greet {
            stream.write_all(b"220 relay\r\n").await.ok()?;
        }
        let (mut line, mut letter) = (String::new(), None::<String>);
        let mut known = self.secret.is_none();
        while stream.read_line(&mut line).await.unwrap_or(0) > 0 {
            let answer = match (&mut letter, line.as_str()) {
                (Some(text), ".\r\n") => {
                    if self.says == TAKEN {
                        // Soft line ends of quoted-printable (RFC 2045).
                        let _ = self.sender.send(text.replace("=\r\n", ""));
                    }
                    letter = None;
                    format!("{}\r\n", self.says)
                }
                (Some(text), more) => {
                    text.push_str(more);
                    String::new()
                }
                (None, "DATA\r\n") if known => {
                    letter = Some(String::new());
                    "354 go on\r\n".to_owned()
                }
                (None, "DATA\r\n") => "530 sign in first\r\n".to_owned(),
                (None, "QUIT\r\n") => "221 bye\r\n".to_owned(),
                (None, "STARTTLS\r\n") => {
                    stream.write_all(b"220 go on\r\n").await.ok()?;
                    return Some(stream.into_inner());
                }
                (None, greeting) if greeting.starts_with("EHLO") && upgrade => "250-relay\r\n250 STARTTLS\r\n".to_owned(),
                (None, greeting) if greeting.starts_with("EHLO") && !known => "250-relay\r\n250 AUTH PLAIN\r\n".to_owned(),
                (None, words) if words.starts_with("AUTH PLAIN ") => {
                    known = self.secret.as_deref() == words.trim().strip_prefix("AUTH PLAIN ");
                    if known { "235 known\r\n" } else { "535 not known\r\n" }.to_owned()
                }
                _ => "250 good\r\n".to_owned(),
            };
            stream.write_all(answer.as_bytes()).await.ok()?;
            line.clear();
        }
        None
    }
}
