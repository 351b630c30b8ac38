//! Members and reports through the web door: join, report, review, change, withdraw, leave. Numbers of OWASP ASVS 5.0 (ASVS) and of the
//! house's own list of checks stand beside the tests.

use crate::support::client::{Client, GENEROUS, PASSPHRASE, REPORT, report_with, service};
use crate::support::members::evidence;
use crate::support::{TestDatabase, on_both_engines};
use axum::body::Body;
use axum::http::header::{CACHE_CONTROL, COOKIE, RETRY_AFTER, SET_COOKIE};
use axum::http::{Request, StatusCode};
use winterfig::jobs::accounts::limits::Allowances;
use winterfig::records::Role;

/// A steward who has joined through the door.
async fn steward(store: &std::sync::Arc<dyn winterfig::store::Store>, like: &Client) -> Client {
    let mut judge = like.another();
    judge.join("judge").await;
    let id = store.sign_in_facts("judge").await.unwrap().unwrap().0.id;
    store.change_role(id, Role::Steward).await.unwrap();
    judge
}

/// The answers of [`REPORT`] that describe the plant.
const PLANT: [&str; 5] = ["name", "place", "latitude", "longitude", "planted"];

fn nonce() -> String {
    uuid::Uuid::now_v7().to_string()
}

on_both_engines! {
    async fn a_stranger_reports_a_winter_joins_in_the_same_step_and_a_steward_takes_it(database) {
        let store = database.open().await;
        let mut grower = Client::new(&store).await;
        grower.get("/reports/new").await.expect(StatusCode::OK);
        let nonce = nonce();
        let sent = grower
            .post("/reports/new", &report_with(&[("who", "new"), ("handle", "fig grower"), ("passphrase", PASSPHRASE), ("nonce", &nonce)]))
            .await
            .expect(StatusCode::SEE_OTHER);
        let address = sent.location().to_owned();
        let page = grower.get(&address).await.expect(StatusCode::OK).body;
        assert!(page.contains("Thank you") && page.contains("waiting for review") && page.contains("behind the shed"));
        let (path, _) = address.split_once('?').unwrap();
        // Until it is taken nobody else sees it (ACL-02: the same page as a missing one).
        let mut stranger = grower.another();
        stranger.get(path).await.expect(StatusCode::NOT_FOUND);

        let mut judge = steward(&store, &grower).await;
        let queue = judge.get("/review").await.expect(StatusCode::OK).body;
        let id = path.rsplit('/').next().unwrap();
        assert!(queue.contains(id) && queue.contains("One report waits"));
        let no_reason = [("version", "1"), ("state", "set_aside"), ("reason", "plausible"), ("words", "No.")];
        let refused = judge.post(&format!("/review/{id}"), &no_reason).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("choose what speaks against the report") && refused.contains("No."));
        // A steward asks, the reporter answers, and both read what was said.
        let asked = [("version", "1"), ("state", "cannot_tell"), ("reason", "outcome_unclear"), ("words", "Which tips, of how many?")];
        judge.post(&format!("/review/{id}"), &asked).await.expect(StatusCode::SEE_OTHER);
        let told = grower.get(path).await.expect(StatusCode::OK).body;
        assert!(told.contains("cannot tell") && told.contains("Which tips, of how many?"));
        let mut answer: Vec<(&str, &str)> = REPORT.iter().copied().filter(|(name, _)| !PLANT.contains(name)).collect();
        answer.push(("version", "1"));
        let long = "long ".repeat(300);
        let refused = grower.post(&format!("{path}/change"), &[answer.as_slice(), &[("why", long.as_str())]].concat()).await;
        let refused = refused.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("at most 1000") && refused.contains(long.trim()), "nothing typed is lost");
        answer.push(("why", "Every one, of some forty."));
        grower.post(&format!("{path}/change"), &answer).await.expect(StatusCode::SEE_OTHER);
        let case = judge.get(&format!("/review/{id}")).await.expect(StatusCode::OK).body;
        assert!(case.contains("the reporter answered") && case.contains("Every one, of some forty.") && case.contains("You judged an earlier"));
        judge
            .post(&format!("/review/{id}"), &[("version", "2"), ("state", "taken"), ("reason", "plausible"), ("words", "")])
            .await
            .expect(StatusCode::SEE_OTHER);
        let public = stranger.get(path).await.expect(StatusCode::OK).body;
        assert!(public.contains("taken") && !public.contains("behind the shed") && !public.contains("by the mill"));
        assert!(!public.contains("Which tips") && !public.contains("some forty"));
        assert_eq!(evidence(&*store).await.0.len(), 1);
    }

    async fn sending_the_same_form_twice_keeps_one_report(database) {
        let store = database.open().await;
        let mut grower = Client::new(&store).await;
        grower.join("fig grower").await;
        let nonce = nonce();
        let pairs = report_with(&[("nonce", &nonce)]);
        let first = grower.post("/reports/new", &pairs).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        let second = grower.post("/reports/new", &pairs).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert_eq!(first, second);
        assert_eq!(store.waiting_count().await.unwrap(), 1);
    }
}

async fn open() -> (TestDatabase, std::sync::Arc<dyn winterfig::store::Store>, Client) {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let client = Client::new(&store).await;
    (database, store, client)
}

// INP-03: the server answers 422 in words and keeps what was typed, never the passphrase; nobody is taken in for answers of no use.
#[tokio::test]
async fn wrong_answers_come_back_with_what_was_typed_and_without_the_passphrase() {
    let (_database, store, mut grower) = open().await;
    let pairs = report_with(&[("coldest", "minus nine"), ("who", "new"), ("handle", "fig grower"), ("passphrase", PASSPHRASE)]);
    let again = grower.post("/reports/new", &pairs).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(again.contains("value=\"minus nine\"") && again.contains("value=\"by the mill\"") && again.contains("is not a number"));
    assert!(!again.contains(PASSPHRASE));
    assert!(store.members().await.unwrap().is_empty());
    assert_eq!(grower.cookie, None);
}

#[tokio::test]
async fn a_weak_passphrase_or_a_taken_name_keeps_the_report_in_the_form() {
    let (_database, store, mut grower) = open().await;
    let weak = report_with(&[("who", "new"), ("handle", "fig grower"), ("passphrase", "too short")]);
    let again = grower.post("/reports/new", &weak).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(again.contains("at least 15 characters") && again.contains("value=\"by the mill\""));
    grower.another().join("fig grower").await;
    let taken = report_with(&[("who", "new"), ("handle", "Fig-Grower"), ("passphrase", PASSPHRASE)]);
    let again = grower.post("/reports/new", &taken).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(again.contains("another member goes by this name"));
    assert_eq!(store.waiting_count().await.unwrap(), 0);
}

// SES-02, SES-03 (ASVS 7.2.4, 7.4.1): a new secret at each sign-in, the old one dead after sign-out; one planted before is not adopted.
#[tokio::test]
async fn sessions_begin_with_a_fresh_secret_and_end_for_good() {
    let (_database, _store, mut grower) = open().await;
    grower.cookie = Some("__Host-winterfig=planted".to_owned());
    grower.join("fig grower").await;
    let first = grower.cookie.clone().unwrap();
    assert!(!first.contains("planted"));
    grower.get("/garden").await.expect(StatusCode::OK);
    grower.post("/account/sign-in", &[("handle", "Fig Grower"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    let second = grower.cookie.clone().unwrap();
    assert_ne!(first, second);
    let out = grower.post("/account/sign-out", &[]).await.expect(StatusCode::SEE_OTHER);
    assert!(out.headers.contains_key("clear-site-data"));
    grower.cookie = Some(second);
    let answer = grower.get("/garden").await.expect(StatusCode::SEE_OTHER);
    assert_eq!(answer.location(), "/account?next=/garden");
}

// PWD-07, PWD-09 (ASVS 6.3.1, 6.3.8): known and unknown names answer alike; after ten failures the account has to wait, with the time to.
#[tokio::test]
async fn failed_sign_ins_answer_alike_and_are_stopped_after_ten() {
    let (_database, _store, mut grower) = open().await;
    grower.another().join("fig grower").await;
    let wrong = [("handle", "fig grower"), ("passphrase", "not my passphrase at all")];
    let known = grower.post("/account/sign-in", &wrong).await.expect(StatusCode::UNAUTHORIZED);
    let unknown = grower.post("/account/sign-in", &[("handle", "fig growel"), wrong[1]]).await.expect(StatusCode::UNAUTHORIZED);
    assert_eq!(known.body.replace("fig grower", ""), unknown.body.replace("fig growel", ""));
    for _ in 1..10 {
        grower.post("/account/sign-in", &wrong).await.expect(StatusCode::UNAUTHORIZED);
    }
    let stopped = grower.post("/account/sign-in", &wrong).await.expect(StatusCode::TOO_MANY_REQUESTS);
    assert!(stopped.headers.contains_key(RETRY_AFTER));
}

// DOS-05: over the limit is 429 with the time to wait, in plain words.
#[tokio::test]
async fn joining_and_writing_too_often_is_answered_with_the_time_to_wait() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let allow = Allowances { joins_per_hour: 2, writes_burst: 2, ..GENEROUS };
    let allow = Allowances { writes_per_minute: 1, ..allow };
    let mut grower = Client::over(service(&store, "2026-06-20T10:00:00Z", allow).await);
    grower.join("grower one").await;
    grower.another().join("grower two").await;
    let third = grower.another().post("/account/join", &[("handle", "grower three"), ("passphrase", PASSPHRASE)]).await;
    assert!(third.expect(StatusCode::TOO_MANY_REQUESTS).headers.contains_key(RETRY_AFTER));
    for _ in 0..2 {
        grower.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.expect(StatusCode::SEE_OTHER);
    }
    let stopped = grower.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.expect(StatusCode::TOO_MANY_REQUESTS);
    assert!(stopped.body.contains("please wait"));
}

// CSR-01, CSR-02 (ASVS 3.5.1): a write with the cookie from elsewhere, or from nowhere that can be told, is refused.
#[tokio::test]
async fn writes_from_other_sites_or_without_any_are_refused_with_a_cookie() {
    let (_database, store, mut grower) = open().await;
    grower.join("fig grower").await;
    let request = |name: &'static str, value: &'static str| {
        let builder = Request::post("/account/sign-out").header("host", "fig.example").header(COOKIE, grower.cookie.clone().unwrap());
        let builder = if name.is_empty() { builder } else { builder.header(name, value) };
        builder.header("content-type", "application/x-www-form-urlencoded").body(Body::empty()).unwrap()
    };
    let requests = [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("origin", "https://evil.example"),
        ("origin", "http://fig.example:81"),
        ("origin", "null"),
        ("", ""),
    ]
    .map(|(name, value)| (name, value, request(name, value)));
    for (name, value, request) in requests {
        let status = grower.send(request).await.status;
        assert_eq!(status, StatusCode::FORBIDDEN, "{name} {value}");
    }
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0;
    assert_eq!(store.sessions_of(member.id).await.unwrap().len(), 1);
}

// ACL-01, ACL-02 (ASVS 8.2.1, 8.2.2): pages of stewards do not exist for others; the report, plant and session of another neither.
#[tokio::test]
async fn what_belongs_to_another_does_not_exist() {
    let (_database, store, mut one) = open().await;
    one.join("grower one").await;
    let address = one.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.location().to_owned();
    let report = address.split_once('?').unwrap().0.to_owned();
    let plant = store.plants_of(store.sign_in_facts("grower one").await.unwrap().unwrap().0.id).await.unwrap()[0].id;
    let mut two = one.another();
    two.join("grower two").await;
    let missing = two.get("/reports/01890000-0000-7000-8000-000000000000").await.expect(StatusCode::NOT_FOUND).body;
    let theirs = two.get(&report).await.expect(StatusCode::NOT_FOUND).body;
    let plain = |page: &str| {
        page.lines()
            .filter(|l| !l.contains("Request ") && !l.contains("name=\"back\"") && !l.contains("Address of this page"))
            .collect::<String>()
    };
    assert_eq!(plain(&missing), plain(&theirs));
    two.get(&format!("{report}/change")).await.expect(StatusCode::NOT_FOUND);
    two.post(&format!("{report}/withdraw"), &[]).await.expect(StatusCode::NOT_FOUND);
    two.get(&format!("/garden/plants/{plant}")).await.expect(StatusCode::NOT_FOUND);
    two.get("/review").await.expect(StatusCode::NOT_FOUND);
    let mine = plant.to_string();
    two.post("/reports/new", &report_with(&[("plant", &mine)])).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    one.another().get("/garden").await.expect(StatusCode::SEE_OTHER);
}

// ACL-03 (ASVS 15.3.3): fields that are not the sender's to give are refused.
#[tokio::test]
async fn fields_of_the_house_cannot_be_sent_along() {
    let (_database, _store, mut grower) = open().await;
    grower.join("fig grower").await;
    for field in ["state", "role", "owner", "reporter", "flags", "version"] {
        let answer = grower.post("/reports/new", &report_with(&[(field, "taken")])).await;
        assert!(answer.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("there is no field"));
    }
}

// ACL-05 (ASVS 8.3.2): nobody judges their own; a steward who is one no longer loses the power at the next request.
#[tokio::test]
async fn nobody_judges_their_own_report_and_power_ends_with_the_role() {
    let (_database, store, grower) = open().await;
    let mut judge = steward(&store, &grower).await;
    let address = judge.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.location().to_owned();
    let id = address.split_once('?').unwrap().0.rsplit('/').next().unwrap().to_owned();
    let own = judge.post(&format!("/review/{id}"), &[("version", "1"), ("state", "taken"), ("reason", "plausible")]).await;
    assert!(own.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("nobody decides on a report of their own"));
    let member = store.sign_in_facts("judge").await.unwrap().unwrap().0;
    store.change_role(member.id, Role::Member).await.unwrap();
    judge.get("/review").await.expect(StatusCode::NOT_FOUND);
}

// DUR-10 (ASVS 15.4.2): of two changes made from one version the second gets 409 with both texts.
#[tokio::test]
async fn a_change_made_from_an_old_version_is_answered_with_both_texts() {
    let (_database, _store, mut grower) = open().await;
    grower.join("fig grower").await;
    let address = grower.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.location().to_owned();
    let report = address.split_once('?').unwrap().0.to_owned();
    let changed = |top: &'static str| {
        vec![
            ("version", "1"),
            ("why", "looked again"),
            ("winter", "2025/26"),
            ("looked", "2026-05-21"),
            ("top", top),
            ("vitality", "alive"),
            ("cover", "none"),
        ]
    };
    grower.post(&format!("{report}/change"), &changed("up_to_third")).await.expect(StatusCode::SEE_OTHER);
    let conflict = grower.post(&format!("{report}/change"), &changed("to_ground")).await.expect(StatusCode::CONFLICT).body;
    assert!(conflict.contains("Up to a third of the height") && conflict.contains("value=\"to_ground\" checked"));
}

// HDR-07 (ASVS 14.3.2): what a member sees is kept by nobody on the way.
#[tokio::test]
async fn pages_with_a_session_are_not_to_be_stored() {
    let (_database, _store, mut grower) = open().await;
    assert!(!grower.get("/reports/new").await.headers.contains_key(SET_COOKIE));
    grower.join("fig grower").await;
    for page in ["/garden", "/account", "/reports/new", "/account/mine.json"] {
        let answer = grower.get(page).await.expect(StatusCode::OK);
        assert_eq!(answer.headers.get(CACHE_CONTROL).unwrap(), "no-store", "{page}");
    }
}

// PRV-01, PRV-02: everything kept is in one download; after leaving nothing of it is left.
#[tokio::test]
async fn a_member_takes_everything_along_and_leaves_nothing_behind() {
    let (_database, store, mut grower) = open().await;
    grower.join("fig grower").await;
    grower.post("/reports/new", &report_with(&[("nonce", &nonce())])).await.expect(StatusCode::SEE_OTHER);
    let mine = grower.get("/account/mine.json").await.expect(StatusCode::OK);
    assert!(mine.headers.get("content-disposition").unwrap().to_str().unwrap().starts_with("attachment"));
    for part in ["fig grower", "by the mill", "behind the shed", "\"tips\"", "44.17"] {
        assert!(mine.body.contains(part), "{part}");
    }
    let wrong = grower.post("/account/leave", &[("records", "remove"), ("leave_passphrase", "another passphrase")]).await;
    wrong.expect(StatusCode::UNPROCESSABLE_ENTITY);
    grower.post("/account/leave", &[("records", "remove"), ("leave_passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    assert!(store.members().await.unwrap().is_empty());
    assert_eq!(store.waiting_count().await.unwrap(), 0);
}

// PWD-06 (ASVS 6.2.3, 7.4.3) and PWD-10 (6.3.2): the passphrase changes only with the present one; the code of the log works once.
#[tokio::test]
async fn the_passphrase_changes_with_the_present_one_and_the_first_code_works_once() {
    let (_database, store, mut grower) = open().await;
    grower.join("fig grower").await;
    let old_cookie = grower.cookie.clone();
    let new = "eight dry summers after that";
    grower
        .post("/account/passphrase", &[("old_passphrase", "wrong wrong wrong"), ("new_passphrase", new)])
        .await
        .expect(StatusCode::UNPROCESSABLE_ENTITY);
    grower.post("/account/passphrase", &[("old_passphrase", PASSPHRASE), ("new_passphrase", new)]).await.expect(StatusCode::SEE_OTHER);
    assert_ne!(grower.cookie, old_cookie);
    grower.get("/account").await.expect(StatusCode::OK);
    store.offer_first_code(&winterfig::token::hash("code"), "2026-06-20T10:00:00Z".parse().unwrap()).await.unwrap();
    grower.post("/account/first-code", &[("code", "other")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    grower.post("/account/first-code", &[("code", "code")]).await.expect(StatusCode::SEE_OTHER);
    grower.get("/review").await.expect(StatusCode::OK);
}

// N36: the model's own rule among the published flags. It is kept with the report and refuses nothing.
#[tokio::test]
async fn an_outcome_the_model_finds_very_unlikely_is_flagged_and_kept() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("fig grower").await;
    let with = |top, vitality, coldest| -> Vec<(&str, &str)> {
        let other = |k: &str, v| match k {
            "top" => top,
            "vitality" => vitality,
            "coldest" => coldest,
            "coldest_unit" => "c",
            "place" => {
                if top == "none" {
                    "by the mill"
                } else {
                    "by the weir"
                }
            }
            _ => v,
        };
        REPORT.iter().map(|(k, v)| (*k, other(k, *v))).collect()
    };
    // An established plant dead at −3 °C, and one unharmed there.
    for (top, vitality) in [("to_ground", "dead"), ("none", "alive")] {
        client.post("/reports/new", &with(top, vitality, "-3")).await.expect(StatusCode::SEE_OTHER);
    }
    let waiting = store.waiting(10).await.unwrap();
    assert_eq!(waiting.len(), 2);
    for report in waiting {
        let surprise = report.flags.iter().find(|flagged| flagged.flag.word() == "SURPRISING");
        let dead = report.record.vitality.word() == "dead";
        assert_eq!(surprise.is_some(), dead, "{:?}", report.flags);
        assert!(surprise.is_none_or(|flagged| flagged.detail.contains(" % by model priors-")), "{surprise:?}");
    }
}

// PWD-09, ASVS 6.3.1: after ten tries of one account, from whatever addresses, a right guess is refused like a wrong one; the member's own
// device goes on.
on_both_engines! {
    async fn strangers_use_up_an_accounts_tries_and_not_its_members_device(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let joined = client.post("/account/join", &[("handle", "fig grower"), ("passphrase", PASSPHRASE)]).await;
        let device =
            joined.headers.get_all(SET_COOKIE).iter().filter_map(|v| v.to_str().ok()).find(|v| v.starts_with("__Host-winterfig-device="));
        let device = device.expect("a device is known from the first sign-in on");
        for needed in ["; Secure", "; HttpOnly", "; SameSite=Lax", "; Path=/"] {
            assert!(device.contains(needed), "{device}");
        }
        let device = device.split(';').next().unwrap().to_owned();
        let mut stranger = client.another();
        let mut tries = Vec::new();
        for _ in 0..11 {
            let guess = [("handle", "fig grower"), ("passphrase", "not this one at all, is it")];
            tries.push(stranger.post("/account/sign-in", &guess).await.status);
        }
        assert_eq!((tries[9], tries[10]), (StatusCode::UNAUTHORIZED, StatusCode::TOO_MANY_REQUESTS));
        let right = [("handle", "fig grower"), ("passphrase", PASSPHRASE)];
        let refused = stranger.post("/account/sign-in", &right).await.expect(StatusCode::TOO_MANY_REQUESTS);
        assert!(refused.headers.contains_key(RETRY_AFTER));
        let mut own = client.another();
        own.cookie = Some(device);
        own.post("/account/sign-in", &right).await.expect(StatusCode::SEE_OTHER);
    }
}

// DOS-06, ASVS 4.1.3: where a request says it comes from counts from a trusted proxy alone.
#[tokio::test]
async fn a_forwarded_address_counts_from_a_trusted_proxy_alone() {
    use winterfig::clock::FixedClock;
    use winterfig::model::snapshot::Snapshot;
    use winterfig::web::AppState;
    use winterfig::web::peer::Peer;
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let allow = Allowances { sign_ins_per_minute: 1, ..GENEROUS };
    let proxy = std::net::IpAddr::from([10, 0, 0, 1]);
    let proxies = [ipnet::IpNet::from(proxy)];
    let statuses = async |trusted: &[ipnet::IpNet], forwarded: [&str; 3]| {
        let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let clock = std::sync::Arc::new(FixedClock("2026-06-20T10:00:00Z".parse().unwrap()));
        let state = AppState::new(snapshot, std::sync::Arc::clone(&store), clock).allowing(allow).behind(trusted);
        let mut client = Client::over(winterfig::routes::router(state));
        let mut seen = Vec::new();
        for from in forwarded {
            let mut request = Request::post("/account/sign-in")
                .header("content-type", "application/x-www-form-urlencoded")
                .header("sec-fetch-site", "same-origin")
                .header("x-forwarded-for", from)
                .body(Body::from("handle=nobody+here&passphrase=seven+wet+winters"))
                .unwrap();
            request.extensions_mut().insert(Peer(proxy));
            seen.push(client.send(request).await.status.as_u16());
        }
        seen
    };
    let three = ["192.0.2.1", "192.0.2.2", "192.0.2.3"];
    assert_eq!(statuses(&[], three).await, [401, 429, 429], "anybody may write the header");
    assert_eq!(statuses(&proxies, three).await, [401, 401, 401]);
    // What a client wrote before the proxy's own word is not believed.
    assert_eq!(statuses(&proxies, ["1.1.1.1, 192.0.2.9", "2.2.2.2, 192.0.2.9", "192.0.2.9, 10.0.0.1"]).await, [401, 429, 429]);
}
