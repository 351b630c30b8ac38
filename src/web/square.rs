//! Square codes (QR, ISO/IEC 18004) of addresses, drawn as SVG.

use qrcode::QrCode;
use qrcode::render::svg;

/// Smallest side that the drawing is worked out for, units of the drawing; pages set the size on paper.
const SIDE: u32 = 120;

/// A square code of an address, as SVG without inline style; `None` for what is too long for one.
pub(crate) fn square(address: &str) -> Option<String> {
    let code = QrCode::new(address.as_bytes()).ok()?;
    let drawn = code.render::<svg::Color<'_>>().min_dimensions(SIDE, SIDE).quiet_zone(true).build();
    // The document head that the crate writes does not belong inside a page.
    drawn.find("<svg").and_then(|start| drawn.get(start..)).map(str::to_owned)
}
