//! The contract of named sites in the store: every test runs on SQLite and on PostgreSQL.

use crate::support::members::{joined, moment};
use crate::support::on_both_engines;
use uuid::Uuid;
use winterfig::records::{KeptRecord, Member, NamedSite, Role, SiteId, SiteName};
use winterfig::store::{Leaving, Saving};

/// More than any test keeps.
const ROOM: i64 = 10;

fn site(member: &Member, name: &str, at: i64) -> NamedSite {
    NamedSite { id: SiteId(Uuid::now_v7()), member: member.id, name: SiteName::stored(name.to_owned()), made: moment(at) }
}

/// Every byte value, so that none is taken for the end of a text.
fn kept() -> KeptRecord {
    KeptRecord { packed: (0..=255).collect(), answers: vec![("units".to_owned(), "f".to_owned()), ("years".to_owned(), "2".to_owned())] }
}

on_both_engines! {
    async fn a_site_comes_back_as_it_was_kept_to_its_member_alone(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Administrator).await);
        let (first, second) = (site(&who, "by the mill", 1), site(&who, "by the sea", 2));
        for one in [&first, &second] {
            assert_eq!(store.save_site(one, &kept(), ROOM).await.unwrap(), Saving::Saved);
        }
        assert_eq!(store.site(first.id, who.id).await.unwrap(), Some((first.clone(), kept())));
        assert_eq!(store.site(first.id, other.id).await.unwrap(), None);
        assert_eq!(store.sites_of(who.id).await.unwrap(), [first, second]);
        assert_eq!(store.sites_of(other.id).await.unwrap(), []);
    }

    async fn a_name_is_used_once_by_a_member_and_freely_by_others(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        assert_eq!(store.save_site(&site(&who, "home", 1), &kept(), ROOM).await.unwrap(), Saving::Saved);
        assert_eq!(store.save_site(&site(&who, "home", 2), &kept(), ROOM).await.unwrap(), Saving::NameTaken);
        assert_eq!(store.save_site(&site(&other, "home", 3), &kept(), ROOM).await.unwrap(), Saving::Saved);
        assert_eq!(store.sites_of(who.id).await.unwrap().len(), 1);
    }

    async fn no_more_sites_are_kept_than_there_is_room_for_even_at_the_same_time(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let mut tasks = tokio::task::JoinSet::new();
        for nth in 0..6 {
            let (store, site) = (store.clone(), site(&who, &format!("site {nth}"), nth));
            tasks.spawn(async move { store.save_site(&site, &kept(), 2).await.unwrap() });
        }
        let answers = tasks.join_all().await;
        assert_eq!(answers.iter().filter(|a| **a == Saving::Saved).count(), 2);
        assert!(answers.iter().all(|a| matches!(a, Saving::Saved | Saving::Full)));
        assert_eq!(store.sites_of(who.id).await.unwrap().len(), 2);
    }

    async fn the_engine_itself_refuses_a_record_beyond_its_bound(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let of = |bytes: usize| KeptRecord { packed: vec![7; bytes], answers: vec![] };
        assert!(store.save_site(&site(&who, "large", 1), &of(KeptRecord::MOST_BYTES + 1), ROOM).await.is_err());
        assert_eq!(store.save_site(&site(&who, "largest", 1), &of(KeptRecord::MOST_BYTES), ROOM).await.unwrap(), Saving::Saved);
    }

    async fn a_site_is_deleted_by_its_member_alone(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        let kept_site = site(&who, "home", 1);
        store.save_site(&kept_site, &kept(), ROOM).await.unwrap();
        assert!(!store.delete_site(kept_site.id, other.id).await.unwrap());
        assert!(store.delete_site(kept_site.id, who.id).await.unwrap());
        assert!(!store.delete_site(kept_site.id, who.id).await.unwrap());
        assert_eq!(store.site(kept_site.id, who.id).await.unwrap(), None);
    }

    async fn the_sites_of_a_member_who_leaves_go_with_them_whatever_becomes_of_the_reports(database) {
        let store = database.open().await;
        for (handle, leaving) in [("grower one", Leaving::KeepRecords), ("grower two", Leaving::RemoveRecords)] {
            let who = joined(&*store, handle, Role::Member).await;
            let kept_site = site(&who, "home", 1);
            store.save_site(&kept_site, &kept(), ROOM).await.unwrap();
            store.forget_member(who.id, leaving, Uuid::nil(), moment(50)).await.unwrap();
            assert_eq!(store.site(kept_site.id, who.id).await.unwrap(), None);
            assert_eq!(store.sites_of(who.id).await.unwrap(), []);
        }
    }
}
