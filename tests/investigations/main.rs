//! Every inquiry of the practice bench, from bytes to an answer for each way, against its
//! truth.
//!
//! The practice bench has its own physics and shares no equation with the account. What an
//! observation means is derived from continuity, or common practice where that is said.
//! `--nocapture` prints what was found beside what is true.

#[path = "../support/inquiry.rs"]
mod inquiry;
#[path = "../support/play.rs"]
mod play;

mod kinds;
mod lever;
mod noise;
mod noticed;
mod one_of_two;
mod places;
mod settles;
mod table;
mod three_holds;
mod traps;

use stillrod::account::investigation::Way;
use stillrod::circuit::HoldingValve;
use stillrod::cylinder::Chamber;

const PISTON: Way = Way::Piston(Chamber::Cap);
const PISTON_BACK: Way = Way::Piston(Chamber::Rod);
const GLAND: Way = Way::Gland;
const CAP_PLUG: Way = Way::Plug(Chamber::Cap);
const ROD_PLUG: Way = Way::Plug(Chamber::Rod);
const CAP_VALVE: Way = Way::Valve(Chamber::Cap, HoldingValve::Absent);
const ROD_VALVE: Way = Way::Valve(Chamber::Rod, HoldingValve::Absent);
