//! SVG → PNG, with the embedded font alone.

use std::sync::Arc;

use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb::Database};

use super::font::FAMILY;
use crate::error::{Error, ErrorKind, Result};
use crate::shipped::PLOT_FONT;

/// Draws on white, enlarged by `scale`.
pub(super) fn rasterised(svg: &str, scale: f32) -> Result<Vec<u8>> {
    let broken = |what: &dyn std::fmt::Display| Error::new(ErrorKind::File, format!("no PNG can be made of this: {what}"));
    let mut fonts = Database::new();
    fonts.load_font_data(PLOT_FONT.to_vec());
    let options = Options {
        font_family: FAMILY.to_owned(),
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|error| broken(&error))?;
    let size = tree.size().to_int_size().scale_by(scale).ok_or_else(|| broken(&"it has no size"))?;
    let mut pixels = Pixmap::new(size.width(), size.height()).ok_or_else(|| broken(&"it is too large"))?;
    pixels.fill(Color::WHITE);
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| broken(&error))
}
