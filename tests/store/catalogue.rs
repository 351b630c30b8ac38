//! The catalogue as people change it, on both engines: what a decision does to plants, reports and the model, and that an undone one leaves no
//! trace among them.

use std::sync::Arc;

use crate::models::{Growers, Process, two_openings};
use crate::support::members::{decided, joined, moment, plant, record, submission};
use crate::support::{TestDatabase, on_both_engines};
use proptest::prelude::*;
use uuid::Uuid;
use winterfig::catalogue::change::{Change, CitedSource, SourcedFact, TraitName};
use winterfig::catalogue::{CatalogueRecords, Grade, Slug};
use winterfig::jobs::proposals::desk::{Decided, accept, decline, propose, undo, withdraw};
use winterfig::jobs::proposals::error::ProposalError;
use winterfig::records::words::{TopKilled, Vitality};
use winterfig::records::{Member, ProposalId, ProposalState, Report, ReviewState, Role, WinterRecord};
use winterfig::store::{Leaving, Store, Submitted};

fn slug(text: &str) -> Slug {
    Slug::new(text).unwrap()
}

fn source() -> CitedSource {
    CitedSource {
        title: "Notes of an invented fig walk".to_owned(),
        author: String::new(),
        year: Some(2019),
        address: String::new(),
        grade: Grade::C,
    }
}

fn fact(trait_name: TraitName, value: &str) -> SourcedFact {
    SourcedFact { trait_name, value: value.to_owned(), remark: String::new(), quote: String::new() }
}

fn new_fig(name: &str, of: &str) -> Change {
    let fact = Some(fact(TraitName::HardinessClass, "4"));
    Change::Cultivar { slug: slug(of), name: name.to_owned(), note: String::new(), is_family: false, fact, source: source() }
}

async fn stands(store: &Arc<dyn Store>, steward: &Member, change: Change) -> Result<ProposalId, ProposalError> {
    let proposal = propose(store, steward, change.clone(), ProposalId(Uuid::now_v7()), moment(50)).await?;
    accept(store, proposal.id, change, &by(steward, 1)).await?;
    Ok(proposal.id)
}

fn by(steward: &Member, from_version: i64) -> Decided<'_> {
    Decided { steward, from_version, words: String::new(), at: moment(60), log: Some(Uuid::now_v7()) }
}

async fn reported(store: &Arc<dyn Store>, grow: &Growers, written: &str, cultivar: Option<&str>, winter: WinterRecord) -> Report {
    let who = joined(&**store, &format!("grower {}", &Uuid::now_v7().simple().to_string()[20..]), Role::Member).await;
    let mut garden = plant(who.id, "celeste");
    (garden.name_written, garden.cultivar) = (written.to_owned(), cultivar.map(slug));
    let Submitted::Fresh(id) = store.submit(&submission(&who, "key", garden, winter)).await.unwrap() else { panic!() };
    let report = store.report(id).await.unwrap().unwrap();
    decided(&**store, &report, &grow.steward, ReviewState::Accepted).await;
    report
}

async fn cultivar_of(store: &Arc<dyn Store>, report: &Report) -> Option<String> {
    store.report(report.id).await.unwrap().unwrap().plant.cultivar.map(|slug| slug.to_string())
}

on_both_engines! {
    async fn a_kind_proposed_today_is_everywhere_at_once_and_its_reports_move_its_curve(database) {
        let (store, there) = two_openings(&database).await;
        let grow = Growers::join(&*store).await;
        // A member writes a name that nobody knows, twice and not alike; it teaches nothing.
        let dead = || WinterRecord { vitality: Vitality::Dead, ..record(-6.0, TopKilled::ToGround) };
        let one = reported(&store, &grow, "Östra Moss", None, dead()).await;
        let two = reported(&store, &grow, "ostra-moss", None, dead()).await;
        let (mut here, mut beside) = (Process::start(&store, 0).await, Process::start(&there, 0).await);
        here.look().await;
        assert_eq!(here.current.model.reports, 0);
        assert_eq!(store.written_names(10).await.unwrap().iter().map(|n| n.reports).sum::<i64>(), 2);

        stands(&store, &grow.steward, new_fig("Östra Moss", "ostra-moss")).await.unwrap();
        assert_eq!([cultivar_of(&store, &one).await, cultivar_of(&store, &two).await], [Some("ostra-moss".to_owned()), Some("ostra-moss".to_owned())]);
        assert!(store.written_names(10).await.unwrap().is_empty());
        let flags = store.report(one.id).await.unwrap().unwrap().flags;
        assert!(flags.iter().all(|f| f.flag != winterfig::records::Flag::NameUnknown));
        // One process fits, the other picks up, and both have the fig with what its reports say.
        let prior = here.current.over(store.catalogue().await.unwrap()).unwrap().standing("ostra-moss").unwrap().belief.mean().degrees();
        assert_eq!([here.look().await, beside.look().await], ["fitted", "picked up"]);
        for process in [&here, &beside] {
            assert_eq!(process.current.standing("ostra-moss").unwrap().reports, 2);
            assert!(process.hardiness("ostra-moss") > prior + 0.1, "dead at −6 °C: {prior} {}", process.hardiness("ostra-moss"));
        }
    }

    async fn a_merge_takes_names_facts_and_reports_along_and_undone_gives_them_back(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let winter = || record(-9.4, TopKilled::Tips);
        let kept = [
            reported(&store, &grow, "Celeste", Some("celeste"), winter()).await,
            reported(&store, &grow, "Alma", Some("alma"), winter()).await,
        ];
        let before = store.catalogue().await.unwrap();
        let merge = Change::Merge { cultivar: slug("alma"), into: slug("celeste"), reason: "an example".to_owned() };
        let id = stands(&store, &grow.steward, merge).await.unwrap();
        let merged = store.catalogue().await.unwrap();
        assert_eq!(merged.cultivars().len(), before.cultivars().len() - 1);
        assert_eq!(merged.get("alma").unwrap().slug.as_str(), "celeste", "its address leads on");
        assert!(merged.get("celeste").unwrap().names().any(|name| name == "Alma"));
        assert_eq!(cultivar_of(&store, &kept[1]).await.as_deref(), Some("celeste"));
        // A process that does not know yet takes one in under the old entry: it follows.
        let late = reported(&store, &grow, "Alma", Some("alma"), winter()).await;
        assert_eq!(cultivar_of(&store, &late).await.as_deref(), Some("celeste"));

        undo(&store, id, &by(&grow.steward, 2)).await.unwrap();
        let after = store.catalogue().await.unwrap();
        assert_eq!((after.cultivars(), after.found()), (before.cultivars(), before.found()));
        assert_eq!([cultivar_of(&store, &kept[0]).await, cultivar_of(&store, &kept[1]).await], [Some("celeste".to_owned()), Some("alma".to_owned())]);
        assert!(after.version() > before.version(), "other processes see that it changed");
    }

    async fn what_later_changes_rest_on_is_not_undone_before_them(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let steward = &grow.steward;
        let moss = reported(&store, &grow, "Östra Moss", None, record(-9.4, TopKilled::Tips)).await;
        let made = stands(&store, steward, new_fig("Östra Moss", "ostra-moss")).await.unwrap();
        let merge = Change::Merge { cultivar: slug("ostra-moss"), into: slug("celeste"), reason: "an example".to_owned() };
        let merged = stands(&store, steward, merge).await.unwrap();
        assert!(matches!(undo(&store, made, &by(steward, 2)).await, Err(ProposalError::LaterStands(_))));
        assert_eq!(cultivar_of(&store, &moss).await.as_deref(), Some("celeste"), "nothing half done");
        undo(&store, merged, &by(steward, 2)).await.unwrap();
        undo(&store, made, &by(steward, 2)).await.unwrap();
        assert_eq!(cultivar_of(&store, &moss).await, None);
        // Undone, it may stand again.
        accept(&store, made, new_fig("Östra Moss", "ostra-moss"), &by(steward, 3)).await.unwrap();
        assert_eq!(cultivar_of(&store, &moss).await.as_deref(), Some("ostra-moss"));
    }

    async fn a_split_takes_the_plants_of_its_names_alone(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let malta = reported(&store, &grow, "MALTA", Some("celeste"), record(-9.4, TopKilled::Tips)).await;
        let own = reported(&store, &grow, "Celeste", Some("celeste"), record(-9.4, TopKilled::Tips)).await;
        let split = Change::Split {
            cultivar: slug("celeste"), slug: slug("malta-moss"), name: "Malta".to_owned(), names: vec!["Malta".to_owned()], reason: "an example".to_owned(),
        };
        let id = stands(&store, &grow.steward, split).await.unwrap();
        assert_eq!([cultivar_of(&store, &malta).await.as_deref(), cultivar_of(&store, &own).await.as_deref()], [Some("malta-moss"), Some("celeste")]);
        assert!(!store.catalogue().await.unwrap().get("celeste").unwrap().names().any(|name| name == "Malta"));
        undo(&store, id, &by(&grow.steward, 2)).await.unwrap();
        assert_eq!(cultivar_of(&store, &malta).await.as_deref(), Some("celeste"));
    }

    async fn of_two_stewards_the_second_is_told_and_nothing_is_overwritten(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let other = joined(&*store, "judge two", Role::Steward).await;
        let member = joined(&*store, "proposer", Role::Member).await;
        let change = new_fig("Östra Moss", "ostra-moss");
        let id = propose(&store, &member, change.clone(), ProposalId(Uuid::now_v7()), moment(50)).await.unwrap().id;
        let words = |steward| Decided { words: "not found elsewhere".to_owned(), ..by(steward, 1) };
        let (one, two) = (words(&grow.steward), words(&other));
        let both = tokio::join!(accept(&store, id, change.clone(), &one), decline(&store, id, &two));
        let told = [matches!(both.0, Err(ProposalError::Moved(_))), matches!(both.1, Err(ProposalError::Moved(_)))];
        assert!(told[0] != told[1], "{both:?}");
        assert_eq!(store.proposal_steps(id).await.unwrap().len(), 2);
        // Two that would make one entry: the second is refused by its field.
        let again = stands(&store, &other, new_fig("Other Moss", "ostra-moss")).await;
        assert_eq!(told[1], matches!(&again, Err(ProposalError::Fields(errors)) if errors.of("slug").is_some()));
    }

    async fn a_new_edition_overwrites_nothing_and_shows_what_it_changed(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let of = |value: &str| Change::Fact {
            cultivar: slug("celeste"), fact: fact(TraitName::HardinessClass, value), counts: true, reason: "a trial in this society".to_owned(), source: source(),
        };
        stands(&store, &grow.steward, of("5")).await.unwrap();
        let class = |catalogue: &winterfig::catalogue::Catalogue| catalogue.get("celeste").unwrap().hardiness_class.known().unwrap().number();
        let here = store.catalogue().await.unwrap();
        assert_eq!(class(&here), 5);
        assert!(here.found().iter().any(|f| f.cultivar == "celeste" && f.value == "4" && f.reason == "a trial in this society"), "the other stands beside it");
        let mut next = CatalogueRecords::embedded().unwrap();
        let fact = next.facts.iter_mut().find(|f| f.cultivar == "celeste" && f.trait_name == "hardiness_class").unwrap();
        "3".clone_into(&mut fact.value);
        assert!(store.plant_catalogue(&next, "0123456789").await.unwrap());
        let after = store.catalogue().await.unwrap();
        assert_eq!(class(&after), 5);
        let told = store.seed_differences(10).await.unwrap();
        assert_eq!((told.len(), told[0].before.as_str(), told[0].after.as_str(), told[0].edition.as_str()), (1, "4", "3", "01234567"));
        store.look_at_seed_differences(told[0].number).await.unwrap();
        assert!(store.seed_differences(10).await.unwrap().is_empty());
        assert_eq!(store.seed_differences_of("celeste").await.unwrap().len(), 1);
        // What is shipped beside the records, the records themselves as before.
        "another word of a source".clone_into(&mut next.beside[0].2);
        assert!(!store.plant_catalogue(&next, "0123456789").await.unwrap());
        let beside = store.seed_differences(10).await.unwrap();
        assert_eq!((beside.len(), &beside[0].cultivar, beside[0].after.as_str()), (1, &next.beside[0].0, "another word of a source"));
        // An entry that left the shipped records takes the change of it along, which a steward is told.
        next.cultivars.retain(|record| record.slug != "celeste");
        next.facts.retain(|fact| fact.cultivar != "celeste");
        next.found.retain(|fact| fact.cultivar != "celeste");
        next.confused.retain(|pair| pair.cultivar != "celeste" && pair.other != "celeste");
        assert!(store.plant_catalogue(&next, "without celeste").await.unwrap());
        let without = store.catalogue().await.unwrap();
        assert!(without.left_out().iter().any(|(_, why)| why.contains("celeste")), "{:?}", without.left_out());
    }

    async fn who_leaves_takes_what_waits_along_and_what_stands_stays_without_them(database) {
        let store = database.open().await;
        let grow = Growers::join(&*store).await;
        let author = joined(&*store, "proposer", Role::Member).await;
        let offered = |change| propose(&store, &author, change, ProposalId(Uuid::now_v7()), moment(50));
        let standing = offered(new_fig("Östra Moss", "ostra-moss")).await.unwrap().id;
        accept(&store, standing, new_fig("Östra Moss", "ostra-moss"), &by(&grow.steward, 1)).await.unwrap();
        let waiting = offered(new_fig("Vestra Moss", "vestra-moss")).await.unwrap().id;
        let back = offered(new_fig("Norra Moss", "norra-moss")).await.unwrap().id;
        withdraw(&store, back, &author, moment(55)).await.unwrap();
        assert_eq!(store.proposals_of(author.id).await.unwrap().len(), 3);
        store.forget_member(author.id, Leaving::KeepRecords, Uuid::from_u128(7), moment(70)).await.unwrap();
        let kept = store.proposal(standing).await.unwrap().unwrap();
        assert_eq!((kept.author, kept.state), (None, ProposalState::Accepted));
        assert_eq!([store.proposal(waiting).await.unwrap(), store.proposal(back).await.unwrap()], [None, None]);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, max_shrink_iters: 0, failure_persistence: None, ..ProptestConfig::default() })]

    /// Merges, splits and new figs in any order, all of them undone from the last to the first: every report is where it was.
    #[test]
    fn changes_that_are_undone_leave_every_report_where_it_was(steps in proptest::collection::vec((0..4_usize, 0..4_usize, 0..4_usize), 1..8)) {
        const FIGS: [&str; 4] = ["celeste", "alma", "brown-turkey", "brunswick"];
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let database = TestDatabase::sqlite();
            let store = database.open().await;
            let grow = Growers::join(&*store).await;
            let mut kept = Vec::new();
            for (nth, written) in ["Celeste", "Alma", "Malta", "Brunswick", "Östra Moss", "Norra Moss"].into_iter().enumerate() {
                let of = ["celeste", "alma", "celeste", "brunswick", "", ""][nth];
                kept.push(reported(&store, &grow, written, (!of.is_empty()).then_some(of), record(-9.4, TopKilled::Tips)).await);
            }
            let before = store.catalogue().await.unwrap();
            let mut done = Vec::new();
            for (nth, (kind, one, other)) in steps.into_iter().enumerate() {
                let change = match kind {
                    0 | 1 => Change::Merge { cultivar: slug(FIGS[one]), into: slug(FIGS[other]), reason: "example".to_owned() },
                    2 => Change::Split {
                        cultivar: slug(FIGS[one]), slug: slug(&format!("split-{nth}")), name: format!("Split {nth}"),
                        names: vec!["Malta".to_owned(), "Alma".to_owned()], reason: "example".to_owned(),
                    },
                    _ => new_fig(["Östra Moss", "Norra Moss"][one % 2], ["ostra-moss", "norra-moss"][one % 2]),
                };
                // What does not fit the catalogue of the moment is refused whole.
                if let Ok(id) = stands(&store, &grow.steward, change).await {
                    done.push(id);
                }
            }
            for id in done.into_iter().rev() {
                undo(&store, id, &by(&grow.steward, 2)).await.unwrap();
            }
            let after = store.catalogue().await.unwrap();
            assert_eq!(after.cultivars(), before.cultivars());
            for report in &kept {
                assert_eq!(store.report(report.id).await.unwrap().unwrap().plant, report.plant);
            }
        });
    }
}
