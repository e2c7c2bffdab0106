//! Curves over frequency as SVG.

use super::axes::{self, Decibels, Scale, TEXT, ordinary};
use super::captions;
use super::labels::spread;
use super::palette::{FAINT_INK, GRID, INK, Style, style};
use super::simplify::simplified;
use super::svg::{Anchor, Area, Svg, Words, number, path};
use crate::picture::{Bounds, Corridor, Curves, Mark, Quantity, Strand, Subject};

/// Size of the whole drawing, in pixels.
const SIZE: [f64; 2] = [960.0, 620.0];
/// From the frame to the drawing's edges.
const LEFT: f64 = 82.0;
const TOP: f64 = 84.0;
const BOTTOM: f64 = 116.0;
/// The same where no footer has to explain anything.
const BOTTOM_ALONE: f64 = 66.0;
/// From the frame to a label: the leader, the sample of the line, and the text.
const LEADER: f64 = 14.0;
const SAMPLE: f64 = 34.0;
const BEFORE_TEXT: f64 = LEADER + SAMPLE + 8.0;
/// The column of labels takes no more than this.
const WIDEST_LABEL: f64 = 250.0;
/// From one label to the next.
const LABEL_GAP: f64 = 21.0;
/// What a level picture shows at least and at most, in dB.
const LEAST_SPAN: f64 = 18.0;
const MOST_SPAN: f64 = 60.0;
/// Points nearer than this to the line, in pixels, are left out.
const TOLERANCE: f64 = 0.02;
/// From one marker of a curve to its next, and from a curve's first to the next curve's, in pixels.
const MARKER_STEP: f64 = 150.0;
const MARKER_SHIFT: f64 = 37.0;

/// Of the shading where built guitars lie; that of a corridor is fainter.
const BUILT_OPACITY: f64 = 0.3;

/// The drawing.
pub(super) fn draw(curves: &Curves) -> String {
    let title = captions::title(curves);
    let mut svg = Svg::new(SIZE[0], SIZE[1], &title, &captions::subtitle(curves));
    let labels: Vec<String> = curves
        .curves
        .iter()
        .map(|curve| svg.ruler.cut(&label(curves, curve), TEXT, WIDEST_LABEL))
        .collect();
    let widest = labels.iter().map(|label| svg.ruler.width(label, TEXT)).fold(0.0, f64::max);
    let area = Area {
        left: LEFT,
        top: TOP,
        right: SIZE[0] - BEFORE_TEXT - widest - 14.0,
        bottom: SIZE[1] - if curves.target.is_some() { BOTTOM } else { BOTTOM_ALONE },
    };
    let range = range(curves);
    let plot = Plot {
        area,
        across: Scale {
            values: curves.frequency_hz,
            pixels: [area.left, area.right],
            is_logarithmic: true,
        },
        up: Scale {
            values: [range.low, range.high],
            pixels: [area.bottom, area.top],
            is_logarithmic: false,
        },
    };
    headings(&mut svg, &title, &captions::subtitle(curves));
    svg.inside(area);
    corridors(&mut svg, &plot, curves);
    built(&mut svg, &plot, curves);
    svg.end();
    let what = match curves.quantity {
        Quantity::Level => "level in dB",
        Quantity::Deviation => "difference in dB",
        Quantity::Reading => "dB (impedances: of ohms)",
    };
    axes::draw(&mut svg, area, plot.across, plot.up, range, what);
    if curves.quantity == Quantity::Deviation {
        let zero = plot.up.at(0.0);
        svg.line(
            [area.left, zero],
            [area.right, zero],
            &format!("stroke=\"{FAINT_INK}\" stroke-width=\"1.4\""),
        );
    }
    svg.inside(area);
    let names = edges(&mut svg, &plot, curves);
    for (index, curve) in curves.curves.iter().enumerate() {
        lines(&mut svg, &plot, &curve.strands, index);
    }
    svg.end();
    svg.frame(area, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.3\""));
    if let Some(mark) = &curves.worst {
        worst(&mut svg, &plot, curves, mark, &names);
    }
    column(&mut svg, &plot, curves, &labels);
    footer(&mut svg, area, curves);
    svg.finished()
}

/// Title and subtitle.
pub(super) fn headings(svg: &mut Svg, title: &str, subtitle: &str) {
    let room = svg.size()[0] - 28.0;
    let title = svg.ruler.cut(title, 21.0, room);
    let big = Words {
        text: &title,
        size: 21.0,
        colour: INK,
        anchor: Anchor::Start,
        bold_halo: false,
    };
    svg.text([14.0, 32.0], &big);
    let subtitle = svg.ruler.cut(subtitle, TEXT, room);
    let small = Words {
        colour: FAINT_INK,
        ..ordinary(&subtitle, Anchor::Start)
    };
    svg.text([14.0, 58.0], &small);
}

struct Plot {
    area: Area,
    across: Scale,
    up: Scale,
}

impl Plot {
    fn at(&self, [frequency, level]: [f64; 2]) -> [f64; 2] {
        [self.across.at(frequency), self.up.at(level)]
    }
}

fn label(curves: &Curves, curve: &crate::picture::Curve) -> String {
    let text = captions::label(curves, &curve.of);
    match (curve.strands.is_empty(), curves.quantity) {
        (false, _) => text,
        (true, Quantity::Level | Quantity::Reading) => format!("{text} (silent)"),
        (true, Quantity::Deviation) => format!("{text} (not asked about)"),
    }
}

/// The range upwards: all curves and, of the corridors, what lies near them.
pub(super) fn range(curves: &Curves) -> Decibels {
    let strands = curves.curves.iter().flat_map(|curve| &curve.strands);
    let bands = curves.built.iter().flat_map(|band| &band.points);
    let built = bands.flat_map(|bounds| [bounds.low_db, bounds.high_db]).flatten();
    let points = strands.flat_map(|strand| strand.points.iter().map(|point| point[1])).chain(built);
    let (mut low, mut high) = points.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), level| {
        (low.min(level), high.max(level))
    });
    if low > high {
        (low, high) = (0.0, 0.0);
    }
    let shown = curves.corridors.iter().filter(|corridor| is_shown(corridor, curves));
    let bounds = shown.flat_map(|corridor| &corridor.points);
    let room = (low - 6.0, high + 6.0);
    for bound in bounds.flat_map(|bounds| [bounds.low_db, bounds.high_db]).flatten() {
        (low, high) = (low.min(bound.max(room.0)), high.max(bound.min(room.1)));
    }
    let margin = 0.03 * (high - low).max(1.0);
    let least = if curves.quantity == Quantity::Deviation { 6.0 } else { LEAST_SPAN };
    Decibels::around(low.max(high - MOST_SPAN) - margin, high + margin, least)
}

/// In a picture of levels each curve has corridors of its own. Those of a band's mean, and of builds side by side, would lie upon each
/// other: only the curve with the worst point shows them.
pub(super) fn is_shown(corridor: &Corridor, curves: &Curves) -> bool {
    let mark = curves.worst.as_ref();
    let of_marked = mark.is_some_and(|mark| corridor.curve == Some(mark.curve));
    let side_by_side = matches!(curves.subject, Subject::Position(_));
    match corridor.curve {
        None => true,
        Some(_) if corridor.is_mean => of_marked && mark.is_some_and(|mark| mark.clause == corridor.clause),
        Some(_) => of_marked || !side_by_side,
    }
}

fn corridors(svg: &mut Svg, plot: &Plot, curves: &Curves) {
    for corridor in curves.corridors.iter().filter(|corridor| is_shown(corridor, curves)) {
        let colour = corridor.curve.map_or(INK, |curve| style(curve).colour);
        let opacity = if corridor.is_mean { 0.07 } else { 0.13 };
        let style = format!("class=\"corridor\" fill=\"{colour}\" fill-opacity=\"{opacity}\"");
        svg.shape(&between(plot, &corridor.points), &style);
    }
}

/// Where nine of ten built guitars lie, in the colour of their curve.
fn built(svg: &mut Svg, plot: &Plot, curves: &Curves) {
    for band in &curves.built {
        let colour = band.curve.map_or(INK, |curve| style(curve).colour);
        let style = format!("class=\"built\" fill=\"{colour}\" fill-opacity=\"{BUILT_OPACITY}\" stroke=\"{colour}\" stroke-width=\"0.6\"");
        svg.shape(&between(plot, &band.points), &style);
    }
}

/// The outline of what lies between the lower and the upper edge.
fn between(plot: &Plot, points: &[Bounds]) -> String {
    let [low, high] = outline(plot, points).map(|edge| simplified(&edge, TOLERANCE));
    path(high.into_iter().chain(low.into_iter().rev())) + "Z"
}

/// The lower and the upper edge; where there is no bound, far outside the frame.
fn outline(plot: &Plot, points: &[Bounds]) -> [Vec<[f64; 2]>; 2] {
    let edge = |bound: fn(&Bounds) -> Option<f64>, outside: f64| {
        let place = |bounds: &Bounds| {
            [
                plot.across.at(bounds.frequency_hz),
                bound(bounds).map_or(outside, |level| plot.up.at(level)),
            ]
        };
        points.iter().map(place).collect()
    };
    [
        edge(|bounds| bounds.low_db, plot.area.bottom + 50.0),
        edge(|bounds| bounds.high_db, plot.area.top - 50.0),
    ]
}

/// The bounds themselves as thin lines: unbroken for each frequency, dashed for a mean. Gives back where the clauses' names stand.
fn edges(svg: &mut Svg, plot: &Plot, curves: &Curves) -> Vec<Area> {
    let labelled = curves.quantity == Quantity::Deviation;
    let mut taken: Vec<Area> = Vec::new();
    for corridor in curves.corridors.iter().filter(|corridor| is_shown(corridor, curves)) {
        let colour = corridor.curve.map_or(INK, |curve| style(curve).colour);
        let dash = if corridor.is_mean { " stroke-dasharray=\"7 4\"" } else { "" };
        for edge in outline(plot, &corridor.points) {
            let data = path(simplified(&edge, TOLERANCE));
            svg.shape(
                &data,
                &format!("class=\"bound\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.1\"{dash}"),
            );
        }
        if labelled {
            clause_name(svg, plot, curves, corridor, &mut taken);
        }
    }
    taken
}

/// Which clause a straightened corridor is of, in a corner of it, where it hides least of the curves.
fn clause_name(svg: &mut Svg, plot: &Plot, curves: &Curves, corridor: &Corridor, taken: &mut Vec<Area>) {
    let (Some(first), Some(last)) = (corridor.points.first(), corridor.points.last()) else {
        return;
    };
    let mean = if corridor.is_mean { ", mean" } else { "" };
    let text = format!("wish {}{mean}", corridor.clause + 1);
    let words = |anchor| Words {
        colour: FAINT_INK,
        ..ordinary(&text, anchor)
    };
    let [left, right] = [first, last].map(|bounds| plot.across.at(bounds.frequency_hz));
    let top = first.high_db.map_or(plot.area.top, |level| plot.up.at(level)).max(plot.area.top);
    let corners = [(left + 6.0, Anchor::Start), (right - 6.0, Anchor::End)];
    let places = (0..6).flat_map(|row| corners.map(|(x, anchor)| ([x, top + 18.0 + 20.0 * f64::from(row)], anchor)));
    let free = |(at, anchor): &([f64; 2], Anchor)| {
        let area = svg.area(*at, &words(*anchor));
        let outside = area.left < plot.area.left || area.right > plot.area.right || area.bottom > plot.area.bottom;
        !outside && !taken.iter().any(|other| other.meets(area))
    };
    let best = places
        .filter(free)
        .min_by_key(|(at, anchor)| hidden(plot, curves, svg.area(*at, &words(*anchor))));
    if let Some((at, anchor)) = best {
        taken.push(svg.text(at, &words(anchor)));
    }
}

/// How many points of curves an area would hide; one that reaches beyond the plot hides all.
fn hidden(plot: &Plot, curves: &Curves, area: Area) -> usize {
    let frame = plot.area;
    if area.left < frame.left || area.right > frame.right || area.top < frame.top || area.bottom > frame.bottom {
        return usize::MAX;
    }
    let strands = curves.curves.iter().flat_map(|curve| &curve.strands);
    let crossed = |strand: &Strand| {
        let place = |point: &[f64; 2]| plot.at(*point);
        let inside = |[x, y]: [f64; 2]| area.left < x && x < area.right && area.top < y && y < area.bottom;
        // A mean has two points only: its line counts where it passes.
        let passes = strand.is_mean
            && strand
                .points
                .first()
                .is_some_and(|point| (area.top..area.bottom).contains(&place(point)[1]));
        strand.points.iter().filter(|point| inside(place(point))).count() + if passes { 30 } else { 0 }
    };
    let edge = |bounds: &Bounds| {
        let at_level = |level: f64| plot.at([bounds.frequency_hz, level])[1];
        [bounds.low_db, bounds.high_db]
            .into_iter()
            .flatten()
            .map(at_level)
            .any(|y| (area.top..area.bottom).contains(&y))
    };
    // What is drawn beside curves hides less than they do.
    let crosses = |band: &Corridor| {
        let reaches = |bounds: &&Bounds| (area.left..area.right).contains(&plot.across.at(bounds.frequency_hz)) || band.is_mean;
        band.points.iter().filter(reaches).filter(|bounds| edge(bounds)).count()
    };
    strands.map(crossed).sum::<usize>() + curves.built.iter().map(crosses).sum::<usize>()
}

fn lines(svg: &mut Svg, plot: &Plot, strands: &[Strand], index: usize) {
    let Style { colour, dash, marker, .. } = style(index);
    svg.group(&format!("class=\"curve\" data-curve=\"{index}\""));
    for strand in strands {
        let points: Vec<[f64; 2]> = strand.points.iter().map(|point| plot.at(*point)).collect();
        let dash = if dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{dash}\"")
        };
        let width = if strand.is_mean { 3.6 } else { 2.3 };
        svg.shape(
            &path(simplified(&points, TOLERANCE)),
            &format!("class=\"strand\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linejoin=\"round\"{dash}"),
        );
        for point in marked(&points, index, strand.is_mean) {
            svg.marker(marker, point, colour);
        }
    }
    svg.end_group();
}

/// Where markers stand on a curve: evenly, each curve's shifted against the last one's.
fn marked(points: &[[f64; 2]], index: usize, is_mean: bool) -> Vec<[f64; 2]> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    let start = first[0] + 24.0 + (index as f64 * MARKER_SHIFT) % MARKER_STEP;
    let mut wanted = start;
    if is_mean {
        let share = (index as f64 * MARKER_SHIFT % MARKER_STEP / MARKER_STEP).mul_add(0.7, 0.15);
        return vec![[first[0] + share * (last[0] - first[0]), first[1]]];
    }
    let mut found = Vec::new();
    for pair in points.windows(2) {
        let [from, to] = pair else { continue };
        while wanted <= to[0] && wanted < last[0] - 6.0 {
            let share = (wanted - from[0]) / (to[0] - from[0]).max(f64::MIN_POSITIVE);
            found.push([wanted, from[1] + share * (to[1] - from[1])]);
            wanted += MARKER_STEP;
        }
    }
    found
}

/// A ring with the word beside it, where it hides least of the curves.
fn worst(svg: &mut Svg, plot: &Plot, curves: &Curves, mark: &Mark, taken: &[Area]) {
    let [x, y] = plot.at([mark.at_hz, mark.at_db]);
    let (x, y) = (x.clamp(plot.area.left, plot.area.right), y.clamp(plot.area.top, plot.area.bottom));
    for (radius, stroke) in [
        (9.0, "stroke=\"#fff\" stroke-width=\"5\""),
        (9.0, "stroke=\"#14213d\" stroke-width=\"2.2\""),
    ] {
        svg.shape(&ring([x, y], radius), &format!("fill=\"none\" {stroke}"));
    }
    svg.shape(&ring([x, y], 2.2), &format!("class=\"worst\" fill=\"{INK}\""));
    let words = |anchor| Words {
        bold_halo: true,
        ..ordinary("worst", anchor)
    };
    let places = [
        ([13.0, -13.0], Anchor::Start),
        ([-13.0, -13.0], Anchor::End),
        ([13.0, 25.0], Anchor::Start),
        ([-13.0, 25.0], Anchor::End),
        ([17.0, 5.5], Anchor::Start),
        ([-17.0, 5.5], Anchor::End),
        ([0.0, -20.0], Anchor::Middle),
        ([0.0, 32.0], Anchor::Middle),
    ];
    let covered = |(shift, anchor): &([f64; 2], Anchor)| {
        let area = svg.area([x + shift[0], y + shift[1]], &words(*anchor));
        let on_name = taken.iter().any(|name| name.meets(area));
        hidden(plot, curves, area).saturating_add(if on_name { 500 } else { 0 })
    };
    if let Some((shift, anchor)) = places.iter().min_by_key(|place| covered(place)) {
        svg.text([x + shift[0], y + shift[1]], &words(*anchor));
    }
}

/// A circle as path data.
pub(super) fn ring([x, y]: [f64; 2], radius: f64) -> String {
    let [left, y, radius, across] = [x - radius, y, radius, 2.0 * radius].map(number);
    format!("M{left} {y}a{radius} {radius} 0 1 0 {across} 0a{radius} {radius} 0 1 0 -{across} 0Z")
}

/// The labels beside the plot: a leader from the curve's end, a piece of its line, its name.
fn column(svg: &mut Svg, plot: &Plot, curves: &Curves, labels: &[String]) {
    let area = plot.area;
    let end = |curve: &crate::picture::Curve| {
        let ends = curve.strands.iter().filter_map(|strand| strand.points.last());
        let [x, y] = plot.at(*ends.max_by(|one, other| one[0].total_cmp(&other[0]))?);
        Some([x, y.clamp(area.top, area.bottom)])
    };
    let ends: Vec<Option<[f64; 2]>> = curves.curves.iter().map(end).collect();
    let wanted: Vec<f64> = ends.iter().map(|end| end.map_or(area.bottom, |end| end[1])).collect();
    let gap = LABEL_GAP.min(area.height() / (labels.len().max(2) - 1) as f64);
    let places = spread(&wanted, gap, area.top, area.bottom);
    svg.group("class=\"curve-labels\"");
    for (index, ((label, place), end)) in labels.iter().zip(places).zip(ends).enumerate() {
        let Style { colour, dash, marker, .. } = style(index);
        let text_left = area.right + BEFORE_TEXT;
        if let Some([x, y]) = end {
            let leader = path([[x, y], [area.right, y], [area.right + LEADER, place]]);
            let leader = if x < area.right - 1.0 {
                format!("stroke-dasharray=\"1.5 4\" d=\"{leader}\"")
            } else {
                format!("d=\"{}\"", path([[area.right, y], [area.right + LEADER, place]]))
            };
            svg.raw(&format!(
                "<path {leader} fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.1\"/>\n"
            ));
            let dash = if dash.is_empty() {
                String::new()
            } else {
                format!(" stroke-dasharray=\"{dash}\"")
            };
            let sample = [[area.right + LEADER, place], [area.right + LEADER + SAMPLE, place]];
            svg.line(sample[0], sample[1], &format!("stroke=\"{colour}\" stroke-width=\"2.3\"{dash}"));
            svg.marker(marker, [area.right + LEADER + SAMPLE / 2.0, place], colour);
        }
        svg.text([text_left, place + 5.5], &ordinary(label, Anchor::Start));
    }
    svg.end_group();
}

/// Below the axis: what shading and ring mean.
fn footer(svg: &mut Svg, area: Area, curves: &Curves) {
    let left = area.left;
    let mut y = area.bottom + 76.0;
    if curves.corridors.iter().any(|corridor| is_shown(corridor, curves)) {
        let swatch = Area {
            left,
            top: y - 13.0,
            right: left + 26.0,
            bottom: y + 3.0,
        };
        svg.frame(
            swatch,
            &format!("fill=\"{INK}\" fill-opacity=\"0.13\" stroke=\"{GRID}\" stroke-width=\"1\""),
        );
        let allowed = svg.text([left + 36.0, y], &ordinary(captions::allowed(curves), Anchor::Start));
        if !curves.built.is_empty() {
            let beside = allowed.right + 26.0;
            let swatch = Area {
                left: beside,
                right: beside + 26.0,
                ..swatch
            };
            svg.frame(
                swatch,
                &format!("fill=\"{INK}\" fill-opacity=\"{BUILT_OPACITY}\" stroke=\"{GRID}\" stroke-width=\"1\""),
            );
            svg.text([beside + 36.0, y], &ordinary(captions::BUILT, Anchor::Start));
        }
        y += 24.0;
    }
    if let Some(mark) = &curves.worst {
        let middle = [left + 13.0, y - 5.0];
        svg.shape(&ring(middle, 7.0), &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"2\""));
        svg.shape(&ring(middle, 1.9), &format!("fill=\"{INK}\""));
        let text = svg.ruler.cut(&captions::worst(curves, mark), TEXT, svg.size()[0] - left - 50.0);
        svg.text([left + 36.0, y], &ordinary(&text, Anchor::Start));
    }
}
