//! The catalogue through the web door: a name that nobody knows becomes a fig with a page, a row and a place in the release.

use super::release::{changed, file, zip};
use crate::support::client::{Client, report_with};
use crate::support::members::evidence;
use crate::support::{TestDatabase, on_both_engines};
use axum::http::StatusCode;
use std::sync::Arc;
use winterfig::records::Role;
use winterfig::science::hardiness::ordinal::FitOptions;
use winterfig::store::Store;

async fn steward(store: &Arc<dyn Store>, like: &Client) -> Client {
    let mut judge = like.another();
    judge.join("judge").await;
    let id = store.sign_in_facts("judge").await.unwrap().unwrap().0.id;
    store.change_role(id, Role::Steward).await.unwrap();
    judge
}

const SOURCE: [(&str, &str); 3] = [("title", "Notes of an invented fig walk"), ("year", "2019"), ("grade", "C")];

fn with_source<'a>(pairs: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    pairs.iter().chain(&SOURCE).copied().collect()
}

on_both_engines! {
    async fn a_member_writes_a_name_nobody_knows_and_a_steward_makes_it_a_fig(database) {
        let store = database.open().await;
        let mut grower = Client::new(&store).await;
        grower.join("fig grower").await;
        let sent = grower.post("/reports/new", &report_with(&[("name", "Östra Moss"), ("nonce", "n-1")])).await.expect(StatusCode::SEE_OTHER);
        let id = sent.location().split(['/', '?']).nth(2).unwrap().to_owned();
        let mut judge = steward(&store, &grower).await;
        judge.post(&format!("/review/{id}"), &[("version", "1"), ("state", "taken"), ("reason", "plausible"), ("words", "")]).await.expect(StatusCode::SEE_OTHER);

        // The queue names it, and leads to the form with the name filled in.
        let names = judge.get("/catalogue/names").await.expect(StatusCode::OK).body;
        assert!(names.contains("One name has no entry") && names.contains("1 report") && names.contains("kind=cultivar"));
        let form = judge.get("/catalogue/proposals/new?kind=cultivar&name=%C3%96stra+Moss").await.expect(StatusCode::OK).body;
        assert!(form.contains("value=\"Östra Moss\""));
        let refused = judge.post("/catalogue/proposals/new", &[("kind", "cultivar"), ("name", "Östra Moss"), ("then", "stand")]).await;
        let refused = refused.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("needs its source") && refused.contains("value=\"Östra Moss\""), "what was typed is still there");
        let fig = [("kind", "cultivar"), ("name", "Östra Moss"), ("trait", "hardiness_class"), ("value", "4"), ("then", "stand")];
        let made = judge.post("/catalogue/proposals/new", &with_source(&fig)).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(judge.get(&made).await.expect(StatusCode::OK).body.contains("It stands in the catalogue from now on"));

        // Page, row and history stand at once.
        let mut stranger = grower.another();
        let page = stranger.get("/cultivars/ostra-moss").await.expect(StatusCode::OK).body;
        assert!(page.contains("Östra Moss") && page.contains("4: hardy (of 5)") && page.contains("Notes of an invented fig walk"));
        let row = stranger.get("/api/v1/shortlist?zone=7a").await.expect(StatusCode::OK).body;
        assert!(row.contains("\"ostra-moss\""));
        let history = stranger.get("/api/v1/cultivars/ostra-moss/history").await.expect(StatusCode::OK).body;
        let history: serde_json::Value = serde_json::from_str(&history).unwrap();
        assert_eq!((history["changes"][0]["state"].as_str(), history["changes"][0]["steps"][1]["by"].as_str()), (Some("accepted"), Some("a member")));
        assert!(stranger.get("/catalogue/ostra-moss/history").await.expect(StatusCode::OK).body.contains("people added this entry"));
        assert!(judge.get("/catalogue/names").await.expect(StatusCode::OK).body.contains("Every name has its entry"));

        // Its report teaches it and is released under it.
        assert_eq!(evidence(&*store).await.0[0].cultivar.as_str(), "ostra-moss");
        let package = zip(&store).await;
        assert!(file(&package, "winter-reports.csv").contains("ostra-moss"));
        assert!(file(&package, "cultivars.csv").contains("ostra-moss,Östra Moss,,Ficus carica 'Östra Moss',"));
        assert!(file(&package, "cultivar-facts.csv").lines().any(|row| row.starts_with("ostra-moss,1,hardiness_class,4,counts,")));
        assert!(file(&package, "sources.csv").contains("Notes of an invented fig walk"));
        let changes = file(&package, "catalogue-changes.csv");
        assert!(changes.lines().count() == 2 && changes.contains(",accepted,cultivar,ostra-moss,") && changes.ends_with(",a member\r\n"), "{changes}");

        // Another society takes it in: the fig, its history and its report are there.
        let elsewhere = TestDatabase::sqlite();
        let there = elsewhere.open().await;
        let contents = winterfig::records::release::read(&package, &there.catalogue().await.unwrap()).unwrap();
        assert!(there.import(&contents, "2026-06-21T10:00:00Z".parse().unwrap()).await.unwrap().is_empty());
        let fig = there.catalogue().await.unwrap().get("ostra-moss").unwrap().clone();
        assert_eq!((fig.name.as_str(), fig.hardiness_class.known().map(winterfig::science::cultivar::HardinessClass::number)), ("Östra Moss", Some(4)));
        assert_eq!(evidence(&*there).await.0[0].cultivar.as_str(), "ostra-moss");
        assert_eq!(file(&zip(&there).await, "catalogue-changes.csv"), changes, "and goes out again as it came in");
        let log = store.office_log(None, 50).await.unwrap();
        assert!(log.iter().any(|line| line.entry.act.word() == "catalogue" && line.entry.detail.contains("Östra Moss is a fig of its own: stands")), "{log:?}");

        // Undone, all of it is as it was.
        let path = made.split_once('?').unwrap().0.to_owned();
        judge.post(&path, &[("version", "2"), ("then", "undo")]).await.expect(StatusCode::SEE_OTHER);
        stranger.get("/cultivars/ostra-moss").await.expect(StatusCode::NOT_FOUND);
        assert!(evidence(&*store).await.0.is_empty());
    }
}

on_both_engines! {
    // Reports of “a member of that family” teach its strains, and pages of both say so.
    async fn reports_under_the_name_of_a_family_move_its_strains_and_both_pages_say_so(database) {
        let store = database.open().await;
        let mut judge = steward(&store, &Client::new(&store).await).await;
        let stand = |pairs: &[(&'static str, &'static str)]| [pairs, &[("then", "stand")]].concat();
        let family = stand(&[("kind", "cultivar"), ("name", "Lower Valley Blacks"), ("family", "yes"), ("trait", "hardiness_class"), ("value", "3")]);
        judge.post("/catalogue/proposals/new", &with_source(&family)).await.expect(StatusCode::SEE_OTHER);
        let member = stand(&[("kind", "family"), ("cultivar", "atabaki"), ("other", "lower-valley-blacks"), ("reason", "alike but for the stalk")]);
        judge.post("/catalogue/proposals/new", &with_source(&member)).await.expect(StatusCode::SEE_OTHER);
        let grower = crate::support::members::joined(&*store, "grower", Role::Member).await;
        let keeper = store.sign_in_facts("judge").await.unwrap().unwrap().0;
        for _ in 0..6 {
            let killed = crate::support::members::record(-8.0, winterfig::records::words::TopKilled::ToGround);
            let report = crate::support::members::submitted(&*store, &grower, "lower-valley-blacks", killed).await;
            crate::support::members::decided(&*store, &report, &keeper, winterfig::records::ReviewState::Accepted).await;
        }
        let catalogue = store.catalogue().await.unwrap();
        let learned = winterfig::model::learn_hardiness::learn(catalogue, evidence(&*store).await.0, Vec::new(), None, jiff::Timestamp::UNIX_EPOCH, 1, FitOptions::default()).unwrap();
        let before = winterfig::model::snapshot::Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let mean = |snapshot: &winterfig::model::snapshot::Snapshot, slug: &str| snapshot.standing(slug).unwrap().belief.mean().degrees();
        let moved = |slug: &str| mean(&learned, slug) - mean(&before, slug);
        assert!(moved("lower-valley-blacks") > 0.5 && moved("atabaki") > 0.3 && moved("alma").abs() < moved("atabaki"), "{} {}", moved("lower-valley-blacks"), moved("atabaki"));
        let mut stranger = judge.another();
        let strain = stranger.get("/cultivars/atabaki").await.expect(StatusCode::OK).body;
        assert!(strain.contains("Belongs to the family") && strain.contains("it stands on its family alone"), "{strain}");
        let family = stranger.get("/cultivars/lower-valley-blacks").await.expect(StatusCode::OK).body;
        assert!(family.contains("To it belong") && family.contains("Atabaki") && family.contains("reports it under this name"), "{family}");
    }

    // What people here decided is not overruled by a package: it waits for a steward. The rest stands at once.
    async fn a_package_adds_what_nobody_here_has_touched_and_asks_about_the_rest(database) {
        let elsewhere = TestDatabase::sqlite();
        let there = elsewhere.open().await;
        let mut giver = steward(&there, &Client::new(&there).await).await;
        let stand = |pairs: &[(&'static str, &'static str)]| with_source(&[pairs, &[("then", "stand")]].concat());
        for pairs in [
            vec![("kind", "cultivar"), ("name", "Östra Moss"), ("trait", "hardiness_class"), ("value", "4")],
            vec![("kind", "synonym"), ("cultivar", "ostra-moss"), ("name", "Moss of the east")],
            vec![("kind", "fact"), ("cultivar", "celeste"), ("trait", "hardiness_class"), ("value", "5"), ("reason", "a trial"), ("counts", "yes")],
        ] {
            giver.post("/catalogue/proposals/new", &stand(&pairs)).await.expect(StatusCode::SEE_OTHER);
        }
        let grower = crate::support::members::joined(&*there, "grower", Role::Member).await;
        let keeper = there.sign_in_facts("judge").await.unwrap().unwrap().0;
        let report = crate::support::members::submitted(&*there, &grower, "ostra-moss", crate::support::members::record(-9.4, winterfig::records::words::TopKilled::Tips)).await;
        crate::support::members::decided(&*there, &report, &keeper, winterfig::records::ReviewState::Accepted).await;
        let package = zip(&there).await;

        let store = database.open().await;
        let mut judge = steward(&store, &Client::new(&store).await).await;
        let own = [("kind", "fact"), ("cultivar", "celeste"), ("trait", "hardiness_class"), ("value", "3"), ("reason", "a trial of ours"), ("counts", "yes"), ("then", "stand")];
        judge.post("/catalogue/proposals/new", &with_source(&own)).await.expect(StatusCode::SEE_OTHER);
        let contents = winterfig::records::release::read(&package, &store.catalogue().await.unwrap()).unwrap();
        assert_eq!(contents.changes.len(), 3);
        let at = "2026-06-21T10:00:00Z".parse().unwrap();
        assert!(store.import(&contents, at).await.unwrap().is_empty());
        let catalogue = store.catalogue().await.unwrap();
        let class = |slug: &str| catalogue.get(slug).unwrap().hardiness_class.known().map(winterfig::science::cultivar::HardinessClass::number);
        assert_eq!((class("celeste"), class("ostra-moss")), (Some(3), Some(4)));
        assert!(matches!(catalogue.identify("Moss of the east"), winterfig::catalogue::NameMatch::Synonym(fig) if fig.slug.as_str() == "ostra-moss"));
        assert_eq!(evidence(&*store).await.0[0].cultivar.as_str(), "ostra-moss");
        let waiting = store.proposals(winterfig::records::ProposalState::Waiting, 9).await.unwrap();
        assert_eq!((waiting.len(), waiting[0].credited.as_deref()), (1, Some("a member")));
        // Once more, the reports are refused and nothing of the catalogue changes.
        let version = store.catalogue_version().await.unwrap();
        assert_eq!(store.import(&contents, at).await.unwrap().len(), 1);
        assert_eq!(store.catalogue_version().await.unwrap(), version);
        // The steward lets it stand.
        let path = format!("/catalogue/proposals/{}", waiting[0].id);
        assert!(judge.get(&path).await.expect(StatusCode::OK).body.contains("The catalogue has <strong>3</strong>"));
        // Refused rows name their line: a change whose text hides characters, and one that says nothing.
        for (from, into, why) in [("Moss of the east", "Moss\u{202E} of the east", "says: "), ("accepted,synonym", "waiting,synonym", "neither accepted nor undone")] {
            let bent = changed(&package, "catalogue-changes.csv", |text| text.replacen(from, into, 1));
            let Err(winterfig::records::release::BadPackage::Rows(rows)) = winterfig::records::release::read(&bent, &catalogue) else { panic!("{why} was taken") };
            assert!(rows[0].to_string().starts_with("catalogue-changes.csv line") && rows[0].to_string().contains(why), "{rows:?}");
        }
    }
}

async fn open() -> (TestDatabase, Arc<dyn Store>, Client) {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let client = Client::new(&store).await;
    (database, store, client)
}

#[tokio::test]
async fn a_member_proposes_and_reads_what_a_steward_made_of_it() {
    let (_database, store, mut grower) = open().await;
    grower.join("fig grower").await;
    let mut judge = steward(&store, &grower).await;
    let class = [("kind", "fact"), ("cultivar", "celeste"), ("trait", "half_killed_c"), ("value", "0 °F")];
    let address = grower.post("/catalogue/proposals/new", &with_source(&class)).await.expect(StatusCode::SEE_OTHER).location().to_owned();
    let path = address.split_once('?').unwrap().0.to_owned();
    // Until it stands, nobody else reads it.
    grower.another().get(&path).await.expect(StatusCode::NOT_FOUND);
    assert!(judge.get("/catalogue/proposals").await.expect(StatusCode::OK).body.contains("One proposal waits"));
    let case = judge.get(&path).await.expect(StatusCode::OK).body;
    assert!(
        case.contains("The catalogue has <strong>4</strong>") && case.contains("Class by the rule"),
        "−15 °C is class 4 by its edge, −15.0: {case}"
    );
}

#[tokio::test]
async fn bad_proposals_are_refused_by_field_and_nothing_is_kept() {
    let (_database, store, mut judge) = open().await;
    judge = steward(&store, &judge).await;
    for (pairs, field) in [
        (vec![("kind", "cultivar"), ("name", "Moss"), ("slug", "celeste")], "the address “celeste” is that of Celeste"),
        (vec![("kind", "cultivar"), ("name", "celeste")], "is a name of Celeste already"),
        (vec![("kind", "merge"), ("cultivar", "celeste"), ("other", "celeste"), ("reason", "one")], "these are one entry; name two"),
        (vec![("kind", "fact"), ("cultivar", "celeste"), ("trait", "hardiness_class"), ("value", "6")], "outside 1 to 5"),
        (vec![("kind", "family"), ("cultivar", "celeste"), ("other", "alma")], "this entry is no family"),
        (vec![("kind", "synonym"), ("cultivar", "celeste"), ("name", "Malta")], "is a name of it already"),
        (
            vec![("kind", "fact"), ("cultivar", "celeste"), ("trait", "hardiness_class"), ("value", "2"), ("then", "stand")],
            "say why this one counts",
        ),
    ] {
        let needs_source = pairs[0].1 != "merge";
        let sent = if needs_source { with_source(&pairs) } else { pairs };
        let refused = judge.post("/catalogue/proposals/new", &sent).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains(field), "{field}: {refused}");
    }
    assert!(store.proposals(winterfig::records::ProposalState::Waiting, 10).await.unwrap().is_empty());
    // A cycle of merges: the entry that went is no entry any more.
    let merge = |one, other| [("kind", "merge"), ("cultivar", one), ("other", other), ("reason", "an example"), ("then", "stand")];
    judge.post("/catalogue/proposals/new", &merge("alma", "celeste")).await.expect(StatusCode::SEE_OTHER);
    judge.post("/catalogue/proposals/new", &merge("celeste", "alma")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let moved = judge.get("/cultivars/alma").await.expect(StatusCode::TEMPORARY_REDIRECT);
    assert_eq!(moved.location(), "/cultivars/celeste");
    // Others than stewards merge nothing.
    let mut grower = judge.another();
    grower.join("fig grower").await;
    grower.post("/catalogue/proposals/new", &merge("tiger", "celeste")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
}

/// ACL-01: who may read and do what, route by route.
#[tokio::test]
async fn each_page_of_the_catalogue_is_for_whom_the_table_says() {
    let (_database, store, nobody) = open().await;
    let mut member = nobody.another();
    member.join("fig grower").await;
    let mut judge = steward(&store, &nobody).await;
    let stands = judge.post("/catalogue/proposals/new", &with_source(&[("kind", "cultivar"), ("name", "Moss"), ("then", "stand")])).await;
    let stands = stands.location().split_once('?').unwrap().0.to_owned();
    let waits =
        member.post("/catalogue/proposals/new", &with_source(&[("kind", "cultivar"), ("name", "Other Moss"), ("then", "propose")])).await;
    let waits = waits.location().split_once('?').unwrap().0.to_owned();
    let mut other = nobody.another();
    other.join("grower two").await;
    // Nobody, another member, the author, a steward.
    for (path, expected) in [
        ("/catalogue/proposals", [200, 200, 200, 200]),
        ("/catalogue/celeste/history", [200, 200, 200, 200]),
        ("/api/v1/cultivars/celeste/history", [200, 200, 200, 200]),
        ("/catalogue/no-such-fig/history", [404, 404, 404, 404]),
        ("/catalogue/proposals/new", [303, 200, 200, 200]),
        ("/catalogue/names", [303, 404, 404, 200]),
        (stands.as_str(), [200, 200, 200, 200]),
        (waits.as_str(), [404, 404, 200, 200]),
    ] {
        for (who, expected) in [&mut nobody.another(), &mut other, &mut member, &mut judge].into_iter().zip(expected) {
            assert_eq!(who.get(path).await.status.as_u16(), expected, "{path}");
        }
    }
    let decline = [("version", "1"), ("then", "decline"), ("words", "no")];
    other.post(&waits, &decline).await.expect(StatusCode::NOT_FOUND);
    member.post(&waits, &decline).await.expect(StatusCode::NOT_FOUND);
    other.post(&format!("{waits}/withdraw"), &[]).await.expect(StatusCode::NOT_FOUND);
    member.post("/catalogue/proposals/seed", &[("number", "1")]).await.expect(StatusCode::NOT_FOUND);
    judge.post("/catalogue/proposals/seed", &[("number", "one")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    judge.post("/catalogue/proposals/seed", &[("number", "1")]).await.expect(StatusCode::SEE_OTHER);
    judge.post(&waits, &[("version", "1"), ("then", "decline")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    judge.post(&waits, &decline).await.expect(StatusCode::SEE_OTHER);
    let late = judge.post(&waits, &decline).await.expect(StatusCode::CONFLICT).body;
    assert!(late.contains("another steward decided on it"), "{late}");
    // Of two stewards who reword it, the second reads the first's text above and still has their own in the form.
    let class = |value: &'static str| {
        [("kind", "fact"), ("cultivar", "atabaki"), ("trait", "hardiness_class"), ("value", value), ("version", "1"), ("then", "stand")]
    };
    let offered =
        member.post("/catalogue/proposals/new", &with_source(&class("2"))).await.expect(StatusCode::SEE_OTHER).location().to_owned();
    let offered = offered.split_once('?').unwrap().0.to_owned();
    judge.post(&offered, &with_source(&class("4"))).await.expect(StatusCode::SEE_OTHER);
    let both = judge.post(&offered, &with_source(&class("5"))).await.expect(StatusCode::CONFLICT).body;
    assert!(both.contains("<dd>4</dd>") && both.contains("value=\"5\""), "{both}");
    assert_eq!(
        store
            .catalogue()
            .await
            .unwrap()
            .get("atabaki")
            .unwrap()
            .hardiness_class
            .known()
            .map(winterfig::science::cultivar::HardinessClass::number),
        Some(4)
    );
    member.get("/api/v1/cultivars/no-such-fig/history").await.expect(StatusCode::NOT_FOUND);
    member.get("/api/v1/cultivars/No%20Slug/history").await.expect(StatusCode::NOT_FOUND);
    // An entry or a source without what it needs, each by its field.
    for (pairs, field) in [
        (vec![("kind", "cultivar"), ("name", "Moss")], "needs its source"),
        (vec![("kind", "cultivar"), ("name", "Moss"), ("title", " "), ("year", "2019"), ("grade", "C")], "title"),
        (
            vec![
                ("kind", "fact"),
                ("cultivar", "celeste"),
                ("trait", "hardiness_class"),
                ("value", "0"),
                ("title", "A walk"),
                ("grade", "C"),
            ],
            "outside 1 to 5",
        ),
    ] {
        let refused = member.post("/catalogue/proposals/new", &pairs).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains(field), "{field}: {refused}");
    }
    assert!(member.get(&waits).await.expect(StatusCode::OK).body.contains("“no”"));
}
