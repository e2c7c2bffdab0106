//! Scales, ticks and grids.

use super::palette::{GRID, INK, MINOR_GRID};
use super::svg::{Anchor, Area, Svg, Words};

/// Size of tick labels and captions, in pixels: still 8 at half size.
pub(super) const TEXT: f64 = 16.0;

/// A scale along one direction of the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Values at the two ends.
    pub values: [f64; 2],
    /// Pixels there.
    pub pixels: [f64; 2],
    /// Whether equal ratios are equal distances.
    pub is_logarithmic: bool,
}

impl Scale {
    pub(super) fn at(&self, value: f64) -> f64 {
        let place = |value: f64| if self.is_logarithmic { value.ln() } else { value };
        let [low, high] = self.values.map(place);
        let share = (place(value) - low) / (high - low);
        self.pixels[0] + share * (self.pixels[1] - self.pixels[0])
    }
}

/// Labelled values of a logarithmic scale: 1, 2 and 5 of each decade.
pub(super) fn labelled(low: f64, high: f64) -> Vec<f64> {
    decades(low, high, &[1.0, 2.0, 5.0])
}

/// All values of a logarithmic scale that have a line.
pub(super) fn lined(low: f64, high: f64) -> Vec<f64> {
    decades(low, high, &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
}

fn decades(low: f64, high: f64, digits: &[f64]) -> Vec<f64> {
    let [first, last] = [low, high].map(|end| end.log10().floor() as i32);
    let all = (first..=last).flat_map(|decade| digits.iter().map(move |digit| digit * 10_f64.powi(decade)));
    // Ends may be off by a rounding.
    all.filter(|value| low * (1.0 - 1e-9) <= *value && *value <= high * (1.0 + 1e-9))
        .collect()
}

/// A range in dB with its lines: rounded outwards, at least 20 dB or so, lines of 1, 2, 5 or 10 dB, labels at every line or every other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Decibels {
    pub low: f64,
    pub high: f64,
    /// From one label to the next.
    pub step: f64,
    /// From one line to the next.
    pub minor: f64,
}

impl Decibels {
    pub(super) fn around(low: f64, high: f64, least: f64) -> Self {
        let middle = f64::midpoint(low, high);
        let half = (high - low).max(least) / 2.0;
        let (low, high) = (low.min(middle - half), high.max(middle + half));
        let steps = [(1.0, 0.5), (2.0, 1.0), (5.0, 1.0), (10.0, 2.0), (20.0, 5.0)];
        let (step, minor) = steps
            .into_iter()
            .find(|(step, _)| (high - low) / step <= 8.0)
            .unwrap_or((20.0, 5.0));
        let round = if step >= 5.0 { step / 2.0 } else { step };
        let round = if step == 5.0 { 1.0 } else { round };
        Self {
            low: (low / round).floor() * round,
            high: (high / round).ceil() * round,
            step,
            minor,
        }
    }

    pub(super) fn lines(&self, step: f64) -> Vec<f64> {
        let [first, last] = [(self.low / step).ceil() as i32, (self.high / step).floor() as i32];
        (first..=last).map(|index| f64::from(index) * step).collect()
    }
}

/// A frequency on the axis.
pub(super) fn hertz(value: f64) -> String {
    if value >= 1000.0 {
        format!("{}k", value / 1000.0)
    } else {
        format!("{}", (value * 1000.0).round() / 1000.0)
    }
}

/// A level on the axis, with a true minus sign.
pub(super) fn decibels(value: f64) -> String {
    let text = format!("{}", (value * 10.0).round() / 10.0);
    if value > 0.0 {
        format!("+{text}")
    } else {
        text.replace('-', "−")
    }
}

/// Lines, frame and labels of a plot whose abscissa is a frequency.
pub(super) fn draw(svg: &mut Svg, area: Area, across: Scale, up: Scale, range: Decibels, title: &str) {
    let [low, high] = across.values;
    let thin = format!("stroke=\"{MINOR_GRID}\" stroke-width=\"0.8\" fill=\"none\"");
    let thick = format!("stroke=\"{GRID}\" stroke-width=\"1\" fill=\"none\"");
    svg.group("class=\"grid\"");
    let labels = labelled(low, high);
    for (lines, stroke) in [(lined(low, high), &thin), (labels.clone(), &thick)] {
        for x in lines.into_iter().map(|value| across.at(value)) {
            svg.line([x, area.top], [x, area.bottom], stroke);
        }
    }
    for (lines, stroke) in [(range.lines(range.minor), &thin), (range.lines(range.step), &thick)] {
        for y in lines.into_iter().map(|value| up.at(value)) {
            svg.line([area.left, y], [area.right, y], stroke);
        }
    }
    svg.end_group();
    svg.group("class=\"frequency-labels\"");
    for value in labels {
        svg.text([across.at(value), area.bottom + 22.0], &ordinary(&hertz(value), Anchor::Middle));
    }
    svg.end_group();
    svg.group("class=\"level-labels\"");
    for value in range.lines(range.step) {
        svg.text([area.left - 9.0, up.at(value) + 5.5], &ordinary(&decibels(value), Anchor::End));
    }
    svg.end_group();
    svg.text(
        [f64::midpoint(area.left, area.right), area.bottom + 46.0],
        &ordinary("frequency in Hz", Anchor::Middle),
    );
    svg.upward_text([area.left - 56.0, f64::midpoint(area.top, area.bottom)], title, TEXT, INK);
}

/// A caption of the usual size.
pub(super) fn ordinary(text: &str, anchor: Anchor) -> Words<'_> {
    Words {
        text,
        size: TEXT,
        colour: INK,
        anchor,
        bold_halo: false,
    }
}

#[cfg(test)]
mod tests {
    use super::{Decibels, Scale, decibels, hertz, labelled, lined};

    #[test]
    fn the_audio_axis_has_the_usual_labels() {
        let labels: Vec<String> = labelled(50.0, 10e3).into_iter().map(hertz).collect();
        assert_eq!(labels, ["50", "100", "200", "500", "1k", "2k", "5k", "10k"]);
        assert_eq!(lined(50.0, 10e3).len(), 5 + 9 + 9 + 1);
        assert_eq!(labelled(20.0, 20e3).len(), 10);
    }

    #[test]
    fn a_range_in_decibels_is_rounded_outwards() {
        let range = Decibels::around(-13.2, 4.4, 20.0);
        assert!(
            range.low <= -13.2 && range.high >= 4.4 && range.high - range.low >= 20.0,
            "{range:?}"
        );
        assert_eq!(range.step, 5.0);
        assert_eq!(range.lines(5.0).first(), Some(&-15.0));
        assert_eq!(
            (decibels(-5.0).as_str(), decibels(0.0).as_str(), decibels(5.0).as_str()),
            ("−5", "0", "+5")
        );
    }

    #[test]
    fn a_logarithmic_scale_has_the_geometric_mean_in_the_middle() {
        let scale = Scale {
            values: [100.0, 10e3],
            pixels: [0.0, 200.0],
            is_logarithmic: true,
        };
        assert!((scale.at(1000.0) - 100.0).abs() < 1e-9);
    }
}
