//! A cold night on a phone: the invented garden planned, ticked off, kept through a reload, sound to look at.

use fantoccini::Locator;
use serde_json::json;

use super::audit::faults_here;
use super::driver::{Browser, View};
use super::site::Site;

async fn answered(browser: &Browser, site: &Site, page: &str, done: &str) {
    browser.look_as(View { width: super::PHONE, dark: false, forced: false }).await;
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
async fn a_plan_and_its_ticks_stay_when_the_signal_goes() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.client.goto(&site.at("/cold-night")).await.unwrap();
    browser.wait_until("navigator.serviceWorker.controller").await;
    answered(&browser, &site, "/cold-night", "document.querySelector('ol.tonight')").await;
    let title = browser.client.title().await.unwrap();
    browser.client.find(Locator::Css("ol.tonight li:first-child label")).await.unwrap().click().await.unwrap();
    let address = site.at("/cold-night");
    drop(site);
    let gone = "return fetch('/health/live').then(() => false, () => true)";
    while browser.run(gone).await != json!(true) {
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let same = "return [document.title, document.querySelector('#tally').textContent.split(' of ')[0]]";
    browser.client.refresh().await.unwrap();
    assert_eq!(browser.run(same).await, json!([title, "1"]), "loaded again");
    // A tick made meanwhile is kept like the others.
    browser.client.find(Locator::Css("ol.tonight li:nth-child(2) label")).await.unwrap().click().await.unwrap();
    browser.client.goto(&address).await.unwrap();
    assert_eq!(browser.run(same).await, json!([title, "2"]), "come back to");
    assert!(
        browser.run("return getComputedStyle(document.querySelector('ol.tonight')).listStyleType").await == json!("none"),
        "in its style"
    );
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
