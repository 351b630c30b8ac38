//! Ways of making plants of a fig.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// How a batch is propagated.
    pub enum Method: "method of propagation" {
        /// Leafless wood in potting mix or soil in pots.
        HardwoodSoil = "hardwood_soil" => "dormant hardwood cuttings in soil or potting mix",
        /// Leafless wood in perlite, vermiculite or sand.
        HardwoodPerlite = "hardwood_perlite" => "dormant hardwood cuttings in perlite or sand",
        /// Leafless wood kept moist in a closed bag until roots show.
        HardwoodBag = "hardwood_bag" => "dormant hardwood cuttings in a moist bag",
        /// Leafless wood straight into the bed.
        HardwoodBed = "hardwood_bed" => "dormant hardwood cuttings in an outdoor bed",
        /// Leafy wood of the season under cover.
        Softwood = "softwood" => "green cuttings under cover",
        /// A low shoot pegged into the soil.
        Layering = "layering" => "layers in the soil",
        /// A moist ball around a ringed shoot.
        AirLayering = "air_layering" => "air layers",
        /// Shoots from the roots, cut off with some root.
        Suckers = "suckers" => "rooted suckers",
    }
}
