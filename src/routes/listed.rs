//! Routes that can be listed: what is answered and what tests walk through come from the same lines.

use axum::Router;
use axum::handler::Handler;
use axum::http::Method;
use axum::routing::{get, post};

use crate::web::state::AppState;

/// An address that is answered. `{name}` stands for one part of the path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// GET or POST.
    pub method: Method,
    /// The path, for example `/cultivars/{slug}`.
    pub path: String,
}

/// A router and the list of what it answers.
#[derive(Default)]
pub(crate) struct ListedRoutes {
    router: Router<AppState>,
    addresses: Vec<Address>,
}

impl ListedRoutes {
    pub fn get<H: Handler<T, AppState>, T: 'static>(self, path: &str, handler: H) -> Self {
        self.with(Method::GET, path, |router| router.route(path, get(handler)))
    }

    pub fn post<H: Handler<T, AppState>, T: 'static>(self, path: &str, handler: H) -> Self {
        self.with(Method::POST, path, |router| router.route(path, post(handler)))
    }

    fn with(mut self, method: Method, path: &str, add: impl FnOnce(Router<AppState>) -> Router<AppState>) -> Self {
        self.addresses.push(Address { method, path: path.to_owned() });
        Self { router: add(self.router), addresses: self.addresses }
    }

    /// Everything of another table under a prefix.
    pub fn nest(mut self, prefix: &str, inner: Self) -> Self {
        self.addresses.extend(inner.addresses.into_iter().map(|a| Address { path: format!("{prefix}{}", a.path), ..a }));
        Self { router: self.router.nest(prefix, inner.router), addresses: self.addresses }
    }

    /// Everything of another table beside what is here.
    pub fn merge(mut self, other: Self) -> Self {
        self.addresses.extend(other.addresses);
        Self { router: self.router.merge(other.router), addresses: self.addresses }
    }

    pub fn into_router(self) -> Router<AppState> {
        self.router
    }

    pub fn into_addresses(self) -> Vec<Address> {
        self.addresses
    }
}
