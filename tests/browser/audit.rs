//! What is wrong with a page as a reader meets it: by the rules engine axe-core, by the browser's own log, and by `audit.js`.

use serde_json::Value;

use super::driver::{Browser, View};

/// The rules of WCAG 2.2 at levels A and AA, and the engine's own good practice.
const RULES: &str = "
const done = arguments[arguments.length - 1];
axe.run(document, {
  resultTypes: ['violations'],
  runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
  rules: { 'target-size': { enabled: true } },
}).then(
  (result) => done(result.violations.map((v) => `axe ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120)).join(' … ')}`)),
  (error) => done([`axe did not run: ${error}`]),
);";

fn sentences(list: &Value) -> Vec<String> {
    list.as_array().unwrap_or(&Vec::new()).iter().map(|s| s.as_str().unwrap_or_default().to_owned()).collect()
}

/// Opens an address and says everything that is wrong with it. `refused`: whether the server is expected to answer 4xx.
pub async fn complaints(browser: &Browser, address: &str, view: View, refused: bool) -> Vec<String> {
    browser.look_as(view).await;
    browser.take_log().await;
    browser.client.goto(address).await.unwrap_or_else(|error| panic!("{address}: {error}"));
    let mut found: Vec<String> = browser
        .take_log()
        .await
        .into_iter()
        // A page that is refused is noted by the browser as a resource that did not load.
        .filter(|line| !(refused && line.starts_with(address) && line.contains("Failed to load resource")))
        .map(|line| format!("log: {line}"))
        .collect();
    found.extend(faults_here(browser).await);
    found
}

/// The light, the dark, and colours of the system.
const MODES: [(&str, bool, bool); 3] = [("light", false, false), ("dark", true, false), ("forced colours", false, true)];
/// Most faults of one page that are written out: one kind often stands a hundred times, and the first few tell.
const MOST_TOLD: usize = 8;

/// Everything that is wrong with an address at one width in each mode, a line each with the mode before it; it is loaded once.
pub async fn complaints_in_every_mode(browser: &Browser, address: &str, width: u32, refused: bool) -> Vec<String> {
    let mut wrong = Vec::new();
    for (mode, dark, forced) in MODES {
        let view = View { width, dark, forced };
        let found = if mode == "light" {
            complaints(browser, address, view, refused).await
        } else {
            browser.look_as(view).await;
            faults_here(browser).await
        };
        let left_out = found.len().saturating_sub(MOST_TOLD);
        wrong.extend(found.into_iter().take(MOST_TOLD).map(|what| format!("in {mode}: {what}")));
        if left_out > 0 {
            wrong.push(format!("in {mode}: and {left_out} more"));
        }
    }
    wrong
}

/// What is wrong with the page as it stands.
pub async fn faults_here(browser: &Browser) -> Vec<String> {
    let mut found = sentences(&browser.run(include_str!("audit.js")).await);
    browser.run(include_str!("../vendor/axe-core/axe.min.js")).await;
    let broken = browser.client.execute_async(RULES, Vec::new()).await.unwrap();
    found.extend(sentences(&broken));
    found
}
