//! Several built guitars side by side: the polynomials of each from its own values, its power at every point, its spread of ratios.

use super::product::Product;
use super::vector::Vector;
use super::{LANES, Lane};
use crate::target::Over;

/// What makes N and D of one wiring at one knob setting, every polynomial in its place of one row of coefficients.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Program {
    /// Each value as the guitar has it, and the number of the factor that it varies by.
    pub leaves: Vec<(f64, Option<usize>)>,
    /// What is done, in order.
    pub steps: Vec<Step>,
    /// How long the row is.
    pub length: usize,
    /// Where N begins; as long as D, and of an even number of coefficients.
    pub numerator: usize,
    /// Where D begins.
    pub denominator: usize,
    /// How many coefficients each has.
    pub terms: usize,
}

/// A range of coefficients: where it begins and how many there are.
pub type Span = (usize, usize);

/// One step of a program; what it writes into is zero before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// The coefficient at a place becomes 1.
    One(usize),
    /// The coefficient at a place becomes a leaf.
    Leaf(usize, usize),
    /// Adds a polynomial to the one that begins at a place.
    Add(usize, Span),
    /// Adds a leaf times a polynomial to the one that begins at a place.
    Scale(usize, usize, Span),
    /// Adds the product of two polynomials to the one that begins at a place.
    Multiply(usize, Span, Span),
}

/// The frequencies of one knob setting.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Points {
    /// ω² at each, in the unit that the program's values are in.
    pub squares: Vec<f64>,
    /// The number of each point.
    pub numbers: Vec<usize>,
}

/// A knob combination whose powers are compared with others; every list holds numbers of points.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The band.
    pub band: Vec<usize>,
    /// The anchor; empty for level.
    pub anchor: Vec<usize>,
    /// What it is compared with.
    pub reference: Reference,
    /// Whether each of its points is compared, or the whole band.
    pub over: Over,
}

/// What a combination is compared with.
#[derive(Debug, Clone, PartialEq)]
pub enum Reference {
    /// Other points of the same draw: a band and an anchor.
    Points(Vec<usize>, Vec<usize>),
    /// Known powers, levelled already: one a point, or one for the whole band.
    Powers(Vec<f64>),
}

on_every_set! {
    /// The power |N/D|² of eight built guitars at each point of a setting, into `powers` by the points' numbers. `factors` are what the
    /// leaves vary by; `row` is scratch.
    fn built_powers(program: &Program, points: &Points, factors: &[Lane], row: &mut Vec<Lane>, powers: &mut [Lane]) -> ();

    /// The smallest and the largest ratio of measure to reference over a combination, as powers.
    #[must_use]
    fn spread(compared: &Compared, powers: &[Lane]) -> [Lane; 2];
}

#[inline(always)]
fn built_powers<V: Vector>(program: &Program, points: &Points, factors: &[Lane], row: &mut Vec<Lane>, powers: &mut [Lane]) {
    row.clear();
    row.resize(program.length, [0.0; LANES]);
    polynomials::<V>(program, factors, row);
    let numerator = &row[program.numerator..program.numerator + program.terms];
    let denominator = &row[program.denominator..program.denominator + program.terms];
    for (square, number) in points.squares.iter().zip(&points.numbers) {
        let square = V::splat(*square);
        let turned = V::splat(0.0).sub(square);
        // Even and odd powers apart: N(jω) = Nₑ(−ω²) + jω·Nₒ(−ω²).
        let (mut even, mut odd) = (V::splat(0.0), V::splat(0.0));
        let (mut even_below, mut odd_below) = (V::splat(0.0), V::splat(0.0));
        for (above, below) in numerator.chunks_exact(2).rev().zip(denominator.chunks_exact(2).rev()) {
            even = even.mul_add(turned, V::load(&above[0]));
            odd = odd.mul_add(turned, V::load(&above[1]));
            even_below = even_below.mul_add(turned, V::load(&below[0]));
            odd_below = odd_below.mul_add(turned, V::load(&below[1]));
        }
        let above = even.mul_add(even, odd.mul(odd).mul(square));
        let below = even_below.mul_add(even_below, odd_below.mul(odd_below).mul(square));
        powers[*number] = above.div(below).store();
    }
}

#[inline(always)]
fn polynomials<V: Vector>(program: &Program, factors: &[Lane], row: &mut [Lane]) {
    for step in &program.steps {
        match *step {
            Step::One(at) => row[at] = V::splat(1.0).store(),
            Step::Leaf(at, leaf) => row[at] = value::<V>(program, factors, leaf).store(),
            Step::Add(at, (from, terms)) => {
                for term in 0..terms {
                    row[at + term] = V::load(&row[at + term]).add(V::load(&row[from + term])).store();
                }
            }
            Step::Scale(at, leaf, (from, terms)) => {
                let value = value::<V>(program, factors, leaf);
                for term in 0..terms {
                    row[at + term] = value.mul_add(V::load(&row[from + term]), V::load(&row[at + term])).store();
                }
            }
            Step::Multiply(at, (one, ones), (other, others)) => {
                for power in 0..ones {
                    let factor = V::load(&row[one + power]);
                    for term in 0..others {
                        let place = at + power + term;
                        row[place] = factor.mul_add(V::load(&row[other + term]), V::load(&row[place])).store();
                    }
                }
            }
        }
    }
}

#[inline(always)]
fn value<V: Vector>(program: &Program, factors: &[Lane], leaf: usize) -> V {
    let (nominal, factor) = program.leaves[leaf];
    let nominal = V::splat(nominal);
    match factor {
        Some(factor) => nominal.mul(V::load(&factors[factor])),
        None => nominal,
    }
}

#[inline(always)]
fn spread<V: Vector>(compared: &Compared, powers: &[Lane]) -> [Lane; 2] {
    let one = V::splat(1.0);
    let (mut least, mut most) = (V::splat(f64::INFINITY), V::splat(0.0));
    // Zero times what is not finite is no number and stays so, where comparisons would pass over it.
    let mut finite = V::splat(0.0);
    let mut scale = match compared.anchor.is_empty() {
        true => one,
        false => one.div(mean::<V>(&compared.anchor, powers)),
    };
    if let Reference::Points(_, anchor) = &compared.reference
        && !anchor.is_empty()
    {
        scale = scale.mul(mean::<V>(anchor, powers));
    }
    if compared.over != Over::Every {
        let reference = match &compared.reference {
            Reference::Points(band, _) => whole::<V>(compared.over, band, powers),
            Reference::Powers(known) => V::splat(known[0]),
        };
        let ratio = whole::<V>(compared.over, &compared.band, powers).div(reference).mul(scale).store();
        return [ratio, ratio];
    }
    match &compared.reference {
        Reference::Points(band, _) => {
            for (own, other) in compared.band.iter().zip(band) {
                let ratio = V::load(&powers[*own]).div(V::load(&powers[*other]));
                (least, most) = (ratio.less(least), ratio.more(most));
                finite = ratio.mul_add(V::splat(0.0), finite);
            }
        }
        Reference::Powers(known) => {
            for (own, known) in compared.band.iter().zip(known) {
                let ratio = V::load(&powers[*own]).mul(V::splat(known.recip()));
                (least, most) = (ratio.less(least), ratio.more(most));
                finite = ratio.mul_add(V::splat(0.0), finite);
            }
        }
    }
    [least.add(finite).mul(scale).store(), most.add(finite).mul(scale).store()]
}

#[inline(always)]
fn mean<V: Vector>(numbers: &[usize], powers: &[Lane]) -> V {
    let mut sum = V::splat(0.0);
    for number in numbers {
        sum = sum.add(V::load(&powers[*number]));
    }
    sum.mul(V::splat((numbers.len() as f64).recip()))
}

/// The mean power of a band, or the power of the mean of its levels.
#[inline(always)]
fn whole<V: Vector>(over: Over, numbers: &[usize], powers: &[Lane]) -> V {
    if over != Over::Average {
        return mean(numbers, powers);
    }
    let mut product = Product::<V>::one();
    for number in numbers {
        product.times(V::load(&powers[*number]));
    }
    V::load(&product.root(numbers.len()))
}
