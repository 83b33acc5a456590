//! Invented investigations at the Tarn Valley road depot; none of it was measured.

use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;
use stillrod::certificate::Expanded;
use stillrod::certificate::IsolationFacts;
use stillrod::certificate::PhaseFacts;
use stillrod::certificate::QuestionAnswer;
use stillrod::circuit::Circuit;
use stillrod::circuit::Collected;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Look;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::circuit::Seen;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Dimensions;
use stillrod::cylinder::Kind;
use stillrod::cylinder::UnitIdentity;
use stillrod::quantity::Force;
use stillrod::quantity::Length;
use stillrod::quantity::UnitSystem;
use stillrod::quantity::Volume;
use stillrod::quantity::unit;

/// SI value of 1 mL/min.
pub const ML_PER_MIN: f64 = 1e-6 / 60.0;

pub const PISTON: Way = Way::Piston(Chamber::Cap);
pub const BACKWARDS: Way = Way::Piston(Chamber::Rod);
pub const CAP_PLUG: Way = Way::Plug(Chamber::Cap);
pub const ROD_PLUG: Way = Way::Plug(Chamber::Rod);
pub const CAP_VALVE: Way = Way::Valve(Chamber::Cap, HoldingValve::Absent);
pub const HOLDING: Way = Way::Valve(Chamber::Cap, HoldingValve::InPlace);
pub const SWAPPED: Way = Way::Valve(Chamber::Cap, HoldingValve::Swapped);
pub const ROD_VALVE: Way = Way::Valve(Chamber::Rod, HoldingValve::Absent);

const PUSHED: RodHold = RodHold::PushedIn { load: None };

/// An answer with best, lower and upper flow in mL/min and its pressure in bar.
pub fn answer(
    way: Way,
    standing: Standing,
    flows: [f64; 3],
    at_bar: f64,
    driven_in: &[usize],
) -> Answer {
    let [best, lower, upper] = flows.map(|flow| flow * ML_PER_MIN);
    Answer {
        way,
        standing,
        at_pa: at_bar * 1e5,
        best_m3_per_s: best,
        lower_m3_per_s: lower,
        upper_m3_per_s: upper,
        driven_in: driven_in.to_vec(),
    }
}

pub fn idle(way: Way) -> Answer {
    answer(
        way,
        Standing::NotDriven,
        [0.0, 0.0, f64::INFINITY],
        0.0,
        &[],
    )
}

pub fn attribution(answers: Vec<Answer>) -> Option<Attribution> {
    Some(Attribution {
        answers,
        small_m3_per_s: 0.03 * ML_PER_MIN,
        contradiction: None,
        noticed: Vec::new(),
        next: None,
    })
}

pub fn flow(value: f64, expanded: f64) -> Option<Expanded> {
    Some(Expanded {
        value_si: value * ML_PER_MIN,
        expanded_si: expanded * ML_PER_MIN,
    })
}

pub fn phase(label: &str, plumbed: &str, ports: (Port, Port)) -> PhaseFacts {
    let load = Some(Force::new::<unit::kilonewton>(30.0));
    PhaseFacts {
        label: label.into(),
        plumbed: plumbed.into(),
        circuit: Circuit {
            probe: Some(Chamber::Cap),
            ..Circuit::plain(ports.0, ports.1, RodHold::PushedIn { load })
        },
        file_name: format!("20260314-0805-{}.h5", label.to_lowercase()),
        sha256_hex: "9f3a61c07d5e".repeat(6)[..64].into(),
        length_s: Some(600.0),
        p_cap_pa: Some((98.2e5, 93.9e5)),
        p_rod_pa: Some((12.1e5, 11.4e5)),
        t_oil_k: Some(315.2),
        drift_m_per_s: Some(Expanded {
            value_si: -0.602e-3 / 60.0,
            expanded_si: 0.003e-3 / 60.0,
        }),
        cap_loss_m3_per_s: flow(1.904, 0.071),
        rod_gain_m3_per_s: flow(0.004, 0.022),
        seen: Seen {
            gland: Some(Look::Dry),
            cap_port: Some(Look::Dry),
            rod_port: None,
            collected: None,
        },
        void: None,
    }
}

fn cylinder() -> Cylinder {
    built(Kind::DoubleActing)
}

fn built(kind: Kind) -> Cylinder {
    let mm = Length::new::<unit::millimeter>;
    let ml = Volume::new::<unit::milliliter>;
    Cylinder::new(
        kind,
        Dimensions {
            bore: mm(63.0),
            rod: mm(36.0),
            stroke: mm(400.0),
            wall: Some(mm(5.0)),
            cap_dead_volume: ml(20.0),
            rod_dead_volume: ml(20.0),
        },
    )
    .expect("a cylinder")
}

fn asked() -> Vec<QuestionAnswer> {
    [
        ("Oil outside", "none seen, dry after wiping"),
        ("Gland and rod", "no score, no dent"),
        ("How far it sinks", "about 40 mm over night"),
        ("Should hold", "spool valve alone, by the schematic"),
    ]
    .map(|(question, answer)| QuestionAnswer {
        question: question.into(),
        answer: answer.into(),
    })
    .to_vec()
}

/// Two phases that say it is the valve.
pub fn valve() -> IsolationFacts {
    let a = phase(
        "A",
        "Cap port on the machine's valve, rod port plugged",
        (Port::OnValve, Port::Blocked),
    );
    let mut b = phase(
        "B",
        "Both ports plugged at the cylinder",
        (Port::Blocked, Port::Blocked),
    );
    b.p_cap_pa = Some((97.6e5, 97.1e5));
    b.cap_loss_m3_per_s = flow(0.008, 0.021);
    b.rod_gain_m3_per_s = flow(-0.002, 0.020);
    b.drift_m_per_s = Some(Expanded {
        value_si: -0.004e-3 / 60.0,
        expanded_si: 0.003e-3 / 60.0,
    });
    b.seen.rod_port = Some(Look::Dry);
    IsolationFacts {
        shop_name: "Tarn Valley road depot, hydraulics bench".into(),
        letterhead: stillrod::certificate::Letterhead::default(),
        units: UnitSystem::Metric,
        date: "2026-03-14 09:05 CET".into(),
        started_utc_ms: 1_773_475_500_000,
        investigation_id: "TV-0312 / 2026-03-14".into(),
        identity: UnitIdentity {
            tag: "TV-0312".into(),
            description: "plough lift cylinder".into(),
            machine: "winter carrier 7".into(),
            serial: "practice".into(),
            seal: "PTFE slide ring".into(),
            ..UnitIdentity::default()
        },
        cylinder: cylinder(),
        fluid: "ISO VG 46".into(),
        asked: asked(),
        phases: vec![a, b],
        attribution: attribution(vec![
            answer(PISTON, Standing::Tight, [0.004, 0.0, 0.0341], 86.0, &[0, 1]),
            idle(BACKWARDS),
            answer(Way::Gland, Standing::Tight, [0.0, 0.0, 0.0287], 12.0, &[0, 1]),
            answer(CAP_PLUG, Standing::Tight, [0.003, 0.0, 0.0312], 97.0, &[1]),
            answer(ROD_PLUG, Standing::Tight, [0.0, 0.0, 0.0287], 12.0, &[0, 1]),
            answer(CAP_VALVE, Standing::Leaks, [1.9, 1.79, 2.008], 96.0, &[0]),
        ]),
        patterns: vec![
            "In A the rod sank and both pressures kept their distance: oil left the cap side outwards"
                .into(),
            "In B the rod stood still".into(),
        ],
        next_steps: vec![
            "Order a seal kit for the spool valve, or send the valve to be reset".into(),
            "Hold again with the new valve before the machine goes out".into(),
        ],
        also_not_tested: Vec::new(),
        judged: Vec::new(),
        outcome: stillrod::verdict::Outcome::Measured,
        practice: None,
        software: "0.1.0".into(),
    }
}

/// One phase that cannot tell the piston seal from the plug.
pub fn open() -> IsolationFacts {
    let mut facts = valve();
    facts.phases.remove(0);
    facts.phases[0].label = "A".into();
    facts.phases[0].cap_loss_m3_per_s = flow(1.512, 0.093);
    facts.phases[0].p_cap_pa = Some((98.0e5, 94.0e5));
    facts.phases[0].rod_gain_m3_per_s = None;
    let with = |way| Standing::Open { with: vec![way] };
    facts.attribution = attribution(vec![
        answer(PISTON, with(CAP_PLUG), [0.7, 0.0, 1.58], 86.0, &[0]),
        idle(BACKWARDS),
        idle(Way::Gland),
        answer(CAP_PLUG, with(PISTON), [0.81, 0.0, 1.58], 96.0, &[0]),
        idle(ROD_PLUG),
    ]);
    facts.next_steps = vec![
        "Open the rod port to a vessel and hold again: what comes there passed the piston".into(),
    ];
    facts.patterns = Vec::new();
    facts
}

/// As much as a sheet must carry: four phases, eight ways, one phase that does not count.
pub fn full() -> IsolationFacts {
    let mut facts = valve();
    let mut c = phase(
        "E",
        "Load-holding valve back on the cap port, line to it plugged behind the valve; rod port on its valve",
        (Port::Blocked, Port::OnValve),
    );
    c.circuit.cap_holding_valve = HoldingValve::InPlace;
    c.circuit.rod = RodHold::Locked;
    c.seen.cap_port = Some(Look::Wet);
    let mut d = phase(
        "F",
        "Known good valve swapped in on the cap port; rod port open to a vessel",
        (Port::OnValve, Port::OpenToVessel),
    );
    d.circuit.cap_holding_valve = HoldingValve::Swapped;
    d.circuit.rod = RodHold::Bottomed;
    d.p_rod_pa = None;
    d.rod_gain_m3_per_s = None;
    d.seen.collected = Some(Collected {
        chamber: Chamber::Rod,
        volume_m3: 3.2e-6,
        standard_m3: 0.1e-6,
    });
    d.void = Some("the position sensor was lost for 12 s".into());
    facts.phases.extend([c, d]);
    let with = |way| Standing::Open { with: vec![way] };
    facts.attribution = attribution(vec![
        answer(PISTON, Standing::Leaks, [0.62, 0.55, 0.7], 86.0, &[0, 1, 2]),
        answer(BACKWARDS, Standing::Tight, [0.0, 0.0, 0.02], 21.0, &[2]),
        answer(
            Way::Gland,
            with(ROD_PLUG),
            [0.1, 0.0, 0.31],
            12.0,
            &[0, 1, 2],
        ),
        answer(CAP_PLUG, Standing::Tight, [0.003, 0.0, 0.0312], 97.0, &[1]),
        answer(ROD_PLUG, with(Way::Gland), [0.2, 0.0, 0.31], 12.0, &[0, 1]),
        answer(CAP_VALVE, Standing::Leaks, [1.9, 1.79, 2.008], 96.0, &[0]),
        answer(HOLDING, Standing::Leaks, [0.05, 0.041, 0.158], 95.0, &[2]),
        idle(ROD_VALVE),
    ]);
    facts.practice = Some("practice bench".into());
    facts.next_steps.push(
        "Wipe the gland dry, tie a clean paper round the rod and look again after the next hold"
            .into(),
    );
    facts.also_not_tested = vec!["the lowering valve's manual override".into()];
    facts
}

/// A ram without a piston seal whose gland cannot be told from its valve.
pub fn ram() -> IsolationFacts {
    let mut facts = valve();
    facts.cylinder = built(Kind::Plunger);
    facts.identity.description = "spreader tipping ram".into();
    facts.phases.truncate(1);
    for phase in &mut facts.phases {
        phase.plumbed = "On the machine's valve".into();
        phase.circuit.rod_port = Port::OpenToVessel;
        phase.p_rod_pa = None;
        phase.rod_gain_m3_per_s = None;
    }
    let with = |way| Standing::Open { with: vec![way] };
    facts.attribution = attribution(vec![
        answer(Way::Gland, with(CAP_VALVE), [0.9, 0.0, 1.99], 96.0, &[0]),
        answer(CAP_VALVE, with(Way::Gland), [1.0, 0.0, 1.99], 96.0, &[0]),
    ]);
    facts
}

/// Phases that no leaks explain.
pub fn contradiction() -> IsolationFacts {
    let mut facts = valve();
    if let Some(attribution) = &mut facts.attribution {
        attribution.contradiction = Some("no leaks that stay the same explain all phases".into());
    }
    facts
}

/// Nothing leaks, in inches, a rod that is pushed by a load nobody knows.
pub fn tight_in_inches() -> IsolationFacts {
    let mut facts = valve();
    facts.units = UnitSystem::Inch;
    for phase in &mut facts.phases {
        phase.circuit.rod = PUSHED;
    }
    if let Some(attribution) = &mut facts.attribution {
        for answer in &mut attribution.answers {
            if answer.standing == Standing::Leaks {
                answer.standing = Standing::Tight;
                answer.best_m3_per_s = 0.0;
                answer.lower_m3_per_s = 0.0;
                answer.upper_m3_per_s = 0.021 * ML_PER_MIN;
            }
        }
    }
    facts
}

/// All of them, each with a name.
pub fn all() -> Vec<(&'static str, IsolationFacts)> {
    vec![
        ("valve", valve()),
        ("open", open()),
        ("full", full()),
        ("full-in-inches", {
            let mut facts = full();
            facts.units = UnitSystem::Inch;
            facts
        }),
        ("ram", ram()),
        ("contradiction", contradiction()),
        ("tight-in-inches", tight_in_inches()),
    ]
}
