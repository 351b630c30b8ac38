//! The form of the spring question.

use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::spring::question::{SITE, Seen};
use crate::model::snapshot::Snapshot;
use crate::records::NamedSite;
use crate::science::climate::winters::Hemisphere;
use crate::web::forms::Choice;
use crate::web::frame::Frame;

/// The form, ready to be written.
pub(crate) struct SpringForm {
    pub site: SiteForm,
    pub cultivars: Vec<Choice>,
    pub halves: Vec<Choice>,
    pub sights: Vec<Choice>,
    /// Daily records that the member keeps; empty for others.
    pub records: Vec<Choice>,
    pub figs: Vec<Choice>,
    pub more_open: bool,
    pub cover_open: bool,
    pub place_open: bool,
}

impl SpringForm {
    pub fn new(pairs: Vec<(String, String)>, errors: FieldErrors, frame: &Frame, snapshot: &Snapshot, sites: &[NamedSite]) -> Self {
        let site = SiteForm::new(frame.with_remembered_place(pairs), errors, frame, "");
        let typed = &site.typed;
        let named = snapshot.catalogue.cultivars().iter().map(|c| (c.slug.to_string(), c.name.clone()));
        let first = |text: &str| {
            let mut letters = text.chars();
            letters.next().map_or_else(String::new, |l| l.to_uppercase().chain(letters).collect())
        };
        let more = ["today", "growth_seen", "freeze", "lowest_c", "lowest_f", "heat_so_far", "heat_base_c", "half"];
        let cover = ["cover_k", "cover_f", "cover_from", "cover_to"];
        let place = ["setting", "culture", "protection", "store", "years", "wood_years", "container_l", "container_gal"];
        let season = ["last_frost", "first_frost", "frost_free_days", "warmest_month_c", "warmest_month_f"];
        let changed = |names: &[&str], usual: &[&str]| {
            names.iter().any(|n| typed.wrong(n).is_some() || (!typed.text(n).is_empty() && !usual.contains(&typed.text(n))))
        };
        Self {
            cultivars: typed.choices(
                "cultivar",
                "unknown",
                std::iter::once(("unknown".to_owned(), "I do not know its name".to_owned())).chain(named),
            ),
            halves: typed.choices("half", "north", Hemisphere::ALL.iter().map(|h| (h.word().to_owned(), first(h.label())))),
            sights: typed.choices("seen", "", Seen::ALL.iter().map(|s| (s.word().to_owned(), first(s.label())))),
            figs: typed.choices(
                "figs",
                "no",
                [("no", "No figs on it now"), ("yes", "Green figs on it now")].map(|(v, w)| (v.to_owned(), w.to_owned())),
            ),
            records: typed.choices(SITE, "", sites.iter().map(|s| (s.id.to_string(), s.name.as_str().to_owned()))),
            cover_open: changed(&cover, &[]),
            more_open: changed(&more, &["north", "8"]),
            place_open: changed(&place, &["open", "ground", "none"]) || changed(&season, &[]),
            site,
        }
    }
}
