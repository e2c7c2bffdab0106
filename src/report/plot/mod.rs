//! Pictures as SVG, as PNG and as text for a terminal.

mod axes;
mod captions;
mod contours;
mod curves;
mod font;
mod labels;
mod landscape;
mod palette;
mod png;
mod simplify;
mod svg;
mod terminal;

use crate::error::Result;
use crate::picture::Picture;

/// The picture as an SVG document.
#[must_use]
pub fn plot_svg(picture: &Picture) -> String {
    match picture {
        Picture::Curves(curves) => curves::draw(curves),
        Picture::Landscape(landscape) => landscape::draw(landscape),
    }
}

/// The picture as a PNG of twice the size of the SVG.
///
/// # Errors
/// When memory for the picture cannot be had.
pub fn plot_png(picture: &Picture) -> Result<Vec<u8>> {
    png::rasterised(&plot_svg(picture), 2.0)
}

/// The picture in text of at most 80 columns, with or without the colours of a terminal.
#[must_use]
pub fn plot_text(picture: &Picture, coloured: bool) -> String {
    match picture {
        Picture::Curves(curves) => terminal::curves(curves, coloured),
        Picture::Landscape(landscape) => terminal::landscape(landscape, coloured),
    }
}
