//! `/cultivars`: the catalogue, searched by any name and filtered by trait.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};

use crate::address;
use crate::catalogue::Cultivar;
use crate::input::fields::Fields;
use crate::jobs::cultivars::page_ladder::{own_axis, own_thresholds};
use crate::jobs::shortlist::page_site_form::want_fields;
use crate::jobs::shortlist::wants::{FILTERS, Wants, looks};
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::cultivar::{CropHabit, FruitKind, HardinessClass};
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::charts::ladder::Ladder;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// The catalogue page.
#[derive(Template, WebTemplate)]
#[template(path = "cultivars/cultivars.html")]
pub struct CultivarsPage {
    frame: Frame,
    typed: Typed,
    wants: Vec<(&'static str, &'static str, Vec<Choice>)>,
    classes: Vec<Choice>,
    lines: Vec<Line>,
    ticks_c: Vec<Tick>,
    ticks_f: Vec<Tick>,
    /// Addresses of both orders, and whether the hardiest stand first.
    orders: [(&'static str, String, bool); 2],
    offers: Vec<(String, String)>,
    total: usize,
    filtered: bool,
    /// Whether one of the lists is set, which then stand open.
    narrowed: bool,
    unknown: &'static str,
}

/// One cultivar of the list.
struct Line {
    slug: String,
    name: String,
    also: String,
    kind: &'static str,
    crop: &'static str,
    class: String,
    regrowth: &'static str,
    ripening: &'static str,
    skin: String,
    looks: String,
    reports: usize,
    ladder: Ladder,
    /// Ground-kill of half of established trees, °C: by it the hardiest come first; a guess comes after all others.
    order: (bool, f64),
}

/// The word for what nobody knows.
pub const NOT_KNOWN: &str = "not known";
/// The parameter of the order, and its word for the hardiest first; by name otherwise.
const ORDER: &str = "order";
const HARDIEST: &str = "hardiest";
/// The value of a filter that asks for what is not known.
const UNKNOWN: &str = "unknown";

/// Lists the cultivars that the search and every filter leave.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> CultivarsPage {
    let snapshot = state.snapshot();
    let mut read = Fields::lenient(&pairs, &FILTERS);
    let wants = Wants { wish: None, ..Wants::read(&mut read) };
    let errors = read.errors;
    page(frame, &snapshot, Typed::new(pairs, errors), wants)
}

fn page(frame: Frame, snapshot: &Snapshot, typed: Typed, wants: Wants) -> CultivarsPage {
    let query = typed.text("q").to_owned();
    let kept = |cultivar: &Cultivar| {
        let fits = |name: &str, value: Option<String>| match typed.text(name) {
            "" => true,
            UNKNOWN => value.is_none(),
            wanted => value.as_deref() == Some(wanted),
        };
        fits("class", cultivar.hardiness_class.known().map(|c| c.to_string())) && wants.fit(cultivar)
    };
    let found = snapshot.catalogue.search(&query);
    let offers = if found.is_empty() {
        snapshot.catalogue.did_you_mean(&query).into_iter().map(|c| (c.slug.to_string(), c.name.clone())).collect()
    } else {
        Vec::new()
    };
    let standing = |slug: &str| snapshot.standing(slug);
    let axis = own_axis();
    let drawn = |c: &Cultivar| standing(c.slug.as_str()).map(|standing| line(c, standing, snapshot, axis, &frame));
    let mut lines: Vec<Line> = found.into_iter().filter(|c| kept(c)).filter_map(drawn).collect();
    // By name, for a reader looks a name up; the catalogue's own order is that of its sources.
    lines.sort_by_cached_key(|line| line.name.to_lowercase());
    let hardiest = typed.text(ORDER) == HARDIEST;
    if hardiest {
        lines.sort_by(|a, b| a.order.0.cmp(&b.order.0).then(a.order.1.total_cmp(&b.order.1)));
    }
    let filters = ["q", "class"].into_iter().chain(FILTERS).filter(|name| !typed.text(name).is_empty());
    let filtered: Vec<(&str, &str)> = filters.map(|name| (name, typed.text(name))).collect();
    let by_hardiness = address::CULTIVARS.with(filtered.iter().copied().chain([(ORDER, HARDIEST)]));
    let orders = [("by name", address::CULTIVARS.with(filtered.iter().copied()), !hardiest), ("hardiest first", by_hardiness, hardiest)];
    let known = |all: Vec<(String, String)>| all.into_iter().chain([(UNKNOWN.to_owned(), "Not known".to_owned())]);
    CultivarsPage {
        wants: want_fields(&typed),
        orders,
        ticks_c: axis.ticks_c(),
        ticks_f: axis.ticks_f(),
        classes: typed.choices("class", "", known(HardinessClass::all().map(|c| (c.to_string(), class_words(c))).collect())),
        filtered: typed.any(&["q", "class"]) || typed.any(&FILTERS),
        narrowed: typed.given("class") || typed.any(&FILTERS),
        total: snapshot.standings.len(),
        unknown: NOT_KNOWN,
        frame,
        typed,
        lines,
        offers,
    }
}

/// A class with what it means.
pub fn class_words(class: HardinessClass) -> String {
    let words = match class.number() {
        1 => "tender",
        2 => "rather tender",
        3 => "middling",
        4 => "hardy",
        _ => "very hardy",
    };
    format!("{class}: {words}")
}

/// A kind of fruit in a word or two.
const fn kind_words(kind: FruitKind) -> &'static str {
    match kind {
        FruitKind::Common => "common",
        FruitKind::SanPedro => "San Pedro",
        FruitKind::Smyrna => "Smyrna",
        FruitKind::Caprifig => "caprifig",
    }
}

fn line(cultivar: &Cultivar, standing: &CultivarModel, snapshot: &Snapshot, axis: TemperatureAxis, frame: &Frame) -> Line {
    let thresholds = own_thresholds(snapshot, standing);
    let memory = cultivar.hardiness_class.provenance.rests_on_memory_alone();
    Line {
        slug: cultivar.slug.to_string(),
        name: cultivar.name.clone(),
        also: cultivar.names().skip(1).collect::<Vec<_>>().join(", "),
        kind: match cultivar.fruit_kind.known() {
            Some(kind) => kind_words(kind),
            None => NOT_KNOWN,
        },
        crop: match cultivar.crop_habit.known() {
            Some(CropHabit::Breba) => "early crop",
            Some(CropHabit::Main) => "main crop",
            Some(CropHabit::Both) => "both crops",
            None => NOT_KNOWN,
        },
        class: match cultivar.hardiness_class.known() {
            Some(class) if memory => format!("{} (from memory)", class_words(class)),
            Some(class) => class_words(class),
            None => NOT_KNOWN.to_owned(),
        },
        regrowth: match cultivar.fruits_on_regrowth.known() {
            Some(true) => "yes",
            Some(false) => "no",
            None => NOT_KNOWN,
        },
        ripening: cultivar.ripening.known().map_or(NOT_KNOWN, |r| r.label()),
        skin: cultivar.skin_colour.value.clone().unwrap_or_else(|| NOT_KNOWN.to_owned()),
        looks: looks(cultivar),
        reports: standing.reports,
        ladder: Ladder::with_marks(&thresholds, axis, Vec::new(), frame),
        order: (standing.is_guess(), thresholds.t50[2].degrees()),
    }
}
