//! Pages as a list of what is drawn, with what each piece means.
//!
//! The layout of front and back writes into it from top to bottom; a new page
//! starts where a block does not fit. Each piece belongs to a node of the reading
//! order (heading, paragraph, table …) or is mere decoration.
//!
//! Invariant: nothing is drawn below the foot of a page.

use crate::certificate::letterhead::PaperSize;
use crate::certificate::pdf::PdfError;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Run;
use crate::certificate::typeset::Style;
use crate::certificate::typeset::Type;

/// What a node of the reading order is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kind {
    /// A heading of a level from 1, with its text.
    Heading(u16, String),
    /// A paragraph.
    Paragraph,
    /// A list.
    List,
    /// One item of a list.
    Item,
    /// A table.
    Table,
    /// A row of a table.
    Row,
    /// A cell that names its column.
    ColumnName,
    /// A cell.
    Cell,
    /// A picture, in words.
    Picture(String),
}

/// A node of the reading order.
pub(super) type NodeId = usize;

/// One node: what it is, and what belongs to it in order.
#[derive(Debug, Clone)]
pub(super) struct Node {
    /// What it is.
    pub kind: Kind,
    /// Nodes and pieces, in reading order.
    pub children: Vec<Child>,
}

/// What belongs to a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Child {
    /// Another node.
    Node(NodeId),
    /// A piece: page and place in its list.
    Piece(usize, usize),
}

/// A rectangle in points from the top left: left, top, width, height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Left edge.
    pub left: f32,
    /// Upper edge.
    pub top: f32,
    /// Width.
    pub width: f32,
    /// Height.
    pub height: f32,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub(super) enum Piece {
    /// A line of text with its baseline's start, turned by degrees about it.
    Text(Run, (f32, f32), f32),
    /// A straight line with its width and grey.
    Rule((f32, f32), (f32, f32), f32, u8),
    /// The outline of a rectangle with the width of its line.
    Frame(Place, f32),
    /// A filled rectangle.
    Block(Place, (u8, u8, u8)),
    /// An SVG picture.
    Picture(String, Place),
    /// A PNG picture.
    Image(Vec<u8>, Place),
    /// Dark squares of a two-dimensional code: how many in a row, and which are dark.
    Code(usize, Vec<bool>, Place),
}

/// A piece with the node it belongs to, if it is more than decoration.
#[derive(Debug, Clone)]
pub(super) struct Drawn {
    /// What is drawn.
    pub piece: Piece,
    /// Whether it belongs to a node.
    pub real: bool,
}

/// One column of a table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Its name.
    pub name: &'static str,
    /// Its width in points.
    pub width: f32,
    /// Whether its cells are bold.
    pub bold: bool,
}

/// The pages while they are being laid out.
pub(super) struct Sheet {
    /// The faces.
    pub faces: Type,
    /// Width and height of a page in points.
    pub size: (f32, f32),
    margins: (f32, f32),
    /// Space at the left and at the right of the text.
    pub side: f32,
    /// Height of a line by size of its text.
    pub leading: f32,
    /// Space in each row of a table.
    pub row: f32,
    /// What is drawn on each page.
    pub pages: Vec<Vec<Drawn>>,
    /// All nodes; those of `top` in reading order are the document.
    pub nodes: Vec<Node>,
    /// Nodes without a parent, in reading order.
    pub top: Vec<NodeId>,
    /// Where the next block starts, in points from the top of the last page.
    pub y: f32,
}

const MARGIN_X: f32 = 46.0;
/// Above and below the text; Letter is shorter than A4 and gets less of it.
const MARGINS_A4: (f32, f32) = (32.0, 42.0);
const MARGINS_LETTER: (f32, f32) = (24.0, 32.0);
const CELL_PAD: f32 = 5.0;
/// Space in a row of a table.
pub(super) const ROW: f32 = 4.5;

impl Sheet {
    /// An empty first page.
    pub(super) fn new(paper: PaperSize) -> Self {
        let (margins, size) = match paper {
            PaperSize::A4 => (MARGINS_A4, (595.28, 841.89)),
            PaperSize::Letter => (MARGINS_LETTER, (612.0, 792.0)),
        };
        Self {
            margins,
            faces: Type::new(),
            side: MARGIN_X,
            leading: LEADING,
            row: ROW,
            size,
            pages: vec![Vec::new()],
            nodes: Vec::new(),
            top: Vec::new(),
            y: margins.0,
        }
    }

    /// An empty page of another size, with one margin all around.
    pub(super) fn of_size(size: (f32, f32), margin: f32) -> Self {
        Self {
            size,
            margins: (margin, margin),
            side: margin,
            y: margin,
            ..Self::new(PaperSize::A4)
        }
    }

    /// Left edge of the text.
    pub(super) fn left(&self) -> f32 {
        self.side
    }

    /// Width of the text.
    pub(super) fn width(&self) -> f32 {
        self.size.0 - 2.0 * self.side
    }

    /// Right edge of the text.
    pub(super) fn right(&self) -> f32 {
        self.size.0 - self.side
    }

    /// Lower edge of the text.
    pub(super) fn foot(&self) -> f32 {
        self.size.1 - self.margins.1
    }

    /// Starts a page.
    pub(super) fn turn(&mut self) {
        self.pages.push(Vec::new());
        self.y = self.margins.0;
    }

    /// Starts a page if a block of this height does not fit on this one.
    pub(super) fn ensure(&mut self, height: f32) {
        if self.y + height > self.foot() && self.y > self.margins.0 + 1.0 {
            self.turn();
        }
    }

    /// A node under a parent, or at the top.
    pub(super) fn node(&mut self, kind: Kind, parent: Option<NodeId>) -> NodeId {
        let id = self.nodes.len();
        self.nodes.push(Node {
            kind,
            children: Vec::new(),
        });
        match parent {
            Some(parent) => self.nodes[parent].children.push(Child::Node(id)),
            None => self.top.push(id),
        }
        id
    }

    /// Draws on the last page.
    pub(super) fn draw(&mut self, piece: Piece, node: Option<NodeId>) {
        let page = self.pages.len() - 1;
        if let Some(node) = node {
            let place = self.pages[page].len();
            self.nodes[node].children.push(Child::Piece(page, place));
        }
        self.pages[page].push(Drawn {
            piece,
            real: node.is_some(),
        });
    }

    /// Tells the nodes that this many pieces were put before all others of each page.
    pub(super) fn shift_places(&mut self, n_pieces: usize) {
        for child in self.nodes.iter_mut().flat_map(|n| &mut n.children) {
            if let Child::Piece(_, place) = child {
                *place += n_pieces;
            }
        }
    }

    /// A horizontal hairline over the text's width at `y`.
    pub(super) fn rule(&mut self, width: f32, grey: u8) {
        let (left, right, y) = (self.left(), self.right(), self.y);
        self.draw(Piece::Rule((left, y), (right, y), width, grey), None);
    }

    /// One line at a place, its first baseline `style.size` below `top`; gives its width.
    pub(super) fn line(
        &mut self,
        text: &str,
        style: Style,
        at: (f32, f32),
        node: Option<NodeId>,
    ) -> Result<f32, PdfError> {
        let run = self.faces.run(text, style)?;
        let width = run.width;
        let baseline = (at.0, at.1 + style.size);
        self.draw(Piece::Text(run, baseline, 0.0), node);
        Ok(width)
    }

    /// One line that ends at `at.0`.
    pub(super) fn line_ending(
        &mut self,
        text: &str,
        style: Style,
        at: (f32, f32),
        node: Option<NodeId>,
    ) -> Result<f32, PdfError> {
        let width = self.faces.run(text, style)?.width;
        self.line(text, style, (at.0 - width, at.1), node)
    }

    /// Height of a wrapped text.
    pub(super) fn height(&self, text: &str, style: Style, width: f32) -> Result<f32, PdfError> {
        let n_lines = self.faces.wrap(text, style, width)?.len();
        Ok(n_lines as f32 * style.size * self.leading)
    }

    /// A wrapped text at a place; gives its height.
    pub(super) fn text(
        &mut self,
        text: &str,
        style: Style,
        at: (f32, f32),
        width: f32,
        node: NodeId,
    ) -> Result<f32, PdfError> {
        let lines = self.faces.wrap(text, style, width)?;
        let leading = style.size * self.leading;
        let n_lines = lines.len();
        for (index, run) in lines.into_iter().enumerate() {
            let baseline = (at.0, at.1 + style.size + index as f32 * leading);
            self.draw(Piece::Text(run, baseline, 0.0), Some(node));
        }
        Ok(n_lines as f32 * leading)
    }

    /// A heading over a block of at least `follows` points, on the same page.
    pub(super) fn heading(&mut self, text: &str, follows: f32) -> Result<(), PdfError> {
        let style = Style::bold(10.5);
        self.ensure(16.0 + follows);
        let node = self.node(Kind::Heading(2, text.into()), None);
        let at = (self.left(), self.y);
        self.line(text, style, at, Some(node))?;
        self.y += 16.0;
        Ok(())
    }

    /// A list with dots, each item wrapped, at a place; gives its height.
    pub(super) fn list(
        &mut self,
        items: &[String],
        style: Style,
        at: (f32, f32),
        width: f32,
    ) -> Result<f32, PdfError> {
        let list = self.node(Kind::List, None);
        let mut y = at.1;
        for item in items {
            let node = self.node(Kind::Item, Some(list));
            self.line("•", style, (at.0 + 1.0, y), None)?;
            y += self.text(item, style, (at.0 + 9.0, y), width - 9.0, node)? + 1.0;
        }
        Ok(y - at.1)
    }

    /// Height of such a list.
    pub(super) fn list_height(
        &self,
        items: &[String],
        style: Style,
        width: f32,
    ) -> Result<f32, PdfError> {
        let mut height = 0.0;
        for item in items {
            height += self.height(item, style, width - 9.0)? + 1.0;
        }
        Ok(height)
    }

    /// A list over the text's width that may go over pages.
    pub(super) fn flowing_list(&mut self, items: &[String], style: Style) -> Result<(), PdfError> {
        let list = self.node(Kind::List, None);
        let (left, width) = (self.left(), self.width());
        for item in items {
            self.ensure(self.height(item, style, width - 9.0)?);
            let node = self.node(Kind::Item, Some(list));
            self.line("•", style, (left + 1.0, self.y), None)?;
            let at = (left + 9.0, self.y);
            self.y += self.text(item, style, at, width - 9.0, node)? + 1.5;
        }
        Ok(())
    }

    /// A table over the text's width that may go over pages, its head on each.
    pub(super) fn table(
        &mut self,
        columns: &[Column],
        rows: &[Vec<String>],
        size: f32,
    ) -> Result<(), PdfError> {
        let table = self.node(Kind::Table, None);
        self.table_head(columns, size, Some(table))?;
        for row in rows {
            let mut height = 0.0f32;
            for (column, cell) in columns.iter().zip(row) {
                let style = cell_style(column, size);
                height = height.max(self.height(cell, style, column.width - CELL_PAD)?);
            }
            let page = self.pages.len();
            self.ensure(height + 5.0);
            if self.pages.len() > page {
                self.table_head(columns, size, None)?;
            }
            let node = self.node(Kind::Row, Some(table));
            let mut x = self.left();
            for (column, cell) in columns.iter().zip(row) {
                let style = cell_style(column, size);
                let cell_node = self.node(Kind::Cell, Some(node));
                let at = (x, self.y + 2.0);
                self.text(cell, style, at, column.width - CELL_PAD, cell_node)?;
                x += column.width;
            }
            self.y += height + self.row;
            self.rule(0.5, 0xB0);
        }
        Ok(())
    }

    fn table_head(
        &mut self,
        columns: &[Column],
        size: f32,
        table: Option<NodeId>,
    ) -> Result<(), PdfError> {
        let style = Style::plain(size - 0.5).in_colour(crate::certificate::typeset::GREY);
        let height = style.size * LEADING;
        self.ensure(3.0 * height);
        let row = table.map(|table| self.node(Kind::Row, Some(table)));
        let mut x = self.left();
        for column in columns {
            let cell = row.map(|row| self.node(Kind::ColumnName, Some(row)));
            self.line(column.name, style, (x, self.y), cell)?;
            x += column.width;
        }
        self.y += height + 2.0;
        self.rule(1.0, 0x14);
        Ok(())
    }

    /// Height of such pairs whose contents are `width` wide.
    pub(super) fn pairs_height(
        &self,
        pairs: &[(String, String)],
        size: f32,
        width: f32,
    ) -> Result<f32, PdfError> {
        let mut height = 0.0;
        for (_, text) in pairs {
            height += self.height(text, Style::plain(size), width)? + 1.0;
        }
        Ok(height)
    }

    /// Names at the left, their contents beside them, in a column; gives the height.
    pub(super) fn pairs(
        &mut self,
        pairs: &[(String, String)],
        size: f32,
        at: (f32, f32),
        widths: (f32, f32),
    ) -> Result<f32, PdfError> {
        let name_style = Style::plain(size).in_colour(crate::certificate::typeset::GREY);
        let mut y = at.1;
        for (name, text) in pairs {
            let node = self.node(Kind::Paragraph, None);
            self.line(&format!("{name} "), name_style, (at.0, y), Some(node))?;
            let text_at = (at.0 + widths.0, y);
            y += self.text(text, Style::plain(size), text_at, widths.1, node)? + 1.0;
        }
        Ok(y - at.1)
    }
}

fn cell_style(column: &Column, size: f32) -> Style {
    if column.bold {
        Style::bold(size)
    } else {
        Style::plain(size)
    }
}
