//! The queue by pages and groups, and deeds: every report once, in order, whatever stands before it.

use std::collections::BTreeSet;

use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{Actor, Decision, Flag, Flagged, LogEntry, OfficeAct, Reason, ReviewState, Role};
use winterfig::store::{Outcome, QueueFilter, Store, Submission, Submitted, Undone, Verdict};

use crate::support::members::{joined, member, moment, plant, record, submission, submitted};
use crate::support::on_both_engines;

fn everything(steward: winterfig::records::MemberId) -> QueueFilter {
    QueueFilter { steward, reporter: None, winter: None, flag: None, words: None, newest_first: false, after: None }
}

fn entry(steward: winterfig::records::MemberId) -> LogEntry {
    let (actor, act) = (Actor::Member(steward), OfficeAct::Judged);
    LogEntry { id: Uuid::now_v7(), at: moment(20), actor, act, about: None, detail: String::new() }
}

/// Every report of the queue, page by page.
async fn walked(store: &dyn Store, mut filter: QueueFilter, most: i64) -> Vec<winterfig::records::ReportId> {
    let mut all = Vec::new();
    loop {
        let page = store.queue(&filter, most).await.unwrap();
        let Some(last) = page.last() else { return all };
        filter.after = Some((last.sent, last.id));
        all.extend(page.iter().map(|report| report.id));
    }
}

on_both_engines! {
    async fn pages_of_the_queue_hold_every_report_once_in_order_and_filters_narrow_them(database) {
        let store = database.open().await;
        let steward = member("judge", Role::Steward).id;
        let mut sent = Vec::new();
        for nth in 0..4 {
            let who = joined(&*store, &format!("grower {nth}"), Role::Member).await;
            for second in 0..5 {
                let named = if second == 0 { "alma" } else { "celeste" };
                let flags = if second < 2 { vec![Flagged { flag: Flag::NameUnknown, detail: String::new() }] } else { Vec::new() };
                // Two of each share their moment.
                let at = moment(10 + second / 2);
                let one = Submission { flags, at, ..submission(&who, &format!("key {second}"), plant(who.id, named), record(-9.4, TopKilled::Tips)) };
                let Submitted::Fresh(id) = store.submit(&one).await.unwrap() else { panic!("not fresh") };
                sent.push((at, id, who.id));
            }
        }
        let oldest = walked(&*store, everything(steward), 3).await;
        let mut wanted: Vec<_> = sent.iter().map(|(at, id, _)| (*at, id.to_string(), *id)).collect();
        wanted.sort();
        assert_eq!(oldest, wanted.iter().map(|(_, _, id)| *id).collect::<Vec<_>>());
        let newest = walked(&*store, QueueFilter { newest_first: true, ..everything(steward) }, 7).await;
        assert_eq!(newest, oldest.iter().rev().copied().collect::<Vec<_>>());
        let of_one = QueueFilter { reporter: Some(sent[0].2), ..everything(steward) };
        assert_eq!(walked(&*store, of_one, 2).await.len(), 5);
        for (words, count) in [("ALMA", 4), ("grower 2", 5), ("e%e", 0), ("_", 0), ("celeste", 16)] {
            let filter = QueueFilter { words: Some(words.to_owned()), ..everything(steward) };
            assert_eq!(walked(&*store, filter, 50).await.len(), count, "{words}");
        }
        assert_eq!(walked(&*store, QueueFilter { flag: Some(Flag::NameUnknown), ..everything(steward) }, 50).await.len(), 8);
        assert_eq!(walked(&*store, QueueFilter { winter: Some("2024/25".parse().unwrap()), ..everything(steward) }, 50).await.len(), 0);
        assert_eq!(store.queue_flags(&everything(steward), 100).await.unwrap(), [(Flag::NameUnknown, 8)]);
        // A steward's own are in none of it.
        assert_eq!((store.queue_count(steward).await.unwrap(), store.queue_count(sent[0].2).await.unwrap()), (20, 15));
        let mut groups = Vec::new();
        let mut after = None;
        loop {
            let page = store.queue_groups(&everything(steward), true, after, 3).await.unwrap();
            let Some(last) = page.last() else { break };
            after = Some((last.oldest, last.reporter, last.winter));
            groups.extend(page);
        }
        assert_eq!(groups.iter().map(|group| group.reports).collect::<Vec<_>>(), [5, 5, 5, 5]);
        assert_eq!(groups.iter().map(|group| group.reporter).collect::<BTreeSet<_>>().len(), 4);
        // Groups obey the filter, the search and the order.
        let count = |filter: QueueFilter, by_winter| { let store = &store; async move {
            let found = store.queue_groups(&filter, by_winter, None, 50).await.unwrap();
            found.iter().map(|group| group.reports).collect::<Vec<_>>()
        } };
        assert_eq!(count(everything(steward), false).await, [5, 5, 5, 5]);
        assert_eq!(count(QueueFilter { words: Some("ALMA".to_owned()), ..everything(steward) }, true).await, [1, 1, 1, 1]);
        assert_eq!(count(QueueFilter { words: Some("grower 2".to_owned()), ..everything(steward) }, false).await, [5]);
        assert_eq!(count(QueueFilter { flag: Some(Flag::NameUnknown), ..everything(steward) }, false).await, [2, 2, 2, 2]);
        assert_eq!(count(QueueFilter { winter: Some("2024/25".parse().unwrap()), ..everything(steward) }, true).await, Vec::<i64>::new());
        let alma = QueueFilter { words: Some("alma".to_owned()), ..everything(steward) };
        assert_eq!(store.queue_flags(&alma, 100).await.unwrap(), [(Flag::NameUnknown, 4)]);
        let late = joined(&*store, "latecomer", Role::Member).await;
        let one = Submission { at: moment(99), ..submission(&late, "key", plant(late.id, "celeste"), record(-9.4, TopKilled::Tips)) };
        store.submit(&one).await.unwrap();
        let newest = QueueFilter { newest_first: true, ..everything(steward) };
        let mut walked = Vec::new();
        let mut after = None;
        loop {
            let page = store.queue_groups(&newest, false, after, 2).await.unwrap();
            let Some(last) = page.last() else { break };
            after = Some((last.newest, last.reporter, last.winter));
            walked.extend(page.iter().map(|group| group.reporter));
        }
        assert_eq!((walked.len(), walked[0]), (5, late.id));
    }

    async fn a_deed_keeps_what_it_can_and_taking_it_back_leaves_what_moved_on(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let mut reports = Vec::new();
        for _ in 0..3 {
            reports.push(submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await);
        }
        let verdict = |nth: usize, stood, state, reason| {
            let words = Some("as agreed".to_owned());
            let decision = Decision::new(&reports[nth], &steward, state, reason, words, moment(20)).unwrap();
            Verdict { report: reports[nth].id, stood: Some(stood), decision }
        };
        let taken = |nth| verdict(nth, ReviewState::Waiting, ReviewState::Accepted, Reason::Plausible);
        let (deed, other) = (Uuid::now_v7(), Uuid::now_v7());
        store.withdraw(reports[2].id, who.id, moment(15)).await.unwrap();
        assert_eq!(store.judge(deed, &[taken(0), taken(1), taken(2)], &entry(steward.id)).await.unwrap(), [Outcome::Kept, Outcome::Kept, Outcome::Moved]);
        assert_eq!(store.judge(other, &[taken(0)], &entry(steward.id)).await.unwrap(), [Outcome::Decided]);
        assert_eq!(store.deed(other).await.unwrap(), None);
        let doubted = verdict(1, ReviewState::Accepted, ReviewState::AcceptedWithDoubt, Reason::NameDoubtful);
        assert_eq!(store.judge(other, &[doubted], &entry(steward.id)).await.unwrap(), [Outcome::Kept]);
        assert_eq!(store.undo(deed, moment(30), &entry(steward.id)).await.unwrap(), Undone { back: 1, moved: 1 });
        let states = |ids: Vec<_>| async { let mut all = Vec::new(); for id in ids { all.push(store.report(id).await.unwrap().unwrap().state); } all };
        assert_eq!(states(reports.iter().map(|r| r.id).collect()).await, [ReviewState::Waiting, ReviewState::AcceptedWithDoubt, ReviewState::Withdrawn]);
        // What was done by hand is in the log, what came to nothing is not.
        assert_eq!(store.office_log(None, 50).await.unwrap().len(), 3);
        // What counted once and does so no longer is listed as withdrawn.
        assert_eq!(store.withdrawn_reports().await.unwrap(), [(reports[0].id, moment(30))]);
        // The later one back, then the earlier one.
        assert_eq!(store.undo(other, moment(40), &entry(steward.id)).await.unwrap(), Undone { back: 1, moved: 0 });
        assert_eq!(store.undo(deed, moment(50), &entry(steward.id)).await.unwrap(), Undone { back: 1, moved: 0 });
        assert_eq!(store.undo(deed, moment(60), &entry(steward.id)).await.unwrap(), Undone { back: 0, moved: 0 });
        assert_eq!(states(vec![reports[1].id]).await, [ReviewState::Waiting]);
        assert_eq!(store.decisions(reports[1].id).await.unwrap().iter().map(|d| d.undone).collect::<Vec<_>>(), [Some(moment(50)), Some(moment(40))]);
    }

    // Flags that should speak: two equal plants of one member in the same place, year and winter.
    async fn equal_plants_are_those_alike_in_owner_name_place_year_and_winter(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower", Role::Member).await, joined(&*store, "other", Role::Member).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        let again = plant(who.id, "celeste");
        let winter = report.record.winter;
        assert_eq!(store.equal_plants(&again, winter).await.unwrap(), [report.id]);
        assert!(store.equal_plants(&report.plant, winter).await.unwrap().is_empty(), "the plant itself");
        assert!(store.equal_plants(&again, "2024/25".parse().unwrap()).await.unwrap().is_empty());
        assert!(store.equal_plants(&plant(other.id, "celeste"), winter).await.unwrap().is_empty());
        let year = winterfig::records::Plant { planted: Some(2019), ..again.clone() };
        assert!(store.equal_plants(&year, winter).await.unwrap().is_empty());
    }
}
