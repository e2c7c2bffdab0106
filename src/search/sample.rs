//! A coarse sample of every space before the search: where to begin, with what threshold, and what to ask first.

use rayon::prelude::*;

use crate::search::bar::SLACK;
use crate::search::pruned::{Job, Shared};
use crate::search::ranking::GROUP_WIDTH;
use crate::search::screen::Site;
use crate::search::worker::{Worker, spread};

/// How many of the planes that a sample found best are searched first.
const PROMISING_PLANES: usize = 6;

/// What a sample of candidates tells before the search.
pub(super) struct Sample {
    /// A margin that the `top` first are sure not to fall below, in dB.
    pub(super) threshold: f64,
    /// The combinations, those that bind most often first.
    pub(super) order: Vec<Site>,
    /// What is fixed for each space whose other slots have one choice, with the combinations in that order.
    pub(super) folded: Vec<Shared>,
    /// Space and outer choices of the planes that hold the best of the sample.
    pub(super) promising: Vec<(usize, u64)>,
    /// For each space, the cell of the best of its sample.
    pub(super) hints: Vec<[usize; 2]>,
}

/// A candidate of the sample.
pub(super) struct Sampled {
    pub(super) margin: f64,
    pub(super) number: usize,
    pub(super) outer: u64,
    pub(super) cell: [usize; 2],
}

impl Job<'_> {
    /// A coarse sample of every space: the first threshold, and which combinations bind.
    pub(super) fn sample(&self, order: Vec<Site>, planes: u64) -> Sample {
        let folded = self.shared();
        let forms = self
            .forms
            .iter()
            .enumerate()
            .filter_map(|(number, form)| Some((number, form.as_ref()?)));
        let sampled: Vec<_> = forms
            .flat_map(|(number, form)| {
                spread(form.outer_count(), planes)
                    .into_iter()
                    .map(move |outer| (number, form, outer))
            })
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|(number, form, outer)| Worker::new(self, form, number, (&order, &folded[number]), [0; 2]).sample(outer))
            .collect();
        let mut binding = vec![0_u64; order.len()];
        let mut margins: Vec<Sampled> = Vec::new();
        for (some, counts) in sampled {
            margins.extend(some);
            binding.iter_mut().zip(counts).for_each(|(sum, count)| *sum += count);
        }
        let place = |sampled: &Sampled| (sampled.number, sampled.outer, sampled.cell);
        margins.sort_by(|one, other| other.margin.total_cmp(&one.margin).then_with(|| place(one).cmp(&place(other))));
        let mut promising: Vec<(usize, u64)> = Vec::new();
        let mut hints = vec![[0; 2]; self.forms.len()];
        for sampled in margins.iter().rev() {
            hints[sampled.number] = sampled.cell;
        }
        for sampled in &margins {
            let plane = (sampled.number, sampled.outer);
            if promising.len() < PROMISING_PLANES && !promising.contains(&plane) {
                promising.push(plane);
            }
        }
        let mut ranked: Vec<usize> = (0..order.len()).collect();
        ranked.sort_by_key(|site| (std::cmp::Reverse(binding[*site]), *site));
        let nth = margins.get(self.top.max(1) - 1).map(|sampled| sampled.margin - GROUP_WIDTH - SLACK);
        Sample {
            threshold: nth.unwrap_or(f64::NEG_INFINITY),
            order: ranked.into_iter().map(|site| order[site]).collect(),
            folded: self.shared(),
            promising,
            hints,
        }
    }

    fn shared(&self) -> Vec<Shared> {
        self.forms.iter().map(|_| Shared::new()).collect()
    }
}
