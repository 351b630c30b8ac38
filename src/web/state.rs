//! State shared by all requests: snapshot, store, clock.

use std::ops::Deref;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use arc_swap::ArcSwap;
use ipnet::IpNet;
use tokio::sync::watch;
use tokio::task::spawn_blocking;

use crate::clock::Clock;
use crate::ids::Ids;
use crate::jobs::accounts::email_address::Addresses;
use crate::jobs::accounts::limits::{Allowances, Limits};
use crate::jobs::accounts::mail::Mail;
use crate::jobs::accounts::members::Members;
use crate::jobs::cold_night::forecast::Forecasts;
use crate::jobs::garden::setups::Setups;
use crate::jobs::measured_shelters::sending::SharedShelters;
use crate::jobs::open_data::publications::Publications;
use crate::jobs::propagation::ledger::Ledger;
use crate::jobs::reports::list::ReportQuestion;
use crate::jobs::reports::submission::Reports;
use crate::jobs::reports::summary::Summaries;
use crate::jobs::station_record::archive::Archive;
use crate::jobs::station_record::saved::Sites;
use crate::jobs::trials::asked::Asked;
use crate::jobs::trials::offers::Offers;
use crate::model::registers::Registers;
use crate::model::snapshot::Snapshot;
use crate::records::Society;
use crate::store::{Store, StoreError};
use crate::web::picture::Pictures;

/// Time between two tries to read the reports where the store does not answer.
const READ_AGAIN: Duration = Duration::from_secs(1);

/// Shared by all requests. One pointer, since every layer of every request holds a clone.
#[derive(Clone)]
pub struct AppState(Arc<Parts>);

impl Deref for AppState {
    type Target = Parts;

    fn deref(&self) -> &Parts {
        &self.0
    }
}

/// What the state holds.
#[derive(Clone)]
pub struct Parts {
    snapshot: Arc<ArcSwap<Snapshot>>,
    /// What is kept.
    pub store: Arc<dyn Store>,
    /// The time.
    pub clock: Arc<dyn Clock>,
    /// Where fresh identifiers come from.
    pub ids: Ids,
    /// Account service.
    pub members: Members,
    /// E-mail addresses of members.
    pub addresses: Addresses,
    /// Report service.
    pub reports: Reports,
    /// Daily records that members keep.
    pub sites: Sites,
    /// Places and shelters that members keep.
    pub setups: Setups,
    /// How often each kind of question was asked.
    pub asked: Asked,
    /// Trials that nurseries offer.
    pub trial_offers: Offers,
    /// Batches of propagation that members keep.
    pub ledger: Ledger,
    /// Shelters that members publish.
    pub shared_shelters: SharedShelters,
    /// The reports that count.
    pub registers: Registers,
    /// What questions about them came to.
    pub summaries: Summaries,
    /// What is public of the reports as files.
    pub publications: Publications,
    allowances: Allowances,
    /// How often one address or member may do what costs.
    pub limits: Arc<Limits>,
    public_address: Option<Arc<str>>,
    /// Proxies whose word about where a request comes from is taken.
    pub trusted_proxies: Arc<[IpNet]>,
    /// What fetches forecasts, where there is any.
    pub forecasts: Option<Forecasts>,
    /// What fetches records of weather stations, where the operator allows it.
    pub archive: Option<Archive>,
    /// What stands of the society.
    society: Arc<ArcSwap<Society>>,
    /// Settings that the office shows: name and value.
    pub shown_settings: Arc<[(String, String)]>,
    insecure_http: bool,
    /// Pictures of answers that were drawn lately.
    pub pictures: Pictures,
    storage_failed: watch::Sender<bool>,
    draining: Arc<AtomicBool>,
    reading: Arc<AtomicBool>,
}

impl AppState {
    /// State around a first snapshot.
    pub fn new(snapshot: Snapshot, store: Arc<dyn Store>, clock: Arc<dyn Clock>) -> Self {
        let ids = Ids::system();
        let limits = Arc::new(Limits::new(Allowances::default()));
        let members = Members::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let sites = Sites::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let setups = Setups::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let ledger = Ledger::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let trial_offers = Offers::new(Arc::clone(&store), Arc::clone(&limits));
        let asked = Asked::new(Arc::clone(&store));
        let addresses = Addresses::new(Arc::clone(&store), members.clone(), Arc::clone(&limits), None);
        let shared_shelters = SharedShelters::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let reports = Reports::new(Arc::clone(&store), Arc::clone(&limits), ids.clone());
        let registers = Registers::default();
        Self(Arc::new(Parts {
            addresses,
            setups,
            asked,
            trial_offers,
            ledger,
            shared_shelters,
            snapshot: Arc::new(ArcSwap::from_pointee(snapshot)),
            store,
            clock,
            ids,
            members,
            reports,
            sites,
            publications: Publications::new(registers.clone()),
            registers,
            summaries: Summaries::default(),
            allowances: Allowances::default(),
            limits,
            public_address: None,
            forecasts: None,
            archive: None,
            trusted_proxies: Arc::from([]),
            society: Arc::default(),
            shown_settings: Arc::from([]),
            insecure_http: false,
            pictures: Pictures::default(),
            storage_failed: watch::Sender::new(false),
            draining: Arc::default(),
            reading: Arc::default(),
        }))
    }

    /// The same with some of it changed, before it is shared.
    fn with(self, change: impl FnOnce(&mut Parts)) -> Self {
        let mut parts = Arc::unwrap_or_clone(self.0);
        change(&mut parts);
        Self(Arc::new(parts))
    }

    /// The same with other allowances.
    #[must_use]
    pub fn allowing(self, allowances: Allowances) -> Self {
        self.with(|parts| parts.allowances = allowances).with_services_anew()
    }

    /// Services hold what they were made with: made again after a change of allowances or identifiers.
    fn with_services_anew(self) -> Self {
        self.with(|parts| {
            let limits = Arc::new(Limits::new(parts.allowances));
            parts.members = Members::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.sites = Sites::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.setups = Setups::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.trial_offers = Offers::new(Arc::clone(&parts.store), Arc::clone(&limits));
            parts.ledger = Ledger::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.shared_shelters = SharedShelters::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.addresses = parts.addresses.clone().with(parts.members.clone(), Arc::clone(&limits));
            parts.reports = Reports::new(Arc::clone(&parts.store), Arc::clone(&limits), parts.ids.clone());
            parts.limits = limits;
        })
    }

    /// The same with other identifiers.
    #[must_use]
    pub fn with_ids(self, ids: &Ids) -> Self {
        self.with(|parts| parts.ids = ids.clone()).with_services_anew()
    }

    /// The same with letters that go out.
    #[must_use]
    pub fn with_mail(self, mail: Option<Mail>) -> Self {
        self.with(|parts| {
            let signed = mail.map(|mail| mail.signed_by(Arc::clone(&parts.society)));
            parts.addresses = parts.addresses.clone().sending(signed);
        })
    }

    /// The same over plain HTTP: cookies that a browser keeps without encryption.
    #[must_use]
    pub fn over_insecure_http(self, insecure: bool) -> Self {
        self.with(|parts| parts.insecure_http = insecure)
    }

    /// The same with settings that the office shows.
    #[must_use]
    pub fn showing_settings(self, settings: Vec<(String, String)>) -> Self {
        self.with(|parts| parts.shown_settings = Arc::from(settings))
    }

    /// The same behind proxies that are believed.
    #[must_use]
    pub fn behind(self, proxies: &[IpNet]) -> Self {
        self.with(|parts| parts.trusted_proxies = Arc::from(proxies))
    }

    /// The same with forecasts that are fetched.
    #[must_use]
    pub fn with_forecasts(self, forecasts: Option<Forecasts>) -> Self {
        self.with(|parts| parts.forecasts = forecasts)
    }

    /// The same with records of weather stations that are fetched from a host.
    #[must_use]
    pub fn with_archive(self, archive: Option<Archive>) -> Self {
        self.with(|parts| parts.archive = archive)
    }

    /// Names the address that the public knows this service by.
    #[must_use]
    pub fn with_public_address(self, address: Option<String>) -> Self {
        self.with(|parts| parts.public_address = address.map(|a| Arc::from(a.trim_end_matches('/'))))
    }
}

impl Parts {
    /// The address that the public knows this service by, where it was given.
    pub fn public_address(&self) -> Option<&str> {
        self.public_address.as_deref()
    }

    /// The catalogue and model of this moment. Never waits for a fit or the database.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        self.snapshot.load_full()
    }

    /// What stands of the society.
    pub fn society(&self) -> Arc<Society> {
        self.society.load_full()
    }

    /// Reads what stands of the society anew.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn refresh_society(&self) -> Result<(), StoreError> {
        self.society.store(Arc::new(self.store.society().await?));
        Ok(())
    }

    /// Whether sessions go over plain HTTP, by the operator's word.
    pub fn insecure_http(&self) -> bool {
        self.insecure_http
    }

    /// Says from now on that this process is not ready: it is about to stop.
    pub fn drain(&self) {
        self.draining.store(true, Ordering::Relaxed);
    }

    /// Whether the process is about to stop.
    pub fn is_draining(&self) -> bool {
        self.draining.load(Ordering::Relaxed)
    }

    /// Reads the reports for the pages of them, and says until then that this process is not ready.
    pub fn read_reports(&self) -> impl Future<Output = ()> + Send + use<> {
        self.reading.store(true, Ordering::Relaxed);
        let (reading, registers, store) = (Arc::clone(&self.reading), self.registers.clone(), Arc::clone(&self.store));
        let (summaries, snapshot) = (self.summaries.clone(), self.snapshot());
        async move {
            let register = loop {
                match registers.as_it_stands(&store).await {
                    Ok(register) => break register,
                    Err(error) => tracing::warn!(%error, "the reports were not read; again in a moment"),
                }
                tokio::time::sleep(READ_AGAIN).await;
            };
            let prepared = spawn_blocking(move || ReportQuestion::prepare_all(&register, &summaries, &snapshot.catalogue));
            if let Err(error) = prepared.await {
                tracing::error!(%error, "what the page of all reports says was not made ahead");
            }
            reading.store(false, Ordering::Relaxed);
        }
    }

    /// Whether the reports are still being read, after a start.
    pub fn is_reading(&self) -> bool {
        self.reading.load(Ordering::Relaxed)
    }

    /// Notes that a commit did not reach the medium: nothing more is written, and the process is to stop.
    pub fn note_storage_failure(&self) {
        self.storage_failed.send_replace(true);
    }

    /// Whether a commit did not reach the medium.
    pub fn has_storage_failed(&self) -> bool {
        *self.storage_failed.borrow()
    }

    /// Waits until a commit does not reach the medium.
    pub async fn storage_failed(&self) {
        let mut seen = self.storage_failed.subscribe();
        // The sender lives in this state: there is nothing else to wait for.
        let _ = seen.wait_for(|lost| *lost).await;
    }

    /// Puts a new snapshot in the place of the present one.
    pub fn publish(&self, snapshot: Snapshot) {
        self.snapshot.store(Arc::new(snapshot));
    }
}
