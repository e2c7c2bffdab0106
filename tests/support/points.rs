//! Random points of the vector loops, and their power ratios worked out one at a time in plain doubles.
//!
//! Coefficients are those of |N₀ + N₁·t|² and |D₀ + D₁·t|² with random complex N₀ … D₁, the form every point of a plan has.

use knobwright::kernel::lanes::{Quadratics, Rectangle};
use num_complex::Complex64;
use proptest::prelude::*;

/// The kernel's promise against the scalar definition is 1e-9 dB, a ratio of 2.3e-10; with terms that do not cancel far it is kept with room.
pub const RATIO: f64 = 1e-12;

/// Angles within a right angle of each other: terms add up rather than cancel.
pub fn complex() -> impl Strategy<Value = Complex64> {
    (0.1..10.0_f64, 0.0..1.5_f64).prop_map(|(size, angle)| Complex64::from_polar(size, angle))
}

pub fn terms() -> impl Strategy<Value = [Complex64; 4]> {
    [complex(), complex(), complex(), complex()]
}

/// |zero + one·t|² as a polynomial in t = u + jv.
fn form(zero: Complex64, one: Complex64) -> [f64; 4] {
    let product = zero.conj() * one;
    [zero.norm_sqr(), 2.0 * product.re, -2.0 * product.im, one.norm_sqr()]
}

pub fn point() -> impl Strategy<Value = Quadratics> {
    (terms(), 0.1..10.0_f64).prop_map(|([n0, n1, d0, d1], scale)| Quadratics {
        n: form(n0, n1),
        d: form(d0, d1),
        scale,
    })
}

pub fn value(c: &[f64; 4], u: f64, v: f64) -> f64 {
    c[0] + c[1] * u + c[2] * v + c[3] * (u * u + v * v)
}

pub fn ratio(at: &Quadratics, u: f64, w: f64) -> f64 {
    let v = at.scale * w;
    value(&at.n, u, v) / value(&at.d, u, v)
}

pub fn rectangle() -> impl Strategy<Value = Rectangle> {
    let ends = || {
        prop_oneof![
            1 => Just([0.0, 0.0]),
            3 => (0.01..2.0_f64, 1.0..4.0_f64).prop_map(|(low, span)| [low, low * span])
        ]
    };
    (ends(), ends()).prop_map(|(u, w)| Rectangle { u, w })
}

/// A dense sample of a rectangle.
pub fn sampled(rectangle: &Rectangle) -> Vec<(f64, f64)> {
    let along = |ends: [f64; 2]| (0..=12).map(move |step| ends[0] + (ends[1] - ends[0]) * f64::from(step) / 12.0);
    along(rectangle.u).flat_map(|u| along(rectangle.w).map(move |w| (u, w))).collect()
}
