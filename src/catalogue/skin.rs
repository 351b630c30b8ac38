//! The colour of a ripe skin as sources describe it, sorted into groups that people choose by.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a ripe skin looks like, of a few groups.
    pub enum SkinGroup: "group of skin colours" {
        /// Green, yellow or white.
        Light = "light" => "light: green to yellow",
        /// Brown, bronze or tan.
        Brown = "brown" => "brown to bronze",
        /// Purple, violet, blue, red or black.
        Dark = "dark" => "dark: purple to black",
        /// Of several of these, striped, or another colour.
        Mixed = "mixed" => "striped or changing",
    }
}

/// Colour words and their group.
const COLOURS: [(&str, SkinGroup); 14] = [
    ("green", SkinGroup::Light),
    ("yellow", SkinGroup::Light),
    ("white", SkinGroup::Light),
    ("lemon", SkinGroup::Light),
    ("brown", SkinGroup::Brown),
    ("bronze", SkinGroup::Brown),
    ("tan", SkinGroup::Brown),
    ("tawny", SkinGroup::Brown),
    ("black", SkinGroup::Dark),
    ("purple", SkinGroup::Dark),
    ("violet", SkinGroup::Dark),
    ("blue", SkinGroup::Dark),
    ("red", SkinGroup::Dark),
    ("mahogany", SkinGroup::Dark),
];

impl SkinGroup {
    /// The group of a colour in a source's words. A shade (“purplish”, “golden”) gives way to the colour that it qualifies; a colour of no group,
    /// stripes and colours of several groups are mixed.
    pub fn of(words: &str) -> Self {
        let lower = words.to_lowercase();
        let parts = lower.split(|c: char| !c.is_alphabetic()).filter(|part| !part.is_empty());
        let (mut plain, mut shades) = (Vec::new(), Vec::new());
        for part in parts {
            if matches!(part, "stripe" | "striped" | "stripes") {
                return Self::Mixed;
            }
            let group = |word: &str| COLOURS.iter().find(|(colour, _)| *colour == word).map(|(_, group)| *group);
            match (group(part), part.strip_suffix("ish")) {
                (Some(found), _) => plain.push(found),
                // “purplish” and “greenish” alike: the stem is the colour, or the colour without its last letter.
                (None, Some(stem)) => shades.extend(COLOURS.iter().find(|(c, _)| c.starts_with(stem) && !stem.is_empty()).map(|(_, g)| *g)),
                (None, None) => shades.extend((part == "golden").then_some(Self::Light)),
            }
        }
        let told = if plain.is_empty() { shades } else { plain };
        match told.split_first() {
            Some((first, rest)) if rest.iter().all(|other| other == first) => *first,
            _ => Self::Mixed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shade_gives_way_to_its_colour_and_several_colours_are_mixed() {
        for (words, group) in [
            ("purplish black", SkinGroup::Dark),
            ("greenish yellow", SkinGroup::Light),
            ("bronze to purplish brown", SkinGroup::Brown),
            ("brownish purple", SkinGroup::Dark),
            ("golden brown", SkinGroup::Brown),
            ("golden yellow to lemon", SkinGroup::Light),
            ("greenish", SkinGroup::Light),
            ("green-brown to violet", SkinGroup::Mixed),
            ("green and yellow stripes", SkinGroup::Mixed),
            ("grey (breba)", SkinGroup::Mixed),
            ("light green", SkinGroup::Light),
        ] {
            assert_eq!(SkinGroup::of(words), group, "{words}");
        }
    }
}
