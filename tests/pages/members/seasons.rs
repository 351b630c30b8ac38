//! Dates of growth and fruit through the web door: counted in heat from a kept record, checked, published, read back, and learned from.

use std::fmt::Write as _;
use std::io::{Cursor, Read};
use std::sync::Arc;

use axum::http::StatusCode;
use jiff::civil::date;
use winterfig::catalogue::Catalogue;
use winterfig::jobs::open_data::publication::{Cells, Publication};
use winterfig::records::release;
use winterfig::records::spring_evidence::SpringEvidence;
use winterfig::records::{ReviewState, Role};
use winterfig::science::fruiting::learned::Crop;
use winterfig::science::fruiting::shown::Censoring;
use winterfig::store::Store;

use crate::support::client::{Client, report_with};
use crate::support::members::{decided, evidence, joined, moment};
use crate::support::{TestDatabase, on_both_engines};

/// Years in which every day of the half year from 1 April has a mean of 18 °C and no hour under 8 or over 36 °C, which is 10 degree-days, and
/// every other no hour over 8 °C, which is none: sums can be counted on the fingers.
fn record(from: i16, to: i16) -> String {
    let mut text = String::from("date,tmin_c,tmax_c\n");
    let mut day = date(from, 7, 1);
    while day < date(to, 12, 31) {
        let (low, high) = if (4..10).contains(&day.month()) { (13, 23) } else { (-2, 6) };
        // One night makes winters differ.
        let low = if (day.month(), day.day()) == (1, 15) { -4 - i32::from(day.year() % 5) } else { low };
        // No thermometer stands still for days.
        let wider = i32::from(day.day() % 2);
        writeln!(text, "{day},{},{}", low - wider, high + wider).unwrap();
        day = day.tomorrow().unwrap();
    }
    text
}

/// A grower who keeps such a record, and its id.
async fn keeper(store: &Arc<dyn Store>) -> (Client, String) {
    let mut grower = Client::new(store).await;
    grower.join("fig grower").await;
    let sent = grower.upload("/record", record(2004, 2016).as_bytes(), &[("keep_as", "Mill meadow"), ("latitude", "44.1")]).await;
    let id = sent.expect(StatusCode::SEE_OTHER).location().rsplit('=').next().unwrap().to_owned();
    (grower, id)
}

fn dated<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let dates = [
        ("winter", "2015/16"),
        ("looked", "2016-06-01"),
        ("top", "tips"),
        ("vitality", "alive"),
        ("fruit", "main_ripe"),
        ("first_growth_day", "11"),
        ("first_growth_month", "4"),
        ("first_growth_year", "2016"),
        ("first_ripe_day", "18"),
        ("first_ripe_month", "9"),
        ("first_ripe_year", "2016"),
    ];
    let mut pairs = report_with(&[]);
    for &(name, value) in dates.iter().chain(more) {
        pairs.retain(|(other, _)| *other != name);
        pairs.push((name, value));
    }
    pairs
}

async fn zip(store: &Arc<dyn Store>) -> Vec<u8> {
    Publication::of(store, &store.catalogue().await.unwrap(), Cells::OfNewestRelease).await.unwrap().zip.read().unwrap()
}

fn file(zip: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(zip)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

on_both_engines! {
    async fn dates_are_counted_in_heat_published_and_read_back_as_the_same_evidence(database) {
        let store = database.open().await;
        let (mut grower, id) = keeper(&store).await;
        assert!(grower.get("/reports/new").await.body.contains("Mill meadow"));
        let sent = grower.post("/reports/new", &dated(&[("heat_site", &id), ("nonce", "1")])).await.expect(StatusCode::SEE_OTHER);
        let path = sent.location().split('?').next().unwrap().to_owned();
        // Ten days of April before the 11th, and all days to 17 September: 10 and 170, ten degree-days each.
        let page = grower.get(&path).await.expect(StatusCode::OK).body;
        assert!(page.contains("2016-09-18"), "{page}");
        assert!(page.contains("100 degree-days above 8 °C to growth, 1700 degree-days above 8 °C to the first ripe fig"), "{page}");
        // The form for a change holds what was said, the record too.
        let change = grower.get(&format!("{path}/change")).await.expect(StatusCode::OK).body;
        assert!(change.contains(&format!("value=\"{id}\" selected")), "{change}");

        let report = store.report(winterfig::records::ReportId(path.rsplit('/').next().unwrap().parse().unwrap())).await.unwrap().unwrap();
        assert!(evidence(&*store).await.1.is_empty());
        decided(&*store, &report, &joined(&*store, "judge", Role::Steward).await, ReviewState::Accepted).await;
        let dated = evidence(&*store).await.1;
        let said = dated[0].said.unwrap();
        assert_eq!((said.growth, said.ripe), (Some(Censoring::At(100.0)), Some((Crop::Main, 1600.0))));

        let package = zip(&store).await;
        let table = file(&package, "winter-reports.csv");
        assert!(table.contains("2016-09-18,100.0,1700.0"), "{table}");
        assert!(!table.contains(&id) && file(&package, "datapackage.json").contains("first_ripe_on"));
        let other = TestDatabase::sqlite();
        let second = other.open().await;
        let taken_in = release::read(&package, &Catalogue::embedded().unwrap()).unwrap();
        assert!(second.import(&taken_in, moment(1)).await.unwrap().is_empty());
        assert_eq!(zip(&second).await, package);
        let again: Vec<SpringEvidence> = evidence(&*second).await.1;
        assert_eq!(again, dated);
    }
}

#[tokio::test]
async fn a_season_too_short_is_counted_to_its_frost() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (mut grower, id) = keeper(&store).await;
    let mut pairs = dated(&[("heat_site", &id), ("fruit", "unripe"), ("nonce", "1")]);
    pairs.retain(|(name, _)| !name.starts_with("first_ripe"));
    let sent = grower.post("/reports/new", &pairs).await.expect(StatusCode::SEE_OTHER);
    let path = sent.location().split('?').next().unwrap().to_owned();
    // All of April to September: 183 days; the first of October is below −1 °C.
    let page = grower.get(&path).await.expect(StatusCode::OK).body;
    assert!(page.contains("1830 degree-days above 8 °C to the first night of −1 °C, before any was ripe"), "{page}");
    let report = store.report(winterfig::records::ReportId(path.rsplit('/').next().unwrap().parse().unwrap())).await.unwrap().unwrap();
    decided(&*store, &report, &joined(&*store, "judge", Role::Steward).await, ReviewState::Accepted).await;
    let dated = evidence(&*store).await.1;
    assert_eq!(dated[0].said.unwrap().unripe, Some(1730.0));
    let reports = release::read(&zip(&store).await, &Catalogue::embedded().unwrap()).unwrap().reports;
    assert_eq!(reports[0].report.record.heat.unwrap().to_frost, Some(1830.0));
}

#[tokio::test]
async fn dates_that_cannot_be_stay_in_the_form_with_the_reason_beside_them() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (mut grower, id) = keeper(&store).await;
    let mut says = async |more: &[(&str, &str)], words: &str| {
        let page = grower.post("/reports/new", &dated(more)).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains(words) && page.contains("value=\"11\""), "{words}: {page}");
    };
    says(&[("vitality", "dead")], "ripens nothing after it").await;
    says(&[("first_ripe_month", "2"), ("first_ripe_year", "2017")], "winter 2016 on the southern half").await;
    says(&[("first_ripe_month", "4"), ("first_ripe_day", "2")], "does not come after first growth").await;
    says(&[("fruit", "unripe")], "no fig ripened").await;
    says(&[("first_ripe_month", "13")], "is not a day").await;
    says(&[("heat_site", "00000000-0000-0000-0000-000000000000")], "you keep no such record").await;
    says(&[("winter", "2025/26"), ("first_growth_year", "2026"), ("heat_site", &id)], "no day for ripe figs after winter 2025/26").await;
    let beyond = [
        ("winter", "2024/25"),
        ("looked", "2025-06-01"),
        ("first_growth_year", "2025"),
        ("first_ripe_year", "2025"),
        ("heat_site", id.as_str()),
    ];
    says(&beyond, "does not hold the days from 2025-01-01 to 2025-04-11").await;
    assert_eq!(store.waiting_count().await.unwrap(), 0);
}

#[tokio::test]
async fn a_kept_record_speaks_for_the_place_on_the_spring_page_to_its_member_alone() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (mut grower, id) = keeper(&store).await;
    assert!(grower.get("/spring").await.body.contains("Mill meadow"));
    let address = format!("/spring?cultivar=brown-turkey&seen=nothing&site={id}&zone=4a&today=2016-05-01");
    let page = grower.get(&address).await.expect(StatusCode::OK).body;
    // Thirty days of April at ten degree-days; the usual year is that of days counted from 1 January, so that leap years shift it by a day.
    assert!(page.contains("Mill meadow counts 300 degree-days since 1 January; a usual year here has 308 by today."), "{page}");
    assert!(page.contains("Brown Turkey, Mill meadow: no growth yet") && !page.contains("zone 4a:"));
    assert!(page.contains("Mill meadow speaks for the place: 12 seasons of it give heat and nights; the winter’s lowest was"), "{page}");
    // No day below −1 °C after March, so that shoots are safe from 1 April on.
    assert!(page.contains("A pot in leaf can stay out"), "{page}");
    // Of a year that the record does not reach, only what is usual is known.
    let later = grower.get(&address.replace("2016-05-01", "2024-05-01")).await.expect(StatusCode::OK).body;
    assert!(later.contains("By today a usual year here has 308 degree-days"), "{later}");
    let mut other = grower.another();
    other.join("other grower").await;
    other.get(&address).await.expect(StatusCode::NOT_FOUND);
}
