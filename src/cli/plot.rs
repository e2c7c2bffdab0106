//! Pictures: where they go, and when they are drawn.

use std::path::{Path, PathBuf};

use knobwright::circuit::Setting;
use knobwright::picture::{Picture, View};
use knobwright::report;
use knobwright::source::{Source, shown};
use knobwright::{Error, ErrorKind, Result};

use super::args::{CompareView, Format, OutputArgs, PlotArgs, RecommendView};
use super::beside::not_made;
use super::outputs::{deliver, put};
use super::run::{rotations, tell};
use super::terminal::coloured_output;

/// What stands for a picture below the result.
const TEXT: &str = "-";

/// The file a picture goes to.
pub fn picture_file(args: &PlotArgs) -> Option<&Path> {
    args.plot.as_deref().filter(|path| *path != Path::new(TEXT))
}

/// Where a picture goes.
pub enum Plot {
    /// Nowhere.
    None,
    /// Below the result, as text.
    Text,
    /// Into a file, as SVG.
    Svg(PathBuf),
    /// Into a file, as PNG.
    Png(PathBuf),
}

/// A picture drawn, not yet put where it goes.
pub enum Drawn {
    /// None: not wanted, or it cannot be drawn and that has been said.
    Nothing,
    /// Goes below the result: the picture, or why there is none.
    Below(String),
    /// Goes into a file.
    File(PathBuf, Vec<u8>),
}

impl Plot {
    /// Reads where a picture goes, before any work is done.
    pub fn read(args: &PlotArgs, output: &OutputArgs) -> Result<Self> {
        let Some(path) = &args.plot else { return Ok(Self::None) };
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            _ if path.as_os_str() == TEXT && output.format != Format::Table && output.output.is_none() => {
                let message = "--plot - would mix a picture into the result";
                Err(Error::new(ErrorKind::Conflict, message)
                    .help("write the result to a file with --output, or the picture: --plot picture.svg"))
            }
            _ if path.as_os_str() == TEXT => Ok(Self::Text),
            Some("svg") => Ok(Self::Svg(path.clone())),
            Some("png") => Ok(Self::Png(path.clone())),
            _ => {
                let name = shown(path);
                let passage = Source::inline("--plot", name.as_str());
                Err(Error::at(
                    &passage.passage(),
                    ErrorKind::Unknown,
                    format!("no picture can be written as `{name}`"),
                )
                .label("expected a file ending in .svg or .png, or `-`"))
            }
        }
    }

    /// Whether a picture is wanted.
    pub fn is_wanted(&self) -> bool {
        !matches!(self, Self::None)
    }

    /// Draws a picture, unless none is wanted. One that cannot be drawn is said to be none, and the answer goes on.
    pub fn draw(self, picture: impl FnOnce() -> Result<Picture>) -> Drawn {
        let is_text = matches!(self, Self::Text);
        self.drawn(picture).unwrap_or_else(|error| {
            let why = not_made("picture", &error);
            tell(&why);
            if is_text {
                Drawn::Below(format!("\n{why}\n"))
            } else {
                Drawn::Nothing
            }
        })
    }

    fn drawn(self, picture: impl FnOnce() -> Result<Picture>) -> Result<Drawn> {
        Ok(match self {
            Self::None => Drawn::Nothing,
            Self::Text => Drawn::Below(format!("\n{}", report::plot_text(&picture()?, coloured_output()))),
            Self::Svg(path) => Drawn::File(path, report::plot_svg(&picture()?).into_bytes()),
            Self::Png(path) => Drawn::File(path, report::plot_png(&picture()?)?),
        })
    }
}

impl Drawn {
    /// Puts a result and its picture where they go: the result first, whatever becomes of the picture's file.
    pub fn deliver_with(self, result: &str, output: Option<&Path>) -> Result<()> {
        deliver(result, output)?;
        self.deliver()
    }

    /// Puts the picture where it goes, below or beside the result that is there already.
    pub fn deliver(self) -> Result<()> {
        match self {
            Self::Nothing => Ok(()),
            Self::Below(text) => deliver(&text, None),
            Self::File(path, bytes) => put(&path, &bytes),
        }
    }
}

/// A knob position: the volume, and the tone unless it is at full.
pub fn position(text: Option<&String>) -> Result<Option<Setting>> {
    let Some(text) = text else { return Ok(None) };
    match rotations("--plot-at", text)?.as_slice() {
        [volume] => Ok(Some(Setting {
            volume: *volume,
            tone: 1.0,
        })),
        [volume, tone] => Ok(Some(Setting {
            volume: *volume,
            tone: *tone,
        })),
        _ => {
            let source = Source::inline("--plot-at", text.as_str());
            Err(Error::at(&source.passage(), ErrorKind::Range, "one knob position has one volume and one tone").label("too many"))
        }
    }
}

/// The names of two parts.
pub fn two_parts(text: Option<&String>) -> Result<Option<[String; 2]>> {
    let Some(text) = text else { return Ok(None) };
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    match parts.as_slice() {
        [one, other] => Ok(Some([*one, *other].map(str::to_owned))),
        _ => {
            let source = Source::inline("--plot-values", text.as_str());
            Err(Error::at(&source.passage(), ErrorKind::Syntax, "a landscape has two values")
                .label("expected two parts")
                .help("for example: bleed.R,bleed.C"))
        }
    }
}

impl From<RecommendView> for View {
    fn from(view: RecommendView) -> Self {
        match view {
            RecommendView::Knobs => Self::Knobs,
            RecommendView::Builds => Self::Builds,
            RecommendView::Deviation => Self::Deviation,
            RecommendView::Landscape => Self::Landscape,
        }
    }
}

impl From<CompareView> for View {
    fn from(view: CompareView) -> Self {
        match view {
            CompareView::Builds => Self::Builds,
            CompareView::Deviation => Self::Deviation,
        }
    }
}
