//! `POST /preferences`: the reader's choice of temperature scale, remembered in a cookie of its own.

use axum::Form;
use axum::response::Redirect;
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use serde::Deserialize;

use crate::web::errors::Failure;
use crate::web::frame::TEMPERATURE_COOKIE;

/// The choice, and the page it was made on.
#[derive(Debug, Deserialize)]
pub struct Choice {
    temperature: String,
    #[serde(default)]
    back: String,
}

/// Remembers the choice and goes back.
pub async fn choose(jar: CookieJar, Form(choice): Form<Choice>) -> Result<(CookieJar, Redirect), Failure> {
    if !matches!(choice.temperature.as_str(), "c" | "f") {
        let mut errors = crate::input::errors::FieldErrors::default();
        errors.add("temperature", &choice.temperature, "this is not a scale; accepted: c, f");
        return Err(errors.into());
    }
    let mut cookie = Cookie::new(TEMPERATURE_COOKIE, choice.temperature);
    cookie.set_path("/");
    cookie.set_http_only(true);
    cookie.set_same_site(SameSite::Lax);
    cookie.make_permanent();
    Ok((jar.add(cookie), Redirect::to(own_address(&choice.back))))
}

/// An address on this site, or the front page: never another host.
pub fn own_address(address: &str) -> &str {
    let leaves = !address.starts_with('/')
        || address.starts_with("//")
        || address.starts_with("/\\")
        || address.chars().any(|c| c.is_control() || c == '\\');
    if leaves { "/" } else { address }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coming_back_never_leaves_the_site() {
        for evil in ["//evil", "https://evil", "/\\evil", "javascript:alert(1)", "", "evil", "/a\r\nb"] {
            assert_eq!(own_address(evil), "/", "{evil}");
        }
        assert_eq!(own_address("/shortlist?zone=7a"), "/shortlist?zone=7a");
    }
}
