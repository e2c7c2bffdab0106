//! Pictures: where they go, and when they are drawn.

use std::path::{Path, PathBuf};

use knobwright::circuit::Setting;
use knobwright::picture::{Picture, View};
use knobwright::report;
use knobwright::source::{Source, shown};
use knobwright::{Error, ErrorKind, Result};

use super::args::{CompareView, Format, OutputArgs, PlotArgs, RecommendView};
use super::outputs::{deliver, put};
use super::run::rotations;
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
pub struct Drawn(Option<(Option<PathBuf>, Vec<u8>)>);

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

    /// Draws a picture, unless none is wanted.
    pub fn draw(self, picture: impl FnOnce() -> Result<Picture>) -> Result<Drawn> {
        Ok(Drawn(match self {
            Self::None => None,
            Self::Text => Some((
                None,
                format!("\n{}", report::plot_text(&picture()?, coloured_output())).into_bytes(),
            )),
            Self::Svg(path) => Some((Some(path), report::plot_svg(&picture()?).into_bytes())),
            Self::Png(path) => Some((Some(path), report::plot_png(&picture()?)?)),
        }))
    }
}

impl Drawn {
    /// Puts a result and its picture where they go: a file that cannot be written stops the rest.
    pub fn deliver_with(self, result: &str, output: Option<&Path>) -> Result<()> {
        match self.0 {
            None => deliver(result, output),
            Some((Some(path), bytes)) => {
                put(&path, &bytes)?;
                deliver(result, output)
            }
            Some((None, bytes)) => {
                deliver(result, output)?;
                deliver(&String::from_utf8_lossy(&bytes), None)
            }
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
