//! What stands around every page: its head with a policy that lets nothing in, its one style and its one script.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use crate::report::escape::escaped;
use crate::shipped::{PAGE_SCRIPT, PAGE_STYLE};

/// A page around its sections; `data` is JSON that is safe inside a script element. A page on which nothing moves has no script.
pub(super) fn page(title: &str, sections: &str, data: Option<&str>, moves: bool) -> String {
    // Read as XML the script is character data; read as HTML both marks are comments of the script.
    let script = format!("//<![CDATA[\n{PAGE_SCRIPT}//]]>");
    let allowed = if moves {
        format!(" script-src {};", digest(&script))
    } else {
        String::new()
    };
    let policy = format!(
        "default-src 'none'; style-src {};{allowed} base-uri 'none'; form-action 'none'",
        digest(PAGE_STYLE)
    );
    let data = data
        .map(|data| format!("<script type=\"application/json\" id=\"sweep\">{data}</script>\n"))
        .unwrap_or_default();
    let script = if moves {
        format!("<script>{script}</script>\n")
    } else {
        String::new()
    };
    let title = escaped(title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <title>{title}</title>\n<style>{PAGE_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{sections}\n</main>\n\
         {data}{script}</body>\n</html>\n"
    )
}

/// A source expression of a policy (CSP level 3): the only text that may run or style.
fn digest(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)))
}
