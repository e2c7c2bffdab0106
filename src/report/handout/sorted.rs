//! Tables that sort: a button in each header, and the number behind each cell.

use super::escaped;
use crate::report::table::{Cell, Table};

/// A table under a caption.
pub(super) fn sorted(table: &Table, caption: &str) -> String {
    let header = |title: &str| {
        let title = match title {
            "#" => "rank".to_owned(),
            "" => "proved".to_owned(),
            title => title.replace('\n', " "),
        };
        format!(
            "<th scope=\"col\" aria-sort=\"none\"><button type=\"button\">{}</button></th>",
            escaped(&title)
        )
    };
    let headers: String = table.columns.iter().map(|column| header(&column.title)).collect();
    let rows: String = table.rows.iter().map(|row| format!("<tr>{}</tr>\n", cells(row))).collect();
    format!(
        "<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"{caption}\">\n<table class=\"sorts\">\n<caption>{caption}</caption>\n\
         <thead><tr>{headers}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</div>",
        caption = escaped(caption)
    )
}

/// The first cell says what its row is about.
fn cells(row: &[Cell]) -> String {
    let cell = |(index, cell): (usize, &Cell)| {
        let text = escaped(&cell.for_people());
        let number = match cell {
            Cell::Number { value, .. } | Cell::Quantity { value, .. } => format!(" class=\"number\" data-number=\"{value}\""),
            Cell::Empty(_) => " class=\"number\"".to_owned(),
            Cell::Text(_) => String::new(),
        };
        match index {
            0 => format!("<th scope=\"row\"{number}>{text}</th>"),
            _ => format!("<td{number}>{text}</td>"),
        }
    };
    row.iter().enumerate().map(cell).collect()
}
