//! The paper of a procedure: one outcome over many steps, each with what it showed.

mod facts;

pub use facts::ProofFacts;
pub use facts::StepFacts;
pub use facts::StepShown;
pub use facts::ZeroRead;

/// TEMPORARY
pub struct ProofRecord(String);
impl ProofRecord {
    /// T
    pub fn from_facts(f: &ProofFacts<'_>) -> Self {
        Self(format!("{:?}", f.outcome))
    }
    /// T
    pub fn to_json_pretty(&self) -> String {
        serde_json::to_string(&self.0).unwrap_or_default()
    }
}
/// TEMPORARY
pub fn proof_pdf(f: &ProofFacts<'_>) -> Result<Vec<u8>, crate::certificate::PdfError> {
    let (_, facts) = f.holds().next().expect("a hold");
    crate::certificate::pdf(facts)
}
