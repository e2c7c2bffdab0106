//! One build in depth: the one that is named, or the one that would be listed first.

use super::tries::Tries;
use super::{Request, prepare, yields};
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Slot;
use crate::parts::network::Network;
use crate::progress::Progress;
use crate::search::exhaustive;
use crate::tolerance::depth::{Asked, Depth, depth};
use crate::tolerance::spreads;

/// Looks into the build with these networks fitted; into the first of the recommendation where none are given.
///
/// # Errors
/// As [`recommend`](super::recommend); when no built guitars are to be drawn, or the build makes no sound at a knob position of the target.
pub fn in_depth(request: &Request, fittings: &[(Slot, Option<Network>)], progress: &dyn Progress) -> Result<Depth> {
    let Some(lot) = &request.lot else {
        return Err(Error::new(ErrorKind::Conflict, "a tolerance analysis needs built guitars").help("leave --builds out, or give 10000"));
    };
    let guitars = prepare::all(request)?;
    let (present, mut build) = prepare::guitars(request)?;
    exhaustive::with_threads(request.threads, || {
        let build = if fittings.is_empty() {
            let mut tries = Tries::new(request, guitars, progress)?;
            yields::rate(request, &mut tries)?;
            tries.guitars().into_iter().next()
        } else {
            build.fit_all(fittings, "--build")?;
            Some(build)
        };
        let silent = || {
            Error::new(
                ErrorKind::Search,
                "this build makes no sound at a knob position the target asks about",
            )
        };
        let build = build.ok_or_else(silent)?;
        let asked = Asked {
            build: &build,
            present: &present,
            target: &request.target,
            lot,
        };
        let spreads = spreads(&build, &lot.tolerances, request.rules.stock.as_ref());
        depth(&asked, spreads).map_err(prepare::silent)?.ok_or_else(silent)
    })
}
