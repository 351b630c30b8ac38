//! Pages that only members and stewards see, and answers to forms, by the same rules as every other page.

use serde_json::json;
use winterfig::records::Role;

use super::audit::{complaints_in_every_mode, faults_here};
use super::driver::{Browser, View};
use super::site::Site;
use super::{DESK, PHONE, TABLET};

/// Sends a form as the page itself would; gives the address it leads to.
pub async fn post(browser: &Browser, address: &str, pairs: &[(&str, &str)]) -> String {
    let script = "const [address, pairs, done] = arguments; \
        fetch(address, { method: 'POST', body: new URLSearchParams(pairs) }).then((answer) => done(answer.url), (error) => done(String(error)))";
    let went = browser.client.execute_async(script, vec![json!(address), json!(pairs)]).await.unwrap();
    let went = went.as_str().unwrap().to_owned();
    went.strip_prefix(&browser.client.current_url().await.unwrap().origin().ascii_serialization()).unwrap_or(&went).to_owned()
}

pub async fn joined(browser: &Browser, handle: &str) {
    browser.client.delete_all_cookies().await.unwrap();
    post(browser, "/account/join", &[("handle", handle), ("passphrase", "seven wet winters in a row"), ("next", "/garden")]).await;
}

const REPORT: [(&str, &str); 15] = [
    ("name", "Celeste"),
    ("place", "by the mill"),
    ("latitude", "44.17"),
    ("longitude", "-12.23"),
    ("planted", "2018"),
    ("winter", "2023/24"),
    ("looked_day", "20"),
    ("looked_month", "5"),
    ("looked_year", "2024"),
    ("top", "tips"),
    ("vitality", "alive"),
    ("cover", "none"),
    ("coldest", "-9.4"),
    ("coldest_unit", "c"),
    ("thermometer", "in_garden"),
];

#[tokio::test(flavor = "multi_thread")]
async fn pages_of_members_and_stewards_are_sound() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(&browser, "phone grower").await;
    let report = post(&browser, "/reports/new", &REPORT).await;
    let report = report.split('?').next().unwrap().to_owned();
    assert!(report.starts_with("/reports/"), "{report}");
    let again: Vec<(&str, &str)> = REPORT.iter().map(|(k, v)| if *k == "place" { (*k, "by the weir") } else { (*k, *v) }).collect();
    let second = post(&browser, "/reports/new", &again).await.split('?').next().unwrap().replace("/reports/", "/review/");
    post(
        &browser,
        "/shelter",
        &[("scale", "c"), ("length", "3"), ("width", "2"), ("wall", "2"), ("top", "2"), ("minimum", "-5"), ("keep_as", "glass")],
    )
    .await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    let plant = browser.run("return document.querySelector('table.garden a[href^=\"/garden/plants/\"]').getAttribute('href')").await;
    let plant = plant.as_str().unwrap().to_owned();
    let own = [
        "/garden".to_owned(),
        "/garden/winter".to_owned(),
        plant.clone(),
        format!("{plant}/edit"),
        "/account".to_owned(),
        "/reports/new".to_owned(),
        format!("{report}?sent=yes"),
        format!("{report}/change"),
        "/cold-night".to_owned(),
        "/shelter".to_owned(),
        "/record".to_owned(),
    ];
    let mut wrong = sound(&browser, &site, &own).await;
    // An answer to a form that is refused.
    let steps =
        [("/garden/winter", "form[action='/garden/winter'] > p > button"), ("/account", "form[action='/account/address'] > p > button")];
    for (page, button) in steps {
        browser.look_as(View { width: PHONE, dark: false, forced: false }).await;
        browser.client.goto(&site.at(page)).await.unwrap();
        browser.client.find(fantoccini::Locator::Css(button)).await.unwrap().click().await.unwrap();
        browser.wait_until("document.querySelector('.has-error')").await;
        wrong.extend(faults_here(&browser).await.into_iter().map(|what| format!("{page} refused: {what}")));
    }
    // A form whose session has ended meanwhile, before and after the sign-in.
    browser.client.goto(&site.at("/garden/winter")).await.unwrap();
    browser.client.delete_all_cookies().await.unwrap();
    browser.client.find(fantoccini::Locator::Css("form[action='/garden/winter'] > p > button")).await.unwrap().click().await.unwrap();
    browser.wait_until("document.querySelector('form[action=\"/account/go-on\"]')").await;
    wrong.extend(faults_here(&browser).await.into_iter().map(|what| format!("sign in to go on: {what}")));
    for (field, text) in [("handle", "phone grower"), ("passphrase", "seven wet winters in a row")] {
        browser.client.find(fantoccini::Locator::Id(field)).await.unwrap().send_keys(text).await.unwrap();
    }
    browser.client.find(fantoccini::Locator::Css("form[action='/account/go-on'] button")).await.unwrap().click().await.unwrap();
    browser.wait_until("document.querySelector('form.sheet[action=\"/garden/winter\"] input[type=hidden]')").await;
    wrong.extend(faults_here(&browser).await.into_iter().map(|what| format!("send it now: {what}")));
    // A steward, who is somebody else.
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(&browser, "phone reviewer").await;
    let steward = site.store().members().await.unwrap().into_iter().find(|m| m.handle.as_str() == "phone reviewer").unwrap();
    site.store().change_role(steward.id, Role::Administrator).await.unwrap();
    let review = report.replace("/reports/", "/review/");
    post(&browser, &review, &[("state", "cannot_tell"), ("reason", "outcome_unclear"), ("words", "Which tips?")]).await;
    wrong.extend(
        sound(
            &browser,
            &site,
            &["/review".to_owned(), review, "/review?by=garden".to_owned(), "/review/answers".to_owned(), "/garden".to_owned()],
        )
        .await,
    );
    let rooms = [
        "/office",
        "/office/members",
        "/office/invitations",
        "/office/society",
        "/office/import",
        "/office/log",
        "/catalogue/proposals",
        "/catalogue/proposals/new?kind=fact&cultivar=celeste",
        "/catalogue/names",
        "/catalogue/celeste/history",
        "/nursery",
    ];
    wrong.extend(sound(&browser, &site, &rooms.map(str::to_owned)).await);
    browser.client.goto(&site.at("/garden")).await.unwrap();
    // What is taken stands among the reports of others, and in what lives near it.
    post(&browser, &second, &[("state", "taken"), ("reason", "plausible")]).await;
    browser.client.goto(&site.at("/reports")).await.unwrap();
    assert_eq!(browser.run("return document.querySelectorAll('table.outcomes .chip.tips').length").await, json!(1));
    wrong.extend(sound(&browser, &site, &["/reports".to_owned(), "/reports?latitude=44.2&longitude=-12.2".to_owned(), report]).await);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_of_a_garden_s_lists_of_warnings_and_of_questions_are_sound() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(&browser, "phone lister").await;
    post(&browser, "/reports/new", &REPORT).await;
    // A question to those who follow, with an answer, and a public page.
    post(&browser, "/garden/surveys", &[("asker", "Weir Lane"), ("winter", "2025/26")]).await;
    post(&browser, "/garden/page", &[("title", "Figs of the weir"), ("recommends", "Cover the young.")]).await;
    browser.client.goto(&site.at("/garden/surveys")).await.unwrap();
    let link = async |begins: &str| {
        let found = browser.run(&format!("return document.querySelector('main a[href^=\"{begins}\"]').getAttribute('href')")).await;
        found.as_str().unwrap().to_owned()
    };
    let (question, grower) = (link("/surveys/").await, link("/growers/").await);
    let answer = [("name", "Celeste"), ("place", "Graz, Austria"), ("became", "tips"), ("coldest", "-11"), ("coldest_unit", "c")];
    post(&browser, &question, &[&answer[..], &[("thermometer", "in_garden")]].concat()).await;
    let lists = ["/garden/plants/new", "/garden/surveys", "/garden/fruit?winter=2023/24", "/account/warnings", "/"].map(str::to_owned);
    let pages: Vec<String> = lists.into_iter().chain([question.clone(), format!("{question}/sheet"), grower]).collect();
    let wrong = sound(&browser, &site, &pages).await;
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_of_a_nursery_are_sound() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(&browser, "phone keeper").await;
    let keeper = site.store().members().await.unwrap().into_iter().find(|m| m.handle.as_str() == "phone keeper").unwrap();
    site.store().change_role(keeper.id, Role::Nursery).await.unwrap();
    browser.client.goto(&site.at("/garden")).await.unwrap();
    post(&browser, "/nursery/start", &[("name", "Weir Lane"), ("where", "6b")]).await;
    for name in ["Celeste", "Brown Turkey", "Uncle of the mill"] {
        post(&browser, "/nursery/stock", &[("name", name), ("form", "pot"), ("pot_l", "4"), ("count", "3"), ("price", "15")]).await;
    }
    let nursery = [
        "/nursery",
        "/nursery/counter?culture=container&zone=6b",
        "/nursery/counter?place=8b",
        "/nursery/table",
        "/nursery/history",
        "/nursery/members",
        "/nursery/sheets?where=7b",
        "/nursery/labels",
        "/nursery/labels?size=3&where=7b&price=yes",
        "/garden/propagation",
        "/garden/propagation?wanted=20&method=hardwood_soil",
        "/garden/propagation/new",
        "/garden/mothers",
        "/trials?zone=7a",
    ];
    let wrong = sound(&browser, &site, &nursery.map(str::to_owned)).await;
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await;
}

async fn sound(browser: &Browser, site: &Site, pages: &[String]) -> Vec<String> {
    let mut wrong = Vec::new();
    for width in [PHONE, TABLET, DESK] {
        for page in pages {
            let found = complaints_in_every_mode(browser, &site.at(page), width, false).await;
            wrong.extend(found.into_iter().map(|what| format!("{page} at {width} {what}")));
        }
    }
    wrong
}
