//! The open data package: the same bytes for the same data, out and in and out again, nothing private in it, bad packages refused whole.

use std::io::{Cursor, Read, Write};
use std::sync::Arc;

use crate::support::client::Client;
use crate::support::members::{counting, decided, evidence, joined, moment, plant, record, submission, submitted};
use crate::support::{TestDatabase, on_both_engines};
use axum::http::StatusCode;
use uuid::Uuid;
use winterfig::catalogue::Catalogue;
use winterfig::jobs::open_data::publication::{Cells, Publication, assemble};
use winterfig::records::release::{self, BadPackage};
use winterfig::records::words::{Credit, TopKilled, TypedUnit};
use winterfig::records::{HeldPoint, ReviewState, Role};
use winterfig::store::{Leaving, Store, Submitted};

/// Reports of four members; three of them garden in one 0.1° cell.
pub(super) async fn filled(store: &Arc<dyn Store>) {
    let steward = joined(&**store, "judge", Role::Steward).await;
    for (nth, cultivar) in ["celeste", "brown-turkey", "alma", "celeste"].into_iter().enumerate() {
        let who = joined(&**store, &format!("canary grower {nth}"), Role::Member).await;
        if nth == 0 {
            store.set_credit(who.id, Credit::Unnamed).await.unwrap();
        }
        let mut garden = plant(who.id, cultivar);
        garden.place.point = HeldPoint::new(if nth == 3 { -35.26 } else { 44.17 }, 12.23 + 0.01 * nth as f64).ok();
        let mut winter = record(-9.4 - nth as f64, TopKilled::Tips);
        if nth == 1 {
            let coldest = winter.coldest.as_mut().unwrap();
            (coldest.typed, coldest.unit) = ("−4,5".to_owned(), TypedUnit::Fahrenheit);
            coldest.celsius = winterfig::units::Celsius::from_fahrenheit(-4.5).unwrap();
        }
        winter.shoot_cm = (nth == 2).then_some(140);
        let sent = submission(&who, "key", garden, winter);
        let Submitted::Fresh(id) = store.submit(&sent).await.unwrap() else { panic!() };
        let report = store.report(id).await.unwrap().unwrap();
        decided(&**store, &report, &steward, if nth == 2 { ReviewState::AcceptedWithDoubt } else { ReviewState::Accepted }).await;
        if nth == 0 {
            let gone = submitted(&**store, &who, "alma", record(-3.0, TopKilled::None)).await;
            decided(&**store, &gone, &steward, ReviewState::Accepted).await;
            assert!(store.withdraw(gone.id, who.id, moment(90_000)).await.unwrap());
        }
    }
}

pub(super) async fn zip(store: &Arc<dyn Store>) -> Vec<u8> {
    Publication::of(store, &store.catalogue().await.unwrap(), Cells::OfNewestRelease).await.unwrap().zip.read().unwrap()
}

pub(super) fn file(zip: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(zip)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

/// The package with one file rewritten.
pub(super) fn changed(zip: &[u8], name: &str, change: impl Fn(String) -> String) -> Vec<u8> {
    let mut archive = zip::ZipArchive::new(Cursor::new(zip)).unwrap();
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).unwrap();
        let mut text = String::new();
        entry.read_to_string(&mut text).unwrap();
        let own = entry.name().unwrap().into_owned();
        out.start_file(own.clone(), zip::write::SimpleFileOptions::default()).unwrap();
        out.write_all(if own == name { change(text) } else { text }.as_bytes()).unwrap();
    }
    out.finish().unwrap().into_inner()
}

on_both_engines! {
    // REL-01 and EXP-01: built twice the same bytes; out, in and out again the same bytes.
    async fn out_and_in_and_out_again_gives_the_same_bytes(database) {
        let store = database.open().await;
        filled(&store).await;
        let first = zip(&store).await;
        assert_eq!(first, zip(&store).await);
        let other = TestDatabase::sqlite();
        let second_store = other.open().await;
        let taken_in = release::read(&first, &Catalogue::embedded().unwrap()).unwrap();
        assert_eq!((taken_in.reports.len(), taken_in.withdrawn.len()), (4, 1));
        assert!(taken_in.reports.iter().any(|incoming| incoming.report.record.shoot_cm == Some(140)));
        assert!(second_store.import(&taken_in, moment(1)).await.unwrap().is_empty());
        let second = zip(&second_store).await;
        for name in ["winter-reports.csv", "plants.csv", "withdrawn.csv", "datapackage.json"] {
            assert_eq!(file(&first, name), file(&second, name), "{name}");
        }
        assert_eq!(first, second);
        // The same evidence reaches the model.
        assert_eq!(evidence(&*second_store).await.0.len(), evidence(&*store).await.0.len());
        // A second time nothing is taken.
        assert_eq!(second_store.import(&taken_in, moment(1)).await.unwrap().len(), 4);
    }
}

// ACL-04, PRV-04 (ASVS 15.3.1): no handle of who wants none, no place in words, no note, no exact point, on no public address.
#[tokio::test]
async fn nothing_private_is_public() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    // Squares of 0.1° are shown from the first release on.
    let snapshot = winterfig::model::snapshot::Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    assert_eq!(winterfig::jobs::open_data::releases::make(&store, &snapshot, moment(100_000)).await.unwrap(), Some(1));
    let mut stranger = Client::new(&store).await;
    let package = stranger.get("/data/winterfig-reports.zip").await.expect(StatusCode::OK).bytes;
    let mut public = vec![
        file(&package, "winter-reports.csv"),
        file(&package, "plants.csv"),
        stranger.get("/reports").await.expect(StatusCode::OK).body,
        stranger.get("/api/v1/reports").await.expect(StatusCode::OK).body,
        stranger.get("/data").await.expect(StatusCode::OK).body,
    ];
    for report in counting(&*store).await {
        public.push(stranger.get(&format!("/reports/{}", report.id)).await.expect(StatusCode::OK).body);
    }
    for text in &public {
        for canary in ["canary grower 0", "by the mill", "behind the shed", "44.17", "12.23", "35.26"] {
            assert!(!text.contains(canary), "{canary} in {text}");
        }
    }
    assert!(public[0].contains("canary grower 1"));
    // Three members in one 0.1° cell: shown as such. One alone: the 0.5° cell.
    assert!(public[1].contains(",44.15,12.25,0.1,") && public[1].contains(",-35.25,12.25,0.5,"), "{}", public[1]);
}

// What waits for a steward, and what one turned down, is nobody else's: in no package and on no public list.
#[tokio::test]
async fn what_waits_and_what_was_turned_down_is_in_no_package() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
    let mut sent = Vec::new();
    for state in [None, Some(ReviewState::Rejected), Some(ReviewState::Accepted)] {
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        if let Some(state) = state {
            decided(&*store, &report, &steward, state).await;
        }
        sent.push(report.id.to_string());
    }
    let mut stranger = Client::new(&store).await;
    let public =
        [file(&zip(&store).await, "winter-reports.csv"), stranger.get("/reports").await.body, stranger.get("/api/v1/reports").await.body];
    for text in &public {
        assert_eq!(sent.iter().map(|id| text.contains(id)).collect::<Vec<_>>(), [false, false, true], "{text}");
    }
}

// What lives near a place, at the grain of its published squares: kinds, plants alive, winters told, the worst they came through.
#[tokio::test]
async fn near_a_place_the_kinds_that_live_there_are_told() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    let mut stranger = Client::new(&store).await;
    let body = stranger.get("/reports?latitude=44.2&longitude=12.2").await.expect(StatusCode::OK).body;
    assert!(body.contains("What lives near there") && body.contains("3 reports of 3 plants."), "{body}");
    for (kind, coldest) in [("Celeste", "−9 °C"), ("Brown Turkey", "−20 °C"), ("Alma", "−11 °C")] {
        let row = body.split("<tr>").find(|row| row.contains("data-label=\"came through\"") && row.contains(kind)).unwrap();
        assert!(row.contains(" at the plant, in 2025/26: no protection, 7 years planted, leafless and hard"), "{row}");
        // The other Celeste grows on the other half of the Earth.
        assert!(row.contains("1 of 1 plant<") && row.contains("tips lost: 1") && row.contains(coldest), "{row}");
    }
    let all = stranger.get("/reports").await.expect(StatusCode::OK).body;
    assert!(all.contains("2 of 2 plants<") && !all.contains("What lives near there"), "{all}");
}

// EXP-01 (ASVS 1.2.10): no cell of text begins as a formula; −9.4 stays −9.4 and keeps the digits typed; lines end as RFC 4180 says.
#[tokio::test]
async fn tables_are_safe_in_spreadsheets_and_numbers_stay_numbers() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    let package = zip(&store).await;
    let winters = file(&package, "winter-reports.csv");
    assert_eq!(winters.matches("\r\n").count(), 5);
    assert!(winters.contains(",-9.4,-9.4,c,") && winters.contains(",-20.28,-4.5,f,"), "{winters}");
    for name in [
        "winter-reports.csv",
        "plants.csv",
        "cultivars.csv",
        "vocabularies.csv",
        "flags.csv",
        "withdrawn.csv",
        "cultivar-facts.csv",
        "sources.csv",
        "catalogue-changes.csv",
    ] {
        let text = file(&package, name);
        for record in csv::Reader::from_reader(text.as_bytes()).records() {
            for cell in &record.unwrap() {
                let is_number = cell.parse::<f64>().is_ok();
                assert!(is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\0']), "{name}: {cell}");
            }
        }
    }
}

#[tokio::test]
async fn a_package_with_bad_rows_is_refused_whole_with_line_and_reason() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    let package = zip(&store).await;
    let catalogue = Catalogue::embedded().unwrap();
    let refused = |zip: &[u8]| match release::read(zip, &catalogue) {
        Err(BadPackage::Rows(rows)) => rows.into_iter().map(|row| row.to_string()).collect::<Vec<_>>(),
        other => panic!("{other:?}"),
    };
    let rows = refused(&changed(&package, "winter-reports.csv", |text| text.replacen(",tips,", ",half,", 1)));
    assert!(rows[0].starts_with("winter-reports.csv line 2: top_killed:") && rows[0].contains("accepted: none, tips"), "{rows:?}");
    let rows = refused(&changed(&package, "plants.csv", |text| text.replacen(",celeste,Celeste,", ",no-such-fig,Celeste,", 1)));
    assert!(rows.iter().any(|row| row.contains("plants.csv line") && row.contains("not in the catalogue")), "{rows:?}");
    let rows = refused(&changed(&package, "winter-reports.csv", |text| text.replacen(",-9.4,-9.4,c,", ",-9.4,-9.9,c,", 1)));
    assert!(rows[0].contains("coldest_c is not -9.9"), "{rows:?}");
    assert!(matches!(release::read(b"not a zip", &catalogue), Err(BadPackage::NotAZip(_))));
}

// UPL-02: what unpacks to far more than tables do is not unpacked.
#[test]
fn a_package_that_unpacks_without_measure_is_refused() {
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for name in ["plants.csv", "winter-reports.csv"] {
        out.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        out.write_all(&vec![b'0'; 20_000_000]).unwrap();
    }
    let bomb = out.finish().unwrap().into_inner();
    assert!(matches!(release::read(&bomb, &Catalogue::embedded().unwrap()), Err(BadPackage::TooDense("plants.csv"))));
}

// HDR-06, HDR-10, EXP-02: open data may be read from any page, is handed out as a file, and is known again by its tag.
#[tokio::test]
async fn the_package_is_handed_out_as_a_file_that_any_page_may_read() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let answer = client.get("/data/winterfig-reports.zip").await.expect(StatusCode::OK);
    let header = |name: &str| answer.headers.get(name).map_or("", |v| v.to_str().unwrap()).to_owned();
    assert_eq!(header("content-type"), "application/zip");
    assert_eq!(header("content-disposition"), "attachment; filename=\"winterfig-reports.zip\"");
    assert_eq!(
        (header("access-control-allow-origin"), header("cross-origin-resource-policy")),
        ("*".to_owned(), "cross-origin".to_owned())
    );
    let request =
        axum::http::Request::get("/data/winterfig-reports.zip").header("if-none-match", header("etag")).body(axum::body::Body::empty());
    client.send(request.unwrap()).await.expect(StatusCode::NOT_MODIFIED);
}

// The API takes a report with a member's token, once per key, and tells fields that cannot be used.
#[tokio::test]
async fn a_program_sends_reports_with_a_token() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("fig grower").await;
    let page = client.post("/account/tokens", &[("token_name", "logger")]).await.expect(StatusCode::OK).body;
    let token = page.split("<code>").nth(1).unwrap().split("</code>").next().unwrap().to_owned();
    let mut program = client.another();
    let request = |token: &str, kind: &str, body: &str| {
        axum::http::Request::post("/api/v1/reports")
            .header("authorization", format!("Bearer {token}"))
            .header("content-type", kind.to_owned())
            .header("idempotency-key", "first")
            .body(axum::body::Body::from(body.to_owned()))
            .unwrap()
    };
    let body = r#"{"name":"Celeste","place":"by the mill","winter":"2025/26","looked":"2026-05-20","top":"tips","vitality":"alive","cover":"none",
        "coldest":-9.4,"thermometer":"at_plant","complete_list":true}"#;
    let first = program.send(request(&token, "application/json", body)).await.expect(StatusCode::CREATED).body;
    let again = program.send(request(&token, "application/json", body)).await.expect(StatusCode::CREATED).body;
    assert_eq!(first, again);
    let other = body.replace("-9.4", "-9.5");
    program.send(request(&token, "application/json", &other)).await.expect(StatusCode::CONFLICT);
    program.send(request(&token, "text/plain", body)).await.expect(StatusCode::UNSUPPORTED_MEDIA_TYPE);
    program.send(request("wf_wrong", "application/json", body)).await.expect(StatusCode::UNAUTHORIZED);
    let wrong = program
        .send(request(&token, "application/json", r#"{"top":"half","coldest":[1]}"#))
        .await
        .expect(StatusCode::UNPROCESSABLE_ENTITY)
        .body;
    assert!(wrong.contains("\"field\":\"coldest\""), "{wrong}");
    assert_eq!(store.waiting_count().await.unwrap(), 1);
}

/// The setting that names the `frictionless` program (Python package of that name, version 5).
const FRICTIONLESS: &str = "WINTERFIG_FRICTIONLESS";

// REL-01: the package validates against its own Table Schema with a program that is not ours.
#[tokio::test]
async fn the_package_validates_with_a_general_purpose_program() {
    let Ok(program) = std::env::var(FRICTIONLESS) else {
        eprintln!("SKIPPED: {FRICTIONLESS} names no program");
        return;
    };
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    filled(&store).await;
    let folder = tempfile::tempdir().unwrap();
    let catalogue = store.catalogue().await.unwrap();
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    assemble(&store, &catalogue, Cells::OfNewestRelease, &mut files, &mut |_| {}).await.unwrap();
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let validate =
        || std::process::Command::new(&program).args(["validate", "datapackage.json"]).current_dir(folder.path()).output().unwrap();
    let output = validate();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    // The program must be able to find fault: a word outside its vocabulary.
    let path = folder.path().join("winter-reports.csv");
    let spoilt = std::fs::read_to_string(&path).unwrap().replacen(",tips,", ",half,", 1);
    std::fs::write(&path, spoilt).unwrap();
    assert!(!validate().status.success());
}

on_both_engines! {
    // REL-01: an old release serves the same bytes, whatever happens to the data afterwards.
    async fn releases_are_numbered_kept_and_made_anew_only_for_new_data(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("the keeper").await;
        let admin = store.members().await.unwrap().remove(0);
        let make = async |client: &mut Client| client.post("/data/releases", &[]).await.status;
        assert_eq!(make(&mut client).await, StatusCode::NOT_FOUND, "members make none");
        store.change_role(admin.id, Role::Administrator).await.unwrap();
        assert_eq!(make(&mut client).await, StatusCode::SEE_OTHER);
        assert!(client.get("/data").await.body.contains("None yet"), "nothing is public, so there is nothing to release");
        let (grower, judge) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let accept = async |coldest| {
            let report = submitted(&*store, &grower, "celeste", record(coldest, TopKilled::Tips)).await;
            decided(&*store, &report, &judge, ReviewState::Accepted).await;
        };
        accept(-9.4).await;
        assert!(winterfig::jobs::open_data::releases::due(&store, moment(0)).await.unwrap(), "none was made since the last promised day");
        make(&mut client).await;
        assert!(!winterfig::jobs::open_data::releases::due(&store, "2026-06-21T00:00:00Z".parse().unwrap()).await.unwrap());
        assert!(winterfig::jobs::open_data::releases::due(&store, "2026-08-01T00:00:00Z".parse().unwrap()).await.unwrap());
        let first = client.get("/data/releases/1/winterfig-reports.zip").await.expect(StatusCode::OK);
        assert_eq!(first.bytes, client.get("/data/winterfig-reports.zip").await.bytes);
        assert_eq!(first.headers["cache-control"], "public, max-age=31536000, immutable");
        make(&mut client).await;
        assert_eq!(store.releases().await.unwrap().len(), 1, "the same data are no new release");
        accept(-12.0).await;
        make(&mut client).await;
        let page = client.get("/data").await.body;
        let kept = store.releases().await.unwrap();
        assert_eq!(kept.iter().map(|r| (r.number, r.reports)).collect::<Vec<_>>(), [(2, 2), (1, 1)]);
        assert!(kept.iter().all(|release| page.contains(&release.sha256)));
        assert_eq!(kept.iter().map(|r| r.version.split('+').next().unwrap()).collect::<Vec<_>>(), ["1.2.0", "1.1.0"]);
        // A withdrawal makes fewer reports and a later version.
        let gone = store.reports_of(grower.id).await.unwrap().remove(0);
        assert!(store.withdraw(gone.id, grower.id, moment(40)).await.unwrap());
        make(&mut client).await;
        let newest = store.releases().await.unwrap().remove(0);
        assert_eq!((newest.reports, newest.version.split('+').next().unwrap()), (1, "1.3.0"));
        // What a member takes along stays in what is out already, and is told as withdrawn in the next.
        store.forget_member(grower.id, Leaving::RemoveRecords, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(client.get("/data/releases/1/winterfig-reports.zip").await.bytes, first.bytes);
        client.get("/data/releases/4/winterfig-reports.zip").await.expect(StatusCode::NOT_FOUND);
    }
}
