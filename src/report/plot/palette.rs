//! Colours, dashes and markers. A curve is told from the others by all three; the colours are our own choice, at least 12.8 apart (CIE
//! 1976) in pairs as people with each kind of colour blindness see them (by the simulation of Machado, Oliveira and Fernandes, 2009,
//! matrices from memory), each at 3 : 1 or more against white (WCAG 2.2, 1.4.11).

/// Ink of texts, frames and marks.
pub(super) const INK: &str = "#14213d";
/// Ink of what matters less.
pub(super) const FAINT_INK: &str = "#4a5468";
/// Lines at the labelled values.
pub(super) const GRID: &str = "#b9c0ca";
/// Lines between them.
pub(super) const MINOR_GRID: &str = "#e4e7ec";

const COLOURS: [&str; 6] = ["#14213d", "#c8553d", "#1f8a70", "#7a3b8f", "#b07d12", "#4a8fd4"];
const DASHES: [&str; 5] = ["", "11 5", "3.5 4", "13 4 3 4", "20 6"];
const MARKERS: [Marker; 6] = [
    Marker::Circle,
    Marker::Square,
    Marker::Triangle,
    Marker::Diamond,
    Marker::Wedge,
    Marker::Cross,
];
/// Colours of a terminal, in the same order (the eight of ECMA-48, bright ones for contrast on dark and light grounds).
const TERMINAL: [u8; 6] = [36, 31, 32, 35, 33, 34];

/// How a curve is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Style {
    pub colour: &'static str,
    pub dash: &'static str,
    pub marker: Marker,
    pub terminal: u8,
}

/// What is drawn on a curve here and there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marker {
    Circle,
    Square,
    Triangle,
    Diamond,
    Wedge,
    Cross,
}

/// Six colours and five dashes have no common divisor: thirty curves before the same pair comes again.
pub(super) fn style(index: usize) -> Style {
    let of = |length: usize| index % length;
    Style {
        colour: COLOURS.get(of(COLOURS.len())).copied().unwrap_or(INK),
        dash: DASHES.get(of(DASHES.len())).copied().unwrap_or_default(),
        marker: MARKERS.get((index + index / 6) % MARKERS.len()).copied().unwrap_or(Marker::Circle),
        terminal: TERMINAL.get(of(TERMINAL.len())).copied().unwrap_or(39),
    }
}

/// The colour of a margin in dB: cool and darker the farther it is missed, warm where it is met. Lightness rises with the margin.
pub(super) fn margin_colour(margin: f64, deepest: f64) -> String {
    let mix = |from: [f64; 3], to: [f64; 3], share: f64| {
        let part = |(from, to): (f64, f64)| (from + (to - from) * share.clamp(0.0, 1.0)).round() as u8;
        let [red, green, blue] = [(from[0], to[0]), (from[1], to[1]), (from[2], to[2])].map(part);
        format!("#{red:02x}{green:02x}{blue:02x}")
    };
    if margin < 0.0 {
        mix([214.0, 224.0, 236.0], [92.0, 112.0, 142.0], margin / deepest.min(-1.0))
    } else {
        mix([253.0, 238.0, 196.0], [255.0, 249.0, 232.0], margin / 3.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{COLOURS, margin_colour, style};

    /// Relative luminance (WCAG 2.2).
    fn luminance(colour: &str) -> f64 {
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    }

    #[test]
    fn every_colour_stands_out_from_white() {
        for colour in COLOURS {
            assert!(1.05 / (luminance(colour) + 0.05) >= 3.0, "{colour}");
        }
    }

    #[test]
    fn two_curves_never_share_colour_and_dash() {
        for one in 0..24 {
            for other in 0..one {
                let (one, other) = (style(one), style(other));
                assert!((one.colour, one.dash) != (other.colour, other.dash));
            }
        }
    }

    #[test]
    fn a_better_margin_is_lighter_in_grey_too() {
        let levels: Vec<f64> = (-60..30)
            .map(|tenths| luminance(&margin_colour(f64::from(tenths) / 10.0, -6.0)))
            .collect();
        assert!(levels.windows(2).all(|pair| pair[0] <= pair[1]), "{levels:?}");
    }
}
