//! A report on a phone, from a first look at the form to a kept report: what is typed outlives a reload, a mistake and a dead connection, and
//! goes once.

use fantoccini::Locator;
use serde_json::json;

use super::audit::faults_here;
use super::driver::{Browser, View};
use super::site::Site;

/// Types into the field of a name, or chooses the value of a list or of a set of buttons.
async fn answer(browser: &Browser, name: &str, value: &str) {
    let script = "const [name, value] = arguments; \
        const field = document.querySelector(`input[type=radio][name='${name}'][value='${value}'], select[name='${name}'], input[name='${name}'], textarea[name='${name}']`); \
        field.closest('details')?.setAttribute('open', ''); \
        if (field.type === 'radio') field.click(); else { field.value = value; } \
        field.dispatchEvent(new Event('input', { bubbles: true })); return true";
    browser.client.execute(script, vec![json!(name), json!(value)]).await.unwrap_or_else(|error| panic!("{name}: {error}"));
}

async fn shown(browser: &Browser, name: &str) -> String {
    let script = "const [name] = arguments; const of = document.querySelector(`input[type=radio][name='${name}']:checked`) ?? document.querySelector(`[name='${name}']`); return of.value";
    browser.client.execute(script, vec![json!(name)]).await.unwrap().as_str().unwrap().to_owned()
}

async fn signal(browser: &Browser, there: bool) {
    let conditions = json!({ "offline": !there, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1 });
    browser.protocol("Network.emulateNetworkConditions", conditions).await;
}

async fn send(browser: &Browser) {
    browser.client.find(Locator::Css("main form[action='/reports/new'] > p > button")).await.unwrap().click().await.unwrap();
}

/// What a new member has to answer: eleven fields besides a name and a passphrase.
const ANSWERS: [(&str, &str); 12] = [
    ("name", "Celeste"),
    ("place", "by the mill"),
    ("planted", "2018"),
    ("winter", "2023/24"),
    ("top", "tips"),
    ("vitality", "alive"),
    ("looked_day", "20"),
    ("looked_month", "5"),
    ("looked_year", "2024"),
    ("cover", "none"),
    ("coldest", "-9,4"),
    ("thermometer", "in_garden"),
];

#[tokio::test(flavor = "multi_thread")]
async fn a_report_outlives_a_reload_a_mistake_and_a_dead_connection_and_goes_once() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(View { width: super::PHONE, dark: false, forced: false }).await;
    browser.client.goto(&site.at("/reports/new")).await.unwrap();
    for (name, value) in ANSWERS.into_iter().filter(|(name, _)| *name != "top") {
        answer(&browser, name, value).await;
    }
    answer(&browser, "coldest_unit", "c").await;
    answer(&browser, "note", "typed before the page was lost").await;
    let nonce = shown(&browser, "nonce").await;
    // Closed and opened again.
    browser.client.goto(&site.at("/method")).await.unwrap();
    browser.client.goto(&site.at("/reports/new")).await.unwrap();
    for (name, value) in [("name", "Celeste"), ("note", "typed before the page was lost"), ("vitality", "alive"), ("nonce", nonce.as_str())]
    {
        assert_eq!(shown(&browser, name).await, value, "{name} after coming back");
    }
    // A mistake: the top is missing. Everything is still there, the fault is named, and the page is sound.
    answer(&browser, "handle", "phone grower").await;
    answer(&browser, "passphrase", "seven wet winters in a row").await;
    send(&browser).await;
    browser.wait_until("document.querySelector('#top.has-error')").await;
    assert_eq!(shown(&browser, "note").await, "typed before the page was lost");
    assert_eq!(shown(&browser, "passphrase").await, "", "a passphrase is never sent back");
    let faults = faults_here(&browser).await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    answer(&browser, "top", "tips").await;
    answer(&browser, "passphrase", "seven wet winters in a row").await;
    // No signal: it waits on the page, and goes by itself when the signal is back.
    signal(&browser, false).await;
    send(&browser).await;
    browser.wait_until("[...document.querySelectorAll('p.note')].some((p) => p.textContent.startsWith('No connection'))").await;
    signal(&browser, true).await;
    browser.wait_until("location.search === '?sent=yes'").await;
    assert_eq!(browser.run("return localStorage.getItem('draft:report')").await, json!(null), "the draft is gone once it is sent");
    browser.client.goto(&site.at("/garden")).await.unwrap();
    let winters = "return document.querySelectorAll('table.garden th a[href^=\"/garden/plants/\"]').length";
    assert_eq!(browser.run(winters).await, json!(1), "once");
    browser.close().await;
}

// The same walk with scripts off: fields and taps alone.
#[tokio::test(flavor = "multi_thread")]
async fn a_new_member_reports_a_winter_on_a_phone_without_script() {
    let Some(browser) = Browser::open_without_script().await else { return };
    browser.client.goto("data:text/html,<title>off</title><script>document.title='on'</script>").await.unwrap();
    assert_eq!(browser.client.title().await.unwrap(), "off");
    let site = Site::start().await;
    browser.look_as(View { width: super::PHONE, dark: false, forced: false }).await;
    browser.client.goto(&site.at("/reports/new")).await.unwrap();
    let (mut typed, mut taps) = (0, 0);
    for (name, value) in ANSWERS.into_iter().chain([("handle", "quiet grower"), ("passphrase", "seven wet winters in a row")]) {
        let css = format!("input[type=radio][name='{name}'][value='{value}']");
        if let Ok(button) = browser.client.find(Locator::Css(&css)).await {
            button.click().await.unwrap();
            taps += 1;
        } else if let Ok(list) = browser.client.find(Locator::Css(&format!("select[name='{name}']"))).await {
            list.select_by_value(value).await.unwrap();
            taps += 2;
        } else {
            let field = browser.client.find(Locator::Css(&format!("input[name='{name}']"))).await.unwrap();
            if name == "winter" {
                field.clear().await.unwrap();
            }
            field.send_keys(value).await.unwrap();
            typed += 1;
        }
    }
    browser.client.find(Locator::Css("input[name='coldest_unit'][value='c']")).await.unwrap().click().await.unwrap();
    send(&browser).await;
    browser.wait_until_at("?sent=yes").await;
    assert_eq!(site.store().waiting_count().await.unwrap(), 1, "it waits for a steward");
    // Two minutes on a phone: few things to type, few to tap.
    assert!(typed <= 10 && taps <= 8, "{typed} typed, {taps} tapped");
    browser.close().await;
}
