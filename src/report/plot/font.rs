//! How wide a text is in the embedded font.

use ttf_parser::Face;

use crate::shipped::PLOT_FONT;

/// The embedded font's family.
pub(super) const FAMILY: &str = "Knobwright Plot";
/// What stands in where a viewer lacks it: every text is stretched to its own width (`textLength`), so that nothing overlaps.
pub(super) const FAMILIES: &str = "'Knobwright Plot','DejaVu Sans Condensed',sans-serif";

/// Above the baseline and below it, as shares of the size.
pub(super) const ASCENT: f64 = 0.76;
/// See [`ASCENT`].
pub(super) const DESCENT: f64 = 0.24;

/// The embedded font, read once.
pub(super) struct Ruler<'f> {
    face: Option<Face<'f>>,
}

impl Ruler<'_> {
    pub(super) fn new() -> Self {
        Self {
            face: Face::parse(PLOT_FONT, 0).ok(),
        }
    }

    /// Width in pixels at a size in pixels; a letter that the font lacks counts as the box drawn for it.
    pub(super) fn width(&self, text: &str, size: f64) -> f64 {
        let advance = |letter: char| {
            let face = self.face.as_ref()?;
            let glyph = face.glyph_index(letter).unwrap_or_default();
            Some(f64::from(face.glyph_hor_advance(glyph)?) / f64::from(face.units_per_em()))
        };
        text.chars().map(|letter| advance(letter).unwrap_or(0.6)).sum::<f64>() * size
    }

    /// The text, cut with an ellipsis where it is wider than `width`.
    pub(super) fn cut(&self, text: &str, size: f64, width: f64) -> String {
        if self.width(text, size) <= width {
            return text.to_owned();
        }
        let mut kept: Vec<char> = text.chars().collect();
        while !kept.is_empty() {
            kept.pop();
            let short = kept.iter().collect::<String>().trim_end().to_owned() + "…";
            if self.width(&short, size) <= width {
                return short;
            }
        }
        String::new()
    }
}

#[cfg(test)]
mod tests {
    use super::Ruler;

    #[test]
    fn the_font_is_there_and_texts_have_widths() {
        let ruler = Ruler::new();
        assert!(ruler.face.is_some());
        // Digits of a text font are all equally wide.
        assert!((ruler.width("1111", 10.0) - ruler.width("8888", 10.0)).abs() < 1e-9);
        assert!(ruler.width("Ω µ − Ž я", 10.0) > 20.0);
        assert!(ruler.width(&ruler.cut("a very long name of a guitar", 16.0, 100.0), 16.0) <= 100.0);
    }
}
