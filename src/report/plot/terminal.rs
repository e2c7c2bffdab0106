//! Pictures in text: curves of braille dots (Unicode block 2800, two by four dots a cell) with a letter here and there, so that they
//! are told apart without colour; landscapes in shades.

use super::axes::{Decibels, Scale, decibels, hertz, labelled};
use super::captions;
use super::curves::{is_shown, range};
use super::landscape::levels;
use super::palette::style;
use crate::picture::{Corridor, Curves, Landscape};
use crate::report::words::wrapped;

/// No line is wider.
const WIDTH: usize = 80;
/// Cells of the picture itself.
const COLUMNS: usize = 70;
const ROWS: usize = 21;
/// From one letter of a curve to its next, and from one curve's to another's, in cells.
const LETTER_STEP: usize = 24;
const LETTER_SHIFT: usize = 7;
/// Shades from the best downwards.
const SHADES: [char; 6] = ['█', '▓', '▒', '░', '·', ' '];

#[derive(Clone, Copy, Default)]
struct Cell {
    dots: u8,
    letter: Option<char>,
    shaded: bool,
    colour: Option<u8>,
}

struct Canvas {
    cells: Vec<Cell>,
    coloured: bool,
}

impl Canvas {
    fn new(coloured: bool) -> Self {
        Self {
            cells: vec![Cell::default(); COLUMNS * ROWS],
            coloured,
        }
    }

    fn cell(&mut self, column: usize, row: usize) -> Option<&mut Cell> {
        if column < COLUMNS && row < ROWS {
            self.cells.get_mut(row * COLUMNS + column)
        } else {
            None
        }
    }

    /// Sets a dot, counted in half cells across and quarter cells down.
    fn dot(&mut self, x: usize, y: usize, colour: u8) {
        const BITS: [[u8; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];
        let bit = BITS.get(x % 2).and_then(|column| column.get(y % 4)).copied().unwrap_or_default();
        if let Some(cell) = self.cell(x / 2, y / 4) {
            cell.dots |= bit;
            cell.colour = Some(colour);
        }
    }

    fn row(&self, row: usize) -> String {
        let mut line = String::new();
        let mut current: Option<u8> = None;
        let blank = Cell::default();
        for column in 0..COLUMNS {
            let cell = self.cells.get(row * COLUMNS + column).unwrap_or(&blank);
            let letter = match cell {
                Cell { letter: Some(letter), .. } => *letter,
                Cell { dots: 0, shaded: true, .. } => '░',
                Cell { dots: 0, .. } => ' ',
                Cell { dots, .. } => char::from_u32(0x2800 + u32::from(*dots)).unwrap_or(' '),
            };
            let wanted = cell.colour.filter(|_| self.coloured && letter != ' ');
            if wanted != current && letter != ' ' {
                line.push_str(&wanted.map_or_else(|| "\u{1b}[0m".to_owned(), |colour| format!("\u{1b}[{colour}m")));
                current = wanted;
            }
            line.push(letter);
        }
        let line = line.trim_end().to_owned();
        if current.is_some() { line + "\u{1b}[0m" } else { line }
    }
}

/// Curves over frequency.
pub(super) fn curves(curves: &Curves, coloured: bool) -> String {
    let range = range(curves);
    let across = Scale {
        values: curves.frequency_hz,
        pixels: [0.0, (2 * COLUMNS - 1) as f64],
        is_logarithmic: true,
    };
    let up = Scale {
        values: [range.low, range.high],
        pixels: [(4 * ROWS - 1) as f64, 0.0],
        is_logarithmic: false,
    };
    let mut canvas = Canvas::new(coloured);
    for corridor in curves.corridors.iter().filter(|corridor| is_shown(corridor, curves)) {
        shade(&mut canvas, corridor, across, up);
    }
    for (index, curve) in curves.curves.iter().enumerate() {
        for strand in &curve.strands {
            draw(&mut canvas, &strand.points, index, across, up);
        }
    }
    for (index, curve) in curves.curves.iter().enumerate() {
        for strand in &curve.strands {
            letters(&mut canvas, &strand.points, index, across, up);
        }
    }
    if let Some(mark) = &curves.worst {
        let [x, y] = [across.at(mark.at_hz) / 2.0, up.at(mark.at_db) / 4.0];
        if let Some(cell) = canvas.cell(x.max(0.0) as usize, y.max(0.0) as usize) {
            (cell.letter, cell.colour) = (Some('X'), None);
        }
    }
    let mut lines = vec![captions::title(curves), captions::subtitle(curves)];
    lines = lines.iter().map(|line| wrapped(line, WIDTH, 2)).collect();
    lines.extend(framed(&canvas, range, up));
    lines.push(frequencies(across));
    lines.push(legend(curves, coloured));
    lines.join("\n") + "\n"
}

/// Which letter a curve has.
fn letter(index: usize) -> char {
    u8::try_from(index)
        .ok()
        .and_then(|index| char::from_u32(u32::from(b'a' + index % 26)))
        .unwrap_or('?')
}

fn shade(canvas: &mut Canvas, corridor: &Corridor, across: Scale, up: Scale) {
    for pair in corridor.points.windows(2) {
        let [from, to] = pair else { continue };
        let columns = [from, to].map(|bounds| (across.at(bounds.frequency_hz) / 2.0).round().max(0.0) as usize);
        let row = |level: Option<f64>, none: f64| level.map_or(none, |level| up.at(level) / 4.0).clamp(0.0, ROWS as f64);
        let rows = [
            row(from.high_db, 0.0).ceil() as usize,
            row(from.low_db, ROWS as f64).floor() as usize,
        ];
        for column in columns[0]..=columns[1] {
            for row in rows[0]..rows[1] {
                if let Some(cell) = canvas.cell(column, row) {
                    cell.shaded = true;
                }
            }
        }
    }
}

/// The level at a dot's column: points are dense, so the nearest two are joined by a straight line.
fn draw(canvas: &mut Canvas, points: &[[f64; 2]], index: usize, across: Scale, up: Scale) {
    let colour = style(index).terminal;
    let mut last: Option<i64> = None;
    for x in 0..2 * COLUMNS {
        let Some(level) = level_at(points, across, x as f64) else {
            continue;
        };
        let y = up.at(level).round() as i64;
        // Steep parts are filled between one column and the next.
        let (top, bottom) = match last {
            Some(last) if last < y => (last + 1, y),
            Some(last) if last > y => (y, last - 1),
            _ => (y, y),
        };
        for y in top.max(0)..=bottom.min((4 * ROWS - 1) as i64) {
            canvas.dot(x, y as usize, colour);
        }
        last = Some(y);
    }
}

fn level_at(points: &[[f64; 2]], across: Scale, x: f64) -> Option<f64> {
    let place = |point: &[f64; 2]| across.at(point[0]);
    let next = points.partition_point(|point| place(point) < x);
    let (after, before) = (points.get(next)?, points.get(next.checked_sub(1).unwrap_or(next))?);
    // A strand begins and ends inside the picture: half a dot beyond its ends is still on it.
    if place(after) - x > 0.5 && next == 0 {
        return None;
    }
    let width = place(after) - place(before);
    let share = if width > 0.0 { (x - place(before)) / width } else { 0.0 };
    Some(before[1] + share * (after[1] - before[1]))
}

fn letters(canvas: &mut Canvas, points: &[[f64; 2]], index: usize, across: Scale, up: Scale) {
    let ends = points.first().zip(points.last());
    let Some([first, last]) = ends.map(|(first, last)| [first, last].map(|point| across.at(point[0]) / 2.0)) else {
        return;
    };
    let mut column = first.max(0.0) as usize + 2 + (index * LETTER_SHIFT) % LETTER_STEP.min((last - first).max(1.0) as usize);
    while (column as f64) < last {
        if let Some(level) = level_at(points, across, 2.0 * column as f64) {
            let row = up.at(level) / 4.0;
            if let Some(cell) = canvas.cell(column, row.max(0.0) as usize).filter(|_| row >= 0.0) {
                (cell.letter, cell.colour) = (Some(letter(index)), Some(style(index).terminal));
            }
        }
        column += LETTER_STEP;
    }
}

/// The canvas with levels at its left.
fn framed(canvas: &Canvas, range: Decibels, up: Scale) -> Vec<String> {
    let labels: Vec<(usize, String)> = range
        .lines(range.step)
        .into_iter()
        .map(|level| ((up.at(level) / 4.0).clamp(0.0, ROWS as f64 - 1.0) as usize, decibels(level)))
        .collect();
    (0..ROWS)
        .map(|row| {
            let label = labels.iter().find(|(at, _)| *at == row);
            let axis = label.map_or_else(|| "      │".to_owned(), |(_, label)| format!("{label:>5} ┤"));
            format!("{axis}{}", canvas.row(row)).trim_end().to_owned()
        })
        .collect()
}

/// The frequency axis: a line with ticks, and their labels where they leave room for each other.
fn frequencies(across: Scale) -> String {
    let mut line: Vec<char> = vec!['─'; COLUMNS];
    let mut labels: Vec<char> = Vec::new();
    for value in labelled(across.values[0], across.values[1]) {
        let column = (across.at(value) / 2.0).round().max(0.0) as usize;
        if let Some(tick) = line.get_mut(column) {
            *tick = '┴';
        }
        let text = hertz(value);
        // The first label begins at the frame, the others are centred.
        let start = (column + 7).saturating_sub(text.len() / 2).min(WIDTH - 3 - text.len());
        if labels.is_empty() || start > labels.len() {
            labels.resize(start, ' ');
            labels.extend(text.chars());
        }
    }
    let line: String = line.into_iter().collect();
    let labels: String = labels.into_iter().collect();
    format!("   dB └{line}\n{labels} Hz")
}

/// Which letter is which curve, and what the rest means.
fn legend(curves: &Curves, coloured: bool) -> String {
    let mut lines = Vec::new();
    for (index, curve) in curves.curves.iter().enumerate() {
        let name = captions::label(curves, &curve.of);
        let silent = if curve.strands.is_empty() {
            " (not shown: silent, or not asked about)"
        } else {
            ""
        };
        let line = wrapped(&format!("{} {name}{silent}", letter(index)), WIDTH, 2);
        lines.push(if coloured {
            let colour = style(index).terminal;
            let rest = line.get(1..).unwrap_or_default();
            format!("\u{1b}[{colour}m{}\u{1b}[0m{rest}", letter(index))
        } else {
            line
        });
    }
    if curves.corridors.iter().any(|corridor| is_shown(corridor, curves)) {
        let allowed = captions::allowed(curves).replace("with the ring", "with the X");
        lines.push(format!("░ {allowed}"));
    }
    if let Some(mark) = &curves.worst {
        lines.push(wrapped(&format!("X {}", captions::worst(curves, mark)), WIDTH, 2));
    }
    lines.join("\n")
}

/// The margin over two values.
pub(super) fn landscape(landscape: &Landscape, coloured: bool) -> String {
    let steps: Vec<f64> = levels(landscape).into_iter().rev().collect();
    let pick = |grid: &[f64], share: f64| ((grid.len().saturating_sub(1)) as f64 * share).round() as usize;
    let (across, up) = (&landscape.across, &landscape.up);
    let nearest = |grid: &[f64], value: f64, cells: usize| {
        let (low, high) = (grid.first().copied().unwrap_or(value), grid.last().copied().unwrap_or(value));
        ((value / low).ln() / (high / low).ln() * (cells - 1) as f64).round().max(0.0) as usize
    };
    let chosen = [
        nearest(&across.grid, across.chosen, COLUMNS - 4),
        ROWS - 1 - nearest(&up.grid, up.chosen, ROWS).min(ROWS - 1),
    ];
    let columns = COLUMNS - 4;
    let mut lines = vec![captions::landscape_title(landscape), captions::landscape_subtitle(landscape)];
    lines = lines.iter().map(|line| wrapped(line, WIDTH, 2)).collect();
    for row in 0..ROWS {
        let y = pick(&up.grid, (ROWS - 1 - row) as f64 / (ROWS - 1) as f64);
        let margins = landscape.margins_db.get(y);
        let cells: String = (0..columns)
            .map(|column| {
                let x = pick(&across.grid, column as f64 / (columns - 1) as f64);
                let margin = margins.and_then(|row| row.get(x)).copied().flatten();
                if [column, row] == chosen { 'O' } else { shade_of(margin, &steps) }
            })
            .collect();
        let label = if row % 5 == 0 {
            up.grid.get(y).map(|value| rounded(*value, captions::unit(up)))
        } else {
            None
        };
        let cells = if coloured {
            cells.replace('O', "\u{1b}[1;31mO\u{1b}[0m")
        } else {
            cells
        };
        let axis = label.map_or_else(|| format!("{:11}│", ""), |label| format!("{label:>9} ┤"));
        lines.push(format!("{axis}{cells}").trim_end().to_owned());
    }
    lines.push(format!("{:11}└{}", "", "─".repeat(columns)));
    lines.push(values_below(landscape, columns));
    lines.push(wrapped(&format!("{} to the right, {} upwards.", across.part, up.part), WIDTH, 2));
    let key: Vec<String> = SHADES
        .iter()
        .zip(&steps)
        .take(SHADES.len() - 1)
        .map(|(shade, step)| format!("{shade} from {}", decibels(*step)))
        .collect();
    lines.push(wrapped(&format!("{} dB; blank: less.", key.join("  ")), WIDTH, 2));
    lines.push(wrapped(&format!("O {}", captions::chosen(landscape)), WIDTH, 2));
    lines.join("\n") + "\n"
}

fn rounded(value: f64, unit: &str) -> String {
    crate::units::with_prefix_rounded(value, unit, 2)
}

fn values_below(landscape: &Landscape, columns: usize) -> String {
    let axis = &landscape.across;
    let mut line = String::new();
    for step in 0..=4 {
        let column = step * (columns - 1) / 4;
        let index = (axis.grid.len().saturating_sub(1)) * step / 4;
        let text = axis
            .grid
            .get(index)
            .map(|value| rounded(*value, captions::unit(axis)))
            .unwrap_or_default();
        let width = text.chars().count();
        let start = (12 + column).saturating_sub(width / 2).min(WIDTH - width);
        let so_far = line.chars().count();
        line.push_str(&" ".repeat(start.saturating_sub(so_far)));
        line.push_str(&text);
    }
    line
}

fn shade_of(margin: Option<f64>, steps: &[f64]) -> char {
    let below = margin.map_or(usize::MAX, |margin| {
        steps.iter().position(|step| margin >= *step).unwrap_or(usize::MAX)
    });
    SHADES.get(below).copied().unwrap_or(' ')
}
