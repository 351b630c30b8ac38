//! Orders of the keeper of the machine, on both engines: the command does what the pages do, with the same rules, and all of it is in the log.

use std::process::Command;

use winterfig::records::words::TopKilled;
use winterfig::records::{ReviewState, Role};

use crate::support::members::{decided, joined, record, submitted};
use crate::support::on_both_engines;

fn ran(words: &[&str]) -> (bool, String) {
    // On PostgreSQL a command keeps its list of erasures in the folder that it is started in.
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_winterfig")).args(words).current_dir(folder.path()).output().unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    (output.status.success(), said)
}

on_both_engines! {
    async fn commands_of_the_office_hold_the_rules_of_its_pages(database) {
        let store = database.open().await;
        let keeper = joined(&*store, "keeper", Role::Administrator).await;
        let vandal = joined(&*store, "vandal", Role::Member).await;
        for nth in 0..4 {
            let report = submitted(&*store, &vandal, "celeste", record(-9.4, TopKilled::Tips)).await;
            if nth == 0 {
                decided(&*store, &report, &keeper, ReviewState::Accepted).await;
            }
        }
        store.close().await;
        drop(store);
        let at = ["--database", database.address.as_str()];
        let order = |words: &[&str]| ran(&[words, &at].concat());
        let list = order(&["member", "list"]).1;
        assert!(list.contains("keeper\tadministrator\t") && list.contains("vandal\tmember\t"), "{list}");
        assert!(!order(&["member", "suspend", "keeper", "--because", "x"]).0, "the only administrator stays");
        assert!(!order(&["member", "suspend", "vandal", "--because", " "]).0, "words are needed");
        let (done, said) = order(&["member", "suspend", "vandal", "--because", "Made-up winters."]);
        assert!(done && said.contains("vandal is suspended"), "{said}");
        assert!(!order(&["member", "suspend", "vandal", "--because", "Again."]).0);
        assert!(order(&["member", "list"]).1.contains("vandal\tmember\t") && order(&["member", "list"]).1.contains("suspended"));
        assert!(order(&["member", "restore", "vandal", "--because", "Believed."]).0);
        let (done, code) = order(&["member", "reset", "vandal"]);
        assert!(done && code.contains("/account/reset/") && code.contains("within 24 hours, once"), "{code}");
        assert!(order(&["member", "role", "vandal", "nursery"]).0);
        assert!(!order(&["member", "role", "vandal", "king"]).0);
        assert!(order(&["member", "invite", "--note", "autumn fair", "--uses", "2"]).1.contains("/account?invitation="));
        assert!(order(&["office", "society", "--name", "Fig growers", "--contact", "Thursdays", "--joining", "invited"]).0);
        assert!(!order(&["office", "society", "--joining", "maybe"]).0);
        let shown = order(&["office", "show"]).1;
        for words in ["members\t2", "society\tFig growers", "contact\tThursdays", "joining\tby invitation only"] {
            assert!(shown.contains(words), "{words}: {shown}");
        }
        assert!(!order(&["member", "erase", "vandal"]).0, "--yes is needed");
        assert!(order(&["member", "erase", "vandal", "--remove-records", "--yes"]).0);
        let log = order(&["office", "log", "--csv"]).1;
        for act in ["suspended", "restored", "reset_code", "role", "invited", "society", "erased"] {
            assert!(log.contains(&format!(",command,{act},")), "{act}: {log}");
        }
        assert!(!log.contains("vandal"), "who was erased is gone from the log");
        let store = database.open().await;
        assert!(store.member(vandal.id).await.unwrap().is_none() && store.reports_of(vandal.id).await.unwrap().is_empty());
        assert_eq!(store.member_count().await.unwrap(), 1);
    }
}
