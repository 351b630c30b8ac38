//! `POST /preferences`: the reader's choice of temperature scale, remembered in a cookie of its own.

use axum::Form;
use axum::response::Redirect;
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use serde::Deserialize;

use crate::web::errors::Failure;
use crate::web::frame::{Frame, PLACE_COOKIE, Scale, TEMPERATURE_COOKIE};

/// Longest place remembered, letters.
const LONGEST_PLACE: usize = 120;

/// The choice, and the page it was made on.
#[derive(Debug, Deserialize)]
pub struct Choice {
    temperature: String,
    #[serde(default)]
    back: String,
}

/// Field of a masthead's button: the scale that the reader chooses.
pub const SCALE_CHOICE: &str = "temperature";

/// Remembers the choice and goes back.
pub async fn choose(jar: CookieJar, Form(choice): Form<Choice>) -> Result<(CookieJar, Redirect), Failure> {
    let Some(scale) = Scale::of_choice(&choice.temperature) else {
        let mut errors = crate::input::errors::FieldErrors::default();
        errors.add(SCALE_CHOICE, &choice.temperature, "this is not a scale; accepted: c, f");
        return Err(errors.into());
    };
    Ok((jar.add(scale_cookie(scale)), Redirect::to(own_address(&choice.back))))
}

fn scale_cookie(scale: Scale) -> Cookie<'static> {
    let mut cookie = Cookie::new(TEMPERATURE_COOKIE, scale.word());
    cookie.set_path("/");
    cookie.set_http_only(true);
    cookie.set_same_site(SameSite::Lax);
    cookie.make_permanent();
    cookie
}

/// Takes a choice of scale out of a form that is sent once more for it: the frame in that scale, and what remembers the choice.
pub fn take_choice(frame: Frame, pairs: &mut Vec<(String, String)>) -> (Frame, CookieJar) {
    let chosen = pairs.iter().rev().find(|(name, _)| name == SCALE_CHOICE).and_then(|(_, value)| Scale::of_choice(value));
    pairs.retain(|(name, _)| name != SCALE_CHOICE);
    match chosen {
        Some(scale) => (frame.in_scale(scale), CookieJar::new().add(scale_cookie(scale))),
        None => (frame, CookieJar::new()),
    }
}

/// A place to be remembered, or forgotten where it is empty; and the page it was asked for on.
#[derive(Debug, Deserialize)]
pub struct RememberedPlace {
    #[serde(default)]
    place: String,
    #[serde(default)]
    back: String,
}

/// `POST /preferences/place`: remembers a town in a cookie, since the reader asked for it, or forgets it.
pub async fn remember_place(jar: CookieJar, Form(asked): Form<RememberedPlace>) -> (CookieJar, Redirect) {
    let back = Redirect::to(own_address(&asked.back));
    let words: String = asked.place.trim().chars().take(LONGEST_PLACE).collect();
    let encoded: String = form_urlencoded::byte_serialize(words.as_bytes()).collect();
    let mut cookie = Cookie::new(PLACE_COOKIE, encoded);
    cookie.set_path("/");
    cookie.set_http_only(true);
    cookie.set_same_site(SameSite::Lax);
    if words.is_empty() {
        return (jar.remove(cookie), back);
    }
    cookie.make_permanent();
    (jar.add(cookie), back)
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
