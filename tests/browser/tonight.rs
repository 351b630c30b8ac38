//! A cold night on a phone: the invented garden planned, ticked off, kept through a reload, sound to look at.

use fantoccini::Locator;
use serde_json::json;

use super::audit::faults_here;
use super::driver::{Browser, View};
use super::site::Site;

async fn answered(browser: &Browser, site: &Site, page: &str, done: &str) {
    browser.look_as(View { width: super::PHONE, dark: false }).await;
    browser.client.goto(&site.at(page)).await.unwrap();
    let example = browser.client.find(Locator::Css("main p a[href*='example=1']")).await.unwrap();
    example.click().await.unwrap();
    browser.wait_until("document.querySelector('main .note')").await;
    browser.client.find(Locator::Css("form.sheet > p > button")).await.unwrap().click().await.unwrap();
    browser.wait_until(done).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_night_is_planned_and_ticked_off_on_a_phone() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    answered(&browser, &site, "/cold-night", "document.querySelector('ol.tonight')").await;
    let faults = faults_here(&browser).await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // The first tick counts, and the whole line is its target, 44 px and more.
    let tall = "const r = document.querySelector('ol.tonight label').getBoundingClientRect(); return r.height >= 44 && r.width >= 200";
    assert_eq!(browser.run(tall).await, json!(true));
    browser.client.find(Locator::Css("ol.tonight li:first-child label")).await.unwrap().click().await.unwrap();
    let tally = browser.client.find(Locator::Id("tally")).await.unwrap().text().await.unwrap();
    assert!(tally.starts_with("1 of "), "{tally}");
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shelters_answer_is_sound_on_a_phone() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    answered(&browser, &site, "/shelter", "document.querySelector('tr.together')").await;
    let faults = faults_here(&browser).await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    browser.close().await;
}
