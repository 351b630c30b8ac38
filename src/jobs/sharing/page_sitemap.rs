//! `/robots.txt` and `/sitemap.xml`: what programs that read the whole site may read, and the pages a search may find.

use askama::Template;
use axum::extract::State;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::address::{self, Path};
use crate::science::climate::zone::HalfZone;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template)]
#[template(path = "sharing/robots.txt", escape = "none")]
struct Robots {
    simulated: bool,
    /// Pages of one person, and what is no page.
    kept_out: Vec<Path>,
    sitemap: String,
}

#[derive(Template)]
#[template(path = "sharing/sitemap.xml")]
struct Sitemap {
    pages: Vec<String>,
}

/// Pages that read the same for everybody.
const PAGES: [Path; 18] = [
    address::HOME,
    address::COLD_NIGHT,
    address::SPRING,
    address::BENCH,
    address::COMPARE,
    address::SHELTER,
    address::VENTS,
    address::COVERS,
    address::SMALL_HEAT,
    address::SPOTS,
    address::SAFE_DATES,
    address::STORE,
    address::FROZEN_POT,
    address::CULTIVARS,
    address::RECORD,
    address::REPORTS,
    address::METHOD,
    address::ADVICE,
];

/// `GET /robots.txt`. A demonstration asks not to be read: its data are invented.
pub async fn robots(frame: Frame) -> Result<Response, Failure> {
    let kept_out = vec![
        address::API,
        address::ACCOUNT,
        address::CALENDARS,
        address::EMBEDDED_SHORTLIST,
        address::FEEDS,
        address::GARDEN,
        address::MEMBERS,
        address::NURSERY,
        address::REVIEW,
    ];
    let robots = Robots { simulated: frame.simulated, kept_out, sitemap: frame.whole(address::SITEMAP.as_str()) };
    Ok(([(CONTENT_TYPE, "text/plain; charset=utf-8")], robots.render().map_err(Failure::internal)?).into_response())
}

/// `GET /sitemap.xml` (sitemaps.org, protocol 0.9).
pub async fn sitemap(frame: Frame, State(state): State<AppState>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let zones = HalfZone::all().map(|zone| address::SHORTLIST.with([("zone", zone.to_string())]));
    let cultivars = snapshot.catalogue.cultivars().iter().map(|cultivar| address::cultivar(&cultivar.slug));
    let pages = PAGES.iter().map(ToString::to_string).chain(zones).chain(cultivars);
    let sitemap = Sitemap { pages: pages.map(|page| frame.whole(&page)).collect() };
    Ok(([(CONTENT_TYPE, "application/xml")], sitemap.render().map_err(Failure::internal)?).into_response())
}
