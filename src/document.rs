//! TOML with places: every key is asked for by name, and what nobody asked for is an error with its nearest word.

use std::borrow::Cow;
use std::cell::RefCell;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::error::{Error, ErrorKind, Result, nearest};
use crate::limits;
use crate::source::{Passage, Source};

/// A parsed file.
pub(crate) struct Document<'s> {
    source: &'s Source,
    root: Spanned<DeTable<'s>>,
}

impl<'s> Document<'s> {
    /// Parses the text.
    ///
    /// # Errors
    /// Where the text is no TOML, or holds what does not show.
    pub(crate) fn parse(source: &'s Source) -> Result<Self> {
        let root = DeTable::parse(source.text()).map_err(|error| {
            let whole = 0..source.text().len().min(1);
            let span = error.span().unwrap_or(whole);
            let message = error.message().lines().next().unwrap_or("not TOML");
            Error::at(&source.passage_at(span), ErrorKind::Syntax, message)
                .help("the file is TOML: lines of key = value under [table] headings, texts in quotes")
        })?;
        limits::printable(source)?;
        Ok(Self { source, root })
    }

    /// The table of the whole file; `name` is how errors call it.
    pub(crate) fn root(&self, name: &'static str) -> Section<'_> {
        Section {
            source: self.source,
            table: self.root.get_ref(),
            span: 0..0,
            name,
            asked: RefCell::default(),
        }
    }
}

/// A text as a TOML value.
pub(crate) fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// One table of a file.
pub(crate) struct Section<'d> {
    source: &'d Source,
    table: &'d DeTable<'d>,
    span: Range<usize>,
    name: &'static str,
    asked: RefCell<Vec<Cow<'static, str>>>,
}

/// What is wrong with a file, gathered while the rest of it is read.
#[derive(Default)]
pub(crate) struct Mistakes(pub(crate) Vec<Error>);

impl Mistakes {
    /// What was read, or nothing and one mistake more.
    pub(crate) fn keep<T>(&mut self, read: Result<T>) -> Option<T> {
        read.map_err(|error| self.0.push(error)).ok()
    }
}

impl<'d> Section<'d> {
    /// The value of a key, if the key is there.
    pub(crate) fn get(&self, key: &'static str) -> Option<Value<'d>> {
        self.asked.borrow_mut().push(Cow::Borrowed(key));
        let (written, value) = self.table.get_key_value(key)?;
        Some(Value {
            source: self.source,
            key,
            key_span: written.span(),
            value,
        })
    }

    /// The value of a key that another part of the file names, if the key is there.
    pub(crate) fn get_named(&self, key: &str) -> Option<Value<'d>> {
        self.asked.borrow_mut().push(Cow::Owned(key.to_owned()));
        let named = self.entries().into_iter().find(|(written, _)| written.text() == key);
        named.map(|(_, value)| value)
    }

    /// The value of a key that must be there. When it is not, a key near to it is taken for a slip of the pen.
    pub(crate) fn need(&self, key: &'static str) -> Result<Value<'d>> {
        self.get(key).ok_or_else(|| {
            let slip = self.table.keys().find(|written| nearest(written.get_ref(), [key]).is_some());
            if let Some(written) = slip {
                return Error::at(
                    &self.source.passage_at(written.span()),
                    ErrorKind::Unknown,
                    format!("unknown key `{}`", written.get_ref()),
                )
                .label(format!("not a key of {}", self.name))
                .nearest(written.get_ref(), [key]);
            }
            Error::at(
                &self.passage(),
                ErrorKind::Missing,
                format!("`{key}` is missing from {}", self.name),
            )
            .label(format!("{} needs `{key}`", self.name))
        })
    }

    /// Every key with its value in the order of the file, for tables whose keys are names.
    pub(crate) fn entries(&self) -> Vec<(Passage<'d>, Value<'d>)> {
        let mut written: Vec<_> = self.table.iter().collect();
        written.sort_by_key(|(key, _)| key.span().start);
        written
            .into_iter()
            .map(|(key, value)| {
                let passage = Passage::decoded(self.source, key.get_ref(), key.span());
                let value = Value {
                    source: self.source,
                    key: "",
                    key_span: key.span(),
                    value,
                };
                (passage, value)
            })
            .collect()
    }

    /// Refuses every key that was not asked for, all in one error.
    pub(crate) fn finish(&self) -> Result<()> {
        let asked = self.asked.borrow();
        let unknown = self.table.keys().filter(|key| asked.iter().all(|known| known != key.get_ref()));
        let refused = unknown.map(|key| {
            let passage = self.source.passage_at(key.span());
            let error = Error::at(&passage, ErrorKind::Unknown, format!("unknown key `{}`", key.get_ref()))
                .label(format!("not a key of {}", self.name))
                .nearest(key.get_ref(), asked.iter().map(AsRef::as_ref));
            error.help(format!("keys of {}: {}", self.name, asked.join(", ")))
        });
        Error::all(refused).map_or(Ok(()), Err)
    }

    /// Where the table stands.
    pub(crate) fn passage(&self) -> Passage<'d> {
        self.source.passage_at(self.span.clone())
    }
}

/// One value of a table.
#[derive(Clone)]
pub(crate) struct Value<'d> {
    source: &'d Source,
    key: &'static str,
    key_span: Range<usize>,
    value: &'d Spanned<DeValue<'d>>,
}

impl<'d> Value<'d> {
    /// Where the value stands.
    pub(crate) fn passage(&self) -> Passage<'d> {
        self.source.passage_at(self.value.span())
    }

    /// Where its key stands.
    pub(crate) fn key_passage(&self) -> Passage<'d> {
        self.source.passage_at(self.key_span.clone())
    }

    /// The TOML value itself, to tell types apart.
    pub(crate) fn raw(&self) -> &'d DeValue<'d> {
        self.value.get_ref()
    }

    /// Whether it is a table.
    pub(crate) fn is_table(&self) -> bool {
        matches!(self.raw(), DeValue::Table(_))
    }

    /// A text.
    pub(crate) fn text(&self) -> Result<Passage<'d>> {
        match self.raw() {
            DeValue::String(text) => {
                let span = self.value.span();
                let inner = span.start + 1..span.start + 1 + text.len();
                let exact = Passage::decoded(self.source, text, inner);
                if self.source.text().get(exact.place().span) == Some(text.as_ref()) {
                    Ok(exact)
                } else {
                    Ok(Passage::decoded(self.source, text, span))
                }
            }
            _ => Err(self.wrong_type("a text in quotes")),
        }
    }

    /// A name; see [`limits::name`].
    pub(crate) fn name(&self, what: &str, example: &str) -> Result<String> {
        limits::name(&self.text()?, what, example)
    }

    /// A number.
    pub(crate) fn number(&self) -> Result<f64> {
        let written = match self.raw() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            DeValue::Float(float) => float.as_str(),
            _ => return Err(self.wrong_type("a number")),
        };
        written
            .replace('_', "")
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite())
            .ok_or_else(|| self.wrong_type("a finite number"))
    }

    /// True or false.
    pub(crate) fn boolean(&self) -> Result<bool> {
        match self.raw() {
            DeValue::Boolean(value) => Ok(*value),
            _ => Err(self.wrong_type("true or false")),
        }
    }

    /// A table; `name` is how errors call it.
    pub(crate) fn section(&self, name: &'static str) -> Result<Section<'d>> {
        match self.raw() {
            DeValue::Table(table) => Ok(Section {
                source: self.source,
                table,
                span: self.heading(),
                name,
                asked: RefCell::default(),
            }),
            _ => Err(self.wrong_type("a table")),
        }
    }

    /// The items of an array.
    pub(crate) fn items(&self) -> Result<Vec<Self>> {
        match self.raw() {
            DeValue::Array(items) => Ok(items
                .iter()
                .map(|value| Self {
                    source: self.source,
                    key: self.key,
                    key_span: value.span(),
                    value,
                })
                .collect()),
            _ => Err(self.wrong_type("an array")),
        }
    }

    /// The error for a value of another type than the one wanted.
    pub(crate) fn wrong_type(&self, wanted: &str) -> Error {
        let found = match self.raw() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "an array",
            DeValue::Table(_) => "a table",
        };
        let message = match self.key {
            "" => format!("expected {wanted}, found {found}"),
            key => format!("`{key}` must be {wanted}, found {found}"),
        };
        Error::at(&self.passage(), ErrorKind::Unit, message).label(format!("expected {wanted}"))
    }

    /// A table's heading when the table has one of its own line, else the whole table's first line.
    fn heading(&self) -> Range<usize> {
        let span = self.value.span();
        let text = self.source.text().get(span.clone()).unwrap_or_default();
        let first_line = text.lines().next().unwrap_or_default().len();
        span.start..span.start + first_line
    }
}
