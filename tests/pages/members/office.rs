//! The office through the web door and beside it: members, suspension with its record, invitations, the society, the log, commands beside a
//! running service, and the door over plain HTTP.

use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::http::header::{CONTENT_TYPE, HOST, ORIGIN};
use axum::http::{Request, StatusCode};
use scraper::{Html, Selector};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use winterfig::ids::Ids;
use winterfig::jobs::office::service::{Office, OfficeError};
use winterfig::records::words::TopKilled;
use winterfig::records::{Actor, Member, ReviewState, Role};
use winterfig::store::{MemberFilter, Store};

use super::release::{file, zip};
use crate::support::client::{Client, PASSPHRASE, report_with, text};
use crate::support::members::{decided, evidence, joined, moment, record, submitted};
use crate::support::program::free_address;
use crate::support::{TestDatabase, on_both_engines};

async fn with_role(store: &Arc<dyn Store>, handle: &str, role: Role, like: Option<&Client>) -> (Client, Member) {
    let mut client = match like {
        Some(like) => like.another(),
        None => Client::new(store).await,
    };
    client.join(handle).await;
    let member = store.sign_in_facts(handle).await.unwrap().unwrap().0;
    store.change_role(member.id, role).await.unwrap();
    (client, store.member(member.id).await.unwrap().unwrap())
}

fn first(page: &Html, selector: &str, attribute: &str) -> String {
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector).next().unwrap_or_else(|| panic!("no {selector:?}")).value().attr(attribute).unwrap().to_owned()
}

/// The rows of a page's table, cells parted by spaces.
fn cells(page: &Html) -> Vec<String> {
    let (row, cell) = (Selector::parse("tbody tr").unwrap(), Selector::parse("th, td").unwrap());
    let words = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let cells = |row: scraper::ElementRef<'_>| row.select(&cell).map(|c| words(c.text().collect())).collect::<Vec<_>>().join(" ");
    page.select(&row).map(cells).collect()
}

const NEW: &str = "eleven dry winters out of twelve";

on_both_engines! {
    // Done when: an administrator resets a passphrase, suspends a vandal with twenty reports, and sees all of it in the log.
    async fn an_administrator_resets_a_passphrase_suspends_a_vandal_and_reads_it_all_in_the_log(database) {
        let store = database.open().await;
        let (mut keeper, _) = with_role(&store, "keeper", Role::Administrator, None).await;
        let (mut judge, steward) = with_role(&store, "the judge", Role::Steward, Some(&keeper)).await;
        let (mut grower, member) = with_role(&store, "grower", Role::Member, Some(&keeper)).await;
        let (mut vandal, culprit) = with_role(&store, "vandal", Role::Member, Some(&keeper)).await;
        for nth in 0..20 {
            let report = submitted(&*store, &culprit, "celeste", record(-9.4, TopKilled::Tips)).await;
            if nth < 12 {
                decided(&*store, &report, &steward, ReviewState::Accepted).await;
            }
        }
        // A passphrase that was forgotten: a code, shown once, that works once.
        let of_grower = format!("/office/members/{}", member.id);
        let page = keeper.post(&of_grower, &[("act", "reset_code")]).await.expect(StatusCode::OK).read().1;
        let code = text(&page, "code");
        let code = &code[code.find("/account/reset/").unwrap()..];
        assert!(!text(&keeper.get(&of_grower).await.read().1, "main").contains("/account/reset/"), "shown once");
        let mut elsewhere = grower.another();
        elsewhere.get(code).await.expect(StatusCode::OK);
        elsewhere.post(code, &[("new_passphrase", NEW)]).await.expect(StatusCode::OK);
        grower.get("/garden").await.expect(StatusCode::SEE_OTHER);
        elsewhere.post("/account/sign-in", &[("handle", "grower"), ("passphrase", NEW)]).await.expect(StatusCode::SEE_OTHER);
        assert!(!text(&elsewhere.post(code, &[("new_passphrase", PASSPHRASE)]).await.read().1, "h1").contains("changed"), "works once");
        // The vandal: words are needed, sessions end, the queue is empty.
        let of_vandal = format!("/office/members/{}", culprit.id);
        let refused = keeper.post(&of_vandal, &[("act", "suspend"), ("words", " ")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("write why"));
        assert!(text(&judge.get("/review").await.read().1, "h1").contains("8 reports wait"));
        keeper.post(&of_vandal, &[("act", "suspend"), ("words", "Twenty made-up winters.")]).await.expect(StatusCode::SEE_OTHER);
        assert!(text(&judge.get("/review").await.read().1, "h1").contains("No report waits"));
        vandal.get("/garden").await.expect(StatusCode::SEE_OTHER);
        // They sign in, read why, send nothing, and appeal.
        vandal.post("/account/sign-in", &[("handle", "vandal"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
        assert!(vandal.get("/account").await.expect(StatusCode::OK).body.contains("Twenty made-up winters."));
        let stopped = vandal.post("/garden/winter", &[("winter", "2025/26")]).await.expect(StatusCode::FORBIDDEN).body;
        assert!(stopped.contains("suspended"));
        vandal.post("/reports/new", &report_with(&[])).await.expect(StatusCode::FORBIDDEN);
        assert!(vandal.post("/account/appeal", &[("appeal", "")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("write what"));
        vandal.post("/account/appeal", &[("appeal", "It was my brother.")]).await.expect(StatusCode::SEE_OTHER);
        assert!(keeper.get("/office").await.expect(StatusCode::OK).body.contains("It was my brother."));
        keeper.post(&of_vandal, &[("act", "answer"), ("words", "Then sign out at night.")]).await.expect(StatusCode::SEE_OTHER);
        assert!(!keeper.get("/office").await.body.contains("It was my brother."), "answered");
        // On a steward's word the taken ones leave the model, and come back.
        let aside = format!("/review/reporters/{}/set-aside", culprit.id);
        assert!(judge.post(&aside, &[("words", "")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("say why"));
        let before = store.reports_version().await.unwrap();
        let done = judge.post(&aside, &[("words", "Made up.")]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(evidence(&*store).await.0.len(), 0);
        assert!(store.reports_version().await.unwrap() > before, "the model is fitted anew");
        let page = judge.get(done.location()).await.expect(StatusCode::OK).read().1;
        assert!(text(&page, ".note").contains("Set aside: 12 reports."), "{}", text(&page, ".note"));
        let deed = first(&page, "input[name=deed]", "value");
        judge.post("/review/undo", &[("deed", &deed), ("back", "/review")]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(evidence(&*store).await.0.len(), 12);
        keeper.post(&of_vandal, &[("act", "restore"), ("words", "Believed.")]).await.expect(StatusCode::SEE_OTHER);
        assert!(text(&judge.get("/review").await.read().1, "h1").contains("8 reports wait"), "the queue has them again");
        // All of it is in the log, on the page and in the table.
        let log = keeper.get("/office/log").await.expect(StatusCode::OK).read().1;
        let log = cells(&log).join("\n");
        let table = keeper.get("/office/log.csv").await.expect(StatusCode::OK).body;
        for (words, word) in [
            ("keeper made a one-time code for a new passphrase of grower", "reset_code"),
            ("keeper suspended vandal Twenty made-up winters.", "suspended"),
            ("keeper answered vandal Then sign out at night.", "answered"),
            ("the judge set every taken report aside of vandal 12: set aside", "set_aside_all"),
            ("the judge took decisions back 12", "taken_back"),
            ("keeper ended the suspension of vandal Believed.", "restored"),
        ] {
            assert!(log.contains(words), "{words}: {log}");
            assert!(table.contains(&format!(",{word},")), "{word}: {table}");
        }
        // Who is erased is gone from the log by name and by the words about them.
        let refused = keeper.post(&of_vandal, &[("act", "erase"), ("confirm", "vandl"), ("records", "remove")]).await;
        assert!(refused.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("type “vandal”"));
        keeper.post(&of_vandal, &[("act", "erase"), ("confirm", "vandal"), ("records", "remove")]).await.expect(StatusCode::SEE_OTHER);
        let log = keeper.get("/office/log").await.expect(StatusCode::OK).body;
        assert!(log.contains("erased an account") && !log.contains("vandal") && !log.contains("Twenty made-up"), "{log}");
        assert!(store.member(culprit.id).await.unwrap().is_none() && evidence(&*store).await.0.is_empty());
    }

    // A page of members stays small however many there are.
    async fn pages_of_members_hold_each_once_and_stay_under_a_hundred_kilobytes(database) {
        let store = database.open().await;
        let (mut keeper, _) = with_role(&store, "keeper", Role::Administrator, None).await;
        for nth in 0..250 {
            joined(&*store, &format!("grower with a long name {nth:03}"), Role::Member).await;
        }
        let (mut at, mut seen) = ("/office/members".to_owned(), Vec::new());
        loop {
            let answer = keeper.get(&at).await.expect(StatusCode::OK);
            assert!(answer.bytes.len() < 100_000, "{}", answer.bytes.len());
            let page = answer.read().1;
            seen.extend(crate::support::client::texts(&page, "tbody th"));
            let next = Selector::parse("p > a.button").unwrap();
            let Some(next) = page.select(&next).find(|a| a.text().collect::<String>().contains("next")) else { break };
            next.value().attr("href").unwrap().clone_into(&mut at);
        }
        assert_eq!(seen.len(), 251);
        seen.dedup();
        assert_eq!(seen.len(), 251, "each once");
        let found = keeper.get("/office/members?q=NAME+007").await.expect(StatusCode::OK).read().1;
        assert_eq!(crate::support::client::texts(&found, "tbody th"), ["grower with a long name 007"]);
        for query in ["role=king", "colour=blue", "suspended=maybe"] {
            keeper.get(&format!("/office/members?{query}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        }
    }

    async fn joining_is_open_by_invitation_or_closed_and_an_invitation_holds_as_often_as_it_says(database) {
        let store = database.open().await;
        let (mut keeper, _) = with_role(&store, "keeper", Role::Administrator, None).await;
        let society = |joining: &'static str| {
            vec![("name", "Fig growers of the lower valley"), ("contact", "Thursdays at the mill"), ("imprint", "A. Miller\nMill Lane 1"), ("joining", joining)]
        };
        assert!(keeper.post("/office/society", &society("maybe")).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("accepted"));
        keeper.post("/office/society", &society("invited")).await.expect(StatusCode::SEE_OTHER);
        let mut grower = keeper.another();
        let front = grower.get("/").await.expect(StatusCode::OK).body;
        assert!(front.contains("Fig growers of the lower valley") && front.contains("Thursdays at the mill") && front.contains("/imprint"));
        assert!(grower.get("/imprint").await.expect(StatusCode::OK).body.contains("Mill Lane 1"));
        assert!(grower.get("/reports/sheet").await.expect(StatusCode::OK).body.contains("Fig growers of the lower valley"));
        assert!(grower.get("/data").await.expect(StatusCode::OK).body.contains("Members of Fig growers of the lower valley ("));
        let package = zip(&store).await;
        let described = file(&package, "datapackage.json");
        assert!(described.contains("\"Members of Fig growers of the lower valley\"") && described.contains("\"publisher\""), "{described}");
        let read_me = file(&package, "README.md");
        for words in ["Published by Fig growers of the lower valley", "Thursdays at the mill", "A. Miller, Mill Lane 1"] {
            assert!(read_me.contains(words), "{words}: {read_me}");
        }
        assert!(file(&package, "CITATION.cff").contains("name: \"Members of Fig growers of the lower valley\""));
        let form = |handle: &'static str, code: &str| vec![("handle", handle.to_owned()), ("passphrase", PASSPHRASE.to_owned()), ("invitation", code.to_owned())];
        let pairs = |form: &[(&'static str, String)]| form.iter().map(|(name, value)| (*name, value.clone())).collect::<Vec<_>>();
        for code in ["", "made up"] {
            let form = pairs(&form("fig grower", code));
            let sent: Vec<(&str, &str)> = form.iter().map(|(name, value)| (*name, value.as_str())).collect();
            grower.post("/account/join", &sent).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        }
        let refused = keeper.post("/office/invitations", &[("uses", "0"), ("days", "many")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("is not a whole number"));
        let made = keeper.post("/office/invitations", &[("note", "autumn fair"), ("uses", "2")]).await.expect(StatusCode::OK).read().1;
        let address = text(&made, "code");
        let code = address.split("invitation=").nth(1).unwrap().to_owned();
        assert!(grower.get(&format!("/account?invitation={code}")).await.body.contains(&code), "the form holds it");
        for (handle, status) in [("fig one", StatusCode::SEE_OTHER), ("fig two", StatusCode::SEE_OTHER), ("fig three", StatusCode::UNPROCESSABLE_ENTITY)] {
            let form = pairs(&form(handle, &code));
            let sent: Vec<(&str, &str)> = form.iter().map(|(name, value)| (*name, value.as_str())).collect();
            keeper.another().post("/account/join", &sent).await.expect(status);
        }
        keeper.post("/office/society", &society("closed")).await.expect(StatusCode::SEE_OTHER);
        let closed = grower.post("/account/join", &[("handle", "fig four"), ("passphrase", PASSPHRASE)]).await;
        assert!(closed.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("nobody may join"));
        let by_report = report_with(&[("who", "new"), ("handle", "fig five"), ("passphrase", PASSPHRASE)]);
        grower.post("/reports/new", &by_report).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(store.member_count().await.unwrap(), 3);
    }

    // One reporter a row: members get theirs, others are credited by name, and the verdict on the whole batch is taken back with one press.
    async fn a_table_with_a_reporter_a_row_is_looked_at_then_taken_whole_or_not_at_all(database) {
        let store = database.open().await;
        let (mut keeper, me) = with_role(&store, "keeper", Role::Administrator, None).await;
        let fern = joined(&*store, "Fern", Role::Member).await;
        let table = "reporter,name,place,latitude,longitude,winter,looked,top,vitality,cover,coldest,thermometer\n\
            fern,Celeste,by the mill,44.1,12.2,2025/26,2026-05-20,tips,alive,none,-9,in_garden\n\
            Old Mr Reed,Celeste,by the lock,44.1,12.2,2025/26,2026-05-20,to_ground,alive,none,-9,in_garden\n\
            Old Mr Reed,Alma,by the lock,44.1,12.2,2025/26,2026-05-20,tips,alive,none,-9,in_garden\n\
            keeper,Celeste,own garden,44.1,12.2,2025/26,2026-05-20,tips,alive,none,-9,in_garden\n";
        let bad = table.replace("to_ground,alive", "gone,alive").replace("Old Mr Reed,Alma", ",Alma");
        let refused = keeper.upload("/office/import", bad.as_bytes(), &[("step", "look")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("line 3: top “gone”") && refused.contains("line 4: reporter"), "{refused}");
        assert!(keeper.upload("/office/import", b"", &[("step", "look")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("choose the table"));
        let page = keeper.upload("/office/import", table.as_bytes(), &[("step", "look")]).await.expect(StatusCode::OK).read().1;
        let rows = cells(&page);
        assert_eq!(rows, ["Old Mr Reed 2 credited by this name; no member", "fern 1 the member Fern", "keeper 1 the member keeper"]);
        let held = first(&page, "input[name=sent_before]", "value");
        assert_eq!(store.waiting_count().await.unwrap(), 0, "looking keeps nothing");
        let take = [("step", "take"), ("verdict", "take"), ("sent_before", held.as_str())];
        let done = keeper.upload("/office/import", b"", &take).await.expect(StatusCode::OK).read().1;
        assert!(text(&done, ".note").contains("4 reports are kept, 3 of them taken at once."), "{}", text(&done, ".note"));
        assert_eq!((store.waiting_count().await.unwrap(), evidence(&*store).await.0.len()), (1, 3), "one's own waits for another");
        assert_eq!((store.reports_of(fern.id).await.unwrap().len(), store.reports_of(me.id).await.unwrap().len()), (1, 1));
        // The same again, and a table with one old row, change nothing.
        let again = keeper.upload("/office/import", table.as_bytes(), &[("step", "take")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(again.contains("4 of its rows stand here already"), "{again}");
        let more = table.replace("Old Mr Reed,Alma", "Mrs Reed,Alma");
        keeper.upload("/office/import", more.as_bytes(), &[("step", "take")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!((store.waiting_count().await.unwrap(), evidence(&*store).await.0.len()), (1, 3));
        let deed = first(&done, "input[name=deed]", "value");
        keeper.post("/review/undo", &[("deed", &deed), ("back", "/review")]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!((store.waiting_count().await.unwrap(), evidence(&*store).await.0.len()), (4, 0));
        assert!(keeper.get("/office/log").await.body.contains("4 reports, 3 taken at once"));
    }

    async fn the_only_administrator_is_neither_suspended_nor_erased_and_nobody_does_it_to_themselves(database) {
        let store = database.open().await;
        let office = Office::new(Arc::clone(&store), Ids::system());
        let keeper = joined(&*store, "keeper", Role::Administrator).await;
        let (command, own) = (Actor::Command, Actor::Member(keeper.id));
        let now = moment(50);
        assert!(matches!(office.suspend(command, &keeper, "why", now).await, Err(OfficeError::LastAdministrator)));
        assert!(matches!(office.erase(command, &keeper, winterfig::store::Leaving::KeepRecords, now).await, Err(OfficeError::LastAdministrator)));
        assert!(matches!(office.give_role(command, &keeper, Role::Member, now).await, Err(OfficeError::LastAdministrator)));
        let second = joined(&*store, "second", Role::Administrator).await;
        assert!(matches!(office.suspend(own, &keeper, "why", now).await, Err(OfficeError::Own)));
        office.suspend(own, &second, "why", now).await.unwrap();
        // A suspended one does not count as one who remains.
        assert!(matches!(office.suspend(command, &keeper, "why", now).await, Err(OfficeError::LastAdministrator)));
        let second = store.member(second.id).await.unwrap().unwrap();
        assert!(!second.may_review() && !second.may_administer());
        assert!(matches!(office.restore(command, &keeper, "why", now).await, Err(OfficeError::NotSuspended)));
        let suspended = store.members_among(&MemberFilter { suspended: true, ..MemberFilter::default() }, 9).await.unwrap();
        assert_eq!(suspended.iter().map(|member| member.id).collect::<Vec<_>>(), [second.id]);
    }
}

async fn asked(listen: std::net::SocketAddr, request: &str) -> String {
    let mut stream = TcpStream::connect(listen).await.unwrap();
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.unwrap();
    String::from_utf8_lossy(&answer).into_owned()
}

fn ran(words: &[&str]) -> (bool, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_winterfig")).args(words).output().unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    (output.status.success(), said)
}

// Beside a running service on SQLite, with the same rules; and the door of a home network.
#[tokio::test]
async fn commands_reach_a_running_service_and_a_home_network_signs_in_over_plain_http() {
    let database = TestDatabase::sqlite();
    let listen = free_address();
    let mut program = Command::new(env!("CARGO_BIN_EXE_winterfig"))
        .args(["serve", "--listen", &listen.to_string(), "--database", &database.address, "--insecure-http"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    while TcpStream::connect(listen).await.is_err() {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let body = format!("handle=fern&passphrase={}", PASSPHRASE.replace(' ', "+"));
    let join = format!(
        "POST /account/join HTTP/1.1\r\nHost: raspberry\r\nOrigin: http://raspberry\r\nConnection: close\r\nContent-Type: \
         application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    let joined = asked(listen, &join).await;
    assert!(joined.starts_with("HTTP/1.1 303"), "{joined}");
    let cookie = joined.lines().find(|line| line.starts_with("set-cookie: winterfig-plain=")).unwrap();
    assert!(!cookie.contains("Secure") && cookie.contains("HttpOnly"));
    let session = cookie.trim_start_matches("set-cookie: ").split(';').next().unwrap();
    let get = |path: &str| format!("GET {path} HTTP/1.1\r\nHost: raspberry\r\nCookie: {session}\r\nConnection: close\r\n\r\n");
    let garden = asked(listen, &get("/garden")).await;
    assert!(garden.starts_with("HTTP/1.1 200") && garden.contains("Not encrypted."), "{garden}");
    let at = ["--database", database.address.as_str()];
    let order = |words: &[&str]| ran(&[words, &at].concat());
    assert_eq!(order(&["member", "role", "fern", "administrator"]), (true, "fern is administrator now\n".to_owned()));
    assert!(asked(listen, &get("/office")).await.starts_with("HTTP/1.1 200"));
    let (done, said) = order(&["member", "suspend", "fern", "--because", "x"]);
    assert!(!done && said.contains("only administrator"), "{said}");
    let (done, said) = order(&["member", "reset", "fernn"]);
    assert!(!done && said.contains("no such member"), "{said}");
    assert!(order(&["member", "erase", "fern"]).1.contains("--yes"));
    assert!(order(&["member", "invite", "--uses", "3"]).1.contains("/account?invitation="));
    assert!(order(&["office", "society", "--name", "Fig growers", "--joining", "closed"]).0);
    assert!(asked(listen, &get("/")).await.contains("Fig growers"), "the running service knows at once");
    assert!(order(&["office", "show"]).1.contains("joining\tnobody may join"));
    let log = order(&["office", "log", "--csv"]).1;
    assert!(log.contains(",command,role,fern,") && log.contains(",command,society,"), "{log}");
    let copy = format!("{}.copy", database.address.trim_start_matches("sqlite:"));
    assert!(order(&["backup", &copy]).0);
    assert!(std::path::Path::new(&format!("{copy}.erased")).exists());
    assert!(!order(&["office", "show"]).1.contains("last backup\tnot known"));
    program.kill().unwrap();
    program.wait().unwrap();
    // Without a service the command does it itself.
    assert!(order(&["member", "role", "fern", "steward"]).1.contains("only administrator"));
    assert!(order(&["member", "reset", "fern"]).1.contains("/account/reset/"));
}

// Without the setting nobody is taken in whom the browser then does not know.
#[tokio::test]
async fn over_plain_http_elsewhere_the_door_says_so_and_takes_nobody_in() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let door = Request::get("/account").header(HOST, "raspberry:8080").body(Body::empty()).unwrap();
    assert!(client.send(door).await.body.contains("Signing in will not work on this address"));
    for host in ["localhost:8080", "127.0.0.1:8080", "[::1]:8080"] {
        let door = Request::get("/account").header(HOST, host).body(Body::empty()).unwrap();
        assert!(!client.send(door).await.body.contains("Signing in will not work"), "{host}");
    }
    let join = |origin: &'static str| {
        Request::post("/account/join")
            .header(HOST, "raspberry:8080")
            .header(ORIGIN, origin)
            .header(CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(format!("handle=fern&passphrase={}", PASSPHRASE.replace(' ', "+"))))
            .unwrap()
    };
    let refused = client.send(join("http://raspberry:8080")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.body.contains("--insecure-http") && refused.body.contains("value=\"fern\""));
    assert_eq!(store.member_count().await.unwrap(), 0);
}
