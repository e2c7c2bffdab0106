//! The command line: arguments, the terminal, and one arm a command.

pub mod args;
mod batch;
mod beside;
mod compare;
mod guide;
mod guitar;
pub mod identify;
mod kit;
mod knobs;
pub mod outputs;
mod page;
mod plot;
mod response;
pub mod run;
pub mod sheet;
pub mod signals;
pub mod terminal;
pub mod tolerance;
mod values;
pub mod verify;
mod whole;
mod wish;
