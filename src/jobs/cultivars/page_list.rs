//! `/cultivars`: the catalogue, searched by any name and filtered by trait.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};

use crate::catalogue::Cultivar;
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::cultivar::{CropHabit, FruitKind, HardinessClass};
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// The catalogue page.
#[derive(Template, WebTemplate)]
#[template(path = "cultivars/cultivars.html")]
pub struct CultivarsPage {
    frame: Frame,
    typed: Typed,
    kinds: Vec<Choice>,
    classes: Vec<Choice>,
    regrowth: Vec<Choice>,
    lines: Vec<Line>,
    offers: Vec<(String, String)>,
    total: usize,
    filtered: bool,
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
    reports: usize,
}

/// The word for what nobody knows.
pub const NOT_KNOWN: &str = "not known";
/// The value of a filter that asks for what is not known.
const UNKNOWN: &str = "unknown";

/// Lists the cultivars that the search and every filter leave.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> CultivarsPage {
    let snapshot = state.snapshot();
    let typed = Typed::new(pairs, crate::input::errors::FieldErrors::default());
    page(frame, &snapshot, typed)
}

fn page(frame: Frame, snapshot: &Snapshot, typed: Typed) -> CultivarsPage {
    let query = typed.text("q").to_owned();
    let kept = |cultivar: &Cultivar| {
        let fits = |name: &str, value: Option<String>| match typed.text(name) {
            "" => true,
            UNKNOWN => value.is_none(),
            wanted => value.as_deref() == Some(wanted),
        };
        fits("kind", cultivar.fruit_kind.known().map(|k| k.word().to_owned()))
            && fits("class", cultivar.hardiness_class.known().map(|c| c.to_string()))
            && fits("regrowth", cultivar.fruits_on_regrowth.known().map(|r| if r { "yes" } else { "no" }.to_owned()))
    };
    let found = snapshot.catalogue.search(&query);
    let offers = if found.is_empty() {
        snapshot.catalogue.did_you_mean(&query).into_iter().map(|c| (c.slug.to_string(), c.name.clone())).collect()
    } else {
        Vec::new()
    };
    let standing = |slug: &str| snapshot.standing(slug);
    let mut lines: Vec<Line> = found.into_iter().filter(|c| kept(c)).map(|c| line(c, standing(c.slug.as_str()))).collect();
    // By name, for a reader looks a name up; the catalogue's own order is that of its sources.
    lines.sort_by_cached_key(|line| line.name.to_lowercase());
    let known = |all: Vec<(String, String)>| all.into_iter().chain([(UNKNOWN.to_owned(), "Not known".to_owned())]);
    CultivarsPage {
        kinds: typed.choices("kind", "", known(FruitKind::ALL.iter().map(|k| (k.word().to_owned(), kind_words(*k).to_owned())).collect())),
        classes: typed.choices("class", "", known(HardinessClass::all().map(|c| (c.to_string(), class_words(c))).collect())),
        regrowth: typed.choices("regrowth", "", known([("yes", "Yes"), ("no", "No")].map(|(v, w)| (v.to_owned(), w.to_owned())).to_vec())),
        filtered: typed.any(&["q", "kind", "class", "regrowth"]),
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

fn line(cultivar: &Cultivar, standing: Option<&CultivarModel>) -> Line {
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
        reports: standing.map_or(0, |s| s.reports),
    }
}
