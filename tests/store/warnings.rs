//! The contract of warnings and of kept forecasts: every test runs on SQLite and on PostgreSQL.

use crate::support::members::{decided, joined, moment, record, submitted};
use crate::support::on_both_engines;
use jiff::civil::date;
use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{
    ForecastDocument, ForecastSource, HeldPoint, Letter, LetterKind, Member, MemberId, QuietHours, ReviewState, Role, Warning,
    WarningChoice, WarningKind, WarningMeasure,
};
use winterfig::store::{Erasure, Leaving, Store};

fn choice() -> WarningChoice {
    WarningChoice {
        measure: WarningMeasure::Wood,
        threshold: 0.1,
        quiet: Some(QuietHours { from: 22, until: 7 }),
        paused_until: None,
        first_freeze: true,
        morning: false,
        stage: None,
        left_out: Vec::new(),
    }
}

fn warning(member: MemberId, kind: WarningKind, at: i64) -> Warning {
    Warning {
        id: Uuid::now_v7(),
        member,
        made: moment(at),
        night: date(2026, 11, 3),
        kind,
        about: "2026-11-03".to_owned(),
        harm: 0.25,
        minimum_c: -6.0,
        subject: "A cold night for your figs".to_owned(),
        words: "−6 °C".to_owned(),
        path: "/cold-night?minimum=-6".to_owned(),
    }
}

fn letter(member: MemberId, at: i64) -> Letter {
    Letter {
        id: Uuid::now_v7(),
        member,
        kind: LetterKind::Warnings,
        subject: "A cold night for your figs".to_owned(),
        words: "−6 °C".to_owned(),
        due: moment(at),
        ends: moment(at + 40_000),
    }
}

/// A grower with one plant at 44.17, −12.23 who wishes to be warned.
async fn grower(store: &dyn Store, handle: &str) -> Member {
    let grower = joined(store, handle, Role::Member).await;
    submitted(store, &grower, "celeste", record(-9.4, TopKilled::Tips)).await;
    store.choose_warnings(grower.id, &choice(), moment(1)).await.unwrap();
    grower
}

on_both_engines! {
    async fn a_choice_comes_back_as_it_was_made_and_an_others_plant_is_left_aside(database) {
        let store = database.open().await;
        let (one, other) = (grower(&*store, "grower one").await, grower(&*store, "grower two").await);
        let [mine, theirs] = [one.id, other.id].map(|id| { let store = &store; async move { store.plants_of(id).await.unwrap()[0].id } });
        let (mine, theirs) = (mine.await, theirs.await);
        assert_eq!(store.warning_choice(one.id).await.unwrap(), Some(choice()));
        let changed = WarningChoice {
            measure: WarningMeasure::Minutes, threshold: 45.0, quiet: None, paused_until: Some(moment(9)), first_freeze: false, morning: true,
            stage: Some(winterfig::science::cold_night::stage::Stage::InLeaf), left_out: vec![mine, theirs],
        };
        store.choose_warnings(one.id, &changed, moment(2)).await.unwrap();
        assert_eq!(store.warning_choice(one.id).await.unwrap(), Some(WarningChoice { left_out: vec![mine], ..changed }));
        store.stop_warnings(one.id).await.unwrap();
        assert_eq!(store.warning_choice(one.id).await.unwrap(), None);
    }

    async fn whom_to_warn_is_found_by_longitude_in_pages_and_not_where_they_pause_or_leave_all_out(database) {
        let store = database.open().await;
        let mut all = Vec::new();
        for name in ["grower one", "grower two", "grower three"] {
            all.push(grower(&*store, name).await.id);
        }
        all.sort();
        let found = async |bounds, now, after, most| store.members_to_warn(bounds, moment(now), after, most).await.unwrap();
        assert_eq!(found((-1300, -1200), 5, None, 10).await, all);
        assert_eq!(found((-1300, -1200), 5, None, 2).await, all[..2]);
        assert_eq!(found((-1300, -1200), 5, Some(all[1]), 2).await, all[2..]);
        assert!(found((-1222, -1200), 5, None, 10).await.is_empty() && found((-1300, -1223), 5, None, 10).await.is_empty());
        store.choose_warnings(all[0], &WarningChoice { paused_until: Some(moment(100)), ..choice() }, moment(2)).await.unwrap();
        let plants: Vec<_> = store.plants_of(all[1]).await.unwrap().iter().map(|plant| plant.id).collect();
        store.choose_warnings(all[1], &WarningChoice { left_out: plants, ..choice() }, moment(2)).await.unwrap();
        assert_eq!(found((-1300, -1200), 99, None, 10).await, all[2..]);
        assert_eq!(found((-1300, -1200), 100, None, 10).await, [all[0], all[2]]);
    }

    async fn a_night_is_told_once_with_its_letter_or_not_at_all(database) {
        let store = database.open().await;
        let grower = grower(&*store, "grower one").await;
        store.wish_for_letters(grower.id, &[LetterKind::Warnings], "stop", moment(0)).await.unwrap();
        let told = warning(grower.id, WarningKind::Tonight, 5);
        assert!(store.keep_warning(&told, Some(&letter(grower.id, 5))).await.unwrap());
        assert!(!store.keep_warning(&warning(grower.id, WarningKind::Tonight, 6), Some(&letter(grower.id, 6))).await.unwrap());
        assert!(store.keep_warning(&warning(grower.id, WarningKind::Worse, 7), None).await.unwrap());
        let all = store.warnings_of(grower.id, moment(0)).await.unwrap();
        assert_eq!(all[0], told);
        assert_eq!(all.iter().map(|w| w.kind).collect::<Vec<_>>(), [WarningKind::Tonight, WarningKind::Worse]);
        assert_eq!(store.warnings_of(grower.id, moment(5)).await.unwrap().len(), 1);
        assert!(store.take_letter(moment(10), moment(20)).await.unwrap().is_some());
        assert!(store.take_letter(moment(10), moment(20)).await.unwrap().is_none(), "one letter, not two");
        // The first freeze is told once for its season, whichever night it moves to.
        let first = |night| Warning { night, about: "2026".to_owned(), ..warning(grower.id, WarningKind::FirstFreeze, 8) };
        assert!(store.keep_warning(&first(date(2026, 11, 5)), None).await.unwrap());
        assert!(!store.keep_warning(&first(date(2026, 11, 6)), None).await.unwrap());
        store.stop_warnings(grower.id).await.unwrap();
        let other_night = Warning { night: date(2026, 11, 9), about: "2026-11-09".to_owned(), ..warning(grower.id, WarningKind::Tonight, 9) };
        assert!(!store.keep_warning(&other_night, Some(&letter(grower.id, 9))).await.unwrap(), "who stopped is told nothing");
        store.forget_warnings(moment(6)).await.unwrap();
        assert_eq!(store.warnings_of(grower.id, moment(0)).await.unwrap().len(), 2);
    }

    async fn a_round_belongs_to_one_process_until_it_is_done_or_who_took_it_died(database) {
        let store = database.open().await;
        let take = async |now, until| store.take_warning_round(moment(0), moment(now), moment(until)).await.unwrap();
        assert!(take(0, 600).await);
        assert!(!take(1, 601).await, "another has it");
        assert!(take(600, 1200).await, "who had it was not heard of any more");
        store.hold_warning_round(moment(0), moment(2000)).await.unwrap();
        assert!(!take(1300, 1900).await, "a sign of life was given");
        store.end_warning_round(moment(0), moment(700), moment(-10)).await.unwrap();
        store.hold_warning_round(moment(0), moment(-10)).await.unwrap();
        assert!(!take(5000, 5600).await, "it is done, and no late sign of life opens it");
        assert!(store.take_warning_round(moment(-20), moment(0), moment(600)).await.unwrap());
        assert!(store.take_warning_round(moment(-20), moment(-90_000), moment(-89_400)).await.unwrap(), "taken by a clock that was a day ahead");
        store.end_warning_round(moment(0), moment(700), moment(-10)).await.unwrap();
        assert!(store.take_warning_round(moment(-20), moment(1), moment(2)).await.unwrap(), "old rounds are forgotten");
    }

    async fn a_forecast_is_kept_by_source_and_place(database) {
        let store = database.open().await;
        let place = HeldPoint::new(44.17, -12.23).unwrap();
        let document = ForecastDocument {
            source: ForecastSource::MetNorway, place, link: None, fetched: moment(0), ask_after: moment(1800),
            modified: Some("Sat, 28 Nov 2026 23:00:00 GMT".to_owned()), failures: 0, trouble: None, bytes: Some(vec![1, 2, 3]),
        };
        store.keep_forecast_document(&document).await.unwrap();
        let kept = async |source| store.forecast_document(source, place).await.unwrap();
        assert_eq!(kept(ForecastSource::MetNorway).await, Some(document.clone()));
        assert_eq!(kept(ForecastSource::NationalWeatherService).await, None);
        let failed = ForecastDocument { failures: 2, trouble: Some("it answered 500".to_owned()), bytes: None, ..document };
        store.keep_forecast_document(&failed).await.unwrap();
        assert_eq!(kept(ForecastSource::MetNorway).await, Some(failed));
        store.forget_forecasts(moment(1)).await.unwrap();
        assert_eq!(kept(ForecastSource::MetNorway).await, None);
    }

    async fn warnings_go_with_their_member(database) {
        let store = database.open().await;
        let (grower, judge) = (grower(&*store, "grower one").await, joined(&*store, "judge", Role::Steward).await);
        let report = store.reports_of(grower.id).await.unwrap().remove(0);
        decided(&*store, &report, &judge, ReviewState::Accepted).await;
        let plants: Vec<_> = store.plants_of(grower.id).await.unwrap().iter().map(|plant| plant.id).collect();
        store.choose_warnings(grower.id, &WarningChoice { left_out: plants, ..choice() }, moment(2)).await.unwrap();
        assert!(store.keep_warning(&warning(grower.id, WarningKind::Tonight, 5), None).await.unwrap());
        assert_eq!(store.forget_member(grower.id, Leaving::KeepRecords, Uuid::from_u128(7), moment(50)).await.unwrap(), Erasure::Done);
        assert_eq!(store.warning_choice(grower.id).await.unwrap(), None);
        assert!(store.warnings_of(grower.id, moment(-1)).await.unwrap().is_empty());
    }
}
