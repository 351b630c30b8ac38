//! The one temperature axis of a page: cold at the left, warm at the right, °C and °F on two lines.

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::units::Celsius;

/// Step between marks, °C and °F.
const STEP_C: f64 = 5.0;
const STEP_F: f64 = 10.0;
/// Nearer to an end than this, % of the width, the label of a mark would hang over it; on a narrow screen it does so earlier.
const EDGE: f64 = 3.5;
const EDGE_NARROW: f64 = 8.0;

/// A range of temperatures laid over the full width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureAxis {
    low: f64,
    high: f64,
}

/// Coldest and warmest night of a winter that a picture of reports makes room for, °C: a cold that no fig is known to stand, and a warmth that no
/// winter's coldest night has where figs are grown in the open. DESIGN.
const REPORTED_C: (f64, f64) = (-40.0, 15.0);

/// The mark of a temperature beyond an end of the axis: an arrow at that end, in place of a point that would stretch the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// Colder than the axis reaches.
    Colder,
    /// Warmer than the axis reaches.
    Warmer,
}

impl Beyond {
    /// Outline of the arrow about its tip at the edge, px.
    pub const fn path(self) -> &'static str {
        match self {
            Self::Colder => "M8 -5L0 0L8 5Z",
            Self::Warmer => "M-8 -5L0 0L-8 5Z",
        }
    }
}

/// A mark on the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Place, % of the width.
    pub x: String,
    /// Its words.
    pub label: String,
    /// Whether a narrow screen leaves it out.
    pub wide_only: bool,
}

/// A place as SVG takes it: `12.34%`.
pub fn percent(value: f64) -> String {
    format!("{:.2}%", if value.is_finite() { value } else { 0.0 })
}

impl TemperatureAxis {
    /// From `low` to `high` °C, widened to whole steps.
    pub fn between(low: Celsius, high: Celsius) -> Self {
        let down = (low.degrees() / STEP_C).floor() * STEP_C;
        let up = (high.degrees() / STEP_C).ceil() * STEP_C;
        Self { low: down, high: up.max(down + 2.0 * STEP_C) }
    }

    /// Wide enough for reports whose coldest nights run from `low` to `high`; one impossible value does not stretch it: it lies
    /// [beyond](Self::beyond) the end.
    pub fn of_reports(low: Celsius, high: Celsius) -> Self {
        let within = |t: Celsius| Celsius::literal(t.degrees().clamp(REPORTED_C.0, REPORTED_C.1));
        Self::between(within(low), within(high))
    }

    /// Whether a picture of reports makes room for a coldest night.
    pub fn makes_room_for(t: Celsius) -> bool {
        (REPORTED_C.0..=REPORTED_C.1).contains(&t.degrees())
    }

    /// The end beyond which a temperature lies, if any.
    pub fn beyond(&self, t: Celsius) -> Option<Beyond> {
        match t.degrees() {
            colder if colder < self.low => Some(Beyond::Colder),
            warmer if warmer > self.high => Some(Beyond::Warmer),
            _ => None,
        }
    }

    /// Wide enough for nearly every winter of a site and for the damage thresholds of figs.
    pub fn for_site(winter: &WinterMinimum) -> Self {
        let coldest = winter.quantile(0.005).degrees().clamp(-60.0, -32.0);
        let warmest = winter.quantile(0.995).degrees().clamp(0.0, 15.0);
        Self::between(Celsius::literal(coldest), Celsius::literal(warmest))
    }

    /// Cold end.
    pub fn low(&self) -> Celsius {
        Celsius::literal(self.low)
    }

    /// Warm end.
    pub fn high(&self) -> Celsius {
        Celsius::literal(self.high)
    }

    /// Where a temperature lies, 0..=100, kept inside the axis.
    pub fn place(&self, t: Celsius) -> f64 {
        (100.0 * (t.degrees() - self.low) / (self.high - self.low)).clamp(0.0, 100.0)
    }

    /// As [`Self::place`], for SVG.
    pub fn x(&self, t: Celsius) -> String {
        percent(self.place(t))
    }

    /// Marks every 5 °C; a narrow screen shows every second one.
    pub fn ticks_c(&self) -> Vec<Tick> {
        Self::ticks(self.low, self.high, STEP_C, |c| c, self, "°C")
    }

    /// Marks every 10 °F; a narrow screen shows every second one.
    pub fn ticks_f(&self) -> Vec<Tick> {
        let f = |c: f64| Celsius::literal(c).fahrenheit();
        Self::ticks(f(self.low), f(self.high), STEP_F, |f| (f - 32.0) / 1.8, self, "°F")
    }

    fn ticks(low: f64, high: f64, step: f64, to_c: fn(f64) -> f64, axis: &Self, unit: &str) -> Vec<Tick> {
        let first = (low / step).ceil() as i32;
        let last = (high / step + 1e-9).floor() as i32;
        (first..=last)
            .map(|i| {
                let value = f64::from(i) * step;
                let sign = if value < 0.0 { "−" } else { "" };
                let place = axis.place(Celsius::literal(to_c(value)));
                let tick = Tick {
                    x: percent(place),
                    label: format!("{sign}{:.0} {unit}", value.abs()),
                    wide_only: i.rem_euclid(2) == 1 || place.min(100.0 - place) < EDGE_NARROW,
                };
                (place, tick)
            })
            .filter(|(place, _)| place.min(100.0 - place) >= EDGE)
            .map(|(_, tick)| tick)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_place_carries_the_same_temperature_on_both_lines() {
        let axis = TemperatureAxis::between(Celsius::literal(-30.0), Celsius::literal(0.0));
        let (c, f) = (axis.ticks_c(), axis.ticks_f());
        let x = |ticks: &[Tick], label: &str| ticks.iter().find(|t| t.label == label).map(|t| t.x.clone()).unwrap();
        // −20 °C is −4 °F and 14 °F is −10 °C by definition; −10 °F is −23.33 °C.
        assert_eq!(x(&c, "−20 °C"), "33.33%");
        assert_eq!(x(&f, "−10 °F"), "22.22%");
        assert_eq!(x(&f, "10 °F"), percent(100.0 * (30.0 - 110.0 / 9.0) / 30.0));
    }
}
