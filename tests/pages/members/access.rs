//! ACL-01 (ASVS 8.1.1, 8.2.1): who reaches what. Every address of the site map stands in the table by the beginning of its path, and each
//! role is answered as the table says.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use winterfig::records::Role;

use crate::support::TestDatabase;
use crate::support::client::Client;

/// Who may ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Needs {
    Nobody,
    Member,
    Steward,
    Administrator,
}

/// The longest beginning counts.
const TABLE: &[(&str, Needs)] = &[
    ("/", Needs::Nobody),
    ("/account", Needs::Nobody),
    ("/account/appeal", Needs::Member),
    ("/account/credit", Needs::Member),
    ("/account/end-session", Needs::Member),
    ("/account/end-token", Needs::Member),
    ("/account/first-code", Needs::Member),
    ("/account/leave", Needs::Member),
    ("/account/letters", Needs::Member),
    ("/account/mine.json", Needs::Member),
    ("/account/notices", Needs::Member),
    ("/account/passphrase", Needs::Member),
    ("/account/reminders", Needs::Member),
    ("/account/sign-out", Needs::Member),
    ("/account/tokens", Needs::Member),
    ("/account/warnings", Needs::Member),
    ("/catalogue/names", Needs::Steward),
    ("/catalogue/proposals/new", Needs::Member),
    ("/catalogue/proposals/seed", Needs::Steward),
    ("/garden", Needs::Member),
    ("/members", Needs::Administrator),
    ("/nursery", Needs::Member),
    ("/office", Needs::Administrator),
    ("/review", Needs::Steward),
    ("/trials/offer", Needs::Member),
];

/// Addresses that more may read than may write.
const WRITTEN: &[(&str, Needs)] = &[
    ("/catalogue/proposals/{id}", Needs::Steward),
    ("/catalogue/proposals/{id}/withdraw", Needs::Member),
    ("/data/releases", Needs::Administrator),
];

fn needed(method: &Method, path: &str) -> Needs {
    WRITTEN.iter().find(|(written, _)| *method == Method::POST && path == *written).map_or_else(|| needs(path), |(_, needs)| *needs)
}

fn needs(path: &str) -> Needs {
    let fits = |beginning: &str| beginning == "/" || path == beginning || path.starts_with(&format!("{beginning}/"));
    TABLE.iter().filter(|(beginning, _)| fits(beginning)).max_by_key(|(beginning, _)| beginning.len()).unwrap().1
}

fn filled(path: &str) -> String {
    path.split('/')
        .map(|part| if part.starts_with('{') { "01890000-0000-7000-8000-000000000000" } else { part })
        .collect::<Vec<_>>()
        .join("/")
}

fn request(method: &Method, path: &str) -> Request<Body> {
    let request = Request::builder().method(method).uri(path).header("sec-fetch-site", "same-origin");
    request.header("content-type", "application/x-www-form-urlencoded").body(Body::empty()).unwrap()
}

#[tokio::test]
async fn every_address_answers_each_role_as_the_table_says() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut visitors = vec![(Needs::Nobody, Client::new(&store).await)];
    for (needs, handle, role) in [
        (Needs::Member, "grower", Role::Member),
        (Needs::Steward, "judge", Role::Steward),
        (Needs::Administrator, "keeper", Role::Administrator),
    ] {
        let mut client = visitors[0].1.another();
        client.join(handle).await;
        let id = store.sign_in_facts(handle).await.unwrap().unwrap().0.id;
        store.change_role(id, role).await.unwrap();
        visitors.push((needs, client));
    }
    let guarded: Vec<_> = winterfig::routes::addresses().into_iter().filter(|a| needed(&a.method, &a.path) != Needs::Nobody).collect();
    for (path, _) in WRITTEN {
        assert!(guarded.iter().any(|a| a.path == *path && a.method == Method::POST), "{path} is walked");
    }
    assert!(guarded.iter().filter(|a| a.path.starts_with("/review")).count() >= 8, "the desk is walked");
    // What ends a session comes last; nothing else is done without its fields.
    let ends = |path: &str| path == "/account/sign-out";
    let (last, first): (Vec<_>, Vec<_>) = guarded.iter().partition(|a| ends(&a.path));
    for address in first.into_iter().chain(last) {
        let needed = needed(&address.method, &address.path);
        for (who, client) in &mut visitors {
            let answer = client.send(request(&address.method, &filled(&address.path))).await;
            let sign_in = answer.status == StatusCode::SEE_OTHER && answer.location().starts_with("/account?next=");
            let told = format!("{} {} as {who:?}: {}", address.method, address.path, answer.status);
            match (*who, needed) {
                // A form of somebody who is signed out is kept in a page that asks to sign in.
                (Needs::Nobody, _) => assert!(sign_in || answer.body.contains("You have been signed out"), "{told}"),
                (who, needed) if who < needed => assert_eq!(answer.status, StatusCode::NOT_FOUND, "{told}"),
                _ => assert!(!sign_in && !answer.status.is_server_error(), "{told}"),
            }
            // An address without values in it stands for whom it is meant.
            if *who >= needed && *who != Needs::Nobody && address.method == Method::GET && !address.path.contains('{') {
                // Where a page stood before, the way to it is shown.
                assert!([StatusCode::OK, StatusCode::PERMANENT_REDIRECT].contains(&answer.status), "{told}");
            }
        }
    }
}

#[test]
fn a_path_stands_under_its_longest_beginning() {
    assert_eq!(needs("/shortlist"), Needs::Nobody);
    assert_eq!(needs("/account"), Needs::Nobody);
    assert_eq!(needs("/account/leave"), Needs::Member);
    assert_eq!(needs("/review/{id}/correct"), Needs::Steward);
}
