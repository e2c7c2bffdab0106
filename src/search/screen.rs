//! Which candidates cannot be among the first: the target's points as quadratics in (u, v), asked by vector lanes or for a whole
//! rectangle at once. Nothing here decides a rank; what is not discarded is evaluated by the definition.
//!
//! A candidate is discarded when a point's power ratio breaks a bound that is wider by the threshold T: with a the anchor's mean power,
//! r the reference's ratio, h = r·10^((at_most − T)/10) and l = r·10^((at_least + T)/10), a margin of at least T needs l·a·D ≤ N ≤ h·a·D
//! at every point. T is taken [`SLACK`] below the margin that counts, far more than rounding can do: with arg t inside a quadrant,
//! |N₀ + N₁t|² ≥ (1 + m)(|N₀|² + |N₁t|²), where m is the least cosine of the angle between N₀ and N₁t over the quadrant, so that the
//! terms of N cancel by no more than 1/(1 + m). A point where that could exceed [`MOST_CANCELLATION`] discards nothing.

use num_complex::Complex64;

use crate::circuit::ports::Reduction;
use crate::kernel::evaluate::laplace;
use crate::kernel::lanes::{Block, BoundedQuadratics, Isa, LANES, Lane, Packed, Quadratics, Rectangle};
use crate::kernel::plan::{Measured, Plan, Reference};
use crate::parts::network::Admittance;
use crate::search::form::{Form, MOST_CANCELLATION, Moebius, sum};
use crate::target::Over;

/// By how much, in dB, the threshold is lowered before anything is discarded.
pub(crate) const SLACK: f64 = 1e-6;

/// Both polynomials of a point in the variable of the inner slot: N₀, N₁, D₀, D₁.
pub(crate) type Terms = [Complex64; 4];

/// A combination of the plan, prepared for one choice of all parts outside the plane.
#[derive(Debug, Clone, Default)]
pub(crate) struct Prepared {
    /// Whether it can discard anything.
    usable: bool,
    /// Whether every point is there, so that a margin can be told.
    complete: bool,
    mean: bool,
    band: Vec<BoundedQuadratics>,
    anchor: Vec<Quadratics>,
    /// The reference's points where it moves with the candidate.
    reference: Option<(Vec<Quadratics>, Vec<Quadratics>)>,
    /// Bounds of the ratio without the reference: h/r and l/r.
    high: f64,
    low: f64,
    /// r for the band's mean, where it is known.
    known_mean: f64,
    /// How many points there are in all.
    pub(crate) points: usize,
    /// Made when a rectangle is first asked about: most combinations never are.
    packed: Option<PackedPoints>,
}

/// A combination's place in the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Site {
    pub(crate) clause: usize,
    pub(crate) combination: usize,
}

/// Every combination that can discard a candidate, and the margin that no candidate exceeds: where a build is compared with itself
/// the difference is 0 whatever is fitted.
pub(crate) fn sites(plan: &Plan) -> (Vec<Site>, f64) {
    let mut sites = Vec::new();
    let mut most = f64::INFINITY;
    for (clause, content) in plan.clauses.iter().enumerate() {
        for (combination, found) in content.combinations.iter().enumerate() {
            if found.reference == Reference::Build(found.measured.clone()) {
                most = most.min(content.margin(0.0));
            } else {
                sites.push(Site { clause, combination });
            }
        }
    }
    (sites, most)
}

/// Folds every slot but the one at `position` into a reduction.
pub(crate) fn terms(reduction: &Reduction, position: usize, admittances: &[Admittance]) -> Terms {
    let mut folded = *reduction;
    for (slot, admittance) in admittances.iter().enumerate().take(reduction.free_slots()).rev() {
        if slot != position {
            folded = folded.fold(slot, *admittance);
        }
    }
    let (numerator, denominator) = folded.terms();
    [numerator[0], numerator[1], denominator[0], denominator[1]]
}

/// What a combination is prepared from.
pub(crate) struct Around<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) form: &'a Form<'a>,
    /// Terms of every point of the plan.
    pub(crate) terms: &'a [Terms],
    /// The inner slot's admittance as a function of t at every frequency of the plan.
    pub(crate) maps: &'a [Moebius],
}

impl Around<'_> {
    /// The quadratics of a point; `None` if its terms may cancel too far to be trusted.
    fn quadratics(&self, point: usize) -> Option<Quadratics> {
        let frequency = self.plan.points[point].frequency;
        let map = &self.maps[frequency];
        let [n0, n1, d0, d1] = self.terms[point];
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

    /// Prepares a combination for discarding below `threshold`, in dB.
    pub(crate) fn prepare(&self, site: Site, ratios: &ReferenceRatios, threshold: f64, prepared: &mut Prepared) {
        let clause = &self.plan.clauses[site.clause];
        let combination = &clause.combinations[site.combination];
        prepared.mean = clause.over == Over::Mean;
        prepared.high = clause.at_most.map_or(f64::INFINITY, |at_most| ratio(at_most - threshold));
        prepared.low = clause.at_least.map_or(0.0, |at_least| ratio(at_least + threshold));
        prepared.reference = None;
        prepared.known_mean = 1.0;
        prepared.usable = self.all(&combination.measured.anchor, &mut prepared.anchor);
        let Measured { band, anchor } = &combination.measured;
        prepared.points = band.len() + anchor.len();
        match (ratios, &combination.reference) {
            (ReferenceRatios::Known(figures), _) if prepared.mean => {
                prepared.known_mean = figures.first().copied().unwrap_or(1.0);
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
        prepared.packed = None;
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
    }
}

/// The reference of a combination as power ratios over its anchor: one a point, or one for the band's mean.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum ReferenceRatios {
    /// The same for every candidate.
    Known(Vec<f64>),
    /// It moves with the candidate.
    Moving,
}

impl ReferenceRatios {
    /// Of a combination, with the other slots folded into the terms.
    pub(crate) fn new(plan: &Plan, site: Site, terms: &[Terms]) -> Self {
        let clause = &plan.clauses[site.clause];
        match &clause.combinations[site.combination].reference {
            Reference::Known(figures) => Self::Known(figures.iter().map(|figure| ratio(*figure)).collect()),
            Reference::Build(elsewhere) => match constant(terms, elsewhere) {
                Some(figures) if clause.over == Over::Every => Self::Known(figures),
                Some(figures) => Self::Known(vec![figures.iter().sum::<f64>() / figures.len() as f64]),
                None => Self::Moving,
            },
        }
    }
}

/// Powers over the anchor's mean of points that no candidate moves; `None` if one does.
fn constant(terms: &[Terms], elsewhere: &Measured) -> Option<Vec<f64>> {
    let power = |point: &usize| {
        let [n0, n1, d0, d1] = terms[*point];
        (n1 == Complex64::ZERO && d1 == Complex64::ZERO).then(|| (n0 / d0).norm_sqr())
    };
    let band: Vec<f64> = elsewhere.band.iter().map(power).collect::<Option<_>>()?;
    let anchor: Vec<f64> = elsewhere.anchor.iter().map(power).collect::<Option<_>>()?;
    let mean = match anchor.len() {
        0 => 1.0,
        count => anchor.iter().sum::<f64>() / count as f64,
    };
    Some(band.into_iter().map(|power| power / mean).collect())
}

/// The power ratio of a difference in dB.
fn ratio(decibels: f64) -> f64 {
    10_f64.powf(decibels / 10.0)
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
    /// Which lanes may reach the threshold, and after how many points that was known.
    pub(crate) fn alive(&self, isa: Isa, abandon: bool, block: &Block, scratch: &mut Scratch) -> ([bool; LANES], usize) {
        if !self.usable {
            return ([true; LANES], 0);
        }
        let anchor = mean_or_one(isa, &self.anchor, block);
        if self.reference.is_none() && !self.mean {
            let (worst, done) = isa.within(&self.band, block, &anchor, abandon);
            // A comparison that is false for NaN keeps what is in doubt.
            return (worst.map(|worst| worst >= 0.0 || worst.is_nan()), done + self.anchor.len());
        }
        self.ratios(isa, block, &anchor, scratch);
        let mut alive = [true; LANES];
        for ratio in &scratch.ratios {
            for lane in 0..LANES {
                alive[lane] &= !(ratio[lane] > self.high || ratio[lane] < self.low);
            }
        }
        (alive, self.points)
    }

    /// min(high/ratio, ratio/low) over the points, for each lane: the margin as a power ratio, relative to the threshold.
    pub(crate) fn room(&self, isa: Isa, block: &Block, scratch: &mut Scratch) -> Option<Lane> {
        if !self.complete {
            return None;
        }
        let anchor = mean_or_one(isa, &self.anchor, block);
        let [most, least, smallest] = if self.reference.is_none() && !self.mean {
            let [most, least, smallest] = isa.nearness(&self.band, block);
            let over_anchor = |lanes: Lane| std::array::from_fn(|lane| lanes[lane] / anchor[lane]);
            [over_anchor(most), over_anchor(least), smallest]
        } else {
            self.ratios(isa, block, &anchor, scratch);
            let fold = |start: f64, pick: fn(f64, f64) -> f64| {
                std::array::from_fn(|lane| scratch.ratios.iter().fold(start, |so_far, ratio| pick(so_far, ratio[lane])))
            };
            let (largest, smallest): (Lane, Lane) = (fold(0.0, f64::max), fold(f64::INFINITY, f64::min));
            [
                largest.map(|ratio| ratio / self.high),
                smallest.map(|ratio| ratio / self.low),
                smallest,
            ]
        };
        // Silence has no margin at all.
        let room = |lane: usize| {
            if smallest[lane] > 0.0 {
                least[lane].min(most[lane].recip())
            } else {
                0.0
            }
        };
        Some(std::array::from_fn(room))
    }

    /// The ratio that is bounded, at each point or of the mean.
    fn ratios(&self, isa: Isa, block: &Block, anchor: &Lane, scratch: &mut Scratch) {
        scratch.points.clear();
        scratch.points.extend(self.band.iter().map(|point| point.at));
        isa.powers(&scratch.points, block, &mut scratch.ratios);
        if let Some((there, anchor_there)) = &self.reference {
            let anchor_there = mean_or_one(isa, anchor_there, block);
            isa.powers(there, block, &mut scratch.there);
            if self.mean {
                fold_to_mean(&mut scratch.ratios);
                fold_to_mean(&mut scratch.there);
            }
            for (ratio, there) in scratch.ratios.iter_mut().zip(&scratch.there) {
                *ratio = std::array::from_fn(|lane| ratio[lane] * anchor_there[lane] / (anchor[lane] * there[lane]));
            }
            return;
        }
        if self.mean {
            fold_to_mean(&mut scratch.ratios);
        }
        for ratio in &mut scratch.ratios {
            *ratio = std::array::from_fn(|lane| ratio[lane] / (anchor[lane] * self.known_mean));
        }
    }

    /// Whether every candidate of a rectangle breaks a bound of this combination. `false` says nothing.
    pub(crate) fn breaks_all_over(&mut self, isa: Isa, rectangle: &Rectangle, scratch: &mut Scratch) -> bool {
        if !self.usable {
            return false;
        }
        if self.packed.is_none() {
            self.packed = Some(self.pack());
        }
        let Some(own) = &self.packed else { return false };
        let anchor = mean_interval(isa, &own.anchor, self.anchor.len(), rectangle, scratch);
        let Some((there, anchor_there)) = &self.reference else {
            if !self.mean {
                return isa.breaks(&own.band, anchor, rectangle);
            }
            let mean = mean_interval(isa, &own.band, self.band.len(), rectangle, scratch);
            return self.is_outside([mean[0] / (anchor[1] * self.known_mean), mean[1] / (anchor[0] * self.known_mean)]);
        };
        let anchor_there = mean_interval(isa, &own.anchor_there, anchor_there.len(), rectangle, scratch);
        let ratio = |own: [f64; 2], there: [f64; 2]| {
            let low = own[0] * anchor_there[0] / (anchor[1] * there[1]);
            [low, own[1] * anchor_there[1] / (anchor[0] * there[0])]
        };
        if self.mean {
            let mean = mean_interval(isa, &own.band, self.band.len(), rectangle, scratch);
            return self.is_outside(ratio(mean, mean_interval(isa, &own.there, there.len(), rectangle, scratch)));
        }
        isa.intervals(&own.band, rectangle, &mut scratch.intervals);
        isa.intervals(&own.there, rectangle, &mut scratch.intervals_there);
        let pairs = scratch.intervals.iter().zip(&scratch.intervals_there);
        pairs
            .into_iter()
            .any(|(own, there)| (0..LANES).any(|lane| self.is_outside(ratio(own.map(|end| end[lane]), there.map(|end| end[lane])))))
    }

    fn is_outside(&self, ratio: [f64; 2]) -> bool {
        ratio[0] > self.high || ratio[1] < self.low
    }

    fn pack(&self) -> PackedPoints {
        let unbounded = |at: &Quadratics| BoundedQuadratics {
            at: *at,
            high: f64::INFINITY,
            low: 0.0,
        };
        let elsewhere = |points: Option<&Vec<Quadratics>>| Packed::pack(points.into_iter().flatten().map(unbounded));
        let reference = self.reference.as_ref();
        PackedPoints {
            band: Packed::pack(self.band.iter().copied()),
            anchor: elsewhere(Some(&self.anchor)),
            there: elsewhere(reference.map(|(there, _)| there)),
            anchor_there: elsewhere(reference.map(|(_, anchor)| anchor)),
        }
    }
}

/// The points of a combination side by side.
#[derive(Debug, Clone, Default)]
struct PackedPoints {
    band: Vec<Packed>,
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
}

fn mean_or_one(isa: Isa, points: &[Quadratics], block: &Block) -> Lane {
    if points.is_empty() {
        [1.0; LANES]
    } else {
        isa.mean_power(points, block)
    }
}

fn fold_to_mean(rows: &mut Vec<Lane>) {
    let count = rows.len() as f64;
    let mean = std::array::from_fn(|lane| rows.iter().map(|row| row[lane]).sum::<f64>() / count);
    rows.clear();
    rows.push(mean);
}

/// Bounds of the mean of N/D over a rectangle; 1 where there is nothing to take the mean of, as with a level.
fn mean_interval(isa: Isa, points: &[Packed], count: usize, rectangle: &Rectangle, scratch: &mut Scratch) -> [f64; 2] {
    if count == 0 {
        return [1.0, 1.0];
    }
    isa.intervals(points, rectangle, &mut scratch.intervals);
    let mut sum = [0.0, 0.0];
    for position in 0..count {
        let [low, high] = &scratch.intervals[position / LANES];
        sum = [sum[0] + low[position % LANES], sum[1] + high[position % LANES]];
    }
    sum.map(|sum| sum / count as f64)
}
