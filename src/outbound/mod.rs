//! What the service fetches from elsewhere: HTTPS by hyper and rustls, from hosts that are fixed when it starts, within bounds.
//!
//! Nothing goes out unless the operator allows it (`--outbound`). Redirects are not followed. A host that resolves to an address of a private
//! network is refused, so that an answer of a name server cannot turn a request inward; an operator who names a mirror or a relay of their own
//! allows that one.

mod addresses;
mod client;
mod uses;

pub use addresses::is_public;
pub use client::{Asking, Bounds, Given, Host, HostError, OutboundError};
pub use uses::{NotAUse, OutboundUses};
