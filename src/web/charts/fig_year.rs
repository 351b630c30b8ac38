//! A year at a place for a few figs: frost, growth, and when each crop ripens, on one bar of months.

use crate::science::climate::season::{CREST_DAY_NORTH, Season};
use crate::science::climate::spring_nights::SpringNights;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::DegreeDayCurve;
use crate::science::fruiting::year::RipeDays;
use crate::web::charts::axis::percent;
use crate::web::charts::season_bar::{MonthTick, Stretch, months};

/// Days of the year of season days.
const DAYS: f64 = 365.0;
/// Height of a line of words, of a bar, and of the room below one, px.
const WORDS: usize = 18;
const BAR: usize = 12;
const ROOM: usize = 3;
/// Shares of years by which the edges of frost are drawn.
const EARLY: f64 = 0.1;
const LATE: f64 = 0.9;

/// A crop of a fig: its name, class of its colour, and its days.
pub type Crop = (&'static str, &'static str, RipeDays);

/// A bar from the day that one year in ten has reached to that of nine in ten, with a mark at the middle.
pub struct RipeBar {
    /// Left end, %.
    pub x: String,
    /// Length, %.
    pub width: String,
    /// Middle, %.
    pub middle: String,
    /// Top edge, px.
    pub y: usize,
    /// Class of its colour.
    pub class: &'static str,
}

/// One fig.
pub struct FigLane {
    /// Its name.
    pub name: String,
    /// Base line of its name, px.
    pub words_at: usize,
    /// Its crops; none where nothing ripens.
    pub bars: Vec<RipeBar>,
}

/// A line of the table: what, and the days by which it has come in one, five and nine years of ten.
pub type DayLine = (String, [String; 3]);

/// The picture.
pub struct FigYear {
    /// Frost: sure, may be, free.
    pub frost: Vec<Stretch>,
    /// Growth: from its start to the first hard frost.
    pub growth: Stretch,
    /// Figs.
    pub lanes: Vec<FigLane>,
    /// Months.
    pub months: Vec<MonthTick>,
    /// Top of the axis, px.
    pub axis_top: usize,
    /// Height of the whole, px.
    pub height: usize,
    /// In words.
    pub description: String,
    /// The days of all that is drawn.
    pub table: Vec<DayLine>,
}

fn place(day: f64) -> f64 {
    (100.0 * day / DAYS).clamp(0.0, 100.0)
}

fn stretch(from: f64, to: f64, class: &'static str) -> Stretch {
    Stretch { x: percent(place(from)), width: percent((place(to) - place(from)).max(0.0)), class }
}

impl FigYear {
    /// Draws a season with figs; `day` writes a day of the year.
    pub fn new(
        season: &Season,
        curve: &DegreeDayCurve,
        figs: impl IntoIterator<Item = (String, Vec<Crop>)>,
        hemisphere: Hemisphere,
        day: &dyn Fn(f64) -> String,
    ) -> Self {
        let nights = SpringNights::from_season(season);
        // The last frost of spring has passed by then in one year of ten, five, nine; the first of autumn has come.
        let spring = [LATE, 0.5, EARLY].map(|still| nights.safe_from(0.0, 0.0, still));
        let autumn = [EARLY, 0.5, LATE].map(|come| nights.until(CREST_DAY_NORTH, 0.0, come).unwrap_or(DAYS));
        let frost = vec![
            stretch(0.0, spring[0], "frost-sure"),
            stretch(spring[0], spring[2], "frost-may"),
            stretch(spring[2], autumn[0], "frost-free"),
            stretch(autumn[0], autumn[2], "frost-may"),
            stretch(autumn[2], DAYS, "frost-sure"),
        ];
        let mut table = vec![("Last frost of spring".to_owned(), spring.map(day)), ("First frost of autumn".to_owned(), autumn.map(day))];
        let mut top = WORDS + BAR + ROOM + WORDS + BAR + ROOM;
        let mut lanes = Vec::new();
        for (name, crops) in figs {
            let words_at = top + WORDS - 4;
            top += WORDS;
            let mut bars = Vec::new();
            for (what, class, days) in crops {
                let bar = stretch(days.early, days.late, class);
                bars.push(RipeBar { x: bar.x, width: bar.width, middle: percent(place(days.middle)), y: top, class });
                table.push((format!("{name}: {what}"), [days.early, days.middle, days.late].map(day)));
                top += BAR + ROOM;
            }
            lanes.push(FigLane { name, words_at, bars });
        }
        let (start, end) = (curve.growth_start(), curve.hard_frost());
        let growth = format!("Growth from about {} to the first hard frost, about {}.", day(start), day(end));
        let free = format!("No frost between {} and {} in most years.", day(spring[2]), day(autumn[0]));
        Self {
            frost,
            growth: stretch(start, end, "growth"),
            lanes,
            months: months(hemisphere),
            axis_top: top + 4,
            height: top + 26,
            description: format!("{free} {growth} When first figs ripen stands in the table."),
            table,
        }
    }
}
