//! Sheets of holds that the practice bench played, from bytes to paper.

use crate::play::recording;
use crate::scene;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::attribute;
use stillrod::certificate::IsolationFacts;
use stillrod::certificate::PhaseFacts;
use stillrod::certificate::compose_isolation;
use stillrod::circuit::Seen;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::rehearsal::scenario;

fn played(name: &str) -> Judgement {
    let scenario = scenario(name).expect("a scenario");
    judged(&recording(&scenario), None).expect("settings that can be used")
}

/// Facts of an investigation of these scenarios, nobody having looked at anything.
pub fn investigated(names: &[&str]) -> IsolationFacts {
    let judgements: Vec<Judgement> = names.iter().map(|name| played(name)).collect();
    let labels = ["A", "B", "C", "D"];
    let phases: Vec<Phase<'_>> = judgements
        .iter()
        .zip(labels)
        .map(|(judgement, label)| Phase {
            label,
            subject: &judgement.setup.subject,
            evaluation: judgement.evaluation.as_ref().expect("evaluated"),
            seen: Seen::default(),
        })
        .collect();
    let facts = phases.iter().zip(names).map(|(phase, name)| PhaseFacts {
        plumbed: "As the practice bench plumbed it".into(),
        file_name: format!("{name}.h5"),
        sha256_hex: "0".repeat(64),
        ..PhaseFacts::from_phase(phase)
    });
    IsolationFacts {
        phases: facts.collect(),
        attribution: attribute(&phases).expect("sums that can be solved"),
        cylinder: *phases[0].cylinder().expect("a cylinder"),
        practice: Some("practice bench".into()),
        ..scene::valve()
    }
}

/// The same cylinder on its valve and between plugs: it sinks only on its valve.
#[test]
fn a_cylinder_that_sinks_on_its_valve_only_is_sent_to_the_valve() {
    let facts = investigated(&["drift-is-the-valve", "tight-rebuild"]);
    let paper = compose_isolation(&facts);
    let said = &paper.conclusion.sentences[0];
    assert!(
        paper.conclusion.word.starts_with("Valve"),
        "{:?}",
        paper.conclusion
    );
    assert!(
        said.starts_with("The valve on the cap port leaks"),
        "{said}"
    );
    // The sums of the table are those that the attribution was fitted to.
    let first = &facts.phases[0];
    let loss = first.cap_loss_m3_per_s.expect("a sum");
    let drift = first.drift_m_per_s.expect("a free rod");
    assert!(loss.value_si > loss.expanded_si && loss.expanded_si > 0.0);
    assert!(drift.value_si < -drift.expanded_si, "{drift:?}");
    let (start, end) = first.p_cap_pa.expect("a pressure");
    assert!(start > 0.0 && end > 0.0);
}

/// One hold between plugs: the piston seal cannot be told from the plugs by sums that
/// hold them together, unless the rod side gained what the cap side lost.
#[test]
fn one_hold_with_a_bypass_names_the_piston_seal_or_leaves_it_open() {
    let paper = compose_isolation(&investigated(&["piston-seal-bypass"]));
    let said = paper.conclusion.sentences.join(" ");
    assert!(said.to_lowercase().contains("piston seal"), "{said}");
    assert!(!paper.conclusion.word.contains("Valve"), "{said}");
    assert!(said.contains("the valve was not tested"), "{said}");
}
