//! Every setting of the service: flag, environment name, default, meaning. The README's table is held to this by a test.

use std::net::SocketAddr;

use clap::Args;

/// How the service runs.
#[derive(Debug, Clone, Args)]
pub struct Settings {
    /// Address and port to listen on
    #[arg(long, env = "WINTERFIG_LISTEN", default_value = "127.0.0.1:8080", value_name = "ADDRESS")]
    pub listen: SocketAddr,
    /// Database: sqlite:FILE or postgres://…
    #[arg(long, env = "WINTERFIG_DATABASE", default_value = "sqlite:winterfig.db", value_name = "URL")]
    pub database: String,
    /// Fill an empty database with simulated members and reports, labelled as such on every page
    #[arg(long, env = "WINTERFIG_DEMO")]
    pub demo: bool,
    /// What is logged, by level and module
    #[arg(long, env = "WINTERFIG_LOG", default_value = "info", value_name = "FILTER")]
    pub log: String,
    /// Log lines as JSON
    #[arg(long, env = "WINTERFIG_LOG_JSON")]
    pub log_json: bool,
    /// Most connections served at once; further ones wait
    #[arg(long, env = "WINTERFIG_CONNECTIONS", default_value_t = 1024, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=65_536))]
    pub connections: u32,
}
