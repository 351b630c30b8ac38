//! What every page and every JSON address shares: the server, the layers of a request, the frame of a page, errors, who is asking, charts.

pub(crate) mod answer_pace;
pub mod assets;
pub(crate) mod body_timeout;
pub mod cells;
pub mod charts;
pub mod client;
pub(crate) mod connection;
pub(crate) mod cpu_queue;
pub mod degrees;
pub(crate) mod door;
pub mod errors;
pub mod file_body;
pub mod forms;
pub mod frame;
pub(crate) mod headers;
pub(crate) mod health;
pub mod json_body;
pub(crate) mod kept_answers;
pub mod nav;
pub(crate) mod own_site;
pub mod packed;
pub(crate) mod packing;
pub mod palette;
pub mod peer;
pub mod picture;
pub mod preferences;
pub(crate) mod request_log;
pub mod root_limits;
pub mod server;
pub(crate) mod shares;
pub mod state;
pub(crate) mod static_files;
pub mod upload;
pub mod visitor;

pub use state::AppState;
