//! Sources and licences of the data on towns.

/// One of the sources behind the towns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Attribution {
    /// What is taken from it.
    pub what: &'static str,
    /// Who made it, and the licence.
    pub whose: &'static str,
}

/// Licences and sources, to be shown wherever the data is used. GeoNames and CLDR: READ where they are published; the other licences MEMORY, to
/// be confirmed before a public release.
pub const ATTRIBUTION: [Attribution; 7] = [
    Attribution {
        what: "Towns, their names, positions, heights and numbers of people",
        whose: "GeoNames (geonames.org), CC BY 4.0; positions rounded to 0.01°, numbers of people to about 4 %",
    },
    Attribution { what: "Names of countries", whose: "Unicode CLDR, Unicode License v3" },
    Attribution {
        what: "Daily minima of the world and the list of stations",
        whose: "GHCN-Daily, NOAA National Centers for Environmental Information, public domain",
    },
    Attribution {
        what: "Homogenised minima of Canada",
        whose: "AHCCD, Environment and Climate Change Canada, under its data servers end-use licence",
    },
    Attribution { what: "Minima of Australia", whose: "ACORN-SAT, Bureau of Meteorology, CC BY 3.0 AU" },
    Attribution { what: "Minima of the Netherlands", whose: "KNMI, CC BY 4.0" },
    Attribution { what: "Monthly means between stations", whose: "ERA5; contains modified Copernicus Climate Change Service information" },
];
