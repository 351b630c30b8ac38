//! Recorded models and the lease to fit, on both engines; then several watchers over one database.

use std::sync::Arc;

use crate::support::members::{decided, joined, moment, record, submitted};
use crate::support::on_both_engines;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;
use winterfig::catalogue::CatalogueRecords;
use winterfig::catalogue::seed::CultivarRecord;
use winterfig::clock::FixedClock;
use winterfig::model::refit_worker::{LEASE, Seen, Watcher, lease_name};
use winterfig::model::registers::Registers;
use winterfig::model::scoring::{Outcome, is_unscored, score_in_turn};
use winterfig::model::snapshot::Snapshot;
use winterfig::records::words::{TopKilled, Vitality};
use winterfig::records::{Member, ReviewState, Role, WinterRecord};
use winterfig::science::hardiness::fit::MOST_CULTIVARS;
use winterfig::store::{KeptModel, Store};

fn model(reports_version: i64, inputs: &str) -> KeptModel {
    KeptModel {
        reports_version,
        inputs: inputs.to_owned(),
        version: format!("reports-{reports_version}"),
        reports: 3,
        fitted: moment(reports_version),
        scores: "{\"by_winter\":null}".to_owned(),
        state: format!("state {reports_version}"),
    }
}

on_both_engines! {
    async fn the_newest_model_of_the_same_inputs_comes_back(database) {
        let store = database.open().await;
        assert_eq!((store.latest_model("a").await.unwrap(), store.latest_model_version("a").await.unwrap()), (None, None));
        for kept in [model(1, "a"), model(2, "a"), model(9, "b")] {
            store.record_model(&kept).await.unwrap();
        }
        assert_eq!(store.latest_model("a").await.unwrap(), Some(model(2, "a")));
        assert_eq!(store.latest_model_version("b").await.unwrap(), Some(9));
    }

    async fn a_late_model_of_fewer_reports_does_not_take_the_place_of_a_newer_one(database) {
        let store = database.open().await;
        store.record_model(&model(2, "a")).await.unwrap();
        store.record_model(&model(1, "a")).await.unwrap();
        assert_eq!(store.latest_model("a").await.unwrap(), Some(model(2, "a")));
        let again = KeptModel { state: "better".to_owned(), ..model(2, "a") };
        store.record_model(&again).await.unwrap();
        assert_eq!(store.latest_model("a").await.unwrap(), Some(again));
    }

    async fn a_lease_is_one_holders_until_it_runs_out_or_is_given_back(database) {
        let store = database.open().await;
        let (one, two) = (Uuid::now_v7(), Uuid::now_v7());
        assert!(store.try_to_lead("fit", one, moment(0), moment(30)).await.unwrap());
        assert!(!store.try_to_lead("fit", two, moment(29), moment(59)).await.unwrap());
        assert!(store.try_to_lead("another piece of work", two, moment(29), moment(59)).await.unwrap());
        assert!(store.try_to_lead("fit", one, moment(29), moment(60)).await.unwrap(), "its holder prolongs it");
        assert!(!store.try_to_lead("fit", two, moment(59), moment(90)).await.unwrap());
        assert!(store.try_to_lead("fit", two, moment(60), moment(90)).await.unwrap(), "it has run out");
        assert!(!store.try_to_lead("fit", one, moment(61), moment(91)).await.unwrap(), "who had it before asks like anyone");
        assert!(store.try_to_lead("fit", two, moment(62), moment(62)).await.unwrap());
        assert!(store.try_to_lead("fit", one, moment(62), moment(92)).await.unwrap(), "it was given back");
    }

    async fn of_several_that_ask_at_once_one_leads(database) {
        let store = database.open().await;
        let mut tasks = tokio::task::JoinSet::new();
        for _ in 0..8 {
            let store = store.clone();
            tasks.spawn(async move { store.try_to_lead("fit", Uuid::now_v7(), moment(0), moment(30)).await.unwrap() });
        }
        assert_eq!(tasks.join_all().await.into_iter().filter(|led| *led).count(), 1);
    }

    async fn one_process_fits_and_the_other_picks_the_same_model_up(database) {
        let (here, there) = two_openings(&database).await;
        let grow = Growers::join(&*here).await;
        grow.accepted(&*here, "celeste", record(-9.4, TopKilled::Tips)).await;
        let (mut one, mut two) = (Process::start(&here, 0).await, Process::start(&there, 0).await);
        assert_eq!(one.look().await, "fitted");
        assert_eq!(two.look().await, "picked up");
        assert_eq!([one.look().await, two.look().await], ["nothing", "nothing"]);
        assert_eq!((one.current.model.version.as_str(), one.current.model.reports), ("reports-1", 1));
        one.same_as(&two);

        // One more accepted report moves its cultivar in both, whichever of them fits.
        let before = one.hardiness("celeste");
        let dead = WinterRecord { vitality: Vitality::Dead, ..record(-6.0, TopKilled::ToGround) };
        grow.accepted(&*there, "celeste", dead).await;
        assert_eq!([two.look().await, one.look().await], ["fitted", "picked up"]);
        one.same_as(&two);
        assert!(one.hardiness("celeste") > before + 0.01, "dead at −6 °C makes it tenderer: {before} {}", one.hardiness("celeste"));
        assert_eq!(two.current.model.version, "reports-2");
    }

    async fn a_report_accepted_moves_its_curve_before_the_fit_and_one_taken_back_waits_for_it(database) {
        let store = database.open().await;
        let growers = Growers::join(&*store).await;
        for coldest in [-9.4, -10.0, -12.5, -14.0, -15.5, -17.0] {
            growers.accepted(&*store, "celeste", record(coldest, if coldest > -13.0 { TopKilled::Tips } else { TopKilled::ToGround })).await;
        }
        let mut process = Process::start(&store, 0).await;
        process.watcher = process.watcher.going_ahead_from(1);
        assert_eq!(process.look().await, "fitted");
        let (fitted, before) = (process.current.model.clone(), process.hardiness("celeste"));
        assert_eq!(process.look().await, "nothing");
        growers.accepted(&*store, "celeste", record(-9.0, TopKilled::ToGround)).await;
        assert_eq!(process.look().await, "ahead");
        let ahead = process.current.model.clone();
        assert_eq!((ahead.version, ahead.reports, ahead.ahead), (format!("{}+1", fitted.version), fitted.reports + 1, 1));
        let moved = process.hardiness("celeste");
        assert!(moved > before + 0.02, "killed at −9 °C makes it tenderer: {before} {moved}");
        assert_eq!(process.look().await, "fitted");
        let (again, fitted) = (process.hardiness("celeste"), process.current.model.clone());
        assert_eq!((fitted.reports, fitted.ahead), (7, 0));
        assert!(again > before, "a fit says so too: {before}, ahead {moved}, fitted {again}");
        assert_eq!(process.look().await, "nothing");
        let mine = store.reports_of(growers.grower.id).await.unwrap().remove(0);
        assert!(store.withdraw(mine.id, growers.grower.id, moment(30)).await.unwrap());
        assert_eq!(process.look().await, "fitted", "what a withdrawn report said is taken out by a fit");
    }

    async fn two_that_look_at_once_end_with_one_model(database) {
        let (here, there) = two_openings(&database).await;
        Growers::join(&*here).await.accepted(&*here, "celeste", record(-9.4, TopKilled::Tips)).await;
        let (mut one, mut two) = (Process::start(&here, 0).await, Process::start(&there, 0).await);
        let (first, second) = tokio::join!(one.look(), two.look());
        assert_eq!([&first, &second].into_iter().filter(|seen| *seen == "fitted").count(), 1, "{first} {second}");
        let late = if first == "fitted" { &mut two } else { &mut one };
        late.look().await;
        one.same_as(&two);
    }

    async fn a_process_that_starts_takes_the_recorded_model_instead_of_fitting(database) {
        let store = database.open().await;
        Growers::join(&*store).await.accepted(&*store, "celeste", record(-9.4, TopKilled::Tips)).await;
        let mut first = Process::start(&store, 0).await;
        assert_eq!(first.look().await, "fitted");
        let mut restarted = Process::start(&store, 100).await;
        assert_eq!(restarted.look().await, "picked up");
        restarted.same_as(&first);
    }

    async fn scores_are_worked_out_by_one_process_and_taken_over_by_the_other(database) {
        let (here, there) = two_openings(&database).await;
        let grow = Growers::join(&*here).await;
        grow.accepted(&*here, "celeste", record(-9.4, TopKilled::Tips)).await;
        let earlier = WinterRecord { winter: "2024/25".parse().unwrap(), looked: jiff::civil::date(2025, 5, 20), ..record(-12.0, TopKilled::ToGround) };
        grow.accepted(&*here, "alma", earlier).await;
        let (mut one, mut two) = (Process::start(&here, 0).await, Process::start(&there, 0).await);
        assert_eq!([one.look().await, two.look().await], ["fitted", "picked up"]);
        assert!(is_unscored(&one.current) && is_unscored(&two.current), "learning does not wait for scores");

        // Who scores holds a lease; without it nobody does.
        let lease = format!("score {}", one.current.inputs().unwrap());
        let (holder, until) = (Uuid::now_v7(), moment(0) + SignedDuration::try_from(LEASE).unwrap());
        assert!(here.try_to_lead(&lease, holder, moment(0), until).await.unwrap());
        assert_eq!(one.scored(&here).await, Outcome::AnotherAtWork);
        assert!(here.try_to_lead(&lease, holder, moment(0), moment(0)).await.unwrap());

        assert_eq!([one.scored(&here).await, two.scored(&there).await, one.scored(&here).await], [Outcome::Scored, Outcome::Adopted, Outcome::Standing]);
        let scores = |process: &Process| process.current.learned.as_ref().unwrap().scored.load_full();
        assert!(scores(&one).by_winter.is_some() && scores(&one).of.as_ref() == Some(&one.current.model));
        // To what JSON keeps of a number.
        assert_eq!(serde_json::to_string(&scores(&two).of).unwrap(), serde_json::to_string(&scores(&one).of).unwrap());
        let mut restarted = Process::start(&here, 100).await;
        assert_eq!(restarted.look().await, "picked up");
        assert!(!is_unscored(&restarted.current));

        // The next model keeps those of the one before, under its name, until its own are worked out.
        grow.accepted(&*here, "celeste", record(-14.0, TopKilled::ToGround)).await;
        assert_eq!(one.look().await, "fitted");
        assert!(is_unscored(&one.current));
        assert_eq!(scores(&one).of.as_ref().map(|of| of.reports), Some(2));
        assert_eq!(one.scored(&here).await, Outcome::Scored);
        assert_eq!(scores(&one).of.as_ref().map(|of| of.reports), Some(3));
    }

    async fn the_lease_of_a_process_that_died_runs_out(database) {
        let store = database.open().await;
        Growers::join(&*store).await.accepted(&*store, "celeste", record(-9.4, TopKilled::Tips)).await;
        let (mut early, mut later) = (Process::start(&store, 0).await, Process::start(&store, LEASE.as_secs().cast_signed()).await);
        let inputs = early.current.inputs().unwrap();
        let until = moment(0) + SignedDuration::try_from(LEASE).unwrap();
        assert!(store.try_to_lead(&lease_name(&inputs), Uuid::now_v7(), moment(0), until).await.unwrap());
        assert_eq!(early.look().await, "nothing");
        assert_eq!(early.current.model.reports, 0);
        assert_eq!(later.look().await, "fitted");
    }

    async fn a_fit_that_fails_keeps_the_model_says_why_and_is_not_tried_again(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        grow.accepted(&*store, "celeste", record(-9.4, TopKilled::Tips)).await;
        let mut process = Process::start(&store, 0).await;
        assert_eq!(process.look().await, "fitted");
        // More cultivars than the model takes.
        let shipped = CatalogueRecords::embedded().unwrap();
        let mut large = shipped.clone();
        large.cultivars.extend((0..=MOST_CULTIVARS).map(|n| CultivarRecord {
            slug: format!("invented-{n}"),
            name: format!("Invented {n}"),
            sources: String::new(),
            note: "made for a test".to_owned(),
        }));
        store.plant_catalogue(&large, "large").await.unwrap();
        grow.accepted(&*store, "celeste", record(-12.0, TopKilled::Tips)).await;
        let before = process.hardiness("celeste");
        let seen = process.look().await;
        assert!(seen.contains(&format!("more than {MOST_CULTIVARS} cultivars")), "{seen}");
        assert_eq!((process.current.model.version.as_str(), process.hardiness("celeste")), ("reports-1", before));
        assert_eq!(process.look().await, "nothing", "the same reports are not tried again");
        // It is mended, and another report comes.
        store.plant_catalogue(&shipped, "mended").await.unwrap();
        grow.accepted(&*store, "celeste", record(-12.0, TopKilled::Tips)).await;
        assert_eq!(process.look().await, "fitted");
        assert_eq!(process.current.model.reports, 3);
    }

    async fn a_recorded_model_that_cannot_be_read_is_fitted_anew(database) {
        let store = database.open().await;
        Growers::join(&*store).await.accepted(&*store, "celeste", record(-9.4, TopKilled::Tips)).await;
        let mut process = Process::start(&store, 0).await;
        let inputs = process.current.inputs().unwrap();
        store.record_model(&model(1, &inputs)).await.unwrap();
        assert_eq!(process.look().await, "fitted");
        assert_ne!(store.latest_model(&inputs).await.unwrap().unwrap().state, "state 1");
    }
}

/// The database opened by two processes; a SQLite file lets one process in, whose tasks then share it.
pub(super) async fn two_openings(database: &crate::support::TestDatabase) -> (Arc<dyn Store>, Arc<dyn Store>) {
    let here = database.open().await;
    let there = if database.engine == "SQLite" { Arc::clone(&here) } else { database.open().await };
    (here, there)
}

pub(super) struct Growers {
    grower: Member,
    pub(super) steward: Member,
}

impl Growers {
    pub(super) async fn join(store: &dyn Store) -> Self {
        Self { grower: joined(store, "grower one", Role::Member).await, steward: joined(store, "judge", Role::Steward).await }
    }

    async fn accepted(&self, store: &dyn Store, cultivar: &str, record: WinterRecord) {
        let report = submitted(store, &self.grower, cultivar, record).await;
        decided(store, &report, &self.steward, ReviewState::Accepted).await;
    }
}

/// A process as far as learning goes: its watcher, and the snapshot it answers from.
pub(super) struct Process {
    watcher: Watcher,
    pub(super) current: Arc<Snapshot>,
}

impl Process {
    pub(super) async fn start(store: &Arc<dyn Store>, second: i64) -> Self {
        let now: Timestamp = moment(second);
        let current = Arc::new(Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap());
        Self { watcher: Watcher::new(Arc::clone(store), Registers::default(), Arc::new(FixedClock(now)), Uuid::now_v7()), current }
    }

    pub(super) async fn look(&mut self) -> String {
        match Box::pin(self.watcher.look(&self.current, &|_| {})).await.unwrap() {
            Seen::Nothing => "nothing".to_owned(),
            Seen::PickedUp(snapshot) => {
                self.current = Arc::from(snapshot);
                "picked up".to_owned()
            }
            Seen::Fitted(snapshot) => {
                self.current = Arc::from(snapshot);
                "fitted".to_owned()
            }
            Seen::Ahead(snapshot) => {
                self.current = Arc::from(snapshot);
                "ahead".to_owned()
            }
            Seen::Trouble(trouble) => trouble,
            // Answers are of the new catalogue at once; the next look fits it.
            Seen::OtherCatalogue(snapshot) => {
                self.current = Arc::from(snapshot);
                Box::pin(self.look()).await
            }
        }
    }

    async fn scored(&self, store: &Arc<dyn Store>) -> Outcome {
        let version = store.reports_version().await.unwrap();
        score_in_turn(store, &Registers::default(), &FixedClock(moment(0)), Uuid::now_v7(), &self.current, version).await.unwrap()
    }

    pub(super) fn hardiness(&self, slug: &str) -> f64 {
        self.current.standing(slug).unwrap().belief.mean().degrees()
    }

    /// The same name and, to what JSON keeps of a number, the same beliefs.
    fn same_as(&self, other: &Self) {
        assert_eq!(self.current.model, other.current.model);
        for (a, b) in self.current.standings.iter().zip(&other.current.standings) {
            assert!((a.belief.mean().degrees() - b.belief.mean().degrees()).abs() < 1e-9);
            assert!((a.belief.sd().kelvin() - b.belief.sd().kelvin()).abs() < 1e-9);
            assert_eq!(a.reports, b.reports);
        }
    }
}
