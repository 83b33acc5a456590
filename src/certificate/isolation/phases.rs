//! The phases side by side: the circuit of each on top of its column of the table.

use crate::certificate::isolation::compose::IsolationPaper;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::layout::Density;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::words_of;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::NodeId;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;
use crate::chart::circuit_drawing;
use crate::chart::circuit_size;

/// Space between two columns.
const GAP: f32 = 9.0;

/// Where the columns stand.
#[derive(Debug, Clone, Copy)]
struct Columns {
    left: f32,
    width: f32,
}

impl Columns {
    fn at(self, index: usize) -> f32 {
        self.left + index as f32 * (self.width + GAP)
    }
}

/// Draws circuits and table.
pub(super) fn phases(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    facts: &IsolationFacts,
    density: Density,
) -> Result<(), PdfError> {
    if paper.phases.is_empty() {
        return Ok(());
    }
    let mut names = 0.0f32;
    for (name, _) in &paper.rows {
        names = names.max(sheet.faces.run(name, Style::plain(density.text))?.width);
    }
    let names = names + 9.0;
    let n = paper.phases.len() as f32;
    let columns = Columns {
        left: sheet.left() + names,
        width: (sheet.width() - names - (n - 1.0) * GAP) / n,
    };
    let table = sheet.node(Kind::Table, None);
    head(sheet, paper, columns, table)?;
    circuits(sheet, facts, columns, density, table)?;
    for (index, (name, cells)) in paper.rows.iter().enumerate() {
        if index > 0 {
            sheet.rule(0.5, 0xB0);
        }
        row(sheet, (name, cells), columns, density, table)?;
    }
    sheet.rule(1.0, 0x14);
    sheet.y += 3.0;
    Ok(())
}

fn head(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    columns: Columns,
    table: NodeId,
) -> Result<(), PdfError> {
    let row = sheet.node(Kind::Row, Some(table));
    let (left, y) = (sheet.left(), sheet.y);
    let cell = sheet.node(Kind::ColumnName, Some(row));
    let note = Style::plain(8.0).in_colour(GREY);
    sheet.line("phase", note, (left, y + 2.5), Some(cell))?;
    for (index, name) in paper.phases.iter().enumerate() {
        let cell = sheet.node(Kind::ColumnName, Some(row));
        sheet.line(name, Style::bold(10.5), (columns.at(index), y), Some(cell))?;
    }
    sheet.y += 14.5;
    sheet.rule(1.0, 0x14);
    sheet.y += 3.0;
    Ok(())
}

/// The circuits, all of one scale, their tubes at one height.
fn circuits(
    sheet: &mut Sheet,
    facts: &IsolationFacts,
    columns: Columns,
    density: Density,
    table: NodeId,
) -> Result<(), PdfError> {
    let width = density.circuit.min(columns.width);
    let row = sheet.node(Kind::Row, Some(table));
    let name = Style::plain(density.text).in_colour(GREY);
    let (at, cell) = (
        (sheet.left(), sheet.y + 2.0),
        sheet.node(Kind::Cell, Some(row)),
    );
    sheet.line("circuit", name, at, Some(cell))?;
    let mut tallest = 0.0f32;
    for (index, phase) in facts.phases.iter().enumerate() {
        let size = circuit_size(&phase.circuit, f64::from(width));
        let svg = circuit_drawing(&phase.circuit, facts.units, size);
        let cell = sheet.node(Kind::Cell, Some(row));
        let picture = sheet.node(Kind::Picture(words_of(&svg)), Some(cell));
        let place = Place {
            left: columns.at(index) - 2.0,
            top: sheet.y,
            width,
            height: size.height_pt as f32,
        };
        sheet.draw(Piece::Picture(svg, place), Some(picture));
        tallest = tallest.max(place.height);
    }
    sheet.y += tallest + 2.0;
    sheet.rule(0.5, 0xB0);
    Ok(())
}

fn row(
    sheet: &mut Sheet,
    (name, cells): (&str, &[String]),
    columns: Columns,
    density: Density,
    table: NodeId,
) -> Result<(), PdfError> {
    let style = Style::plain(density.text);
    let mut height = style.size * LEADING;
    for cell in cells {
        height = height.max(sheet.height(cell, style, columns.width)?);
    }
    sheet.ensure(height + 3.0);
    let row = sheet.node(Kind::Row, Some(table));
    let y = sheet.y + 0.8;
    let cell_node = sheet.node(Kind::Cell, Some(row));
    let at = (sheet.left(), y);
    sheet.line(name, style.in_colour(GREY), at, Some(cell_node))?;
    for (index, cell) in cells.iter().enumerate() {
        let node = sheet.node(Kind::Cell, Some(row));
        sheet.text(cell, style, (columns.at(index), y), columns.width, node)?;
    }
    sheet.y += height + 2.2;
    Ok(())
}
