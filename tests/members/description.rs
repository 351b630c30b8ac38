//! The API against its own description, by a program that is not ours: schemathesis (Python package of that name, version 4) asks every
//! address thousands of well-formed and malformed questions and holds the answers against the OpenAPI document.

use std::process::{Command, Output};

use axum::http::StatusCode;
use tokio::net::TcpListener;
use winterfig::web;

use super::release::filled;
use crate::support::TestDatabase;
use crate::support::client::Client;

/// The setting that names the program.
const SCHEMATHESIS: &str = "WINTERFIG_SCHEMATHESIS";
/// Questions an address is asked in each phase.
const QUESTIONS: &str = "40";
/// What a schema cannot say, so that a question may fit it and still be refused: a record with no days, a zone beside a yearly minimum.
const NOT_CHECKED: &str = "positive_data_acceptance";

async fn asked(program: String, address: String, token: String, checks: &'static [&'static str]) -> Output {
    tokio::task::spawn_blocking(move || {
        // It keeps what it has seen in the folder it is started in.
        let folder = tempfile::tempdir().unwrap();
        Command::new(program)
            .current_dir(folder.path())
            .args(["run", &format!("{address}/openapi.json"), "--seed", "1", "--max-examples", QUESTIONS, "--continue-on-failure"])
            .args(["--generation-deterministic", "--header", &format!("Authorization: Bearer {token}")])
            .args(checks)
            .output()
            .unwrap()
    })
    .await
    .unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_api_keeps_to_its_description_whatever_it_is_asked() {
    let Ok(program) = std::env::var(SCHEMATHESIS) else {
        eprintln!("SKIPPED: {SCHEMATHESIS} names no program");
        return;
    };
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    let mut client = Client::new(&store).await;
    client.join("fig grower").await;
    let page = client.post("/account/tokens", &[("token_name", "questions")]).await.expect(StatusCode::OK).body;
    let token = page.split("<code>").nth(1).unwrap().split("</code>").next().unwrap().to_owned();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    let service = tokio::spawn(web::server::serve(listener, client.router.clone(), 64, std::future::pending()));

    let output = asked(program.clone(), address.clone(), token.clone(), &["--exclude-checks", NOT_CHECKED]).await;
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    // The program must be able to find fault: the check left out above does.
    let output = asked(program, address, token, &["--checks", NOT_CHECKED]).await;
    assert!(!output.status.success());
    service.abort();
}
