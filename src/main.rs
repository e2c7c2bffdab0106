//! The `knobwright` command.
#![forbid(unsafe_code)]

mod cli;

use std::process::ExitCode;

use clap::Parser;

use cli::run::{Outcome, picture, run, tell};

fn main() -> ExitCode {
    cli::signals::watch();
    match run(cli::args::Cli::parse()) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Missed) => ExitCode::from(1),
        Ok(Outcome::BadFiles) => ExitCode::from(2),
        Err(error) => {
            tell(&picture(&error));
            ExitCode::from(2)
        }
    }
}
