//! What covers and layers let through: one row per material, each with its source.
//!
//! Covers carry a U-value in W/m²K, films of air included. Layers carry what they add: a resistance in m²K/W, or a conductivity in W/mK
//! that a thickness turns into one. Published values differ by a quarter for the same sheet (wind, condensation, sky), which is why a shelter's
//! result has a range until its grower has logged readings.
//! Grades: `Measured` by trial or standard; `Published` by an extension service or trade press; `Vendor`; `Memory` of handbooks not opened;
//! `Derived` by own arithmetic from published values.

use serde::Serialize;

/// How far a row can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Trial or standard.
    Measured,
    /// Extension service or trade press.
    Published,
    /// A seller's page.
    Vendor,
    /// A handbook from memory.
    Memory,
    /// Own arithmetic on published values.
    Derived,
}

/// A cover a shelter is made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cover {
    /// Word used in files and forms.
    pub key: &'static str,
    /// Words for people.
    pub name: &'static str,
    /// U-value, W/m²K.
    pub u_w_m2k: f64,
    /// Where the value stands.
    pub source: &'static str,
    /// How far to trust it.
    pub grade: Grade,
}

/// What a layer adds to the surface it lies on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Adds {
    /// A fixed resistance, m²K/W.
    Resistance(f64),
    /// A conductivity, W/mK: resistance is thickness over this.
    Conductivity(f64),
}

/// A layer added inside or outside a cover.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LayerKind {
    /// Word used in files and forms.
    pub key: &'static str,
    /// Words for people.
    pub name: &'static str,
    /// What it adds.
    pub adds: Adds,
    /// Where the value stands.
    pub source: &'static str,
    /// How far to trust it.
    pub grade: Grade,
}

const fn cover(key: &'static str, name: &'static str, u_w_m2k: f64, grade: Grade, source: &'static str) -> Cover {
    Cover { key, name, u_w_m2k, source, grade }
}

const fn layer(key: &'static str, name: &'static str, adds: Adds, grade: Grade, source: &'static str) -> LayerKind {
    LayerKind { key, name, adds, source, grade }
}

/// Covers, from the leakiest to the tightest of each family.
pub const COVERS: &[Cover] = &[
    cover(
        "film_single",
        "one skin of film",
        6.8,
        Grade::Published,
        "1.20 Btu/h·ft²·°F; Bartok gives 1.25 for overwintering houses (Greenhouse Management, heating cold frames and high tunnels), R 0.83 = 1.20",
    ),
    cover(
        "film_single_calm",
        "one skin of film, still night",
        5.4,
        Grade::Derived,
        "0.95 Btu/h·ft²·°F, from glass k = 4.41 + 0.40 w kcal/m²hK at 0 to 1 m/s (Mihara & Hayashi 1979, J. Agric. Meteorol. 35, 13–19), film as glass",
    ),
    cover(
        "film_double",
        "two skins of film, air blown between",
        4.0,
        Grade::Published,
        "0.70 Btu/h·ft²·°F (maker's article, Rimol); Bartok 0.80, so this is the better half of the range",
    ),
    cover(
        "glass",
        "glass, 3 to 4 mm",
        6.5,
        Grade::Published,
        "1.15 Btu/h·ft²·°F (Greenhouse Management, determining greenhouse heat loss, second-hand)",
    ),
    cover(
        "glass_calm",
        "glass, still night",
        5.6,
        Grade::Measured,
        "4.41 + 0.40 w kcal/m²hK at 1 m/s = 5.6 W/m²K (Mihara & Hayashi 1979; unit inferred)",
    ),
    cover("glass_double_pane", "sealed double glass", 2.8, Grade::Vendor, "R 2.0 ft²·h·°F/Btu (greenhouse seller's table, 2012)"),
    cover("acrylic_3mm", "acrylic sheet, 3 mm", 5.2, Grade::Vendor, "5.2 W/m²K (kakteen-schwarz.de, heating page)"),
    cover("twinwall_4mm", "twin-wall sheet, 4 mm", 4.05, Grade::Memory, "about 0.71 Btu/h·ft²·°F, handbook family ASABE EP406, not opened"),
    cover(
        "twinwall_6mm",
        "twin-wall sheet, 6 mm",
        3.7,
        Grade::Vendor,
        "0.65 Btu/h·ft²·°F (R 1.54, seller 2012); 4.0 W/m²K (kakteen-schwarz.de)",
    ),
    cover(
        "twinwall_8mm",
        "twin-wall sheet, 8 mm",
        3.35,
        Grade::Vendor,
        "R 1.69 (seller 2012); 0.53 Btu/h·ft²·°F (maker's article, Rimol) lies below",
    ),
    cover(
        "twinwall_10mm",
        "twin-wall sheet, 10 mm",
        3.2,
        Grade::Published,
        "3.2 W/m²K (orchid growers' document on glazing, Hands 2001); 3.6 (kakteen-schwarz.de)",
    ),
    cover("twinwall_16mm", "twin-wall sheet, 16 mm", 2.7, Grade::Vendor, "2.7 W/m²K (gewaechshausheizung.info); 2.9 (kakteen-schwarz.de)"),
    cover("multiwall_25mm", "multi-wall sheet, 25 mm", 1.6, Grade::Published, "1.6 W/m²K (Hands 2001)"),
    cover(
        "board_wall_25mm",
        "wall of 25 mm foam board alone",
        1.15,
        Grade::Derived,
        "25 mm EPS (R 4 per inch) with films of air 0.17 m²K/W",
    ),
    cover(
        "sheet_metal",
        "sheet metal, bare (also an uninsulated garage door)",
        5.9,
        Grade::Derived,
        "the films of air alone, 0.17 m²K/W (EN ISO 6946, from memory); the metal adds nothing",
    ),
    cover(
        "boards_20mm",
        "wooden boards, 20 mm",
        3.1,
        Grade::Derived,
        "0.020/0.13 + 0.17 m²K/W: softwood 0.13 W/mK (EN ISO 10456) with films of air (EN ISO 6946), both from memory",
    ),
    cover(
        "block_200mm",
        "hollow concrete block, 200 mm",
        2.7,
        Grade::Derived,
        "about 0.20 m²K/W for the block with films of air 0.17 (EN ISO 6946), from memory",
    ),
    cover(
        "brick_240mm",
        "solid brick, 240 mm",
        2.1,
        Grade::Derived,
        "0.24/0.77 + 0.17 m²K/W: brick 0.77 W/mK with films of air (EN ISO 6946), from memory",
    ),
    cover(
        "frost_cloth",
        "frost cloth over hoops",
        7.0,
        Grade::Derived,
        "as one skin of film; what blows through the cloth is counted as leaks. A guess",
    ),
    cover(
        "house_wall",
        "wall of an insulated building",
        0.6,
        Grade::Derived,
        "film loses about ten times a house wall (Nara Prefecture, plastic houses)",
    ),
];

/// Films of air on both faces of an upright wall, m²K/W: EN ISO 6946's 0.13 inside and 0.04 outside (from memory).
pub const WALL_FILMS_M2K_W: f64 = 0.17;

/// Layers.
pub const LAYERS: &[LayerKind] = &[
    layer(
        "second_cover",
        "second skin, sealed, with an air gap",
        Adds::Resistance(0.100),
        Grade::Measured,
        "0.53 to 0.60 ft²·h·°F/Btu added (Mihara & Hayashi 1979, recomputed); middle of that range",
    ),
    layer(
        "second_cover_loose",
        "second skin, loose or flapping",
        Adds::Resistance(0.053),
        Grade::Derived,
        "0.30 ft²·h·°F/Btu assumed, half of a sealed one: a guess",
    ),
    layer(
        "bubble_lining",
        "bubble film lining",
        Adds::Resistance(0.060),
        Grade::Vendor,
        "about 30 % less heat (kakteen-schwarz.de), 24 % (Hands 2001: 5.5 to 4.2 W/m²K): 0.056 to 0.066 m²K/W",
    ),
    layer(
        "thermal_screen",
        "thermal screen, drawn at night",
        Adds::Resistance(0.080),
        Grade::Published,
        "20 to 50 % of heat saved (Bartok fact sheet); 35 % of 6.5 W/m²K",
    ),
    layer(
        "foil_bubble",
        "foil-faced bubble sheet",
        Adds::Resistance(0.18),
        Grade::Memory,
        "about R 1, without credit for a facing air gap",
    ),
    layer(
        "board_eps",
        "foam board, expanded polystyrene",
        Adds::Conductivity(0.0361),
        Grade::Published,
        "R 4.0 per inch (two trade tables, 3.6 to 4.4)",
    ),
    layer(
        "board_xps",
        "foam board, extruded polystyrene",
        Adds::Conductivity(0.0288),
        Grade::Published,
        "R 5.0 per inch (two trade tables, 4.5 to 5.0)",
    ),
    layer(
        "board_pir",
        "foam board, polyisocyanurate",
        Adds::Conductivity(0.0240),
        Grade::Published,
        "R 6.0 per inch (two trade tables, 6.0 to 6.8); the low end, since it insulates less in the cold",
    ),
];

/// Share of the light a cover or layer lets in by its key, 0..=1; `None` for a key without a row.
///
/// Covers when new and clean: a trade overview of coverings (graasautomation.com) prints glass 85 to 90, sealed double glass 70 to 75, one skin of
/// film 80 to 90 and two 60 to 80 %; sheets and bubble film from memory of sellers' pages. A screen is drawn at night and costs none by day.
pub fn light_of(key: &str) -> Option<f64> {
    Some(match key {
        "film_single" | "film_single_calm" | "second_cover" | "second_cover_loose" | "glass" | "glass_calm" => 0.87,
        "film_double" | "twinwall_10mm" => 0.75,
        "glass_double_pane" | "twinwall_16mm" => 0.72,
        "acrylic_3mm" => 0.90,
        "twinwall_4mm" | "twinwall_6mm" | "bubble_lining" => 0.80,
        "twinwall_8mm" => 0.78,
        "multiwall_25mm" => 0.60,
        "frost_cloth" => 0.70,
        "thermal_screen" => 1.0,
        "board_wall_25mm" | "house_wall" | "sheet_metal" | "boards_20mm" | "block_200mm" | "brick_240mm" | "foil_bubble" | "board_eps"
        | "board_xps" | "board_pir" => 0.0,
        _ => return None,
    })
}

/// A cover by its key.
pub fn find_cover(key: &str) -> Option<&'static Cover> {
    COVERS.iter().find(|c| c.key == key)
}

/// A layer by its key.
pub fn find_layer(key: &str) -> Option<&'static LayerKind> {
    LAYERS.iter().find(|l| l.key == key)
}

/// Loss at the edge of the floor, W per m of perimeter and K, with its source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Edge {
    /// Word used in files and forms.
    pub key: &'static str,
    /// Words for people.
    pub name: &'static str,
    /// Btu/h·ft·°F as printed.
    pub f_imperial: f64,
}

/// W/mK per Btu/h·ft·°F: from the definitions of Btu, foot and °F.
pub const EDGE_PER_IMPERIAL: f64 = crate::units::heat::WATTS_PER_BTU_PER_HOUR / crate::units::customary::METRES_PER_FOOT * 1.8;

impl Edge {
    /// W/mK.
    pub fn w_mk(&self) -> f64 {
        self.f_imperial * EDGE_PER_IMPERIAL
    }
}

/// Slab on the ground, as printed in WAC 51-11C-61061 Table A106.1 (State of Washington energy code, 2013). For heated buildings with a
/// slab; a bare-earth floor has no table of its own.
pub const EDGES: &[Edge] = &[
    Edge { key: "bare", name: "no insulation at the edge", f_imperial: 0.73 },
    Edge { key: "vertical_2ft_r5", name: "60 cm board upright, R 5", f_imperial: 0.58 },
    Edge { key: "vertical_2ft_r10", name: "60 cm board upright, R 10", f_imperial: 0.54 },
    Edge { key: "vertical_2ft_r15", name: "60 cm board upright, R 15", f_imperial: 0.52 },
    Edge { key: "vertical_4ft_r5", name: "120 cm board upright, R 5", f_imperial: 0.54 },
    Edge { key: "vertical_4ft_r10", name: "120 cm board upright, R 10", f_imperial: 0.48 },
    Edge { key: "vertical_4ft_r15", name: "120 cm board upright, R 15", f_imperial: 0.45 },
    Edge { key: "horizontal_2ft_r5", name: "60 cm board flat, R 5", f_imperial: 0.70 },
    Edge { key: "horizontal_2ft_r10", name: "60 cm board flat, R 10", f_imperial: 0.70 },
    Edge { key: "horizontal_4ft_r10", name: "120 cm board flat, R 10", f_imperial: 0.64 },
    Edge { key: "full_r10", name: "insulated all under, R 10", f_imperial: 0.36 },
    Edge { key: "full_r15", name: "insulated all under, R 15", f_imperial: 0.31 },
    Edge { key: "full_r20", name: "insulated all under, R 20", f_imperial: 0.26 },
    Edge { key: "full_r30", name: "insulated all under, R 30", f_imperial: 0.21 },
];

/// An edge by its key.
pub fn find_edge(key: &str) -> Option<&'static Edge> {
    EDGES.iter().find(|e| e.key == key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cover_and_layer_says_what_light_it_lets_in() {
        for key in COVERS.iter().map(|c| c.key).chain(LAYERS.iter().map(|l| l.key)) {
            assert!(light_of(key).is_some_and(|l| (0.0..=1.0).contains(&l)), "{key}");
        }
    }

    #[test]
    fn walls_worked_out_from_their_layers_are_the_sums_their_rows_state() {
        for (key, resistance) in [("sheet_metal", 0.0), ("boards_20mm", 0.020 / 0.13), ("brick_240mm", 0.24 / 0.77), ("block_200mm", 0.20)]
        {
            let u = find_cover(key).unwrap().u_w_m2k;
            assert!((u - 1.0 / (WALL_FILMS_M2K_W + resistance)).abs() < 0.06, "{key}: {u}");
        }
    }
}
