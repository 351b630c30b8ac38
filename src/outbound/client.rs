//! One host from which documents are fetched.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use http_body_util::{BodyExt, Empty};
use hyper::body::Bytes;
use hyper::header::{
    ACCEPT, ACCEPT_ENCODING, CONTENT_LENGTH, EXPIRES, HeaderMap, IF_MODIFIED_SINCE, LAST_MODIFIED, RETRY_AFTER, USER_AGENT,
};
use hyper::header::{HeaderName, HeaderValue};
use hyper::{Request, Uri};
use hyper_rustls::{HttpsConnector, HttpsConnectorBuilder};
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use jiff::Timestamp;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use tokio::time::timeout;

use super::addresses::Resolver;

/// Longest that a connection may take to be made.
const CONNECTING: Duration = Duration::from_secs(8);

/// How long and how much one document may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds {
    /// Most bytes.
    pub bytes: usize,
    /// Longest from the request to the last byte.
    pub time: Duration,
    /// Longest without a byte.
    pub silence: Duration,
}

/// What goes with a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Asking<'a> {
    /// The media type wanted.
    pub accept: Option<&'a str>,
    /// `Last-Modified` of the document at hand, as it came: where it still stands, the host may say so without sending it again.
    pub modified: Option<&'a str>,
}

/// A good answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Given {
    /// The document; `None`: the one at hand still stands (304).
    pub bytes: Option<Vec<u8>>,
    /// Until when the host asks not to be asked again.
    pub expires: Option<Timestamp>,
    /// `Last-Modified` as it came.
    pub modified: Option<String>,
    /// The host says that the document will be withdrawn or changed (203).
    pub deprecated: bool,
}

/// Why a document was not had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OutboundError {
    /// Nothing came for too long.
    #[error("nothing came for {0} seconds")]
    Silent(u64),
    /// It came too slowly.
    #[error("it was not there after {0} seconds")]
    TooSlow(u64),
    /// It is larger than it may be.
    #[error("it is larger than the {0} MB that are accepted")]
    TooLarge(usize),
    /// There is no such document.
    #[error("there is no such document (404)")]
    Absent,
    /// The host wants another address to be asked, which is not done.
    #[error("it sends on to another address ({0}), which is not followed")]
    Moved(u16),
    /// The host refused.
    #[error("it answered {0}")]
    Refused(u16),
    /// The host wants to be left alone (429, or 503 with a time).
    #[error("it asks to be left alone for a while ({status})")]
    Busy {
        /// Its status.
        status: u16,
        /// For how long, s, where it says.
        wait_s: Option<u64>,
    },
    /// No connection, no trust, or a connection that broke.
    #[error("it could not be reached, or the connection broke")]
    Unreachable,
}

/// A host that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HostError {
    /// The address is none.
    #[error("“{0}” is no address of a host; accepted: https://HOST[:PORT][/PATH], or http:// for a relay on a network of your own")]
    Address(String),
    /// The contact cannot stand in a header.
    #[error("“{0}” is no contact; accepted: an e-mail address or an https:// address, in plain letters, up to 200 of them")]
    Contact(String),
    /// The file of roots cannot be used.
    #[error("{path}: {reason}")]
    Roots {
        /// The file.
        path: String,
        /// What is wrong with it.
        reason: String,
    },
}

/// A host that is asked for documents.
#[derive(Debug, Clone)]
pub struct Host {
    client: Client<HttpsConnector<HttpConnector<Resolver>>, Empty<Bytes>>,
    /// Scheme, host, port and path in front of every document, without a slash at its end.
    base: String,
    /// How this service names itself.
    user_agent: HeaderValue,
}

/// Name and version, as every host is told.
const USER_AGENT_OF_THE_SERVICE: &str = concat!("winterfig/", env!("CARGO_PKG_VERSION"));
/// Most letters of a contact.
const LONGEST_CONTACT: usize = 200;

impl Host {
    /// A host of the public internet, over HTTPS, with the roots of trust that Mozilla's browsers ship.
    pub fn public(base: &str) -> Result<Self, HostError> {
        Self::new(base, None, false)
    }

    /// A host that the operator names: it may lie on a private network, speak plain HTTP, and be trusted by `roots` (PEM) besides.
    pub fn named_by_operator(base: &str, roots: Option<&Path>) -> Result<Self, HostError> {
        Self::new(base, roots, true)
    }

    fn new(base: &str, roots: Option<&Path>, private: bool) -> Result<Self, HostError> {
        let bad = || HostError::Address(base.chars().take(200).collect());
        let uri: Uri = base.parse().map_err(|_| bad())?;
        let scheme = matches!(uri.scheme_str(), Some("https")) || private && matches!(uri.scheme_str(), Some("http"));
        if !scheme || uri.host().is_none_or(str::is_empty) || uri.query().is_some() || base.contains('@') {
            return Err(bad());
        }
        let mut http = HttpConnector::new_with_resolver(Resolver::new(private));
        http.enforce_http(false);
        http.set_connect_timeout(Some(CONNECTING));
        let https = HttpsConnectorBuilder::new().with_tls_config(tls(roots)?);
        let https = if private { https.https_or_http() } else { https.https_only() };
        let client = Client::builder(TokioExecutor::new()).build(https.enable_http1().wrap_connector(http));
        Ok(Self { client, base: base.trim_end_matches('/').to_owned(), user_agent: HeaderValue::from_static(USER_AGENT_OF_THE_SERVICE) })
    }

    /// The same, telling the host whom to write to where this service gives trouble.
    ///
    /// # Errors
    /// Where that is no e-mail or web address.
    pub fn naming(self, contact: &str) -> Result<Self, HostError> {
        let bad = || HostError::Contact(contact.chars().take(LONGEST_CONTACT).collect());
        let is_address =
            contact.starts_with("https://") || contact.split_once('@').is_some_and(|(name, host)| !name.is_empty() && host.contains('.'));
        let is_plain = contact.len() <= LONGEST_CONTACT && contact.chars().all(|c| c.is_ascii_graphic() && !matches!(c, '(' | ')'));
        if !is_address || !is_plain {
            return Err(bad());
        }
        let user_agent = HeaderValue::from_str(&format!("{USER_AGENT_OF_THE_SERVICE} ({contact})")).map_err(|_| bad())?;
        Ok(Self { user_agent, ..self })
    }

    /// The address of a document.
    pub fn address(&self, path: &str) -> String {
        format!("{}/{path}", self.base)
    }

    /// Fetches a document; `path` is joined to the host's address as it is.
    ///
    /// # Errors
    /// As [`OutboundError`] says; what exactly went wrong with a connection is in the log.
    pub async fn get(&self, path: &str, bounds: Bounds) -> Result<Vec<u8>, OutboundError> {
        let given = self.ask(path, Asking::default(), bounds).await?;
        given.bytes.ok_or(OutboundError::Moved(304))
    }

    /// The same with what goes with the question, and with what the host says of the document's time.
    ///
    /// # Errors
    /// As [`Host::get`].
    pub async fn ask(&self, path: &str, asking: Asking<'_>, bounds: Bounds) -> Result<Given, OutboundError> {
        timeout(bounds.time, self.asked(path, asking, bounds)).await.unwrap_or(Err(OutboundError::TooSlow(bounds.time.as_secs())))
    }

    async fn asked(&self, path: &str, asking: Asking<'_>, bounds: Bounds) -> Result<Given, OutboundError> {
        let address = self.address(path);
        let unreachable = |error: &dyn std::fmt::Debug| {
            tracing::warn!(address, ?error, "a document was not had");
            OutboundError::Unreachable
        };
        let silent = |_| OutboundError::Silent(bounds.silence.as_secs());
        let mut request = Request::get(&address).header(USER_AGENT, &self.user_agent).header(ACCEPT_ENCODING, "identity");
        for (name, value) in [(ACCEPT, asking.accept), (IF_MODIFIED_SINCE, asking.modified)] {
            if let Some(value) = value {
                request = request.header(name, value);
            }
        }
        let request = request.body(Empty::new()).map_err(|error| unreachable(&error))?;
        let answer = timeout(bounds.silence, self.client.request(request)).await.map_err(silent)?.map_err(|error| unreachable(&error))?;
        let status = answer.status().as_u16();
        let mut given = said(status, answer.headers(), asking)?;
        if status == 304 {
            return Ok(given);
        }
        let too_large = || OutboundError::TooLarge(bounds.bytes >> 20);
        let length = header(answer.headers(), &CONTENT_LENGTH).and_then(|length| length.parse::<usize>().ok());
        if length.is_some_and(|bytes| bytes > bounds.bytes) {
            return Err(too_large());
        }
        let (mut body, mut bytes) = (answer.into_body(), Vec::new());
        while let Some(frame) = timeout(bounds.silence, body.frame()).await.map_err(silent)? {
            let frame = frame.map_err(|error| unreachable(&error))?;
            let Ok(data) = frame.into_data() else { continue };
            if bytes.len() + data.len() > bounds.bytes {
                return Err(too_large());
            }
            bytes.extend_from_slice(&data);
        }
        given.bytes = Some(bytes);
        Ok(given)
    }
}

/// A header as text.
fn header<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name)?.to_str().ok()
}

/// What status and headers say, without the document.
fn said(status: u16, headers: &HeaderMap, asking: Asking<'_>) -> Result<Given, OutboundError> {
    match status {
        200 | 203 => {}
        304 if asking.modified.is_some() => {}
        404 | 410 => return Err(OutboundError::Absent),
        moved @ 300..400 => return Err(OutboundError::Moved(moved)),
        429 | 503 => {
            let wait_s = header(headers, &RETRY_AFTER).and_then(|wait| wait.trim().parse().ok());
            if status == 429 || wait_s.is_some() {
                return Err(OutboundError::Busy { status, wait_s });
            }
            return Err(OutboundError::Refused(status));
        }
        other => return Err(OutboundError::Refused(other)),
    }
    // Dates of HTTP are those of mail, in GMT (RFC 9110 §5.6.7).
    let expires = header(headers, &EXPIRES).and_then(|date| jiff::fmt::rfc2822::parse(date).ok()).map(|date| date.timestamp());
    let modified =
        header(headers, &LAST_MODIFIED).map(str::to_owned).or_else(|| asking.modified.filter(|_| status == 304).map(str::to_owned));
    Ok(Given { bytes: None, expires, modified, deprecated: status == 203 })
}

/// TLS 1.2 and 1.3 by rustls with ring; roots of Mozilla as of the release of `webpki-roots`, and those of a file besides.
fn tls(roots: Option<&Path>) -> Result<ClientConfig, HostError> {
    let mut trusted = RootCertStore { roots: webpki_roots::TLS_SERVER_ROOTS.to_vec() };
    if let Some(path) = roots {
        let wrong = |reason: &dyn std::fmt::Display| HostError::Roots { path: path.display().to_string(), reason: reason.to_string() };
        let mut added = 0;
        for certificate in CertificateDer::pem_file_iter(path).map_err(|error| wrong(&error))? {
            trusted.add(certificate.map_err(|error| wrong(&error))?).map_err(|error| wrong(&error))?;
            added += 1;
        }
        if added == 0 {
            return Err(wrong(&"it holds no certificate in PEM form"));
        }
    }
    let config = ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| HostError::Roots { path: "TLS".to_owned(), reason: error.to_string() })?;
    Ok(config.with_root_certificates(trusted).with_no_client_auth())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_public_host_is_asked_over_https_alone_and_an_operator_may_name_a_relay() {
        assert!(Host::public("https://archive.example/pub/daily/").is_ok());
        for bad in ["http://archive.example", "archive.example", "https://", "https://a/?q", "https://user@a", ""] {
            assert!(Host::public(bad).unwrap_err().to_string().contains("https://HOST"), "{bad}");
        }
        let relay = Host::named_by_operator("http://10.0.0.2:8090/daily/", None).unwrap();
        assert_eq!(relay.address("a.csv.gz"), "http://10.0.0.2:8090/daily/a.csv.gz");
    }

    #[test]
    fn a_contact_is_an_address_that_stands_in_a_header() {
        let host = || Host::public("https://archive.example").unwrap();
        assert_eq!(
            host().naming("figs@example.org").unwrap().user_agent.to_str().unwrap(),
            format!("{USER_AGENT_OF_THE_SERVICE} (figs@example.org)")
        );
        assert!(host().naming("https://figs.example.org/imprint").is_ok());
        for bad in [
            "",
            "me",
            "@example.org",
            "figs@example",
            "figs@exämple.org",
            "a@b.c\r\nHost: x",
            "a@b.c (me)",
            &format!("{}@b.c", "a".repeat(200)),
        ] {
            assert!(host().naming(bad).unwrap_err().to_string().contains("e-mail address"), "{bad}");
        }
    }

    #[test]
    fn what_a_host_says_of_time_is_read_and_a_wait_is_told_from_a_refusal() {
        let headers =
            |list: &[(HeaderName, &str)]| list.iter().map(|(name, value)| (name.clone(), value.parse().unwrap())).collect::<HeaderMap>();
        let date = "Sun, 06 Nov 1994 08:49:37 GMT";
        let given = said(203, &headers(&[(EXPIRES, date), (LAST_MODIFIED, date)]), Asking::default()).unwrap();
        assert_eq!(
            (given.expires, given.modified.as_deref(), given.deprecated),
            (Some("1994-11-06T08:49:37Z".parse().unwrap()), Some(date), true)
        );
        let asking = Asking { modified: Some(date), ..Asking::default() };
        assert_eq!(said(304, &HeaderMap::new(), asking).unwrap().modified.as_deref(), Some(date));
        assert_eq!(said(304, &HeaderMap::new(), Asking::default()), Err(OutboundError::Moved(304)), "nothing was at hand");
        assert_eq!(said(200, &headers(&[(EXPIRES, "0")]), Asking::default()).unwrap().expires, None);
        let waits = headers(&[(RETRY_AFTER, "120")]);
        assert_eq!(said(429, &waits, Asking::default()), Err(OutboundError::Busy { status: 429, wait_s: Some(120) }));
        assert_eq!(said(503, &HeaderMap::new(), Asking::default()), Err(OutboundError::Refused(503)));
        assert_eq!(said(403, &waits, Asking::default()), Err(OutboundError::Refused(403)));
    }

    #[test]
    fn a_file_of_roots_without_a_certificate_is_named() {
        let missing = Host::named_by_operator("https://127.0.0.1", Some(Path::new("no-such.pem"))).unwrap_err();
        assert!(missing.to_string().starts_with("no-such.pem: "), "{missing}");
        let none = Host::named_by_operator("https://127.0.0.1", Some(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"))));
        assert!(none.unwrap_err().to_string().contains("no certificate"));
    }
}
