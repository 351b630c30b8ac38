//! What the nursery prints, measured in the PDF by other programs: pages by `pdfinfo`, places of words by `pdftotext -bbox`, square codes by
//! `zbarimg` (Debian: poppler-utils, zbar-tools). Where one is not installed its test says so and passes; in CI it fails.

use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;
use winterfig::records::Role;

use super::driver::Browser;
use super::members::{joined, post};
use super::site::Site;

/// ISO 216 A4, and Letter of ANSI/ASME Y14.1, inches.
const PAPER: [(f64, f64); 2] = [(8.27, 11.69), (8.5, 11.0)];
const FIGS: [&str; 6] = ["Celeste", "Brown Turkey", "Alma", "Brunswick", "Genoa", "LSU Purple"];
/// PostScript points of a CSS pixel (96 to the inch), and a little.
const PIXEL: f64 = 0.76;
/// PostScript points in a millimetre.
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// Whether programs are installed; without them a test is skipped, in CI it fails.
fn installed(programs: &[&str]) -> bool {
    let missing: Vec<&&str> = programs.iter().filter(|program| Command::new(program).arg("--help").output().is_err()).collect();
    assert!(missing.is_empty() || std::env::var_os("CI").is_none(), "{missing:?} not installed");
    if !missing.is_empty() {
        eprintln!("SKIPPED: {missing:?} not installed");
    }
    missing.is_empty()
}

/// Prints the page shown; with no paper given, on that of its own stylesheet.
async fn printed(browser: &Browser, paper: Option<(f64, f64)>, folder: &Path) -> PathBuf {
    browser.emulate_media("print", false).await;
    let parameters = match paper {
        Some((width, height)) => json!({ "paperWidth": width, "paperHeight": height }),
        None => json!({ "preferCSSPageSize": true }),
    };
    let sheet = browser.protocol("Page.printToPDF", parameters).await;
    let path = folder.join("printed.pdf");
    std::fs::write(&path, STANDARD.decode(sheet["data"].as_str().unwrap()).unwrap()).unwrap();
    path
}

fn said_by(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).output().unwrap();
    assert!(output.status.success(), "{program} {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Pages of a PDF, and the size of the first, points.
fn pages(pdf: &Path) -> (usize, (f64, f64)) {
    let info = said_by("pdfinfo", &[pdf.to_str().unwrap()]);
    let of = |name: &str| info.lines().find_map(|line| line.strip_prefix(name)).unwrap().trim().to_owned();
    let size = of("Page size:");
    let mut numbers = size.split(' ').filter_map(|word| word.parse::<f64>().ok());
    (of("Pages:").parse().unwrap(), (numbers.next().unwrap(), numbers.next().unwrap()))
}

/// Left and upper edge of a word wherever it stands, points, page by page.
fn places_of(pdf: &Path, word: &str) -> Vec<(f64, f64)> {
    let text = said_by("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    let number =
        |line: &str, name: &str| -> f64 { line.split(&format!("{name}=\"")).nth(1).unwrap().split('"').next().unwrap().parse().unwrap() };
    let of_word = text.lines().filter(|line| line.trim_end().ends_with(&format!(">{word}</word>")));
    of_word.map(|line| (number(line, "xMin"), number(line, "yMin"))).collect()
}

/// A nursery with some figs in stock, its member signed in.
async fn nursery(browser: &Browser, site: &Site, stock: &[(&str, &str)]) {
    browser.client.goto(&site.at("/garden")).await.unwrap();
    joined(browser, "ada grower").await;
    let ada = site.store().members().await.unwrap().into_iter().find(|m| m.handle.as_str() == "ada grower").unwrap();
    site.store().change_role(ada.id, Role::Nursery).await.unwrap();
    post(browser, "/nursery/start", &[("name", "Weir Lane"), ("where", "6b")]).await;
    for (name, count) in stock {
        post(
            browser,
            "/nursery/stock",
            &[("name", name), ("form", "pot"), ("pot_l", "4"), ("count", count), ("price", "15"), ("currency", "EUR")],
        )
        .await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn sheets_of_a_whole_stock_take_a_page_each_on_either_paper() {
    let Some(browser) = Browser::open().await.filter(|_| installed(&["pdfinfo", "pdftotext"])) else { return };
    let site = Site::start().await;
    let folder = tempfile::tempdir().unwrap();
    nursery(&browser, &site, &FIGS.map(|name| (name, "3"))).await;
    for (place, paper) in [("where=5a&culture=container", PAPER[0]), ("where=9b&culture=ground", PAPER[1]), ("where=Graz", PAPER[1])] {
        browser.client.goto(&site.at(&format!("/nursery/sheets?{place}"))).await.unwrap();
        let pdf = printed(&browser, Some(paper), folder.path()).await;
        assert_eq!(pages(&pdf).0, FIGS.len(), "{place} on {paper:?} inches");
        for page in 1..=FIGS.len() {
            let number = page.to_string();
            let text = said_by("pdftotext", &["-f", &number, "-l", &number, pdf.to_str().unwrap(), "-"]);
            let headings = text.matches("Does it live?").count();
            assert!(headings == 1 && text.contains("From Weir Lane"), "page {page} of {place}: {headings} sheets begin on it");
        }
    }
    browser.close().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn labels_lie_where_the_measures_say_and_none_is_cut() {
    let Some(browser) = Browser::open().await.filter(|_| installed(&["pdfinfo", "pdftotext"])) else { return };
    let site = Site::start().await;
    let folder = tempfile::tempdir().unwrap();
    nursery(&browser, &site, &[("Celeste", "10"), ("English Brown Turkey", "1")]).await;
    // Query, page (mm), label (mm), gaps (mm), columns, labels on a page.
    let own = "size=own&unit=mm&page_w=210&page_h=297&columns=2&rows=4&top=20&right=12&bottom=17&left=8&gap_x=6&gap_y=4";
    for (query, page, pitch, columns, on_a_page) in [
        ("size=2", (210.0, 297.0), (50.0, (297.0 - 2.0 - 45.0) / 10.0 + 5.0), 4, 40),
        ("size=0", (210.0, 297.0), (70.0, 297.0 / 8.0), 3, 24),
        ("size=4", (215.9, 279.4), (95.25, 50.8), 2, 10),
        (own, (210.0, 297.0), ((210.0 - 20.0 - 6.0) / 2.0 + 6.0, (297.0 - 37.0 - 12.0) / 4.0 + 4.0), 2, 8),
    ] {
        browser.client.goto(&site.at(&format!("/nursery/labels?{query}&copies=each&price=yes"))).await.unwrap();
        let pdf = printed(&browser, None, folder.path()).await;
        let (count, size) = pages(&pdf);
        assert_eq!(count, 11_usize.div_ceil(on_a_page), "{query}");
        assert!((size.0 - page.0 * POINTS_PER_MM).abs() < 1.0 && (size.1 - page.1 * POINTS_PER_MM).abs() < 1.0, "{query}: {size:?} points");
        let names = places_of(&pdf, "Celeste");
        assert_eq!(names.len(), 10, "{query}: every label is there");
        let cut = "return [...document.querySelectorAll('.label')].filter((label) => {
            const [outer, words] = [label, label.querySelector('.label-words')].map((e) => e.getBoundingClientRect());
            return words.top < outer.top || words.bottom > outer.bottom || words.right > outer.right;
        }).length";
        assert_eq!(browser.run(cut).await, json!(0), "{query}: words that do not fit their label");
        // From label to label within a row and from row to row, to a pixel of 0.75 points, since the browser lays words on whole ones.
        let (first, second, below) = (names[0], names[1], names[columns]);
        assert!((second.0 - first.0 - pitch.0 * POINTS_PER_MM).abs() < PIXEL, "{query}: {} points across", second.0 - first.0);
        assert!((second.1 - first.1).abs() < PIXEL && (below.0 - first.0).abs() < PIXEL, "{query}");
        assert!((below.1 - first.1 - pitch.1 * POINTS_PER_MM).abs() < PIXEL, "{query}: {} points down", below.1 - first.1);
    }
    browser.close().await;
}

/// What the squares of a PDF's first page hold, by zbar.
fn squares(pdf: &Path, folder: &Path) -> Vec<String> {
    let image = folder.join("page");
    said_by("pdftoppm", &["-r", "300", "-f", "1", "-l", "1", "-png", "-singlefile", pdf.to_str().unwrap(), image.to_str().unwrap()]);
    let read = said_by("zbarimg", &["--raw", "-q", image.with_extension("png").to_str().unwrap()]);
    read.lines().map(str::to_owned).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn squares_on_paper_are_read_by_another_program_and_lead_where_they_say() {
    let Some(browser) = Browser::open().await.filter(|_| installed(&["pdftoppm", "zbarimg"])) else { return };
    let site = Site::start().await;
    let folder = tempfile::tempdir().unwrap();
    nursery(&browser, &site, &[("Celeste", "1")]).await;
    browser
        .client
        .goto(&site.at("/bench?cultivar=celeste&place=Graz&culture=container&container_l=25&protection=carried_in"))
        .await
        .unwrap();
    let read = squares(&printed(&browser, Some(PAPER[0]), folder.path()).await, folder.path());
    assert_eq!(read.len(), 2, "{read:?}");
    assert!(read.iter().any(|address| address.starts_with(&site.at("/bench?cultivar=celeste&place=Graz"))), "{read:?}");
    let tell = read.iter().find(|address| address.starts_with(&site.at("/reports/new?"))).unwrap();
    browser.client.goto(tell).await.unwrap();
    let typed = "return [document.querySelector('[name=name]').value, document.querySelector('[name=place]').value.slice(0, 4)]";
    assert_eq!(browser.run(typed).await, json!(["Celeste", "Graz"]));
    // The square of the smallest label offered.
    browser.client.goto(&site.at("/nursery/labels?size=2")).await.unwrap();
    let read = squares(&printed(&browser, None, folder.path()).await, folder.path());
    assert!(read.len() == 1 && read[0].starts_with(&site.at("/bench?cultivar=celeste&zone=6b")), "{read:?}");
    browser.close().await;
}
