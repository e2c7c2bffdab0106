//! Which build is the answer: nothing where the guitar does it already; else the one that changes least and does it; else what it would
//! cost; else the closest, or that nothing helps.
//!
//! The list ranks by margin. The answer is chosen from all builds that do the job about as well as the best: as few changes as will do,
//! then the least else changed, then the yield, then the margin. How well "about" is, and what nobody hears, are working rules of our own.

mod candidates;
mod words;

use std::collections::BTreeMap;

use serde::Serialize;

use self::candidates::{Candidate, Choice};
pub(super) use self::words::{decibels, uncapitalised};
use self::words::{so_does, to_spare};
use super::changes::{self, Known, Told};
use super::explain::Explanation;
use super::tries::Tries;
use super::{Build, Prepared, RankBy, Request, Rewired, finish, yields};
use crate::error::Result;
use crate::guitar::{Guitar, Slot};
use crate::kernel::measure::guard_difference;
use crate::kernel::plan::Plan;
use crate::parts::network::{Component, Network};
use crate::search::exhaustive::Evaluator;

/// A miss up to this, in dB, is one that nobody hears; so much margin is given up for a simpler build; and so much more of it is worth
/// saying.
pub(super) const NOBODY_HEARS: f64 = 0.5;
/// Of a margin, this share at most is given up for a simpler build.
const SHARE_GIVEN_UP: f64 = 0.5;
/// A miss that nobody asked about, between the half marks of a knob or with another pickup, is said from here on, in dB.
pub(super) const WORTH_SAYING: f64 = 0.05;

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What kind of answer it is.
    pub kind: AnswerKind,
    /// The answer in words: what to do, and how well it does.
    pub says: String,
    /// Everything that is fitted in the answer's guitar.
    pub slots: BTreeMap<Slot, String>,
    /// What is wired otherwise than now, by key.
    pub changed: Rewired,
    /// The margin in dB.
    pub margin_db: f64,
    /// How many dB are left before something is spoiled that nobody asked to change; none where nothing is guarded.
    pub rest_db: Option<f64>,
    /// What it spoils; only where the answer has a price.
    pub harm: Vec<Told>,
    /// What else it changes by more than 3 dB, the largest first.
    pub also_changes: Vec<Told>,
    /// By how many dB it changes at most what the wish does not speak of.
    pub largest_change_db: f64,
    /// The best build with so many parts, fewest first, where it meets the wish.
    pub by_part_count: Vec<PartCount>,
    /// Where one resistor alone is the answer, the capacitor in its place that does it best, or the other way round.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instead: Option<PartCount>,
    /// Whether a capacitor is among what goes in.
    #[serde(skip)]
    pub fits_capacitor: bool,
    /// The build to solder; none where the guitar is best left alone.
    #[serde(skip)]
    pub build: Option<Build>,
    /// For an answer at a price, the closest build that spoils nothing.
    #[serde(skip)]
    pub harmless: Option<Build>,
}

/// What kind of answer it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum AnswerKind {
    /// The guitar does it already.
    Already,
    /// These parts do it and spoil nothing.
    Fit,
    /// These parts do it, and spoil something.
    Price,
    /// Nothing does it; these parts come closest and spoil nothing.
    Closest,
    /// No part changes anything one could hear.
    Leave,
}

impl AnswerKind {
    /// Whether the wish is met with nothing spoiled.
    #[must_use]
    pub const fn is_met(self) -> bool {
        matches!(self, Self::Already | Self::Fit)
    }
}

/// The best build with so many parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartCount {
    /// How many.
    pub parts: usize,
    /// What goes into each searched slot.
    pub slots: BTreeMap<Slot, String>,
    /// The margin in dB.
    pub margin_db: f64,
}

/// The best that was found, and what is known besides.
pub(super) struct Findings<'f> {
    pub(super) tries: &'f Tries,
    pub(super) builds: &'f [Build],
    pub(super) present_margin_db: f64,
    pub(super) explanation: &'f Explanation,
}

/// Chooses the answer; with the guitar that is built of it, if any is.
pub(super) fn choose(request: &Request, prepared: &Prepared, findings: &Findings<'_>) -> Result<(Answer, Option<Guitar>)> {
    let choice = Choice {
        request,
        prepared,
        tries: findings.tries,
        known: Known::new(&prepared.present, &request.target.clauses),
    };
    let now = findings.present_margin_db;
    let best = findings
        .tries
        .listed
        .iter()
        .map(|listed| listed.entry.margin)
        .fold(f64::NEG_INFINITY, f64::max);
    let limit = |best: f64| {
        if best < 0.0 {
            best - NOBODY_HEARS
        } else {
            (SHARE_GIVEN_UP * best).max(best - NOBODY_HEARS)
        }
    };
    let is_already = now >= 0.0
        || now >= -NOBODY_HEARS
            && findings
                .tries
                .each_listed()
                .next()
                .is_some_and(|(searched, first)| choice.sounds_as_now(&searched.prepared.built(first)));
    if is_already {
        let more = if best >= 0.0 && best >= now + NOBODY_HEARS {
            choice.least_changed(limit(best).max(now + NOBODY_HEARS))?
        } else {
            None
        };
        return Ok((choice.already(now, more.as_ref(), findings)?, None));
    }
    if best >= -NOBODY_HEARS {
        let least = limit(best).max(if best < 0.0 { -NOBODY_HEARS } else { 0.0 });
        let chosen = match request.rank_by {
            RankBy::Margin => choice.least_changed(least)?,
            RankBy::Yield => None,
        };
        let chosen = match chosen {
            Some(chosen) => Some(chosen),
            None => choice.first()?,
        };
        let kind = if best >= 0.0 { AnswerKind::Fit } else { AnswerKind::Closest };
        if let Some(chosen) = chosen {
            // Nothing does it better by anything one could hear.
            if chosen.changes == 0 {
                return Ok((choice.already(now, None, findings)?, None));
            }
            return choice.answered(kind, &chosen, None, findings);
        }
    }
    let closest = choice
        .first()?
        .filter(|closest| closest.entry.margin >= now + NOBODY_HEARS && !choice.sounds_as_now(&closest.guitar));
    if let Some(dear) = choice.at_a_price()? {
        return choice.answered(AnswerKind::Price, &dear, closest.as_ref(), findings);
    }
    match closest {
        Some(closest) => {
            let chosen = choice.least_changed(closest.entry.margin - NOBODY_HEARS)?;
            let chosen = chosen.filter(|chosen| chosen.entry.margin >= now + NOBODY_HEARS);
            choice.answered(AnswerKind::Closest, chosen.as_ref().unwrap_or(&closest), None, findings)
        }
        None => Ok((choice.leave(now, findings)?, None)),
    }
}

impl Choice<'_> {
    fn already(&self, now: f64, more: Option<&Candidate>, findings: &Findings<'_>) -> Result<Answer> {
        let how = if now >= 0.0 {
            format!("Your guitar does this already{}: leave it as it is.", to_spare(now))
        } else {
            format!(
                "Your guitar does this already but for {}, which nobody hears: leave it as it is.",
                decibels(-now)
            )
        };
        let more = more.map(|more| {
            format!(
                " More of it, with {} to spare: {}.",
                decibels(more.entry.margin),
                self.to_do(&more.guitar)
            )
        });
        let between = self.breaks_between_marks(&self.prepared.present, now);
        let says = how + &between.unwrap_or_default() + &more.unwrap_or_default();
        self.as_it_is(AnswerKind::Already, says, now, findings)
    }

    fn leave(&self, now: f64, findings: &Findings<'_>) -> Result<Answer> {
        let what = match (self.tries.all.len() > 1, self.prepared.slots.is_empty()) {
            (true, true) => "No pot that was tried",
            (true, false) => "Nothing that was tried",
            (false, _) => "No part in these places",
        };
        let says = format!("{what} changes this by anything one could hear: leave it as it is.");
        self.as_it_is(AnswerKind::Leave, says, now, findings)
    }

    fn as_it_is(&self, kind: AnswerKind, says: String, margin_db: f64, findings: &Findings<'_>) -> Result<Answer> {
        let present = &self.prepared.present;
        Ok(Answer {
            kind,
            says,
            slots: fitted(present),
            changed: Rewired::default(),
            margin_db,
            rest_db: finite(self.prepared.rest_of(present, &self.request.target)?),
            harm: Vec::new(),
            also_changes: Vec::new(),
            largest_change_db: 0.0,
            by_part_count: by_part_count(findings),
            instead: None,
            fits_capacitor: false,
            build: None,
            harmless: None,
        })
    }

    fn answered(
        &self,
        kind: AnswerKind,
        chosen: &Candidate,
        closest: Option<&Candidate>,
        findings: &Findings<'_>,
    ) -> Result<(Answer, Option<Guitar>)> {
        let margin = chosen.entry.margin;
        let harm = self.harm(&chosen.guitar)?;
        let effects = self.known.side_effects(&chosen.guitar);
        let between = self.breaks_between_marks(&chosen.guitar, margin);
        let instead = if kind == AnswerKind::Fit {
            self.of_other_kind(chosen)?
        } else {
            None
        };
        let so_does = instead.as_ref().map(so_does);
        let says = self.says(kind, chosen, &harm, closest) + &between.unwrap_or_default() + &so_does.unwrap_or_default();
        let answer = Answer {
            kind,
            says,
            slots: fitted(&chosen.guitar),
            changed: Rewired::between(&self.prepared.present, &chosen.guitar),
            margin_db: margin,
            rest_db: finite(chosen.rest_db),
            harm: if kind == AnswerKind::Price { harm } else { Vec::new() },
            also_changes: changes::worth_telling(&effects),
            largest_change_db: effects.first().map_or(0.0, |effect| effect.difference_db.abs()),
            by_part_count: by_part_count(findings),
            instead: instead.map(|other| PartCount {
                parts: 1,
                slots: changed_networks(&other)
                    .map(|(slot, network)| (slot, network.to_string()))
                    .collect(),
                margin_db: other.entry.margin,
            }),
            fits_capacitor: fits_capacitor(&self.prepared.present, &chosen.guitar),
            build: self.build(chosen, findings)?,
            harmless: closest.map(|closest| self.build(closest, findings)).transpose()?.flatten(),
        };
        Ok((answer, Some(chosen.guitar.clone())))
    }

    /// What a build breaks of the rest, the worst first.
    fn harm(&self, guitar: &Guitar) -> Result<Vec<Told>> {
        let plan = Plan::guarded(guitar, &self.prepared.present, &self.request.target, &[]).map_err(super::prepare::silent)?;
        let mut evaluator = Evaluator::new(&plan);
        let powers = evaluator.powers(&[], &[]);
        let mut broken: Vec<(f64, Told)> = plan
            .guards
            .iter()
            .filter_map(|guard| {
                let difference = guard_difference(guard, powers)?;
                let margin = guard.clause.margin(difference);
                let case = guard.clause.combinations.first().map(|combination| combination.case);
                let at = case.and_then(|case| self.prepared.present.cases.get(case));
                Some((margin, changes::broken(guard, difference, at)?)).filter(|_| margin < 0.0)
            })
            .collect();
        broken.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        // Of several cases the worst tells it.
        let mut told: Vec<Told> = Vec::with_capacity(broken.len());
        for (_, next) in broken {
            if told.iter().all(|known| (known.band, known.at) != (next.band, next.at)) {
                told.push(next);
            }
        }
        Ok(told)
    }

    /// A candidate as a build with all its figures; its rank is that of the list, or 0.
    fn build(&self, chosen: &Candidate, findings: &Findings<'_>) -> Result<Option<Build>> {
        let plan = chosen.prepared.plan(&self.request.target)?;
        let built = yields::of(self.request, &self.prepared.present, &chosen.guitar)?;
        let feel = finish::Feel::new(self.request, &self.prepared.present);
        let mut build = finish::figured(self.request, &chosen.prepared, &plan, &feel, &chosen.entry, built);
        if let Some(build) = &mut build {
            let same = |listed: &&Build| listed.guitar == build.guitar;
            build.rank = findings.builds.iter().find(same).map_or(0, |listed| listed.rank);
        }
        Ok(build)
    }
}

fn by_part_count(findings: &Findings<'_>) -> Vec<PartCount> {
    let rows = findings.explanation.by_part_count.iter();
    let met = rows.filter(|row| row.margin_db >= 0.0 && (1..=3).contains(&row.parts));
    met.map(|row| PartCount {
        parts: row.parts,
        slots: row.slots.clone(),
        margin_db: row.margin_db,
    })
    .collect()
}

fn fitted(guitar: &Guitar) -> BTreeMap<Slot, String> {
    Slot::ALL
        .into_iter()
        .filter_map(|slot| Some((slot, guitar.fitted(slot)?.to_string())))
        .collect()
}

/// Whether a capacitor is among what one guitar has otherwise than another.
fn fits_capacitor(present: &Guitar, guitar: &Guitar) -> bool {
    let goes_in = Slot::ALL.into_iter().filter(|slot| present.fitted(*slot) != guitar.fitted(*slot));
    let mut parts = goes_in.filter_map(|slot| guitar.fitted(slot)).flat_map(Network::components);
    parts.any(|part| matches!(part, Component::Capacitor(_)))
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn changed_networks(candidate: &Candidate) -> impl Iterator<Item = (Slot, &Network)> {
    let slots = candidate.prepared.slots.iter();
    slots.filter_map(|slot| Some((*slot, candidate.guitar.fitted(*slot)?)))
}
