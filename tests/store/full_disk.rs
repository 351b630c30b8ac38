//! A database of PostgreSQL on a disk that is full. (A full disk under SQLite: `tests/pages/members/medium.rs`; one under a whole server, its
//! log included: `tests/promises "full disk"`.)

use std::fs::Metadata;
use std::io::Write;
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

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

/// A cluster of its own, for the account and with the programs of the one that the other tests use: to a cluster a full disk under one of
/// its databases is a failed checkpoint, and no database of it can be made or dropped meanwhile. It ends with this.
struct Cluster {
    folder: tempfile::TempDir,
    programs: PathBuf,
    owner: Metadata,
}

impl Cluster {
    /// None where the other one is on another machine.
    async fn beside(other: &str) -> Option<Self> {
        let mut admin = PgConnection::connect(other).await.unwrap();
        let data: String = sqlx::query_scalar("SHOW data_directory").fetch_one(&mut admin).await.unwrap();
        let programs: String =
            sqlx::query_scalar("SELECT setting FROM pg_config WHERE name = 'BINDIR'").fetch_one(&mut admin).await.unwrap();
        let owner = std::fs::metadata(data).ok()?;
        let cluster = Self { folder: tempfile::tempdir().unwrap(), programs: programs.into(), owner };
        cluster.give(cluster.folder.path());
        cluster.run("initdb", &["-D", "data", "-U", "fig", "--auth=trust", "--no-sync", "--locale=C.UTF-8", "-E", "UTF8"]);
        let options = format!("-k {} -c listen_addresses= -c fsync=off", cluster.folder.path().display());
        cluster.run("pg_ctl", &["-D", "data", "-l", "log", "-w", "-t", "30", "-o", &options, "start"]);
        Some(cluster)
    }

    fn give(&self, path: &Path) {
        chown(path, Some(self.owner.uid()), Some(self.owner.gid())).unwrap();
    }

    fn run(&self, program: &str, arguments: &[&str]) {
        let status = self.command(program, arguments).status().unwrap();
        assert!(status.success(), "{program} {arguments:?}: {status}");
    }

    fn command(&self, program: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(self.programs.join(program));
        command.args(arguments).current_dir(self.folder.path()).env("HOME", self.folder.path()).stdout(Stdio::null());
        command.uid(self.owner.uid()).gid(self.owner.gid());
        command
    }

    fn address(&self, name: &str) -> String {
        format!("postgres://fig@{}/{name}", self.folder.path().display().to_string().replace('/', "%2F"))
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let _ = self.command("pg_ctl", &["-D", "data", "-m", "immediate", "-w", "-t", "30", "stop"]).status();
    }
}

// A row that is written again finds its room in its old page: readiness said that all was well while every report was refused.
#[tokio::test(flavor = "multi_thread")]
async fn postgres_on_a_full_disk_is_said_not_to_be_written_to_until_there_is_room() {
    let Some(disk) = SmallDisk::mount("size=48m") else { return println!("skipped: this account may not mount a disk") };
    let other = TestDatabase::postgres().await;
    let Some(cluster) = Cluster::beside(&other.address).await else { return println!("skipped: the server is on another machine") };
    let folder = disk.0.path().join("space");
    std::fs::create_dir(&folder).unwrap();
    cluster.give(disk.0.path());
    cluster.give(&folder);
    let mut admin = PgConnection::connect(&cluster.address("postgres")).await.unwrap();
    execute(&mut admin, format!("CREATE TABLESPACE small LOCATION '{}'", folder.display())).await;
    execute(&mut admin, "CREATE DATABASE small TABLESPACE small".to_owned()).await;

    let store = store::open(&cluster.address("small")).await.unwrap();
    assert_eq!(store.condition().await, Condition::Well);
    disk.fill();
    // The first question to a process that starts now; the other one would look again within ten seconds.
    let late = store::open(&cluster.address("small")).await;
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
}
