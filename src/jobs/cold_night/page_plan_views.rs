//! Lines of a plan as the page shows them.

/// One thing to do.
pub(crate) struct Task {
    pub n: usize,
    pub what: String,
    pub does: String,
    pub minutes: String,
    pub minutes_number: f64,
    /// What the form holds when it is ticked.
    pub done: Option<String>,
    pub before: Bar,
    pub after: Bar,
    pub words: String,
}

/// What stays out.
pub(crate) struct Left {
    pub what: String,
    pub risk: String,
    pub parts: String,
    pub why: String,
    pub bar: Bar,
}

/// One line of the table of everything.
pub(crate) struct Line {
    pub what: String,
    pub does: String,
    pub before: [String; 5],
    pub after: [String; 5],
    pub pot: String,
}

/// Chances of the five levels as one strip.
pub(crate) struct Bar {
    pub parts: Vec<Part>,
    pub words: String,
}

/// One level on the strip.
pub(crate) struct Part {
    pub class: &'static str,
    pub x: String,
    pub width: String,
}
