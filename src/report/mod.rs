//! Results as text, CSV and JSON. A report never computes: a figure missing here is missing in the result.

mod comparison;
mod explanation;
mod handout;
mod identify;
mod json;
mod kit;
mod page;
mod plot;
mod recommendation;
mod response;
mod schematic;
mod sheet;
mod shopping;
mod table;
mod tolerance;
mod values;
mod verify;
pub mod words;
mod write;

pub use comparison::{comparison_csv, comparison_text};
pub use handout::{Origin, comparison_page, kit_page, recommendation_page};
pub use identify::{coil_of_peaks, identified_csv, identified_text, peaks_csv, peaks_text, pot_csv, pot_text};
pub use json::json;
pub use kit::{kit_csv, kit_text};
pub use plot::{plot_png, plot_svg, plot_text};
pub use recommendation::{recommendation_csv, recommendation_text};
pub use response::{response_csv, response_text};
pub use sheet::{sheet_html, sheet_markdown};
pub use table::{Cell, Column, Table};
pub use tolerance::{tolerance_csv, tolerance_text};
pub use values::{decoded_table, nearest_table, values_table};
pub use verify::{verified_csv, verified_text};
pub use write::{refuse_unwritable, write_whole};
