//! What another site can make a reader's browser do: nothing.

use axum::body::Body;
use axum::http::header::{CONTENT_TYPE, HOST, ORIGIN};
use axum::http::{Method, Request, StatusCode};

use super::{House, filled, routes};

fn post(address: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let mut request = Request::post(address).header(CONTENT_TYPE, "application/x-www-form-urlencoded").header(HOST, "figs.example");
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    request.body(Body::empty()).unwrap()
}

// CSR-01, CSR-02, CSR-04 [3.5.1]: signed in or not, by either header.
#[tokio::test]
async fn every_address_that_changes_something_refuses_other_sites() {
    let House { mut client, database: _database, .. } = House::new().await;
    client.join("fern").await;
    let addresses: Vec<String> = routes(&Method::POST).into_iter().filter(|path| !path.starts_with("/api/")).collect();
    assert!(addresses.contains(&"/preferences".to_owned()) && addresses.contains(&"/account/sign-in".to_owned()), "{addresses:?}");
    for address in addresses.iter().map(|a| filled(a)) {
        for forged in [
            [("sec-fetch-site", "cross-site")].as_slice(),
            &[("sec-fetch-site", "same-site")],
            &[(ORIGIN.as_str(), "https://evil.example")],
            &[(ORIGIN.as_str(), "https://figs.example:8443")],
            &[(ORIGIN.as_str(), "null")],
        ] {
            let (with, without) = (client.send(post(&address, forged)).await, client.another().send(post(&address, forged)).await);
            assert_eq!(with.status, StatusCode::FORBIDDEN, "signed in: {address} {forged:?}");
            assert_eq!(without.status, StatusCode::FORBIDDEN, "{address} {forged:?}");
        }
        let own = client.another().send(post(&address, &[("sec-fetch-site", "same-origin")])).await;
        assert_ne!(own.status, StatusCode::FORBIDDEN, "its own site is refused: {address}");
    }
}

// HDR-11 [3.7.2]
#[tokio::test]
async fn going_back_after_a_choice_never_leaves_the_site() {
    let House { mut client, database: _database, .. } = House::new().await;
    for evil in [
        "//evil.example",
        "///evil.example",
        "https://evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "/\t/evil.example",
        "\t//evil.example",
        "javascript:alert(1)",
        "data:text/html,x",
        "evil.example",
        "/a\r\nSet-Cookie: x=y",
        "",
    ] {
        let answer = client.post("/preferences", &[("temperature", "c"), ("back", evil)]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(answer.location(), "/", "{evil:?}");
        assert_eq!(answer.headers.get_all("set-cookie").iter().count(), 1);
    }
    let answer = client.post("/preferences", &[("temperature", "c"), ("back", "/shortlist?zone=7a")]).await;
    assert_eq!(answer.location(), "/shortlist?zone=7a");
}
