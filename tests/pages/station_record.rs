//! The page of a record and its API twin, through the router that the binary uses: answers by selector, refusals by field and line.

use axum::http::StatusCode;
use scraper::{Html, Selector};

use crate::support::cases::case;
use crate::support::client::{Client, MULTIPART, multipart, scale_switch, text, texts, value};

async fn visitor() -> Client {
    Client::at("2026-06-01T09:00:00Z").await
}

/// Sends the form with a file.
async fn upload(client: &mut Client, file: &[u8], fields: &[(&str, &str)]) -> (StatusCode, Html) {
    client.upload("/record", file, fields).await.read()
}

#[tokio::test]
async fn the_page_asks_for_a_record_and_says_that_nothing_is_kept() {
    let (status, page) = visitor().await.get("/record").await.read();
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, "main").contains("Nothing you send is kept"));
    assert_eq!(texts(&page, "form[enctype='multipart/form-data'] input[type=file]").len(), 1);
}

#[tokio::test]
async fn a_coastal_record_shows_its_winters_and_why_its_figs_differ_from_the_zones() {
    let Some(file) = case("climate/seattle_tacoma_1948_2017.csv") else { return };
    let mut client = visitor().await;
    let (status, page) = upload(&mut client, file.as_bytes(), &[("latitude", "47.4444")]).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&page, "h1"), "This record: the winters of 1948 to 2017");
    // Every picture has its title, its description and a table.
    for picture in ["years", "rarities", "course", "season", "winters"] {
        assert_eq!(texts(&page, &format!("svg[role=img] > title#{picture}-title")).len(), 1, "{picture}");
        assert!(!text(&page, &format!("desc#{picture}-desc")).is_empty(), "{picture}");
    }
    assert!(texts(&page, "details table").len() >= 4);
    let winters = Selector::parse("svg circle.c-night").unwrap();
    assert!(page.select(&winters).count() > 69);
    assert_eq!(texts(&page, "ol.shortlist > li").len(), 12);
    let main = text(&page, "main");
    assert!(main.contains("Zone 8b alone would say") && main.contains("another night than the coldest did the most harm"), "{main}");
    assert!(!main.contains("NaN") && !main.contains("inf %"));
    assert!(main.contains("1 value refused"));
}

#[tokio::test]
async fn a_short_record_shows_what_it_holds_and_no_shortlist() {
    let Some(file) = case("climate/USW00024233.reencoded_1988_1991.dly") else { return };
    let (status, page) = upload(&mut visitor().await, file.as_bytes(), &[]).await;
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, "h1").starts_with("Station USW00024233"));
    assert!(text(&page, "main").contains("3 usable winters are too few"));
    assert!(texts(&page, "ol.shortlist").is_empty() && texts(&page, "#years-title").len() == 1);
}

#[tokio::test]
async fn a_bad_line_comes_back_with_the_form_its_number_and_what_was_typed() {
    let mut client = visitor().await;
    let (status, page) = upload(&mut client, b"date,tmin_c,tmax_c\n2000-01-01,1,5\n2000-01-02,one,5\n", &[("years", "2")]).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#errors").contains("line 3: tmin “one” is not a number"));
    let years = Selector::parse("input#years").unwrap();
    assert_eq!(page.select(&years).next().unwrap().value().attr("value"), Some("2"));
    assert!(text(&page, "textarea#pasted").contains("2000-01-02,one,5"));
    let (status, page) = upload(&mut client, b"", &[("latitude", "123")]).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#errors").contains("−90 to 90"));
}

#[tokio::test]
async fn own_readings_give_an_offset_for_each_type_of_night() {
    let mut client = visitor().await;
    let mut post = async |pairs: &str| client.post("/record/thermometer", &[("pairs", pairs)]).await.read();
    let (status, page) = post("-2,-4.5,clear_still\n-3,-5.5,clear_still\n-1,-3.5,clear_still\n-4,-4,windy").await;
    assert_eq!(status, StatusCode::OK);
    let rows = texts(&page, "#thermometer ~ .scroll tbody tr");
    assert_eq!(rows.len(), 2);
    // 2.5 K is 4.5 °F: scaled, never shifted.
    assert_eq!(texts(&page, "#thermometer ~ .scroll tbody tr:first-child > *")[..3], ["clear and still", "3", "2.5 K · 5 °F colder"]);
    let (status, page) = post("-2,-4,foggy").await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#errors").contains("line 1"));
}

#[tokio::test]
async fn the_api_answers_as_the_command_does_and_names_the_line_of_a_refusal() {
    let mut client = visitor().await;
    let refused = client.post_body("/api/v1/climate", "text/csv", "date,tmin_c\n2000-01-01,x\n").await;
    let problem: serde_json::Value = serde_json::from_str(&refused.expect(StatusCode::UNPROCESSABLE_ENTITY).body).unwrap();
    assert!(problem["errors"][0]["message"].as_str().unwrap().starts_with("line 2: tmin “x”"), "{problem}");
    client.post_body("/api/v1/climate?colour=blue", "text/csv", "").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let Some(file) = case("climate/klein_altendorf_1998_2010.csv") else { return };
    let answer = client.post_body("/api/v1/climate?latitude=50.4", "text/csv", file).await.expect(StatusCode::OK);
    let json: serde_json::Value = serde_json::from_str(&answer.body).unwrap();
    assert_eq!((json["yearly_minimum"]["winters_used"].as_u64(), json["yearly_minimum"]["half_zone"].as_str()), (Some(11), Some("7b")));
}

#[tokio::test]
async fn a_body_beyond_the_limit_is_refused_and_an_ordinary_address_keeps_its_small_one() {
    let mut client = visitor().await;
    client.post_body("/api/v1/climate", "text/csv", vec![b'\n'; (24 << 20) + 1]).await.expect(StatusCode::PAYLOAD_TOO_LARGE);
    let form = "application/x-www-form-urlencoded";
    client.post_body("/record/thermometer", form, vec![b'a'; 70 << 10]).await.expect(StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn a_choice_of_scale_keeps_a_record_that_was_handed_in_and_what_was_asked_of_it() {
    let Some(file) = case("climate/USW00024233.reencoded_1988_1991.dly") else { return };
    let mut client = visitor().await;
    let (_, page) = upload(&mut client, file.as_bytes(), &[("below_c", "-5"), ("years", "3")]).await;
    let (action, mut fields) = scale_switch(&page);
    assert_eq!(action, "/record");
    fields.push(("temperature".to_owned(), "f".to_owned()));
    let (status, turned) = client.post_body(&action, MULTIPART, multipart(&fields, b"")).await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&turned, "h1"), text(&page, "h1"));
    assert_eq!(texts(&turned, "svg circle.c-night").len(), texts(&page, "svg circle.c-night").len());
    assert_eq!((value(&turned, "below_f"), value(&turned, "years")), ("23".to_owned(), "3".to_owned()));
    let levels = |page: &Html| texts(page, "td.num").into_iter().next().unwrap();
    assert!(levels(&page).contains("°C · ") && levels(&turned).contains("°F · "), "{} {}", levels(&page), levels(&turned));
}
