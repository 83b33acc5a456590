//! Words of a plan for one of two cylinders on a load.
//!
//! On a common valve nothing tells them apart; plugged one after the other each has its own
//! account. A cylinder that leaks or is opened leaves all of the load to the other one.

use crate::circuit::Beside;
use crate::circuit::Circuit;

/// Before the other one's part in it is said.
const RATED: &str = " With one of the two leaking or opened the other carries all of the load: both must be rated for all of it. If one \
                     cannot hold the machine, do not. Block it mechanically before a fitting is opened.";

/// What a hold as found tells.
pub(super) fn as_found(circuit: &Circuit) -> &'static str {
    match circuit.beside {
        Some(Beside::OnLine) => {
            "That both sink, and how fast: through the line each leaks into the other, so it does not tell which."
        }
        _ => "What valve and cylinder lose together.",
    }
}

/// Which of the two is plumbed.
pub(super) fn this_one(circuit: &Circuit) -> &'static str {
    match circuit.beside {
        Some(_) => {
            " Only this cylinder: the other one stays as it is and carries its share (`other_cylinder = \"apart\"`). Cap the hose \
             ends that were taken off too, with steel caps rated for all of the load: the other cylinder stands on that line."
        }
        None => "",
    }
}

/// What is dangerous besides.
pub(super) fn caution(circuit: &Circuit) -> &'static str {
    circuit.beside.map_or("", |_| RATED)
}

/// What no phase of one of them tells.
pub(super) fn outside(circuit: &Circuit) -> String {
    match circuit.beside {
        Some(_) => {
            "The other cylinder: it is a unit of its own, and gets the same plugged hold next. Of the two, a pressure that rises \
             while the rod sinks belongs to the one that takes over; one that falls, or whose sides come together, to the one \
             that lets go."
        }
        None => {
            "Two cylinders on one load: say so in the setup (`other_cylinder`), or the line between them makes a sound one look \
             worn."
        }
    }
    .into()
}
