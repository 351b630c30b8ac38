//! The spring answer in words: what it means, what to do next, and why.

use crate::jobs::spring::answer::SpringAnswer;
use crate::jobs::spring::question::{Seen, SpringQuestion};
use crate::model::trained::FittedFruiting;
use crate::science::cultivar::{CropHabit, FruitKind};
use crate::science::fruiting::autumn::Fate;
use crate::science::fruiting::shoots::ShootLength;
use crate::science::fruiting::year::CropOutlook;
use crate::science::hardiness::level::DamageLevel;
use crate::units::counted;
use crate::units::customary::METRES_PER_FOOT;

/// How long new shoots get by autumn.
pub fn shoots(length: ShootLength) -> String {
    let (middle, range) = (length.median_m(), length.range_90_m());
    let feet = |metres: f64| metres / METRES_PER_FOOT;
    let behind = match length.reports {
        0 => "a starting value, no report yet".to_owned(),
        n => format!("from {}", counted(n, "report", "reports")),
    };
    format!(
        "new shoots of about {middle:.1} m ({:.0} ft); nine plants in ten {:.1} to {:.1} m ({:.0} to {:.0} ft); {behind}",
        feet(middle),
        range.low,
        range.high,
        feet(range.low),
        feet(range.high)
    )
}

/// A chance as a grower says it: `4 in 10`.
pub fn chance(p: f64) -> String {
    match p {
        p if p <= 0.0 => "none".to_owned(),
        p if p < 0.01 => "less than 1 in 100".to_owned(),
        p if p < 0.035 => "about 1 in 50".to_owned(),
        p if p < 0.075 => "about 1 in 20".to_owned(),
        p if p > 0.99 => "more than 99 in 100".to_owned(),
        p if p > 0.925 => "more than 9 in 10".to_owned(),
        p => format!("{:.0} in 10", (10.0 * p).round().clamp(1.0, 9.0)),
    }
}

/// A sum of degree-days to the nearest ten, thousands parted.
pub fn tens(sum: f64) -> String {
    let whole = (sum / 10.0).round() as i64 * 10;
    if whole >= 1000 { format!("{},{:03}", whole / 1000, whole % 1000) } else { whole.to_string() }
}

/// A range of chances.
pub fn chances(low: f64, high: f64) -> String {
    let whole = |p: f64| (10.0 * p).round();
    match (chance(low), chance(high)) {
        (low, high) if low == high => low,
        (few, many) if whole(low) == whole(high) => format!("{few} to {many}"),
        _ => format!("{:.0} to {:.0} in 10", whole(low), whole(high)),
    }
}

/// A day of the year as a date.
pub fn day(question: &SpringQuestion, day: f64) -> String {
    question.date(day).strftime("%-d %B").to_string()
}

/// A word for the name of the plant.
pub fn name(answer: &SpringAnswer<'_>) -> String {
    answer.cultivar.map_or_else(|| "A fig of unknown name".to_owned(), |c| c.name.clone())
}

/// What is seen, briefly.
pub fn seen(seen: Seen) -> &'static str {
    match seen {
        Seen::Whole => "alive to the tips",
        Seen::Tips => "only the tips are dead",
        Seen::Wood => "much of the wood is dead",
        Seen::Base => "killed to the ground, shoots from the base",
        Seen::Green => "no growth yet, green under the bark",
        Seen::Brown => "no growth yet, brown to the ground",
        Seen::Nothing => "no growth yet",
    }
}

/// Which season the figs of the answer are of.
pub fn season(question: &SpringQuestion) -> &'static str {
    if question.winter_ahead { "next season" } else { "this year" }
}

/// What the winter left, as “a plant with …”.
pub fn state(level: DamageLevel) -> &'static str {
    match level {
        DamageLevel::Unharmed => "nothing dead",
        DamageLevel::Tips => "its tips dead",
        DamageLevel::Wood => "part of its wood dead",
        DamageLevel::ToGround | DamageLevel::Dead => "its top dead to the ground",
    }
}

/// How many reports stand behind the numbers of the page, and what stands there where none does.
pub fn learned(question: &SpringQuestion, answer: &SpringAnswer<'_>, lesson: Option<&FittedFruiting>) -> Vec<String> {
    let silent = match question.seen {
        Seen::Green => "lost part of their wood",
        _ => "died to the ground and lived",
    };
    let [own, all] = answer.first_figs;
    let name = answer.cultivar.map_or("a fig of unknown name", |c| c.name.as_str());
    let mut said = vec![
        match answer.shown_reports {
            0 => format!(
                "When plants that {silent} show growth: from the sources alone; no report with a date and its heat has come in yet."
            ),
            n => {
                format!("When plants that {silent} show growth: the sources, moved by {} of such plants.", counted(n, "report", "reports"))
            }
        },
        match (own.main, all.main) {
            (_, 0) => {
                "Heat the main crop needs: from the sources alone; nobody has reported when figs ripen, with the heat, yet.".to_owned()
            }
            (0, n) => format!(
                "Heat the main crop needs: nobody has reported when {name} ripens; the sources, moved by {} of other figs.",
                counted(n, "report", "reports")
            ),
            (own, n) => format!(
                "Heat the main crop needs: the sources, moved by {} of {name} and {} of other figs.",
                counted(own, "report", "reports"),
                n - own
            ),
        },
        match (own.breba, all.breba) {
            (_, 0) => "Heat the early crop needs: from the sources alone.".to_owned(),
            (own, n) => format!(
                "Heat the early crop needs: the sources, moved by {} of {name} and {} of other figs.",
                counted(own, "report", "reports"),
                n - own
            ),
        },
    ];
    if let Some(lesson) = lesson.filter(|lesson| lesson.heat_unknown + lesson.unclear > 0) {
        said.push(format!(
            "{} with such dates could not be used: {} without a daily record that counts their heat, {} whose damage was not plain or whose plant was not known to live.",
            counted(lesson.heat_unknown + lesson.unclear, "report", "reports"),
            lesson.heat_unknown,
            lesson.unclear
        ));
    }
    said
}

/// While nothing has moved: what winter may have left, how likely that is now, and the figs that would follow.
pub fn left(answer: &SpringAnswer<'_>) -> Vec<(&'static str, String, String)> {
    if answer.silent.is_none() {
        return Vec::new();
    }
    let names = ["nothing dead", "tips dead", "part of the wood dead", "dead to the ground, alive below", "dead"];
    names
        .into_iter()
        .zip(answer.levels)
        .zip(&answer.outlooks)
        .filter(|((_, p), _)| *p >= 0.01)
        .map(|((name, p), outlook)| (name, chance(p), chance(outlook.chance)))
        .collect()
}

/// Why the figs of this year stand as they do.
pub fn fig_reasons(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> Vec<String> {
    let traits = &answer.traits;
    let ground = answer.outlook_level >= DamageLevel::ToGround;
    let mut said = Vec::new();
    match traits.kind {
        Some(FruitKind::Smyrna) => said.push("It ripens nothing without the fig wasp.".to_owned()),
        Some(FruitKind::Caprifig) if traits.is_edible_caprifig() => {
            said.push("An edible caprifig: only its early crop is eaten, and that sits on last year's tips.".to_owned());
        }
        Some(FruitKind::Caprifig) => said.push("It is a pollinator; its figs are not eaten.".to_owned()),
        Some(FruitKind::SanPedro) if answer.outlook_level > DamageLevel::Unharmed => {
            said.push("Its early crop sat on last year's tips and went with them; the later one drops without the fig wasp.".to_owned());
        }
        Some(FruitKind::SanPedro) => said.push("Only its early crop ripens without the fig wasp.".to_owned()),
        None => {
            said.push("Its kind is not known: a kind that needs the wasp would give none, which is the low end of the range.".to_owned());
        }
        Some(FruitKind::Common) => {
            if answer.outlook_level > DamageLevel::Unharmed && traits.habit != Some(CropHabit::Main) {
                said.push("The early crop sat on last year's tips and is gone for this year.".to_owned());
            }
            if answer.outlook_level == DamageLevel::Wood && traits.fruits_on_regrowth == Some(false) {
                said.push("It does not bear on shoots from the base; after losing part of its wood half a chance is left to it, a starting value without a source.".to_owned());
            }
            if ground {
                said.push(match traits.fruits_on_regrowth {
                    Some(true) => "It bears on shoots from the base, so this year's figs are a matter of heat.".to_owned(),
                    Some(false) => "It does not bear on shoots from the base in their first season.".to_owned(),
                    None => "Nobody has recorded whether it bears on shoots from the base: of ten common figs for which it is known, seven do. The range keeps both answers.".to_owned(),
                });
            }
        }
    }
    let bears = traits.may_bear();
    let over = question.so_far().today.is_some_and(|today| today >= answer.curve.hard_frost());
    if over {
        said.push(format!(
            "The season is over here: the first night of −1\u{a0}°C (30\u{a0}°F) usually comes about {}. What is not ripe by then hardly ripens outside.",
            day(question, answer.curve.hard_frost())
        ));
    }
    if bears && answer.outlook.main.need.mean > 0.0 && traits.kind != Some(FruitKind::SanPedro) {
        let (need, heat) = (answer.outlook.main.need, answer.outlook.degree_days);
        said.push(format!(
            "From the day undamaged figs start to grow, its main crop needs about {} degree-days{}, give or take {}; the season brings {}, give or take {}, before the first night of −1\u{a0}°C (30\u{a0}°F).",
            tens(need.mean),
            if answer.outlook_level > DamageLevel::Unharmed { ", late start included" } else { "" },
            tens(need.sd),
            tens(heat.mean),
            tens(heat.sd)
        ));
    }
    said
}

/// A crop and its dates; `None` where it cannot come.
pub fn crop(question: &SpringQuestion, what: &str, crop: &CropOutlook) -> Option<String> {
    let days = crop.days?;
    let which = match crop.ripe_by_today {
        p if p < 0.05 => "In years in which it ripens".to_owned(),
        p => format!("Of the years in which it ripens, {} have had the first by now; in the others", chance(p)),
    };
    Some(format!(
        "{what}: {}. {which}, the first figs come between {} and {}, half of them by {}.",
        chance(crop.chance),
        day(question, days.early),
        day(question, days.late),
        day(question, days.middle)
    ))
}

/// What becomes of green figs, in words.
pub fn fate(fate: Fate) -> &'static str {
    match fate {
        Fate::Ripens => "more likely than not to ripen: leave them",
        Fate::MayRipen => "may ripen: leave the largest, take off the rest",
        Fate::Lost => "will hardly ripen: take them off",
        Fate::NextYear => "may be next summer's early figs, if the tips live: leave them",
    }
}
