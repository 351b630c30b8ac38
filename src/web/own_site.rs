//! Whether a request comes from this very site, its scheme included: the layer against forgery compares hosts, and a page that somebody on
//! the way has put under the same host without encryption is another site (RFC 6454, section 5).

use axum::extract::Request;
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::request::Parts;
use axum::http::uri::Authority;
use axum::http::{HeaderMap, Uri};

use crate::web::client::is_trusted;
use crate::web::peer::Peer;
use crate::web::state::AppState;

const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");
const FORWARDED_SCHEME: HeaderName = HeaderName::from_static("x-forwarded-proto");

/// Whether a request that changes something names, as where it comes from, a host of ours under a scheme that is not ours. Browsers that say
/// `Sec-Fetch-Site` have compared schemes themselves.
pub(crate) fn comes_by_another_scheme(request: &Request, peer: Option<Peer>, state: &AppState) -> bool {
    let headers = request.headers();
    if request.method().is_safe() || headers.contains_key(FETCH_SITE) {
        return false;
    }
    let origin = headers.get(ORIGIN).and_then(|origin| Uri::try_from(origin.as_bytes()).ok());
    let Some((scheme, host)) = origin.as_ref().and_then(parts) else { return false };
    let believed = peer.is_some_and(|peer| is_trusted(peer.0, &state.trusted_proxies));
    own_scheme(host, state.public_address(), believed.then_some(headers)).is_some_and(|own| own != scheme)
}

/// Scheme and host that a reader of this request knows the service by: the public address where one is set, else the host that was asked, which
/// is whatever the asker wrote; empty where that is none.
pub(crate) fn origin(parts: &Parts, state: &AppState) -> String {
    if let Some(public) = state.public_address() {
        return public.to_owned();
    }
    let told = parts.headers.get(HOST).and_then(|host| host.to_str().ok()).or_else(|| parts.uri.authority().map(Authority::as_str));
    let host = told.and_then(|host| host.parse::<Authority>().ok()).filter(|host| !host.as_str().contains('@'));
    let believed = parts.extensions.get::<Peer>().is_some_and(|peer| is_trusted(peer.0, &state.trusted_proxies));
    let scheme =
        |host: &Authority| own_scheme(host.as_str(), None, believed.then_some(&parts.headers)).unwrap_or_else(|| "http".to_owned());
    host.map(|host| format!("{}://{host}", scheme(&host))).unwrap_or_default()
}

/// Whether a host is this very machine: browsers keep secure cookies there without encryption (W3C Secure Contexts, section 3.1).
fn is_this_machine(host: &str) -> bool {
    let host = host.trim_start_matches('[').trim_end_matches(']');
    host.eq_ignore_ascii_case("localhost")
        || host.to_ascii_lowercase().ends_with(".localhost")
        || host.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
}

/// Whether a request came over plain HTTP under a name that is not this machine's, as far as it tells: browsers send `Sec-Fetch-Site` only
/// where the connection can be trusted (W3C Fetch Metadata, section 2), and say the scheme in `Origin`.
pub(crate) fn is_plain_http(parts: &Parts, state: &AppState) -> bool {
    if parts.headers.contains_key(FETCH_SITE) {
        return false;
    }
    let own: Option<Uri> = origin(parts, state).parse().ok();
    let named = parts.headers.get(ORIGIN).and_then(|origin| Uri::try_from(origin.as_bytes()).ok());
    let Some(address) = named.filter(|named| named.scheme_str().is_some()).or(own) else { return false };
    address.scheme_str() == Some("http") && address.host().is_some_and(|host| !is_this_machine(host))
}

fn parts(address: &Uri) -> Option<(&str, &str)> {
    Some((address.scheme_str()?, address.authority()?.as_str()))
}

/// The scheme that the public knows this host by: from the setting, or from a proxy that is believed; `None` where neither says.
fn own_scheme(host: &str, public: Option<&str>, of_proxy: Option<&HeaderMap>) -> Option<String> {
    let public: Option<Uri> = public.and_then(|address| address.parse().ok());
    if let Some((scheme, own)) = public.as_ref().and_then(parts)
        && own.eq_ignore_ascii_case(host)
    {
        return Some(scheme.to_owned());
    }
    let told = of_proxy?.get(FORWARDED_SCHEME)?.to_str().ok()?.trim();
    ["http", "https"].iter().find(|known| told.eq_ignore_ascii_case(known)).map(|known| (*known).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_machine_goes_by_a_few_names() {
        for host in ["localhost", "LOCALHOST", "figs.localhost", "127.0.0.1", "127.8.0.1", "[::1]"] {
            assert!(is_this_machine(host), "{host}");
        }
        for host in ["192.168.1.7", "raspberry", "figs.example", "localhost.figs.example", "[fd00::1]"] {
            assert!(!is_this_machine(host), "{host}");
        }
    }

    #[test]
    fn the_scheme_of_a_host_is_that_of_its_public_address_or_of_a_believed_proxy() {
        let told = |scheme: &str| HeaderMap::from_iter([(FORWARDED_SCHEME, scheme.parse().unwrap())]);
        let public = Some("https://figs.example");
        assert_eq!(own_scheme("FIGS.example", public, None).as_deref(), Some("https"));
        assert_eq!(own_scheme("127.0.0.1:8080", public, None), None);
        assert_eq!(own_scheme("127.0.0.1:8080", public, Some(&told("HTTP"))).as_deref(), Some("http"));
        assert_eq!(own_scheme("figs.example", public, Some(&told("http"))).as_deref(), Some("https"));
        assert_eq!(own_scheme("figs.example", None, Some(&told("gopher"))), None);
    }
}
