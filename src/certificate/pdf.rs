//! How the certificate looks: facts to a PDF/A-3 file with the record inside it.
//!
//! Lays out front and back. Leaves what is said to `compose`, the layout to `front`, `back`
//! and `sheet`, and the file to `bind`.

use crate::certificate::back::back;
use crate::certificate::bind::Binding;
use crate::certificate::bind::bind;
use crate::certificate::bind::bind_twin;
use crate::certificate::bind::feet;
use crate::certificate::bind::marks;
use crate::certificate::compose::Paper;
use crate::certificate::compose::compose;
use crate::certificate::facts::Facts;
use crate::certificate::front::front;
use crate::certificate::pictures::Pictures;
use crate::certificate::record::Record;
use crate::certificate::sheet::Sheet;
use crate::certificate::signing::Signing;
use crate::signature::PaperError;

/// Why a certificate could not be made, and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The paper's font has no glyph for a character.
    #[error(
        "the paper's font has no `{character}` (U+{code:04X}, after `{after}`); \
         write it with Latin or Greek letters in the setup or shop file"
    )]
    Glyph {
        /// The character.
        character: char,
        /// Its number.
        code: u32,
        /// The text before it.
        after: String,
    },
    /// The text of the QR code is too long.
    #[error("{n_bytes} bytes do not fit into a QR code; shorten the run's identity or the number")]
    Code {
        /// Length of its text.
        n_bytes: usize,
        /// What the encoder says.
        #[source]
        source: qrcode::types::QrError,
    },
    /// A picture could not be read back.
    #[error("a picture of the certificate is no SVG; this is a fault of the program, report it")]
    Picture {
        /// What the reader says.
        #[source]
        source: usvg::Error,
    },
    /// A picture cannot be read.
    #[error("the picture is damaged: {reason}")]
    Image {
        /// What the reader says.
        reason: String,
    },
    /// The writer refuses the document.
    #[error(
        "the certificate is no valid PDF/A-3: {reason}; this is a fault of the program, report it"
    )]
    Refused {
        /// What the writer says.
        reason: String,
    },
    /// It cannot be signed.
    #[error("the certificate cannot be signed")]
    Sign {
        /// Why.
        #[from]
        source: PaperError,
    },
}

/// The certificate as a PDF/A-3b file, tagged, with the JSON record attached.
///
/// # Errors
/// If a text cannot be set, see [`PdfError`].
pub fn pdf(facts: &Facts<'_>) -> Result<Vec<u8>, PdfError> {
    pdf_with(facts, None)
}

/// The same, signed if there is something to sign with.
///
/// # Errors
/// As [`pdf`].
pub fn pdf_with(facts: &Facts<'_>, signing: Option<&Signing<'_>>) -> Result<Vec<u8>, PdfError> {
    let (sheet, binding) = laid_out(facts, signing)?;
    bind(&sheet, binding, signing)
}

/// The pages of [`pdf`] without the record in the form of PDF/A-1b: for those who check papers with
/// a program that knows that older form only. Nothing of it is handed out.
///
/// # Errors
/// As [`pdf`].
pub fn pdf_twin(facts: &Facts<'_>) -> Result<Vec<u8>, PdfError> {
    let (sheet, binding) = laid_out(facts, None)?;
    bind_twin(&sheet, binding)
}

fn laid_out(
    facts: &Facts<'_>,
    signing: Option<&Signing<'_>>,
) -> Result<(Sheet, Binding), PdfError> {
    let mut paper = compose(facts);
    paper.provenance.extend(signing.map(Signing::line));
    let pictures = Pictures::new(facts);
    let mut sheet = Sheet::new(facts.letterhead.paper(facts.units));
    front(&mut sheet, &paper, facts, &pictures)?;
    let n_front = sheet.pages.len();
    back(&mut sheet, &paper, facts, &pictures)?;
    let run = &facts.recording.heading().run_id;
    feet(&mut sheet, &format!("run {run}"), &paper.marks)?;
    marks(&mut sheet, &paper.marks)?;
    let binding = binding(&paper, facts, n_front);
    Ok((sheet, binding))
}

fn binding(paper: &Paper, facts: &Facts<'_>, n_front: usize) -> Binding {
    let run = &facts.recording.heading().run_id;
    Binding {
        title: format!("{} {}: {}", paper.title, paper.number, paper.outcome_word),
        description: paper.outcome_sentence.clone(),
        author: facts.shop_name.clone(),
        software: facts.software.clone(),
        document_id: format!("{run} {}", facts.sha256_hex),
        at: facts.started(),
        outline: vec![(paper.title.clone(), 0), ("For the expert".into(), n_front)],
        record_of: "the test",
        record: Record::from_facts(facts).to_json_pretty(),
    }
}
