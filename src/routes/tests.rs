//! What the site map promises: every address of `address` and of navigation is answered.

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
