//! Records of weather stations fetched over TLS from an archive on loopback whose certificate a root of this test vouches for
//! (`tests/pages/web/tls`, made with `openssl`, valid to 2126; the root's own key was thrown away), from documents in the published by-station layout of GHCN-Daily.

use std::io::Write as _;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::http::StatusCode;
use flate2::Compression;
use flate2::write::GzEncoder;
use tokio::io::AsyncWriteExt;
use tokio::net::TcpListener;
use winterfig::clock::FixedClock;
use winterfig::jobs::station_record::archive::{Archive, NoRecord};
use winterfig::model::snapshot::Snapshot;
use winterfig::outbound::{Bounds, Host};
use winterfig::records::StationId;
use winterfig::web::AppState;

use super::House;
use super::tls_host::{acceptor, head, tls};
use crate::support::cases::case;
use crate::support::client::{Client, GENEROUS};

const NOW: &str = "2026-06-20T10:00:00Z";
/// Seattle-Tacoma, of which the cases hold a record.
const STATION: &str = "USW00024233";
const QUESTION: [(&str, &str); 3] = [("place", "SeaTac, US"), ("station", STATION), ("setting", "wall")];
const SHORT: Bounds = Bounds { bytes: 2 << 20, time: Duration::from_secs(20), silence: Duration::from_millis(300) };

#[derive(Clone)]
enum Reply {
    Whole(Vec<u8>),
    Status(u16, &'static str),
    /// Fewer bytes than promised.
    BreaksOff(Vec<u8>),
    /// Nothing at all.
    Silent,
    /// More bytes than may be, without a length.
    Endless,
    /// The document of the path's last part; none where it is not there.
    Of(Vec<(&'static str, Vec<u8>)>),
}

/// An archive that answers every path with `reply`; gives its address and the paths asked.
async fn archive_of(reply: Reply) -> (String, Arc<Mutex<Vec<String>>>) {
    let acceptor = acceptor();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("https://localhost:{}/daily", listener.local_addr().unwrap().port());
    let asked = Arc::new(Mutex::new(Vec::new()));
    let seen = Arc::clone(&asked);
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            let (acceptor, reply, seen) = (acceptor.clone(), reply.clone(), Arc::clone(&seen));
            tokio::spawn(async move {
                let Ok(mut stream) = acceptor.accept(stream).await else { return };
                let Some(head) = head(&mut stream).await else { return };
                assert!(head.contains("user-agent: winterfig/"), "{head}");
                let path = head.split(' ').nth(1).unwrap().to_owned();
                seen.lock().unwrap().push(path.clone());
                let reply = match reply {
                    Reply::Of(documents) => {
                        let found = documents.into_iter().find(|(name, _)| path.ends_with(name));
                        found.map_or(Reply::Status(404, ""), |(_, bytes)| Reply::Whole(bytes))
                    }
                    other => other,
                };
                answer(&mut stream, reply).await;
                let _ = stream.shutdown().await;
            });
        }
    });
    (address, asked)
}

async fn answer(stream: &mut (impl AsyncWriteExt + Unpin), reply: Reply) {
    let head = |status: u16, more: &str| format!("HTTP/1.1 {status} X\r\nconnection: close\r\n{more}\r\n");
    let length = |bytes: usize| format!("content-type: application/gzip\r\ncontent-length: {bytes}\r\n");
    let _ = match reply {
        Reply::Of(_) => Ok(()),
        Reply::Whole(bytes) => stream.write_all(&[head(200, &length(bytes.len())).as_bytes(), &bytes].concat()).await,
        Reply::BreaksOff(bytes) => {
            stream.write_all(&[head(200, &length(bytes.len())).as_bytes(), &bytes[..bytes.len() / 2]].concat()).await
        }
        Reply::Status(status, more) => stream.write_all(head(status, &format!("{more}content-length: 0\r\n")).as_bytes()).await,
        Reply::Silent => {
            std::future::pending::<()>().await;
            Ok(())
        }
        Reply::Endless => {
            let mut sent = stream.write_all(head(200, "").as_bytes()).await;
            let block = vec![b'x'; 1 << 16];
            while sent.is_ok() {
                sent = stream.write_all(&block).await;
            }
            sent
        }
    };
}

/// A plain record of the cases in the by-station layout, gzipped: `station,date,element,tenths,,,source,`.
fn by_station(station: &str) -> Option<Vec<u8>> {
    let text = case("climate/seattle_tacoma_1948_2017.csv")?;
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    let mut lines = text.lines();
    let names: Vec<&str> = lines.next().unwrap().split(',').collect();
    let column = |name: &str| names.iter().position(|n| n.contains(name)).unwrap();
    let (date, columns) = (column("date"), [("TMIN", column("min")), ("TMAX", column("max"))]);
    for line in lines {
        let fields: Vec<&str> = line.split(',').collect();
        for (element, at) in columns {
            if let Ok(degrees) = fields[at].parse::<f64>() {
                writeln!(packed, "{station},{},{element},{:.0},,,0,", fields[date].replace('-', ""), degrees * 10.0).unwrap();
            }
        }
    }
    Some(packed.finish().unwrap())
}

async fn visitor(house: &House, address: &str, bounds: Bounds) -> Client {
    let host = Host::named_by_operator(address, Some(&tls("root.pem"))).unwrap();
    let archive = Archive::new(host, Arc::clone(&house.store)).within(bounds);
    let snapshot = Snapshot::from_priors(house.store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(&house.store), Arc::new(FixedClock(NOW.parse().unwrap()))).allowing(GENEROUS);
    Client::over(winterfig::routes::router(state.with_archive(Some(archive))))
}

#[tokio::test]
async fn a_station_near_the_town_is_one_tap_away_and_its_record_narrows_the_answer() {
    let Some(document) = by_station(STATION) else { return };
    let house = House::new().await;
    let (address, asked) = archive_of(Reply::Whole(document)).await;
    let mut client = visitor(&house, &address, Bounds { silence: Duration::from_secs(20), ..SHORT }).await;
    let page = client.get("/shortlist?place=SeaTac,+US&setting=wall").await.expect(StatusCode::OK).body;
    assert!(page.contains(&format!("name=\"station\" value=\"{STATION}\"")), "{page}");
    assert!(
        page.contains("not knowing your place better") || page.contains("doubt is how cold your winters get"),
        "how much of the ranges comes from the place: {page}"
    );
    assert!(asked.lock().unwrap().is_empty(), "nothing is fetched unasked");
    let answer = client.post("/record/near", &QUESTION).await.expect(StatusCode::SEE_OTHER);
    let to = answer.location().to_owned();
    let page = client.get(&to).await.expect(StatusCode::OK).body;
    for words in ["Figs for SeaTac", "Seattle Tacoma", "What the record changed", "in ten narrower", "1961–1990"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    // Others find it kept: nothing goes out again, from this process or the next.
    client.another().post("/record/near", &QUESTION).await.expect(StatusCode::SEE_OTHER);
    visitor(&house, &address, SHORT).await.get(&to).await.expect(StatusCode::OK);
    assert_eq!(*asked.lock().unwrap(), [format!("/daily/by_station/{STATION}.csv.gz")]);
}

#[tokio::test]
async fn a_record_that_was_fetched_gives_the_answer_of_the_same_file_handed_in() {
    let Some(document) = by_station(STATION) else { return };
    let house = House::new().await;
    let (address, _) = archive_of(Reply::Whole(document.clone())).await;
    let mut client = visitor(&house, &address, Bounds { silence: Duration::from_secs(20), ..SHORT }).await;
    client.join("grower").await;
    client.post("/record/near", &QUESTION).await.expect(StatusCode::SEE_OTHER);
    let refused = client.post("/record/near/keep", &QUESTION).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(refused.contains("give it a name"));
    let keep = [&QUESTION[..], &[("keep_as", "The airport")]].concat();
    let site = client.post("/record/near/keep", &keep).await.expect(StatusCode::SEE_OTHER).location().to_owned();
    let kept = client.get(&site).await.expect(StatusCode::OK).body;
    let given = [("latitude", "47.44"), ("setting", "wall"), ("keep_as", "Handed in")];
    let site = client.upload("/record", &document, &given).await.expect(StatusCode::SEE_OTHER).location().to_owned();
    let handed_in = client.get(&site).await.expect(StatusCode::OK).body;
    let told =
        |page: &str| page.split("<h1>").nth(1).unwrap().split("<h2 id=\"again\">").next().unwrap().replace("The airport", "Handed in");
    assert_eq!(told(&kept), told(&handed_in));
    assert!(told(&kept).contains("Half-zone at the station"));
}

#[tokio::test]
async fn a_record_that_cannot_be_had_is_told_in_a_sentence_with_the_answer_without_it() {
    let Some(good) = by_station(STATION) else { return };
    let cut = good[..good.len() / 2].to_vec();
    let other = by_station("USW00024234").unwrap();
    let house = House::new().await;
    for (reply, words) in [
        (Reply::Status(404, ""), "the archive has no daily record of station USW00024233"),
        (Reply::Status(500, ""), "it answered 500"),
        (Reply::Status(302, "location: https://127.0.0.1/elsewhere\r\n"), "sends on to another address (302), which is not followed"),
        (Reply::Silent, "nothing came for"),
        (Reply::Endless, "larger than the 2 MB"),
        (Reply::BreaksOff(good.clone()), "the connection broke"),
        (Reply::Whole(cut), "cannot be used: line"),
        (Reply::Whole(other), "station USW00024233 is not in this file"),
        (Reply::Whole(b"<html>Service notice</html>".to_vec()), "is not the start of a daily record"),
        (Reply::Whole(Vec::new()), "cannot be used"),
    ] {
        let (address, asked) = archive_of(reply).await;
        let mut client = visitor(&house, &address, SHORT).await;
        let page = client.post("/record/near", &QUESTION).await.expect(StatusCode::OK).body;
        let notice = page.split("role=\"alert\"").nth(1).unwrap_or_else(|| panic!("{words}: {page}")).split("</div>").next().unwrap();
        assert!(notice.contains("No record was had") && notice.contains(words), "{words}: {notice}");
        assert!(page.contains("Figs for SeaTac") && page.contains("id=\"list\""), "the answer without it");
        assert!(page.contains("name=\"setting\" value=\"wall\"") && page.contains("name=\"place\""), "what was typed is kept");
        assert_eq!(asked.lock().unwrap().len(), 1, "{words}: no redirect is followed, nothing is asked twice");
        assert_eq!(house.store.archive_document(&format!("by_station/{STATION}.csv.gz")).await.unwrap(), None, "{words}: nothing is kept");
    }
}

#[tokio::test]
async fn an_archive_that_nobody_vouches_for_is_not_read() {
    let house = House::new().await;
    let (address, asked) = archive_of(Reply::Status(404, "")).await;
    for host in [
        Host::named_by_operator(&address, None).unwrap(),
        // At a private address, which a public host may not have, whoever vouches for it.
        Host::public(&address).unwrap(),
        Host::named_by_operator(&address.replace("localhost", "127.0.0.2"), Some(&tls("root.pem"))).unwrap(),
    ] {
        let archive = Archive::new(host, Arc::clone(&house.store)).within(SHORT);
        let why = archive.record(&STATION.parse().unwrap(), NOW.parse().unwrap()).await.unwrap_err();
        assert!(matches!(&why, NoRecord::Outbound { .. }) && why.to_string().contains("could not be reached"), "{why}");
    }
    assert!(asked.lock().unwrap().is_empty());
}

#[tokio::test]
async fn one_station_is_fetched_once_however_many_ask_and_again_after_a_month() {
    let Some(document) = by_station(STATION) else { return };
    let house = House::new().await;
    let (address, asked) = archive_of(Reply::Whole(document)).await;
    let host = Host::named_by_operator(&address, Some(&tls("root.pem"))).unwrap();
    let archive = Archive::new(host, Arc::clone(&house.store)).within(Bounds { silence: Duration::from_secs(20), ..SHORT });
    let id: StationId = STATION.parse().unwrap();
    let mut asking = tokio::task::JoinSet::new();
    for _ in 0..8 {
        let (archive, id) = (archive.clone(), id.clone());
        asking.spawn(async move { archive.record(&id, NOW.parse().unwrap()).await.unwrap().document.sha256 });
    }
    let hashes = asking.join_all().await;
    assert!(hashes.iter().all(|hash| *hash == hashes[0]) && hashes[0].len() == 64);
    assert_eq!(asked.lock().unwrap().len(), 1);
    for (later, times) in [("2026-07-10T10:00:00Z", 1), ("2026-07-22T10:00:00Z", 2), ("2026-07-23T10:00:00Z", 2)] {
        assert!(archive.record(&id, later.parse().unwrap()).await.unwrap().stale.is_none());
        assert_eq!(asked.lock().unwrap().len(), times, "{later}");
    }
    // A record older than a month is used still where no newer one can be had.
    let nobody = Archive::new(Host::named_by_operator("https://127.0.0.1:1", None).unwrap(), Arc::clone(&house.store));
    assert!(nobody.record(&id, "2026-12-01T10:00:00Z".parse().unwrap()).await.unwrap().stale.is_some());
}

#[tokio::test]
async fn without_leave_to_go_out_the_files_are_linked_and_nothing_is_fetched() {
    let mut house = House::new().await;
    let page = house.client.get("/shortlist?place=SeaTac,+US").await.expect(StatusCode::OK).body;
    assert!(page.contains(&format!("by_station/{STATION}.csv.gz")) && !page.contains("/record/near"));
    house.client.post("/record/near", &QUESTION).await.expect(StatusCode::NOT_FOUND);
    let mut client = visitor(&house, "https://127.0.0.1:1", SHORT).await;
    for (place, station) in [("Seattle, US", "USC00010655"), ("Seattle, US", "../../etc"), ("", STATION), ("Vienna, AT", STATION)] {
        let asked = [("place", place), ("station", station)];
        client.post("/record/near", &asked).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }
}

/// Lines in the published columns for invented stations about a point in the Pacific, and one near Seattle that the program's own list lacks.
fn lists() -> (String, String) {
    let (mut stations, mut inventory) = (String::new(), String::new());
    let mut line = |id: &str, at: (f64, f64), name: &str, years: (u16, u16)| {
        stations.push_str(&format!("{id:<11} {:>8.4} {:>9.4} {:>6.1} WA {name:<30}\n", at.0, at.1, 10.0));
        inventory.push_str(&format!("{id:<11} {:>8.4} {:>9.4} TMIN {} {}\n", at.0, at.1, years.0, years.1));
    };
    for n in 0..5_000 {
        line(&format!("XX{n:09}"), (-40.0, -130.0 + f64::from(n) / 1000.0), "INVENTED", (1950, 2025));
    }
    line("XX999999999", (47.61, -122.33), "NEW MARKET SQUARE", (2000, 2026));
    line("XX888888888", (47.60, -122.33), "TOO YOUNG", (2015, 2026));
    (stations, inventory)
}

#[tokio::test]
async fn the_list_of_stations_is_fetched_once_a_month_and_offers_stations_that_are_new() {
    let house = House::new().await;
    let (stations, inventory) = lists();
    let documents = vec![("ghcnd-stations.txt", stations.into_bytes()), ("ghcnd-inventory.txt", inventory.into_bytes())];
    let (address, asked) = archive_of(Reply::Of(documents)).await;
    let host = || Host::named_by_operator(&address, Some(&tls("root.pem"))).unwrap();
    let archive = Archive::new(host(), Arc::clone(&house.store));
    for (now, times) in [(NOW, 2), ("2026-07-10T10:00:00Z", 2), ("2026-07-22T10:00:00Z", 4)] {
        archive.refresh_list(now.parse().unwrap()).await.unwrap();
        assert_eq!((archive.list().unwrap().len(), asked.lock().unwrap().len()), (5_001, times), "{now}");
    }
    // Another process, and one whose archive is not there, take up what is kept.
    let nobody = Archive::new(Host::named_by_operator("https://127.0.0.1:1", None).unwrap(), Arc::clone(&house.store));
    assert!(nobody.refresh_list("2026-12-01T10:00:00Z".parse().unwrap()).await.is_err());
    assert_eq!(nobody.list().unwrap().len(), 5_001);
    let snapshot = Snapshot::from_priors(house.store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(&house.store), Arc::new(FixedClock(NOW.parse().unwrap()))).allowing(GENEROUS);
    let mut client = Client::over(winterfig::routes::router(state.with_archive(Some(archive))));
    let page = client.get("/shortlist?place=Seattle,+US").await.expect(StatusCode::OK).body;
    assert!(page.contains("New Market Square") && !page.contains("Too Young"), "{page}");
    let page = client.post("/record/near", &[("place", "Seattle, US"), ("station", "XX999999999")]).await.expect(StatusCode::OK).body;
    assert!(page.contains("has no daily record of station XX999999999"), "{page}");
}
