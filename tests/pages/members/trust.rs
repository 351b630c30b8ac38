//! Sessions, passphrase fields, the API's content types and the log. Ids in brackets: OWASP Application Security Verification Standard
//! 5.0.0 (May 2025).

use std::process::{Command, Stdio};
use std::time::Duration;

use axum::body::Body;
use axum::http::header::{CONTENT_TYPE, USER_AGENT};
use axum::http::{Request, StatusCode};
use scraper::{Html, Selector};
use serde_json::Value;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::support::TestDatabase;
use crate::support::client::{Client, PASSPHRASE};
use crate::support::program::free_address;

/// The same member on another device.
async fn elsewhere(client: &Client, handle: &str) -> Client {
    let mut other = client.another();
    other.post("/account/sign-in", &[("handle", handle), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    other
}

// SES-06 [7.5.2]: a member sees every session and ends another only with the passphrase.
#[tokio::test]
async fn another_session_is_ended_with_the_passphrase_alone() {
    let database = TestDatabase::sqlite();
    let mut here = Client::new(&database.open().await).await;
    here.join("fern").await;
    let mut there = elsewhere(&here, "fern").await;
    let page = Html::parse_document(&here.get("/account").await.body);
    let choices = Selector::parse("input[name=session]").unwrap();
    assert_eq!(page.select(&choices).count(), 3, "two sessions and all others");
    let wrong = [("session", "others"), ("session_passphrase", "not the passphrase at all")];
    here.post("/account/end-session", &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    there.get("/garden").await.expect(StatusCode::OK);
    here.post("/account/end-session", &[("session", "others"), ("session_passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    there.get("/garden").await.expect(StatusCode::SEE_OTHER);
    here.get("/garden").await.expect(StatusCode::OK);
}

// SES-05 [7.4.2]: who has left is out everywhere, at the next request.
#[tokio::test]
async fn an_account_that_is_gone_takes_its_sessions_along() {
    let database = TestDatabase::sqlite();
    let mut here = Client::new(&database.open().await).await;
    here.join("fern").await;
    let mut there = elsewhere(&here, "fern").await;
    let left = here.post("/account/leave", &[("records", "keep"), ("leave_passphrase", PASSPHRASE)]).await;
    assert!(left.status.is_redirection(), "{}", left.body);
    there.get("/garden").await.expect(StatusCode::SEE_OTHER);
    assert!(!there.get("/account").await.body.contains("fern"));
}

// SES-07: who reads the data file cannot go on in anybody's name.
#[tokio::test]
async fn the_data_file_holds_no_secret_that_a_browser_or_program_holds() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("fern").await;
    let page = client.post("/account/tokens", &[("token_name", "thermometer")]).await.expect(StatusCode::OK).body;
    let token = page.split("<code>").nth(1).unwrap().split("</code>").next().unwrap().to_owned();
    let secret = client.cookie.clone().unwrap().split_once('=').unwrap().1.to_owned();
    store.close().await;
    let file = std::fs::read(database.address.trim_start_matches("sqlite:")).unwrap();
    let holds = |text: &str| file.windows(text.len()).any(|bytes| bytes == text.as_bytes());
    assert!(holds("fern") && holds("thermometer") && holds("$argon2id$"));
    for text in [secret.as_str(), token.as_str(), PASSPHRASE] {
        assert!(!holds(text));
    }
}

// PWD-04 [6.2.6, 6.2.7; WCAG 2.2, 3.3.8]: passphrases are hidden, may be pasted, and a keeper of passwords knows which is which.
#[tokio::test]
async fn passphrase_fields_say_what_they_are_and_let_paste() {
    let database = TestDatabase::sqlite();
    let mut client = Client::new(&database.open().await).await;
    let mut seen = 0;
    let mut look = |body: &str| {
        let page = Html::parse_document(body);
        for field in page.select(&Selector::parse("input[name*=passphrase]").unwrap()) {
            seen += 1;
            let value = field.value();
            assert_eq!(value.attr("type"), Some("password"), "{}", field.html());
            assert!(matches!(value.attr("autocomplete"), Some("new-password" | "current-password")), "{}", field.html());
            assert!(value.attr("onpaste").is_none() && value.attr("maxlength").is_none(), "{}", field.html());
        }
    };
    for address in ["/account", "/reports/new"] {
        look(&client.get(address).await.body);
    }
    client.join("fern").await;
    look(&client.get("/account").await.body);
    assert!(seen >= 6, "{seen}");
    for script in ["draft.js", "tonight.js"] {
        let script = client.get(&format!("/static/{script}")).await.expect(StatusCode::OK).body;
        assert!(!script.is_empty() && !script.contains("paste"));
    }
}

// CSR-05 [3.5.2]: what a form of another site can send is not read as JSON.
#[tokio::test]
async fn addresses_that_read_json_read_nothing_else() {
    let database = TestDatabase::sqlite();
    let mut client = Client::new(&database.open().await).await;
    client.join("fern").await;
    let page = client.post("/account/tokens", &[("token_name", "thermometer")]).await.body;
    let token = page.split("<code>").nth(1).unwrap().split("</code>").next().unwrap().to_owned();
    for address in ["/api/v1/cold-night", "/api/v1/shelter", "/api/v1/reports"] {
        for kind in ["text/plain", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded", ""] {
            let request = Request::post(address).header("authorization", format!("Bearer {token}")).header("sec-fetch-site", "same-origin");
            let request = if kind.is_empty() { request } else { request.header(CONTENT_TYPE, kind) };
            client.send(request.body(Body::from("{}")).unwrap()).await.expect(StatusCode::UNSUPPORTED_MEDIA_TYPE);
        }
        let request = Request::post(address).header("authorization", format!("Bearer {token}")).header("sec-fetch-site", "same-origin");
        let request = request.header(CONTENT_TYPE, "Application/JSON; charset=utf-8").header(USER_AGENT, "a program");
        client.send(request.body(Body::from("{}")).unwrap()).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }
}

async fn asked(listen: std::net::SocketAddr, request: &str) -> String {
    let mut stream = TcpStream::connect(listen).await.unwrap();
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.unwrap();
    String::from_utf8_lossy(&answer).into_owned()
}

// ERR-02, ERR-03 [16.2.1 to 16.2.5, 16.3.1 to 16.3.3, 16.4.1]: the log says when, which request, which route, what came of it and who as a
// code, sign-ins and refusals included; no secret, address of anybody or exact place is in it; nobody adds a line to it.
#[tokio::test]
async fn the_log_tells_what_happened_and_no_secret() {
    let database = TestDatabase::sqlite();
    let listen = free_address();
    let mut program = Command::new(env!("CARGO_BIN_EXE_winterfig"))
        .args(["serve", "--listen", &listen.to_string(), "--database", &database.address, "--log-json"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    while TcpStream::connect(listen).await.is_err() {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let form = |address: &str, more: &str, body: &str| {
        format!(
            "POST {address} HTTP/1.1\r\nHost: a\r\n{more}Connection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n\r\n{body}",
            body.len()
        )
    };
    let own = "Sec-Fetch-Site: same-origin\r\nUser-Agent: spy\tred\r\n";
    // A code that colours a terminal does not even get in.
    let coloured = asked(listen, "GET / HTTP/1.1\r\nHost: a\r\nUser-Agent: spy\u{1b}[31m\r\nConnection: close\r\n\r\n").await;
    assert!(coloured.starts_with("HTTP/1.1 400"), "{coloured}");
    let passphrase = PASSPHRASE.replace(' ', "+");
    let joined =
        asked(listen, &form("/account/join", own, &format!("handle=fern&email=fern%40garden.example&passphrase={passphrase}"))).await;
    let cookie = joined.lines().find_map(|line| line.strip_prefix("set-cookie: __Host-winterfig=")).unwrap().split(';').next().unwrap();
    let mine = format!("{own}Cookie: __Host-winterfig={cookie}\r\n");
    let report = "name=Celeste&place=by+the+mill&latitude=44.1734&longitude=-12.2291&planted=2018&winter=2023%2F24&looked=2024-05-20&top=tips\
                  &vitality=alive&cover=none&note=under%0D%0A%7B%22level%22%3A%22FORGED%22%7D";
    assert!(asked(listen, &form("/reports/new", &mine, report)).await.starts_with("HTTP/1.1 303"));
    asked(listen, &form("/account/sign-in", own, "handle=fern&passphrase=guessed+by+somebody")).await;
    asked(listen, &form("/account/sign-in", "Sec-Fetch-Site: cross-site\r\n", "handle=fern&passphrase=x")).await;
    for _ in 0..4 {
        asked(listen, &form("/account/sign-in", own, "handle=%0D%0AFORGED&passphrase=guessed+again+by+somebody")).await;
    }
    asked(listen, "GET /cultivars/celeste?q=FORGED%0AFORGED HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").await;
    program.kill().unwrap();
    let log = String::from_utf8(program.wait_with_output().unwrap().stderr).unwrap();
    let lines: Vec<Value> = log.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|_| panic!("not one line: {line}"))).collect();

    let answers: Vec<&Value> = lines.iter().filter(|line| line["span"]["name"] == "request" && line["fields"]["status"].is_u64()).collect();
    assert_eq!(answers.len(), 9);
    for line in &answers {
        assert!(line["timestamp"].as_str().unwrap().ends_with('Z'));
        assert!(line["span"]["id"].as_str().unwrap().len() > 20 && line["span"]["route"].as_str().unwrap().starts_with('/'), "{line}");
    }
    let status_of = |status: u64| answers.iter().filter(|line| line["fields"]["status"] == status).count();
    assert_eq!((status_of(303), status_of(403)), (2, 1));
    assert!(status_of(401) + status_of(422) >= 1 && status_of(429) >= 1, "{answers:#?}");
    assert!(answers.iter().any(|line| line["span"]["session"].as_str().is_some_and(|code| code.len() == 12)));
    let said = |words: &str| lines.iter().any(|line| line["fields"]["message"] == words);
    assert!(said("a member joined") && said("sign-in failed") && said("refused"));
    for secret in [cookie, "seven", "guessed", "garden.example", "44.17", "12.22", "by the mill", "FORGED", "\u{1b}", "spy"] {
        assert!(!log.contains(secret), "{secret} is in the log");
    }
}
