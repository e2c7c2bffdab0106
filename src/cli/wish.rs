//! A wish typed in place of a command: `knobwright less mud`.

use std::ffi::OsString;

use clap::error::ErrorKind;
use clap::{CommandFactory, Parser};
use knobwright::error::one_slip;

use super::args::Cli;

/// The command line that these words stand for; ends the program where the first is a command gone wrong.
pub fn recommend(words: Vec<OsString>) -> Cli {
    let first = words.first().map(|word| word.to_string_lossy().to_lowercase()).unwrap_or_default();
    let mut command = Cli::command();
    let near = command
        .get_subcommands()
        .map(|known| known.get_name().to_owned())
        .find(|known| one_slip(&first, known));
    if let Some(near) = near {
        let message = format!("there is no command `{first}`; did you mean `{near}`?");
        command.error(ErrorKind::InvalidSubcommand, message).exit();
    }
    Cli::parse_from(["knobwright", "recommend"].map(OsString::from).into_iter().chain(words))
}
