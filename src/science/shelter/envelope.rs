//! The skin of a shelter: parts, layers, leaks and the edge of the floor, summed to one conductance.
//!
//! `G = Σ U_i A_i + F·P + 0.335·n·V` (W/K): the steady heat balance of greenhouse engineering (Both, Rutgers/NE-SARE Farm Energy IQ; Gould's
//! slides on infiltration), with radiation inside U. Layers on a part are nested strips that start from the same edge: boards to a height lie
//! under the second skin that covers all of it, and resistances add where both are.

use crate::units::{OutOfRange, Transmittance, within};

/// Heat carried by air, Wh per m³ and K: 1.2 kg/m³ × 1005 J/kgK / 3600 s/h.
pub const AIR_WH_M3K: f64 = 1.2 * 1_005.0 / 3_600.0;

/// A layer that lies on part of a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Resistance added, m²K/W.
    resistance_m2k_w: f64,
    /// Share of the surface it covers, 0..=1.
    fraction: f64,
    /// Share of the light that passes it, 0..=1.
    light: f64,
}

impl Layer {
    /// Refuses resistances outside 0..=20 m²K/W and shares outside 0..=1.
    pub fn new(resistance_m2k_w: f64, fraction: f64) -> Result<Self, OutOfRange> {
        Ok(Self {
            resistance_m2k_w: within("added resistance", "m²K/W", resistance_m2k_w, 0.0, 20.0)?,
            fraction: within("share of the surface", "", fraction, 0.0, 1.0)?,
            light: 1.0,
        })
    }

    /// The same letting through a share of the light (held within 0..=1); a new layer lets all of it through.
    #[must_use]
    pub fn letting_in(mut self, light: f64) -> Self {
        self.light = light.clamp(0.0, 1.0);
        self
    }

    /// A board of a thickness in mm (0..=500) and a conductivity in W/mK.
    pub fn board(thickness_mm: f64, conductivity_w_mk: f64, fraction: f64) -> Result<Self, OutOfRange> {
        Self::new(within("thickness", "mm", thickness_mm, 0.0, 500.0)? / 1_000.0 / conductivity_w_mk, fraction)
    }
}

/// One surface through which heat leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name, as the grower calls it.
    pub name: String,
    area_m2: f64,
    bare: Transmittance,
    /// Share of the light its cover lets in, 0..=1; `None`: not known.
    light: Option<f64>,
    layers: Vec<Layer>,
}

impl Part {
    /// Largest area accepted, m².
    pub const MAX_AREA_M2: f64 = 50_000.0;

    /// A bare surface; areas outside 0.01..=50 000 m² are refused.
    pub fn new(name: impl Into<String>, area_m2: f64, bare: Transmittance) -> Result<Self, OutOfRange> {
        Ok(Self {
            name: name.into(),
            area_m2: within("area", "m²", area_m2, 0.01, Self::MAX_AREA_M2)?,
            bare,
            light: None,
            layers: Vec::new(),
        })
    }

    /// The same with a cover that lets in a share of the light (held within 0..=1).
    #[must_use]
    pub fn letting_in(mut self, light: f64) -> Self {
        self.light = Some(light.clamp(0.0, 1.0));
        self
    }

    /// The same with one layer more.
    #[must_use]
    pub fn with(mut self, layer: Layer) -> Self {
        self.layers.push(layer);
        self
    }

    /// Area, m².
    pub fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// Area-weighted U-value with its layers, W/m²K.
    pub fn u_w_m2k(&self) -> f64 {
        let mut strips: Vec<&Layer> = self.layers.iter().collect();
        strips.sort_by(|a, b| b.fraction.total_cmp(&a.fraction));
        // From the widest layer inward: each strip between two fractions carries every layer at least as wide as its outer end.
        let (mut u, mut resistance, mut upper) = (0.0, self.bare.resistance(), 1.0);
        for layer in strips {
            u += (upper - layer.fraction) / resistance;
            resistance += layer.resistance_m2k_w;
            upper = layer.fraction;
        }
        u + upper / resistance
    }

    /// Conductance, W/K.
    pub fn conductance_w_k(&self) -> f64 {
        self.u_w_m2k() * self.area_m2
    }

    /// U-value where the fewest layers lie, W/m²K: the coldest spot of its inner face.
    pub fn weakest_u_w_m2k(&self) -> f64 {
        1.0 / (self.bare.resistance() + self.layers.iter().filter(|l| l.fraction >= 1.0).map(|l| l.resistance_m2k_w).sum::<f64>())
    }

    /// Share of the light that comes in through it, layers included, 0..=1; strips as in [`Self::u_w_m2k`].
    pub fn light(&self) -> f64 {
        let mut strips: Vec<&Layer> = self.layers.iter().collect();
        strips.sort_by(|a, b| b.fraction.total_cmp(&a.fraction));
        let (mut sum, mut passes, mut upper) = (0.0, self.light.unwrap_or(USUAL_LIGHT), 1.0);
        for layer in strips {
            sum += (upper - layer.fraction) * passes;
            passes *= layer.light;
            upper = layer.fraction;
        }
        sum + upper * passes
    }
}

/// Share of the light a cover lets in where nothing is known of it. DESIGN: one skin of film or glass with frame and dirt.
pub const USUAL_LIGHT: f64 = 0.7;

/// Everything heat leaves through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Envelope {
    /// Surfaces.
    pub parts: Vec<Part>,
    /// Length of the floor's edge, m.
    pub perimeter_m: f64,
    /// Loss at that edge, W/mK.
    pub perimeter_w_mk: f64,
    /// Air inside, m³.
    pub volume_m3: f64,
    /// Times an hour that the air is changed.
    pub air_changes_per_hour: f64,
}

/// What a line of the conductance is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ShareOf {
    /// A part by its name.
    Part(String),
    /// The edge of the floor.
    FloorEdge,
    /// Air that leaks in.
    Leaks,
}

/// One line of the conductance.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// What it is of.
    pub of: ShareOf,
    /// U-value with layers, W/m²K; `None` where it has no area.
    pub u_w_m2k: Option<f64>,
    /// Area, m².
    pub area_m2: Option<f64>,
    /// W/K.
    pub conductance_w_k: f64,
}

impl Envelope {
    /// Area of all surfaces, m².
    pub fn area_m2(&self) -> f64 {
        self.parts.iter().map(Part::area_m2).sum()
    }

    /// Share of the light on its outside that comes in, over all surfaces, 0..=1; 0 without a surface.
    pub fn light(&self) -> f64 {
        let area = self.area_m2();
        if area > 0.0 { self.parts.iter().map(|p| p.light() * p.area_m2).sum::<f64>() / area } else { 0.0 }
    }

    /// The conductance by lines: parts in the order given, then the edge, then leaks.
    pub fn shares(&self) -> Vec<Share> {
        let mut shares: Vec<Share> = self
            .parts
            .iter()
            .map(|p| Share {
                of: ShareOf::Part(p.name.clone()),
                u_w_m2k: Some(p.u_w_m2k()),
                area_m2: Some(p.area_m2),
                conductance_w_k: p.conductance_w_k(),
            })
            .collect();
        let mut line = |of: ShareOf, conductance_w_k: f64| {
            if conductance_w_k > 0.0 {
                shares.push(Share { of, u_w_m2k: None, area_m2: None, conductance_w_k });
            }
        };
        line(ShareOf::FloorEdge, self.perimeter_m * self.perimeter_w_mk);
        line(ShareOf::Leaks, AIR_WH_M3K * self.air_changes_per_hour * self.volume_m3);
        shares
    }

    /// G, W/K.
    pub fn conductance_w_k(&self) -> f64 {
        self.shares().iter().map(|s| s.conductance_w_k).sum()
    }

    /// Least surface that can stand over a volume on the ground, m²: a half sphere, `2π(3V/2π)^⅔`. Less is not a shelter but a slip.
    pub fn least_surface_m2(volume_m3: f64) -> f64 {
        use std::f64::consts::PI;
        2.0 * PI * (3.0 * volume_m3 / (2.0 * PI)).powf(2.0 / 3.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn film(area: f64) -> Part {
        Part::new("skin", area, Transmittance::new(6.8).unwrap()).unwrap()
    }

    #[test]
    fn resistances_add_only_where_both_layers_lie() {
        let both = film(10.0).with(Layer::new(0.1, 1.0).unwrap()).with(Layer::new(0.7, 0.4).unwrap());
        let r = 1.0 / 6.8;
        let by_hand = 0.6 / (r + 0.1) + 0.4 / (r + 0.8);
        assert!((both.u_w_m2k() - by_hand).abs() < 1e-12);
    }

    /// By hand: 10 m² at 6.8 W/m²K, 12 m of edge at 1.5 W/mK, and 30 m³ changed twice an hour at 0.335 Wh/m³K.
    #[test]
    fn a_shelter_loses_through_its_skin_its_edge_and_its_leaks() {
        let parts = vec![film(10.0)];
        let house = Envelope { parts, perimeter_m: 12.0, perimeter_w_mk: 1.5, volume_m3: 30.0, air_changes_per_hour: 2.0 };
        let lines: Vec<f64> = house.shares().iter().map(|share| share.conductance_w_k).collect();
        assert!(lines.iter().zip([68.0, 18.0, 20.1]).all(|(line, by_hand)| (line - by_hand).abs() < 1e-9), "{lines:?}");
        assert!(lines.len() == 3 && (house.conductance_w_k() - 106.1).abs() < 1e-9);
    }

    #[test]
    fn boards_take_the_light_of_the_strip_they_cover_and_a_skin_that_of_all() {
        let wall = film(10.0).letting_in(0.9);
        let boards = Layer::new(0.7, 0.4).unwrap().letting_in(0.0);
        let skin = Layer::new(0.1, 1.0).unwrap().letting_in(0.8);
        assert!((wall.clone().with(boards).light() - 0.54).abs() < 1e-12);
        assert!((wall.with(boards).with(skin).light() - 0.6 * 0.9 * 0.8).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn a_layer_never_raises_the_loss(r in 0.0..3.0f64, f in 0.0..1.0f64, r2 in 0.0..3.0f64, f2 in 0.0..1.0f64) {
            let one = film(12.0).with(Layer::new(r, f).unwrap());
            let two = one.clone().with(Layer::new(r2, f2).unwrap());
            prop_assert!(one.conductance_w_k() <= film(12.0).conductance_w_k() + 1e-9);
            prop_assert!(two.conductance_w_k() <= one.conductance_w_k() + 1e-9);
        }
    }
}
