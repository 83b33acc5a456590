//! The ways that oil can take out of one cylinder, each with what came out for it.
//!
//! A cylinder under its load; below each port all that was on it, one after the other; at
//! each way an arrow. A leak is heavy and the heavier the larger it is, what does not leak
//! ends at a bar, what cannot be told is dashed, what was not tested is dotted: it reads
//! without colour. Each arrow carries its words.
//!
//! Leaves standing and figures to whoever asks.

mod flow;
mod mark;

pub use mark::FlowWeight;
pub use mark::WayMark;
pub use mark::ways_height_pt;

use self::flow::flow;
use self::mark::LEADING;
use self::mark::TEXT_PT;
use self::mark::above_pt;
use self::mark::column_pt;
use self::mark::label_pt;
use self::mark::lines;
use crate::account::investigation::Way;
use crate::chart::Size;
use crate::chart::brush::Brush;
use crate::chart::brush::load_words;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::At;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::circuit::HoldingValve;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::quantity::UnitSystem;

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct WaysPicture<'a> {
    /// How the cylinder is built.
    pub kind: Kind,
    /// How its rod was held.
    pub rod: RodHold,
    /// The ways, each at most once.
    pub ways: &'a [WayMark],
    /// Word at a port that no way hangs on, cap before rod.
    pub bare_ports: [&'a str; 2],
    /// What each side lost or gained, line by line, cap before rod; may be empty.
    pub sides: [&'a [String]; 2],
    /// Units of measure of the load.
    pub units: UnitSystem,
    /// Size of the picture.
    pub size: Size,
}

/// Height of the gland's ring on the rod.
const RING: f64 = 7.0;
/// Points to one unit of a symbol.
const SYMBOL: f64 = 0.8;
/// Draws the ways.
pub fn ways_drawing(picture: &WaysPicture<'_>) -> String {
    canvas::picture(picture.size, &words(picture), |canvas| {
        let mut drawing = Drawing {
            canvas,
            picture,
            plan: Plan::new(picture),
        };
        drawing.cylinder();
        drawing.load();
        drawing.at_piston();
        drawing.at_gland();
        drawing.at_ports();
    })
}

fn words(picture: &WaysPicture<'_>) -> String {
    let mut text = String::from("The cylinder with the ways that oil can take.");
    for side in picture.sides.iter().filter(|side| !side.is_empty()) {
        text += &format!(" {}.", side.join(" "));
    }
    for mark in picture.ways {
        let what = match mark.way.port() {
            None => mark.name.clone(),
            Some(chamber) => format!("{} on the {} port", mark.name, chamber.word()),
        };
        let said = [&mark.verb, &mark.figure, &mark.at].map(String::as_str);
        let said: Vec<&str> = said.into_iter().filter(|s| !s.is_empty()).collect();
        text += &format!(" {what}: {}.", said.join(" "));
    }
    text
}

/// Where everything stands, in points.
struct Plan {
    tube: Area,
    piston_x: f64,
    rod_end: f64,
    manifold_y: f64,
    flow_pt: f64,
}

impl Plan {
    fn new(picture: &WaysPicture<'_>) -> Self {
        let w = picture.size.width_pt;
        let needed = ways_height_pt(picture.ways, w);
        let spare = (picture.size.height_pt - needed).max(0.0);
        let top = 35.0 + above_pt(picture.ways);
        let bottom = top + 32.0 + 0.35 * spare;
        Self {
            tube: Area {
                left: 0.19 * w,
                top,
                right: 0.62 * w,
                bottom,
            },
            piston_x: 0.36 * w,
            rod_end: 0.77 * w,
            manifold_y: bottom + 11.5 + 0.1 * spare,
            flow_pt: 14.0 + 0.3 * spare,
        }
    }

    fn middle(&self) -> f64 {
        (self.tube.top + self.tube.bottom) / 2.0
    }

    fn port_x(&self, chamber: Chamber) -> f64 {
        match chamber {
            Chamber::Cap => self.tube.left + 16.0,
            Chamber::Rod => self.tube.right - 34.0,
        }
    }
}

struct Drawing<'a, 'b, 'c> {
    canvas: &'a mut Canvas<'b>,
    picture: &'c WaysPicture<'c>,
    plan: Plan,
}

impl Drawing<'_, '_, '_> {
    fn mark(&self, way: Way) -> Option<&WayMark> {
        self.picture.ways.iter().find(|mark| mark.way == way)
    }

    fn black(&mut self, points: &[At], width_pt: f64) {
        self.canvas
            .line(points, Pen::solid(canvas::BLACK, width_pt));
    }

    /// Draws with a symbol's brush whose units count from a point.
    fn symbol(&mut self, at: At, draw: impl FnOnce(&mut Brush<'_, '_>, At)) {
        let mut brush = Brush {
            canvas: self.canvas,
            scale: SYMBOL,
        };
        draw(&mut brush, (at.0 / SYMBOL, at.1 / SYMBOL));
    }

    fn cylinder(&mut self) {
        let (tube, middle) = (self.plan.tube, self.plan.middle());
        self.canvas.frame(tube, Pen::solid(canvas::BLACK, 1.4));
        let (x, end) = (self.plan.piston_x, self.plan.rod_end);
        let (left, half) = if self.picture.kind.has_piston_seal() {
            self.piston();
            (x + 5.0, 4.5)
        } else {
            (x, 0.5 * (tube.bottom - tube.top) - RING)
        };
        for (from, to) in [
            ((left, middle - half), (end, middle - half)),
            ((left, middle + half), (end, middle + half)),
            ((end, middle - half), (end, middle + half)),
            ((left, middle - half), (left, middle + half)),
        ] {
            self.black(&[from, to], 1.1);
        }
        if self.picture.kind == Kind::DoubleRod {
            let out = tube.left - 34.0;
            for y in [middle - half, middle + half] {
                self.black(&[(out, y), (x - 5.0, y)], 1.1);
            }
            self.black(&[(out, middle - half), (out, middle + half)], 1.1);
        }
        // The gland's rings on the rod.
        for (top, bottom) in [
            (middle - half - RING, middle - half),
            (middle + half, middle + half + RING),
        ] {
            let ring = Area {
                left: tube.right - 9.0,
                top,
                right: tube.right - 3.0,
                bottom,
            };
            self.canvas.block(ring, canvas::BLACK);
        }
        let hand = Hand::plain(canvas::GREY, TEXT_PT);
        let at = (tube.left - 5.0, tube.top + 6.0);
        match self.picture.sides[0] {
            [] => self.canvas.text("cap end", at, Side::Left, hand),
            lines => self.side(lines, at, Side::Left, half),
        }
        // Below the rod, which may be as thick as the tube.
        let at = (
            tube.right + 5.0,
            (middle + half + 8.0).max(tube.bottom - 5.0),
        );
        match self.picture.sides[1] {
            [] => self.canvas.text("rod end", at, Side::Right, hand),
            lines => self.side(lines, at, Side::Right, half),
        }
    }

    /// What a side lost or gained; the figure stands out.
    fn side(&mut self, lines: &[String], at: At, side: Side, half: f64) {
        let mut y = at.1;
        for (index, line) in lines.iter().enumerate() {
            let hand = Hand {
                bold: index > 0,
                ..Hand::plain(canvas::BLACK, TEXT_PT)
            };
            self.canvas.text(line, (at.0, y), side, hand);
            y += LEADING;
            // A second rod goes through here.
            let is_barred = side == Side::Left && self.picture.kind == Kind::DoubleRod;
            if is_barred && index == 0 {
                y = self.plan.middle() + half + 8.0;
            }
        }
    }

    /// The piston, solid, with its seal as an open square at both edges.
    fn piston(&mut self) {
        let (tube, x) = (self.plan.tube, self.plan.piston_x);
        const SEAL: f64 = 11.0;
        let body = Area {
            left: x - 5.0,
            top: tube.top + SEAL,
            right: x + 5.0,
            bottom: tube.bottom - SEAL,
        };
        self.canvas.block(body, canvas::BLACK);
        for (top, bottom) in [
            (tube.top, tube.top + SEAL),
            (tube.bottom - SEAL, tube.bottom),
        ] {
            let seal = Area {
                top,
                bottom,
                ..body
            };
            self.canvas.frame(seal, Pen::solid(canvas::BLACK, 0.9));
        }
    }

    fn load(&mut self) {
        let (middle, end) = (self.plan.middle(), self.plan.rod_end);
        let units = self.picture.units;
        let far = end + 42.0;
        let (from, to, load) = match self.picture.rod {
            RodHold::PushedIn { load } => (far, end + 4.0, load),
            RodHold::PulledOut { load } => (end + 4.0, far, load),
            RodHold::Locked => {
                self.symbol((end, middle), |brush, at| brush.ground(at));
                return self.beside((end + 10.0, middle), "locked");
            }
            RodHold::Bottomed => return self.beside((end + 6.0, middle), "on its end"),
        };
        self.symbol((from, middle), |brush, at| {
            brush.arrow(at.0, to / SYMBOL, at.1);
        });
        self.beside((far + 4.0, middle), &load_words(load, units));
    }

    fn beside(&mut self, at: At, text: &str) {
        let hand = Hand::plain(canvas::BLACK, TEXT_PT + 0.5);
        self.canvas.text(text, at, Side::Right, hand);
    }

    fn at_piston(&mut self) {
        let (tube, x) = (self.plan.tube, self.plan.piston_x);
        let forwards = self.mark(Way::Piston(Chamber::Cap)).cloned();
        let backwards = self.mark(Way::Piston(Chamber::Rod)).cloned();
        let (high, low) = (tube.top + 5.5, tube.bottom - 5.5);
        let both = forwards.is_some() && backwards.is_some();
        if let Some(mark) = forwards {
            flow(self.canvas, (x - 24.0, high), (x + 28.0, high), mark.weight);
            let (at, side) = match both {
                true => (x - 2.0, Side::Left),
                false => (x, Side::Middle),
            };
            self.leader(&[(x - 1.0, tube.top - 4.0), (x - 1.0, tube.top - 1.0)]);
            self.label(&mark, (at, tube.top - 9.5), side);
        }
        if let Some(mark) = backwards {
            flow(self.canvas, (x + 24.0, low), (x - 28.0, low), mark.weight);
            let (at, side) = match both {
                true => (x + 8.0, Side::Right),
                false => (x, Side::Middle),
            };
            self.leader(&[(x + 40.0, tube.top - 4.0), (x + 26.0, low - 2.0)]);
            self.label(&mark, (at, tube.top - 9.5), side);
        }
    }

    fn at_gland(&mut self) {
        let Some(mark) = self.mark(Way::Gland).cloned() else {
            return;
        };
        let (right, top) = (self.plan.tube.right, self.plan.tube.top);
        let middle = self.plan.middle();
        let half = match self.picture.kind.has_piston_seal() {
            true => 4.5,
            false => 0.5 * (self.plan.tube.bottom - self.plan.tube.top) - RING,
        };
        let y = middle - half - 0.55 * RING;
        flow(
            self.canvas,
            (right - 26.0, y),
            (right + 26.0, y),
            mark.weight,
        );
        self.leader(&[(right + 12.0, top - 4.0), (right + 10.0, y - 3.0)]);
        self.label(&mark, (right + 2.0, top - 9.5), Side::Right);
    }

    /// A thin line from a label to its arrow.
    fn leader(&mut self, points: &[At]) {
        self.canvas.line(points, Pen::solid(canvas::GREY, 0.6));
    }

    fn at_ports(&mut self) {
        let of = |chamber: Chamber| -> Vec<WayMark> {
            let mut marks: Vec<WayMark> = self.picture.ways.to_vec();
            marks.retain(|mark| mark.way.port() == Some(chamber));
            marks
        };
        let (cap, rod) = (of(Chamber::Cap), of(Chamber::Rod));
        let width = self.picture.size.width_pt;
        let column = column_pt(self.picture.ways, width);
        let (cap_width, rod_width) = (cap.len() as f64 * column, rod.len() as f64 * column);
        let (cap_x, rod_x) = (
            self.plan.port_x(Chamber::Cap),
            self.plan.port_x(Chamber::Rod),
        );
        let cap_left =
            (cap_x - cap_width / 2.0).clamp(0.0, (width - cap_width - rod_width).max(0.0));
        let rod_left = (rod_x - rod_width / 2.0)
            .max(cap_left + cap_width)
            .min(width - rod_width);
        self.port(Chamber::Cap, &cap, (cap_left, column));
        self.port(Chamber::Rod, &rod, (rod_left, column));
    }

    fn port(&mut self, chamber: Chamber, marks: &[WayMark], (left, column): (f64, f64)) {
        let x = self.plan.port_x(chamber);
        let (bottom, y) = (self.plan.tube.bottom, self.plan.manifold_y);
        let hand = Hand::plain(canvas::GREY, TEXT_PT);
        let name = match chamber {
            Chamber::Cap => "cap port",
            Chamber::Rod => "rod port",
        };
        if marks.is_empty() {
            let bare = self.picture.bare_ports[usize::from(chamber == Chamber::Rod)];
            if !bare.is_empty() {
                self.black(&[(x, bottom), (x, y + 4.0)], 1.1);
                self.canvas.text(bare, (x, y + 11.0), Side::Middle, hand);
            }
            return;
        }
        let centre = |index: usize| left + (index as f64 + 0.5) * column;
        self.black(&[(x, bottom), (x, y)], 1.1);
        let (first, last) = (centre(0).min(x), centre(marks.len() - 1).max(x));
        self.black(&[(first, y), (last, y)], 1.1);
        let side = self.picture.sides[usize::from(chamber == Chamber::Rod)];
        // What the rod side gained stands at the right of its port.
        let (aside, side) = match chamber == Chamber::Rod && !side.is_empty() {
            true => (-4.0, Side::Left),
            false => (4.0, Side::Right),
        };
        let at = (x + aside, (bottom + y) / 2.0);
        self.canvas.text(name, at, side, hand);
        for (index, mark) in marks.iter().enumerate() {
            self.at_port(mark, centre(index), column);
        }
    }

    fn at_port(&mut self, mark: &WayMark, x: f64, column: f64) {
        let y = self.plan.manifold_y;
        let top = y + 5.0;
        let below = top + 20.0 * SYMBOL;
        self.black(&[(x, y), (x, top)], 1.1);
        match mark.way {
            Way::Plug(_) | Way::Rig(_) => {
                self.black(&[(x, top), (x, below - 5.0)], 1.1);
                self.symbol((x, below - 5.0), |brush, at| brush.plug(at));
            }
            Way::Valve(_, HoldingValve::Absent) => {
                self.symbol((x, top), |brush, at| brush.shut_valve(at));
            }
            Way::Opened(_) | Way::Valve(_, HoldingValve::InPlace | HoldingValve::Swapped) => {
                self.symbol((x, top), |brush, at| brush.holding_valve(at));
            }
            Way::Piston(_) | Way::Gland => {}
        }
        let end = below + 2.0 + self.plan.flow_pt;
        flow(self.canvas, (x, below + 2.0), (x, end), mark.weight);
        let lines = lines(mark, column - 6.0);
        for (index, (text, hand)) in lines.iter().enumerate() {
            let at = (x, end + 7.0 + index as f64 * LEADING);
            self.canvas.text(text, at, Side::Middle, *hand);
        }
    }

    /// A label whose last line stands at a height.
    fn label(&mut self, mark: &WayMark, at: At, side: Side) {
        let lines = lines(mark, label_pt(self.picture.ways));
        let n_above = lines.len() - 1;
        for (index, (text, hand)) in lines.iter().enumerate() {
            let y = at.1 - (n_above - index) as f64 * LEADING;
            self.canvas.text(text, (at.0, y), side, *hand);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(way: Way, weight: FlowWeight, name: &str) -> WayMark {
        WayMark {
            way,
            weight,
            name: name.into(),
            verb: "leaks".into(),
            figure: "1.9 ± 0.1 mL/min".into(),
            at: "at 96 bar".into(),
        }
    }

    fn drawing(ways: &[WayMark]) -> String {
        ways_drawing(&WaysPicture {
            kind: Kind::DoubleActing,
            rod: RodHold::PushedIn { load: None },
            ways,
            bare_ports: ["cap port", "rod port, open"],
            sides: [&[], &[]],
            units: UnitSystem::Metric,
            size: Size {
                width_pt: 503.0,
                height_pt: 160.0,
            },
        })
    }

    #[test]
    fn each_way_has_its_words_and_a_port_without_one_says_why() {
        let ways = [
            mark(
                Way::Valve(Chamber::Cap, HoldingValve::Absent),
                FlowWeight::Leaks { share: 1.0 },
                "valve and line",
            ),
            mark(Way::Gland, FlowWeight::NotTested, "gland"),
        ];
        let svg = drawing(&ways);
        for words in ["valve and line", "gland", "at 96 bar", "rod port, open"] {
            assert!(svg.contains(words), "{words} is missing");
        }
        assert!(svg.contains("valve and line on the cap port: leaks 1.9 ± 0.1 mL/min at 96 bar."));
    }

    /// Without colour: a leak is one filled shape, what is tight ends at a bar, an open way
    /// has several dashes and what was not tested many dots.
    #[test]
    fn standings_differ_in_stroke_and_not_only_in_colour() {
        let way = Way::Plug(Chamber::Cap);
        let n_lines = |weight| {
            drawing(&[mark(way, weight, "plug")])
                .matches("<polyline")
                .count()
        };
        let leaks = n_lines(FlowWeight::Leaks { share: 0.5 });
        assert_eq!(n_lines(FlowWeight::Tight), leaks + 2);
        assert!(n_lines(FlowWeight::Open) > leaks + 2);
        assert!(n_lines(FlowWeight::NotTested) > n_lines(FlowWeight::Open));
    }
}
