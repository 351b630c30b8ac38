//! Navigation as data: which links a page shows. A test compares it with the routes.

use crate::address;

/// A page that navigation names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Link {
    /// Its address.
    pub address: &'static str,
    /// Its words.
    pub words: &'static str,
}

/// The jobs, in the order of the masthead.
pub const JOBS: [Link; 5] = [
    Link { address: address::HOME.as_str(), words: "Choose" },
    Link { address: address::COLD_NIGHT.as_str(), words: "Tonight" },
    Link { address: address::SPRING.as_str(), words: "Spring" },
    Link { address: address::NEW_REPORT.as_str(), words: "Report" },
    Link { address: address::GARDEN.as_str(), words: "My figs" },
];

/// Everything else: in the masthead behind one word, what is looked for most first.
pub const MORE: [Link; 18] = [
    Link { address: address::CULTIVARS.as_str(), words: "Cultivars" },
    Link { address: address::REPORTS.as_str(), words: "Winter reports" },
    Link { address: address::ACCOUNT.as_str(), words: "Account" },
    Link { address: address::VENTS.as_str(), words: "It cooks in the sun" },
    Link { address: address::SHELTER.as_str(), words: "Heat a shelter" },
    Link { address: address::SAFE_DATES.as_str(), words: "When is it safe?" },
    Link { address: address::COVERS.as_str(), words: "What a cover buys" },
    Link { address: address::SMALL_HEAT.as_str(), words: "Bulbs under a cover" },
    Link { address: address::SPOTS.as_str(), words: "What a spot is worth" },
    Link { address: address::STORE.as_str(), words: "Will this garage do?" },
    Link { address: address::FROZEN_POT.as_str(), words: "The pot froze solid" },
    Link { address: address::RECORD.as_str(), words: "Your own climate record" },
    Link { address: address::TRIALS.as_str(), words: "Which trial next?" },
    Link { address: address::BENCH.as_str(), words: "Bench" },
    Link { address: address::NURSERY.as_str(), words: "Nursery" },
    Link { address: address::DATA.as_str(), words: "Data" },
    Link { address: address::METHOD.as_str(), words: "How these chances are made" },
    Link { address: address::ADVICE.as_str(), words: "What cannot be computed" },
];
