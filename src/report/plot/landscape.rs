//! The margin over two values as SVG: shaded steps, iso-lines, the standard values as dots, the chosen pair ringed.

use super::axes::{Scale, TEXT, labelled, ordinary};
use super::captions;
use super::contours::Grid;
use super::curves::{headings, ring};
use super::palette::{FAINT_INK, INK, margin_colour};
use super::simplify::simplified;
use super::svg::{Anchor, Area, Svg, Words, number, path};
use crate::picture::{Axis, Landscape};
use crate::units::with_prefix;

const SIZE: [f64; 2] = [960.0, 660.0];
const AREA: Area = Area {
    left: 106.0,
    top: 84.0,
    right: 826.0,
    bottom: 556.0,
};
/// How many steps of the shading there are at most, and how far down they reach, in dB.
const STEPS: f64 = 8.0;
const DEPTH: f64 = 8.0;
/// A build that is silent lies this far down, in dB.
const SILENT: f64 = -1000.0;

/// The drawing.
pub(super) fn draw(landscape: &Landscape) -> String {
    let title = captions::landscape_title(landscape);
    let mut svg = Svg::new(SIZE[0], SIZE[1], &title, &captions::chosen(landscape));
    headings(&mut svg, &title, &captions::landscape_subtitle(landscape));
    let across = scale(&landscape.across, [AREA.left, AREA.right]);
    let up = scale(&landscape.up, [AREA.bottom, AREA.top]);
    let grid = Grid {
        across: landscape.across.grid.iter().map(|value| across.at(*value)).collect(),
        up: landscape.up.grid.iter().map(|value| up.at(*value)).collect(),
        values: landscape
            .margins_db
            .iter()
            .map(|row| row.iter().map(|margin| margin.unwrap_or(SILENT)).collect())
            .collect(),
    };
    let levels = levels(landscape);
    let deepest = levels.first().copied().unwrap_or_default();
    svg.frame(AREA, &format!("fill=\"{}\"", margin_colour(deepest - 1.0, deepest - 1.0)));
    svg.inside(AREA);
    for level in &levels {
        let data: String = grid.above(*level).into_iter().map(|ring| path(ring) + "Z").collect();
        svg.shape(&data, &format!("class=\"step\" fill=\"{}\"", margin_colour(*level, deepest - 1.0)));
    }
    dots(&mut svg, landscape, across, up);
    let here = [across.at(landscape.across.chosen), up.at(landscape.up.chosen)];
    let mut taken = vec![around(here, 13.0)];
    iso_lines(&mut svg, &grid, &levels, &mut taken);
    svg.end();
    chosen(&mut svg, here);
    svg.frame(AREA, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.3\""));
    ticks(&mut svg, landscape, across, up);
    key(&mut svg, &levels, deepest);
    footer(&mut svg, landscape);
    svg.finished()
}

fn scale(axis: &Axis, pixels: [f64; 2]) -> Scale {
    let end = |value: Option<&f64>| value.copied().unwrap_or(axis.chosen);
    Scale {
        values: [end(axis.grid.first()), end(axis.grid.last())],
        pixels,
        is_logarithmic: true,
    }
}

/// The levels of the iso-lines, lowest first: even steps of 0.1 to 1 dB over what the picture holds, 0 among them where it is met.
pub(super) fn levels(landscape: &Landscape) -> Vec<f64> {
    let margins = || landscape.margins_db.iter().flatten().flatten().copied();
    let best = margins().fold(landscape.chosen_db, f64::max);
    let least = margins().fold(best, f64::min).max(best - DEPTH);
    let steps = [0.1, 0.2, 0.5, 1.0];
    let step = steps.into_iter().find(|step| (best - least) / step <= STEPS).unwrap_or(1.0);
    let [first, last] = [(least / step).ceil() as i32, (best / step).floor() as i32];
    let levels: Vec<f64> = (first..=last).map(|index| f64::from(index) * step).collect();
    // On flat ground there is one step all the same.
    if levels.is_empty() { vec![last.into()] } else { levels }
}

fn dots(svg: &mut Svg, landscape: &Landscape, across: Scale, up: Scale) {
    let mut data = String::new();
    for y in &landscape.up.values {
        for x in &landscape.across.values {
            data.push_str(&format!("M{} {}h0", number(across.at(*x)), number(up.at(*y))));
        }
    }
    svg.shape(
        &data,
        &format!(
            "class=\"standard-values\" fill=\"none\" stroke=\"{INK}\" stroke-opacity=\"0.6\" stroke-width=\"3.4\" stroke-linecap=\"round\""
        ),
    );
}

fn around([x, y]: [f64; 2], half: f64) -> Area {
    Area {
        left: x - half,
        top: y - half,
        right: x + half,
        bottom: y + half,
    }
}

fn iso_lines(svg: &mut Svg, grid: &Grid, levels: &[f64], taken: &mut Vec<Area>) {
    for level in levels {
        let width = if level.abs() < 1e-9 { 2.6 } else { 1.1 };
        let lines = grid.lines(*level);
        for line in &lines {
            svg.shape(
                &path(simplified(line, 0.05)),
                &format!("class=\"iso-line\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"{width}\" stroke-linejoin=\"round\""),
            );
        }
        for line in lines.iter().filter(|line| line.len() >= 24) {
            iso_label(svg, *level, line, taken);
        }
    }
}

/// The level on its line, at the first place where it meets no other label.
fn iso_label(svg: &mut Svg, level: f64, line: &[[f64; 2]], taken: &mut Vec<Area>) {
    let text = super::axes::decibels(level);
    let words = Words {
        bold_halo: true,
        ..ordinary(&text, Anchor::Middle)
    };
    let shares = [0.5, 0.35, 0.65, 0.2, 0.8, 0.42, 0.58, 0.28, 0.72, 0.1, 0.9];
    for share in shares {
        let index = (share * line.len() as f64) as usize;
        let Some([x, y]) = line.get(index).copied() else { continue };
        let at = [x, y + 5.5];
        let area = svg.area(at, &words);
        let inside =
            area.left > AREA.left + 4.0 && area.right < AREA.right - 4.0 && area.top > AREA.top + 4.0 && area.bottom < AREA.bottom - 4.0;
        if inside && !taken.iter().any(|other| other.meets(area)) {
            taken.push(svg.text(at, &words));
            return;
        }
    }
}

fn chosen(svg: &mut Svg, here: [f64; 2]) {
    for stroke in [
        "stroke=\"#fff\" stroke-width=\"5.5\"".to_owned(),
        format!("class=\"chosen\" stroke=\"{INK}\" stroke-width=\"2.6\""),
    ] {
        svg.shape(&ring(here, 9.0), &format!("fill=\"none\" {stroke}"));
    }
    svg.shape(&ring(here, 3.0), &format!("fill=\"{INK}\""));
}

fn ticks(svg: &mut Svg, landscape: &Landscape, across: Scale, up: Scale) {
    let stroke = format!("stroke=\"{INK}\" stroke-width=\"1.2\"");
    svg.group("class=\"across-labels\"");
    for value in shown(&landscape.across) {
        let x = across.at(value);
        svg.line([x, AREA.bottom], [x, AREA.bottom + 6.0], &stroke);
        svg.text(
            [x, AREA.bottom + 24.0],
            &ordinary(&with_prefix(value, captions::unit(&landscape.across)), Anchor::Middle),
        );
    }
    svg.end_group();
    svg.group("class=\"up-labels\"");
    for value in shown(&landscape.up) {
        let y = up.at(value);
        svg.line([AREA.left - 6.0, y], [AREA.left, y], &stroke);
        svg.text(
            [AREA.left - 11.0, y + 5.5],
            &ordinary(&with_prefix(value, captions::unit(&landscape.up)), Anchor::End),
        );
    }
    svg.end_group();
    svg.text(
        [f64::midpoint(AREA.left, AREA.right), AREA.bottom + 49.0],
        &ordinary(&landscape.across.part, Anchor::Middle),
    );
    svg.upward_text([22.0, f64::midpoint(AREA.top, AREA.bottom)], &landscape.up.part, TEXT, INK);
}

/// Labelled values: 1, 2 and 5 of each decade; in less than a decade, standard values that leave room for each other.
fn shown(axis: &Axis) -> Vec<f64> {
    let (low, high) = (axis.grid.first().copied().unwrap_or(1.0), axis.grid.last().copied().unwrap_or(1.0));
    let round = labelled(low, high);
    if round.len() >= 4 {
        return round;
    }
    let step = (axis.values.len() / 6).max(1);
    let values: Vec<f64> = axis.values.iter().copied().step_by(step).collect();
    if values.is_empty() { round } else { values }
}

/// What each shade means, lightest on top.
fn key(svg: &mut Svg, levels: &[f64], deepest: f64) {
    let (left, height) = (AREA.right + 24.0, 30.0);
    svg.text([left, AREA.top + 12.0], &ordinary("margin", Anchor::Start));
    let colours = std::iter::once((deepest - 1.0, None)).chain(levels.iter().map(|level| (*level, Some(*level))));
    let colours: Vec<_> = colours.collect();
    for (index, (shade, edge)) in colours.iter().rev().enumerate() {
        let top = AREA.top + 26.0 + height * index as f64;
        let area = Area {
            left,
            top,
            right: left + 30.0,
            bottom: top + height,
        };
        svg.frame(
            area,
            &format!(
                "fill=\"{}\" stroke=\"{INK}\" stroke-width=\"0.8\"",
                margin_colour(*shade, deepest - 1.0)
            ),
        );
        if let Some(edge) = edge {
            svg.text(
                [left + 38.0, top + height + 5.5],
                &ordinary(&format!("{} dB", super::axes::decibels(*edge)), Anchor::Start),
            );
        }
    }
}

fn footer(svg: &mut Svg, landscape: &Landscape) {
    let y = AREA.bottom + 86.0;
    svg.shape(
        &ring([AREA.left + 9.0, y - 5.0], 8.0),
        &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"2.4\""),
    );
    svg.shape(&ring([AREA.left + 9.0, y - 5.0], 2.6), &format!("fill=\"{INK}\""));
    let right = svg
        .text([AREA.left + 26.0, y], &ordinary(&captions::chosen(landscape), Anchor::Start))
        .right;
    svg.shape(&ring([right + 34.0, y - 5.0], 1.9), &format!("fill=\"{FAINT_INK}\""));
    svg.text([right + 44.0, y], &ordinary("values to choose from", Anchor::Start));
}
