//! The nursery through the web door: stock that colleagues share, two who sell the last plant, a table with faults, the counter, sheets and
//! labels, a buyer who tells how a plant did, an answer that other sites may frame, and leaving.

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::AUTHORIZATION;
use axum::http::{Request, StatusCode};
use scraper::{Html, Selector};
use serde_json::{Value, json};
use winterfig::records::{Member, ReviewState, Role};
use winterfig::store::Store;

use crate::support::client::{Client, PASSPHRASE, text, texts};
use crate::support::members::{decided, joined};
use crate::support::{TestDatabase, on_both_engines};

async fn with_role(client: &Client, store: &Arc<dyn Store>, handle: &str, role: Role) -> (Client, Member) {
    let mut client = client.another();
    client.join(handle).await;
    let member = store.sign_in_facts(handle).await.unwrap().unwrap().0;
    store.change_role(member.id, role).await.unwrap();
    (client, store.member(member.id).await.unwrap().unwrap())
}

/// A member of the role with a nursery in zone 6b.
async fn nursery(client: &Client, store: &Arc<dyn Store>) -> Client {
    let (mut ada, _) = with_role(client, store, "ada grower", Role::Nursery).await;
    ada.post("/nursery/start", &[("name", "Weir Lane"), ("where", "6b")]).await.expect(StatusCode::SEE_OTHER);
    ada
}

fn attributes(page: &Html, selector: &str, attribute: &str) -> Vec<String> {
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector).filter_map(|e| e.value().attr(attribute)).map(str::to_owned).collect()
}

fn first(page: &Html, selector: &str, attribute: &str) -> String {
    attributes(page, selector, attribute).into_iter().next().unwrap_or_else(|| panic!("no {selector}"))
}

/// The counts of the stock page, by name.
async fn counts(client: &mut Client) -> Vec<(String, String)> {
    let page = client.get("/nursery").await.expect(StatusCode::OK).read().1;
    texts(&page, "table.stock th[scope=row]").into_iter().zip(texts(&page, "table.stock td.num")).collect()
}

fn stands(name: &str, count: &str) -> (String, String) {
    (name.to_owned(), count.to_owned())
}

on_both_engines! {
    async fn colleagues_share_a_stock_and_of_two_who_sell_the_last_plant_one_is_told_so(database) {
        let store = database.open().await;
        let visitor = Client::new(&store).await;
        let mut ada = nursery(&visitor, &store).await;
        let (mut bea, _) = with_role(&visitor, &store, "bea grower", Role::Member).await;
        // Who holds no such role joins and does not start.
        let start = bea.get("/nursery").await.expect(StatusCode::OK).body;
        assert!(start.contains("You belong to no nursery yet") && !start.contains("/nursery/start"));
        bea.post("/nursery/start", &[("name", "Mine")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        bea.post("/nursery/stock", &[("name", "Celeste")]).await.expect(StatusCode::NOT_FOUND);
        let made = ada.post("/nursery/invitation", &[("act", "new")]).await.expect(StatusCode::OK).read().1;
        let invitation = text(&made, "code.handed");
        assert!(bea.post("/nursery/join", &[("code", "nothing")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("no invitation has this code"));
        bea.post("/nursery/join", &[("code", &invitation)]).await.expect(StatusCode::SEE_OTHER);

        let refused = ada.post("/nursery/stock", &[("name", "Celeste"), ("count", "-2"), ("note", "by the door")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("cannot be negative") && refused.contains("by the door"), "{refused}");
        ada.post("/nursery/stock", &[("name", "Celeste"), ("form", "pot"), ("pot_l", "4"), ("count", "1"), ("price", "15"), ("currency", "EUR")]).await.expect(StatusCode::SEE_OTHER);
        assert!(ada.post("/nursery/stock", &[("name", "celeste"), ("form", "pot"), ("pot_l", "4")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("stands in your stock already"));
        assert_eq!(counts(&mut bea).await, [stands("Celeste", "1")]);

        // Both see the last one; both tap.
        let page = bea.get("/nursery").await.read().1;
        let sale = [("line", first(&page, "form[action='/nursery/sell'] input", "value")), ("version", first(&page, "form[action='/nursery/sell'] button", "value"))];
        let sale: Vec<(&str, &str)> = sale.iter().map(|(k, v)| (*k, v.as_str())).collect();
        let sold = ada.post("/nursery/sell", &sale).await.expect(StatusCode::SEE_OTHER);
        let late = bea.post("/nursery/sell", &sale).await.expect(StatusCode::CONFLICT).body;
        assert!(late.contains("Somebody else sold the last of Celeste, in a pot, 4 L"), "{late}");
        assert_eq!(counts(&mut ada).await, [stands("Celeste", "0")]);
        // It is taken back with one tap, and everything stands in the history.
        let done = ada.get(sold.location()).await.read().1;
        let deed = first(&done, "form[action='/nursery/undo'] button", "value");
        ada.post("/nursery/undo", &[("deed", &deed)]).await.expect(StatusCode::SEE_OTHER);
        assert!(ada.post("/nursery/undo", &[("deed", &deed)]).await.expect(StatusCode::CONFLICT).body.contains("taken back already"));
        assert_eq!(counts(&mut bea).await, [stands("Celeste", "1")]);
        let history = text(&bea.get("/nursery/history").await.read().1, "main");
        for said in ["ada grower", "sold: Celeste, in a pot, 4 L (1.1 gal): 0, before 1", "took back", "taken back"] {
            assert!(history.contains(said), "{said}: {history}");
        }

        // A colleague who is erased leaves the stock to the others; the last one closes it.
        let everything = bea.get("/account/mine.json").await.body;
        assert!(everything.contains("\"Weir Lane\""), "{everything}");
        let everything: Value = serde_json::from_str(&ada.get("/account/mine.json").await.body).unwrap();
        assert_eq!(everything["nursery"]["changes"].as_array().unwrap().len(), 3, "{everything}");
        ada.post("/account/leave", &[("leave_passphrase", PASSPHRASE), ("records", "remove")]).await;
        assert_eq!(store.sign_in_facts("ada grower").await.unwrap(), None);
        let members = bea.get("/nursery/members").await.read().1;
        assert_eq!(texts(&members, "tbody th"), ["bea grower (you)"]);
        bea.post("/nursery/leave", &[("confirm", "weir")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        bea.post("/nursery/leave", &[("confirm", "Weir Lane")]).await.expect(StatusCode::SEE_OTHER);
        assert!(bea.get("/nursery").await.body.contains("You belong to no nursery yet"));
    }
}

#[tokio::test]
async fn a_table_is_taken_whole_or_not_at_all_and_comes_out_as_it_went_in() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut ada = nursery(&Client::new(&store).await, &store).await;
    let refused = ada.upload("/nursery/table", b"name,count\nCeleste,2\nAlma,-1\nceleste,3\n", &[("way", "replace")]).await;
    let refused = refused.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    for said in ["line 3: count", "cannot be negative", "line 4: “celeste, rooted cutting” stands in line 2 already", "Alma,-1"] {
        assert!(refused.contains(said), "{said}: {refused}");
    }
    assert!(counts(&mut ada).await.is_empty());
    let list = "Celeste, 12, 4 l, 15 EUR\nAlma, 30, cutting\nUncle of the mill, 2\n";
    ada.upload("/nursery/table", list.as_bytes(), &[("way", "replace")]).await.expect(StatusCode::SEE_OTHER);
    assert_eq!(counts(&mut ada).await, [stands("Alma", "30"), stands("Celeste", "12"), stands("Uncle of the mill", "2")]);
    let table = ada.get("/nursery/stock.csv").await.expect(StatusCode::OK).body;
    assert!(
        table.starts_with("name,form,pot_l,wood_years,count,price,currency,note\n") && table.contains("Celeste,pot,4,,12,15.00,EUR,"),
        "{table}"
    );
    ada.upload("/nursery/table", table.as_bytes(), &[("way", "add")]).await.expect(StatusCode::SEE_OTHER);
    assert_eq!(counts(&mut ada).await[1], stands("Celeste", "24"));
    // One line on its page: changed by what was seen, removed, and never overwritten unseen.
    let page = ada.get("/nursery").await.read().1;
    let line = first(&page, "table.stock a.button", "href");
    let form = ada.get(&line).await.expect(StatusCode::OK).read().1;
    let version = first(&form, "input[name=version]", "value");
    let change = [("version", version.as_str()), ("name", "Alma"), ("form", "rooted_cutting"), ("count", "7")];
    ada.post(&line, &change).await.expect(StatusCode::SEE_OTHER);
    assert!(ada.post(&line, &change).await.expect(StatusCode::CONFLICT).body.contains("its count is 7 now"));
    ada.post(&line, &[("version", "999"), ("act", "remove"), ("name", "Alma")]).await.expect(StatusCode::CONFLICT);
    assert_eq!(counts(&mut ada).await[0], stands("Alma", "7"));

    // The same by a program with a token; another member's token sees nothing of it.
    let page = ada.post("/account/tokens", &[("token_name", "till")]).await.expect(StatusCode::OK).body;
    let token = page.split("<code>").nth(1).and_then(|rest| rest.split("</code>").next()).unwrap().to_owned();
    let mut program = ada.another();
    let ask = |address: &str, body: Option<Value>| {
        let request = Request::builder().uri(address).header(AUTHORIZATION, format!("Bearer {token}"));
        match body {
            Some(body) => request.method("POST").header("content-type", "application/json").body(Body::from(body.to_string())).unwrap(),
            None => request.body(Body::empty()).unwrap(),
        }
    };
    let answer = program.send(ask("/api/v1/nursery/stock", None)).await.expect(StatusCode::OK);
    assert!(!answer.headers.contains_key("access-control-allow-origin"), "what a token opens is open to no other site");
    let stock: Value = serde_json::from_str(&answer.body).unwrap();
    let celeste = stock["lines"].as_array().unwrap().iter().find(|line| line["name"] == "Celeste").unwrap().clone();
    assert_eq!((&celeste["cultivar"], &celeste["count"], &celeste["pot_l"]), (&json!("celeste"), &json!(24), &json!(4.0)));
    let sale = json!({"line": celeste["id"], "version": celeste["version"], "count": 20});
    let sold: Value =
        serde_json::from_str(&program.send(ask("/api/v1/nursery/sales", Some(sale.clone()))).await.expect(StatusCode::OK).body).unwrap();
    assert_eq!(sold["line"]["count"], 4);
    program.send(ask("/api/v1/nursery/sales", Some(sale))).await.expect(StatusCode::CONFLICT);
    let too_many = json!({"line": celeste["id"], "version": sold["line"]["version"], "count": 5});
    assert!(program.send(ask("/api/v1/nursery/sales", Some(too_many))).await.expect(StatusCode::CONFLICT).body.contains("Only 4 are left"));
    program.send(ask("/api/v1/nursery/stock", Some(json!({"name": "Alma", "count": -1})))).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    program.send(ask("/api/v1/nursery/stock", Some(json!({"name": "Alma", "pot_gal": 1})))).await.expect(StatusCode::CREATED);
    program.get("/api/v1/nursery/stock").await.expect(StatusCode::UNAUTHORIZED);
}

/// The buyer of the issue: a balcony in 6b. Each step follows what the page before offers.
#[tokio::test]
async fn at_the_counter_two_taps_lead_to_the_stock_and_one_more_to_a_sheet_whose_buyer_comes_back() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let visitor = Client::new(&store).await;
    let mut ada = nursery(&visitor, &store).await;
    let list = "Celeste, 12, 4 l\nBrown Turkey, 3, 4 l\nAlma, 5, cutting\nUncle of the mill, 2\nBrunswick, 0\n";
    ada.upload("/nursery/table", list.as_bytes(), &[("way", "replace")]).await.expect(StatusCode::SEE_OTHER);
    // First tap: on a balcony. Second: 6b, a button that answers at once.
    let page = ada.get("/nursery").await.read().1;
    assert_eq!(attributes(&page, "form[action='/nursery/counter'] input[name=culture]", "value"), ["ground", "container"]);
    assert!(attributes(&page, "form[action='/nursery/counter'] button[name=zone]", "value").contains(&"6b".to_owned()));
    let counter = ada.get("/nursery/counter?culture=container&place=&zone=6b").await.expect(StatusCode::OK).read().1;
    let said = text(&counter, "main");
    assert!(said.contains("None of these; this one if you carry it in for winter"), "{said}");
    assert!(said.contains("Not in the catalogue, so nothing can be said of them: Uncle of the mill"), "{said}");
    assert_eq!(texts(&counter, "ol.at-counter > li").len(), 1);
    assert!(!said.contains("Brunswick"), "sold out");
    // In the ground where winters are milder: three, in the order of the shortlist.
    let mild = ada.get("/nursery/counter?culture=ground&place=8b").await.expect(StatusCode::OK).read().1;
    let offered = texts(&mild, "ol.at-counter h2");
    assert_eq!(offered.len(), 3);
    let whole = ada.get("/shortlist?zone=8b&limit=500").await.read().1;
    let in_order: Vec<String> = texts(&whole, "ol.shortlist h3").into_iter().filter(|name| offered.contains(name)).collect();
    assert_eq!(offered, in_order);
    ada.get("/nursery/counter?place=Narnia-upon-Qqqq").await.expect(StatusCode::UNPROCESSABLE_ENTITY);

    // The third tap: its sheet, for that place, from this nursery; another plant keeps both.
    let sheet = first(&counter, "ol.at-counter a.button", "href");
    assert!(sheet.contains("zone=6b") && sheet.contains("protection=carried_in") && sheet.contains("nursery="), "{sheet}");
    let answer = visitor.another().send(Request::get(&sheet).header("host", "figs.example").body(Body::empty()).unwrap()).await;
    let sheet = answer.expect(StatusCode::OK).read().1;
    assert!(text(&sheet, ".imprint").contains("From Weir Lane"));
    assert_eq!(texts(&sheet, ".imprint .square").len(), 2);
    assert!(first(&sheet, "article p.no-print a", "href").contains("nursery="));
    // The buyer opens what the square holds, and joins with the report.
    let tell = attributes(&sheet, "article p.no-print a", "href").into_iter().nth(1).unwrap();
    let tell = tell.strip_prefix("http://figs.example").unwrap().to_owned();
    let mut buyer = visitor.another();
    let form = buyer.get(&tell).await.expect(StatusCode::OK).read().1;
    let code = first(&form, "input[name=nursery]", "value");
    let name = first(&form, "input[name=name]", "value");
    assert!(text(&form, "form p.note").contains("It came from Weir Lane"));
    let answers = |who: &str| {
        let pairs = [
            ("nonce", "x"),
            ("nursery", code.as_str()),
            ("name", name.as_str()),
            ("culture", "container"),
            ("place", "by the mill"),
            ("winter", "2025/26"),
            ("looked", "2026-05-20"),
            ("top", "tips"),
            ("vitality", "alive"),
            ("cover", "carried_in"),
            ("who", "new"),
            ("handle", who),
            ("passphrase", PASSPHRASE),
        ];
        pairs.map(|(k, v)| (k.to_owned(), v.to_owned())).to_vec()
    };
    // What is refused keeps the nursery in the form.
    let wrong: Vec<(String, String)> = answers("a buyer").into_iter().filter(|(k, _)| k != "top").collect();
    let again = post(&mut buyer, &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).read().1;
    assert_eq!(first(&again, "input[name=nursery]", "value"), code);
    let steward = joined(&*store, "the judge", Role::Steward).await;
    for nth in 1..=5 {
        let page = ada.get("/nursery").await.expect(StatusCode::OK).body;
        assert!(page.contains("once 5 different people stand behind a group"), "{nth}");
        let mut buyer = visitor.another();
        let sent = post(&mut buyer, &answers(&format!("buyer {nth}"))).await.expect(StatusCode::SEE_OTHER);
        let id = sent.location().trim_start_matches("/reports/").split('?').next().unwrap().parse().unwrap();
        let report = store.report(winterfig::records::ReportId(id)).await.unwrap().unwrap();
        assert_eq!(report.state, ReviewState::Waiting);
        decided(&*store, &report, &steward, ReviewState::Accepted).await;
    }
    let page = ada.get("/nursery").await.read().1;
    let fared = text(&page, "#fared");
    assert!(fared.contains("2025/26") && fared.contains(&name), "{fared}");
    assert!(!fared.contains("buyer 1"));
    assert_eq!(texts(&page, "#fared td.num")[..3], ["5", "0", "5"]);
}

async fn post(client: &mut Client, pairs: &[(String, String)]) -> crate::support::client::Answer {
    let pairs: Vec<(&str, &str)> = pairs.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
    client.post("/reports/new", &pairs).await
}

#[tokio::test]
async fn sheets_and_labels_are_made_for_what_is_left_and_measures_are_checked() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut ada = nursery(&Client::new(&store).await, &store).await;
    let list = "Celeste, 3, 4 l, 15 EUR\nCeleste, 2, cutting\nAlma, 1\nUncle of the mill, 2\nBrown Turkey, 0\n";
    ada.upload("/nursery/table", list.as_bytes(), &[("way", "replace")]).await.expect(StatusCode::SEE_OTHER);
    let sheets = ada.get("/nursery/sheets?where=7b").await.expect(StatusCode::OK).read().1;
    let titles = texts(&sheets, "article.answer-sheet h2.sheet-title");
    assert_eq!(titles.len(), 2, "one for each fig of which plants are left: {titles:?}");
    assert!(titles[0].starts_with("Alma in zone 7b") && titles[1].starts_with("Celeste in zone 7b"), "{titles:?}");
    assert!(text(&sheets, ".note").contains("1 to 2 of 2") && text(&sheets, "main").contains("no sheet"));
    // Without a place its own is taken; a wrong one is named.
    assert_eq!(texts(&ada.get("/nursery/sheets").await.read().1, "article.answer-sheet").len(), 2);
    assert!(ada.get("/nursery/sheets?where=17q").await.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("has-error"));

    let at_host = |address: &str| Request::get(address).header("host", "figs.example").body(Body::empty()).unwrap();
    let labels = ada.send(at_host("/nursery/labels?size=0&where=7b&price=yes&copies=each")).await.expect(StatusCode::OK).read().1;
    let all = texts(&labels, ".label");
    assert_eq!(all.len(), 8);
    assert!(
        all.iter().any(|label| label.starts_with("Celeste in a pot, 4 L (1.1 gal) Lives: ") && label.ends_with("15.00 EUR")),
        "{all:?}"
    );
    assert!(all.iter().any(|label| label == "Uncle of the mill rooted cutting"), "{all:?}");
    assert_eq!(attributes(&labels, "defs > svg", "id"), ["q0", "q1"], "a square is drawn once for each fig");
    let css = first(&labels, "link[rel=stylesheet][href^='/nursery/labels.css']", "href");
    let css = ada.get(&css).await.expect(StatusCode::OK);
    assert!(css.headers["content-type"].to_str().unwrap().starts_with("text/css") && css.body.contains("size: 210.000mm 297.000mm"));
    let none = texts(&ada.get("/nursery/labels?size=0&where=7b").await.read().1, ".label");
    assert!(none.len() == 4 && none.iter().all(|label| !label.contains("EUR")), "{none:?}");
    let wrong = ada.get("/nursery/labels?size=own&page_w=210&page_h=297&columns=40&rows=2").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.body.contains("accepted: 1 to 30"));
    ada.get("/nursery/labels.css?page_w=1e9%7D").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    // Sizes are remembered where that is asked for, not by looking.
    ada.post("/nursery/labels", &[("size", "3"), ("copies", "each")]).await.expect(StatusCode::SEE_OTHER);
    let kept = ada.get("/nursery/labels").await.read().1;
    assert_eq!(attributes(&kept, "#size option[selected]", "value"), ["3"]);
}

// W3C Content Security Policy Level 3, frame-ancestors; Fetch Standard, CORS protocol; OWASP ASVS 5.0 3.4.2 and 3.4.6.
#[tokio::test]
async fn one_page_is_framed_by_the_sites_that_the_office_lists_and_everything_else_stays_closed() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let visitor = Client::new(&store).await;
    let (mut keeper, _) = with_role(&visitor, &store, "keeper", Role::Administrator).await;
    let policy = |answer: &crate::support::client::Answer| answer.headers["content-security-policy"].to_str().unwrap().to_owned();
    let mut reader = visitor.another();
    assert!(policy(&reader.get("/embed/shortlist?zone=6b").await.expect(StatusCode::OK)).ends_with("frame-ancestors 'none'"));
    let society = |origins: &'static str| [("name", "Fig friends"), ("joining", "open"), ("framed_by", origins)];
    for (bad, said) in
        [("https://figs.example/shop", "goes on after the host"), ("https://*.example", "wildcard"), ("figs", "no address of a site")]
    {
        let refused = keeper.post("/office/society", &society(bad)).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains(said) && refused.contains(bad), "{bad}");
    }
    keeper.post("/office/society", &society("https://Figs.example\nhttp://localhost:8000")).await.expect(StatusCode::SEE_OTHER);
    let framed = reader.get("/embed/shortlist?zone=6b").await.expect(StatusCode::OK);
    assert!(policy(&framed).ends_with("frame-ancestors https://figs.example http://localhost:8000"), "{}", policy(&framed));
    assert_eq!(framed.headers["cross-origin-resource-policy"], "cross-origin");
    assert!(!framed.body.contains("<script") && !framed.body.contains("method=\"post\""));
    assert!(
        policy(&reader.get("/embed/shortlist?zone=17q").await.expect(StatusCode::UNPROCESSABLE_ENTITY)).contains("https://figs.example")
    );
    for closed in ["/", "/shortlist?zone=6b", "/embed?zone=6b", "/bench?cultivar=celeste&zone=6b", "/reports/new", "/account"] {
        assert!(policy(&reader.get(closed).await).ends_with("frame-ancestors 'none'"), "{closed}");
    }
    // What is copied is a frame and a link, with nothing that runs.
    let page = reader.send(Request::get("/embed?zone=6b").header("host", "figs.test").body(Body::empty()).unwrap()).await.read().1;
    assert!(
        text(&page, "#framed").starts_with("<iframe src=\"http://figs.test/embed/shortlist?zone=6b&amp;climate=inland\""),
        "{}",
        text(&page, "#framed")
    );
    assert!(text(&page, "#link").starts_with("<a href=\"http://figs.test/shortlist?zone=6b&amp;climate=inland\">"));
    // Public answers are read across sites, without cookies; what a member opens is not.
    for address in ["/api/v1/shortlist?zone=7a&limit=1", "/api/v1/shortlist?zone=17q", "/api/v1/cultivars"] {
        let answer = reader.get(address).await;
        assert_eq!(answer.headers["access-control-allow-origin"], "*", "{address}");
        assert!(!answer.headers.contains_key("access-control-allow-credentials"));
    }
    for address in ["/shortlist?zone=7a", "/account/mine.json", "/nursery/stock.csv"] {
        assert!(!keeper.get(address).await.headers.contains_key("access-control-allow-origin"), "{address}");
    }
    let sent = reader.post_body("/api/v1/reports", "application/json", "{}").await;
    assert!(!sent.headers.contains_key("access-control-allow-origin"));
}

#[tokio::test]
async fn five_hundred_kinds_are_labelled_in_one_print_and_what_is_too_much_is_said() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut ada = nursery(&Client::new(&store).await, &store).await;
    let many = (0..500).map(|nth| format!("Seedling {nth}, 3")).collect::<Vec<_>>().join("\n");
    ada.upload("/nursery/table", many.as_bytes(), &[("way", "replace")]).await.expect(StatusCode::SEE_OTHER);
    let page = ada.get("/nursery/labels?size=0").await.expect(StatusCode::OK).read().1;
    assert_eq!((texts(&page, ".label").len(), texts(&page, ".label-sheet").len()), (500, 21));
    ada.upload("/nursery/table", b"Celeste, 3000", &[("way", "replace")]).await.expect(StatusCode::SEE_OTHER);
    let page = ada.get("/nursery/labels?size=0&copies=each").await.expect(StatusCode::OK).read().1;
    assert_eq!(texts(&page, ".label").len(), 2000);
    assert!(text(&page, ".note").contains("2000 labels are printed at once; 2500 more are left out."), "{}", text(&page, ".note"));
}

#[tokio::test]
async fn every_row_of_a_shortlist_leads_to_its_sheet_for_the_same_place_in_one_tap() {
    let mut client = Client::at("2026-06-20T10:00:00Z").await;
    let page = client
        .get("/shortlist?place=Graz,+Styria,+Austria&culture=container&container_l=25&skin=dark&limit=5")
        .await
        .expect(StatusCode::OK)
        .read()
        .1;
    let rows = texts(&page, "ol.shortlist > li").len();
    let sheets = attributes(&page, "ol.shortlist .proof > p > a:first-of-type", "href");
    assert!(rows == 5 && sheets.len() == rows, "{rows} {sheets:?}");
    let named = texts(&page, "ol.shortlist h3");
    for (sheet, name) in sheets.iter().zip(&named).step_by(2) {
        assert!(!sheet.contains("skin=") && !sheet.contains("limit="), "{sheet}");
        let title = text(&client.get(sheet).await.expect(StatusCode::OK).read().1, "h1");
        assert!(title.starts_with(name.as_str()) && title.contains("Graz") && title.contains("pot"), "{title}");
    }
    // Those to plant together lead there too.
    let of_three = attributes(&page, "details.roles a[href^='/bench']", "href");
    assert_eq!(of_three.len(), texts(&page, "ol.three > li").len());
}

#[tokio::test]
async fn who_has_been_there_longest_takes_others_out_and_another_nursery_reaches_nothing() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let visitor = Client::new(&store).await;
    let mut ada = nursery(&visitor, &store).await;
    let made = ada.post("/nursery/invitation", &[("act", "new")]).await.read().1;
    let invitation = text(&made, "code.handed");
    let (mut bea, second) = with_role(&visitor, &store, "bea grower", Role::Member).await;
    let (mut cara, third) = with_role(&visitor, &store, "cara grower", Role::Nursery).await;
    let (mut dora, _) = with_role(&visitor, &store, "dora grower", Role::Nursery).await;
    for colleague in [&mut bea, &mut cara] {
        colleague.post("/nursery/join", &[("code", &invitation)]).await.expect(StatusCode::SEE_OTHER);
    }
    assert!(bea.get("/nursery/members").await.body.contains("cara grower"));
    bea.post("/nursery/take-out", &[("member", &third.id.to_string())]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    ada.post("/nursery/take-out", &[("member", &second.id.to_string())]).await.expect(StatusCode::OK);
    assert!(bea.get("/nursery").await.body.contains("You belong to no nursery yet"));
    // The invitation still holds until somebody ends it.
    ada.post("/nursery/invitation", &[("act", "end")]).await.expect(StatusCode::OK);
    bea.post("/nursery/join", &[("code", &invitation)]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    // When the first leaves, the next one has been there longest.
    ada.post("/nursery/leave", &[]).await.expect(StatusCode::SEE_OTHER);
    cara.post("/nursery/stock", &[("name", "Celeste"), ("count", "3")]).await.expect(StatusCode::SEE_OTHER);
    let page = cara.get("/nursery").await.read().1;
    let (line, version) =
        (first(&page, "form[action='/nursery/sell'] input", "value"), first(&page, "form[action='/nursery/sell'] button", "value"));
    // Another nursery sees neither the line nor what was done to it.
    dora.post("/nursery/start", &[("name", "Mill Lane")]).await.expect(StatusCode::SEE_OTHER);
    let address = first(&page, "table.stock a.button", "href");
    dora.get(&address).await.expect(StatusCode::NOT_FOUND);
    dora.post(&address, &[("version", &version), ("name", "Mine")]).await.expect(StatusCode::NOT_FOUND);
    dora.post("/nursery/sell", &[("line", &line), ("version", &version)]).await.expect(StatusCode::NOT_FOUND);
    let deed = store.stock_changes_of(third.id).await.unwrap()[0].deed.to_string();
    dora.post("/nursery/undo", &[("deed", &deed)]).await.expect(StatusCode::CONFLICT);
    dora.post("/nursery/take-out", &[("member", &third.id.to_string())]).await.expect(StatusCode::NOT_FOUND);
    assert_eq!(counts(&mut cara).await, [stands("Celeste", "3")]);
}
