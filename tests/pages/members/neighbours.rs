//! Whoever chose “not published” or “50 km” is not given away by the cells of their neighbours: two worlds that differ in the 0.1° square of
//! that member alone look the same through every public door, from release to release, in whatever order the members came.

use std::sync::Arc;

use super::release::file;
use crate::support::client::Client;
use crate::support::members::{decided, joined, moment, plant, record, submission};
use crate::support::{TestDatabase, on_both_engines};
use axum::http::StatusCode;
use winterfig::jobs::open_data::releases;
use winterfig::model::snapshot::Snapshot;
use winterfig::records::place::Publish;
use winterfig::records::words::TopKilled;
use winterfig::records::{HeatMet, HeldPoint, Member, ReviewState, Role};
use winterfig::store::{Store, Submitted};

/// Two squares of 0.1° in one of 0.5°.
const SQUARES: [(f64, f64); 2] = [(44.12, 12.12), (44.33, 12.37)];
/// Orders in which three members come; the first two are alike, so that their places may be exchanged.
const ORDERS: [[usize; 3]; 3] = [[0, 1, 2], [0, 2, 1], [2, 0, 1]];

/// What a visitor can see and what tells one world's ids from the other's.
struct World {
    _database: TestDatabase,
    store: Arc<dyn Store>,
    visitor: Client,
    /// Ids and codes with what to write in their place.
    names: Vec<(String, String)>,
}

impl World {
    async fn new(engine: &str) -> Self {
        let database = if engine == "SQLite" { TestDatabase::sqlite() } else { TestDatabase::postgres().await };
        let store = database.open().await;
        Self { _database: database, visitor: Client::new(&store).await, store, names: Vec::new() }
    }

    async fn report(&mut self, nth: usize, who: &Member, steward: &Member, publish: Publish, square: (f64, f64)) {
        let mut garden = plant(who.id, "celeste");
        (garden.place.point, garden.place.publish) = (HeldPoint::new(square.0, square.1).ok(), publish);
        let mut winter = record(-9.4 - nth as f64, TopKilled::Tips);
        // A station near either square would count other sums.
        let heat = HeatMet { site: None, to_growth: Some(213.0 + square.0), to_ripe: None, to_frost: None, harder_k: None };
        winter.heat = (publish == Publish::Nowhere).then_some(heat);
        let sent = submission(who, "key", garden, winter);
        let Submitted::Fresh(id) = self.store.submit(&sent).await.unwrap() else { panic!("not fresh") };
        decided(&*self.store, &self.store.report(id).await.unwrap().unwrap(), steward, ReviewState::Accepted).await;
        let code: String = winterfig::token::hash(format!("reporter {}", who.id)).chars().take(12).collect();
        self.names.extend([
            (id.to_string(), format!("report-{nth}")),
            (sent.plant.id.to_string(), format!("plant-{nth}")),
            (code, format!("code-{nth}")),
        ]);
    }

    /// Every public door, ids written alike.
    async fn doors(&mut self) -> Vec<String> {
        let mut addresses: Vec<String> =
            ["/reports", "/api/v1/reports", "/cultivars/celeste", "/api/v1/cultivars/celeste", "/method"].map(str::to_owned).into();
        addresses.extend(SQUARES.map(|(latitude, longitude)| format!("/reports?latitude={latitude}&longitude={longitude}")));
        addresses.extend(self.names.iter().filter(|(_, name)| name.starts_with("report-")).map(|(id, _)| format!("/reports/{id}")));
        let mut seen = Vec::new();
        for address in addresses {
            let body = self.visitor.get(&address).await.expect(StatusCode::OK).body;
            seen.push(format!("{address}: {body}"));
        }
        let mut packages = vec!["/data/winterfig-reports.zip".to_owned()];
        packages.extend(self.store.releases().await.unwrap().iter().map(|r| format!("/data/releases/{}/winterfig-reports.zip", r.number)));
        for address in packages {
            let zip = self.visitor.get(&address).await.expect(StatusCode::OK).bytes;
            for name in ["winter-reports.csv", "plants.csv", "withdrawn.csv"] {
                seen.push(format!("{address} {name}: {}", file(&zip, name)));
            }
        }
        seen.into_iter().map(|text| self.names.iter().fold(text, |text, (id, name)| text.replace(id, name))).collect()
    }
}

/// What is seen after each member has come and each release was made, where the third member stands in `hidden`.
async fn seen(engine: &str, choice: Publish, hidden: (f64, f64), order: [usize; 3]) -> Vec<Vec<String>> {
    let mut world = World::new(engine).await;
    let steward = joined(&*world.store, "judge", Role::Steward).await;
    let snapshot = Snapshot::from_priors(world.store.catalogue().await.unwrap()).unwrap();
    let mut members = Vec::new();
    for nth in 0..3 {
        members.push(joined(&*world.store, &format!("grower {nth}"), Role::Member).await);
    }
    let mut moments = Vec::new();
    for (second, nth) in (0..).zip(order) {
        // Two neighbours chose the fine grid and stand in the first square.
        let (publish, square) = if nth == 2 { (choice, hidden) } else { (Publish::Grid, SQUARES[0]) };
        world.report(nth, &members[nth], &steward, publish, square).await;
        if second == 2 {
            moments.push(world.doors().await);
        }
        if second != 1 {
            releases::make(&world.store, &snapshot, moment(100 + second)).await.unwrap();
            moments.push(world.doors().await);
        }
    }
    moments
}

on_both_engines! {
    async fn in_which_square_a_member_stands_who_chose_otherwise_cannot_be_told(database) {
        for choice in [Publish::Nowhere, Publish::Coarse] {
            for order in ORDERS {
                let (near, far) = (seen(database.engine, choice, SQUARES[0], order).await, seen(database.engine, choice, SQUARES[1], order).await);
                for (near, far) in near.iter().flatten().zip(far.iter().flatten()) {
                    assert_eq!(near, far, "{choice:?} {order:?}");
                }
                assert_eq!(near.iter().map(Vec::len).collect::<Vec<_>>(), far.iter().map(Vec::len).collect::<Vec<_>>());
            }
        }
    }

    // The test above could pass for a service that shows nothing: three who chose the fine grid are shown on it, from the release on.
    async fn three_who_chose_the_fine_grid_are_shown_on_it_from_the_next_release(database) {
        let moments = seen(database.engine, Publish::Grid, SQUARES[0], ORDERS[0]).await;
        let squares = |doors: &[String]| doors.iter().find(|text| text.starts_with("/data/winterfig-reports.zip plants.csv")).unwrap().clone();
        let (before, after) = (squares(&moments[moments.len() - 2]), squares(&moments[moments.len() - 1]));
        assert!(before.contains(",44.25,12.25,0.5,") && !before.contains(",0.1,"), "{before}");
        assert!(after.contains(",44.15,12.15,0.1,") && !after.contains(",0.5,"), "{after}");
    }
}
