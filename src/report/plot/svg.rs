//! A small writer of SVG: what these drawings need, every number with two decimals, every text escaped and as wide as measured.

use super::font::{FAMILIES, Ruler};
use super::palette::Marker;
use crate::report::escape::escaped;

/// A rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    pub(super) fn width(self) -> f64 {
        self.right - self.left
    }

    pub(super) fn height(self) -> f64 {
        self.bottom - self.top
    }

    /// Whether two areas have a point in common.
    pub(super) fn meets(self, other: Self) -> bool {
        self.left < other.right && other.left < self.right && self.top < other.bottom && other.top < self.bottom
    }
}

/// Where a text's point lies in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A text and how it is set.
pub(super) struct Words<'t> {
    pub text: &'t str,
    pub size: f64,
    pub colour: &'t str,
    pub anchor: Anchor,
    pub bold_halo: bool,
}

/// A drawing.
pub(super) struct Svg {
    body: String,
    pub ruler: Ruler<'static>,
    width: f64,
    height: f64,
}

/// A coordinate: two decimals, no trailing zeros, never "-0".
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Points as path data.
pub(super) fn path(points: impl IntoIterator<Item = [f64; 2]>) -> String {
    let mut data = String::new();
    for [x, y] in points {
        data.push(if data.is_empty() { 'M' } else { 'L' });
        data.push_str(&number(x));
        data.push(' ');
        data.push_str(&number(y));
    }
    data
}

impl Svg {
    /// An empty drawing with a title and a description for those who do not see it.
    pub(super) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        let (wide, high) = (number(width), number(height));
        let body = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" height=\"{high}\" role=\"img\" \
             font-family=\"{FAMILIES}\">\n<title>{}</title>\n<desc>{}</desc>\n<rect width=\"{wide}\" height=\"{high}\" fill=\"#fff\"/>\n",
            escaped(title),
            escaped(description)
        );
        Self {
            body,
            ruler: Ruler::new(),
            width,
            height,
        }
    }

    pub(super) fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: &str) {
        let [x1, y1, x2, y2] = [from[0], from[1], to[0], to[1]].map(number);
        self.body.push_str(&format!("<path d=\"M{x1} {y1}L{x2} {y2}\" {stroke}/>\n"));
    }

    pub(super) fn raw(&mut self, element: &str) {
        self.body.push_str(element);
    }

    pub(super) fn shape(&mut self, data: &str, attributes: &str) {
        self.body.push_str(&format!("<path d=\"{data}\" {attributes}/>\n"));
    }

    pub(super) fn frame(&mut self, area: Area, attributes: &str) {
        let [x, y, width, height] = [area.left, area.top, area.width(), area.height()].map(number);
        self.body.push_str(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {attributes}/>\n"
        ));
    }

    /// What is drawn until [`Svg::end`] is cut off at the area's edges; coordinates stay those of the whole drawing.
    pub(super) fn inside(&mut self, area: Area) {
        let [x, y, width, height] = [area.left, area.top, area.width(), area.height()].map(number);
        self.body.push_str(&format!(
            "<svg x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" viewBox=\"{x} {y} {width} {height}\" overflow=\"hidden\">\n"
        ));
    }

    pub(super) fn end(&mut self) {
        self.body.push_str("</svg>\n");
    }

    pub(super) fn group(&mut self, attributes: &str) {
        self.body.push_str(&format!("<g {attributes}>\n"));
    }

    pub(super) fn end_group(&mut self) {
        self.body.push_str("</g>\n");
    }

    /// Sets a text with its baseline at a point; gives back the area it covers.
    pub(super) fn text(&mut self, at: [f64; 2], words: &Words<'_>) -> Area {
        let width = self.ruler.width(words.text, words.size);
        let area = area_of(at, width, words);
        if width > 0.0 {
            let [x, y, size, length] = [area.left, at[1], words.size, width].map(number);
            let halo = if words.bold_halo {
                " paint-order=\"stroke\" stroke=\"#fff\" stroke-width=\"4\" stroke-linejoin=\"round\""
            } else {
                ""
            };
            self.body.push_str(&format!(
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" textLength=\"{length}\" lengthAdjust=\"spacingAndGlyphs\" \
                 fill=\"{}\"{halo}>{}</text>\n",
                words.colour,
                escaped(words.text)
            ));
        }
        area
    }

    /// Where [`Svg::text`] would set it.
    pub(super) fn area(&self, at: [f64; 2], words: &Words<'_>) -> Area {
        area_of(at, self.ruler.width(words.text, words.size), words)
    }

    /// Sets a text that reads upwards, its middle at a point.
    pub(super) fn upward_text(&mut self, at: [f64; 2], text: &str, size: f64, colour: &str) {
        let [x, y] = at.map(number);
        let length = self.ruler.width(text, size);
        let [start, size, length] = [-length / 2.0, size, length].map(number);
        self.body.push_str(&format!(
            "<text transform=\"translate({x} {y}) rotate(-90)\" x=\"{start}\" y=\"0\" font-size=\"{size}\" textLength=\"{length}\" \
             lengthAdjust=\"spacingAndGlyphs\" fill=\"{colour}\">{}</text>\n",
            escaped(text)
        ));
    }

    /// A marker in a colour, white inside.
    pub(super) fn marker(&mut self, marker: Marker, [x, y]: [f64; 2], colour: &str) {
        let polygon = |corners: &[[f64; 2]]| path(corners.iter().map(|corner| [x + corner[0], y + corner[1]])) + "Z";
        let data = match marker {
            Marker::Circle => format!("M{} {}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0Z", number(x - 4.0), number(y)),
            Marker::Square => polygon(&[[-3.6, -3.6], [3.6, -3.6], [3.6, 3.6], [-3.6, 3.6]]),
            Marker::Triangle => polygon(&[[0.0, -4.8], [4.6, 3.2], [-4.6, 3.2]]),
            Marker::Diamond => polygon(&[[0.0, -5.2], [4.6, 0.0], [0.0, 5.2], [-4.6, 0.0]]),
            Marker::Wedge => polygon(&[[0.0, 4.8], [4.6, -3.2], [-4.6, -3.2]]),
            Marker::Cross => path([[x - 4.0, y - 4.0], [x + 4.0, y + 4.0]]) + &path([[x - 4.0, y + 4.0], [x + 4.0, y - 4.0]]),
        };
        self.shape(
            &data,
            &format!("fill=\"#fff\" stroke=\"{colour}\" stroke-width=\"1.7\" stroke-linejoin=\"round\""),
        );
    }

    /// The whole document.
    pub(super) fn finished(mut self) -> String {
        self.body.push_str("</svg>\n");
        self.body
    }

    pub(super) fn size(&self) -> [f64; 2] {
        [self.width, self.height]
    }
}

fn area_of([x, y]: [f64; 2], width: f64, words: &Words<'_>) -> Area {
    let left = match words.anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2.0,
        Anchor::End => x - width,
    };
    Area {
        left,
        top: y - super::font::ASCENT * words.size,
        right: left + width,
        bottom: y + super::font::DESCENT * words.size,
    }
}
