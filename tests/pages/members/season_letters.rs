//! Letters of the season: each in the season of the garden's own place, once however many processes make them; handed to a mail server of other
//! people's making, and read by a parser that is not ours.

use std::io::{BufRead, BufReader};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use jiff::{SignedDuration, Timestamp};
use serde_json::Value;
use uuid::Uuid;
use winterfig::clock::FixedClock;
use winterfig::ids::Ids;
use winterfig::jobs::accounts::mail::Mail;
use winterfig::jobs::accounts::mail_relay::RelaySettings;
use winterfig::jobs::letters::sender::{Fate, look};
use winterfig::jobs::reminders::page_picture;
use winterfig::jobs::reminders::season_letters::{KINDS, SeasonLetters};
use winterfig::model::snapshot::Snapshot;
use winterfig::records::words::TopKilled;
use winterfig::records::{FirstScale, LetterKind, Member, Role, TakenLetter};
use winterfig::store::{Leaving, LinkPurpose, MailLink, Store};
use winterfig::web::AppState;

use super::relay::root;
use super::reminders::read_by_others;
use crate::support::members::{joined, moment, plant, record, submission};
use crate::support::{TestDatabase, on_both_engines};

const NORTH: &str = "Graz, Austria";
const SOUTH: &str = "Canberra, Australia";

fn at(moment: &str) -> Timestamp {
    format!("{moment}T09:00:00Z").parse().unwrap()
}

/// A grower with a confirmed address and a garden, who wishes for letters of the season.
async fn grower(store: &dyn Store, handle: &str, town: &str) -> Member {
    let grower = joined(store, handle, Role::Member).await;
    let email = format!("{}@example.org", handle.replace(' ', "."));
    store.set_mail_address(grower.id, Some(&email)).await.unwrap();
    let link = MailLink { secret_hash: handle.to_owned(), member: grower.id, purpose: LinkPurpose::Confirm, email, ends: moment(600) };
    store.keep_link(&link).await.unwrap();
    assert!(store.confirm_address(handle, moment(0)).await.unwrap());
    store.wish_for_letters(grower.id, &KINDS, &format!("stop of {handle}"), moment(0)).await.unwrap();
    for (name, top, coldest) in
        [("Fennmere Lantern", TopKilled::None, -8.0), ("Fennmere Lantern", TopKilled::Tips, -9.0), ("olympian", TopKilled::ToGround, -14.0)]
    {
        let mut planted = plant(grower.id, "olympian");
        name.clone_into(&mut planted.name_written);
        planted.place.words = Some(town.to_owned());
        let mut record = record(coldest, top);
        if town == SOUTH {
            (record.winter, record.looked) = ("2025".parse().unwrap(), jiff::civil::date(2025, 11, 20));
        }
        store.submit(&submission(&grower, &Uuid::now_v7().to_string(), planted, record)).await.unwrap();
    }
    grower
}

/// What makes the letters of one process.
async fn process(store: &Arc<dyn Store>, seed: u64) -> (SeasonLetters, Arc<Snapshot>) {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(store), Arc::new(FixedClock(moment(0)))).with_ids(&Ids::seeded(seed));
    let mail =
        Mail::new(&RelaySettings { url: "smtp://localhost", ..RelaySettings::default() }, "figs@example.org", "https://figs.example.org")
            .unwrap();
    (page_picture::letters_of(&state, mail), state.snapshot())
}

/// The letters that wait, taken.
async fn waiting(store: &dyn Store, now: Timestamp) -> Vec<TakenLetter> {
    let mut all = Vec::new();
    while let Some(taken) = store.take_letter(now, now + SignedDuration::from_hours(1)).await.unwrap() {
        store.letter_sent(taken.letter.id).await.unwrap();
        all.push(taken);
    }
    all
}

on_both_engines! {
    async fn a_season_is_told_once_by_two_processes_and_by_a_clock_that_jumps(database) {
        let store = database.open().await;
        let grower = grower(&*store, "fig grower", NORTH).await;
        let ((one, snapshot), (two, _)) = (process(&store, 1).await, process(&store, 2).await);
        // Before buds break nothing is told.
        assert_eq!(one.round(&snapshot, at("2027-03-20")).await.unwrap(), 0);
        let now = at("2027-04-29");
        let (first, second) = tokio::join!(one.round(&snapshot, now), two.round(&snapshot, now));
        assert_eq!(first.unwrap() + second.unwrap(), 1);
        let letters = waiting(&*store, now).await;
        assert_eq!(letters.iter().map(|taken| taken.letter.kind).collect::<Vec<_>>(), [LetterKind::Spring]);
        let words = &letters[0].letter.words;
        for part in ["3 figs, five minutes: what did winter 2026/27 do to them?", "2 × Fennmere Lantern, olympian", "https://figs.example.org/garden/winter",
            "Which trial next?", "https://figs.example.org/trials?place=Graz"]
        {
            assert!(words.contains(part), "{part} in {words}");
        }
        // Backwards, forwards within the season, and again: told is told.
        for day in ["2027-04-28", "2027-05-05", "2027-04-29"] {
            assert_eq!(two.round(&snapshot, at(day)).await.unwrap(), 0, "{day}");
        }
        // A year ahead is another season, and back again nothing new.
        assert_eq!(one.round(&snapshot, at("2028-04-29")).await.unwrap(), 1);
        assert_eq!(two.round(&snapshot, at("2027-04-30")).await.unwrap(), 0);
        let told: Vec<(LetterKind, String)> = store.told_seasons(grower.id).await.unwrap().into_iter().map(|told| (told.kind, told.season)).collect();
        assert_eq!(told, [(LetterKind::Spring, "2027".to_owned()), (LetterKind::Spring, "2028".to_owned())]);
    }

    async fn who_left_or_stopped_while_a_letter_waits_gets_none_and_who_has_told_everything_is_not_asked(database) {
        let store = database.open().await;
        let (leaver, stopper) = (grower(&*store, "leaver", NORTH).await, grower(&*store, "stopper", NORTH).await);
        let (letters, snapshot) = process(&store, 3).await;
        assert_eq!(letters.round(&snapshot, at("2027-04-29")).await.unwrap(), 2);
        // The year that was told about, with its picture, waits too.
        assert_eq!(letters.round(&snapshot, at("2028-01-12")).await.unwrap(), 2);
        store.forget_member(leaver.id, Leaving::RemoveRecords, Uuid::from_u128(3), moment(9)).await.unwrap();
        assert!(store.stop_letters("stop of stopper").await.unwrap());
        assert_eq!(waiting(&*store, at("2028-01-12")).await, []);
        assert_eq!(letters.round(&snapshot, at("2028-04-29")).await.unwrap(), 0);
        assert_eq!(store.told_seasons(leaver.id).await.unwrap(), []);
        // Winter 2025/26 is told for all of the garden: in its spring nobody is asked.
        store.wish_for_letters(stopper.id, &KINDS, "stop again", moment(0)).await.unwrap();
        assert_eq!(letters.round(&snapshot, at("2026-04-29")).await.unwrap(), 0);
    }
}

#[tokio::test]
async fn each_half_of_the_earth_has_its_own_seasons_and_a_member_their_own_scale() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (north, south) = (grower(&*store, "north grower", NORTH).await, grower(&*store, "south grower", SOUTH).await);
    store.set_first_scale(south.id, FirstScale::Fahrenheit).await.unwrap();
    let (letters, snapshot) = process(&store, 4).await;
    let mut told = Vec::new();
    // Every week of a year from the middle of May on.
    for week in 0..54 {
        let now = at("2026-05-15") + SignedDuration::from_hours(24 * 7 * week);
        letters.round(&snapshot, now).await.unwrap();
        for taken in waiting(&*store, now).await {
            let month = jiff::tz::TimeZone::UTC.to_datetime(now).month();
            told.push((taken.letter.member, taken.letter.kind, month, taken));
        }
    }
    let months = |member: &Member, kind: LetterKind| -> Vec<i8> {
        told.iter().filter(|(of, other, _, _)| *of == member.id && *other == kind).map(|(_, _, month, _)| *month).collect()
    };
    for (member, kind, expected) in [
        (&north, LetterKind::Spring, [3, 4, 5].as_slice()),
        (&north, LetterKind::Autumn, &[10, 11, 12]),
        (&north, LetterKind::Yearly, &[1]),
        (&south, LetterKind::Spring, &[9, 10, 11]),
        (&south, LetterKind::Autumn, &[4, 5, 6]),
        (&south, LetterKind::Yearly, &[7]),
    ] {
        let found = months(member, kind);
        assert!(!found.is_empty() && found.iter().all(|month| expected.contains(month)), "{} {kind:?} {found:?}", member.handle);
    }
    let yearly = |member: &Member| {
        told.iter().find(|(of, kind, _, _)| *of == member.id && *kind == LetterKind::Yearly).map(|(.., taken)| taken).unwrap()
    };
    let words = &yearly(&north).letter.words;
    assert!(words.contains("Of winter 2025/26 you told 3 figs: 1 unharmed, 1 with dead tips, 1 killed to the ground."), "{words}");
    assert!(words.contains("was −8 °C (18 °F)") && words.contains("was −14 °C (7 °F)"), "{words}");
    assert!(yearly(&south).letter.words.contains("was 18 °F (−8 °C)"), "{}", yearly(&south).letter.words);
    let picture = yearly(&north).picture.as_ref().unwrap();
    assert!(picture.png.starts_with(b"\x89PNG") && picture.words.contains("3 dots"));
    // Nothing private in a subject.
    for (_, _, _, taken) in &told {
        assert!(
            !["Graz", "Canberra", "Fennmere", "grower", "3"].iter().any(|word| taken.letter.subject.contains(word)),
            "{}",
            taken.letter.subject
        );
    }
}

/// A running mail server; it ends with its standard input.
struct MailServer {
    child: Child,
    _input: ChildStdin,
    port: u16,
    offered: Receiver<Value>,
}

impl MailServer {
    /// `None` where there is no Python with the package, which the log says.
    fn of_manner(manner: &str) -> Option<Self> {
        let Ok(python) = std::env::var("WINTERFIG_READERS") else {
            eprintln!("SKIPPED: WINTERFIG_READERS names no Python");
            return None;
        };
        let folder = env!("CARGO_MANIFEST_DIR");
        let tls = |name: &str| format!("{folder}/tests/pages/web/tls/{name}");
        let mut child = Command::new(python)
            .args([format!("{folder}/tests/support/mail_server.py"), tls("leaf.pem"), tls("leaf.key.pem"), manner.to_owned()])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let port = lines.next().unwrap().unwrap().parse().unwrap();
        let (send, offered) = channel();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let _ = send.send(serde_json::from_str(&line).unwrap());
            }
        });
        Some(Self { child, _input: input, port, offered })
    }

    fn mail(&self) -> Mail {
        let (url, roots) = (format!("starttls://localhost:{}", self.port), root());
        let settings = RelaySettings {
            url: &url,
            sign_in: Some(("figs".to_owned(), "under the leaves".to_owned())),
            roots: Some(&roots),
            patience: Some(Duration::from_secs(3)),
        };
        Mail::new(&settings, "figs@example.org", "https://figs.example.org").unwrap()
    }

    /// The next letter that was offered to it.
    fn offered(&self) -> Value {
        self.offered.recv_timeout(Duration::from_secs(20)).expect("no letter was offered")
    }
}

impl Drop for MailServer {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

async fn looked(store: &dyn Store, server: &MailServer, now: Timestamp) -> Vec<Fate> {
    look(store, &server.mail(), &Ids::seeded(9), &FixedClock(now)).await.unwrap()
}

/// A letter as the standard library of Python reads it.
fn read(offered: &Value) -> Value {
    let raw = BASE64_STANDARD.decode(offered["raw"].as_str().unwrap()).unwrap();
    read_by_others("letter", &raw).unwrap()
}

// RFC 5321 and 3207 by aiosmtpd, RFC 5322 and MIME by Python's email, RFC 8058, RFC 2387.
#[tokio::test]
async fn a_mail_server_of_other_peoples_making_takes_letters_of_the_season() {
    let Some(server) = MailServer::of_manner("take") else { return };
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    grower(&*store, "fig grower", NORTH).await;
    let (letters, snapshot) = process(&store, 5).await;
    letters.round(&snapshot, at("2027-04-29")).await.unwrap();
    assert_eq!(looked(&*store, &server, at("2027-04-29")).await, [Fate::Sent]);
    let offered = server.offered();
    assert_eq!((&offered["encrypted"], &offered["signed_in"], &offered["taken"]), (&true.into(), &true.into(), &true.into()));
    assert_eq!(offered["to"], serde_json::json!(["fig.grower@example.org"]));
    let letter = read(&offered);
    assert_eq!(letter["kind"], "multipart/alternative");
    let headers = &letter["headers"];
    assert_eq!(headers["Subject"], "Five minutes for your figs: how did they winter?");
    assert_eq!(headers["List-Unsubscribe"], "<https://figs.example.org/letters/stop/stop%20of%20fig%20grower>");
    assert_eq!(headers["List-Unsubscribe-Post"], "List-Unsubscribe=One-Click");
    let types: Vec<&str> = letter["parts"].as_array().unwrap().iter().map(|part| part["type"].as_str().unwrap()).collect();
    assert_eq!(types, ["text/plain", "text/html"]);
    let (plain, html) = (letter["parts"][0]["text"].as_str().unwrap(), letter["parts"][1]["text"].as_str().unwrap());
    assert!(plain.contains("3 figs, five minutes") && plain.contains("Which trial next?"), "{plain}");
    assert!(html.contains("<a href=\"https://figs.example.org/garden/winter\">") && html.contains("2 × Fennmere Lantern"), "{html}");
    // The year, with its picture carried along.
    letters.round(&snapshot, at("2027-01-12")).await.unwrap();
    assert_eq!(looked(&*store, &server, at("2027-01-12")).await, [Fate::Sent]);
    let letter = read(&server.offered());
    let parts = letter["parts"].as_array().unwrap();
    let types: Vec<&str> = parts.iter().map(|part| part["type"].as_str().unwrap()).collect();
    assert_eq!(types, ["text/plain", "text/html", "image/png"]);
    let name = parts[2]["id"].as_str().unwrap().trim_matches(['<', '>']);
    assert!(parts[1]["text"].as_str().unwrap().contains(&format!("src=\"cid:{name}\"")), "{letter}");
    assert_eq!((&parts[2]["disposition"], &parts[2]["begins"]), (&"inline".into(), &"89504e470d0a1a0a".into()));
}

#[tokio::test]
async fn a_mail_server_that_greylists_refuses_or_hangs_is_asked_again_or_given_up() {
    let now = at("2027-04-29");
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let member = grower(&*store, "fig grower", NORTH).await;
    let (letters, snapshot) = process(&store, 7).await;
    letters.round(&snapshot, now).await.unwrap();
    let after = |minutes: i64| now + SignedDuration::from_mins(minutes);
    {
        let Some(hangs) = MailServer::of_manner("hang") else { return };
        assert_eq!(looked(&*store, &hangs, now).await, [Fate::Again(after(5))]);
        assert_eq!(hangs.offered()["taken"], false);
    }
    let greylists = MailServer::of_manner("greylist").unwrap();
    assert_eq!(looked(&*store, &greylists, after(5)).await, [Fate::Again(after(15))]);
    assert_eq!(looked(&*store, &greylists, after(15)).await, [Fate::Sent]);
    let (first, second) = (greylists.offered(), greylists.offered());
    assert_eq!((&first["taken"], &second["taken"]), (&false.into(), &true.into()));
    assert_eq!(first["message_id"], second["message_id"], "known for the same letter");
    let refuses = MailServer::of_manner("refuse").unwrap();
    letters.round(&snapshot, at("2027-11-28")).await.unwrap();
    assert_eq!(looked(&*store, &refuses, at("2027-11-28")).await, [Fate::GivenUp("the mail server refused the letter (550)".to_owned())]);
    let trouble = store.letter_wishes(member.id).await.unwrap().trouble.unwrap();
    assert_eq!(trouble.0, "the mail server refused the letter (550)");
}
