//! How the sheet becomes a file.

use crate::certificate::bind::Binding;
use crate::certificate::bind::bind;
use crate::certificate::bind::feet;
use crate::certificate::bind::marks;
use crate::certificate::facts::Utc;
use crate::certificate::isolation::compose::IsolationPaper;
use crate::certificate::isolation::compose::compose_isolation;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::layout::lay_out;
use crate::certificate::isolation::record::IsolationRecord;
use crate::certificate::pdf::PdfError;
use crate::certificate::sheet::Sheet;

/// The isolation sheet as a PDF/A-3b file of one page, tagged, with the JSON record
/// attached. Texts much longer than a sheet has room for go on over the page.
///
/// # Errors
/// If a text cannot be set, see [`PdfError`].
pub fn isolation_pdf(facts: &IsolationFacts) -> Result<Vec<u8>, PdfError> {
    let paper = compose_isolation(facts);
    let mut sheet = Sheet::new(facts.letterhead.paper(facts.units));
    lay_out(&mut sheet, &paper, facts)?;
    feet(&mut sheet, &paper.foot, &paper.marks)?;
    marks(&mut sheet, &paper.marks)?;
    bind(&sheet, binding(paper, facts), None)
}

fn binding(paper: IsolationPaper, facts: &IsolationFacts) -> Binding {
    let of_what = [&facts.identity.tag, &facts.investigation_id];
    let of_what: Vec<&str> = of_what
        .into_iter()
        .map(String::as_str)
        .filter(|s| !s.is_empty())
        .collect();
    let hashes: Vec<&str> = facts.phases.iter().map(|p| p.sha256_hex.as_str()).collect();
    Binding {
        title: format!(
            "{} {}: {}",
            paper.title,
            of_what.join(" "),
            paper.conclusion.word
        ),
        description: paper.conclusion.sentences.join(" "),
        author: facts.shop_name.clone(),
        software: facts.software.clone(),
        document_id: format!("isolation {} {}", facts.investigation_id, hashes.join(" ")),
        at: Utc::from_ms(facts.started_utc_ms),
        outline: vec![(paper.title, 0)],
        record_of: "the investigation",
        record: IsolationRecord::from_facts(facts).to_json_pretty(),
    }
}
