//! The register of what counts, kept up from changes alone, against one that is read anew.

use std::sync::Arc;

use crate::support::members::{decided, joined, moment, plant, record, submission, submitted};
use crate::support::on_both_engines;
use uuid::Uuid;
use winterfig::model::registers::Registers;
use winterfig::records::place::Publish;
use winterfig::records::words::TopKilled;
use winterfig::records::{AcceptedReport, Place, Plant, PublishedPlace, Register, Report, ReviewState, Role, WinterRecord};
use winterfig::store::{Amendment, Leaving, PlantChange, Store};

/// What a register says, but for the numbers that it gives plants and reporters.
fn said(register: &Register) -> Vec<(Uuid, PublishedPlace, Option<AcceptedReport>)> {
    let told = |row: &winterfig::records::register::Row| {
        let evidence = row.evidence(register).map(|evidence| AcceptedReport { reporter: None, ..evidence });
        (row.id.0, row.place(), evidence)
    };
    register.rows().map(told).collect()
}

/// The register that was kept up says what one read anew says; gives how many reports count.
async fn agree(kept: &Registers, store: &Arc<dyn Store>) -> usize {
    let (kept, anew) = (kept.newest(store).await.unwrap(), Registers::default().newest(store).await.unwrap());
    assert_eq!((said(&kept), kept.version()), (said(&anew), anew.version()));
    kept.len()
}

async fn again(store: &Arc<dyn Store>, report: &Report) -> Report {
    store.report(report.id).await.unwrap().unwrap()
}

on_both_engines! {
    async fn a_register_kept_up_from_changes_says_what_one_read_anew_says(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        let steward = joined(&*store, "judge", Role::Steward).await;
        let kept = Registers::default();
        assert_eq!(agree(&kept, &store).await, 0);
        let mut sent = Vec::new();
        for (n, cultivar) in ["celeste", "celeste", "alma", "celeste"].into_iter().enumerate() {
            let report = submitted(&*store, if n == 3 { &other } else { &who }, cultivar, record(-9.0 - n as f64, TopKilled::Tips)).await;
            assert_eq!(agree(&kept, &store).await, n, "what waits does not count");
            decided(&*store, &report, &steward, ReviewState::Accepted).await;
            assert_eq!(agree(&kept, &store).await, n + 1);
            sent.push(report);
        }
        // Judged otherwise, changed, judged again, withdrawn.
        decided(&*store, &sent[0], &steward, ReviewState::AcceptedWithDoubt).await;
        assert_eq!(agree(&kept, &store).await, 4);
        decided(&*store, &sent[0], &steward, ReviewState::CannotTell).await;
        assert_eq!(agree(&kept, &store).await, 3);
        decided(&*store, &sent[0], &steward, ReviewState::Accepted).await;
        let amended = Amendment {
            report: sent[1].id,
            member: who.id,
            from_version: 1,
            record: WinterRecord { wood_years: None, ..record(-17.0, TopKilled::ToGround) },
            flags: Vec::new(),
            why: String::new(),
            at: moment(30),
        };
        assert!(store.amend(&amended).await.unwrap());
        assert_eq!(agree(&kept, &store).await, 3);
        decided(&*store, &again(&store, &sent[1]).await, &steward, ReviewState::Accepted).await;
        assert!(store.withdraw(sent[2].id, who.id, moment(31)).await.unwrap());
        assert_eq!(agree(&kept, &store).await, 3);
        // A plant's place and age are in the rows of its reports.
        let stands = sent[1].plant.clone();
        let place = Place { publish: Publish::Coarse, ..stands.place.clone() };
        let becomes = Plant { planted: Some(2001), place, ..stands.clone() };
        let change = PlantChange { stands, becomes, said: Vec::new(), reports: Vec::new(), at: moment(32) };
        assert!(store.change_plant(&change).await.unwrap());
        assert_eq!(agree(&kept, &store).await, 3);
        // Who leaves takes the old ids along, with the records or without.
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::from_u128(7), moment(33)).await.unwrap();
        assert_eq!(agree(&kept, &store).await, 3);
        store.forget_member(other.id, Leaving::RemoveRecords, Uuid::from_u128(8), moment(34)).await.unwrap();
        assert_eq!(agree(&kept, &store).await, 2);
    }

    async fn reports_are_found_by_their_ids_however_many(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let all: Vec<_> = (0..3).map(|n| submission(&who, &format!("key {n}"), plant(who.id, "celeste"), record(-9.0, TopKilled::Tips))).collect();
        store.submit_all(&all).await.unwrap();
        let mut asked: Vec<_> = all.iter().map(|sent| sent.report).collect();
        asked.extend((0..1_200).map(|n| winterfig::records::ReportId(Uuid::from_u128(n))));
        let mut found: Vec<_> = store.reports_by_ids(&asked).await.unwrap().into_iter().map(|report| report.id).collect();
        found.sort();
        asked.truncate(3);
        asked.sort();
        assert_eq!(found, asked);
        assert_eq!(store.members_by_ids(&[who.id, winterfig::records::MemberId(Uuid::nil())]).await.unwrap(), [who]);
        assert!(store.reports_by_ids(&[]).await.unwrap().is_empty());
    }
}
