//! The contract of members, plants and reports in the store: every test runs on SQLite and on PostgreSQL.

use crate::support::members::{counting, decided, evidence, joined, member, moment, plant, record, submission, submitted};
use crate::support::on_both_engines;
use uuid::Uuid;
use winterfig::catalogue::Slug;
use winterfig::model::registers::Registers;
use winterfig::records::words::{Credit, TopKilled};
use winterfig::records::{Decision, Member, Plant, Reason, ReviewState, Role, WinterRecord};
use winterfig::store::{Amendment, ApiToken, EarlierPlant, Leaving, LinkPurpose, MailLink, PlantChange, Session, Submitted};
use winterfig::units::Celsius;

fn changed(stands: &Plant, becomes: &Plant, second: i64) -> PlantChange {
    let said = vec![("name".to_owned(), stands.name_written.clone())];
    PlantChange { stands: stands.clone(), becomes: becomes.clone(), said, reports: Vec::new(), at: moment(second) }
}

on_both_engines! {
    async fn a_handle_is_given_once_however_it_is_spelt(database) {
        let store = database.open().await;
        let first = joined(&*store, "Fig Grower", Role::Member).await;
        assert!(!store.join(&member("fig-gröwer", Role::Member), "hash").await.unwrap());
        let (found, hash) = store.sign_in_facts("fig grower").await.unwrap().unwrap();
        assert_eq!((found, hash.as_str()), (first, "hash"));
        assert_eq!(store.sign_in_facts("nobody").await.unwrap(), None);
    }

    async fn a_session_lives_until_it_is_ended_or_the_passphrase_changes(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let session = |hash: &str| Session {
            token_hash: hash.to_owned(), member: who.id, started: moment(0), seen: moment(0), ends: moment(100), device: "test".to_owned(),
        };
        for hash in ["a", "b", "c"] {
            store.open_session(&session(hash)).await.unwrap();
        }
        store.touch_session("a", moment(50)).await.unwrap();
        assert_eq!(store.session("a").await.unwrap().unwrap().0.seen, moment(50));
        store.end_session(who.id, "b").await.unwrap();
        assert_eq!(store.session("b").await.unwrap(), None);
        store.set_passphrase(who.id, "new hash", Some("a")).await.unwrap();
        assert_eq!(store.sessions_of(who.id).await.unwrap().len(), 1);
        store.drop_sessions_over(moment(100)).await.unwrap();
        assert_eq!(store.session("a").await.unwrap(), None);
    }

    async fn the_first_code_makes_one_administrator_once(database) {
        let store = database.open().await;
        let (one, two) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        store.offer_first_code("code", moment(0)).await.unwrap();
        assert!(!store.redeem_first_code("other", one.id).await.unwrap());
        assert!(store.redeem_first_code("code", one.id).await.unwrap());
        assert!(!store.redeem_first_code("code", two.id).await.unwrap());
        store.offer_first_code("again", moment(1)).await.unwrap();
        assert!(!store.redeem_first_code("again", two.id).await.unwrap());
        assert_eq!(store.member(one.id).await.unwrap().unwrap().role, Role::Administrator);
    }

    async fn a_token_works_until_it_is_ended(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let token = ApiToken { id: "t1".to_owned(), member: who.id, name: "logger".to_owned(), scope: "report".to_owned(), made: moment(1) };
        assert!(store.make_token(&token, "hash", 3).await.unwrap());
        assert_eq!(store.token("hash").await.unwrap().unwrap(), (token.clone(), who.clone()));
        store.end_token(who.id, "t1").await.unwrap();
        assert_eq!(store.token("hash").await.unwrap(), None);
    }

    async fn a_report_comes_back_as_it_was_sent(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let sent = submission(&who, "key", plant(who.id, "celeste"), record(-9.4, TopKilled::Tips));
        assert_eq!(store.submit(&sent).await.unwrap(), Submitted::Fresh(sent.report));
        let kept = store.report(sent.report).await.unwrap().unwrap();
        assert_eq!((kept.plant, kept.record, kept.version, kept.state), (sent.plant.clone(), sent.record.clone(), 1, ReviewState::Waiting));
        assert_eq!(store.plants_of(who.id).await.unwrap(), [sent.plant]);
        assert_eq!(store.versions(sent.report).await.unwrap().len(), 1);
        assert_eq!(store.waiting_count().await.unwrap(), 1);
    }

    // DUR-10: the same key twice, also at once: one record, the same answer.
    async fn the_same_key_is_taken_once_even_at_the_same_time(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let mut tasks = tokio::task::JoinSet::new();
        let garden = plant(who.id, "celeste");
        for _ in 0..8 {
            let mut sent = submission(&who, "key", garden.clone(), record(-9.4, TopKilled::Tips));
            sent.plant.id = winterfig::records::PlantId(Uuid::now_v7());
            let store = store.clone();
            tasks.spawn(async move { store.submit(&sent).await.unwrap() });
        }
        let answers = tasks.join_all().await;
        let fresh: Vec<_> = answers.iter().filter(|a| matches!(a, Submitted::Fresh(_))).collect();
        assert_eq!(fresh.len(), 1);
        let Submitted::Fresh(id) = fresh[0] else { panic!() };
        assert!(answers.iter().all(|a| matches!(a, Submitted::Fresh(x) | Submitted::Repeat(x) if x == id)));
        assert_eq!(store.reports_of(who.id).await.unwrap().len(), 1);
        let other = submission(&who, "key", plant(who.id, "alma"), record(-3.0, TopKilled::None));
        assert_eq!(store.submit(&other).await.unwrap(), Submitted::KeyInUse);
        assert_eq!(store.plants_of(who.id).await.unwrap().len(), 1);
    }

    // DUR-10: two edits from one version: the second is refused and nothing is overwritten.
    async fn of_two_changes_from_one_version_the_second_is_refused(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        let change = |top| Amendment {
            report: report.id, member: who.id, from_version: 1, record: record(-9.4, top), flags: vec![], why: "looked again".to_owned(), at: moment(30),
        };
        assert!(store.amend(&change(TopKilled::UpToThird)).await.unwrap());
        assert!(!store.amend(&change(TopKilled::None)).await.unwrap());
        let kept = store.report(report.id).await.unwrap().unwrap();
        assert_eq!((kept.version, kept.record.top), (2, TopKilled::UpToThird));
        let versions = store.versions(report.id).await.unwrap();
        assert_eq!(versions.iter().map(|v| v.record.top).collect::<Vec<_>>(), [TopKilled::Tips, TopKilled::UpToThird]);
    }

    // DUR-10, of plants: also when both changes are made at once.
    async fn of_two_changes_of_a_plant_from_one_state_one_is_kept_and_what_was_said_before_too(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let stands = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await.plant;
        let becomes = |year| Plant { planted: Some(year), ..stands.clone() };
        let (first, second) = (becomes(2011), becomes(2012));
        let (to_first, to_second) = (changed(&stands, &first, 30), changed(&stands, &second, 31));
        let both = tokio::join!(store.change_plant(&to_first), store.change_plant(&to_second));
        let (one, two) = (both.0.unwrap(), both.1.unwrap());
        assert!(one != two, "one of them, not {one} and {two}");
        let kept = store.plant(stands.id).await.unwrap().unwrap();
        assert_eq!(kept, if one { first } else { second });
        let earlier = store.earlier_of_plant(stands.id).await.unwrap();
        assert_eq!(earlier, [EarlierPlant { answers: vec![("name".to_owned(), "celeste".to_owned())], until: moment(if one { 30 } else { 31 }) }]);
        assert!(store.change_plant(&changed(&kept, &becomes(2013), 40)).await.unwrap());
        assert_eq!(store.earlier_of_plant(stands.id).await.unwrap().len(), 2);
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(store.earlier_of_plant(stands.id).await.unwrap(), []);
    }

    async fn nobody_changes_or_withdraws_the_report_of_another(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        assert!(!store.withdraw(report.id, other.id, moment(30)).await.unwrap());
        let taken = Plant { owner: Some(other.id), ..report.plant.clone() };
        assert!(!store.change_plant(&changed(&report.plant, &taken, 30)).await.unwrap());
        assert_eq!(store.plant(report.plant.id).await.unwrap().unwrap(), report.plant);
        assert_eq!(store.report(report.id).await.unwrap().unwrap().state, ReviewState::Waiting);
    }

    async fn only_accepted_reports_count_and_every_change_of_them_is_counted(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        assert_eq!((store.reports_version().await.unwrap(), evidence(&*store).await.0.len()), (0, 0));
        decided(&*store, &report, &steward, ReviewState::Accepted).await;
        assert_eq!(store.reports_version().await.unwrap(), 1);
        let told = evidence(&*store).await.0;
        assert_eq!((told.len(), told[0].coldest.degrees(), told[0].years), (1, -9.4, Some(7)));
        assert!(store.withdraw(report.id, who.id, moment(30)).await.unwrap());
        assert_eq!((store.reports_version().await.unwrap(), evidence(&*store).await.0.len()), (2, 0));
        assert_eq!(store.withdrawn_reports().await.unwrap(), [(report.id, moment(30))]);
        assert_eq!(store.decisions(report.id).await.unwrap().len(), 1);
    }

    async fn a_decision_on_an_older_version_is_refused(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        let change = Amendment {
            report: report.id, member: who.id, from_version: 1, record: record(-9.0, TopKilled::None), flags: vec![], why: String::new(), at: moment(30),
        };
        assert!(store.amend(&change).await.unwrap());
        let decision = winterfig::records::Decision::new(
            &report, &steward, ReviewState::Accepted, winterfig::records::Reason::Plausible, None, moment(31)).unwrap();
        assert!(!store.decide(report.id, &decision).await.unwrap());
    }

    async fn reports_are_read_one_part_after_the_other_whatever_their_state(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let mut sent = Vec::new();
        for state in [None, Some(ReviewState::Accepted), Some(ReviewState::Rejected)] {
            let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
            if let Some(state) = state {
                decided(&*store, &report, &steward, state).await;
            }
            sent.push(report.id);
        }
        sent.sort();
        let ids = async |after, most| store.reports_after(after, most).await.unwrap().iter().map(|report| report.id).collect::<Vec<_>>();
        assert_eq!(ids(None, 2).await, sent[..2]);
        assert_eq!(ids(Some(sent[1]), 2).await, sent[2..]);
        assert_eq!(ids(Some(sent[2]), 2).await, []);
    }

    async fn the_reports_nearest_in_cold_come_first_whenever_they_were_sent_and_the_coldest_is_told(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let mut sent = Vec::new();
        for (cultivar, coldest) in [("celeste", -4.0), ("celeste", -18.0), ("alma", -11.0), ("celeste", -9.0), ("celeste", -12.5), ("celeste", -11.0)] {
            let report = submitted(&*store, &who, cultivar, record(coldest, TopKilled::Tips)).await;
            decided(&*store, &report, &steward, ReviewState::Accepted).await;
            sent.push(report.id);
        }
        let waiting = submitted(&*store, &who, "celeste", record(-30.0, TopKilled::Tips)).await;
        let register = Registers::default().newest(&store).await.unwrap();
        let (celeste, kadota) = (Slug::new("celeste").unwrap(), Slug::new("kadota").unwrap());
        assert_eq!(register.nearest(&celeste, Celsius::new(-11.0).ok(), sent[5], 2), [sent[4], sent[3]]);
        assert_eq!(register.nearest(&celeste, None, sent[5], 9).len(), 4);
        let coldest = |slug, but| register.coldest_of(slug, but).map(Celsius::degrees);
        assert_eq!(coldest(&celeste, waiting.id), Some(-18.0));
        assert_eq!(coldest(&celeste, sent[1]), Some(-12.5));
        assert_eq!(coldest(&kadota, waiting.id), None);
    }

    // PRV-02: what is left of a member who goes and lets the records stay cannot be joined to them.
    async fn a_member_who_leaves_and_lets_records_stay_is_not_to_be_found_in_them(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        let waiting = submitted(&*store, &who, "alma", record(-9.4, TopKilled::Tips)).await;
        decided(&*store, &report, &steward, ReviewState::CannotTell).await;
        let answer = Amendment {
            report: report.id,
            member: who.id,
            from_version: 1,
            record: report.record.clone(),
            flags: Vec::new(),
            why: "ask at the mill".to_owned(),
            at: moment(30),
        };
        assert!(store.amend(&answer).await.unwrap());
        decided(&*store, &store.report(report.id).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(store.member(who.id).await.unwrap(), None);
        let kept = counting(&*store).await.remove(0);
        assert!(store.versions(kept.id).await.unwrap().iter().all(|v| v.why.is_empty()));
        assert!(store.decisions(kept.id).await.unwrap().iter().all(|d| d.words.is_none()));
        assert_eq!((kept.reporter, kept.plant.owner, kept.plant.place.words, kept.record.note), (None, None, None, None));
        assert_eq!(kept.plant.place.point.unwrap().cell(), report.plant.place.point.unwrap().cell());
        assert_eq!(kept.plant.place.point.unwrap().hundredths(), (4415, -1225));
        assert!(store.versions(kept.id).await.unwrap().iter().all(|v| v.record.note.is_none()));
        assert_eq!((store.report(waiting.id).await.unwrap(), store.waiting_count().await.unwrap()), (None, 0));
        assert_eq!(evidence(&*store).await.0.len(), 1);
    }

    async fn a_member_who_leaves_and_takes_the_records_along_leaves_nothing_but_their_ids(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        decided(&*store, &report, &steward, ReviewState::Accepted).await;
        store.forget_member(who.id, Leaving::RemoveRecords, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(store.report(report.id).await.unwrap(), None);
        assert_eq!(store.plant(report.plant.id).await.unwrap(), None);
        assert_eq!(store.withdrawn_reports().await.unwrap(), [(report.id, moment(50))]);
    }

    async fn a_link_confirms_an_address_or_sets_a_passphrase_once_and_in_its_time(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let link = |secret: &str, purpose| MailLink {
            secret_hash: secret.to_owned(), member: who.id, purpose, email: "One@example.org".to_owned(), ends: moment(100),
        };
        store.set_mail_address(who.id, Some("One@example.org")).await.unwrap();
        store.keep_link(&link("a", LinkPurpose::Confirm)).await.unwrap();
        store.keep_link(&link("b", LinkPurpose::Confirm)).await.unwrap();
        assert!(!store.confirm_address("a", moment(1)).await.unwrap(), "a newer link ends the older");
        assert!(!store.confirm_address("b", moment(100)).await.unwrap(), "too late");
        assert!(store.members_at("one@EXAMPLE.org").await.unwrap().is_empty());
        assert!(store.confirm_address("b", moment(99)).await.unwrap());
        assert!(!store.confirm_address("b", moment(99)).await.unwrap(), "used");
        assert_eq!(store.mail_address(who.id).await.unwrap().unwrap().confirmed, Some(moment(99)));
        assert_eq!(store.members_at("one@EXAMPLE.org").await.unwrap().len(), 1);
        store.keep_link(&link("c", LinkPurpose::Reset)).await.unwrap();
        assert!(!store.confirm_address("c", moment(1)).await.unwrap(), "for another purpose");
        assert_eq!(store.link("c", LinkPurpose::Reset, moment(1)).await.unwrap(), Some(who.id));
        assert_eq!(store.reset_passphrase("c", "new hash", moment(1)).await.unwrap(), Some(who.id));
        assert_eq!(store.reset_passphrase("c", "newer hash", moment(1)).await.unwrap(), None);
        assert_eq!(store.sign_in_facts("grower one").await.unwrap().unwrap().1, "new hash");
        store.keep_link(&link("d", LinkPurpose::Confirm)).await.unwrap();
        store.set_mail_address(who.id, Some("two@example.org")).await.unwrap();
        assert!(!store.confirm_address("d", moment(1)).await.unwrap(), "sent to the address before");
        assert_eq!(store.mail_address(who.id).await.unwrap().unwrap().confirmed, None);
        store.keep_link(&link("e", LinkPurpose::Reset)).await.unwrap();
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::nil(), moment(2)).await.unwrap();
        assert_eq!(store.link("e", LinkPurpose::Reset, moment(3)).await.unwrap(), None);
    }

    async fn a_steward_who_leaves_leaves_their_decisions_without_a_name(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        decided(&*store, &report, &steward, ReviewState::Accepted).await;
        store.forget_member(steward.id, Leaving::KeepRecords, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(store.decisions(report.id).await.unwrap()[0].steward, None);
        store.set_credit(who.id, Credit::Unnamed).await.unwrap();
        assert_eq!(store.members().await.unwrap().iter().map(|m| m.credit).collect::<Vec<_>>(), [Credit::Unnamed]);
        store.change_role(who.id, Role::Steward).await.unwrap();
    }
}

/// Whether a text stands anywhere in the data file or its log, bytes as they lie on the disk.
fn on_disk(database: &crate::support::TestDatabase, text: &str) -> bool {
    let file = database.address.trim_start_matches("sqlite:");
    ["", "-wal"].iter().any(|ending| {
        let bytes = std::fs::read(format!("{file}{ending}")).unwrap_or_default();
        bytes.windows(text.len()).any(|window| window == text.as_bytes())
    })
}

// PRV-03: nothing of an erased member is left in the raw files while the service runs on. PostgreSQL keeps dead rows until its own vacuum.
#[tokio::test]
async fn an_erased_member_is_gone_from_the_bytes_on_the_disk() {
    const CANARIES: [&str; 6] =
        ["canary@example.org", "canary bird", "note of the canary", "behind the canary house", "asked the canary", "the canary said so"];
    for leaving in [Leaving::KeepRecords, Leaving::RemoveRecords] {
        let database = crate::support::TestDatabase::sqlite();
        let store = database.open().await;
        let steward = joined(&*store, "judge", Role::Steward).await;
        let who = Member { email: Some(CANARIES[0].to_owned()), ..member(CANARIES[1], Role::Member) };
        assert!(store.join(&who, "hash").await.unwrap());
        let mut planted = plant(who.id, "celeste");
        planted.place.words = Some(CANARIES[3].to_owned());
        let noted = WinterRecord { note: Some(CANARIES[2].to_owned()), ..record(-9.4, TopKilled::Tips) };
        let Submitted::Fresh(id) = store.submit(&submission(&who, "key", planted, noted)).await.unwrap() else { panic!("not fresh") };
        let report = store.report(id).await.unwrap().unwrap();
        let words = Some(CANARIES[4].to_owned());
        let asked = Decision::new(&report, &steward, ReviewState::CannotTell, Reason::OutcomeUnclear, words, moment(20)).unwrap();
        assert!(store.decide(id, &asked).await.unwrap());
        let why = CANARIES[5].to_owned();
        let record = report.record.clone();
        let answer = Amendment { report: id, member: who.id, from_version: 1, record, flags: Vec::new(), why, at: moment(30) };
        assert!(store.amend(&answer).await.unwrap());
        decided(&*store, &store.report(id).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;
        assert_eq!(CANARIES.map(|canary| on_disk(&database, canary)), [true; 6]);
        store.forget_member(who.id, leaving, Uuid::nil(), moment(50)).await.unwrap();
        assert_eq!(CANARIES.map(|canary| on_disk(&database, canary)), [false; 6], "{leaving:?}");
    }
}
