//! Each fault in a whole procedure, as a shop tests: zeros and a known place before and after the
//! hold, done to a tight cylinder and to one that leaks, beside the same procedure without.
//!
//! The pump's own gauge is right: the rated pressure is reached whatever the sensors say of it.

use super::rig_run::LIMIT_ML_MIN;
use super::rig_run::RigRun;
use super::rig_run::leaking;
use super::rig_run::played;
use super::rig_run::tight;
use super::struck::struck;
use super::table::Moved;
use super::table::Played;
use super::table::Row;
use stillrod::daemon::proof::Proof;
use stillrod::daemon::proof::proved;
use stillrod::health::Flag;
use stillrod::health::Weight;
use stillrod::rehearsal::Injected;
use stillrod::rehearsal::rig::RigUnit;
use stillrod::verdict::Judged;
use stillrod::verdict::Outcome;

/// Faults that a hold of this procedure cannot have, and why.
pub const ONLY_IN_ONE_HOLD: &[(&str, &str)] = &[
    (
        "cap-pressure-saturated",
        "its cap-end sensor ends below the rated pressure, never says that it was reached, and no hold begins",
    ),
    (
        "one-sensor-twice-no-load",
        "its setup states no load with or without the fault: it is the same as one-sensor-twice",
    ),
    (
        "port-open",
        "its rod port is open to a vessel, and said to be",
    ),
    ("load-wrong", "its rod is locked: no load is stated"),
    ("load-changes", "its rod is locked: no load reaches the oil"),
    ("rod-touched", "its rod is locked: no load reaches the oil"),
    (
        "piston-on-seat",
        "it brings the rod to the middle of its stroke",
    ),
];

/// Whether a fault can be in this procedure.
pub fn can_be(fault: &Injected) -> bool {
    ONLY_IN_ONE_HOLD.iter().all(|(name, _)| *name != fault.name)
}

/// A procedure without a fault.
pub struct Base {
    /// The unit.
    pub unit: RigUnit,
    /// What was played.
    pub run: RigRun,
    /// What came of it.
    pub proof: Proof,
}

/// Both cylinders, tested without a fault.
pub struct Rig {
    /// The tight one.
    pub tight: Base,
    /// The one that leaks.
    pub leaking: Base,
}

impl Rig {
    /// Tests both.
    pub fn new() -> Self {
        let base = |unit: RigUnit| {
            let run = played(&unit).expect("a sound test");
            let proof = proved(&run.recording, None).expect("a sound recording");
            Base { unit, run, proof }
        };
        Self {
            tight: base(tight()),
            leaking: base(leaking()),
        }
    }

    /// The row of a fault.
    pub fn row(&self, fault: &Injected) -> Row {
        Row {
            name: fault.name,
            description: fault.description,
            tight: proven(fault, &self.tight),
            leaking: proven(fault, &self.leaking),
        }
    }
}

fn proven(fault: &Injected, base: &Base) -> Played {
    let run = struck(fault, &base.unit, &base.run).expect("a test that can be played");
    let without = base.proof.outcome.word().to_owned();
    let proof = match proved(&run.recording, None) {
        Ok(proof) => proof,
        Err(why) => {
            return Played {
                outcome: "refused".into(),
                without,
                moved: Vec::new(),
                voids: vec![why.to_string()],
                remarks: Vec::new(),
                is_sound: true,
            };
        }
    };
    let truth = |run: &RigRun| run.cap_loss_ml_min;
    let (mut voids, remarks) = said(&proof);
    voids.dedup();
    Played {
        outcome: proof.outcome.word().into(),
        without,
        moved: moved(&proof, &base.proof, [truth(&run), truth(&base.run)]),
        voids,
        remarks,
        is_sound: truth(&run).is_none_or(|loss| loss <= LIMIT_ML_MIN),
    }
}

/// What was said that decides, and what is to be read beside it.
fn said(proof: &Proof) -> (Vec<String>, Vec<String>) {
    let of = |flags: &[Flag], weight: Weight| -> Vec<String> {
        let own = flags.iter().filter(|f| f.weight == weight);
        own.map(|f| f.evidence.clone()).collect()
    };
    let mut voids = proof.reasons.clone();
    let mut remarks = of(&proof.flags, Weight::Remark);
    for (_, held) in proof.holds() {
        let judgement = &held.judgement;
        voids.extend(of(&judgement.flags, Weight::Voids));
        voids.extend(judgement.verdict.reasons.iter().cloned());
        voids.extend(judgement.verdict.judged.iter().map(|j| j.reason.clone()));
        remarks.extend(of(&judgement.flags, Weight::Remark));
    }
    voids.extend(proof.parts.iter().map(|part| part.reason.clone()));
    voids.retain(|reason| !reason.is_empty());
    (voids, remarks)
}

/// What was held against limits.
fn judged(proof: &Proof) -> impl Iterator<Item = &Judged> {
    proof
        .holds()
        .flat_map(|(_, held)| &held.judgement.verdict.judged)
}

/// By how far the error of each figure changed; truths in mL/min, with the fault and without.
fn moved(proof: &Proof, sound: &Proof, truths: [Option<f64>; 2]) -> Vec<Moved> {
    let pairs = judged(proof).zip(judged(sound));
    let [with, without] = truths.map(|truth| truth.unwrap_or(f64::NAN));
    pairs
        .map(|(own, other)| {
            let by = own.number.zip(other.number).zip(own.expanded);
            Moved {
                figure: own.limit.figure.word(),
                by: by.map(|((own, other), expanded)| {
                    ((own - with) - (other - without)).abs() / expanded
                }),
            }
        })
        .collect()
}

/// What was wrongly said of a tight cylinder in a procedure with nothing wrong; `seed` draws its
/// sensors and their noise.
pub fn wrongly_said(seed: u64) -> Vec<String> {
    let run = played(&tight().with_seed(seed)).expect("a sound test");
    let proof = proved(&run.recording, None).expect("a sound recording");
    if proof.outcome == Outcome::Pass {
        let of_looks = proof.flags.iter().map(|flag| flag.evidence.clone());
        return of_looks.collect();
    }
    let (voids, _) = said(&proof);
    let outcome = proof.outcome.word();
    voids
        .iter()
        .map(|why| format!("{outcome}: {why}"))
        .collect()
}
