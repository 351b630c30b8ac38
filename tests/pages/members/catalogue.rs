//! The catalogue through the web door: a name that nobody knows becomes a fig with a page, a row and a place in the release.

use super::release::{file, zip};
use crate::support::client::{Client, report_with};
use crate::support::members::evidence;
use crate::support::{TestDatabase, on_both_engines};
use axum::http::StatusCode;
use std::sync::Arc;
use winterfig::records::Role;
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
        assert!(changes.lines().count() == 2 && changes.contains(",accepted,cultivar,ostra-moss,") && changes.ends_with(",judge\r\n"), "{changes}");

        // Another society takes it in: the fig, its history and its report are there.
        let elsewhere = TestDatabase::sqlite();
        let there = elsewhere.open().await;
        let contents = winterfig::records::release::read(&package, &there.catalogue().await.unwrap()).unwrap();
        assert!(there.import(&contents, "2026-06-21T10:00:00Z".parse().unwrap()).await.unwrap().is_empty());
        let fig = there.catalogue().await.unwrap().get("ostra-moss").unwrap().clone();
        assert_eq!((fig.name.as_str(), fig.hardiness_class.known().map(|class| class.number())), ("Östra Moss", Some(4)));
        assert_eq!(there.evidence().await.unwrap().0[0].cultivar.as_str(), "ostra-moss");
        assert_eq!(file(&zip(&there).await, "catalogue-changes.csv"), changes, "and goes out again as it came in");

        // Undone, all of it is as it was.
        let path = made.split_once('?').unwrap().0.to_owned();
        judge.post(&path, &[("version", "2"), ("then", "undo")]).await.expect(StatusCode::SEE_OTHER);
        stranger.get("/cultivars/ostra-moss").await.expect(StatusCode::NOT_FOUND);
        assert!(evidence(&*store).await.0.is_empty());
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
    assert!(member.get(&waits).await.expect(StatusCode::OK).body.contains("“no”"));
}
