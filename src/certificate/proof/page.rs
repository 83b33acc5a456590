//! How the paper of a procedure becomes a file.

use crate::certificate::bind::Binding;
use crate::certificate::bind::bind;
use crate::certificate::bind::bind_twin;
use crate::certificate::bind::feet;
use crate::certificate::bind::marks;
use crate::certificate::facts::Utc;
use crate::certificate::pdf::PdfError;
use crate::certificate::proof::compose::ProofPaper;
use crate::certificate::proof::compose::compose_proof;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::front::front;
use crate::certificate::proof::layout::Starts;
use crate::certificate::proof::layout::further;
use crate::certificate::proof::record::ProofRecord;
use crate::certificate::sheet::Sheet;
use crate::certificate::signing::Signing;

/// The paper of a procedure as a PDF/A-3b file, tagged, with the JSON record attached: a page
/// to hand over, then all steps, the whole test over time, and each hold.
///
/// # Errors
/// If a text cannot be set, see [`PdfError`].
pub fn proof_pdf(facts: &ProofFacts<'_>) -> Result<Vec<u8>, PdfError> {
    proof_pdf_with(facts, None)
}

/// The same, signed if there is something to sign with.
///
/// # Errors
/// As [`proof_pdf`].
pub fn proof_pdf_with(
    facts: &ProofFacts<'_>,
    signing: Option<&Signing<'_>>,
) -> Result<Vec<u8>, PdfError> {
    let (sheet, binding) = laid_out(facts, signing)?;
    bind(&sheet, binding, signing)
}

/// As [`crate::certificate::pdf_twin`], of a procedure.
///
/// # Errors
/// As [`proof_pdf_with`].
pub fn proof_pdf_twin(facts: &ProofFacts<'_>) -> Result<Vec<u8>, PdfError> {
    let (sheet, binding) = laid_out(facts, None)?;
    bind_twin(&sheet, binding)
}

fn laid_out(
    facts: &ProofFacts<'_>,
    signing: Option<&Signing<'_>>,
) -> Result<(Sheet, Binding), PdfError> {
    let mut paper = compose_proof(facts);
    paper.provenance.extend(signing.map(Signing::line));
    let mut sheet = Sheet::new(facts.letterhead.paper(facts.units));
    front(&mut sheet, &paper, facts)?;
    let starts = further(&mut sheet, &paper, facts)?;
    let run = &facts.recording.heading().run_id;
    feet(&mut sheet, &format!("run {run}"), &paper.marks)?;
    marks(&mut sheet, &paper.marks)?;
    let binding = binding(&paper, facts, starts);
    Ok((sheet, binding))
}

fn binding(paper: &ProofPaper, facts: &ProofFacts<'_>, starts: Starts) -> Binding {
    let run = &facts.recording.heading().run_id;
    let mut outline = vec![
        (paper.title.clone(), 0),
        ("All steps".into(), starts.steps),
        ("Data and versions".into(), starts.data),
    ];
    let holds = paper.holds.iter().zip(starts.holds);
    outline.extend(holds.map(|(hold, page)| (hold.heading.clone(), page)));
    Binding {
        title: format!("{} {}: {}", paper.title, paper.number, paper.outcome_word),
        description: paper.outcome_sentence.clone(),
        author: facts.shop_name.clone(),
        software: facts.software.clone(),
        document_id: format!("{run} {}", facts.sha256_hex),
        at: Utc::from_ms(facts.recording.heading().started_utc_ms),
        outline,
        record_of: "the test",
        record: ProofRecord::from_facts(facts).to_json_pretty(),
    }
}
