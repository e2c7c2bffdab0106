//! What one choice of the parts in all other slots fixes: every point in the variable of the inner slot, and the references.

use std::sync::OnceLock;

use num_complex::Complex64;

use crate::kernel::evaluate::{SlotAdmittances, laplace};
use crate::kernel::lanes::{PackedTerms, PointTerms};
use crate::kernel::measure::{decibels, mean, power};
use crate::kernel::plan::{Measured, Plan, Point, Reference};
use crate::search::bar::{Bar, SLACK};
use crate::search::form::Form;
use crate::search::screen::Site;
use crate::target::Over;

/// Of so many points of a band next to each other, one is asked about whole rectangles.
const POINTS_A_QUESTION: usize = 3;

/// Both polynomials of a point in the variable of the inner slot: N₀, N₁, D₀, D₁.
pub(crate) type Terms = [Complex64; 4];

/// A plan with the other slots put in.
#[derive(Debug)]
pub(crate) struct Folded {
    /// Terms of every point of the plan.
    pub(crate) terms: Vec<Terms>,
    /// The reference of every site.
    pub(crate) references: Vec<ReferenceRatios>,
    /// The sites that a candidate can move, in their order.
    pub(crate) moving: Vec<usize>,
    /// The margin that all other sites of the target leave to every candidate, in dB; infinite where there are none.
    pub(crate) cap: f64,
    /// Whether no candidate here is wanted: a guard is broken whatever moves, or the margin stays below the bar. What moves is not
    /// looked at then.
    pub(crate) is_out: bool,
    /// The points of every site side by side, packed when they are first asked for: of most sites they never are.
    points: Vec<OnceLock<Option<SitePoints>>>,
}

/// The points of a combination side by side.
#[derive(Debug)]
pub(crate) struct SitePoints {
    /// Those of the band that rectangles are asked about: neighbours tell nearly the same.
    pub(crate) asked: Vec<PackedTerms>,
    pub(crate) asked_count: usize,
    pub(crate) band: Vec<PackedTerms>,
    pub(crate) anchor: Vec<PackedTerms>,
}

impl Folded {
    /// For the sites in their order, with a row of admittances a frequency; with a scratch that keeps nothing between calls.
    pub(crate) fn new(
        plan: &Plan,
        form: &Form<'_>,
        order: &[Site],
        admittances: &[SlotAdmittances],
        bar: Bar,
        scratch: &mut Vec<Terms>,
    ) -> Self {
        scratch.resize(plan.points.len(), [Complex64::ZERO; 4]);
        let put_in = |terms: &mut Terms, point: &Point| *terms = point.reduction.in_one_slot(form.slot, &admittances[point.frequency]);
        // What stands still is asked first: it mostly decides, and is little.
        let mut cap = f64::INFINITY;
        for site in order.iter().filter(|site| site.stands_still(form.slot)) {
            for point in site.points(plan) {
                put_in(&mut scratch[point], &plan.points[point]);
            }
            match settled(plan, *site, scratch, &ReferenceRatios::new(plan, *site, scratch)) {
                Settled::Caps(margin) => cap = cap.min(margin),
                Settled::BreaksGuard => return Self::out(),
                Settled::KeepsGuard | Settled::Not => {}
            }
            if bar.is_above(cap) {
                return Self::out();
            }
        }
        scratch.iter_mut().zip(&plan.points).for_each(|(terms, point)| put_in(terms, point));
        Self::of(plan, order, scratch.clone(), bar)
    }

    fn of(plan: &Plan, order: &[Site], terms: Vec<Terms>, bar: Bar) -> Self {
        let references: Vec<_> = order.iter().map(|site| ReferenceRatios::new(plan, *site, &terms)).collect();
        let (mut moving, mut cap) = (Vec::with_capacity(order.len()), f64::INFINITY);
        for (number, (site, reference)) in order.iter().zip(&references).enumerate() {
            match settled(plan, *site, &terms, reference) {
                Settled::Caps(margin) => cap = cap.min(margin),
                Settled::BreaksGuard => return Self::out(),
                Settled::KeepsGuard => {}
                Settled::Not => moving.push(number),
            }
        }
        Self {
            is_out: bar.is_above(cap),
            terms,
            references,
            moving,
            cap,
            points: order.iter().map(|_| OnceLock::new()).collect(),
        }
    }

    fn out() -> Self {
        Self {
            terms: Vec::new(),
            references: Vec::new(),
            moving: Vec::new(),
            cap: f64::NEG_INFINITY,
            is_out: true,
            points: Vec::new(),
        }
    }

    /// The points of a site by its number; `None` where the reference moves.
    pub(crate) fn points(&self, plan: &Plan, form: &Form<'_>, number: usize, site: Site) -> Option<&SitePoints> {
        self.points[number]
            .get_or_init(|| SitePoints::new(plan, form, site, &self.terms, &self.references[number]))
            .as_ref()
    }
}

impl SitePoints {
    fn new(plan: &Plan, form: &Form<'_>, site: Site, terms: &[Terms], ratios: &ReferenceRatios) -> Option<Self> {
        let clause = plan.bounded(site.clause);
        let Measured { band, anchor } = &clause.combinations[site.combination].measured;
        let ratios = match ratios {
            ReferenceRatios::Moving => return None,
            ReferenceRatios::Known(figures) if clause.over == Over::Every => figures.as_slice(),
            ReferenceRatios::Known(_) => &[],
        };
        let at = |(position, index): (usize, &usize)| {
            let frequency = plan.points[*index].frequency;
            PointTerms {
                terms: terms[*index],
                frequency,
                scale: form.scale(laplace(plan.frequencies[frequency]).im),
                ratio: ratios.get(position).copied().unwrap_or(1.0),
            }
        };
        let band: Vec<PointTerms> = band.iter().enumerate().map(at).collect();
        let anchor = anchor.iter().map(|index| PointTerms {
            ratio: 1.0,
            ..at((0, index))
        });
        let last = band.len().saturating_sub(1);
        let is_asked = |position: usize| clause.over != Over::Every || position.is_multiple_of(POINTS_A_QUESTION) || position == last;
        let asked: Vec<PointTerms> = (0..band.len())
            .filter(|position| is_asked(*position))
            .map(|position| band[position])
            .collect();
        Some(Self {
            asked_count: asked.len(),
            asked: PackedTerms::pack(&asked),
            band: PackedTerms::pack(&band),
            anchor: PackedTerms::pack(&anchor.collect::<Vec<_>>()),
        })
    }
}

/// The reference of a combination as power ratios over its anchor: one a point, or one for the whole band.
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
        let clause = plan.bounded(site.clause);
        match &clause.combinations[site.combination].reference {
            Reference::Known(figures) => Self::Known(figures.iter().map(|figure| power(*figure)).collect()),
            Reference::Build(elsewhere) => match constant(terms, elsewhere) {
                Some(figures) => Self::Known(bounded(clause.over, figures)),
                None => Self::Moving,
            },
        }
    }
}

/// What a combination says of every candidate at once.
enum Settled {
    /// The margin that none exceeds, in dB.
    Caps(f64),
    BreaksGuard,
    KeepsGuard,
    /// A candidate moves it, or it is not finite, or a guard hangs on rounding, which is for the definition to say.
    Not,
}

fn settled(plan: &Plan, site: Site, terms: &[Terms], reference: &ReferenceRatios) -> Settled {
    match settled_margin(plan, site, terms, reference) {
        Some(margin) if !plan.is_guard(site.clause) => Settled::Caps(margin),
        Some(margin) if margin > SLACK => Settled::KeepsGuard,
        Some(margin) if margin < -SLACK => Settled::BreaksGuard,
        _ => Settled::Not,
    }
}

/// The margin, in dB, of a combination that no candidate moves; `None` if one does, or it is not finite.
fn settled_margin(plan: &Plan, site: Site, terms: &[Terms], reference: &ReferenceRatios) -> Option<f64> {
    let ReferenceRatios::Known(reference) = reference else {
        return None;
    };
    let clause = plan.bounded(site.clause);
    let powers = constant(terms, &clause.combinations[site.combination].measured)?;
    let figures = bounded(clause.over, powers);
    let mut least = f64::INFINITY;
    for (figure, reference) in figures.iter().zip(reference) {
        let margin = clause.margin(decibels(figure / reference));
        if !margin.is_finite() {
            return None;
        }
        least = least.min(margin);
    }
    least.is_finite().then_some(least)
}

/// What a clause bounds of a band's powers.
fn bounded(over: Over, powers: Vec<f64>) -> Vec<f64> {
    match over {
        Over::Every => powers,
        Over::Mean => vec![mean(powers)],
        Over::Average => vec![power(mean(powers.into_iter().map(decibels)))],
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
    let level = match anchor.len() {
        0 => 1.0,
        _ => mean(anchor.iter().copied()),
    };
    Some(band.into_iter().map(|power| power / level).collect())
}
