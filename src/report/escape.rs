//! Text that stands inside markup: HTML and SVG alike.

/// Text in which nothing is markup, inside elements and inside quoted attributes; letters that XML forbids become spaces.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}
