//! Choosing: the answer's order on the page, filters by looks and use, the catalogue led by its ladders, the first winter as data.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-11-28T09:00:00Z").await
}

async fn json(client: &mut Client, address: &str) -> Value {
    serde_json::from_str(&client.get(address).await.expect(StatusCode::OK).body).unwrap()
}

#[tokio::test]
async fn the_answer_begins_with_three_figs_and_what_to_do_this_winter() {
    let mut client = visitor().await;
    let (status, page) = client.get("/shortlist?zone=6b&culture=container&protection=carried_in").await.read();
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, ".three-said").starts_with("Plant these three"), "{}", text(&page, ".three-said"));
    assert_eq!(texts(&page, "ol.three > li h2").len(), 3);
    assert!(text(&page, ".this-winter").contains("Carry in below"), "{}", text(&page, ".this-winter"));
    let html = page.root_element().html();
    let place = |words: &str| html.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(place("class=\"three\"") < place("this-winter") && place("this-winter") < place("The coldest night of a winter here"));
    // The lines of the site run through the three and through all rows.
    assert_eq!(texts(&page, "svg.through").len(), 2);
}

#[tokio::test]
async fn filters_narrow_the_shortlist_and_say_so_and_a_wrong_word_is_named() {
    let mut client = visitor().await;
    let all = json(&mut client, "/api/v1/shortlist?zone=8a&rank_by=wood&limit=1").await["ranked"].as_u64().unwrap();
    let dark = json(&mut client, "/api/v1/shortlist?zone=8a&rank_by=wood&limit=1&skin=dark").await;
    assert!(dark["ranked"].as_u64().unwrap() < all);
    assert_eq!((dark["wanted"]["skin"].as_str(), dark["cultivars"][0]["fruit"]["skin_group"].as_str()), (Some("dark"), Some("dark")));
    let (_, page) = client.get("/shortlist?zone=8a&skin=dark").await.read();
    assert!(text(&page, "main").contains("Only figs with: skin dark"));
    let (status, page) = client.get("/shortlist?zone=8a&skin=plaid").await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "main").contains("light, brown, dark, mixed, unknown"));
    let (_, page) = client.get("/shortlist?zone=8a&kind=caprifig&skin=light&ripens=late").await.read();
    assert!(text(&page, "main").contains("No fig of the catalogue is known to fit"));
}

#[tokio::test]
async fn the_catalogue_shows_a_strip_a_fig_and_the_same_filters_as_its_api() {
    let mut client = visitor().await;
    let (_, page) = client.get("/cultivars?skin=light&early_crop=yes").await.read();
    let strips = texts(&page, "ol.ladders > li p:first-child a");
    let api = json(&mut client, "/api/v1/cultivars?skin=light&early_crop=yes").await;
    let mut named: Vec<String> = api["cultivars"].as_array().unwrap().iter().map(|c| c["name"].as_str().unwrap().to_owned()).collect();
    named.sort_by_key(|name| name.to_lowercase());
    assert!(!named.is_empty() && strips == named, "{strips:?} {named:?}");
    let (_, page) = client.get("/cultivars?order=hardiest").await.read();
    assert!(texts(&page, "ol.ladders > li p:first-child a").len() > strips.len());
    client.get("/api/v1/cultivars?skin=plaid").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn the_first_winter_is_in_the_data_with_days_of_the_right_half_of_the_earth() {
    let mut client = visitor().await;
    let north = json(&mut client, "/api/v1/shortlist?zone=6b&limit=1").await;
    assert_eq!(north["first_winter"]["dates_of"], "north_assumed");
    let kinds: Vec<&str> = north["first_winter"]["steps"].as_array().unwrap().iter().map(|s| s["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"cover_nights") && kinds.contains(&"do_not_dig"), "{kinds:?}");
}

#[tokio::test]
async fn a_comparison_tells_crops_ground_and_pot_side_by_side_on_page_and_in_data() {
    let mut client = visitor().await;
    let address = "compare?cultivar=celeste&cultivar=brown-turkey&zone=7a&climate=inland";
    let data = json(&mut client, &format!("/api/v1/{address}")).await;
    let beside = data["beside"].as_array().unwrap();
    assert_eq!(beside.len(), 2);
    for fig in beside {
        assert_eq!(fig["grown"].as_array().unwrap().len(), 3, "{fig}");
        assert!(fig["main_crop"].as_array().is_some_and(|days| days.len() == 3), "{fig}");
    }
    let (_, page) = client.get(&format!("/{address}")).await.read();
    let table = text(&page, "main");
    for said in ["in a pot carried into a shed or garage", "Main crop on sound wood", "The year here", "Half bear fully again"] {
        assert!(table.contains(said), "{said}");
    }
}
