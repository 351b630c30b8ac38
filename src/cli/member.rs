//! `winterfig member`: who is a member, and roles, for whoever keeps the machine.

use std::io::Write;

use super::CliError;
use super::database::{Database, block_on, store_error};
use crate::records::{Handle, Role};
use crate::store::RoleChange;

/// Arguments of `member`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// List members with their roles
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
        database: Database,
    },
}

/// Lists, or gives a role.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        match &args.what {
            What::List { database } => {
                let store = database.reading().await?;
                for member in store.members().await.map_err(store_error)? {
                    writeln!(out, "{}\t{}\t{}", member.handle, member.role, member.joined)?;
                }
                store.close().await;
            }
            What::Role { handle, role, database } => {
                let role: Role = role.parse().map_err(|error: crate::vocabulary::UnknownWord| CliError::Input(error.to_string()))?;
                let store = database.writing().await?;
                let folded = Handle::stored(handle.clone()).folded();
                let Some((member, _)) = store.sign_in_facts(&folded).await.map_err(store_error)? else {
                    return Err(CliError::Input(format!("there is no member “{handle}”; `winterfig member list` names them all")));
                };
                if store.change_role(member.id, role).await.map_err(store_error)? == RoleChange::LastAdministrator {
                    return Err(CliError::Input(format!("{} is the only administrator; make another member one first", member.handle)));
                }
                writeln!(out, "{} is {} now", member.handle, role.label())?;
                store.close().await;
            }
        }
        Ok(())
    })
}
