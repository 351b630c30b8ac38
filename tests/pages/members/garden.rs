//! The garden: a winter of all of it in one list, and changing a plant.

use axum::http::StatusCode;
use scraper::{Html, Selector};
use serde_json::Value;
use winterfig::records::words::{Fruit, TopKilled, Vitality};
use winterfig::records::{Flag, Report, ReviewState, Role};

use crate::support::client::{Client, GENEROUS, REPORT, report_with, service};
use crate::support::members::{decided, joined};
use crate::support::{TestDatabase, on_both_engines};

const NEW_YEAR: [(&str, &str); 8] = [
    ("winter", "2024/25"),
    ("looked_day", "20"),
    ("looked_month", "5"),
    ("looked_year", "2025"),
    ("cover", "none"),
    ("coldest", "-8"),
    ("coldest_unit", "c"),
    ("thermometer", "in_garden"),
];

/// Ids of the plants in a garden's page.
fn plants(page: &str) -> Vec<String> {
    let mut ids: Vec<String> =
        page.split("href=\"/garden/plants/").skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect();
    ids.retain(|id| id != "new");
    ids.dedup();
    ids
}

fn list<'a>(rows: &'a [(String, String)], nonce: &'a str) -> Vec<(&'a str, &'a str)> {
    let shared = NEW_YEAR.iter().copied().chain([("nonce", nonce)]);
    shared.chain(rows.iter().map(|(k, v)| (k.as_str(), v.as_str()))).collect()
}

async fn garden_of_two(client: &mut Client) -> Vec<String> {
    client.join("fig grower").await;
    assert!(client.get("/garden/winter").await.body.contains("No living plant here yet"));
    for place in ["by the mill", "by the weir"] {
        let report: Vec<(&str, &str)> = REPORT.iter().map(|(k, v)| if *k == "place" { (*k, place) } else { (*k, *v) }).collect();
        client.post("/reports/new", &report).await.expect(StatusCode::SEE_OTHER);
    }
    plants(&client.get("/garden").await.body)
}

on_both_engines! {
    async fn a_list_is_kept_whole_once_and_marked_as_complete(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let ids = garden_of_two(&mut client).await;
        assert_eq!(ids.len(), 2);
        let nonce = uuid::Uuid::now_v7().to_string();
        let row = |id: &str, name: &str, value: &str| (format!("{id}_{name}"), value.to_owned());
        // One row says nothing of its top: nothing is kept, the plant is named once, and what was typed stays.
        let half = [row(&ids[0], "top", "none"), row(&ids[0], "vitality", "alive"), row(&ids[1], "base", "not_sure"), row(&ids[1], "vitality", "uncertain")];
        let page = client.post("/garden/winter", &list(&half, &nonce)).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains(&format!("id=\"{}_became-wrong\"", ids[1])), "{page}");
        let summary = page.split("id=\"errors\"").nth(1).unwrap().split("</div>").next().unwrap();
        assert_eq!(summary.matches("<li>").count(), 1, "{summary}");
        assert!(summary.contains("Celeste, in the ground since 2018: say what became of it"), "{summary}");
        assert!(page.contains("value=\"-8\"") && page.contains("<option value=\"not_sure\" selected>"));
        assert_eq!(store.waiting_count().await.unwrap(), 2);
        // Whole: both are kept, the second with a cover of its own.
        let whole = [half.as_slice(), &[row(&ids[1], "top", "not_looked"), row(&ids[1], "cover", "mulch")]].concat();
        let sent = client.post("/garden/winter", &list(&whole, &nonce)).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(sent.location()).await.body.contains("The list is kept"));
        let reports: Vec<Report> = store.waiting(10).await.unwrap();
        let of_winter: Vec<&Report> = reports.iter().filter(|r| r.record.winter.to_string() == "2024/25").collect();
        assert_eq!(of_winter.len(), 2);
        assert!(of_winter.iter().all(|r| r.record.complete_list && r.record.coldest.is_some()));
        let covers: std::collections::BTreeSet<&str> = of_winter.iter().map(|r| r.record.cover.word()).collect();
        assert_eq!(covers.into_iter().collect::<Vec<_>>(), ["mulch", "none"]);
        // The same list again, as a browser that lost the answer sends it: nothing doubled.
        client.post("/garden/winter", &list(&whole, &nonce)).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(store.waiting_count().await.unwrap(), 4);
        // The key with another list: nothing of it is kept.
        let other = [whole.as_slice(), &[row(&ids[0], "regrew", "old_wood")]].concat();
        client.post("/garden/winter", &list(&other, &nonce)).await.expect(StatusCode::CONFLICT);
        assert_eq!(store.waiting_count().await.unwrap(), 4);
    }

    async fn figs_pasted_as_a_list_are_added_once_and_their_winter_is_told_in_one_pass(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        let nonce = uuid::Uuid::now_v7().to_string();
        let names: Vec<String> = (1..=25).map(|nth| format!("Seedling {nth}, {}", 1999 + nth)).collect();
        let with = |list: &str| [("pasted", list), ("place", "Graz, Austria"), ("planted", ""), ("culture", "ground"), ("nonce", &nonce)].map(|(k, v)| (k.to_owned(), v.to_owned()));
        let add = async |client: &mut Client, list: &str| {
            let pairs = with(list);
            client.post("/garden/plants/new", &pairs.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect::<Vec<_>>()).await
        };
        // One line that cannot be used: it is named, nothing is kept, and what was typed stays.
        let wrong = [names.join("\n"), "Celeste, blue".to_owned()].join("\n");
        let page = add(&mut client, &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains("line 26: “blue” is not read") && page.contains("Seedling 25, 2024") && page.contains("value=\"Graz, Austria\""), "{page}");
        let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
        assert!(store.plants_of(member).await.unwrap().is_empty());
        let sent = add(&mut client, &names.join("\n")).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(sent.location()).await.body.contains("25 new figs"));
        // Twice is once, and a line more is that line.
        add(&mut client, &names.join("\n")).await.expect(StatusCode::SEE_OTHER);
        let more = add(&mut client, &[names.join("\n"), "Celeste, pot, 40 l".to_owned()].join("\n")).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(more.location()).await.body.contains("1 new fig."));
        let plants = store.plants_of(member).await.unwrap();
        let order: Vec<&str> =
            plants.iter().map(|plant| plant.name_written.as_str()).filter(|name| name.starts_with("Seedling")).take(3).collect();
        assert_eq!((plants.len(), order), (26, vec!["Seedling 1", "Seedling 2", "Seedling 3"]), "in the order of the list");
        // Of winter 2020/21 those are asked that stood then.
        let page = client.get("/garden/winter?winter=2020/21").await.expect(StatusCode::OK).body;
        assert_eq!(page.matches("_became\" name=").count(), 22);
        // Two rows say something; the rest is unharmed, and so alive.
        let nonce = uuid::Uuid::now_v7().to_string();
        let mut rows: Vec<(String, String)> = plants.iter().map(|plant| (format!("{}_became", plant.id), String::new())).collect();
        "to_ground_alive".clone_into(&mut rows[0].1);
        "tips".clone_into(&mut rows[1].1);
        rows.push(("rest".to_owned(), "unharmed".to_owned()));
        let sent = client.post("/garden/winter", &list(&rows, &nonce)).await.expect(StatusCode::SEE_OTHER);
        client.post("/garden/winter", &list(&rows, &nonce)).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(sent.location()).await.body.contains("26 plants"));
        let told = store.reports_of(member).await.unwrap();
        let tops = |top| told.iter().filter(|report| report.record.top == top).count();
        assert_eq!((told.len(), tops(TopKilled::None), tops(TopKilled::ToGround), tops(TopKilled::Tips)), (26, 24, 1, 1));
        assert!(told.iter().all(|report| report.record.vitality == Vitality::Alive && report.record.complete_list));
        // What is told is not asked again, and a list of another window is not laid over it.
        let page = client.get("/garden/winter?winter=2024/25").await.body;
        assert!(page.contains("Nothing left to tell of it here"), "{page}");
        let again = client.post("/garden/winter", &list(&rows, &uuid::Uuid::now_v7().to_string())).await;
        let page = again.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains("has been told in another way meanwhile") && page.contains("Seedling 7"), "{page}");
        assert_eq!(store.reports_of(member).await.unwrap().len(), 26);
    }

    async fn a_list_in_which_a_fig_is_left_out_is_not_marked_as_complete(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let ids: Vec<String> = {
            client.join("fig grower").await;
            client.post("/garden/plants/new", &[("pasted", "Celeste\nAlma\nBrown Turkey"), ("place", "Graz, Austria")]).await.expect(StatusCode::SEE_OTHER);
            plants(&client.get("/garden").await.body)
        };
        let row = |id: &str, value: &str| (format!("{id}_became"), value.to_owned());
        let nothing = [row(&ids[0], ""), row(&ids[1], "")];
        let page = client.post("/garden/winter", &list(&nothing, "")).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains("say what became of at least one plant"), "{page}");
        let two = [row(&ids[0], "unharmed"), row(&ids[1], "dead"), row(&ids[2], "")];
        client.post("/garden/winter", &list(&two, "")).await.expect(StatusCode::SEE_OTHER);
        let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
        let told = store.reports_of(member).await.unwrap();
        assert!(told.len() == 2 && told.iter().all(|report| !report.record.complete_list));
        // The last one makes the list whole.
        client.post("/garden/winter", &list(&[row(&ids[2], "tips")], "")).await.expect(StatusCode::SEE_OTHER);
        let told = store.reports_of(member).await.unwrap();
        assert_eq!(told.iter().filter(|report| report.record.complete_list).count(), 1);
        // What is the same for all fails once, not once a row.
        let without = [("winter", "2023/24"), (&format!("{}_became", ids[0])[..], "tips"), (&format!("{}_became", ids[2])[..], "tips")].map(|(k, v)| (k.to_owned(), v.to_owned()));
        let without: Vec<(&str, &str)> = without.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
        let page = client.post("/garden/winter", &without).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        let summary = page.split("id=\"errors\"").nth(1).unwrap().split("</div>").next().unwrap();
        assert_eq!(summary.matches("<li>").count(), 2, "the day and the cover: {summary}");
        // The winter after its death is asked of no plant.
        let page = client.get("/garden/winter").await.body;
        assert!(!page.contains(&format!("{}_became", ids[1])) && page.contains(&format!("{}_became", ids[0])));
    }

    async fn the_fruit_of_a_whole_garden_is_added_to_its_reports_once(database) {
        let store = database.open().await;
        let mut client = Client::over(service(&store, "2026-11-20T10:00:00Z", GENEROUS).await);
        client.join("fig grower").await;
        client.post("/garden/plants/new", &[("pasted", "Celeste\nAlma\nBrown Turkey"), ("place", "Graz, Austria")]).await.expect(StatusCode::SEE_OTHER);
        let ids = plants(&client.get("/garden").await.body);
        assert!(client.get("/garden/fruit").await.body.contains("Nothing is asked here"));
        let row = |id: &str, name: &str, value: &str| (format!("{id}_{name}"), value.to_owned());
        let winter: Vec<(&str, &str)> = [("winter", "2025/26"), ("looked", "2026-05-20"), ("cover", "none"), ("rest", "unharmed")].into();
        let rows = ids.iter().map(|id| row(id, "became", "")).collect::<Vec<_>>();
        let winter: Vec<(&str, &str)> = winter.into_iter().chain(rows.iter().map(|(k, v)| (k.as_str(), v.as_str()))).collect();
        client.post("/garden/winter", &winter).await.expect(StatusCode::SEE_OTHER);
        let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0.id;
        let page = client.get("/garden/fruit").await.expect(StatusCode::OK).body;
        assert_eq!(page.matches("_fruit\" name=").count(), 3);
        let fruit = |rows: Vec<(String, String)>| {
            [("winter".to_owned(), "2025/26".to_owned())].into_iter().chain(ids.iter().map(|id| row(id, "fruit", ""))).filter(|(key, _)| !rows.iter().any(|(own, _)| own == key)).chain(rows.clone()).collect::<Vec<_>>()
        };
        let send = async |client: &mut Client, pairs: Vec<(String, String)>| {
            client.post("/garden/fruit", &pairs.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect::<Vec<_>>()).await
        };
        let wrong = fruit(vec![row(&ids[0], "fruit", "main_ripe"), row(&ids[0], "first_ripe", "2027-09-01")]);
        let page = send(&mut client, wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains("Celeste, in the ground: 2027-09-01 has not come yet") && page.contains("value=\"2027-09-01\""), "{page}");
        let right = fruit(vec![row(&ids[0], "fruit", "main_ripe"), row(&ids[0], "first_ripe", "2026-09-01"), ("rest".to_owned(), "unripe".to_owned())]);
        for _ in 0..2 {
            send(&mut client, right.clone()).await.expect(StatusCode::SEE_OTHER);
        }
        let told = store.reports_of(member).await.unwrap();
        assert!(told.iter().all(|report| report.version == 2), "changed once");
        let ripe: Vec<_> = told.iter().filter_map(|report| report.record.first_ripe).collect();
        assert_eq!((ripe.len(), told.iter().filter(|report| report.record.fruit == Some(Fruit::Unripe)).count()), (1, 2));
        assert!(client.get("/garden/fruit").await.body.contains("Nothing is asked here"));
        // Another finds none of these plants.
        let mut other = client.another();
        other.join("another grower").await;
        send(&mut other, right).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }

    async fn the_front_page_of_a_member_tells_how_their_figs_stand_today(database) {
        let store = database.open().await;
        let mut client = Client::over(service(&store, "2026-12-20T10:00:00Z", GENEROUS).await);
        client.join("fig grower").await;
        assert!(!client.get("/").await.expect(StatusCode::OK).body.contains("My figs now, at"));
        let list = "Celeste, 2015\nCeleste, 2015\nBrown Turkey, 2026, pot";
        client.post("/garden/plants/new", &[("pasted", list), ("place", "Graz, Austria")]).await.expect(StatusCode::SEE_OTHER);
        let page = client.get("/").await.expect(StatusCode::OK).body;
        for words in [
            "My figs now, at Graz, Austria",
            "2 × Celeste, in the ground",
            "Brown Turkey, in a pot, first winter",
            "hardened",
            "a night below",
            "Asleep. The first wake about",
            "Those in their first three winters",
            "Tell winter 2025/26 of 2 figs",
            "The months at a glance",
        ] {
            assert!(page.contains(words), "{words}: {page}");
        }
        // To others the front page says nothing of it.
        assert!(!client.another().get("/").await.body.contains("My figs now"));
    }

    async fn the_table_of_a_garden_is_filtered_by_words_and_by_what_is_told(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        let list = "name,place,culture\nCeleste,\"Graz, Austria\",\nAlma,Bern,pot\nBrown Turkey,Bern,";
        client.post("/garden/plants/new", &[("pasted", list), ("culture", "ground")]).await.expect(StatusCode::SEE_OTHER);
        let ids = plants(&client.get("/garden").await.body);
        let became = format!("{}_became", ids[1]);
        let winter = [("winter", "2025/26"), ("looked", "2026-05-20"), ("cover", "none"), (became.as_str(), "tips")];
        client.post("/garden/winter", &winter).await.expect(StatusCode::SEE_OTHER);
        let mut shown = async |address: &str| plants(&client.get(address).await.expect(StatusCode::OK).body);
        assert_eq!(shown("/garden?q=bern").await, ids[1..]);
        assert_eq!(shown("/garden?told=yes").await, ids[1..2]);
        assert_eq!(shown("/garden?told=no").await, [ids[0].clone(), ids[2].clone()]);
        assert_eq!(shown("/garden?culture=container").await, ids[1..2]);
        assert_eq!(shown("/garden?q=bern&told=no").await, ids[2..]);
        assert!(shown("/garden?q=nowhere").await.is_empty());
        // The cold differs by place: one at a time, with the way to the other.
        let page = client.get("/garden/winter").await.body;
        assert!(page.contains("One place at a time") && page.matches("_became\" name=").count() == 1, "{page}");
    }

    async fn a_plant_is_changed_and_a_change_from_an_older_state_shows_both(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let ids = garden_of_two(&mut client).await;
        let address = format!("/garden/plants/{}/edit", ids[0]);
        let form = client.get(&address).await.expect(StatusCode::OK).body;
        let from = form.split("name=\"from\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        let as_of = |from: &str, name: &str, year: &str| {
            let fields = [("from", from), ("name", name), ("place", "by the mill"), ("planted", year), ("culture", "ground")];
            fields.map(|(k, v)| (k.to_owned(), v.to_owned()))
        };
        let borrowed = |fields: &[(String, String)]| fields.iter().map(|(k, v)| (k.clone(), v.clone())).collect::<Vec<_>>();
        let send = async |client: &mut Client, fields: Vec<(String, String)>| {
            let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
            client.post(&address, &fields).await
        };
        let wrong = send(&mut client, borrowed(&as_of(&from, "Celeste", "next year"))).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(wrong.contains("value=\"next year\"") && wrong.contains("has-error"));
        send(&mut client, borrowed(&as_of(&from, "Brown Turkey", "2019"))).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(&format!("/garden/plants/{}", ids[0])).await.body.contains("Brown Turkey, in the ground since 2019"));
        // The other window still has the old state.
        let both = send(&mut client, borrowed(&as_of(&from, "Alma", "2018"))).await.expect(StatusCode::CONFLICT).body;
        assert!(both.contains("changed meanwhile") && both.contains("<dd>Brown Turkey</dd>") && both.contains("value=\"Alma\""), "{both}");
        let now = both.split("name=\"from\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        send(&mut client, borrowed(&as_of(&now, "Alma", "2018"))).await.expect(StatusCode::SEE_OTHER);
        // What was said before is shown to its owner, goes with everything of theirs, and to stewards without the point.
        let page = client.get(&format!("/garden/plants/{}", ids[0])).await.body;
        assert!(page.contains("Name of the fig, “Brown Turkey”, now “Alma”") && page.contains("“Celeste”, now “Brown Turkey”"), "{page}");
        let mine: serde_json::Value = serde_json::from_str(&client.get("/account/mine.json").await.body).unwrap();
        let plant = mine["plants"].as_array().unwrap().iter().find(|plant| plant["id"] == ids[0].as_str()).unwrap();
        let names: Vec<&str> = (0..2).map(|n| plant["earlier"][n]["answers"][0][1].as_str().unwrap()).collect();
        assert_eq!(names, ["Celeste", "Brown Turkey"]);
        assert_eq!(mine["known_devices"].as_array().unwrap().len(), 1);
        let mut steward = client.another();
        steward.join("judge").await;
        let judge = store.members().await.unwrap().into_iter().find(|member| member.handle.to_string() == "judge").unwrap();
        store.change_role(judge.id, Role::Steward).await.unwrap();
        let report = store.waiting(10).await.unwrap().into_iter().find(|report| report.plant.id.to_string() == ids[0]).unwrap();
        let case = steward.get(&format!("/review/{}", report.id)).await.expect(StatusCode::OK).body;
        assert!(case.contains("“Brown Turkey”, now “Alma”") && !case.contains("Latitude, “"), "{case}");
        // Another member finds nothing there.
        let mut other = client.another();
        other.join("another grower").await;
        other.get(&address).await.expect(StatusCode::NOT_FOUND);
        assert_eq!(send(&mut other, borrowed(&as_of(&now, "Alma", "2018"))).await.status, StatusCode::NOT_FOUND);
    }

    async fn a_name_that_is_not_in_the_catalogue_is_offered_the_nearest_and_one_tap_takes_it(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        let report = client.post("/reports/new", &report_with(&[("name", "brown turky")])).await.expect(StatusCode::SEE_OTHER);
        let page = client.get(report.location()).await.body;
        assert!(page.contains("Not a name of the catalogue") && page.contains("It is Brown Turkey"), "{page}");
        let sent = store.waiting(1).await.unwrap().remove(0);
        let plant = sent.plant.clone();
        assert!(sent.flags.iter().any(|flagged| flagged.flag == Flag::NameUnknown));
        // A steward took it as it was.
        let steward = joined(&*store, "judge", Role::Steward).await;
        decided(&*store, &sent, &steward, ReviewState::Accepted).await;
        let address = format!("/garden/plants/{}/name", plant.id);
        assert!(page.contains(&format!("action=\"{address}\"")));
        // A fig that there is none of, and the plant of another, are left alone.
        client.post(&address, &[("cultivar", "no-such-fig")]).await.expect(StatusCode::NOT_FOUND);
        let mut other = client.another();
        other.join("moss").await;
        other.post(&address, &[("cultivar", "brown-turkey")]).await.expect(StatusCode::NOT_FOUND);
        assert_eq!(store.plant(plant.id).await.unwrap().unwrap(), plant);
        let named = client.post(&address, &[("cultivar", "brown-turkey"), ("back", report.location())]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(named.location(), report.location());
        // Under another name it is another report: it waits again, and the flag of the name is gone.
        let again = store.report(sent.id).await.unwrap().unwrap();
        assert_eq!(again.state, ReviewState::Waiting);
        assert!(again.flags.iter().all(|flagged| flagged.flag != Flag::NameUnknown), "{:?}", again.flags);
        assert_eq!(store.withdrawn_reports().await.unwrap().len(), 1);
        let page = client.get(report.location()).await.body;
        assert!(page.contains("href=\"/cultivars/brown-turkey\"") && page.contains("Beside the model") && !page.contains("It is Brown"), "{page}");
        assert!(client.get(&format!("/garden/plants/{}", plant.id)).await.body.contains("“brown turky”, now “Brown Turkey”"));
    }

    async fn what_others_will_see_is_shown_before_and_is_what_they_see(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        let sent = client.post("/reports/new", &report_with(&[("culture", "container"), ("container_l", "40")])).await.expect(StatusCode::SEE_OTHER);
        let page = client.get(sent.location()).await.body;
        let shown = page.split("What others see of it, once it is taken").nth(1).unwrap().split("</details>").next().unwrap().to_owned();
        assert!(!shown.contains("by the mill") && !shown.contains("behind the shed") && !shown.contains("44.17") && !shown.contains("fern"), "{shown}");
        assert!(shown.contains("the square of 0.1°"), "{shown}");
        let preview: Vec<(String, String)> = {
            let page = Html::parse_fragment(&shown);
            let texts = |css: &str| page.select(&Selector::parse(css).unwrap()).map(|e| e.text().collect()).collect::<Vec<String>>();
            texts("dt").into_iter().zip(texts("dd")).collect()
        };
        assert!(preview.len() > 15, "{preview:?}");

        let steward = joined(&*store, "judge", Role::Steward).await;
        decided(&*store, &store.waiting(1).await.unwrap()[0], &steward, ReviewState::Accepted).await;
        let public: Value = serde_json::from_str(&client.another().get("/api/v1/reports").await.expect(StatusCode::OK).body).unwrap();
        let row = &public["reports"][0];
        for (field, value) in preview.iter().filter(|(field, _)| field != "review") {
            let published = [&row[field], &row["plant"][field]].into_iter().find(|value| !value.is_null()).unwrap_or_else(|| panic!("{field}"));
            assert_eq!(published.as_str().map_or_else(|| published.to_string(), str::to_owned), *value, "{field}");
        }
        // Nothing but the place is public that was not shown.
        let place = ["latitude", "longitude", "coordinate_precision", "coordinate_uncertainty_m", "geodetic_datum", "data_generalizations", "plant"];
        for (field, value) in row.as_object().unwrap().iter().chain(row["plant"].as_object().unwrap()) {
            let empty = value.is_null() || value == "";
            assert!(empty || place.contains(&field.as_str()) || preview.iter().any(|(shown, _)| shown == field), "{field}: {value}");
        }
    }
}

// Identifiers are arguments: two services with the same seed, clock and requests give the same addresses.
#[tokio::test]
async fn the_same_requests_at_the_same_moment_are_given_the_same_ids() {
    use winterfig::ids::Ids;
    let sent = async || {
        let database = TestDatabase::sqlite();
        let store = database.open().await;
        let snapshot = winterfig::model::snapshot::Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let clock = std::sync::Arc::new(winterfig::clock::FixedClock("2026-06-20T10:00:00Z".parse().unwrap()));
        let state = winterfig::web::AppState::new(snapshot, std::sync::Arc::clone(&store), clock).with_ids(&Ids::seeded(7));
        let mut client = Client::over(winterfig::routes::router(state));
        client.join("fern").await;
        let nonce = "01970000-0000-7000-8000-000000000001";
        let form: Vec<(&str, &str)> = REPORT.iter().copied().chain([("nonce", nonce)]).collect();
        client.post("/reports/new", &form).await.expect(StatusCode::SEE_OTHER).location().to_owned()
    };
    let (one, other) = (sent().await, sent().await);
    assert!(one.starts_with("/reports/"), "{one}");
    assert_eq!(one, other);
}
