//! What a position of the selector connects: "neck", "neck || bridge", "neck + bridge", "neck || -bridge", "bridge.split".

use super::ensemble::Joined;
use crate::error::{Error, ErrorKind, Result};
use crate::source::Passage;

/// A pickup as a position uses it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Use {
    /// Its place in the file.
    pub pickup: usize,
    /// Which of its states, if not the first values.
    pub state: Option<usize>,
    /// Whether its leads are swapped.
    pub reversed: bool,
}

/// What can be named: each pickup with its states.
pub(super) type Names = [(String, Vec<String>)];

/// Reads a position; the numbers of the tree are places in the list of uses.
pub(super) fn read(written: &Passage<'_>, names: &Names) -> Result<(Joined, Vec<Use>)> {
    let mut reader = Reader {
        written,
        names,
        at: 0,
        uses: Vec::new(),
        depth: 0,
    };
    let joined = reader.sum()?;
    match reader.rest().chars().next() {
        None => Ok((joined, reader.uses)),
        Some(other) => Err(reader.wrong(other.len_utf8(), &format!("`{other}` does not continue a position"))),
    }
}

const EXAMPLES: &str = "a position is written like \"neck\", \"neck || bridge\" (side by side), \"neck + bridge\" (in series), \
                        \"neck || -bridge\" (the bridge reversed) or \"bridge.split\" (a state of it)";
/// How deep parentheses may go.
const DEEPEST: usize = 8;

struct Reader<'r, 'd> {
    written: &'r Passage<'d>,
    names: &'r Names,
    at: usize,
    uses: Vec<Use>,
    depth: usize,
}

impl Reader<'_, '_> {
    fn rest(&mut self) -> &str {
        let text = self.written.text().get(self.at..).unwrap_or_default();
        self.at += text.len() - text.trim_start().len();
        self.written.text().get(self.at..).unwrap_or_default()
    }

    fn takes(&mut self, token: &str) -> bool {
        let is_next = self.rest().starts_with(token);
        if is_next {
            self.at += token.len();
        }
        is_next
    }

    fn wrong(&self, length: usize, message: &str) -> Error {
        let end = (self.at + length).min(self.written.text().len());
        Error::at(&self.written.part(self.at.min(end)..end), ErrorKind::Syntax, message.to_owned()).help(EXAMPLES)
    }

    /// Pickups in series; the first is the one nearest to ground.
    fn sum(&mut self) -> Result<Joined> {
        let mut members = vec![self.side_by_side()?];
        while self.takes("+") {
            members.push(self.side_by_side()?);
        }
        Ok(alone_or(members, Joined::Series))
    }

    fn side_by_side(&mut self) -> Result<Joined> {
        let mut members = vec![self.one()?];
        while self.takes("||") {
            members.push(self.one()?);
        }
        Ok(alone_or(members, Joined::Parallel))
    }

    fn one(&mut self) -> Result<Joined> {
        if !self.takes("(") {
            return self.pickup();
        }
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(self.wrong(0, "these parentheses go too deep"));
        }
        let inner = self.sum()?;
        self.depth -= 1;
        if self.takes(")") {
            Ok(inner)
        } else {
            Err(self.wrong(0, "a parenthesis is not closed"))
        }
    }

    fn pickup(&mut self) -> Result<Joined> {
        let reversed = self.takes("-");
        let rest = self.rest();
        let is_name = |letter: char| letter.is_alphanumeric() || letter == '_' || letter == '-';
        let name = rest.split(|letter| !is_name(letter)).next().unwrap_or_default().to_owned();
        if name.is_empty() {
            return Err(self.wrong(0, "expected the name of a pickup"));
        }
        let Some(pickup) = self.names.iter().position(|(known, _)| *known == name) else {
            let known = self.names.iter().map(|(known, _)| known.as_str());
            let list: Vec<&str> = known.clone().collect();
            return Err(self
                .wrong(name.len(), &format!("no pickup is called `{name}`"))
                .label("expected the name of a pickup")
                .nearest(&name, known)
                .help(format!("pickups of this guitar: {}", list.join(", "))));
        };
        if self.uses.iter().any(|other| other.pickup == pickup) {
            return Err(self.wrong(name.len(), &format!("`{name}` stands twice in one position")));
        }
        self.at += name.len();
        let state = if self.takes(".") { Some(self.state(pickup)?) } else { None };
        self.uses.push(Use { pickup, state, reversed });
        Ok(Joined::One(self.uses.len() - 1))
    }

    fn state(&mut self, pickup: usize) -> Result<usize> {
        let rest = self.rest();
        let name = rest.split(|letter: char| !(letter.is_alphanumeric() || letter == '_')).next();
        let name = name.unwrap_or_default().to_owned();
        let (owner, states) = self
            .names
            .get(pickup)
            .map_or(("", [].as_slice()), |(owner, states)| (owner, states));
        match states.iter().position(|known| *known == name) {
            Some(state) => {
                self.at += name.len();
                Ok(state)
            }
            None => Err(self
                .wrong(name.len(), &format!("`{owner}` has no state `{name}`"))
                .nearest(&name, states.iter().map(String::as_str))
                .help(format!("states stand under [pickups.{owner}.states.NAME]"))),
        }
    }
}

fn alone_or(mut members: Vec<Joined>, many: fn(Vec<Joined>) -> Joined) -> Joined {
    match members.len() {
        1 => members.swap_remove(0),
        _ => many(members),
    }
}
