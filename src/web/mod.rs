//! The service's web door: pages for people, JSON for programs. [`router`] is the only way in; the binary and the tests use the same one.

pub mod api;
mod arrival;
pub mod assets;
pub mod cells;
pub mod charts;
pub mod errors;
pub mod forms;
pub mod frame;
mod headers;
mod health;
pub mod pages;
mod request_log;
mod routes;
pub mod server;
pub mod state;
mod turns;
pub mod upload;
pub mod visitor;

pub use routes::router;
pub use state::AppState;
