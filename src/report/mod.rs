//! Results as text, CSV and JSON. A report never computes: a figure missing here is missing in the result.

mod answer;
mod comparison;
mod document;
mod explanation;
mod first_screen;
mod forms;
mod identify;
mod json;
mod kit;
mod plot;
mod recommendation;
mod response;
mod schematic;
mod sheet;
mod shopping;
mod table;
mod target;
mod tolerance;
mod values;
mod verify;
pub mod words;
mod write;

pub use comparison::comparison_csv;
pub use document::{Block, Document, Origin, Shown};
pub use first_screen::first_screen;
pub use identify::{coil_of_peaks, identified_csv, peaks_csv, pot_csv};
pub use json::{json, json_assuming};
pub use kit::kit_csv;
pub use plot::{plot_png, plot_svg, plot_text};
pub use recommendation::{recommendation_csv, recommendation_text};
pub use response::{response_csv, response_document, response_json};
pub use table::{Cell, Column, Table};
pub use tolerance::tolerance_csv;
pub use values::{decoded_table, nearest_table, values_document, values_table};
pub use verify::verified_csv;
pub use write::{refuse_unwritable, write_whole};
