//! Pages: first, again, and while reports are accepted.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use hyper::StatusCode;

use crate::client::{Service, Visitor};
use crate::median_and_most;
use crate::society::Society;
use crate::table::Figures;

/// How long pages are asked while reports are accepted.
const ACCEPTING: Duration = Duration::from_secs(20);
/// Time between two reports that are sent and accepted.
const PACE: Duration = Duration::from_millis(250);

struct Page<'a> {
    name: &'static str,
    path: String,
    session: Option<&'a str>,
}

fn pages(society: &Society) -> Vec<Page<'_>> {
    let (grower, steward) = (Some(society.grower.as_str()), Some(society.steward.as_str()));
    let page = |name, path: &str, session| Page { name, path: path.to_owned(), session };
    vec![
        page("/reports", "/reports", None),
        page("reports of a cultivar", "/reports?cultivar=celeste", None),
        page("reports filtered", "/reports?protection=none&coldest_from_c=-20", None),
        page("reports near a town", "/reports?place=Graz,+AT", None),
        page("API reports", "/api/v1/reports?limit=100", None),
        page("own report", &format!("/reports/{}", society.own), grower),
        page("report of others", &format!("/reports/{}", society.own), None),
        page("garden", "/garden", grower),
        page("review queue", "/review", steward),
        page("review case", &format!("/review/{}", society.waiting), steward),
        page("members", "/office/members", steward),
        page("cultivar", "/cultivars/celeste", None),
        page("/data", "/data", None),
        page("shortlist", "/shortlist?zone=7a&climate=inland&setting=wall", None),
    ]
}

/// Asks each page twice; what is refused has no figure.
pub async fn first_and_again(service: &mut Service, society: &Society, figures: &mut Figures) {
    for page in pages(society) {
        for when in ["first", "again"] {
            let answer = service.visitor.get(&page.path, page.session).await;
            let ms = if answer.status == StatusCode::OK { answer.ms() } else { f64::NAN };
            if answer.status != StatusCode::OK {
                eprintln!("{} {when}: {}", page.name, answer.status);
            }
            figures.add(format!("{} {when}, ms", page.name), ms);
        }
    }
}

/// Asks each page once, for the bytes of it.
pub async fn once_more(service: &mut Service, society: &Society, figures: &mut Figures) {
    let mut largest: f64 = 0.0;
    for page in pages(society) {
        let answer = service.visitor.get(&page.path, page.session).await;
        let kb = answer.body.len() as f64 / 1e3;
        largest = largest.max(if page.name.starts_with("API") { 0.0 } else { kb });
        figures.add(format!("{}, kB", page.name), kb);
        if answer.status != StatusCode::OK {
            eprintln!("{}: {}", page.name, answer.status);
        }
    }
    figures.add("largest page, kB", largest);
}

/// Reports sent and accepted one after another until the flag falls; gives how many.
pub async fn accept_on(address: std::net::SocketAddr, society: &Society, on: &AtomicBool, from: usize) -> usize {
    let mut visitor = Visitor::of(address);
    let mut nth = from;
    while on.load(Ordering::Relaxed) {
        let report = visitor.report(society, nth).await;
        visitor.accept(society, &report).await;
        nth += 1;
        tokio::time::sleep(PACE).await;
    }
    nth - from
}

/// Asks all pages in turn while reports are accepted.
pub async fn while_accepting(service: &mut Service, society: &Society, figures: &mut Figures) {
    let on = Arc::new(AtomicBool::new(true));
    let pages = pages(society);
    let mut times: Vec<Vec<Duration>> = pages.iter().map(|_| Vec::new()).collect();
    let asking = async {
        let begun = Instant::now();
        while begun.elapsed() < ACCEPTING {
            for (page, times) in pages.iter().zip(&mut times) {
                let answer = service.visitor.get(&page.path, page.session).await;
                times.push(answer.took);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        on.store(false, Ordering::Relaxed);
    };
    let address = service.address;
    let (accepted, ()) = tokio::join!(accept_on(address, society, &on, 1_000), asking);
    figures.add("accepted meanwhile, reports/s", accepted as f64 / ACCEPTING.as_secs_f64());
    for (page, times) in pages.iter().zip(times) {
        let (median, most) = median_and_most(times);
        figures.add(format!("{} accepting, ms", page.name), median);
        figures.add(format!("{} longest while accepting, ms", page.name), most);
    }
}
