//! A document as part of a page.

use maud::{Markup, PreEscaped, html};

use super::wrap::bound;
use super::{Block, Document, Line, Span, Table};
use halfturn_engine::verdict::TargetState;

/// A picture as SVG markup.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Drawn {
    /// The form for a page.
    pub(crate) wide: String,
    /// The form for a narrow screen; `None` if it has none.
    pub(crate) narrow: Option<String>,
}

/// The pictures of a page by name. A missing picture leaves out its figure.
pub(crate) type Pictures = std::collections::BTreeMap<&'static str, Drawn>;

/// Width of a picture that states none \[px\].
const WIDE_PX: f64 = 960.0;

impl Document {
    /// The blocks as markup.
    #[must_use]
    pub(crate) fn html(&self, pictures: &Pictures) -> Markup {
        blocks(&self.0, pictures)
    }
}

fn blocks(all: &[Block], pictures: &Pictures) -> Markup {
    html! { @for block in all { (one(block, pictures)) } }
}

fn one(block: &Block, pictures: &Pictures) -> Markup {
    html! {
        @match block {
            Block::Heading(id, title) => { h2 id=(id) { (title) } }
            Block::Para(line) => { p { (inner(line)) } }
            Block::Lead(line) => { p.lead { (inner(line)) } }
            Block::Note(line) => { p.soft { (inner(line)) } }
            Block::Items(lines) => { ul.states[of_states(lines)] { @for line in lines { li { (inner(line)) } } } }
            Block::Facts(facts) => {
                dl.facts { @for (term, line) in facts { dt { (term) } dd { (inner(line)) } } }
            }
            Block::Table(table) => { (self::table(table)) }
            Block::Code(code) => { pre.snippet.copy { code { (code) } } }
            Block::Figure(name, caption) => {
                @if let Some(picture) = pictures.get(name) { (figure(picture, caption)) }
            }
            Block::Caution(title, lines) => {
                aside.cautions id="cautions" {
                    h2 { (title) }
                    ul { @for line in lines { li { (inner(&line.capital())) } } }
                }
            }
            Block::Folded(fold) if fold.open => {
                section id=(fold.id) { h2 { (fold.title) } (blocks(&fold.blocks, pictures)) }
            }
            Block::Folded(fold) => {
                details id=(fold.id) {
                    summary { h2 { (fold.title) } }
                    (blocks(&fold.blocks, pictures))
                }
            }
            Block::OnPage(markup) => { (PreEscaped(markup)) }
        }
    }
}

/// Whether every point begins with the shape of a state, which replaces the bullet.
fn of_states(lines: &[Line]) -> bool {
    lines
        .iter()
        .all(|line| matches!(line.0.first(), Some(Span::Shape(_))))
}

/// The pieces of a line as markup.
fn inner(line: &Line) -> Markup {
    html! {
        @for span in &line.0 {
            @match span {
                Span::Text(text) => { (bound(text)) }
                Span::Strong(text) => { strong { (text) } }
                Span::Name(name) => { bdi.name { (name) } }
                Span::Code(text) => { code { (text) } }
                Span::Shape(state) => { (mark(*state, "")) }
                Span::State(state) => { (mark(*state, &state.to_string())) }
                Span::Range(low, high) => { span.range { (low) " to " (high) } }
            }
        }
    }
}

/// The class of a state in `palette.css`, and the shape that stands for it everywhere.
pub(super) fn shape(state: TargetState) -> (&'static str, &'static str) {
    match state {
        TargetState::TurnsThroughKeepOut => ("keep-out", "⊘"),
        TargetState::WindsTooFar => ("winding", "◎"),
        TargetState::OutOfReach => ("out-of-reach", "✕"),
        TargetState::Hunts => ("hunts", "◆"),
        TargetState::DoesNotSettle => ("does-not-settle", "■"),
        TargetState::NoSolution => ("no-solution", "◇"),
        TargetState::AtRisk => ("at-risk", "▲"),
        TargetState::Safe => ("safe", "●"),
    }
}

fn mark(state: TargetState, words: &str) -> Markup {
    let (class, shape) = shape(state);
    html! {
        span.verdict.(class) {
            span.shape aria-hidden="true" { (shape) }
            @if !words.is_empty() { " " (words) }
        }
    }
}

fn table(table: &Table) -> Markup {
    let columns = &table.columns;
    let grouped = columns.iter().any(|c| !c.group.is_empty());
    let label = if table.title.is_empty() {
        "Table"
    } else {
        &table.title
    };
    // Neighbouring columns of one group, with their number.
    let mut groups: Vec<(&str, usize)> = Vec::new();
    for column in columns {
        match groups.last_mut() {
            Some((group, n)) if *group == column.group => *n += 1,
            _ => groups.push((column.group, 1)),
        }
    }
    html! {
        div.scroll role="region" aria-label=(label) tabindex="0" {
            table {
                @if !table.title.is_empty() { caption { span { (table.title) } } }
                thead {
                    @if grouped {
                        tr.groups {
                            @for (group, n) in groups { th colspan=(n) scope="colgroup" { (group) } }
                        }
                    }
                    tr {
                        @for column in columns {
                            th.text[column.words] scope="col" {
                                (column.name)
                                @if !column.unit.is_empty() { small { (column.unit) } }
                            }
                        }
                    }
                }
                tbody {
                    @for row in &table.rows {
                        tr {
                            @for (i, (cell, column)) in row.iter().zip(columns).enumerate() {
                                @if i == 0 {
                                    th scope="row" { (inner(cell)) }
                                } @else {
                                    td.text[column.words] { (inner(cell)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A picture with its caption. A narrow screen shows the narrow form, if it has one.
fn figure(picture: &Drawn, caption: &str) -> Markup {
    let form = |svg: &str| html! { (PreEscaped(embedded(svg))) };
    html! {
        figure {
            div.picture.wide[picture.narrow.is_some()] style={ "--wide: " (wide_px(&picture.wide)) "px" } { (form(&picture.wide)) }
            @if let Some(narrow) = &picture.narrow {
                div.picture.narrow style={ "--wide: " (wide_px(narrow)) "px" } { (form(narrow)) }
            }
            figcaption { (bound(caption)) }
        }
    }
}

/// The SVG element, without the header of a separate file.
fn embedded(svg: &str) -> &str {
    svg.find("<svg").map_or(svg, |start| &svg[start..])
}

/// The natural width of a picture: the third number of its `viewBox`.
fn wide_px(svg: &str) -> f64 {
    svg.split_once("viewBox=\"")
        .and_then(|(_, rest)| rest.split_once('"'))
        .and_then(|(numbers, _)| numbers.split_whitespace().nth(2)?.parse().ok())
        .filter(|wide: &f64| wide.is_finite() && *wide > 0.0)
        .unwrap_or(WIDE_PX)
}
