//! The spring page through the router that the binary uses: answers by selector, errors by field.

use axum::http::StatusCode;
use scraper::{Html, Selector};

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-05-28T09:00:00Z").await
}

#[tokio::test]
async fn the_page_asks_before_it_answers() {
    let (status, page) = visitor().await.get("/spring").await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&page, "h1"), "Is it dead, and how long do I wait?");
    assert_eq!(texts(&page, "#seen input[type=radio]").len(), 7);
    assert_eq!(texts(&page, "select#cultivar option").len(), 87);
    assert!(texts(&page, ".masthead a[aria-current=page]").contains(&"Spring".to_owned()));
}

/// Shoots that are there have grown since some day before: without its date the usual one stands, however late the question.
#[tokio::test]
async fn shoots_seen_late_are_not_taken_for_shoots_of_today() {
    let mut client = visitor().await;
    let mut ask = async |today: &str| {
        let (_, page) = client.get(&format!("/spring?cultivar=brown-turkey&seen=base&zone=8a&climate=inland&today={today}")).await.read();
        texts(&page, ".answers .drop.full").len()
    };
    assert_eq!(ask("2026-06-20").await, ask("2026-09-20").await);
}

#[tokio::test]
async fn brown_turkey_killed_to_the_ground_gets_a_chance_a_date_and_reasons_and_does_better_in_zone_8a() {
    let mut client = visitor().await;
    let mut drops = async |zone: &str| {
        let address = format!("/spring?cultivar=brown-turkey&seen=base&zone={zone}&climate=inland&growth_seen=2026-05-24");
        let (status, page) = client.get(&address).await.read();
        assert_eq!(status, StatusCode::OK);
        assert!(text(&page, "h1").starts_with(&format!("Brown Turkey, zone {zone}: killed to the ground")));
        assert!(text(&page, ".answers").contains("90 % range"), "{}", text(&page, ".answers"));
        assert!(texts(&page, "#figs-this-year ~ ul li").iter().any(|r| r.contains("bears on shoots from the base")));
        assert!(texts(&page, "#sources td").iter().any(|s| s.contains("Souza")));
        texts(&page, ".answers .drop.full").len()
    };
    let (short, long) = (drops("6b").await, drops("8a").await);
    assert!(long > short, "{short} and {long}");
}

#[tokio::test]
async fn a_silent_plant_gets_a_date_before_which_nobody_digs_and_a_day_to_look_again() {
    let mut client = visitor().await;
    let (_, page) = client.get("/spring?cultivar=celeste&seen=brown&zone=7a&climate=inland").await.read();
    let answer = text(&page, ".answers");
    assert!(answer.contains("Chance that it is alive") && answer.contains("Do not dig it out before"), "{answer}");
    assert!(answer.contains("Look again on 11 June"), "{answer}");
    assert!(text(&page, "#wait ~ p").contains("Nine in ten"));
    // A year at last: by August the page says that waiting is over.
    let (_, late) = client.get("/spring?cultivar=celeste&seen=brown&zone=7a&climate=inland&today=2026-08-20").await.read();
    assert!(text(&late, ".answers").contains("The time to wait has passed"), "{}", text(&late, ".answers"));
}

#[tokio::test]
async fn a_san_pedro_kind_without_its_tips_gives_no_figs_and_the_page_says_why() {
    let (_, page) = visitor().await.get("/spring?cultivar=desert-king&seen=tips&zone=8b&climate=coast").await.read();
    assert!(text(&page, ".answers").contains("No ripe figs this year"));
    assert!(text(&page, "#figs-this-year ~ ul").contains("went with them"));
}

#[tokio::test]
async fn wrong_input_is_named_by_field_and_what_was_typed_stays() {
    let mut client = visitor().await;
    let cases = [
        ("seen=base&zone=6b&growth_seen=2026-04-20&freeze=2026-05-10", "growth_seen", "before the freeze"),
        ("seen=base&zone=6b&today=2026-12-20&growth_seen=2026-11-11", "growth_seen", "southern half"),
        ("seen=brown&zone=6b&figs=yes", "figs", "alive"),
        ("seen=base&zone=6b&heat_so_far=300&heat_base_c=10", "heat_base_c", "another base"),
        ("seen=base&zone=99x", "zone", "99x"),
        ("zone=6b&climate=inland", "seen", "what you see"),
    ];
    for (query, field, words) in cases {
        let (status, page) = client.get(&format!("/spring?{query}")).await.read();
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        let summary = text(&page, &format!(".error-summary a[href='#{field}']"));
        assert!(summary.contains(words), "{query}: {summary}");
        assert_eq!(Html::select(&page, &Selector::parse(&format!("#{field}")).unwrap()).count(), 1, "{field} can be reached");
    }
    let (_, page) = client.get("/spring?seen=base&zone=6b&growth_seen=soon").await.read();
    let typed = Selector::parse("#growth_seen[value='soon'][aria-invalid=true]").unwrap();
    assert_eq!(page.select(&typed).count(), 1);
}

#[tokio::test]
async fn the_southern_half_has_its_spring_in_november() {
    let address = "/spring?seen=brown&zone=9a&climate=coast&half=south&today=2026-11-10";
    let (status, page) = visitor().await.get(address).await.read();
    assert_eq!(status, StatusCode::OK);
    let ticks = texts(&page, ".chart .c-tick");
    assert_eq!(ticks.first().map(String::as_str), Some("Jul"));
    assert!(text(&page, "#heat ~ p").contains("since 1 July"));
}

#[tokio::test]
async fn a_leafless_fig_in_november_is_asleep_and_gets_the_day_to_look_and_next_springs_dates() {
    let mut client = Client::at("2026-11-27T09:00:00Z").await;
    let (_, page) = client.get("/spring?cultivar=brown-turkey&seen=nothing&zone=7a&climate=inland").await.read();
    assert!(text(&page, "h1").ends_with("asleep"), "{}", text(&page, "h1"));
    let answer = text(&page, ".answers");
    assert!(answer.contains("lives through the winter to come") && answer.contains("Look for growth from about"), "{answer}");
    assert!(!answer.contains("dead") && answer.contains("next season"), "{answer}");
    let dates = texts(&page, "#safe-in-leaf td");
    assert!(dates[2].contains("April") || dates[2].contains("May"), "{dates:?}");
    assert!(text(&page, "main").contains("As of 27 November 2026, northern half"));
    // The same day in the south is late spring.
    let (_, south) = client.get("/spring?cultivar=brown-turkey&seen=nothing&zone=7a&climate=inland&half=south").await.read();
    assert!(text(&south, ".answers").contains("Chance that it is alive"), "{}", text(&south, ".answers"));
}

#[tokio::test]
async fn in_august_shoots_are_safe_until_autumn_not_for_good() {
    let (_, page) = Client::at("2026-08-10T09:00:00Z").await.get("/spring?seen=whole&zone=7a&climate=inland").await.read();
    let dates = texts(&page, "#safe-in-leaf td");
    assert!(dates[2].starts_with("now, until about") && dates[2].ends_with("October"), "{dates:?}");
    assert!(text(&page, "main").contains("can stay out until about"));
}

#[tokio::test]
async fn what_says_safe_leads_to_the_dates() {
    let mut client = visitor().await;
    let (_, advice) = client.get("/advice").await.read();
    let links = Selector::parse("a[href='/safe-dates']").unwrap();
    assert!(advice.select(&links).count() >= 2);
    let (_, page) = client.get("/spring?seen=nothing&zone=7b&climate=inland").await.read();
    for anchor in ["safe", "safe-in-leaf", "safe-to-uncover", "safe-at-rest"] {
        assert_eq!(page.select(&Selector::parse(&format!("#{anchor}")).unwrap()).count(), 1, "{anchor}");
    }
}

#[tokio::test]
async fn every_chart_has_words_and_a_table_and_every_link_to_advice_leads_somewhere() {
    let mut client = visitor().await;
    let (_, page) = client.get("/spring?seen=nothing&zone=7b&climate=inland").await.read();
    assert!(text(&page, "svg desc#heat-desc").contains("degree-days"));
    assert!(texts(&page, "details table tbody tr").len() > 12);
    let links = Selector::parse("a[href^='/advice#']").unwrap();
    let (_, advice) = client.get("/advice").await.read();
    let mut followed = 0;
    for link in page.select(&links) {
        let anchor = link.value().attr("href").unwrap().trim_start_matches("/advice");
        assert_eq!(advice.select(&Selector::parse(anchor).unwrap()).count(), 1, "{anchor}");
        followed += 1;
    }
    assert!(followed >= 4);
}
