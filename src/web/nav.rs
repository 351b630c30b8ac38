//! Navigation as data: which links a page shows. A test compares it with the routes.

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
    Link { address: "/", words: "Choose" },
    Link { address: "/cold-night", words: "Tonight" },
    Link { address: "/spring", words: "Spring" },
    Link { address: "/reports/new", words: "Report a winter" },
    Link { address: "/bench", words: "Bench" },
];

/// Everything else, in the order of the foot.
pub const MORE: [Link; 11] = [
    Link { address: "/cultivars", words: "Cultivars" },
    Link { address: "/record", words: "Your own climate record" },
    Link { address: "/shelter", words: "Heat a shelter" },
    Link { address: "/store", words: "Will this garage do?" },
    Link { address: "/frozen-pot", words: "The pot froze solid" },
    Link { address: "/reports", words: "Winter reports" },
    Link { address: "/data", words: "Data" },
    Link { address: "/method", words: "How these chances are made" },
    Link { address: "/advice", words: "What cannot be computed" },
    Link { address: "/garden", words: "Your garden" },
    Link { address: "/account", words: "Account" },
];
