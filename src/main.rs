//! The `knobwright` command.
#![forbid(unsafe_code)]

mod cli;

use std::process::ExitCode;

use clap::Parser;
use knobwright::source::is_printable;

use cli::args::Cli;
use cli::run::{Outcome, run, show, tell};

fn main() -> ExitCode {
    cli::signals::watch();
    let typed = match Cli::try_parse() {
        Ok(typed) => typed,
        // The message repeats what was typed, which may steer a terminal; only then it goes without colour.
        Err(error) if error.use_stderr() && !std::env::args_os().all(|word| word.to_string_lossy().chars().all(is_printable)) => {
            tell(error.render().to_string().trim_end());
            return ExitCode::from(2);
        }
        Err(error) => error.exit(),
    };
    match run(typed) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Missed) => ExitCode::from(1),
        Ok(Outcome::BadFiles) => ExitCode::from(2),
        Err(error) => {
            show(&error);
            ExitCode::from(2)
        }
    }
}
