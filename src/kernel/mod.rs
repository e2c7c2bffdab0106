//! From a circuit to figures: grids, plans, measures.
