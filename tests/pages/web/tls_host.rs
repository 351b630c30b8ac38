//! A host on loopback that speaks TLS with a certificate of this test's own root, and answers as a test says.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;
use tokio_rustls::TlsAcceptor;

pub fn tls(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/pages/web/tls").join(name)
}

/// What takes connections for the name `localhost`.
pub fn acceptor() -> TlsAcceptor {
    let chain: Vec<_> = CertificateDer::pem_file_iter(tls("leaf.pem")).unwrap().map(Result::unwrap).collect();
    let key = PrivateKeyDer::from_pem_file(tls("leaf.key.pem")).unwrap();
    let config = ServerConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(chain, key)
        .unwrap();
    TlsAcceptor::from(Arc::new(config))
}

/// Reads the head of a request.
pub async fn head(stream: &mut (impl AsyncReadExt + Unpin)) -> Option<String> {
    let mut head = Vec::new();
    let mut buffer = [0; 2048];
    while !head.windows(4).any(|w| w == b"\r\n\r\n") {
        match stream.read(&mut buffer).await {
            Ok(n) if n > 0 => head.extend_from_slice(&buffer[..n]),
            _ => return None,
        }
    }
    String::from_utf8(head).ok()
}

/// An answer: status, further header lines, body; `None`: fewer bytes than promised.
#[derive(Clone)]
pub struct Answer {
    pub status: u16,
    pub headers: String,
    pub body: Vec<u8>,
    pub breaks_off: bool,
}

impl Answer {
    pub fn new(status: u16, headers: &str, body: impl Into<Vec<u8>>) -> Self {
        Self { status, headers: headers.to_owned(), body: body.into(), breaks_off: false }
    }
}

/// A host that answers by path and head of the request; gives its address and the heads it was sent.
pub async fn host_that(answers: impl Fn(&str, &str) -> Answer + Send + Sync + 'static) -> (String, Arc<Mutex<Vec<String>>>) {
    let (acceptor, answers) = (acceptor(), Arc::new(answers));
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("https://localhost:{}", listener.local_addr().unwrap().port());
    let asked = Arc::new(Mutex::new(Vec::new()));
    let seen = Arc::clone(&asked);
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            let (acceptor, answers, seen) = (acceptor.clone(), Arc::clone(&answers), Arc::clone(&seen));
            tokio::spawn(async move {
                let Ok(mut stream) = acceptor.accept(stream).await else { return };
                let Some(head) = head(&mut stream).await else { return };
                let path = head.split(' ').nth(1).unwrap().to_owned();
                seen.lock().unwrap().push(head.clone());
                let answer = answers(&path, &head);
                let said = format!(
                    "HTTP/1.1 {} X\r\nconnection: close\r\n{}content-length: {}\r\n\r\n",
                    answer.status,
                    answer.headers,
                    answer.body.len()
                );
                let sent = if answer.breaks_off { &answer.body[..answer.body.len() / 2] } else { &answer.body };
                let _ = stream.write_all(&[said.as_bytes(), sent].concat()).await;
                let _ = stream.shutdown().await;
            });
        }
    });
    (address, asked)
}
