//! A member's figs today, in words.

use crate::jobs::home::my_figs::{GroupNow, MyFigs};
use crate::jobs::home::this_week::WeekAhead;
use crate::jobs::season::dates::day_words;
use crate::jobs::season::words::{Calendar, in_one_line, steps};
use crate::jobs::spring::words::chance;
use crate::jobs::warnings::tonight::{self, AtRisk};
use crate::jobs::warnings::words::percent;
use crate::records::WarningMeasure;
use crate::science::numeric::Z_90;
use crate::science::site::Culture;
use crate::units::{Celsius, counted};

/// A group as it is named: `3 × Celeste, in a pot, third winter`.
pub fn group_words(now: &GroupNow) -> String {
    const WINTERS: [&str; 3] = ["first winter", "second winter", "third winter"];
    let group = &now.group;
    let stands = if group.culture == Culture::Ground { "in the ground" } else { "in a pot" };
    let winters = group.years.and_then(|years| WINTERS.get(usize::from(years))).map(|words| format!(", {words}")).unwrap_or_default();
    let many = if group.plants == 1 { String::new() } else { format!("{} × ", group.plants) };
    format!("{many}{}, {stands}{winters}", group.name)
}

/// How far a group has hardened.
pub fn hardened_words(now: &GroupNow) -> String {
    match now.hardened {
        None => "in growth".to_owned(),
        Some(share) if share > 0.95 => "fully hardened".to_owned(),
        Some(share) if share < 0.05 => "not hardened yet".to_owned(),
        Some(share) => format!("hardened {} in 10 of the way", (10.0 * share).round().clamp(1.0, 9.0)),
    }
}

/// Which night harms a group now, and how likely one is within a week.
pub fn risk_words(now: &GroupNow, cold: &dyn Fn(Celsius) -> String) -> (String, String) {
    let what = if now.hardened.is_some() { "a night below" } else { "leaves hurt below" };
    match (now.harmed_below, now.this_week) {
        (Some(below), Some(p)) => {
            let night = now.likeliest.map(|evening| format!(", {}", evening.strftime("%a"))).unwrap_or_default();
            (format!("{what} {}", cold(below)), format!("{}{night}", chance(p)))
        }
        _ => ("no night that comes".to_owned(), chance(0.0)),
    }
}

/// The coldest of the coming nights as forecast, and who is most at risk in it.
pub fn week_words(week: &WeekAhead, risk: Option<&AtRisk>, measure: WarningMeasure, cold: &dyn Fn(Celsius) -> String) -> String {
    let Some(night) = week.coldest() else { return String::new() };
    let degrees = |c: f64| Celsius::new(c).map_or_else(|_| "unknown".to_owned(), cold);
    let date = night.evening.strftime("%A, %-d %B");
    let about = format!(
        "about {}, nine times in ten between {} and {}",
        degrees(night.minimum_c),
        degrees(night.minimum_c - Z_90 * night.sd_k),
        degrees(night.minimum_c + Z_90 * night.sd_k)
    );
    let Some(risk) = risk else {
        return format!("The coldest of the coming nights is that of {date}: {about}. It comes near no fig.");
    };
    let measure = if measure == WarningMeasure::Minutes { WarningMeasure::Wood } else { measure };
    let rows = risk.answer.plan.iter().zip(&risk.names).map(|(row, name)| (tonight::chance(row, measure), name));
    let worst = rows.max_by(|a, b| a.0.total_cmp(&b.0));
    let who = worst.map(|(p, name)| format!(" Most at risk if nothing is done: {name}, {} that {}.", percent(p), measure.label()));
    format!("The coldest of the coming nights is that of {date}: {about}.{}", who.unwrap_or_default())
}

/// When it wakes, and how long to wait.
pub fn rest_words(figs: &MyFigs) -> String {
    let day = |day| day_words(day, figs.hemisphere);
    if figs.asleep {
        return format!(
            "Asleep. The first wake about {} in a usual year here; whatever looks dead then is not dug out before {}.",
            day(figs.wakes),
            day(figs.not_dead_before)
        );
    }
    format!(
        "In growth. Leaves fall from about {} on in a usual year here; what has shown nothing since spring is not dug out before {}.",
        day(figs.leaf_fall),
        day(figs.not_dead_before)
    )
}

/// What the young ones ask for, in one line; `None` where there is none, or it is not the time.
pub fn young_words(figs: &MyFigs, cold: &dyn Fn(Celsius) -> String) -> Option<String> {
    let calendar = Calendar { today: figs.today, hemisphere: figs.hemisphere, cold };
    let steps = steps(figs.young.as_ref()?, &calendar);
    (!steps.is_empty()).then(|| in_one_line(&steps))
}

/// Kinds that are left out.
pub fn more_words(figs: &MyFigs) -> Option<String> {
    (figs.more > 0).then(|| format!("and {} with fewer plants", counted(figs.more, "further group", "further groups")))
}
