//! Which client a request belongs to, for every limit per address: the address of the connection, or what a trusted proxy says of it;
//! a whole IPv4 address, the /64 of an IPv6 one, since one household holds all of that.

use std::net::{IpAddr, Ipv6Addr};
use std::sync::atomic::{AtomicBool, Ordering};

use axum::http::HeaderMap;
use ipnet::IpNet;

use crate::network::plain;

/// A client, as limits count it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Client(IpAddr);

tokio::task_local! {
    static CLIENT: Option<Client>;
}

impl Client {
    /// Of an address.
    pub fn of(address: IpAddr) -> Self {
        Self(match plain(address) {
            IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() >> 64 << 64)),
            v4 @ IpAddr::V4(_) => v4,
        })
    }

    /// The client whose request is being answered by this task, where one is known.
    pub fn current() -> Option<Self> {
        CLIENT.try_with(|client| *client).ok().flatten()
    }
}

impl std::fmt::Display for Client {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Runs the answer to a request of a client.
pub(crate) async fn answering<F: Future>(client: Option<Client>, answer: F) -> F::Output {
    CLIENT.scope(client, answer).await
}

/// Whether an address is that of a trusted proxy.
pub(crate) fn is_trusted(address: IpAddr, trusted: &[IpNet]) -> bool {
    let address = plain(address);
    trusted.iter().any(|net| net.contains(&address))
}

/// The client of a request: the peer of the connection, or where a trusted proxy made it, the last address in `X-Forwarded-For` that is no
/// trusted proxy's. What stands before that anybody may have written.
pub(crate) fn client_of(peer: IpAddr, headers: &HeaderMap, trusted: &[IpNet]) -> Client {
    static WARNED: AtomicBool = AtomicBool::new(false);
    if !is_trusted(peer, trusted) {
        if headers.contains_key("x-forwarded-for") && !WARNED.swap(true, Ordering::Relaxed) {
            tracing::warn!(%peer, "X-Forwarded-For came from an address that --trusted-proxies does not name, and is not used");
        }
        return Client::of(peer);
    }
    let lines: Vec<&str> = headers.get_all("x-forwarded-for").iter().filter_map(|line| line.to_str().ok()).collect();
    let told = lines.iter().rev().flat_map(|line| line.rsplit(','));
    Client::of(told.map_while(|address| address.trim().parse().ok()).find(|address| !is_trusted(*address, trusted)).unwrap_or(peer))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::parse as parse_network;

    fn headers(lines: &[&str]) -> HeaderMap {
        lines.iter().map(|line| (axum::http::HeaderName::from_static("x-forwarded-for"), line.parse().unwrap())).collect()
    }

    #[test]
    fn addresses_of_one_household_are_one_client() {
        let client = |text: &str| Client::of(text.parse().unwrap());
        assert_eq!(client("2001:db8:1:2:3:4:5:6"), client("2001:db8:1:2::1"));
        assert_ne!(client("2001:db8:1:3::1"), client("2001:db8:1:2::1"));
        assert_eq!(client("::ffff:192.0.2.1"), client("192.0.2.1"));
    }

    #[test]
    fn a_forwarded_address_counts_from_a_named_network_alone() {
        let trusted = [parse_network("10.0.0.0/8").unwrap(), parse_network("192.0.2.7").unwrap()];
        let of = |peer: &str, lines: &[&str]| client_of(peer.parse().unwrap(), &headers(lines), &trusted).to_string();
        assert_eq!(of("10.1.2.3", &["198.51.100.1"]), "198.51.100.1");
        assert_eq!(of("::ffff:10.1.2.3", &["198.51.100.1, 10.9.9.9"]), "198.51.100.1");
        assert_eq!(of("192.0.2.8", &["198.51.100.1"]), "192.0.2.8");
        assert_eq!(of("192.0.2.7", &["203.0.113.5", "198.51.100.1"]), "198.51.100.1");
        assert!(parse_network("10.0.0.0/33").is_err() && parse_network("proxy").is_err());
    }
}
