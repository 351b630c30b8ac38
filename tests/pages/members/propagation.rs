//! The ledger of batches, how many to stick, mother plants, and which trial next, through the web door.

use axum::http::StatusCode;

use crate::support::client::Client;
use crate::support::on_both_engines;

const BATCH: [(&str, &str); 6] = [
    ("name", "Celeste"),
    ("method", "hardwood_soil"),
    ("stuck", "30"),
    ("stuck_on_day", "10"),
    ("stuck_on_month", "1"),
    ("stuck_on_year", "2026"),
];

const REPORT: [(&str, &str); 8] = [
    ("name", "Celeste"),
    ("place", "Graz, Austria"),
    ("planted", "2015"),
    ("winter", "2024/25"),
    ("looked", "2025-05-20"),
    ("top", "to_ground"),
    ("vitality", "alive"),
    ("cover", "none"),
];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let replaced = |name: &str| more.iter().any(|(own, _)| *own == name);
    BATCH.iter().filter(|(name, _)| !replaced(name)).chain(more).copied().collect()
}

/// The version that the form of a batch's page holds.
fn version(page: &str) -> String {
    page.split("name=\"version\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

on_both_engines! {
    async fn a_batch_is_kept_counted_changed_taken_off_and_brought_back(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        assert!(client.get("/garden/propagation").await.body.contains("None yet."));
        let kept = client.post("/garden/propagation/new", &BATCH).await.expect(StatusCode::SEE_OTHER);
        let address = kept.location().split('?').next().unwrap().to_owned();
        let page = client.get(&address).await.body;
        assert!(page.contains("Say where it stands"), "{page}");
        // Counted, in a heated room.
        let counted = with(&[("place", "room"), ("rooted", "24"), ("rooted_on", "2026-02-20"), ("version", "1")]);
        client.post(&address, &counted).await.expect(StatusCode::SEE_OTHER);
        let page = client.get("/garden/propagation?wanted=20").await.body;
        assert!(page.contains("24 (80 %) on 2026-02-20") && page.contains("1 counted batch of yours, 30 sticks"), "{page}");
        assert!(page.contains("Stick ") && page.contains("Before any batch: share that roots 0.75"), "{page}");
        let table = client.get("/garden/propagation.csv").await.body;
        assert!(table.lines().nth(1).unwrap().contains(",Celeste,celeste,,hardwood_soil,30,2026-01-10,,room,24,2026-02-20,,,"), "{table}");
        assert!(client.get("/account/mine.json").await.body.contains("\"rooted\":{\"count\":24"));
        // An older page does not write over it, and keeps what was typed.
        let moved = client.post(&address, &with(&[("stuck", "99"), ("version", "1")])).await.expect(StatusCode::CONFLICT);
        assert!(moved.body.contains("It was changed meanwhile") && moved.body.contains("value=\"99\""));
        // Off the list, and back with one press.
        let gone = client.post(&format!("{address}/remove"), &[]).await.expect(StatusCode::SEE_OTHER);
        let list = client.get(gone.location()).await.body;
        assert!(list.contains("is off the list") && list.contains("None yet."), "{list}");
        client.post(&format!("{address}/undo"), &[("version", &version(&list))]).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get("/garden/propagation").await.body.contains("24 (80 %)"));
        // Nobody else sees or changes it.
        let mut other = client.another();
        other.join("another grower").await;
        other.get(&address).await.expect(StatusCode::NOT_FOUND);
        other.post(&format!("{address}/remove"), &[]).await.expect(StatusCode::NOT_FOUND);
        assert!(other.get("/garden/propagation").await.body.contains("None yet."));
    }

    async fn what_cannot_be_used_is_said_beside_its_field_and_what_was_typed_stays(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        for (more, said) in [
            (&[("stuck", "-3")][..], "a whole number from 1 to"),
            (&[("rooted", "31"), ("rooted_on", "2026-02-20")], "31 rooted of 30 sticks"),
            (&[("potted", "31"), ("potted_on", "2026-02-20")], "31 potted of 30 stuck"),
            (&[("rooted", "5"), ("rooted_on", "2025-02-20")], "lies before the day they were stuck"),
            (&[("stuck_on_year", "2090")], "has not come yet"),
            (&[("mother", "01890000-0000-7000-8000-000000000000")], "this plant is not in your garden"),
        ] {
            let typed = with(&[more, &[("note", "behind the shed")]].concat());
            let refused = client.post("/garden/propagation/new", &typed).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
            assert!(refused.body.contains(said) && refused.body.contains("behind the shed"), "{said}: {}", refused.body);
        }
        let refused = client.get("/garden/propagation?wanted=none").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.body.contains("is not a number"));
        assert!(client.get("/garden/propagation").await.body.contains("None yet."));
    }

    async fn a_garden_says_which_mother_plants_to_risk_and_what_a_cut_gives(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        assert!(client.get("/garden/mothers").await.body.contains("No plant of your garden"));
        client.post("/reports/new", &REPORT).await.expect(StatusCode::SEE_OTHER);
        let page = client.get("/garden/mothers").await.body;
        assert!(page.contains("All lost: <strong>") && page.contains("Celeste</a>:"), "{page}");
        let plant = page.split("<option value=\"").nth(2).unwrap().split('"').next().unwrap().to_owned();
        let cut = client.get(&format!("/garden/mothers?plant={plant}&shoots=8&figs=100")).await.expect(StatusCode::OK).body;
        assert!(cut.contains("id=\"cuts\"") && cut.contains("figs fewer"), "{cut}");
        let refused = client.get(&format!("/garden/mothers?plant={plant}&shoots=-8")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.body.contains("a whole number of shoots"));
        // The mother plant stands in the form of a batch, which takes its name.
        let kept = with(&[("name", ""), ("mother", &plant)]);
        let address = client.post("/garden/propagation/new", &kept).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(client.get(&address).await.body.contains("Celeste: 30 on 2026-01-10"));
        // The garden invites to the report that would teach most.
        assert!(client.get("/garden").await.body.contains("A report of your Celeste this winter would take about"));
    }

    async fn a_report_tells_how_long_new_shoots_became(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        for wrong in ["150", "9 m", "long", "-2 m"] {
            let typed = [REPORT.as_slice(), &[("shoot_length", wrong)]].concat();
            let refused = client.post("/reports/new", &typed).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
            assert!(refused.body.contains("id=\"shoot_length-wrong\"") && refused.body.contains(&format!("value=\"{wrong}\"")), "{wrong}");
        }
        let typed = [REPORT.as_slice(), &[("shoot_length", "5 ft")]].concat();
        let address = client.post("/reports/new", &typed).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(client.get(&address).await.body.contains("152 cm (60 in)"));
    }
}

#[tokio::test]
async fn which_trial_next_is_answered_by_what_is_asked() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let page = client.get("/trials?zone=7a").await.expect(StatusCode::OK).body;
    assert!(page.contains("No question has been counted yet") && page.contains("of the doubt about it"), "{page}");
    client.get("/shortlist?zone=7a&setting=wall").await.expect(StatusCode::OK);
    client.get("/compare?cultivar=celeste&cultivar=brown-turkey&zone=7a").await.expect(StatusCode::OK);
    let page = client.get("/trials?zone=7a").await.body;
    assert!(page.contains("By 3 questions of the last year") && page.contains("asked about by name once"), "{page}");
    client.get("/trials?zone=99").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let json: serde_json::Value =
        serde_json::from_str(&client.get("/api/v1/trials?zone=7a&limit=3").await.expect(StatusCode::OK).body).unwrap();
    assert_eq!((json["questions"].as_i64(), json["trials"].as_array().unwrap().len()), (Some(3), 3));
}

#[tokio::test]
async fn a_nursery_offers_a_trial_and_sees_what_came_back() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("fig grower").await;
    client.post("/trials/offer", &[("cultivar", "celeste")]).await.expect(StatusCode::NOT_FOUND);
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0;
    let (id, made) = (uuid::Uuid::now_v7(), jiff::Timestamp::UNIX_EPOCH);
    let code = winterfig::records::NurseryCode::from_random(id);
    let (name, place, label) = ("Weir Lane".to_owned(), String::new(), String::new());
    let nursery =
        winterfig::records::Nursery { id: winterfig::records::NurseryId(id), code, name, place, label, invitation_ends: None, made };
    store.start_nursery(&nursery, member.id).await.unwrap();
    assert!(client.get("/trials?zone=7a").await.body.contains("as a trial</button>"));
    client.post("/trials/offer", &[("cultivar", "no-such-fig")]).await.expect(StatusCode::NOT_FOUND);
    client.post("/trials/offer", &[("cultivar", "celeste")]).await.expect(StatusCode::SEE_OTHER);
    assert!(client.get("/trials").await.body.contains("no report of it has come back yet"));
    // Others see the offer, and the way to report, and nothing of what came back.
    let seen = client.another().get("/trials").await.body;
    assert!(
        seen.contains("from Weir Lane since") && seen.contains("name=Celeste&amp;nursery=") || seen.contains("name=Celeste&#38;nursery="),
        "{seen}"
    );
    assert!(!seen.contains("come back"));
    client.post("/trials/offer", &[("cultivar", "celeste"), ("end", "yes")]).await.expect(StatusCode::SEE_OTHER);
    assert!(!client.get("/trials").await.body.contains("Weir Lane"));
}

#[tokio::test]
async fn programs_ask_how_many_to_stick() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let address = "/api/v1/sticks?wanted=20&batch=30:24&batch=25:12&batch=40:33&batch=20:17";
    let json: serde_json::Value = serde_json::from_str(&client.get(address).await.expect(StatusCode::OK).body).unwrap();
    // Four batches and the prior, counted in scipy 1.17.1 by `tests/choice/rooting.py`.
    assert_eq!((json["sticks"].as_i64(), json["batches"].as_i64(), json["batch_sticks"].as_i64()), (Some(40), Some(4), Some(115)));
    assert_eq!(json["prior"]["provenance"], "DESIGN");
    client.get("/api/v1/sticks?wanted=20&batch=3:4").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    client.get("/api/v1/batches").await.expect(StatusCode::UNAUTHORIZED);
}
