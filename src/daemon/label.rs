//! The label of a unit, from what the register knows of it.

use super::clock;
use super::folder::DataFolder;
use super::paper::write_whole;
use crate::certificate::TagLabel;
use crate::certificate::tag_label;
use crate::register::Register;
use crate::register::UnitsOf;
use anyhow::bail;
use std::path::PathBuf;

/// Writes the label of a unit to `papers/label-TAG.pdf`; returns where it is.
///
/// # Errors
/// If there is no unit of this tag, or the label cannot be set or written.
pub async fn label(
    folder: &DataFolder,
    register: &Register,
    tag: &str,
    shop: &str,
) -> anyhow::Result<PathBuf> {
    let bytes = label_bytes(register, tag, shop).await?;
    let path = folder
        .papers()
        .join(format!("label-{}.pdf", plain_name(tag)));
    write_whole(&path, &bytes)?;
    Ok(path)
}

/// The label of a unit.
///
/// # Errors
/// If there is no unit of this tag, or the label cannot be set.
pub async fn label_bytes(register: &Register, tag: &str, shop: &str) -> anyhow::Result<Vec<u8>> {
    let Some(now) = register.units(UnitsOf::Tag(tag), "").await?.pop() else {
        bail!("there is no unit {tag} in the register; `stillrod units` shows what there is");
    };
    Ok(tag_label(&TagLabel {
        tag: now.unit.tag,
        description: now.unit.description,
        shop: shop.into(),
        last: now
            .last
            .map(|(at, number, _)| (number, clock::utc_date(at))),
    })?)
}

/// A tag may have any letters; the name of a file has plain ones.
pub fn plain_name(text: &str) -> String {
    let plain = |c: char| match c.is_ascii_alphanumeric() {
        true => c,
        false => '-',
    };
    text.chars().map(plain).collect()
}
