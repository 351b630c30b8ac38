//! How long a report takes to move the model.

use std::time::{Duration, Instant};

use crate::client::{LONGEST, Service};
use crate::society::Society;
use crate::table::Figures;

/// Reports that are accepted one by one, each after the model of the one before stands.
const TIMES: usize = 3;
/// Between two looks at the model's name.
const LOOK: Duration = Duration::from_millis(10);

/// Whether a model of this name was fitted from all of its reports: one that is ahead of the fit says so.
fn is_fitted(model: &str) -> bool {
    model.starts_with("reports-") && !model.contains('+')
}

/// Waits until a model satisfies; gives how long that took.
async fn until(service: &mut Service, holds: impl Fn(&str) -> bool) -> Duration {
    let begun = Instant::now();
    while !holds(&service.model().await) && begun.elapsed() < LONGEST {
        tokio::time::sleep(LOOK).await;
    }
    begun.elapsed()
}

/// Waits for the first fit.
pub async fn first_fit(service: &mut Service) -> Duration {
    until(service, is_fitted).await
}

/// Accepts reports one by one and waits for their models; the median.
pub async fn moved(service: &mut Service, society: &Society, figures: &mut Figures) {
    let (mut moved, mut refitted) = (Vec::new(), Vec::new());
    for nth in 0..TIMES {
        let report = service.visitor.report(society, nth).await;
        let before = service.model().await;
        service.visitor.accept(society, &report).await;
        let accepted = Instant::now();
        until(service, |model| model != before).await;
        moved.push(accepted.elapsed());
        until(service, |model| model != before && is_fitted(model)).await;
        refitted.push(accepted.elapsed());
        // The rest between two fits is over then.
        tokio::time::sleep(Duration::from_secs(4)).await;
    }
    moved.sort_unstable();
    refitted.sort_unstable();
    figures.add("accepted report → moved curve, s", moved[TIMES / 2].as_secs_f64());
    figures.add("accepted report → refitted, s", refitted[TIMES / 2].as_secs_f64());
}
