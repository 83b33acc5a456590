//! What was made of a recording: of one hold, or of the steps of a procedure.

use super::judgement::Judgement;
use super::judgement::judged_by;
use super::paper::facts;
use super::proof::Proof;
use super::proof::proof_facts;
use super::proof::proof_text;
use super::proof::proved_by;
use super::screen::result_text;
use crate::certificate::ProofRecord;
use crate::certificate::Record;
use crate::certificate::Signing;
use crate::certificate::Standing;
use crate::certificate::pdf_with;
use crate::certificate::proof_pdf_with;
use crate::cylinder::Cylinder;
use crate::cylinder::UnitIdentity;
use crate::recording::Recording;
use crate::register::Build;
use crate::register::Unit;
use crate::settings::SettingsError;
use crate::settings::Shop;
use crate::settings::names_procedure;
use crate::verdict::Outcome;
use std::path::Path;

/// What was made of a recording.
#[derive(Debug, Clone)]
pub enum Found {
    /// One hold without a procedure.
    Hold(Box<Judgement>),
    /// The steps of a procedure.
    Procedure(Box<Proof>),
}

/// The file of a recording, and the number its paper has.
#[derive(Debug, Clone, Copy)]
pub struct Filed<'a> {
    /// The file.
    pub path: &'a Path,
    /// Its SHA-256.
    pub sha256_hex: &'a str,
    /// Number in the register, if it has one.
    pub number: Option<&'a str>,
}

/// Judges a recording. `shop_toml` replaces the stored shop file: its name and its text.
///
/// # Errors
/// If a settings file cannot be used.
pub fn found(
    recording: &Recording,
    shop_toml: Option<(&str, &str)>,
) -> Result<Found, SettingsError> {
    found_by(recording, &recording.heading().setup_toml, shop_toml)
}

/// As [`found()`], by another setup, with its procedure behind it.
///
/// # Errors
/// As there.
pub fn found_by(
    recording: &Recording,
    setup_toml: &str,
    shop_toml: Option<(&str, &str)>,
) -> Result<Found, SettingsError> {
    match names_procedure(setup_toml) {
        true => {
            let proof = proved_by(recording, setup_toml, shop_toml)?;
            Ok(Found::Procedure(Box::new(proof)))
        }
        false => {
            let judgement = judged_by(recording, setup_toml, shop_toml)?;
            Ok(Found::Hold(Box::new(judgement)))
        }
    }
}

impl Found {
    /// What came out.
    pub fn outcome(&self) -> Outcome {
        match self {
            Self::Hold(judgement) => judgement.verdict.outcome,
            Self::Procedure(proof) => proof.outcome,
        }
    }

    /// The result as text.
    pub fn text(&self) -> String {
        match self {
            Self::Hold(judgement) => result_text(judgement),
            Self::Procedure(proof) => proof_text(proof),
        }
    }

    /// The shop, if limits came from one.
    pub fn shop(&self) -> Option<&Shop> {
        match self {
            Self::Hold(judgement) => judgement.shop.as_ref(),
            Self::Procedure(proof) => proof.shop.as_ref(),
        }
    }

    /// Which piece was tested.
    pub fn unit(&self) -> &UnitIdentity {
        match self {
            Self::Hold(judgement) => &judgement.setup.unit,
            Self::Procedure(proof) => &proof.test.first_setup().unit,
        }
    }

    /// The cylinder that was tested; None for a plain chamber.
    pub fn cylinder(&self) -> Option<&Cylinder> {
        let piece = match self {
            Self::Hold(judgement) => &judgement.setup.subject.piece,
            Self::Procedure(proof) => &proof.test.first_setup().subject.piece,
        };
        piece.cylinder()
    }

    /// The unit as the register keeps it.
    pub fn described(&self) -> Unit {
        let unit = self.unit();
        let size = self.cylinder().map(Cylinder::size);
        Unit {
            tag: unit.tag.clone(),
            description: unit.description.clone(),
            machine: unit.machine.clone(),
            serial: unit.serial.clone(),
            seal: unit.seal.clone(),
            build: Build {
                kind: self.cylinder().map(Cylinder::kind),
                bore_um: size.and_then(|size| Build::whole_um(size.bore)),
                rod_um: size.and_then(|size| Build::whole_um(size.rod)),
                stroke_um: size.and_then(|size| Build::whole_um(size.stroke)),
                cap_rating_pa: unit.cap_rating.and_then(Build::whole_pa),
                rod_rating_pa: unit.rod_rating.and_then(Build::whole_pa),
                ports: unit.ports.clone(),
                holding_valve: unit.holding_valve.clone(),
            },
        }
    }

    /// The sentence that decided, for lists.
    pub fn headline(&self) -> String {
        let of = |judgement: &Judgement| {
            let verdict = &judgement.verdict;
            let deciding = verdict.judged.iter().find(|j| j.outcome == verdict.outcome);
            let reason = deciding.map(|j| j.reason.clone());
            verdict
                .reasons
                .first()
                .cloned()
                .or(reason)
                .unwrap_or_default()
        };
        match self {
            Self::Hold(judgement) => of(judgement),
            Self::Procedure(proof) => proof.headline(|held| of(&held.judgement)),
        }
    }

    /// The record as JSON.
    ///
    /// # Errors
    /// If a procedure has no cylinder.
    pub fn record_json(&self, recording: &Recording, filed: Filed<'_>) -> anyhow::Result<String> {
        let Filed {
            path,
            sha256_hex,
            number,
        } = filed;
        Ok(match self {
            Self::Hold(judgement) => {
                Record::from_facts(&facts(recording, judgement, path, sha256_hex, number))
                    .to_json_pretty()
            }
            Self::Procedure(proof) => {
                ProofRecord::from_facts(&proof_facts(recording, proof, path, sha256_hex, number)?)
                    .to_json_pretty()
            }
        })
    }

    /// Whether its paper is a report, without the standing of a certificate.
    ///
    /// # Errors
    /// If a procedure has no cylinder.
    pub fn is_report(&self, recording: &Recording, filed: Filed<'_>) -> anyhow::Result<bool> {
        let Filed {
            path,
            sha256_hex,
            number,
        } = filed;
        Ok(match self {
            Self::Hold(judgement) => {
                facts(recording, judgement, path, sha256_hex, number).is_report()
            }
            Self::Procedure(proof) => {
                proof_facts(recording, proof, path, sha256_hex, number)?.is_report()
            }
        })
    }

    /// The paper, signed if it can be; `standing` says whether it is the one to rely on.
    ///
    /// # Errors
    /// If it cannot be set or signed.
    pub fn pdf(
        &self,
        recording: &Recording,
        filed: Filed<'_>,
        standing: Standing,
        signing: Option<&Signing<'_>>,
    ) -> anyhow::Result<Vec<u8>> {
        let Filed {
            path,
            sha256_hex,
            number,
        } = filed;
        Ok(match self {
            Self::Hold(judgement) => {
                let mut facts = facts(recording, judgement, path, sha256_hex, number);
                facts.standing = standing;
                pdf_with(&facts, signing)?
            }
            Self::Procedure(proof) => {
                let mut facts = proof_facts(recording, proof, path, sha256_hex, number)?;
                facts.standing = standing;
                proof_pdf_with(&facts, signing)?
            }
        })
    }
}
