//! A network drawn as a circuit: as SVG here, as text in [`text`]. Symbols are those of IEC 60617: a rectangle for a resistor, two plates
//! for a capacitor, half circles for an inductor.
//!
//! Every part, group and terminal has a box of its own and draws inside it, so that nothing can overlap whatever the network is.

pub mod text;

use std::fmt::Write as _;

use super::escape::escaped;
use crate::parts::network::{Component, Network};

/// Size of the letters, in the drawing's units.
const LETTERS: f64 = 13.0;
/// Width of a letter: six tenths of its size in nearly every monospaced face, and a little to spare.
const LETTER_WIDTH: f64 = LETTERS * 0.62;
/// From one line of text to the next.
const LINE: f64 = 17.0;
/// Between the axis and the foot of the text above it: clear of the tallest symbol.
const TEXT_ABOVE: f64 = 17.0;
/// What a part needs below its axis.
const BELOW: f64 = 20.0;
/// What a ground symbol needs below its axis.
const GROUND_BELOW: f64 = 34.0;
/// Half of the length of a symbol along the wire.
const HALF_RESISTOR: f64 = 22.0;
const HALF_GAP: f64 = 4.0;
const BUMP: f64 = 6.0;
/// The least wire on either side of a symbol or text.
const LEAD: f64 = 10.0;
/// Around the whole drawing.
const MARGIN: f64 = 10.0;

/// One end of a drawn network.
#[derive(Debug, Clone, PartialEq)]
pub struct Terminal {
    /// What it is, line by line.
    pub lines: Vec<String>,
    /// Whether it is ground.
    pub is_ground: bool,
}

/// What is written in a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Labels {
    /// The drawing's title, for those who cannot see it.
    pub title: String,
    /// What it shows, in words, likewise.
    pub description: String,
    /// At each part, in written order.
    pub parts: Vec<String>,
    /// At the two ends.
    pub ends: [Terminal; 2],
}

/// A box around an axis.
#[derive(Debug, Clone, Copy)]
struct Extent {
    width: f64,
    above: f64,
    below: f64,
}

fn text_width(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER_WIDTH
}

/// A network with its space and its text.
enum Drawn<'n> {
    Part(Component, &'n str),
    Row(Vec<Drawn<'n>>),
    Stack(Vec<Drawn<'n>>),
}

impl<'n> Drawn<'n> {
    fn of(network: &Network, texts: &mut impl Iterator<Item = &'n str>) -> Self {
        let mut all = |members: &[Network]| members.iter().map(|member| Self::of(member, texts)).collect();
        match network {
            Network::Series(members) => Self::Row(all(members)),
            Network::Parallel(members) => Self::Stack(all(members)),
            Network::Fixed(component) => Self::Part(*component, texts.next().unwrap_or_default()),
            // A part without a value has no symbol: an empty row is a wire, and a sheet never has one.
            Network::Free(_) => Self::Row(Vec::new()),
        }
    }

    fn extent(&self) -> Extent {
        match self {
            Self::Part(_, text) => Extent {
                width: text_width(text).max(2.0 * HALF_RESISTOR) + 2.0 * LEAD,
                above: TEXT_ABOVE + LETTERS,
                below: BELOW,
            },
            Self::Row(members) => members.iter().map(Self::extent).fold(
                Extent {
                    width: 0.0,
                    above: 0.0,
                    below: 0.0,
                },
                |row, next| Extent {
                    width: row.width + next.width,
                    above: row.above.max(next.above),
                    below: row.below.max(next.below),
                },
            ),
            Self::Stack(members) => {
                let width = members.iter().map(|member| member.extent().width).fold(0.0, f64::max);
                let height: f64 = members.iter().map(|member| member.extent().height()).sum();
                let above = middle(&stacked(members));
                Extent {
                    width: width + 2.0 * LEAD,
                    above,
                    below: height - above,
                }
            }
        }
    }

    /// Draws from `x` along the axis at `y`, to the end of the width.
    fn draw(&self, svg: &mut Svg, x: f64, y: f64) {
        match self {
            Self::Part(component, text) => svg.part(*component, text, x, y, self.extent().width),
            Self::Row(members) => {
                let mut x = x;
                for member in members {
                    member.draw(svg, x, y);
                    x += member.extent().width;
                }
            }
            Self::Stack(members) => self.draw_stack(members, svg, x, y),
        }
    }

    fn draw_stack(&self, members: &[Self], svg: &mut Svg, x: f64, y: f64) {
        let extent = self.extent();
        let axes: Vec<f64> = stacked(members).iter().map(|axis| y - extent.above + axis).collect();
        let (left, right) = (x + LEAD, x + extent.width - LEAD);
        for (member, axis) in members.iter().zip(&axes) {
            let width = member.extent().width;
            let start = (left + right - width) / 2.0;
            svg.line([left, *axis], [start, *axis]);
            member.draw(svg, start, *axis);
            svg.line([start + width, *axis], [right, *axis]);
        }
        if let (Some(first), Some(last)) = (axes.first(), axes.last()) {
            for (rail, outside) in [(left, x), (right, x + extent.width)] {
                svg.line([rail, *first], [rail, *last]);
                svg.line([outside, y], [rail, y]);
                svg.joint(rail, y);
                // Inner members meet the rail between its ends.
                for axis in axes.iter().skip(1).take(axes.len().saturating_sub(2)).filter(|axis| **axis != y) {
                    svg.joint(rail, *axis);
                }
            }
        }
    }
}

impl Extent {
    fn height(self) -> f64 {
        self.above + self.below
    }
}

/// The axis of each member of a stack, from its top.
fn stacked(members: &[Drawn<'_>]) -> Vec<f64> {
    let mut top = 0.0;
    let mut axes = Vec::new();
    for extent in members.iter().map(Drawn::extent) {
        axes.push(top + extent.above);
        top += extent.height();
    }
    axes
}

fn middle(axes: &[f64]) -> f64 {
    axes.first().zip(axes.last()).map_or(0.0, |(first, last)| (first + last) / 2.0)
}

/// The network as a drawing that stands by itself in a page: one `svg` element in the colour of the text around it.
#[must_use]
pub fn schematic(network: &Network, labels: &Labels) -> String {
    let drawn = Drawn::of(network, &mut labels.parts.iter().map(String::as_str));
    let body = drawn.extent();
    let [left, right] = labels.ends.each_ref().map(terminal_extent);
    let above = [left, body, right].iter().map(|part| part.above).fold(0.0, f64::max);
    let below = [left, body, right].iter().map(|part| part.below).fold(0.0, f64::max);
    let (x, y) = (MARGIN, MARGIN + above);
    let width = left.width + body.width + right.width + 2.0 * MARGIN;
    let mut svg = Svg(String::new());
    let [start, end] = &labels.ends;
    svg.terminal(start, x, x + left.width, y, true);
    drawn.draw(&mut svg, x + left.width, y);
    svg.terminal(end, width - MARGIN, x + left.width + body.width, y, false);
    let height = above + below + 2.0 * MARGIN;
    format!(
        "<svg role=\"img\" viewBox=\"0 0 {width:.0} {height:.0}\" width=\"{width:.0}\" height=\"{height:.0}\" \
         fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.6\" stroke-linecap=\"round\" stroke-linejoin=\"round\" \
         font-family=\"ui-monospace, monospace\" font-size=\"{LETTERS}\">\n\
         <title>{}</title>\n<desc>{}</desc>\n{}</svg>",
        escaped(&labels.title),
        escaped(&labels.description),
        svg.0
    )
}

fn terminal_extent(terminal: &Terminal) -> Extent {
    let text = terminal.lines.iter().map(|line| text_width(line)).fold(0.0, f64::max);
    Extent {
        width: text + LEAD,
        above: TEXT_ABOVE + LETTERS + LINE * terminal.lines.len().saturating_sub(1) as f64,
        below: if terminal.is_ground { GROUND_BELOW } else { BELOW },
    }
}

/// What is drawn so far.
struct Svg(String);

impl Svg {
    fn put(&mut self, arguments: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.0.write_fmt(arguments);
        self.0.push('\n');
    }

    fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) {
        if x1 != x2 || y1 != y2 {
            self.put(format_args!("<path d=\"M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}\"/>"));
        }
    }

    fn joint(&mut self, x: f64, y: f64) {
        self.put(format_args!(
            "<circle class=\"joint\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" fill=\"currentColor\" stroke=\"none\"/>"
        ));
    }

    fn text(&mut self, text: &str, x: f64, y: f64, anchor: &str) {
        self.put(format_args!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" fill=\"currentColor\" stroke=\"none\">{}</text>",
            escaped(text)
        ));
    }

    fn part(&mut self, component: Component, text: &str, x: f64, y: f64, width: f64) {
        let centre = x + width / 2.0;
        let (class, half) = match component {
            Component::Resistor(_) => ("resistor", HALF_RESISTOR),
            Component::Capacitor(_) => ("capacitor", HALF_GAP),
            Component::Inductor(_) => ("inductor", 4.0 * BUMP),
        };
        self.line([x, y], [centre - half, y]);
        self.put(format_args!("<g class=\"{class}\">"));
        match component {
            Component::Resistor(_) => self.put(format_args!(
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"16\"/>",
                centre - half,
                y - 8.0,
                2.0 * half
            )),
            Component::Capacitor(_) => {
                for plate in [centre - half, centre + half] {
                    self.put(format_args!(
                        "<path stroke-width=\"2.4\" stroke-linecap=\"butt\" d=\"M{plate:.1} {:.1}v24\"/>",
                        y - 12.0
                    ));
                }
            }
            Component::Inductor(_) => {
                let bump = format!("a{BUMP} {BUMP} 0 0 1 {:.1} 0", 2.0 * BUMP);
                self.put(format_args!("<path d=\"M{:.1} {y:.1}{}\"/>", centre - half, bump.repeat(4)));
            }
        }
        self.put(format_args!("</g>"));
        self.line([centre + half, y], [x + width, y]);
        self.text(text, centre, y - TEXT_ABOVE, "middle");
    }

    /// A terminal with its wire from the outer end to the network's.
    fn terminal(&mut self, terminal: &Terminal, outer: f64, inner: f64, y: f64, starts: bool) {
        let inwards = if starts { 1.0 } else { -1.0 };
        if terminal.is_ground {
            let x = outer + inwards * 14.0;
            self.line([x, y], [inner, y]);
            self.put(format_args!(
                "<path class=\"ground\" d=\"M{x:.1} {y:.1}v14M{:.1} {:.1}h24M{:.1} {:.1}h15M{:.1} {:.1}h6\"/>",
                x - 12.0,
                y + 14.0,
                x - 7.5,
                y + 20.0,
                x - 3.0,
                y + 26.0
            ));
        } else {
            let x = outer + inwards * 4.0;
            self.put(format_args!("<circle class=\"terminal\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\"/>"));
            self.line([x + inwards * 4.0, y], [inner, y]);
        }
        let anchor = if starts { "start" } else { "end" };
        let count = terminal.lines.len();
        for (index, line) in terminal.lines.iter().enumerate() {
            let above = TEXT_ABOVE + LINE * (count - 1 - index) as f64;
            self.text(line, outer, y - above, anchor);
        }
    }
}
