//! The circuit: what a guitar is, not what anybody wants of it.
