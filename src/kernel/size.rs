//! How many points a target asks about, and that they can be held.

use crate::error::{Error, ErrorKind, Result};
use crate::kernel::grid::POINTS_PER_OCTAVE;
use crate::limits::MOST_PLANNED_POINTS;
use crate::target::{Band, Clause, Target};
use crate::units::grouped;

/// About so many points are looked at in one piece where they need not be held together.
const POINTS_IN_A_PIECE: u64 = 10_000;

impl Target {
    /// How many points the clauses ask about in one case, those they share counted for each; references at full are further ones.
    #[must_use]
    pub fn points(&self) -> u64 {
        let octave = f64::from(POINTS_PER_OCTAVE);
        let grid = |band: &Band| ((band.high() / band.low()).log2() * octave) as u64 + 2;
        let of = |clause: &Clause| {
            let settings = (clause.volume.len() as u64).saturating_mul(clause.tone.len() as u64);
            let widest = clause.each_band().map(|band| grid(&band)).max().unwrap_or(0);
            settings.saturating_mul(widest + clause.anchor.as_ref().map_or(0, grid))
        };
        self.clauses.iter().map(of).fold(0, u64::saturating_add)
    }

    /// Refuses a target that asks about more than [`MOST_PLANNED_POINTS`] in so many cases.
    ///
    /// # Errors
    /// If it does.
    pub fn check_points(&self, cases: usize) -> Result<()> {
        let points = self.points().saturating_mul(cases.max(1) as u64);
        if points <= MOST_PLANNED_POINTS {
            return Ok(());
        }
        let message = format!(
            "the target asks about {} points (knob position, frequency, case), at most {} are planned",
            grouped(points),
            grouped(MOST_PLANNED_POINTS)
        );
        let help = if cases > 1 {
            "give it fewer knob positions, or the guitar fewer cases"
        } else {
            "give it fewer knob positions"
        };
        Err(Error::new(ErrorKind::Range, message).help(help))
    }

    /// The same target a few volume positions at a time: what holds in every piece holds in the whole.
    pub(crate) fn in_pieces(&self) -> impl Iterator<Item = Self> + '_ {
        let mut volumes: Vec<f64> = self.clauses.iter().flat_map(|clause| clause.volume.iter().copied()).collect();
        volumes.sort_by(|one, other| other.total_cmp(one));
        volumes.dedup();
        let at_one = (self.points() / volumes.len().max(1) as u64).max(1);
        let together = usize::try_from(POINTS_IN_A_PIECE / at_one).unwrap_or(usize::MAX).max(1);
        let pieces: Vec<Vec<f64>> = volumes.chunks(together).map(<[f64]>::to_vec).collect();
        pieces.into_iter().map(|volumes| self.at_volumes(&volumes))
    }

    fn at_volumes(&self, volumes: &[f64]) -> Self {
        let at = |clause: &Clause| Clause {
            volume: clause.volume.iter().copied().filter(|volume| volumes.contains(volume)).collect(),
            ..clause.clone()
        };
        Self {
            clauses: self.clauses.iter().map(at).filter(|clause| !clause.volume.is_empty()).collect(),
            ..self.clone()
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::target::{Against, Band, Clause, Measure, Over, Place, Target};

    fn at(volume: Vec<f64>, tone: Vec<f64>) -> Clause {
        Clause {
            measure: Measure::Level,
            against: Against::Present,
            band: Band::new(1500.0, 6000.0).expect("a band"),
            anchor: None,
            over: Over::Every,
            volume,
            tone,
            at_least: Some(-9.0),
            at_most: None,
            bands: Vec::new(),
            place: Place::default(),
        }
    }

    #[test]
    fn the_pieces_of_a_target_are_every_clause_at_each_of_its_positions_once() {
        let steps = |count: u32| (0..count).map(|step| f64::from(step) / f64::from(count)).collect::<Vec<_>>();
        let target = Target::new(
            "pieces",
            vec![at(steps(100), steps(60)), at(vec![0.777], vec![1.0]), at(vec![0.5], steps(3))],
        );
        let mut pieces: Vec<Vec<f64>> = Vec::new();
        for piece in target.in_pieces() {
            assert!(piece.points() <= super::POINTS_IN_A_PIECE, "{}", piece.points());
            assert!(piece.clauses.iter().all(|clause| !clause.volume.is_empty()));
            pieces.push(piece.clauses.iter().flat_map(|clause| clause.volume.clone()).collect());
        }
        assert!(pieces.len() > 1, "in one piece");
        let sorted = |mut volumes: Vec<f64>| {
            volumes.sort_by(f64::total_cmp);
            volumes
        };
        let asked = target.clauses.iter().flat_map(|clause| clause.volume.clone()).collect();
        assert_eq!(sorted(pieces.concat()), sorted(asked));
    }
}
