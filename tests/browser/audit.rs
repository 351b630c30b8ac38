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

/// What is wrong with the page as it stands.
pub async fn faults_here(browser: &Browser) -> Vec<String> {
    let mut found = sentences(&browser.run(include_str!("audit.js")).await);
    browser.run(include_str!("../vendor/axe-core/axe.min.js")).await;
    let broken = browser.client.execute_async(RULES, Vec::new()).await.unwrap();
    found.extend(sentences(&broken));
    found
}
