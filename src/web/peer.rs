//! The remote address of a connection.

use std::net::IpAddr;

/// Address of the client as the socket gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Peer(pub IpAddr);
