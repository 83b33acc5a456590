//! The circuit of a phase: cylinder, what is on each port, and how the rod is held.
//!
//! Symbols after ISO 1219-1, drawn by us: cylinder with piston and rod, plugged
//! port (a cross on the line), closed valve, open reservoir, ground hatching for a
//! locked rod. Each carries its word, so that no one needs to know the symbol.
//!
//! Invariant: draws exactly what the [`Circuit`] says, nothing of what may hang on it.

use crate::chart::Size;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::Force;
use crate::quantity::UnitSystem;
use crate::quantity::unit::kilonewton;

/// Size in which the drawing is thought; any other size is this one scaled.
const WIDTH: f64 = 200.0;

const TUBE: Area = Area {
    left: 14.0,
    top: 20.0,
    right: 122.0,
    bottom: 50.0,
};

/// The size a circuit needs at a width: plugs want less room below than valves.
pub fn circuit_size(circuit: &Circuit, width_pt: f64) -> Size {
    Size {
        width_pt,
        height_pt: width_pt / WIDTH * needed_height(circuit),
    }
}

fn needed_height(circuit: &Circuit) -> f64 {
    if [circuit.cap_port, circuit.rod_port] == [Port::Blocked; 2] {
        88.0
    } else {
        104.0
    }
}

/// Draws the circuit, as large as the size allows.
pub fn circuit_drawing(circuit: &Circuit, units: UnitSystem, size: Size) -> String {
    let scale = (size.width_pt / WIDTH).min(size.height_pt / needed_height(circuit));
    canvas::picture(size, &words(circuit), |canvas| {
        let mut brush = Brush { canvas, scale };
        brush.cylinder(circuit);
        brush.port(32.0, circuit, Chamber::Cap);
        brush.port(108.0, circuit, Chamber::Rod);
        brush.rod(circuit.rod, units);
        brush.words();
        if let Some(chamber) = circuit.probe {
            brush.probe(chamber);
        }
    })
}

fn port_word(circuit: &Circuit, chamber: Chamber) -> &'static str {
    match (circuit.port(chamber), circuit.holding_valve(chamber)) {
        (Port::Blocked, HoldingValve::Absent) => "plug",
        (Port::Blocked, HoldingValve::InPlace | HoldingValve::Swapped) => "valve, plug",
        (Port::OnValve, HoldingValve::Absent) => "valve, shut",
        (Port::OnValve, HoldingValve::InPlace | HoldingValve::Swapped) => "valves, shut",
        (Port::OpenToVessel, _) => "open vessel",
        (Port::Supplied, _) => "supply",
    }
}

fn words(circuit: &Circuit) -> String {
    let rod = match circuit.rod {
        RodHold::PushedIn { .. } => "a load pushes the rod in",
        RodHold::PulledOut { .. } => "a load pulls the rod out",
        RodHold::Locked => "the rod is locked",
        RodHold::Bottomed => "the piston stands on the end of its stroke",
    };
    format!(
        "Circuit of the hold. Cap port: {}. Rod port: {}. How the rod is held: {rod}.",
        port_word(circuit, Chamber::Cap),
        port_word(circuit, Chamber::Rod)
    )
}

struct Brush<'a, 'b> {
    canvas: &'a mut Canvas<'b>,
    scale: f64,
}

impl Brush<'_, '_> {
    fn line(&mut self, points: &[(f64, f64)], width: f64) {
        let scale = self.scale;
        let points: Vec<_> = points.iter().map(|p| (p.0 * scale, p.1 * scale)).collect();
        self.canvas
            .line(&points, Pen::solid(canvas::BLACK, width * scale));
    }

    fn block(&mut self, area: Area) {
        let scale = self.scale;
        let scaled = Area {
            left: area.left * scale,
            top: area.top * scale,
            right: area.right * scale,
            bottom: area.bottom * scale,
        };
        self.canvas.block(scaled, canvas::BLACK);
    }

    fn text(&mut self, text: &str, at: (f64, f64), side: Side) {
        let at = (at.0 * self.scale, at.1 * self.scale);
        let hand = Hand::plain(canvas::BLACK, 10.0 * self.scale);
        self.canvas.text(text, at, side, hand);
    }

    fn cylinder(&mut self, circuit: &Circuit) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = TUBE;
        let corners = [
            (left, top),
            (right, top),
            (right, bottom),
            (left, bottom),
            (left, top),
        ];
        self.line(&corners, 1.3);
        let piston = if circuit.rod == RodHold::Bottomed {
            left + 24.0
        } else {
            62.0
        };
        self.block(Area {
            left: piston,
            right: piston + 8.0,
            top,
            bottom,
        });
        let middle = (top + bottom) / 2.0;
        let rod_end = if circuit.rod == RodHold::Bottomed {
            130.0
        } else {
            146.0
        };
        for y in [middle - 3.0, middle + 3.0] {
            self.line(&[(piston + 8.0, y), (rod_end, y)], 1.0);
        }
        self.line(&[(rod_end, middle - 3.0), (rod_end, middle + 3.0)], 1.0);
    }

    fn port(&mut self, x: f64, circuit: &Circuit, chamber: Chamber) {
        let port = circuit.port(chamber);
        self.line(&[(x, TUBE.bottom), (x, 68.0)], 1.0);
        match port {
            Port::Blocked => {
                self.line(&[(x - 5.0, 63.0), (x + 5.0, 73.0)], 1.4);
                self.line(&[(x - 5.0, 73.0), (x + 5.0, 63.0)], 1.4);
            }
            Port::OnValve => {
                let corners = [
                    (x - 10.0, 68.0),
                    (x + 10.0, 68.0),
                    (x + 10.0, 88.0),
                    (x - 10.0, 88.0),
                    (x - 10.0, 68.0),
                ];
                self.line(&corners, 1.0);
                // Both ways of the middle position end blind.
                self.line(&[(x, 68.0), (x, 74.0)], 1.0);
                self.line(&[(x - 4.0, 74.0), (x + 4.0, 74.0)], 1.3);
                self.line(&[(x, 88.0), (x, 82.0)], 1.0);
                self.line(&[(x - 4.0, 82.0), (x + 4.0, 82.0)], 1.3);
            }
            Port::OpenToVessel => {
                self.line(&[(x, 68.0), (x, 82.0)], 1.0);
                let bowl = [
                    (x - 12.0, 76.0),
                    (x - 12.0, 88.0),
                    (x + 12.0, 88.0),
                    (x + 12.0, 76.0),
                ];
                self.line(&bowl, 1.2);
            }
            Port::Supplied => {
                // The triangle of a hydraulic energy source, towards the cylinder.
                let corners = [(x, 68.0), (x + 7.0, 80.0), (x - 7.0, 80.0), (x, 68.0)];
                self.line(&corners, 1.2);
                self.line(&[(x, 80.0), (x, 88.0)], 1.0);
            }
        }
        let below = if port == Port::Blocked { 81.0 } else { 97.0 };
        self.text(port_word(circuit, chamber), (x, below), Side::Middle);
    }

    fn rod(&mut self, hold: RodHold, units: UnitSystem) {
        let middle = (TUBE.top + TUBE.bottom) / 2.0;
        match hold {
            RodHold::PushedIn { load } => {
                self.arrow(186.0, 149.0, middle);
                self.load(load, units);
            }
            RodHold::PulledOut { load } => {
                self.arrow(149.0, 186.0, middle);
                self.load(load, units);
            }
            RodHold::Locked => {
                self.line(&[(147.0, 24.0), (147.0, 46.0)], 1.6);
                for step in 0..6 {
                    let y = 24.0 + f64::from(step) * 4.0;
                    self.line(&[(147.0, y + 3.0), (152.0, y - 1.0)], 0.7);
                }
                self.text("locked", (174.0, middle), Side::Middle);
            }
            RodHold::Bottomed => self.text("on its end", (164.0, middle), Side::Middle),
        }
    }

    fn arrow(&mut self, from: f64, to: f64, y: f64) {
        self.line(&[(from, y), (to, y)], 1.8);
        let back = to + (from - to).signum() * 8.0;
        self.line(&[(back, y - 5.0), (to, y), (back, y + 5.0)], 1.8);
    }

    fn load(&mut self, load: Option<Force>, units: UnitSystem) {
        let text = match (load, units) {
            (None, _) => "load".to_string(),
            (Some(load), UnitSystem::Metric) => format!("{:.1} kN", load.get::<kilonewton>()),
            (Some(load), UnitSystem::Inch) => format!("{:.0} lbf", load.value / 4.448_221_615),
        };
        self.text(&text, (170.0, 22.0), Side::Middle);
    }

    fn words(&mut self) {
        self.text("cap end", (36.0, 11.0), Side::Middle);
        self.text("rod end", (104.0, 11.0), Side::Middle);
    }

    /// A thermometer in the chamber where the probe sits.
    fn probe(&mut self, chamber: Chamber) {
        let x = match chamber {
            Chamber::Cap => 44.0,
            Chamber::Rod => 96.0,
        };
        self.line(&[(x, TUBE.top), (x, TUBE.top + 7.0)], 1.0);
        let at = (x * self.scale, (TUBE.top + 9.0) * self.scale);
        let pen = Pen::solid(canvas::BLACK, 1.0 * self.scale);
        self.canvas.circle(at, 2.2 * self.scale, pen);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawing(cap_port: Port, rod: RodHold) -> String {
        let circuit = Circuit {
            probe: Some(Chamber::Cap),
            ..Circuit::plain(cap_port, Port::OpenToVessel, rod)
        };
        let size = Size {
            width_pt: 200.0,
            height_pt: 104.0,
        };
        circuit_drawing(&circuit, UnitSystem::Metric, size)
    }

    #[test]
    fn each_port_says_what_is_on_it() {
        let svg = drawing(Port::OnValve, RodHold::Locked);
        for word in ["valve, shut", "open vessel", "locked", "cap end"] {
            assert!(svg.contains(word), "{word} is missing");
        }
        assert!(drawing(Port::Blocked, RodHold::Bottomed).contains("plug"));
        assert!(drawing(Port::Supplied, RodHold::Bottomed).contains("supply"));
    }

    #[test]
    fn the_load_is_written_at_its_arrow() {
        let load = Some(Force::new::<kilonewton>(30.0));
        assert!(drawing(Port::Blocked, RodHold::PushedIn { load }).contains("30.0 kN"));
    }
}
