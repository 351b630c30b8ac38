//! Every setting of the service: flag, environment name, default, meaning. The README's table is held to this by a test.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use crate::jobs::station_record::archive::ADDRESS;
use crate::outbound::OutboundUses;

/// How the service runs.
#[derive(Debug, Clone, Args)]
pub struct Settings {
    /// Address and port to listen on
    #[arg(long, env = "WINTERFIG_LISTEN", default_value = "127.0.0.1:8080", value_name = "ADDRESS")]
    pub listen: SocketAddr,
    /// Address the public knows the service by, for links on printed sheets
    #[arg(long, env = "WINTERFIG_PUBLIC_ADDRESS", value_name = "URL")]
    pub public_address: Option<String>,
    /// Let members sign in over plain HTTP, for a home network of people you trust: whoever is on it can read what is sent; every page says so
    #[arg(long, env = "WINTERFIG_INSECURE_HTTP")]
    pub insecure_http: bool,
    /// Addresses or networks (CIDR) of proxies in front of the service, separated by commas: X-Forwarded-For is honoured only from these
    #[arg(long, env = "WINTERFIG_TRUSTED_PROXIES", value_name = "IP,…", value_delimiter = ',', value_parser = crate::network::parse)]
    pub trusted_proxies: Vec<ipnet::IpNet>,
    /// Mail relay: smtps://HOST or starttls://HOST of a mail provider, smtp://HOST without encryption on this machine or a network of your own, :PORT where it is unusual; without one the service sends no mail
    #[arg(long, env = "WINTERFIG_MAIL_RELAY", value_name = "URL", requires = "mail_from", requires = "public_address")]
    pub mail_relay: Option<String>,
    /// Address that letters come from
    #[arg(long, env = "WINTERFIG_MAIL_FROM", value_name = "ADDRESS")]
    pub mail_from: Option<String>,
    /// Name that the mail relay is signed in to with
    #[arg(long, env = "WINTERFIG_MAIL_USER", value_name = "NAME", requires = "mail_passphrase_file")]
    pub mail_user: Option<String>,
    /// File that holds the passphrase of the mail relay, on its first line; sent over an encrypted connection alone
    #[arg(long, env = "WINTERFIG_MAIL_PASSPHRASE_FILE", value_name = "FILE", requires = "mail_user")]
    pub mail_passphrase_file: Option<PathBuf>,
    /// Relay, http://HOST:PORT, that passes questions on to api.weather.gov (United States); it may lie on a private network, and is asked whether --outbound names forecasts or not
    #[arg(long, env = "WINTERFIG_FORECAST_RELAY", value_name = "URL")]
    pub forecast_relay: Option<String>,
    /// What may go out, separated by commas: none; records (daily records of weather stations, when a visitor asks for one); forecasts (of api.weather.gov and api.met.no, for places of plants that members wish to be warned for, and when a visitor asks); mail (a start without --mail-relay is refused; a relay that is set sends whether it is named here or not)
    #[arg(long, env = "WINTERFIG_OUTBOUND", default_value = "none", value_name = "USE,…")]
    pub outbound: OutboundUses,
    /// E-mail or https:// address that weather services may write to where this service gives them trouble; their terms ask for one, so forecasts need it
    #[arg(long, env = "WINTERFIG_OUTBOUND_CONTACT", value_name = "ADDRESS")]
    pub outbound_contact: Option<String>,
    /// Where records are fetched: the public archive of NCEI, or a mirror or relay of your own that may lie on a private network
    #[arg(long, env = "WINTERFIG_RECORDS_ARCHIVE", default_value = ADDRESS, value_name = "URL")]
    pub records_archive: String,
    /// Certificates (PEM) that a mirror, a relay or the mail relay is trusted by, beside the usual roots
    #[arg(long, env = "WINTERFIG_OUTBOUND_ROOTS", value_name = "FILE")]
    pub outbound_roots: Option<PathBuf>,
    /// Database: sqlite:FILE or postgres://…
    #[arg(long, env = "WINTERFIG_DATABASE", default_value = "sqlite:winterfig.db", value_name = "URL")]
    pub database: String,
    /// With PostgreSQL: file that lists, by id, who asked to be forgotten; keep it apart from the database's backups, for a dump put back is checked against it at the start (SQLite has it beside the data file)
    #[arg(long, env = "WINTERFIG_ERASED_LIST", default_value = "winterfig.erased", value_name = "FILE")]
    pub erased_list: std::path::PathBuf,
    /// Fill an empty database with simulated members and reports, labelled as such on every page
    #[arg(long, env = "WINTERFIG_DEMO")]
    pub demo: bool,
    /// What is logged, by level and module
    #[arg(long, env = "WINTERFIG_LOG", default_value = "info", value_name = "FILTER")]
    pub log: String,
    /// Log lines as JSON
    #[arg(long, env = "WINTERFIG_LOG_JSON")]
    pub log_json: bool,
    /// Most connections served at once; beyond it, 503 with Retry-After
    #[arg(long, env = "WINTERFIG_CONNECTIONS", default_value_t = 2048, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=65_536))]
    pub connections: u32,
    /// Most connections of one address (IPv6: one /64) at once; those of trusted proxies are not counted
    #[arg(long, env = "WINTERFIG_CONNECTIONS_PER_ADDRESS", default_value_t = 128, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=65_536))]
    pub connections_per_address: u32,
    /// Seconds between a stop signal and the end of accepting connections: readiness fails meanwhile, so that a proxy sends requests elsewhere
    #[arg(long, env = "WINTERFIG_DRAIN_S", default_value_t = 0, value_name = "S", value_parser = clap::value_parser!(u32).range(0..=600))]
    pub drain_s: u32,
    /// New members per address and hour; raise it when many people sign up from one network
    #[arg(long, env = "WINTERFIG_JOINS_PER_HOUR", default_value_t = 3, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub joins_per_hour: u32,
    /// Sign-ins per address and minute
    #[arg(long, env = "WINTERFIG_SIGN_INS_PER_MINUTE", default_value_t = 3, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub sign_ins_per_minute: u32,
    /// Reports and changes of one member at once
    #[arg(long, env = "WINTERFIG_WRITES_BURST", default_value_t = 30, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub writes_burst: u32,
    /// Reports and changes of one member per minute after that
    #[arg(long, env = "WINTERFIG_WRITES_PER_MINUTE", default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub writes_per_minute: u32,
}

/// An address of a database without the password that it may hold.
pub fn shown_address(address: &str) -> String {
    match (address.find("://"), address.rfind('@')) {
        (Some(scheme), Some(at)) if at > scheme => format!("{}://…{}", &address[..scheme], &address[at..]),
        _ => address.to_owned(),
    }
}

impl Settings {
    /// What the office shows of them: the name of each flag and what it is set to, without passwords.
    pub fn shown(&self) -> Vec<(String, String)> {
        let said = |value: &Option<String>| value.clone().unwrap_or_else(|| "none".to_owned());
        let yes = |set: bool| if set { "yes" } else { "no" }.to_owned();
        let proxies: Vec<String> = self.trusted_proxies.iter().map(ToString::to_string).collect();
        [
            ("--listen", self.listen.to_string()),
            ("--public-address", said(&self.public_address)),
            ("--insecure-http", yes(self.insecure_http)),
            ("--trusted-proxies", if proxies.is_empty() { "none".to_owned() } else { proxies.join(", ") }),
            ("--mail-relay", said(&self.mail_relay)),
            ("--mail-from", said(&self.mail_from)),
            ("--mail-user", said(&self.mail_user)),
            ("--forecast-relay", said(&self.forecast_relay)),
            ("--outbound", self.outbound.to_string()),
            ("--outbound-contact", said(&self.outbound_contact)),
            ("--database", shown_address(&self.database)),
            ("--erased-list", self.erased_list.display().to_string()),
            ("--joins-per-hour", self.joins_per_hour.to_string()),
            ("--sign-ins-per-minute", self.sign_ins_per_minute.to_string()),
            ("--writes-burst", self.writes_burst.to_string()),
            ("--writes-per-minute", self.writes_per_minute.to_string()),
            ("--connections", self.connections.to_string()),
            ("--connections-per-address", self.connections_per_address.to_string()),
        ]
        .map(|(name, value)| (name.to_owned(), value))
        .into()
    }

    /// How often one address or member may do what costs.
    pub const fn allowances(&self) -> crate::jobs::accounts::limits::Allowances {
        crate::jobs::accounts::limits::Allowances {
            joins_per_hour: self.joins_per_hour,
            sign_ins_per_minute: self.sign_ins_per_minute,
            writes_burst: self.writes_burst,
            writes_per_minute: self.writes_per_minute,
        }
    }
}
