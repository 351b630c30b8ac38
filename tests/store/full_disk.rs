//! A database of PostgreSQL on a disk that is full. (A full disk under SQLite: `tests/pages/members/medium.rs`; one under a whole server, its
//! log included: `tests/promises "full disk"`.)

use std::io::Write;
use std::os::unix::fs::{MetadataExt, chown};
use std::path::Path;
use std::process::Command;

use sqlx::{Connection, PgConnection};
use winterfig::records::Role;
use winterfig::store::{self, Condition, StoreError};

use crate::support::members::{joined, member};
use crate::support::{TestDatabase, execute};

/// A disk of its own; taken away with this.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    /// None where this account may not mount one.
    fn mount(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", size, "tmpfs"]).arg(folder.path()).output();
        mounted.is_ok_and(|done| done.status.success()).then_some(Self(folder))
    }

    fn fill(&self) {
        let mut ballast = std::fs::File::create(self.0.path().join("ballast")).unwrap();
        for block in [64 * 1024, 4096, 1] {
            while ballast.write_all(&vec![b'x'; block]).is_ok() {}
        }
    }

    fn make_room(&self) {
        std::fs::remove_file(self.0.path().join("ballast")).unwrap();
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(self.0.path()).status();
    }
}

// A row that is written again finds its room in its old page: readiness said that all was well while every report was refused.
#[tokio::test(flavor = "multi_thread")]
async fn postgres_on_a_full_disk_is_said_not_to_be_written_to_until_there_is_room() {
    let first = TestDatabase::postgres().await;
    let mut admin = PgConnection::connect(&first.address).await.unwrap();
    let data: String = sqlx::query_scalar("SHOW data_directory").fetch_one(&mut admin).await.unwrap();
    let Ok(owner) = std::fs::metadata(Path::new(&data)) else { return println!("skipped: the server is on another machine") };
    let Some(disk) = SmallDisk::mount("size=48m") else { return println!("skipped: this account may not mount a disk") };
    let folder = disk.0.path().join("space");
    std::fs::create_dir(&folder).unwrap();
    for path in [disk.0.path(), &folder] {
        chown(path, Some(owner.uid()), Some(owner.gid())).unwrap();
    }
    let (cluster, name) = first.address.rsplit_once('/').unwrap();
    let small = format!("{name}_small");
    execute(&mut admin, format!("CREATE TABLESPACE {small} LOCATION '{}'", folder.display())).await;
    execute(&mut admin, format!("CREATE DATABASE {small} TEMPLATE winterfig_template TABLESPACE {small}")).await;

    let address = format!("{cluster}/{small}");
    let store = store::open(&address).await.unwrap();
    assert_eq!(store.condition().await, Condition::Well);
    disk.fill();
    // The first question to a process that starts now; the other one would look again within ten seconds.
    let late = store::open(&address).await;
    let condition = match &late {
        Ok(late) => late.condition().await,
        Err(error) => Condition::NotWritable(error.to_string()),
    };
    assert!(
        matches!(&condition, Condition::NotWritable(why) if why.contains("No space left") || why.contains("no space left")),
        "{condition:?}"
    );
    let refused = async {
        for nth in 0..20_000 {
            let refused = store.join(&member(&format!("grower {nth}"), Role::Member), "hash").await;
            if let Err(error) = refused {
                return Some(error);
            }
        }
        None
    };
    let refused = refused.await;
    assert!(matches!(refused, Some(StoreError::Full(_))), "{refused:?}");
    assert!(store.members().await.is_ok(), "reading goes on");
    disk.make_room();
    if let Ok(late) = late {
        assert_eq!(late.condition().await, Condition::Well);
        late.close().await;
    }
    assert_eq!(store.condition().await, Condition::Well);
    joined(&*store, "late grower", Role::Member).await;
    store.close().await;
    drop(store);
    execute(&mut admin, format!("DROP DATABASE {small} WITH (FORCE)")).await;
    execute(&mut admin, format!("DROP TABLESPACE {small}")).await;
}
