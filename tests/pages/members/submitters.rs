//! [DUR] What was acknowledged is kept, once, though the program is killed in the middle; for longer, `cargo bench --bench submitters`.

use std::time::Duration;

use crate::support::storm::{Storm, storm};
use crate::support::{TestDatabase, on_both_engines};

on_both_engines! {
    async fn nothing_acknowledged_is_lost_or_doubled_when_the_program_is_killed(database) {
        let length = Duration::from_secs(4);
        let after = storm(env!("CARGO_BIN_EXE_winterfig"), &database.address, Storm { submitters: 32, length, processes: 1 }).await;
        println!("{}: {} acknowledged, {} sent again", database.engine, after.acknowledged, after.repeated);
        assert_eq!(after.errors, Vec::<String>::new());
        assert!(after.repeated > 0, "the kill was not felt");
        assert!(after.acknowledged > 32);
        assert_eq!((after.different, after.lost, after.kept), (after.acknowledged, 0, after.acknowledged));
    }
}

// A report that one process may or may not have taken is sent again to the other, under its key.
#[tokio::test(flavor = "multi_thread")]
async fn two_processes_on_one_database_lose_and_double_nothing_when_one_is_killed() {
    let database = TestDatabase::postgres().await;
    let length = Duration::from_secs(6);
    let after = storm(env!("CARGO_BIN_EXE_winterfig"), &database.address, Storm { submitters: 32, length, processes: 2 }).await;
    println!("two processes: {} acknowledged, {} sent again", after.acknowledged, after.repeated);
    assert_eq!(after.errors, Vec::<String>::new());
    assert!(after.repeated > 0, "the kill was not felt");
    assert!(after.acknowledged > 32);
    assert_eq!((after.different, after.lost, after.kept), (after.acknowledged, 0, after.acknowledged));
}
