//! The API against its own description, by a program that is not ours: schemathesis (Python package of that name, version 4) asks every
//! address thousands of well-formed and malformed questions and holds the answers against the OpenAPI document; and openapi-typescript (npm
//! package of that name, version 7) makes a client from it, which the TypeScript compiler checks.

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

async fn asked(program: String, address: String, token: String, more: &'static [&'static str]) -> Output {
    tokio::task::spawn_blocking(move || {
        // It keeps what it has seen in the folder it is started in.
        let folder = tempfile::tempdir().unwrap();
        Command::new(program)
            .current_dir(folder.path())
            .args(["run", &format!("{address}/openapi.json"), "--seed", "1", "--max-examples", QUESTIONS, "--continue-on-failure"])
            .args(["--generation-deterministic", "--header", &format!("Authorization: Bearer {token}")])
            .args(more)
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
    let output = asked(program, address, token, &["--checks", NOT_CHECKED, "--include-path", "/api/v1/shortlist"]).await;
    assert!(!output.status.success());
    service.abort();
}

/// The setting that names a folder in which `openapi-typescript` and `typescript` are installed.
const CLIENT_TOOLS: &str = "WINTERFIG_CLIENT_TOOLS";
/// A program that uses the generated types where two schemas once shared a name.
const CLIENT: &str = r#"import type { components, operations } from "./api";
type Body<O extends keyof operations> = operations[O]["responses"] extends { 200: { content: { "application/json": infer B } } } ? B : never;
export const grown = (answer: Body<"answer_spring">): number => answer.reports.first_growth;
export const total = (list: Body<"list_reports">): number => list.total;
export type Rest = components["schemas"]["RestJson"];
"#;

#[test]
fn a_client_generated_from_the_description_compiles() {
    let Ok(tools) = std::env::var(CLIENT_TOOLS) else {
        eprintln!("SKIPPED: {CLIENT_TOOLS} names no folder");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let run = |program: &str, arguments: &[&str]| {
        let path = std::path::Path::new(&tools).join("node_modules/.bin").join(program);
        let output = Command::new(path).current_dir(folder.path()).args(arguments).output().unwrap();
        (output.status.success(), format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr)))
    };
    let described = serde_json::to_string(&winterfig::routes::api::description()).unwrap();
    std::fs::write(folder.path().join("openapi.json"), described).unwrap();
    std::fs::write(folder.path().join("client.ts"), CLIENT).unwrap();
    let (made, said) = run("openapi-typescript", &["openapi.json", "-o", "api.ts"]);
    assert!(made, "{said}");
    let strict = ["--noEmit", "--strict", "--skipLibCheck", "client.ts", "api.ts"];
    let (compiles, said) = run("tsc", &strict);
    assert!(compiles, "{said}");
    // The compiler must be able to find fault.
    std::fs::write(folder.path().join("client.ts"), CLIENT.replace("first_growth", "no_such_key")).unwrap();
    assert!(!run("tsc", &strict).0);
}
