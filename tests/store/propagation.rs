//! The contract of batches of propagation and of counts of questions: every test runs on SQLite and on PostgreSQL.

use crate::support::members::{joined, moment};
use crate::support::on_both_engines;
use jiff::civil::date;
use uuid::Uuid;
use winterfig::catalogue::Slug;
use winterfig::records::{BatchId, BatchOwner, BatchRecord, Counted, KeptBatch, Member, Nursery, NurseryCode, NurseryId, Role};
use winterfig::science::propagation::Method;
use winterfig::store::{AskedCount, AskedKey, Leaving};

/// More than any test keeps.
const ROOM: usize = 10;

fn batch(member: &Member, stuck: u32, at: i64) -> KeptBatch {
    KeptBatch {
        id: BatchId(Uuid::now_v7()),
        owner: BatchOwner::Member(member.id),
        record: BatchRecord {
            name_written: "Celeste".to_owned(),
            cultivar: None,
            mother: None,
            mother_words: Some("the one by the well".to_owned()),
            method: Method::HardwoodPerlite,
            stuck,
            stuck_on: date(2026, 1, 10),
            bottom_heat_c: Some(22.5),
            place: None,
            rooted: None,
            potted: None,
            note: None,
        },
        version: 1,
        gone: false,
        has_earlier: false,
        made: moment(at),
    }
}

fn asked(zone: &str, cultivar: &str, times: i64) -> AskedCount {
    let key = AskedKey { zone: zone.to_owned(), setting: "open".to_owned(), culture: "ground".to_owned(), cultivar: cultivar.to_owned() };
    AskedCount { key, times }
}

fn nursery(name: &str) -> Nursery {
    Nursery {
        id: NurseryId(Uuid::now_v7()),
        code: NurseryCode::from_random(Uuid::now_v7()),
        name: name.to_owned(),
        place: String::new(),
        label: String::new(),
        invitation_ends: None,
        made: moment(1),
    }
}

on_both_engines! {
    async fn a_batch_comes_back_as_it_was_kept_to_its_owner_alone(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        let (first, second) = (batch(&who, 20, 1), batch(&who, 30, 2));
        assert!(store.add_batches(&[first.clone(), second.clone()], ROOM).await.unwrap());
        assert_eq!(store.batches_of(BatchOwner::Member(who.id)).await.unwrap(), [first.clone(), second]);
        assert_eq!(store.batches_of(BatchOwner::Member(other.id)).await.unwrap(), []);
        let stolen = KeptBatch { owner: BatchOwner::Member(other.id), version: 2, ..first.clone() };
        assert!(!store.change_batch(&stolen, 1, moment(3)).await.unwrap());
        assert!(!store.undo_batch(first.id, BatchOwner::Member(other.id), 1).await.unwrap());
    }

    async fn a_change_can_be_taken_back_step_by_step_and_an_old_page_changes_nothing(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let first = batch(&who, 20, 1);
        assert!(store.add_batches(std::slice::from_ref(&first), ROOM).await.unwrap());
        let rooted = BatchRecord { rooted: Some(Counted { count: 15, on: date(2026, 2, 10) }), ..first.record.clone() };
        let second = KeptBatch { record: rooted, version: 2, ..first.clone() };
        assert!(store.change_batch(&second, 1, moment(2)).await.unwrap());
        assert!(!store.change_batch(&second, 1, moment(3)).await.unwrap(), "made from the first state");
        let gone = KeptBatch { gone: true, version: 3, ..second.clone() };
        assert!(store.change_batch(&gone, 2, moment(4)).await.unwrap());
        let stands = || async { store.batches_of(first.owner).await.unwrap().remove(0) };
        assert!(stands().await.gone);
        assert!(store.undo_batch(first.id, first.owner, 3).await.unwrap());
        assert_eq!(stands().await, KeptBatch { version: 4, has_earlier: true, ..second });
        assert!(store.undo_batch(first.id, first.owner, 4).await.unwrap());
        assert_eq!(stands().await, KeptBatch { version: 5, ..first.clone() });
        assert!(!store.undo_batch(first.id, first.owner, 5).await.unwrap(), "nothing is left to go back to");
    }

    async fn no_more_batches_are_kept_than_there_is_room_for_even_at_the_same_time(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let mut tasks = tokio::task::JoinSet::new();
        for nth in 0..6 {
            let (store, one) = (store.clone(), batch(&who, 20, nth));
            tasks.spawn(async move { store.add_batches(&[one], 2).await.unwrap() });
        }
        assert_eq!(tasks.join_all().await.into_iter().filter(|kept| *kept).count(), 2);
        assert!(!store.add_batches(&[batch(&who, 1, 9)], 2).await.unwrap());
        assert_eq!(store.batches_of(BatchOwner::Member(who.id)).await.unwrap().len(), 2);
    }

    async fn batches_go_with_their_member(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        assert!(store.add_batches(&[batch(&who, 20, 1)], ROOM).await.unwrap());
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::from_u128(7), moment(50)).await.unwrap();
        assert_eq!(store.batches_of(BatchOwner::Member(who.id)).await.unwrap(), []);
    }

    async fn batches_of_a_nursery_are_its_members_all_and_go_with_the_last_of_them(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        let nursery = nursery("Weir Lane");
        assert!(store.start_nursery(&nursery, who.id).await.unwrap());
        let owner = BatchOwner::Nursery(nursery.id);
        let kept = KeptBatch { owner, ..batch(&who, 20, 1) };
        assert!(store.add_batches(std::slice::from_ref(&kept), ROOM).await.unwrap());
        assert_eq!(store.batches_of(owner).await.unwrap(), [kept]);
        assert_eq!(store.batches_of(BatchOwner::Member(who.id)).await.unwrap(), []);
        assert_eq!(store.batches_of(BatchOwner::Member(other.id)).await.unwrap(), []);
        assert!(store.leave_nursery(nursery.id, who.id).await.unwrap());
        assert_eq!(store.batches_of(owner).await.unwrap(), []);
    }

    async fn an_offer_of_a_trial_stands_once_until_it_is_ended_or_its_nursery_goes(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let (nursery, fig) = (nursery("Weir Lane"), Slug::new("celeste").unwrap());
        assert!(store.start_nursery(&nursery, who.id).await.unwrap());
        assert!(store.offer_trial(nursery.id, &fig, moment(3)).await.unwrap());
        assert!(!store.offer_trial(nursery.id, &fig, moment(4)).await.unwrap());
        let offers = store.trial_offers(9).await.unwrap();
        assert_eq!((offers.len(), offers[0].name.as_str(), offers[0].made), (1, "Weir Lane", moment(3)));
        assert!(store.end_trial_offer(nursery.id, &fig).await.unwrap() && !store.end_trial_offer(nursery.id, &fig).await.unwrap());
        store.offer_trial(nursery.id, &fig, moment(5)).await.unwrap();
        store.leave_nursery(nursery.id, who.id).await.unwrap();
        assert_eq!(store.trial_offers(9).await.unwrap(), []);
    }

    async fn questions_are_counted_by_week_and_added_up_from_a_week_on(database) {
        let store = database.open().await;
        store.add_asked(10, &[asked("7a", "", 5), asked("7a", "celeste", 2)]).await.unwrap();
        store.add_asked(10, &[asked("7a", "", 1)]).await.unwrap();
        store.add_asked(12, &[asked("7a", "celeste", 9)]).await.unwrap();
        assert_eq!(store.asked_since(10, 10).await.unwrap(), [asked("7a", "celeste", 11), asked("7a", "", 6)]);
        assert_eq!(store.asked_since(11, 10).await.unwrap(), [asked("7a", "celeste", 9)]);
        assert_eq!(store.asked_since(10, 1).await.unwrap().len(), 1);
    }
}
