//! The usual changes to a shelter as the form offers them: what each is, what is made already and when, what it costs, which are compared together.

use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::field::{Field, MadeField};
use crate::jobs::shelter::form_parts::{Tightness, layer, names};
use crate::jobs::shelter::input::{ChangeInput, LayerInput, StateInput};
use crate::records::shelter_report::ShelterChange as Offer;
use crate::science::shelter::shape::{Measures, ShapeKind};

/// Rows of changes that are made already.
pub const STATE_ROWS: usize = 4;
/// Height of boards offered, m: bench height (Bartok: side and end walls to bench height).
const BOARDS_M: f64 = 1.2;
/// What the shelter was before any change of the list.
const AT_FIRST: &str = "as it was at first";

/// What a change is worked out from.
#[derive(Clone, Copy)]
pub(super) struct Shaped<'a> {
    pub kind: ShapeKind,
    pub measures: &'a Measures,
    pub water_litres: f64,
}

/// Foam board of 25 mm to a height: on the walls, or along both sides of a hoop's cover.
pub(super) fn boards(kind: ShapeKind, m: &Measures, height_m: f64) -> (&'static str, LayerInput) {
    let (walls, cover) = names(kind);
    let (name, share) = match kind {
        // Both long sides: the floor's edge less two ends is about two lengths.
        ShapeKind::Hoop => (cover, 2.0 * height_m * (m.volume_m3 / (m.walls_m2 / 2.0)) / m.roof_m2),
        _ => (walls, height_m * m.perimeter_m / m.walls_m2),
    };
    (name, LayerInput { thickness_mm: Some(25.0), ..layer("board_eps", share) })
}

fn change(offer: Offer, of: Shaped<'_>) -> ChangeInput {
    let (_, roof) = names(of.kind);
    let laid = |l: LayerInput| ChangeInput { layers: vec![l], ..ChangeInput::default() };
    let made = match offer {
        Offer::Second => laid(layer("second_cover", 1.0)),
        Offer::SecondLoose => laid(layer("second_cover_loose", 1.0)),
        Offer::Boards => {
            let (part, board) = boards(of.kind, of.measures, BOARDS_M);
            laid(LayerInput { part: Some(part.to_owned()), ..board })
        }
        Offer::Bubble => laid(layer("bubble_lining", 1.0)),
        Offer::Screen => laid(LayerInput { part: Some(roof.to_owned()), ..layer("thermal_screen", 1.0) }),
        Offer::Seal => ChangeInput { air_changes_per_hour: Some(Tightness::Tight.air_changes()), ..ChangeInput::default() },
        Offer::Edge => ChangeInput { perimeter_edge: Some("vertical_2ft_r10".to_owned()), ..ChangeInput::default() },
        Offer::Water => ChangeInput { water_litres: Some(of.water_litres + 400.0), ..ChangeInput::default() },
    };
    ChangeInput { name: offer.label().to_owned(), ..made }
}

/// What was changed, row by row, each with its date; the first state is the shelter as described.
pub(super) fn states(f: &mut ScaledFields<'_>, of: Shaped<'_>) -> (Vec<StateInput>, Vec<Offer>) {
    let mut states = Vec::new();
    let mut made = Vec::new();
    for row in 1..=STATE_ROWS {
        let (what, since) = (Field::Made(row, MadeField::What), Field::Made(row, MadeField::Since));
        let date = date(f, since);
        let Some(offer) = f.word::<Offer>(what) else {
            if f.text(since).is_some() && f.text(what).is_none() {
                f.errors().add(what, "", "What was changed on that day?");
            }
            continue;
        };
        if date.is_none() && f.text(since).is_none() {
            f.errors().add(since, "", "From which night on? Readings are told apart by it.");
        }
        if made.contains(&offer) {
            f.errors().add(what, offer.word(), "This change stands above already.");
        }
        let change = change(offer, of);
        made.push(offer);
        states.push(StateInput {
            name: change.name,
            since: date,
            layers: change.layers,
            air_changes_per_hour: change.air_changes_per_hour,
            perimeter_edge: change.perimeter_edge,
            water_litres: change.water_litres,
            ..StateInput::default()
        });
    }
    if !states.is_empty() {
        states.insert(0, StateInput { name: AT_FIRST.to_owned(), ..StateInput::default() });
    }
    (states, made)
}

/// A day as a date field sends it.
pub(super) fn date(f: &mut ScaledFields<'_>, field: Field) -> Option<jiff::civil::Date> {
    let typed = f.text(field)?;
    let read = typed.parse::<jiff::civil::Date>().map_err(|_| format!("“{typed}” is not a date; write it as 2026-01-31"));
    f.errors().keep(&field.name(), typed, read)
}

/// The usual changes, less what stands already.
pub(super) fn offered(f: &ScaledFields<'_>, made: &[Offer], tightness: Tightness, boards_stand: bool) -> Vec<Offer> {
    let second = f.text(Field::SecondSkin).is_some() || made.iter().any(|o| matches!(o, Offer::Second | Offer::SecondLoose));
    let stands = |offer: Offer| {
        made.contains(&offer)
            || match offer {
                Offer::Second => second,
                // A loose skin is what some have, not what one sets out to make.
                Offer::SecondLoose => true,
                Offer::Boards => boards_stand,
                Offer::Bubble => f.text(Field::BubbleLining).is_some(),
                Offer::Seal => tightness == Tightness::Tight,
                Offer::Screen | Offer::Edge | Offer::Water => false,
            }
    };
    Offer::ALL.iter().copied().filter(|o| !stands(*o)).collect()
}

/// The offers as changes with the prices typed, and those ticked as one set.
pub(super) fn changes(f: &mut ScaledFields<'_>, offers: &[Offer], of: Shaped<'_>) -> (Vec<ChangeInput>, Vec<Vec<String>>) {
    let changes: Vec<ChangeInput> =
        offers.iter().map(|&offer| ChangeInput { cost: f.number(Field::Cost(offer)), ..change(offer, of) }).collect();
    let ticked: Vec<String> =
        offers.iter().filter(|offer| f.text(Field::Compared(**offer)).is_some()).map(|offer| offer.label().to_owned()).collect();
    let sets = if ticked.len() > 1 { vec![ticked] } else { Vec::new() };
    (changes, sets)
}
