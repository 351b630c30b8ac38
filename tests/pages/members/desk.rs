//! The stewards' desk through the web door: many reports in few clicks, undo, two stewards at once, corrections, what does not wait.

use std::sync::Arc;

use axum::http::StatusCode;
use scraper::{Html, Selector};
use uuid::Uuid;
use winterfig::ids::Ids;
use winterfig::jobs::office::service::{Office, OfficeError};
use winterfig::records::words::TopKilled;
use winterfig::records::{Actor, Member, ReviewState, Role};
use winterfig::store::Store;

use crate::support::client::{Client, report_with, text, texts};
use crate::support::members::{evidence, joined, moment, record, submitted};
use crate::support::{TestDatabase, on_both_engines};

async fn judge(store: &Arc<dyn Store>, handle: &str, like: Option<&Client>) -> (Client, Member) {
    let mut client = match like {
        Some(like) => like.another(),
        None => Client::new(store).await,
    };
    client.join(handle).await;
    let member = store.sign_in_facts(handle).await.unwrap().unwrap().0;
    store.change_role(member.id, Role::Steward).await.unwrap();
    (client, member)
}

/// Values of a page's fields of a name.
fn values(page: &Html, selector: &str, attribute: &str) -> Vec<String> {
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector).map(|e| e.value().attr(attribute).unwrap_or_default().to_owned()).collect()
}

async fn suspended(store: &Arc<dyn Store>, member: &Member) -> Result<(), OfficeError> {
    Office::new(Arc::clone(store), Ids::system()).suspend(Actor::Command, member, "made-up reports", moment(100)).await
}

/// A record of daily minima in the layout of the archive's by-station files, gzipped, up to May 2026: every night above freezing, the coldest of each
/// winter colder, that of 2025/26 −3.1 °C.
fn station_record(id: &str) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    let mut day = jiff::civil::date(2013, 7, 1);
    while day <= jiff::civil::date(2026, 5, 10) {
        let coldest = if day.year() == 2026 { 31 } else { 20 + i32::from(day.year()) * 7 % 40 };
        let usual = 20 + i32::from(day.day_of_year()) * 7 % 50;
        let (minimum, maximum) = (if (day.month(), day.day()) == (1, 15) { -coldest } else { usual }, usual + 70);
        let written = day.strftime("%Y%m%d");
        let lines = format!("{id},{written},TMAX,{maximum},,,S,\n{id},{written},TMIN,{minimum},,,S,\n");
        std::io::Write::write_all(&mut packer, lines.as_bytes()).unwrap();
        day = day.tomorrow().unwrap();
    }
    packer.finish().unwrap()
}

on_both_engines! {
    // A temperature that no such place has seen: held against a station within reach whose record is kept, and against nothing fetched for it.
    async fn a_temperature_is_held_against_the_record_of_a_station_within_reach(database) {
        let store = database.open().await;
        let (mut grower, member) = judge(&store, "grower", None).await;
        let towns = winterfig::places::Gazetteer::embedded().unwrap();
        let station = towns.long_records((47.6, -122.3), 80.0, 1).remove(0);
        let place = |coldest: &'static str, nonce: &'static str| {
            report_with(&[("latitude", "47.60"), ("longitude", "-122.30"), ("coldest", coldest), ("coldest_unit", "c"), ("winter", "2025/26"), ("nonce", nonce)])
        };
        let flags = |typed: &'static str| {
            let store = &store;
            async move {
                let all = store.reports_of(member.id).await.unwrap();
                let of = all.iter().find(|report| report.record.coldest.as_ref().is_some_and(|coldest| coldest.typed == typed)).unwrap();
                let beyond = |f: &&winterfig::records::Flagged| f.flag == winterfig::records::Flag::TemperatureBeyondPlace;
                of.flags.iter().filter(beyond).map(|f| f.detail.clone()).collect::<Vec<_>>()
            }
        };
        grower.post("/reports/new", &place("-14", "n-1")).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(flags("-14").await, Vec::<String>::new(), "by the estimate of the nearest town it may be");
        let path = format!("by_station/{}.csv.gz", station.id);
        let document = winterfig::records::ArchiveDocument::fetched(path, station_record(&station.id), moment(0));
        store.keep_archive_document(&document, 9).await.unwrap();
        grower.post("/reports/new", &place("-14.5", "n-2")).await.expect(StatusCode::SEE_OTHER);
        let told = flags("-14.5").await;
        assert!(told.len() == 1 && told[0].starts_with("the coldest night of that winter was −3.1 °C at the station"), "{told:?}");
        grower.post("/reports/new", &place("-4", "n-3")).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(flags("-4").await, Vec::<String>::new());
    }

    // Done when: sixty plain reports in under seventy clicks. A click is a request: a link or a button.
    async fn sixty_reports_of_twelve_gardens_are_taken_garden_by_garden_in_under_seventy_clicks(database) {
        let store = database.open().await;
        let (mut judge, _) = judge(&store, "judge", None).await;
        for nth in 0..12 {
            let grower = joined(&*store, &format!("grower {nth}"), Role::Member).await;
            for _ in 0..5 {
                submitted(&*store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await;
            }
        }
        let mut clicks = 0;
        let page = judge.get("/review?by=garden").await.expect(StatusCode::OK).read().1;
        clicks += 1;
        assert!(text(&page, "h1").contains("60 reports wait"));
        let gardens = values(&page, "tbody th a", "href");
        assert_eq!(gardens.len(), 12);
        for garden in gardens {
            // The list of the garden's winter, looked at; everything ticked; taken.
            judge.get(&garden).await.expect(StatusCode::OK);
            let page = judge.get(&format!("{garden}&tick=all")).await.expect(StatusCode::OK).read().1;
            let ticked = values(&page, "input[name=report][checked]", "value");
            assert_eq!(ticked.len(), 5, "{garden}");
            let mut form: Vec<(&str, &str)> = ticked.iter().map(|tick| ("report", tick.as_str())).collect();
            form.extend([("state", "taken"), ("back", "/review?by=garden")]);
            let done = judge.post("/review/several", &form).await.expect(StatusCode::SEE_OTHER).location().to_owned();
            clicks += 3;
            let told = judge.get(&done).await.expect(StatusCode::OK).read().1;
            assert!(text(&told, ".note").contains("Taken: 5 reports."), "{}", text(&told, ".note"));
        }
        assert!(clicks < 70, "{clicks}");
        println!("{clicks} clicks");
        assert_eq!((store.waiting_count().await.unwrap(), evidence(&*store).await.0.len()), (0, 60));
    }

    async fn one_by_one_each_decision_goes_on_to_the_next_with_a_word_of_what_was_done(database) {
        let store = database.open().await;
        let (mut judge, _) = judge(&store, "judge", None).await;
        let grower = joined(&*store, "grower", Role::Member).await;
        let mut reports = Vec::new();
        for _ in 0..3 {
            reports.push(submitted(&*store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await);
        }
        let mut at = format!("/review/{}?sort=oldest", reports[0].id);
        for nth in 0..3 {
            let page = judge.get(&at).await.expect(StatusCode::OK).read().1;
            if nth > 0 {
                assert!(text(&page, ".note").contains("Taken: celeste, winter 2025/26."), "{}", text(&page, ".note"));
            }
            assert!(text(&page, "main").contains("grower, here since"));
            let action = values(&page, "form.sheet", "action").remove(0);
            let form = [("version", "1"), ("stood", "waiting"), ("state", "taken"), ("reason", ""), ("words", "")];
            judge.post(&action, &form).await.expect(StatusCode::SEE_OTHER).location().clone_into(&mut at);
        }
        assert!(at.starts_with("/review?"), "{at}");
        assert_eq!(store.waiting_count().await.unwrap(), 0);
        // The report's page leads a steward back to its case.
        let page = judge.get(&format!("/reports/{}", reports[0].id)).await.expect(StatusCode::OK).body;
        assert!(page.contains(&format!("/review/{}", reports[0].id)));
    }

    async fn what_was_decided_together_is_taken_back_together_and_the_model_sees_it(database) {
        let store = database.open().await;
        let (mut judge, _) = judge(&store, "judge", None).await;
        let grower = joined(&*store, "grower", Role::Member).await;
        let mut ticks = Vec::new();
        for _ in 0..4 {
            ticks.push(format!("{}:1", submitted(&*store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await.id));
        }
        let mut form: Vec<(&str, &str)> = ticks.iter().map(|tick| ("report", tick.as_str())).collect();
        form.extend([("state", "taken"), ("back", "/review")]);
        let done = judge.post("/review/several", &form).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        let before = store.reports_version().await.unwrap();
        let page = judge.get(&done).await.expect(StatusCode::OK).read().1;
        let deed = values(&page, "input[name=deed]", "value").remove(0);
        // One of them is judged again meanwhile, and stays.
        let first = ticks[0].split(':').next().unwrap();
        let again = [("version", "1"), ("stood", "taken"), ("state", "taken_with_doubt"), ("reason", "name_doubtful"), ("words", "")];
        judge.post(&format!("/review/{first}"), &again).await.expect(StatusCode::SEE_OTHER);
        let back = judge.post("/review/undo", &[("deed", &deed), ("back", "/review")]).await.expect(StatusCode::SEE_OTHER);
        let told = judge.get(back.location()).await.expect(StatusCode::OK).read().1;
        assert!(text(&told, ".note").contains("One was left"), "{}", text(&told, ".note"));
        assert_eq!((store.waiting_count().await.unwrap(), evidence(&*store).await.0.len()), (3, 1));
        assert!(store.reports_version().await.unwrap() > before, "the model is fitted anew");
        // Another steward cannot take it back, and a made-up one is none.
        for (handle, deed) in [("other one", deed.clone()), ("other two", Uuid::now_v7().to_string()), ("other three", "x".to_owned())] {
            let (mut other, _) = self::judge(&store, handle, Some(&judge)).await;
            other.post("/review/undo", &[("deed", &deed)]).await.expect(StatusCode::NOT_FOUND);
        }
    }

    // Bad input: two stewards at once. The second reads what the first decided, nothing is overwritten, and decides again if they mean it.
    async fn a_second_decision_names_the_first_and_keeps_both(database) {
        let store = database.open().await;
        let (mut one, first) = judge(&store, "judge one", None).await;
        let (mut two, second) = judge(&store, "judge two", Some(&one)).await;
        let grower = joined(&*store, "grower", Role::Member).await;
        let report = submitted(&*store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await;
        let case = format!("/review/{}", report.id);
        let taken = [("version", "1"), ("stood", "waiting"), ("state", "taken"), ("reason", "plausible"), ("words", "Well told.")];
        one.post(&case, &taken).await.expect(StatusCode::SEE_OTHER);
        let aside = [("version", "1"), ("stood", "waiting"), ("state", "set_aside"), ("reason", "duplicate"), ("words", "Sent before.")];
        let refused = two.post(&case, &aside).await.expect(StatusCode::CONFLICT).read().1;
        let summary = text(&refused, ".error-summary");
        assert!(summary.contains("judge one decided “taken” (“Well told.”) while you looked"), "{summary}");
        assert_eq!(text(&refused, "#words"), "Sent before.", "what was typed is still there");
        assert_eq!(store.report(report.id).await.unwrap().unwrap().state, ReviewState::Accepted);
        let stood = values(&refused, "input[name=stood]", "value").remove(0);
        let again = [("version", "1"), ("stood", stood.as_str()), ("state", "set_aside"), ("reason", "duplicate"), ("words", "Sent before.")];
        two.post(&case, &again).await.expect(StatusCode::SEE_OTHER);
        let kept = store.decisions(report.id).await.unwrap();
        assert_eq!(kept.iter().map(|d| d.steward).collect::<Vec<_>>(), [Some(first.id), Some(second.id)]);
        let page = one.get(&case).await.expect(StatusCode::OK).read().1;
        assert!(text(&page, "ol.said").contains("“set aside” by judge two on version 1, after “taken” of judge one"), "{}", text(&page, "ol.said"));
    }

    async fn own_reports_and_those_of_suspended_members_do_not_wait_for_a_steward(database) {
        let store = database.open().await;
        let (mut judge, me) = judge(&store, "judge", None).await;
        let (grower, vandal) = (joined(&*store, "grower", Role::Member).await, joined(&*store, "vandal", Role::Member).await);
        for who in [&me, &grower, &vandal] {
            submitted(&*store, who, "celeste", record(-9.4, TopKilled::Tips)).await;
        }
        assert!(text(&judge.get("/review").await.read().1, "h1").contains("2 reports wait"));
        suspended(&store, &vandal).await.unwrap();
        assert!(matches!(suspended(&store, &vandal).await, Err(OfficeError::Suspended)), "once");
        let page = judge.get("/review").await.read().1;
        assert!(text(&page, "h1").contains("One report waits") && texts(&page, "tbody tr").len() == 1, "{}", text(&page, "h1"));
        for by in ["garden", "reporter", "flag"] {
            let page = judge.get(&format!("/review?by={by}")).await.expect(StatusCode::OK).read().1;
            assert!(!text(&page, "table").contains("vandal"), "{by}");
        }
    }

    async fn a_steward_corrects_a_name_and_the_reporter_reads_what_and_why(database) {
        let store = database.open().await;
        let (mut judge, _) = judge(&store, "judge", None).await;
        let mut grower = judge.another();
        grower.join("grower").await;
        let nonce = Uuid::now_v7().to_string();
        let sent = grower.post("/reports/new", &report_with(&[("name", "Celest"), ("nonce", &nonce)])).await.expect(StatusCode::SEE_OTHER);
        let id = sent.location().split('?').next().unwrap().rsplit('/').next().unwrap().to_owned();
        let case = judge.get(&format!("/review/{id}")).await.expect(StatusCode::OK).read().1;
        let from = values(&case, "input[name=from]", "value").remove(0);
        let form = |name: &'static str, words: &'static str| {
            vec![("from", from.clone()), ("name", name.to_owned()), ("place", "by the mill".to_owned()), ("latitude", "44.17".to_owned()),
                ("longitude", "-12.23".to_owned()), ("correction_words", words.to_owned())]
        };
        let address = format!("/review/{id}/correct");
        for (name, words, field) in [("Celeste", "", "say why"), ("", "As on the label.", "write the name"), ("Celest", "As on the label.", "nothing is changed")] {
            let form = form(name, words);
            let pairs: Vec<(&str, &str)> = form.iter().map(|(name, value)| (*name, value.as_str())).collect();
            let refused = judge.post(&address, &pairs).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
            assert!(refused.contains(field), "{field}");
        }
        let right = form("Celeste", "As on the label.");
        let pairs: Vec<(&str, &str)> = right.iter().map(|(name, value)| (*name, value.as_str())).collect();
        judge.post(&address, &pairs).await.expect(StatusCode::SEE_OTHER);
        let garden = grower.get("/garden").await.expect(StatusCode::OK).read().1;
        let told = text(&garden, ".note");
        assert!(told.contains("Name of the fig: “Celeste” for “Celest”") && told.contains("As on the label."), "{told}");
        grower.post("/account/notices", &[("back", "/garden")]).await.expect(StatusCode::SEE_OTHER);
        assert!(!text(&grower.get("/garden").await.read().1, "main").contains("As on the label."));
        // From a state that stands no more nothing is corrected.
        judge.post(&address, &pairs).await.expect(StatusCode::CONFLICT);
        // Everything of a member's holds it.
        assert!(grower.get("/account/mine.json").await.body.contains("As on the label."));
    }
}

#[tokio::test]
async fn what_cannot_be_asked_of_the_desk_is_named_and_nothing_is_decided() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (mut judge, _) = judge(&store, "judge", None).await;
    let grower = joined(&*store, "grower", Role::Member).await;
    let tick = format!("{}:1", submitted(&*store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await.id);
    for query in ["sort=colour", "flag=RED", "after=x", "winter=cold", "by=moon", "colour=blue", "reporter=ada"] {
        judge.get(&format!("/review?{query}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }
    for (form, words) in [
        (vec![("state", "taken")], "tick the reports"),
        (vec![("report", "x"), ("state", "taken")], "no report of the list"),
        (vec![("report", &tick)], "choose what becomes"),
        (vec![("report", &tick), ("state", "set_aside"), ("reason", "other")], "need words"),
        (vec![("report", &tick), ("state", "set_aside"), ("words", "No.")], "choose a reason"),
        (vec![("report", &tick), ("state", "taken"), ("colour", "blue")], "there is no field"),
    ] {
        let refused = judge.post("/review/several", &form).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains(words), "{words}: {refused}");
    }
    assert_eq!(store.waiting_count().await.unwrap(), 1);
    // A version that is none any more is left, and said.
    let old = tick.replace(":1", ":7");
    let done = judge.post("/review/several", &[("report", &old), ("state", "taken"), ("back", "https://evil.example")]).await;
    let told = judge.get(done.expect(StatusCode::SEE_OTHER).location()).await.expect(StatusCode::OK).read().1;
    assert!(text(&told, ".note").contains("Nothing was decided. One was left"), "{}", text(&told, ".note"));
}
