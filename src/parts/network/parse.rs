//! The written form of networks: `150k || 1n`, `130k + 1n`, `R1 + (R2 || C)`.
//!
//! sum = product { `+` product }; product = unit { `||` unit }; unit = `(` sum `)` | free part | value.

use super::{Component, FreePart, Kind, Network};
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;
use crate::units::{Quantity, read_quantity, rkm};

/// Parentheses inside one another; far above any network anybody solders, and safe for the stack.
const DEEPEST: usize = 32;

/// Parts in one network.
pub(super) const MOST_PARTS: usize = 16;

/// Bytes of text of one network.
const LONGEST: usize = 1000;

const EXPECTED_PART: &str = "expected a value such as `120k` or `1n`, a free part `R` or `C`, or `(`";

impl Network {
    /// Reads a network with fixed and free parts; `none` is `None`.
    ///
    /// # Errors
    /// Where the text is no network, a name is used twice, or a value is one nobody could fit.
    pub fn read(passage: &Passage<'_>) -> Result<Option<Self>> {
        let whole = passage.trimmed();
        if whole.text().is_empty() {
            let error = Error::at(passage, ErrorKind::Missing, "expected a network, found nothing").label("nothing here");
            return Err(error.help("write a network such as `120k || 1n`, or `none` for nothing fitted"));
        }
        if whole.text().eq_ignore_ascii_case("none") {
            return Ok(None);
        }
        if whole.text().len() > LONGEST {
            let message = format!(
                "a network of {} bytes of text is more than the {LONGEST} that are read",
                whole.text().len()
            );
            return Err(Error::at(&whole, ErrorKind::Syntax, message).label("too long"));
        }
        let mut reader = Reader {
            tokens: tokens(&whole)?,
            next: 0,
            names: Vec::new(),
            parts: 0,
            end: whole.part(whole.text().len()..whole.text().len()),
        };
        let network = reader.sum(0)?;
        match reader.peek() {
            None => Ok(Some(network)),
            Some(token) => Err(reader.unexpected_after_network(token)),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Open,
    Close,
    Plus,
    Parallel,
    Word,
}

#[derive(Clone)]
struct Token<'a> {
    sign: Sign,
    passage: Passage<'a>,
}

/// Cuts the text at operators and parentheses; what stands between is one value, blanks inside it included.
fn tokens<'a>(whole: &Passage<'a>) -> Result<Vec<Token<'a>>> {
    let text = whole.text();
    let mut tokens = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let start = text.len() - rest.len();
        let (sign, length) = match rest.chars().next() {
            Some('(') => (Sign::Open, 1),
            Some(')') => (Sign::Close, 1),
            Some('+') => (Sign::Plus, 1),
            Some('|' | '/' | '∥' | '‖') => (Sign::Parallel, parallel_sign(whole, rest)?),
            _ => (Sign::Word, rest.find(['(', ')', '+', '|', '/', '∥', '‖']).unwrap_or(rest.len())),
        };
        let passage = whole.part(start..start + length).trimmed();
        if !passage.text().is_empty() {
            tokens.push(Token { sign, passage });
        }
        rest = rest.get(length..).unwrap_or("");
    }
    Ok(tokens)
}

/// The length of the sign for parallel; what is only like it is refused with a hint.
fn parallel_sign(whole: &Passage<'_>, rest: &str) -> Result<usize> {
    let after = rest.trim_start_matches(['|', '/', '∥', '‖']);
    let length = rest.len() - after.len();
    let written = rest.get(..length).unwrap_or(rest);
    if written == "||" {
        return Ok(length);
    }
    let start = whole.text().len() - rest.len();
    let error = Error::at(
        &whole.part(start..start + length),
        ErrorKind::Syntax,
        format!("`{written}` is no operator"),
    )
    .label("expected `||` or `+`");
    Err(error.help("in parallel is written `||`, in series `+`"))
}

struct Reader<'a> {
    tokens: Vec<Token<'a>>,
    next: usize,
    names: Vec<Passage<'a>>,
    parts: usize,
    end: Passage<'a>,
}

impl<'a> Reader<'a> {
    fn peek(&self) -> Option<Token<'a>> {
        self.tokens.get(self.next).cloned()
    }

    /// Takes the next token if it is this sign.
    fn takes(&mut self, sign: Sign) -> bool {
        let taken = self.tokens.get(self.next).is_some_and(|token| token.sign == sign);
        self.next += usize::from(taken);
        taken
    }

    fn sum(&mut self, depth: usize) -> Result<Network> {
        let mut members = vec![self.product(depth)?];
        while self.takes(Sign::Plus) {
            members.push(self.product(depth)?);
        }
        Ok(series(members))
    }

    fn product(&mut self, depth: usize) -> Result<Network> {
        let mut members = vec![self.unit(depth)?];
        while self.takes(Sign::Parallel) {
            members.push(self.unit(depth)?);
        }
        Ok(parallel(members))
    }

    fn unit(&mut self, depth: usize) -> Result<Network> {
        let Some(token) = self.peek() else {
            return Err(self.ended());
        };
        self.next += 1;
        match token.sign {
            Sign::Word => self.part(&token.passage),
            Sign::Open => self.group(&token, depth + 1),
            Sign::Close | Sign::Plus | Sign::Parallel => {
                let message = format!("expected a part before `{}`", token.passage.text());
                let error = Error::at(&token.passage, ErrorKind::Syntax, message).label("nothing to join here");
                Err(error.help(EXPECTED_PART))
            }
        }
    }

    fn group(&mut self, open: &Token<'a>, depth: usize) -> Result<Network> {
        if depth > DEEPEST {
            let message = format!("more than {DEEPEST} parentheses inside one another");
            return Err(Error::at(&open.passage, ErrorKind::Syntax, message).label("one too deep"));
        }
        let inside = self.sum(depth)?;
        if self.takes(Sign::Close) {
            return Ok(inside);
        }
        match self.peek() {
            Some(token) => Err(self.unexpected_after_network(token)),
            None => {
                let error = Error::at(&open.passage, ErrorKind::Syntax, "this parenthesis is never closed");
                Err(error.label("expected a `)` for this"))
            }
        }
    }

    fn part(&mut self, written: &Passage<'a>) -> Result<Network> {
        self.parts += 1;
        if self.parts > MOST_PARTS {
            let message = format!("a network has at most {MOST_PARTS} parts");
            return Err(Error::at(written, ErrorKind::Range, message).label("one too many"));
        }
        let Some(kind) = free_kind(written)? else {
            return Ok(Network::Fixed(fixed(written)?));
        };
        let name = written.text();
        if let Some(earlier) = self.names.iter().find(|earlier| earlier.text() == name) {
            let column = earlier.source().line_column(earlier.place().span.start).1;
            let message = format!("the free part `{name}` is there twice");
            let error = Error::at(written, ErrorKind::Conflict, message).label(format!("first used in column {column}"));
            let letter = kind.letter();
            return Err(error.help(format!("number them: {letter}1, {letter}2")));
        }
        self.names.push(written.clone());
        Ok(Network::Free(FreePart {
            kind,
            name: name.to_owned(),
        }))
    }

    fn ended(&self) -> Error {
        let last = self.next.checked_sub(1).and_then(|last| self.tokens.get(last));
        let message = match last {
            Some(token) => format!("expected a part after `{}`", token.passage.text()),
            None => "expected a part".to_owned(),
        };
        Error::at(&self.end, ErrorKind::Syntax, message)
            .label("the network ends here")
            .help(EXPECTED_PART)
    }

    /// A sign where the network was complete.
    fn unexpected_after_network(&self, token: Token<'a>) -> Error {
        match token.sign {
            Sign::Close => Error::at(&token.passage, ErrorKind::Syntax, "this parenthesis was never opened").label("expected no `)`"),
            _ => Error::at(
                &token.passage,
                ErrorKind::Syntax,
                format!("expected `||` or `+` before `{}`", token.passage.text()),
            )
            .label("an operator is missing here"),
        }
    }
}

/// In series, with series inside series laid flat.
pub(super) fn series(members: Vec<Network>) -> Network {
    let flat = members.into_iter().flat_map(|member| match member {
        Network::Series(inner) => inner,
        other => vec![other],
    });
    alone_or(flat.collect(), Network::Series)
}

/// In parallel, with parallel inside parallel laid flat.
pub(super) fn parallel(members: Vec<Network>) -> Network {
    let flat = members.into_iter().flat_map(|member| match member {
        Network::Parallel(inner) => inner,
        other => vec![other],
    });
    alone_or(flat.collect(), Network::Parallel)
}

fn alone_or(mut members: Vec<Network>, join: fn(Vec<Network>) -> Network) -> Network {
    match members.pop() {
        Some(only) if members.is_empty() => only,
        Some(last) => {
            members.push(last);
            join(members)
        }
        None => join(members),
    }
}

/// The kind of a free part (`R`, `C2`); `None` for what is a value instead.
fn free_kind(written: &Passage<'_>) -> Result<Option<Kind>> {
    let text = written.text();
    let mut letters = text.chars();
    let first = letters.next();
    let number = letters.as_str();
    if number.len() > 9 || !number.chars().all(|digit| digit.is_ascii_digit()) {
        return two_values(written);
    }
    let unknown = |message: String| Error::at(written, ErrorKind::Unknown, message);
    match first {
        Some('R') => Ok(Some(Kind::Resistor)),
        Some('C') => Ok(Some(Kind::Capacitor)),
        Some(small @ ('r' | 'c')) => {
            let error = unknown(format!("`{text}` is no part: a free part is written with a capital")).label("neither value nor part");
            Err(error.help(format!("write `{}{number}`", small.to_ascii_uppercase())))
        }
        Some('L' | 'l') => {
            let error = unknown(format!("`{text}`: an inductor is never a free part")).label("only R and C are searched");
            Err(error.help("write its value, such as `2 H`"))
        }
        _ => Ok(None),
    }
}

/// Two values with nothing but a blank between them: `10k 1n`, `R C`; anything else is left to the reader of values.
fn two_values(written: &Passage<'_>) -> Result<Option<Kind>> {
    let text = written.text();
    let blank = text.char_indices().find(|(at, sign)| {
        let after = text.get(*at..).unwrap_or("").trim_start();
        let begins_value = after.starts_with(|c: char| c.is_ascii_digit() || c == '.') || after.starts_with(['R', 'C', 'L']);
        let before = text.get(..*at).unwrap_or("");
        let ends_value = before.ends_with(char::is_alphabetic) || before.starts_with(['R', 'C']);
        sign.is_whitespace() && begins_value && ends_value
    });
    let Some((at, _)) = blank else {
        return Ok(None);
    };
    let second = written.part(at..text.len()).trimmed();
    let message = format!("expected `||` or `+` before `{}`", second.text());
    Err(Error::at(&second, ErrorKind::Syntax, message).label("an operator is missing here"))
}

/// A part of known value, inside what can be soldered and computed.
fn fixed(written: &Passage<'_>) -> Result<Component> {
    if written.text().eq_ignore_ascii_case("none") {
        let error = Error::at(written, ErrorKind::Syntax, "`none` stands alone").label("not a part of a network");
        return Err(error.help("leave it out: nothing fitted is the one word `none`"));
    }
    let quantity = read_quantity(written).map_err(|error| match error.kind() {
        ErrorKind::Syntax if !written.text().contains(|sign: char| sign.is_ascii_digit()) => error.help(EXPECTED_PART),
        _ => error,
    })?;
    let (component, unit, low, high) = match quantity {
        Quantity::Ohms(value) => (Component::Resistor(value), "R", 0.01, 1e9),
        Quantity::Farads(value) => (Component::Capacitor(value), "F", 1e-14, 1e-2),
        Quantity::Henries(value) => (Component::Inductor(value), "H", 1e-9, 1e3),
    };
    if component.value() <= 0.0 {
        let error = Error::at(
            written,
            ErrorKind::Range,
            format!("a part's value is above zero, this is `{}`", written.text()),
        );
        return Err(error
            .label("not above zero")
            .help("a wire or a gap is no part: leave it out, or write `none`"));
    }
    if !(low..=high).contains(&component.value()) {
        let (low, high) = (rkm(low, unit), rkm(high, unit));
        let message = format!("`{}` is no value for a part", written.text());
        return Err(Error::at(written, ErrorKind::Range, message).label(format!("expected {low} to {high}")));
    }
    Ok(component)
}

#[cfg(test)]
mod tests;
