//! The site map: every address, its method and its handler; and the layers all of them pass through.

pub mod api;
mod listed;
mod members;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use std::time::Duration;
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;

pub use crate::jobs::reminders::page_picture::letters_of as season_letters;
use crate::jobs::{
    accounts, bench, cold_night, compare, covers, cultivars, home, method, nursery, office, pots, proposals, sharing, shelter, shortlist,
    spots, spring, station_record, surveys, trials,
};
pub use listed::Address;

use self::listed::ListedRoutes;
use crate::web::state::AppState;
use crate::web::{errors, headers, health, kept_answers, preferences, request_log, static_files, upload};

/// Largest ordinary request body, bytes; addresses that take files set their own.
const LARGEST_BODY: usize = 64 * 1024;
/// Longest a handler may take.
const LONGEST_ANSWER: Duration = Duration::from_secs(20);
/// Longest a handler of a file may take, its arrival by a slow line included.
const LONGEST_ANSWER_TO_A_FILE: Duration = Duration::from_mins(5);

/// Every address that is answered, for tests and tools that walk through all of them.
pub fn addresses() -> Vec<Address> {
    open_pages().merge(members::members_pages()).merge(members::members_forms()).merge(file_pages()).into_addresses()
}

/// The whole service.
pub fn router(state: AppState) -> Router {
    let layers = ServiceBuilder::new()
        .map_request(request_log::cut_id)
        .layer(SetRequestIdLayer::x_request_id(MakeRequestUuid))
        .layer(PropagateRequestIdLayer::x_request_id())
        .layer(
            TraceLayer::new_for_http().make_span_with(request_log::span).on_request(()).on_response(request_log::answered).on_failure(()),
        )
        .layer(from_fn(health::count))
        .layer(from_fn(headers::fix))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(state.clone(), errors::render_error))
        .layer(CatchPanicLayer::new())
        .layer(from_fn_with_state(state.clone(), headers::bound_request))
        .layer(CsrfLayer::new())
        .layer(from_fn_with_state(state.clone(), kept_answers::answer));
    // What is typed into a member's form outlives the session.
    let members_forms = members::members_forms().into_router().layer(from_fn_with_state(state.clone(), accounts::page_resume_form::keep));
    // Addresses that take files bring their own limit, which also is that of the extractors.
    let file_pages = file_pages()
        .into_router()
        .layer(DefaultBodyLimit::max(upload::LARGEST_UPLOAD))
        .layer(RequestBodyLimitLayer::new(upload::LARGEST_UPLOAD))
        .layer(answered_within(LONGEST_ANSWER_TO_A_FILE));
    open_pages()
        .merge(members::members_pages())
        .into_router()
        .merge(members_forms)
        .layer(RequestBodyLimitLayer::new(LARGEST_BODY))
        .layer(answered_within(LONGEST_ANSWER))
        .merge(file_pages)
        .fallback(async || StatusCode::NOT_FOUND)
        .layer(layers)
        .with_state(state)
}

fn open_pages() -> ListedRoutes {
    ListedRoutes::default()
        .get("/", home::page::show)
        .get("/shortlist", shortlist::page::show)
        .get("/compare", compare::page::show)
        .get("/bench", bench::page::show)
        .get("/cold-night", cold_night::page::show)
        .post("/cold-night", cold_night::page::plan)
        .post("/cold-night/measured", cold_night::page::measured)
        .get("/shelter", shelter::page::show)
        .get("/vents", shelter::page_vents::show)
        .post("/shelter", shelter::page::assess)
        .get("/cultivars", cultivars::page_list::show)
        .get("/cultivars/{slug}", cultivars::page::show)
        .get("/catalogue/proposals", proposals::page::show)
        .get("/catalogue/proposals/{id}", proposals::page_case::show)
        .get("/catalogue/{slug}/history", proposals::page_history::show)
        .get("/record/file", station_record::page_saved::file)
        .post("/record/delete", station_record::page_saved::delete)
        .post("/record/thermometer", station_record::page::thermometer)
        .get("/spring", spring::page::show)
        .get("/safe-dates", spring::page_dates::show)
        .get("/covers", covers::page::show)
        .get("/small-heat", covers::page_heat::show)
        .get("/spots", spots::page::show)
        .get("/trials", trials::page::show)
        .get("/surveys/{code}", surveys::page_survey::show)
        .post("/surveys/{code}", surveys::page_survey::answer)
        .get("/surveys/{code}/sheet", surveys::page_survey::sheet)
        .get("/growers/{code}", surveys::page_grower::show)
        .get("/store", pots::page_store::show)
        .get("/frozen-pot", pots::page_frozen::show)
        .get("/advice", home::page_advice::show)
        .post("/a", sharing::page::make)
        .get("/a/{code}", sharing::page::show)
        .get("/preview", sharing::page_preview::of_the_site)
        .get("/preview/{page}", sharing::page_preview::of_an_answer)
        .get("/embed", sharing::page_embed::show)
        .get("/embed/shortlist", sharing::page_embed::framed)
        .get("/robots.txt", sharing::page_sitemap::robots)
        .get("/sitemap.xml", sharing::page_sitemap::sitemap)
        .get("/method", method::page::show)
        .get("/imprint", office::page::imprint)
        .get("/health/live", health::live)
        .get("/health/ready", health::ready)
        .get("/metrics", health::metrics)
        .post("/preferences", preferences::choose)
        .post("/preferences/place", preferences::remember_place)
        .get("/static/{name}", static_files::show)
        .get("/worker.js", static_files::worker)
        .nest("/api/v1", api::routes())
        .get("/openapi.json", api::describe)
}

fn file_pages() -> ListedRoutes {
    ListedRoutes::default()
        .get("/record", station_record::page::show)
        .post("/record", station_record::page::read)
        .get("/record/near", station_record::page_near::show)
        .post("/record/near", station_record::page_near::fetch)
        .post("/record/near/keep", station_record::page_near::keep)
        .get("/nursery/table", nursery::page_table::show)
        .post("/nursery/table", nursery::page_table::send)
        .get("/office/import", office::page_import::show)
        .post("/office/import", office::page_import::send)
        .nest("/api/v1", api::file_routes())
}

fn answered_within(time: Duration) -> TimeoutLayer {
    TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, time)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::address;
    use crate::web::nav::{JOBS, MORE};

    /// Whether an address, its query and fragment aside, is answered.
    fn is_answered(address: &str, answered: &[Address]) -> bool {
        let parts = |path: &str| path.split(['?', '#']).next().unwrap_or_default().split('/').map(str::to_owned).collect::<Vec<_>>();
        let asked = parts(address);
        answered.iter().any(|route| {
            let route = parts(&route.path);
            route.len() == asked.len() && route.iter().zip(&asked).all(|(r, a)| r == a || (r.starts_with('{') && !a.is_empty()))
        })
    }

    /// Every constant of `address`.
    fn constants() -> Vec<address::Path> {
        vec![
            address::HOME,
            address::SHORTLIST,
            address::API_SHORTLIST,
            address::API_SPOTS,
            address::API_COVERS,
            address::COMPARE,
            address::COLD_NIGHT,
            address::SPRING,
            address::SAFE_DATES,
            address::NEW_PLANTS,
            address::GARDEN_WINTER,
            address::GARDEN_FRUIT,
            address::SURVEYS,
            address::GROWER_PAGE,
            address::REVIEW_ANSWERS,
            address::BENCH,
            address::NURSERY,
            address::NURSERY_COUNTER,
            address::NURSERY_SHEETS,
            address::NURSERY_LABELS,
            address::NURSERY_LABELS_CSS,
            address::NURSERY_HISTORY,
            address::SHELTER,
            address::VENTS,
            address::SHELTERS,
            address::COVERS,
            address::SMALL_HEAT,
            address::SPOTS,
            address::TRIALS,
            address::TRIAL_OFFER,
            address::STORE,
            address::FROZEN_POT,
            address::CULTIVARS,
            address::RECORD,
            address::REPORTS,
            address::NEW_REPORT,
            address::DATA,
            address::METHOD,
            address::ADVICE,
            address::SHORT,
            address::PREVIEW,
            address::ROBOTS,
            address::EMBED,
            address::EMBEDDED_SHORTLIST,
            address::SITEMAP,
            address::GARDEN,
            address::PROPAGATION,
            address::PROPAGATION_TABLE,
            address::NEW_BATCH,
            address::MOTHERS,
            address::ACCOUNT,
            address::MEMBERS,
            address::REVIEW,
            address::OFFICE,
            address::OFFICE_MEMBERS,
            address::OFFICE_LOG,
            address::OFFICE_SOCIETY,
            address::OFFICE_INVITATIONS,
            address::OFFICE_IMPORT,
            address::IMPRINT,
            address::REVIEW_SEVERAL,
            address::REVIEW_UNDO,
            address::PROPOSALS,
            address::NEW_PROPOSAL,
            address::NAMES,
            address::SEED_LOOKED,
        ]
    }

    /// Every function of it, with a value that it may get.
    fn built() -> Vec<String> {
        vec![
            address::cultivar("celeste"),
            address::history("celeste"),
            address::proposal(1),
            address::new_proposal("fact"),
            address::new_proposal_about("fact", "celeste"),
            address::proposal_sent(1),
            address::proposal_withdrawal(1),
            address::short("01234567"),
            address::preview(address::SHORTLIST, "zone=7a"),
            address::report(1),
            address::sent_report(1),
            address::report_change(1),
            address::report_withdrawal(1),
            address::report_of_plant(1),
            address::plant(1),
            address::plant_edit(1),
            address::plant_name(1),
            address::garden_sent("winter", 2),
            address::survey("code"),
            address::survey_sheet("code"),
            address::survey_opening("code"),
            address::survey_deletion("code"),
            address::survey_table("code"),
            address::survey_json("code"),
            address::grower("code"),
            address::review_answer(1),
            address::review_grower("code"),
            address::garden_list(address::GARDEN_FRUIT, "2025/26", Some("Graz")),
            address::batch(1),
            address::batch_kept(1),
            address::batch_removal(1),
            address::batch_undo(1),
            address::new_batch_of(1),
            address::report_from_nursery("Celeste", "code"),
            address::review_case(1),
            address::review_case_among(1, [("winter", "2025/26")]),
            address::review_correction(1),
            address::review_reporter(1),
            address::review_set_aside(1),
            address::saved_record(1),
            address::saved_record_file(1),
            address::saved_shelter(1),
            address::shelter_report(1),
            address::shelter_withdrawal(1),
            address::shelter_review(1),
            address::new_shelter_report(1),
            address::data_file("winterfig-reports.zip"),
            address::release_file(1, "winterfig-reports.zip"),
            address::advice("names"),
            address::email_confirmation("token"),
            address::passphrase_reset("token"),
            address::sign_in_for("/garden"),
            address::office_member(1),
            address::office_member_done(1, "warn"),
            address::invitation("code"),
            address::stock_line(1),
            address::static_file("winterfig.css"),
        ]
    }

    #[test]
    fn every_address_that_is_built_is_answered() {
        let answered = addresses();
        for address in constants().into_iter().map(|path| path.to_string()).chain(built()) {
            assert!(is_answered(&address, &answered), "{address}");
        }
    }

    fn templates(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
        let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        entries.flat_map(|path| if path.is_dir() { templates(&path) } else { vec![path] }).collect()
    }

    /// Links without values stand in the templates as text, so that a template reads like the page; links with values are built by `address`.
    #[test]
    fn every_link_in_a_template_is_answered_and_those_with_values_are_built() {
        let answered = addresses();
        let mut links = 0;
        for path in templates(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("templates")) {
            let text = std::fs::read_to_string(&path).unwrap();
            for attribute in ["href=\"/", "action=\"/", "src=\"/"] {
                for (at, _) in text.match_indices(attribute) {
                    let link = text[at + attribute.len() - 1..].split('"').next().unwrap();
                    assert!(!link.contains("{{"), "{}: “{link}” carries a value; build it with `crate::address`", path.display());
                    assert!(is_answered(link, &answered), "{}: “{link}” is not answered", path.display());
                    links += 1;
                }
            }
        }
        assert!(links > 50, "{links}");
    }

    #[test]
    fn every_link_of_the_navigation_is_answered() {
        let answered = addresses();
        for link in JOBS.iter().chain(&MORE) {
            assert!(answered.iter().any(|a| a.method == axum::http::Method::GET && a.path == link.address), "{}", link.address);
        }
    }
}
