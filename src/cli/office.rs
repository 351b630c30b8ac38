//! `winterfig office`: what stands at a glance, the society, and the log of what was done by hand; also beside a running service.

use std::io::Write;

use super::CliError;
use super::database::{Database, OrderedDatabase, block_on, store_error};
use crate::jobs::office::log::table;
use crate::jobs::office::orders::Order;
use crate::records::Joining;

/// Entries of the log that are written at most.
const MOST: i64 = 200_000;

/// Arguments of `office`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// What stands at a glance: members, reports that wait, the last backup and release, the society
    Show {
        #[command(flatten)]
        database: Database,
    },
    /// Change what stands of the society on pages, sheets and letters, and who may join
    Society {
        /// Its name
        #[arg(long, value_name = "WORDS")]
        name: Option<String>,
        /// Where it is reached
        #[arg(long, value_name = "WORDS")]
        contact: Option<String>,
        /// Who answers for the service
        #[arg(long, value_name = "WORDS")]
        imprint: Option<String>,
        /// Who may join: open, invited or closed
        #[arg(long, value_name = "WORD")]
        joining: Option<String>,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// What was done by hand, newest first
    Log {
        /// As CSV
        #[arg(long)]
        csv: bool,
        #[command(flatten)]
        database: Database,
    },
}

/// Shows, changes, or prints the log.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        match &args.what {
            What::Show { database } => show(database, out).await,
            What::Society { name, contact, imprint, joining, database } => {
                let joining: Option<Joining> = joining
                    .as_deref()
                    .map(|word| word.parse().map_err(|error: crate::vocabulary::UnknownWord| CliError::Input(error.to_string())))
                    .transpose()?;
                let order = Order::Society { name: name.clone(), contact: contact.clone(), imprint: imprint.clone(), joining };
                writeln!(out, "{}", database.order(order).await?)?;
                Ok(())
            }
            What::Log { csv, database } => {
                let store = database.reading().await?;
                let lines = store.office_log(None, MOST).await.map_err(store_error)?;
                if *csv {
                    out.write_all(&table(&lines).map_err(anyhow::Error::from)?)?;
                } else {
                    for line in &lines {
                        let who = line.author.as_deref().unwrap_or("-");
                        let about = line.about.as_deref().unwrap_or("-");
                        writeln!(out, "{}\t{who}\t{}\t{about}\t{}", line.entry.at, line.entry.act, line.entry.detail)?;
                    }
                }
                store.close().await;
                Ok(())
            }
        }
    })
}

async fn show(database: &Database, out: &mut dyn Write) -> Result<(), CliError> {
    let store = database.reading().await?;
    let society = store.society().await.map_err(store_error)?;
    let facts = store.engine_facts().await.map_err(store_error)?;
    let backup = store.last_backup().await.map_err(store_error)?;
    let release = store.releases().await.map_err(store_error)?.into_iter().next();
    writeln!(out, "database\t{} {}", facts.engine, facts.version)?;
    writeln!(out, "members\t{}", store.member_count().await.map_err(store_error)?)?;
    writeln!(out, "waiting\t{}", store.waiting_count().await.map_err(store_error)?)?;
    writeln!(out, "last backup\t{}", backup.map_or_else(|| "not known".to_owned(), |at| at.to_string()))?;
    writeln!(out, "last release\t{}", release.map_or_else(|| "none yet".to_owned(), |release| release.version))?;
    writeln!(out, "society\t{}", society.name)?;
    writeln!(out, "contact\t{}", society.contact)?;
    writeln!(out, "joining\t{}", society.joining.label())?;
    store.close().await;
    Ok(())
}
