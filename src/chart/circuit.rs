//! The circuit of a phase: cylinder, what is on each port, and how the rod is held.
//!
//! Symbols after ISO 1219-1, drawn by us: cylinder with piston and rod, plugged
//! port (a cross on the line), closed valve, open reservoir, ground hatching for a
//! locked rod. Each carries its word, so that no one needs to know the symbol.
//!
//! Invariant: draws exactly what the [`Circuit`] says, nothing of what may hang on it.

use crate::chart::Size;
use crate::chart::brush::Brush;
use crate::chart::brush::LEAST_TEXT_PT;
use crate::chart::brush::load_words;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::Side;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::Force;
use crate::quantity::UnitSystem;

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
        height_pt: width_pt / WIDTH * needed_height(circuit, width_pt),
    }
}

fn needed_height(circuit: &Circuit, width_pt: f64) -> f64 {
    let plugs_only = [circuit.cap_port, circuit.rod_port] == [Port::Blocked; 2];
    let needed = if plugs_only { 88.0 } else { 104.0 };
    // Where text does not shrink with the drawing, words stand under each other.
    let text = LEAST_TEXT_PT / (width_pt / WIDTH);
    if text <= 10.2 {
        return needed;
    }
    let is_one_word = |chamber| !port_word(circuit, chamber).contains(' ');
    let n_lines = if [Chamber::Cap, Chamber::Rod].into_iter().all(is_one_word) {
        1.0
    } else {
        2.0
    };
    needed - 12.0 + 1.1 * n_lines * text
}

/// Draws the circuit, as large as the size allows.
pub fn circuit_drawing(circuit: &Circuit, units: UnitSystem, size: Size) -> String {
    let scale = (size.width_pt / WIDTH).min(size.height_pt / needed_height(circuit, size.width_pt));
    canvas::picture(size, &words(circuit), |canvas| {
        let mut brush = Brush { canvas, scale };
        brush.cylinder(circuit);
        brush.port(32.0, circuit, Chamber::Cap);
        brush.port(108.0, circuit, Chamber::Rod);
        brush.rod(circuit.rod, units);
        brush.ends();
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

impl Brush<'_, '_> {
    fn cylinder(&mut self, circuit: &Circuit) {
        let Area {
            left, top, bottom, ..
        } = TUBE;
        self.frame(TUBE, 1.3);
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
            Port::Blocked => self.plug((x, 68.0)),
            Port::OnValve => self.shut_valve((x, 68.0)),
            Port::OpenToVessel => {
                self.line(&[(x, 68.0), (x, 82.0)], 1.0);
                self.vessel((x, 76.0));
            }
            Port::Supplied => self.supply((x, 68.0)),
        }
        let below = if port == Port::Blocked { 81.0 } else { 97.0 };
        let lower = (self.text_pt() / self.scale - 10.0) / 2.0;
        self.words(port_word(circuit, chamber), (x, below + lower));
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
                self.ground((147.0, middle));
                self.text("locked", (174.0, middle), Side::Middle);
            }
            RodHold::Bottomed => self.text("on its end", (164.0, middle), Side::Middle),
        }
    }

    fn load(&mut self, load: Option<Force>, units: UnitSystem) {
        self.text(&load_words(load, units), (170.0, 22.0), Side::Middle);
    }

    fn ends(&mut self) {
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
        self.circle((x, TUBE.top + 9.0), 2.2);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::kilonewton;

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
