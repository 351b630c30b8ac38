//! Nurseries and their stock: who belongs where, two who sell the last plant at once, what can be taken back, and what is left of a nursery
//! when its members leave.

use std::sync::Arc;

use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{MemberId, Nursery, NurseryCode, NurseryId, PlantForm, ReviewState, Role, StockAct, StockItem, StockLineId};
use winterfig::science::site::PotVolume;
use winterfig::store::{Leaving, NurseryJoined, StockConflict, StockDeed, StockStep, Store, Submission, Submitted};

use crate::support::members::{counting, decided, joined, moment, plant, record, submission};
use crate::support::on_both_engines;

const MOST: usize = 5;

fn nursery(name: &str) -> Nursery {
    let id = Uuid::now_v7();
    Nursery {
        id: NurseryId(id),
        code: NurseryCode::from_random(id),
        name: name.to_owned(),
        place: "zone=6b".to_owned(),
        label: String::new(),
        invitation_ends: None,
        made: moment(0),
    }
}

fn item(name: &str) -> StockItem {
    StockItem { name: name.to_owned(), form: PlantForm::Pot, pot: PotVolume::new(4.0).ok(), wood_years: None, price: None, note: None }
}

fn step(line: StockLineId, seen: Option<i64>, after: Option<(&str, i64)>) -> StockStep {
    StockStep { id: Uuid::now_v7(), line, seen, after: after.map(|(name, count)| (item(name), count)) }
}

fn deed(nursery: NurseryId, author: MemberId, act: StockAct, at: i64, steps: Vec<StockStep>) -> StockDeed {
    StockDeed { id: Uuid::now_v7(), nursery, author, act, at: moment(at), steps }
}

fn line() -> StockLineId {
    StockLineId(Uuid::now_v7())
}

/// Name and count of every line.
async fn stands(store: &dyn Store, nursery: NurseryId) -> Vec<(String, i64)> {
    store.stock(nursery).await.unwrap().into_iter().map(|line| (line.item.name, line.count)).collect()
}

on_both_engines! {
    async fn a_member_belongs_to_one_nursery_and_an_invitation_ends(database) {
        let store = database.open().await;
        let (ada, bea) = (joined(&*store, "ada grower", Role::Nursery).await, joined(&*store, "bea grower", Role::Member).await);
        let first = nursery("Weir Lane");
        assert!(store.start_nursery(&first, ada.id).await.unwrap());
        assert!(!store.start_nursery(&nursery("Another"), ada.id).await.unwrap());
        assert_eq!(store.nursery_of(ada.id).await.unwrap(), Some(first.clone()));
        assert_eq!(store.nursery_by_code(&first.code).await.unwrap(), Some(first.clone()));
        store.set_nursery_invitation(first.id, Some(("hash", moment(100)))).await.unwrap();
        assert_eq!(store.join_nursery(bea.id, "hash", moment(100)).await.unwrap(), NurseryJoined::NoInvitation);
        assert_eq!(store.join_nursery(bea.id, "other", moment(5)).await.unwrap(), NurseryJoined::NoInvitation);
        assert_eq!(store.join_nursery(bea.id, "hash", moment(5)).await.unwrap(), NurseryJoined::Yes);
        assert_eq!(store.join_nursery(bea.id, "hash", moment(6)).await.unwrap(), NurseryJoined::HasOne);
        let members = store.nursery_members(first.id).await.unwrap();
        assert_eq!(members.iter().map(|(member, _)| member.id).collect::<Vec<_>>(), [ada.id, bea.id]);
        store.set_nursery_invitation(first.id, None).await.unwrap();
        assert_eq!(store.nursery_of(bea.id).await.unwrap().unwrap().invitation_ends, None);
        let renamed = Nursery { name: "Weir Lane Figs".to_owned(), place: "zone=7a".to_owned(), ..first };
        store.set_nursery(&renamed).await.unwrap();
        assert_eq!(store.nursery_of(bea.id).await.unwrap(), Some(renamed));
    }

    async fn of_two_who_sell_the_last_plant_at_once_one_does(database) {
        let store = database.open().await;
        let ada = joined(&*store, "ada grower", Role::Nursery).await;
        let at = nursery("Weir Lane");
        store.start_nursery(&at, ada.id).await.unwrap();
        let one = line();
        let added = deed(at.id, ada.id, StockAct::Added, 1, vec![step(one, None, Some(("Celeste", 1)))]);
        assert_eq!(store.change_stock(&added, MOST).await.unwrap(), []);
        let sales = (0..2).map(|_| {
            let (store, sale) = (Arc::clone(&store), deed(at.id, ada.id, StockAct::Sold, 2, vec![step(one, Some(1), Some(("Celeste", 0)))]));
            tokio::spawn(async move { store.change_stock(&sale, MOST).await.unwrap() })
        });
        let mut against = Vec::new();
        for sale in sales.collect::<Vec<_>>() {
            against.extend(sale.await.unwrap());
        }
        assert_eq!(against, [(0, StockConflict::Moved)]);
        assert_eq!(stands(&*store, at.id).await, [("Celeste".to_owned(), 0)]);
        assert_eq!(store.stock_history(at.id, None, 10).await.unwrap().len(), 2);
    }

    async fn changes_in_one_go_are_all_made_or_none(database) {
        let store = database.open().await;
        let ada = joined(&*store, "ada grower", Role::Nursery).await;
        let at = nursery("Weir Lane");
        store.start_nursery(&at, ada.id).await.unwrap();
        let (one, two) = (line(), line());
        store.change_stock(&deed(at.id, ada.id, StockAct::Added, 1, vec![step(one, None, Some(("Celeste", 3)))]), MOST).await.unwrap();
        for (wrong, conflict) in [
            (step(line(), None, Some(("CELESTE", 1))), StockConflict::KindTaken),
            (step(one, Some(7), Some(("Celeste", 1))), StockConflict::Moved),
            (step(line(), Some(1), None), StockConflict::Gone),
        ] {
            let table = deed(at.id, ada.id, StockAct::Table, 2, vec![step(two, None, Some(("Alma", 1))), wrong]);
            assert_eq!(store.change_stock(&table, MOST).await.unwrap(), [(1, conflict)]);
        }
        let many = (0..MOST).map(|nth| step(line(), None, Some((["a", "b", "c", "d", "e"][nth], 1)))).collect();
        let full = store.change_stock(&deed(at.id, ada.id, StockAct::Table, 3, many), MOST).await.unwrap();
        assert_eq!(full, [(0, StockConflict::Full)]);
        assert_eq!(stands(&*store, at.id).await, [("Celeste".to_owned(), 3)]);
        assert_eq!(store.stock_history(at.id, None, 10).await.unwrap().len(), 1);
    }

    async fn what_was_done_is_taken_back_unless_the_line_moved_on_and_a_sale_in_any_case(database) {
        let store = database.open().await;
        let ada = joined(&*store, "ada grower", Role::Nursery).await;
        let at = nursery("Weir Lane");
        store.start_nursery(&at, ada.id).await.unwrap();
        let (one, two) = (line(), line());
        let table = deed(at.id, ada.id, StockAct::Table, 1, vec![step(one, None, Some(("Celeste", 3))), step(two, None, Some(("Alma", 2)))]);
        store.change_stock(&table, MOST).await.unwrap();
        let sale = deed(at.id, ada.id, StockAct::Sold, 2, vec![step(one, Some(1), Some(("Celeste", 2)))]);
        store.change_stock(&sale, MOST).await.unwrap();
        store.change_stock(&deed(at.id, ada.id, StockAct::Changed, 3, vec![step(one, Some(2), Some(("Celeste", 9)))]), MOST).await.unwrap();
        let undo = |at_s| deed(at.id, ada.id, StockAct::Undone, at_s, Vec::new());
        let undone = store.undo_stock(sale.id, &undo(4), &Uuid::now_v7).await.unwrap();
        assert_eq!((undone.back, undone.moved), (1, 0));
        assert_eq!(stands(&*store, at.id).await, [("Alma".to_owned(), 2), ("Celeste".to_owned(), 10)]);
        // A second time there is nothing to take back.
        let again = store.undo_stock(sale.id, &undo(5), &Uuid::now_v7).await.unwrap();
        assert_eq!((again.back, again.moved), (0, 0));
        // Of the table the line that was sold from stays, the other goes.
        let undone = store.undo_stock(table.id, &undo(6), &Uuid::now_v7).await.unwrap();
        assert_eq!((undone.back, undone.moved), (1, 1));
        assert_eq!(stands(&*store, at.id).await, [("Celeste".to_owned(), 10)]);
        // A line that was removed comes back as it was, and older pages do not fit it.
        let seen = store.stock_line(at.id, one).await.unwrap().unwrap().version;
        let removal = deed(at.id, ada.id, StockAct::Removed, 7, vec![step(one, Some(seen), None)]);
        store.change_stock(&removal, MOST).await.unwrap();
        assert!(stands(&*store, at.id).await.is_empty());
        store.undo_stock(removal.id, &undo(8), &Uuid::now_v7).await.unwrap();
        let back = store.stock_line(at.id, one).await.unwrap().unwrap();
        assert!(back.count == 10 && back.version > seen, "{back:?}");
        assert_eq!(store.stock_history(at.id, None, 100).await.unwrap().first().unwrap().author.as_deref(), Some("ada grower"));
        assert_eq!(store.stock_changes_of(ada.id).await.unwrap().len(), 8);
    }

    async fn a_nursery_outlives_members_who_leave_and_goes_with_the_last(database) {
        let store = database.open().await;
        let (ada, bea) = (joined(&*store, "ada grower", Role::Nursery).await, joined(&*store, "bea grower", Role::Member).await);
        let buyer = joined(&*store, "a buyer", Role::Member).await;
        let steward = joined(&*store, "judge", Role::Steward).await;
        let at = nursery("Weir Lane");
        store.start_nursery(&at, ada.id).await.unwrap();
        store.set_nursery_invitation(at.id, Some(("hash", moment(100)))).await.unwrap();
        store.join_nursery(bea.id, "hash", moment(5)).await.unwrap();
        let one = line();
        store.change_stock(&deed(at.id, ada.id, StockAct::Added, 1, vec![step(one, None, Some(("Celeste", 3)))]), MOST).await.unwrap();
        let sent = Submission { nursery: Some(at.id), ..submission(&buyer, "key", plant(buyer.id, "celeste"), record(-9.4, TopKilled::Tips)) };
        let Submitted::Fresh(report) = store.submit(&sent).await.unwrap() else { panic!("not fresh") };
        assert!(store.returned_reports(at.id, 10).await.unwrap().is_empty(), "nobody has judged it");
        decided(&*store, &store.report(report).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;
        let returned = store.returned_reports(at.id, 10).await.unwrap();
        assert_eq!((returned.len(), returned[0].cultivar.as_ref().unwrap().as_str()), (1, "celeste"));
        // Who is erased takes their name along and nothing of what others share.
        store.forget_member(ada.id, Leaving::RemoveRecords, Uuid::from_u128(7), moment(50)).await.unwrap();
        assert_eq!(store.nursery_members(at.id).await.unwrap().len(), 1);
        assert_eq!(store.stock_history(at.id, None, 10).await.unwrap()[0].author, None);
        assert_eq!(stands(&*store, at.id).await, [("Celeste".to_owned(), 3)]);
        // A buyer who leaves and lets the records stay is still counted, as nobody.
        store.forget_member(buyer.id, Leaving::KeepRecords, Uuid::from_u128(8), moment(51)).await.unwrap();
        assert_eq!(store.returned_reports(at.id, 10).await.unwrap()[0].reporter, None);
        // The last one closes it; the report stays.
        assert!(store.leave_nursery(at.id, bea.id).await.unwrap());
        assert!(!store.leave_nursery(at.id, bea.id).await.unwrap());
        assert_eq!(store.nursery_by_code(&at.code).await.unwrap(), None);
        assert!(store.stock(at.id).await.unwrap().is_empty() && store.stock_history(at.id, None, 10).await.unwrap().is_empty());
        assert_eq!(counting(&*store).await.len(), 1);
        // So does an erasure of the last.
        let second = nursery("Mill Lane");
        store.start_nursery(&second, bea.id).await.unwrap();
        store.forget_member(bea.id, Leaving::KeepRecords, Uuid::from_u128(9), moment(52)).await.unwrap();
        assert_eq!(store.nursery_by_code(&second.code).await.unwrap(), None);
    }
}
