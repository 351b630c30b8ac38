//! `winterfig member`: who is a member, and what is done to accounts, for whoever keeps the machine; also beside a running service.

use std::io::Write;

use super::CliError;
use super::database::{Database, OrderedDatabase, block_on, store_error};
use crate::jobs::office::orders::Order;
use crate::records::Role;
use crate::store::MemberFilter;

/// Members read at once.
const AT_ONCE: i64 = 1000;

/// Arguments of `member`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// List members with their roles, by name
    List {
        #[command(flatten)]
        database: Database,
    },
    /// Give a member a role: member, nursery, steward or administrator
    Role {
        /// Name of the member
        handle: String,
        /// The role
        role: String,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// Make a one-time code by which a member sets a new passphrase
    Reset {
        /// Name of the member
        handle: String,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// Suspend a member: sessions end, and nothing is taken from them
    Suspend {
        /// Name of the member
        handle: String,
        /// Why, in words that the member reads
        #[arg(long, value_name = "WORDS")]
        because: String,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// End a suspension
    Restore {
        /// Name of the member
        handle: String,
        /// Why, in words that the member reads
        #[arg(long, value_name = "WORDS")]
        because: String,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// Erase a member for good, as if they had left
    Erase {
        /// Name of the member
        handle: String,
        /// Take the records out of the next release; else they stay, joined to nobody
        #[arg(long)]
        remove_records: bool,
        /// That it is meant: an erasure cannot be undone
        #[arg(long)]
        yes: bool,
        #[command(flatten)]
        database: OrderedDatabase,
    },
    /// Make an invitation to join
    Invite {
        /// For whom or what, for the list in the office
        #[arg(long, default_value = "", value_name = "WORDS")]
        note: String,
        /// How many may join by it
        #[arg(long, default_value_t = 1, value_name = "N")]
        uses: i64,
        /// Days that it holds
        #[arg(long, default_value_t = 30, value_name = "N")]
        days: i64,
        #[command(flatten)]
        database: OrderedDatabase,
    },
}

/// Lists, or gives an order.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        let (order, database) = match &args.what {
            What::List { database } => return list(database, out).await,
            What::Role { handle, role, database } => {
                let role: Role = role.parse().map_err(|error: crate::vocabulary::UnknownWord| CliError::Input(error.to_string()))?;
                (Order::Role { handle: handle.clone(), role }, database)
            }
            What::Reset { handle, database } => (Order::Reset { handle: handle.clone() }, database),
            What::Suspend { handle, because, database } => (Order::Suspend { handle: handle.clone(), words: because.clone() }, database),
            What::Restore { handle, because, database } => (Order::Restore { handle: handle.clone(), words: because.clone() }, database),
            What::Erase { yes: false, handle, .. } => {
                return Err(CliError::Input(format!("erasing {handle} cannot be undone; say --yes to do it")));
            }
            What::Erase { handle, remove_records, database, .. } => {
                (Order::Erase { handle: handle.clone(), remove_records: *remove_records }, database)
            }
            What::Invite { note, uses, days, database } => (Order::Invite { note: note.clone(), uses: *uses, days: *days }, database),
        };
        writeln!(out, "{}", database.order(order).await?)?;
        Ok(())
    })
}

async fn list(database: &Database, out: &mut dyn Write) -> Result<(), CliError> {
    let store = database.reading().await?;
    let mut filter = MemberFilter::default();
    loop {
        let members = store.members_among(&filter, AT_ONCE).await.map_err(store_error)?;
        for member in &members {
            let suspended = member.suspended.map(|since| format!("\tsuspended {since}")).unwrap_or_default();
            writeln!(out, "{}\t{}\t{}{suspended}", member.handle, member.role, member.joined)?;
        }
        let Some(last) = members.last() else { break };
        filter.after = Some(last.handle.folded());
    }
    store.close().await;
    Ok(())
}
