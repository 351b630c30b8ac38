//! What a reader does: from the front page to a shortlist, by keyboard, without scripts, on paper; the scale chosen; hostile words typed.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;

use super::driver::{Browser, View};
use super::site::Site;
use fantoccini::Locator;
use fantoccini::key::Key;

const LOOK: View = View { width: 1280, dark: false, forced: false };
/// Most steps of the focus before a form must have been reached.
const MOST_STEPS: usize = 12;

async fn first_row(browser: &Browser) -> String {
    browser.client.find(Locator::Css("ol.shortlist > li:first-child")).await.unwrap().text().await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newcomer_who_gives_only_a_zone_gets_a_shortlist_that_says_why() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    for zone in ["6b", "8b"] {
        browser.client.goto(&site.at("/")).await.unwrap();
        browser.client.find(Locator::XPath("//summary[contains(., 'hardiness zone')]")).await.unwrap().click().await.unwrap();
        let list = browser.client.find(Locator::Id("zone")).await.unwrap();
        list.select_by_value(zone).await.unwrap();
        browser.client.find(Locator::Css("form.sheet > p > button")).await.unwrap().click().await.unwrap();
        browser.wait_until("document.querySelector('ol.shortlist')").await;
        assert!(browser.address().await.contains(&format!("zone={zone}")));
        let row = first_row(&browser).await;
        assert!(row.contains("years in ten with ripe figs") && row.contains("to the ground"), "{row}");
    }
    browser.close().await;
}

/// Taps: the fold with the zones, the list, the half-zone, and where the pot stands.
#[tokio::test(flavor = "multi_thread")]
async fn four_taps_on_a_phone_lead_from_the_front_page_to_three_figs_and_the_first_winter() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(View { width: super::PHONE, dark: false, forced: false }).await;
    browser.client.goto(&site.at("/")).await.unwrap();
    browser.client.find(Locator::XPath("//summary[contains(., 'hardiness zone')]")).await.unwrap().click().await.unwrap();
    // Opening the list and choosing in it are two.
    browser.client.find(Locator::Id("zone")).await.unwrap().select_by_value("6b").await.unwrap();
    browser.client.find(Locator::Css("button[name=stands][value=pot_inside]")).await.unwrap().click().await.unwrap();
    browser.wait_until("document.querySelector('.three-said')").await;
    let seen = browser
        .run(
            "const end = (selector) => Math.max(...[...document.querySelectorAll(selector)].map((e) => e.getBoundingClientRect().bottom + scrollY)); \
             return [document.querySelectorAll('.three li').length, end('.three-said'), end('.three li'), end('.this-winter')]",
        )
        .await;
    let seen: Vec<f64> = serde_json::from_value(seen).unwrap();
    assert_eq!(seen[0], 3.0);
    // The height of a small phone's screen, CSS px: 360 × 640, common practice.
    assert!(seen[1..].iter().all(|bottom| (1.0..=640.0).contains(bottom)), "{seen:?}");
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_keyboard_alone_leads_from_the_front_page_to_a_shortlist_and_every_step_is_seen() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    browser.client.goto(&site.at("/")).await.unwrap();
    let tab = String::from(char::from(Key::Tab));
    // The first stop is the link past the masthead, and it shows itself (WCAG 2.2, 2.4.1 and 2.4.7).
    browser.press(&tab).await;
    let skip = "const e = document.activeElement, r = e.getBoundingClientRect(); return e.matches('.skip') && r.left >= 0 && r.top >= 0";
    assert_eq!(browser.run(skip).await, json!(true));
    let mut steps = 0;
    while browser.run("return document.activeElement.id").await != json!("place") {
        browser.press(&tab).await;
        steps += 1;
        assert!(steps < MOST_STEPS, "the place box is not reached");
        let seen = "const e = document.activeElement, s = getComputedStyle(e), r = e.getBoundingClientRect();
            return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2 && r.bottom > 0 && r.top < innerHeight";
        assert_eq!(browser.run(seen).await, json!(true), "step {steps} is not seen");
    }
    // Towns are listed while one is typed, and the first is taken with the arrow and Enter.
    browser.press("Graz").await;
    browser.wait_until("!document.getElementById('place-list').hidden").await;
    browser.press(&String::from(char::from(Key::Down))).await;
    browser.press(&String::from(char::from(Key::Enter))).await;
    assert_eq!(browser.run("return document.activeElement.value").await, json!("Graz, Styria, Austria"));
    steps = 0;
    while browser.run("return document.activeElement.matches('form.sheet button')").await != json!(true) {
        browser.press(&tab).await;
        steps += 1;
        assert!(steps < MOST_STEPS, "the button is not reached");
    }
    browser.press(&String::from(char::from(Key::Enter))).await;
    browser.wait_until("document.querySelector('ol.shortlist')").await;
    assert!(browser.address().await.starts_with("/shortlist?place=Graz"), "{}", browser.address().await);
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn everything_works_with_scripts_off() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    browser.protocol("Emulation.setScriptExecutionDisabled", json!({ "value": true })).await;
    browser.client.goto(&site.at("/shortlist?zone=17q&years=4")).await.unwrap();
    let summary = browser.client.find(Locator::Css(".error-summary")).await.unwrap().text().await.unwrap();
    assert!(summary.contains("17q") && summary.contains("1a to 13b"), "{summary}");
    // What was typed is still there, also inside a part that could be folded away.
    let years = browser.client.find(Locator::Id("years")).await.unwrap();
    assert_eq!(years.prop("value").await.unwrap().as_deref(), Some("4"));
    assert!(years.is_displayed().await.unwrap());
    browser.client.find(Locator::Id("zone")).await.unwrap().select_by_value("7a").await.unwrap();
    browser.client.find(Locator::Css("form.sheet > p > button")).await.unwrap().click().await.unwrap();
    browser.client.wait().for_element(Locator::Css("ol.shortlist")).await.unwrap();
    assert!(first_row(&browser).await.contains("years in ten"));
    browser.client.find(Locator::Css("ol.shortlist h3 a")).await.unwrap().click().await.unwrap();
    browser.client.wait().for_element(Locator::Css(".sources")).await.unwrap();
    assert!(browser.address().await.starts_with("/cultivars/"));
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_scale_a_reader_chooses_comes_first_from_then_on_and_the_page_is_kept() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    browser.client.goto(&site.at("/shortlist?zone=7a")).await.unwrap();
    let marks = "return [...document.querySelectorAll('.c-mark-label')].map((e) => e.textContent).join(' ')";
    // Mean of half-zone 7a, 0 to 5 °F: 2.5 °F, −16.4 °C.
    let before = browser.run(marks).await.to_string();
    assert!(before.contains("every other winter −16 °C · 2 °F"), "{before}");
    browser.client.find(Locator::Css("button[name=temperature][value=f]")).await.unwrap().click().await.unwrap();
    browser.wait_until("document.querySelector('button[value=f]').getAttribute('aria-pressed') === 'true'").await;
    assert_eq!(browser.address().await, "/shortlist?zone=7a");
    let after = browser.run(marks).await.to_string();
    assert!(after.contains("every other winter 2 °F · −16 °C"), "{after}");
    // A choice is the only thing remembered, and scripts cannot read it.
    let cookies = browser.client.get_all_cookies().await.unwrap();
    assert_eq!(cookies.iter().map(fantoccini::cookies::Cookie::name).collect::<Vec<_>>(), ["temperature"]);
    assert_eq!(browser.run("return document.cookie").await, json!(""));
    browser.close().await;
}

// OWASP ASVS 5.0, 1.2.1 to 1.2.3 and 3.2.2: what is typed is text, and a browser that is given it runs nothing. The router's own answers
// are held to many more of these in tests/pages/web.
#[tokio::test(flavor = "multi_thread")]
async fn hostile_words_in_a_field_run_nothing() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    for words in [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "'\"><svg onload=alert(1)>",
        "</select></textarea><svg/onload=alert(1)>",
        "\" autofocus onfocus=alert(1) x=\"",
        "javascript:alert(1)",
        "{{7*7}}${7*7}<%= 7*7 %>",
    ] {
        browser.client.goto(&site.at("/cultivars")).await.unwrap();
        browser.client.find(Locator::Id("q")).await.unwrap().send_keys(words).await.unwrap();
        browser.client.find(Locator::Css("form.sheet > p > button")).await.unwrap().click().await.unwrap();
        browser.wait_until("location.search").await;
        assert!(browser.client.get_alert_text().await.is_err(), "{words} opened a dialog");
        let kept = browser.client.find(Locator::Id("q")).await.unwrap().prop("value").await.unwrap();
        assert_eq!(kept.as_deref(), Some(words));
        let strangers = "return document.querySelectorAll('main script, main img, main svg[onload], [onerror], [onfocus]').length";
        assert_eq!(browser.run(strangers).await, json!(0), "{words}");
    }
    assert_eq!(browser.take_log().await, Vec::<String>::new());
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn on_paper_the_words_and_the_numbers_stay_and_the_controls_go() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(View { width: 720, dark: true, forced: false }).await;
    browser.client.goto(&site.at("/shortlist?zone=7a")).await.unwrap();
    browser.emulate_media("print", true).await;
    let shown = "return [...document.querySelectorAll(arguments[0])].filter((e) => e.checkVisibility()).length";
    let count = async |what: &str| browser.client.execute(shown, vec![json!(what)]).await.unwrap().as_u64().unwrap();
    for gone in ["button", "form", "nav a.job", ".no-print", ".skip"] {
        assert_eq!(count(gone).await, 0, "{gone} is printed");
    }
    let rows = count("ol.shortlist > li").await;
    assert_eq!(rows, 12);
    assert_eq!(count("ol.shortlist svg.chart[role=img]").await, rows);
    // Whoever prints in the dark still gets black on white.
    let colours = "const s = getComputedStyle(document.body); return s.backgroundColor + ' ' + s.color";
    assert_eq!(browser.run(colours).await, json!("rgb(255, 255, 255) rgb(0, 0, 0)"));
    // Both scales, the version of the model and the address stand on the paper.
    let text = browser.run("return document.body.innerText").await.to_string();
    for expected in ["°C", "°F", "Model priors-", "/shortlist?zone=7a"] {
        assert!(text.contains(expected), "{expected} is not on the paper");
    }
    let sheet = browser.protocol("Page.printToPDF", json!({ "paperWidth": 8.27, "paperHeight": 11.69 })).await;
    assert!(sheet["data"].as_str().is_some_and(|data| data.starts_with("JVBERi0")), "no PDF");
    browser.close().await;
}

/// How many pages the page shown takes on paper of a size, inches.
async fn sheets(browser: &Browser, (width, height): (f64, f64)) -> usize {
    let sheet = browser.protocol("Page.printToPDF", json!({ "paperWidth": width, "paperHeight": height })).await;
    let pdf = STANDARD.decode(sheet["data"].as_str().unwrap()).unwrap();
    pdf.windows(12).filter(|window| *window == b"/Type /Page\n").count()
}

/// ISO 216 A4, and Letter of ANSI/ASME Y14.1, inches.
const PAPER: [(f64, f64); 2] = [(8.27, 11.69), (8.5, 11.0)];

#[tokio::test(flavor = "multi_thread")]
async fn a_shortlist_prints_on_two_pages_with_its_host() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    for question in [
        "/shortlist?zone=6b",
        "/shortlist?place=Graz,+Styria,+Austria",
        "/shortlist?zone=8b&climate=coast&setting=wall&culture=container&container_l=40&years=2",
    ] {
        browser.client.goto(&site.at(question)).await.unwrap();
        browser.emulate_media("print", false).await;
        for paper in PAPER {
            let pages = sheets(&browser, paper).await;
            assert!(pages <= 2, "{question}: {pages} pages on {paper:?} inches");
        }
        let foot = browser.run("return document.querySelector('.foot').innerText").await.to_string();
        assert!(foot.contains("http://127.0.0.1:") && foot.contains("/shortlist?"), "{foot}");
    }
    browser.close().await;
}

/// One page of either size, its questions those of the screen in the order of the screen: a sheet for the garden has no second page.
#[tokio::test(flavor = "multi_thread")]
async fn the_report_sheet_prints_on_one_page_in_the_order_of_the_form() {
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.client.goto(&site.at("/reports/sheet")).await.unwrap();
    let to_tick = "return [...document.querySelectorAll('.pick')].map((e) => e.textContent.trim())";
    let on_paper = browser.run(to_tick).await;
    for paper in PAPER {
        assert_eq!(sheets(&browser, paper).await, 1, "on paper of {paper:?} inches");
    }
    browser.client.goto(&site.at("/reports/new")).await.unwrap();
    let on_screen = "const off = ['who', 'publish', 'coldest_unit'];
        const all = document.querySelectorAll('main input[type=radio], main input[type=checkbox], main option[value]:not([value=\"\"])');
        return [...all].filter((e) => !off.includes(e.name)).map((e) => (e.closest('label') ?? e).textContent.trim())";
    assert_eq!(browser.run(on_screen).await, on_paper);
    browser.close().await;
}

/// Every fig once, places and papers in turn: zones cold to mild, a town on each half of the Earth, ground and pot. With `WINTERFIG_SHEETS=all`
/// every fig in 5a, 6b, 8a and 9b, in the ground and in a pot, on either paper.
#[tokio::test(flavor = "multi_thread")]
async fn the_sheet_of_every_fig_prints_on_one_page() {
    const PLACES: [&str; 7] = [
        "zone=5a",
        "zone=6b&culture=container&container_l=25&protection=carried_in",
        "zone=8a&setting=wall&protection=mulch",
        "zone=9b",
        "place=Graz&culture=container",
        "place=Melbourne",
        "yearly_minimum_c=-11.5&yearly_spread_k=3.2&climate=continental",
    ];
    let Some(browser) = Browser::open().await else { return };
    let site = Site::start().await;
    browser.look_as(LOOK).await;
    let catalogue = winterfig::catalogue::Catalogue::embedded().unwrap();
    let mut wrong = Vec::new();
    let figs = catalogue.cultivars();
    let sample = || figs.iter().enumerate().map(|(nth, fig)| (fig, PLACES[nth % PLACES.len()].to_owned(), PAPER[nth % PAPER.len()]));
    let mut wanted: Vec<_> = sample().collect();
    if std::env::var("WINTERFIG_SHEETS").is_ok_and(|which| which == "all") {
        let places = ["5a", "6b", "8a", "9b"]
            .iter()
            .flat_map(|zone| ["ground", "container"].map(|culture| format!("zone={zone}&culture={culture}")));
        wanted = places
            .flat_map(|place| figs.iter().map(move |fig| (fig, place.clone())))
            .flat_map(|(fig, place)| PAPER.map(|paper| (fig, place.clone(), paper)))
            .collect();
    }
    let many = wanted.len();
    for (cultivar, place, paper) in wanted {
        let sheet = format!("/bench?cultivar={}&{place}", cultivar.slug);
        browser.client.goto(&site.at(&sheet)).await.unwrap();
        browser.emulate_media("print", false).await;
        let pages = sheets(&browser, paper).await;
        if pages != 1 {
            wrong.push(format!("{sheet}: {pages} pages on {paper:?}"));
        }
    }
    println!("{} of {many} sheets take one page", many - wrong.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await;
}
