//! Which candidates cannot be among the first: the target's points as quadratics in (u, v), asked by vector lanes or for a whole
//! rectangle at once. Nothing here decides a rank; what is not discarded is evaluated by the definition.
//!
//! A candidate is discarded when a point's power ratio breaks a bound that is wider by the threshold T: with a the anchor's mean power,
//! r the reference's ratio, h = r·10^((at_most − T)/10) and l = r·10^((at_least + T)/10), a margin of at least T needs l·a·D ≤ N ≤ h·a·D
//! at every point. T is taken [`SLACK`](super::bar::SLACK) below the margin that counts, far more than rounding can do: with arg t inside a quadrant,
//! |N₀ + N₁t|² ≥ (1 + m)(|N₀|² + |N₁t|²), where m is the least cosine of the angle between N₀ and N₁t over the quadrant, so that the
//! terms of N cancel by no more than 1/(1 + m). A point where that could exceed [`MOST_CANCELLATION`] discards nothing.

use num_complex::Complex64;

use crate::kernel::evaluate::laplace;
use crate::kernel::lanes::{Block, BoundedQuadratics, Composition, Isa, LANES, Lane, Moebius, Packed, Quadratics, Rectangle};
use crate::kernel::measure::{larger, power, smaller};
use crate::kernel::plan::{Combination, Measured, Plan, Reference};
use crate::search::bar::{Bar, SLACK};
use crate::search::folded::{Folded, ReferenceRatios};
use crate::search::form::{Form, MOST_CANCELLATION, sum};
use crate::target::Over;

/// An anchor's mean within this ratio is known well enough.
const WELL_KNOWN: f64 = 1.02;
/// How many planes can be asked about at once.
pub(crate) const MOST_TOGETHER: usize = 2;

/// A combination of the plan, prepared for one choice of all parts outside the plane.
#[derive(Debug, Clone, Default)]
pub(crate) struct Prepared {
    /// Whether it can discard anything.
    usable: bool,
    /// Whether every point is there, so that a margin can be told.
    complete: bool,
    over: Over,
    band: Vec<BoundedQuadratics>,
    /// The band's points without bounds, where it is bounded as a whole.
    mean_of: Vec<Quadratics>,
    anchor: Vec<Quadratics>,
    /// The reference's points where it moves with the candidate.
    reference: Option<(Vec<Quadratics>, Vec<Quadratics>)>,
    /// Bounds of the ratio without the reference: h/r and l/r.
    high: f64,
    low: f64,
    /// r for the band as a whole, where it is known.
    known_mean: f64,
    /// How many points there are in all.
    pub(crate) points: usize,
    /// How many points `packed` holds of the band, and how many the anchor has.
    asked_count: usize,
    anchor_count: usize,
    /// Points side by side, for whole rectangles.
    packed: PackedPoints,
    is_packed: bool,
    /// Whether `packed` was composed side by side, so that it holds the same points in every plane.
    is_composed: bool,
    /// Whether `band` and `anchor` are there, for single candidates.
    is_full: bool,
}

/// A combination's place in the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Site {
    /// Guards are numbered behind the target's clauses.
    pub(crate) clause: usize,
    pub(crate) combination: usize,
    /// Which of the plan's slots move it, a bit each.
    moved_by: u8,
}

/// Every combination that can discard a candidate, those of guards last, and the margin that no candidate exceeds: where a build is
/// compared with itself the difference is 0 whatever is fitted.
pub(crate) fn sites(plan: &Plan) -> (Vec<Site>, f64) {
    let mut sites = Vec::new();
    let mut most = f64::INFINITY;
    for clause in 0..plan.bounded_count() {
        let content = plan.bounded(clause);
        for (combination, found) in content.combinations.iter().enumerate() {
            if !plan.is_guard(clause) && found.reference == Reference::Build(found.measured.clone()) {
                most = most.min(content.margin(0.0));
            } else {
                sites.push(Site {
                    clause,
                    combination,
                    moved_by: moved_by(plan, found),
                });
            }
        }
    }
    (sites, most)
}

/// Which slots a combination depends on, a bit each.
fn moved_by(plan: &Plan, combination: &Combination) -> u8 {
    combination
        .points()
        .fold(0, |slots, point| slots | plan.points[point].reduction.moved_by())
}

impl Site {
    /// The plan's points that it is made of.
    pub(crate) fn points(self, plan: &Plan) -> impl Iterator<Item = usize> + '_ {
        plan.bounded(self.clause).combinations[self.combination].points()
    }

    /// Whether no choice in the slot at a position changes it.
    pub(crate) fn stands_still(self, slot: usize) -> bool {
        self.moved_by >> slot & 1 == 0
    }

    /// What a candidate must reach here: a guard is kept or broken, whatever the threshold.
    pub(crate) fn bar(self, plan: &Plan, bar: Bar) -> Bar {
        if plan.is_guard(self.clause) { Bar::at(-SLACK) } else { bar }
    }
}

/// What a combination is prepared from.
pub(crate) struct Around<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) form: &'a Form<'a>,
    pub(crate) folded: &'a Folded,
    pub(crate) isa: Isa,
    /// The inner slot's admittance as a function of t at every frequency of the plan.
    pub(crate) maps: &'a [Moebius],
}

impl Around<'_> {
    /// The quadratics of a point; `None` if its terms may cancel too far to be trusted.
    fn quadratics(&self, point: usize) -> Option<Quadratics> {
        let frequency = self.plan.points[point].frequency;
        let map = &self.maps[frequency];
        let [n0, n1, d0, d1] = self.folded.terms[point];
        let through = |zero: Complex64, one: Complex64| {
            let constant = sum(zero * map.gamma, one * map.alpha)?;
            let linear = sum(zero * map.delta, one * map.beta)?;
            quadratic(constant, linear, self.form.series)
        };
        Some(Quadratics {
            n: through(n0, n1)?,
            d: through(d0, d1)?,
            scale: self.form.scale(laplace(self.plan.frequencies[frequency]).im),
        })
    }

    fn all(&self, points: &[usize], into: &mut Vec<Quadratics>) -> bool {
        into.clear();
        into.extend(points.iter().map_while(|point| self.quadratics(*point)));
        into.len() == points.len()
    }

    /// Prepares a combination, by its number among the sites, for discarding what does not reach the bar.
    pub(crate) fn prepare(&self, number: usize, site: Site, bar: Bar, prepared: &mut Prepared) {
        let threshold = site.bar(self.plan, bar).decibels();
        let clause = self.plan.bounded(site.clause);
        prepared.over = clause.over;
        prepared.high = clause.at_most.map_or(f64::INFINITY, |at_most| power(at_most - threshold));
        prepared.low = clause.at_least.map_or(0.0, |at_least| power(at_least + threshold));
        prepared.reference = None;
        prepared.known_mean = match &self.folded.references[number] {
            ReferenceRatios::Known(figures) if prepared.is_whole() => figures.first().copied().unwrap_or(1.0),
            _ => 1.0,
        };
        let measured = &clause.combinations[site.combination].measured;
        prepared.anchor_count = measured.anchor.len();
        prepared.points = measured.band.len() + measured.anchor.len();
        (prepared.is_packed, prepared.is_composed, prepared.is_full) = (false, false, false);
        if !self.compose(number, site, prepared) {
            self.one_by_one(number, site, prepared);
        }
    }

    /// Prepares what whole rectangles are asked about, points side by side; `false` where one of them is not to be trusted, or moves with
    /// the reference.
    fn compose(&self, number: usize, site: Site, prepared: &mut Prepared) -> bool {
        let Some(points) = self.folded.points(self.plan, self.form, number, site) else {
            return false;
        };
        let how = prepared.composition(self.form.series);
        let sound = self.isa.compose(&points.asked, self.maps, &how, &mut prepared.packed.asked)
            && self.isa.compose(&points.anchor, self.maps, &how, &mut prepared.packed.anchor);
        prepared.asked_count = points.asked_count;
        (prepared.usable, prepared.is_packed, prepared.is_composed) = (sound, sound, sound);
        sound
    }

    /// Prepares the rest of a combination, for single candidates.
    pub(crate) fn complete(&self, number: usize, site: Site, prepared: &mut Prepared, scratch: &mut Scratch) {
        if prepared.is_full {
            return;
        }
        let Some(points) = self.folded.points(self.plan, self.form, number, site) else {
            return;
        };
        let how = prepared.composition(self.form.series);
        if !self.isa.compose(&points.band, self.maps, &how, &mut scratch.composed) {
            self.one_by_one(number, site, prepared);
            return;
        }
        let measured = &self.plan.bounded(site.clause).combinations[site.combination].measured;
        unpack(&scratch.composed, measured.band.len(), &mut prepared.band, |point| point);
        prepared.set_mean();
        unpack(&prepared.packed.anchor, measured.anchor.len(), &mut prepared.anchor, |point| {
            point.at
        });
        (prepared.complete, prepared.is_full) = (true, true);
        debug_assert!(prepared.is_finite(), "{prepared:?}");
    }

    fn one_by_one(&self, number: usize, site: Site, prepared: &mut Prepared) {
        let combination = &self.plan.bounded(site.clause).combinations[site.combination];
        prepared.usable = self.all(&combination.measured.anchor, &mut prepared.anchor);
        let Measured { band, .. } = &combination.measured;
        match (&self.folded.references[number], &combination.reference) {
            (ReferenceRatios::Known(_), _) if prepared.is_whole() => {
                self.bound(band, &[], prepared);
                prepared.usable &= prepared.complete;
            }
            // A single point that cannot be trusted is passed over; the others still discard.
            (ReferenceRatios::Known(figures), _) => self.bound(band, figures, prepared),
            (ReferenceRatios::Moving, Reference::Build(elsewhere)) => {
                let (mut there, mut anchor_there) = (Vec::new(), Vec::new());
                prepared.usable &= self.all(&elsewhere.band, &mut there) && self.all(&elsewhere.anchor, &mut anchor_there);
                self.bound(band, &[], prepared);
                prepared.usable &= prepared.complete;
                prepared.points += there.len() + anchor_there.len();
                prepared.reference = Some((there, anchor_there));
            }
            (ReferenceRatios::Moving, Reference::Known(_)) => prepared.usable = false,
        }
        prepared.complete &= prepared.usable;
        (prepared.is_packed, prepared.is_composed, prepared.is_full) = (false, false, true);
        debug_assert!(prepared.is_finite(), "{prepared:?}");
    }

    /// The band's points with their bounds, times the reference's ratio where there is one for each.
    fn bound(&self, band: &[usize], ratios: &[f64], prepared: &mut Prepared) {
        prepared.band.clear();
        for (position, point) in band.iter().enumerate() {
            if let Some(at) = self.quadratics(*point) {
                let ratio = ratios.get(position).copied().unwrap_or(1.0);
                let (high, low) = (prepared.high * ratio, prepared.low * ratio);
                prepared.band.push(BoundedQuadratics { at, high, low });
            }
        }
        prepared.complete = prepared.band.len() == band.len();
        prepared.set_mean();
    }
}

/// |constant + linear·t|² over the quadrant of t, whose v counts upwards; `None` where its terms may cancel too far.
fn quadratic(constant: Complex64, linear: Complex64, series: bool) -> Option<[f64; 4]> {
    let product = constant.conj() * linear;
    let (squares, towards_v) = (
        [constant.norm_sqr(), linear.norm_sqr()],
        if series { product.im } else { -product.im },
    );
    let form = [squares[0], 2.0 * product.re, 2.0 * towards_v, squares[1]];
    // The least cosine over the quadrant: at one of its ends, or −1 if it holds the opposite direction.
    let opposite = product.re < 0.0 && towards_v < 0.0;
    let least = product.re.min(towards_v).min(0.0);
    let most = 1.0 - MOST_CANCELLATION.recip();
    let sound = !opposite && least * least <= most * most * product.norm_sqr();
    (sound || product == Complex64::ZERO).then_some(form)
}

impl Prepared {
    /// What the lanes rely on: nothing they are given is infinite but a bound that is missing, and nothing is no number.
    fn is_finite(&self) -> bool {
        let is_bound = |point: &BoundedQuadratics| point.high > 0.0 && point.low.is_finite();
        let elsewhere = self.reference.iter().flat_map(|(there, anchor)| there.iter().chain(anchor));
        let all = self.band.iter().map(|point| &point.at).chain(&self.anchor).chain(elsewhere);
        let is_finite = |at: &Quadratics| at.n.iter().chain(&at.d).chain([&at.scale]).all(|term| term.is_finite());
        self.band.iter().all(is_bound) && (!self.usable || all.into_iter().all(is_finite))
    }

    fn set_mean(&mut self) {
        self.mean_of.clear();
        if self.is_whole() {
            self.mean_of.extend(self.band.iter().map(|point| point.at));
        }
    }

    /// Which lanes may reach the threshold, and after how many points that was known.
    pub(crate) fn alive(&self, isa: Isa, abandon: bool, block: &Block, scratch: &mut Scratch) -> ([bool; LANES], usize) {
        if !self.usable {
            return ([true; LANES], 0);
        }
        let anchor = mean_or_one(isa, &self.anchor, block);
        if self.reference.is_none() && !self.is_whole() {
            let (worst, done) = isa.within(&self.band, block, &anchor, abandon);
            // A comparison that is false for NaN keeps what is in doubt.
            return (worst.map(|worst| worst >= 0.0 || worst.is_nan()), done + self.anchor.len());
        }
        let [largest, smallest] = self.extreme_ratios(isa, block, &anchor, scratch);
        let alive = |lane: usize| !(largest[lane] > self.high || smallest[lane] < self.low);
        (std::array::from_fn(alive), self.points)
    }

    /// min(high/ratio, ratio/low) over the points, for each lane: the margin as a power ratio, relative to the bar. No number where a lane
    /// cannot tell.
    pub(crate) fn room(&self, isa: Isa, block: &Block, scratch: &mut Scratch) -> Option<Lane> {
        if !self.complete {
            return None;
        }
        let anchor = mean_or_one(isa, &self.anchor, block);
        let [most, least, smallest] = if self.reference.is_none() && !self.is_whole() {
            let [most, least, smallest] = isa.nearness(&self.band, block);
            let over_anchor = |lanes: Lane| std::array::from_fn(|lane| lanes[lane] / anchor[lane]);
            [over_anchor(most), over_anchor(least), smallest]
        } else {
            let [largest, smallest] = self.extreme_ratios(isa, block, &anchor, scratch);
            [
                largest.map(|ratio| ratio / self.high),
                smallest.map(|ratio| ratio / self.low),
                smallest,
            ]
        };
        // Silence has no margin at all; the definition tells whether it is silence.
        let room = |lane: usize| {
            if smallest[lane] > 0.0 {
                smaller(least[lane], most[lane].recip())
            } else {
                f64::NAN
            }
        };
        Some(std::array::from_fn(room))
    }

    /// The largest and the smallest of the ratios that are bounded: those at each point, or the one of the whole band. Where one is no number, neither
    /// are these: no comparison with them discards anything.
    fn extreme_ratios(&self, isa: Isa, block: &Block, anchor: &Lane, scratch: &mut Scratch) -> [Lane; 2] {
        if self.is_whole() {
            let own = self.whole_power(isa, &self.mean_of, block);
            let (there, anchor_there) = match &self.reference {
                Some((there, anchor)) => (self.whole_power(isa, there, block), mean_or_one(isa, anchor, block)),
                None => ([self.known_mean; LANES], [1.0; LANES]),
            };
            let ratio: Lane = std::array::from_fn(|lane| own[lane] * anchor_there[lane] / (anchor[lane] * there[lane]));
            return [ratio, ratio];
        }
        self.ratios(isa, block, anchor, scratch);
        let fold = |start: f64, pick: fn(f64, f64) -> f64| {
            std::array::from_fn(|lane| scratch.ratios.iter().fold(start, |so_far, ratio| pick(so_far, ratio[lane])))
        };
        [fold(0.0, larger), fold(f64::INFINITY, smaller)]
    }

    /// The power of the band as a whole, for each lane.
    fn whole_power(&self, isa: Isa, points: &[Quadratics], block: &Block) -> Lane {
        match self.over {
            Over::Average => isa.average_power(points, block),
            _ => isa.mean_power(points, block),
        }
    }

    /// Bounds of the power of the band as a whole, over a rectangle.
    fn whole_ends(&self, isa: Isa, points: &[Packed], count: usize, rectangle: &Rectangle) -> [f64; 2] {
        match self.over {
            Over::Average => isa.average_ends(points, count, rectangle),
            _ => isa.mean_ends(&[points], count, rectangle),
        }
    }

    /// Whether the band is bounded as a whole.
    fn is_whole(&self) -> bool {
        self.over != Over::Every
    }

    /// The ratio to a reference that moves, at each point.
    fn ratios(&self, isa: Isa, block: &Block, anchor: &Lane, scratch: &mut Scratch) {
        scratch.points.clear();
        scratch.points.extend(self.band.iter().map(|point| point.at));
        isa.powers(&scratch.points, block, &mut scratch.ratios);
        let Some((there, anchor_there)) = &self.reference else { return };
        let anchor_there = mean_or_one(isa, anchor_there, block);
        isa.powers(there, block, &mut scratch.there);
        for (ratio, there) in scratch.ratios.iter_mut().zip(&scratch.there) {
            *ratio = std::array::from_fn(|lane| ratio[lane] * anchor_there[lane] / (anchor[lane] * there[lane]));
        }
    }

    /// Whether every candidate of a rectangle breaks a bound of this combination. `false` says nothing. `anchor` is what is known about the
    /// anchor's mean from a larger rectangle, and becomes what is known about this one's.
    pub(crate) fn breaks_all_over(&mut self, isa: Isa, rectangle: &Rectangle, anchor: &mut [f64; 2], scratch: &mut Scratch) -> bool {
        if !self.usable {
            return false;
        }
        self.pack();
        let own = &self.packed;
        narrow(anchor, || mean_ends(isa, &[&own.anchor], self.anchor_count, rectangle));
        let Some((there, anchor_there)) = &self.reference else {
            if !self.is_whole() {
                return isa.breaks(&[&own.asked], *anchor, rectangle);
            }
            let mean = self.whole_ends(isa, &own.asked, self.asked_count, rectangle);
            return self.is_outside(mean, *anchor);
        };
        let anchor_there = mean_ends(isa, &[&own.anchor_there], anchor_there.len(), rectangle);
        let ratio = |own: [f64; 2], there: [f64; 2]| {
            let low = own[0] * anchor_there[0] / (anchor[1] * there[1]);
            [low, own[1] * anchor_there[1] / (anchor[0] * there[0])]
        };
        let is_outside = |ratio: [f64; 2]| ratio[0] > self.high || ratio[1] < self.low;
        if self.is_whole() {
            let mean = self.whole_ends(isa, &own.asked, self.asked_count, rectangle);
            return is_outside(ratio(mean, self.whole_ends(isa, &own.there, there.len(), rectangle)));
        }
        isa.intervals(&own.asked, rectangle, &mut scratch.intervals);
        isa.intervals(&own.there, rectangle, &mut scratch.intervals_there);
        let pairs = scratch.intervals.iter().zip(&scratch.intervals_there);
        pairs
            .into_iter()
            .any(|(own, there)| (0..LANES).any(|lane| is_outside(ratio(own.map(|end| end[lane]), there.map(|end| end[lane])))))
    }

    /// Whether the band's power over the anchor's lies outside the bounds, with a reference that is known.
    fn is_outside(&self, mean: [f64; 2], anchor: [f64; 2]) -> bool {
        let over = |mean: f64, anchor: f64| mean / (anchor * self.known_mean);
        over(mean[0], anchor[1]) > self.high || over(mean[1], anchor[0]) < self.low
    }

    /// As [`Prepared::breaks_all_over`], for the same combination in several planes at once; never of a band as a whole.
    pub(crate) fn breaks_in_all(together: &[&Self], isa: Isa, rectangle: &Rectangle, anchor: &mut [f64; 2]) -> bool {
        let Some(first) = together.first() else { return false };
        if first.is_whole() || !together.iter().all(|prepared| prepared.is_composed) {
            return false;
        }
        let planes = together.len();
        let asked = &points_of(together, |points| &points.asked)[..planes];
        narrow(anchor, || {
            let anchors = points_of(together, |points| &points.anchor);
            mean_ends(isa, &anchors[..planes], first.anchor_count, rectangle)
        });
        isa.breaks(asked, *anchor, rectangle)
    }

    fn composition(&self, series: bool) -> Composition {
        Composition {
            series,
            high: self.high,
            low: self.low,
            most_cancellation: MOST_CANCELLATION,
        }
    }

    /// Makes the form for whole rectangles.
    fn pack(&mut self) {
        if self.is_packed {
            return;
        }
        let unbounded = |at: &Quadratics| BoundedQuadratics {
            at: *at,
            high: f64::INFINITY,
            low: 0.0,
        };
        let elsewhere = |points: Option<&Vec<Quadratics>>| Packed::pack(points.into_iter().flatten().map(unbounded));
        let reference = self.reference.as_ref();
        self.packed = PackedPoints {
            asked: Packed::pack(self.band.iter().copied()),
            anchor: elsewhere(Some(&self.anchor)),
            there: elsewhere(reference.map(|(there, _)| there)),
            anchor_there: elsewhere(reference.map(|(_, anchor)| anchor)),
        };
        self.asked_count = self.band.len();
        self.is_packed = true;
    }
}

/// Points one after the other from points side by side.
fn unpack<T>(packed: &[Packed], count: usize, into: &mut Vec<T>, pick: fn(BoundedQuadratics) -> T) {
    into.clear();
    into.extend((0..count).map(|position| pick(packed[position / LANES].point(position % LANES))));
}

/// What is known about the anchor where nothing is known.
pub(crate) const UNKNOWN: [f64; 2] = [0.0, f64::INFINITY];

/// Asks anew about the anchor's mean unless it is known well enough; what held of a larger rectangle still holds.
fn narrow(known: &mut [f64; 2], ask: impl FnOnce() -> [f64; 2]) {
    if known[1] > known[0] * WELL_KNOWN {
        let [low, high] = ask();
        *known = [low.max(known[0]), high.min(known[1])];
    }
}

/// The points of a combination side by side.
#[derive(Debug, Clone, Default)]
struct PackedPoints {
    asked: Vec<Packed>,
    anchor: Vec<Packed>,
    there: Vec<Packed>,
    anchor_there: Vec<Packed>,
}

/// Reused between blocks.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    intervals: Vec<[Lane; 2]>,
    intervals_there: Vec<[Lane; 2]>,
    points: Vec<Quadratics>,
    ratios: Vec<Lane>,
    there: Vec<Lane>,
    composed: Vec<Packed>,
}

fn mean_or_one(isa: Isa, points: &[Quadratics], block: &Block) -> Lane {
    if points.is_empty() {
        [1.0; LANES]
    } else {
        isa.mean_power(points, block)
    }
}

/// Bounds of the mean of N/D over a rectangle, in all planes; 1 where there is nothing to take the mean of, as with a level.
fn mean_ends(isa: Isa, planes: &[&[Packed]], count: usize, rectangle: &Rectangle) -> [f64; 2] {
    if count == 0 {
        return [1.0, 1.0];
    }
    isa.mean_ends(planes, count, rectangle)
}

fn points_of<'p>(together: &[&'p Prepared], pick: fn(&'p PackedPoints) -> &'p [Packed]) -> [&'p [Packed]; MOST_TOGETHER] {
    let mut planes: [&[Packed]; MOST_TOGETHER] = [&[]; MOST_TOGETHER];
    for (plane, prepared) in planes.iter_mut().zip(together) {
        *plane = pick(&prepared.packed);
    }
    planes
}
