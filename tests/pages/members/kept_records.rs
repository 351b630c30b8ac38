//! Records that members keep, through the web door: nothing without a name, and what is kept for one member alone.

use std::fmt::Write as _;

use crate::support::client::{Client, report_with, text, value};
use crate::support::{TestDatabase, on_both_engines};
use axum::body::Body;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::http::{Request, StatusCode};
use jiff::civil::date;

/// Twelve simulated years, a line a day: a yearly wave and a pattern of cold spells of its own each winter.
fn record() -> String {
    let mut text = String::from("date,tmin_c,tmax_c\n");
    let mut day = date(2005, 7, 1);
    while day < date(2017, 7, 1) {
        let spell = f64::from((i32::from(day.day_of_year()) * 7 + i32::from(day.year()) * 13) % 11);
        let mean = 10.0 - 11.0 * (f64::from(day.day_of_year()) / 58.1).cos() - spell * 0.6;
        writeln!(text, "{day},{:.1},{:.1}", mean - 5.0, mean + 5.0).unwrap();
        day = day.tomorrow().unwrap();
    }
    text
}

/// The page without what is only there because the record is kept.
fn answer_part(page: &str) -> String {
    let start = page.find("<h2>The coldest night of each winter").unwrap();
    let end = page.find("<h2>What was read").unwrap();
    page[start..end].to_owned()
}

on_both_engines! {
    async fn a_named_record_is_shown_again_exactly_to_its_member_and_to_nobody_else(database) {
        let store = database.open().await;
        let mut grower = Client::new(&store).await;
        grower.join("fig grower").await;
        let answers = [("setting", "wall"), ("latitude", "44.1"), ("years", "2")];
        let once = grower.upload("/record", record().as_bytes(), &answers).await.expect(StatusCode::OK).body;
        assert!(once.contains("Keep this record under my account") && once.contains("<ol class=\"shortlist"), "{once}");
        assert!(grower.get("/record").await.body.contains("unless you give it a name"));

        let sent = grower.upload("/record", record().as_bytes(), &[&answers[..], &[("keep_as", " By the <mill> ")]].concat()).await;
        let address = sent.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(address.starts_with("/record?site="), "{address}");
        let again = grower.get(&address).await.expect(StatusCode::OK);
        assert_eq!(again.headers[CACHE_CONTROL], "no-store");
        assert_eq!(answer_part(&again.body), answer_part(&once));
        assert!(again.body.contains("Kept as “By the &#60;mill&#62;”") && again.body.contains("name=\"years\" value=\"2\""), "{}", again.body);
        let list = grower.get("/record").await.expect(StatusCode::OK).body;
        assert!(list.contains(&format!("href=\"{address}\"")) && list.contains("Records you keep"));

        // ACL-02: to another member and to a stranger it is as if it were not there.
        let id = address.rsplit('=').next().unwrap();
        let (mut other, mut stranger) = (grower.another(), grower.another());
        other.join("other grower").await;
        for visitor in [&mut other, &mut stranger] {
            visitor.get(&address).await.expect(StatusCode::NOT_FOUND);
            visitor.get(&format!("/record/file?site={id}")).await.expect(StatusCode::NOT_FOUND);
            assert!(!visitor.get("/record").await.expect(StatusCode::OK).body.contains(id));
        }
        other.post("/record/delete", &[("site", id)]).await.expect(StatusCode::NOT_FOUND);
        assert_eq!(stranger.post("/record/delete", &[("site", id)]).await.expect(StatusCode::SEE_OTHER).location(), "/account?next=/account");

        grower.post("/record/delete", &[("site", id)]).await.expect(StatusCode::SEE_OTHER);
        grower.get(&address).await.expect(StatusCode::NOT_FOUND);
        assert!(!grower.get("/record").await.body.contains("Records you keep"));
    }
}

async fn grower_who_keeps_one() -> (TestDatabase, std::sync::Arc<dyn winterfig::store::Store>, Client, String) {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut grower = Client::new(&store).await;
    grower.join("fig grower").await;
    let sent = grower.upload("/record", record().as_bytes(), &[("keep_as", "Home"), ("years", "2")]).await.expect(StatusCode::SEE_OTHER);
    let id = sent.location().rsplit('=').next().unwrap().to_owned();
    (database, store, grower, id)
}

#[tokio::test]
async fn a_kept_record_answers_for_another_planting_without_being_sent_again() {
    let (_database, _store, mut grower, id) = grower_who_keeps_one().await;
    let page = async |grower: &mut Client, more: &str| grower.get(&format!("/record?site={id}{more}")).await;
    let as_kept = page(&mut grower, "").await.expect(StatusCode::OK).body;
    let potted = page(&mut grower, "&culture=container&years=").await.expect(StatusCode::OK).body;
    assert_ne!(answer_part(&potted), answer_part(&as_kept));
    assert!(potted.contains("name=\"years\" value=\"\""));
    // A wrong answer comes back with what is wrong beside the record as kept.
    let wrong = page(&mut grower, "&years=many").await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(wrong.contains("id=\"errors\"") && wrong.contains("value=\"many\""), "{wrong}");
    assert_eq!(answer_part(&wrong), answer_part(&as_kept));
    page(&mut grower, "x").await.expect(StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_kept_record_is_offered_wherever_a_place_is_asked_and_speaks_there() {
    let (_database, _store, mut grower, id) = grower_who_keeps_one().await;
    let offered = format!("<option value=\"{id}\"");
    for page in ["/", "/shortlist?zone=7a", "/bench", "/shelter", "/spring", "/safe-dates"] {
        assert!(grower.get(page).await.expect(StatusCode::OK).body.contains(&offered), "{page}");
        assert!(!grower.another().get(page).await.expect(StatusCode::OK).body.contains("daily record I keep"), "{page}");
    }
    // Choosing: the page of the record answers, whatever town was remembered, and keeps the planting.
    let chosen = grower.get(&format!("/shortlist?site={id}&place=Graz&setting=wall&years=3")).await.expect(StatusCode::SEE_OTHER);
    let to = chosen.location().to_owned();
    assert!(to.starts_with(&format!("/record?site={id}&")) && to.contains("setting=wall") && !to.contains("place="), "{to}");
    let by_record = grower.get(&to).await.expect(StatusCode::OK).body;
    // The sheet of one fig says of it what the record's page says.
    let sheet = grower.get(&format!("/bench?cultivar=celeste&site={id}&place=Graz")).await.expect(StatusCode::OK).body;
    assert!(sheet.contains("by the daily record “Home”") && !sheet.contains("class=\"square\""), "{sheet}");
    assert!(by_record.contains("<ol class=\"shortlist"));
    let another = grower.get(&format!("/bench?site={id}")).await.expect(StatusCode::OK).body;
    assert!(another.contains(&format!("{offered} selected")) && another.contains("Make the sheet"), "{another}");
    // A shelter is made ready for the coldest night of one winter in ten of the record, and a usual winter of it stands in the form.
    let house = [("scale", "c"), ("length", "3"), ("width", "2"), ("wall", "2"), ("top", "2.4"), ("thermostat", "4"), ("site", &id)];
    let answered = grower.post("/shelter", &house).await.expect(StatusCode::OK).body;
    let form = scraper::Html::parse_document(&answered);
    let lows: Vec<f64> = text(&form, "#minima").split_whitespace().map(|low| low.parse().unwrap()).collect();
    assert!([365, 366].contains(&lows.len()), "{}", lows.len());
    let ready_for: f64 = value(&form, "minimum").parse().unwrap();
    let coldest = lows.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(ready_for <= coldest && ready_for > coldest - 6.0, "{ready_for} beside a usual winter's {coldest}");
    // What was typed stays.
    let typed = [&house[..], &[("minimum", "-3"), ("minima", "1 2 3")]].concat();
    let kept = scraper::Html::parse_document(&grower.post("/shelter", &typed).await.expect(StatusCode::OK).body);
    assert_eq!((value(&kept, "minimum"), text(&kept, "#minima")), ("-3".to_owned(), "1 2 3".to_owned()));
    // To anybody else it is as if it were not there.
    let mut other = grower.another();
    other.join("other grower").await;
    other.get(&format!("/bench?cultivar=celeste&site={id}")).await.expect(StatusCode::NOT_FOUND);
    other.post("/shelter", &house).await.expect(StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_winter_of_a_whole_garden_is_counted_from_a_kept_record() {
    let (_database, store, mut grower, id) = grower_who_keeps_one().await;
    for name in ["Celeste", "Brown Turkey"] {
        let report = report_with(&[("name", name), ("planted", "2010"), ("winter", "2012/13"), ("looked_year", "2013")]);
        grower.post("/reports/new", &report).await.expect(StatusCode::SEE_OTHER);
    }
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
    let plants: Vec<String> = store.plants_of(member).await.unwrap().iter().map(|plant| plant.id.to_string()).collect();
    assert!(grower.get("/garden/winter").await.body.contains("Count how hard they were from"));
    let mut list: Vec<(String, String)> = [
        ("winter", "2013/14"),
        ("looked", "2014-05-20"),
        ("cover", "none"),
        ("coldest", "-9"),
        ("thermometer", "in_garden"),
        ("heat_site", &id),
    ]
    .map(|(k, v)| (k.to_owned(), v.to_owned()))
    .into();
    for plant in &plants {
        list.extend([("top", "none"), ("vitality", "alive")].map(|(k, v)| (format!("{plant}_{k}"), v.to_owned())));
    }
    let list: Vec<(&str, &str)> = list.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
    grower.post("/garden/winter", &list).await.expect(StatusCode::SEE_OTHER);
    let told = store.reports_of(member).await.unwrap();
    let counted: Vec<_> =
        told.iter().filter(|r| r.record.winter.to_string() == "2013/14").map(|r| r.record.heat.and_then(|h| h.harder_k)).collect();
    assert!(counted.len() == 2 && counted.iter().all(Option::is_some), "{counted:?}");
    // A record that is not theirs is an error of the list, and nothing is kept.
    let another = |k: &str| match k {
        "heat_site" => Some("no-such-record"),
        "winter" => Some("2014/15"),
        "looked" => Some("2015-05-20"),
        _ => None,
    };
    let wrong: Vec<(&str, &str)> = list.iter().map(|(k, v)| (*k, another(k).unwrap_or(v))).collect();
    let refused = grower.post("/garden/winter", &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(refused.contains("you keep no such record"), "{refused}");
    assert_eq!(store.reports_of(member).await.unwrap().len(), told.len());
}

#[tokio::test]
async fn what_a_member_keeps_is_named_in_their_export_and_comes_back_byte_for_byte() {
    let (_database, _store, mut grower, id) = grower_who_keeps_one().await;
    let mine: serde_json::Value = serde_json::from_str(&grower.get("/account/mine.json").await.body).unwrap();
    assert_eq!((mine["sites"][0]["name"].as_str(), mine["sites"][0]["id"].as_str()), (Some("Home"), Some(id.as_str())));
    let file = grower.get(mine["sites"][0]["file"].as_str().unwrap()).await.expect(StatusCode::OK);
    assert_eq!((file.bytes.as_slice(), &file.headers[CACHE_CONTROL]), (record().as_bytes(), &"no-store".parse().unwrap()));
}

#[tokio::test]
async fn nothing_is_kept_of_a_broken_record_a_wrong_name_or_a_stranger() {
    let (_database, store, mut grower, _) = grower_who_keeps_one().await;
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
    let long = "a".repeat(61);
    for (file, name, words) in [
        ("date,tmin_c\n2000-01-01,x\n", "Broken", "line 2"),
        (&record(), "=1+1", "formula"),
        (&record(), &long, "at most 60"),
        (&record(), "Home", "another record under this name"),
    ] {
        let page = grower.upload("/record", file.as_bytes(), &[("keep_as", name)]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains(words) && page.contains("id=\"errors\""), "{words}");
    }
    assert_eq!(store.sites_of(member).await.unwrap().len(), 1);
    let page = grower.another().upload("/record", record().as_bytes(), &[("keep_as", "Mine")]).await;
    assert!(page.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("only a member who is signed in"));
    for nth in 2..=10 {
        grower.upload("/record", record().as_bytes(), &[("keep_as", &format!("Site {nth}"))]).await.expect(StatusCode::SEE_OTHER);
    }
    let page = grower.upload("/record", record().as_bytes(), &[("keep_as", "Site 11")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("you keep 10 records already"));
    assert_eq!(store.sites_of(member).await.unwrap().len(), 10);
}

#[tokio::test]
async fn another_site_can_neither_keep_nor_delete_in_a_members_name() {
    let (_database, store, mut grower, id) = grower_who_keeps_one().await;
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
    let forms = [
        ("/record/delete", "application/x-www-form-urlencoded", format!("site={id}")),
        ("/record", "multipart/form-data; boundary=edge", "--edge--\r\n".to_owned()),
    ];
    for (address, kind, body) in forms {
        for from in [Some("cross-site"), None] {
            let mut request = Request::post(address).header(CONTENT_TYPE, kind);
            if let Some(from) = from {
                request = request.header("sec-fetch-site", from);
            }
            grower.send(request.body(Body::from(body.clone())).unwrap()).await.expect(StatusCode::FORBIDDEN);
        }
    }
    assert_eq!(store.sites_of(member).await.unwrap().len(), 1);
}

#[tokio::test]
async fn kept_records_go_with_the_account() {
    let (_database, store, mut grower, id) = grower_who_keeps_one().await;
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
    let leaving = [("records", "keep"), ("leave_passphrase", crate::support::client::PASSPHRASE)];
    grower.post("/account/leave", &leaving).await.expect(StatusCode::SEE_OTHER);
    assert_eq!(store.sites_of(member).await.unwrap(), []);
    grower.get(&format!("/record?site={id}")).await.expect(StatusCode::NOT_FOUND);
}
