//! Addresses and networks as settings name them.

use std::net::IpAddr;

use ipnet::IpNet;

/// An IPv4 address written as an IPv6 one is the IPv4 address.
pub fn plain(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V6(v6) => v6.to_ipv4_mapped().map_or(address, IpAddr::V4),
        IpAddr::V4(_) => address,
    }
}

/// A trusted proxy or network of proxies, as a setting names it.
///
/// # Errors
/// In words, when the text is neither an address nor a network in CIDR notation (RFC 4632).
pub fn parse(text: &str) -> Result<IpNet, String> {
    let address = text.trim().parse::<IpAddr>().map(|address| IpNet::from(plain(address)));
    address.or_else(|_| text.trim().parse()).map_err(|_| format!("“{text}” is neither an address nor a network such as 10.0.0.0/8"))
}
