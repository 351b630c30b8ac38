//! `/nursery/labels`: labels for beds and pots, several to a page, and the stylesheet of a sheet of given measures.

use std::collections::BTreeMap;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::verdicts::in_brief;
use crate::jobs::nursery::counter::KnownStock;
use crate::jobs::nursery::form::form_words;
use crate::jobs::nursery::labels::{FIELDS, LabelSheet, MOST_LABELS, PRESETS, preset};
use crate::jobs::nursery::page::{Pairs, belonging, nurseries};
use crate::jobs::nursery::page_sheets::{question_pairs, under_where};
use crate::jobs::nursery::service::place_typed;
use crate::jobs::reports::form::NURSERY;
use crate::jobs::shortlist::page::sheet;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::{Nursery, StockLine};
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::shortlist::RankBy;
use crate::units::counted;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::square::square;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// Field of the preset that is chosen; `own` takes the numbers.
const SIZE: &str = "size";
/// Fields of the page beside the measures.
const CHOICES: [&str; 5] = [SIZE, "where", "culture", "price", "copies"];

/// One label.
#[derive(Clone)]
struct LabelView {
    name: String,
    form: String,
    /// Whether it lives and bears where the nursery is.
    verdict: String,
    class: String,
    price: String,
    /// Which of the page's square codes.
    square: Option<usize>,
}

#[derive(Template, WebTemplate)]
#[template(path = "nursery/labels.html")]
struct LabelsPage {
    frame: Frame,
    /// Page by page.
    pages: Vec<Vec<LabelView>>,
    /// Square codes, each drawn once however many labels bear it; their ids are `q` and their place.
    squares: Vec<String>,
    /// Address of the stylesheet of this sheet.
    stylesheet: Option<String>,
    /// What is printed, in words.
    said: String,
    /// Fields that would be remembered for the next print; none where they are already.
    remember: Pairs,
    /// What was left out, and why.
    left_out: Option<String>,
    sizes: Vec<Choice>,
    units: Vec<Choice>,
    cultures: Vec<Choice>,
    copies: Vec<Choice>,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// Chances of the figs in stock at a place, by slug: of dying in a winter, and of ripe figs in a year.
fn verdicts(snapshot: &Snapshot, question: &Question) -> BTreeMap<String, String> {
    let site = question.site(&snapshot.priors);
    let heat = SeasonDegreeDays::from_season(&site.season, &snapshot.fruit_priors);
    let rows = snapshot.rank(&site, heat, RankBy::Alive);
    rows.iter()
        .filter_map(|row| {
            let fig = snapshot.catalogue.cultivars().get(row.key)?;
            Some((fig.slug.to_string(), in_brief(row.winter.chance.dead, row.ripe_share)))
        })
        .collect()
}

/// The measures that hold: of the preset, or the numbers typed.
fn measures(pairs: &Pairs) -> Pairs {
    let of = pairs.iter().find(|(name, _)| name == SIZE).and_then(|(_, size)| size.parse::<usize>().ok()).and_then(preset);
    of.unwrap_or_else(|| pairs.iter().filter(|(name, _)| FIELDS.contains(&name.as_str())).cloned().collect())
}

/// What the labels say of a place.
struct OfPlace<'a> {
    snapshot: &'a Snapshot,
    verdicts: BTreeMap<String, String>,
    query: Option<String>,
    frame: &'a Frame,
    with_price: bool,
    squares: Vec<String>,
    /// Place of a fig's square among them, by slug.
    drawn: BTreeMap<String, Option<usize>>,
}

impl OfPlace<'_> {
    /// The square of a fig: to its sheet for the place, or to its page where no place is known.
    fn square(&mut self, slug: &str) -> Option<usize> {
        if let Some(drawn) = self.drawn.get(slug) {
            return *drawn;
        }
        let address = self.frame.whole(&self.query.as_ref().map_or_else(|| address::cultivar(slug), |query| sheet(slug, query)));
        let drawn = self.frame.knows_its_host().then(|| square(&address)).flatten().map(|drawn| {
            let place = self.squares.len();
            self.squares.push(drawn.replacen("<svg", &format!("<svg id=\"q{place}\""), 1));
            place
        });
        self.drawn.insert(slug.to_owned(), drawn);
        drawn
    }

    fn label(&mut self, line: &StockLine, slug: Option<&str>) -> LabelView {
        let class = slug.and_then(|slug| self.snapshot.standing(slug)).and_then(|standing| standing.class);
        let drawn = slug.and_then(|slug| self.square(slug));
        LabelView {
            name: line.item.name.clone(),
            form: form_words(&line.item),
            verdict: slug.and_then(|slug| self.verdicts.get(slug)).cloned().unwrap_or_default(),
            class: class.map(|class| format!("Hardiness class {}", class.number())).unwrap_or_default(),
            price: line.item.price.as_ref().filter(|_| self.with_price).map(ToString::to_string).unwrap_or_default(),
            square: drawn,
        }
    }
}

/// `GET /nursery/labels`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let nursery = match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => nursery,
        Err(start) => return Ok(start),
    };
    let asked = pairs.iter().any(|(name, value)| (name == SIZE || name == "columns") && !value.trim().is_empty());
    if !asked {
        // The sheet that was printed last.
        let kept: Pairs = form_urlencoded::parse(nursery.label.as_bytes()).into_owned().collect();
        return Ok(page(frame, &nursery, kept, FieldErrors::default()).into_response());
    }
    let read = question_pairs(&pairs, &nursery);
    let has_place = read.iter().any(|(name, _)| matches!(name.as_str(), "zone" | "place" | "yearly_minimum_c"));
    let question = if has_place { Some(Question::parse(&read, false)) } else { None };
    let measured = measures(&pairs);
    let mut wrong = FieldErrors::default();
    let sheet =
        LabelSheet::read(&measured).map_err(|errors| errors.iter().for_each(|e| wrong.add(e.field.clone(), &e.value, &e.message))).ok();
    let question = match question {
        Some(Ok(question)) => Some(question),
        Some(Err(errors)) => {
            under_where(&errors).iter().for_each(|e| wrong.add(e.field.clone(), &e.value, &e.message));
            None
        }
        None => None,
    };
    let (Some((sheet, _)), true) = (sheet, wrong.is_empty()) else {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &nursery, pairs, wrong)).into_response());
    };
    let snapshot = state.snapshot();
    let stock = state.store.stock(nursery.id).await?;
    let (labels, squares, left_out) = labels(&frame, &snapshot, &stock, question.as_ref(), &nursery, &pairs);
    let (width, height) = sheet.label();
    let said = format!(
        "{} of {width:.1} × {height:.1} mm ({:.2} × {:.2} in) on {}",
        counted(labels.len(), "label", "labels"),
        width / 25.4,
        height / 25.4,
        counted(labels.len().div_ceil(sheet.on_a_page()), "page", "pages")
    );
    let kept = kept(&pairs);
    let shown = page(frame, &nursery, pairs, FieldErrors::default());
    Ok(LabelsPage {
        remember: if form_urlencoded::Serializer::new(String::new()).extend_pairs(&kept).finish() == nursery.label {
            Vec::new()
        } else {
            kept
        },
        pages: labels.chunks(sheet.on_a_page()).map(<[LabelView]>::to_vec).collect(),
        stylesheet: Some(address::NURSERY_LABELS_CSS.with(measured)),
        squares,
        said,
        left_out,
        ..shown
    }
    .into_response())
}

/// The fields that are remembered for the next print.
fn kept(pairs: &Pairs) -> Pairs {
    let is_known = |name: &str| CHOICES.contains(&name) || FIELDS.contains(&name);
    pairs.iter().filter(|(name, value)| is_known(name) && !value.trim().is_empty() && value.len() <= 80).cloned().collect()
}

/// `POST /nursery/labels`: these sizes for the next print.
pub async fn remember(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let nursery = nurseries(&state).needed(&who.member).await?;
    if let Err(errors) = LabelSheet::read(&measures(&pairs)) {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &nursery, pairs, errors)).into_response());
    }
    let kept = kept(&pairs);
    let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(&kept).finish();
    nurseries(&state).keep_label(&nursery, query).await?;
    Ok(Redirect::to(&address::NURSERY_LABELS.with(kept)).into_response())
}

/// The labels of a stock, and what was left out of them.
fn labels(
    frame: &Frame,
    snapshot: &Snapshot,
    stock: &[StockLine],
    question: Option<&Question>,
    nursery: &Nursery,
    pairs: &Pairs,
) -> (Vec<LabelView>, Vec<String>, Option<String>) {
    let is = |name: &str, value: &str| pairs.iter().any(|(key, typed)| key == name && typed == value);
    let known = KnownStock::new(snapshot, stock, false);
    let slug_of = |line: &StockLine| {
        let kind = known.kinds.iter().find(|(_, lines)| lines.iter().any(|other| other.id == line.id));
        kind.and_then(|(place, _)| snapshot.catalogue.cultivars().get(*place)).map(|fig| fig.slug.to_string())
    };
    let mut of_place = OfPlace {
        snapshot,
        verdicts: question.map(|question| verdicts(snapshot, question)).unwrap_or_default(),
        query: question.map(|question| format!("{}&{NURSERY}={}", question.planting_query(), nursery.code)),
        frame,
        with_price: is("price", "yes"),
        squares: Vec::new(),
        drawn: BTreeMap::new(),
    };
    let each = is("copies", "each");
    let mut labels = Vec::new();
    let mut wanted = 0;
    for line in stock.iter().filter(|line| line.count > 0) {
        let copies = if each { usize::try_from(line.count).unwrap_or(1) } else { 1 };
        wanted += copies;
        let room = MOST_LABELS.saturating_sub(labels.len()).min(copies);
        if room > 0 {
            let label = of_place.label(line, slug_of(line).as_deref());
            labels.extend(std::iter::repeat_n(label, room));
        }
    }
    let left_out =
        (wanted > labels.len()).then(|| format!("{MOST_LABELS} labels are printed at once; {} more are left out.", wanted - labels.len()));
    (labels, of_place.squares, left_out)
}

fn page(frame: Frame, nursery: &Nursery, mut pairs: Pairs, errors: FieldErrors) -> LabelsPage {
    if pairs.iter().all(|(name, _)| name != "where") {
        pairs.push(("where".to_owned(), place_typed(&nursery.place)));
    }
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let sizes = PRESETS.iter().enumerate().map(|(place, (name, _))| (place.to_string(), (*name).to_owned()));
    let sizes = sizes.chain([("own".to_owned(), "By the numbers below".to_owned())]);
    let words = |pairs: [(&str, &str); 2]| pairs.map(|(v, w)| (v.to_owned(), w.to_owned()));
    LabelsPage {
        pages: Vec::new(),
        squares: Vec::new(),
        stylesheet: None,
        said: String::new(),
        left_out: None,
        remember: Vec::new(),
        sizes: typed.choices(SIZE, "0", sizes),
        units: typed.choices("unit", "mm", words([("mm", "Millimetres"), ("in", "Inches")])),
        cultures: typed.choices("culture", "ground", words([("ground", "In the ground"), ("container", "In a pot")])),
        copies: typed.choices("copies", "kind", words([("kind", "One for each line of stock"), ("each", "One for each plant")])),
        typed,
        errors: listed,
        frame,
    }
}

/// `GET /nursery/labels.css`: numbers become rules, nothing else comes into it.
pub async fn stylesheet(_who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let pairs = if pairs.is_empty() { preset(0).unwrap_or_default() } else { pairs };
    let (sheet, _) = LabelSheet::read(&pairs)?;
    Ok(([(CONTENT_TYPE, "text/css; charset=utf-8")], sheet.stylesheet()).into_response())
}
