//! A real browser behind `chromedriver`: started on a free port in a process group of its own, ended with everything it started.

use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use axum::http::Method;
use fantoccini::wd::{Capabilities, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use url::{ParseError, Url};

/// Longest wait for a page or a session.
const PATIENCE: Duration = Duration::from_mins(1);

/// The driver's process; its group ends with it.
struct Driver {
    child: Child,
    port: u16,
    profile: tempfile::TempDir,
}

impl Driver {
    fn start() -> Self {
        let profile = tempfile::tempdir().unwrap();
        let mut child = Command::new("chromedriver")
            .arg("--port=0")
            .process_group(0)
            // The browser writes beneath HOME, which may be read-only or missing where tests run.
            .env("HOME", profile.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|error| panic!("chromedriver does not start: {error}"));
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let port = lines
            .by_ref()
            .map_while(Result::ok)
            // Its first line names port 0, as asked; the last one the port it took.
            .find_map(|line| line.split_once("started successfully on port ")?.1.trim_end_matches('.').trim().parse().ok())
            .expect("chromedriver ended without naming its port");
        // Read on, or the driver blocks once the pipe is full.
        std::thread::spawn(move || for _ in lines {});
        Self { child, port, profile }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let group = format!("-{}", self.child.id());
        let _ = Command::new("kill").args(["-TERM", "--", &group]).status();
        let _ = self.child.wait();
    }
}

/// How a page is looked at.
#[derive(Debug, Clone, Copy)]
pub struct View {
    pub width: u32,
    pub dark: bool,
    /// Whether the system's colours stand in the place of the page's.
    pub forced: bool,
}

/// A browser with one window.
pub struct Browser {
    pub client: Client,
    _driver: Driver,
}

/// A command beyond the standard: the browser's own protocol, and its log.
#[derive(Debug)]
struct Extra {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extra {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.path))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.to_string()))
    }
}

fn chromium() -> Option<&'static str> {
    ["chromium", "chromium-browser"].into_iter().find(|name| is_installed(name))
}

fn is_installed(program: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|path| std::env::split_paths(&path).any(|folder| folder.join(program).is_file()))
}

fn capabilities(program: &str, profile: &std::path::Path, script: bool) -> Capabilities {
    // 2 blocks, 1 allows.
    let javascript = if script { 1 } else { 2 };
    let arguments = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--no-first-run",
        "--hide-scrollbars",
    ]
    .map(str::to_owned)
    .into_iter()
    .chain([format!("--user-data-dir={}", profile.join("browser").display())]);
    let path = std::env::split_paths(&std::env::var_os("PATH").unwrap()).map(|folder| folder.join(program)).find(|p| p.is_file()).unwrap();
    let wanted = json!({
        "browserName": "chrome",
        // A dialog that a page opens stays open, so that a test can see it.
        "unhandledPromptBehavior": "ignore",
        "goog:chromeOptions": { "binary": path, "args": arguments.collect::<Vec<_>>(), "prefs": { "intl.accept_languages": "en-GB", "profile.managed_default_content_settings.javascript": javascript } },
        "goog:loggingPrefs": { "browser": "ALL" },
    });
    wanted.as_object().unwrap().clone()
}

impl Browser {
    /// Opens one. Without Chromium on the machine a test says so and passes; in CI (`CI` set) it fails.
    pub async fn open() -> Option<Self> {
        Self::open_with(true).await
    }

    /// Opens one in which pages run no script.
    pub async fn open_without_script() -> Option<Self> {
        Self::open_with(false).await
    }

    async fn open_with(script: bool) -> Option<Self> {
        let Some(program) = chromium().filter(|_| is_installed("chromedriver")) else {
            let words = "the browser tests need Chromium and its driver (Debian: apt-get install chromium chromium-driver)";
            assert!(std::env::var_os("CI").is_none(), "{words}");
            eprintln!("SKIPPED: {words}");
            return None;
        };
        let driver = Driver::start();
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities(program, driver.profile.path(), script))
            .connect(&format!("http://127.0.0.1:{}", driver.port))
            .await
            .unwrap_or_else(|error| panic!("{program} is installed but gives no session: {error}"));
        let browser = Self { client, _driver: driver };
        let limits = fantoccini::wd::TimeoutConfiguration::new(Some(PATIENCE), Some(PATIENCE), None);
        browser.client.update_timeouts(limits).await.unwrap();
        Some(browser)
    }

    /// Sends a command of the browser's own protocol.
    pub async fn protocol(&self, command: &str, parameters: Value) -> Value {
        let body = json!({ "cmd": command, "params": parameters });
        self.client.issue_cmd(Extra { path: "goog/cdp/execute", body }).await.unwrap_or_else(|e| panic!("{command}: {e}"))
    }

    /// What the browser has noted since it was last asked: script errors, refused loads, violations of the content policy.
    pub async fn take_log(&self) -> Vec<String> {
        let entries = self.client.issue_cmd(Extra { path: "se/log", body: json!({ "type": "browser" }) }).await.unwrap();
        entries.as_array().unwrap().iter().map(|e| e["message"].as_str().unwrap_or_default().to_owned()).collect()
    }

    /// Sets width and colour scheme.
    pub async fn look_as(&self, view: View) {
        let size = json!({ "width": view.width, "height": 800, "deviceScaleFactor": 1, "mobile": false });
        self.protocol("Emulation.setDeviceMetricsOverride", size).await;
        self.emulate("screen", view.dark, view.forced).await;
    }

    /// Shows pages as on a screen or on paper.
    pub async fn emulate_media(&self, media: &str, dark: bool) {
        self.emulate(media, dark, false).await;
    }

    async fn emulate(&self, media: &str, dark: bool, forced: bool) {
        let scheme = if dark { "dark" } else { "light" };
        let colours = if forced { "active" } else { "none" };
        let features = json!([{ "name": "prefers-color-scheme", "value": scheme }, { "name": "forced-colors", "value": colours }]);
        self.protocol("Emulation.setEmulatedMedia", json!({ "media": media, "features": features })).await;
    }

    /// Runs a script in the page.
    pub async fn run(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.unwrap_or_else(|error| panic!("{script}: {error}"))
    }

    /// Waits until an expression is true in the page.
    pub async fn wait_until(&self, expression: &str) {
        let deadline = std::time::Instant::now() + PATIENCE;
        while self.run(&format!("return Boolean({expression})")).await != Value::Bool(true) {
            assert!(std::time::Instant::now() < deadline, "never true: {expression}");
            tokio::task::yield_now().await;
        }
    }

    /// Waits until path and query of the page shown end so, script or not.
    pub async fn wait_until_at(&self, end: &str) {
        let deadline = std::time::Instant::now() + PATIENCE;
        loop {
            let address = self.address().await;
            if address.ends_with(end) {
                return;
            }
            assert!(std::time::Instant::now() < deadline, "never at {end}: {address}");
            tokio::task::yield_now().await;
        }
    }

    /// Presses keys in whatever has the focus.
    pub async fn press(&self, keys: &str) {
        self.client.active_element().await.unwrap().send_keys(keys).await.unwrap();
    }

    /// Path and query of the page shown.
    pub async fn address(&self) -> String {
        let url = self.client.current_url().await.unwrap();
        url.query().map_or_else(|| url.path().to_owned(), |query| format!("{}?{query}", url.path()))
    }

    /// Ends the session; the driver and the browser end with it.
    pub async fn close(self) {
        self.client.close().await.unwrap();
    }
}
