//! The colours of the stylesheet, for what is drawn without a browser.

use std::collections::BTreeMap;

use crate::web::assets::Files;

/// Where the values of the dark begin.
const DARK: &str = "@media (prefers-color-scheme: dark)";

/// Custom properties of the stylesheet by name, `--paper` to `#fbfaf5`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Palette(BTreeMap<String, String>);

impl Palette {
    /// The colours of the light.
    pub fn light() -> Self {
        Self(properties(&sheet()))
    }

    /// The colours of the dark: those of the light, and its own in their place.
    pub fn dark() -> Self {
        let sheet = sheet();
        let own = sheet.split_once(DARK).map(|(_, rest)| properties(rest)).unwrap_or_default();
        let Self(mut all) = Self::light();
        all.extend(own);
        Self(all)
    }

    /// The value of a property.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.0.get(name).map(String::as_str)
    }

    /// A stylesheet with each `var(--name)` replaced by its value.
    pub fn resolved(&self, sheet: &str) -> String {
        self.0.iter().fold(sheet.to_owned(), |sheet, (name, value)| sheet.replace(&format!("var({name})"), value))
    }
}

fn sheet() -> String {
    Files::get("winterfig.css").map(|file| String::from_utf8_lossy(&file.data).into_owned()).unwrap_or_default()
}

/// The custom properties of the first `:root` block.
fn properties(sheet: &str) -> BTreeMap<String, String> {
    let block = sheet.split_once(":root {").and_then(|(_, rest)| rest.split_once('}')).map_or("", |(block, _)| block);
    let declared = block.split(';').filter_map(|line| line.split_once(':'));
    declared.map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned())).filter(|(name, _)| name.starts_with("--")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2.2, definition; sRGB, IEC 61966-2-1).
    fn luminance(colour: &str) -> f64 {
        let hex = colour.strip_prefix('#').unwrap();
        let digits = if hex.len() == 3 { hex.chars().flat_map(|c| [c, c]).collect() } else { hex.to_owned() };
        let channel = |at: usize| {
            let v = f64::from(u8::from_str_radix(&digits[at..at + 2], 16).unwrap()) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    // 21 for black on white by definition; 4.54 for #767676 on white, the example of Understanding WCAG 2.2, 1.4.3.
    #[test]
    fn contrast_is_as_defined() {
        assert!((contrast("#000", "#ffffff") - 21.0).abs() < 1e-9);
        assert!((contrast("#767676", "#fff") - 4.54).abs() < 0.005);
    }

    /// Words and what they stand on (4.5, WCAG 2.2, 1.4.3), and lines and marks on theirs (3, 1.4.11).
    const WORDS: [(&str, &str); 20] = [
        ("--ink", "--paper"),
        ("--ink", "--sheet"),
        ("--ink", "--caution-wash"),
        ("--ink", "--cold-wash"),
        ("--soft", "--paper"),
        ("--soft", "--sheet"),
        ("--soft", "--caution-wash"),
        ("--fig", "--paper"),
        ("--fig", "--sheet"),
        ("--fig", "--caution-wash"),
        ("--paper", "--fig"),
        ("--cold", "--paper"),
        ("--cold", "--sheet"),
        ("--on-pale", "--unharmed"),
        ("--on-pale", "--tips"),
        ("--on-pale", "--wood"),
        ("--on-dark", "--to-ground"),
        ("--on-dark", "--dead"),
        ("--mark", "--paper"),
        ("--wrong", "--paper"),
    ];
    const MARKS: [(&str, &str); 5] =
        [("--cold", "--paper"), ("--fig", "--paper"), ("--soft", "--paper"), ("--mark", "--paper"), ("--to-ground", "--paper")];

    #[test]
    fn words_and_marks_stand_out_from_their_ground_in_the_light_and_in_the_dark() {
        for (mode, palette) in [("light", Palette::light()), ("dark", Palette::dark())] {
            let measured = |(a, b): (&str, &str)| contrast(palette.get(a).unwrap(), palette.get(b).unwrap());
            let wrong = |pairs: &[(&'static str, &'static str)], least: f64| {
                pairs
                    .iter()
                    .filter(|pair| measured(**pair) < least)
                    .map(|pair| format!("{pair:?}: {:.2}", measured(*pair)))
                    .collect::<Vec<_>>()
            };
            assert_eq!(wrong(&WORDS, 4.5), Vec::<String>::new(), "{mode}");
            assert_eq!(wrong(&MARKS, 3.0), Vec::<String>::new(), "{mode}");
        }
    }

    #[test]
    fn the_damage_colours_keep_their_order_from_pale_to_dark() {
        for palette in [Palette::light(), Palette::dark()] {
            let order = ["--unharmed", "--tips", "--wood", "--to-ground", "--dead"].map(|name| luminance(palette.get(name).unwrap()));
            assert!(order.is_sorted_by(|a, b| a >= b), "{order:?}");
        }
    }

    #[test]
    fn the_dark_has_colours_of_its_own_and_every_colour_is_replaced_where_it_is_used() {
        let (light, dark) = (Palette::light(), Palette::dark());
        assert_ne!(light.get("--paper"), dark.get("--paper"));
        assert_eq!(light.get("--on-dark"), dark.get("--on-dark"));
        assert_eq!(light.resolved("a { fill: var(--on-dark); }"), "a { fill: #ffffff; }");
    }
}
