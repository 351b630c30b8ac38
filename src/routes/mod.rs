//! The site map: every address, its method and its handler; and the layers all of them pass through.

pub mod api;
mod listed;

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
    accounts, bench, cold_night, compare, covers, cultivars, garden, home, letters, measured_shelters, method, nursery, office, open_data,
    pots, propagation, proposals, reminders, reports, review, sharing, shelter, shortlist, spots, spring, station_record, surveys, trials,
    warnings,
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
    open_pages().merge(members_pages()).merge(members_forms()).merge(file_pages()).into_addresses()
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
    let members_forms = members_forms().into_router().layer(from_fn_with_state(state.clone(), accounts::page_resume_form::keep));
    // Addresses that take files bring their own limit, which also is that of the extractors.
    let file_pages = file_pages()
        .into_router()
        .layer(DefaultBodyLimit::max(upload::LARGEST_UPLOAD))
        .layer(RequestBodyLimitLayer::new(upload::LARGEST_UPLOAD))
        .layer(answered_within(LONGEST_ANSWER_TO_A_FILE));
    open_pages()
        .merge(members_pages())
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

/// Forms of members and stewards: what is typed into them outlives their session.
fn members_forms() -> ListedRoutes {
    ListedRoutes::default()
        .get("/members", office::page_members::moved)
        .post("/members", office::page_members::give_role)
        .get("/office", office::page::show)
        .get("/office/members", office::page_members::show)
        .get("/office/members/{id}", office::page_member::show)
        .post("/office/members/{id}", office::page_member::act)
        .get("/office/invitations", office::page_invitations::show)
        .post("/office/invitations", office::page_invitations::invite)
        .post("/office/invitations/end", office::page_invitations::end)
        .get("/office/society", office::page_society::show)
        .post("/office/society", office::page_society::change)
        .get("/office/log", office::page_log::show)
        .get("/office/log.csv", office::page_log::export)
        .post("/account/appeal", office::page_appeal::send)
        .get("/nursery", nursery::page::show)
        .get("/nursery/stock.csv", nursery::page::export)
        .post("/nursery/stock", nursery::page::add)
        .get("/nursery/stock/{id}", nursery::page_line::show)
        .post("/nursery/stock/{id}", nursery::page_line::change)
        .post("/nursery/sell", nursery::page::sell)
        .post("/nursery/undo", nursery::page::undo)
        .get("/nursery/history", nursery::page_history::show)
        .get("/nursery/counter", nursery::page_counter::show)
        .get("/nursery/sheets", nursery::page_sheets::show)
        .get("/nursery/labels", nursery::page_labels::show)
        .post("/nursery/labels", nursery::page_labels::remember)
        .get("/nursery/labels.css", nursery::page_labels::stylesheet)
        .get("/nursery/members", nursery::page_members::show)
        .post("/nursery/start", nursery::page_members::start)
        .post("/nursery/join", nursery::page_members::join)
        .post("/nursery/settings", nursery::page_members::change)
        .post("/nursery/invitation", nursery::page_members::invite)
        .post("/nursery/leave", nursery::page_members::leave)
        .post("/nursery/take-out", nursery::page_members::take_out)
        .get("/reports/{id}/change", reports::page::change_form)
        .post("/reports/{id}/change", reports::page::change)
        .post("/reports/{id}/withdraw", reports::page::withdraw)
        .get("/garden/plants/{id}/edit", garden::page_plant_edit::show)
        .post("/garden/plants/{id}/edit", garden::page_plant_edit::send)
        .post("/garden/plants/{id}/name", garden::page_plant_edit::name)
        .get("/garden/plants/new", garden::page_new_plants::show)
        .post("/garden/plants/new", garden::page_new_plants::send)
        .get("/garden/fruit", garden::page_fruit::show)
        .post("/garden/fruit", garden::page_fruit::send)
        .get("/garden/winter", garden::page_winter::show)
        .post("/garden/winter", garden::page_winter::send)
        .post("/garden/setups/delete", garden::page_setups::delete)
        .get("/garden/surveys", surveys::page::show)
        .post("/garden/surveys", surveys::page::ask)
        .post("/garden/surveys/{code}/open", surveys::page::open)
        .post("/garden/surveys/{code}/delete", surveys::page::delete)
        .post("/garden/page", surveys::page::keep_page)
        .get("/review/answers", surveys::page_review::show)
        .post("/review/answers/{id}", surveys::page_review::judge)
        .post("/review/growers/{code}", surveys::page_review::judge_page)
        .post("/trials/offer", trials::page::offer)
        .get("/garden/propagation/new", propagation::page_batch::new)
        .post("/garden/propagation/new", propagation::page_batch::add)
        .get("/garden/propagation/{id}", propagation::page_batch::show)
        .post("/garden/propagation/{id}", propagation::page_batch::change)
        .post("/garden/propagation/{id}/remove", propagation::page_batch::remove)
        .post("/garden/propagation/{id}/undo", propagation::page_batch::undo)
        .get("/shelters/new", measured_shelters::page_new::show)
        .post("/shelters/new", measured_shelters::page_new::send)
        .post("/shelters/{id}/withdraw", measured_shelters::page::take_back)
        .get("/review/shelters/{id}", measured_shelters::page_review::case)
        .post("/review/shelters/{id}", measured_shelters::page_review::judge)
        .post("/review/several", review::page::decide_several)
        .post("/review/undo", review::page::undo)
        .get("/review/reporters/{id}", review::page_member::show)
        .post("/review/reporters/{id}/set-aside", review::page_member::set_aside)
        .get("/review/{id}", review::page_case::show)
        .post("/review/{id}", review::page_case::decide)
        .post("/review/{id}/correct", review::page_case::correct)
        .post("/account/notices", accounts::page_notices::seen)
        .post("/account/letters", letters::page::wish)
        .post("/account/reminders", reminders::page::change)
        .get("/calendar/{file}", reminders::page::calendar)
        .get("/feed/{file}", reminders::page::feed)
        .get("/account/warnings", warnings::page::show)
        .post("/account/warnings", warnings::page::keep)
        .post("/account/warnings/stop", warnings::page::stop)
        .get("/letters/stop/{secret}", letters::page::ask)
        .post("/letters/stop/{secret}", letters::page::stop)
        .get("/catalogue/names", proposals::page_names::show)
        .get("/catalogue/proposals/new", proposals::page_new::show)
        .post("/catalogue/proposals/new", proposals::page_new::send)
        .post("/catalogue/proposals/seed", proposals::page::looked)
        .post("/catalogue/proposals/{id}", proposals::page_case::decide)
        .post("/catalogue/proposals/{id}/withdraw", proposals::page_case::take_back)
}

/// Pages of members and stewards.
fn members_pages() -> ListedRoutes {
    ListedRoutes::default()
        .get("/reports", reports::page_list::show)
        .get("/shelters", measured_shelters::page::show)
        .get("/shelters/{id}", measured_shelters::page::one)
        .get("/data", open_data::page::show)
        .get("/data/winterfig-reports.zip", open_data::page::package)
        .post("/data/releases", open_data::page::make)
        .get("/data/releases/{number}/winterfig-reports.zip", open_data::page::release)
        .get("/reports/sheet", reports::page_new::sheet)
        .get("/reports/new", reports::page_new::show)
        .post("/reports/new", reports::page_new::send)
        .get("/reports/{id}", reports::page::show)
        .get("/garden", garden::page::show)
        .get("/garden/plants/{id}", garden::page::plant)
        .get("/garden/propagation", propagation::page::show)
        .get("/garden/propagation.csv", propagation::page::export)
        .get("/garden/mothers", propagation::page_mothers::show)
        .get("/review", review::page::show)
        .get("/account", accounts::page::show)
        .post("/account/join", accounts::page::join)
        .post("/account/sign-in", accounts::page::sign_in)
        .post("/account/go-on", accounts::page_resume_form::sign_in)
        .post("/account/sign-out", accounts::page::sign_out)
        .post("/account/passphrase", accounts::page::passphrase)
        .post("/account/end-session", accounts::page::end_session)
        .post("/account/credit", accounts::page::credit)
        .post("/account/tokens", accounts::page::make_token)
        .post("/account/end-token", accounts::page::end_token)
        .post("/account/first-code", accounts::page::first_code)
        .get("/account/mine.json", accounts::page::mine)
        .post("/account/leave", accounts::page::leave)
        .post("/account/address", accounts::page_email::change)
        .post("/account/address/again", accounts::page_email::ask)
        .get("/account/address/{secret}", accounts::page_email::about_to_confirm)
        .post("/account/address/{secret}", accounts::page_email::confirm)
        .get("/account/forgotten", accounts::page_email::forgotten)
        .post("/account/forgotten", accounts::page_email::send_back_in)
        .get("/account/reset/{secret}", accounts::page_email::about_to_reset)
        .post("/account/reset/{secret}", accounts::page_email::reset)
}

#[cfg(test)]
mod tests;
