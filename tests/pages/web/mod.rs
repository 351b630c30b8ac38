//! The router without a browser: headers on every kind of answer, forgery, hostile and impossible input, what a crawl finds, the API's shape.
//!
//! Ids in brackets are of the checklist these tests answer: OWASP Application Security Verification Standard 5.0.0 (May 2025), by number,
//! and our own items (HDR, CSR, INP) that group them.

mod api;
mod crawl;
mod forecast;
mod forgery;
mod fuzz;
mod headers;
mod input;
mod kept;
mod markup;
mod outbound_forecasts;
mod places;
mod records;
mod shape;
mod standing;
pub mod tls_host;
mod wire;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Method, Request};
use winterfig::store::Store;

use crate::support::TestDatabase;
use crate::support::client::Client;

/// The service over a fresh SQLite database.
struct House {
    client: Client,
    store: Arc<dyn Store>,
    database: TestDatabase,
}

impl House {
    async fn new() -> Self {
        let database = TestDatabase::sqlite();
        let store = database.open().await;
        Self { client: Client::new(&store).await, store, database }
    }
}

fn request(method: Method, address: &str) -> Request<Body> {
    Request::builder().method(method).uri(address).body(Body::empty()).unwrap()
}

/// Every address that answers a method, from the router itself, so that no route is forgotten.
fn routes(method: &Method) -> Vec<String> {
    winterfig::routes::addresses().into_iter().filter(|a| a.method == *method).map(|a| a.path).collect()
}

/// An address with something in the place of its parameters.
fn filled(address: &str) -> String {
    address.split('/').map(|part| if part.starts_with('{') { "x" } else { part }).collect::<Vec<_>>().join("/")
}
