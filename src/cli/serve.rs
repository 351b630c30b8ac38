//! `winterfig serve`: the service.

use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

use super::{CliError, orders, spare_memory};
use crate::clock::{Clock, SystemClock};
use crate::demo::fill;
use crate::demo::fill::DemoError;
use crate::jobs::accounts::mail::Mail;
use crate::jobs::accounts::mail_relay::RelaySettings;
use crate::jobs::cold_night::forecast::{Draw, Forecasts, Sources};
use crate::jobs::letters::sender;
use crate::jobs::open_data::releases;
use crate::jobs::reminders::season_letters;
use crate::jobs::station_record::archive::{ADDRESS, Archive, watch_list};
use crate::jobs::warnings::round::Rounds;
use crate::jobs::warnings::watch;
use crate::model::refit_worker;
use crate::model::snapshot::Snapshot;
use crate::outbound::Host;
use crate::settings::{Settings, shown_address};
use crate::store::{self, Store, StoreError};
use crate::web::server::Bounds;
use crate::web::{self, AppState};

/// File handles for the database, the log, mail and forecasts.
const OTHER_HANDLES: u64 = 128;
/// How often erasures that other processes made are looked for.
const LIST_EVERY: Duration = Duration::from_mins(1);
/// How often what stands of the society is read anew.
const SOCIETY_EVERY: Duration = Duration::from_secs(15);

/// Serves until told to stop (SIGTERM or SIGINT).
pub fn run(settings: Settings, out: &mut dyn Write) -> Result<(), CliError> {
    start_log(&settings)?;
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(serve(settings, out))
}

async fn serve(settings: Settings, out: &mut dyn Write) -> Result<(), CliError> {
    let store = store::open_listing(&settings.database, &settings.erased_list).await.map_err(|error| match error {
        StoreError::Address { .. } => CliError::Input(error.to_string()),
        other => CliError::Other(
            anyhow::Error::from(other).context(format!("the database {} cannot be used", shown_address(&settings.database))),
        ),
    })?;
    let facts = store.engine_facts().await.map_err(anyhow::Error::from)?;
    tracing::info!(engine = facts.engine, version = facts.version, durability = facts.durability, "database is open");
    let mut snapshot = Snapshot::from_priors(store.catalogue().await.map_err(anyhow::Error::from)?).map_err(anyhow::Error::from)?;
    if settings.demo {
        let laid_out = fill::fill(store.as_ref(), &snapshot.priors, &snapshot.fruit_priors, SystemClock.now()).await;
        let reports = laid_out.map_err(|error| match error {
            DemoError::NotEmpty => CliError::Input(error.to_string()),
            other => CliError::Other(other.into()),
        })?;
        tracing::info!(reports, "the demonstration stands: everything in it is simulated");
        // With the invented cultivars.
        snapshot = Snapshot::from_priors(store.catalogue().await.map_err(anyhow::Error::from)?).map_err(anyhow::Error::from)?;
    }
    snapshot.simulated = store.is_simulated().await.map_err(anyhow::Error::from)?;
    let state = AppState::new(snapshot, Arc::clone(&store), Arc::new(SystemClock))
        .allowing(settings.allowances())
        .with_public_address(settings.public_address.clone())
        .with_mail(mail(&settings)?)
        .with_forecasts(forecasts(&settings, &store)?)
        .with_archive(archive(&settings, &store)?)
        .behind(&settings.trusted_proxies)
        .over_insecure_http(settings.insecure_http)
        .showing_settings(settings.shown());
    state.refresh_society().await.map_err(anyhow::Error::from)?;
    warn_of_plain_http(&settings);
    if let Some(code) = state.members.offer_first_code(state.clock.now()).await.map_err(anyhow::Error::from)? {
        tracing::warn!("no administrator yet: sign in and redeem this one-time code on /account: {code}");
    }
    let learning = tokio::spawn(refit_worker::watch(
        Arc::clone(&store),
        state.registers.clone(),
        Arc::clone(&state.clock),
        state.ids.fresh(state.clock.now()),
        {
            let state = state.clone();
            move || state.snapshot()
        },
        {
            let state = state.clone();
            move |snapshot| state.publish(snapshot)
        },
    ));
    let reading = tokio::spawn(state.read_reports());
    let releasing = tokio::spawn(releases::watch(Arc::clone(&store), Arc::clone(&state.clock), {
        let state = state.clone();
        move || state.snapshot()
    }));
    let tidying = tokio::spawn(Arc::clone(&state.limits).watch());
    let erasing = tokio::spawn(list_erasures(Arc::clone(&store)));
    let refreshing = tokio::spawn(refresh_society(state.clone()));
    let sparing = tokio::spawn(spare_memory::give_back());
    let writing = state
        .addresses
        .mail()
        .map(|mail| tokio::spawn(sender::watch(Arc::clone(&store), mail, state.ids.clone(), Arc::clone(&state.clock))));
    let seasons = seasons(&state).map(tokio::spawn);
    let warning = warnings(&state).map(tokio::spawn);
    let ordering = orders::listen(&settings.database, state.clone()).map(tokio::spawn);
    let listing = state.archive.clone().map(|archive| tokio::spawn(watch_list(archive, Arc::clone(&state.clock))));
    let listener = TcpListener::bind(settings.listen).await.with_context(|| format!("cannot listen on {}", settings.listen))?;
    let address = listener.local_addr()?;
    writeln!(out, "winterfig is ready: http://{address}/")?;
    out.flush()?;
    tracing::info!(%address, "ready");
    let told = stop_signal()?;
    let draining = Duration::from_secs(u64::from(settings.drain_s));
    let stop = async {
        tokio::select! {
            () = told => {
                state.drain();
                tokio::time::sleep(draining).await;
            },
            () = state.storage_failed() => {},
        }
    };
    web::server::serve(listener, crate::routes::router(state.clone()), bounds(&settings), stop).await;
    learning.abort();
    reading.abort();
    releasing.abort();
    tidying.abort();
    erasing.abort();
    refreshing.abort();
    sparing.abort();
    for task in [ordering, listing, writing, seasons, warning].into_iter().flatten() {
        task.abort();
    }
    store.close().await;
    if state.has_storage_failed() {
        return Err(CliError::Other(anyhow::anyhow!(
            "a commit did not reach the disk, so nothing more was written; repair the disk and restart, which recovers what was kept"
        )));
    }
    Ok(())
}

/// Says at the start where members cannot sign in, or anybody can listen.
fn warn_of_plain_http(settings: &Settings) {
    let encrypted = settings.public_address.as_deref().is_some_and(|address| address.starts_with("https://"));
    if settings.insecure_http {
        tracing::warn!("--insecure-http: sessions and passphrases go over plain HTTP; whoever is on the same network can read them");
    } else if !settings.listen.ip().is_loopback() && !encrypted && settings.trusted_proxies.is_empty() {
        tracing::warn!(
            listen = %settings.listen,
            "over plain HTTP under a name other than localhost nobody can sign in, since browsers keep no session there: put a proxy with HTTPS \
             in front (--public-address, --trusted-proxies), or allow it for a home network (--insecure-http)"
        );
    }
}

/// What makes letters of the seasons, where mail goes out.
fn seasons(state: &AppState) -> Option<impl Future<Output = ()> + use<>> {
    let (letters, state) = (crate::routes::season_letters(state, state.addresses.mail()?), state.clone());
    Some(season_letters::watch(letters, Arc::clone(&state.clock), move || state.snapshot()))
}

/// What makes rounds of warnings, where forecasts may be fetched.
fn warnings(state: &AppState) -> Option<impl Future<Output = ()> + use<>> {
    let (forecasts, state) = (state.forecasts.clone()?, state.clone());
    let clock = Arc::clone(&state.clock);
    let rounds = move || Rounds {
        store: Arc::clone(&state.store),
        forecasts: forecasts.clone(),
        snapshot: state.snapshot(),
        ids: state.ids.clone(),
        public_address: state.addresses.mail().and_then(|_| state.public_address().map(str::to_owned)),
    };
    Some(watch::watch(rounds, clock, rand::random()))
}

/// Reads what stands of the society anew from time to time, since other processes and commands may change it.
async fn refresh_society(state: AppState) {
    loop {
        tokio::time::sleep(SOCIETY_EVERY).await;
        if let Err(error) = state.refresh_society().await {
            tracing::warn!(%error, "what stands of the society was not read anew");
        }
    }
}

/// Brings the list of erasures outside the database up to date until the task is dropped.
async fn list_erasures(store: Arc<dyn Store>) {
    loop {
        tokio::time::sleep(LIST_EVERY).await;
        if let Err(error) = store.complete_list_of_erasures().await {
            tracing::warn!(%error, "the list of members who asked to be forgotten is not up to date");
        }
    }
}

/// How many connections are served: as many as set, where there are file handles for them.
fn bounds(settings: &Settings) -> Bounds {
    let wanted = u64::from(settings.connections) + OTHER_HANDLES;
    let handles = rlimit::increase_nofile_limit(wanted).unwrap_or(wanted);
    let mut connections = settings.connections as usize;
    if handles < wanted {
        // Half of few handles is left to the database, the log and what goes outward.
        connections = handles.saturating_sub(OTHER_HANDLES.min(handles / 2)).max(1) as usize;
        tracing::warn!(handles, connections, "there are fewer file handles than connections set; raise the limit (ulimit -n)");
    }
    let per_address = (settings.connections_per_address as usize).min(connections.div_ceil(2));
    Bounds { connections, per_address, trusted: Arc::from(settings.trusted_proxies.as_slice()) }
}

/// The way letters go, where the settings name one.
fn mail(settings: &Settings) -> Result<Option<Mail>, CliError> {
    let (Some(url), Some(from), Some(address)) = (&settings.mail_relay, &settings.mail_from, &settings.public_address) else {
        if settings.outbound.mail {
            return Err(CliError::Input("--outbound mail needs --mail-relay, by which mail goes out".to_owned()));
        }
        return Ok(None);
    };
    let relay =
        RelaySettings { url, sign_in: mail_sign_in(settings)?, roots: settings.outbound_roots.as_deref(), ..RelaySettings::default() };
    Mail::new(&relay, from, address).map(Some).map_err(|error| CliError::Input(error.to_string()))
}

/// Name and passphrase of the mail relay.
fn mail_sign_in(settings: &Settings) -> Result<Option<(String, String)>, CliError> {
    let (Some(name), Some(file)) = (&settings.mail_user, &settings.mail_passphrase_file) else { return Ok(None) };
    let wrong = |reason: &str| CliError::Input(format!("--mail-passphrase-file {}: {reason}", file.display()));
    let text = std::fs::read_to_string(file).map_err(|error| wrong(&error.to_string()))?;
    let passphrase = text.lines().next().unwrap_or_default();
    if passphrase.is_empty() {
        return Err(wrong("its first line is empty; the passphrase is expected there"));
    }
    Ok(Some((name.clone(), passphrase.to_owned())))
}

/// The ways forecasts come, where the settings name any.
fn forecasts(settings: &Settings, store: &Arc<dyn Store>) -> Result<Option<Forecasts>, CliError> {
    let input = |error: &dyn std::fmt::Display| CliError::Input(error.to_string());
    let mut sources = Sources::default();
    if settings.outbound.forecasts {
        let Some(contact) = &settings.outbound_contact else {
            return Err(CliError::Input(
                "--outbound forecasts needs --outbound-contact ADDRESS: the weather services ask every program to say whom to write to"
                    .to_owned(),
            ));
        };
        sources = Sources::public(contact).map_err(|error| CliError::Input(format!("--outbound-contact {error}")))?;
    }
    if let Some(relay) = &settings.forecast_relay {
        sources.nws = Some(Sources::relay(relay).map_err(|error| input(&error))?);
    }
    let any = sources.nws.is_some() || sources.met_norway.is_some();
    Ok(any.then(|| Forecasts::new(sources, Arc::clone(store), Draw::new(rand::random::<f64>))))
}

/// What fetches records, where the settings allow it. The public archive is trusted by the usual roots and found at public addresses alone; a
/// host that the operator names instead may lie anywhere.
fn archive(settings: &Settings, store: &Arc<dyn Store>) -> Result<Option<Archive>, CliError> {
    if !settings.outbound.records {
        return Ok(None);
    }
    let own = settings.records_archive != ADDRESS || settings.outbound_roots.is_some();
    let host =
        if own { Host::named_by_operator(&settings.records_archive, settings.outbound_roots.as_deref()) } else { Host::public(ADDRESS) };
    host.map(|host| Some(Archive::new(host, Arc::clone(store)))).map_err(|error| CliError::Input(error.to_string()))
}

fn start_log(settings: &Settings) -> Result<(), CliError> {
    let filter = tracing_subscriber::EnvFilter::try_new(&settings.log).map_err(|error| {
        CliError::Input(format!("--log “{}” is not a filter ({error}); accepted, for example: info, winterfig=debug", settings.log))
    })?;
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(false);
    let started = if settings.log_json { lines.json().try_init() } else { lines.try_init() };
    started.map_err(|error| CliError::Other(anyhow::anyhow!("{error}")))
}

fn stop_signal() -> std::io::Result<impl Future<Output = ()>> {
    let (mut terminate, mut interrupt) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    Ok(async move {
        tokio::select! {
            _ = terminate.recv() => {},
            _ = interrupt.recv() => {},
        }
    })
}
