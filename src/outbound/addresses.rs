//! Names resolved to public addresses alone.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::pin::Pin;
use std::sync::LazyLock;
use std::task::{Context, Poll};

use hyper_util::client::legacy::connect::dns::{GaiResolver, Name};
use ipnet::IpNet;
use tower::Service;

use crate::network::plain;

/// Networks that are not reached over the public internet: the IANA registries of special-purpose addresses (RFC 6890 and its updates), and
/// multicast (RFC 5771, RFC 4291).
const SPECIAL: [&str; 24] = [
    "0.0.0.0/8",
    "10.0.0.0/8",
    "100.64.0.0/10",
    "127.0.0.0/8",
    "169.254.0.0/16",
    "172.16.0.0/12",
    "192.0.0.0/24",
    "192.0.2.0/24",
    "192.88.99.0/24",
    "192.168.0.0/16",
    "198.18.0.0/15",
    "198.51.100.0/24",
    "203.0.113.0/24",
    "224.0.0.0/4",
    "240.0.0.0/4",
    "::/127",
    "100::/64",
    "2001::/23",
    "2001:db8::/32",
    "2002::/16",
    "3fff::/20",
    "fc00::/7",
    "fe80::/10",
    "ff00::/8",
];
/// Addresses that stand for IPv4 ones in their last four bytes (RFC 6052).
const TRANSLATED: &str = "64:ff9b::/96";

static SPECIAL_NETWORKS: LazyLock<Vec<IpNet>> = LazyLock::new(|| SPECIAL.iter().filter_map(|net| net.parse().ok()).collect());

/// Whether an address is reached over the public internet.
pub fn is_public(address: IpAddr) -> bool {
    let address = match plain(address) {
        IpAddr::V6(v6) if TRANSLATED.parse::<IpNet>().is_ok_and(|net| net.contains(&IpAddr::V6(v6))) => {
            let bytes = v6.octets();
            IpAddr::V4(Ipv4Addr::new(bytes[12], bytes[13], bytes[14], bytes[15]))
        }
        other => other,
    };
    !SPECIAL_NETWORKS.iter().any(|net| net.contains(&address))
}

/// A name that has no public address.
#[derive(Debug, thiserror::Error)]
#[error("the name leads to no address of the public internet")]
pub(super) struct NoPublicAddress;

/// Resolves names by the system, and passes on public addresses alone unless told otherwise.
#[derive(Debug, Clone)]
pub(super) struct Resolver {
    inner: GaiResolver,
    /// Whether private addresses are passed on too.
    private: bool,
}

impl Resolver {
    pub fn new(private: bool) -> Self {
        Self { inner: GaiResolver::new(), private }
    }
}

impl Service<Name> for Resolver {
    type Response = std::vec::IntoIter<SocketAddr>;
    type Error = io::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, io::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), io::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, name: Name) -> Self::Future {
        let (finding, private) = (self.inner.call(name), self.private);
        Box::pin(async move {
            let found: Vec<SocketAddr> = finding.await?.filter(|address| private || is_public(address.ip())).collect();
            if found.is_empty() { Err(io::Error::new(io::ErrorKind::PermissionDenied, NoPublicAddress)) } else { Ok(found.into_iter()) }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_of_private_networks_are_told_from_public_ones() {
        assert_eq!(SPECIAL_NETWORKS.len(), SPECIAL.len(), "every network reads");
        let address = |text: &str| text.parse::<IpAddr>().unwrap();
        for inward in [
            "127.0.0.1",
            "10.1.2.3",
            "172.31.255.255",
            "192.168.1.1",
            "169.254.169.254",
            "100.64.0.1",
            "0.0.0.0",
            "224.0.0.1",
            "255.255.255.255",
            "::1",
            "::",
            "fe80::1",
            "fd12::1",
            "ff02::1",
            "::ffff:127.0.0.1",
            "64:ff9b::7f00:1",
            "2001:db8::1",
        ] {
            assert!(!is_public(address(inward)), "{inward}");
        }
        for outward in ["205.167.25.177", "172.32.0.1", "100.128.0.1", "8.8.8.8", "2610:20:8040:2::177", "64:ff9b::cda7:19b1"] {
            assert!(is_public(address(outward)), "{outward}");
        }
    }

    #[tokio::test]
    async fn a_name_that_leads_inward_is_refused_unless_that_is_allowed() {
        let name: Name = "localhost".parse().unwrap();
        let error = Resolver::new(false).call(name.clone()).await.unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::PermissionDenied);
        assert!(Resolver::new(true).call(name).await.unwrap().count() > 0);
    }
}
