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

/// The frequencies in Hz that have a line between two, those that are labelled with their labels.
pub(super) fn labelled_frequencies(low: f64, high: f64) -> Vec<(f64, Option<String>)> {
    let labelled = axes::labelled(low, high);
    let label = |hertz: f64| (hertz, labelled.contains(&hertz).then(|| axes::hertz(hertz)));
    axes::lined(low, high).into_iter().map(label).collect()
}

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
