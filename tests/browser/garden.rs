//! A garden of 25 on a phone: its figs added by a list, their winter told in one pass; what is typed outlives a closed page and a dead connection,
//! and goes once.

use fantoccini::Locator;
use serde_json::json;
use winterfig::records::words::TopKilled;

use super::audit::faults_here;
use super::driver::{Browser, View};
use super::members::joined;
use super::site::Site;

/// What a person does on the way.
#[derive(Default)]
struct Walk {
    typed: usize,
    taps: usize,
}

impl Walk {
    async fn types(&mut self, browser: &Browser, css: &str, text: &str) {
        browser.client.find(Locator::Css(css)).await.unwrap_or_else(|error| panic!("{css}: {error}")).send_keys(text).await.unwrap();
        self.typed += 1;
    }

    async fn taps(&mut self, browser: &Browser, css: &str) {
        browser.client.find(Locator::Css(css)).await.unwrap_or_else(|error| panic!("{css}: {error}")).click().await.unwrap();
        self.taps += 1;
    }

    /// Opens a list and chooses.
    async fn chooses(&mut self, browser: &Browser, css: &str, value: &str) {
        let list = browser.client.find(Locator::Css(css)).await.unwrap_or_else(|error| panic!("{css}: {error}"));
        list.select_by_value(value).await.unwrap();
        self.taps += 2;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn twenty_five_figs_are_added_and_their_winter_told_on_a_phone_and_the_list_goes_once() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(View { width: super::PHONE, dark: false, forced: false }).await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(&browser, "phone grower").await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    let started = std::time::Instant::now();
    let mut walk = Walk::default();
    walk.taps(&browser, "main a[href='/garden/plants/new']").await;
    let list = (1..=25).map(|nth| format!("Seedling {nth}, {}", 1995 + nth)).collect::<Vec<_>>().join("\n");
    walk.types(&browser, "#pasted", &list).await;
    walk.types(&browser, "#place", "Graz, Austria").await;
    walk.taps(&browser, "form[action='/garden/plants/new'] > p > button").await;
    browser.wait_until("document.querySelectorAll('table.garden tbody tr').length === 25").await;
    assert_eq!(browser.run("return localStorage.getItem('draft:figs')").await, json!(null), "the draft is gone once it is sent");
    let wide = "return document.documentElement.scrollWidth > document.documentElement.clientWidth";
    assert_eq!(browser.run(wide).await, json!(false), "the table fits the phone");
    walk.taps(&browser, "main a[href='/garden/winter']").await;
    for (part, number) in [("day", "20"), ("month", "5"), ("year", "2026")] {
        walk.types(&browser, &format!("input[name='looked_{part}']"), number).await;
    }
    walk.chooses(&browser, "#cover", "none").await;
    walk.types(&browser, "#coldest", "-11").await;
    walk.taps(&browser, "input[name='coldest_unit'][value='c']").await;
    walk.chooses(&browser, "#thermometer", "in_garden").await;
    // Six of them were harmed: four in a row alike, by copying down from the twenty-second; two others.
    for (row, became) in [(3, "to_ground_alive"), (10, "up_to_third"), (22, "tips")] {
        walk.chooses(&browser, &format!(".list-row:nth-of-type({row}) > select"), became).await;
    }
    walk.taps(&browser, ".list-row:nth-of-type(22) > .copy-down").await;
    walk.taps(&browser, "#rest").await;
    // Closed and opened again: what was chosen is still there.
    browser.client.goto(&site.at("/method")).await.unwrap();
    browser.client.goto(&site.at("/garden/winter")).await.unwrap();
    let chosen = "return [...document.querySelectorAll('.list-row > select')].filter((list) => list.value).length";
    assert_eq!(browser.run(chosen).await, json!(6));
    assert!(browser.run("return document.getElementById('rest').checked").await.as_bool().unwrap());
    let faults = faults_here(&browser).await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // No signal: it waits on the page, and goes by itself when the signal is back.
    let signal = |there: bool| json!({ "offline": !there, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1 });
    browser.protocol("Network.emulateNetworkConditions", signal(false)).await;
    walk.taps(&browser, "form[action='/garden/winter'] > p > button").await;
    browser.wait_until("[...document.querySelectorAll('p.note')].some((p) => p.textContent.startsWith('No connection'))").await;
    browser.protocol("Network.emulateNetworkConditions", signal(true)).await;
    browser.wait_until("location.search.includes('sent=winter')").await;
    let kept = "return Object.keys(localStorage).filter((key) => key.startsWith('draft')).length";
    assert_eq!(browser.run(kept).await, json!(0), "the draft is gone once it is sent");
    let told = site.store().waiting(50).await.unwrap();
    let of = |top| told.iter().filter(|report| report.record.top == top).count();
    assert_eq!((told.len(), of(TopKilled::None), of(TopKilled::Tips), of(TopKilled::ToGround)), (25, 19, 4, 1));
    eprintln!("25 figs: {} fields typed, {} taps, {:.1} s of the machine", walk.typed, walk.taps, started.elapsed().as_secs_f64());
    // Five minutes on a phone: few things to type, few to tap. Once at a desk it was 25 forms of eleven fields.
    assert!(walk.typed <= 8 && walk.taps <= 20, "{} typed, {} tapped", walk.typed, walk.taps);
    browser.close().await;
}
