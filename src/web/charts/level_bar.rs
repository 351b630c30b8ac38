//! Reports by damage, as one bar and in words.

use crate::science::hardiness::level::DamageLevel;
use crate::web::charts::axis::percent;

/// The bar.
pub struct LevelBar {
    /// Class, left edge and width of each part, unharmed first.
    pub parts: Vec<(&'static str, String, String)>,
    /// The same in words.
    pub words: String,
}

impl LevelBar {
    /// From the number of reports of each level.
    pub fn new(levels: &[usize; DamageLevel::ALL.len()]) -> Self {
        let all: usize = levels.iter().sum();
        let share = |reports: usize| percent(reports as f64 / all.max(1) as f64 * 100.0);
        let mut left = 0;
        let (mut parts, mut said) = (Vec::new(), Vec::new());
        for (level, &reports) in DamageLevel::ALL.into_iter().zip(levels).filter(|(_, reports)| **reports > 0) {
            let (words, class) = (level.label(), level.word());
            parts.push((class, share(left), share(reports)));
            said.push(format!("{words}: {reports}"));
            left += reports;
        }
        Self { parts, words: if said.is_empty() { "not told".to_owned() } else { said.join(", ") } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_fill_the_bar_in_order() {
        let bar = LevelBar::new(&[1, 0, 3, 0, 0]);
        let part = |class, x: &str, width: &str| (class, x.to_owned(), width.to_owned());
        assert_eq!(bar.parts, [part("unharmed", "0.00%", "25.00%"), part("wood", "25.00%", "75.00%")]);
        assert_eq!(bar.words, "unharmed: 1, wood lost: 3");
        assert_eq!(LevelBar::new(&[0; 5]).words, "not told");
    }
}
