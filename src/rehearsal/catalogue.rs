//! The scenarios of the practice bench, in the order a newcomer should meet them.
//!
//! All machines belong to the invented Tarn Valley road depot. Figures were chosen to
//! show something, not to recommend anything. Parts come from `stock`.

use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::Relief;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Expected;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::stock::CAP_LOSS;
use crate::rehearsal::stock::DRIFT;
use crate::rehearsal::stock::ROD_GAIN;
use crate::rehearsal::stock::charged;
use crate::rehearsal::stock::hanging;
use crate::rehearsal::stock::named;
use crate::rehearsal::stock::plough_lift;
use crate::rehearsal::stock::uncharged;
use crate::rehearsal::stock::with_hold;

/// All scenarios.
pub fn scenarios() -> Vec<Scenario> {
    let mut all = sound_and_leaking();
    all.extend(sound_or_hard_to_say());
    all.extend(other_circuits());
    all.extend(trouble_on_the_line());
    all
}

/// The plough lift with a piston seal that leaks.
fn leaking(piston: Leak) -> Scenario {
    let mut scenario = plough_lift();
    scenario.specimen.ills.piston = piston;
    scenario.expected = Expected::Fail;
    scenario
}

fn sound_and_leaking() -> Vec<Scenario> {
    let tight = named(
        with_hold(plough_lift(), 600.0),
        1,
        "tight-rebuild",
        "A rebuilt plough lift cylinder holds 30 kN: nothing leaks.",
    );
    let bypass = named(
        leaking(Leak::laminar(1.5, 96.0)),
        2,
        "piston-seal-bypass",
        "Oil passes the piston: both pressures rise, the rod sinks and would stop by itself.",
    );

    let mut gland = leaking(Leak::laminar(2.0, 96.0));
    gland.specimen.ills.gland = Leak::with_exponent(1.2, 30.0, 0.8);
    let gland = named(
        gland,
        3,
        "gland-leak-with-bypass",
        "Oil passes the piston and leaves at the gland: the rod would sink for ever.",
    );

    let mut plug = uncharged(plough_lift());
    plug.specimen.ills.cap_port = WayOut::Plug(Leak::with_exponent(0.6, 96.0, 0.7));
    plug.limits = vec![CAP_LOSS];
    plug.expected = Expected::Fail;
    let plug = named(
        plug,
        4,
        "cap-plug-leak",
        "The plug of the cap port weeps; the piston seal is good and the rod end is near vacuum.",
    );

    vec![tight, bypass, gland, plug]
}

fn sound_or_hard_to_say() -> Vec<Scenario> {
    let mut fresh = charged(with_hold(plough_lift(), 600.0), 25.0);
    fresh.specimen.cap.fresh_heat_k = 2.0;
    fresh.specimen.rod.fresh_heat_k = 2.0;
    fresh.limits = vec![CAP_LOSS];
    fresh.expected = Expected::NotFail;
    let fresh = named(
        fresh,
        6,
        "fresh-oil-cooling",
        "A tight cylinder filled just now: its oil is 2 K warmer than the tube and shrinks.",
    );

    let mut air = leaking(Leak::laminar(0.6, 96.0));
    air.specimen.cap.air = 0.016;
    air.specimen.rod.air = 0.013;
    let air = named(
        air,
        7,
        "air-in-the-oil",
        "A leaking piston seal, and air in the oil that was not bled.",
    );

    let mut close = with_hold(leaking(Leak::laminar(0.121, 96.0)), 600.0);
    close.limits = vec![CAP_LOSS];
    close.expected = Expected::Undecided;
    let close = named(
        close,
        14,
        "close-to-the-limit",
        "The piston seal passes as much as the limit allows: too close to say.",
    );

    let mut unjudged = leaking(Leak::laminar(0.8, 96.0));
    unjudged.limits = Vec::new();
    unjudged.expected = Expected::Measured;
    let unjudged = named(
        unjudged,
        15,
        "no-limit-chosen",
        "A cylinder nobody has set a limit for: measured, not judged.",
    );
    vec![fresh, air, close, unjudged]
}

fn other_circuits() -> Vec<Scenario> {
    let mut valve = charged(plough_lift(), 45.0);
    valve.circuit.cap_port = Port::OnValve;
    valve.specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::with_exponent(0.4, 96.0, 0.9),
        relief: None,
    };
    valve.limits = vec![DRIFT, ROD_GAIN];
    valve.expected = Expected::Fail;
    let valve = named(
        valve,
        5,
        "drift-is-the-valve",
        "The rod sinks because the valve on the cap port leaks; the piston seal is good.",
    );

    let mut setting = plough_lift();
    setting.circuit.cap_port = Port::OnValve;
    setting.specimen.ills.piston = Leak::laminar(6.0, 96.0);
    setting.specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::laminar(0.02, 96.0),
        relief: Some(Relief {
            opens_at_pa: 135e5,
            slope_m3_per_s_pa: 2e-12,
        }),
    };
    setting.expected = Expected::Fail;
    let setting = named(
        setting,
        16,
        "valve-at-its-setting",
        "A worn piston seal drives the pressure up until a good holding valve opens.",
    );

    let mut locked = uncharged(plough_lift());
    locked.circuit.rod = RodHold::Locked;
    locked.specimen.motion = RodNature::Held;
    locked.circuit.rod_port = Port::OpenToVessel;
    locked.specimen.ills.piston = Leak::laminar(0.6, 96.0);
    locked.specimen.ills.rod_port = WayOut::Vessel;
    locked.limits = vec![CAP_LOSS];
    locked.expected = Expected::Fail;
    let locked = named(
        locked,
        9,
        "locked-rod-bypass",
        "The rod stands on a stop, the rod port drips into a vessel: the piston seal leaks.",
    );
    vec![valve, setting, hanging(), locked]
}

fn trouble_on_the_line() -> Vec<Scenario> {
    let tight = |fault, expected| {
        let mut scenario = with_hold(plough_lift(), 600.0);
        scenario.faults = vec![fault];
        scenario.expected = expected;
        scenario
    };
    vec![
        named(
            tight(
                Fault::PositionLost {
                    from_s: 200.0,
                    length_s: 12.0,
                },
                Expected::NotValid,
            ),
            10,
            "position-sensor-lost",
            "The wire of the position sensor breaks for 12 seconds in the hold.",
        ),
        named(
            tight(
                Fault::Unplugged {
                    at_s: 240.0,
                    back_after_s: None,
                },
                Expected::NotValid,
            ),
            11,
            "adapter-pulled",
            "The adapter is pulled in the hold and does not come back.",
        ),
        named(
            tight(
                Fault::Unplugged {
                    at_s: 240.0,
                    back_after_s: Some(3.0),
                },
                Expected::Pass,
            ),
            12,
            "adapter-pulled-and-back",
            "The adapter is pulled for 3 seconds in the hold; the board runs on.",
        ),
        named(
            tight(Fault::BlocksLost { share: 0.06 }, Expected::NotValid),
            13,
            "samples-lost",
            "The board's buffer runs over and over: one block in sixteen is lost.",
        ),
        named(
            tight(Fault::BlocksGarbled { share: 0.06 }, Expected::NotValid),
            17,
            "noisy-line",
            "A motor beside the cable: one block in sixteen arrives damaged.",
        ),
    ]
}
