//! The pages in a real browser: sound on a phone, on a desk and in the dark; usable with the keyboard alone and without scripts.
//!
//! Accessibility by axe-core (vendored, with its licence), against WCAG 2.2 (W3C Recommendation, 5 October 2023) level AA; policies by the
//! browser's own log. Each test opens one browser; tests run as processes of their own.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a test fails by panicking"
)]

mod audit;
mod drafts;
mod driver;
mod garden;
mod members;
mod paper;
mod paths;
mod site;
#[path = "../support/mod.rs"]
mod support;
mod tonight;

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::response::Html;
use axum::routing::get;

use audit::{complaints, complaints_in_every_mode};
use driver::{Browser, View};
use site::Site;

/// Every page that stands, and whether it is one that refuses. A new page is added here.
const PAGES: &[(&str, bool)] = &[
    ("/", false),
    ("/?zone=7a&setting=wall", false),
    ("/shortlist?zone=6b", false),
    ("/shortlist?zone=8b&climate=coast&setting=wall&culture=container&container_l=40&years=2&protection=carried_in&rank_by=alive", false),
    ("/shortlist?yearly_minimum_c=-11.5&yearly_spread_k=3.2&climate=continental&rank_by=wood&limit=500", false),
    ("/shortlist?zone=bad&culture=roof&years=many&last_frost=04-31", true),
    ("/cultivars", false),
    ("/cultivars?q=zzz", false),
    ("/cultivars?q=turky", false),
    ("/cultivars/brown-turkey", false),
    ("/catalogue/brown-turkey/history", false),
    ("/catalogue/proposals", false),
    ("/method", false),
    ("/imprint", false),
    ("/embed?zone=6b", false),
    ("/embed/shortlist?zone=6b", false),
    ("/cold-night", false),
    ("/cold-night?example=1&scale=c&minimum=-8&p1_cultivar=Celeste&s1_kind=attached&s1_in1=4&s1_out1=-3&log1_forecast=-2", false),
    ("/shelter", false),
    ("/shelter?scale=f&length=12&minima=20", false),
    ("/spring", false),
    ("/spring?zone=7a&seen=nothing&cultivar=brown-turkey&today=2026-05-15", false),
    ("/advice", false),
    ("/compare", false),
    ("/compare?cultivar=celeste&cultivar=brown-turkey&zone=7a", false),
    ("/covers", false),
    ("/spots", false),
    ("/trials", false),
    ("/trials?zone=7a", false),
    ("/safe-dates", false),
    ("/safe-dates?zone=6b&on=04-20", false),
    ("/small-heat", false),
    ("/small-heat?heat=bulb_old&count=20", false),
    ("/vents", false),
    ("/vents?length_m=6&low_m2=1&high_m2=1", false),
    ("/store", false),
    ("/frozen-pot", false),
    ("/reports/sheet", false),
    ("/shelters", false),
    ("/bench", false),
    ("/bench?cultivar=celeste&zone=7a", false),
    ("/record", false),
    ("/reports", false),
    ("/reports/new", false),
    ("/data", false),
    ("/account", false),
    ("/no-such-page", true),
];

const PHONE: u32 = 360;
const TABLET: u32 = 768;
const DESK: u32 = 1280;
/// The narrowest screen that WCAG 2.2, 1.4.10 asks a page to fit.
const NARROWEST: u32 = 320;

/// Every page at one width, in the light, in the dark and in colours of the system; each is loaded once.
async fn every_page_is_sound(width: u32) {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    let mut wrong = Vec::new();
    for &(page, refused) in PAGES {
        let found = complaints_in_every_mode(&browser, &site.at(page), width, refused).await;
        wrong.extend(found.into_iter().map(|what| format!("{page} {what}")));
    }
    assert!(wrong.is_empty(), "{width} px\n{}", wrong.join("\n"));
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_phone() {
    every_page_is_sound(PHONE).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_tablet() {
    every_page_is_sound(TABLET).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_desk() {
    every_page_is_sound(DESK).await;
}

/// A page with one fault of each kind, under the service's own content policy.
async fn faulty() -> Site {
    const PAGE: &str =
        "<!doctype html><html><head><title>x</title><link rel=stylesheet href=/faults.css></head><body><h1>One</h1><h1>Two</h1>
        <img src=/none.png><input><p class=pale>Pale words on white paper.</p><p style='color:red'>Styled here.</p>
        <script>document.title='ran'</script><p id=a>a</p><p id=a>b</p><p><a href=#nowhere>x</a></p><div class=wide>wide</div>
        <p><button class=tiny>x</button></p><p class=fine>fine print</p>
        <svg role=img width=100 height=30><rect class=dark width=100 height=30 /><text class=dim x=5 y=20>dim</text></svg></body></html>";
    const SHEET: &str = ".pale{color:#ccc;background:#fff}.wide{width:3000px}.tiny{width:10px;height:10px;padding:0}.fine{font-size:8px}
        .dark{fill:#333}.dim{fill:#555}body{background:#fff}";
    const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'";
    let page = || async { ([("content-security-policy", POLICY)], Html(PAGE)) };
    let sheet = || async { ([(CONTENT_TYPE, "text/css")], SHEET) };
    Site::serving(Router::new().route("/", get(page)).route("/faults.css", get(sheet))).await
}

// Without this a rules engine that does not load would pass as "nothing found".
#[tokio::test(flavor = "multi_thread")]
async fn a_page_made_to_fail_is_faulted_on_every_point() {
    let Some(browser) = Browser::open().await else { return };
    let site = faulty().await;
    let found = complaints(&browser, &site.at("/"), View { width: PHONE, dark: true, forced: false }, false).await;
    for expected in [
        "axe html-has-lang",
        "axe image-alt",
        "axe label",
        "axe landmark-one-main",
        "axe color-contrast",
        "overflow: 3",
        "headings: 2",
        "id used twice: a",
        "link to nowhere",
        "inline style",
        "target 10 × 10 px",
        "small print",
        "contrast 1.",
        "a picture without words",
        "paper rgb(255, 255, 255) in the dark",
        "none.png",
        "script-src",
        "style-src",
    ] {
        assert!(found.iter().any(|what| what.contains(expected)), "not found: {expected}\n{}", found.join("\n"));
    }
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_scrolls_sideways_on_the_narrowest_screen_or_with_large_type() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(View { width: NARROWEST, dark: false, forced: false }).await;
    let mut wrong = Vec::new();
    for &(page, _) in PAGES {
        browser.client.goto(&site.at(page)).await.unwrap();
        let over = browser.run("const e = document.documentElement; return e.scrollWidth - e.clientWidth").await;
        if over.as_i64() != Some(0) {
            wrong.push(format!("{page}: {over} px too wide"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await;
}
