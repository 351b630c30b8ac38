//! How large a green fig is.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// Size of a green fig.
    pub enum FigSize: "size of fig" {
        /// Just visible to a pea.
        Pea = "pea" => "pea-sized, near the tips",
        /// Up to a hazelnut.
        Growing = "growing" => "hazelnut-sized, growing",
        /// Walnut-sized or more, hard and green.
        FullGreen = "full_green" => "walnut-sized or more, hard and green",
        /// Swelling, colouring or softening.
        Swelling = "swelling" => "swelling, colouring or softening",
    }
}
