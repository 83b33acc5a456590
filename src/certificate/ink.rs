//! Pieces of a sheet onto a page of the PDF, and the reading order with them.
//!
//! Every piece is marked: as part of a node of the reading order, or as decoration.
//!
//! Invariant: each identifier krilla gives out gets exactly one parent.

use std::collections::BTreeMap;
use std::num::NonZeroU16;
use std::sync::Arc;

use krilla::color::rgb;
use krilla::geom::PathBuilder;
use krilla::geom::Point;
use krilla::geom::Rect;
use krilla::geom::Size;
use krilla::geom::Transform;
use krilla::num::NormalizedF32;
use krilla::paint::Fill;
use krilla::paint::FillRule;
use krilla::paint::Stroke;
use krilla::surface::Surface;
use krilla::tagging::Artifact;
use krilla::tagging::BBox;
use krilla::tagging::ContentTag;
use krilla::tagging::Identifier;
use krilla::tagging::ListNumbering;
use krilla::tagging::SpanTag;
use krilla::tagging::TableHeaderScope;
use krilla::tagging::Tag;
use krilla::tagging::TagGroup;
use krilla::tagging::TagKind;
use krilla::tagging::TagTree;
use krilla_svg::SurfaceExt;
use krilla_svg::SvgSettings;

use crate::certificate::letterhead::image;
use crate::certificate::pdf::PdfError;
use crate::certificate::sheet::Child;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::NodeId;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::Run;

/// Draws the pages of a sheet and remembers what was drawn where.
pub(super) struct Painter<'a> {
    sheet: &'a Sheet,
    reader: usvg::Options<'static>,
    identifiers: BTreeMap<(usize, usize), Identifier>,
}

impl<'a> Painter<'a> {
    /// Ready to draw; only the faces of the paper are known to pictures.
    pub(super) fn new(sheet: &'a Sheet) -> Self {
        Self {
            sheet,
            reader: reader(),
            identifiers: BTreeMap::new(),
        }
    }

    /// Draws one page.
    pub(super) fn paint(&mut self, surface: &mut Surface<'_>, page: usize) -> Result<(), PdfError> {
        for (place, drawn) in self.sheet.pages[page].iter().enumerate() {
            let tag = match (&drawn.piece, drawn.real) {
                (_, false) => ContentTag::Artifact(Artifact::default()),
                (Piece::Text(..), true) => ContentTag::Span(SpanTag::empty()),
                (_, true) => ContentTag::Other,
            };
            let identifier = surface.start_tagged(tag);
            if drawn.real {
                self.identifiers.insert((page, place), identifier);
            }
            let done = self.piece(surface, &drawn.piece);
            surface.end_tagged();
            done?;
        }
        Ok(())
    }

    fn piece(&self, surface: &mut Surface<'_>, piece: &Piece) -> Result<(), PdfError> {
        match piece {
            Piece::Text(run, at, turn) => self.text(surface, run, *at, *turn),
            Piece::Rule(from, to, width, grey) => {
                let mut path = PathBuilder::new();
                path.move_to(from.0, from.1);
                path.line_to(to.0, to.1);
                stroke(surface, path, *width, (*grey, *grey, *grey));
            }
            Piece::Frame(place, width) => {
                let mut path = PathBuilder::new();
                path.push_rect(rect(*place));
                stroke(surface, path, *width, (0x14, 0x14, 0x14));
            }
            Piece::Block(place, colour) => {
                let mut path = PathBuilder::new();
                path.push_rect(rect(*place));
                fill(surface, path, *colour);
            }
            Piece::Picture(svg, place) => self.picture(surface, svg, *place)?,
            Piece::Image(bytes, place) => {
                let image = image(bytes)?;
                if let Some(size) = Size::from_wh(place.width, place.height) {
                    surface.push_transform(&Transform::from_translate(place.left, place.top));
                    surface.draw_image(image, size);
                    surface.pop();
                }
            }
            Piece::Code(n_in_row, dark, place) => code(surface, *n_in_row, dark, *place),
        }
        Ok(())
    }

    fn text(&self, surface: &mut Surface<'_>, run: &Run, at: (f32, f32), turn: f32) {
        if run.glyphs.is_empty() {
            return;
        }
        surface.set_stroke(None);
        surface.set_fill(Some(paint(run.style.colour)));
        if turn != 0.0 {
            surface.push_transform(&Transform::from_rotate_at(turn, at.0, at.1));
        }
        surface.draw_glyphs(
            Point::from_xy(at.0, at.1),
            &run.glyphs,
            self.sheet.faces.font(run.style.face),
            &run.text,
            run.style.size,
            false,
        );
        if turn != 0.0 {
            surface.pop();
        }
    }

    fn picture(&self, surface: &mut Surface<'_>, svg: &str, place: Place) -> Result<(), PdfError> {
        self.sheet.faces.check_picture(svg)?;
        let tree = usvg::Tree::from_str(svg, &self.reader)
            .map_err(|source| PdfError::Picture { source })?;
        if let Some(size) = Size::from_wh(place.width, place.height) {
            surface.push_transform(&Transform::from_translate(place.left, place.top));
            surface.draw_svg(&tree, size, SvgSettings::default());
            surface.pop();
        }
        Ok(())
    }

    /// The reading order of what was drawn.
    pub(super) fn tag_tree(mut self) -> TagTree {
        let mut tree = TagTree::new();
        for node in &self.sheet.top {
            if let Some(group) = self.group(*node) {
                tree.push(group);
            }
        }
        tree
    }

    fn group(&mut self, node: NodeId) -> Option<TagGroup> {
        let sheet = self.sheet;
        let node = &sheet.nodes[node];
        let mut group = TagGroup::new(self.tag(&node.kind, &node.children));
        let mut is_empty = true;
        for child in &node.children {
            match child {
                Child::Node(id) => {
                    if let Some(inner) = self.group(*id) {
                        group.push(inner);
                        is_empty = false;
                    }
                }
                Child::Piece(page, place) => {
                    if let Some(identifier) = self.identifiers.remove(&(*page, *place)) {
                        group.push(identifier);
                        is_empty = false;
                    }
                }
            }
        }
        if is_empty {
            return None;
        }
        if node.kind == Kind::Item {
            // An item of a list holds its text in a body of its own.
            let mut item = TagGroup::new(Tag::LI);
            item.push(group);
            return Some(item);
        }
        Some(group)
    }

    fn tag(&self, kind: &Kind, children: &[Child]) -> TagKind {
        match kind {
            Kind::Heading(level, title) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                Tag::Hn(level, Some(title.clone())).into()
            }
            Kind::Paragraph => Tag::P.into(),
            Kind::List => Tag::L(ListNumbering::Disc).into(),
            Kind::Item => Tag::LBody.into(),
            Kind::Table => Tag::Table.into(),
            Kind::Row => Tag::TR.into(),
            Kind::ColumnName => Tag::TH(TableHeaderScope::Column).into(),
            Kind::Cell => Tag::TD.into(),
            Kind::Picture(words) => Tag::Figure(Some(words.clone()))
                .with_bbox(self.bounds(children))
                .into(),
        }
    }

    fn bounds(&self, children: &[Child]) -> Option<BBox> {
        children.iter().find_map(|child| match child {
            Child::Piece(page, place) => match &self.sheet.pages[*page][*place].piece {
                Piece::Picture(_, place) | Piece::Image(_, place) | Piece::Code(_, _, place) => {
                    Some(BBox::new(*page, rect(*place)))
                }
                _ => None,
            },
            Child::Node(_) => None,
        })
    }
}

/// Reads pictures; only the faces of the paper are known to it, and nothing is looked up.
pub(super) fn reader() -> usvg::Options<'static> {
    const FAMILY: &str = "Noto Sans";
    let mut reader = usvg::Options {
        font_family: FAMILY.into(),
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_string: Box::new(|_, _| None),
            ..usvg::ImageHrefResolver::default()
        },
        ..usvg::Options::default()
    };
    let fonts = reader.fontdb_mut();
    for face in [notosans::REGULAR_TTF, notosans::BOLD_TTF] {
        fonts.load_font_source(usvg::fontdb::Source::Binary(Arc::new(face)));
    }
    // Whatever face a drawing asks for.
    fonts.set_serif_family(FAMILY);
    fonts.set_sans_serif_family(FAMILY);
    fonts.set_monospace_family(FAMILY);
    fonts.set_cursive_family(FAMILY);
    fonts.set_fantasy_family(FAMILY);
    reader
}

/// All dark squares as one path, so that no hairlines show between them.
fn code(surface: &mut Surface<'_>, n_in_row: usize, dark: &[bool], place: Place) {
    let step = place.width / n_in_row.max(1) as f32;
    let mut path = PathBuilder::new();
    for (index, _) in dark.iter().enumerate().filter(|(_, dark)| **dark) {
        let (row, column) = (index / n_in_row, index % n_in_row);
        path.push_rect(rect(Place {
            left: place.left + column as f32 * step,
            top: place.top + row as f32 * step,
            width: step,
            height: step,
        }));
    }
    fill(surface, path, (0, 0, 0));
}

fn rect(place: Place) -> Rect {
    Rect::from_xywh(place.left, place.top, place.width, place.height)
        .expect("blocks have a width and a height")
}

fn paint(colour: (u8, u8, u8)) -> Fill {
    Fill {
        paint: rgb::Color::new(colour.0, colour.1, colour.2).into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    }
}

fn fill(surface: &mut Surface<'_>, path: PathBuilder, colour: (u8, u8, u8)) {
    if let Some(path) = path.finish() {
        surface.set_stroke(None);
        surface.set_fill(Some(paint(colour)));
        surface.draw_path(&path);
    }
}

fn stroke(surface: &mut Surface<'_>, path: PathBuilder, width: f32, colour: (u8, u8, u8)) {
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(Stroke {
            paint: rgb::Color::new(colour.0, colour.1, colour.2).into(),
            width,
            ..Stroke::default()
        }));
        surface.draw_path(&path);
    }
}
