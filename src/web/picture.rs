//! Drawings as pictures: SVG to PNG, with the one typeface that is shipped for it (`static/typeface`), and those drawn lately.

use std::sync::{Arc, LazyLock};

use axum::body::Bytes;
use quick_cache::sync::Cache;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use crate::web::assets::Files;

/// Width and height, pixels, of the pictures that go with a link: what messengers and forums show whole (1.91 to 1, common practice).
pub const SIZE: (u32, u32) = (1200, 630);
/// Pictures kept: each is some 50 kB.
const KEPT: usize = 200;
/// The typeface: DejaVu Serif 2.37, cut down to Latin, Greek and Cyrillic.
const TYPEFACE: &str = "typeface/dejavu-serif-subset.ttf";

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    if let Some(file) = Files::get(TYPEFACE) {
        fonts.load_font_data(file.data.into_owned());
    }
    Arc::new(fonts)
});

/// A drawing that cannot be made a picture.
#[derive(Debug, thiserror::Error)]
#[error("the drawing cannot be made a picture: {0}")]
pub struct NoPicture(String);

/// Draws an SVG of [`SIZE`] with a stylesheet of class selectors. Takes a core for a moment.
///
/// # Errors
/// When the text is no SVG.
pub fn png(svg: &str, style_sheet: String) -> Result<Bytes, NoPicture> {
    let wrong = |error: &dyn std::fmt::Display| NoPicture(error.to_string());
    let options = Options {
        fontdb: Arc::clone(&FONTS),
        font_family: "DejaVu Serif".to_owned(),
        style_sheet: Some(style_sheet),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|error| wrong(&error))?;
    let mut pixels = Pixmap::new(SIZE.0, SIZE.1).ok_or_else(|| wrong(&"no room"))?;
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    pixels.encode_png().map(Bytes::from).map_err(|error| wrong(&error))
}

/// Pictures drawn lately, by what they show.
#[derive(Clone)]
pub struct Pictures(Arc<Cache<String, Bytes>>);

impl Default for Pictures {
    fn default() -> Self {
        Self(Arc::new(Cache::new(KEPT)))
    }
}

impl Pictures {
    /// One that was drawn.
    pub fn drawn(&self, what: &str) -> Option<Bytes> {
        self.0.get(what)
    }

    /// Keeps one.
    pub fn keep(&self, what: String, picture: Bytes) {
        self.0.insert(what, picture);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The first eight bytes of a PNG, and width and height in its header (ISO/IEC 15948, 5.2 and 11.2.2).
    #[test]
    fn a_drawing_with_words_is_a_png_of_the_size_of_a_preview() {
        let drawing = |words: &str| {
            let svg = format!(
                "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 1200 630'><text class='x' x='50' y='300'>{words}</text></svg>"
            );
            png(&svg, ".x { fill: #57264f; font-size: 90px; }".to_owned()).unwrap()
        };
        let picture = drawing("Чертополох, Σύκα, Feigen");
        assert_eq!(picture[..8], [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a]);
        assert_eq!((&picture[16..20], &picture[20..24]), (&1200_u32.to_be_bytes()[..], &630_u32.to_be_bytes()[..]));
        assert!(picture.len() > 2 * drawing("").len(), "no words are drawn");
        assert!(png("<p>", String::new()).is_err());
    }
}
