//! A sheet of labels by its measures: page, margins, columns, rows and the gaps between, in millimetres or inches. Presets are named by their
//! measures and divide the paper evenly; any other sheet is described by its own numbers.

use std::fmt::Write as _;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;

/// Millimetres in an inch, by definition.
const MM_PER_INCH: f64 = 25.4;
/// Bounds of a page's side, mm: from a card to a wide roll. DESIGN.
const PAGE_MM: std::ops::RangeInclusive<f64> = 30.0..=1200.0;
/// Smallest side of a label, mm: a name and a square code need about so much. DESIGN.
const LEAST_LABEL_MM: f64 = 12.0;
/// Most columns and rows.
const MOST_ACROSS: i16 = 30;
/// Most labels of one print; 500 kinds at one each fit. DESIGN.
pub const MOST_LABELS: usize = 2000;

/// Unit in which the measures are typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres.
    Millimetre,
    /// Inches.
    Inch,
}

impl LengthUnit {
    const fn millimetres(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => MM_PER_INCH,
        }
    }

    /// As in addresses.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }
}

/// A sheet of labels, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelSheet {
    /// Width and height of the page.
    pub page: (f64, f64),
    /// Margins: top, right, bottom, left.
    pub margins: [f64; 4],
    /// Labels side by side.
    pub columns: i16,
    /// Labels one below the other.
    pub rows: i16,
    /// Between columns, and between rows.
    pub gaps: (f64, f64),
}

/// Fields of a sheet's measures.
pub const FIELDS: [&str; 11] = ["unit", "page_w", "page_h", "top", "right", "bottom", "left", "columns", "rows", "gap_x", "gap_y"];

/// Measures of the presets, as they would be typed: name, then the values of [`FIELDS`]. ISO 216 A4 is 210 × 297 mm, Letter of ANSI/ASME Y14.1
/// 8.5 × 11 in; both are divided evenly.
pub const PRESETS: [(&str, [&str; 11]); 5] = [
    ("A4, 3 × 8 of 70 × 37.1 mm", ["mm", "210", "297", "0", "0", "0", "0", "3", "8", "0", "0"]),
    ("A4, 2 × 4 of 105 × 74.3 mm", ["mm", "210", "297", "0", "0", "0", "0", "2", "4", "0", "0"]),
    ("A4, 4 × 10 of 45 × 25 mm, 5 mm apart", ["mm", "210", "297", "1", "7.5", "1", "7.5", "4", "10", "5", "5"]),
    ("Letter, 3 × 10 of 2.5 × 1 in", ["in", "8.5", "11", "0.5", "0.5", "0.5", "0.5", "3", "10", "0", "0"]),
    ("Letter, 2 × 5 of 3.75 × 2 in", ["in", "8.5", "11", "0.5", "0.5", "0.5", "0.5", "2", "5", "0", "0"]),
];

/// The pairs of a preset, by its place in [`PRESETS`].
pub fn preset(place: usize) -> Option<Vec<(String, String)>> {
    let (_, values) = PRESETS.get(place)?;
    Some(FIELDS.iter().zip(values).map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect())
}

impl LabelSheet {
    /// Reads the measures; other fields are left alone.
    ///
    /// # Errors
    /// What cannot be printed, by field.
    pub fn read(pairs: &[(String, String)]) -> Result<(Self, LengthUnit), FieldErrors> {
        let mut fields = Fields::lenient(pairs, &FIELDS);
        let unit = match fields.value("unit") {
            None | Some("mm") => LengthUnit::Millimetre,
            Some("in") => LengthUnit::Inch,
            Some(other) => {
                let shown: String = other.chars().take(20).collect();
                fields.errors.add("unit", other, format!("“{shown}” is no unit here; mm and in are accepted"));
                LengthUnit::Millimetre
            }
        };
        let scale = unit.millimetres();
        let within = |least: f64, most: f64| {
            move |typed: f64| {
                let in_unit = |mm: f64| format!("{:.1} {}", mm / scale, unit.word());
                let fits = (least..=most).contains(&(typed * scale));
                if fits { Ok(typed * scale) } else { Err(format!("{} to {} is accepted", in_unit(least), in_unit(most))) }
            }
        };
        let mut length = |name: &str, least: f64, most: f64| fields.number(name, within(least, most));
        let (page_w, page_h) = (length("page_w", *PAGE_MM.start(), *PAGE_MM.end()), length("page_h", *PAGE_MM.start(), *PAGE_MM.end()));
        let [top, right, bottom, left] = ["top", "right", "bottom", "left"].map(|name| length(name, 0.0, *PAGE_MM.end()).unwrap_or(0.0));
        let (gap_x, gap_y) = (length("gap_x", 0.0, 200.0).unwrap_or(0.0), length("gap_y", 0.0, 200.0).unwrap_or(0.0));
        let (columns, rows) =
            (fields.whole("columns", "a number of columns", 1..=MOST_ACROSS), fields.whole("rows", "a number of rows", 1..=MOST_ACROSS));
        for (name, missing, words) in [
            ("page_w", page_w.is_none(), "say how wide the page is"),
            ("page_h", page_h.is_none(), "say how high the page is"),
            ("columns", columns.is_none(), "say how many labels lie side by side"),
            ("rows", rows.is_none(), "say how many labels lie one below the other"),
        ] {
            if missing && fields.errors.of(name).is_none() {
                fields.errors.add(name, "", words);
            }
        }
        let (Some(page_w), Some(page_h), Some(columns), Some(rows)) = (page_w, page_h, columns, rows) else { return Err(fields.errors) };
        let sheet = Self { page: (page_w, page_h), margins: [top, right, bottom, left], columns, rows, gaps: (gap_x, gap_y) };
        let (width, height) = sheet.label();
        for (name, side) in [("columns", width), ("rows", height)] {
            if side < LEAST_LABEL_MM {
                let (least, left) = (LEAST_LABEL_MM / scale, side.max(0.0) / scale);
                let words =
                    format!("with these margins and gaps a label has {left:.1} {u} left; {least:.1} {u} is the least", u = unit.word());
                fields.errors.add(name, "", words);
            }
        }
        fields.errors.into_result()?;
        Ok((sheet, unit))
    }

    /// Width and height of one label, mm.
    pub fn label(&self) -> (f64, f64) {
        let [top, right, bottom, left] = self.margins;
        let side = |whole: f64, margins: f64, many: i16, gap: f64| (whole - margins - f64::from(many - 1) * gap) / f64::from(many);
        (side(self.page.0, left + right, self.columns, self.gaps.0), side(self.page.1, top + bottom, self.rows, self.gaps.1))
    }

    /// How many labels a page holds.
    pub fn on_a_page(&self) -> usize {
        usize::from(self.columns.unsigned_abs()) * usize::from(self.rows.unsigned_abs())
    }

    /// The rules that lay the sheet out: the page of the printer, and the grid. Numbers alone come into it.
    pub fn stylesheet(&self) -> String {
        let [top, right, bottom, left] = self.margins;
        let ((w, h), (label_w, label_h), (gap_x, gap_y)) = (self.page, self.label(), self.gaps);
        let mut css = String::new();
        let _ = writeln!(css, "@page {{ size: {w:.3}mm {h:.3}mm; margin: 0; }}");
        let _ = writeln!(
            css,
            ".label-sheet {{ width: {w:.3}mm; height: {h:.3}mm; padding: {top:.3}mm {right:.3}mm {bottom:.3}mm {left:.3}mm; \
             grid-template-columns: repeat({}, {label_w:.3}mm); grid-template-rows: repeat({}, {label_h:.3}mm); gap: {gap_y:.3}mm {gap_x:.3}mm; }}",
            self.columns, self.rows
        );
        // Letters and the square grow with the label, within what can be read and scanned.
        let square = (label_h - 4.0).min(label_w * 0.36).clamp(8.0, 40.0);
        let letters = (label_h * 0.095).min(label_w * 0.045).clamp(1.8, 6.0);
        let _ =
            writeln!(css, ".label {{ font-size: {letters:.3}mm; }} .label .square svg {{ width: {square:.3}mm; height: {square:.3}mm; }}");
        css
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(changed: &[(&str, &str)]) -> Vec<(String, String)> {
        let mut pairs = preset(0).unwrap();
        for (name, value) in changed {
            pairs.retain(|(key, _)| key != name);
            pairs.push(((*name).to_owned(), (*value).to_owned()));
        }
        pairs
    }

    // ISO 216: A4 is 210 × 297 mm; ANSI/ASME Y14.1: Letter is 8.5 × 11 in.
    #[test]
    fn every_preset_divides_its_page_as_its_name_says() {
        for (place, (name, _)) in PRESETS.iter().enumerate() {
            let (sheet, unit) = LabelSheet::read(&preset(place).unwrap()).unwrap();
            let (width, height) = sheet.label();
            let whole = if name.starts_with("A4") { (210.0, 297.0) } else { (215.9, 279.4) };
            assert!((sheet.page.0 - whole.0).abs() < 1e-9 && (sheet.page.1 - whole.1).abs() < 1e-9, "{name}");
            let [top, right, bottom, left] = sheet.margins;
            let across = left + right + width * f64::from(sheet.columns) + sheet.gaps.0 * f64::from(sheet.columns - 1);
            let down = top + bottom + height * f64::from(sheet.rows) + sheet.gaps.1 * f64::from(sheet.rows - 1);
            assert!((across - whole.0).abs() < 1e-9 && (down - whole.1).abs() < 1e-9, "{name}");
            let said: Vec<f64> = name.split(['×', ' ']).filter_map(|word| word.parse().ok()).collect();
            let scale = unit.millimetres();
            assert_eq!((said[0], said[1]), (f64::from(sheet.columns), f64::from(sheet.rows)), "{name}");
            assert!((said[2] - width / scale).abs() < 0.06 && (said[3] - height / scale).abs() < 0.06, "{name}: {width} {height}");
        }
    }

    #[test]
    fn sheets_that_cannot_be_are_named_by_their_field() {
        for (wrong, field) in [
            (&[("columns", "0")][..], "columns"),
            (&[("columns", "25")], "columns"),
            (&[("rows", "x")], "rows"),
            (&[("page_w", "1")], "page_w"),
            (&[("page_w", "")], "page_w"),
            (&[("top", "-1")], "top"),
            (&[("gap_x", "150")], "columns"),
            (&[("left", "200")], "columns"),
            (&[("unit", "furlong")], "unit"),
            (&[("page_h", "1e3;}body{display:none")], "page_h"),
        ] {
            let errors = LabelSheet::read(&with(wrong)).unwrap_err();
            assert_eq!(errors.iter().map(|e| e.field.as_str()).next(), Some(field), "{wrong:?}");
        }
        let css = LabelSheet::read(&with(&[])).unwrap().0.stylesheet();
        assert!(css.starts_with("@page { size: 210.000mm 297.000mm; margin: 0; }"), "{css}");
    }
}
